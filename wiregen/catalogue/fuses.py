"""Fuses and circuit breakers: ratings, resistance, opening times, and what a rule allows for a conductor.

Blade fuses are those of ISO 8820-3 type C (``blade``) and type E (``maxi``), 32 V. What was read and what is
from memory is said row by row in ``data/fuses.csv`` and ``data/fuse_gates.csv``; of the small ratings most is
memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Final, Literal, get_args

from wiregen.catalogue.sources import LazyTable, OutsideTable, number, rows

Style = Literal["blade", "maxi"]
STYLES: Final[tuple[Style, ...]] = get_args(Style)

#: 33 CFR 183.455(c)(1): a device on a boat's circuit below 50 V may be rated up to 150 % of table 5 (S13).
SMALL_CRAFT_FACTOR: Final = 1.5


@dataclass(frozen=True, slots=True)
class FuseType:
    """One fuse rating.

    Attributes:
        style: ``blade`` or ``maxi``.
        rating_a: Rated current, A.
        colour: Colour of the body.
        colour_source: Source key of the colour.
        cold_ohm: Cold resistance, ohm; None where none is known.
        drop_v: Drop at rated current, V; None where none is known.
        i2t_a2s: Typical melting energy, A²s; None where none is known.
        source: Source key of the electrical values.
        support: How well they are supported.
        note: What else to know.
    """

    style: Style
    rating_a: float
    colour: str
    colour_source: str
    cold_ohm: float | None
    drop_v: float | None
    i2t_a2s: float | None
    source: str
    support: str
    note: str

    @property
    def hot_ohm(self) -> float | None:
        """Resistance at rated current, ohm: drop over current; None where no drop is known."""
        return None if self.drop_v is None else self.drop_v / self.rating_a


@dataclass(frozen=True, slots=True)
class FuseGate:
    """One line of a time-current table.

    Attributes:
        percent: Current as a percentage of the rating.
        min_s: The fuse must hold at least so long, s.
        max_s: The fuse must have opened after so long, s; None where it need not open.
        source: Source key.
        support: How well supported.
    """

    percent: float
    min_s: float
    max_s: float | None
    source: str
    support: str


@dataclass(frozen=True, slots=True)
class OpeningTime:
    """When a fuse opens.

    Attributes:
        min_s: It holds at least so long, s.
        max_s: It has opened after so long, s; infinite where no table line says that it must.
        source: Source keys of the lines read, joined by a comma.
        support: ``memory`` as soon as one line is from memory.
    """

    min_s: float
    max_s: float
    source: str
    support: str


@dataclass(frozen=True, slots=True)
class BreakerType:
    """A kind of circuit breaker of SAE J553.

    Attributes:
        type: ``1``, ``2`` or ``3``.
        word: How it comes back, in two words.
        behaviour: What it does, for people.
        source: Source key.
        support: How well supported.
    """

    type: str
    word: str
    behaviour: str
    source: str
    support: str


@dataclass(frozen=True, slots=True)
class Protector:
    """What a rule allows for a conductor; None where it names no such device.

    Attributes:
        breaker_a: Largest breaker, A.
        fuse_a: Largest fuse, A.
        source: Source key.
        support: How well supported.
    """

    breaker_a: float | None
    fuse_a: float | None
    source: str
    support: str


def _milli(row: Mapping[str, str], column: str) -> float | None:
    value = number(row, column)
    return None if value is None else value / 1000


@cache
def fuse_types() -> tuple[FuseType, ...]:
    """Return every fuse of the table, blades first, smallest first."""
    made = [
        FuseType(
            style=style,
            rating_a=float(row["rating_a"]),
            colour=row["colour"],
            colour_source=row["colour_source"],
            cold_ohm=_milli(row, "cold_mohm"),
            drop_v=_milli(row, "drop_mv"),
            i2t_a2s=number(row, "i2t_a2s"),
            source=row["source"],
            support=row["support"],
            note=row["note"],
        )
        for style in STYLES
        for row in rows("fuses")
        if row["style"] == style
    ]
    return tuple(sorted(made, key=lambda fuse: (STYLES.index(fuse.style), fuse.rating_a)))


def find_fuse(rating_a: float, style: Style = "blade") -> FuseType:
    """Return the fuse of a rating.

    Raises:
        OutsideTable: No fuse of this style has the rating; the message lists those that exist.
    """
    for fuse in fuse_types():
        if fuse.style == style and fuse.rating_a == rating_a:
            return fuse
    ratings = ", ".join(f"{value:g}" for value in standard_ratings_a(style))
    message = f"{rating_a:g} A is not a {style} fuse rating; made are: {ratings} A"
    raise OutsideTable(message)


@cache
def standard_ratings_a(style: Style | None = None) -> tuple[float, ...]:
    """Return the ratings made, A, smallest first: of one style, or of blades and maxis together."""
    return tuple(sorted({fuse.rating_a for fuse in fuse_types() if style in (None, fuse.style)}))


def smallest_rating_a(load_a: float, continuous_factor: float, style: Style | None = None) -> float:
    """Return the smallest standard rating that carries ``load_a`` continuously, A.

    Args:
        load_a: Continuous load, A.
        continuous_factor: Share of the rating that may be loaded for long, e.g. 0.75.
        style: Only ratings of this style.

    Raises:
        OutsideTable: No rating is large enough.
    """
    wanted_a = load_a / continuous_factor
    for rating_a in standard_ratings_a(style):
        # A load that was worked out to be 0.75 of a rating must not fail by the last binary digit.
        if rating_a >= wanted_a * (1 - 1e-12):
            return rating_a
    largest_a = standard_ratings_a(style)[-1]
    message = f"a load of {load_a:g} A wants a fuse of {wanted_a:g} A or more; the largest is {largest_a:g} A"
    raise OutsideTable(message)


def largest_rating_a(limit_a: float, style: Style | None = None) -> float:
    """Return the largest standard rating that does not exceed ``limit_a``, A.

    Raises:
        OutsideTable: Even the smallest rating exceeds it.
    """
    fitting = [rating_a for rating_a in standard_ratings_a(style) if rating_a <= limit_a * (1 + 1e-12)]
    if not fitting:
        message = f"no standard fuse is as small as {limit_a:g} A"
        raise OutsideTable(message)
    return fitting[-1]


def resistance_ohm(rating_a: float, current_a: float, style: Style = "blade") -> float:
    """Return the resistance of a fuse with a current through it, ohm.

    ``R(I) = Rc + (Rh - Rc) * (I / In)**2``: cold resistance ``Rc``, resistance at rated current ``Rh``
    (our own interpolation between the two points of S44 and of memory). Above rated current it is held at
    ``Rh``: no table goes further and the fuse is about to open. Where no drop is known, ``Rc`` holds
    throughout. A rating without a known resistance takes that of the next smaller one, which is higher, so
    that the drop is not understated.

    Args:
        rating_a: Rated current, A; need not be a standard rating.
        current_a: Current through it, A; its direction does not matter.
        style: ``blade`` or ``maxi``.

    Raises:
        OutsideTable: The rating is below the smallest of the table.
    """
    known = [fuse for fuse in fuse_types() if fuse.cold_ohm is not None and fuse.rating_a <= rating_a]
    if not known:
        message = f"no fuse resistance is known for {rating_a:g} A; the table begins at 1 A"
        raise OutsideTable(message)
    fuse = max(known, key=lambda entry: (entry.rating_a, entry.style == style))
    cold_ohm = fuse.cold_ohm or 0.0
    if fuse.hot_ohm is None:
        return cold_ohm
    load = min(1.0, abs(current_a) / rating_a)
    return cold_ohm + (fuse.hot_ohm - cold_ohm) * load * load


@cache
def gates(rating_a: float, style: Style = "blade") -> tuple[FuseGate, ...]:
    """Return the time-current lines known for a rating, lowest percentage first; empty where none is."""
    fitting = [
        row
        for row in rows("fuse_gates")
        if row["style"] == style and float(row["from_rating_a"]) <= rating_a <= float(row["to_rating_a"])
    ]
    # A line for this very rating was read in a source; the one for a range of ratings is from memory. The
    # widest range goes in first, so that the narrowest stays.
    fitting.sort(key=lambda row: float(row["from_rating_a"]) - float(row["to_rating_a"]))
    found = {
        float(row["percent"]): FuseGate(
            percent=float(row["percent"]),
            min_s=number(row, "min_s") or 0.0,
            max_s=number(row, "max_s"),
            source=row["source"],
            support=row["support"],
        )
        for row in fitting
    }
    return tuple(found[percent] for percent in sorted(found))


def opening_time(rating_a: float, current_a: float, style: Style = "blade") -> OpeningTime:
    """Return the time after which a fuse opens.

    At a percentage of the table the line itself is returned. Between two lines only what is certain: it opens
    no later than the lower line's latest time and no earlier than the upper line's earliest. Above the last
    line it opens no later than that line says; below the first that has a latest time, it need not open.

    Args:
        rating_a: Rated current, A.
        current_a: Current through it, A.
        style: ``blade`` or ``maxi``.

    Raises:
        OutsideTable: No time-current line is known for the rating.
    """
    table = gates(rating_a, style)
    if not table:
        message = f"no opening times are known for a {rating_a:g} A {style} fuse"
        raise OutsideTable(message)
    percent = 100.0 * current_a / rating_a
    below = [gate for gate in table if gate.percent <= percent * (1 + 1e-12)]
    above = [gate for gate in table if gate.percent >= percent * (1 - 1e-12)]
    latest_s = math.inf
    used = []
    for gate in below:
        if gate.max_s is not None and gate.max_s < latest_s:
            latest_s, used = gate.max_s, [gate]
    if above:
        used.append(above[0])
    used = used or below[-1:]
    return OpeningTime(
        min_s=above[0].min_s if above else 0.0,
        max_s=latest_s,
        source=",".join(dict.fromkeys(gate.source for gate in used)),
        support="memory" if any(gate.support == "memory" for gate in used) else "seen",
    )


def ambient_share(ambient_c: float) -> float:
    """Return the share of its rating a fuse carries at an ambient temperature, between table points in line.

    Read for one maxi fuse of 40 A (S44); used for the others for want of better.

    Raises:
        OutsideTable: The ambient is outside -40 to 125 °C.
    """
    points = [(float(row["ambient_c"]), float(row["fraction"])) for row in rows("fuse_derating")]
    for (from_c, from_share), (to_c, to_share) in pairwise(points):
        if from_c <= ambient_c <= to_c:
            return from_share + (to_share - from_share) * (ambient_c - from_c) / (to_c - from_c)
    message = f"{ambient_c:g} °C is outside {points[0][0]:g} to {points[-1][0]:g} °C of the fuse table"
    raise OutsideTable(message)


def protector(rule: Literal["faa", "nec"], awg: str) -> Protector:
    """Return the largest protective device a rule allows for an AWG number such as ``16`` or ``1/0``.

    ``faa`` is AC 43.13-1B table 11-3 (S2: wires in bundles, conservative); ``nec`` is the small-conductor
    rule 240.4(D) (S61: buildings).

    Raises:
        OutsideTable: The rule does not list the size.
    """
    for row in rows("protectors"):
        if (row["rule"], row["awg"]) == (rule, awg):
            return Protector(number(row, "breaker_a"), number(row, "fuse_a"), row["source"], row["support"])
    listed = ", ".join(row["awg"] for row in rows("protectors") if row["rule"] == rule)
    message = f"{awg} AWG is not in the {rule.upper()} protection table; listed are: {listed}"
    raise OutsideTable(message)


def _load_breakers() -> dict[str, BreakerType]:
    return {
        row["type"]: BreakerType(row["type"], row["word"], row["behaviour"], row["source"], row["support"])
        for row in rows("breakers")
    }


#: Circuit-breaker kinds of SAE J553 by number.
BREAKERS: Final = LazyTable("a circuit-breaker type", _load_breakers)
