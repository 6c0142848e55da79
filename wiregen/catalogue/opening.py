"""How long a protective device lets a fault current flow, and how long a conductor stands it.

Between and above the lines of a time-current table only what is certain is said. A device that has opened by ``t`` at a
current ``I`` has opened at a larger one by ``t``, and has let through no more than ``I² t``: less heat is lost on the
way, so the melting energy only falls. Both bounds are used: the first is the latest time, the second what a conductor
behind it must stand.

A conductor stands ``t = (k S / I)²`` without loss of heat, with

    k = 226 · sqrt(ln(1 + (T short - T use) / (234.5 + T use)))

in A s^½/mm², which reproduces the copper column of S70 to the printed unit. It starts at the temperature its insulation
is made for, and may reach what the insulation stands for seconds. S70 calls the values suitable up to 5 s; beyond, heat
is lost and a conductor stands more than that.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal, get_args

from wiregen.catalogue.fuses import FuseGate, Style, fuse_types, gates
from wiregen.catalogue.sources import OutsideTable, number, rows
from wiregen.quantity import ConductorSize

Breaker = Literal["type I", "type II", "type III"]
BREAKER_TYPES: Final[tuple[Breaker, ...]] = get_args(Breaker)

#: Of copper, A s^½/mm² and °C (S70's source, IEC 60364-5-54).
_COPPER_K: Final = 226.0
_COPPER_C: Final = 234.5


@dataclass(frozen=True, slots=True)
class Opening:
    """When a device opens at a current.

    Attributes:
        min_s: It holds at least so long, s.
        max_s: It has opened after so long, s; infinite where no line of its table says that it must.
        heat_s: Time for which the current heats a conductor at the most, s: what is let through over I².
        is_known: Whether its table says of any current that it must open; without, ``max_s`` is not known.
        source: Source keys of the lines read, joined by a comma.
        support: How well supported.
    """

    min_s: float
    max_s: float
    heat_s: float
    is_known: bool
    source: str
    support: str


def style_of(rating_a: float) -> Style:
    """Return the style a rating is taken for: a blade fuse, but above 40 A, where none is made, a maxi fuse."""
    return "blade" if rating_a <= max(f.rating_a for f in fuse_types() if f.style == "blade") else "maxi"


def fuse_opening(rating_a: float, current_a: float) -> Opening:
    """Return when a fuse opens.

    Args:
        rating_a: Rated current, A.
        current_a: Current through it, A.
    """
    return _opening(gates(rating_a, style_of(rating_a)), rating_a, current_a)


@cache
def smallest_timed_a() -> float:
    """Return the smallest blade fuse whose table says of any current that it must open, A."""
    blades = (fuse.rating_a for fuse in fuse_types() if fuse.style == "blade")
    return min(a for a in blades if any(gate.max_s is not None for gate in gates(a, "blade")))


def breaker_opening(rating_a: float, current_a: float) -> Opening:
    """Return when a circuit breaker opens for the first time; of type I it closes again.

    Args:
        rating_a: Rated current, A.
        current_a: Current through it, A.
    """
    return _opening(breaker_gates(), rating_a, current_a)


@cache
def breaker_gates() -> tuple[FuseGate, ...]:
    """Return the time-current lines of circuit breakers, lowest percentage first (SAE J553, from memory)."""
    return tuple(
        FuseGate(
            percent=float(row["percent"]),
            min_s=number(row, "min_s") or 0.0,
            max_s=number(row, "max_s"),
            source=row["source"],
            support=row["support"],
        )
        for row in rows("breaker_gates")
    )


def _opening(table: Sequence[FuseGate], rating_a: float, current_a: float) -> Opening:
    percent = 100.0 * current_a / rating_a
    below = [gate for gate in table if gate.percent <= percent * (1 + 1e-12)]
    above = [gate for gate in table if gate.percent >= percent * (1 - 1e-12)]
    must = [(gate, gate.max_s) for gate in below if gate.max_s is not None]
    max_s = min((seconds for _, seconds in must), default=math.inf)
    through = min((seconds * (gate.percent / 100 * rating_a) ** 2 for gate, seconds in must), default=math.inf)
    used = [gate for gate, seconds in must if seconds == max_s][:1] + above[:1] or below[-1:]
    return Opening(
        min_s=above[0].min_s if above else 0.0,
        max_s=max_s,
        heat_s=min(max_s, through / current_a**2) if current_a > 0 else math.inf,
        is_known=any(gate.max_s is not None for gate in table),
        source=",".join(dict.fromkeys(gate.source for gate in used)),
        support="memory" if any(gate.support == "memory" for gate in used) else "seen",
    )


def melting_a2s(rating_a: float, *, toward: Literal["lower", "upper", ""] = "") -> float | None:
    """Return the typical melting energy of a fuse, A²s; None where none is known.

    Args:
        rating_a: Rated current, A.
        toward: For a rating without one take that of the next smaller or larger rating of its style; none when empty.
    """
    style = style_of(rating_a)
    known = {fuse.rating_a: fuse.i2t_a2s for fuse in fuse_types() if fuse.style == style and fuse.i2t_a2s is not None}
    if rating_a in known or not toward:
        return known.get(rating_a)
    if toward == "lower":
        return known.get(max((rating for rating in known if rating < rating_a), default=0.0))
    return known.get(min((rating for rating in known if rating > rating_a), default=0.0))


def k_factor(use_c: float, short_c: float) -> float:
    """Return k of copper, A s^½/mm².

    Args:
        use_c: Temperature before the short, °C.
        short_c: Temperature the insulation stands for the time of a short, °C.
    """
    return _COPPER_K * math.sqrt(math.log(1 + max(0.0, short_c - use_c) / (_COPPER_C + use_c)))


def short_limit_c(insulation_c: float) -> float:
    """Return what an insulation stands for the time of a short, °C.

    Raises:
        OutsideTable: The insulation stands less than any in the table.
    """
    found = [
        float(row["short_c"]) for row in rows("insulation_limits") if float(row["from_insulation_c"]) <= insulation_c
    ]
    if not found:
        message = f"no short-time temperature is known for insulation of {insulation_c:g} °C"
        raise OutsideTable(message)
    return found[-1]


def withstand_a2s(size: ConductorSize, insulation_c: float) -> float:
    """Return k² S² of a conductor at the temperature its insulation is made for, A²s.

    Raises:
        OutsideTable: The insulation stands less than any in the table.
    """
    return (k_factor(insulation_c, short_limit_c(insulation_c)) * size.area_mm2) ** 2
