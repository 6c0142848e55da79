"""Conductors and ampacity: the policy branch by branch, rounding toward safety, and the edges of the tables."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiregen.catalogue import conductors
from wiregen.catalogue.ampacity import OutsideTable, ambient_factor, ampacity_a, bundle_factor
from wiregen.catalogue.conductors import (
    METRIC_SOLID_FACTOR,
    METRIC_STRANDED_FACTOR,
    WIRE_TYPES,
    bundle_diameter_mm,
    copper_factor,
    outer_diameter_mm,
    resistance_per_m,
    standard_sizes,
)
from wiregen.catalogue.sources import SUPPORT_WORDS, UnknownEntryError, rows, source
from wiregen.quantity import ConductorSize, parse_size

ALL_SIZES = [size for series in ("mm2", "AWG", "SAE") for size in standard_sizes(series)]
#: Sizes that some ampacity table covers.
CARRYING = [size for size in ALL_SIZES if size.area_mm2 > 0.242]


# --- conductors ---


def test_stranding_factors_cover_every_row():
    """The factor for a size in no table is at least that of every row of the table it stands for."""
    stranded = [float(r["max_mohm_per_m"]) / 1000 * float(r["area_mm2"]) * 58 for r in rows("conductors_iso6722")]
    solid = [
        float(r["solid_mohm_per_m"]) / 1000 * float(r["area_mm2"]) * 58
        for r in rows("conductors_iec60228")
        if r["solid_mohm_per_m"] and float(r["area_mm2"]) <= 35
    ]
    assert METRIC_STRANDED_FACTOR - 0.01 <= max(stranded) <= METRIC_STRANDED_FACTOR
    assert METRIC_SOLID_FACTOR - 0.01 <= max(solid) <= METRIC_SOLID_FACTOR


@pytest.mark.parametrize(
    ("label", "stranded", "ohm_per_m", "key", "support", "note"),
    [
        ("2.5 mm²", True, 7.6e-3, "S8", "seen", "ISO 6722 maximum; copper at 20 °C"),
        ("50 mm²", True, 0.386e-3, "S6", "seen", "IEC 60228 maximum; copper at 20 °C"),
        (
            "5 mm²",
            True,
            1 / 58 / 5 * 1.11,
            "S8",
            "derived",
            "no table row: calculated, times 1.11 for stranding; copper at 20 °C",
        ),
        ("2.5 mm²", False, 7.41e-3, "S6", "seen", "IEC 60228 maximum; copper at 20 °C"),
        (
            "5 mm²",
            False,
            1 / 58 / 5 * 1.08,
            "S6",
            "derived",
            "no table row: calculated, times 1.08 for tolerance; copper at 20 °C",
        ),
        (
            "10 AWG",
            True,
            3.277e-3 * 1.02,
            "S5",
            "derived",
            "ASTM B258 area, stranded: NEC ratio 1.02; copper at 20 °C",
        ),
        ("10 AWG", False, 3.277e-3, "M-B258", "derived", "ASTM B258 area, solid; copper at 20 °C"),
        ("10 SAE", True, 3.642e-3, "S10", "derived", "SAE area; copper at 20 °C"),
        ("20 SAE", True, 31.99e-3, "S9", "derived", "SAE area; copper at 20 °C"),
    ],
)
def test_resistance_policy(label: str, stranded: bool, ohm_per_m: float, key: str, support: str, note: str):
    """Each branch of the policy, with the source and the words that are shown to the user."""
    found = resistance_per_m(parse_size(label), 20.0, stranded)
    assert found.ohm_per_m == pytest.approx(ohm_per_m, rel=2e-4)
    assert (found.source, found.support, found.note) == (key, support, note)


def test_both_names_are_one_function():
    """The function answers under both names that are in use."""
    assert conductors.resistance_per_m_ohm is resistance_per_m


@given(st.sampled_from(ALL_SIZES), st.floats(min_value=-70, max_value=250))
def test_resistance_follows_temperature(size: ConductorSize, temperature_c: float):
    """R(T)/R(20) is (234.5 + T)/254.5 for every series, and the note names the temperature."""
    warm, at_20 = resistance_per_m(size, temperature_c), resistance_per_m(size, 20.0)
    assert warm.ohm_per_m / at_20.ohm_per_m == pytest.approx((234.5 + temperature_c) / 254.5)
    assert warm.note.endswith(f"copper at {temperature_c:g} °C")


@pytest.mark.parametrize("series", ["mm2", "AWG", "SAE"])
def test_thicker_has_less_resistance(series: str):
    """Within a series resistance falls with area, across the changes of table too."""
    values = [resistance_per_m(size, 20.0).ohm_per_m for size in standard_sizes(series)]
    assert values == sorted(values, reverse=True)


@pytest.mark.parametrize("temperature_c", [-70.1, 250.1, math.nan, math.inf])
def test_copper_law_has_an_end(temperature_c: float):
    """A temperature no cable sees is refused, as itself or as the reference."""
    with pytest.raises(OutsideTable, match=r"outside -70 to 250 °C"):
        copper_factor(temperature_c)
    with pytest.raises(OutsideTable, match=r"outside -70 to 250 °C"):
        copper_factor(20.0, temperature_c)


@pytest.mark.parametrize(
    ("label", "construction", "diameter_mm"),
    [
        ("1.5 mm²", "thin wall", 2.4),
        ("1.5 mm²", "thick wall", 3.0),
        ("10 mm²", "thin wall", None),
        ("5 mm²", "thin wall", None),
        ("14 SAE", "GPT", 3.2),
        ("14 SAE", "GXL", 3.2),
        ("14 SAE", "TXL", 2.7),
        ("14 SAE", "SXL", 3.9),
        ("6 SAE", "GXL", None),
        ("14 AWG", "GXL", None),
        ("1.5 mm²", "GXL", None),
    ],
)
def test_outer_diameters(label: str, construction: str, diameter_mm: float | None):
    """Diameters of S8 and S9, and None where no table has the size in that construction."""
    assert outer_diameter_mm(parse_size(label), construction) == diameter_mm


def test_unknown_construction():
    """Another construction is refused with the nearest one."""
    with pytest.raises(UnknownEntryError, match=r"did you mean 'thin wall'\?"):
        outer_diameter_mm(parse_size("1.5 mm²"), "thinwall")


def test_bundle_diameter():
    """1.2 * sqrt(sum d²): four of 2.4 mm make 5.76 mm."""
    assert bundle_diameter_mm([2.4] * 4) == pytest.approx(5.76)


def test_wire_types_take_the_lower_temperature():
    """GPT 80 against 90, HDT 85 against 90, SXL 125 against 135 (S9, S18); both pages are named."""
    assert [WIRE_TYPES[name].insulation_c for name in ("GPT", "HDT", "TWP", "GXL", "SXL", "TXL")] == [
        *(80, 85, 85),
        *(125, 125, 125),
    ]
    assert (WIRE_TYPES["SXL"].source, WIRE_TYPES["SXL"].note) == ("S9", "S18 gives 135")
    with pytest.raises(UnknownEntryError, match=r"'gxl' is not a wire type; did you mean 'GXL'\?"):
        WIRE_TYPES.find("gxl")


# --- ampacity ---


@given(st.sampled_from(CARRYING), st.floats(60, 260), st.floats(-40, 120), st.integers(1, 60))
def test_ampacity_is_the_product_it_says(size: ConductorSize, insulation_c: float, ambient_c: float, bundle: int):
    """The current is table value times ambient factor times bundle factor, and names a source that exists."""
    found = ampacity_a(size, insulation_c, ambient_c, bundle)
    assert found.amps == pytest.approx(found.base_a * found.ambient_factor * found.bundle_factor)
    assert found.amps >= 0
    assert source(found.source).key == found.source
    assert found.support in SUPPORT_WORDS
    assert f"bundle of {bundle} " in found.note


@given(st.floats(60, 260), st.floats(-40, 120), st.integers(1, 60), st.sampled_from(["mm2", "AWG", "SAE"]))
def test_thicker_carries_no_less(insulation_c: float, ambient_c: float, bundle: int, series: str):
    """Within a series ampacity never falls with area, across the changes of table too."""
    sizes = [size for size in standard_sizes(series) if size.area_mm2 > 0.242]
    amps = [ampacity_a(size, insulation_c, ambient_c, bundle).amps for size in sizes]
    assert amps == sorted(amps)


@given(
    st.sampled_from(CARRYING),
    st.tuples(st.floats(60, 260), st.floats(60, 260)),
    st.tuples(st.floats(-40, 120), st.floats(-40, 120)),
    st.tuples(st.integers(1, 60), st.integers(1, 60)),
)
def test_worse_conditions_never_carry_more(
    size: ConductorSize,
    insulation_c: tuple[float, float],
    ambient_c: tuple[float, float],
    bundle: tuple[int, int],
):
    """Cooler insulation, hotter air and more neighbours never raise the current."""
    worse = ampacity_a(size, min(insulation_c), max(ambient_c), max(bundle)).amps
    better = ampacity_a(size, max(insulation_c), min(ambient_c), min(bundle)).amps
    assert worse <= better * (1 + 1e-12)


def test_cold_air_gives_no_bonus():
    """Below 30 °C the table value stands, although the law of heat would allow more."""
    size = parse_size("14 AWG")
    assert ampacity_a(size, 105.0, -20.0, 1).amps == ampacity_a(size, 105.0, 30.0, 1).amps == 35.0
    assert ambient_factor(105.0, -20.0) > 1


@pytest.mark.parametrize("label", ["14 AWG", "2.5 mm²", "0.75 mm²", "0.5 mm²"])
def test_air_as_hot_as_the_insulation(label: str):
    """Where the air is as hot as the insulation may get, nothing may be carried."""
    assert ampacity_a(parse_size(label), 80.0, 80.0, 1).amps == 0
    assert ampacity_a(parse_size(label), 80.0, 95.0, 1).amps == 0


@pytest.mark.parametrize(("label", "row"), [("14 SAE", "16 AWG"), ("16 SAE", "18 AWG"), ("10 SAE", "12 AWG")])
def test_sae_reads_the_row_below(label: str, row: str):
    """An SAE conductor is smaller than the AWG of its number and so reads the next smaller row."""
    assert ampacity_a(parse_size(label), 105.0, 30.0, 1) == ampacity_a(parse_size(row), 105.0, 30.0, 1)


def test_a_gauge_between_rows_reads_the_row_below():
    """5 AWG is not in the law's table: it carries what 6 AWG carries."""
    assert ampacity_a(parse_size("5 AWG"), 105.0, 30.0, 1).amps == 120.0


def test_insulation_between_columns_reads_the_cooler():
    """85 °C reads the 80 °C column, also for its ambient factor."""
    size = parse_size("14 AWG")
    assert ampacity_a(size, 85.0, 50.0, 1) == ampacity_a(size, 80.0, 50.0, 1)


def test_metric_takes_the_safer_table():
    """1.5 mm² at 105 °C: 25 A by the law's 16 AWG row. 50 mm²: 216 A by VDE's 35 mm², not 245 A by 1 AWG."""
    small = ampacity_a(parse_size("1.5 mm²"), 105.0, 30.0, 1)
    assert (small.amps, small.source) == (25.0, "S12")
    large = ampacity_a(parse_size("50 mm²"), 105.0, 30.0, 1)
    assert large.amps == pytest.approx(158 * math.sqrt(75 / 40))
    assert large.source == "S14"


def test_just_below_the_smallest_row():
    """0.75 mm² and 18 SAE get their share, by area, of 18 AWG, and never more than VDE gives 0.75 mm²."""
    for label in ("0.75 mm²", "18 SAE"):
        size = parse_size(label)
        found = ampacity_a(size, 105.0, 30.0, 1)
        assert found.amps == pytest.approx(20 * size.area_mm2 / parse_size("18 AWG").area_mm2)
        assert found.amps <= 15 * math.sqrt(75 / 40)
        assert (found.source, found.support) == ("S12", "derived")


@pytest.mark.parametrize("insulation_c", [60, 70, 75, 80, 90, 105, 125, 200])
def test_the_share_lies_below_vde(insulation_c: float):
    """The straight line to the law's smallest row stays below VDE's own 0.75 mm² row for every insulation."""
    found = ampacity_a(parse_size("0.75 mm²"), insulation_c, 30.0, 1)
    assert found.amps <= 15 * math.sqrt((insulation_c - 30) / 40)


def test_small_wire_is_pessimistic():
    """0.5 mm² at 80 °C in 50 °C air: wire 22's 3 A times sqrt(30/35); a bundle of 25 counts as 0.40/0.52."""
    size = parse_size("0.5 mm²")
    one, many = ampacity_a(size, 80.0, 50.0, 1), ampacity_a(size, 80.0, 50.0, 25)
    assert one.amps == pytest.approx(3 * math.sqrt(30 / 35))
    assert many.amps == pytest.approx(one.amps * 0.40 / 0.52)
    assert (one.support, many.support) == ("derived", "memory")


@pytest.mark.parametrize(
    ("label", "insulation_c", "ambient_c", "bundle", "message"),
    [
        ("0.22 mm²", 80, 50, 1, "0.22 mm² is smaller than MIL wire 24, the first row of any table"),
        ("120 mm²", 80, 50, 1, "120 mm² is larger than 4/0 AWG, the last row of the table"),
        ("14 AWG", 59.9, 50, 1, "insulation of 59.9 °C: the tables begin at 60 °C"),
        ("14 AWG", 80, 50, 0, "a bundle of 0 conductors: at least one is wanted"),
        ("14 AWG", math.nan, 50, 1, "insulation of nan °C at 50 °C: finite temperatures are wanted"),
        ("14 AWG", 80, math.inf, 1, "insulation of 80 °C at inf °C: finite temperatures are wanted"),
    ],
)
def test_outside_the_tables(label: str, insulation_c: float, ambient_c: float, bundle: int, message: str):
    """Nothing is extrapolated: each edge is refused with the edge named."""
    with pytest.raises(OutsideTable) as caught:
        ampacity_a(parse_size(label), insulation_c, ambient_c, bundle)
    assert str(caught.value) == message


@pytest.mark.parametrize(("insulation_c", "ambient_c"), [(30, 20), (25, 20), (math.nan, 20), (70, math.nan)])
def test_ambient_factor_refuses(insulation_c: float, ambient_c: float):
    """The correction has no meaning for insulation at or below the reference, or without numbers."""
    with pytest.raises(OutsideTable, match="no ambient correction"):
        ambient_factor(insulation_c, ambient_c)


def test_negative_bundle():
    """A bundle of less than one conductor is refused."""
    with pytest.raises(OutsideTable, match="at least one"):
        bundle_factor(-3)
