"""Choose fuses and sizes: the smallest fuses that carry their load, and with them the least copper.

The check itself decides. Fuses come first, because a larger fuse protects less: each is the smallest that carries its
load, and grows only where the check then says that the wrong one opens. Then the conductors: around a solved choice a
linear model (``size_model``) tells which cheaper choices could pass; the cheapest of these is found exactly
(``size_search``), checked, and the model is made anew around it. A choice that the check refuses takes with it all that
are worse in every respect: more copper never lowers the voltage at a lamp. Whether a conductor stands a short circuit
depends on all others both ways, so that this is found beside the other sizes of a refused choice. It ends when, around
the best choice, the model lets no cheaper one through, not even with an allowance for its own error. Findings that the
largest and the smallest sizes have alike are nobody's to cure by sizes and bind nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from wiregen.errors import SolveError
from wiregen.model.finding import Finding
from wiregen.model.study import Array
from wiregen.sizing.limits import (
    CheckedChoice,
    Key,
    Limit,
    Limits,
    behind_fuses,
    fuse_least_a,
    key_of,
    limit_of,
    merged,
    parts_named,
    short_a,
    within_ampacity,
)
from wiregen.sizing.problem import Choice, SizingProblem
from wiregen.sizing.search import Task, cheapest

Check = Callable[[Choice], CheckedChoice]
FullCheck = Callable[[Choice], tuple[Finding, ...]]
#: Slots with the largest option that falls, or, for ``least``, the smallest.
Cut = tuple[frozenset[tuple[int, int]], frozenset[tuple[int, int]]]

#: Share of what may be lost by which the sums of single exchanges may be wrong, and the network with all of them.
_SUM_SLACK: Final = 0.06
_MODEL_SLACK: Final = 0.006
#: Share by which a current may differ between choices near each other.
_CURRENT_SLACK: Final = 0.01
#: Voltages nearer than this are not told apart, V.
_SAME_V: Final = 1e-7
#: A conductor that gains less than this share of what is missing does not count.
_HELPS: Final = 0.02
#: Checks before the search is given up, and for making fuses larger.
_MOST_CHECKS: Final = 300
_MOST_FUSE_CHECKS: Final = 24
_FUSE_STEPS: Final = 3
#: Rules that a larger fuse may satisfy.
_OF_SMALL_FUSES: Final = ("fuse-load", "fuse-inrush", "fuse-order")
#: Rules that speak of parts which no conductor makes larger; larger conductors touch their numbers by the way.
_OF_OTHER_PARTS: Final = frozenset(
    {
        "supply-continuous", "supply-limit", "relay-contact", "relay-inrush", "contact-current", "part-rating",
        "flasher-load", "centre-tap", "over-voltage", "fault-over-voltage", "beyond-points", "coil-over-voltage",
        "short-limited",
    }
)  # fmt: skip


@dataclass(frozen=True)
class Solution:
    """What came of it.

    Attributes:
        outcome: The choice with its check; None where no choice will do.
        unmet: Without a choice: findings that stand in the way.
        left: Findings that no choice of sizes cures.
        dropped: Their keys.
        checks: How many choices were checked.
    """

    outcome: CheckedChoice | None
    unmet: tuple[Finding, ...]
    left: tuple[Finding, ...]
    dropped: frozenset[Key]
    checks: int


class Chooser:
    """Chooses for one problem.

    Args:
        problem: What is to be chosen.
        check: Checks a choice in every state at every corner.
        full_check: Checks a choice with everything there is, single faults too.
    """

    def __init__(self, problem: SizingProblem, check: Check, full_check: FullCheck) -> None:
        self.problem = problem
        self._check = check
        self._full_check = full_check
        self._seen: dict[Choice, CheckedChoice] = {}
        self._limits: dict[tuple[Key, int, str], Limit] = {}
        #: The last finding of every key.
        self.known: dict[Key, Finding] = {}
        self._cuts: list[Cut] = []
        self._dropped: frozenset[Key] = frozenset()

    def check(self, choice: Choice) -> CheckedChoice:
        """Check a choice, each only once, and remember what it asks for."""
        if choice not in self._seen:
            if len(self._seen) >= _MOST_CHECKS:
                message = "the search for sizes was given up after many checks; state some of the sizes"
                raise SolveError(message)
            self._seen[choice] = outcome = self._check(choice)
            found = (limit_of(outcome, finding) for finding in outcome.by_key.values())
            self._limits = merged(self._limits, found)
            self.known |= outcome.by_key
        return self._seen[choice]

    def run(self) -> Solution:
        """Choose."""
        problem = self.problem
        widest = self.check(tuple(len(slot.options) - 1 for slot in problem.slots))
        large = self._with_fuses(widest) if problem.fuses else widest
        self._large = large
        thin = self.check(problem.smallest(large.choice))
        self._dropped = frozenset(set(large.by_key) & set(widest.by_key) & set(thin.by_key))
        left = tuple(finding for key, finding in large.by_key.items() if key in self._dropped)
        unmet = tuple(finding for finding in left if _is_in_the_way(finding, (thin, widest)))
        best = None if unmet else self._best(large)
        if best is None and not unmet:
            unmet = tuple(f for key, f in large.by_key.items() if key not in self._dropped) or left
        left = tuple(f for f in left if best is None or key_of(f) in best.by_key)
        return Solution(best, unmet, left, self._dropped, len(self._seen))

    def full_findings(self, choice: Choice, dropped: frozenset[Key]) -> list[Finding]:
        """Return the errors and warnings that everything there is to check finds, without those of ``dropped``."""
        found = self._full_check(choice)
        return [f for f in found if f.severity != "notice" and key_of(f) not in dropped]

    def limits_in_force(self, dropped: frozenset[Key]) -> list[Limit]:
        """Return the voltages that findings asked for, without those that no choice gives."""
        return [limit for limit in self._limits.values() if limit.key not in dropped]

    # --- fuses ---

    def _with_fuses(self, widest: CheckedChoice) -> CheckedChoice:
        """Check the largest conductors with the smallest fuses that carry their load, larger where the check asks."""
        choice = list(widest.choice)
        for ref, number in self.problem.fuses.items():
            least_a = fuse_least_a(self.problem, widest, ref)
            slot = self.problem.slots[number]
            fitting = [n for n in range(len(slot.options)) if slot.rating_a(n) >= least_a]
            choice[number] = fitting[0] if fitting else len(slot.options) - 1
        best = self.check(tuple(choice))
        tried: set[Choice] = set()
        while trial := next((t for t in self._larger_fuses(best) if t not in tried), None):
            if len(tried) >= _MOST_FUSE_CHECKS:
                break
            tried.add(trial)
            made = self.check(trial)
            if _badness(made) < _badness(best):
                best = made
        return best

    def _larger_fuses(self, outcome: CheckedChoice) -> Iterable[Choice]:
        """Yield choices with one fuse larger, by one step or some, of those that findings on fuses name."""
        named = [r for f in outcome.by_key.values() if f.rule in _OF_SMALL_FUSES for r in parts_named(f)]
        for number in dict.fromkeys(self.problem.fuses[ref] for ref in named if ref in self.problem.fuses):
            now, last = outcome.choice[number], len(self.problem.slots[number].options) - 1
            for option in range(now + 1, min(now + _FUSE_STEPS, last) + 1):
                yield (*outcome.choice[:number], option, *outcome.choice[number + 1 :])

    # --- conductors ---

    def _best(self, start: CheckedChoice) -> CheckedChoice | None:
        best: CheckedChoice | None = None
        base = start
        while True:
            choice = self._cheapest(base, self.problem.copper_kg(best.choice) if best else math.inf)
            if choice is None:
                around = best or start
                if base is around:
                    return best or self._unless_refused(start)
                base = around  # the proof is to hold around the best itself
                continue
            base = self.check(choice)
            if not self._refused(base):
                best = base

    def _unless_refused(self, start: CheckedChoice) -> CheckedChoice | None:
        """Return the largest conductors where they will do and nothing smaller was found."""
        return None if self._refused(start) else start

    def _cheapest(self, base: CheckedChoice, below: float) -> Choice | None:
        problem = self.problem
        limits = Limits(problem, base, self.limits_in_force(self._dropped))
        room = np.maximum(limits.values([self._large.choice])[0] - limits.least, 0.0)
        base_v = limits.values([base.choice])[0]
        least = limits.least - _MODEL_SLACK * room - _SAME_V
        allowed = within_ampacity(problem, base, self._dropped, _CURRENT_SLACK)
        allowed = behind_fuses(problem, base.choice, allowed, self._dropped)
        scale = np.maximum(room, 1e-3)
        task = Task(
            costs=problem.costs,
            allowed=allowed,
            losses=[row / scale for row in self._losses(limits, base.choice, base_v)],
            room=(base_v - limits.least + _SUM_SLACK * room + _SAME_V) / scale,
        )

        def possible(choice: Choice) -> bool:
            if any(not least_of and _is_cut((most, least_of), choice) for most, least_of in self._cuts):
                return False
            return bool((limits.values([choice])[0] >= least).all())

        def accept(choice: Choice) -> bool:
            return not any(_is_cut(cut, choice) for cut in self._cuts)

        return cheapest(task, possible, accept, below)

    def _losses(self, limits: Limits, base: Choice, base_v: Array) -> list[Array]:
        """Return by how much each option of each slot, exchanged alone, lowers the voltage of every limit, V."""
        choices, counts = [], []
        for number, slot in enumerate(self.problem.slots):
            counts.append(len(slot.options))
            choices += [(*base[:number], option, *base[number + 1 :]) for option in range(len(slot.options))]
        lost = np.split(base_v - limits.values(choices), np.cumsum(counts)[:-1])
        # Far from the base the model of a load of constant power may turn over: a smaller option never loses less.
        return [np.maximum.accumulate(rows[::-1])[::-1] for rows in lost]

    # --- what a refused choice teaches ---

    def _refused(self, outcome: CheckedChoice) -> bool:
        """Return whether a choice will not do; if so it is left out from now on, with all that are worse."""
        bad = [finding for key, finding in outcome.by_key.items() if key not in self._dropped]
        if bad:
            self._cuts += self._cuts_of(outcome, bad)
            self._cuts.append(_cut(outcome.choice, most=self.problem.sizes, least=self.problem.sizes))
            return True
        worse = self.full_findings(outcome.choice, self._dropped)
        if worse:
            at_best = {key_of(f) for f in self.full_findings(self._large.choice, self._dropped)}
            self._dropped |= {key_of(f) for f in worse if key_of(f) in at_best}
            worse = [f for f in worse if key_of(f) not in self._dropped]
        if worse:
            self._cuts.append(_cut(outcome.choice, most=self.problem.sizes))
        return bool(worse)

    def _cuts_of(self, outcome: CheckedChoice, bad: list[Finding]) -> list[Cut]:
        """Return which choices fall with a refused one."""
        sizes, choice = self.problem.sizes, outcome.choice
        made = []
        for finding in (f for f in bad if key_of(f) not in self._large.by_key):
            limit = limit_of(outcome, finding)
            own = self._sizes_named(finding)
            if limit is not None:
                made.append(self._cut_of_voltage(outcome, limit))
            elif finding.rule == "conductor-current":
                made.append(_cut(choice, most=own, least=tuple(n for n in sizes if n not in own)))
            elif finding.rule.startswith("short") and own:
                made.append(self._cut_of_short(outcome, finding, own))
            else:
                made.append(self._cut_of_parts(outcome, finding, own))
        return made or [_cut(choice, least=sizes)]

    def _cut_of_voltage(self, outcome: CheckedChoice, limit: Limit) -> Cut:
        """Return the cut of a voltage that is missed: of the conductors on its way, where no others make up for it."""
        problem, choice = self.problem, outcome.choice
        one = Limits(problem, outcome, [limit])
        here = one.values([choice])[0, 0]
        missing = max(limit.limit - here, _SAME_V)
        ends = [(*choice[:n], len(problem.slots[n].options) - 1, *choice[n + 1 :]) for n in problem.sizes]
        gains = one.values(ends)[:, 0] - here
        own = tuple(n for n, gain in zip(problem.sizes, gains, strict=True) if gain > _HELPS * missing)
        others = problem.largest(choice)
        most = tuple(choice[n] if n in own else others[n] for n in range(len(choice)))
        alone = bool(one.values([most])[0, 0] < limit.limit - 0.5 * missing)
        return _cut(choice, most=own if alone else problem.sizes)

    def _cut_of_short(self, outcome: CheckedChoice, finding: Finding, own: tuple[int, ...]) -> Cut:
        """Return the cut of a short circuit that burns a conductor: of this one, up to the size that just burns still.

        How much flows depends on all conductors on its way, and more of it opens the fuse sooner but heats more: what
        holds is found beside the other sizes of the refused choice.
        """
        slot = own[-1]
        last = len(self.problem.slots[slot].options) - 1
        option = min(self._stands(outcome, finding, slot), last) - 1
        choice = outcome.choice
        if option > choice[slot]:
            tried = (*choice[:slot], option, *choice[slot + 1 :])
            still = self.check(tried).by_key.get(key_of(finding))
            if still is not None and self._sizes_named(still)[-1:] == (slot,):
                choice = tried
        return _cut(choice, most=(slot,))

    def _stands(self, outcome: CheckedChoice, finding: Finding, slot: int) -> int:
        """Return the first option of a slot that is expected to stand a short."""
        options = range(outcome.choice[slot], len(self.problem.slots[slot].options))
        wire = next((w for w in self.problem.wires if w.slot == slot and w.ref in parts_named(finding)), None)
        value, limit = finding.value, finding.limit
        if wire is None or not value or not limit:
            return options[0]
        size = self.problem.slots[slot].size
        if finding.unit == "A":
            return next((n for n in options if (wire.allowed_a(size(n)) or 0.0) >= value), options[-1])
        # What a conductor stands for a time rises with the square of its area; larger ones may carry it for good.
        area_mm2 = size(options[0]).area_mm2 * math.sqrt(value / limit)
        carries = (n for n in options if (wire.allowed_a(size(n)) or 0.0) >= (short_a(finding) or math.inf))
        return min(next((n for n in options if size(n).area_mm2 >= area_mm2), options[-1]), next(carries, options[-1]))

    def _cut_of_parts(self, outcome: CheckedChoice, finding: Finding, own: tuple[int, ...]) -> Cut:
        """Return the cut of a finding that no model knows: of the conductors it names, where they alone bring it on."""
        if own:
            tried = list(self._large.choice)
            for number in own:
                tried[number] = outcome.choice[number]
            if key_of(finding) in self.check(tuple(tried)).by_key:
                return _cut(outcome.choice, most=own)
        return _cut(outcome.choice, most=self.problem.sizes)

    def _sizes_named(self, finding: Finding) -> tuple[int, ...]:
        """Return the slots of the conductors that a finding names."""
        slots = (self.problem.by_ref[ref].slot for ref in parts_named(finding) if ref in self.problem.by_ref)
        return tuple(dict.fromkeys(slots))


def _is_in_the_way(finding: Finding, probes: tuple[CheckedChoice, ...]) -> bool:
    """Return whether a finding that no choice cures depends on the sizes all the same."""
    if finding.rule in _OF_OTHER_PARTS or finding.value is None:
        return False
    others = [probe.by_key[key_of(finding)].value for probe in probes]
    return any(abs((value or 0.0) - finding.value) > 1e-3 * abs(finding.value) for value in others)


def _badness(outcome: CheckedChoice) -> tuple[int, int]:
    severities = [key[1] for key in outcome.by_key]
    return severities.count("error"), severities.count("warning")


def _cut(choice: Choice, *, most: Iterable[int] = (), least: Iterable[int] = ()) -> Cut:
    return frozenset((n, choice[n]) for n in most), frozenset((n, choice[n]) for n in least)


def _is_cut(cut: Cut, choice: Choice) -> bool:
    most, least = cut
    return all(choice[n] <= option for n, option in most) and all(choice[n] >= option for n, option in least)
