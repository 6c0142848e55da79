"""Place parts in columns so that most wires are straight.

The caller gives every part its column; this module finds the heights. Parts joined by wires between two
ends only form a chain, and a chain lies on one line: it is the row a reader follows from the battery to the
lamp. What is left to decide is the order of the chains, from top to bottom, and their heights: parts of
different chains must not touch, and nets with three or more ends shall have short trunks with few
crossings.

A net that passes a column gets a lane there, a strip of that column kept free for it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from wiregen.draw.schematic.heights import Chain, HeightPlan, Net
from wiregen.draw.schematic.route import RouteTap

#: Half the height of the strip kept free for a wire, and for a dashed link, that passes a column, mm.
LANE_MM: Final = 1.1
LINK_LANE_MM: Final = 0.45
#: Stands for the channel of what is not drawn.
_NO_CHANNEL: Final = -2


@dataclass(frozen=True, slots=True)
class Port:
    """An end of a part.

    Attributes:
        net: What it is joined to: ports of one net are connected.
        right: Whether it is on the right side of the part.
        dy: Height against the middle of the part, mm downwards.
    """

    net: str
    right: bool
    dy: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPart:
    """Anything that takes room in a column.

    Attributes:
        key: Unique name.
        column: Its column, from 0.
        width: Room it needs across, mm.
        up: Room above its middle, with everything written there, mm.
        down: Room below its middle, mm.
        ports: Its ends.
        rank: Where it would like to be, top first: parts of lower rank go higher.
        foot: Whether it belongs under everything that is not at the foot too, as grounds do.
        block: Name of the outline it shares with others of its column, which nothing else may enter; or
        empty.
    """

    key: str
    column: int
    width: float
    up: float
    down: float
    ports: tuple[Port, ...]
    rank: float = 0.0
    foot: bool = False
    block: str = ""


@dataclass(frozen=True, slots=True)
class Placed:
    """Heights of everything.

    Attributes:
        y: Middle of each part by key, mm; the topmost thing starts at 0.
        height: Height of the whole, mm.
        taps: Wires that enter each channel; channel ``c`` lies right of column ``c``.
        lanes: Net, column and height of every wire that passes a column.
        order: The order found, to start another layout of the same parts from.
    """

    y: Mapping[str, float]
    height: float
    taps: Mapping[int, tuple[RouteTap, ...]]
    lanes: tuple[tuple[str, int, float], ...]
    order: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _End:
    """Where a net meets a channel."""

    net: str
    channel: int
    from_left: bool
    thing: int
    dy: float


@dataclass(slots=True)
class _Thing:
    """A part, or the lanes of a net through several columns."""

    cells: list[tuple[int, float, float]]
    ends: list[_End]
    rank: float
    foot: bool
    key: str = ""
    block: str = ""
    net: str = ""


def layout(
    parts: Sequence[DrawnPart],
    *,
    links: frozenset[str] = frozenset(),
    pulls: Sequence[Sequence[str]] = (),
    gap_mm: float = 1.0,
    fill_mm: float = 0.0,
    order: Sequence[str] = (),
) -> Placed:
    """Find the heights of all parts.

    Args:
        parts: What to place.
        links: Nets that are dashed links and no wires: they need less room.
        pulls: Keys of parts that belong side by side although nothing is drawn between them.
        gap_mm: Least distance between things of different chains in one column, mm.
        fill_mm: Height to fill by wider gaps where there is room to spare, mm.
        order: ``Placed.order`` of the same parts at another size, which saves looking for it again.
    """
    things, nets = _things(parts, links)
    chains = _chains(things, nets, links)
    plan = HeightPlan(chains, _channels(chains, nets) | {_NO_CHANNEL: _pulled(chains, things, pulls)}, gap_mm)
    labels = [_label(chain, things) for chain in chains]
    known = sorted(order) == sorted(labels)
    found = [labels.index(label) for label in order] if known else plan.best_order()
    return _result(things, chains, nets, plan.filled(found, fill_mm), tuple(labels[c] for c in found))


def _label(chain: Chain, things: Sequence[_Thing]) -> str:
    """Return a name by which a chain is found again in another layout of the same parts."""
    return min(things[i].key or f"lanes of {things[i].net}" for i, _ in chain.members)


def _channels(chains: Sequence[Chain], nets: Mapping[str, list[_End]]) -> dict[int, list[Net]]:
    """Return, for each channel, the ends of each net there as chain and height in the chain."""
    place = {index: (c, offset) for c, chain in enumerate(chains) for index, offset in chain.members}
    channels: dict[int, list[Net]] = {}
    for ends in nets.values():
        for channel in sorted({end.channel for end in ends}):
            here = [(*place[end.thing], end.dy) for end in ends if end.channel == channel]
            channels.setdefault(channel, []).append([(chain, offset + dy) for chain, offset, dy in here])
    return channels


def _pulled(chains: Sequence[Chain], things: Sequence[_Thing], pulls: Sequence[Sequence[str]]) -> list[Net]:
    """Return a net for each group of parts that belong side by side."""
    place = {things[index].key: (c, offset) for c, chain in enumerate(chains) for index, offset in chain.members}
    return [[place[key] for key in keys if key in place] for keys in pulls]


def _things(parts: Sequence[DrawnPart], links: frozenset[str]) -> tuple[list[_Thing], dict[str, list[_End]]]:
    things = [
        _Thing([(part.column, part.up, part.down)], [], part.rank, part.foot, part.key, part.block) for part in parts
    ]
    nets: dict[str, list[_End]] = {}
    for index, part in enumerate(parts):
        for port in part.ports:
            channel = part.column if port.right else part.column - 1
            end = _End(port.net, channel, port.right, index, port.dy)
            nets.setdefault(port.net, []).append(end)
            things[index].ends.append(end)
    nets = {net: ends for net, ends in nets.items() if len(ends) > 1}
    for net, ends in nets.items():
        first, last = min(end.channel for end in ends), max(end.channel for end in ends)
        if first == last:
            continue
        half = LINK_LANE_MM if net in links else LANE_MM
        index = len(things)
        lanes = [_End(net, first, False, index, 0.0), _End(net, last, True, index, 0.0)]
        lanes += [_End(net, channel, side, index, 0.0) for channel in range(first + 1, last) for side in (True, False)]
        rank = math.fsum(things[end.thing].rank for end in ends) / len(ends)
        foot = any(things[end.thing].foot for end in ends)
        things.append(_Thing([(c, half, half) for c in range(first + 1, last + 1)], lanes, rank, foot, net=net))
    for thing in things:
        for end in thing.ends:
            if thing.net:
                nets[end.net].append(end)
    return things, nets


def _chains(things: list[_Thing], nets: Mapping[str, list[_End]], links: frozenset[str]) -> list[Chain]:
    """Join things into chains: along wires first, then along links, each only where nothing would collide."""
    chain_of: dict[int, Chain] = {}
    for index, thing in enumerate(things):
        chain_of[index] = Chain([(index, 0.0)], thing.rank)
    # Wires between two ends first, then what stands alone at the end of a longer net; links last, for they may bend.
    wires = [net for net in nets if net not in links]
    bent = [net for net in nets if net in links]
    for couples, names in ((_couples, wires), (_lane_ends, wires), (_couples, bent)):
        for net in names:
            for one, other in couples(nets[net], things):
                _join(one, other, chain_of, things)
    chains = list({id(chain): chain for chain in chain_of.values()}.values())
    for chain in chains:
        chain.rank = min(things[index].rank for index, _ in chain.members)
        for index, offset in chain.members:
            for column, up, down in things[index].cells:
                top, bottom = chain.cells.get(column, (offset - up, offset + down))
                chain.cells[column] = (min(top, offset - up), max(bottom, offset + down))
        solid = {column for index, _ in chain.members if things[index].key for column, _, _ in things[index].cells}
        chain.lanes = set(chain.cells) - solid
    _set_bands(chains, things)
    return chains


def _couples(ends: list[_End], things: list[_Thing]) -> list[tuple[_End, _End]]:
    """Return which ends of a two-ended net to join: the two parts, or each with the lane between them."""
    parts = [end for end in ends if not things[end.thing].net]
    if len(parts) != 2:
        return []
    one, other = parts
    lanes = [end for end in ends if things[end.thing].net]
    if not lanes:
        return [(one, other)] if one.from_left != other.from_left else []
    couples = []
    for end in (one, other):
        facing = [lane for lane in lanes if lane.channel == end.channel and lane.from_left != end.from_left]
        couples += [(end, facing[0])] if facing else []
    return couples


def _lane_ends(ends: list[_End], things: list[_Thing]) -> list[tuple[_End, _End]]:
    """Return what stands alone in the first or last channel of a net with lanes, and the lane it faces."""
    couples = []
    for channel in (min(end.channel for end in ends), max(end.channel for end in ends)):
        here = [end for end in ends if end.channel == channel]
        if len(here) == 2 and bool(things[here[0].thing].net) != bool(things[here[1].thing].net):
            couples.append((here[0], here[1]))
    return couples


def _join(one: _End, other: _End, chain_of: dict[int, Chain], things: list[_Thing]) -> None:
    first, second = chain_of[one.thing], chain_of[other.thing]
    if first is second:
        return
    offset_one = next(offset for index, offset in first.members if index == one.thing) + one.dy
    offset_other = next(offset for index, offset in second.members if index == other.thing) + other.dy
    shift = offset_one - offset_other
    if _pass_own_shell(first, second, things) or _pass_own_shell(second, first, things):
        return
    rooms = [(c, o - up, o + down) for i, o in first.members for c, up, down in things[i].cells]
    for index, offset in second.members:
        for column, up, down in things[index].cells:
            top, bottom = offset + shift - up, offset + shift + down
            if any(c == column and top < low and bottom > high for c, high, low in rooms):
                return
    for index, offset in second.members:
        first.members.append((index, offset + shift))
        chain_of[index] = first


def _pass_own_shell(one: Chain, other: Chain, things: list[_Thing]) -> bool:
    """Return whether ``one`` has a contact in a column that ``other`` passes: together they could not go round it."""
    shells = {things[i].cells[0][0] for i, _ in one.members if things[i].block}
    return any(things[i].net and column in shells for i, _ in other.members for column, _, _ in things[i].cells)


def _set_bands(chains: list[Chain], things: list[_Thing]) -> None:
    """Sort chains into bands, so that what passes a column with an outline passes above or below it."""
    blocks = sorted({thing.cells[0][0] for thing in things if thing.block})
    for chain in chains:
        inside = {things[i].cells[0][0] for i, _ in chain.members if things[i].block}
        passed = [b for b in blocks if b in chain.cells and b not in inside]
        shells = [things[i].foot for i, _ in chain.members if things[i].block]
        foot = any(shells) if shells else all(things[i].foot for i, _ in chain.members)
        if not inside and not passed and not foot:
            continue
        if not passed:
            chain.band = 1 if foot else 0
        elif not inside:
            chain.band = 4 if foot else -3
        elif min(passed) < min(inside):
            chain.band = 2 if foot else -2
        else:
            chain.band = 3
    # What only belongs to an outline (the list of free contacts) goes under everything else in it.
    for chain in chains:
        if all(things[i].block and not things[i].ends for i, _ in chain.members):
            block = things[chain.members[0][0]].block
            mates = [
                c.band for c in chains if c.band is not None and any(things[i].block == block for i, _ in c.members)
            ]
            chain.band = max(mates) + 0.5


def _result(
    things: list[_Thing],
    chains: list[Chain],
    nets: Mapping[str, list[_End]],
    heights: list[float],
    order: tuple[str, ...],
) -> Placed:
    y = {index: heights[c] + offset for c, chain in enumerate(chains) for index, offset in chain.members}
    top = min((y[i] - up for i, thing in enumerate(things) for _, up, _ in thing.cells), default=0.0)
    bottom = max((y[i] + down for i, thing in enumerate(things) for _, _, down in thing.cells), default=0.0)
    taps: dict[int, list[RouteTap]] = {}
    for ends in nets.values():
        for end in ends:
            tap = RouteTap(end.net, round(y[end.thing] + end.dy - top, 4), end.from_left)
            taps.setdefault(end.channel, []).append(tap)
    lanes = [
        (thing.net, column, round(y[i] - top, 4))
        for i, thing in enumerate(things)
        if thing.net
        for column, _, _ in thing.cells
    ]
    return Placed(
        {thing.key: round(y[i] - top, 4) for i, thing in enumerate(things) if thing.key},
        bottom - top,
        {channel: tuple(dict.fromkeys(members)) for channel, members in taps.items()},
        tuple(lanes),
        order,
    )
