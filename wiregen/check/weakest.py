"""The conductor that carries least of several, for rules that hold it against a fuse or a supply."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from wiregen.catalogue.ampacity import OutsideTable, ampacity_a
from wiregen.check.case import Case
from wiregen.model.circuit import Conductor


@dataclass(frozen=True, slots=True)
class Weakest:
    """The conductor with the lowest ampacity.

    Attributes:
        amps: What it carries, A.
        conductor: The conductor.
        source: Source key of its ampacity.
    """

    amps: float
    conductor: Conductor
    source: str


def weakest(conductors: Iterable[Conductor]) -> Weakest | None:
    """Return the conductor with the lowest ampacity, the first of equals; None where no table has any of them."""
    found: Weakest | None = None
    for conductor in conductors:
        try:
            allowed = ampacity_a(conductor.size, conductor.insulation_c, conductor.ambient_c, conductor.bundle)
        except OutsideTable:
            continue  # conductor-current names it
        if found is None or allowed.amps < found.amps:
            found = Weakest(allowed.amps, conductor, allowed.source)
    return found


def size_words(case: Case, conductor: Conductor) -> str:
    """Return the size of a conductor in words, and that it is assumed where no run states it."""
    assumed = ", size assumed, not stated" if conductor.ref in case.unstated_sizes else ""
    return f"{conductor.size.label}{assumed}"
