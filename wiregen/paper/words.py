"""Words on lines: a number stays with its unit, a line ends where a reader may pause."""

from __future__ import annotations

import re
from typing import Final

from wiregen.paper.safe_text import clean, display_width

GLUE: Final = "\N{NO-BREAK SPACE}"
#: Spaces between a number and its unit or its times sign: a line does not break there.
_TIED: Final = re.compile(
    r"(?<=\d) (?=(?:[VAWmsh]|Ah|kW|mm²?|mA|mV|Ω|mΩ|ohm|milliohm|megohm|AWG|SAE|°C|ft|in)(?:\W|$)|×|%)|(?<=×) "
)
#: The sign of IEC 81346-2 in front of a designation, not the one between two of them.
_MARK: Final = re.compile(r"(?<![\w)\]-])-(?=[A-Z]+\d)")
_BREAK: Final = re.compile(r"(?<=\+)(?=[A-Z])|(?<=[a-z][/-])(?=[a-z])")


def tied(text: str) -> str:
    """Return ``text`` with a no-break space between every number and its unit: ``12 V`` and ``2 × P21W`` are one."""
    return _TIED.sub(GLUE, text)


def bind_units(text: str) -> str:
    """Return ``text`` cleaned, with a no-break space between every number and its unit."""
    return tied(clean(text))


def marks(text: str) -> str:
    """Return ``text`` with designations as people write and read them: ``X1:B``, not ``-X1:B``."""
    return _MARK.sub("", text)


def counted(count: int, word: str) -> str:
    """Return ``1 wire`` or ``3 wires``."""
    return f"{count} {word}{'' if count == 1 else 's'}"


def wrap(text: str, width: int, indent: str = "") -> list[str]:
    """Return ``text`` as lines of at most ``width`` columns; only a word longer than a line is cut.

    A line may break at a space, after a plus that joins contacts, and after the slash or hyphen between two words.

    Args:
        text: One paragraph; spaces at its start are kept.
        width: Columns.
        indent: Blanks in front of the second and later lines.
    """
    bare = text.lstrip(" ")
    line = " " * (len(text) - len(bare))
    lines: list[str] = []
    empty = True
    for piece in pieces(bare):
        word = piece.lstrip(" ") if empty else piece
        if not empty and display_width(line + word) > width:
            lines.append(line)
            line, word = indent, word.lstrip(" ")
        while display_width(line + word) > width:
            cut = _cut(word, width - display_width(line))
            lines.append(line + word[:cut])
            line, word = indent, word[cut:]
        line += word
        empty = empty and not word
    return [*lines, line]


def pieces(text: str) -> list[str]:
    """Return words, each with the space in front of it, that put together again give ``text``."""
    words = text.split(" ")
    spaced = [words[0], *(f" {word}" for word in words[1:])]
    return [piece for word in spaced for piece in _BREAK.split(word)]


def _cut(word: str, room: int) -> int:
    """Return how many characters of ``word`` fit into ``room`` columns, at least one."""
    count = 0
    while count < len(word) and display_width(word[: count + 1]) <= room:
        count += 1
    return max(count, 1)


def breakable(text: str, longest: int, mark: str) -> str:
    """Return ``text`` with ``mark`` inside every word of more than ``longest`` letters: where a line may break."""
    if len(text) <= longest:
        return text
    return " ".join(_parted(word, longest, mark) for word in text.split(" "))


def _parted(word: str, longest: int, mark: str) -> str:
    if len(word) <= longest:
        return word
    step = longest // 2
    return mark.join(word[start : start + step] for start in range(0, len(word), step))
