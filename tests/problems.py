"""What a rig text is refused for, and a pinout of a user's own, for tests of loading."""

from pathlib import Path

import pytest

from tests.rigs import load
from wiregen.errors import InputError, Problem

OWN = {
    "title": "Round plug of the boathouse",
    "short": "boathouse plug",
    "shell": "boathouse 4",
    "voltage_v": [12],
    "stop_turn": "combined",
    "source_titles": {"BOAT": "chalk marks on the boathouse door"},
    "contact": [
        {"mark": mark, "circuit": circuit, "function": circuit, "sources": ["BOAT"], "support": "one"}
        for mark, circuit in (("a", "ground"), ("b", "tail"), ("c", "stop_turn_left"), ("d", "stop_turn_right"))
    ],
}


def problems(text: str, beside: Path | None = None) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as caught:
        load(text, beside)
    return caught.value.problems


def only(text: str) -> Problem:
    (one,) = problems(text)
    return one


def marked(one: Problem, index: int = 0) -> str:
    """The text that the caret lies under."""
    place = one.marks[index]
    return place.source_line[place.column - 1 : place.column - 1 + place.length]
