"""Relays and converters that never come to rest: what they do, round after round, in words.

What comes next depends on nothing but which coils pull and which converters run now, so once a pattern comes back the
rounds since its first time repeat for ever.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from wiregen.model.circuit import Coil, Converter
from wiregen.solve.devices import Indices

Flags = npt.NDArray[np.bool_]


class Histories:
    """The patterns of coils and converters of many points, round by round.

    Args:
        elements: Coils, then converters, in the order of a pattern.
        points: How many points there are.
    """

    def __init__(self, elements: Sequence[Coil | Converter], points: int) -> None:
        self._elements = elements
        self._points = points
        self._rounds: list[Flags] = []
        self._noted: list[Flags] = []
        self._words: dict[bytes, str] = {}

    def repeats(self, points: Indices, patterns: Flags) -> dict[int, str]:
        """Note the next pattern of some points.

        Args:
            points: The points.
            patterns: Their patterns, shape (points, elements).

        Returns:
            The cycle in words of those whose pattern was there before, by place in ``points``.
        """
        found: dict[int, int] = {}
        for number, (noted, pattern) in enumerate(zip(self._noted, self._rounds, strict=True)):
            again = noted[points] & (pattern[points] == patterns).all(axis=1)
            for place in np.flatnonzero(again):
                found.setdefault(int(place), number)
        now = np.zeros((self._points, patterns.shape[1]), dtype=bool)
        noted = np.zeros(self._points, dtype=bool)
        now[points], noted[points] = patterns, True
        self._rounds.append(now)
        self._noted.append(noted)
        return {place: self._told(int(points[place]), since) for place, since in found.items()}

    def _told(self, point: int, since: int) -> str:
        rounds = zip(self._rounds[since:], self._noted[since:], strict=True)
        cycle = np.array([pattern[point] for pattern, noted in rounds if noted[point]])
        key = len(cycle).to_bytes(2, "big") + cycle.tobytes()
        if key not in self._words:
            self._words[key] = cycle_words(self._elements, cycle)
        return self._words[key]


def cycle_words(elements: Sequence[Coil | Converter], cycle: Flags) -> str:
    """Return a cycle in words.

    Args:
        elements: Coils, then converters.
        cycle: Patterns, the last the same as the first, shape (rounds, elements).
    """
    steps = [_step(elements, before, after) for before, after in pairwise(cycle)]
    # A cycle has no first step; people start with what comes in.
    first = next((number for number, step in enumerate(steps) if step.endswith((" in", " on"))), 0)
    return f"never comes to rest: {', then '.join([*steps[first:], *steps[:first]])}, and so on"


def _step(elements: Sequence[Coil | Converter], before: Flags, after: Flags) -> str:
    done: dict[str, list[str]] = {}
    for element, was, now in zip(elements, before, after, strict=True):
        if was != now:
            done.setdefault(_verb(element, now=bool(now)), []).append(element.ref)
    return ", ".join(f"{' and '.join(refs)} {verb}" for verb, refs in done.items())


def _verb(element: Coil | Converter, *, now: bool) -> str:
    if isinstance(element, Coil):
        return "in" if now else "out"
    return "on" if now else "off"
