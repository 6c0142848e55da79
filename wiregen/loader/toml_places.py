"""Where every key, value and table header of a TOML text stands.

``tomllib`` reads a text but forgets the places; this module finds them again. It runs only after something is
wrong with a file, or when a later stage asks for the place of a record. It does not judge the grammar: it
trusts that ``tomllib`` took the text. On a text that was refused it goes as far as it can, which serves the
messages for keys written twice and for brackets and quotes left open.
"""

from __future__ import annotations

import bisect
import contextlib
import json
import re
import tomllib
import unicodedata
from dataclasses import dataclass, field
from typing import Final

KeyPath = tuple[str | int, ...]
_Range = tuple[int, int]

_BLANKS: Final = re.compile(r"[ \t\ufeff]*")
_GAP: Final = re.compile(r"(?:[ \t\r\n\ufeff]+|#[^\n]*)*")
_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")
_KEY_PART: Final = re.compile(r"""[A-Za-z0-9_-]+|"[^"\\\n]*(?:\\[^\n][^"\\\n]*)*"|'[^'\n]*'""")
# A multi-line string may end with one or two quotes of its own before the three that close it.
_STRING: Final = re.compile(
    r'''"""[^"\\]*(?:(?:\\.|"{1,2}(?!"))[^"\\]*)*"{3,5}'''
    r"""|'''[^']*(?:'{1,2}(?!')[^']*)*'{3,5}"""
    r'''|"(?!"")[^"\\\n]*(?:\\[^\n][^"\\\n]*)*"'''
    r"""|'(?!'')[^'\n]*'""",
    re.DOTALL,
)
_PRINTED: Final = {**dict.fromkeys(map(chr, (*range(32), 127)), "\ufffd"), "\t": " ", "\ufeff": ""}
_BARE_VALUE: Final = re.compile(r"[^,\]}#\r\n]+")


@dataclass(frozen=True, slots=True)
class TextSpan:
    """A stretch of the text.

    Attributes:
        start: Zero-based offset of its first character.
        end: Offset behind its last character.
        line: One-based line of its first character.
        column: One-based column of its first character, as an editor shows it.
        length: Characters to underline on that line; at least 1.
    """

    start: int
    end: int
    line: int
    column: int
    length: int


def _seen(text: str) -> int:
    """Return how many characters a reader sees: marks that sit on the letter before them take no place."""
    if text.isascii():
        return len(text)
    return sum(unicodedata.category(character) not in ("Mn", "Me", "Cf") for character in text)


class Lines:
    """Turns offsets into lines and columns. A tab counts as one column, as it does when the cursor moves."""

    def __init__(self, text: str) -> None:
        self.text = text
        self._starts = [0, *(match.end() for match in re.finditer("\n", text))]

    def line(self, number: int) -> str:
        """Return a line by its one-based number, without its end."""
        start = self._starts[number - 1]
        end = self._starts[number] if number < len(self._starts) else len(self.text)
        return self.text[start:end].rstrip("\r\n")

    def shown(self, number: int) -> str:
        """Return a line for printing: a tab as wide as it counts, and nothing that moves the cursor."""
        return "".join(_PRINTED.get(c, c) for c in self.line(number))

    def offset(self, line: int, index: int) -> int:
        """Return the offset of the character at zero-based ``index`` of a one-based line."""
        return self._starts[line - 1] + index

    def span(self, start: int, end: int) -> TextSpan:
        """Return the stretch from ``start`` up to ``end`` with its line and column."""
        number = bisect.bisect_right(self._starts, start)
        begin = self._starts[number - 1]
        stop = min(end, begin + len(self.line(number)))
        column = 1 + _seen(self.text[begin:start])
        return TextSpan(start, end, number, column, max(1, _seen(self.text[start:stop])))


@dataclass(frozen=True, slots=True)
class Places:
    """The place of everything in one TOML text, by key path such as ``("trailer", 0, "lamp", 2, "type")``.

    Attributes:
        lines: The text.
        keys: Range of every key, also of each part of a dotted key or header.
        values: Range of every value after an equals sign and of every array element.
        headers: Range of ``[...]`` or ``[[...]]`` for every table, with its brackets. A table that only
            longer headers imply has the first of these, an array of tables that of its first element.
    """

    lines: Lines
    keys: dict[KeyPath, _Range] = field(default_factory=dict)
    values: dict[KeyPath, _Range] = field(default_factory=dict)
    headers: dict[KeyPath, _Range] = field(default_factory=dict)

    def key(self, path: KeyPath) -> TextSpan | None:
        """Return where the last key of ``path`` is written; None for array elements and unknown paths."""
        return self._span(self.keys, path)

    def value(self, path: KeyPath) -> TextSpan | None:
        """Return where the value of ``path`` is written; None for tables with a header and unknown paths."""
        return self._span(self.values, path)

    def header(self, path: KeyPath) -> TextSpan | None:
        """Return the header of the table at ``path``, or None where it has none."""
        return self._span(self.headers, path)

    def _span(self, ranges: dict[KeyPath, _Range], path: KeyPath) -> TextSpan | None:
        found = ranges.get(path)
        return self.lines.span(*found) if found else None


@dataclass(frozen=True, slots=True)
class Survey:
    """What was found in a text that may be broken.

    Attributes:
        places: Everything up to the place where reading stopped.
        repeats: Path, second place and first place of every key or table that may not be written again.
        opened: Offsets of the brackets and the quote that were still open at that place, outermost first.
    """

    places: Places
    repeats: tuple[tuple[KeyPath, TextSpan, TextSpan], ...]
    opened: tuple[int, ...]


def find_places(text: str) -> Places:
    """Return the places of everything in a TOML text that ``tomllib`` took.

    Columns count characters; a byte order mark counts as none. Lines end with LF or CR LF.
    """
    return survey(text).places


def survey(text: str) -> Survey:
    """Return the places in a text that ``tomllib`` may have refused, and what looks wrong about it."""
    finder = _Finder(text)
    # Where a refused text stops making sense, what was found before is still right.
    with contextlib.suppress(_Unreadable, tomllib.TOMLDecodeError):
        finder.document()
    places = finder.places
    span = places.lines.span
    repeats = tuple((path, span(*second), span(*first)) for path, second, first in finder.repeats)
    return Survey(places, repeats, tuple(finder.opened))


class _Unreadable(Exception):  # noqa: N818 - never leaves this module
    """The text stops being TOML here."""


@dataclass(slots=True)
class _Nest:
    """An array or inline table that is being read."""

    sign: str
    path: KeyPath
    start: int
    count: int = 0

    @property
    def closing(self) -> str:
        return "]" if self.sign == "[" else "}"


class _Finder:
    """Walks once over the text; ``at`` is the offset of the next character."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.places = Places(Lines(text))
        self.opened: list[int] = []
        self.repeats: list[tuple[KeyPath, _Range, _Range]] = []
        self._elements: dict[KeyPath, int] = {}
        self._declared: set[KeyPath] = set()
        self._dotted: set[KeyPath] = set()

    def document(self) -> None:
        base: KeyPath = ()
        self._skip(_GAP)
        while self.at < len(self.text):
            if self.text.startswith("[", self.at):
                base = self._header()
            else:
                self._value(self._key_of(base))
            self._skip(_GAP)

    def _skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self.text, self.at)
        self.at = match.end() if match else self.at

    def _took(self, sign: str) -> bool:
        if not self.text.startswith(sign, self.at):
            return False
        self.at += len(sign)
        return True

    def _need(self, sign: str) -> None:
        if not self._took(sign):
            raise _Unreadable

    def _key(self) -> list[tuple[str, _Range]]:
        """Read a key, dotted or not; leave ``at`` behind the blanks that follow it."""
        parts = []
        while True:
            self._skip(_BLANKS)
            match = _KEY_PART.match(self.text, self.at)
            if match is None:
                raise _Unreadable
            parts.append((_plain_key(match.group()), match.span()))
            self.at = match.end()
            self._skip(_BLANKS)
            if not self._took("."):
                return parts

    def _header(self) -> KeyPath:
        """Read ``[a.b]`` or ``[[a.b]]`` and return the path that the keys below it belong to."""
        start = self.at
        sign = "[[" if self.text.startswith("[[", start) else "["
        self.at += len(sign)
        parts = self._key()
        above: list[tuple[KeyPath, _Range]] = []
        path: KeyPath = ()
        for name, place in parts:
            path = (*path, name)
            above.append((path, place))
            self.places.keys.setdefault(path, place)
            if path in self._elements and len(above) < len(parts):
                path = (*path, self._elements[path] - 1)
        self._check_header(above, is_array=sign == "[[")
        self._need("]" * len(sign))
        whole = (start, self.at)
        for outer, _ in above:
            self.places.headers.setdefault(outer, whole)
        if sign == "[[":
            self._elements[path] = self._elements.get(path, 0) + 1
            path = (*path, self._elements[path] - 1)
            self.places.headers[path] = whole
        else:
            self.places.keys[path] = above[-1][1]
            self.places.headers[path] = whole
            self._declared.add(path)
        return path

    def _check_header(self, parts: list[tuple[KeyPath, _Range]], *, is_array: bool) -> None:
        keys = self.places.keys
        path, place = parts[-1]
        for outer, outer_place in parts:
            if outer in self.places.values:
                self.repeats.append((outer, outer_place, keys[outer]))
        if is_array:
            is_other = path in self.places.headers and path not in self._elements
        else:
            is_other = path in self._declared or path in self._elements
        if is_other or path in self._dotted:
            self.repeats.append((path, place, keys[path]))

    def _key_of(self, base: KeyPath) -> KeyPath:
        """Read ``key =`` and return the path of the value that follows."""
        keys = self.places.keys
        path = base
        parts = self._key()
        for index, (name, place) in enumerate(parts):
            path = (*path, name)
            is_last = index == len(parts) - 1
            taken = path in keys if is_last else path in self.places.values or path in self._declared
            if taken:
                self.repeats.append((path, place, keys[path]))
            keys.setdefault(path, place)
            if not is_last:
                self._dotted.add(path)
        self._need("=")
        self._skip(_BLANKS)
        return path

    def _value(self, path: KeyPath) -> None:
        """Read a value with all that lies in it; in a loop, so that no nesting is too deep."""
        nests: list[_Nest] = []
        inner: KeyPath | None = path
        while inner is not None:
            sign = self.text[self.at : self.at + 1]
            if sign in ("[", "{"):
                nests.append(_Nest(sign, inner, self.at))
                self.opened.append(self.at)
                self.at += 1
            else:
                start = self.at
                self._simple_value()
                self.places.values[inner] = (start, self.at)
            inner = self._next(nests)

    def _simple_value(self) -> None:
        if self.text.startswith(('"', "'"), self.at):
            match = _STRING.match(self.text, self.at)
            if match is None:
                self.opened.append(self.at)
        else:
            match = _BARE_VALUE.match(self.text, self.at)
        if match is None:
            raise _Unreadable
        self.at += len(match.group().rstrip(" \t"))

    def _next(self, nests: list[_Nest]) -> KeyPath | None:
        """Go to the next value in the innermost bracket, closing brackets on the way; None behind the last."""
        while nests:
            nest = nests[-1]
            self._skip(_GAP)
            is_more = nest.count == 0 or self._took(",")
            # Line ends and a last comma inside braces are allowed from TOML 1.1 on.
            self._skip(_GAP)
            if is_more and not self.text.startswith(nest.closing, self.at):
                nest.count += 1
                return (*nest.path, nest.count - 1) if nest.sign == "[" else self._key_of(nest.path)
            self._need(nest.closing)
            self.places.values[nest.path] = (nest.start, self.at)
            self.opened.pop()
            nests.pop()
        return None


def dotted(path: KeyPath) -> str:
    """Return a key path as one text, with quotes round keys that need them: ``trailer.0.lamp.2.type``."""
    parts = (str(part) for part in path)
    return ".".join(p if _BARE_KEY.fullmatch(p) else json.dumps(p, ensure_ascii=False) for p in parts)


def _plain_key(written: str) -> str:
    """Return the name that a key part stands for."""
    if written[0] == '"' and "\\" in written:
        return str(tomllib.loads(f"key = {written}")["key"])
    return written[1:-1] if written[0] in "\"'" else written
