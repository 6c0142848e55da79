"""A case of the fault book, with the weight and the cure of its kind."""

from __future__ import annotations

from typing import Literal

from wiregen.catalogue.faults import FAULT_KINDS
from wiregen.model.fault import Fault
from wiregen.questions.faults.diagnosis import Change, FaultCase


def case(
    key: str,
    kind: str,
    part: str,
    words: str,
    *,
    change: Change | None = None,
    fault: Fault | None = None,
    is_short: bool = False,
    flasher: Literal["", "lit", "dark"] = "",
    note: str = "",
) -> FaultCase:
    """Make a case with the weight and the cure of its kind."""
    row = FAULT_KINDS.find(kind)
    return FaultCase(
        key=key,
        kind=kind,
        part=part,
        words=words,
        cure=row.cure,
        weight=row.weight,
        change=change or Change(),
        fault=fault,
        is_short=is_short,
        flasher=flasher,
        note=note,
    )
