"""What the ohmmeter must show on the finished harness before anything is connected.

Nothing is mated, no trailer, no battery, every fuse out. Every conductor must be whole from end to end; between a
contact and the ground contacts of its own connector there is what the adapter has there: a coil, the input of an
electronic device, or nothing. Relays are at rest; contacts that are closed at rest are followed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Final

from wiregen.catalogue.circuits import GROUNDS, circuit_word
from wiregen.catalogue.defaults import default
from wiregen.circuit.parts import ADAPTER_GROUND
from wiregen.harness.make import AT_BATTERY, terminal_words
from wiregen.harness.record import Harness, Wire, WirePoint
from wiregen.model.circuit import Battery, Coil, Converter, Diode, Element, Fuse, RelayContact
from wiregen.model.contacts import is_closed
from wiregen.model.harness import ContinuityRow
from wiregen.quantity import show

#: Above what a good conductor of a harness and two probes have; below what any coil has. Common practice, no source.
NEAR_ZERO_OHM: Final = 1.0
#: What counts as open; a meter's highest range or its sign for overload. Common practice, no source.
OPEN_OHM: Final = 1e6
#: Below this an electronic input is a short and no input. Common practice, no source.
INPUT_OHM: Final = 10.0

_JOINED: Final = "near 0 ohm, under 1 ohm"
_NOT_SHORT: Final = "not near 0 ohm (over 10 ohm)"
_OPEN: Final = "open (over 1 Mohm)"


@dataclass
class _Met:
    """What is met between a contact and the ground of the adapter."""

    coils: dict[str, Coil] = field(default_factory=dict)
    inputs: dict[str, None] = field(default_factory=dict)


def continuity(harness: Harness) -> tuple[ContinuityRow, ...]:
    """Return the rows: wires from end to end, then what must not be joined."""
    rows = [*_whole(harness)]
    rows += _straight_open(harness) if harness.straight else _against_ground(harness)
    return tuple(replace(row, ident=f"C{number}") for number, row in enumerate(rows, start=1))


def _whole(harness: Harness) -> Iterator[ContinuityRow]:
    for wire in harness.made:
        yield ContinuityRow(
            ident="",
            one=wire.a.id,
            other=wire.b.id,
            kind="joined",
            expected=_JOINED,
            lowest_ohm=None,
            highest_ohm=NEAR_ZERO_OHM,
            why=f"{wire.id}, {circuit_word(wire.circuit)}{_at_battery(wire)}",
        )


def _at_battery(wire: Wire) -> str:
    """Return how a lead to a battery is measured: loose, and with the fuse in that stands in it."""
    if not wire.a.id.startswith("G"):
        return ""
    return "; ring off the battery" + (", its fuse in" if wire.fuse.endswith(AT_BATTERY) else "")


def _straight_open(harness: Harness) -> Iterator[ContinuityRow]:
    """Yield that each conductor of a straight lead is joined to no other; a plain lead has nothing between them."""
    for wire in harness.made:
        yield _open(wire.a.id, "every other contact of the lead", f"{wire.id} and its neighbours")


def _open(one: str, other: str, why: str) -> ContinuityRow:
    return ContinuityRow(
        ident="", one=one, other=other, kind="open", expected=_OPEN, lowest_ohm=OPEN_OHM, highest_ohm=None, why=why
    )


def _against_ground(harness: Harness) -> Iterator[ContinuityRow]:
    shut = {half.id: True for half in harness.halves}
    seen: set[WirePoint] = set()
    for wire in harness.wires:
        if not wire.is_made or not wire.element or wire.circuit in GROUNDS:
            continue
        for point in wire.points:
            outside = point.kind == "cavity" or (wire.stretch == "battery-adapter" and point == wire.a)
            if outside and point not in seen:
                seen.add(point)
                row = _row(harness, wire, point)
                shut[point.part] = shut.get(point.part, True) and row.kind == "open"
                yield row
    for half in harness.halves:
        row = _open(
            f"each contact of {half.id} in turn", f"every other contact of {half.id} but grounds", "no short between"
        )
        if not shut[half.id]:
            # Two coils or inputs meet on the ground bar: the meter shows both, one behind the other.
            why = "no short between; what lies on the ground bar shows, two in a row"
            row = replace(row, kind="input", expected=_NOT_SHORT, lowest_ohm=INPUT_OHM, why=why)
        yield row


def _row(harness: Harness, wire: Wire, point: WirePoint) -> ContinuityRow:
    met = _met(harness, point.net)
    one, other = point.id, terminal_words(ADAPTER_GROUND)
    if met.coils and not met.inputs:
        ohm = 1 / math.fsum(1 / coil.resistance_ohm for coil in met.coils.values())
        share = default("coil_resistance_tolerance_share").value
        names = ", ".join(terminal_words(ref) for ref in met.coils)
        low, high = ohm * (1 - share), ohm * (1 + share)
        words = f"about {show(ohm, 'ohm')} ({show(low, 'ohm')} to {show(high, 'ohm')})"
        why = f"{wire.id}: coil of {names}; an assumed coil differs from the real one, a short does not"
        return ContinuityRow(
            ident="", one=one, other=other, kind="coil", expected=words, lowest_ohm=low, highest_ohm=high, why=why
        )
    if met.coils or met.inputs:
        names = ", ".join(dict.fromkeys(terminal_words(ref.split(":")[0]) for ref in (*met.coils, *met.inputs)))
        return ContinuityRow(
            ident="",
            one=one,
            other=other,
            kind="input",
            expected=f"{_NOT_SHORT}; may start low and rise",
            lowest_ohm=INPUT_OHM,
            highest_ohm=None,
            why=f"{wire.id}: electronics of {names}",
        )
    return _open(one, other, f"{wire.id}: nothing between, relays at rest, fuses out")


def _met(harness: Harness, start: str) -> _Met:
    """Return what lies between a net and the ground of the adapter, with relays at rest and fuses out."""
    met = _Met()
    todo, seen = [start], {start}
    while todo:
        here = todo.pop()
        for element in _touching(harness, here):
            there = element.b if here == element.a else element.a
            if isinstance(element, Coil):
                electronic = {} if element.is_copper and element.suppression != "diode" else {element.ref: None}
                # A diode across the coil conducts when the meter's leads are the other way round.
                met.inputs |= electronic
                if not electronic:
                    met.coils[element.ref] = element
            elif isinstance(element, Converter | Diode | Battery) or _is_electronic(element):
                met.inputs[element.ref] = None
            elif isinstance(element, RelayContact) and not _closed_at_rest(element):
                continue
            elif there != ADAPTER_GROUND and there not in seen:
                seen.add(there)
                todo.append(there)
        for wire in harness.made:
            ends = {wire.a.net, wire.b.net}
            if here in ends:
                todo += (net for net in ends - seen if net != ADAPTER_GROUND)
                seen |= ends
    return met


def _touching(harness: Harness, net: str) -> Iterator[Element]:
    """Yield what lies on a net and can be measured through: everything in the adapter but fuses, which are out."""
    for part in harness.parts:
        for element in part.elements:
            if element.zone == "adapter" and net in (element.a, element.b) and not isinstance(element, Fuse):
                yield element


def _is_electronic(element: Element) -> bool:
    return isinstance(element, RelayContact) and not element.is_relay


def _closed_at_rest(element: RelayContact) -> bool:
    return is_closed(element.network, ()) if element.network else element.gate.is_open_to(frozenset())
