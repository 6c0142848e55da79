"""The wiring chart as a paper: what hurts, pin to pin, what to cut, the relays, what to measure before connecting."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Final

from wiregen.catalogue.connector import SUPPORT_MARKS, SUPPORT_WORDS
from wiregen.chart.data import chart_data
from wiregen.model.chart import NO_FUSE, Chart, ConductorRow, MeasureRow, PinRow, RelayRow, SheetInfo
from wiregen.paper.blocks import (
    LAST_WORD,
    Block,
    Bullets,
    Cell,
    Column,
    Facts,
    Head,
    Heading,
    Paper,
    Para,
    Row,
    Table,
    grouped,
)
from wiregen.paper.words import GLUE

NAME: Final = "Wiring chart"
CAUTIONS: Final = "Cautions"
PINS: Final = "Pin to pin"
CUT_LIST: Final = "Cut list"
RELAYS: Final = "Relay wiring"
NOTES: Final = "Notes on the connectors"
MEASURE: Final = "Measure before connecting"
MEASURE_ADVICE: Final = (
    "Measure every contact below on the real vehicle before a trailer is plugged in. "
    "Find a contact by the mark moulded beside it, never by its position."
)
_NOT_VERIFIED: Final = "! NOT VERIFIED."
_SEVERAL_MARKS: Final = (
    "Two marks or more, such as 2, 1 → M: the vehicle contacts in the order of 'From', an arrow, the trailer contact. "
    "One mark where all are alike. ! = not verified."
)


def chart_paper(chart: Chart) -> Paper:
    """Return the whole chart: every contact, every wire, every relay, every note, every measurement."""
    return Paper(
        kind="chart",
        name=NAME,
        head=sheet_head(chart.sheet),
        facts=(("Vehicle", chart.vehicle),),
        blocks=(
            *([Bullets(chart.cautions, CAUTIONS, boxed=True)] if chart.cautions else []),
            Heading(PINS),
            *connectors(chart),
            pin_table(chart),
            *proof_marks(),
            Heading(CUT_LIST),
            _cut_list(chart),
            *(Para(note) for note in chart.conductor_notes),
            *relay_blocks(chart),
            *note_blocks(chart),
            Heading(MEASURE),
            Para(MEASURE_ADVICE),
            *([Bullets(chart.measure_notes)] if chart.measure_notes else []),
            measure_table(chart),
        ),
        closing=LAST_WORD,
        data=chart_data(chart),
    )


def connectors(chart: Chart) -> tuple[Block, ...]:
    """Return which connector each mark stands for."""
    pairs = tuple((name, f"{short} ({follows})" if follows else short) for name, short, follows in chart.connectors)
    return (Facts(pairs),) if pairs else ()


def sheet_head(sheet: SheetInfo) -> Head:
    """Return what stands in the title block of a rig's papers."""
    return Head(**asdict(sheet))


def pin_table(chart: Chart) -> Table:
    """Return what goes from every vehicle contact to the trailer contact."""
    columns = (
        Column("From"),
        Column("Vehicle has", 1.1),
        Column("To"),
        Column("Trailer has", 1.0),
        Column("Trailer", 0.8, spare=1),
        Column("Colour", whole=True),
        Column("Proof"),
        Column("Through", 1.2, spare=8),
        Column("Remarks", 1.7, spare=9),
    )
    return Table(
        columns,
        grouped((row.group, _pin(row)) for row in chart.pins),
        "From every vehicle contact to the trailer contact",
    )


def _pin(row: PinRow) -> Row:
    joined = bool(row.trailer_contact)
    remarks = [_NOT_VERIFIED] if row.unverified else []
    remarks += [f"Live when: {row.logic}."] if row.logic else []
    remarks += [row.note] if row.note else []
    return Row(
        (
            Cell(row.start, bold=bool(row.vehicle_contact)),
            Cell(row.vehicle_words),
            Cell(row.trailer_contact, bold=True),
            Cell(row.circuit if joined else ""),
            Cell(row.trailer),
            colour_cell(row.colour, row.colour_word) if joined else Cell(),
            proof_cell(row),
            Cell(_through(row), bold=row.fuse == NO_FUSE),
            Cell(" ".join(remarks)),
        ),
        marked=row.unverified,
    )


def _through(row: PinRow) -> str:
    """Return what lies between the two contacts, channel, fuse and wire; 'not connected' where nothing does."""
    channel = "a plain wire" if row.channel == "wire" else row.channel
    fuse = row.fuse if row.fuse in ("", NO_FUSE) else f"fuse {row.fuse}"
    parts = (channel, fuse.replace(" ", GLUE), f"wire{GLUE}{row.wire}" if row.wire else "")
    return ", ".join(part for part in parts if part) or "not connected"


def proof_marks() -> tuple[Block, ...]:
    """Return what the marks of proof mean."""
    pairs = tuple((mark, SUPPORT_WORDS[key]) for key, mark in SUPPORT_MARKS.items())
    return (Facts(pairs, "Proof"), Para(_SEVERAL_MARKS))


def proof_cell(row: PinRow | ConductorRow | MeasureRow) -> Cell:
    """Return the marks of proof of a row, an arrow between vehicle and trailer: a spreadsheet takes 2 / 1 for a day."""
    marks = row.support.replace(" /", f"{GLUE}→")
    return Cell(f"{marks} !".strip(), bold=True) if row.unverified else Cell(marks)


def colour_cell(code: str, word: str) -> Cell:
    """Return code and word of a colour with its swatch, or 'any' where the rig leaves it open."""
    return Cell(" ".join(part for part in (code, word) if part) or "any", colour=code)


def _cut_list(chart: Chart) -> Table:
    columns = (
        Column("Wire"),
        Column("From"),
        Column("To"),
        Column("Circuit", 1.2, spare=3),
        Column("Colour", whole=True),
        Column("Size", whole=True, spare=1),
        Column("m", right=True),
        Column("ft", right=True, spare=2),
        Column("Fuse", whole=True),
        Column("Channel", spare=7),
        Column("Trailer", 0.8, spare=5),
        Column("Marking", 1.1, spare=6),
        Column("Proof", spare=4),
        Column("Cut, fitted", field_mm=14),
    )
    groups = grouped((row.group, _wire(row)) for row in chart.conductors)
    return Table(columns, groups, "Every wire to cut, with its two ends")


def _wire(row: ConductorRow) -> Row:
    return Row(
        (
            Cell(row.ref, bold=True),
            Cell(row.start, bold=True),
            Cell(row.end, bold=True),
            Cell(row.circuit),
            colour_cell(row.colour, row.colour_word),
            Cell(row.size),
            Cell(f"{row.length_m:.2f}"),
            Cell(f"{row.length_ft:.2f}"),
            Cell(row.fuse.replace(" ", GLUE) or "–", bold=row.fuse == NO_FUSE),
            Cell(row.channel),
            Cell(row.trailer or "all"),
            Cell(row.marking_words),
            proof_cell(row),
            Cell(),
        ),
        marked=row.unverified,
    )


def relay_blocks(chart: Chart) -> Iterator[Block]:
    """Yield how the relays are wired; nothing without relays."""
    if chart.relays:
        yield Heading(RELAYS)
        yield from (Para(note) for note in chart.relay_notes)
        columns = (Column("Channel"), Column("Feeds", 0.6), Column("Contacts", 1.2), Column("Join", 2.4))
        yield Table(columns, grouped(("", _relay(row)) for row in chart.relays), "What to join at the relays")


def _relay(row: RelayRow) -> Row:
    # Never a line that ends with the word between the two ends of a joint.
    joints = "; ".join(joint.replace(" to ", f" to{GLUE}") for joint in row.joints)
    return Row((Cell(row.channel, bold=True), Cell(row.circuit), Cell(row.sentences), Cell(f"{joints}.")))


def note_blocks(chart: Chart) -> Iterator[Block]:
    """Yield what the pinouts want the reader to know."""
    if chart.notices:
        yield Heading(NOTES)
        yield Bullets(chart.notices)


def measure_table(chart: Chart, *, tall: bool = False) -> Table:
    """Return what a meter should read on the vehicle and the outlets before anything is coupled."""
    columns = (
        Column("Contact"),
        Column("Against"),
        Column("Controls", 1.6),
        Column("Should read", 1.2),
        Column("Because it is", 1.4, spare=1),
        Column("Proof"),
        Column("Reading", field_mm=20),
    )
    groups = grouped((row.connector, _measure(row)) for row in chart.measures)
    return Table(columns, groups, "What the meter should read before anything is plugged in", tall)


def _measure(row: MeasureRow) -> Row:
    return Row(
        (
            Cell(row.contact, bold=True),
            Cell(row.against, bold=True),
            Cell(row.switch),
            Cell(row.expected, bold=True),
            Cell(row.why),
            proof_cell(row),
            Cell(),
        ),
        marked=row.unverified,
    )
