"""The first rig file: what ``wiregen new`` asks, and what it writes.

The command line only loops; a prepared set of answers runs through the same code with nothing left to ask::

    given = dict(prepared)                          # {"socket": "iso-12098", ...}, as a person would type it
    for question in questions(given, pinouts):      # yields only what ``given`` does not answer yet
        text = input(question.prompt)               # show question.choices and question.help first
        while problem := question.problem(text):    # empty when the text will do; an empty text takes the default
            text = input(problem)
        given[question.key] = text
    print(rig_text(answers_of(given, pinouts), pinouts))

``pinouts`` maps names to every pinout that may be chosen. Which questions come depends on the answers before them, so
``questions`` looks at ``given`` again after each one. Keys: ``units``, ``vehicle``, ``title``, ``socket``,
``socket.contact.K`` (a contact the trade wires in several ways), ``stop_wins``, ``trailer.1.name``, ``trailer.1.plug``,
``trailer.1.contact.5``, ``trailer.1.lamps``, ``trailer.1.wide``, ``trailer.1.magnets``, ``trailer.1.another``,
``trailer.2.name`` and so on, ``supply``, ``continuous``, ``feed``, ``feed_fuse``, ``location``; ``starter_keys`` finds
all of them. ``given_of`` turns
``Answers`` back into such a mapping.

``rig_text`` checks answers made in a program by asking the same questions of them, and raises ``InputError`` for those
that do not fit. The same answers give the same text, byte for byte.
"""

from __future__ import annotations

from collections.abc import Mapping

from wiregen.catalogue.connector import Connector
from wiregen.questions.draft.answers import Answers, TrailerAnswers
from wiregen.questions.draft.blocks import write_adapter, write_head, write_trailer, write_vehicle
from wiregen.questions.draft.channels import Proposal, propose_channels
from wiregen.questions.draft.plan import make_draft
from wiregen.questions.draft.questions import Choice, Question, answers_of, given_of, questions
from wiregen.questions.draft.runs import write_runs
from wiregen.questions.draft.toml_text import TomlText

__all__ = [
    "Answers",
    "Choice",
    "Proposal",
    "Question",
    "TrailerAnswers",
    "answers_of",
    "given_of",
    "propose_channels",
    "questions",
    "rig_text",
]


def rig_text(answers: Answers, pinouts: Mapping[str, Connector]) -> str:
    """Return a commented rig file for the answers.

    Args:
        answers: What was asked.
        pinouts: Every pinout that may be named, by name.

    Raises:
        InputError: An answer does not fit: a pinout that is not there, a name that is too long or used twice, magnets
            behind a plug without a brake contact, and so on.
    """
    draft = make_draft(answers_of(given_of(answers), pinouts), pinouts)
    toml = TomlText()
    write_head(toml, draft.answers)
    write_vehicle(toml, draft)
    write_adapter(toml, draft)
    for index, trailer in enumerate(draft.trailers):
        write_trailer(toml, trailer, first=index == 0)
    write_runs(toml, draft)
    return toml.text
