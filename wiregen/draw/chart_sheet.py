"""The wiring chart as sheets for the folder: pin to pin, conductors, what to measure, cautions."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Final, TypeVar

from wiregen.catalogue.connector import SUPPORT_MARKS, SUPPORT_WORDS
from wiregen.draw.scene import Scene
from wiregen.draw.sheet import Paper, Sheet
from wiregen.draw.table import Cell, Column, Flow, Row, RowGroup
from wiregen.model.chart import NO_FUSE, Chart, ConductorRow, MeasureRow, PinRow, RelayRow

_NAME: Final = "Wiring chart"
_NO_BREAK: Final = "\N{NO-BREAK SPACE}"

_PIN_COLUMNS: Final = (
    Column("From"),
    Column("Vehicle has", 1.1),
    Column("Through", 1.2),
    Column("To"),
    Column("Trailer has", 1.0),
    Column("Trailer", 0.8),
    Column("Colour", whole=True),
    Column("Support"),
    Column("Remarks", 1.7),
)
_CONDUCTOR_COLUMNS: Final = (
    Column("Ref"),
    Column("From"),
    Column("To"),
    Column("Circuit", 1.2),
    Column("Colour", whole=True),
    Column("Size", whole=True),
    Column("Length", whole=True),
    Column("Fuse", whole=True),
    Column("Channel"),
    Column("Trailer", 0.8),
    Column("Marking", 1.1),
    Column("Support"),
    Column("Cut / fitted", 0.5),
)
_RELAY_COLUMNS: Final = (
    Column("Channel"),
    Column("Feeds", 0.6),
    Column("Contacts", 1.2),
    Column("Join", 2.4),
)
_MEASURE_COLUMNS: Final = (
    Column("Contact"),
    Column("Against"),
    Column("Controls", 1.6),
    Column("Meter shows", 1.2),
    Column("Because it is", 1.4),
    Column("Support"),
    Column("Reading", 0.5),
)

_Record = TypeVar("_Record", PinRow, ConductorRow, MeasureRow)


def chart_sheets(chart: Chart, paper: Paper = "a4") -> list[Scene]:
    """Return the chart as landscape sheets with frame and title block.

    Args:
        chart: What to lay out.
        paper: ``a4`` or ``letter``.

    Returns:
        As many sheets as it takes; table headings stand again on every further sheet. Cautions come first, in a box;
        notices and the measure table come last.
    """
    sheet = Sheet(paper, landscape=True)
    flow = Flow(sheet.area)
    if chart.cautions:
        flow.boxed(chart.cautions)
    flow.heading("Pin to pin")
    flow.paragraph(_connectors(chart))
    _table(flow, _PIN_COLUMNS, _grouped(chart.pins, lambda row: row.group, _pin))
    flow.paragraph(support_legend())
    flow.heading("Conductors to cut", keep_mm=45.0)
    _table(flow, _CONDUCTOR_COLUMNS, _grouped(chart.conductors, lambda row: row.group, _conductor))
    for note in chart.conductor_notes:
        flow.paragraph(note)
    if chart.relays:
        flow.heading("Relay wiring", keep_mm=30.0)
        for note in chart.relay_notes:
            flow.paragraph(note)
        flow.table(_RELAY_COLUMNS, [RowGroup("", tuple(_relay(row) for row in chart.relays))])
    if chart.notices:
        flow.heading("Notices")
        for notice in chart.notices:
            flow.paragraph(f"– {notice}")
    flow.heading("Measure before connecting", keep_mm=50.0)
    flow.paragraph(
        "Measure every contact below on the real vehicle before a trailer is plugged in. Find a contact by the mark "
        "moulded beside it, never by its position. Write the reading down."
    )
    for note in chart.measure_notes:
        flow.paragraph(f"– {note}")
    _table(flow, _MEASURE_COLUMNS, _grouped(chart.measures, lambda row: row.connector, _measure))
    pages = len(flow.pages)
    return [
        sheet.scene(
            chart.sheet,
            _NAME,
            tuple(items),
            page=number,
            pages=pages,
            ident=f"chart-{number}",
            description=f"Wiring chart of {chart.vehicle}, sheet {number} of {pages}: tables of contacts, conductors "
            "and measurements.",
        )
        for number, items in enumerate(flow.pages, start=1)
    ]


def support_legend() -> str:
    """Return what the support marks mean, in one sentence."""
    marks = "; ".join(f"{mark} = {SUPPORT_WORDS[key]}" for key, mark in SUPPORT_MARKS.items())
    return (
        f"Support marks: {marks}. Two marks or more, such as 2, 1 / ?: the vehicle contacts in the order of 'From', a "
        "slash, the trailer contact. One mark where all are alike. A mark in brackets behind a colour is that of the "
        "colour alone. ! = not verified."
    )


def _connectors(chart: Chart) -> str:
    parts = [f"{name} {short}" + (f" ({follows})" if follows else "") for name, short, follows in chart.connectors]
    return f"{chart.vehicle}. " + "; ".join(parts)


def _table(flow: Flow, columns: Sequence[Column], groups: Sequence[RowGroup]) -> None:
    if groups:
        flow.table(columns, groups)
    else:
        flow.paragraph("None.")


def _grouped(rows: Iterable[_Record], key: Callable[[_Record], str], make: Callable[[_Record], Row]) -> list[RowGroup]:
    groups: dict[str, list[Row]] = {}
    for row in rows:
        groups.setdefault(key(row), []).append(make(row))
    return [RowGroup(name, tuple(made)) for name, made in groups.items()]


def _pin(row: PinRow) -> Row:
    connected = bool(row.trailer_contact)
    channel = "a plain wire" if row.channel == "wire" else row.channel
    fuse = (row.fuse if row.fuse == NO_FUSE else f"fuse {row.fuse}").replace(" ", _NO_BREAK) if row.fuse else ""
    remarks = [f"Live when: {row.logic}."] if row.logic else []
    remarks += ["! NOT VERIFIED."] if row.unverified else []
    remarks += [row.note] if row.note else []
    cells = (
        Cell(row.start, "bold" if row.vehicle_contact else "normal"),
        Cell(row.vehicle_words),
        Cell(", ".join(part for part in (channel, fuse) if part) or "not connected"),
        Cell(row.trailer_contact, "bold"),
        Cell(row.circuit if connected else ""),
        Cell(row.trailer),
        _colour(row.colour, row.colour_word) if connected else Cell(""),
        _support(row),
        Cell(" ".join(remarks)),
    )
    return Row(cells, marked=row.unverified)


def _conductor(row: ConductorRow) -> Row:
    length = f"{row.length_m:.2f} m / {row.length_ft:.2f} ft".replace(" ft", f"{_NO_BREAK}ft")
    return Row(
        (
            Cell(row.ref, "bold"),
            Cell(row.start, "bold"),
            Cell(row.end, "bold"),
            Cell(row.circuit),
            _colour(row.colour, row.colour_word),
            Cell(row.size),
            Cell(length.replace(" /", f"{_NO_BREAK}/")),
            Cell(row.fuse or "–", "bold" if row.fuse == NO_FUSE else "normal"),
            Cell(row.channel),
            Cell(row.trailer or "all"),
            Cell(row.marking_words),
            _support(row),
            Cell(""),
        ),
        marked=row.unverified,
    )


def _relay(row: RelayRow) -> Row:
    joints = "; ".join(joint.replace(" to ", f" to{_NO_BREAK}") for joint in row.joints)
    return Row((Cell(row.channel, "bold"), Cell(row.circuit), Cell(row.sentences), Cell(f"{joints}.")))


def _support(row: PinRow | ConductorRow | MeasureRow) -> Cell:
    marks = row.support.replace(" /", f"{_NO_BREAK}/")
    return Cell(f"{marks} !", "bold") if row.unverified else Cell(marks)


def _measure(row: MeasureRow) -> Row:
    return Row(
        (
            Cell(row.contact, "bold"),
            Cell(row.against, "bold"),
            Cell(row.switch),
            Cell(row.expected, "bold"),
            Cell(row.why),
            _support(row),
            Cell(""),
        ),
        marked=row.unverified,
    )


def _colour(code: str, word: str) -> Cell:
    return Cell(" ".join(part for part in (code, word) if part) or "any", swatch=code)
