"""What the rules look at, gathered from a rig, its circuits and its studies."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiregen.check.case import Case, Coupling
from wiregen.check.facts import case_with

if TYPE_CHECKING:
    from wiregen.design.design import Design


def healthy_case(design: Design) -> Case:
    """Gather what the rules look at, but for single faults, which take most of the time."""
    loaded, built = design.loaded, design.built
    solved = zip(built.circuits, design.studies, design.behaviour, loaded.plugs, design.short_studies, strict=True)
    couplings = tuple(
        Coupling(circuit, study.trusted(), study.troubles(), table, f"-X{index}", plug, None, shorts)
        for index, (circuit, study, table, plug, shorts) in enumerate(solved, start=2)
    )
    return case_with(loaded, built, couplings)
