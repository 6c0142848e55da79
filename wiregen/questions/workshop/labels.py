"""Wire labels: one for each end of each conductor."""

from __future__ import annotations

from collections.abc import Iterable

from wiregen.model.harness import CutRow, WireLabel


def labels(cuts: Iterable[CutRow]) -> tuple[WireLabel, ...]:
    """Return two labels for each conductor, in the order of the cut list."""
    return tuple(
        WireLabel(ref=row.ref, here=here, there=there, size=row.size, circuit=row.circuit)
        for row in cuts
        for here, there in ((row.start, row.end), (row.end, row.start))
    )
