"""Findings that no choice avoids: they bind nothing, but what they miss is not given up."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from wiregen.model.finding import Finding
from wiregen.sizing.limits import CheckedChoice, Key, Limit, key_of, limit_of

#: Share of a voltage by which a limit that even the largest conductors miss may be missed by more than these miss it;
#: of another error the share of its limit.
_NEAR: Final = 0.02
#: Voltages nearer than this are not told apart, V.
SAME_V: Final = 1e-7


class Excuses:
    """What is excused, beside the outcome that shows how much can be reached."""

    def __init__(self) -> None:
        self.keys: frozenset[Key] = frozenset()
        self._reference: CheckedChoice | None = None

    def add(self, reference: CheckedChoice, keys: Iterable[Key]) -> None:
        """Excuse findings; the voltages that they miss are to stay near those of the reference."""
        self.keys |= frozenset(keys)
        self._reference = reference

    @property
    def reference_keys(self) -> frozenset[Key]:
        """Findings of the reference."""
        return frozenset(self._reference.by_key if self._reference else ())

    def least_v(self, limit: Limit) -> float:
        """Return the least that a voltage may be, V: near what the reference reaches, where that misses it."""
        if limit.key not in self.keys or self._reference is None:
            return limit.limit
        reached_v = limit.reached_v(self._reference)
        return limit.limit if reached_v is None else min(limit.limit, reached_v - _NEAR * limit.scale_v)

    def bad(self, outcome: CheckedChoice) -> list[Finding]:
        """Return the findings for which a choice is refused."""
        return [finding for finding in outcome.by_key.values() if not self._is_excused(outcome, finding)]

    def _is_excused(self, outcome: CheckedChoice, finding: Finding) -> bool:
        key = key_of(finding)
        if key not in self.keys:
            return False
        limit = limit_of(outcome, finding)
        if limit is None:
            return key[1] != "error" or self._is_near(finding)
        reached_v = limit.reached_v(outcome)
        return reached_v is None or reached_v >= self.least_v(limit) - SAME_V

    def _is_near(self, finding: Finding) -> bool:
        """Return whether an error that is no voltage misses its limit by hardly more than that of the reference."""
        known = self._reference.by_key.get(key_of(finding)) if self._reference else None
        if known is None or known.margin is None or finding.margin is None:
            return True
        return finding.margin >= known.margin - _NEAR * max(1.0, -known.margin)
