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

from wiregen.catalogue.circuits import GROUNDS
from wiregen.catalogue.defaults import default
from wiregen.circuit.build import Built
from wiregen.circuit.parts import ADAPTER_GROUND
from wiregen.harness.cut_list import AT_BATTERY, HARNESS, terminal_words
from wiregen.model.chart import Chart, ConductorRow
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Conductor,
    Converter,
    Diode,
    Element,
    RelayContact,
    Resistor,
)
from wiregen.model.contacts import is_closed
from wiregen.model.harness import ContinuityRow
from wiregen.quantity import show
from wiregen.rig.loaded import LoadedRig

#: Above what a good conductor of a harness and two probes have; below what any coil has. Common practice, no source.
NEAR_ZERO_OHM: Final = 1.0
#: What counts as open; a meter's highest range or its sign for overload. Common practice, no source.
OPEN_OHM: Final = 1e6
#: Below this an electronic input is a short and no input. Common practice, no source.
INPUT_OHM: Final = 10.0

_FOLLOWED: Final = (Coil, Converter, Diode, Battery, RelayContact, Resistor)
_JOINED: Final = "near 0 ohm, under 1 ohm"
_NOT_SHORT: Final = "not near 0 ohm (over 10 ohm)"
_OPEN: Final = "open (over 1 Mohm)"


@dataclass
class _Met:
    """What is met between a contact and the ground of the adapter."""

    coils: dict[str, Coil] = field(default_factory=dict)
    inputs: dict[str, None] = field(default_factory=dict)


def continuity(loaded: LoadedRig, built: Built, chart: Chart) -> tuple[ContinuityRow, ...]:
    """Return the rows: conductors from end to end, then what must not be joined.

    Args:
        loaded: The rig.
        built: Its circuits.
        chart: Its chart, for the conductors of the harness.
    """
    rows = [*_whole(chart)]
    rows += _straight_open(chart) if loaded.rig.adapter.straight else _against_ground(loaded, built, chart)
    return tuple(replace(row, ident=f"C{number}") for number, row in enumerate(rows, start=1))


def _whole(chart: Chart) -> Iterator[ContinuityRow]:
    for row in chart.conductors:
        yield ContinuityRow(
            ident="",
            one=row.start,
            other=row.end,
            kind="joined",
            expected=_JOINED,
            lowest_ohm=None,
            highest_ohm=NEAR_ZERO_OHM,
            why=f"{row.ref}, {row.circuit}{_at_battery(row)}",
        )


def _at_battery(row: ConductorRow) -> str:
    """Return how a lead to a battery is measured: loose, and with the fuse in that stands in it."""
    if not row.start.startswith("G"):
        return ""
    return "; ring off the battery" + (", its fuse in" if row.fuse.endswith(AT_BATTERY) else "")


def _straight_open(chart: Chart) -> Iterator[ContinuityRow]:
    """Yield that each conductor of a straight lead is joined to no other; a plain lead has nothing between them."""
    for row in chart.conductors:
        yield _open(row.start, "every other contact of the lead", f"{row.ref} and its neighbours")


def _open(one: str, other: str, why: str) -> ContinuityRow:
    return ContinuityRow(
        ident="", one=one, other=other, kind="open", expected=_OPEN, lowest_ohm=OPEN_OHM, highest_ohm=None, why=why
    )


def _against_ground(loaded: LoadedRig, built: Built, chart: Chart) -> Iterator[ContinuityRow]:
    harness = {f"-{row.ref}" for row in chart.conductors}
    seen: set[str] = set()
    shut = {"X1": True} | {f"X{index + 2}": True for index in range(len(loaded.plugs))}
    for circuit in built.circuits:
        for wire in circuit.of(Conductor):
            if wire.ref not in harness or wire.circuit in GROUNDS or wire.stretch not in HARNESS:
                continue
            for end in (wire.a, wire.b):
                outside = end.startswith("-X") or (wire.stretch == "battery-adapter" and end == wire.a)
                if outside and end not in seen:
                    seen.add(end)
                    row = _row(circuit, wire, end)
                    shut[row.one.split(":")[0]] = shut.get(row.one.split(":")[0], True) and row.kind == "open"
                    yield row
    for name in ("X1", *(f"X{index + 2}" for index in range(len(loaded.plugs)))):
        row = _open(f"each contact of {name} in turn", f"every other contact of {name} but grounds", "no short between")
        if not shut[name]:
            # Two coils or inputs meet on the ground bar: the meter shows both, one behind the other.
            why = "no short between; what lies on the ground bar shows, two in a row"
            row = replace(row, kind="input", expected=_NOT_SHORT, lowest_ohm=INPUT_OHM, why=why)
        yield row


def _row(circuit: Circuit, wire: Conductor, end: str) -> ContinuityRow:
    met = _met(circuit, end)
    one, other = terminal_words(end), terminal_words(ADAPTER_GROUND)
    if met.coils and not met.inputs:
        ohm = 1 / math.fsum(1 / coil.resistance_ohm for coil in met.coils.values())
        share = default("coil_resistance_tolerance_share").value
        names = ", ".join(terminal_words(ref) for ref in met.coils)
        low, high = ohm * (1 - share), ohm * (1 + share)
        words = f"about {show(ohm, 'ohm')} ({show(low, 'ohm')} to {show(high, 'ohm')})"
        why = f"{wire.ref.lstrip('-')}: coil of {names}; an assumed coil differs from the real one, a short does not"
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
            why=f"{wire.ref.lstrip('-')}: electronics of {names}",
        )
    return _open(one, other, f"{wire.ref.lstrip('-')}: nothing between, relays at rest, fuses out")


def _met(circuit: Circuit, start: str) -> _Met:
    """Return what lies between a terminal and the ground of the adapter, with relays at rest and fuses out."""
    met = _Met()
    todo, seen = [start], {start}
    while todo:
        here = todo.pop()
        for element in circuit.elements:
            if here not in (element.a, element.b) or not _is_harness(element):
                continue
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
    return met


def _is_harness(element: Element) -> bool:
    if isinstance(element, Conductor):
        return element.stretch in HARNESS
    return element.zone == "adapter" and isinstance(
        element, Coil | Converter | Diode | Battery | RelayContact | Resistor
    )


def _is_electronic(element: Element) -> bool:
    return isinstance(element, RelayContact) and element.device != "relay"


def _closed_at_rest(element: RelayContact) -> bool:
    return is_closed(element.network, ()) if element.network else element.gate.is_open_to(frozenset())
