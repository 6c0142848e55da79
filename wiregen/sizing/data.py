"""The result of ``wiregen size`` for programs."""

from __future__ import annotations

from typing import Any

from wiregen.check.data import finding_data
from wiregen.sizing.record import SizedValue, Sizing


def size_data(sizing: Sizing, written: tuple[str, ...] = ()) -> dict[str, Any]:
    """Return the result as plain data; masses in kg, lengths in m, margins as shares of the limit."""
    return {
        "title": sizing.title,
        "digest": sizing.digest,
        "verdict": sizing.verdict,
        "series": sizing.series,
        "copper_before_kg": _rounded(sizing.copper_before_kg),
        "copper_after_kg": _rounded(sizing.copper_after_kg),
        "values": [_value(value) for value in sizing.values],
        "unmet": [finding_data(finding) for finding in sizing.unmet],
        "left": [finding_data(finding) for finding in sizing.left],
        "checks": sizing.checks,
        "written": list(written),
    }


def _value(value: SizedValue) -> dict[str, Any]:
    bound, larger = value.bound, value.larger
    return {
        "key": value.path,
        "place": value.place,
        "kind": value.kind,
        "words": value.words,
        "parts": list(value.refs),
        "length_m": _rounded(value.length_m),
        "before": value.before,
        "after": value.after,
        "copper_before_kg": _rounded(value.copper_before_kg),
        "copper_after_kg": _rounded(value.copper_after_kg),
        "bound": None
        if bound is None
        else {
            "rule": bound.rule,
            "severity": bound.severity,
            "where": bound.where,
            "state": bound.state,
            "trailer": bound.trailer,
            "source": bound.source,
            "margin": _rounded(bound.margin),
            "margin_smaller": _rounded(bound.margin_smaller),
        },
        "smaller": value.smaller or None,
        "larger": None
        if larger is None
        else {
            "label": larger.label,
            "copper_kg": _rounded(larger.copper_kg),
            "margin": _rounded(larger.margin),
        },
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 6)
