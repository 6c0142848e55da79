"""Fuses, lamps, relays, defaults and sources: rounding toward safety, refusals, hints, reading only when wanted."""

import math
import re
import subprocess
import sys
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiregen.catalogue import lamps, relays
from wiregen.catalogue.conductors import WIRE_TYPES, OutsideTable
from wiregen.catalogue.connector import SUPPORT_WORDS as PINOUT_SUPPORT_WORDS
from wiregen.catalogue.defaults import DEFAULTS, default
from wiregen.catalogue.fuses import (
    BREAKERS,
    STYLES,
    ambient_share,
    find_fuse,
    fuse_types,
    gates,
    largest_rating_a,
    opening_time,
    protector,
    resistance_ohm,
    smallest_rating_a,
    standard_ratings_a,
)
from wiregen.catalogue.lamps import LAMPS, find_lamp
from wiregen.catalogue.relays import RELAYS, brake_current, contact_resistances, switch_rating_needed_a
from wiregen.catalogue.sources import (
    SUPPORT_WORDS,
    UnknownEntryError,
    known_keys,
    source,
    support_word,
)

# --- fuses ---


def test_ratings():
    """Ratings made, and both look-ups from above and below with their edges."""
    assert standard_ratings_a("blade") == (1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 35, 40)
    assert standard_ratings_a("maxi")[-1] == 100
    assert smallest_rating_a(7.5, 0.75) == 10
    assert smallest_rating_a(7.6, 0.75) == 15
    assert smallest_rating_a(30.1, 0.75) == 50
    assert largest_rating_a(15.0) == 15
    assert largest_rating_a(14.9) == 10
    assert largest_rating_a(49.9, "blade") == 40
    with pytest.raises(OutsideTable, match=r"a fuse of 133\.333 A or more; the largest is 100 A"):
        smallest_rating_a(100, 0.75)
    with pytest.raises(OutsideTable, match="the largest is 40 A"):
        smallest_rating_a(31, 0.75, "blade")
    with pytest.raises(OutsideTable, match=r"no standard fuse is as small as 0.5 A"):
        largest_rating_a(0.5)


@given(st.floats(0.1, 75), st.floats(0.5, 1.0))
def test_the_fuse_for_a_load_carries_it(load_a: float, factor: float):
    """The rating found carries the load, and the next smaller one does not."""
    try:
        rating_a = smallest_rating_a(load_a, factor)
    except OutsideTable:
        assert load_a / factor > 100
        return
    smaller = [value for value in standard_ratings_a() if value < rating_a]
    assert rating_a * factor >= load_a * (1 - 1e-9)
    assert not smaller or smaller[-1] * factor < load_a


def test_find_fuse():
    """A rating that is not made is refused with those that are."""
    assert (find_fuse(10).colour, find_fuse(25, "maxi").colour) == ("red", "grey")
    with pytest.raises(OutsideTable, match=r"12 A is not a blade fuse rating; made are: 1, 2, 3, 4, 5, 7.5, 10,"):
        find_fuse(12)


@given(st.sampled_from([fuse for fuse in fuse_types() if fuse.hot_ohm]), st.floats(-2, 2), st.floats(-2, 2))
def test_fuse_resistance_rises_with_current(fuse, first: float, second: float):
    """From cold to hot, never outside the two, rising with the size of the current either way round."""
    low, high = sorted((abs(first), abs(second)))
    below = resistance_ohm(fuse.rating_a, low * fuse.rating_a, fuse.style)
    above = resistance_ohm(fuse.rating_a, -high * fuse.rating_a, fuse.style)
    assert fuse.cold_ohm <= below <= above <= fuse.hot_ohm * (1 + 1e-12)


def test_fuse_resistance_of_other_ratings():
    """A rating without figures takes the next smaller one's, which is higher; half load adds a quarter of the rise."""
    assert resistance_ohm(12, 0) == resistance_ohm(10, 0) == 0.0077
    assert resistance_ohm(60, 0, "maxi") == resistance_ohm(40, 0, "maxi") == 0.0014
    assert resistance_ohm(25, 0, "maxi") == resistance_ohm(25, 0, "blade")
    assert resistance_ohm(30, 30, "maxi") == 0.0019
    assert resistance_ohm(10, 5) == pytest.approx(0.0077 + (0.0109 - 0.0077) / 4)
    with pytest.raises(OutsideTable, match=r"no fuse resistance is known for 0.5 A"):
        resistance_ohm(0.5, 0)


@pytest.mark.parametrize(("rating_a", "style"), [(fuse.rating_a, fuse.style) for fuse in fuse_types()])
def test_opening_times_shrink_with_current(rating_a: float, style: str):
    """More current never lets a fuse live longer, and the earliest time never passes the latest."""
    assert gates(rating_a, style)
    times = [opening_time(rating_a, rating_a * percent / 100, style) for percent in range(50, 1000, 5)]
    assert all(time.min_s <= time.max_s for time in times)
    assert all(later.min_s <= sooner.min_s and later.max_s <= sooner.max_s for sooner, later in pairwise(times))


def test_between_two_lines_only_the_certain_is_said():
    """10 A at 25 A: no later than at 20 A (5 s), no earlier than at 35 A (0.04 s); the latter is memory."""
    found = opening_time(10, 25)
    assert (found.min_s, found.max_s) == (0.04, 5.0)
    assert (found.source, found.support) == ("S44,M-8820", "memory")


def test_far_above_and_far_below():
    """Ten times 10 A opens within the 600 % line's time; rated current never need open it."""
    assert (opening_time(10, 100).min_s, opening_time(10, 100).max_s) == (0.0, 0.10)
    assert (opening_time(10, 10).min_s, opening_time(10, 10).max_s) == (360_000, math.inf)


def test_opening_time_of_an_unknown_rating():
    """A rating without any line is refused."""
    with pytest.raises(OutsideTable, match="no opening times are known for a 150 A maxi fuse"):
        opening_time(150, 300, "maxi")


@pytest.mark.parametrize("ambient_c", [-40.1, 125.1])
def test_fuse_ambient_ends(ambient_c: float):
    """The derating curve is not carried on beyond its ends."""
    with pytest.raises(OutsideTable, match="outside -40 to 125 °C"):
        ambient_share(ambient_c)


def test_fuse_ambient_in_between():
    """Half way from 65 to 85 °C the share is half way from 0.85 to 0.75."""
    assert ambient_share(75) == pytest.approx(0.80)


def test_protector_of_an_unlisted_size():
    """A size a rule does not list is refused with those it lists."""
    with pytest.raises(OutsideTable, match="8 AWG is not in the NEC protection table; listed are: 14, 12, 10"):
        protector("nec", "8")


def test_breakers():
    """Types 1, 2 and 3 of SAE J553 (S29)."""
    assert {key: breaker.word for key, breaker in BREAKERS.items()} == {
        "1": "automatic reset",
        "2": "modified reset",
        "3": "manual reset",
    }


def test_fuse_styles_and_colours():
    """Every fuse has a colour and a style that exists, and the memory rows say so."""
    assert {fuse.style for fuse in fuse_types()} == set(STYLES)
    assert all(fuse.colour and fuse.colour_source == "S45" for fuse in fuse_types())
    assert {fuse.rating_a for fuse in fuse_types() if fuse.support == "memory"} == set(standard_ratings_a("blade")) - {
        40
    }


# --- lamps ---


def test_lamp_ids_follow_one_system():
    """Category, voltage, filament; or trade number and filament; or led, use, voltage: all in lower case."""
    pattern = r"[a-z]+\d+(_\d)?w-(12|24)v(-bright|-dim)?|\d+(-bright|-dim)?|led-[a-z]+-(12v|24v|10_30v)"
    assert [lamp_id for lamp_id in LAMPS if not re.fullmatch(pattern, lamp_id)] == []
    assert all(lamp.id == lamp_id for lamp_id, lamp in LAMPS.items())


def test_two_filaments_come_in_pairs():
    """Every bright filament has its dim one, which takes less."""
    for lamp_id in LAMPS:
        if lamp_id.endswith("-bright"):
            assert LAMPS[lamp_id.removesuffix("bright") + "dim"].current_a < LAMPS[lamp_id].current_a / 2


@pytest.mark.parametrize("lamp_id", list(LAMPS))
def test_lamp_values_make_sense(lamp_id: str):
    """Sizing current at least the expected one, voltages that fit the system, LED limits only for LED lamps."""
    lamp = LAMPS[lamp_id]
    assert 0 < lamp.current_a <= lamp.max_current_a <= 2.5
    assert lamp.nominal_v in (12, 24)
    assert lamp.nominal_v <= lamp.test_v <= lamp.nominal_v * 1.17
    assert lamp.current_is_maximum <= (lamp.current_a == lamp.max_current_a)
    if lamp.technology == "led":
        assert 0 < lamp.low_a < lamp.current_a
        assert lamp.cut_off_v < lamp.min_v < lamp.test_v < lamp.max_v
        assert (lamp.flux_lm, lamp.mscp, lamp.life_h) == (None, None, None)
    else:
        assert (lamp.low_a, lamp.min_v, lamp.max_v, lamp.cut_off_v) == (None, None, None, None)
        # What the lamp is called by is never far from what it takes, but for the 24 V dim filament (S32).
        assert 0.85 <= lamp.test_v * lamp.current_a / lamp.watts_rated <= 2.0


@pytest.mark.parametrize(
    ("lamp_id", "amps"),
    [
        *(("p21w-12v", 1.85), ("p21w-24v", 1.00), ("p21_4w-24v-dim", 0.29), ("r10w-12v", 0.74)),
        *(("r10w-24v", 0.45), ("r5w-12v", 0.37), ("r5w-24v", 0.25), ("t4w-12v", 0.30), ("t4w-24v", 0.18)),
        *(("w3w-12v", 0.22), ("w3w-24v", 0.14), ("w16w-12v", 1.58), ("h21w-24v", 1.06), ("w21_5w-12v-dim", 0.49)),
    ],
)
def test_lamp_currents(lamp_id: str, amps: float):
    """Objective or highest power over test voltage, to the rounding of the facts' own column."""
    assert find_lamp(lamp_id).current_a == pytest.approx(amps, abs=0.0051)


def test_only_the_maximum_known_is_said():
    """Where an old sheet gives no objective power the current is the maximum, and the record says so."""
    assert find_lamp("w21w-12v").current_is_maximum
    assert not find_lamp("p21w-12v").current_is_maximum
    assert not find_lamp("1157-bright").current_is_maximum
    assert find_lamp("1157-bright").max_current_a == pytest.approx(2.31)


@pytest.mark.parametrize(
    ("word", "message"),
    [
        ("p21w-12", "'p21w-12' is not a lamp type; did you mean 'p21w-12v'?"),
        ("P21W-12V", "'P21W-12V' is not a lamp type; did you mean 'p21w-12v'?"),
        ("1157", "'1157' is not a lamp type; write '1157-bright' or '1157-dim'"),
        ("led-tail", "'led-tail' is not a lamp type; write 'led-tail-12v' or 'led-tail-24v' or 'led-tail-10_30v'"),
        ("candle", "'candle' is not a lamp type"),
    ],
)
def test_unknown_lamps(word: str, message: str):
    """The refusal names the nearest lamp, and never the neighbour of one that has two filaments."""
    with pytest.raises(UnknownEntryError) as caught:
        find_lamp(word)
    assert str(caught.value) == message
    assert isinstance(caught.value, ValueError)


@given(st.floats(0.2, 1.3))
def test_filament_ratios_agree(ratio: float):
    """Power is voltage times current; all ratios are 1 at design voltage."""
    assert lamps.power_ratio(ratio) == pytest.approx(ratio * lamps.current_ratio(ratio))
    assert lamps.life_ratio(1.0) == lamps.light_ratio(1.0) == lamps.current_ratio(1.0) == 1.0


# --- relays ---


def test_contact_halves_at_24_v():
    """S41's family: half the current at 24 V, resistive and lamps alike."""
    family = RELAYS.find("relay-both")
    assert family.resistive_24v_a == family.resistive_12v_a * relays.CONTACT_FACTOR_24V
    assert family.lamp_24v_a == family.lamp_12v_a * relays.CONTACT_FACTOR_24V


@pytest.mark.parametrize("relay_id", list(RELAYS))
def test_relays_let_go_below_where_they_pull_in(relay_id: str):
    """Drop-out below pick-up below nominal voltage; the coil takes 0.4 to 2 W."""
    relay = RELAYS[relay_id]
    if relay.coil_v is None:
        assert (relay.coil_ohm, relay.pick_up_v, relay.drop_out_v) == (None, None, None)
        return
    assert 0 < relay.drop_out_v < relay.pick_up_v < relay.coil_v
    assert 0.4 <= relay.coil_v**2 / relay.coil_ohm <= 2


def test_switch_table_ends():
    """A system voltage the table does not know is refused."""
    with pytest.raises(OutsideTable, match="not for 48 V"):
        switch_rating_needed_a(48, "lamp", 1)


@pytest.mark.parametrize(("magnets", "supply_v"), [(3, 12.5), (4, 11.0), (4, 13.1)])
def test_brake_table_ends(magnets: int, supply_v: float):
    """Magnets and voltages between the table's rows are refused, not interpolated."""
    with pytest.raises(OutsideTable, match="the table has 2, 4 and 6"):
        brake_current(magnets, supply_v)


def test_brake_magnet_resistance_agrees_with_the_table():
    """BR-2 (S48): 3.2 to 3.5 ohm at 12 V are 3.43 to 3.75 A each; the default lies inside."""
    assert 3.43 <= 12 / DEFAULTS["brake_magnet_ohm"].value <= 3.75
    per_magnet = [brake_current(2, 12.0).low_a / 2, brake_current(2, 13.0).high_a / 2]
    assert per_magnet[0] <= 13 / DEFAULTS["brake_magnet_ohm"].value <= per_magnet[1]


def test_contact_resistances_age():
    """No contact gets better with age, and the default is the planning value of a new one."""
    for entry in contact_resistances():
        assert entry.new_ohm is not None or entry.aged_ohm is not None
        assert entry.new_ohm is None or entry.aged_ohm is None or entry.new_ohm < entry.aged_ohm
    by_name = {entry.contact: entry for entry in contact_resistances()}
    assert by_name["ISO 1724 or ISO 1185 contact"].new_ohm == default("contact_resistance_ohm").value
    assert by_name["ISO 12098 contact"].aged_ohm == default("contact_resistance_aged_ohm").value


# --- defaults ---

UNIT_ENDINGS = {
    **{"V": "_v", "A": "_a", "ohm": "_ohm", "m": "_m", "mm²": "_mm2", "°C": "_c", "s": "_s", "min": "_min"},
    **{"per min": "_per_min", "per K": "_per_k"},
}
PLAIN = r".*_(factor|ratio|exponent|efficiency|warn|error|share|gain|conductors)"


@pytest.mark.parametrize("name", list(DEFAULTS))
def test_default_names_end_in_their_unit(name: str):
    """The unit in the name is the unit of the value; a name without one is a plain number."""
    entry = DEFAULTS[name]
    if entry.unit:
        assert name.endswith(UNIT_ENDINGS[entry.unit])
        assert entry.text.endswith(f" {entry.unit}")
    else:
        assert re.fullmatch(PLAIN, name)
        assert re.fullmatch(r"-?[0-9.]+", entry.text)
    assert entry.why
    assert math.isfinite(entry.value)


#: What the build stage asks for.
WANTED = [
    *("battery_24v_running_v", "battery_12v_running_v", "battery_resistance_ohm", "chassis_resistance_ohm"),
    *("switch_resistance_ohm", "contact_resistance_ohm", "relay_contact_resistance_ohm", "copper_temperature_c"),
    *("conductor_area_mm2", "insulation_c", "ambient_c", "solid_state_resistance_ohm", "filament_cold_ratio"),
    *("led_cut_off_12v_v", "brake_magnet_ohm", "converter_output_v", "converter_output_resistance_ohm"),
    *("converter_efficiency", "converter_idle_a", "converter_minimum_input_v", "brake_controller_gain"),
    *("brake_controller_efficiency", "brake_controller_idle_a", "brake_controller_minimum_input_v"),
    *(f"{kind}_{system}_{what}" for kind in ("relay_coil", "control_input") for system in ("24v", "12v")
      for what in ("ohm", "pick_up_v", "drop_out_v")),
    *(f"{stretch}_length_m" for stretch in ("vehicle_feed", "socket_ground", "tap", "own_ground", "adapter_lead",
                                            "trailer_lead", "trailer_cable", "lamp_branch")),
]  # fmt: skip


@pytest.mark.parametrize("name", WANTED)
def test_wanted_defaults_exist(name: str):
    """Every default that another stage takes is there."""
    assert default(name).name == name


def test_unknown_default():
    """A name that is no default is refused with the nearest one."""
    with pytest.raises(UnknownEntryError, match=r"did you mean 'ambient_c'\?"):
        default("ambiant_c")


def test_defaults_agree_with_the_constants():
    """A value that is both a default and a constant of a module is the same in both."""
    pairs = {
        "filament_current_exponent": lamps.CURRENT_EXPONENT,
        "filament_light_exponent": lamps.LIGHT_EXPONENT,
        "filament_life_exponent": lamps.LIFE_EXPONENT,
        "inrush_ratio": lamps.INRUSH_RATIO,
        "inrush_time_s": lamps.INRUSH_TIME_S,
        "relay_contact_24v_factor": relays.CONTACT_FACTOR_24V,
        "lamp_inrush_factor": relays.INRUSH_FACTORS["lamp"],
        "motor_inrush_factor": relays.INRUSH_FACTORS["motor"],
        "relay_coil_24v_ohm": RELAYS["relay-24v"].coil_ohm,
        "relay_coil_24v_pick_up_v": RELAYS["relay-24v"].pick_up_v,
        "relay_coil_24v_drop_out_v": RELAYS["relay-24v"].drop_out_v,
        "relay_coil_12v_ohm": RELAYS["relay-12v-70a"].coil_ohm,
        "relay_coil_12v_pick_up_v": RELAYS["relay-12v-70a"].pick_up_v,
        "led_cut_off_12v_v": LAMPS["led-stop-12v"].cut_off_v,
        "led_minimum_12v_v": LAMPS["led-stop-12v"].min_v,
        "led_maximum_12v_v": LAMPS["led-stop-12v"].max_v,
        "insulation_c": WIRE_TYPES["GPT"].insulation_c,
    }
    assert {name: default(name).value for name in pairs} == pairs


# --- sources ---


def test_source_and_its_refusal():
    """A key gives its source; another is refused with the nearest."""
    assert source("S12").title.startswith("33 CFR 183.425")
    assert "S12" in known_keys()
    with pytest.raises(UnknownEntryError, match=r"'M-R73' is not a source key; did you mean 'M-R37'\?"):
        source("M-R73")


def test_support_words():
    """Every mark has words, the same as the pinouts use; another mark is refused."""
    assert support_word("memory") == "no document seen"
    assert {key: SUPPORT_WORDS[key] for key in PINOUT_SUPPORT_WORDS} == PINOUT_SUPPORT_WORDS
    with pytest.raises(UnknownEntryError, match="'guess' is not a support mark; allowed: seen, derived, memory"):
        support_word("guess")


def test_tables_are_read_only_when_wanted():
    """Importing the tables reads no file and loads neither pydantic nor numpy."""
    program = (
        "import sys\n"
        "from wiregen.catalogue import ampacity, conductors, defaults, fuses, lamps, relays, sources\n"
        "print(sources.rows.cache_info().currsize, sources.toml_table.cache_info().currsize,"
        " sources.SOURCES._rows, lamps.LAMPS._rows, 'pydantic' in sys.modules, 'numpy' in sys.modules)\n"
    )
    result = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert result.stdout.split() == ["0", "0", "None", "None", "False", "False"]
