"""Choose fuses and sizes: the smallest fuses that carry their load, and with them the least copper.

The check itself decides, and in this order: errors, then warnings, then copper. Fuses come first, because a larger fuse
protects less: each is the smallest that carries its load, and grows only where a check then says that the wrong one
opens. Then the conductors: around a solved choice a linear model (``model``) tells which cheaper choices could pass.
The cheapest of these is found exactly (``search``), checked, and the model is made anew around it. What a refused
choice teaches (``cuts``) is left out from then on. The choice is proved when, around it, the model lets no cheaper one
through, not even with an allowance for its own error. Where time is up before, the best so far stands, with the bound
that the search has reached.

Findings that no choice avoids are excused: they bind nothing, but a voltage that is missed even by the largest
conductors is not given up: it stays near what these reach.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Final

from wiregen.check.rules import RULES
from wiregen.model.finding import Finding
from wiregen.model.rule import Cure
from wiregen.sizing.around import Around
from wiregen.sizing.cuts import Teacher
from wiregen.sizing.excuses import Excuses
from wiregen.sizing.limits import (
    CheckedChoice,
    Key,
    Limit,
    fuse_least_a,
    key_of,
    limit_of,
    merged,
    parts_named,
)
from wiregen.sizing.problem import Choice, SizingProblem
from wiregen.sizing.search import SearchResult

Check = Callable[[Choice], CheckedChoice]
FullCheck = Callable[[Choice], tuple[Finding, ...]]

#: Share of what may be lost that a choice keeps free which is to pass at once; doubled each time it does not.
_SAFE: Final = 0.01
#: Refusals in a row before such a choice is tried.
_PATIENCE: Final = 2
#: Steps that every search may make, however late it is.
_FEW_STEPS: Final = 200
#: Rounds in which fuses that findings name are made larger before the conductors are chosen.
_FUSE_ROUNDS: Final = 4
_CURES: Final[dict[str, Cure]] = {rule.info.id: rule.info.cure for rule in RULES}


def cure_of(finding: Finding) -> Cure:
    """Return what cures a finding, as its rule says."""
    return _CURES.get(finding.rule, "sizes")


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to look for less copper.

    Attributes:
        checks: So many choices are checked in any case.
        seconds: Time until which the search goes on, s; None to count only checks and steps, which gives the same
            answer on every machine.
        steps: Steps of all searches between checks, where no time is given.
        faults: Whether the choice is checked with every single fault too.
    """

    checks: int = 15
    seconds: float | None = None
    steps: int = 20_000
    faults: bool = True


@dataclass(frozen=True)
class Solution:
    """What came of it.

    Attributes:
        outcome: The choice with its check.
        unmet: Errors of it that sizes or fuses could cure, but no choice does.
        left: Its other findings: no choice of sizes cures them.
        excused: Findings that no choice avoids, by key.
        checks: How many choices were checked.
        bound_kg: With these fuses no choice that does as well has less copper, kg.
        is_proved: Whether none has less than this one.
    """

    outcome: CheckedChoice
    unmet: tuple[Finding, ...]
    left: tuple[Finding, ...]
    excused: frozenset[Key]
    checks: int
    bound_kg: float
    is_proved: bool


class Chooser:
    """Chooses for one problem.

    Args:
        problem: What is to be chosen.
        check: Checks a choice in every state at every corner.
        full_check: Checks a choice with everything there is, single faults too.
        whole: Adds short circuits to an outcome that was checked without.
        effort: How long to look.
        tell: Told the number of checks and the least copper so far, kg, after every check.
    """

    def __init__(
        self,
        problem: SizingProblem,
        check: Check,
        full_check: FullCheck,
        whole: Callable[[CheckedChoice], CheckedChoice] = lambda outcome: outcome,
        effort: Effort = Effort(),
        tell: Callable[[int, float | None], None] = lambda checks, copper_kg: None,
    ) -> None:
        self.problem = problem
        self._look, self._full_check, self._add_shorts = check, full_check, whole
        self._effort, self._tell = effort, tell
        self._started = time.monotonic()
        self._steps = 0
        self._seen: dict[Choice, CheckedChoice] = {}
        self._limits: dict[tuple[Key, int, str], Limit] = {}
        #: The last finding of every key.
        self.known: dict[Key, Finding] = {}
        self._teacher = Teacher(problem, self.check)
        self.excuses = Excuses()
        self._accepted: list[CheckedChoice] = []
        self._bound_kg, self._is_proved = 0.0, False
        self._is_lowered = self._is_alone = False

    def check(self, choice: Choice) -> CheckedChoice:
        """Check a choice with all its short circuits, each only once, and remember what it asks for."""
        outcome = self._glance(choice)
        if not outcome.is_whole:
            self._seen[choice] = outcome = self._remember(self._add_shorts(outcome))
        return outcome

    def has_seen(self, choice: Choice) -> bool:
        """Return whether a choice was checked before."""
        return choice in self._seen

    def _glance(self, choice: Choice) -> CheckedChoice:
        """Check a choice without short circuits, unless they are known."""
        if choice not in self._seen:
            self._seen[choice] = self._remember(self._look(choice))
            self._tell(len(self._seen), self.problem.copper_kg(self._best.choice) if self._best else None)
        return self._seen[choice]

    def _remember(self, outcome: CheckedChoice) -> CheckedChoice:
        found = (limit_of(outcome, finding) for finding in outcome.by_key.values())
        self._limits = merged(self._limits, found)
        self.known |= outcome.by_key
        return outcome

    def run(self) -> Solution:
        """Choose."""
        problem = self.problem
        large = self._with_fuses()
        self.excuses.add(large, self._unavoidable(large))
        self._search(large)
        if self._best is None:
            nearest = min((o for o in self._seen.values() if o.is_whole), key=self._badness)
            self._teacher.cuts.clear()
            self.excuses.add(nearest, nearest.by_key)
            self._search(nearest)
        best = self._best or large
        found = [(finding, cure_of(finding)) for finding in best.by_key.values()]
        unmet = tuple(f for f, cure in found if f.severity == "error" and cure != "nothing")
        left = tuple(f for f, cure in found if f not in unmet)
        copper_kg = problem.copper_kg(best.choice)
        bound_kg = copper_kg if self._is_proved else min(self._bound_kg, copper_kg)
        return Solution(best, unmet, left, self.excuses.keys, len(self._seen), bound_kg, self._is_proved)

    def _unavoidable(self, large: CheckedChoice) -> list[Key]:
        """Return the findings of the largest conductors that bind nothing: no size cures them, or no error they are."""
        errors = [key for key, f in large.by_key.items() if key[1] == "error" and cure_of(f) != "nothing"]
        thin = self._glance(self.problem.smallest(large.choice))
        everywhere = {(rule, place) for rule, _, place in thin.by_key}
        if any((rule, place) not in everywhere for rule, _, place in errors):
            everywhere = {(rule, place) for rule, _, place in self.check(thin.choice).by_key}
        return [key for key in large.by_key if key not in errors or (key[0], key[2]) in everywhere]

    def _badness(self, outcome: CheckedChoice) -> tuple[float, int, int, float]:
        """Return by how much a choice fails: what its errors miss as shares of their limits, then how often."""
        errors = [finding for finding in outcome.by_key.values() if finding.severity == "error"]
        missed = math.fsum(1.0 if finding.margin is None else min(1.0, -finding.margin) for finding in errors)
        warnings = len(outcome.by_key) - len(errors)
        return missed, len(errors), warnings, self.problem.copper_kg(outcome.choice)

    # --- what the checks found ---

    def limits_in_force(self) -> list[Limit]:
        """Return the voltages that findings asked for, each with the least it may be."""
        return [replace(limit, limit=self.excuses.least_v(limit)) for limit in self._limits.values()]

    def full_findings(self, choice: Choice) -> list[Finding]:
        """Return the errors and warnings, not excused, that only a check with single faults finds."""
        known = self.check(choice).by_key
        found = self._full_check(choice)
        return [
            f for f in found if f.severity != "notice" and key_of(f) not in known and key_of(f) not in self.excuses.keys
        ]

    # --- effort ---

    def is_over(self) -> bool:
        """Return whether to stop with what is there."""
        return len(self._seen) >= self._effort.checks and (self._effort.seconds is None or self._is_late())

    def _is_late(self) -> bool:
        return self._effort.seconds is not None and time.monotonic() - self._started >= self._effort.seconds

    # --- fuses ---

    def _with_fuses(self) -> CheckedChoice:
        """Check the largest conductors with the smallest fuses that carry their load, larger where the check asks."""
        problem = self.problem
        widest = tuple(len(slot.options) - 1 for slot in problem.slots)
        if not problem.fuses:
            return self.check(widest)
        loaded = self._glance(widest)
        choice = list(widest)
        for ref, number in problem.fuses.items():
            choice[number] = self._first_rating(loaded, ref, number)
        first = made = best = self.check(tuple(choice))
        for _ in range(_FUSE_ROUNDS):
            tried = self._raised(made, made.by_key.values())
            if tried is None:
                break
            made = self.check(tried)
            best = min(best, made, key=self._badness)
        helpful = self._without_idle(first, made)
        return min(best, self.check(helpful), key=self._badness) if helpful else best

    def _first_rating(self, outcome: CheckedChoice, ref: str, number: int) -> int:
        """Return the smallest option of a fuse that carries what it carries in an outcome."""
        return self.problem.slots[number].first_rating(fuse_least_a(self.problem, outcome, ref))

    def _raised(self, outcome: CheckedChoice, findings: Iterable[Finding]) -> Choice | None:
        """Return a choice with every fuse larger that findings of small fuses name; None where there is none."""
        choice = list(outcome.choice)
        for finding in findings:
            for ref in _named_fuses(finding):
                number = self.problem.fuses.get(ref)
                if number is not None and outcome.choice[number] + 1 < len(self.problem.slots[number].options):
                    choice[number] = max(outcome.choice[number] + 1, self._first_rating(outcome, ref, number))
        return tuple(choice) if tuple(choice) != outcome.choice else None

    def _without_idle(self, before: CheckedChoice, after: CheckedChoice) -> Choice | None:
        """Return the choice after fuses were raised, those back again that cured nothing; None where it is no other."""
        gone = [finding for key, finding in before.by_key.items() if key not in after.by_key]
        helpful = {ref for finding in gone for ref in _named_fuses(finding)}
        kept = list(after.choice)
        for ref, number in self.problem.fuses.items():
            if ref not in helpful:
                kept[number] = before.choice[number]
        return tuple(kept) if tuple(kept) not in (before.choice, after.choice) else None

    # --- conductors ---

    def _search(self, start: CheckedChoice) -> None:
        """Look for less copper than the start has, until it is proved that none has less or time is up."""
        self._accepted = [] if self._refused(start) else [start]
        base: CheckedChoice | None = start
        refusals, safe = 0, _SAFE
        while base is not None and not self.is_over():
            is_safe = refusals >= _PATIENCE
            found = self._cheapest(base, safe if is_safe else None)
            if found.choice is not None:
                base = self._tried(found.choice)
                if base is self._best:
                    refusals, safe = 0, _SAFE
                elif is_safe:
                    safe *= 2
                else:
                    refusals += 1
            elif is_safe:
                base, refusals = (None if self._is_spent() else base), 0
            elif not found.is_whole and self._is_spent():
                refusals = _PATIENCE  # no time for the cheapest: at least one that passes
            else:
                base = self._other_base(base, start, found)
        while self._best is not None and self._is_harmed(self._best, start):
            self._accepted.pop()

    @property
    def _best(self) -> CheckedChoice | None:
        return self._accepted[-1] if self._accepted else None

    def _tried(self, choice: Choice) -> CheckedChoice:
        """Check a choice; where it is refused for fuses, raise them, and check it again."""
        tried = self._glance(choice)
        if not self._refused(tried):
            return self._accept(choice)
        raised = None if self._is_lowered else self._raised(tried, self.excuses.bad(tried))
        if raised is None:
            return tried
        self._teacher.cuts.clear()  # a larger fuse loses less
        self._bound_kg = 0.0
        tried = self.check(raised)
        return tried if self._refused(tried) else self._accept(raised)

    def _accept(self, choice: Choice) -> CheckedChoice:
        accepted = self.check(choice)
        self._accepted.append(accepted)
        self.excuses.keys &= accepted.by_key.keys()  # what one choice avoids, a cheaper one must not bring back
        return accepted

    def _other_base(self, base: CheckedChoice, start: CheckedChoice, found: SearchResult) -> CheckedChoice | None:
        """Return where to look on when around a base nothing cheaper was found; None at the end of the search."""
        around = self._around(base, start)
        if base is not around:
            return around  # a proof is to hold around the best itself
        if self._best is None:
            return None
        if base is start and not self._is_alone:
            self._is_alone = True
            return start
        if self._is_harmed(self._best, start):
            self._accepted.pop()
            return self._best or start
        if (smaller := self._with_smaller_fuses(self._best)) is not None:
            return smaller
        self._is_proved = found.is_whole and base is self._best
        return None

    def _with_smaller_fuses(self, best: CheckedChoice) -> CheckedChoice | None:
        """Return the best choice with smaller fuses where they carry less now than with the largest conductors.

        None where none can be smaller. It is asked once only; from then on no fuse grows again for thinner conductors.
        """
        carries = {n: self._first_rating(best, ref, n) for ref, n in self.problem.fuses.items()}
        while not self._is_lowered and any(option < best.choice[n] for n, option in carries.items()):
            choice = tuple(min(option, carries.get(n, option)) for n, option in enumerate(best.choice))
            tried = self.check(choice)
            named = {ref for finding in self.excuses.bad(tried) for ref in parts_named(finding)}
            if not named:
                self._is_lowered = True
                self._teacher.cuts.clear()
                self._bound_kg = 0.0
                return self._accept(choice)
            kept = {n: carries[n] for ref, n in self.problem.fuses.items() if n in carries and ref not in named}
            if len(kept) == len(carries):
                break
            carries = kept
        self._is_lowered = True
        return None

    def _around(self, base: CheckedChoice, start: CheckedChoice) -> CheckedChoice:
        """Return the outcome around which a proof is to hold: the best with the fuses that stand now."""
        around = self._best or start
        fuses = set(self.problem.fuses.values())
        if all(around.choice[number] == base.choice[number] for number in fuses):
            return around
        return self.check(self.problem.largest(base.choice))

    def _is_spent(self, more: int = 0) -> bool:
        """Return whether no search is to go on, with so many steps made since the last one ended."""
        return self._is_late() if self._effort.seconds is not None else self._steps + more >= self._effort.steps

    def _is_harmed(self, outcome: CheckedChoice, start: CheckedChoice) -> bool:
        """Return whether single faults do harm with this choice that they do not do with the start."""
        worse = self.full_findings(outcome.choice) if self._effort.faults and outcome is not start else []
        if worse:
            self.excuses.keys |= {key_of(finding) for finding in self.full_findings(start.choice)}
            worse = [finding for finding in worse if key_of(finding) not in self.excuses.keys]
        if not worse:
            return False
        self._teacher.cuts.add(outcome.choice, most=self.problem.sizes)
        return True

    def _cheapest(self, base: CheckedChoice, safe: float | None) -> SearchResult:
        """Return the cheapest choice that the model around a base lets pass, and the bound that this proves."""

        def is_over(steps: int) -> bool:
            return steps > _FEW_STEPS and self._is_spent(steps)

        # Far from the best a proof costs much and proves little: around the start only where it is the best itself.
        is_sure = safe is None and base is self._best and (len(self._accepted) > 1 or self._is_alone)
        around = Around(self.problem, base, self.limits_in_force(), self._teacher, self.excuses.keys, safe, is_sure)
        found = around.cheapest(self.problem.copper_kg(self._best.choice) if self._best else math.inf, is_over)
        self._steps += found.steps
        if is_sure and (found.is_whole or found.bound > self._bound_kg):
            self._bound_kg = found.bound  # the nearer the base, the better the bound
        return found

    def _refused(self, outcome: CheckedChoice) -> bool:
        """Return whether a choice will not do; if so it is left out from now on, with all that are worse."""
        bad = self.excuses.bad(outcome)
        if not bad and not outcome.is_whole:
            outcome = self.check(outcome.choice)
            bad = self.excuses.bad(outcome)
        if bad:
            self._teacher.learn(outcome, bad, self.excuses.reference_keys - self.excuses.keys)
        return bool(bad)


def _named_fuses(finding: Finding) -> tuple[str, ...]:
    """Return the fuses that a larger rating of may cure a finding; of two in series the one in front."""
    if cure_of(finding) != "fuses" or finding.rule.startswith("short"):
        return ()  # a short wants a smaller one
    named = parts_named(finding)
    return named[1:] if finding.rule == "fuse-order" else named[:1]
