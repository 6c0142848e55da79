"""Change values in a user's rig file and nothing else: comments, layout, line ends and byte order mark stay."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import tomlkit
from tomlkit.exceptions import TOMLKitError

from wiregen.errors import InputError
from wiregen.paper.files import replace_file

_MARK: Final = "\ufeff"

KeyPath = tuple[str | int, ...]


def with_values(text: str, values: Mapping[KeyPath, str]) -> str:
    """Return a TOML text with other texts in place of some values.

    Args:
        text: The file's text.
        values: New text by key path; every one of them is there already.

    Raises:
        InputError: The text cannot be changed without touching more than these values.
    """
    body = text.removeprefix(_MARK)
    try:
        document = tomlkit.parse(body)
        for path, value in values.items():
            table: Any = document
            for key in path[:-1]:
                table = table[key]
            table[path[-1]] = value
        made = tomlkit.dumps(document)
    except (TOMLKitError, KeyError, IndexError, TypeError) as error:
        message = f"the values cannot be put into the file as it is written: {error}; write them by hand"
        raise InputError(message) from error
    _compare(body, made, values)
    return text[: len(text) - len(body)] + made


def _compare(before: str, after: str, values: Mapping[KeyPath, str]) -> None:
    """Refuse a text in which more than the lines of the values has changed."""
    old, new = before.split("\n"), after.split("\n")
    changed = [(a, b) for a, b in zip(old, new, strict=False) if a != b]
    wanted = set(values.values())
    if len(old) != len(new) or len(changed) > len(values) or not all(any(w in b for w in wanted) for _, b in changed):
        raise InputError("the values cannot be put into the file without touching other lines; write them by hand")


def replace_values(path: Path, read: bytes, values: Mapping[KeyPath, str]) -> None:
    """Change values in a file in one step: the old file stays until the new one is safe on the disk.

    Args:
        path: The file; where it is a link, what it points to.
        read: What the file held when the values were worked out.
        values: New text by key path.

    Raises:
        InputError: The file changed meanwhile, cannot be written, or cannot be changed so.
    """
    replace_file(path, read, with_values(read.decode("utf-8"), values).encode("utf-8"))
