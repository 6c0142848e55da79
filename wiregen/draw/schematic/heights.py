"""Find order and heights of the chains of a layout.

A chain takes a strip of every column it has something in. The order of the chains says which lies above which wherever
they share a column; the heights follow from it. Both are found by trial: the order by letting each chain drift to the
middle of what it hangs on, then by single moves; the heights by letting each chain go where most of its nets are
straight. The measure is the length of the trunks, the crossings, and the height of the whole.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

#: What a crossing, and a net that is not straight, count for, in mm of trunk.
_CROSSING_MM: Final = 14.0
_BEND_MM: Final = 4.0
#: What each further height of a net counts for, and more when it misses another by less than _NEAR_MM.
_LEVEL_MM: Final = 1.5
_JOG_MM: Final = 4.0
_NEAR_MM: Final = 2.5
#: What one mm of the whole height counts for.
_HEIGHT_WEIGHT: Final = 0.3
#: Rows further apart than this look lost, mm.
_WIDEST_GAP_MM: Final = 6.0
#: Gap that may be used up to take out a small step, mm.
_SNAP_GAP_MM: Final = 0.2
_DRIFTS: Final = 16
_ROUNDS: Final = 2
#: A net with this many ends or more is a bus: no end of it has a natural place.
_BUS: Final = 5
#: What one mm of a bus counts for: it runs past most rows anyway.
_BUS_WEIGHT: Final = 0.25
_SAME_MM: Final = 1e-4


@dataclass(slots=True)
class Chain:
    """Things that keep their distance in height.

    Attributes:
        members: Number of each thing and its height in the chain, mm.
        rank: Where it would like to be, top first.
        band: Bands lie one under another in this order; None for a chain that may lie anywhere.
        cells: For each column, the top and the bottom of what the chain has there, mm.
        lanes: Columns that it only passes; its neighbours there keep no further distance.
    """

    members: list[tuple[int, float]]
    rank: float
    band: float | None = None
    cells: dict[int, tuple[float, float]] = field(default_factory=dict)
    lanes: set[int] = field(default_factory=set)


#: A net in one channel: chain and height in the chain of every end.
Net = list[tuple[int, float]]


@dataclass(frozen=True, slots=True)
class _Stack:
    """Chains in one order: for each, which lie directly above it and directly below it in some column."""

    order: tuple[int, ...]
    above: list[list[tuple[int, float]]]
    below: list[list[tuple[int, float]]]


class HeightPlan:
    """Looks for the best order and heights.

    Args:
        chains: The chains.
        channels: For each channel, its nets.
        gap_mm: Least distance between chains, mm.
    """

    def __init__(self, chains: Sequence[Chain], channels: Mapping[int, Sequence[Net]], gap_mm: float) -> None:
        self.chains = chains
        self.channels = [[net for net in nets if len({chain for chain, _ in net}) > 1] for nets in channels.values()]
        self.passing = [[end for net in nets for end in net] for nets in channels.values()]
        self.gap_mm = gap_mm
        self.tops = [max(-high for high, _ in chain.cells.values()) for chain in chains]
        self.bottoms = [max(low for _, low in chain.cells.values()) for chain in chains]
        self.pulls: list[list[tuple[float, Net]]] = [[] for _ in chains]
        for nets in self.channels:
            for net in nets:
                for chain, offset in net:
                    others = [end for end in net if end[0] != chain]
                    if others:
                        self.pulls[chain].append((offset, others))

    def best_order(self) -> list[int]:
        """Return the best order found."""
        starts = [self._start()]
        for _ in range(_DRIFTS):
            starts.append(self._drifted(starts[-1]))
        tried = []
        for start in (starts[0], starts[len(starts) // 2], starts[-1]):
            order = self._shortened(start)
            tried.append((self.cost(self.heights(order)), order))
        cost, order = min(tried)
        return self._moved(order, cost)

    def filled(self, order: Sequence[int], room_mm: float) -> list[float]:
        """Return the heights in an order, the gaps widened evenly as far as ``room_mm`` allows."""
        low, high = self.gap_mm, max(self.gap_mm, _WIDEST_GAP_MM)
        heights = self._polished(order, low)
        if self.bottom(heights) >= room_mm:
            return heights
        for _ in range(5):
            middle = (low + high) / 2
            tried = self._polished(order, middle)
            if self.bottom(tried) <= room_mm:
                low, heights = middle, tried
            else:
                high = middle
        return self._snapped(self._stacked(order, _SNAP_GAP_MM), heights)

    def _snapped(self, stack: _Stack, heights: list[float]) -> list[float]:
        """Take out steps of a millimetre or two that the wide gaps left: they look like mistakes."""
        cost = self.cost(heights)
        for j in stack.order:
            steps = [heights[c] + o - offset - heights[j] for offset, others in self.pulls[j] for c, o in others]
            for step in sorted({s for s in steps if _SAME_MM < abs(s) < _NEAR_MM}, key=abs):
                target = heights[j] + step
                ceiling = min((heights[i] - distance for i, distance in stack.below[j]), default=target)
                if not self._floor(j, stack, heights) <= target <= ceiling:
                    continue
                tried = list(heights)
                tried[j] = target
                if (tried_cost := self.cost(tried)) < cost - 1e-6:
                    heights, cost = tried, tried_cost
                    break
        return heights

    def _polished(self, order: Sequence[int], gap_mm: float) -> list[float]:
        """Return the heights in an order, settled and pushed in turn as long as it helps."""
        stack = self._stacked(order, gap_mm)
        heights = self.heights(order, gap_mm, 2)
        cost = self.cost(heights)
        for _ in range(_ROUNDS + 1):
            tried = self._pushed(stack, list(heights))
            self._sweep(stack, tried)
            tried_cost = self.cost(tried)
            if tried_cost >= cost - 1e-6:
                break
            heights, cost = tried, tried_cost
        return heights

    def bottom(self, heights: Sequence[float]) -> float:
        """Return the height of the whole, mm."""
        return max((y + low for y, low in zip(heights, self.bottoms, strict=True)), default=0.0)

    # -- order ------------------------------------------------------------------------------------------------------

    def _start(self) -> list[int]:
        """Return chains with an outline to respect by band and rank, the rest beside what they hang on."""
        fixed = [i for i, chain in enumerate(self.chains) if chain.band is not None]
        fixed.sort(key=lambda i: (self.chains[i].band or 0, self.chains[i].rank, i))
        spot = {chain: float(k) for k, chain in enumerate(fixed)}
        loose = [i for i in range(len(self.chains)) if i not in spot]
        while loose:
            known = {i: [spot[c] for _, others in self.pulls[i] for c, _ in others if c in spot] for i in loose}
            ready = [i for i in loose if known[i]] or loose
            for i in ready:
                spot[i] = math.fsum(known[i]) / len(known[i]) if known[i] else float(len(self.chains))
            loose = [i for i in loose if i not in ready]
        return sorted(spot, key=lambda i: (spot[i], self.chains[i].rank, i))

    def _drifted(self, order: Sequence[int]) -> list[int]:
        """Return the order after every chain went half-way to the middle of what it hangs on."""
        place = {chain: k for k, chain in enumerate(order)}
        wish: dict[int, float] = {}
        for chain in order:
            means = [sum(place[c] for c, _ in others) / len(others) for _, others in self.pulls[chain]]
            wish[chain] = (place[chain] + math.fsum(means) / len(means)) / 2 if means else float(place[chain])
        return self._banded(sorted(order, key=lambda c: (wish[c], self.chains[c].rank, c)))

    def _banded(self, order: list[int]) -> list[int]:
        """Return ``order`` with the chains of different bands in the order of the bands, others where they are."""
        fixed = iter(
            sorted((c for c in order if self.chains[c].band is not None), key=lambda c: self.chains[c].band or 0)
        )
        return [c if self.chains[c].band is None else next(fixed) for c in order]

    def _shortened(self, order: list[int]) -> list[int]:
        """Move single chains as long as that brings chains of one net closer in the order, heights left aside."""
        nets = [tuple({chain for chain, _ in net}) for nets in self.channels for net in nets]
        for _ in range(_ROUNDS):
            before = list(order)
            for chain in before:
                order = self._closest(order, chain, nets)
            if order == before:
                break
        return order

    def _closest(self, order: list[int], chain: int, nets: Sequence[tuple[int, ...]]) -> list[int]:
        k = order.index(chain)
        rest = [c for c in order if c != chain]
        place = {c: float(i) for i, c in enumerate(rest)}
        spans = []
        for net in nets:
            levels = [place[c] for c in net if c != chain]
            spans.append((min(levels), max(levels), chain in net))

        def length(at: int) -> float:
            # The chain stands between two places of the rest; a net that reaches over it gets longer by one.
            here = at - 0.5
            total = 0.0
            for low, high, own in spans:
                if own:
                    total += max(high, here) - min(low, here)
                total += low < here < high
            return total

        allowed = [p for p in range(len(rest) + 1) if p == k or self._may_stand(rest, p, chain)]
        best = min(allowed, key=lambda p: (length(p), abs(p - k)))
        return [*rest[:best], chain, *rest[best:]]

    def _moved(self, order: list[int], cost: float) -> list[int]:
        """Move single chains up or down the order while that helps."""
        for _ in range(_ROUNDS):
            improved = False
            heights = self.heights(order)
            for chain in sorted(order):
                if self._is_straight(chain, heights):
                    continue
                k = order.index(chain)
                rest = [c for c in order if c != chain]
                for place in self._places(chain, k, rest):
                    tried = [*rest[:place], chain, *rest[place:]]
                    tried_heights = self.heights(tried)
                    if (tried_cost := self.cost(tried_heights)) < cost - 1e-6:
                        order, heights, cost, improved = tried, tried_heights, tried_cost, True
            if not improved:
                break
        return order

    def _is_straight(self, chain: int, heights: Sequence[float]) -> bool:
        """Return whether no net of a chain changes height, so that it has nothing to gain."""
        return all(
            abs(heights[chain] + offset - heights[c] - o) < _SAME_MM
            for offset, others in self.pulls[chain]
            for c, o in others
        )

    def _places(self, chain: int, k: int, rest: Sequence[int]) -> list[int]:
        """Return where in the order a chain may go: a step up or down, or next to something it hangs on."""
        linked = {c for _, others in self.pulls[chain] if len(others) < _BUS for c, _ in others}
        places = {k - 2, k - 1, k + 1, k + 2}
        for index, other in enumerate(rest):
            if other in linked:
                places |= {index, index + 1}
        return [p for p in sorted(places - {k}) if 0 <= p <= len(rest) and self._may_stand(rest, p, chain)]

    def _may_stand(self, rest: Sequence[int], place: int, chain: int) -> bool:
        band = self.chains[chain].band
        if band is None:
            return True
        higher = (self.chains[c].band for c in rest[:place])
        lower = (self.chains[c].band for c in rest[place:])
        return all(b is None or b <= band for b in higher) and all(b is None or b >= band for b in lower)

    # -- heights ----------------------------------------------------------------------------------------------------

    def _stacked(self, order: Sequence[int], gap_mm: float) -> _Stack:
        above: list[list[tuple[int, float]]] = [[] for _ in order]
        below: list[list[tuple[int, float]]] = [[] for _ in order]
        last: dict[int, int] = {}
        for j in order:
            for column, (top, _) in self.chains[j].cells.items():
                i = last.get(column)
                if i is not None:
                    loose = column in self.chains[i].lanes or column in self.chains[j].lanes
                    distance = self.chains[i].cells[column][1] - top + (0.0 if loose else gap_mm)
                    above[j].append((i, distance))
                    below[i].append((j, distance))
                last[column] = j
        return _Stack(tuple(order), above, below)

    def heights(self, order: Sequence[int], gap_mm: float | None = None, sweeps: int = 1) -> list[float]:
        """Return the heights of the chains in an order, in the numbering of the chains, mm."""
        stack = self._stacked(order, self.gap_mm if gap_mm is None else gap_mm)
        heights = [0.0] * len(order)
        for j in stack.order:
            heights[j] = self._floor(j, stack, heights)
        for _ in range(sweeps):
            self._sweep(stack, heights)
        return heights

    def _sweep(self, stack: _Stack, heights: list[float]) -> None:
        bottom = self.bottom(heights)
        for j in (*reversed(stack.order), *stack.order):
            self._settle(j, stack, heights, bottom)

    def _floor(self, j: int, stack: _Stack, heights: Sequence[float]) -> float:
        top = self.tops[j]
        for i, distance in stack.above[j]:
            if (least := heights[i] + distance) > top:
                top = least
        return top

    def _settle(self, j: int, stack: _Stack, heights: list[float], bottom: float) -> None:
        """Move one chain to where its nets are shortest and most of them straight."""
        if not self.pulls[j]:
            return
        low = self._floor(j, stack, heights)
        high = bottom - self.bottoms[j]
        for i, distance in stack.below[j]:
            if (most := heights[i] - distance) < high:
                high = most
        if high <= low:
            heights[j] = low
            return
        spans = []
        wishes: set[float] = set()
        for offset, others in self.pulls[j]:
            levels = [heights[c] + o - offset for c, o in others]
            spans.append((min(levels), max(levels), levels))
            wishes.update(levels if len(levels) < _BUS else spans[-1][:2])
        wishes = {min(max(y, low), high) for y in wishes}
        heights[j] = min(wishes, key=lambda y: (_local_cost(y, spans), y))

    def _pushed(self, stack: _Stack, heights: list[float]) -> list[float]:
        """Let each chain go to a wish even where that pushes the ones below it down, if it pays."""
        cost = self.cost(heights)
        for k, j in enumerate(stack.order):
            for wish in sorted({heights[c] + o - offset for offset, others in self.pulls[j] for c, o in others}):
                if not 0.01 < wish - heights[j] < 40.0:
                    continue
                tried = list(heights)
                tried[j] = wish
                for m in stack.order[k + 1 :]:
                    tried[m] = max(tried[m], self._floor(m, stack, tried))
                if (tried_cost := self.cost(tried)) < cost - 1e-6:
                    heights, cost = tried, tried_cost
        return heights

    def cost(self, heights: Sequence[float]) -> float:
        """Return the measure of heights, in mm of trunk; smaller is better."""
        total = _HEIGHT_WEIGHT * self.bottom(heights)
        for nets, passing in zip(self.channels, self.passing, strict=True):
            levels: list[float] = []
            for net in nets:
                own = [heights[chain] + offset for chain, offset in net]
                low, high = min(own), max(own)
                if high - low < _SAME_MM:
                    continue
                if not levels:
                    levels = sorted([heights[chain] + offset for chain, offset in passing])
                inside = _between(levels, low, high) - sum(low < y < high for y in own)
                length = (high - low) * (1.0 if len(own) < _BUS else _BUS_WEIGHT)
                total += length + _BEND_MM + _CROSSING_MM / 2 * inside
                own.sort()
                for upper, lower in pairwise(own):
                    if lower - upper > _SAME_MM:
                        total += _LEVEL_MM if lower - upper > _NEAR_MM else _LEVEL_MM + _JOG_MM
        return total


def _between(levels: Sequence[float], low: float, high: float) -> int:
    """Return how many of the sorted ``levels`` lie strictly between ``low`` and ``high``."""
    return max(0, bisect_left(levels, high) - bisect_right(levels, low))


def _local_cost(y: float, spans: Sequence[tuple[float, float, Sequence[float]]]) -> float:
    """Return what the nets of a chain cost when it lies at ``y``, given the other ends of each."""
    total = 0.0
    for low, high, levels in spans:
        length = max(high, y) - min(low, y)
        if length > _SAME_MM:
            nearest = min(abs(level - y) for level in levels)
            total += length + _BEND_MM + (_LEVEL_MM + (_JOG_MM if nearest < _NEAR_MM else 0.0)) * (nearest > _SAME_MM)
    return total
