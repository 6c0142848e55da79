"""Keys that had another name in an earlier format of the files, and what they are called today.

A rig file or pinout file says which format it follows: ``format = 2``. One without a number is of the first format, or
of today's. A key that is gone is refused by its new name; ``wiregen.loader.upgrade`` renames it in the file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from wiregen.catalogue.connector import FORMAT

__all__ = ["FORMAT", "RENAMED", "Renamed", "renamed"]

KeyPath = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Renamed:
    """A key with another name than before.

    Attributes:
        table: The tables around it, without numbers: ``("vehicle", "tap")``.
        old: Its name before.
        new: Its name today.
    """

    table: tuple[str, ...]
    old: str
    new: str


RENAMED: Final = (
    Renamed((), "ties", "bridged"),
    Renamed(("vehicle",), "feed", "fuse"),
    Renamed(("vehicle",), "habit", "exception"),
    Renamed(("vehicle", "tap"), "at", "source"),
    Renamed(("adapter", "supply"), "feed", "fed_by"),
    Renamed(("adapter", "channel"), "make", "inrush"),
    Renamed(("trailer",), "ties", "bridged"),
    Renamed(("trailer", "lamp"), "at", "contact"),
    Renamed(("trailer", "battery"), "feed", "isolation"),
)


def renamed(path: KeyPath) -> Renamed | None:
    """Return how the key at a path is called today, or None where it never had another name."""
    names = tuple(part for part in path if isinstance(part, str))
    return next((one for one in RENAMED if (*one.table, one.old) == names), None)
