"""Route the nets of one channel: the gap between two columns, where wires change height.

Wires come in from the left and from the right edge at given heights. A net whose wires all lie at one
height runs straight through; every other net gets one vertical trunk. Trunks are ordered so that the fewest
wires cross, under one rule that always holds: two nets never lie on one another. Where the rule has no
solution (two nets that must each be left of the other, as when two contacts are swapped), one net gets a
second trunk and a step between the two.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

#: Positions across the channel: its two edges; trunks stand on tracks 0, 1, 2 ... between them.
LEFT: Final = -1
RIGHT: Final = 1_000_000

#: Heights closer than this are the same height, mm.
SAME_MM: Final = 0.05
#: Wires of two nets must not run side by side closer than this, mm.
CLEAR_MM: Final = 0.9
_FORBIDDEN: Final = 10_000.0
_EXACT_LIMIT: Final = 9


@dataclass(frozen=True, slots=True)
class RouteTap:
    """A wire that enters the channel.

    Attributes:
        net: Net it belongs to.
        y: Height, mm downwards.
        from_left: Whether it comes in from the left edge.
    """

    net: str
    y: float
    from_left: bool


@dataclass(frozen=True, slots=True)
class RoutedWire:
    """A straight piece of a net: heights in mm, positions as ``LEFT``, ``RIGHT`` or the number of a track."""

    net: str
    start: tuple[int, float]
    end: tuple[int, float]


@dataclass(frozen=True, slots=True)
class Routed:
    """A routed channel.

    Attributes:
        tracks: Number of tracks in use.
        wires: Every straight piece.
        dots: Net, track and height wherever three or more pieces of a net meet.
        crossings: How often two nets cross.
    """

    tracks: int
    wires: tuple[RoutedWire, ...]
    dots: tuple[tuple[str, int, float], ...]
    crossings: int


@dataclass(slots=True)
class _Trunk:
    """A vertical piece of a net with the wires that end on it."""

    net: str
    lefts: tuple[float, ...]
    rights: tuple[float, ...]
    after: list[_Trunk] = field(default_factory=list)
    """Trunks of the same net that must stand left of this one."""

    @property
    def low(self) -> float:
        return min(self.lefts + self.rights)

    @property
    def high(self) -> float:
        return max(self.lefts + self.rights)


def route(taps: Iterable[RouteTap]) -> Routed:
    """Route one channel.

    Args:
        taps: The wires that enter it. Taps of different nets on the same side must differ in height by
        ``CLEAR_MM``
            at least; the layout sees to that.

    Returns:
        Pieces, tracks and dots; the same for the same taps in any order.
    """
    nets: dict[str, list[RouteTap]] = {}
    for tap in sorted(set(taps), key=lambda t: (t.net, t.y, t.from_left)):
        nets.setdefault(tap.net, []).append(tap)
    straight: list[_Trunk] = []
    trunks: list[_Trunk] = []
    for net, members in nets.items():
        trunk = _Trunk(net, tuple(t.y for t in members if t.from_left), tuple(t.y for t in members if not t.from_left))
        (straight if trunk.high - trunk.low <= SAME_MM else trunks).append(trunk)
    levels = [tap.y for members in nets.values() for tap in members]
    trunks = _without_cycles(trunks, levels)
    order = _ordered(trunks)
    track = _tracks(order)
    wires = [
        RoutedWire(t.net, (LEFT if t.lefts else RIGHT, t.low), (RIGHT if t.rights else LEFT, t.low))
        for t in straight
        if t.lefts and t.rights
    ]
    dots: list[tuple[str, int, float]] = []
    for trunk in order:
        wires += _pieces(trunk, track, order)
        dots += [(trunk.net, track[id(trunk)], y) for y in _meetings(trunk)]
    crossings = math.fsum(_cost(a, b) for i, a in enumerate(order) for b in order[i + 1 :])
    through = [t.low for t in straight if t.lefts and t.rights]
    crossings += sum(t.low < y < t.high for t in order for y in through)
    return Routed(max(track.values(), default=-1) + 1, tuple(wires), tuple(dots), int(crossings))


def _must_precede(a: _Trunk, b: _Trunk) -> bool:
    """Return whether ``a`` must stand left of ``b``.

    So it is when a wire from the left to ``a`` shares a height with one from the right to ``b``: they would
    lie on one another the other way round.
    """
    return a in b.after or (
        a.net != b.net and any(abs(left - right) < CLEAR_MM for left in a.lefts for right in b.rights)
    )


def _without_cycles(trunks: list[_Trunk], levels: list[float]) -> list[_Trunk]:
    """Give nets a second trunk until no trunk must stand left of itself, round a circle of others."""
    trunks = list(trunks)
    levels = list(levels)
    while circle := _circle(trunks):
        # Of the nets that can be parted, the shortest: its step is the smallest blemish.
        parted = min(
            (trunk for trunk in circle if trunk.lefts and trunk.rights),
            key=lambda t: (t.high - t.low, t.net),
        )
        level = _free_level(parted, levels)
        levels.append(level)
        first = _Trunk(parted.net, parted.lefts, (level,), parted.after)
        second = _Trunk(parted.net, (level,), parted.rights, [first])
        for trunk in trunks:
            if parted in trunk.after:
                trunk.after = [second if t is parted else t for t in trunk.after]
        trunks[trunks.index(parted) : trunks.index(parted) + 1] = [first, second]
    return trunks


def _circle(trunks: Sequence[_Trunk]) -> list[_Trunk]:
    """Return the trunks of one circle of ``_must_precede``, or nothing."""
    follows = {id(a): [b for b in trunks if b is not a and _must_precede(a, b)] for a in trunks}
    done: set[int] = set()
    for start in trunks:
        path: list[_Trunk] = []
        if found := _walk_circle(start, follows, done, path):
            return found
    return []


def _walk_circle(trunk: _Trunk, follows: dict[int, list[_Trunk]], done: set[int], path: list[_Trunk]) -> list[_Trunk]:
    if any(trunk is earlier for earlier in path):
        return path[next(i for i, earlier in enumerate(path) if earlier is trunk) :]
    if id(trunk) in done:
        return []
    path.append(trunk)
    for following in follows[id(trunk)]:
        if found := _walk_circle(following, follows, done, path):
            return found
    path.pop()
    done.add(id(trunk))
    return []


def _free_level(trunk: _Trunk, levels: Sequence[float]) -> float:
    """Return a height for the step of a parted net, clear of every wire, as near its middle as may be."""
    middle = (trunk.low + trunk.high) / 2
    ordered = sorted(set(levels))
    gaps = [(a, b) for a, b in pairwise(ordered) if b - a >= 2 * CLEAR_MM]
    candidates = [(a + b) / 2 for a, b in gaps] + [ordered[0] - 2 * CLEAR_MM, ordered[-1] + 2 * CLEAR_MM]
    return min(candidates, key=lambda y: (abs(y - middle), y))


def _cost(a: _Trunk, b: _Trunk) -> float:
    """Return how often two nets cross when ``a`` stands left of ``b``; very much when they may not."""
    if _must_precede(b, a):
        return _FORBIDDEN
    cost = 0.0
    for y in b.lefts:
        cost += a.low < y < a.high
    for y in a.rights:
        cost += b.low < y < b.high
    return cost


def _ordered(trunks: list[_Trunk]) -> list[_Trunk]:
    """Return the trunks from left to right with the fewest crossings."""
    costs = [[_cost(a, b) if a is not b else 0.0 for b in trunks] for a in trunks]
    pieces = _linked(costs)
    order: list[int] = []
    for piece in pieces:
        order += _best_order(piece, costs) if len(piece) <= _EXACT_LIMIT else _good_order(piece, costs)
    return [trunks[i] for i in order]


def _linked(costs: list[list[float]]) -> list[list[int]]:
    """Group trunks whose order matters to one another, directly or through others."""
    count = len(costs)
    group = list(range(count))
    for i in range(count):
        for j in range(i):
            if costs[i][j] != costs[j][i] and group[i] != group[j]:
                old, new = group[i], group[j]
                group = [new if g == old else g for g in group]
    return [[i for i in range(count) if group[i] == g] for g in dict.fromkeys(group)]


def _best_order(members: list[int], costs: list[list[float]]) -> list[int]:
    """Return the cheapest order of all, by dynamic programming over the sets of trunks already placed."""
    count = len(members)
    best: list[tuple[float, tuple[int, ...]]] = [(float("inf"), ())] * (1 << count)
    best[0] = (0.0, ())
    for placed in range(1 << count):
        cost, order = best[placed]
        for k in range(count):
            if placed >> k & 1:
                continue
            total = cost + math.fsum(costs[members[i]][members[k]] for i in order)
            following = placed | 1 << k
            if total < best[following][0]:
                best[following] = (total, (*order, k))
    return [members[i] for i in best[-1][1]]


def _good_order(members: list[int], costs: list[list[float]]) -> list[int]:
    """Return a cheap order of many trunks: each goes to its best place, then single ones move about."""
    order: list[int] = []
    for member in _allowed_order(members, costs):
        order = _inserted(order, member, costs)
    for _ in range(len(members)):
        before = list(order)
        for member in members:
            order = _inserted([i for i in order if i != member], member, costs)
        if order == before:
            break
    return order


def _allowed_order(members: list[int], costs: list[list[float]]) -> list[int]:
    """Return the members so that none comes before one that must stand left of it."""
    left, order = list(members), list[int]()
    while left:
        first = next(i for i in left if all(costs[i][j] < _FORBIDDEN for j in left))
        order.append(first)
        left.remove(first)
    return order


def _inserted(order: list[int], member: int, costs: list[list[float]]) -> list[int]:
    def cost_at(place: int) -> float:
        return math.fsum(costs[i][member] for i in order[:place]) + math.fsum(costs[member][i] for i in order[place:])

    place = min(range(len(order) + 1), key=lambda k: (cost_at(k), k))
    return [*order[:place], member, *order[place:]]


def _tracks(order: Sequence[_Trunk]) -> dict[int, int]:
    """Return the track of each trunk, by its identity: as far left as the order allows."""
    track: dict[int, int] = {}
    for index, trunk in enumerate(order):
        track[id(trunk)] = max(
            (track[id(o)] + 1 for o in order[:index] if _meet(o, trunk) or _cost(o, trunk) != _cost(trunk, o)),
            default=0,
        )
    return track


def _meet(a: _Trunk, b: _Trunk) -> bool:
    return a.low < b.high + CLEAR_MM and b.low < a.high + CLEAR_MM


def _pieces(trunk: _Trunk, track: dict[int, int], order: Sequence[_Trunk]) -> list[RoutedWire]:
    here = track[id(trunk)]
    wires = [RoutedWire(trunk.net, (here, trunk.low), (here, trunk.high))]
    steps = {trunk_left.rights[0]: track[id(trunk_left)] for trunk_left in trunk.after}
    inner = {t.lefts[0] for t in order if any(trunk is a for a in t.after)}
    wires += [RoutedWire(trunk.net, (steps.get(y, LEFT), y), (here, y)) for y in trunk.lefts]
    wires += [RoutedWire(trunk.net, (here, y), (RIGHT, y)) for y in trunk.rights if y not in inner]
    return wires


def _meetings(trunk: _Trunk) -> list[float]:
    """Return the heights at which three or more pieces of the trunk's net meet."""
    heights: list[float] = []
    for y in sorted({*trunk.lefts, *trunk.rights}):
        arms = (y > trunk.low + SAME_MM) + (y < trunk.high - SAME_MM)
        arms += any(abs(y - left) <= SAME_MM for left in trunk.lefts)
        arms += any(abs(y - right) <= SAME_MM for right in trunk.rights)
        if arms >= 3 and not (heights and y - heights[-1] <= SAME_MM):
            heights.append(y)
    return heights
