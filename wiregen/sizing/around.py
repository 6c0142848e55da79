"""The cheapest choice that the linear model around a checked one lets pass."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from wiregen.model.study import Array
from wiregen.sizing.cuts import Teacher
from wiregen.sizing.excuses import SAME_V
from wiregen.sizing.limits import CheckedChoice, Key, Limit, Limits, behind_fuses, within_ampacity
from wiregen.sizing.problem import Choice, SizingProblem
from wiregen.sizing.search import Flags, Found, Task, cheapest

#: Share of what may be lost by which the sums of single exchanges may be wrong, and the network with all of them.
_SUM_SLACK: Final = 0.06
_MODEL_SLACK: Final = 0.006
#: Share of what may be lost that one slot at most leaves to others by taking less itself.
_LEAVES: Final = 0.05
#: Share by which a current may differ between choices near each other.
_CURRENT_SLACK: Final = 0.01


class Around:
    """The search around one base.

    Args:
        problem: What is to be chosen.
        base: A checked choice.
        limits: Voltages that are asked for.
        teacher: What refused choices taught.
        excused: Findings that bind nothing.
        safe: Share of what may be lost that the choice is to keep free, so that it passes; None to allow for the errors
            of the model instead, so that no better one is missed.
        is_sure: Whether the result is to be a proof: the slots that are open are thought to leave the most they may.
    """

    def __init__(
        self,
        problem: SizingProblem,
        base: CheckedChoice,
        limits: Sequence[Limit],
        teacher: Teacher,
        excused: frozenset[Key],
        safe: float | None,
        is_sure: bool,
    ) -> None:
        self._problem, self._base, self._cuts = problem, base.choice, teacher.cuts
        self._limits = Limits(problem, base, limits)
        most_v = self._limits.values([problem.largest(base.choice)])[0]
        self._room = np.maximum(most_v - self._limits.least, 0.0)
        self._base_v = self._limits.values([base.choice])[0]
        slack, sum_slack, current_slack = (-safe,) * 3 if safe else (_MODEL_SLACK, _SUM_SLACK, _CURRENT_SLACK)
        self._least = self._limits.least - slack * self._room - SAME_V
        allowed = within_ampacity(problem, base, excused, current_slack)
        allowed = behind_fuses(problem, base.choice, allowed, excused)
        if safe:
            allowed = [[n for n in some if n >= teacher.stands.get(slot, 0)] for slot, some in enumerate(allowed)]
        losses, self._leaves = self._losses(allowed)
        if not is_sure:
            self._leaves = np.zeros_like(self._leaves)
        scale = np.maximum(self._room, 1e-3)
        room = self._base_v - self._limits.least + sum_slack * self._room + self._leaves.sum(axis=0) + SAME_V
        self._task = Task(problem.costs, allowed, [row / scale for row in losses], room / scale)

    def cheapest(self, below: float, is_over: Callable[[int], bool]) -> Found:
        """Search for a choice cheaper than ``below``, kg, until ``is_over``."""
        return cheapest(self._task, self._possible, self._accept, below, is_over)

    def _possible(self, choices: Sequence[Choice], still_open: Sequence[int]) -> Flags:
        more = self._leaves[list(still_open)].sum(axis=0)
        may = (self._limits.values(choices) >= self._least - more).all(axis=1)
        return np.asarray(may & ~self._cuts.hit(choices, whole=False))

    def _accept(self, choice: Choice) -> bool:
        passes = bool((self._limits.values([choice]) >= self._least).all())
        return passes and not self._cuts.hit([choice], whole=True)[0]

    def _losses(self, allowed: Sequence[Sequence[int]]) -> tuple[list[Array], Array]:
        """Return by how much each option of each slot, exchanged alone, lowers the voltage of every limit, V.

        A smaller option is said to lose no less. Where it does, because one lamp that gets less leaves more for the
        others, the second array says how much more each slot may leave, V, shape (slots, limits). Where it does by
        far, the model of a load of constant power has turned over, far from its base.
        """
        choices, counts = [], []
        for number, slot in enumerate(self._problem.slots):
            counts.append(len(slot.options))
            choices += [
                (*self._base[:number], option, *self._base[number + 1 :]) for option in range(len(slot.options))
            ]
        lost = np.split(self._base_v - self._limits.values(choices), np.cumsum(counts)[:-1])
        rising = [np.maximum.accumulate(rows[::-1])[::-1] for rows in lost]
        leaves = np.zeros((len(lost), len(self._base_v)))
        for number, (raw, rows, options) in enumerate(zip(lost, rising, allowed, strict=True)):
            fits = [n for n in options if (rows[n] - rows[-1] <= (1 + _SUM_SLACK) * self._room + SAME_V).all()]
            left = (rows - raw)[fits]
            leaves[number] = np.where(left <= _LEAVES * self._room, left, 0.0).max(axis=0, initial=0.0)
        return rising, leaves
