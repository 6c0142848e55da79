"""Ampacity against the law, the standards and the aircraft handbook, typed a second time by hand.

The source of each check stands beside it; keys are those of ``sources.toml``. ISO 10133 is from memory and
serves as plausibility only.
"""

import pytest

from wiregen.catalogue import sources as sources_module
from wiregen.catalogue.ampacity import ambient_factor, ampacity_a, bundle_factor
from wiregen.quantity import parse_size

MM2_PER_CIRC_MIL = 5.067075e-4

# --- 33 CFR 183.425 table 5 (S12), typed by column: 60, 75, 80, 90, 105, 125, 200 °C, rows 18 to 4/0 ---

CFR_ROWS = ("18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0")
CFR_COLUMNS = {
    60: (10, 15, 20, 25, 40, 55, 80, 105, 120, 140, 165, 195, 225, 260, 300),
    75: (10, 15, 20, 25, 40, 65, 95, 125, 145, 170, 195, 230, 265, 310, 360),
    80: (15, 20, 25, 35, 50, 70, 100, 130, 150, 175, 210, 245, 285, 330, 385),
    90: (20, 25, 30, 40, 55, 70, 100, 135, 155, 180, 210, 245, 285, 330, 385),
    105: (20, 25, 35, 45, 60, 80, 120, 160, 180, 210, 245, 285, 330, 385, 445),
    125: (25, 30, 40, 50, 70, 90, 125, 170, 195, 225, 265, 305, 355, 410, 475),
    200: (25, 35, 45, 55, 70, 100, 135, 180, 210, 240, 280, 325, 370, 430, 510),
}


@pytest.mark.parametrize(
    ("insulation_c", "row", "printed"),
    [(column, CFR_ROWS[i], amps) for column, cells in CFR_COLUMNS.items() for i, amps in enumerate(cells)],
)
def test_cfr_cell(insulation_c: int, row: str, printed: int):
    """Every one of the 105 cells: one conductor, 30 °C."""
    found = ampacity_a(parse_size(f"{row} AWG"), insulation_c, 30.0, 1)
    assert (found.amps, found.source, found.support) == (printed, "S12", "seen")


#: Note 1 of table 5, factors at 50 °C; from memory but for 105 °C (S10). 200 °C is left out: the law says 1.00,
#: the formula 0.94, and the lower one is used.
CFR_NOTE_1 = {60: 0.58, 75: 0.75, 80: 0.78, 90: 0.82, 105: 0.85, 125: 0.89}


@pytest.mark.parametrize(("insulation_c", "factor"), CFR_NOTE_1.items())
def test_engine_space_note(insulation_c: int, factor: float):
    """The temperature-rise law is the law's own note to its rounding."""
    assert ambient_factor(insulation_c, 50.0) == pytest.approx(factor, abs=0.0065)


#: ABYC E-11 at 105 °C (S10, S11): outside and inside engine spaces.
ABYC = {
    **{"18": (20, 17), "16": (25, 21.25), "14": (35, 29.75), "12": (45, 38.25), "10": (60, 51), "8": (80, 68)},
    **{"6": (120, 102), "4": (160, 136), "2": (210, 178.5), "1": (245, 208.3), "1/0": (285, 242.3)},
}


@pytest.mark.parametrize(("row", "printed"), ABYC.items())
def test_abyc(row: str, printed: tuple[float, float]):
    """Outside engine spaces exact; inside, 0.856 against the printed 0.85: within 0.8 % (AM-1 for 14 AWG)."""
    size = parse_size(f"{row} AWG")
    assert ampacity_a(size, 105.0, 30.0, 2).amps == printed[0]
    assert ampacity_a(size, 105.0, 50.0, 2).amps == pytest.approx(printed[1], rel=8e-3)


def test_bundle_of_ten():
    """AM-3: 10 AWG, 105 °C, ten conductors: 30 A outside, 25.5 A in an engine space (S11)."""
    size = parse_size("10 AWG")
    assert ampacity_a(size, 105.0, 30.0, 10).amps == 30.0
    assert ampacity_a(size, 105.0, 50.0, 10).amps == pytest.approx(25.5, rel=8e-3)


@pytest.mark.parametrize(
    ("conductors", "factor"),
    [(1, 1.0), (2, 1.0), (3, 0.7), (4, 0.6), (6, 0.6), (7, 0.5), (24, 0.5), (25, 0.4), (80, 0.4)],
)
def test_bundle_factors(conductors: int, factor: float):
    """Both sides of every step (S11; 25 and more from memory)."""
    found, source, support = bundle_factor(conductors)
    assert found == factor
    assert (source, support) == (("M-E11", "memory") if conductors >= 25 else ("S11", "seen"))


#: DIN VDE 0298-4 table 17 (S15): ambient °C -> factor for 70 °C conductors.
VDE_17 = {
    **{10: 1.22, 15: 1.17, 20: 1.12, 25: 1.06, 30: 1.00, 35: 0.94, 40: 0.87, 45: 0.79, 50: 0.71},
    **{55: 0.61, 60: 0.50, 65: 0.35},
}


@pytest.mark.parametrize(("ambient_c", "printed"), VDE_17.items())
def test_vde_ambient_factors(ambient_c: float, printed: float):
    """All twelve to half a unit of the last digit; AM-5 is the one at 55 °C, 0.612."""
    assert ambient_factor(70.0, ambient_c) == pytest.approx(printed, abs=0.005)


#: DIN VDE 0298-4 table 11 (S14): mm² -> A, single core in free air, 30 °C, 70 °C conductors.
VDE_11 = {0.75: 15, 1: 19, 1.5: 24, 2.5: 32, 4: 42, 6: 54, 10: 73, 16: 98, 25: 129, 35: 158}


@pytest.mark.parametrize(("area_mm2", "printed"), VDE_11.items())
def test_metric_ampacity_never_exceeds_vde(area_mm2: float, printed: int):
    """Stored as printed, and a 70 °C metric conductor is never given more than VDE gives it."""
    stored = {float(row["area_mm2"]): row for row in sources_module.rows("ampacity_vde")}
    assert float(stored[area_mm2]["single_core_free_air_a"]) == printed
    assert ampacity_a(parse_size(f"{area_mm2:g} mm²"), 70.0, 30.0, 1).amps <= printed


#: FAA AC 43.13-1B table 11-9 (S2), 105 °C column: wire -> (A, circular mils).
FAA_SMALL = {"24": (2.5, 475), "22": (3.0, 755), "20": (4.0, 1216)}


@pytest.mark.parametrize(("wire", "printed"), FAA_SMALL.items())
def test_small_wire_is_the_faa_cell(wire: str, printed: tuple[float, int]):
    """At the table's own 70 °C and 105 °C a metric conductor of the MIL wire's area reads the cell."""
    area_mm2 = printed[1] * MM2_PER_CIRC_MIL
    found = ampacity_a(parse_size(f"{area_mm2 + 1e-6:.6f} mm²"), 105.0, 70.0, 1)
    assert found.amps == pytest.approx(printed[0])
    assert found.source == "S2"
    assert f"MIL wire {wire}," in found.note


#: ISO 10133 annex (from memory): mm² -> A at 60, 105 °C. Plausibility only.
ISO_10133 = {0.75: (6, 16), 1: (8, 20), 1.5: (12, 25), 2.5: (17, 35), 4: (22, 45), 6: (29, 60), 10: (40, 90)}


@pytest.mark.parametrize(("area_mm2", "remembered"), ISO_10133.items())
def test_metric_ampacity_is_near_iso_10133(area_mm2: float, remembered: tuple[float, float]):
    """At 105 °C the value in use lies within 20 % of the boat standard remembered."""
    found = ampacity_a(parse_size(f"{area_mm2:g} mm²"), 105.0, 30.0, 1)
    assert 0.8 <= found.amps / remembered[1] <= 1.2


#: Trailer cable of PVC for 82 °C, 12 V, single wires in air of 120, 125 and 150 °F (S17): size -> A.
TRAILER_CABLE = {
    **{"20": (15, 13, 9), "18": (18, 15, 11), "16": (22, 19, 14)},
    **{"14": (27, 23, 17), "12": (40, 32, 24), "10": (50, 42, 31)},
}


@pytest.mark.parametrize(("number", "printed"), TRAILER_CABLE.items())
@pytest.mark.parametrize("series", ["SAE", "AWG"])
def test_trailer_cable_is_never_given_more_than_its_own_page(series: str, number: str, printed: tuple[int, ...]):
    """AM-6 is 12 at 150 °F: 24 A. The page is generous; what is used here lies below every cell of it (S17)."""
    for ambient_f, amps in zip((120, 125, 150), printed, strict=True):
        assert ampacity_a(parse_size(f"{number} {series}"), 82.0, (ambient_f - 32) / 1.8, 1).amps < amps


def test_hotter_air_as_in_the_aircraft_example():
    """AC-13, its step from 25 to 60 °C for 200 °C wire 12: 68 A become 61 A, read off a chart (from memory, S2)."""
    assert 68 * ambient_factor(200.0, 60.0, 25.0) == pytest.approx(61, abs=0.5)
