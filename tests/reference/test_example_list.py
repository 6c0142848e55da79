"""Every worked example that was gathered for this tool: where it is tested, or why it is not.

The ids are the project's own: AC an advisory circular of the FAA, VD voltage drop, CO conductors, AM ampacity, PR
protection, FU fuses, SW switches, LR lamps and their ratings, LN lamps in networks, BR brakes, CV converters, IN
inrush. Known misprints of the sources are left out cell by cell, and each place says so: in AC-3 a reading off a chart
and in AC-6 a wrong check value are replaced by what the source's own resistance gives, and twelve marked cells of the
marine table do not follow the table's own formula.
"""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

from wiregen.catalogue.conductors import resistance_per_m
from wiregen.quantity import parse_size

HERE = Path(__file__).parent

#: Example -> module and function that test it.
TESTED = {
    **dict.fromkeys(("AC-1", "AC-2", "AC-3", "AC-5", "AC-6", "AC-8"), "test_tables::test_aircraft_drops"),
    "AC-9": "test_tables::test_ac_9",
    "AC-13": "test_ampacity_tables::test_hotter_air_as_in_the_aircraft_example",
    "VD-1": "test_tables::test_vd_1_with_our_own_table",
    "VD-4": "test_tables::test_vd_4",
    **dict.fromkeys(("VD-5", "VD-6", "VD-7"), "test_tables::test_drop_per_metre_of_vehicle_wire"),
    **dict.fromkeys(("CO-1", "CO-2"), "test_tables::test_awg_10_and_4_0"),
    **dict.fromkeys(("CO-3", "CO-4"), "test_tables::test_temperature_there_and_back"),
    "CO-5": "test_tables::test_co_5",
    "AM-1": "test_ampacity_tables::test_abyc",
    "AM-3": "test_ampacity_tables::test_bundle_of_ten",
    "AM-5": "test_ampacity_tables::test_vde_ambient_factors",
    "AM-6": "test_ampacity_tables::test_trailer_cable_is_never_given_more_than_its_own_page",
    "PR-1": "test_part_tables::test_pr_1",
    "PR-3": "test_part_tables::test_faa_protectors",
    "PR-4": "test_part_tables::test_small_conductor_rule",
    **dict.fromkeys(("FU-1", "FU-2", "FU-4"), "test_part_tables::test_opening_times_that_were_read"),
    "FU-5": "test_part_tables::test_fu_5",
    "FU-6": "test_part_tables::test_fu_6",
    **dict.fromkeys(("SW-1", "SW-2"), "test_part_tables::test_switches"),
    "LR-1": "test_part_tables::test_lr_1",
    **dict.fromkeys(("LR-2", "LR-3"), "test_part_tables::test_lr_2_and_lr_3"),
    "LR-4": "test_part_tables::test_lr_4",
    "LR-5": "test_part_tables::test_lr_5",
    "LR-6": "test_worked_examples::test_lr_6_lamp_at_85_percent",
    "LR-7": "test_worked_examples::test_lr_7_24_v_lamp_on_12_v",
    "LR-8": "test_worked_examples::test_lr_8_highest_power",
    "LN-1": "test_worked_examples::test_ln_1_two_lamps_in_series",
    **dict.fromkeys(("LN-2", "LN-3", "LN-4", "LN-6"), "test_worked_examples::test_ln_lamp_behind_a_resistance"),
    "LN-8": "test_worked_examples::test_ln_8_open_trailer_ground",
    "BR-1": "test_part_tables::test_brake_magnets",
    "BR-2": "../unit/test_brake_rules::test_one_magnet_at_12_v",
    "CV-1": "test_worked_examples::test_cv_1_small_module",
    "CV-2": "test_worked_examples::test_cv_2_adapter_supply",
    "IN-1": "test_part_tables::test_in_1",
}
#: Example -> why it is not tested.
LEFT_OUT = {
    "AC-10": "wants the free-air chart, the bundle curve and the altitude curve of AS50881; the tool takes no altitude",
    "AC-12": "wants the same charts: 35 wires at 60 000 ft of which a fifth is loaded",
    "AC-14": "rebuilds a table from those charts; the table's 105 °C column for small wires is tested as printed",
}
#: Whole tables -> module and function that hold them cell by cell.
TABLES = {
    "ASTM B258 by its formula, 4/0 to 24": "test_tables::test_awg_resistance_is_that_of_the_textbook",
    "NEC chapter 9 table 8, solid": "test_tables::test_nec_solid",
    "NEC chapter 9 table 8, stranded": "test_tables::test_nec_stranded",
    "IEC 60228": "test_tables::test_iec_60228_rows",
    "ISO 6722": "test_tables::test_iso_6722_rows",
    "SAE areas": "test_tables::test_sae_areas",
    "marine 12 V table for 3 %": "test_tables::test_marine_cell",
    "12 V gauge guide by amps and feet": "test_example_list::test_gauge_guide_is_as_loose_as_it_looks",
    "33 CFR 183.425 table 5": "test_ampacity_tables::test_cfr_cell",
    "VDE 0298-4 ambient factors": "test_ampacity_tables::test_vde_ambient_factors",
    "VDE 0298-4 table 11": "test_ampacity_tables::test_metric_ampacity_never_exceeds_vde",
    "brake magnets by drum, number and voltage": "test_part_tables::test_brake_magnets",
}
#: Every id that was gathered.
GATHERED = {
    **{"AC": (1, 2, 3, 5, 6, 8, 9, 10, 12, 13, 14), "VD": (1, 4, 5, 6, 7), "CO": (1, 2, 3, 4, 5), "AM": (1, 3, 5, 6)},
    **{"PR": (1, 3, 4), "FU": (1, 2, 4, 5, 6), "SW": (1, 2), "LR": (1, 2, 3, 4, 5, 6, 7, 8), "LN": (1, 2, 3, 4, 6, 8)},
    **{"BR": (1, 2), "CV": (1, 2), "IN": (1,)},
}
IDS = {f"{family}-{number}" for family, numbers in GATHERED.items() for number in numbers}


@cache
def module(name: str) -> tuple[str, frozenset[str]]:
    """Return the text of a test module beside this one, and the names of its test functions."""
    text = (HERE / f"{name}.py").read_text("utf-8")
    functions = {node.name for node in ast.parse(text).body if isinstance(node, ast.FunctionDef)}
    return text, frozenset(functions)


def test_every_example_is_tested_or_left_out_with_a_reason():
    """None of the 54 is forgotten, and none is both tested and left out."""
    assert TESTED.keys() | LEFT_OUT.keys() == IDS
    assert TESTED.keys() & LEFT_OUT.keys() == set()
    assert (len(TESTED), len(LEFT_OUT)) == (51, 3)


@pytest.mark.parametrize("example", TESTED)
def test_the_test_of_an_example_exists_and_names_it(example):
    """The function that is said to test an example is there, and its module names the example."""
    where, _, function = TESTED[example].partition("::")
    text, functions = module(where)
    assert function in functions
    assert re.search(rf"\b{example}\b", text)


@pytest.mark.parametrize("table", TABLES)
def test_the_test_of_a_table_exists(table):
    """The function that is said to hold a table is there."""
    where, _, function = TABLES[table].partition("::")
    assert function in module(where)[1]


def test_no_test_names_an_example_that_is_none():
    """An id in a test module beside this one is an id of the list: no test proves something that nobody gathered."""
    pattern = re.compile(rf"\b(?:{'|'.join(GATHERED)})-[0-9]+\b")
    named = {name for path in HERE.glob("test_*.py") for name in pattern.findall(path.read_text("utf-8"))}
    assert named - IDS == set()


# --- 12 V gauge guide (S53): lengths with the way back, ft -> size for each current ---

GUIDE_FT = (10, 15, 20, 25, 30, 40, 50, 75, 100)
GUIDE = {
    2: (18, 18, 18, 18, 18, 18, 18, 16, 16),
    4: (18, 18, 18, 18, 18, 16, 16, 12, 12),
    5: (18, 18, 18, 18, 18, 16, 14, 12, 12),
    8: (18, 18, 16, 16, 16, 14, 12, 10, 10),
    10: (18, 16, 16, 16, 14, 12, 12, 10, 10),
    12: (18, 16, 16, 14, 14, 12, 12, 10, 8),
    15: (18, 14, 14, 12, 12, 12, 10, 8, 8),
    20: (16, 14, 12, 10, 10, 10, 10, 8, 6),
}


def guide_drop(amps: int, feet: int, number: int) -> float:
    """Share of 12 V that our resistance of the SAE size loses over so many feet, there and back."""
    return resistance_per_m(parse_size(f"{number} SAE"), 20.0).ohm_per_m * feet * 0.3048 * amps / 12


@pytest.mark.parametrize("amps", GUIDE)
def test_gauge_guide_is_as_loose_as_it_looks(amps):
    """Every printed size loses at most 10 % of 12 V: a plausibility check, since the guide states no limit (S53)."""
    drops = [guide_drop(amps, feet, number) for feet, number in zip(GUIDE_FT, GUIDE[amps], strict=True)]
    assert max(drops) <= 0.10
    if amps >= 8:
        assert max(drops) >= 0.07
