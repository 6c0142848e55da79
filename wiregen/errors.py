"""Everything wiregen raises on purpose.

    WiregenError
    ├── InputError       what the user wrote cannot be taken: exit status 2
    │   └── ArgumentError  an argument of a question: a field to Python callers, an option to terminal users
    ├── QuantityError    one value with a unit cannot be read; the loader turns it into an InputError
    ├── LogicError       one boolean expression cannot be read; the loader turns it into an InputError
    └── SolveError       the circuit has no solution that can be trusted

A broken design rule is never raised: it is a finding (``wiregen.model.finding``).
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

#: Problems that are printed one by one, and characters of one message. More than that nobody reads.
MOST_SHOWN: Final = 200
_LONGEST: Final = 2000


class WiregenError(Exception):
    """Base of every error that wiregen raises on purpose."""


class QuantityError(WiregenError, ValueError):
    """A value with a unit could not be read. A ValueError too, so that record validation collects it."""


class LogicError(WiregenError, ValueError):
    """A boolean expression could not be read. A ValueError too, so that record validation collects it.

    Args:
        message: What is wrong.
        column: Zero-based offset in the expression, for the caret.
        length: Length of the offending word.
    """

    def __init__(self, message: str, column: int = 0, length: int = 1) -> None:
        super().__init__(message)
        self.column = column
        self.length = length


class SolveError(WiregenError):
    """The operating point could not be found; the message names the state and the last residual."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A place in a text file, for messages: one-based line and column, and the length to underline."""

    file: str
    line: int
    column: int
    length: int = 1
    source_line: str = ""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with what the user wrote.

    Attributes:
        message: What is wrong and what is allowed.
        marks: Where: the first is the place itself, further ones are places it clashes with.
        path: Dotted key path, where there is one.
    """

    message: str
    marks: tuple[Mark, ...] = ()
    path: str = ""

    def text(self) -> str:
        """Return the problem as ``file:line:column: message`` with the source line and a caret under it."""
        said = _cut(self.message) + (f"  [{_cut(self.path)}]" if self.path else "")
        if not self.marks:
            return said
        lines = []
        for index, mark in enumerate(self.marks):
            message = said if index == 0 else "and here"
            lines.append(f"{mark.file}:{mark.line}:{mark.column}: {message}")
            if mark.source_line:
                gutter = f"{mark.line:>5} | "
                lines.append(f"{gutter}{mark.source_line}")
                lines.append(" " * (len(gutter) + mark.column - 1) + "^" * max(1, mark.length))
        return "\n".join(lines)


def _cut(text: str) -> str:
    """Return a text without its middle where it is too long; what is wrong stands at either end."""
    half = _LONGEST // 2
    return text if len(text) <= _LONGEST else f"{text[:half]} ... {text[-half:]}"


class InputError(WiregenError):
    """What the user wrote cannot be taken. Carries every problem found in one run; prints the first ``MOST_SHOWN``."""

    def __init__(self, problems: Sequence[Problem] | str) -> None:
        if isinstance(problems, str):
            problems = [Problem(problems)]
        self.problems = tuple(problems)
        lines = [problem.text() for problem in self.problems[:MOST_SHOWN]]
        if len(self.problems) > MOST_SHOWN:
            lines.append(f"... and {len(self.problems) - MOST_SHOWN} more problems")
        super().__init__("\n".join(lines))


class ArgumentError(InputError):
    """An argument of a question cannot be taken: it names a field to a Python caller, an option to a terminal user.

    Args:
        field: Name of the argument, ``trailer``.
        words: What is wrong and what is allowed.
    """

    def __init__(self, field: str, words: str) -> None:
        super().__init__(f"{field}: {words}")
        self.field = field
        self.words = words

    @classmethod
    def unknown(cls, field: str, word: str, known: Iterable[str], owner: str) -> ArgumentError:
        """Return the error of a word that is not among those known: ``owner`` has them."""
        names = list(dict.fromkeys(known))
        near = guess(word.lower(), {name.lower() for name in names})
        return cls(field, f"no {field} named {word!r}{near} Allowed: {owner} has {', '.join(names)}")


def nearest(word: str, allowed: Iterable[str]) -> str:
    """Return ``; did you mean 'x'?`` for the allowed word nearest to ``word``, or an empty string."""
    choices = difflib.get_close_matches(word, list(allowed), n=1, cutoff=0.6)
    return f"; did you mean {choices[0]!r}?" if choices else ""


def guess(word: str, allowed: Iterable[str]) -> str:
    """Return the end of a sentence: ``; did you mean 'x'?`` for the nearest allowed word, or a full stop."""
    return nearest(word, allowed) or "."
