"""The wiring chart as CSV for spreadsheets and label printers: RFC 4180, safe against formulas."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, fields
from typing import Final, Literal

from wiregen.chart.text import MEASURE_ADVICE, relay_text, support_legend, support_note
from wiregen.model.chart import Chart, ConductorRow, MeasureRow, PinRow
from wiregen.paper.safe_text import guard_csv

Table = Literal["all", "pins", "conductors", "measures"]


def _names(record: type[PinRow | ConductorRow | MeasureRow]) -> tuple[str, ...]:
    names = [field.name for field in fields(record)]
    if "length_m" in names:
        names.insert(names.index("length_m") + 1, "length_ft")
    return tuple(names)


_COLUMNS: Final[dict[str, tuple[str, ...]]] = {
    "pins": _names(PinRow),
    "conductors": _names(ConductorRow),
    "measures": _names(MeasureRow),
}

#: Columns in which the combined file carries everything that is no table row.
_KEY_COLUMN: Final = "key"
_WORDS_COLUMN: Final = "text"
_SECTIONS: Final = (
    "sheet",
    "caution",
    "pins",
    "support",
    "conductors",
    "conductor note",
    "relay wiring",
    "notice",
    "measure note",
)


def csv_text(chart: Chart, which: Table = "all") -> str:
    r"""Return the chart as one CSV text.

    Args:
        chart: What to lay out.
        which: ``pins``, ``conductors`` or ``measures`` for that table alone, its columns named as the fields
            of the record. ``all`` for everything in one rectangular file: the first column ``section`` says what a
            line is, in the order ``sheet`` (title, revision, date, digest and what else the title block states),
            ``caution``, ``pins``, ``support`` (what the marks mean), ``conductors``, ``conductor note``,
            ``relay wiring``, ``notice``, ``measure note``, ``measures``; a column that a section has not is empty.

    Returns:
        Comma-separated text, ``\r\n`` line ends, quoted where RFC 4180 asks. Lengths are in metres (``length_m``) and
        in feet (``length_ft``). A cell that a spreadsheet would take for a formula starts with an apostrophe; several
        support marks are written out, because ``2 / 1`` would become a date. To be written as UTF-8.
    """
    if which != "all":
        return _lines(_COLUMNS[which], _records(chart, which))
    columns = dict.fromkeys(name for names in _COLUMNS.values() for name in names)
    rows: list[dict[str, str]] = []
    for section in (*_SECTIONS, "measures"):
        rows += [{"section": section, **record} for record in _records(chart, section)]
    return _lines(("section", _KEY_COLUMN, _WORDS_COLUMN, *columns), rows)


def _records(chart: Chart, section: str) -> list[dict[str, str]]:
    words = _words(chart).get(section)
    if words is not None:
        return [{_KEY_COLUMN: key, _WORDS_COLUMN: text} for key, text in words]
    tables: dict[str, Sequence[PinRow | ConductorRow | MeasureRow]] = {
        "pins": chart.pins,
        "conductors": chart.conductors,
        "measures": chart.measures,
    }
    return [_record(row) for row in tables[section]]


def _words(chart: Chart) -> dict[str, list[tuple[str, str]]]:
    """Return the sections that are no tables: (key, text) of every line."""
    sheet = [*asdict(chart.sheet).items(), ("vehicle", chart.vehicle)]
    sheet += [
        (f"connector {name}", f"{short} ({follows})" if follows else short) for name, short, follows in chart.connectors
    ]
    return {
        "sheet": sheet,
        "caution": [("", text) for text in chart.cautions],
        "support": [*support_legend(), ("", support_note())],
        "conductor note": [("", text) for text in chart.conductor_notes],
        "relay wiring": [
            *(("", text) for text in chart.relay_notes),
            *((row.channel, relay_text(row)) for row in chart.relays),
        ],
        "notice": [("", text) for text in chart.notices],
        "measure note": [("", text) for text in (MEASURE_ADVICE, *chart.measure_notes)],
    }


def _record(row: PinRow | ConductorRow | MeasureRow) -> dict[str, str]:
    record = {name: _value(name, value) for name, value in asdict(row).items()}
    if isinstance(row, ConductorRow):
        record["length_ft"] = _value("length_ft", row.length_ft)
    return record


def _value(name: str, value: str | bool | float) -> str:
    if name == "support" and isinstance(value, str) and "/" in value:
        # A spreadsheet turns 2/1 into a day of the year.
        vehicle, trailer = value.split("/", 1)
        return f"vehicle {vehicle.strip()} / trailer {trailer.strip()}"
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
