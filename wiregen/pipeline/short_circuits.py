"""Every short circuit of a rig, and what ends it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiregen.pipeline.design import design_of
from wiregen.pipeline.steps import build

if TYPE_CHECKING:
    from wiregen.model.short_sheet import ShortSheet
    from wiregen.rig.loaded import LoadedRig


def shorts(loaded: LoadedRig) -> ShortSheet:
    """Work out what flows where a conductor touches ground, what opens it, and when.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.check.short_sheet import left_out, short_rows
    from wiregen.model.short_sheet import ShortSheet

    design = design_of(loaded, build(loaded), faults=False)
    return ShortSheet(title=loaded.rig.title, digest=loaded.digest, rows=short_rows(design), left_out=left_out(design))
