"""The wiring chart as sheets for the folder: pin to pin, conductors, what to measure, cautions."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Final, TypeVar

from wiregen.catalogue.connector import SUPPORT_MARKS, SUPPORT_WORDS
from wiregen.draw.scene import Scene
from wiregen.draw.sheet import Paper, Sheet
from wiregen.draw.table import Cell, Column, Flow, Row, RowGroup
from wiregen.model.chart import Chart, ConductorRow, MeasureRow, PinRow

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
    Column("Length, m"),
    Column("Fuse", whole=True),
    Column("Channel"),
    Column("Trailer", 1.0),
    Column("Support"),
    Column("Cut / fitted", 0.5),
)
_MEASURE_COLUMNS: Final = (
    Column("Contact"),
    Column("Against"),
    Column("Controls", 1.0),
    Column("Meter shows", 1.1),
    Column("Because it is", 1.3),
    Column("Reading", 0.6),
)

_Record = TypeVar("_Record", PinRow, ConductorRow, MeasureRow)


def chart_sheets(chart: Chart, paper: Paper = "a4") -> list[Scene]:
    """Return the chart as landscape sheets with frame and title block.

    Args:
        chart: What to lay out.
        paper: ``a4`` or ``letter``.

    Returns:
        As many sheets as it takes; table headings stand again on every further sheet. Notices, measure table and
        cautions come last and start on a sheet of their own.
    """
    sheet = Sheet(paper, landscape=True)
    flow = Flow(sheet.area)
    flow.heading("Pin to pin")
    flow.paragraph(_connectors(chart))
    _table(flow, _PIN_COLUMNS, _grouped(chart.pins, lambda row: row.group, _pin))
    flow.paragraph(support_legend())
    flow.heading("Conductors to cut", keep_mm=45.0)
    _table(flow, _CONDUCTOR_COLUMNS, _grouped(chart.conductors, lambda row: row.group, _conductor))
    flow.new_page()
    if chart.notices:
        flow.heading("Notices")
        for notice in chart.notices:
            flow.paragraph(f"– {notice}")
    flow.heading("Measure before connecting", keep_mm=60.0)
    flow.paragraph(
        "Measure every contact below on the real vehicle before a trailer is plugged in. Find a contact by the mark "
        "moulded beside it, never by its position. Write the reading down."
    )
    _table(flow, _MEASURE_COLUMNS, _grouped(chart.measures, lambda row: row.connector, _measure))
    if chart.cautions:
        flow.heading("Cautions")
        flow.boxed(chart.cautions)
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
    return f"Support marks: {marks}. Two marks, 2/1: vehicle contact / trailer contact. ! = not verified."


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
    fuse = f"fuse {row.fuse}".replace(" ", _NO_BREAK) if row.fuse else ""
    remarks = [f"Live when: {row.logic}."] if row.logic else []
    remarks += ["! NOT VERIFIED."] if row.unverified else []
    remarks += [row.note] if row.note else []
    cells = (
        Cell(row.start, "bold" if row.vehicle_contact else "normal"),
        Cell(row.vehicle_circuit),
        Cell(", ".join(part for part in (channel, fuse) if part) or "not connected"),
        Cell(row.trailer_contact, "bold"),
        Cell(row.circuit if connected else ""),
        Cell(row.trailer),
        _colour(row.colour, row.colour_word) if connected else Cell(""),
        Cell(f"{row.support} !" if row.unverified else row.support, "bold" if row.unverified else "normal"),
        Cell(" ".join(remarks)),
    )
    return Row(cells, marked=row.unverified)


def _conductor(row: ConductorRow) -> Row:
    doubtful = any(SUPPORT_MARKS[key] in row.support for key in ("memory", "disagree"))
    return Row(
        (
            Cell(row.ref, "bold"),
            Cell(row.start, "bold"),
            Cell(row.end, "bold"),
            Cell(row.circuit),
            _colour(row.colour, row.colour_word),
            Cell(row.size),
            Cell(f"{row.length_m:.2f}"),
            Cell(row.fuse),
            Cell(row.channel),
            Cell(row.trailer or "all"),
            Cell(f"{row.support} !" if doubtful else row.support, "bold" if doubtful else "normal"),
            Cell(""),
        ),
        marked=doubtful,
    )


def _measure(row: MeasureRow) -> Row:
    return Row(
        (
            Cell(row.contact, "bold"),
            Cell(row.against, "bold"),
            Cell(row.switch),
            Cell(row.expected, "bold"),
            Cell(row.why),
            Cell(""),
        )
    )


def _colour(code: str, word: str) -> Cell:
    return Cell(" ".join(part for part in (code, word) if part) or "free", swatch=code)
