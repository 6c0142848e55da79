"""What every check between records needs: places of problems, names used twice, keys that say nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

from wiregen.catalogue.circuits import CIRCUITS, SIGNALS
from wiregen.catalogue.connector import Record
from wiregen.errors import Problem, guess
from wiregen.loader.diagnose import clash, mark
from wiregen.loader.reading import TomlDocument
from wiregen.loader.toml_places import KeyPath
from wiregen.rig.records import Rig


class Checker:
    """Checks one rig; every check yields its problems."""

    def __init__(self, document: TomlDocument, rig: Rig) -> None:
        self.document = document
        self.rig = rig
        self.taps = {tap.name for tap in rig.vehicle.tap}

    def problem(self, message: str, *path: str | int, on_key: bool = False, word: str = "") -> Problem:
        """Return a problem at a key path."""
        place = mark(self.document, path, "key" if on_key else "value", word=word)
        return Problem(message, (place,), ".".join(map(str, path)))

    def twice(self, names: Iterable[tuple[str | None, KeyPath]], word: str) -> Iterator[Problem]:
        """Yield the names that stand at two places."""
        first: dict[str, KeyPath] = {}
        for name, path in names:
            if name is None:
                continue
            if name in first:
                yield clash(self.document, f"{word} {name!r} is used twice", path, first[name])
            first.setdefault(name, path)

    def signals(self, names: tuple[str, ...], path: KeyPath) -> Iterator[Problem]:
        """Yield the names that are no control signals."""
        for name in names:
            if name not in SIGNALS:
                yield self.problem(
                    f"{name!r} is not a control signal{guess(name, SIGNALS)} Allowed: {', '.join(SIGNALS)}",
                    *path,
                    word=name,
                )

    def inputs(self, names: tuple[str, ...], path: KeyPath) -> Iterator[Problem]:
        """Yield the names that are neither circuits a vehicle makes live nor taps."""
        usable = [n for n, kind in CIRCUITS.items() if kind.live != "never"]
        for name in names:
            if name not in usable and name not in self.taps:
                known = [*usable, *self.taps]
                yield self.problem(
                    f"{name!r} is neither a vehicle circuit nor a tap{guess(name, known)} "
                    f"Circuits: {', '.join(usable)}. Taps: {', '.join(sorted(self.taps)) or 'none'}",
                    *path,
                    word=name,
                )

    def ordered(self, path: KeyPath, entry: Record, rising: tuple[str, ...]) -> Iterator[Problem]:
        """Yield attributes of an entry that are smaller than one that stands before them in ``rising``."""
        written = [(key_of(entry, name), getattr(entry, name)) for name in rising if getattr(entry, name) is not None]
        for (low, least), (high, most) in pairwise(written):
            if most < least:
                yield clash(self.document, f"{high} must not be less than {low}", (*path, high), (*path, low))


def key_of(entry: Record, attribute: str) -> str:
    """Return the key that a file has for an attribute."""
    return type(entry).model_fields[attribute].alias or attribute
