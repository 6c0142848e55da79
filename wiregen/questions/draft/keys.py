"""The keys under which answers may be given beforehand: found by asking, so that none can be missing or left over."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Final

from wiregen.catalogue.connector import Connector
from wiregen.errors import InputError, Problem, nearest
from wiregen.questions.draft.answers import MOST_TRAILERS, is_trailer_plug, is_vehicle_socket
from wiregen.questions.draft.questions import Question, questions

#: Keys of a second trailer and so on are those of the first one with another number.
_NUMBERED: Final = re.compile(rf"^trailer\.[1-{MOST_TRAILERS}]\.")


def answer_keys(pinouts: Mapping[str, Connector]) -> tuple[Question, ...]:
    """Return every question that any answers lead to, in the order they come; of the trailers the first one's.

    Args:
        pinouts: Every pinout that may be chosen, by name.
    """
    sockets = [name for name, pinout in pinouts.items() if is_vehicle_socket(pinout)]
    plugs = [name for name, pinout in pinouts.items() if is_trailer_plug(pinout)]
    pairs = [*((socket, plugs[0]) for socket in sockets), *((sockets[0], plug) for plug in plugs)]
    found: list[Question] = []
    for socket, plug in dict.fromkeys(pairs):
        place = 0
        for question in _interview(socket, plug, pinouts):
            keys = [one.key for one in found]
            if question.key not in keys:
                found.insert(place, question)
            place = [one.key for one in found].index(question.key) + 1
    return tuple(found)


def _interview(socket: str, plug: str, pinouts: Mapping[str, Connector]) -> Iterable[Question]:
    """Yield the questions that come for a socket and a plug when the default is taken for all others."""
    given: dict[str, str] = {}
    for question in questions(given, pinouts):
        yield question
        given[question.key] = {"socket": socket, "trailer.1.plug": plug}.get(question.key, "")


def refuse_strangers(given: Iterable[str], pinouts: Mapping[str, Connector]) -> None:
    """Raise for keys that no question has, before anything is asked.

    Args:
        given: The keys.
        pinouts: Every pinout that may be chosen, by name.

    Raises:
        InputError: With the nearest key, and every key there is.
    """
    given = list(given)
    if not given:
        return
    known = [question.key for question in answer_keys(pinouts)]
    strangers = [key for key in given if _NUMBERED.sub("trailer.1.", key) not in known]
    if strangers:
        problems = [Problem(f"{key!r} is no key of an answer{nearest(key, known)}") for key in strangers]
        raise InputError([*problems, Problem(f"keys: {', '.join(known)}; another trailer's with its number")])
