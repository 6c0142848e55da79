"""What comes of the steps: chart, report, rules explained, drawings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiregen.design.gather import case_of
from wiregen.design.steps import build

if TYPE_CHECKING:
    from wiregen.circuit.build import Built
    from wiregen.draw.scene import Scene
    from wiregen.draw.sheet import Paper
    from wiregen.model.chart import Chart
    from wiregen.model.report import Report
    from wiregen.model.rule import RuleInfo
    from wiregen.rig.loaded import LoadedRig


def chart(loaded: LoadedRig, built: Built | None = None) -> Chart:
    """Make the wiring chart."""
    from wiregen.chart.make import chart as make_chart

    return make_chart(loaded, built or build(loaded))


def check(loaded: LoadedRig) -> Report:
    """Check a rig: behaviour first, then currents and voltages.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.check.headroom import headroom
    from wiregen.check.rules import check as run_rules
    from wiregen.model.report import Report

    built = build(loaded)
    case = case_of(loaded, built)
    return Report(
        title=loaded.rig.title,
        digest=loaded.digest,
        assumptions=built.assumptions,
        behaviour=tuple(row for coupling in case.couplings for row in coupling.behaviour.rows),
        findings=run_rules(case),
        headroom=headroom(case),
        states=sum(len(coupling.study.points) for coupling in case.couplings),
        fault_points=sum(len(c.faults.points) * len(c.faults.faults) for c in case.couplings if c.faults),
    )


def rules() -> tuple[RuleInfo, ...]:
    """Return what there is to know of every rule of the check, in the order findings are printed."""
    from wiregen.check.rules import RULES

    return tuple(rule.info for rule in RULES)


def explain(rule: str) -> RuleInfo:
    """Return what there is to know of one rule.

    Raises:
        InputError: There is no such rule; the message names the nearest.
    """
    from wiregen.errors import InputError, guess

    known = {info.id: info for info in rules()}
    if rule not in known:
        raise InputError(f"{rule!r} is not a rule{guess(rule, known)} 'wiregen explain' lists them all.")
    return known[rule]


def draw(loaded: LoadedRig, built: Built | None = None, paper: Paper = "a4") -> dict[str, Scene]:
    """Draw the schematic of every trailer and the face of every connector; scenes by file stem."""
    from wiregen.chart.make import sheet_info
    from wiregen.draw.face.scenes import face_scenes
    from wiregen.draw.schematic.scenes import schematic

    built = built or build(loaded)
    info = sheet_info(loaded)
    scenes: dict[str, Scene] = {}
    for circuit in built.circuits:
        sheets = schematic(circuit, info, paper)
        for number, scene in enumerate(sheets, start=1):
            scenes[_stem("schematic", circuit.trailer, number, len(sheets))] = scene
    pinouts = [("X1", loaded.socket)] + [(f"X{index + 2}", plug) for index, plug in enumerate(loaded.plugs)]
    for designation, pinout in pinouts:
        sheets = face_scenes(pinout, info)
        for number, scene in enumerate(sheets, start=1):
            scenes[_stem("face", designation, number, len(sheets))] = scene
    return scenes


def chart_scenes(made: Chart, paper: Paper = "a4") -> list[Scene]:
    """Lay the chart out on sheets."""
    from wiregen.draw.chart_sheet import chart_sheets

    return chart_sheets(made, paper)


def _stem(kind: str, name: str, number: int, count: int) -> str:
    """Return a file stem of small letters, digits and hyphens: ``schematic-boat-trailer``, ``-2`` on a second sheet."""
    safe = "-".join("".join(c if c.isascii() and c.isalnum() else " " for c in name.lower()).split()) or "unnamed"
    return f"{kind}-{safe[:60]}" + (f"-{number}" if count > 1 else "")
