"""Choose the sizes and fuses of a rig that are "auto": the question is plan's, circuits and checks are handed to it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from wiregen.errors import InputError
from wiregen.model.finding import Assumption
from wiregen.quantity import ConductorSize, show
from wiregen.rig.auto import KeyPath, Slot, slots
from wiregen.sizing.question import Question, chooser_for, place_of, question_of, series_of, series_words
from wiregen.sizing.record import Bound, Larger, SizedValue, Sizing

if TYPE_CHECKING:
    from pathlib import Path

    from wiregen.rig.loaded import LoadedRig
    from wiregen.sizing.choose import Chooser, Solution
    from wiregen.sizing.limits import Outcome
    from wiregen.sizing.problem import Choice
    from wiregen.sizing.reasons import Reason


def size(loaded: LoadedRig, *, series: str | None = None, every: bool = False) -> Sizing:
    """Choose every size and fuse that is "auto", with the reason of each.

    Args:
        loaded: The rig as read, ``read(path)``: with "auto" in it.
        series: ``awg``, ``sae`` or ``mm2``; that of the rig's other sizes when None.
        every: Choose the sizes and fuses that are stated too.

    Raises:
        InputError: The series is none, or the rig mixes several.
        SolveError: A circuit cannot be solved, or the search was given up.
    """
    question = question_of(loaded, series, every=every)
    if question is None:
        words = "" if series is None else series_words(series_of(loaded.rig.run, series))
        return Sizing(title=loaded.rig.title, digest=loaded.digest, series=words, verdict="nothing", values=())
    chooser = chooser_for(question)
    solution = chooser.run()
    return _sizing(question, chooser, solution)


def sized(loaded: LoadedRig) -> LoadedRig:
    """Return a rig with a value in the place of each "auto", and what was chosen among its assumptions.

    Raises:
        InputError: No choice keeps the rules; it says which stand in the way.
        SolveError: As ``size``.
    """
    question = question_of(loaded, None, every=False)
    if question is None:
        return loaded
    solution = chooser_for(question).run()
    if solution.outcome is None:
        lines = [f"{finding.rule}, {finding.where}: {finding.message}" for finding in solution.unmet]
        places = ", ".join(sorted({place_of(loaded, slot.path) for slot in question.asked}))
        raise InputError(
            f'{places}: no choice for "auto" keeps every rule, even with the largest sizes; '
            f"'wiregen size' tells more:\n  " + "\n  ".join(lines)
        )
    made = question.rig_with(solution.outcome.choice)
    return replace(made, chosen=tuple(_assumptions(question, solution.outcome.choice)))


def write_sizes(path: Path, read: bytes, loaded: LoadedRig, sizing: Sizing) -> tuple[str, ...]:
    """Write what was chosen into the rig file, and nothing else; return the keys that were changed.

    Args:
        path: The file.
        read: What it held when the rig was read.
        loaded: The rig.
        sizing: What was chosen.

    Raises:
        InputError: The file changed meanwhile, cannot be written, or cannot be changed without touching more.
    """
    from wiregen.sizing.rig_values import replace_values

    values = chosen_values(loaded, sizing)
    replace_values(path, read, values)
    return tuple(".".join(map(str, key)) for key in values)


def chosen_values(loaded: LoadedRig, sizing: Sizing) -> dict[KeyPath, str]:
    """Return what to write into the rig file, by key path, of what was chosen."""
    paths = {".".join(map(str, slot.path)): slot.path for slot in slots(loaded.rig)}
    return {paths[value.path]: value.after for value in sizing.values if value.after and value.after != value.before}


def _assumptions(question: Question, choice: Choice) -> Iterator[Assumption]:
    for number, slot in enumerate(question.asked):
        made = question.problem.slots[number]
        rule = "the least copper that keeps every rule" if slot.kind == "size" else "the smallest that carries its load"
        yield Assumption(
            name=f"chosen_{slot.kind}",
            text=_label(made.options[choice[number]]),
            why=f"{_words(question.loaded, slot)}: {rule}; 'wiregen size' tells why and writes it",
            source="follows from the computation",
            support="derived",
            where=made.refs,
        )


def _sizing(question: Question, chooser: Chooser, solution: Solution) -> Sizing:
    from wiregen.sizing.reasons import reasons

    best = solution.outcome
    why = reasons(chooser, solution) if best else ()
    values = [_value(question, number, best, why[number] if best else None) for number in range(len(question.asked))]
    values += [_unused(question, slot) for slot in question.unused]
    order = {".".join(map(str, slot.path)): n for n, slot in enumerate(slots(question.loaded.rig))}
    return Sizing(
        title=question.loaded.rig.title,
        digest=question.loaded.digest,
        series=series_words(question.series),
        verdict="sized" if best else "impossible",
        values=tuple(sorted(values, key=lambda value: order[value.path])),
        unmet=solution.unmet,
        left=solution.left,
        checks=solution.checks,
    )


def _label(option: ConductorSize | float) -> str:
    return option.label if isinstance(option, ConductorSize) else show(option, "A")


def _value(question: Question, number: int, best: Outcome | None, why: Reason | None) -> SizedValue:
    asked, slot, problem = question.asked[number], question.problem.slots[number], question.problem
    option = best.choice[number] if best else None
    before, before_kg = _stood(question, asked, slot.refs)
    after_kg = problem.costs[number][option] if option is not None and slot.kind == "size" else 0.0
    larger = None
    if best and option is not None and option + 1 < len(slot.options):
        more = (*best.choice[:number], option + 1, *best.choice[number + 1 :])
        larger = Larger(
            label=_label(slot.options[option + 1]),
            copper_kg=problem.copper_kg(more),
            margin=why.margin_larger if why else None,
        )
    return SizedValue(
        path=".".join(map(str, asked.path)),
        place=place_of(question.loaded, asked.path),
        kind=slot.kind,
        words=_words(question.loaded, asked),
        refs=slot.refs,
        length_m=math.fsum(wire.length_m for wire in problem.wires if wire.slot == number),
        before=before,
        after=_label(slot.options[option]) if option is not None else "",
        copper_before_kg=before_kg,
        copper_after_kg=after_kg,
        bound=_bound(why) if why else None,
        smaller=_label(slot.options[option - 1]) if option else "",
        larger=larger,
    )


def _unused(question: Question, slot: Slot) -> SizedValue:
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


def _stood(question: Question, asked: Slot, refs: tuple[str, ...]) -> tuple[str, float]:
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
