"""Boolean expressions over named signals: ``stop xor turn_left``, ``not (blackout or fog)``.

Precedence, tightest first: ``not``, ``and``, ``xor``, ``or``; brackets as usual. The same small language serves a
channel (over vehicle circuits), a circuit's live rule and a lamp's duty (over controls).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from wiregen.errors import LogicError

_TOKEN: Final = re.compile(r"\s*(?:(?P<name>[A-Za-z_][A-Za-z0-9_]*)|(?P<bracket>[()])|(?P<bad>\S))")
_OPERATORS: Final = ("or", "xor", "and")
_RESERVED: Final = frozenset({"or", "xor", "and", "not", "always", "never"})


@dataclass(frozen=True, slots=True)
class Expression:
    """A parsed boolean expression.

    Attributes:
        text: As the user wrote it.
        names: Signals it reads, in order of first appearance.
    """

    text: str
    names: tuple[str, ...]
    _tree: tuple[object, ...]

    def value(self, signals: Mapping[str, bool] | Callable[[str], bool]) -> bool:
        """Return the truth of the expression; ``signals`` maps every name in ``names`` to its truth."""
        look = signals.__getitem__ if isinstance(signals, Mapping) else signals
        return _value(self._tree, look)

    @property
    def is_bare(self) -> bool:
        """Whether it is one signal and nothing else, as a plain wire needs."""
        return self._tree[0] == "name"


def parse(text: str) -> Expression:
    """Parse ``text``.

    Raises:
        LogicError: With the offset of the word that does not fit.
    """
    parser = _Parser(text)
    tree = parser.level(0)
    parser.end()
    return Expression(text.strip(), tuple(dict.fromkeys(parser.names)), tree)


class _Parser:
    """Recursive descent over the tokens of one expression."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.tokens = [(m.group(m.lastgroup or 0), m.start(m.lastgroup or 0)) for m in _TOKEN.finditer(text)]
        self.index = 0
        self.depth = 0
        self.names: list[str] = []

    def peek(self) -> str:
        return self.tokens[self.index][0] if self.index < len(self.tokens) else ""

    def fail(self, wanted: str) -> LogicError:
        if self.index < len(self.tokens):
            word, column = self.tokens[self.index]
            return LogicError(f"{word!r} does not fit here; {wanted}", column, len(word))
        return LogicError(f"the expression ends too early; {wanted}", len(self.text), 1)

    def level(self, rank: int) -> tuple[object, ...]:
        if rank == len(_OPERATORS):
            return self.unit()
        left = self.level(rank + 1)
        while self.peek() == _OPERATORS[rank]:
            self.index += 1
            left = (_OPERATORS[rank], left, self.level(rank + 1))
        return left

    def unit(self) -> tuple[object, ...]:
        self.depth += 1
        if self.depth > 60:
            raise LogicError("more than 60 brackets or nots inside one another", 0, len(self.text))
        word = self.peek()
        if word == "not":
            self.index += 1
            tree: tuple[object, ...] = ("not", self.unit())
        elif word == "(":
            self.index += 1
            tree = self.level(0)
            if self.peek() != ")":
                raise self.fail("')', 'and', 'or' or 'xor' is wanted")
            self.index += 1
        elif word in ("always", "never"):
            self.index += 1
            tree = ("constant", word == "always")
        elif word and word not in _RESERVED and (word[0].isalpha() or word[0] == "_"):
            self.index += 1
            self.names.append(word)
            tree = ("name", word)
        else:
            raise self.fail("a circuit or signal name, 'not' or '(' is wanted")
        self.depth -= 1
        return tree

    def end(self) -> None:
        if self.index < len(self.tokens):
            raise self.fail("'and', 'or', 'xor' or the end is wanted")


def _value(tree: tuple[object, ...], look: Callable[[str], bool]) -> bool:
    kind = tree[0]
    if kind == "name":
        return look(str(tree[1]))
    if kind == "constant":
        return bool(tree[1])
    first = _value(tree[1], look)  # type: ignore[arg-type]
    if kind == "not":
        return not first
    second = _value(tree[2], look)  # type: ignore[arg-type]
    if kind == "and":
        return first and second
    if kind == "or":
        return first or second
    return first != second
