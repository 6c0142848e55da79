"""The parts list: what to buy, by property and quantity; makers are the buyer's choice."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from wiregen.catalogue.connector import Connector, colour_word
from wiregen.catalogue.devices import KINDS
from wiregen.catalogue.fuses import STYLES, find_fuse
from wiregen.catalogue.sources import OutsideTable
from wiregen.circuit.build import Built
from wiregen.harness.cuts import cut_length_m
from wiregen.harness.record import FINISHES, HOLDER, MEANING, SPLICE, Harness, Wire
from wiregen.model.circuit import Battery, Coil, Converter, Diode, Equaliser, Fuse, RelayContact, Resistor
from wiregen.model.contacts import Pole
from wiregen.model.harness import PRACTICE, Node, PartRow
from wiregen.quantity import parse_size, show
from wiregen.rig.loaded import LoadedRig

_NOT_STATED: Final = "rating not stated in the rig file: choose by the findings"
_REST_SIDE: Final = f"87a carries the load too, and is often rated for less than 87 ({PRACTICE})"


def parts_list(loaded: LoadedRig, built: Built, harness: Harness, joints: Sequence[Node]) -> tuple[PartRow, ...]:
    """Return the parts list, group by group.

    Args:
        loaded: The rig.
        built: Its circuits.
        harness: What is built.
        joints: Splices, bars and joints.
    """
    return (
        *_connectors(harness),
        *_merged(_devices(loaded, built, harness)),
        *_fuses(harness),
        *_conductors(harness),
        *_sundries(harness, joints),
    )


# --- connectors ---


def _connectors(harness: Harness) -> Iterator[PartRow]:
    for half in harness.halves:
        marks = [cavity.entry.mark for cavity in half.cavities if cavity.wires]
        kind = "socket to fit the trailer's plug" if half.trailer else "plug to fit the vehicle's socket"
        straight = harness.straight and half.trailer
        yield PartRow(
            group="Connectors",
            what=f"{kind}: {_connector_words(half.pinout)}",
            quantity=1 if half.trailer or not harness.straight else len(harness.halves) - 1,
            unit="",
            refs=(half.id,),
            note=f"{len(marks)} contacts fitted: {', '.join(marks)}" + ("; one lead a trailer" if straight else ""),
        )


def _connector_words(pinout: Connector) -> str:
    standard = f"; {pinout.standard}" if pinout.standard and pinout.standard not in pinout.short else ""
    return f"{pinout.short}, {len(pinout.contact)} contacts{standard}"


# --- conversion ---


def _devices(loaded: LoadedRig, built: Built, harness: Harness) -> Iterator[PartRow]:
    elements = [(part.id, element) for part in harness.parts for element in part.elements]
    gated = [one for _, one in elements if isinstance(one, RelayContact | Converter) and one.gate]
    contacts = _carried(gated)
    # A coil hears a circuit of the vehicle, so it is made for the vehicle's voltage.
    system = loaded.rig.vehicle.battery.nominal
    poles: dict[str, tuple[Pole, ...]] = {}
    for gate in (one.gate for one in gated if one.gate):
        poles |= {ref: tuple(p for p in gate.wired if gate.coils[p.circuit] == ref) for ref in gate.poles}
    for ref, element in elements:
        match element:
            case Converter():
                yield _part(_converter_words(element), ref)
            case Coil() if element.is_copper:
                contact = contacts.get(element.ref)
                yield _relay(element, contact, poles.get(element.ref, ()), ref, system)
            case RelayContact() if not element.is_relay:
                yield _solid_state(element, ref, system)
            case Diode():
                rating = f", at least {show(element.rating_a, 'A')}" if element.rating_a else ""
                yield _part(f"blocking diode{rating}", ref, "" if rating else _NOT_STATED)
            case Resistor():
                power = f", at least {show(element.power_w, 'W')}" if element.power_w else ""
                yield _part(
                    f"resistor {show(element.resistance_ohm, 'ohm')}{power}", ref, "" if power else "power not stated"
                )
            case Battery():
                yield _part(f"battery {show(element.nominal_v or element.voltage_v, 'V')}", ref)


def _carried(gated: Iterable[RelayContact | Converter]) -> dict[str, RelayContact]:
    """Return the contact that bears the rating, by the coil of every relay whose contacts carry its current.

    In a network the lamps' current flows through all of them, not only through the relay that bears the name.
    """
    found: dict[str, RelayContact] = {}
    for element in gated:
        if isinstance(element, RelayContact):
            refs = element.gate.poles if element.is_relay else {}
            found |= dict.fromkeys((element.ref.split(":")[0], *refs), element)
    return found


def _part(what: str, ref: str, note: str = "") -> PartRow:
    return PartRow(group="Conversion", what=what, quantity=1, unit="", refs=(ref,), note=note)


def _converter_words(element: Converter) -> str:
    words = KINDS[element.device].part.format(output=show(element.output_v, "V"))
    if isinstance(element, Equaliser):
        return f"{words}, at least {show(element.continuous_a or element.limit_a, 'A')}"
    rating = f"at least {show(element.continuous_a, 'A')} for long" if element.continuous_a else "rating not stated"
    return f"{words}, {rating}"


def _relay(element: Coil, contact: RelayContact | None, poles: Sequence[Pole], ref: str, system: str) -> PartRow:
    load, notes = ", signal contact", []
    rating_a = contact.rating_a if contact else None
    if rating_a is not None:
        kind = f" {contact.rated_for} load" if contact and contact.rated_for else ""
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


def fitted_fuses(harness: Harness) -> list[Fuse]:
    """Return the fuses that the builder fits: those in the adapter and those of the taps."""
    return [element for part in harness.parts for element in part.elements if isinstance(element, Fuse)]


def fuse_colour(rating_a: float) -> str:
    """Return the style and colour of a fuse of this rating; an empty text where none is made."""
    for style in STYLES:
        try:
            return f"{style} (ISO 8820-3), {find_fuse(rating_a, style).colour}"
        except OutsideTable:
            continue
    return ""


def _fuses(harness: Harness) -> Iterator[PartRow]:
    by_rating: dict[float, list[str]] = {}
    for part in harness.parts:
        for element in part.elements:
            if isinstance(element, Fuse):
                by_rating.setdefault(element.rating_a, []).append(part.id)
            elif isinstance(element, Equaliser) and element.fuse_a is not None:
                by_rating.setdefault(element.fuse_a, []).extend(f"{part.id} {lead}" for lead in ("plus", "centre"))
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


def _conductors(harness: Harness) -> Iterator[PartRow]:
    lengths: dict[tuple[str, str], list[Wire]] = {}
    for wire in harness.made:
        lengths.setdefault((wire.size.label if wire.size else "", wire.colour), []).append(wire)
    for (size, colour), wires in sorted(lengths.items(), key=lambda p: (-_area_mm2(p[0][0]), p[0])):
        yield PartRow(
            group="Conductors",
            what=f"{size}, {f'{colour} {colour_word(colour)}' if colour else 'colour left open'}",
            quantity=round(math.fsum(cut_length_m(wire.length_m) for wire in wires), 2),
            unit="m",
            refs=tuple(wire.id for wire in wires),
            note="sum of the cut lengths",
        )


def _area_mm2(size: str) -> float:
    return parse_size(size).area_mm2 if size else 0.0


def _sundries(harness: Harness, joints: Sequence[Node]) -> Iterator[PartRow]:
    ends = Counter((point.kind, wire.size.label if wire.size else "") for wire in harness.made for point in wire.points)
    counts = Counter[tuple[str, str]]()
    for (kind, size), count in ends.items():
        counts[FINISHES[kind], size] += count
    for finish, words in MEANING.items():
        note = f"{words} ({PRACTICE})"
        for (name, size), count in sorted(counts.items(), key=lambda pair: -_area_mm2(pair[0][1])):
            if name == finish != SPLICE:
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
            note=f"{MEANING[SPLICE]} ({PRACTICE})",
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
        quantity=2 * len(harness.made),
        unit="",
        refs=(),
        note="see the wire labels",
    )
