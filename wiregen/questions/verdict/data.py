"""The check's result as JSON for other programs: stable keys, units in the keys or beside the value."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from wiregen.check.data import finding_data, number
from wiregen.model.report import Report


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
                "carried_a": number(row.carried_a),
                "spare_a": number(row.spare_a),
                "bound_by": row.bound_by,
                "lamps": dict(row.lamps),
            }
            for row in report.headroom
        ],
    }
