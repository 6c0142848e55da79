"""What stands in the way of a rule that no choice keeps: wires that are stated and may not be changed, above all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from wiregen.catalogue.conductors import resistance_per_m, standard_sizes
from wiregen.model.circuit import Circuit, Conductor
from wiregen.model.finding import Finding
from wiregen.model.origin import Origin
from wiregen.model.stretch import STRETCHES
from wiregen.quantity import Series
from wiregen.sizing.limits import CheckedChoice, Limit, key_of, limit_of, parts_named
from wiregen.sizing.model import PointModel
from wiregen.sizing.problem import SizingProblem

#: Obstacles named for one finding, and the share of what is missing that one must give to be named.
_MOST: Final = 3
_COUNTS: Final = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """Wires of one run that stand in the way of a rule.

    Attributes:
        refs: Their designations.
        words: What they are, in words.
        size: Their size.
        origin: Where the rig file states it; None where it does not.
        is_chosen: Whether the size was chosen, and is the largest that may be.
        gain: What the rule would gain if they had no resistance, as a share of its limit; None where it is no voltage.
        enough: The smallest size that alone would cure it; empty where none does, or where it is no voltage.
    """

    refs: tuple[str, ...]
    words: str
    size: str
    origin: Origin | None
    is_chosen: bool
    gain: float | None
    enough: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """A rule that no choice keeps.

    Attributes:
        finding: What the check says of the choice that comes nearest.
        share: What is missing, as a share of the limit; None for a verdict without a number.
        obstacles: What stands in the way, the worst first.
    """

    finding: Finding
    share: float | None
    obstacles: tuple[Obstacle, ...]


def missing(
    problem: SizingProblem, outcome: CheckedChoice, findings: Iterable[Finding], series: Series
) -> tuple[Missing, ...]:
    """Return by how much each of some findings of a choice misses its limit, and what stands in the way.

    Args:
        problem: What was to be chosen.
        outcome: The choice.
        findings: Findings of it.
        series: Series of the sizes to name as a cure.
    """
    made = []
    for finding in findings:
        limit = limit_of(outcome, finding)
        found = _by_voltage(problem, outcome, finding, limit, series) if limit else _named(problem, outcome, finding)
        share = None if finding.margin is None else max(0.0, -finding.margin)
        made.append(Missing(finding=finding, share=share, obstacles=found))
    return tuple(made)


def _by_voltage(
    problem: SizingProblem, outcome: CheckedChoice, finding: Finding, limit: Limit, series: Series
) -> tuple[Obstacle, ...]:
    """Return the wires that cannot be larger, by the voltage that their resistance takes."""
    study, row = outcome.studies[limit.case], outcome.rows[limit.case][limit.words]
    model = PointModel(problem, study, row, outcome.heat_a, [limit.target])
    reached_v = limit.reached_v(outcome) or 0.0
    missing_v = limit.limit - reached_v
    scale_v = _scale_v(finding, limit, reached_v)
    groups = _runs(wire for wire in study.circuit.of(Conductor) if _is_fixed(problem, outcome, wire.ref))
    gains = [float(model.gain(wires)[0]) for wires in groups]
    order = sorted(range(len(groups)), key=lambda n: -gains[n])
    return tuple(
        _obstacle(problem, groups[n], gains[n] / scale_v, _enough(model, groups[n], missing_v, series))
        for n in order[:_MOST]
        if gains[n] > _COUNTS * missing_v
    )


def _scale_v(finding: Finding, limit: Limit, reached_v: float) -> float:
    """Return the voltage that is the whole limit of a finding, V: it may be given as another unit."""
    if finding.rule == "lamp-voltage" and finding.limit:
        return abs(finding.limit)
    if finding.unit == "ohm" and finding.value and finding.limit:
        return abs(reached_v) * finding.limit / finding.value
    return abs(limit.limit)


def _named(problem: SizingProblem, outcome: CheckedChoice, finding: Finding) -> tuple[Obstacle, ...]:
    """Return the wires that cannot be larger among the parts that a finding names."""
    circuit = _circuit(outcome, finding)
    named = [circuit.by_ref[ref] for ref in parts_named(finding) if circuit and ref in circuit.by_ref]
    wires = (one for one in named if isinstance(one, Conductor) and _is_fixed(problem, outcome, one.ref))
    return tuple(_obstacle(problem, run, None, "") for run in _runs(wires))


def _circuit(outcome: CheckedChoice, finding: Finding) -> Circuit | None:
    place = key_of(finding)[2]
    circuits = [study.circuit for study in outcome.studies]
    coupled = [circuit for circuit in circuits if circuit.trailer == finding.trailer]
    return next(iter(coupled or [circuit for circuit in circuits if place in circuit.by_ref]), None)


def _is_fixed(problem: SizingProblem, outcome: CheckedChoice, ref: str) -> bool:
    """Return whether a wire has no larger option: its size is stated, or the largest that may be chosen."""
    wire = problem.by_ref.get(ref)
    return wire is None or outcome.choice[wire.slot] + 1 == len(problem.slots[wire.slot].options)


def _runs(wires: Iterable[Conductor]) -> list[list[Conductor]]:
    """Return wires by the run that gives them their size, feeds and returns apart."""
    found: dict[tuple[object, ...], list[Conductor]] = {}
    for wire in wires:
        key = (wire.stretch, wire.origin, wire.circuit.startswith("ground"), wire.size.label)
        found.setdefault(key, []).append(wire)
    return list(found.values())


def _enough(model: PointModel, wires: Sequence[Conductor], missing_v: float, series: Series) -> str:
    """Return the smallest size that gives what is missing; empty where none does."""
    now = resistance_per_m(wires[0].size, 20.0).ohm_per_m
    for size in standard_sizes(series):
        left = resistance_per_m(size, 20.0).ohm_per_m / now
        if left < 1 and model.gain(wires, left)[0] >= missing_v:
            return size.label
    return ""


def _obstacle(problem: SizingProblem, wires: Sequence[Conductor], gain: float | None, enough: str) -> Obstacle:
    first = wires[0]
    stretch = STRETCHES[first.stretch]
    wire = "ground wire" if first.circuit.startswith("ground") else "wire"
    whose = wire if stretch.owner == "adapter" else f"{stretch.owner}'s {wire}"
    return Obstacle(
        refs=tuple(one.ref for one in wires),
        words=f"the {whose} {stretch.words}",
        size=first.size.label,
        origin=first.origin,
        is_chosen=first.ref in problem.by_ref,
        gain=gain,
        enough=enough,
    )
