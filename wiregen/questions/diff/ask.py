"""Two revisions of a rig, compared."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiregen.design.results import chart, check
from wiregen.design.steps import build

if TYPE_CHECKING:
    from wiregen.model.chart import Chart
    from wiregen.questions.diff.changes import Side
    from wiregen.questions.diff.record import Changes
    from wiregen.rig.loaded import LoadedRig


def diff(old: LoadedRig, new: LoadedRig) -> Changes:
    """Return what changed from one revision of a rig to the next.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.questions.diff.changes import compare

    return compare(_side(old), _side(new))


def marked_chart(new: LoadedRig, changes: Changes) -> Chart:
    """Return the chart of the newer revision with what changed marked on it."""
    from wiregen.questions.diff.marked import marked

    return marked(chart(new), changes)


def _side(loaded: LoadedRig) -> Side:
    from wiregen.questions.diff.changes import Side

    built = build(loaded)
    return Side(chart=chart(loaded, built), circuits=built.circuits, report=check(loaded))
