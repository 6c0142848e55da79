"""The chart as JSON for other programs."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from wiregen.model.chart import Chart


def chart_data(chart: Chart) -> dict[str, Any]:
    """Return a chart as plain data, key for key."""
    return asdict(chart)
