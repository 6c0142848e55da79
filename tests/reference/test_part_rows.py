"""Every row of the lamp, fuse, relay and contact tables, typed a second time from the facts.

Rows from memory are among them: this proves that they are stored as they were written down, not that they are
right. What is right by a source is proved in ``test_part_tables.py``.
"""

import pytest

from wiregen.catalogue.conductors import WIRE_TYPES, outer_diameter_mm
from wiregen.catalogue.defaults import DEFAULTS
from wiregen.catalogue.fuses import find_fuse, fuse_types, gates
from wiregen.catalogue.lamps import LAMPS, find_lamp
from wiregen.catalogue.relays import RELAYS, contact_resistances
from wiregen.catalogue.sources import rows
from wiregen.quantity import parse_size

#: UN R37: category -> rated W, then (objective W, highest W, lm) at 13.5 V and at 28 V.
R37_SINGLE = {
    "p21w": (21, (25, 26.5, 460), (28, 29.7, 460)),
    "py21w": (21, (25, 26.5, 280), (28, 29.7, 280)),
    "r10w": (10, (10, 11.0, 125), (12.5, 14.0, 125)),
    "r5w": (5, (5, 5.5, 50), (7, 7.7, 50)),
    "c5w": (5, (5, 5.5, 45), (7, 7.7, 45)),
    "w5w": (5, (5, 5.5, 50), (7, 7.7, 50)),
    "t4w": (4, (4, 4.4, 35), (5, 5.5, 35)),
    "w3w": (3, (3, 3.45, 22), (4, 4.6, 22)),
    "w16w": (16, (None, 21.35, 310), None),
    "w21w": (21, (None, 26.5, 460), None),
    "c21w": (21, (None, 26.5, 460), None),
    "h21w": (21, (None, 26.5, 600), (None, 29.7, 600)),
}
#: The same for lamps with two filaments: rated W, 12 V and 24 V of the bright one, then of the dim one.
R37_DOUBLE = {
    "p21_5w": ((21, (25, 26.5, 440), (28, 29.7, 440)), (5, (6, 6.6, 35), (10, 11.0, 40))),
    "py21_5w": ((21, (None, 26.5, 270), None), (5, (None, 6.6, 21), None)),
    "p21_4w": ((21, (25, 26.5, 440), (28, 29.7, 440)), (4, (5, 5.5, 15), (8, 8.8, 20))),
    "w21_5w": ((21, (None, 26.5, 440), None), (5, (None, 6.6, 35), None)),
}


def r37_rows() -> dict[str, tuple]:
    """Return id -> (rated W, test V, objective W, highest W, lm)."""
    table = {}
    entries = [(name, "", row) for name, row in R37_SINGLE.items()]
    entries += [(name, "-bright", rows[0]) for name, rows in R37_DOUBLE.items()]
    entries += [(name, "-dim", rows[1]) for name, rows in R37_DOUBLE.items()]
    for name, suffix, (watts, *by_voltage) in entries:
        for nominal, test_v, row in zip((12, 24), (13.5, 28.0), by_voltage, strict=True):
            if row is not None:
                table[f"{name}-{nominal}v{suffix}"] = (watts, test_v, *row)
    return table


#: US trade number -> V, A, candela, hours; what is not in S31 is from memory.
US = {
    "67": (13.5, 0.59, 4, 5000),
    "89": (13.0, 0.58, 6, 750),
    "97": (13.5, 0.69, 4, 5000),
    "168": (14.0, 0.35, 3, 1500),
    "194": (14.0, 0.27, 2, 2500),
    "1034-dim": (14.0, 0.59, 3, 5000),
    "1034-bright": (12.8, 1.80, 32, 200),
    "1141": (12.8, 1.44, 21, 1000),
    "1156": (12.8, 2.10, 32, 1200),
    "1157-dim": (14.0, 0.59, 3, 5000),
    "1157-bright": (12.8, 2.10, 32, 1200),
    "2057-dim": (14.0, 0.49, 2, 5000),
    "2057-bright": (12.8, 2.10, 32, 1200),
    "2357-dim": (14.0, 0.59, 3, 5000),
    "2357-bright": (12.8, 2.23, 40, 400),
    "2397-dim": (14.0, 0.48, 2, 5000),
    "2397-bright": (12.8, 2.23, 40, 400),
    "3157-dim": (14.0, 0.59, 3, 5000),
    "3157-bright": (12.8, 2.10, 32, 1200),
    "1251": (28.0, 0.23, 3, 2000),
    "1691": (28.0, 0.61, 15, 500),
    "1683": (28.0, 1.02, 32, 500),
}
#: LED lamps (currents from memory, ranges S34): use -> lowest and highest A at 12 V, the same at 24 V.
LED = {
    "stop": (0.15, 0.50, 0.10, 0.30),
    "turn": (0.15, 0.50, 0.10, 0.30),
    "tail": (0.02, 0.10, 0.02, 0.08),
    "marker": (0.02, 0.10, 0.02, 0.05),
    "licence": (0.02, 0.10, 0.02, 0.05),
}


@pytest.mark.parametrize(("lamp_id", "row"), r37_rows().items())
def test_r37_lamp(lamp_id: str, row: tuple):
    """Rated power, test voltage, objective and highest power, flux."""
    lamp = find_lamp(lamp_id)
    watts, test_v, objective_w, max_w, flux_lm = row
    assert (lamp.watts_rated, lamp.test_v, lamp.flux_lm) == (watts, test_v, flux_lm)
    assert lamp.nominal_v == {13.5: 12, 28.0: 24}[test_v]
    assert lamp.max_current_a * test_v == pytest.approx(max_w, rel=1e-12)
    assert lamp.current_a * test_v == pytest.approx(objective_w or max_w, rel=1e-12)
    assert lamp.current_is_maximum == (objective_w is None)
    known = lamp_id.startswith("p21_5w") or lamp_id.startswith("py21_5w")
    assert lamp.support == ("seen" if known else "memory")


@pytest.mark.parametrize(("lamp_id", "row"), US.items())
def test_us_lamp(lamp_id: str, row: tuple[float, ...]):
    """Design voltage, current, candela, life; 10 % tolerance on the current (S30); power is volts times amperes."""
    lamp = find_lamp(lamp_id)
    assert (lamp.test_v, lamp.current_a, lamp.mscp, lamp.life_h) == row
    assert lamp.nominal_v == (24 if row[0] == 28.0 else 12)
    assert lamp.max_current_a == pytest.approx(row[1] * 1.1)
    assert lamp.watts_rated == pytest.approx(row[0] * row[1])


@pytest.mark.parametrize(("use", "row"), LED.items())
def test_led_lamps(use: str, row: tuple[float, ...]):
    """Both ends of the current, working range and cut-off of the 12 V, 24 V and 10-30 V lamps of a use."""
    low_12, high_12, low_24, high_24 = row
    for suffix, nominal, low, high, reach in (
        ("12v", 12, low_12, high_12, (9, 16)),
        ("24v", 24, low_24, high_24, (16, 32)),
        ("10_30v", 12, low_12, high_12, (10, 30)),
    ):
        lamp = find_lamp(f"led-{use}-{suffix}")
        assert (lamp.nominal_v, lamp.test_v) == (nominal, nominal)
        assert (lamp.low_a, lamp.current_a, lamp.max_current_a) == (low, high, high)
        assert (lamp.min_v, lamp.max_v, lamp.cut_off_v) == (*reach, 7)
        assert lamp.support == "memory"


def test_no_lamp_is_left_out():
    """The three tables above are all the lamps there are."""
    leds = {f"led-{use}-{suffix}" for use in LED for suffix in ("12v", "24v", "10_30v")}
    assert set(LAMPS) == set(r37_rows()) | set(US) | leds


#: Blade fuses: A -> drop mV, cold mohm, A²s, colour. Only the 40 A row and the colours were read (S44, S45).
BLADES = {
    1: (176, 123, 0.4, "black"),
    2: (141, 53.5, 1.4, "grey"),
    3: (137, 31.1, None, "violet"),
    4: (136, 22.8, None, "pink"),
    5: (128, 17.85, 26, "tan"),
    7.5: (116, 10.91, 60, "brown"),
    10: (109, 7.70, 115, "red"),
    15: (102, 4.80, 340, "blue"),
    20: (98, 3.38, 520, "yellow"),
    25: (92, 2.52, 1080, "clear (white)"),
    30: (84, 1.97, 1510, "green"),
    35: (87, 1.61, None, "blue-green"),
    40: (96, 1.44, 3300, "orange"),
}
#: Maxi fuses: the same (S44, S45).
MAXIS = {
    25: (None, None, None, "grey"),
    30: (None, 1.9, 4100, "green"),
    35: (None, 1.7, 6000, "brown"),
    40: (75, 1.4, 8500, "orange"),
    50: (None, None, None, "red"),
    60: (None, None, None, "blue"),
    70: (None, None, None, "tan or amber"),
    80: (None, None, None, "clear"),
    100: (None, None, None, "violet"),
}


def milli(value: float | None) -> float | None:
    """Return a thousandth, or None."""
    return None if value is None else value / 1000


@pytest.mark.parametrize("style", ["blade", "maxi"])
def test_fuse_rows(style: str):
    """Drop, cold resistance, melting energy and colour of every fuse, and none left out."""
    table = BLADES if style == "blade" else MAXIS
    assert {fuse.rating_a for fuse in fuse_types() if fuse.style == style} == set(table)
    for rating_a, (drop_mv, cold_mohm, i2t_a2s, colour) in table.items():
        fuse = find_fuse(rating_a, style)
        assert (fuse.drop_v, fuse.cold_ohm) == (milli(drop_mv), milli(cold_mohm)), rating_a
        assert (fuse.i2t_a2s, fuse.colour) == (i2t_a2s, colour), rating_a


@pytest.mark.parametrize("rating_a", [3, 5, 7.5, 15, 20, 25, 30])
def test_gates_from_memory(rating_a: float):
    """ISO 8820-3 type C below 35 A: five lines from memory, and the 110 % line."""
    found = {gate.percent: (gate.min_s, gate.max_s) for gate in gates(rating_a)}
    assert found == {
        110: (360_000, None),
        135: (0.75, 600),
        160: (0.25, 50),
        200: (0.15, 5),
        350: (0.04, 0.5),
        600: (0, 0.10),
    }
    assert {gate.support for gate in gates(rating_a)} == {"memory"}


def test_gates_that_were_read():
    """S44: the 10 A blade at 160 and 200 %; 35 and 40 A blades; maxis of 25 to 100 A."""
    assert {gate.percent for gate in gates(10) if gate.support == "seen"} == {160, 200}
    for rating_a in (35, 40):
        read = {gate.percent: (gate.min_s, gate.max_s) for gate in gates(rating_a) if gate.support == "seen"}
        assert read == {
            100: (360_000, None),
            135: (0.75, 600),
            200: (0.15, 5),
            350: (0.08, 0.5),
            600: (0, 0.15),
        }
    for rating_a in MAXIS:
        table = {gate.percent: (gate.min_s, gate.max_s) for gate in gates(rating_a, "maxi")}
        assert table == {
            100: (360_000, None),
            110: (360_000, None),
            135: (60, 1800),
            200: (2, 50),
            350: (0.2, 7),
            600: (0.04, 1),
        }


def test_gates_hold_for_no_other_rating():
    """What was read for 10 A, for 35 to 40 A or for 25 to 100 A is not handed to a neighbour."""
    assert {gate.support for rating_a in (9.9, 10.1) for gate in gates(rating_a)} == {"memory"}
    assert [gate.percent for rating_a in (34.9, 40.1) for gate in gates(rating_a)] == [110]
    assert gates(24.9, "maxi") == gates(100.1, "maxi") == gates(0.9) == ()


def test_brake_table_ranges():
    """Two voltage ranges, for two drums and three numbers of magnets (S48)."""
    found = sorted((row["drum"], row["magnets"], row["from_v"], row["to_v"]) for row in rows("brake_magnets"))
    assert found == sorted(
        (drum, magnets, *ends)
        for drum in ("10 and 12 in", "7 in")
        for magnets in ("2", "4", "6")
        for ends in (("9", "10.5"), ("12", "13"))
    )


def test_wire_types():
    """Lower temperature of S9 and S18, S8's thin-wall PVC cable, and the ISO 6722 classes from memory."""
    found = {name: (entry.insulation_c, entry.source) for name, entry in WIRE_TYPES.items()}
    classes = zip("ABCDEF", (85, 100, 125, 150, 175, 200), strict=True)
    assert found == {
        **dict.fromkeys(("GXL", "SXL", "TXL"), (125, "S9")),
        **dict.fromkeys(("HDT", "TWP"), (85, "S9")),
        **dict.fromkeys(("GPB", "HDB"), (90, "S18")),
        **dict.fromkeys(("STS", "HTS"), (105, "S18")),
        **{f"ISO 6722 {letter}": (celsius, "M-6722") for letter, celsius in classes},
        "GPT": (80, "S9"),
        "FLRY": (105, "S8"),
    }


def test_relay_rows():
    """Coil V, coil ohm, pick-up V, drop-out V, contact ohm, make A, then resistive and lamp A at 12 V and 24 V."""
    found = {
        relay.id: (
            *(relay.coil_v, relay.coil_ohm, relay.pick_up_v, relay.drop_out_v, relay.contact_resistance_ohm),
            *(relay.make_a, relay.resistive_12v_a, relay.lamp_12v_a, relay.resistive_24v_a, relay.lamp_24v_a),
        )
        for relay in RELAYS.values()
    }
    assert found == {
        "relay-24v": (24, 350, 16, 2.4, None, None, None, None, None, None),
        "relay-both": (None, None, None, None, 0.010, None, 12, 20, 6, 10),
        "relay-12v-twin": (12, 260, 7.2, 1.2, None, None, None, None, None, None),
        "relay-12v-lamp": (12, 300, 7.0, 0.5, 0.003, None, 30, None, None, None),
        "relay-12v-70a": (12, 90, 7.2, 1.6, None, 240, 70, None, None, None),
    }


def test_contact_rows():
    """New ohm, aged ohm, rated A."""
    found = {entry.contact: (entry.new_ohm, entry.aged_ohm, entry.rating_a) for entry in contact_resistances()}
    assert found == {
        "ISO 12098 contact": (None, 0.010, 15),
        "ISO 1724 or ISO 1185 contact": (0.003, 0.010, None),
        "blade fuse holder, pair": (0.003, 0.005, None),
        "crimp with 6.3 mm blade terminal, each": (0.001, 0.005, None),
        "power connector sample of 30 A": (0.00055, None, 30),
    }


@pytest.mark.parametrize(
    ("number", "gpt_mm", "txl_mm", "sxl_mm"),
    [
        ("20", 2.4, 1.9, 2.8),
        ("18", 2.5, 2.2, 3.0),
        ("16", 2.9, 2.4, 3.4),
        ("14", 3.2, 2.7, 3.9),
        ("12", 3.8, 3.3, 4.6),
        ("10", 4.7, 4.0, 5.3),
        ("8", 6.0, 4.9, 6.2),
        ("6", None, None, None),
    ],
)
def test_sae_diameters(number: str, gpt_mm: float | None, txl_mm: float | None, sxl_mm: float | None):
    """Largest diameters of S9."""
    size = parse_size(f"{number} SAE")
    assert outer_diameter_mm(size, "GPT") == outer_diameter_mm(size, "GXL") == gpt_mm
    assert outer_diameter_mm(size, "TXL") == txl_mm
    assert outer_diameter_mm(size, "SXL") == sxl_mm


#: Every default that rests on a source or on memory, by its value in the facts. What is only assumed is left out.
SOURCED_DEFAULTS = {
    **{"battery_24v_running_v": 28.0, "battery_24v_resting_v": 24.0, "battery_24v_low_v": 22.0},
    **{"battery_24v_charging_v": 28.8, "battery_12v_running_v": 13.5, "battery_12v_resting_v": 12.0},
    **{"battery_12v_low_v": 10.5, "battery_12v_charging_v": 14.4, "battery_resistance_ohm": 0.02},
    **{
        "chassis_resistance_ohm": 0.005,
        "ground_return_target_ohm": 0.005,
        "ambient_c": 50,
        "insulation_c": 80,
        "cold_c": -17,
    },
    **{"conductor_area_mm2": 1.5, "ground_conductor_area_mm2": 2.5, "bundle_conductors": 7},
    **{"fuse_breaking_a": 1000.0, "fuse_pulse_share": 0.22, "inrush_time_24v_s": 0.006, "short_clearing_s": 5.0},
    **{"smallest_chosen_area_mm2": 1.0},
    **{"contact_resistance_ohm": 0.003, "contact_resistance_aged_ohm": 0.010},
    **{"fuse_holder_resistance_ohm": 0.004, "crimp_resistance_ohm": 0.001, "fuse_continuous_factor": 0.75},
    **{"fuse_to_conductor_factor": 1.25, "lamp_drop_warn": 0.05, "lamp_drop_error": 0.15, "trailer_drop_v": 0.7},
    **{"filament_current_exponent": 0.55, "filament_light_exponent": 3.4, "filament_life_exponent": -13},
    **{"filament_cold_ratio": 0.1, "inrush_ratio": 11, "inrush_time_s": 0.002, "led_cut_off_12v_v": 7},
    **{"led_minimum_12v_v": 9, "led_maximum_12v_v": 16, "brake_magnet_ohm": 3.3, "brake_magnet_7in_ohm": 3.9},
    **{"breakaway_min": 15, "breakaway_capacity_share": 0.55, "flash_low_per_min": 60, "flash_high_per_min": 120},
    **{"relay_coil_24v_ohm": 350, "relay_coil_24v_pick_up_v": 16, "relay_coil_24v_drop_out_v": 2.4},
    **{"relay_coil_12v_ohm": 90, "relay_coil_12v_pick_up_v": 7.2, "relay_coil_12v_drop_out_v": 1.2},
    **{"relay_contact_resistance_ohm": 0.010, "relay_contact_24v_factor": 0.5, "lamp_inrush_factor": 10},
    **{"coil_12v_highest_v": 16, "coil_24v_highest_v": 32},
    **{"motor_inrush_factor": 6, "converter_output_v": 13.5, "converter_efficiency": 0.88, "converter_idle_a": 0.02},
    **{"converter_minimum_input_v": 18, "converter_maximum_input_v": 36, "converter_current_limit_factor": 1.5},
    **{"suppression_24v_ohm": 1200, "suppression_12v_ohm": 560, "trailer_battery_resistance_ohm": 0.03},
    **{"converter_derate_from_c": 40, "converter_derate_per_k": 0.025, "brake_controller_minimum_input_v": 9},
}


def test_sourced_defaults():
    """Value by value, and no default that claims support is missing from the list."""
    found = {name: entry.value for name, entry in DEFAULTS.items() if entry.support != "assumed"}
    assert found == SOURCED_DEFAULTS


def test_assumed_defaults_tell_the_user_to_measure():
    """A length nobody can know is marked as assumed and says so in its reason."""
    lengths = [entry for name, entry in DEFAULTS.items() if name.endswith("_length_m")]
    assert len(lengths) == 9
    assert {(entry.source, entry.support) for entry in lengths} == {("ASSUMED", "assumed")}
    assert all("measure it" in entry.why for entry in lengths)
