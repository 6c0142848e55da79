"""What the rules look at, gathered from the rig, its circuits and its studies."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiregen.design.steps import behaviour, fault_study, short_study, study

if TYPE_CHECKING:
    from wiregen.check.case import Design
    from wiregen.circuit.build import Built
    from wiregen.rig.loaded import LoadedRig


def design_of(loaded: LoadedRig, built: Built, *, faults: bool = True) -> Design:
    """Gather what the rules look at.

    Args:
        loaded: The rig.
        built: Its circuits.
        faults: Whether to solve every state with every single fault too, which takes most of the time.
    """
    from wiregen.check.case import Case
    from wiregen.check.facts import design_with

    studies = study(loaded, built)
    solved = zip(
        built.circuits,
        studies,
        behaviour(loaded, built),
        loaded.plugs,
        fault_study(loaded, built) if faults else (None,) * len(built.circuits),
        short_study(built, studies),
        strict=True,
    )
    cases = tuple(
        Case(circuit, healthy.trusted(), healthy.troubles(), table, f"-X{index + 2}", plug, faulty, shorts)
        for index, (circuit, healthy, table, plug, faulty, shorts) in enumerate(solved)
    )
    return design_with(loaded, built, cases)
