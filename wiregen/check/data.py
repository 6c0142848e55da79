"""Findings as JSON for other programs: stable keys, units in the keys or beside the value."""

from __future__ import annotations

from typing import Any

from wiregen.model.finding import Finding


def finding_data(finding: Finding) -> dict[str, Any]:
    """Return one finding as plain data, with its place in the rig file."""
    return {
        "rule": finding.rule,
        "severity": finding.severity,
        "where": finding.where,
        "message": finding.message,
        "state": finding.state,
        "trailer": finding.trailer,
        "value": number(finding.value),
        "limit": number(finding.limit),
        "unit": finding.unit,
        "margin": number(finding.margin),
        "advice": finding.advice,
        "source": finding.source,
        "file": finding.origin.file if finding.origin else None,
        "line": finding.origin.line if finding.origin else None,
    }


def number(value: float | None) -> float | None:
    """Return a finite number rounded far below any meter, so that the text does not hang on the last bit."""
    if value is None or value != value or value in (float("inf"), float("-inf")):
        return None
    return round(value, 6)
