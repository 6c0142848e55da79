"""Readings as plain data for machines, and as CSV for spreadsheets."""

from __future__ import annotations

import csv
import io
from typing import Any, Final

from wiregen.model.reading import Reading, ReadingSheet, Span, StateReadings
from wiregen.paper.safe_text import guard_csv

#: Digits behind the point that are kept: far below any meter, so that a text does not hang on the last bit.
_DIGITS: Final = 6
_SPANS: Final = tuple(f"{word}_{unit}" for unit in ("v", "a") for word in ("nominal", "lowest", "highest"))
_COLUMNS: Final = (
    *("trailer", "state", "half", "kind", "part", "connector", "contact", "side", "what", "plus_lead", "minus_lead"),
    *_SPANS,
    "floats",
)


def readings_data(sheet: ReadingSheet) -> dict[str, Any]:
    """Return readings as plain data: volts in ``*_v``, amps in ``*_a``, null where nothing can be told."""
    return {
        "title": sheet.title,
        "digest": sheet.digest,
        "corners": list(sheet.corners),
        "notes": list(sheet.notes),
        "states": [
            {
                "trailer": one.trailer,
                "state": one.state,
                "half": one.half or None,
                "left_out": [{"corner": corner, "why": why} for corner, why in one.troubles],
                "readings": [_record(reading) for reading in one.readings],
            }
            for one in sheet.states
        ],
    }


def readings_csv(sheet: ReadingSheet) -> str:
    r"""Return readings as CSV: one row a reading, ``\r\n`` line ends (RFC 4180), to be written as UTF-8.

    A text cell that a spreadsheet would take for a formula starts with an apostrophe; numbers stay numbers. A cell is
    empty where nothing can be told.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    for one in sheet.states:
        writer.writerows(_row(one, reading) for reading in one.readings)
    return out.getvalue()


def _row(one: StateReadings, reading: Reading) -> list[str]:
    record = {"trailer": one.trailer, "state": one.state, "half": one.half, **_record(reading)}
    return [_cell(record[name]) for name in _COLUMNS]


def _cell(value: str | float | bool | None) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.{_DIGITS}f}" if isinstance(value, float) else guard_csv(value)


def _record(reading: Reading) -> dict[str, Any]:
    return {
        "kind": reading.kind,
        "part": reading.part,
        "connector": reading.connector,
        "contact": reading.mark,
        "side": reading.side,
        "what": reading.what,
        "plus_lead": reading.at,
        "minus_lead": reading.against,
        **_values(reading.volts_v, "v"),
        **_values(reading.amps_a, "a"),
        "floats": reading.floats,
    }


def _values(span: Span, unit: str) -> dict[str, float | None]:
    return {
        f"{word}_{unit}": None if value is None else round(value, _DIGITS)
        for word, value in (("nominal", span.nominal), ("lowest", span.lowest), ("highest", span.highest))
    }
