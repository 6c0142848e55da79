"""How much current a conductor may carry.

Which table holds depends on the series and on the area, always rounding toward the smaller conductor:

* AWG and SAE: 33 CFR 183.425 table 5 (S12), the row of the largest AWG area that is not larger than the
  conductor's. An SAE conductor is smaller than the AWG of its number, so 14 SAE reads the 16 AWG row.
* metric: the lower of that and DIN VDE 0298-4 table 11, single core in free air (S14).
* from 0.75 mm², the smallest size VDE lists, up to 18 AWG (0.823 mm²), where the law's table has ended: the
  conductor's share, by area, of the law's smallest row. Current rises less than in proportion to area, so the
  straight line from nothing to that row lies below the truth; it lies below the VDE row too.
* below 0.75 mm²: FAA AC 43.13-1B table 11-9 (S2), taken as printed for a large bundle at high altitude. That
  is pessimistic; nothing is added back.

Insulation between two columns takes the cooler one. Another ambient scales with the temperature rise that is
left, ``sqrt((Tins - Ta) / (Tins - Tref))``, which reproduces note 1 of the law's table and VDE table 17;
below 30 °C it is not allowed to raise the figure. Several loaded conductors in one bundle: S11.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

from wiregen.catalogue.sources import OutsideTable, rows
from wiregen.quantity import ConductorSize, parse_size

__all__ = ["Ampacity", "OutsideTable", "ambient_factor", "ampacity_a", "bundle_factor"]

_CFR_COLUMNS_C: Final = (60.0, 75.0, 80.0, 90.0, 105.0, 125.0, 200.0)
_REFERENCE_C: Final = 30.0
_VDE_INSULATION_C: Final = 70.0
#: FAA table 11-9: conductors at 105 °C, ambient 70 °C, bundles of 33 or more of which 20 % is loaded. The
#: factor inside it is 0.52 (read from its curve, from memory).
_FAA_INSULATION_C, _FAA_AMBIENT_C, _FAA_BUNDLE_FACTOR = 105.0, 70.0, 0.52
_MM2_PER_CIRC_MIL: Final = 5.067075e-4
#: An area may come out of a formula: equal to twelve digits is equal.
_SAME: Final = 1 + 1e-12


@dataclass(frozen=True, slots=True)
class Ampacity:
    """How much current a conductor may carry continuously.

    Attributes:
        amps: The current, A; 0 where the ambient is already as hot as the insulation may get.
        source: Source key of the table.
        support: How well supported.
        note: Which row and column were read, and what was applied, in words.
        base_a: The table's value before the factors, A.
        ambient_factor: Factor for the ambient and, outside the law's table, for the insulation class.
        bundle_factor: Factor for the bundle.
    """

    amps: float
    source: str
    support: str
    note: str
    base_a: float
    ambient_factor: float
    bundle_factor: float


@dataclass(frozen=True, slots=True)
class _Row:
    area_mm2: float
    label: str
    amps: tuple[float, ...]


def ambient_factor(insulation_c: float, ambient_c: float, reference_c: float = _REFERENCE_C) -> float:
    """Return ``sqrt((Tins - Ta) / (Tins - Tref))``: heat leaves in proportion to the rise above ambient.

    Args:
        insulation_c: Highest conductor temperature, °C.
        ambient_c: Ambient, °C.
        reference_c: Ambient the table was made for, °C.

    Returns:
        The factor on current: above 1 below the reference, 0 at or above the insulation's temperature.

    Raises:
        OutsideTable: The insulation stands no more than the reference ambient, or a value is no number.
    """
    if not math.isfinite(insulation_c + ambient_c + reference_c) or insulation_c <= reference_c:
        message = f"insulation of {insulation_c:g} °C at {ambient_c:g} °C: no ambient correction is defined"
        raise OutsideTable(message)
    return math.sqrt(max(0.0, insulation_c - ambient_c) / (insulation_c - reference_c))


def bundle_factor(conductors: int) -> tuple[float, str, str]:
    """Return (factor, source key, support) for so many loaded conductors in one bundle or sheath.

    1-2: 1.00, 3: 0.70, 4-6: 0.60, 7-24: 0.50 (S11); 25 and more: 0.40 (from memory).

    Raises:
        OutsideTable: Fewer than one conductor.
    """
    found = None
    for row in rows("bundle_factors"):
        if int(row["from_conductors"]) <= conductors:
            found = row
    if found is None:
        message = f"a bundle of {conductors} conductors: at least one is wanted"
        raise OutsideTable(message)
    return float(found["factor"]), found["source"], found["support"]


def ampacity_a(size: ConductorSize, insulation_c: float, ambient_c: float, bundle: int) -> Ampacity:
    """Return the highest continuous current of a conductor; the policy is in the module's first lines.

    Args:
        size: Cross-section with its series.
        insulation_c: Highest temperature the insulation stands, °C.
        ambient_c: Temperature of the air around the bundle, °C.
        bundle: Loaded conductors that lie together, this one included.

    Raises:
        OutsideTable: The conductor is smaller than wire 24 of the FAA table (0.241 mm²) or larger than 4/0
            AWG, the insulation stands less than 60 °C, or the bundle is empty.
    """
    if not math.isfinite(insulation_c + ambient_c):
        message = f"insulation of {insulation_c:g} °C at {ambient_c:g} °C: finite temperatures are wanted"
        raise OutsideTable(message)
    if insulation_c < _CFR_COLUMNS_C[0]:
        message = f"insulation of {insulation_c:g} °C: the tables begin at {_CFR_COLUMNS_C[0]:g} °C"
        raise OutsideTable(message)
    if size.area_mm2 > _cfr()[-1].area_mm2 * _SAME:
        message = f"{size.label} is larger than {_cfr()[-1].label}, the last row of the table"
        raise OutsideTable(message)
    law, vde = _row(_cfr(), size.area_mm2), _row(_vde(), size.area_mm2)
    if law is None:
        small = _small if vde is None else _between
        return small(size, insulation_c, ambient_c, bundle)
    by_law = _by_law(law, "seen", insulation_c, ambient_c, bundle)
    if size.series != "mm2" or vde is None:
        return by_law
    by_vde = _by_vde(vde, insulation_c, ambient_c, bundle)
    return min(by_law, by_vde, key=lambda entry: entry.amps)


def _column_c(insulation_c: float) -> float:
    """Return the law's insulation column that is not hotter than ``insulation_c``, °C."""
    return max(value for value in _CFR_COLUMNS_C if value <= insulation_c)


def _by_law(row: _Row, support: str, insulation_c: float, ambient_c: float, bundle: int) -> Ampacity:
    read_c = _column_c(insulation_c)
    ambient = min(1.0, ambient_factor(read_c, ambient_c))
    note = f"33 CFR 183.425 table 5, {row.label}, {read_c:g} °C column"
    return _made(row.amps[_CFR_COLUMNS_C.index(read_c)], ("S12", support), note, ambient, bundle)


def _by_vde(row: _Row, insulation_c: float, ambient_c: float, bundle: int) -> Ampacity:
    # The temperature-rise law carries the 70 °C class to another one; VDE table 18 agrees: a 90 °C cable
    # needs no reduction up to 50 °C, and sqrt((90 - 50) / (70 - 30)) is 1.
    left_k = insulation_c - max(ambient_c, _REFERENCE_C)
    ambient = math.sqrt(max(0.0, left_k) / (_VDE_INSULATION_C - _REFERENCE_C))
    note = f"DIN VDE 0298-4 table 11, single core in free air, {row.label}"
    return _made(row.amps[0], ("S14", "seen"), note, ambient, bundle)


def _between(size: ConductorSize, insulation_c: float, ambient_c: float, bundle: int) -> Ampacity:
    smallest = _cfr()[0]
    share = size.area_mm2 / smallest.area_mm2
    row = _Row(size.area_mm2, f"{share:.2f} of {smallest.label}", tuple(share * a for a in smallest.amps))
    return _by_law(row, "derived", insulation_c, ambient_c, bundle)


def _small(size: ConductorSize, insulation_c: float, ambient_c: float, bundle: int) -> Ampacity:
    row = _row(_faa(), size.area_mm2)
    if row is None:
        message = f"{size.label} is smaller than {_faa()[0].label}, the first row of any table"
        raise OutsideTable(message)
    left_k = min(_column_c(insulation_c), _FAA_INSULATION_C) - max(ambient_c, _REFERENCE_C)
    ambient = math.sqrt(max(0.0, left_k) / (_FAA_INSULATION_C - _FAA_AMBIENT_C))
    note = f"FAA AC 43.13-1B table 11-9, {row.label}, 105 °C column, pessimistic: bundle of 33 at 60 000 ft"
    return _made(row.amps[0], ("S2", "derived"), note, ambient, bundle, _FAA_BUNDLE_FACTOR)


def _made(
    base_a: float, origin: tuple[str, str], note: str, ambient: float, bundle: int, inside: float = 1.0
) -> Ampacity:
    """Apply the factors; ``origin`` is source and support, ``inside`` the bundle factor in the table."""
    factor, bundle_source, bundle_support = bundle_factor(bundle)
    factor = min(1.0, factor / inside)
    source, support = origin
    return Ampacity(
        amps=base_a * ambient * factor,
        source=source,
        support="memory" if bundle_support == "memory" else support,
        note=f"{note}; ambient {ambient:.2f}, bundle of {bundle} {factor:.2f} ({bundle_source})",
        base_a=base_a,
        ambient_factor=ambient,
        bundle_factor=factor,
    )


def _row(table: tuple[_Row, ...], area_mm2: float) -> _Row | None:
    """Return the largest row that is not larger than ``area_mm2``."""
    return max((row for row in table if row.area_mm2 <= area_mm2 * _SAME), key=lambda row: row.area_mm2, default=None)


@cache
def _cfr() -> tuple[_Row, ...]:
    return tuple(
        _Row(
            parse_size(f"{row['awg']} AWG").area_mm2,
            f"{row['awg']} AWG",
            tuple(float(row[f"{column:g}_c_a"]) for column in _CFR_COLUMNS_C),
        )
        for row in rows("ampacity_cfr")
    )


@cache
def _vde() -> tuple[_Row, ...]:
    return tuple(
        _Row(float(row["area_mm2"]), f"{row['area_mm2']} mm²", (float(row["single_core_free_air_a"]),))
        for row in rows("ampacity_vde")
    )


@cache
def _faa() -> tuple[_Row, ...]:
    return tuple(
        _Row(
            float(row["circ_mils"]) * _MM2_PER_CIRC_MIL,
            f"MIL wire {row['mil_wire']}",
            (float(row["105_c_a"]),),
        )
        for row in rows("ampacity_faa")
    )
