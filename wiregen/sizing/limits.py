"""What stands in the way of a choice: findings turned into limits that can be computed for other choices."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from wiregen.catalogue.defaults import default
from wiregen.model.circuit import Battery, Circuit, Converter, Element, Lamp, Resistor
from wiregen.model.finding import Finding
from wiregen.model.study import Array, Study
from wiregen.sizing.model import PointModel, Target
from wiregen.sizing.problem import Choice, Guard, SizedWire, SizingProblem

#: Rule, severity and place: the same verdict in other states and at other values is the same key.
Key = tuple[str, str, str]

#: Supplies are told by a voltage that another step of the check took from the same study.
_SAME_SUPPLY_V = 1e-6
#: Of the trailer's side, V: what is lost on the ground is told as a share of it.
_NOMINAL_V = 12.0
_REF = re.compile(r"-[A-Z]+\d+")


@dataclass(frozen=True)
class CheckedChoice:
    """A choice after a check.

    Attributes:
        choice: The choice.
        findings: Errors and warnings.
        studies: Solved states, one study a trailer.
        is_whole: Whether short circuits were looked at too.
    """

    choice: Choice
    findings: tuple[Finding, ...]
    studies: tuple[Study, ...]
    is_whole: bool = True

    @cached_property
    def by_key(self) -> dict[Key, Finding]:
        """Errors and warnings by key."""
        return {key_of(finding): finding for finding in self.findings if finding.severity != "notice"}

    @cached_property
    def rows(self) -> tuple[dict[str, int], ...]:
        """Row of every state and corner in words, for each study."""
        found: list[dict[str, int]] = []
        for study in self.studies:
            found.append({})
            for number, point in enumerate(study.points):
                found[-1].setdefault(point.words, number)
        return tuple(found)

    @cached_property
    def heat_a(self) -> dict[str, float]:
        """Highest current of every element at hot corners, A."""
        return self._most_a("hot")

    @cached_property
    def most_a(self) -> dict[str, float]:
        """Highest current of every element at any corner, A."""
        return self._most_a("")

    @cached_property
    def usual_a(self) -> dict[str, float]:
        """Highest current of every element at the running voltage, A."""
        return self._most_a("given")

    def _most_a(self, warmth: str) -> dict[str, float]:
        found: dict[str, float] = {}
        for study in self.studies:
            rows = np.array([warmth in ("", point.corner.warmth) for point in study.points], dtype=bool)
            most = np.abs(study.currents_a[rows]).max(axis=0, initial=0.0)
            for element, current in zip(study.circuit.elements, most, strict=True):
                found[element.ref] = max(found.get(element.ref, 0.0), float(current))
        return found


def key_of(finding: Finding) -> Key:
    """Return rule, severity and place of a finding."""
    place = finding.where.split()[0] if finding.where.startswith("-") else finding.where
    return finding.rule, finding.severity, place


def parts_named(finding: Finding) -> tuple[str, ...]:
    """Return the designations of the parts that a finding names, those it only likens to them left out."""
    return tuple(dict.fromkeys(_REF.findall(f"{finding.where} {finding.message.partition('; likewise')[0]}")))


def short_a(finding: Finding) -> float | None:
    """Return the current of a short circuit that a finding tells of, A; None where it tells none."""
    told = re.search(r": ([0-9.]+) A flow", finding.message)
    return float(told.group(1)) if told else None


@dataclass(frozen=True, slots=True)
class Limit:
    """A voltage that a finding asks for, to be computed for other choices.

    Attributes:
        key: The finding it comes from.
        case: Which trailer is coupled.
        words: State and corner in words.
        target: The voltage.
        limit: The least it may be, V.
        scale_v: The voltage of which a share of it is told, V.
    """

    key: Key
    case: int
    words: str
    target: Target
    limit: float
    scale_v: float = 0.0

    def reached_v(self, outcome: CheckedChoice) -> float | None:
        """Return the voltage in the solved states of an outcome, V; None where that state could not be solved."""
        study = outcome.studies[self.case]
        row = outcome.rows[self.case].get(self.words)
        if row is None:
            return None
        ends = (self.target.a, self.target.b), (self.target.d, self.target.c)
        volts = [float(study.voltage_v(name)[row]) for pair in ends for name in pair if name]
        return math.fsum(volts[::2]) - math.fsum(volts[1::2])


def limit_of(outcome: CheckedChoice, finding: Finding) -> Limit | None:
    """Return the limit a finding asks for; None where it is no voltage that larger conductors raise."""
    case = next((n for n, s in enumerate(outcome.studies) if s.circuit.trailer == finding.trailer), None)
    value, limit = finding.value, finding.limit
    if case is None or value is None or limit is None:
        return None
    study = outcome.studies[case]
    row = outcome.rows[case].get(finding.state)
    if row is None:
        return None
    made = Limit(key_of(finding), case, finding.state, Target("", ""), limit, abs(limit))
    if finding.rule == "ground-return":
        return _ground(made, study, row, value)
    element = study.circuit.by_ref.get(key_of(finding)[2])
    if element is None:
        return None
    return _element(made, finding, study, row, element)


def _element(made: Limit, finding: Finding, study: Study, row: int, element: Element) -> Limit | None:
    value, limit = finding.value or 0.0, finding.limit or 0.0
    own = Target(element.a, element.b)
    across = float(study.across_v(element)[row])
    if finding.rule == "lamp-voltage":
        if finding.severity == "error":
            return replace(made, target=own)
        if isinstance(element, Lamp) and element.rated_v < across + value - limit:
            # A lamp that has its rated voltage may lose more than that.
            return replace(made, target=own, limit=element.rated_v, scale_v=across + value)
        supply = _supply(study, row, across + value)
        if supply is None:
            return replace(made, target=own, limit=across + value - limit, scale_v=across + value)
        lost = replace(own, c=supply[0], d=supply[1])
        return replace(made, target=lost, limit=-limit, scale_v=across + value)
    if value >= limit:
        return None
    if finding.rule == "coil-pick-up":
        return replace(made, target=own)
    if finding.rule == "brake-magnets":
        return replace(made, target=own, limit=across * limit / value, scale_v=across * limit / value)
    if finding.rule == "supply-input" and isinstance(element, Converter):
        return replace(made, target=Target(element.a, element.common))
    return None


def _supply(study: Study, row: int, supply_v: float) -> tuple[str, str] | None:
    """Return the terminals of the supply that has a voltage, by that voltage; None where none has."""
    reference = study.circuit.reference
    for element in study.circuit.elements:
        minus = element.common if isinstance(element, Converter) else reference
        plus = element.a if isinstance(element, Battery) else element.b
        if not isinstance(element, Battery | Converter | Resistor):
            continue
        if isinstance(element, Battery) and element.zone != "vehicle":
            minus = element.b
        if abs(float(study.voltage_v(plus)[row] - study.voltage_v(minus)[row]) - supply_v) < _SAME_SUPPLY_V:
            return plus, minus
    return None


def _ground(made: Limit, study: Study, row: int, value: float) -> Limit | None:
    """Turn a resistance of the return into a voltage, at the current it was found with."""
    splices = [name for name in study.circuit.terminals if name.endswith(":ground")]
    if not splices or value <= 0:
        return None
    minus = _minus(study.circuit)
    lost = float(study.voltage_v(splices[0])[row] - study.voltage_v(minus)[row])
    allowed = max(abs(lost) * made.limit / value, default("ground_return_error_v").value)
    if lost <= 0:
        return None
    return replace(made, target=Target(minus, splices[0]), limit=-allowed, scale_v=_NOMINAL_V)


def _minus(circuit: Circuit) -> str:
    for element in circuit.elements:
        if element.zone == "adapter" and not element.channel and isinstance(element, Converter | Battery):
            return element.common if isinstance(element, Converter) else element.b
    return circuit.reference


class Limits:
    """Known limits, linear around one outcome."""

    def __init__(self, problem: SizingProblem, outcome: CheckedChoice, limits: Iterable[Limit]) -> None:
        self.problem = problem
        self.known: list[Limit] = []
        grouped: dict[tuple[int, int], list[int]] = {}
        for limit in limits:
            row = outcome.rows[limit.case].get(limit.words)
            if row is not None:
                grouped.setdefault((limit.case, row), []).append(len(self.known))
                self.known.append(limit)
        self._groups = [
            (
                PointModel(
                    problem, outcome.studies[case], row, outcome.heat_a, [self.known[n].target for n in numbers]
                ),
                numbers,
            )
            for (case, row), numbers in grouped.items()
        ]
        self.least = np.array([limit.limit for limit in self.known])

    def values(self, choices: Sequence[Choice]) -> Array:
        """Return the voltages of all known limits, V, shape (choices, limits)."""
        made = np.zeros((len(choices), len(self.known)))
        for model, numbers in self._groups if choices else ():
            made[:, numbers] = model.values(choices)
        return made


def within_ampacity(
    problem: SizingProblem, outcome: CheckedChoice, dropped: frozenset[Key], slack: float
) -> list[list[int]]:
    """Return the options of every slot that carry the currents of an outcome; of a fuse the one it has.

    Args:
        problem: What is to be chosen.
        outcome: A solved choice near the ones looked for.
        dropped: Findings that no choice avoids; they bind nothing.
        slack: Share by which a current may miss its limit, because it is that of another choice.
    """
    allowed = [
        list(range(len(slot.options))) if slot.kind == "size" else [outcome.choice[number]]
        for number, slot in enumerate(problem.slots)
    ]
    for wire in problem.wires:
        if ("conductor-current", "error", wire.ref) not in dropped:
            least_a = outcome.most_a.get(wire.ref, 0.0) * (1 - slack)
            _carrying(problem, allowed, wire, least_a)
    return allowed


def _carrying(problem: SizingProblem, allowed: list[list[int]], wire: SizedWire, least_a: float) -> None:
    size = problem.slots[wire.slot].size
    allowed[wire.slot] = [n for n in allowed[wire.slot] if (can := wire.allowed_a(size(n))) is None or can >= least_a]


def fuse_least_a(
    problem: SizingProblem, outcome: CheckedChoice, ref: str, dropped: frozenset[Key] = frozenset()
) -> float:
    """Return the least rating that carries the load of a fuse, A."""
    hard = 0.0 if ("fuse-load", "error", ref) in dropped else outcome.most_a.get(ref, 0.0)
    soft = 0.0 if ("fuse-load", "warning", ref) in dropped else outcome.usual_a.get(ref, 0.0) / problem.fuse_share
    return max(hard, soft)


def behind_fuses(
    problem: SizingProblem, choice: Choice, allowed: list[list[int]], dropped: frozenset[Key]
) -> list[list[int]]:
    """Return the options that are left for conductors behind fuses, whose ratings stand or are those of a choice."""
    for guard in problem.guards:
        if guard.wire is not None and ("fuse-conductor", "error", guard.fuse) not in dropped:
            _carrying(problem, allowed, guard.wire, guard_rating_a(problem, guard, choice))
    return allowed


def guard_rating_a(problem: SizingProblem, guard: Guard, choice: Choice) -> float:
    """Return the rating of the fuse of a guard under a choice, A."""
    if guard.fuse_slot is None:
        return guard.rating_a
    return problem.slots[guard.fuse_slot].rating_a(choice[guard.fuse_slot])


def merged(
    known: Mapping[tuple[Key, int, str], Limit], found: Iterable[Limit | None]
) -> dict[tuple[Key, int, str], Limit]:
    """Return known limits with new ones added; one that is known is replaced by its newer self."""
    return {**known, **{(limit.key, limit.case, limit.words): limit for limit in found if limit is not None}}
