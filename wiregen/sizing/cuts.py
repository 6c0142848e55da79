"""What a refused choice teaches: which other choices fall with it.

More copper never lowers the voltage at a lamp, so that a choice that is refused for a voltage takes with it all that
are worse in every respect. Whether a conductor stands a short circuit depends on all others both ways, so that this is
found beside the other sizes of a refused choice.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Final

import numpy as np

from wiregen.model.finding import Finding
from wiregen.sizing.excuses import SAME_V
from wiregen.sizing.limits import CheckedChoice, Key, Limit, Limits, key_of, limit_of, parts_named, short_a
from wiregen.sizing.problem import Choice, SizingProblem
from wiregen.sizing.search import Flags

#: A conductor that gains less than this share of what is missing does not count.
_HELPS: Final = 0.02


class Cuts:
    """Choices that will not do: each cut holds the largest options that fall, or the smallest, of some slots."""

    def __init__(self, problem: SizingProblem) -> None:
        self._counts = [len(slot.options) for slot in problem.slots]
        self._most: list[list[int]] = []
        self._least: list[list[int]] = []

    def clear(self) -> None:
        """Forget all of them."""
        self._most, self._least = [], []

    def add(self, choice: Choice, *, most: Iterable[int] = (), least: Iterable[int] = ()) -> None:
        """Cut off all choices that have, in these slots, at most or at least the option of ``choice``."""
        ceiling, floor = list(self._counts), [0] * len(self._counts)
        for slot in most:
            ceiling[slot] = choice[slot]
        for slot in least:
            floor[slot] = choice[slot]
        self._most.append(ceiling)
        self._least.append(floor)

    def hit(self, choices: Sequence[Choice], *, whole: bool) -> Flags:
        """Return which choices are cut off.

        Args:
            choices: The choices.
            whole: False where they are parts, whose open slots stand at their last option and may still take less.
        """
        made = np.asarray(choices)
        most, least = np.asarray(self._most), np.asarray(self._least)
        if not len(most):
            return np.zeros(len(made), dtype=bool)
        if not whole:
            most, least = most[(least == 0).all(axis=1)], least[:1] * 0
        is_within = (made[:, None, :] <= most) & (made[:, None, :] >= least)
        return np.asarray(np.any(np.all(is_within, axis=2), axis=1))


class Teacher:
    """Finds the cuts of refused choices.

    Args:
        problem: What is to be chosen.
        check: Checks a choice in full, short circuits too.
    """

    def __init__(self, problem: SizingProblem, check: Callable[[Choice], CheckedChoice]) -> None:
        self.problem = problem
        self.cuts = Cuts(problem)
        #: Of each slot the least option that is expected to stand every short circuit.
        self.stands: dict[int, int] = {}
        self._check = check

    def learn(self, outcome: CheckedChoice, bad: Sequence[Finding], everywhere: frozenset[Key]) -> None:
        """Cut off a refused choice and what falls with it.

        Args:
            outcome: The choice.
            bad: Findings for which it is refused.
            everywhere: Findings that the largest conductors have too: larger ones do not cure them.
        """
        sizes, choice = self.problem.sizes, outcome.choice
        shorts: list[tuple[int, Finding]] = []
        curable = [finding for finding in bad if key_of(finding) not in everywhere]
        for finding in curable:
            limit = limit_of(outcome, finding)
            own = self._sizes_named(finding)
            if limit is not None:
                self._voltage(outcome, limit)
            elif finding.rule == "conductor-current":
                self.cuts.add(choice, most=own, least=[n for n in sizes if n not in own])
            elif finding.rule.startswith("short") and own:
                shorts.append((own[-1], finding))
            else:
                self._parts(outcome, finding, own)
        if shorts:
            self._shorts(outcome, shorts)
        if not curable:
            self.cuts.add(choice, least=sizes)
        self.cuts.add(choice, most=sizes, least=sizes)

    def _voltage(self, outcome: CheckedChoice, limit: Limit) -> None:
        """Cut a voltage that is missed: the conductors on its way, where no others make up for it."""
        problem, choice = self.problem, outcome.choice
        one = Limits(problem, outcome, [limit])
        here = one.values([choice])[0, 0]
        missing = max(limit.limit - here, SAME_V)
        ends = [(*choice[:n], len(problem.slots[n].options) - 1, *choice[n + 1 :]) for n in problem.sizes]
        gains = one.values(ends)[:, 0] - here
        own = tuple(n for n, gain in zip(problem.sizes, gains, strict=True) if gain > _HELPS * missing)
        others = problem.largest(choice)
        most = tuple(choice[n] if n in own else others[n] for n in range(len(choice)))
        alone = bool(one.values([most])[0, 0] < limit.limit - 0.5 * missing)
        self.cuts.add(choice, most=own if alone else problem.sizes)

    def _shorts(self, outcome: CheckedChoice, shorts: Sequence[tuple[int, Finding]]) -> None:
        """Cut conductors that a short circuit burns, up to the sizes that just burn still.

        How much flows depends on all conductors on its way, and more of it opens the fuse sooner but heats more: what
        holds is found beside the other sizes of the refused choice, for all conductors that burn at once.
        """
        choice = outcome.choice
        tried = list(choice)
        for slot, finding in shorts:
            last = len(self.problem.slots[slot].options) - 1
            stands = min(self._stands(outcome, finding, slot), last)
            self.stands[slot] = max(self.stands.get(slot, 0), stands)
            tried[slot] = max(tried[slot], stands - 1)
        still = self._check(tuple(tried)).by_key if tuple(tried) != choice else {}
        for slot, finding in shorts:
            found = still.get(key_of(finding))
            burns = found is not None and self._sizes_named(found)[-1:] == (slot,)
            self.cuts.add(tuple(tried) if burns else choice, most=(slot,))

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

    def _parts(self, outcome: CheckedChoice, finding: Finding, own: tuple[int, ...]) -> None:
        """Cut a finding that no model knows: the conductors it names, where they alone bring it on."""
        sizes = self.problem.sizes
        if own:
            tried = list(self.problem.largest(outcome.choice))
            for number in own:
                tried[number] = outcome.choice[number]
            if key_of(finding) in self._check(tuple(tried)).by_key:
                sizes = own
        self.cuts.add(outcome.choice, most=sizes)

    def _sizes_named(self, finding: Finding) -> tuple[int, ...]:
        """Return the slots of the conductors that a finding names."""
        slots = (self.problem.by_ref[ref].slot for ref in parts_named(finding) if ref in self.problem.by_ref)
        return tuple(dict.fromkeys(slots))
