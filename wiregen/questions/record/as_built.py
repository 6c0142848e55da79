"""What was measured on the finished rig, judged against what was expected: the record for the next owner."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Final, Literal

from wiregen.model.reading import Reading, ReadingSheet, StateReadings
from wiregen.model.shown import Shown

#: Beyond this, in V or A, a number is a slip of the finger.
LARGEST: Final = 10_000.0

Unit = Literal["V", "A"]
#: ``as expected``: inside the range, give or take the meter. ``not judged``: nothing holds that place.
Judgement = Literal["as expected", "low", "high", "not judged"]


@dataclass(frozen=True, slots=True)
class NumberedReading:
    """One reading to take.

    Attributes:
        ident: ``3.12``: state 3, row 12 of the test sheet.
        state: The state it belongs to.
        reading: What is expected.
    """

    ident: str
    state: StateReadings
    reading: Reading


@dataclass(frozen=True, slots=True)
class Entry:
    """One value that somebody read and typed back: the number on the test sheet, the value and its unit."""

    ident: str
    value: float
    unit: Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One value that was read, with what was expected.

    Attributes:
        ident: Number on the test sheet.
        trailer: Trailer coupled.
        state: The controls in words, with the half of the flash.
        part: Part or contact.
        side: Side of a contact or converter, or empty.
        what: What it is, in words.
        unit: Unit of the values.
        value: What was read.
        lowest: Lowest expected value; None where there is none.
        highest: Highest expected value.
        judged: The verdict.
    """

    ident: str
    trailer: str
    state: str
    part: str
    side: str
    what: str
    unit: Unit
    value: float
    lowest: float | None
    highest: float | None
    judged: Judgement


@dataclass(frozen=True, slots=True, kw_only=True)
class AsBuilt(Shown):
    """One day's readings.

    Attributes:
        title: Title of the rig.
        digest: Digest of the rig file that the expected values come from.
        date: The day.
        by: Who measured, or empty.
        meter: With what, or empty.
        taken: What was read.
    """

    title: str
    digest: str
    date: dt.date
    by: str
    meter: str
    taken: tuple[Taken, ...]

    @property
    def amiss(self) -> tuple[Taken, ...]:
        """Return what lies outside its range."""
        return tuple(one for one in self.taken if one.judged in ("low", "high"))


def numbered(sheet: ReadingSheet) -> tuple[NumberedReading, ...]:
    """Return the readings to take: contacts on the adapter's side, lamps, loads and supplies, state by state."""
    made = []
    for number, state in enumerate(sheet.states, start=1):
        wanted = [reading for reading in state.readings if reading.kind != "contact" or reading.side == "adapter"]
        made += [NumberedReading(f"{number}.{place}", state, reading) for place, reading in enumerate(wanted, start=1)]
    return tuple(made)


def number_in(text: str) -> float | None:
    """Return the number in what somebody typed or a spreadsheet wrote: ``12,6 V``, ``12.6``; None for no number."""
    bare = text.strip().removesuffix("V").removesuffix("A").strip().replace("\N{MINUS SIGN}", "-")
    if bare.count(",") == 1 and "." not in bare:
        bare = bare.replace(",", ".")
    try:
        value = float(bare)
    except ValueError:
        return None
    return value if abs(value) <= LARGEST else None
