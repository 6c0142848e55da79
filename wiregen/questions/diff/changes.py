"""Compare two revisions of a rig: contacts, conductors, fuses, channels, supplies, lamps and findings.

Designations are numbers in building order, so that one more channel renumbers all behind it. Things are therefore the
same when they do the same between the same places: a contact by its mark, a conductor by its two ends, a fuse, a lamp
or a channel by the circuit it serves; only what is left over after that is matched by its order.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, fields
from typing import Any, Final, TypeVar

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.model.chart import Chart, PinRow
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
)
from wiregen.model.finding import Finding
from wiregen.model.report import Report
from wiregen.quantity import ConductorSize, parse, show
from wiregen.questions.diff.record import SUBJECTS, Detail, Difference, Differences, Kind, Revision, Subject

T = TypeVar("T")

#: Fields that say where an element is or how it is called, and those that follow from others.
_NOT_COMPARED: Final = frozenset(
    {
        "ref",
        "a",
        "b",
        "common",
        "circuit",
        "zone",
        "origin",
        "channel",
        "gate",
        "live",
        "title",
        "function",
        "source",
        "support",
        "connector",
        "mark",
        "rating_source",
        "type_name",
    }
)
_OF_A_CONDUCTOR: Final = ("size", "length_m", "colour", "insulation_c", "ambient_c", "bundle")
#: What is worth telling of something that came or went.
_TOLD_OF_NEW: Final = ("size", "length_m", "colour", "rating_a", "voltage_v", "output_v", "continuous_a", "count")
_UNITS: Final = {"v": "V", "a": "A", "ohm": "ohm", "m": "m", "c": "°C", "w": "W", "ah": "Ah", "k": "per K"}
#: Words for fields whose name alone does not say it.
_WORDS: Final = {
    "rated_a": "current of one lamp",
    "rated_v": "at",
    "peak_a": "highest current of one lamp",
    "limit_a": "current limit",
    "continuous_a": "continuous output",
    "insulation_c": "insulation",
    "ambient_c": "ambient",
    "derate_per_k": "derating",
    "make_a": "may close on",
    "is_copper": "copper coil",
    "cut_off_v": "dark below",
    "min_v": "made for, from",
    "count": "number",
}
_METRES_PER_FOOT: Final = parse("1 ft", "length")
_NUMBER: Final = re.compile(r"\d+(\.\d+)?")
_NUMBERED: Final = re.compile(r"(?<=[A-Z])\d+(?=$|:)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One of the two revisions."""

    chart: Chart
    circuits: tuple[Circuit, ...]
    report: Report


def compare(old: Side, new: Side) -> Differences:
    """Return what changed from one revision to the next."""
    found = [
        *_connectors(old.chart, new.chart),
        *_contacts(old.chart, new.chart),
        *_elements(old.circuits, new.circuits),
        *_findings(old.report.findings, new.report.findings),
    ]
    found.sort(key=lambda change: SUBJECTS.index(change.subject))
    return Differences(old=_revision(old), new=_revision(new), changes=tuple(found))


def _revision(side: Side) -> Revision:
    sheet = side.chart.sheet
    return Revision(
        title=sheet.title,
        revision=sheet.revision,
        date=sheet.date,
        digest=sheet.digest,
        verdict=side.report.verdict,
    )


def _connectors(old: Chart, new: Chart) -> Iterator[Difference]:
    before, after = ({row[0]: row[1] for row in chart.connectors} for chart in (old, new))
    for name in dict.fromkeys((*before, *after)):
        if before.get(name) != after.get(name):
            detail = Detail("wiring", before.get(name, ""), after.get(name, ""))
            kind = _kind(before.get(name), after.get(name))
            yield Difference(subject="connector", kind=kind, name=name, words="connector", details=(detail,))


_PIN_FIELDS: Final = {
    "circuit": "carries",
    "vehicle_contact": "vehicle contact",
    "vehicle_circuit": "vehicle has",
    "device": "through",
    "logic": "live when",
    "rating": "fuse",
    "colour": "colour",
    "support": "support",
    "tag": "vehicle tag",
}


def _contacts(old: Chart, new: Chart) -> Iterator[Difference]:
    def ends(row: PinRow) -> Hashable:
        return (row.trailer, row.trailer_contact) if row.trailer_contact else ("", row.vehicle_contact)

    def starts(row: PinRow) -> Hashable:
        return row.trailer, row.vehicle_contact, row.circuit

    for before, after in _pairs(old.pins, new.pins, (ends, starts)):
        row = after or before
        if row is None:
            continue
        details = tuple(_differences(_pin(before), _pin(after), _PIN_FIELDS))
        if details:
            yield Difference(
                subject="contact",
                kind=_kind(before, after),
                name=pin_name(row),
                words=row.circuit or row.vehicle_circuit,
                trailer=row.trailer,
                details=details,
            )


def _pin(row: PinRow | None) -> dict[str, str]:
    """Return the fields of a row that are compared; the numbers of relays and fuses are left out."""
    if row is None:
        return {}
    values = {name: getattr(row, name) for name in _PIN_FIELDS if hasattr(row, name)}
    device = row.channel.partition("(")[2].rstrip(")") if "(" in row.channel else row.channel
    rating = row.fuse.partition(" ")[2] if row.fuse.startswith("F") else row.fuse
    return {**values, "device": device, "rating": rating}


#: Classes of elements by the subject they are told under.
_SUBJECT: Final[dict[type[Element], Subject]] = {
    Conductor: "conductor",
    Fuse: "fuse",
    Coil: "channel",
    RelayContact: "channel",
    Diode: "channel",
    Resistor: "channel",
    Converter: "supply",
    Lamp: "lamp",
    Load: "lamp",
    Battery: "vehicle",
    Switch: "vehicle",
    Contact: "contact",
    Path: "vehicle",
}


def _elements(old: Sequence[Circuit], new: Sequence[Circuit]) -> Iterator[Difference]:
    by_ends, by_use = _place, _use
    for before, after in _pairs(list(_all(old)), list(_all(new)), (by_ends, by_use)):
        some = after or before
        if some is None:
            continue
        trailer, element = some
        subject = _subject(element)
        if subject is None:
            continue
        names = {name: _field_words(name) for name in _fields(element)}
        kind = _kind(before, after)
        if kind != "changed":
            names = {name: words for name, words in names.items() if name in _TOLD_OF_NEW}
        details = tuple(_differences(_values(before), _values(after), names))
        # A contact that came or went is told with the circuit it carries.
        if details or (kind != "changed" and not isinstance(element, Contact)):
            yield Difference(
                subject=subject,
                kind=kind,
                name=element.ref,
                words=element.title or _circuit_words(element),
                trailer=trailer,
                details=details,
            )


def _all(circuits: Sequence[Circuit]) -> Iterator[tuple[str, Element]]:
    """Yield every element once; what stands in every circuit alike belongs to no trailer."""
    seen: set[str] = set()
    for circuit in circuits:
        for element in circuit.elements:
            own = element.zone == "trailer" or (isinstance(element, Conductor) and element.stretch == "adapter-trailer")
            if element.ref not in seen:
                seen.add(element.ref)
                yield (circuit.trailer if own else ""), element


def _subject(element: Element) -> Subject | None:
    return next((word for kind, word in _SUBJECT.items() if isinstance(element, kind)), None)


def _place(entry: tuple[str, Element]) -> Hashable:
    trailer, element = entry
    return type(element), trailer, element.circuit, element.a, element.b


def _use(entry: tuple[str, Element]) -> Hashable:
    """Return what an element is for, without any number that another channel or lamp may shift."""
    trailer, element = entry
    kind = _subject(element), trailer, element.circuit, element.zone
    if isinstance(element, Conductor):
        return (*kind, element.stretch, _NUMBERED.sub("", element.a), _NUMBERED.sub("", element.b))
    return (*kind, getattr(element, "function", ""), getattr(element, "side", ""))


def _fields(element: Element) -> tuple[str, ...]:
    if isinstance(element, Conductor):
        return _OF_A_CONDUCTOR
    if isinstance(element, Fuse):
        return ("rating_a",)
    return ("title", *(field.name for field in fields(element) if field.name not in _NOT_COMPARED))


def _values(entry: tuple[str, Element] | None) -> dict[str, str]:
    if entry is None:
        return {}
    element = entry[1]
    return {name: _shown(name, getattr(element, name)) for name in _fields(element)}


def _shown(name: str, value: Any) -> str:  # noqa: ANN401 - any field of an element
    if name == "title" and isinstance(value, str):
        # "K1 hears tail" is still the same relay when it has become K2.
        return _NUMBERED.sub("", re.sub(r"^([A-Z])\d+ ", r"\1 ", value))
    if value is None or value in ("", ()) or value == math.inf:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, ConductorSize):
        return value.label
    if isinstance(value, int | float):
        unit = _UNITS.get(name.rpartition("_")[2], "")
        if unit == "m":
            return f"{show(float(value), 'm')} / {show(float(value) / _METRES_PER_FOOT, 'ft')}"
        return show(float(value), unit) if unit and unit != "per K" else f"{value:g}{' ' if unit else ''}{unit}"
    return str(value)


def _field_words(name: str) -> str:
    if name in _WORDS:
        return _WORDS[name]
    stem, _, unit = name.rpartition("_")
    return (stem if stem and unit in _UNITS else name).replace("_", " ")


def _circuit_words(element: Element) -> str:
    return CIRCUITS[element.circuit].word if element.circuit in CIRCUITS else element.circuit


def _findings(old: Iterable[Finding], new: Iterable[Finding]) -> Iterator[Difference]:
    def exactly(finding: Finding) -> Hashable:
        return finding.rule, finding.where, finding.trailer

    def roughly(finding: Finding) -> Hashable:
        return finding.rule, _NUMBERED.sub("", finding.where), finding.trailer

    def by_rule(finding: Finding) -> Hashable:
        return finding.rule, finding.trailer

    for before, after in _pairs(list(old), list(new), (exactly, roughly, by_rule)):
        some = after or before
        if some is None:
            continue
        names = {"severity": "severity", "value": "value", "message": "message"}
        by_value = before is None or after is None or _form(before) == _form(after)
        was, is_now = (_finding(one, by_value=by_value) for one in (before, after))
        details = tuple(_differences(was, is_now, names))
        if details:
            yield Difference(
                subject="finding",
                kind=_kind(before, after),
                name=some.rule,
                words=some.where,
                trailer=some.trailer,
                details=details if before and after else (Detail("message", *_messages(before, after)),),
                severity=some.severity,
            )


def _messages(before: Finding | None, after: Finding | None) -> tuple[str, str]:
    return before.message if before else "", after.message if after else ""


def _form(finding: Finding) -> tuple[str, str]:
    """Return unit and words of a finding without its numbers: one rule may measure a loss here and a voltage there."""
    return finding.unit, _NUMBER.sub("#", finding.message)


def _finding(finding: Finding | None, *, by_value: bool) -> dict[str, str]:
    """Return what is compared of a finding: its value where both sides mean the same by it, else its message."""
    if finding is None:
        return {}
    value = "" if finding.value is None else f"{show(finding.value, finding.unit) if finding.unit else finding.value}"
    told = {"value": value} if by_value and value else {"message": finding.message}
    return {"severity": finding.severity, **told}


def _kind(before: object, after: object) -> Kind:
    return "changed" if before and after else "added" if after else "removed"


def _differences(before: dict[str, str], after: dict[str, str], names: dict[str, str]) -> Iterator[Detail]:
    for name, words in names.items():
        was, is_now = before.get(name, ""), after.get(name, "")
        if was != is_now:
            yield Detail(words, was, is_now)


def _pairs(
    old: Sequence[T], new: Sequence[T], keys: Sequence[Callable[[T], Hashable]]
) -> list[tuple[T | None, T | None]]:
    """Pair what is the same in both: by the first key, then what is left by the next; equal keys in their order.

    Returns:
        The pairs in the order of ``new``, then what is only in ``old``.
    """
    partner: dict[int, int] = {}
    taken: set[int] = set()
    for key in keys:
        waiting: dict[Hashable, list[int]] = {}
        for row, thing in enumerate(old):
            if row not in taken:
                waiting.setdefault(key(thing), []).append(row)
        for row, thing in enumerate(new):
            rows = waiting.get(key(thing))
            if row not in partner and rows:
                partner[row] = rows.pop(0)
                taken.add(partner[row])
    pairs: list[tuple[T | None, T | None]] = [
        (old[partner[row]] if row in partner else None, thing) for row, thing in enumerate(new)
    ]
    return pairs + [(thing, None) for row, thing in enumerate(old) if row not in taken]


def pin_name(row: PinRow) -> str:
    """Return what a contact is called: where it starts on the vehicle and where it ends on the trailer."""
    return " → ".join(part for part in (row.start, row.trailer_contact) if part and part != "–")
