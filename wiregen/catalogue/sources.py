"""Where a table row comes from, and how the tables beside this module are read.

Every row of ``data/`` carries a ``source``, a key of ``sources.toml``, and a ``support``, a word of
``SUPPORT_WORDS``. Files are read at first use and kept.
"""

from __future__ import annotations

import csv
import difflib
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final, TypeVar

from wiregen.errors import WiregenError

#: How well a statement is supported, and the words to print. The first four are for the electrical tables,
#: the others for pinouts.
SUPPORT_WORDS: Final[dict[str, str]] = {
    "seen": "read in the source named",
    "derived": "worked out from values read in the source named",
    "memory": "no document seen",
    "assumed": "assumed, no source",
    "two": "two independent sources agree",
    "one": "one source",
    "disagree": "sources disagree, see the note",
}

_HERE: Final = Path(__file__).parent

T = TypeVar("T")


class UnknownEntryError(WiregenError, ValueError):
    """A word that is in no table. A ValueError too, so that record validation collects it."""


class OutsideTable(WiregenError):  # noqa: N818 - "raise OutsideTable" says what happened
    """A look-up outside the table: nothing is extrapolated."""


@dataclass(frozen=True, slots=True)
class Source:
    """One source.

    Attributes:
        key: Key used in the tables, e.g. ``S12``.
        title: What it is, without makers.
        where: Where a reader finds it.
        read: How much of it was read.
        kind: What sort of source it is.
    """

    key: str
    title: str
    where: str
    read: str
    kind: str


class LazyTable(Mapping[str, T]):
    """A table by name that is read at first use.

    Args:
        word: What one entry is called in messages, with its article.
        load: Reads the whole table.
    """

    def __init__(self, word: str, load: Callable[[], dict[str, T]]) -> None:
        self._word = word
        self._load = load
        self._rows: dict[str, T] | None = None

    def _table(self) -> dict[str, T]:
        if self._rows is None:
            self._rows = self._load()
        return self._rows

    def __getitem__(self, key: str) -> T:
        return self._table()[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._table())

    def __len__(self) -> int:
        return len(self._table())

    def find(self, key: str) -> T:
        """Return the entry ``key``.

        Raises:
            UnknownEntryError: There is none; the message names the nearest one.
        """
        if key in self._table():
            return self._table()[key]
        message = f"{key!r} is not {self._word}{self._hint(key)}"
        raise UnknownEntryError(message)

    def _hint(self, key: str) -> str:
        # A word that several entries begin with, such as "1157", must not be taken for its neighbour "1156".
        folded = {name.lower(): name for name in self._table()}
        begun = [name for low, name in folded.items() if low.startswith(f"{key.lower()}-")]
        if begun:
            return f"; write {' or '.join(repr(name) for name in begun)}"
        if key.lower() in folded:
            return f"; did you mean {folded[key.lower()]!r}?"
        close = difflib.get_close_matches(key.lower(), folded, n=1, cutoff=0.6)
        return f"; did you mean {folded[close[0]]!r}?" if close else ""


def _load_sources() -> dict[str, Source]:
    with (_HERE / "sources.toml").open("rb") as file:
        table = tomllib.load(file)
    return {
        key: Source(key, entry["title"], entry["where"], entry["read"], entry["kind"]) for key, entry in table.items()
    }


#: Every built-in source by key.
SOURCES: Final = LazyTable("a source key", _load_sources)


def source(key: str) -> Source:
    """Return the built-in source ``key``.

    Raises:
        UnknownEntryError: There is no such key; the message names the nearest one.
    """
    return SOURCES.find(key)


def known_keys() -> tuple[str, ...]:
    """Return every built-in source key, in the order of the file."""
    return tuple(SOURCES)


def support_word(support: str) -> str:
    """Return the words for a support mark, e.g. ``no document seen``.

    Raises:
        UnknownEntryError: It is none of ``SUPPORT_WORDS``.
    """
    if support not in SUPPORT_WORDS:
        message = f"{support!r} is not a support mark; allowed: {', '.join(SUPPORT_WORDS)}"
        raise UnknownEntryError(message)
    return SUPPORT_WORDS[support]


@cache
def rows(name: str) -> tuple[Mapping[str, str], ...]:
    """Return the rows of the table ``data/<name>.csv`` as texts by column name."""
    with (_HERE / "data" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


def number(row: Mapping[str, str], column: str) -> float | None:
    """Return a cell as a number in the unit the column name ends with, or None where it is empty."""
    text = row[column]
    return float(text) if text else None


@cache
def toml_table(name: str) -> Mapping[str, Any]:
    """Return the file ``data/<name>.toml``."""
    with (_HERE / "data" / f"{name}.toml").open("rb") as file:
        return tomllib.load(file)
