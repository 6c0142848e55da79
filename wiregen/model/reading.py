"""What a meter shows: voltages and currents at contacts, lamps and supplies in a chosen state."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from wiregen.model.shown import Shown

ReadingKind = Literal["contact", "lamp", "load", "supply"]
Half = Literal["", "lit", "dark"]


@dataclass(frozen=True, slots=True)
class Span:
    """A value at the nominal corner, with the lowest and highest over all corners; None where there is none."""

    nominal: float | None
    lowest: float | None
    highest: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One place to put the meter.

    Attributes:
        kind: What it is.
        part: Reference designation of the part, ``-X1:E``, ``-E1``, ``-T1``.
        connector: Designation of the connector, or an empty text.
        mark: Mark of the contact, or an empty text.
        side: Which side of a mated contact, or of a converter: vehicle, adapter, trailer, input, output; or empty.
        what: What it carries or is, in words.
        at: Terminal for the meter's plus lead.
        against: Terminal for the meter's minus lead.
        volts_v: What a voltmeter shows, V.
        amps_a: Current through the part, A; positive towards the lamp in a feed and back to the battery in a ground.
        floats: Whether a lead touches a terminal that hangs on nothing, at one corner at least.
    """

    kind: ReadingKind
    part: str
    connector: str = ""
    mark: str = ""
    side: str = ""
    what: str
    at: str
    against: str
    volts_v: Span
    amps_a: Span
    floats: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StateReadings:
    """All readings in one state, in one half of the flash where it flashes.

    Attributes:
        trailer: Name of the coupled trailer.
        state: The controls in words.
        half: Half of the flash; empty where nothing flashes.
        readings: Contacts of the vehicle socket first, then of the trailer connector, then lamps, loads and supplies.
        troubles: (corner in words, why) of each corner whose operating point cannot be trusted; it is left out.
    """

    trailer: str
    state: str
    half: Half
    readings: tuple[Reading, ...]
    troubles: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingSheet(Shown):
    """Readings of one rig.

    Attributes:
        title: Title of the rig.
        digest: Digest of the rig file.
        corners: The corners of the ranges, in words; the first is the nominal one.
        shells: Short name of each connector, by trailer and designation.
        states: What was asked for.
        notes: What the reader must know of the states, in sentences.
    """

    title: str
    digest: str
    corners: tuple[str, ...]
    shells: Mapping[tuple[str, str], str]
    states: tuple[StateReadings, ...]
    notes: tuple[str, ...] = ()
