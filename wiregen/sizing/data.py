"""The result of ``wiregen size`` for programs."""

from __future__ import annotations

from typing import Any

from wiregen.check.data import finding_data
from wiregen.sizing.obstacles import Missing
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
        "missing": [_missing(one) for one in sizing.missing],
        "left": [finding_data(finding) for finding in sizing.left],
        "checks": sizing.checks,
        "is_proved": sizing.is_proved,
        "bound_kg": _rounded(sizing.bound_kg),
        "gap": _rounded(sizing.gap),
        "written": list(written),
    }


def _missing(missing: Missing) -> dict[str, Any]:
    return {
        "finding": finding_data(missing.finding),
        "share": _rounded(missing.share),
        "obstacles": [
            {
                "parts": list(one.refs),
                "words": one.words,
                "size": one.size,
                "place": str(one.origin) if one.origin else None,
                "is_chosen": one.is_chosen,
                "gain": _rounded(one.gain),
                "enough": one.enough or None,
            }
            for one in missing.obstacles
        ],
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
        "is_explained": value.is_explained,
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
