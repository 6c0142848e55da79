"""What is to be chosen in a rig: its "auto" places, what they govern, and how a choice is checked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from wiregen.errors import InputError
from wiregen.model.stretch import RUNS, STRETCHES
from wiregen.quantity import ConductorSize, Series, parse_size
from wiregen.rig.auto import KeyPath, Slot, slots, with_values

if TYPE_CHECKING:
    from wiregen.catalogue.connector import PinoutContact
    from wiregen.check.case import Case
    from wiregen.circuit.build import Built
    from wiregen.design.design import Design
    from wiregen.model.circuit import Conductor, Fuse
    from wiregen.model.finding import Finding
    from wiregen.rig.loaded import LoadedRig
    from wiregen.rig.records import Run
    from wiregen.sizing.choose import Chooser, Effort
    from wiregen.sizing.limits import CheckedChoice
    from wiregen.sizing.problem import Choice, Guard, SizedWire, SizingProblem

SERIES: Final[dict[str, Series]] = {"awg": "AWG", "sae": "SAE", "mm2": "mm2"}
_SERIES_WORDS: Final = {"mm2": "mm²"}
#: Designations inside the build of what is to be chosen: a size by its label, a fuse by its type.
_MARK: Final = "to be chosen "


#: Areas nearer than this are the same, as a factor.
_SAME: Final = 1 + 1e-9
_SOCKET: Final = "-X1"
#: Solved rigs that are kept, because more may be asked of the last ones.
_KEPT: Final = 8


class _Marked(float):
    """A rating that says which slot it belongs to; it passes through the build as the number it is."""

    slot: int


@dataclass(frozen=True)
class SizingQuestion:
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
    problem: SizingProblem
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


def question_of(loaded: LoadedRig, series: str | None, *, every: bool) -> SizingQuestion | None:
    """Return what is to be chosen in a rig; None where there is nothing.

    Args:
        loaded: The rig as read.
        series: Series of the sizes; that of the rig's other sizes when None.
        every: Ask for what is stated too, but for the vehicle's own conductors.

    Raises:
        InputError: The series is none, or the rig mixes several, or a run allows no size.
    """
    asked = [slot for slot in slots(loaded.rig) if slot.is_auto or (every and not _is_the_vehicles(loaded, slot))]
    if not asked:
        return None
    kind = series_of(loaded.rig.run, series)
    template = _template(loaded, asked)
    wires, fuses = _governed(template)
    used = [n for n, slot in enumerate(asked) if n in (wires if slot.kind == "size" else fuses)]
    if not used:
        return SizingQuestion(loaded, kind, (), tuple(asked), _problem(loaded, [], kind, {}, {}, template), template)
    problem = _problem(loaded, [(n, asked[n]) for n in used], kind, wires, fuses, template)
    unused = tuple(slot for n, slot in enumerate(asked) if n not in used)
    return SizingQuestion(loaded, kind, tuple(asked[n] for n in used), unused, problem, _before(loaded, asked))


def series_of(runs: tuple[Run, ...], wanted: str | None) -> Series:
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
        named = ", ".join(sorted(series_words(one) for one in stated))
        raise InputError(f"the rig states sizes in {named}; say which series to choose from: --series awg, sae or mm2")
    return next(iter(stated), "mm2")


def _is_the_vehicles(loaded: LoadedRig, slot: Slot) -> bool:
    """Return whether a place is a conductor that was in the vehicle before."""
    if slot.path[0] != "run":
        return False
    run = loaded.rig.run[int(slot.path[1])]
    return STRETCHES[RUNS[run.start, run.end]].owner == "vehicle"


def series_words(series: Series) -> str:
    """Return a series as people write it."""
    return _SERIES_WORDS.get(series, series)


def _template(loaded: LoadedRig, asked: list[Slot]) -> Built:
    """Build the circuits with a mark in every place that is asked for."""
    from wiregen.circuit.build import build

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
    from wiregen.circuit.build import build

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


def _sizes(
    series: Series, largest: ConductorSize | None, contacts: Sequence[PinoutContact] = ()
) -> tuple[ConductorSize, ...]:
    """Return the sizes to choose from, smallest first: those that every contact at their ends takes."""
    from wiregen.catalogue.conductors import standard_sizes
    from wiregen.catalogue.defaults import default

    taken = [contact.takes for contact in contacts if contact.takes is not None]
    least = max([default("smallest_chosen_area_mm2").value, *(parse_size(one.smallest).area_mm2 for one in taken)])
    usual_mm2 = default("largest_chosen_area_mm2").value
    most = min([largest.area_mm2 if largest else usual_mm2, *(parse_size(one.largest).area_mm2 for one in taken)])
    return tuple(
        one for one in standard_sizes(series) if least <= one.area_mm2 * _SAME and one.area_mm2 <= most * _SAME
    )


def _contacts(loaded: LoadedRig, template: Built) -> dict[str, list[PinoutContact]]:
    """Return the contacts on which each conductor ends, by its designation."""
    from wiregen.model.circuit import Conductor
    from wiregen.model.circuit import Contact as Mated

    found: dict[str, list[PinoutContact]] = {}
    for circuit, plug in zip(template.circuits, loaded.plugs, strict=True):
        ends: dict[str, PinoutContact] = {}
        for mated in circuit.of(Mated):
            entry = (loaded.socket if mated.connector == _SOCKET else plug).find(mated.mark)
            if entry is not None:
                ends |= {mated.a: entry, mated.b: entry}
        for wire in circuit.of(Conductor):
            found.setdefault(wire.ref, []).extend(ends[end] for end in (wire.a, wire.b) if end in ends)
    return found


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
) -> SizingProblem:
    from wiregen.catalogue.defaults import default
    from wiregen.sizing.problem import ChoiceSlot as PlanSlot
    from wiregen.sizing.problem import SizedWire, SizingProblem

    made, found = [], []
    contacts = _contacts(loaded, template)
    numbers = {number: place for place, (number, _) in enumerate(asked)}
    for place, (number, slot) in enumerate(asked):
        if slot.kind == "fuse":
            made.append(PlanSlot("fuse", _ratings(), (fuses[number].ref,)))
            continue
        ends = [contact for wire in wires[number] for contact in contacts.get(wire.ref, ())]
        options = _sizes(series, loaded.rig.run[int(slot.path[1])].largest, ends)
        if not options:
            takes = ", ".join(dict.fromkeys(f"contact {one.mark} {one.takes.words}" for one in ends if one.takes))
            message = f"{place_of(loaded, slot.path)}: no {series_words(series)} size is as small as 'largest' asks for"
            if takes:
                message += f", or all its contacts take none: {takes}. Give circuits whose contacts differ a run each"
            raise InputError(message)
        made.append(PlanSlot("size", options, tuple(wire.ref for wire in wires[number])))
        found += [
            SizedWire(wire.ref, place, wire.length_m, wire.insulation_c, wire.ambient_c, wire.bundle)
            for wire in wires[number]
        ]
    by_ref = {wire.ref: wire for wire in found}
    fuse_slots = {fuses[number].ref: numbers[number] for number in fuses if number in numbers}
    share = loaded.rig.rules.fuse_share or default("fuse_continuous_factor").value
    return SizingProblem(tuple(made), tuple(found), tuple(_guards(template, by_ref, fuse_slots)), share)


def _guards(template: Built, by_ref: Mapping[str, SizedWire], fuse_slots: Mapping[str, int]) -> Iterator[Guard]:
    """Yield every fuse with every conductor behind it, where at least one of them is to be chosen."""
    from wiregen.catalogue.ampacity import OutsideTable, ampacity_a
    from wiregen.model.circuit import Fuse
    from wiregen.sizing.problem import Guard

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


def chooser_for(
    question: SizingQuestion, effort: Effort, tell: Callable[[int, float | None], None] = lambda checks, copper_kg: None
) -> Chooser:
    """Return the chooser of a question, with the checks handed to it."""
    from wiregen.sizing.choose import Chooser

    checks = _Checks(question)
    return Chooser(question.problem, checks.glance, checks.full, checks.whole, effort, tell)


def outcome_of(question: SizingQuestion, choice: Choice) -> CheckedChoice:
    """Check a choice in every state at every corner, with every short circuit but without single faults."""
    checks = _Checks(question)
    return checks.whole(checks.glance(choice))


class _Checks:
    """Checks choices of one question. What no size and no rating changes is worked out once, with the first choice."""

    def __init__(self, question: SizingQuestion) -> None:
        self._question = question
        self._case: Case | None = None
        self._designs: dict[Choice, Design] = {}

    def glance(self, choice: Choice) -> CheckedChoice:
        """Check a choice without short circuits."""
        return self._outcome(choice, shorts=False)

    def whole(self, outcome: CheckedChoice) -> CheckedChoice:
        """Add the short circuits to a choice that was checked without."""
        return self._outcome(outcome.choice, shorts=True)

    def full(self, choice: Choice) -> tuple[Finding, ...]:
        """Return everything that the check finds, with single faults too."""
        from wiregen.check.rules import single_findings

        return single_findings(self._design(choice).case)

    def _design(self, choice: Choice) -> Design:
        from wiregen.design.design import Design

        if choice not in self._designs:
            if len(self._designs) >= _KEPT:
                del self._designs[next(iter(self._designs))]
            self._designs[choice] = Design(self._question.rig_with(choice))
        return self._designs[choice]

    def _outcome(self, choice: Choice, *, shorts: bool) -> CheckedChoice:
        from wiregen.check.rules import single_findings
        from wiregen.sizing.limits import CheckedChoice

        design = self._design(choice)
        if self._case is None:
            self._case = design.healthy_case
        short_studies = design.short_studies if shorts else (None,) * len(design.circuits)
        couplings = tuple(
            replace(
                known, circuit=circuit, study=solved.trusted(), troubles=solved.troubles(), faults=None, shorts=short
            )
            for known, circuit, solved, short in zip(
                self._case.couplings, design.circuits, design.studies, short_studies, strict=True
            )
        )
        findings = single_findings(replace(self._case, couplings=couplings))
        return CheckedChoice(choice, findings, tuple(coupling.study for coupling in couplings), is_whole=shorts)


def place_of(loaded: LoadedRig, path: KeyPath) -> str:
    """Return file and line of a key path, or the path where it has no place."""
    return str(loaded.origin(path) or ".".join(map(str, path)))
