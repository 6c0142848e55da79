"""The cheapest choice of one option a slot under losses that add up: exact, by branch and bound.

Every slot has a list of options, each with a cost, and for every limit the losses of the options taken must not add up
to more than its room. Two bounds serve. That of Lagrange: with a price on every limit's losses the slots no longer
touch each other, and the sum of the cheapest options, less the price of the room, is below the cost of every choice
that keeps the limits. It holds for any prices; good ones are found by subgradient steps once. And that of parts: once
the slots that all limits feel are taken (a feed, a common ground), the others fall apart into groups, such as lead and
cable of one lamp. The cheapest options of each group that keep the limits while all other groups lose the least they
can cost no more than those of any choice: so groups that are alike are not tried in every order. What adds up may
still be refused by the caller, who knows more than sums.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from wiregen.model.study import Array
from wiregen.sizing.problem import Choice

#: A choice must be cheaper by this to count as cheaper, kg.
CHEAPER: Final = 1e-9
_PRICE_STEPS: Final = 300
_SLOWER: Final = 0.2
#: A limit feels a slot that may lose more than this share of what all slots together may lose of it.
_FELT: Final = 0.02
#: Most ways to fill one group, and how many of them are handed to the caller at once, more each time.
_MOST_WAYS: Final = 4096
_AT_ONCE: Final = 4

Flags = npt.NDArray[np.bool_]
#: Which of some choices may become one that will do. The slots named are open still: they have their last option.
Possible = Callable[[Sequence[Choice], Sequence[int]], Flags]
#: Whether a whole choice will do.
Accept = Callable[[Choice], bool]


@dataclass(frozen=True)
class Task:
    """What to search.

    Attributes:
        costs: Cost of every option of every slot.
        allowed: Options of every slot that may be taken, in rising order: a later one loses less.
        losses: Losses of every option, one array a slot, of shape (options, limits).
        room: What the losses of each limit may add up to.
    """

    costs: Sequence[Sequence[float]]
    allowed: Sequence[Sequence[int]]
    losses: Sequence[Array]
    room: Array


@dataclass(frozen=True, slots=True)
class Found:
    """What came of a search.

    Attributes:
        choice: The cheapest choice; None where there is none, or none was found in time.
        bound: No choice that keeps the limits and is accepted costs less; infinite where there is none.
        is_whole: Whether everything was looked at: the choice is the cheapest then.
        steps: Steps that were made.
    """

    choice: Choice | None
    bound: float
    is_whole: bool
    steps: int = 0


def cheapest(
    task: Task,
    possible: Possible,
    accept: Accept,
    below: float = math.inf,
    is_over: Callable[[int], bool] = lambda nodes: False,
) -> Found:
    """Return the cheapest choice that keeps all limits and is accepted.

    Args:
        task: Slots, costs and limits.
        possible: Told the best that parts of choices can become; False where that will not do either.
        accept: Whether a choice will do.
        below: Only choices cheaper than this count.
        is_over: Asked with the number of steps made so far: whether to stop with what is there.
    """
    domains = [list(options) for options in task.allowed]
    count = -1
    while count != (count := sum(map(len, domains))):
        domains = _within_room(task, domains)
    if not all(domains):
        return Found(None, math.inf, True)
    return _Search(task, domains, possible, accept, is_over, below).run()


def _within_room(task: Task, domains: list[list[int]]) -> list[list[int]]:
    """Return the options that keep every limit while all other slots lose the least they can."""
    if not all(domains) or not len(task.room):
        return domains
    least = np.array([losses[options].min(axis=0) for losses, options in zip(task.losses, domains, strict=True)])
    room = task.room - least.sum(axis=0)
    return [
        [option for option in options if (losses[option] - least[slot] <= room).all()]
        for slot, (losses, options) in enumerate(zip(task.losses, domains, strict=True))
    ]


@dataclass(frozen=True)
class _Group:
    """Slots that are filled together, and every way to fill them, the cheapest first.

    Attributes:
        slots: The slots.
        ways: Their options, shape (ways, slots).
        cost: Cost of each way.
        losses: Losses of each way above the least there are, shape (ways, limits).
        priced: Cost of each way with the price of its losses above the least.
        felt: Limits that feel the group.
    """

    slots: tuple[int, ...]
    ways: npt.NDArray[np.int64]
    cost: Array
    losses: Array
    priced: Array
    felt: npt.NDArray[np.int64]

    @cached_property
    def least_priced(self) -> float:
        """The least of the costs with the prices of the losses."""
        return float(self.priced.min())

    @cached_property
    def _frontier(self) -> tuple[Array, Array]:
        """Cost and felt losses of the ways that no cheaper one beats in every felt loss."""
        losses = self.losses[:, self.felt]
        kept: list[int] = []
        for way in range(len(losses)):
            if not any(np.all(losses[kept] <= losses[way], axis=1)):
                kept.append(way)
        return self.cost[kept], losses[kept]

    def least_costs(self, rooms: Array) -> Array:
        """Return the cost of the cheapest way that keeps each room that may be left; infinite where none does."""
        cost, losses = self._frontier
        fits = np.all(losses <= rooms[:, None, self.felt], axis=2)
        return np.where(np.any(fits, axis=1), cost[np.argmax(fits, axis=1)], math.inf)


@dataclass
class _Frame:
    """One group being filled.

    Attributes:
        choice: What was taken before; the last option for every other slot.
        room: What is left for each limit, when every slot that is not taken loses its least.
        cost: Cost of what was taken.
        floor: The same with the prices of its losses, and the least of all groups that are not taken.
        ways: The ways that may do, the lowest bound first.
        bounds: Their bounds.
        least: For every group apart, what it costs at least beside what was taken in common; None before that is known.
        able: Whether the caller lets them pass, as far as it was asked.
        next: The place of the way to be taken next.
    """

    choice: list[int]
    room: Array
    cost: float
    floor: float
    ways: npt.NDArray[np.int64]
    bounds: Array
    least: Array | None
    able: list[bool] = field(default_factory=list)
    next: int = 0

    @property
    def bound(self) -> float:
        """No choice that is left here costs less."""
        return float(self.bounds[self.next]) if self.next < len(self.bounds) else math.inf


@dataclass
class _Search:
    task: Task
    domains: list[list[int]]
    possible: Possible
    accept: Accept
    is_over: Callable[[int], bool]
    best_cost: float
    best: Choice | None = None
    nodes: int = 0
    stack: list[_Frame] = field(default_factory=list)

    def run(self) -> Found:
        task, domains = self.task, self.domains
        least = [losses[options].min(axis=0) for losses, options in zip(task.losses, domains, strict=True)]
        room = np.asarray(task.room - np.sum(least, axis=0))
        if len(room) and room.min() < 0:
            return Found(None, math.inf, True)
        prices = _prices(task, domains)
        self.credit = float(room @ prices)
        self.groups, self.apart = _groups(task, domains, least, prices)
        floor = math.fsum(group.least_priced for group in self.groups)
        self._enter([options[-1] for options in domains], room, 0.0, floor)
        while self.stack:
            if self.is_over(self.nodes):
                return Found(self.best, min(self.best_cost, *(frame.bound for frame in self.stack)), False, self.nodes)
            self._step()
        return Found(self.best, self.best_cost if self.best else math.inf, True, self.nodes)

    def _step(self) -> None:
        """Take the next way of the group on top, and go on to the next group."""
        frame, place = self.stack[-1], len(self.stack) - 1
        group = self.groups[place]
        if frame.bound >= self.best_cost - CHEAPER:
            self.stack.pop()
            return
        if not self._is_able(frame, group):
            frame.next += 1
            return
        way = int(frame.ways[frame.next])
        choice = _with_way(frame.choice, group, way)
        cost = frame.cost + float(group.cost[way])
        frame.next += 1
        if place + 1 < len(self.groups):
            floor = frame.floor - group.least_priced + float(group.priced[way])
            self._enter(choice, frame.room - group.losses[way], cost, floor)
        elif cost < self.best_cost - CHEAPER and self.accept(tuple(choice)):
            self.best, self.best_cost = tuple(choice), cost

    def _enter(self, choice: list[int], room: Array, cost: float, floor: float) -> None:
        """Put the next group on the stack, with the ways that may do and are not too dear."""
        self.nodes += 1
        place = len(self.stack)
        group = self.groups[place]
        least = self.stack[-1].least if self.stack else None
        bounds = np.maximum(floor - group.least_priced + group.priced - self.credit, cost + group.cost)
        if place == self.apart:
            least = self._least_able(choice, room, self.best_cost - cost)
        if least is not None:
            bounds = np.maximum(bounds, cost + group.cost + least[place - self.apart + 1 :].sum())
        ways = np.flatnonzero((group.losses <= room).all(axis=1) & (bounds < self.best_cost - CHEAPER))
        bounds = bounds[ways]
        if place + 1 >= self.apart:
            rooms = room - group.losses[ways]
            rest = cost + group.cost[ways] + sum(later.least_costs(rooms) for later in self.groups[place + 1 :])
            bounds = np.maximum(bounds, rest)
        order = np.argsort(bounds, kind="stable")
        order = order[bounds[order] < self.best_cost - CHEAPER]
        self.stack.append(_Frame(choice, room, cost, floor, ways[order], bounds[order], least))

    def _least_able(self, choice: list[int], room: Array, most: float) -> Array:
        """Return what each group apart costs at least in ways that the caller lets pass; infinite above ``most``."""
        return np.array([self._cheapest_able(group, choice, room, most) for group in self.groups[self.apart :]])

    def _cheapest_able(self, group: _Group, choice: list[int], room: Array, most: float) -> float:
        ways = np.flatnonzero((group.losses <= room).all(axis=1) & (group.cost < most))
        others = [slot for other in self.groups[self.apart :] if other is not group for slot in other.slots]
        start, size = 0, _AT_ONCE
        while start < len(ways):
            some = ways[start : start + size]
            able = self.possible([tuple(_with_way(choice, group, way)) for way in some], others)
            if able.any():
                return float(group.cost[some[int(able.argmax())]])
            start, size = start + size, 2 * size
        return math.inf

    def _is_able(self, frame: _Frame, group: _Group) -> bool:
        """Return whether the caller lets the next way pass; some more are asked for at once."""
        if frame.next >= len(frame.able):
            some = frame.ways[frame.next : 2 * frame.next + _AT_ONCE]
            others = [slot for later in self.groups[len(self.stack) :] for slot in later.slots]
            able = self.possible([tuple(_with_way(frame.choice, group, way)) for way in some], others)
            frame.able += map(bool, able)
        return frame.able[frame.next]


def _with_way(choice: list[int], group: _Group, way: int) -> list[int]:
    made = list(choice)
    for slot, option in zip(group.slots, group.ways[way], strict=True):
        made[slot] = int(option)
    return made


def _groups(task: Task, domains: list[list[int]], least: list[Array], prices: Array) -> tuple[list[_Group], int]:
    """Return the groups in the order in which they are filled, and how many stand before those that are apart."""
    spans = (
        np.array([losses[options].max(axis=0) for losses, options in zip(task.losses, domains, strict=True)]) - least
    )
    felt = spans > _FELT * spans.sum(axis=0)
    common, parts = _parts(felt, domains)
    spread = [float(np.ptp(np.asarray(task.costs[n])[options])) for n, options in enumerate(domains)]
    common.sort(key=lambda slot: -spread[slot])
    heads: list[tuple[int, ...]] = [(slot,) for slot in common]
    # The last slots in common are filled together: for each way at once it is known what the others cost at least.
    while len(heads) > 1 and _ways(heads[-2] + heads[-1], domains) <= _MOST_WAYS:
        heads[-2:] = [heads[-2] + heads[-1]]
    parts.sort(key=lambda slots: -max(spread[slot] for slot in slots))
    return [_group(task, domains, least, prices, felt, slots) for slots in (*heads, *parts)], len(heads)


def _ways(slots: Sequence[int], domains: Sequence[Sequence[int]]) -> int:
    return math.prod(len(domains[slot]) for slot in slots)


def _parts(felt: Flags, domains: Sequence[Sequence[int]]) -> tuple[list[int], list[tuple[int, ...]]]:
    """Return the slots in common, and the others in groups that no limit feels together."""
    common: list[int] = []
    while True:
        parts = _joined(felt, [slot for slot in range(len(domains)) if slot not in common])
        large = [part for part in parts if _ways(part, domains) > _MOST_WAYS and len(part) > 1]
        if not large:
            return common, parts
        part = max(large, key=len)
        common.append(max(part, key=lambda slot: (int(felt[slot].sum()), len(domains[slot]))))


def _joined(felt: Flags, slots: Sequence[int]) -> list[tuple[int, ...]]:
    """Return slots in groups: two that one limit feels are in the same one."""
    parts: list[tuple[set[int], Flags]] = []
    for slot in slots:
        members, limits = {slot}, felt[slot].copy()
        for part in [part for part in parts if (part[1] & felt[slot]).any()]:
            members |= part[0]
            limits |= part[1]
            parts.remove(part)
        parts.append((members, limits))
    return [tuple(sorted(members)) for members, _ in parts]


def _group(
    task: Task, domains: list[list[int]], least: list[Array], prices: Array, felt: Flags, slots: tuple[int, ...]
) -> _Group:
    ways = np.array(np.meshgrid(*(domains[slot] for slot in slots), indexing="ij")).reshape(len(slots), -1).T
    cost = np.sum([np.asarray(task.costs[slot])[ways[:, n]] for n, slot in enumerate(slots)], axis=0)
    losses = np.sum([task.losses[slot][ways[:, n]] - least[slot] for n, slot in enumerate(slots)], axis=0)
    order = np.argsort(cost, kind="stable")
    cost, losses = cost[order], losses[order]
    return _Group(
        slots, ways[order], cost, losses, cost + losses @ prices, np.flatnonzero(felt[list(slots)].any(axis=0))
    )


def _prices(task: Task, domains: list[list[int]]) -> Array:
    """Return prices of the limits' losses that make the bound high, by subgradient steps."""
    prices = np.zeros(len(task.room))
    if not len(prices):
        return prices
    losses = [row[options] for row, options in zip(task.losses, domains, strict=True)]
    costs = [np.asarray(row)[options] for row, options in zip(task.costs, domains, strict=True)]
    best, best_prices = -math.inf, prices
    for step in range(_PRICE_STEPS):
        picked = [int(np.argmin(cost + loss @ prices)) for cost, loss in zip(costs, losses, strict=True)]
        over = np.sum([loss[p] for loss, p in zip(losses, picked, strict=True)], axis=0) - task.room
        bound = math.fsum(float(cost[p]) for cost, p in zip(costs, picked, strict=True)) + float(prices @ over)
        if bound > best:
            best, best_prices = bound, prices
        length = float(np.linalg.norm(over))
        if length == 0 or ((over <= 0).all() and not prices.any()):
            break
        prices = np.maximum(0.0, prices + 0.25 * (abs(best) + 1e-6) / (1 + _SLOWER * step) / length * over)
    return best_prices
