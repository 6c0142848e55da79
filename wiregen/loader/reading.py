"""Read a text or TOML file; whatever is wrong with it becomes an error that names the place."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Final

from wiregen.errors import InputError, Mark, Problem, nearest
from wiregen.loader.toml_places import Lines, Places, TextSpan, dotted, find_places, survey

#: Largest file that is read, bytes. A rig with fifty trailers is about 0.1 MB.
MAX_BYTES: Final = 2_000_000

#: Characters of a source line that are printed behind the marked place, and the longest underline.
_SHOWN: Final = 120
_FAR: Final = 1000

#: A key of more parts than any table of ours is deep. Reading such keys takes time that grows with their square.
_DEEP_KEY: Final = re.compile(
    r"""(?:^|[{,])[ \t]*+\[{0,2}(?:[ \t]*+(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.){32}""", re.MULTILINE
)
_LOCATED: Final = re.compile(r"(?s)(.*) \(at (?:line (\d+), column (\d+)|end of document)\)")
#: A line that looks like the next key or header, which means that a bracket above was forgotten.
_NEXT_ENTRY: Final = re.compile(r"[ \t]*(?:[\w.\"'-]+[ \t]*=|\[\[?[\w. \"'-]+\]\]?[ \t]*(?:#.*)?\r?$)", re.MULTILINE)
_CLOSING: Final = {"[": "]", "{": "}"}
_REPEATED: Final = ("Cannot ", "Duplicate inline table key")
_UNCLOSED_TEXT: Final = "this text is never closed; the same quote is wanted at its end"
#: How a message of ``tomllib`` starts, and what is said instead. Others are shown as they are.
_PLAIN: Final = (
    ("Expected '=' after a key", "'=' is wanted after the key"),
    ("Invalid initial character for a key part", "a key is wanted here"),
    ("Invalid statement", "a key or a [table] is wanted here"),
    ("Expected ']'", "']' is wanted at the end of the table name"),
    ("Expected ']]'", "']]' is wanted at the end of the table name"),
    ("Invalid date or datetime", "there is no such date or time"),
    ("Unescaped '\\'", "a backslash stands for itself only between single quotes: 'C:\\dir'"),
    ("Invalid hex value", "a backslash stands for itself only between single quotes: 'C:\\dir'"),
    ("Unclosed array", "',' or ']' is wanted"),
    ("Unclosed inline table", "',' or '}' is wanted"),
    ("Unterminated string", _UNCLOSED_TEXT),
    ("Illegal character '\\n'", _UNCLOSED_TEXT),
    ("Found invalid character '\\n'", _UNCLOSED_TEXT),
    ("Expected \"'", _UNCLOSED_TEXT),
    ("Illegal character", "a control character stands here"),
    ("Found invalid character", "a control character stands here"),
)


@dataclass(frozen=True)
class TomlDocument:
    """A TOML text that was read.

    Attributes:
        data: What it says.
        text: The text, without a byte order mark.
        file: Name for messages.
    """

    data: dict[str, Any]
    text: str
    file: str

    @cached_property
    def places(self) -> Places:
        """Where everything stands; worked out at the first use, because most files are right."""
        return find_places(self.text)

    def mark(self, span: TextSpan) -> Mark:
        """Return a stretch of the text as a mark for a message."""
        return _mark(self.places.lines, self.file, span)


def read_text(path: Path) -> str:
    """Return the text of a UTF-8 file, without a byte order mark.

    Raises:
        InputError: There is no such file, it is a directory, may not be read, is larger than ``MAX_BYTES``
            or is not UTF-8.
    """
    try:
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except FileNotFoundError as error:
        message = f"there is no file {str(path)!r}{_sibling(path)}"
        raise InputError(message) from error
    except (IsADirectoryError, PermissionError) as error:
        # Some systems answer "permission denied" when a directory is opened.
        reason = "is a directory, a file is wanted" if path.is_dir() else "may not be read: permission denied"
        message = f"{str(path)!r} {reason}"
        raise InputError(message) from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        message = f"{str(path)!r} cannot be read: {reason}"
        raise InputError(message) from error
    if len(raw) > MAX_BYTES:
        message = f"{str(path)!r} is larger than {MAX_BYTES / 1e6:g} MB; that is no file for wiregen"
        raise InputError(message)
    return _decode(raw, str(path))


def read_toml(path: Path) -> TomlDocument:
    """Read a TOML file.

    Raises:
        InputError: As for ``read_text``, or the text is not TOML; then with the place.
    """
    return parse_toml(read_text(path), str(path))


def parse_toml(text: str, file: str) -> TomlDocument:
    """Read a TOML text; ``file`` is the name for messages.

    Raises:
        InputError: The text is not TOML.
    """
    text = text.removeprefix("\ufeff")
    if deep := _DEEP_KEY.search(text):
        lines = Lines(text)
        place = _mark(lines, file, lines.span(deep.start(), deep.end()))
        raise InputError([Problem("this key has more than 32 parts; no table lies so deep", (place,))])
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError([_syntax_problem(text, file, str(error))]) from error
    except RecursionError as error:
        message = f"{file}: lists or tables lie too deep inside one another"
        raise InputError(message) from error
    except ValueError as error:  # a whole number with thousands of digits
        message = f"{file}: {str(error).partition(';')[0]}"
        raise InputError(message) from error
    return TomlDocument(data, text, file)


def _sibling(path: Path) -> str:
    """Return a hint at the file of nearly this name in the same directory."""
    try:
        names = sorted(entry.name for entry in path.parent.iterdir() if entry.suffix == path.suffix)
    except (OSError, ValueError):
        return ""
    return nearest(path.name, names)


def _decode(raw: bytes, file: str) -> str:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        message = f"{file!r} is UTF-16 text; save it as UTF-8"
        raise InputError(message)
    try:
        return raw.decode("utf-8").removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        lines = Lines(raw.decode("utf-8", errors="replace"))
        at = len(raw[: error.start].decode("utf-8"))
        byte = raw[error.start : error.start + 1]
        probably = byte.decode("cp1252", errors="ignore")
        meant = f", probably {probably!r} of an older encoding" if probably else ""
        message = f"not UTF-8 text: byte {byte.hex().upper()}{meant}; save the file as UTF-8"
        raise InputError([Problem(message, (_mark(lines, file, lines.span(at, at + 1)),))]) from error


def _mark(lines: Lines, file: str, span: TextSpan) -> Mark:
    if span.column > _FAR:
        return Mark(file, span.line, span.column, 1)
    length = min(span.length, _SHOWN)
    shown = lines.shown(span.line)[: span.column + length + _SHOWN].rstrip()
    return Mark(file, span.line, span.column, length, shown)


def _syntax_problem(text: str, file: str, message: str) -> Problem:
    """Turn a message of ``tomllib`` into words and places."""
    located = _LOCATED.fullmatch(message)
    if located is None:
        return Problem(f"{file}: {message}")
    lines = Lines(text)
    reason, line, column = located.groups()
    at = lines.offset(int(line), int(column) - 1) if line else len(text.rstrip())
    found = survey(text[:at])
    if reason.startswith(_REPEATED) and found.repeats:
        path, second, first = found.repeats[-1]
        words = f"{str(path[-1])!r} is already written at line {first.line}"
        if all(text[: span.start].rstrip(" \t").endswith("[") for span in (first, second)):
            words += f"; where several are allowed, write [[{dotted(path)}]] for each of them"
        return Problem(words, tuple(_mark(lines, file, span) for span in (second, first)), dotted(path))
    words = _in_words(reason, text, at)
    if words == _UNCLOSED_TEXT and found.opened:
        return Problem(words, (_mark(lines, file, lines.span(found.opened[-1], at)),))
    marks = [_mark(lines, file, lines.span(at, at + len(_word(text, at))))]
    begin = text.rfind("\n", 0, at) + 1
    open_above = [offset for offset in found.opened if offset < begin]
    if open_above and _NEXT_ENTRY.match(text, begin):
        words = f"a value, ',' or {_CLOSING[text[open_above[-1]]]!r} is wanted"
        found_open = open_above[-1]
    elif found.opened and (not line or reason.startswith("Unclosed")):
        found_open = found.opened[-1]
    else:
        return Problem(words, tuple(marks))
    marks.append(_mark(lines, file, lines.span(found_open, found_open + 1)))
    return Problem(f"{words}; {text[found_open]!r} of line {marks[1].line} is still open", tuple(marks))


def _word(text: str, at: int) -> str:
    """Return what stands at ``at`` up to the next separator, for the underline and for examples."""
    match = re.compile(r"[^,\]}#\r\n]*").match(text, at)
    return match.group().rstrip() if match else ""


def _in_words(reason: str, text: str, at: int) -> str:
    """Return what is wrong at ``at`` in the words of somebody who never read the TOML specification."""
    sign = text[at : at + 1]
    if "\0" <= sign < " " and sign not in "\t\r\n":
        return "a control character stands here"
    if sign.isspace() and sign not in " \t\r\n":
        return f"a special blank (U+{ord(sign):04X}) stands here; use a plain one"
    if sign == "\r" and text[at + 1 : at + 2] != "\n":
        return "a lone carriage return stands here; save the file with LF or CR LF at the line ends"
    if reason == "Invalid value":
        return _about_value(_word(text, at))
    if reason.startswith("Expected newline"):
        return _about_rest(text[text.rfind("\n", 0, at) + 1 : at], _word(text, at), sign)
    return next((words for start, words in _PLAIN if reason.startswith(start)), reason)


def _about_value(word: str) -> str:
    """Say why a value cannot be read."""
    if not word:
        return "a value is wanted here"
    if word[0] in "\u201c\u201d\u201e\u2018\u2019\u201a\u00ab\u00bb":
        return f'a text stands in straight quotes ("), not in {word[0]}'
    if word.lower() in ("true", "false", "yes", "no", "on", "off"):
        return f"{word!r} is no value; write true or false in small letters"
    if re.match(r"[+-]?\.\d", word):
        return f"a number starts with a digit: {word.replace('.', '0.', 1)}"
    return f'a text stands in quotes: "{word}"'


def _about_rest(before: str, word: str, sign: str) -> str:
    """Say why a line may not go on after its value; ``before`` is the line up to there."""
    value = before.partition("=")[2].strip()
    whole = f"{before.partition('=')[2]}{word}".strip()
    if re.fullmatch(r"\d{4}-?", value) and re.match(r"\d{4}-\d\d-\d\d", whole):
        return f"{whole} is no date; year, month and day are wanted, such as 2024-05-31"
    if sign == "," and re.fullmatch(r"[+-]?\d+", value):
        return "a number has a decimal point, not a comma; several values stand in square brackets"
    if re.fullmatch(r"[+-]?0", value) and sign.isdigit():
        return "a number does not start with 0"
    if re.fullmatch(r"[+-]?[\d.]+", value) and (word[:1].isalpha() or word[:1] in ("%", "°")):
        return f'a value with a unit stands in quotes: "{whole}"'
    if value.startswith(("'", '"')) and word:
        return f"the text ends before this place; one with {value[0]} in it stands in the other quotes"
    return "the line goes on after its end; only a comment with # may follow"
