"""The result of a check, as people and machines read it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wiregen.model.behaviour import BehaviourRow
from wiregen.model.finding import Assumption, Finding, Headroom
from wiregen.model.shown import Shown

Verdict = Literal["clean", "findings"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Report(Shown):
    """Everything ``check`` found out.

    Attributes:
        title: Title of the rig.
        digest: Digest of the rig file and its pinouts.
        assumptions: Defaults that were used.
        behaviour: The whole behaviour table.
        findings: Errors first.
        headroom: Room per channel and trailer.
        states: How many operating points were solved, over all trailers and corners.
        fault_points: How many more were solved with a single fault.
    """

    title: str
    digest: str
    assumptions: tuple[Assumption, ...]
    behaviour: tuple[BehaviourRow, ...]
    findings: tuple[Finding, ...]
    headroom: tuple[Headroom, ...]
    states: int
    fault_points: int = 0

    @property
    def verdict(self) -> Verdict:
        """``findings`` when any is an error or a warning; notices alone leave a rig clean."""
        return "findings" if any(finding.severity != "notice" for finding in self.findings) else "clean"

    def count(self, severity: str) -> int:
        """Return how many findings have this severity."""
        return sum(finding.severity == severity for finding in self.findings)
