"""Which end of an element points left on a schematic, and which column it stands in.

A schematic reads from the battery on the left to the lamp on the right. Feeds are stored that way round,
returns are not (their first terminal is on the lamp side), so the sides come from what an element hangs on:
the connector between two zones, a lamp, the battery.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Conductor,
    Contact,
    Converter,
    Diode,
    Element,
    Fuse,
    Lamp,
    Load,
    Path,
    RelayContact,
    Resistor,
    Switch,
    ends,
)

_ZONE_RANK: Final = {"vehicle": 0, "adapter": 1, "trailer": 2}


@dataclass(frozen=True, slots=True)
class Sides:
    """Terminals of an element by the side they point to.

    ``under`` is a second one to the right: the common minus of a converter, the minus of a battery in the adapter;
    ``left`` is empty for the latter.
    """

    left: str
    right: str
    under: str = ""


def sides(circuit: Circuit) -> dict[str, Sides]:
    """Return the sides of every element, by its ref."""
    at: dict[str, list[Element]] = {}
    for element in circuit.elements:
        for terminal in ends(element):
            at.setdefault(terminal, []).append(element)
    found: dict[str, Sides] = {}
    for element in circuit.of(Contact):
        found[element.ref] = _by_zone(element, at)
    inner = {found[contact.ref].left: "right" for contact in circuit.of(Contact)}
    inner |= {found[contact.ref].right: "left" for contact in circuit.of(Contact)}
    for element in circuit.elements:
        if is_consumer(element):
            inner.setdefault(element.a, "right")
            inner.setdefault(element.b, "left")
    for element in circuit.elements:
        if element.ref not in found:
            found[element.ref] = _sides(element, inner, at)
    return found


def _sides(element: Element, inner: Mapping[str, str], at: Mapping[str, list[Element]]) -> Sides:
    match element:
        case Converter():
            return Sides(element.a, element.b, element.common)
        case Battery() if element.zone == "adapter":
            return Sides("", element.a, element.b)
        case Conductor() | Fuse() | Switch() | Diode() | Resistor():
            for terminal, other in ((element.a, element.b), (element.b, element.a)):
                if inner.get(terminal) == "left":
                    return Sides(terminal, other)
                if inner.get(terminal) == "right":
                    return Sides(other, terminal)
            return _by_zone(element, at) if isinstance(element, Conductor) else Sides(element.a, element.b)
        case Path():
            batteries = [t for t in (element.a, element.b) if any(isinstance(e, Battery) for e in at[t])]
            if len(batteries) == 1:
                return Sides(batteries[0], element.b if batteries[0] == element.a else element.a)
            return _by_zone(element, at)
        case _:
            return Sides(element.a, element.b)


def _by_zone(element: Element, at: Mapping[str, list[Element]]) -> Sides:
    """Put the terminal with the neighbours nearer to the vehicle on the left."""
    ranks = []
    for terminal in (element.a, element.b):
        others = [e for e in at[terminal] if e is not element and not isinstance(e, Path)]
        ranks.append(min((_ZONE_RANK[e.zone] for e in others), default=None))
    if None not in ranks and ranks[1] < ranks[0]:  # type: ignore[operator]
        return Sides(element.b, element.a)
    return Sides(element.a, element.b)


def is_consumer(element: Element) -> bool:
    """Return whether an element stands at the right end of a row: a lamp, a load, a battery on the trailer."""
    return isinstance(element, Lamp | Load) or (isinstance(element, Battery) and element.zone == "trailer")


def is_hitch(element: Element, circuit: Circuit) -> bool:
    """Return whether an element is a metal path that bridges vehicle and trailer past the connectors."""
    if not isinstance(element, Path):
        return False
    zones = [
        {e.zone for e in circuit.elements if e is not element and terminal in ends(e) and not isinstance(e, Path)}
        for terminal in (element.a, element.b)
    ]
    return bool(zones[0] and zones[1] and not zones[0] & zones[1] and "trailer" in zones[0] | zones[1])


def columns(
    elements: Iterable[Element], side: Mapping[str, Sides], first: frozenset[str], hitch: frozenset[str]
) -> dict[str, int]:
    """Return the column of each element: right of all that feeds it, kinds aligned where that is possible.

    Args:
        elements: What is drawn, batteries of the vehicle left out.
        side: Sides of each element by ref.
        first: Terminals of the batteries in column 0.
        hitch: Refs of paths through the hitch; they stand below the coils.
    """
    members = list(elements)
    feeds: dict[str, list[str]] = {}
    for element in members:
        for terminal in filter(None, (side[element.ref].right, side[element.ref].under)):
            feeds.setdefault(terminal, []).append(element.ref)
    behind = _behind(members, side, hitch)
    before = {e.ref: [*feeds.get(side[e.ref].left, []), *behind.get(e.ref, [])] for e in members}
    for element in members:
        if isinstance(element, RelayContact | Converter) and element.gate:
            # The dashed link runs to the right, from a coil to what it works.
            before[element.ref] += [ref for ref in element.gate.coils.values() if ref in before]
    floor = {e.ref: int(side[e.ref].left in first) for e in members}
    plain = _ranks(before, floor)
    if plain is None:
        return dict(zip(before, range(1, len(before) + 1), strict=True))
    kinds: dict[object, list[str]] = {}
    for element in members:
        kind = ("coil",) if element.ref in hitch else _kind(element, side[element.ref], members)
        if kind is not None:
            kinds.setdefault(kind, []).append(element.ref)
    ranks = plain
    for _ in range(2 * len(kinds) + 2):
        levels = {ref: max(ranks[r] for r in refs) for refs in kinds.values() for ref in refs}
        if all(ranks[ref] == level for ref, level in levels.items()):
            return _closed_up(ranks)
        ranks = _ranks(before, {**floor, **levels}) or plain
        if max(ranks.values()) > len(kinds) + max(plain.values()) + 2:
            break
    # Two kinds that feed one another in turn cannot both be aligned.
    return _closed_up(plain)


def _behind(members: list[Element], side: Mapping[str, Sides], hitch: frozenset[str]) -> dict[str, list[str]]:
    """Return what must lie left of each element because a connector parts the zones between them."""
    contacts = [e for e in members if isinstance(e, Contact)]
    others = [e for e in members if not isinstance(e, Contact) and e.ref not in hitch]
    behind: dict[str, list[str]] = {}
    reach: dict[str, int] = {}
    for connector in dict.fromkeys(contact.connector for contact in contacts):
        lefts = {side[contact.ref].left for contact in contacts if contact.connector == connector}
        reach[connector] = min((_ZONE_RANK[e.zone] for e in others if lefts & {*ends(e)}), default=0)
    for contact in contacts:
        behind[contact.ref] = [e.ref for e in others if _ZONE_RANK[e.zone] <= reach[contact.connector]]
    for element in others:
        behind[element.ref] = [c.ref for c in contacts if reach[c.connector] < _ZONE_RANK[element.zone]]
    return behind


def _kind(element: Element, side: Sides, members: list[Element]) -> object:
    """Return what an element is aligned with, or None when it stands where it falls."""
    match element:
        case Conductor():
            back = any(is_consumer(e) and e.b == side.left for e in members)
            stretch = "battery-socket" if element.stretch == "socket-chassis" else element.stretch
            return ("conductor", stretch, back)
        case Contact():
            return ("contact", element.connector)
        case _ if is_consumer(element):
            return ("lamp",)
        case Coil():
            return ("coil",)
        case Converter() if element.zone != "adapter":
            return None
        case Converter() if element.gate is None:
            return ("coil",)
        case RelayContact() | Converter():
            return ("switched",)
        case Battery():
            return ("coil",)
        case Fuse() | Switch() if element.zone == "vehicle":
            return (type(element).__name__,)
        case _:
            return None


def _ranks(before: Mapping[str, list[str]], floor: Mapping[str, int]) -> dict[str, int] | None:
    """Return the longest way from the left to each element, or None when they feed round in a circle."""
    rank = {ref: floor[ref] for ref in before}
    for _ in range(len(rank) + 1):
        changed = False
        for ref, feeders in before.items():
            level = max((rank[f] + 1 for f in feeders if f != ref), default=0)
            if level > rank[ref]:
                rank[ref], changed = level, True
        if not changed:
            return rank
    return None


def _closed_up(ranks: Mapping[str, int]) -> dict[str, int]:
    """Number the columns in use without holes; column 0 stays the batteries'."""
    used = {rank: place for place, rank in enumerate(sorted({0, *ranks.values()}))}
    return {ref: used[rank] for ref, rank in ranks.items()}
