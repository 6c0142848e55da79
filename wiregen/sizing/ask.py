"""Choose the sizes and fuses of a rig that are "auto"."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from wiregen.design.design import Design
from wiregen.model.finding import Assumption
from wiregen.quantity import ConductorSize, show
from wiregen.rig.auto import KeyPath, Slot, slots
from wiregen.sizing.question import SizingQuestion, chooser_for, place_of, question_of, series_of, series_words
from wiregen.sizing.record import Bound, Larger, SizedValue, Sizing

if TYPE_CHECKING:
    from pathlib import Path

    from wiregen.rig.loaded import LoadedRig
    from wiregen.sizing.choose import Chooser, Effort, Solution
    from wiregen.sizing.limits import CheckedChoice
    from wiregen.sizing.reasons import Reason

#: Time after which ``size`` takes the best so far, s.
SECONDS: Final = 10.0


def size(
    design: Design,
    *,
    series: str | None = None,
    every: bool = False,
    seconds: float | None = SECONDS,
    tell: Callable[[int, float | None], None] = lambda checks, copper_kg: None,
) -> Sizing:
    """Choose every size and fuse that is "auto", with the reason of each; where no choice keeps the rules, the nearest.

    Args:
        design: The rig as read, with "auto" in it.
        series: ``awg``, ``sae`` or ``mm2``; that of the rig's other sizes when None.
        every: Choose the sizes and fuses that are stated too.
        seconds: Time after which the best so far is taken, unless fewer than 15 choices were checked, s; None to count
            checks and steps only, which gives the same answer on every machine.
        tell: Told the number of checks and the least copper so far, kg, after every check.

    Raises:
        InputError: The series is none, or the rig mixes several.
        SolveError: A circuit cannot be solved.
    """
    from wiregen.sizing.choose import Effort

    loaded = design.loaded
    question = question_of(loaded, series, every=every)
    if question is None:
        words = "" if series is None else series_words(series_of(loaded.rig.run, series))
        return Sizing(title=loaded.rig.title, digest=loaded.digest, series=words, verdict="nothing", values=())
    chooser = chooser_for(question, Effort(seconds=seconds), tell)
    return _sizing(question, chooser, chooser.run())


def sized(design: Design, effort: Effort | None = None) -> Design:
    """Return a rig with a value in the place of each "auto", and what was chosen among its assumptions.

    The same rig gives the same values on every machine. Where no choice keeps the rules, it is the one that comes
    nearest, and the check tells what is missing.

    Args:
        design: The rig.
        effort: How long to look; None for 15 checks.

    Raises:
        InputError: The rig mixes several series.
        SolveError: A circuit cannot be solved.
    """
    from wiregen.sizing.choose import Effort

    question = question_of(design.loaded, None, every=False)
    if question is None:
        return design
    solution = chooser_for(question, effort or Effort()).run()
    made = question.rig_with(solution.outcome.choice)
    return Design(replace(made, chosen=(*made.chosen, *_assumptions(question, solution))))


def write_sizes(path: Path, read: bytes, design: Design, sizing: Sizing) -> tuple[str, ...]:
    """Write what was chosen into the rig file, and nothing else; return the keys that were changed.

    Args:
        path: The file.
        read: What it held when the rig was read.
        design: The rig.
        sizing: What was chosen.

    Raises:
        InputError: The file changed meanwhile, cannot be written, or cannot be changed without touching more.
    """
    from wiregen.sizing.rig_values import replace_values

    values = chosen_values(design.loaded, sizing)
    replace_values(path, read, values)
    return tuple(".".join(map(str, key)) for key in values)


def chosen_values(loaded: LoadedRig, sizing: Sizing) -> dict[KeyPath, str]:
    """Return what to write into the rig file, by key path, of what was chosen."""
    paths = {".".join(map(str, slot.path)): slot.path for slot in slots(loaded.rig)}
    return {paths[value.path]: value.after for value in sizing.values if value.after and value.after != value.before}


def _assumptions(question: SizingQuestion, solution: Solution) -> Iterator[Assumption]:
    size_rule = (
        "comes nearest to rules that no size keeps" if solution.unmet else "the least copper that keeps every rule"
    )
    if not solution.unmet and not solution.is_proved:
        size_rule = "the least copper found that keeps every rule"
    for number, slot in enumerate(question.asked):
        made = question.problem.slots[number]
        rule = size_rule if slot.kind == "size" else "the smallest that carries its load"
        yield Assumption(
            name=f"chosen_{slot.kind}",
            text=_label(made.options[solution.outcome.choice[number]]),
            why=f"{_words(question.loaded, slot)}: {rule}; 'wiregen size' tells why and writes it",
            source="follows from the computation",
            support="derived",
            where=made.refs,
        )


def _sizing(question: SizingQuestion, chooser: Chooser, solution: Solution) -> Sizing:
    from wiregen.sizing.obstacles import missing
    from wiregen.sizing.reasons import reasons

    best = solution.outcome
    values = [_value(question, number, best, why) for number, why in enumerate(reasons(chooser, solution))]
    values += [_unused(question, slot) for slot in question.unused]
    order = {".".join(map(str, slot.path)): n for n, slot in enumerate(slots(question.loaded.rig))}
    return Sizing(
        title=question.loaded.rig.title,
        digest=question.loaded.digest,
        series=series_words(question.series),
        verdict="nearest" if solution.unmet else "sized",
        values=tuple(sorted(values, key=lambda value: order[value.path])),
        missing=missing(question.problem, best, solution.unmet, question.series),
        left=solution.left,
        checks=solution.checks,
        bound_kg=solution.bound_kg,
        is_proved=solution.is_proved,
    )


def _label(option: ConductorSize | float) -> str:
    return option.label if isinstance(option, ConductorSize) else show(option, "A")


def _value(question: SizingQuestion, number: int, best: CheckedChoice, why: Reason) -> SizedValue:
    asked, slot, problem = question.asked[number], question.problem.slots[number], question.problem
    option = best.choice[number]
    before, before_kg = _stood(question, asked, slot.refs)
    larger = None
    if option + 1 < len(slot.options):
        more = (*best.choice[:number], option + 1, *best.choice[number + 1 :])
        larger = Larger(
            label=_label(slot.options[option + 1]), copper_kg=problem.copper_kg(more), margin=why.margin_larger
        )
    return SizedValue(
        path=".".join(map(str, asked.path)),
        place=place_of(question.loaded, asked.path),
        kind=slot.kind,
        words=_words(question.loaded, asked),
        refs=slot.refs,
        length_m=math.fsum(wire.length_m for wire in problem.wires if wire.slot == number),
        before=before,
        after=_label(slot.options[option]),
        copper_before_kg=before_kg,
        copper_after_kg=problem.costs[number][option] if slot.kind == "size" else 0.0,
        bound=_bound(why),
        is_explained=why.is_known,
        smaller=_label(slot.options[option - 1]) if option else "",
        larger=larger,
    )


def _unused(question: SizingQuestion, slot: Slot) -> SizedValue:
    return SizedValue(
        path=".".join(map(str, slot.path)),
        place=place_of(question.loaded, slot.path),
        kind=slot.kind,
        words=_words(question.loaded, slot),
        refs=(),
        length_m=0.0,
        before="auto" if slot.is_auto else _label(slot.value),
        after="",
        copper_before_kg=0.0,
        copper_after_kg=0.0,
    )


def _stood(question: SizingQuestion, asked: Slot, refs: tuple[str, ...]) -> tuple[str, float]:
    """Return what stood in a place before, and the copper of its conductors, kg."""
    from wiregen.model.circuit import Conductor
    from wiregen.sizing.problem import copper_kg

    if asked.kind == "fuse":
        return ("auto" if asked.is_auto else _label(asked.value)), 0.0
    wires = {
        wire.ref: wire for circuit in question.before.circuits for wire in circuit.of(Conductor) if wire.ref in refs
    }
    labels = ", ".join(dict.fromkeys(wire.size.label for wire in wires.values()))
    weight = math.fsum(copper_kg(wire.length_m, wire.size) for wire in wires.values())
    return (f"auto ({labels})" if asked.is_auto else labels), weight


def _words(loaded: LoadedRig, slot: Slot) -> str:
    """Return what a value is for, in words."""
    rig, path = loaded.rig, slot.path
    if path[0] == "run":
        run = rig.run[int(path[1])]
        parts = [f"{run.start} to {run.end}", *([", ".join(run.circuits)] if run.circuits else [])]
        return ", ".join([*parts, *([run.trailer] if run.trailer else [])])
    if path[0] == "trailer":
        return f"fuse of the battery of {rig.trailer[int(path[1])].name}"
    if path[1] == "supply":
        return "fuse of the supply"
    if path[1] == "channel":
        channel = rig.adapter.channel[int(path[2])]
        return f"fuse of channel {channel.name or ', '.join(channel.outputs)}"
    return f"fuse of tap {rig.vehicle.tap[int(path[2])].name}"


def _bound(why: Reason) -> Bound | None:
    finding = why.broken
    if finding is None:
        return None
    return Bound(
        rule=finding.rule,
        severity=finding.severity,
        where=finding.where,
        state=finding.state,
        trailer=finding.trailer,
        source=finding.source,
        margin=why.margin,
        margin_smaller=why.margin_smaller,
    )
