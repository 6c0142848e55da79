"""From a user's words to a setting of the controls, ``service lights, brake``, or to a corner, ``battery low, hot``."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import replace
from typing import Final

from wiregen.errors import InputError, Problem, guess
from wiregen.model.corner import NOMINAL, Corner, SupplyLevel, Warmth
from wiregen.model.state import CONTROLS, Controls, Position

#: What each accepted word sets: a control, and the position it is to stand in.
_WORDS: Final = {
    word: (control, position)
    for control in CONTROLS
    for position in control.positions
    for word in (position.words, *position.also)
}
_REST: Final = ("all off", "off")
_HALF: Final = re.compile(r"\s*\((lit|dark) half of the flash\)\s*$")
#: Words of ``Controls.words``, in its order: what a message lists.
_CHIEF: Final = tuple(position.words for control in CONTROLS for position in control.positions)
_SUPPLIES: Final[dict[str, SupplyLevel]] = {
    "battery low": "low",
    "low": "low",
    "running voltage": "running",
    "running": "running",
    "charging high": "charging",
    "charging": "charging",
}
_WARMTHS: Final[dict[str, Warmth]] = {"cold": "cold", "hot": "hot"}


def states_from(text: str, signals: Collection[str]) -> tuple[Controls, tuple[bool, ...]]:
    """Read a state from a comma list of control names, as ``Controls.words`` and ``State.words`` write it.

    Args:
        text: What the user wrote; ``(lit half of the flash)`` behind it picks one half.
        signals: Control signals the vehicle reacts to.

    Returns:
        The setting, and which halves of the flash are wanted: lit, dark or both.

    Raises:
        InputError: A word is not known, a control is asked to be in two places, or the vehicle has no such control.
    """
    half = _HALF.search(text)
    halves = (True, False) if half is None else (half[1] == "lit",)
    words = [" ".join(word.lower().split()) for word in _HALF.sub("", text).split(",")]
    problems: list[Problem] = []
    controls, said = Controls(), dict[str, tuple[str, Position]]()
    for word in words:
        if word in _REST:
            continue
        if word not in _WORDS:
            problems.append(Problem(_unknown(word)))
            continue
        control, position = _WORDS[word]
        before = said.get(control.name)
        if position.signal not in signals:
            problems.append(Problem(f"--state {word!r}: nothing on this vehicle's socket or taps reacts to it"))
        elif before is not None and before[1] != position:
            problems.append(Problem(f"--state: {before[0]!r} and {word!r} cannot both hold"))
        said[control.name] = word, position
        controls = replace(controls, **{control.name: position.value})  # type: ignore[arg-type]
    if said and any(word in _REST for word in words):
        first = next(iter(said.values()))[0]
        problems.append(Problem(f"--state: 'all off' and {first!r} cannot both hold"))
    if problems:
        raise InputError(problems)
    return controls, halves


def _unknown(word: str) -> str:
    wanted = f"Allowed: all off, or a comma list of {', '.join(_CHIEF)}"
    if not word:
        return f"--state: a control name is missing. {wanted}"
    return f"--state {word!r} is no control{guess(word, (*_WORDS, *_REST))} {wanted}"


def corner_from(text: str) -> Corner:
    """Read a corner as ``Corner.words`` writes it: ``battery low, hot``; ``nominal`` for what charts are made for.

    Raises:
        InputError: A word is not known, or two of them contradict each other.
    """
    supply: SupplyLevel | None = None
    warmth: Warmth | None = None
    for word in (" ".join(word.lower().split()) for word in text.split(",")):
        if word == "nominal":
            continue
        if word in _SUPPLIES and supply in (None, _SUPPLIES[word]):
            supply = _SUPPLIES[word]
        elif word in _WARMTHS and warmth in (None, _WARMTHS[word]):
            warmth = _WARMTHS[word]
        elif word in _SUPPLIES or word in _WARMTHS:
            raise InputError(f"--corner {text!r} names two corners at once")
        else:
            allowed = (*_SUPPLIES, *_WARMTHS, "nominal")
            raise InputError(
                f"--corner {word!r} is no corner{guess(word, allowed)} Allowed: battery low, running voltage or "
                "charging high; behind it, after a comma, cold or hot; or nominal"
            )
    return Corner(supply or NOMINAL.supply, warmth or NOMINAL.warmth)
