"""Two revisions of a rig, compared."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wiregen.design.design import Design
    from wiregen.model.chart import Chart
    from wiregen.questions.diff.changes import Side
    from wiregen.questions.diff.record import Differences


def diff(old: Design, new: Design) -> Differences:
    """Return what changed from one revision of a rig to the next.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.questions.diff.changes import compare

    return compare(_side(old), _side(new))


def marked_chart(new: Design, changes: Differences) -> Chart:
    """Return the chart of the newer revision with what changed marked on it."""
    from wiregen.questions.diff.marked import marked

    return marked(new.chart, changes)


def _side(design: Design) -> Side:
    from wiregen.questions.diff.changes import Side

    return Side(chart=design.chart, circuits=design.circuits, report=design.report)
