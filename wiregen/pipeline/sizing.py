"""Choose the sizes and fuses of a rig that are "auto": the question is plan's, circuits and checks are handed to it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from wiregen.errors import InputError
from wiregen.model.finding import Assumption, Finding
from wiregen.model.sizing import Bound, Larger, SizedValue, Sizing
from wiregen.quantity import ConductorSize, Series, show
from wiregen.rig.auto import KeyPath, Slot, slots, with_values

if TYPE_CHECKING:
    from pathlib import Path

    from wiregen.build.circuit import Built
    from wiregen.model.circuit import Conductor, Fuse
    from wiregen.plan.size_choose import Chooser, Solution
    from wiregen.plan.size_limits import Outcome
    from wiregen.plan.size_problem import Choice, Guard, Problem, Wire
    from wiregen.plan.size_reasons import Reason
    from wiregen.rig.loaded import LoadedRig
    from wiregen.rig.records import Run

SERIES: Final[dict[str, Series]] = {"awg": "AWG", "sae": "SAE", "mm2": "mm2"}
_SERIES_WORDS: Final = {"mm2": "mm²"}
#: Designations inside the build of what is to be chosen: a size by its label, a fuse by its type.
_MARK: Final = "to be chosen "


class _Marked(float):
    """A rating that says which slot it belongs to; it passes through the build as the number it is."""

    slot: int


@dataclass(frozen=True)
class _Question:
    """What is to be chosen in a rig.

    Attributes:
        loaded: The rig as read.
        series: Series of the sizes.
        asked: Places in the rig file, in the order of the problem's slots.
        unused: Places that no conductor and no fuse of the circuits uses.
        problem: The problem.
        before: What the circuits hold where the values are left out, or as they stand.
    """

    loaded: LoadedRig
    series: Series
    asked: tuple[Slot, ...]
    unused: tuple[Slot, ...]
    problem: Problem
    before: Built

    def rig_with(self, choice: Choice) -> LoadedRig:
        """Return the rig with a choice in its places."""
        values: dict[KeyPath, ConductorSize | float] = {
            slot.path: self.problem.slots[number].options[choice[number]] for number, slot in enumerate(self.asked)
        }
        for slot in self.unused:
            values[slot.path] = self.least(slot)
        return replace(self.loaded, rig=with_values(self.loaded.rig, values))

    def least(self, slot: Slot) -> ConductorSize | float:
        """Return the smallest value for a place that nothing uses."""
        return _sizes(self.series, None)[0] if slot.kind == "size" else _ratings()[0]


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
    question = _question(loaded, series, every=every)
    if question is None:
        words = "" if series is None else _series_words(_series(loaded.rig.run, series))
        return Sizing(title=loaded.rig.title, digest=loaded.digest, series=words, verdict="nothing", values=())
    chooser = _chooser(question)
    solution = chooser.run()
    return _sizing(question, chooser, solution)


def sized(loaded: LoadedRig) -> LoadedRig:
    """Return a rig with a value in the place of each "auto", and what was chosen among its assumptions.

    Raises:
        InputError: No choice keeps the rules; it says which stand in the way.
        SolveError: As ``size``.
    """
    question = _question(loaded, None, every=False)
    if question is None:
        return loaded
    solution = _chooser(question).run()
    if solution.outcome is None:
        lines = [f"{finding.rule}, {finding.where}: {finding.message}" for finding in solution.unmet]
        places = ", ".join(sorted({_place(loaded, slot.path) for slot in question.asked}))
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
    from wiregen.packet.rig_values import replace_values

    values = chosen_values(loaded, sizing)
    replace_values(path, read, values)
    return tuple(".".join(map(str, key)) for key in values)


def chosen_values(loaded: LoadedRig, sizing: Sizing) -> dict[KeyPath, str]:
    """Return what to write into the rig file, by key path, of what was chosen."""
    paths = {".".join(map(str, slot.path)): slot.path for slot in slots(loaded.rig)}
    return {paths[value.path]: value.after for value in sizing.values if value.after and value.after != value.before}


def _assumptions(question: _Question, choice: Choice) -> Iterator[Assumption]:
    for number, slot in enumerate(question.asked):
        made = question.problem.slots[number]
        yield Assumption(
            name=f"chosen_{slot.kind}_{'.'.join(map(str, slot.path[:-1]))}",
            text=_label(made.options[choice[number]]),
            why='"auto": the least copper that keeps every rule; "wiregen size" tells why and writes it',
            source="follows from the computation",
            support="seen",
            where=made.refs,
        )


# --- the question ---


def _question(loaded: LoadedRig, series: str | None, *, every: bool) -> _Question | None:
    asked = [slot for slot in slots(loaded.rig) if every or slot.is_auto]
    if not asked:
        return None
    kind = _series(loaded.rig.run, series)
    template = _template(loaded, asked)
    wires, fuses = _governed(template)
    used = [n for n, slot in enumerate(asked) if n in (wires if slot.kind == "size" else fuses)]
    if not used:
        return _Question(loaded, kind, (), tuple(asked), _problem(loaded, [], kind, {}, {}, template), template)
    problem = _problem(loaded, [(n, asked[n]) for n in used], kind, wires, fuses, template)
    unused = tuple(slot for n, slot in enumerate(asked) if n not in used)
    return _Question(loaded, kind, tuple(asked[n] for n in used), unused, problem, _before(loaded, asked))


def _series(runs: tuple[Run, ...], wanted: str | None) -> Series:
    """Return the series to choose from: the one asked for, else that of the sizes that stand.

    Raises:
        InputError: There is no such series, or the rig mixes several.
    """
    from wiregen.errors import guess

    if wanted is not None:
        if wanted.lower() not in SERIES:
            message = f"--series {wanted!r} is none{guess(wanted.lower(), SERIES)} Allowed: {', '.join(SERIES)}"
            raise InputError(message)
        return SERIES[wanted.lower()]
    stated = {run.size.series for run in runs if run.size is not None and run.size.label != "auto"}
    stated |= {run.largest.series for run in runs if run.largest is not None}
    if len(stated) > 1:
        named = ", ".join(sorted(_series_words(one) for one in stated))
        raise InputError(f"the rig states sizes in {named}; say which series to choose from: --series awg, sae or mm2")
    return next(iter(stated), "mm2")


def _series_words(series: Series) -> str:
    return _SERIES_WORDS.get(series, series)


def _template(loaded: LoadedRig, asked: list[Slot]) -> Built:
    """Build the circuits with a mark in every place that is asked for."""
    from wiregen.pipeline.steps import build

    values: dict[KeyPath, ConductorSize | float] = {}
    for number, slot in enumerate(asked):
        if slot.kind == "size":
            values[slot.path] = ConductorSize(1.0, "mm2", f"{_MARK}{number}")
        else:
            rating = _Marked(10.0)
            rating.slot = number
            values[slot.path] = rating
    return build(replace(loaded, rig=with_values(loaded.rig, values)))


def _before(loaded: LoadedRig, asked: list[Slot]) -> Built:
    """Build the circuits as they stand; what is "auto" is left out."""
    from wiregen.pipeline.steps import build

    return build(replace(loaded, rig=with_values(loaded.rig, {slot.path: None for slot in asked if slot.is_auto})))


def _governed(template: Built) -> tuple[dict[int, list[Conductor]], dict[int, Fuse]]:
    """Return the conductors and the fuse that each mark gave its value."""
    from wiregen.model.circuit import Conductor, Fuse

    wires: dict[int, dict[str, Conductor]] = {}
    fuses: dict[int, Fuse] = {}
    for circuit in template.circuits:
        for wire in circuit.of(Conductor):
            if wire.size.label.startswith(_MARK):
                wires.setdefault(int(wire.size.label.removeprefix(_MARK)), {})[wire.ref] = wire
        for fuse in circuit.of(Fuse):
            if isinstance(fuse.rating_a, _Marked):
                fuses[fuse.rating_a.slot] = fuse
    return {number: list(found.values()) for number, found in wires.items()}, fuses


def _sizes(series: Series, largest: ConductorSize | None) -> tuple[ConductorSize, ...]:
    """Return the sizes to choose from, smallest first."""
    from wiregen.catalogue.conductors import standard_sizes
    from wiregen.catalogue.defaults import default

    least = default("smallest_chosen_area_mm2").value
    most = largest.area_mm2 * (1 + 1e-9) if largest else float("inf")
    return tuple(one for one in standard_sizes(series) if least <= one.area_mm2 <= most)


def _ratings() -> tuple[float, ...]:
    """Return the fuse ratings to choose from, smallest first: those of which it is known when they open."""
    from wiregen.catalogue.fuses import STYLES, gates, standard_ratings_a

    return tuple(
        rating_a
        for rating_a in standard_ratings_a()
        if any(gate.max_s is not None for style in STYLES for gate in gates(rating_a, style))
    )


def _problem(
    loaded: LoadedRig,
    asked: list[tuple[int, Slot]],
    series: Series,
    wires: Mapping[int, list[Conductor]],
    fuses: Mapping[int, Fuse],
    template: Built,
) -> Problem:
    from wiregen.catalogue.defaults import default
    from wiregen.plan.size_problem import Problem, Wire
    from wiregen.plan.size_problem import Slot as PlanSlot

    made, found = [], []
    numbers = {number: place for place, (number, _) in enumerate(asked)}
    for place, (number, slot) in enumerate(asked):
        if slot.kind == "fuse":
            made.append(PlanSlot("fuse", _ratings(), (fuses[number].ref,)))
            continue
        options = _sizes(series, loaded.rig.run[int(slot.path[1])].largest)
        if not options:
            raise InputError(f"{_place(loaded, slot.path)}: no size of the series is as small as 'largest' asks for")
        made.append(PlanSlot("size", options, tuple(wire.ref for wire in wires[number])))
        found += [
            Wire(wire.ref, place, wire.length_m, wire.insulation_c, wire.ambient_c, wire.bundle)
            for wire in wires[number]
        ]
    by_ref = {wire.ref: wire for wire in found}
    fuse_slots = {fuses[number].ref: numbers[number] for number in fuses if number in numbers}
    share = loaded.rig.rules.fuse_share or default("fuse_continuous_factor").value
    return Problem(tuple(made), tuple(found), tuple(_guards(template, by_ref, fuse_slots)), share)


def _guards(template: Built, by_ref: Mapping[str, Wire], fuse_slots: Mapping[str, int]) -> Iterator[Guard]:
    """Yield every fuse with every conductor behind it, where at least one of them is to be chosen."""
    from wiregen.catalogue.ampacity import OutsideTable, ampacity_a
    from wiregen.model.circuit import Fuse
    from wiregen.plan.size_problem import Guard

    seen: set[tuple[str, str]] = set()
    for circuit in template.circuits:
        for fuse in circuit.of(Fuse):
            for conductor in circuit.behind(fuse):
                wire, slot = by_ref.get(conductor.ref), fuse_slots.get(fuse.ref)
                if (wire is None and slot is None) or (fuse.ref, conductor.ref) in seen:
                    continue
                seen.add((fuse.ref, conductor.ref))
                if wire is not None:
                    yield Guard(fuse.ref, slot, float(fuse.rating_a), wire)
                    continue
                try:
                    allowed = ampacity_a(
                        conductor.size, conductor.insulation_c, conductor.ambient_c, conductor.bundle
                    ).amps
                except OutsideTable:
                    continue
                yield Guard(fuse.ref, slot, 0.0, None, allowed)


def _chooser(question: _Question) -> Chooser:
    from wiregen.plan.size_choose import Chooser

    return Chooser(
        question.problem,
        lambda choice: _outcome(question, choice),
        lambda choice: _findings(question.rig_with(choice), faults=True),
    )


def _outcome(question: _Question, choice: Choice) -> Outcome:
    from wiregen.check.rules import single_findings as check
    from wiregen.pipeline.design import design_of
    from wiregen.pipeline.steps import build
    from wiregen.plan.size_limits import Outcome

    rig = question.rig_with(choice)
    design = design_of(rig, build(rig), faults=False)
    return Outcome(choice, check(design), tuple(case.study for case in design.cases))


def _findings(rig: LoadedRig, *, faults: bool) -> tuple[Finding, ...]:
    from wiregen.check.rules import single_findings as check
    from wiregen.pipeline.design import design_of
    from wiregen.pipeline.steps import build

    return check(design_of(rig, build(rig), faults=faults))


# --- the answer ---


def _sizing(question: _Question, chooser: Chooser, solution: Solution) -> Sizing:
    from wiregen.plan.size_reasons import reasons

    best = solution.outcome
    why = reasons(chooser, solution) if best else ()
    values = [_value(question, number, best, why[number] if best else None) for number in range(len(question.asked))]
    values += [_unused(question, slot) for slot in question.unused]
    order = {".".join(map(str, slot.path)): n for n, slot in enumerate(slots(question.loaded.rig))}
    return Sizing(
        title=question.loaded.rig.title,
        digest=question.loaded.digest,
        series=_series_words(question.series),
        verdict="sized" if best else "impossible",
        values=tuple(sorted(values, key=lambda value: order[value.path])),
        unmet=solution.unmet,
        left=solution.left,
        checks=solution.checks,
    )


def _label(option: ConductorSize | float) -> str:
    return option.label if isinstance(option, ConductorSize) else show(option, "A")


def _place(loaded: LoadedRig, path: KeyPath) -> str:
    return str(loaded.origin(path) or ".".join(map(str, path)))


def _value(question: _Question, number: int, best: Outcome | None, why: Reason | None) -> SizedValue:
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
        place=_place(question.loaded, asked.path),
        kind=slot.kind,
        words=_words(question.loaded, asked),
        refs=slot.refs,
        length_m=sum(wire.length_m for wire in problem.wires if wire.slot == number),
        before=before,
        after=_label(slot.options[option]) if option is not None else "",
        copper_before_kg=before_kg,
        copper_after_kg=after_kg,
        bound=_bound(why) if why else None,
        smaller=_label(slot.options[option - 1]) if option else "",
        larger=larger,
    )


def _unused(question: _Question, slot: Slot) -> SizedValue:
    return SizedValue(
        path=".".join(map(str, slot.path)),
        place=_place(question.loaded, slot.path),
        kind=slot.kind,
        words=_words(question.loaded, slot),
        refs=(),
        length_m=0.0,
        before="auto" if slot.is_auto else _label(slot.value),
        after="",
        copper_before_kg=0.0,
        copper_after_kg=0.0,
    )


def _stood(question: _Question, asked: Slot, refs: tuple[str, ...]) -> tuple[str, float]:
    """Return what stood in a place before, and the copper of its conductors, kg."""
    from wiregen.model.circuit import Conductor
    from wiregen.plan.size_problem import copper_kg

    if asked.kind == "fuse":
        return ("auto" if asked.is_auto else _label(asked.value)), 0.0
    wires = {
        wire.ref: wire for circuit in question.before.circuits for wire in circuit.of(Conductor) if wire.ref in refs
    }
    labels = ", ".join(dict.fromkeys(wire.size.label for wire in wires.values()))
    weight = sum(copper_kg(wire.length_m, wire.size) for wire in wires.values())
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
    if path[1] == "tap":
        return f"fuse of tap {rig.vehicle.tap[int(path[2])].name}"
    return f"fuse of feed {', '.join(rig.vehicle.feed[int(path[2])].circuits)}"


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
