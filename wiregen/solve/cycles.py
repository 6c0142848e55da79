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

Flags = npt.NDArray[np.bool_]


class History:
    """The patterns of coils and converters of one point, round by round.

    Args:
        elements: Coils, then converters, in the order of a pattern.
    """

    def __init__(self, elements: Sequence[Coil | Converter]) -> None:
        self._elements = elements
        self._patterns: list[Flags] = []
        self._seen: dict[bytes, int] = {}

    def repeats(self, pattern: Flags) -> str:
        """Note the next pattern; return the cycle in words when it was there before, else an empty text."""
        key = pattern.tobytes()
        if key in self._seen:
            return self._words([*self._patterns[self._seen[key] :], pattern])
        self._seen[key] = len(self._patterns)
        self._patterns.append(pattern)
        return ""

    def _words(self, cycle: Sequence[Flags]) -> str:
        steps = [self._step(before, after) for before, after in pairwise(cycle)]
        # A cycle has no first step; people start with what comes in.
        first = next((number for number, step in enumerate(steps) if step.endswith((" in", " on"))), 0)
        return f"never comes to rest: {', then '.join([*steps[first:], *steps[:first]])}, and so on"

    def _step(self, before: Flags, after: Flags) -> str:
        done: dict[str, list[str]] = {}
        for element, was, now in zip(self._elements, before, after, strict=True):
            if was != now:
                done.setdefault(_verb(element, now=bool(now)), []).append(element.ref)
        return ", ".join(f"{' and '.join(refs)} {verb}" for verb, refs in done.items())


def _verb(element: Coil | Converter, *, now: bool) -> str:
    if isinstance(element, Coil):
        return "in" if now else "out"
    return "on" if now else "off"
