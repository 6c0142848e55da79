"""Readings as plain data for other programs."""

from __future__ import annotations

from typing import Any, Final

from wiregen.model.reading import Reading, ReadingSheet, Span

#: Digits behind the point that are kept: far below any meter, so that a text does not hang on the last bit.
_DIGITS: Final = 6


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
