"""How results show themselves in a notebook: the writers for records and drawings, handed down by name of the class."""

from __future__ import annotations

from html import escape
from typing import Any

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
    from wiregen.chart.paper import chart_paper
    from wiregen.paper.html import html_text

    return _framed(html_text(chart_paper(chart)))


def _page(page: Any) -> str:  # noqa: ANN401
    from wiregen.bundle.page.html import page_text

    return _framed(page_text(page))


def _report(report: Any) -> str:  # noqa: ANN401
    from wiregen.paper.html import html_piece
    from wiregen.questions.verdict.paper import report_paper

    return html_piece(report_paper(report))


def _readings(sheet: Any) -> str:  # noqa: ANN401
    from wiregen.paper.html import html_piece
    from wiregen.questions.readings.paper import readings_paper

    return html_piece(readings_paper(sheet))


def _changes(changes: Any) -> str:  # noqa: ANN401
    from wiregen.paper.html import html_piece
    from wiregen.questions.diff.paper import changes_paper

    return html_piece(changes_paper(changes))


def _scene(scene: Any) -> str:  # noqa: ANN401
    from wiregen.draw.svg import svg_text

    return svg_text(scene)


# By name, so that nobody pays for records that are not used.
WRITERS.update(
    {
        "wiregen.questions.diff.record.Changes": _changes,
        "wiregen.model.chart.Chart": _chart,
        "wiregen.model.live.LivePage": _page,
        "wiregen.model.reading.ReadingSheet": _readings,
        "wiregen.model.report.Report": _report,
        "wiregen.draw.scene.Scene": _scene,
    }
)
