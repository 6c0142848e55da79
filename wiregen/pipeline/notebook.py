"""How results show themselves in a notebook: the writers for records, handed down by class."""

from __future__ import annotations

from html import escape
from typing import Any

from wiregen.model.change import Changes
from wiregen.model.chart import Chart
from wiregen.model.live import LivePage
from wiregen.model.reading import ReadingSheet
from wiregen.model.report import Report
from wiregen.model.shown import WRITERS

#: How high a whole page stands in a notebook before it scrolls.
_HEIGHT = "36em"


def _framed(page: str) -> str:
    """Return a page in a frame of its own, so that its style stays inside; scripts of ours may run there."""
    return (
        f'<iframe sandbox="allow-scripts" srcdoc="{escape(page)}" width="100%" '
        f'style="border:1px solid #777;height:{_HEIGHT}"></iframe>'
    )


def _chart(chart: Any) -> str:  # noqa: ANN401 - the record of its key
    from wiregen.packet.chart_html import html_text

    return _framed(html_text(chart))


def _page(page: Any) -> str:  # noqa: ANN401
    from wiregen.packet.page.html import page_text

    return _framed(page_text(page))


def _report(report: Any) -> str:  # noqa: ANN401
    from wiregen.packet.report_html import report_html

    return report_html(report)


def _readings(sheet: Any) -> str:  # noqa: ANN401
    from wiregen.packet.report_html import readings_html

    return readings_html(sheet)


def _changes(changes: Any) -> str:  # noqa: ANN401
    from wiregen.packet.report_html import changes_html

    return changes_html(changes)


WRITERS.update({Chart: _chart, LivePage: _page, Report: _report, ReadingSheet: _readings, Changes: _changes})
