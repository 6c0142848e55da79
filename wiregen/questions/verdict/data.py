"""Reports, charts and pinouts as JSON for machines: stable keys, units in the keys or beside the value."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from wiregen.catalogue.connector import Connector
from wiregen.model.chart import Chart
from wiregen.model.finding import Finding
from wiregen.model.report import Report


def json_text(data: object) -> str:
    """Return JSON with a final line end; NaN never appears, because it is no JSON.

    A file's name may have a byte that the locale cannot read; UTF-8 has no place for it, a JSON escape has (RFC 8259,
    section 8.2).
    """
    text = json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False) + "\n"
    return text.encode("utf-8", "backslashreplace").decode()


def report_data(report: Report) -> dict[str, Any]:
    """Return a check's result.

    ``behaviour`` lists every lamp under every setting: over one flash cycle what it must do (``wanted``) and what it
    does (``actual``), whether that ``fits``, and whether it burns in the lit and in the dark half of the flash.
    """
    return {
        "title": report.title,
        "digest": report.digest,
        "verdict": report.verdict,
        "assumptions": [asdict(assumption) for assumption in report.assumptions],
        "behaviour": [
            {
                "trailer": row.trailer,
                "lamp": row.lamp,
                "function": row.function,
                "controls": asdict(row.controls),
                "state": row.controls.words,
                "wanted": sorted(row.wanted),
                "actual": row.actual,
                "burns_lit": row.burns[0],
                "burns_dark": row.burns[1],
                "fits": row.fits,
                "channel": row.channel,
            }
            for row in report.behaviour
        ],
        "findings": [finding_data(finding) for finding in report.findings],
        "headroom": [
            {
                "channel": row.channel,
                "trailer": row.trailer,
                "carried_a": _number(row.carried_a),
                "spare_a": _number(row.spare_a),
                "bound_by": row.bound_by,
                "lamps": dict(row.lamps),
            }
            for row in report.headroom
        ],
    }


def finding_data(finding: Finding) -> dict[str, Any]:
    """Return one finding as plain data, with its place in the rig file."""
    return {
        "rule": finding.rule,
        "severity": finding.severity,
        "where": finding.where,
        "message": finding.message,
        "state": finding.state,
        "trailer": finding.trailer,
        "value": _number(finding.value),
        "limit": _number(finding.limit),
        "unit": finding.unit,
        "margin": _number(finding.margin),
        "advice": finding.advice,
        "source": finding.source,
        "file": finding.origin.file if finding.origin else None,
        "line": finding.origin.line if finding.origin else None,
    }


def _number(value: float | None) -> float | None:
    """Return a finite number rounded far below any meter, so that the text does not hang on the last bit."""
    if value is None or value != value or value in (float("inf"), float("-inf")):
        return None
    return round(value, 6)


def chart_data(chart: Chart) -> dict[str, Any]:
    """Return a chart as plain data, key for key."""
    return asdict(chart)


def pinout_data(name: str, connector: Connector) -> dict[str, Any]:
    """Return a pinout as plain data."""
    return {"name": name, **connector.model_dump(mode="json")}
