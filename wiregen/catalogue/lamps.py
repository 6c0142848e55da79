"""Lamps by type: filament lamps of UN R37 and by US trade number, and generic LED trailer lamps.

A lamp with two filaments is two entries, ``-bright`` and ``-dim``, because each hangs on a circuit of its
own. UN R37 gives photometry at a test voltage (13.5 V or 28 V): the current expected is the objective power
of the older sheets over the test voltage, the current to size by is the highest power of the current sheets.
A US lamp is listed by design voltage and current; its highest current is 10 % above (S30).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal, cast

from wiregen.catalogue.sources import LazyTable, number, rows

Technology = Literal["filament", "led"]

#: Filament rerating, exponents of the voltage ratio (S35, S36). They hold in the neighbourhood of the design
#: voltage; the life exponent is given as -12 to -16.
CURRENT_EXPONENT: Final = 0.55
POWER_EXPONENT: Final = 1.55
LIGHT_EXPONENT: Final = 3.4
LIFE_EXPONENT: Final = -13.0

#: Cold inrush, first order (worked out from S37: 10 to 12 times, about twice after 3 to 5 ms).
INRUSH_RATIO: Final = 11.0
INRUSH_TIME_S: Final = 0.002


@dataclass(frozen=True, slots=True, kw_only=True)
class LampType:
    """One lamp, or one filament of a lamp with two.

    Attributes:
        id: Word to write in a rig file, e.g. ``p21w-12v``, ``1157-bright`` or ``led-stop-12v``.
        title: Words to print.
        technology: ``filament`` or ``led``.
        nominal_v: Nominal system voltage, V.
        test_v: Voltage at which ``current_a`` flows, V.
        current_a: Current to expect, A. For a filament of which only a maximum is known, that; for an LED
            lamp the upper end of the range found in trade.
        max_current_a: Current to size by, A.
        current_is_maximum: Whether only the maximum is known.
        watts_rated: Power in the lamp's name, W; for US and LED lamps test voltage times current.
        flux_lm: Light, lm; None where unknown.
        mscp: Mean spherical candela of a US lamp; None otherwise.
        life_h: Rated laboratory life at ``test_v``, h; None where unknown.
        low_a: LED: lower end of the range of currents, A.
        min_v: LED: lowest working voltage, V.
        max_v: LED: highest working voltage, V.
        cut_off_v: LED: voltage below which it draws nothing, V.
        source: Source key.
        support: How well supported.
        note: What else to know.
    """

    id: str
    title: str
    technology: Technology
    nominal_v: float
    test_v: float
    current_a: float
    max_current_a: float
    current_is_maximum: bool
    watts_rated: float
    flux_lm: float | None
    mscp: float | None
    life_h: float | None
    low_a: float | None
    min_v: float | None
    max_v: float | None
    cut_off_v: float | None
    source: str
    support: str
    note: str


def current_ratio(voltage_ratio: float) -> float:
    """Return the ratio of filament current at ``voltage_ratio`` times design voltage (exponent 0.55, S35)."""
    return float(voltage_ratio**CURRENT_EXPONENT)


def power_ratio(voltage_ratio: float) -> float:
    """Return the ratio of filament power at ``voltage_ratio`` times design voltage (exponent 1.55, S35)."""
    return float(voltage_ratio**POWER_EXPONENT)


def light_ratio(voltage_ratio: float) -> float:
    """Return the ratio of light at ``voltage_ratio`` times design voltage (exponent 3.4, S35 and S36)."""
    return float(voltage_ratio**LIGHT_EXPONENT)


def life_ratio(voltage_ratio: float, exponent: float = LIFE_EXPONENT) -> float:
    """Return the ratio of filament life at ``voltage_ratio`` times design voltage.

    Args:
        voltage_ratio: Voltage over design voltage; above 0.
        exponent: -13 unless a source is to be reproduced that uses -12 or -16 (S35, S36).
    """
    return float(voltage_ratio**exponent)


def lumens(candela_mscp: float) -> float:
    """Return the flux of a lamp from its mean spherical candela, lm: 4 * pi * cp (S31)."""
    return 4 * math.pi * candela_mscp


def inrush_a2s(current_a: float, ratio: float = INRUSH_RATIO, time_constant_s: float = INRUSH_TIME_S) -> float:
    """Return the energy of a cold filament's inrush beyond the steady current, A²s.

    ``I0² * ((k-1)² * tau / 2 + 2 * (k-1) * tau)`` for ``I(t) = I0 * (1 + (k-1) * exp(-t/tau))``, worked out
    from S37.

    Args:
        current_a: Steady current, A.
        ratio: Cold over steady current.
        time_constant_s: Time constant, s.
    """
    excess = ratio - 1
    return current_a**2 * (excess**2 * time_constant_s / 2 + 2 * excess * time_constant_s)


def _lamp(row: Mapping[str, str]) -> LampType:
    test_v = float(row["test_v"])
    listed_a = number(row, "current_a")
    objective_w, max_w = number(row, "objective_w"), number(row, "max_w")
    if listed_a is not None:
        current_a, max_current_a = listed_a, listed_a * (1 + (number(row, "tolerance") or 0.0))
    else:
        max_current_a = float(row["max_w"]) / test_v
        current_a = objective_w / test_v if objective_w is not None else max_current_a
    return LampType(
        id=row["id"],
        title=row["title"],
        technology=cast("Technology", row["technology"]),
        nominal_v=float(row["nominal_v"]),
        test_v=test_v,
        current_a=current_a,
        max_current_a=max_current_a,
        current_is_maximum=listed_a is None and objective_w is None and max_w is not None,
        watts_rated=number(row, "watts_rated") or test_v * current_a,
        flux_lm=number(row, "flux_lm"),
        mscp=number(row, "mscp"),
        life_h=number(row, "life_h"),
        low_a=number(row, "low_a"),
        min_v=number(row, "min_v"),
        max_v=number(row, "max_v"),
        cut_off_v=number(row, "cut_off_v"),
        source=row["source"],
        support=row["support"],
        note=row["note"],
    )


#: Every lamp type by id.
LAMPS: Final = LazyTable("a lamp type", lambda: {row["id"]: _lamp(row) for row in rows("lamps")})


def find_lamp(lamp_id: str) -> LampType:
    """Return the lamp type ``lamp_id``.

    Raises:
        UnknownEntryError: There is none; the message names the nearest one.
    """
    return LAMPS.find(lamp_id)
