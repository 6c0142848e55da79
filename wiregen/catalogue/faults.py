"""What goes wrong how often, and what a check costs: the tables that finding a fault rests on.

Weights are relative, for one part; the order of the common ones follows public maintenance manuals (S57), the numbers
themselves are common practice without a source, and the rows say so. Efforts count in looks at the lamps.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from wiregen.catalogue.sources import LazyTable, rows


@dataclass(frozen=True, slots=True)
class FaultClass:
    """One kind of fault.

    Attributes:
        kind: Its key.
        weight: How likely one part has it, against the others.
        words: In words.
        cure: What to do about it.
        sources: Source keys.
        support: How well supported.
        note: What else to know.
    """

    kind: str
    weight: float
    words: str
    cure: str
    sources: tuple[str, ...]
    support: str
    note: str


@dataclass(frozen=True, slots=True)
class CheckClass:
    """One kind of check.

    Attributes:
        check: Its key.
        effort: What it costs, in looks at the lamps.
        words: In words.
        sources: Source keys.
        support: How well supported.
    """

    check: str
    effort: float
    words: str
    sources: tuple[str, ...]
    support: str


def _faults() -> dict[str, FaultClass]:
    return {
        row["kind"]: FaultClass(
            row["kind"],
            float(row["weight"]),
            row["words"],
            row["cure"],
            tuple(row["source"].split(",")),
            row["support"],
            row["note"],
        )
        for row in rows("fault_kinds")
    }


def _checks() -> dict[str, CheckClass]:
    return {
        row["check"]: CheckClass(
            row["check"], float(row["effort"]), row["words"], tuple(row["source"].split(",")), row["support"]
        )
        for row in rows("fault_checks")
    }


#: Every kind of fault by name.
FAULT_KINDS: Final = LazyTable("a kind of fault", _faults)
#: Every kind of check by name.
CHECK_KINDS: Final = LazyTable("a kind of check", _checks)
