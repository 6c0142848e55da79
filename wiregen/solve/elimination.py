"""In which order terminals are taken out of a network, and what that does to the conductances between the others.

Taking out a terminal joins its neighbours pairwise by g1 · g2 / Σ g (star to mesh). Nothing is ever subtracted, so a
leak of megohms beside a wire of milliohms keeps all its digits, and a terminal without any path has a sum of exactly
nothing. The order depends on which terminals are joined at all, never on a value, so it is found once for a circuit
and followed for thousands of points together.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from typing import Final

#: A pair of terminals, by row.
Pair = tuple[int, int]
#: Row of the reference: it stays.
GROUND: Final = 0


@dataclass(frozen=True, slots=True)
class EliminationStep:
    """Takes one terminal out.

    Attributes:
        node: The terminal.
        toward: Each neighbour, the reference too, with the row of the conductance from the terminal to it.
        back: Each neighbour but the reference, with the row of the conductance from it to the terminal.
        joins: Row of the conductance that grows; place in ``back`` of the terminal it starts from; row of the
            conductance from the one taken out to where it ends.
    """

    node: int
    toward: tuple[tuple[int, int], ...]
    back: tuple[tuple[int, int], ...]
    joins: tuple[tuple[int, int, int], ...]


@dataclass(frozen=True, slots=True)
class EliminationPlan:
    """The whole order.

    Attributes:
        row: Row of the conductance from one terminal to another; both directions share one unless both are directed.
        rows: How many there are.
        steps: The order.
    """

    row: dict[Pair, int]
    rows: int
    steps: tuple[EliminationStep, ...]


def plan(
    pairs: Iterable[Pair], groups: Sequence[Collection[int]], directed: Collection[int] = (), most: int | None = None
) -> EliminationPlan:
    """Return an order that takes out all terminals of the first group, then of the second ...

    Args:
        pairs: Pairs of terminals that may be joined.
        groups: Terminals to take out; of each group those first that have the fewest neighbours.
        directed: Terminals between which a conductance may differ with the direction. They must come last: what joins
            them to others is the same both ways.
        most: A terminal with more neighbours stays: taking it out would join all of them to each other. None for no
            such limit.
    """
    return _Planner(pairs, directed).run(groups, most)


class _Planner:
    def __init__(self, pairs: Iterable[Pair], directed: Collection[int]) -> None:
        self.near: dict[int, set[int]] = {}
        self.row: dict[Pair, int] = {}
        self.rows = 0
        self.directed = frozenset(directed) - {GROUND}
        for a, b in pairs:
            self.join(a, b)

    def join(self, a: int, b: int) -> None:
        if a == b or (a, b) in self.row:
            return
        self.near.setdefault(a, set()).add(b)
        self.near.setdefault(b, set()).add(a)
        self.row[a, b] = self.row[b, a] = self.rows
        self.rows += 1
        if a in self.directed and b in self.directed:
            self.row[b, a] = self.rows
            self.rows += 1

    def run(self, groups: Sequence[Collection[int]], most: int | None) -> EliminationPlan:
        steps = []
        for group in groups:
            left = set(group)
            queue = [(len(self.near.get(node, ())), node) for node in left]
            heapify(queue)
            while queue:
                degree, node = heappop(queue)
                if most is not None and degree > most:
                    break
                if node in left and degree == len(self.near.get(node, ())):
                    left.discard(node)
                    steps.append(self.step(node))
                    for other, _ in steps[-1].back:
                        heappush(queue, (len(self.near[other]), other))
        return EliminationPlan(self.row, self.rows, tuple(steps))

    def step(self, node: int) -> EliminationStep:
        if not self.near.get(node):
            # What nothing joins has a conductance of nothing to the reference.
            self.join(node, GROUND)
        every = sorted(self.near.pop(node))
        others = [other for other in every if other != GROUND]
        for other in every:
            self.near[other].discard(node)
        joins = []
        for place, start in enumerate(others):
            for end in every:
                if start != end:
                    self.join(start, end)
                    if end == GROUND or start < end or self.row[start, end] != self.row[end, start]:
                        joins.append((self.row[start, end], place, self.row[node, end]))
        return EliminationStep(
            node,
            toward=tuple((other, self.row[node, other]) for other in every),
            back=tuple((other, self.row[other, node]) for other in others),
            joins=tuple(joins),
        )
