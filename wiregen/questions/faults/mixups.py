"""What goes wrong between parts: contacts that touch, swapped wires, another table of the family, two filaments."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from typing import Final

from wiregen.catalogue.circuits import CIRCUITS, GROUNDS
from wiregen.catalogue.connector import Connector, FacePlace
from wiregen.circuit.fault_words import bare, part_name
from wiregen.circuit.parts import CHASSIS, SOCKET
from wiregen.circuit.shorts import BOLTED_OHM
from wiregen.model.circuit import Circuit, Conductor, Contact, Element, Lamp, Path, Resistive, Switch
from wiregen.model.logic import parse
from wiregen.questions.faults.diagnosis import Change, FaultCase
from wiregen.questions.faults.words import case

#: Contacts count as neighbours up to this multiple of the nearest one's distance on the face.
_NEAR: Final = 1.3
#: Resistance of filaments that lie on each other, ohm (assumed, no source).
_FILAMENTS_OHM: Final = 0.1
_SIDES: Final = {"v": "on the vehicle's side", "a": "on the adapter's side", "t": "on the trailer's side"}
#: Where a trailer of another table has the lamps of a circuit that its table does not know.
_ELSEWHERE: Final = {
    "stop_turn_left": ("turn_left",),
    "stop_turn_right": ("turn_right",),
    "turn_left": ("stop_turn_left",),
    "turn_right": ("stop_turn_right",),
    "tail": ("tail_left", "tail_right"),
    "tail_left": ("tail",),
    "tail_right": ("tail",),
}


@dataclass(frozen=True, slots=True)
class Family:
    """Another wiring that mates with a connector.

    Attributes:
        name: Its name.
        pinout: The wiring.
    """

    name: str
    pinout: Connector


def _mated(circuit: Circuit) -> dict[str, dict[str, Contact]]:
    found: dict[str, dict[str, Contact]] = {}
    for contact in circuit.of(Contact):
        found.setdefault(contact.connector, {})[contact.mark] = contact
    return found


# --- contacts that touch ---


def neighbours(circuit: Circuit, pinouts: Mapping[str, Connector]) -> Iterator[FaultCase]:
    """Yield every two contacts side by side that touch: by the drawing of the face, else by the list of the pinout."""
    for designation, mated in _mated(circuit).items():
        pinout = pinouts.get(designation)
        if pinout is None:
            continue
        pairs, note = side_by_side(pinout)
        for first, second in pairs:
            if first not in mated or second not in mated:
                continue
            if mated[first].circuit in GROUNDS and mated[second].circuit in GROUNDS:
                continue
            bar = Path(ref="-TOUCH", a=f"{designation}:{first}.a", b=f"{designation}:{second}.a", circuit="ground",
                       zone="adapter", resistance_ohm=BOLTED_OHM, title="contacts touch")  # fmt: skip
            words = f"{bare(designation)} contacts {first} and {second} touch ({_what(mated, first, second)})"
            yield case(
                f"{bare(designation)} {first}={second}",
                "short_neighbour",
                mated[first].ref,
                words,
                change=Change(put=(bar,)),
                is_short=True,
                note=note,
            )


def _what(mated: Mapping[str, Contact], first: str, second: str) -> str:
    names = [CIRCUITS[c].word if c in CIRCUITS else c for c in (mated[first].circuit, mated[second].circuit)]
    return f"{names[0]}, {names[1]}"


def side_by_side(pinout: Connector) -> tuple[list[tuple[str, str]], str]:
    """Return the pairs of marks that lie side by side, and in words what says so."""
    places = {contact.mark: contact.face for contact in pinout.contact if contact.face is not None}
    if len(places) < len(pinout.contact) or len(places) < 2:
        marks = [contact.mark for contact in pinout.contact]
        return list(pairwise(marks)), "neighbours by the order of the list: no face is known"
    spots = {mark: _spot(place) for mark, place in places.items()}
    nearest = {
        mark: min(math.dist(spot, other) for name, other in spots.items() if name != mark)
        for mark, spot in spots.items()
    }
    pairs = [
        (a, b)
        for a, b in combinations(spots, 2)
        if math.dist(spots[a], spots[b]) <= _NEAR * max(nearest[a], nearest[b])
    ]
    return pairs, "" if pinout.face.verified else "neighbours by a drawing of the face that nobody has verified"


def _spot(place: FacePlace) -> tuple[float, float]:
    if place.x is not None or place.y is not None:
        return place.x or 0.0, place.y or 0.0
    angle = math.radians(place.angle_deg)
    return place.radius * math.sin(angle), place.radius * math.cos(angle)


# --- swapped wires ---


def swapped(circuit: Circuit) -> Iterator[FaultCase]:
    """Yield every two wires of a connector that are swapped, on either side of it."""
    for designation, mated in _mated(circuit).items():
        for first, second in combinations(mated, 2):
            one, other = mated[first], mated[second]
            if one.circuit in GROUNDS and other.circuit in GROUNDS:
                continue
            for side in sorted({end.rpartition(".")[2] for end in (one.a, one.b)}):
                ends = {
                    f"{designation}:{first}.{side}": f"{designation}:{second}.{side}",
                    f"{designation}:{second}.{side}": f"{designation}:{first}.{side}",
                }
                words = f"{bare(designation)}: the wires of {first} and {second} are swapped {_SIDES[side]}"
                yield case(
                    f"{bare(designation)} {first}<>{second} {side}",
                    "swapped",
                    one.ref,
                    f"{words} ({_what(mated, first, second)})",
                    change=Change(put=_moved(circuit, ends)),
                    is_short=True,
                )


def _moved(circuit: Circuit, ends: Mapping[str, str]) -> tuple[Element, ...]:
    """Return what is wired to some terminals, moved to others; the contacts stay where they are."""
    return tuple(
        replace(e, a=ends.get(e.a, e.a), b=ends.get(e.b, e.b))
        for e in circuit.elements
        if not isinstance(e, Contact) and (e.a in ends or e.b in ends)
    )


# --- another table of the family ---


def families(circuit: Circuit, family: Mapping[str, Sequence[Family]]) -> Iterator[FaultCase]:
    """Yield a vehicle socket, or a trailer, that follows another wiring which mates with the same connector."""
    mated = _mated(circuit)
    for designation, others in family.items():
        if designation not in mated:
            continue
        seen: set[Change] = set()
        for other in others:
            if designation == SOCKET:
                change = _other_socket(circuit, mated[designation], other.pinout)
                kind, who = "socket_family", "the vehicle's socket"
            else:
                change = _other_trailer(circuit, designation, mated[designation], other.pinout)
                kind, who = "trailer_family", "the trailer"
            if change is None or change in seen:
                continue
            seen.add(change)
            yield case(
                f"{bare(designation)} as {other.name}",
                kind,
                designation,
                f"{who} ({bare(designation)}) is wired as {other.name}",
                change=change,
                is_short=True,
            )


def _other_socket(circuit: Circuit, mated: Mapping[str, Contact], pinout: Connector) -> Change | None:
    """Return a vehicle that puts on each contact what another table says; what the rig never uses is left out."""
    drop: set[str] = set()
    put: list[Element] = []
    same = True
    for mark, contact in mated.items():
        entry = pinout.find(mark)
        circuit_now = entry.circuit if entry else "unused"
        if circuit_now == contact.circuit or {circuit_now, contact.circuit} <= GROUNDS:
            continue
        same = False
        outside = f"{SOCKET}:{mark}.v"
        wires = [e for e in circuit.elements if not isinstance(e, Contact) and outside in (e.a, e.b)]
        drop |= {wire.ref for wire in wires}
        ohm = next((wire.resistance_ohm for wire in wires if isinstance(wire, Resistive)), 0.01)
        put += _feed(circuit, circuit_now, outside, mark, ohm)
    return None if same else Change(frozenset(drop), tuple(put))


def _feed(circuit: Circuit, name: str, end: str, mark: str, ohm: float) -> Iterator[Element]:
    """Yield what brings a circuit to a terminal: its own switch or one of the same sort, and a wire."""
    kind = CIRCUITS[name]
    if name in GROUNDS:
        yield _wire(f"-W9{mark}", end, CHASSIS, name, ohm)
        return
    if kind.live == "never":
        return
    switch = next((s for s in circuit.of(Switch) if s.circuit == name), None)
    plus = next((s.a for s in circuit.of(Switch)), circuit.elements[0].a)
    start = switch.b if switch else plus
    if switch is None and kind.live != "always":
        start = f"-S9{mark}:2"
        yield Switch(ref=f"-S9{mark}", a=plus, b=start, circuit=name, zone="vehicle", resistance_ohm=0.02,
                     live=parse(kind.live), title=f"{kind.word} switch")  # fmt: skip
    yield _wire(f"-W9{mark}", start, end, name, ohm)


def _wire(ref: str, a: str, b: str, circuit: str, ohm: float) -> Path:
    return Path(ref=ref, a=a, b=b, circuit=circuit, zone="vehicle", resistance_ohm=ohm, title="as another table says")


def _other_trailer(
    circuit: Circuit, designation: str, mated: Mapping[str, Contact], pinout: Connector
) -> Change | None:
    """Return a trailer whose wires lie where another table has their circuits; some may then lie on nothing."""
    ends: dict[str, str] = {}
    taken: set[str] = set()
    for mark, contact in mated.items():
        new = _place(pinout, contact.circuit, mark, taken)
        taken.add(new)
        if new != mark:
            ends[f"{designation}:{mark}.t"] = f"{designation}:{new}.t" if new else f"{designation}:{mark}.loose"
    return Change(put=_moved(circuit, ends)) if ends else None


def _place(pinout: Connector, circuit: str, mark: str, taken: Collection[str]) -> str:
    """Return the mark another table has for a circuit: the same one where it can be; empty where it has none."""
    names = GROUNDS if circuit in GROUNDS else (circuit, *_ELSEWHERE.get(circuit, ()))
    marks = [entry.mark for entry in pinout.contact if entry.circuit in names]
    if mark in marks:
        return mark
    return next((m for m in marks if m not in taken), marks[0] if marks else "")


# --- lamps with two filaments ---


def bridged_filaments(circuit: Circuit) -> Iterator[FaultCase]:
    """Yield, for lamps with two filaments, filaments that touch, and a holder that has lost its ground."""
    lamps = circuit.of(Lamp)
    for bright in (lamp for lamp in lamps if lamp.type_name.endswith("-bright")):
        twin = bright.type_name.removesuffix("bright") + "dim"
        for dim in (lamp for lamp in lamps if lamp.type_name == twin and _one_bulb(lamp, bright)):
            name = f"{part_name(bright)} with {bare(dim.ref)}"
            bar = Path(ref="-FILAMENTS", a=bright.a, b=dim.a, circuit=bright.circuit, zone="trailer",
                       resistance_ohm=_FILAMENTS_OHM, title="filaments touch")  # fmt: skip
            yield case(
                f"{bare(bright.ref)}={bare(dim.ref)} filaments",
                "filament_bridge",
                bright.ref,
                f"{name}: the two filaments touch",
                change=Change(put=(bar,)),
            )
            yield case(
                f"{bare(bright.ref)} holder",
                "socket_ground",
                bright.ref,
                f"{name}: the lamp holder has no ground",
                change=_without_ground(circuit, bright, dim),
            )


def _one_bulb(dim: Lamp, bright: Lamp) -> bool:
    return not dim.side or not bright.side or dim.side in (bright.side, "both")


def _without_ground(circuit: Circuit, bright: Lamp, dim: Lamp) -> Change:
    """Return a bulb whose ground is lost: its two filaments lie in series between their feeds."""
    returns = frozenset(e.ref for e in circuit.of(Conductor) if bright.b in (e.a, e.b))
    alone = replace(dim, ref=f"{dim.ref}.2", count=1, b=bright.b)
    if dim.count > 1:
        return Change(returns, (replace(dim, count=dim.count - 1), alone))
    return Change(returns | {dim.ref}, (alone,))
