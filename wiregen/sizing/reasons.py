"""Why each chosen value is as it is: the rule that the next smaller one breaks, and what the next larger one gives.

Where a limit is known and the model is sure of it, it answers; else the smaller choice is checked. All fuses are made
smaller together, because one does not touch another's load.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from wiregen.model.finding import Finding
from wiregen.sizing.choose import Chooser, Solution
from wiregen.sizing.limits import CheckedChoice, Limit, Limits, guard_rating_a, key_of, limit_of
from wiregen.sizing.problem import Choice, ChoiceSlot, SizingProblem

#: Choices that are still checked for their reasons when time is up.
_LATE_CHECKS = 3
#: A margin that the model puts this near to nothing is checked, as a share of the limit.
_SURE = 0.002


@dataclass(frozen=True, slots=True)
class Reason:
    """Why one value is as it is.

    Attributes:
        broken: What stands against the next smaller one; None where there is none, or nothing does.
        margin: Room left under that rule with the value chosen, as a share of the limit; None where not known.
        margin_smaller: The same with the next smaller one: negative.
        margin_larger: The same with the next larger one.
        is_known: Whether there was time to find out.
    """

    broken: Finding | None = None
    margin: float | None = None
    margin_smaller: float | None = None
    margin_larger: float | None = None
    is_known: bool = field(default=True, kw_only=True)


def reasons(chooser: Chooser, solution: Solution) -> tuple[Reason, ...]:
    """Return the reason of every slot of a solution."""
    found = _Reasons(chooser, solution.outcome)
    return tuple(found.of(number) for number in range(len(solution.outcome.choice)))


class _Reasons:
    def __init__(self, chooser: Chooser, best: CheckedChoice) -> None:
        self.chooser, self.best = chooser, best
        self.problem: SizingProblem = chooser.problem
        self.limits = Limits(self.problem, best, chooser.limits_in_force())
        self._checks_left = _LATE_CHECKS

    def of(self, number: int) -> Reason:
        """Return the reason of one slot."""
        choice, slot = self.best.choice, self.problem.slots[number]
        if choice[number] == 0:
            return Reason()
        smaller = _moved(choice, number, -1)
        larger = _moved(choice, number, 1) if choice[number] + 1 < len(slot.options) else None
        if slot.kind == "size":
            known = [*self._by_voltage(smaller, larger), *self._by_current(number, smaller, larger)]
            if known:
                return min(known, key=lambda reason: reason.margin_smaller or 0.0)
        return self._checked(number, smaller, larger)

    def _by_voltage(self, smaller: Choice, larger: Choice | None) -> Iterator[Reason]:
        """Yield the known voltages that the smaller choice misses for sure."""
        if not self.limits.known:
            return
        some = [self.best.choice, smaller, *([larger] if larger else [])]
        volts = self.limits.values(some)
        for place, limit in enumerate(self.limits.known):
            finding = self.chooser.known[limit.key]
            scale = _scale(limit, finding)
            margins = [float(value) / scale for value in volts[:, place] - limit.limit]
            if margins[1] < -_SURE:
                yield Reason(replace(finding, state=limit.words), *margins)

    def _by_current(self, number: int, smaller: Choice, larger: Choice | None) -> Iterator[Reason]:
        """Yield conductors that the smaller choice would overload, and fuses it would leave too large."""
        problem, best = self.problem, self.best
        some = [best.choice, smaller, *([larger] if larger else [])]
        slot = problem.slots[number]
        for wire in (wire for wire in problem.wires if wire.slot == number):
            allowed = [wire.allowed_a(slot.size(choice[number])) for choice in some]
            finding = self.chooser.known.get(("conductor-current", "error", wire.ref))
            if finding is not None and all(allowed):
                margins = [1 - best.most_a[wire.ref] / (amps or 1.0) for amps in allowed]
                if margins[1] < -_SURE:
                    yield Reason(replace(finding, state=self._state_of(wire.ref)), *margins)
        for guard in problem.guards:
            finding = self.chooser.known.get(("fuse-conductor", "error", guard.fuse))
            if finding is None or guard.wire is None or guard.wire.slot != number:
                continue
            allowed = [guard.wire.allowed_a(slot.size(choice[number])) for choice in some]
            if all(allowed):
                rating_a = guard_rating_a(problem, guard, best.choice)
                margins = [1 - rating_a / (amps or 1.0) for amps in allowed]
                if margins[1] < 0:
                    yield Reason(finding, *margins)

    def _state_of(self, ref: str) -> str:
        """Return the state in which a conductor carries most."""
        found = [(study, np.abs(study.current_a(ref))) for study in self.best.studies if ref in study.circuit.by_ref]
        study, current = max(found, key=lambda pair: float(pair[1].max(initial=0.0)))
        return study.points[int(np.argmax(current >= current.max() - 1e-7))].words

    def _checked(self, number: int, smaller: Choice, larger: Choice | None) -> Reason:
        """Check the smaller choice, as long as there is time."""
        problem, slot = self.problem, self.problem.slots[number]
        found = self._broken_by_fuses(slot) if slot.kind == "fuse" else None
        found = found or self._broken(smaller)
        if found is None:
            return Reason(is_known=False)
        outcome, broken = found
        if not broken:
            return Reason()
        finding = min(broken, key=lambda f: (f.severity != "error", f.margin if f.margin is not None else 0.0))
        limit = limit_of(outcome, finding)
        if limit is not None:
            some = [self.best.choice, *([larger] if larger else [])]
            values = Limits(problem, self.best, [limit]).values(some)[:, 0] - limit.limit
            margins = [float(value) / _scale(limit, finding) for value in values]
            return Reason(finding, margins[0], finding.margin, margins[1] if larger else None)
        if finding.rule == "fuse-load" and key_of(finding)[2] in slot.refs:
            share = problem.fuse_share if finding.severity == "warning" else 1.0
            loads = self.best.usual_a if finding.severity == "warning" else self.best.most_a
            some = [self.best.choice, *([larger] if larger else [])]
            margins = [1 - loads[slot.refs[0]] / (share * slot.rating_a(choice[number])) for choice in some]
            return Reason(finding, margins[0], finding.margin, margins[1] if larger else None)
        return Reason(finding, None, finding.margin, None)

    def _broken_by_fuses(self, slot: ChoiceSlot) -> tuple[CheckedChoice, list[Finding]] | None:
        """Return what speaks of a fuse when every fuse is one step smaller; None where nothing does."""
        fuses = set(self.problem.fuses.values())
        choice = tuple(max(0, n - 1) if number in fuses else n for number, n in enumerate(self.best.choice))
        found = self._broken(choice)
        own = [finding for finding in found[1] if key_of(finding)[2] in slot.refs] if found else []
        return (found[0], own) if found and own else None

    def _broken(self, choice: Choice) -> tuple[CheckedChoice, list[Finding]] | None:
        """Check a choice; return what stands against it, or None where there is no time to look."""
        if self.chooser.is_over() and not self.chooser.has_seen(choice):
            if not self._checks_left:
                return None
            self._checks_left -= 1
        outcome = self.chooser.check(choice)
        return outcome, self.chooser.excuses.bad(outcome) or self.chooser.full_findings(choice)


def _scale(limit: Limit, finding: Finding) -> float:
    """Return what a margin is a share of, V: the limit of the rule where that is a voltage."""
    return finding.limit if finding.rule == "lamp-voltage" and finding.limit else abs(limit.limit) or 1.0


def _moved(choice: Choice, number: int, by: int) -> Choice:
    return (*choice[:number], choice[number] + by, *choice[number + 1 :])
