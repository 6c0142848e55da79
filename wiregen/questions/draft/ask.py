"""A new rig file: what it asks, and its text."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiregen.questions.draft.starter import Question


def new_rig(given: dict[str, str], ask: Callable[[Question], str] | None) -> str:
    """Return the text of a new rig file.

    Args:
        given: Answers by key, as a person would type them; filled up with what is asked.
        ask: Asks one question and returns the typed text; None takes the default of every open question.

    Raises:
        InputError: An answer does not fit or belongs to no question, or a question without a default is open.
    """
    from wiregen.loader.pinout_files import built_in_pinouts
    from wiregen.questions.draft.keys import refuse_strangers
    from wiregen.questions.draft.starter import answers_of, questions, rig_text

    pinouts = dict(built_in_pinouts())
    refuse_strangers(given, pinouts)
    if ask is not None:
        for question in questions(given, pinouts):
            given[question.key] = ask(question)
    return rig_text(answers_of(given, pinouts), pinouts)


def answer_keys() -> tuple[Question, ...]:
    """Return every question of a new rig file: its key is what a prepared answer is given under."""
    from wiregen.loader.pinout_files import built_in_pinouts
    from wiregen.questions.draft.keys import answer_keys as keys_of

    return keys_of(dict(built_in_pinouts()))
