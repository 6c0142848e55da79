"""Every short circuit of a rig, and what ends it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiregen.design.gather import case_of
from wiregen.design.steps import build

if TYPE_CHECKING:
    from wiregen.questions.shorts.record import ShortSheet
    from wiregen.rig.loaded import LoadedRig


def shorts(loaded: LoadedRig) -> ShortSheet:
    """Work out what flows where a conductor touches ground, what opens it, and when.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.questions.shorts.record import ShortSheet
    from wiregen.questions.shorts.rows import left_out, short_rows

    case = case_of(loaded, build(loaded), faults=False)
    return ShortSheet(title=loaded.rig.title, digest=loaded.digest, rows=short_rows(case), left_out=left_out(case))
