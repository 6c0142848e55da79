"""Copper conductors: resistance, sizes, diameters, and what they may carry.

Resistance is computed with the annealed-copper standard and the temperature law
``R(T) = R20 * (234.5 + T) / 254.5`` (AC 43.13-1B page 11-22, key S2). Which value is taken at 20 °C depends
on the series, because a bare number is not a size:

* metric, stranded: the highest resistance ISO 6722 allows for the size (S8), so that no conforming cable
  drops more; a size it does not list takes IEC 60228 class 5 (S6); one neither lists, ``rho / A`` times 1.11;
* metric, solid: IEC 60228 class 1 (S6), else ``rho / A`` times 1.08;
* AWG: the ASTM B258 area and ``rho / A``, times 1.02 when stranded, the stranded to solid ratio of NEC
  chapter 9 table 8 (S5);
* SAE: ``rho / A`` with the vehicle-cable area (S10). That lies 2.5 % below to 6.5 % above a service manual's
  values (S52) and above another table's (S44), so nothing is added for stranding.

How much current a conductor may carry is worked out in ``wiregen.catalogue.ampacity``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Final

from wiregen.catalogue.ampacity import Ampacity, ambient_factor, ampacity_a, bundle_factor
from wiregen.catalogue.sources import LazyTable, OutsideTable, UnknownEntryError, number, rows
from wiregen.errors import nearest
from wiregen.quantity import SAE_AREA_MM2, ConductorSize, Series, parse_size

__all__ = [
    "AWG_STRANDED_FACTOR",
    "COPPER_KG_PER_M_MM2",
    "COPPER_OHM_MM2_PER_M",
    "COPPER_ZERO_C",
    "METRIC_SOLID_FACTOR",
    "METRIC_STRANDED_FACTOR",
    "WIRE_TYPES",
    "Ampacity",
    "OutsideTable",
    "Resistance",
    "WireType",
    "ambient_factor",
    "ampacity_a",
    "bundle_diameter_mm",
    "bundle_factor",
    "copper_factor",
    "outer_diameter_mm",
    "resistance_per_m",
    "resistance_per_m_ohm",
    "standard_sizes",
]

#: Annealed copper at 20 °C, ohm·mm²/m: the IACS value 1/58 (IEC 60028, from memory; S1 agrees to 0.04 %).
COPPER_OHM_MM2_PER_M: Final = 1 / 58
#: Annealed copper, 8.89 g/cm³, as the mass of one metre of one mm², kg (IEC 60028, from memory).
COPPER_KG_PER_M_MM2: Final = 8.89e-3
#: Below zero by this much the linear law would make the resistance vanish, °C (S2).
COPPER_ZERO_C: Final = 234.5
#: Stranded over solid resistance of one AWG size (S5: 7.95/7.77, 4.99/4.89, 3.14/3.07, 1.98/1.93, 1.24/1.21).
AWG_STRANDED_FACTOR: Final = 1.02
#: Largest ``R20 * A / rho`` of the ISO 6722 rows, 1.105, rounded up (worked out from S8).
METRIC_STRANDED_FACTOR: Final = 1.11
#: Largest ``R20 * A / rho`` of the IEC 60228 class 1 rows up to 35 mm², 1.075, rounded up (from S6).
METRIC_SOLID_FACTOR: Final = 1.08

#: Sizes sold, in rising area; the metric list is that of ISO 6722.
_AWG_NUMBERS: Final = (
    *("22", "20", "18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1"),
    *("1/0", "2/0", "3/0", "4/0"),
)
#: The linear law is good for cables over their range of use, °C.
_COLDEST_C, _HOTTEST_C = -70.0, 250.0


@dataclass(frozen=True, slots=True)
class Resistance:
    """Resistance of a conductor.

    Attributes:
        ohm_per_m: Resistance of one metre of one conductor, ohm/m, at the temperature asked for.
        source: Source key of the 20 °C value.
        support: How well it is supported.
        note: How it was found, in words.
    """

    ohm_per_m: float
    source: str
    support: str
    note: str


@dataclass(frozen=True, slots=True)
class WireType:
    """A letter code of wire and the temperature its insulation stands.

    Attributes:
        name: Letters, e.g. ``GXL``.
        insulation_c: Highest conductor temperature, °C; the lower one where two sources differ.
        source: Source key.
        support: How well supported.
        note: What the other source says.
    """

    name: str
    insulation_c: float
    source: str
    support: str
    note: str


def copper_factor(temperature_c: float, reference_c: float = 20.0) -> float:
    """Return ``R(temperature_c) / R(reference_c)`` of copper: (234.5 + T) / (234.5 + Tref), key S2.

    Raises:
        OutsideTable: A temperature outside -70 to 250 °C.
    """
    for value_c in (temperature_c, reference_c):
        if not _COLDEST_C <= value_c <= _HOTTEST_C:
            message = f"copper at {value_c:g} °C is outside {_COLDEST_C:g} to {_HOTTEST_C:g} °C"
            raise OutsideTable(message)
    return (COPPER_ZERO_C + temperature_c) / (COPPER_ZERO_C + reference_c)


def resistance_per_m(size: ConductorSize, temperature_c: float, stranded: bool = True) -> Resistance:
    """Return the resistance of one metre of conductor; the policy is in the module's first lines.

    Args:
        size: Cross-section with its series.
        temperature_c: Copper temperature, °C.
        stranded: False for a solid conductor.

    Raises:
        OutsideTable: A temperature outside -70 to 250 °C.
    """
    at_20 = _at_20(size, stranded)
    return Resistance(
        at_20.ohm_per_m * copper_factor(temperature_c),
        at_20.source,
        at_20.support,
        f"{at_20.note}; copper at {temperature_c:g} °C",
    )


#: The same function under the name that says the unit.
resistance_per_m_ohm = resistance_per_m


def _at_20(size: ConductorSize, stranded: bool) -> Resistance:
    solid = COPPER_OHM_MM2_PER_M / size.area_mm2
    if size.series == "AWG":
        if not stranded:
            return Resistance(solid, "M-B258", "derived", "ASTM B258 area, solid")
        note = f"ASTM B258 area, stranded: NEC ratio {AWG_STRANDED_FACTOR:g}"
        return Resistance(solid * AWG_STRANDED_FACTOR, "S5", "derived", note)
    if size.series == "SAE":
        key = "S9" if size.label.startswith("20 ") else "S10"
        return Resistance(solid, key, "derived", "SAE area")
    return _metric_at_20(size.area_mm2, solid, stranded)


def _metric_at_20(area_mm2: float, solid: float, stranded: bool) -> Resistance:
    tables = (("iso6722", "max_mohm_per_m"), ("iec60228", "flexible_mohm_per_m"))
    for name, column in tables if stranded else (("iec60228", "solid_mohm_per_m"),):
        row = _by_area(f"conductors_{name}").get(area_mm2)
        milliohm = number(row, column) if row else None
        if row and milliohm is not None:
            word = "ISO 6722" if name == "iso6722" else "IEC 60228"
            return Resistance(milliohm / 1000, row["source"], row["support"], f"{word} maximum")
    if stranded:
        note = f"no table row: calculated, times {METRIC_STRANDED_FACTOR:g} for stranding"
        return Resistance(solid * METRIC_STRANDED_FACTOR, "S8", "derived", note)
    note = f"no table row: calculated, times {METRIC_SOLID_FACTOR:g} for tolerance"
    return Resistance(solid * METRIC_SOLID_FACTOR, "S6", "derived", note)


@cache
def _by_area(name: str) -> dict[float, dict[str, str]]:
    return {float(row["area_mm2"]): dict(row) for row in rows(name)}


@cache
def standard_sizes(series: Series) -> tuple[ConductorSize, ...]:
    """Return the sizes of a series that are sold, smallest first: for choosing a conductor.

    Metric sizes are those of ISO 6722 (S8), SAE sizes those of J1128 (S9, S10).
    """
    if series == "mm2":
        return tuple(parse_size(f"{row['area_mm2']} mm²") for row in rows("conductors_iso6722"))
    if series == "AWG":
        return tuple(parse_size(f"{name} AWG") for name in _AWG_NUMBERS)
    return tuple(parse_size(f"{name} SAE") for name in SAE_AREA_MM2)


#: Construction -> (table, column) of its largest overall diameter.
_DIAMETERS: Final = {
    "thin wall": ("mm2", "thin_wall_od_mm"),
    "thick wall": ("mm2", "thick_wall_od_mm"),
    "GPT": ("SAE", "gpt_gxl_od_mm"),
    "GXL": ("SAE", "gpt_gxl_od_mm"),
    "TXL": ("SAE", "txl_od_mm"),
    "SXL": ("SAE", "sxl_od_mm"),
}


def outer_diameter_mm(size: ConductorSize, construction: str) -> float | None:
    """Return the largest overall diameter of an insulated conductor, mm, or None where no table has it.

    Args:
        size: Cross-section.
        construction: ``thin wall`` or ``thick wall`` for metric road-vehicle cable (S8); ``GPT``, ``GXL``,
            ``TXL`` or ``SXL`` for SAE cable (S9).

    Raises:
        UnknownEntryError: Another construction.
    """
    if construction not in _DIAMETERS:
        hint = nearest(construction, _DIAMETERS)
        message = f"{construction!r} is not a construction with known diameters{hint}"
        raise UnknownEntryError(message)
    series, column = _DIAMETERS[construction]
    if series != size.series:
        return None
    if series == "mm2":
        row = _by_area("conductors_iso6722").get(size.area_mm2)
    else:
        name = size.label.removesuffix(" SAE")
        row = next((dict(entry) for entry in rows("conductors_sae") if entry["number"] == name), None)
    return number(row, column) if row else None


def bundle_diameter_mm(diameters_mm: Iterable[float]) -> float:
    """Return the diameter of a round bundle, mm: 1.2 * sqrt(sum of squares), a shop rule from memory."""
    return 1.2 * math.sqrt(math.fsum(diameter * diameter for diameter in diameters_mm))


def _load_wire_types() -> dict[str, WireType]:
    return {
        row["type"]: WireType(row["type"], float(row["insulation_c"]), row["source"], row["support"], row["note"])
        for row in rows("wire_types")
    }


#: Wire types by letters, with the lower temperature where two sources differ.
WIRE_TYPES: Final = LazyTable("a wire type", _load_wire_types)
