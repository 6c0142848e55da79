"""Writes TOML with comments: prose after ``# ``, switched-off settings after a bare ``#``."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Sequence
from typing import Final

_WIDTH: Final = 104
_NOTE_COLUMN: Final = 38
_SHORT: Final = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}
#: Control and format characters and line separators: they could hide or reorder what stands in the file.
_HIDDEN: Final = ("Cc", "Cf", "Zl", "Zp")

Value = str | int | bool | Sequence[str]


def quoted(text: str) -> str:
    """Return ``text`` as a TOML basic string on one line; half of a surrogate pair becomes U+FFFD."""
    return f'"{"".join(map(_letter, text))}"'


def _letter(letter: str) -> str:
    if letter in _SHORT:
        return _SHORT[letter]
    category = unicodedata.category(letter)
    if category == "Cs":
        return "\ufffd"
    if category not in _HIDDEN:
        return letter
    return f"\\U{ord(letter):08X}" if ord(letter) > 0xFFFF else f"\\u{ord(letter):04X}"


def value_text(value: Value) -> str:
    """Return a value as TOML."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        return str(value)
    if isinstance(value, str):
        return quoted(value)
    return f"[{', '.join(map(quoted, value))}]"


class TomlText:
    """Collects the lines of a file. No user's text may reach a comment: only keys and values are quoted."""

    def __init__(self) -> None:
        self._lines: list[str] = []

    @property
    def text(self) -> str:
        """The file, ending in one line break."""
        return "\n".join(self._lines).rstrip("\n") + "\n"

    def raw(self, line: str) -> None:
        """Add a line as it is."""
        self._lines.append(line)

    def blank(self) -> None:
        """Add an empty line, never two together."""
        if self._lines and self._lines[-1]:
            self._lines.append("")

    def heading(self, words: str) -> None:
        """Start a block with a ruled comment."""
        self.blank()
        self._lines.append(f"# --- {words} ".ljust(_WIDTH, "-"))

    def say(self, *words: str) -> None:
        """Add comments, each wrapped; one that begins with a dash as an item of a list."""
        for paragraph in words:
            indent = "  " if paragraph.startswith("- ") else ""
            lines = textwrap.wrap(paragraph, _WIDTH - 2, break_long_words=False, subsequent_indent=indent)
            self._lines += [f"# {line}" for line in lines]

    def table(self, header: str, note: str = "", *, off: bool = False) -> None:
        """Start a table such as ``[vehicle]`` or ``[[run]]``."""
        self.blank()
        self._line(header, note, off=off)

    def key(self, name: str, value: Value, note: str = "", *, off: bool = False) -> None:
        """Add a key with its value; ``off`` writes it as a switched-off setting."""
        self._line(f"{name} = {value_text(value)}", note, off=off)

    def _line(self, setting: str, note: str, *, off: bool) -> None:
        line = f"{'#' if off else ''}{setting}"
        noted = f"{line.ljust(_NOTE_COLUMN)}# {note}" if note else line
        if note and len(noted) > _WIDTH:
            self.say(note)
            noted = line
        self._lines.append(noted)
