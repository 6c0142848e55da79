"""The wiring chart as CSV for spreadsheets and label printers: RFC 4180, safe against formulas."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, fields
from typing import Final, Literal

from wiregen.model.chart import Chart, ConductorRow, MeasureRow, PinRow
from wiregen.packet.safe_text import guard_csv

Table = Literal["all", "pins", "conductors", "measures"]

_COLUMNS: Final[dict[str, tuple[str, ...]]] = {
    "pins": tuple(field.name for field in fields(PinRow)),
    "conductors": tuple(field.name for field in fields(ConductorRow)),
    "measures": tuple(field.name for field in fields(MeasureRow)),
}

#: Column in which the combined file carries notices and cautions.
_WORDS_COLUMN: Final = "text"


def csv_text(chart: Chart, which: Table = "all") -> str:
    r"""Return the chart as one CSV text.

    Args:
        chart: What to lay out.
        which: ``pins``, ``conductors`` or ``measures`` for that table alone, its columns named as the fields
            of the record. ``all`` for every table in one rectangular file: the first column ``section`` says
            ``pins``, ``conductors``, ``notice``, ``measures`` or ``caution``; a column that a section has not
            is empty.

    Returns:
        Comma-separated text, ``\r\n`` line ends, quoted where RFC 4180 asks. Lengths are in metres
        (``length_m``). A cell that a spreadsheet would take for a formula starts with an apostrophe; a pair
        of support marks is written out, because ``2/1`` would become a date. To be written as UTF-8.
    """
    if which != "all":
        return _lines(_COLUMNS[which], _records(chart, which))
    columns = dict.fromkeys(name for names in _COLUMNS.values() for name in names)
    rows: list[dict[str, str]] = []
    for section in ("pins", "conductors", "notice", "measures", "caution"):
        rows += [{"section": section, **record} for record in _records(chart, section)]
    return _lines(("section", *columns, _WORDS_COLUMN), rows)


def _records(chart: Chart, section: str) -> list[dict[str, str]]:
    if section in ("notice", "caution"):
        return [{_WORDS_COLUMN: text} for text in (chart.notices if section == "notice" else chart.cautions)]
    tables: dict[str, Sequence[PinRow | ConductorRow | MeasureRow]] = {
        "pins": chart.pins,
        "conductors": chart.conductors,
        "measures": chart.measures,
    }
    return [{name: _value(name, value) for name, value in asdict(row).items()} for row in tables[section]]


def _value(name: str, value: str | bool | float) -> str:
    if name == "support" and isinstance(value, str) and "/" in value:
        # A spreadsheet turns 2/1 into a day of the year.
        vehicle, trailer = value.split("/", 1)
        return f"vehicle {vehicle}, trailer {trailer}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.3f}" if isinstance(value, float) else str(value)


def _lines(columns: Iterable[str], records: Iterable[Mapping[str, str]]) -> str:
    names = tuple(columns)
    table = [names, *(tuple(guard_csv(record.get(name, "")) for name in names) for record in records)]
    return "".join(",".join(_quote(cell) for cell in row) + "\r\n" for row in table)


def _quote(cell: str) -> str:
    if any(character in cell for character in ',"\r\n') or cell != cell.strip(" "):
        return '"' + cell.replace('"', '""') + '"'
    return cell
