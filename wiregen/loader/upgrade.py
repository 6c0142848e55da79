"""Bring a rig file or a pinout file of an earlier format up to today's keys; comments and layout stay."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from wiregen.errors import InputError
from wiregen.loader.reading import TomlDocument
from wiregen.loader.renamed import FORMAT, Renamed, renamed

_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True, slots=True)
class Upgrade:
    """What was done to a file.

    Attributes:
        text: The file's new text.
        changes: Line and words of every key that has a new name, in the order of the file.
    """

    text: str
    changes: tuple[tuple[int, str], ...]


def upgraded(document: TomlDocument) -> Upgrade:
    """Return a file's text with today's keys and the number of today's format.

    Args:
        document: The file as it was read.

    Raises:
        InputError: It follows a newer format, has a key under both names, or cannot be changed without touching more.
    """
    written = document.data.get("format")
    if isinstance(written, int) and written > FORMAT:
        raise InputError(f"{document.file}: format = {written} is newer than this wiregen, which knows up to {FORMAT}")
    edits: list[tuple[int, int, str]] = []
    changes: list[tuple[int, str]] = []
    for path, one in _old_keys(document.data, ()):
        for start, end, line in _places(document, path, one):
            edits.append((start, end, one.new))
            changes.append((line, f"{'.'.join((*one.table, one.old))} is {one.new} now"))
    edits += _number(document)
    text = document.text
    for start, end, new in sorted(set(edits), reverse=True):
        text = text[:start] + new + text[end:]
    _prove(document, text)
    return Upgrade(text, tuple(sorted(set(changes))))


def _old_keys(data: Any, path: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], Renamed]]:  # noqa: ANN401
    """Yield the path of every key that has another name today."""
    if isinstance(data, list):
        for index, item in enumerate(data):
            yield from _old_keys(item, (*path, index))
    elif isinstance(data, dict):
        for key, value in data.items():
            here = (*path, key)
            one = renamed(here)
            # A table of the old name may be one of the new format by another meaning: only what was one counts.
            if one is not None and one.new in data:
                raise InputError(f"{'.'.join(map(str, here))} and {one.new} are both there; delete one of them by hand")
            if one is not None:
                yield here, one
            yield from _old_keys(value, here)


def _places(document: TomlDocument, path: tuple[str | int, ...], one: Renamed) -> Iterator[tuple[int, int, int]]:
    """Yield start, end and line of every place where a key is written: beside its value, or in table headers."""
    places = document.places
    key = places.key(path)
    if key is not None and document.text[key.start : key.end].strip("\"'") == one.old:
        yield key.start, key.end, key.line
    depth = sum(isinstance(part, str) for part in path)
    for header_path, _ in list(places.headers.items()):
        if header_path[: len(path)] != path:
            continue
        header = places.header(header_path)
        assert header is not None
        inside = list(_KEY.finditer(document.text, header.start, header.end))
        if len(inside) >= depth and inside[depth - 1].group() == one.old:
            yield inside[depth - 1].start(), inside[depth - 1].end(), header.line


def _number(document: TomlDocument) -> list[tuple[int, int, str]]:
    """Return the edit that writes the number of the format: in its place, or before the first key of the file."""
    value = document.places.value(("format",))
    if value is not None:
        return [] if document.data["format"] == FORMAT else [(value.start, value.end, str(FORMAT))]
    starts = [span.start for path in document.places.keys if (span := document.places.key(path))]
    starts += [span.start for path in document.places.headers if (span := document.places.header(path))]
    first = min(starts, default=0)
    line = document.text.rfind("\n", 0, first) + 1
    end = "\r\n" if "\r\n" in document.text else "\n"
    return [(line, line, f"format = {FORMAT}{end}")]


def _prove(document: TomlDocument, text: str) -> None:
    """Refuse a text that says anything else than the old one with its keys renamed."""
    try:
        made = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        made = None
    if made != {"format": FORMAT} | _with_new_keys(document.data, ()):
        raise InputError(f"{document.file}: its keys cannot be renamed as it is written; rename them by hand")


def _with_new_keys(data: Any, path: tuple[str | int, ...]) -> Any:  # noqa: ANN401
    if isinstance(data, list):
        return [_with_new_keys(item, (*path, index)) for index, item in enumerate(data)]
    if not isinstance(data, dict):
        return data
    made = {}
    for key, value in data.items():
        one = renamed((*path, key))
        made[one.new if one else key] = _with_new_keys(value, (*path, key))
    return made | ({"format": FORMAT} if not path else {})
