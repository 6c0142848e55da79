"""Every short circuit of a rig, and what ends it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wiregen.design.design import Design
    from wiregen.questions.shorts.record import ShortSheet


def shorts(design: Design) -> ShortSheet:
    """Work out what flows where a conductor touches ground, what opens it, and when.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.questions.shorts.record import ShortSheet
    from wiregen.questions.shorts.rows import left_out, short_rows

    case = design.healthy_case
    return ShortSheet(title=design.title, digest=design.digest, rows=short_rows(case), left_out=left_out(case))
