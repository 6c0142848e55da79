"""Boolean expressions over named signals: ``stop xor turn_left``, ``not (blackout or fog)``.

Precedence, tightest first: ``not``, ``and``, ``xor``, ``or``; brackets as usual. The same small language
serves a channel (over vehicle circuits), a circuit's live rule and a lamp's duty (over controls).

An expression is kept as words in postfix order (``stop turn_left xor``). That form needs no recursion to read
or to evaluate, so no input can exhaust the stack, and a tuple of words hashes and pickles by itself.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Final

from wiregen.errors import LogicError, nearest

#: Longest expression that is read; the longest real one has about 25 words.
MAX_WORDS: Final = 400

_WORD: Final = re.compile(r"[A-Za-z_][A-Za-z0-9_]*|&&?|\|\|?|[!=]=|!|\S")
_NAME: Final = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_RANK: Final = {"or": 1, "xor": 2, "and": 3, "not": 4}
_CONSTANTS: Final = {"always": True, "never": False}
_RESERVED: Final = frozenset({*_RANK, *_CONSTANTS})
_WORDS_ARE: Final = "the words are 'and', 'or', 'xor' and 'not'"
_SYMBOLS: Final = {
    **dict.fromkeys(("&", "&&", "*", "∧", "·"), "and"),
    **dict.fromkeys(("|", "||", "+", "∨"), "or"),
    **dict.fromkeys(("^", "!=", "⊕", "⊻"), "xor"),
    **dict.fromkeys(("!", "~", "¬"), "not"),
}


@dataclass(frozen=True, slots=True)
class Expression:
    """A parsed boolean expression.

    Attributes:
        text: As the user wrote it, without blanks around it.
        names: Signals it reads, in order of first appearance.
    """

    text: str
    names: tuple[str, ...]
    _postfix: tuple[str, ...]

    def value(self, signals: Mapping[str, bool] | Callable[[str], bool]) -> bool:
        """Return the truth of the expression; ``signals`` maps every name in ``names`` to its truth."""
        look = signals.__getitem__ if isinstance(signals, Mapping) else signals
        stack: list[bool] = []
        for word in self._postfix:
            if word == "not":
                stack[-1] = not stack[-1]
            elif word in _RANK:
                right = stack.pop()
                stack[-1] = _combine(word, stack[-1], right)
            elif word in _CONSTANTS:
                stack.append(_CONSTANTS[word])
            else:
                stack.append(bool(look(word)))
        return stack[0]

    @property
    def postfix(self) -> tuple[str, ...]:
        """Its names, constants and operators, each operator behind what it joins."""
        return self._postfix

    @property
    def is_bare(self) -> bool:
        """Whether it is one signal and nothing else, as a plain wire needs."""
        return len(self._postfix) == 1 and self._postfix[0] not in _CONSTANTS


def _combine(operator: str, left: bool, right: bool) -> bool:
    if operator == "and":
        return left and right
    if operator == "or":
        return left or right
    return left != right


def parse(text: str, known: Collection[str] | None = None) -> Expression:
    """Parse ``text``.

    Args:
        text: The expression.
        known: The signals that may stand in it; any name passes when it is None.

    Raises:
        LogicError: With the offset of the word that does not fit, counted from the first character that is no
            blank, and with the nearest word that would fit.
    """
    text = text.strip()
    if not text:
        message = "the expression is empty; write a signal such as brake, or 'always' or 'never'"
        raise LogicError(message)
    words = [(match.group(), match.start()) for match in _WORD.finditer(text)]
    if len(words) > MAX_WORDS:
        message = f"the expression has {len(words)} words; {MAX_WORDS} are the most that are read"
        raise LogicError(message, words[MAX_WORDS][1], len(words[MAX_WORDS][0]))
    reader = _Reader(text, known)
    for word, column in words:
        reader.take(word, column)
    postfix = reader.finish()
    names = dict.fromkeys(word for word in postfix if word not in _RESERVED)
    return Expression(text, tuple(names), tuple(postfix))


class _Reader:
    """Turns words into postfix order with a stack of waiting operators and open brackets."""

    def __init__(self, text: str, known: Collection[str] | None) -> None:
        self.text = text
        self.known = known
        self.postfix: list[str] = []
        self.waiting: list[tuple[str, int]] = []
        self.wants_signal = True

    def take(self, word: str, column: int) -> None:
        """Take the next word of the expression."""
        if hint := _written_otherwise(word):
            raise LogicError(hint, column, len(word))
        if self.wants_signal:
            self._take_signal(word, column)
        elif word == ")":
            self._close(column)
        elif word in _RANK and word != "not":
            self._release(_RANK[word])
            self.waiting.append((word, column))
            self.wants_signal = True
        else:
            hint = nearest(word, ("and", "or", "xor"))
            message = f"{word!r} does not fit here; 'and', 'or', 'xor' or the end is wanted{hint}"
            raise LogicError(message, column, len(word))

    def _take_signal(self, word: str, column: int) -> None:
        if word in ("not", "("):
            self.waiting.append((word, column))
            return
        if word in _RANK or not _NAME.fullmatch(word):
            message = f"{word!r} does not fit here; a signal, 'not' or '(' is wanted"
            raise LogicError(message, column, len(word))
        if self.known is not None and word not in self.known and word not in _CONSTANTS:
            hint = nearest(word, [*self.known, "not"]) or "."
            message = f"{word!r} is not known here{hint} Allowed: {', '.join(self.known)}"
            raise LogicError(message, column, len(word))
        self.postfix.append(word)
        self.wants_signal = False

    def _release(self, rank: int) -> None:
        """Move every waiting operator that binds at least as tightly as ``rank`` to the result."""
        while self.waiting and self.waiting[-1][0] != "(" and _RANK[self.waiting[-1][0]] >= rank:
            self.postfix.append(self.waiting.pop()[0])

    def _close(self, column: int) -> None:
        self._release(0)
        if not self.waiting:
            message = "')' closes nothing; there is no '(' before it"
            raise LogicError(message, column)
        self.waiting.pop()

    def finish(self) -> list[str]:
        """Return the words in postfix order once the last one is taken."""
        if self.wants_signal:
            message = "the expression ends too early; a signal, 'not' or '(' is wanted"
            raise LogicError(message, len(self.text))
        self._release(0)
        if self.waiting:
            message = "'(' is never closed; ')' is wanted"
            raise LogicError(message, self.waiting[-1][1])
        return self.postfix


def _written_otherwise(word: str) -> str:
    """Return the hint for an operator in capitals or as a symbol, or an empty string."""
    small = word.lower()
    if small in _RESERVED and word != small:
        return f"{word!r} is written in small letters: {small!r}; {_WORDS_ARE}"
    if word in _SYMBOLS:
        return f"{word!r} is no sign here, write {_SYMBOLS[word]!r}; {_WORDS_ARE}"
    if word in ("=", "=="):
        return f"{word!r} is no sign here; write 'not (a xor b)' for two signals that agree; {_WORDS_ARE}"
    if word == "-":
        return "'-' does not fit here; names are written with '_', such as turn_left"
    return ""
