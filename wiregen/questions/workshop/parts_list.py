"""The parts list: what to buy, by property and quantity; makers are the buyer's choice."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from wiregen.catalogue.connector import Connector, colour_word
from wiregen.catalogue.fuses import STYLES, find_fuse
from wiregen.catalogue.sources import OutsideTable
from wiregen.circuit.build import Built
from wiregen.harness.cut_list import terminal_words
from wiregen.harness.cuts import BLADE, CONTACT, FERRULE, FINISHES, HOLDER, RING, SPLICE
from wiregen.harness.doubts import pinouts
from wiregen.model.circuit import Battery, Coil, Conductor, Converter, Diode, Equaliser, Fuse, RelayContact, Resistor
from wiregen.model.contacts import Pole
from wiregen.model.harness import PRACTICE, CutRow, Node, PartRow
from wiregen.quantity import parse_size, show
from wiregen.rig.loaded import LoadedRig
from wiregen.rig.records import Channel

_NOT_STATED: Final = "rating not stated in the rig file: choose by the findings"
_REST_SIDE: Final = f"87a carries the load too, and is often rated for less than 87 ({PRACTICE})"


def parts_list(loaded: LoadedRig, built: Built, cuts: Sequence[CutRow], joints: Sequence[Node]) -> tuple[PartRow, ...]:
    """Return the parts list, group by group.

    Args:
        loaded: The rig.
        built: Its circuits.
        cuts: The cut list.
        joints: Splices, bars and joints.
    """
    return (
        *_connectors(loaded, cuts),
        *_merged(_devices(loaded, built)),
        *_fuses(built),
        *_conductors(cuts),
        *_sundries(cuts, joints),
    )


# --- connectors ---


def _connectors(loaded: LoadedRig, cuts: Sequence[CutRow]) -> Iterator[PartRow]:
    for number, (name, pinout) in enumerate(pinouts(loaded)):
        marks = dict.fromkeys(
            end.partition(":")[2] for row in cuts for end in (row.start, row.end) if end.startswith(f"{name}:")
        )
        half = "plug to fit the vehicle's socket" if number == 0 else "socket to fit the trailer's plug"
        straight = number > 0 and loaded.rig.adapter.straight
        yield PartRow(
            group="Connectors",
            what=f"{half}: {_connector_words(pinout)}",
            quantity=len(loaded.plugs) if number == 0 and loaded.rig.adapter.straight else 1,
            unit="",
            refs=(name,),
            note=f"{len(marks)} contacts fitted: {', '.join(marks)}" + ("; one lead a trailer" if straight else ""),
        )


def _connector_words(pinout: Connector) -> str:
    standard = f"; {pinout.standard}" if pinout.standard and pinout.standard not in pinout.short else ""
    return f"{pinout.short}, {len(pinout.contact)} contacts{standard}"


# --- conversion ---


def _devices(loaded: LoadedRig, built: Built) -> Iterator[PartRow]:
    channels = {channel.name: loaded.rig.adapter.channel[channel.index] for channel in built.channels}
    contacts = _carried(built)
    # A coil hears a circuit of the vehicle, so it is made for the vehicle's voltage.
    system = loaded.rig.vehicle.battery.nominal
    poles: dict[str, tuple[Pole, ...]] = {}
    for element in built.circuits[0].elements:
        if isinstance(element, RelayContact | Converter) and element.gate:
            gate = element.gate
            poles |= {ref: tuple(p for p in gate.wired if gate.coils[p.circuit] == ref) for ref in gate.poles}
    for element in built.circuits[0].elements:
        ref = terminal_words(element.ref)
        match element:
            case Converter():
                yield _part(_converter_words(element), ref)
            case Coil() if element.is_copper:
                contact = contacts.get(element.ref)
                yield _relay(element, contact, channels.get(element.channel), poles.get(element.ref, ()), ref, system)
            case RelayContact() if element.device != "relay":
                yield _solid_state(element, terminal_words(element.ref.split(":")[0]), system)
            case Diode() if element.zone == "adapter":
                rating = f", at least {show(element.rating_a, 'A')}" if element.rating_a else ""
                yield _part(f"blocking diode{rating}", ref, "" if rating else _NOT_STATED)
            case Resistor():
                power = f", at least {show(element.power_w, 'W')}" if element.power_w else ""
                yield _part(
                    f"resistor {show(element.resistance_ohm, 'ohm')}{power}", ref, "" if power else "power not stated"
                )
            case Battery() if element.zone == "adapter":
                yield _part(f"battery {show(element.nominal_v or element.voltage_v, 'V')}", ref)


def _carried(built: Built) -> dict[str, RelayContact]:
    """Return the contact that bears the rating, by the coil of every relay whose contacts carry its current.

    In a network the lamps' current flows through all of them, not only through the relay that bears the name.
    """
    found: dict[str, RelayContact] = {}
    for element in built.circuits[0].of(RelayContact):
        refs = element.gate.poles if element.gate and element.device == "relay" else {}
        found |= dict.fromkeys((element.ref.split(":")[0], *refs), element)
    return found


def _part(what: str, ref: str, note: str = "") -> PartRow:
    return PartRow(group="Conversion", what=what, quantity=1, unit="", refs=(ref,), note=note)


def _converter_words(element: Converter) -> str:
    if isinstance(element, Equaliser):
        return f"battery equaliser, at least {show(element.continuous_a or element.limit_a, 'A')}"
    rating = f", at least {show(element.continuous_a, 'A')} for long" if element.continuous_a else ", rating not stated"
    if element.gate is not None:
        return f"electric-brake controller for 12 V magnets{rating}"
    return f"step-down converter, common minus, to {show(element.output_v, 'V')}{rating}"


def _relay(
    element: Coil, contact: RelayContact | None, channel: Channel | None, poles: Sequence[Pole], ref: str, system: str
) -> PartRow:
    load, notes = ", signal contact", []
    rating_a = contact.rating_a if contact else None
    if rating_a is not None:
        kind = f" {channel.rated_for} load" if channel and channel.rated_for else ""
        load = f", contact at least {show(rating_a, 'A')}{kind}"
        notes = [] if kind else ["rating taken as resistive: cold filaments count ten times"]
    elif contact is not None:
        load, notes = "", [_NOT_STATED]
    form = ", change-over" if any(pole.rest for pole in poles) else ""
    if form and contact is not None:
        notes.append(_REST_SIDE)
    several = f", {len(poles)} poles" if len(poles) > 1 else ""
    across = {"diode": ", with diode", "resistor": ", with resistor"}.get(element.suppression, "")
    what = f"relay, coil {system}{form}{load}{several}{across}; with its socket"
    return _part(what, ref, "; ".join(notes))


def _solid_state(element: RelayContact, ref: str, system: str) -> PartRow:
    rating = f", output at least {show(element.rating_a, 'A')}" if element.rating_a else ""
    return _part(f"solid-state switch, {system} control input{rating}", ref, "" if rating else _NOT_STATED)


def _merged(rows: Iterator[PartRow]) -> list[PartRow]:
    """Return the rows with equal parts on one line, in the order of the first of each."""
    found: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        found.setdefault((row.what, row.note), []).extend(row.refs)
    return [
        PartRow(group="Conversion", what=what, quantity=len(refs), unit="", refs=tuple(refs), note=note)
        for (what, note), refs in found.items()
    ]


# --- fuses ---


def fitted_fuses(built: Built) -> list[Fuse]:
    """Return the fuses that the builder fits: those in the adapter and those of the taps."""
    found: dict[str, Fuse] = {}
    for circuit in built.circuits:
        tapped = {wire.a for wire in circuit.of(Conductor) if wire.stretch == "battery-adapter"}
        for fuse in circuit.of(Fuse):
            if fuse.zone == "adapter" or fuse.b in tapped:
                found[fuse.ref] = fuse
    return list(found.values())


def fuse_colour(rating_a: float) -> str:
    """Return the style and colour of a fuse of this rating; an empty text where none is made."""
    for style in STYLES:
        try:
            return f"{style} (ISO 8820-3), {find_fuse(rating_a, style).colour}"
        except OutsideTable:
            continue
    return ""


def _fuses(built: Built) -> Iterator[PartRow]:
    by_rating: dict[float, list[str]] = {}
    for fuse in fitted_fuses(built):
        by_rating.setdefault(fuse.rating_a, []).append(terminal_words(fuse.ref))
    for equaliser in built.circuits[0].of(Equaliser):
        if equaliser.fuse_a is not None:
            names = [f"{terminal_words(equaliser.ref)} {lead}" for lead in ("plus", "centre")]
            by_rating.setdefault(equaliser.fuse_a, []).extend(names)
    for rating_a, refs in sorted(by_rating.items()):
        colour = fuse_colour(rating_a)
        yield PartRow(
            group="Fuses",
            what=f"fuse {show(rating_a, 'A')}" + (f", {colour}" if colour else ""),
            quantity=len(refs),
            unit="",
            refs=tuple(refs),
            note="and as many spares" if colour else "no blade fuse of this rating in the table: another kind",
        )
    if by_rating:
        refs = [ref for group in by_rating.values() for ref in group]
        yield PartRow(
            group="Fuses",
            what="fuse holder to suit, with cover",
            quantity=len(refs),
            unit="",
            refs=tuple(refs),
            note="that of a tap at the place it is tapped",
        )


# --- conductors and sundries ---


def _conductors(cuts: Sequence[CutRow]) -> Iterator[PartRow]:
    lengths: dict[tuple[str, str], list[CutRow]] = {}
    for row in cuts:
        lengths.setdefault((row.size, row.colour), []).append(row)
    for (size, colour), rows in sorted(lengths.items(), key=lambda p: (-parse_size(p[0][0]).area_mm2, p[0])):
        yield PartRow(
            group="Conductors",
            what=f"{size}, {f'{colour} {colour_word(colour)}' if colour else 'colour left open'}",
            quantity=round(math.fsum(row.cut_m for row in rows), 2),
            unit="m",
            refs=tuple(row.ref for row in rows),
            note="sum of the cut lengths",
        )


def _sundries(cuts: Sequence[CutRow], joints: Sequence[Node]) -> Iterator[PartRow]:
    ends = Counter[tuple[str, str]]()
    for row in cuts:
        for finish in (row.start_finish, row.end_finish):
            ends[finish.split(" SP")[0], row.size] += 1
    for finish in (CONTACT, RING, FERRULE, BLADE, HOLDER):
        note = f"{FINISHES[finish]} ({PRACTICE})"
        for (kind, size), count in sorted(ends.items(), key=lambda pair: -parse_size(pair[0][1]).area_mm2):
            if kind == finish:
                yield PartRow(
                    group="Terminals and sundries",
                    what=f"{finish} for {size}" if finish != HOLDER else f"fuse-holder connection for {size}",
                    quantity=count,
                    unit="",
                    refs=(),
                    note=note,
                )
                note = ""
    splices = [node for node in joints if node.kind == "splice"]
    if splices:
        yield PartRow(
            group="Terminals and sundries",
            what="splice with adhesive-lined shrink tube",
            quantity=len(splices),
            unit="",
            refs=tuple(node.name for node in splices),
            note=f"{FINISHES[SPLICE]} ({PRACTICE})",
        )
    for node in joints:
        if node.kind == "bar":
            yield PartRow(
                group="Terminals and sundries",
                what=f"{node.at}, at least {len(node.joins)} places",
                quantity=1,
                unit="",
                refs=(node.name,),
            )
    yield PartRow(
        group="Terminals and sundries",
        what="heat-shrink label, one at each end of each conductor",
        quantity=2 * len(cuts),
        unit="",
        refs=(),
        note="see the wire labels",
    )
