"""The ways to convert: how a rig is rewritten, what is sized, what the numbers are, and what they speak for."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from tests import steps
from tests.conversions import SHARED_LAMPS, XOR
from tests.rigs import BOX_FEED, SUPPLY, load, rig, straight, trailer
from tests.steps import build, case_of, compare, comparison_scene, study
from tests.unit.sheet_checks import assert_sheet_is_sound, crossed_by_lines, words_of
from wiregen.catalogue.lamps import LAMPS, light_ratio
from wiregen.check.rules import check as run_rules
from wiregen.cli import app
from wiregen.convert.lamps import for_system, for_wide
from wiregen.convert.rewrite import rewrite
from wiregen.convert.ways import WAYS
from wiregen.errors import InputError
from wiregen.model.circuit import Battery, Lamp, Load
from wiregen.model.comparison import LampLight, WayResult
from wiregen.model.finding import Finding
from wiregen.paper.blocks import Table
from wiregen.paper.json_text import json_text
from wiregen.paper.terminal import terminal_text
from wiregen.questions.ways.ask import way_result
from wiregen.questions.ways.paper import comparison_data, ways_paper
from wiregen.questions.ways.recommend import recommend
from wiregen.questions.ways.sizes import sized
from wiregen.solve.heat import heat_by_kind_w

WAY = {way.id: way for way in WAYS}
#: One lamp circuit and electric brakes; the cheapest rig that has all there is to convert.
BRAKED = rig(
    channels=[
        {"input": "tail", "output": "tail", "rating": "20 A", "rated_for": "lamp", "fuse": "10 A"},
        {"name": "brakes", "device": "brake_controller", "input": "pedal", "output": "brake", "rating": "25 A"},
    ],
    lamps=[{"function": "tail", "type": "r10w-12v", "count": 3}],
    pedal=True,
    supply={**SUPPLY, "fuse": "40 A"},
    taps=[BOX_FEED],
    brakes={"magnets": 2},
)
LIGHT = rig(channels=["tail > tail"], lamps=[{"function": "tail", "type": "r10w-12v", "count": 2}])


def comparison_text(comparison, width=80, *, full=True):
    return terminal_text(ways_paper(comparison, full=full), width)


def channels_of(text, way):
    return rewrite(load(text), WAY[way]).loaded.rig.adapter.channel


@pytest.fixture(scope="module")
def braked():
    """Every way of the braked rig, worked out once."""
    loaded = load(BRAKED)
    return loaded, compare(loaded)


# --- rewriting ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("way", "devices", "supply"),
    [
        ("converter", ["relay", "brake_controller"], "converter"),
        ("centre-tap", ["relay", "brake_controller"], "centre_tap"),
        ("centre-tap-equaliser", ["relay", "brake_controller"], "centre_tap"),
        ("step-down", ["step_down", "brake_controller"], "converter"),
        ("24v-lamps", ["wire", "brake_controller"], "converter"),
        ("wide-range", ["wire", "brake_controller"], "converter"),
        ("resistors", ["resistor", "brake_controller"], "converter"),
    ],
)
def test_every_way_changes_lamp_circuits_and_leaves_brakes_at_12_v(way, devices, supply):
    """A brake controller keeps a 12 V supply in every way; the lamp circuit gets the way's device."""
    made = rewrite(load(BRAKED), WAY[way]).loaded.rig.adapter
    assert [channel.device for channel in made.channel] == devices
    assert made.supply.kind == supply


def test_what_the_user_gave_is_kept():
    """Under the way the rig is already, nothing is rewritten; elsewhere fuses, feed and ratings stay."""
    loaded = load(BRAKED)
    made = rewrite(loaded, WAY["converter"])
    assert made.loaded.rig == loaded.rig
    down = rewrite(loaded, WAY["step-down"]).loaded.rig.adapter
    assert down.channel[0].fuse_a == 10.0
    assert down.channel[1] == loaded.rig.adapter.channel[1]
    assert down.supply == loaded.rig.adapter.supply


def test_no_supply_is_left_where_nothing_hangs_on_it():
    """Without brakes a straight or stepped-down adapter has no 12 V bus, and so no converter for one."""
    assert rewrite(load(LIGHT), WAY["wide-range"]).loaded.rig.adapter.supply is None
    assert rewrite(load(LIGHT), WAY["step-down"]).loaded.rig.adapter.supply is None


@pytest.mark.parametrize("way", ["step-down", "24v-lamps", "wide-range", "resistors"])
def test_logic_needs_relays(way):
    """A channel that combines stop and turn cannot be a wire, a resistor or a step-down; the reason names it."""
    made = rewrite(load(rig("iso-12098", channels=XOR, lamps=SHARED_LAMPS)), WAY[way])
    assert len(made.why_not) == 2
    assert "stop xor turn_left" in made.why_not[0]
    assert way_result(load(rig("iso-12098", channels=XOR, lamps=SHARED_LAMPS)), WAY[way]).fit == "no"


def test_circuits_that_are_live_together_stand_for_each_other():
    """``tail_left or tail_right`` becomes a wire from the first that the socket has, and a note says so."""
    text = rig("iso-12098", channels=["tail_left or tail_right > tail"], lamps=["tail"])
    made = rewrite(load(text), WAY["24v-lamps"])
    assert made.loaded.rig.adapter.channel[0].input.text == "tail_left"
    assert made.notes == ("channel 1 is fed from tail_left alone, of tail_left or tail_right.",)


def test_one_block_has_no_centre():
    """``pair = false`` rules both centre taps out, and nothing else."""
    loaded = load(rig(vehicle={"battery": {"pair": False}}))
    out = [way.id for way in WAYS if rewrite(loaded, way).why_not]
    assert out == ["centre-tap", "centre-tap-equaliser"]


def test_a_centre_tap_on_one_block_is_refused():
    """A rig file that says both is bad input, at both places."""
    text = rig(supply={"kind": "centre_tap"}, vehicle={"battery": {"pair": False}})
    with pytest.raises(InputError, match="a centre tap wants two 12 V batteries in series") as caught:
        load(text)
    assert len(caught.value.problems[0].marks) == 2


def test_a_straight_lead_becomes_channels_for_what_the_trailer_has():
    """Of a straight lead only circuits with something on the trailer are converted, and 24 V lamps become 12 V ones."""
    loaded = load(straight("iso-12098", "iso-12098", ["stop", {"function": "tail_left", "count": 2}]))
    made = rewrite(loaded, WAY["converter"])
    assert sorted(channel.input.text for channel in made.loaded.rig.adapter.channel) == ["stop", "tail_left"]
    assert made.loaded.rig.adapter.supply.feed == "charge"
    assert [lamp.type for lamp in made.loaded.rig.trailer[0].lamp] == ["p21w-12v", "r5w-12v"]
    assert made.loaded.rig.trailer[0].voltage == "12 V"


def test_a_feed_is_added_where_the_vehicle_offers_none():
    """Without tap and without permanent contact a new tap feeds the converter, fused and sized, and listed."""
    loaded = load(rig(channels=["tail > tail | step_down"], supply=None))
    final, assumed = sized(rewrite(loaded, WAY["converter"]), WAY["converter"])
    (tap,) = [tap for tap in final.rig.vehicle.tap if tap.name == final.rig.adapter.supply.feed]
    assert tap.live.text == "always"
    assert tap.fuse_a == 3.0
    assert [entry.name for entry in assumed] == ["contact rating", "continuous output", "fuse", "wire"]
    assert {f.rule for f in run_rules(case_of(final, build(final))) if f.severity == "error"} == set()


def test_what_is_no_lamp_stays_at_12_v_or_is_named():
    """A trailer battery is charged through a step-down in every way; a solenoid on the reverse wire gets 24 V."""
    text = rig(
        "iso-12098",
        "as-4177-7",
        channels=["tail_left > tail", "reverse > reverse", "charge > charge | wire"],
        lamps=["tail", "reverse"],
        lock_out={"resistance": "9 ohm"},
    )
    made = rewrite(load(text), WAY["24v-lamps"])
    assert [channel.device for channel in made.loaded.rig.adapter.channel] == ["wire", "wire", "step_down"]
    assert made.notes == (
        "test trailer: the lock-out solenoid on the reverse circuit gets 24 V; it must be changed too.",
    )
    over = [f for f in way_result(load(text), WAY["24v-lamps"]).findings if f.rule == "over-voltage"]
    assert [f.where.split()[0] for f in over] == ["-M1"]
    assert rewrite(load(text), WAY["step-down"]).notes == ()


# --- lamps -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lamp", "at_24"),
    [
        ("p21w-12v", "p21w-24v"),
        ("led-tail-12v", "led-tail-24v"),
        # Typed from the lists of UN R37 and SAE J573: 402 and 440 lm, 38 and 40 lm, 25 and 22 lm, 402 and 402 lm.
        ("1157-bright", "p21_5w-24v-bright"),
        ("1157-dim", "p21_5w-24v-dim"),
        ("194", "w3w-24v"),
        ("1156", "1683"),
        # Amber in a clear lens is no white lamp; 310 lm and 75 lm have nothing near them.
        ("py21_5w-12v-bright", None),
        ("w16w-12v", None),
        ("89", None),
        # Works at both already.
        ("led-stop-10_30v", "led-stop-10_30v"),
        ("p21w-24v", "p21w-24v"),
    ],
)
def test_the_lamp_for_24_v(lamp, at_24):
    """The same type for 24 V, else the nearest in light of the same colour and filament, else none."""
    assert for_system(lamp, "24 V").id == at_24


def test_no_lamp_changes_its_light_by_more_than_a_quarter():
    """Over the whole catalogue and both directions a stand-in has 80 to 125 % of the light."""
    for lamp_id in LAMPS:
        for system in ("12 V", "24 V"):
            found = for_system(lamp_id, system)
            if found.id is None or LAMPS[lamp_id].technology != "filament" or not found.note:
                continue
            old, new = LAMPS[lamp_id], LAMPS[found.id]
            light = [lamp.flux_lm or 4 * np.pi * lamp.mscp for lamp in (old, new)]
            assert 0.8 <= light[1] / light[0] <= 1.25, lamp_id
            assert new.nominal_v == float(system.split()[0]), lamp_id


def test_wide_range_lamps_by_function():
    """An LED lamp by its type, a bulb by its function, and a stand-in says that the catalogue has none."""
    assert for_wide("led-marker-12v", "tail").id == "led-marker-10_30v"
    assert for_wide("p21w-12v", "turn_left").id == "led-turn-10_30v"
    assert for_wide(None, "stop").id == "led-stop-10_30v"
    assert "catalogue has none for this function" in for_wide("p21w-12v", "reverse").note


def test_lamps_to_change_are_listed_with_what_is_unknown():
    """Own data double their voltage at equal power, measured lamps stay and say why, unknown ones have no successor."""
    lamps = [
        {"function": "tail", "technology": "filament", "voltage": "12 V", "power": "5 W"},
        {"function": "stop_turn_left", "points": [["9 V", "0.1 A"], ["13.5 V", "0.2 A"]]},
        {"function": "stop_turn_right", "type": "w16w-12v"},
    ]
    made = rewrite(load(rig(lamps=lamps)), WAY["24v-lamps"])
    assert [(c.old, c.new) for c in made.changes] == [
        ("filament 12 V 5 W", "filament 24 V 5 W"),
        ("lamp measured at 2 points", ""),
        ("w16w-12v", ""),
    ]
    assert made.loaded.rig.trailer[0].lamp[0].voltage_v == 24.0
    assert made.loaded.rig.trailer[0].lamp[2].type == "w16w-12v"


# --- sizing ------------------------------------------------------------------------------------------------------


def test_the_converter_is_no_larger_than_it_must_be():
    """A converter sized by need passes the check, one of an ampere less does not."""
    loaded = load(rig(supply={"kind": "battery"}, lamps=[{"function": "tail", "type": "p21w-12v", "count": 4}]))
    final, _ = sized(rewrite(loaded, WAY["converter"]), WAY["converter"])

    def overloaded(less_a):
        adapter = final.rig.adapter
        supply = adapter.supply.model_copy(update={"continuous_a": adapter.supply.continuous_a - less_a})
        small = replace(
            final, rig=final.rig.model_copy(update={"adapter": adapter.model_copy(update={"supply": supply})})
        )
        return any(f.rule == "supply-continuous" for f in run_rules(case_of(small, build(small))))

    assert not overloaded(0.0)
    assert overloaded(1.0)


def test_an_equaliser_sized_by_need_makes_the_tap_good():
    """Without equaliser the lower battery loses what the tap gives; with one sized by need next to nothing."""
    without, with_one = (way_result(load(LIGHT), WAY[way]) for way in ("centre-tap", "centre-tap-equaliser"))
    assert without.imbalance_ah_per_h == pytest.approx(without.tap_a, rel=1e-6)
    assert with_one.imbalance_ah_per_h < 0.1 * with_one.tap_a
    assert without.rules("warning") == (("centre-tap", 1),)
    assert "centre-tap" not in dict(with_one.rules("warning"))


# --- numbers -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", [way.id for way in WAYS])
def test_heat_and_lamps_together_are_what_the_batteries_give(way):
    """Energy: battery power = lamps + loads + every part's heat, in every state at every corner, for every way."""
    final, _ = sized(rewrite(load(BRAKED), WAY[way]), WAY[way])
    (solved,) = study(final, build(final))
    # A battery's current is positive into its plus.
    given = sum(-solved.across_v(b) * solved.current_a(b.ref) for b in solved.circuit.of(Battery))
    used = sum(
        np.nan_to_num(solved.across_v(part) * solved.current_a(part.ref))
        for kind in (Lamp, Load)
        for part in solved.circuit.of(kind)
    )
    heat = np.sum(list(heat_by_kind_w(solved).values()), axis=0)
    assert given == pytest.approx(used + heat, abs=1e-4)


def test_the_least_light_is_that_of_a_filament_at_its_voltage(braked):
    """Light follows the 3.4th power of the voltage named beside it (S35), of the lamp's 13.5 V."""
    lowest = {way.id: way.lowest for way in braked[1].ways}
    for way in ("converter", "centre-tap", "step-down"):
        assert lowest[way].share == pytest.approx((lowest[way].volts_v / 13.5) ** 3.4)
    assert lowest["centre-tap"].share < lowest["converter"].share


def test_parts_are_counted_by_kind(braked):
    """Each way has its own parts; the fuses of feed, taps, supply and channel are those of the rig."""
    parts = {way.id: way.parts for way in braked[1].ways}
    assert parts["converter"]["relays"] == 2
    assert parts["step-down"]["relays"] == 1
    assert parts["step-down"]["converters"] == 2
    assert parts["centre-tap-equaliser"]["equalisers"] == 1
    assert parts["resistors"]["resistors"] == 1
    assert "converters" not in parts["centre-tap"]
    assert {kinds["brake controllers"] for kinds in parts.values()} == {1}


def test_every_way_says_what_feeds_the_brakes(braked):
    """Twelve volts for the magnets in every way."""
    for way in braked[1].ways:
        assert way.brake_words.startswith("A 12 V brake controller on ")
        assert way.fit == "fits"


def test_the_present_way_is_marked(braked):
    """The rig file is a relay box on a converter, and no other way."""
    assert [way.id for way in braked[1].ways if way.is_present] == ["converter"]


def test_a_centre_tap_without_equaliser_is_not_the_one_with():
    """Of two ways that rewrite nothing only the one without equaliser is the rig's."""
    loaded = load(rig(supply={"kind": "centre_tap", "fuse": "10 A"}))
    assert way_result(loaded, WAY["centre-tap"]).is_present
    assert not way_result(loaded, WAY["centre-tap-equaliser"]).is_present


def test_24_v_lamps_behind_a_12_v_car(braked):
    """A 24 V filament at its voltage has the light of the 3.4th power; changed lamps are listed."""
    way = next(way for way in braked[1].ways if way.id == "24v-lamps")
    (behind,) = way.behind_12v
    assert behind.volts_v < 13.6
    assert behind.share == pytest.approx(light_ratio(behind.volts_v / 28.0))
    assert behind.share < 0.1
    assert [(c.old, c.new, c.count) for c in way.changes] == [("r10w-12v", "r10w-24v", 3)]
    assert not way.stays_12v


def test_24_v_leds_are_dark_and_wide_range_ones_are_not_behind_a_12_v_car():
    """An LED lamp made for 16 V and more counts as dark at 13.5 V; one for 10 to 30 V burns."""
    loaded = load(rig(lamps=["tail led-tail-12v"]))
    dark, bright = (way_result(loaded, WAY[way]).behind_12v[0] for way in ("24v-lamps", "wide-range"))
    assert dark.share == 0.0
    assert bright.share == 1.0


def test_24_v_on_a_12_v_plug_is_an_error_and_on_a_24_v_one_is_none(braked):
    """The check of the rewritten rig finds it; the recommendation says that another connector would clear it."""
    _, made = braked
    for way in (way for way in made.ways if way.id in ("24v-lamps", "wide-range")):
        assert way.rules("error") == (("connector-voltage", 1),)
    assert any("another connector would clear it" in reason for reason in made.recommendation.reasons)
    text = rig("iso-12098", "iso-12098", channels=["tail_left > tail_left"], lamps=["tail_left"])
    assert way_result(load(text), WAY["24v-lamps"]).count("error") == 0


def test_a_trailer_that_has_24_v_lamps_keeps_its_voltage_only_with_them():
    """For a 24 V trailer it is the 12 V ways that change it."""
    loaded = load(straight("iso-12098", "iso-12098", ["tail_left"]))
    assert way_result(loaded, WAY["24v-lamps"]).keeps_voltage
    assert way_result(loaded, WAY["24v-lamps"]).trailer_words.startswith("Nothing on it changes")
    changed = way_result(loaded, WAY["step-down"])
    assert not changed.keeps_voltage
    assert changed.trailer_words.startswith("Becomes a 12 V trailer")


def test_a_resistor_shows_what_is_wrong_with_it(braked):
    """Three lamps share 13.5 V; the last one left gets far more, and the check warns of the single fault."""
    way = next(way for way in braked[1].ways if way.id == "resistors")
    (row,) = way.resistors
    assert row.lamps == 3
    assert row.together_v == pytest.approx(13.5, abs=0.3)
    assert row.alone_v > 20
    assert row.heat_w > 30
    assert "fault-over-voltage" in dict(way.rules("warning"))


@pytest.mark.parametrize(
    ("watches", "words", "asked"),
    [
        (None, "A flasher or a lamp monitor that waits for that sees a lamp out", True),
        (True, "This vehicle watches its lamps and will report one that is out", False),
        (False, "A flasher that waits for that sees a lamp out", False),
    ],
)
def test_what_watches_the_lamps_is_said(watches, words, asked):
    """Relay coils take far less than a bulb from the turn circuits: a note tells what that does, a question asks."""
    vehicle = {} if watches is None else {"bulb_monitor": watches}
    done = compare(load(rig(channels=["stop_turn_left > stop_turn_left"], lamps=["stop_turn_left"], vehicle=vehicle)))
    assert words in " ".join(done.ways[0].notes)
    assert any("bulb_monitor" in question for question in done.questions) == asked


def test_one_trailer_alone():
    """``--trailer`` compares one trailer as if the other were not there; an unknown name tells the nearest."""
    both = [trailer("sae-j2863", ["tail"], name="boat"), trailer("sae-j1239-4", ["tail p21w-12v"], name="light")]
    loaded = load(rig(trailers=both))
    assert compare(loaded, "Light").trailers == ("light",)
    with pytest.raises(InputError, match="did you mean 'boat'"):
        compare(loaded, "boot")


def test_a_12_v_vehicle_has_nothing_to_convert():
    """Bad input, in words."""
    with pytest.raises(InputError, match="there is nothing to convert"):
        compare(load(rig(vehicle={"battery": {"nominal": "12 V"}})))


# --- recommendation ----------------------------------------------------------------------------------------------


def made(way, *, errors=0, warnings=0, light=0.9, heat=50.0, parts=20, **more):
    """A result made up for the recommendation."""
    findings = tuple(
        Finding(rule=f"rule-{n}", severity=s, where="", message="", advice="", source="")
        for s, count in (("error", errors), ("warning", warnings))
        for n in range(count)
    )
    lamp = LampLight(lamp="-E1", trailer="t", volts_v=12.0, share=light, state="")
    return WayResult(
        id=way, title=way, short=way, findings=findings, lowest=lamp, heat_w=heat, parts={"fuses": parts}, **more
    )


def test_errors_come_before_everything():
    """A dim, hot way without error beats a bright, cool one with an error."""
    found = recommend([made("bright", errors=1, light=1.0, heat=5), made("dim", light=0.3, heat=200)])
    assert found.ways == ("dim",)
    assert found.reasons[0] == "Errors: 0; worse: bright 1."


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        ({}, {"keeps_voltage": False, "light": 1.0}),
        ({}, {"imbalance_ah_per_h": 5.0, "tap_a": 5.0, "light": 1.0}),
        ({"light": 0.9, "warnings": 3}, {"light": 0.7}),
        ({"heat": 90.0}, {"warnings": 1, "heat": 10.0}),
        ({"heat": 50.0, "parts": 30}, {"heat": 60.0, "parts": 10}),
        ({"heat": 54.0, "parts": 10}, {"heat": 50.0, "parts": 11}),
    ],
)
def test_each_step_decides_before_the_next(better, worse):
    """Voltage, imbalance, light, warnings, heat, parts, in this order."""
    assert recommend([made("worse", **worse), made("better", **better)]).ways == ("better",)


def test_an_imbalance_the_equaliser_nearly_takes_is_none():
    """Five per cent of the tap's current is not held against a way."""
    assert recommend([made("a", imbalance_ah_per_h=0.2, tap_a=5.0), made("b")]).ways == ("a", "b")


def test_ties_and_close_calls_are_said():
    """Equal ways are all named, with their numbers; one that lost by little is a close call."""
    tie = recommend([made("a"), made("b")])
    assert tie.ways == ("a", "b")
    assert "(equal on everything computed)" in tie.words
    level = "light of the worst lamp 90%, heat 50 W, parts 20"
    assert tie.reasons[-1] == f"Equal: a: {level}; b: {level}."
    close = recommend([made("a", light=0.95), made("b", light=0.80), made("c", light=0.30)])
    assert close.ways == ("a",)
    assert close.close_calls == ("b: light of the worst lamp 80% against 95%",)


def test_nothing_is_recommended_with_errors_or_when_nothing_fits():
    """The fewest errors are named, not recommended; errors of every way are the rig's own."""
    found = recommend([made("a", errors=1), made("b", errors=2)])
    assert found.ways == ()
    assert "The fewest: a (1 error)" in found.words
    assert any(reason.startswith("In every way: rule-0.") for reason in found.reasons)
    none = recommend([replace(made("a"), fit="no", why_not=("no pair",))])
    assert none.ways == ()
    assert none.reasons == ("a: no pair",)


# --- what is written ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [80, 100])
def test_the_terminal_shows_every_way_in_its_width(braked, width):
    """No line is wider than the terminal; every way stands in the table and in full."""
    text = comparison_text(braked[1], width)
    assert max(len(line) for line in text.splitlines()) <= width
    for way in braked[1].ways:
        assert way.short in text
        assert way.title.upper() in " ".join(text.split())
    assert text.splitlines()[2].startswith(("RECOMMENDED: ", "NONE RECOMMENDED: "))


def test_the_demo_fits_40_lines():
    """What is recommended, the ways side by side, why, what to ask: each way in full only where it is asked for."""
    demo = Path(__file__).parents[2] / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"
    assert len(comparison_text(compare(steps.load(demo)), full=False).splitlines()) <= 40


def test_large_numbers_keep_the_table_in_its_width(braked):
    """Hundreds of amps from both sides and five digits of heat still fit beside the longest name."""
    large = [replace(way, from_24v_a=999.94, tap_a=402.9, heat_w=12_345.0) for way in braked[1].ways]
    lines = comparison_text(replace(braked[1], ways=tuple(large)), full=False).splitlines()
    assert max(len(line) for line in lines) <= 80
    shown = [line for line in lines if re.search(r"12345 +1000 +403 ", line)]
    assert len(shown) == sum(way.fit != "no" for way in large)


def test_a_way_that_does_not_fit_is_still_listed():
    """In the table, in full with the reason, and on the sheet."""
    loaded = load(rig("iso-12098", channels=XOR[1:2], lamps=["stop_turn_left"]))
    done = compare(loaded)
    (row,) = [line for line in comparison_text(done).splitlines() if line.strip().startswith("Series resistors")][:1]
    assert row.split()[2:] == ["–"] * 8
    told = " ".join(comparison_text(done).split())
    assert ("not here" in told, "does logic over several circuits" in told) == (True, True)
    assert words_of(comparison_scene(loaded, done)).count("not on this rig") == 4 * 8


def test_json_and_table_hold_the_same_numbers(braked):
    """One row a way; errors, heat, current and parts agree with the JSON to the digits printed."""
    _, done = braked
    data = json.loads(json_text(comparison_data(done)))
    (table,) = [block for block in ways_paper(done).blocks if isinstance(block, Table)]
    assert [way["id"] for way in data["ways"]] == [way.id for way in WAYS]
    for row, way in zip(table.rows, data["ways"], strict=True):
        errors, warnings, _, heat, amps, *_ = (cell.text for cell in row.cells[1:])
        assert float(heat) == pytest.approx(way["heat_w"], abs=0.51)
        assert float(amps) == pytest.approx(way["from_24v_a"], abs=0.051)
        assert int(errors) == way["errors"] == sum(f["severity"] == "error" for f in way["findings"])
        assert int(warnings) == way["warnings"]
        assert row.cells[0].bold == (way["id"] in data["recommendation"]["ways"])


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("most", [0.5, 0.9, 0.97, 1.0, 1.02, 1.4])
def test_the_sheet_is_sound(braked, paper, most):
    """Nothing overlaps or sticks out, nothing is too small, no line runs through a word, wherever the bars end."""
    loaded, done = braked
    ways = tuple(replace(w, highest=replace(w.highest, share=most), heat_w=w.heat_w * most) for w in done.ways)
    scene = comparison_scene(loaded, replace(done, ways=ways), paper)
    assert_sheet_is_sound(scene)
    assert crossed_by_lines(scene) == []


def test_a_bar_is_as_long_as_its_number(braked):
    """The heat bars of the sheet are to each other as the watts are."""
    from wiregen.draw.scene import Rect, groups

    loaded, done = braked
    panel = next(g for g in groups(comparison_scene(loaded, done).children) if g.title == "Heat in box and wires, W")
    lengths = [item.width for bar in panel.children if hasattr(bar, "children") for item in bar.children
               if isinstance(item, Rect)]  # fmt: skip
    heat = [way.heat_w for way in done.ways]
    assert [length / max(lengths) for length in lengths] == pytest.approx([watts / max(heat) for watts in heat])


def test_no_meaning_hangs_on_colour(braked):
    """Every filling of the sheet is a grey, and the recommended way is bold as well as dark."""
    from wiregen.draw.scene import Rect, Text, primitives

    loaded, done = braked
    items = list(primitives(comparison_scene(loaded, done).children))
    fills = {item.pen.fill for item in items if isinstance(item, Rect)} - {"none", "white"}
    assert all(fill.startswith("#") and fill[1:3] == fill[3:5] == fill[5:7] for fill in fills)
    bold = {item.text for item in items if isinstance(item, Text) and item.weight == "bold"}
    chosen = [way for way in done.ways if way.id in done.recommendation.ways]
    assert chosen
    for way in chosen:
        assert way.short + (" *" if way.is_present else "") in bold


def test_the_command_writes_what_it_is_asked_for(tmp_path):
    """Status 0 for a comparison; 2 for an ending that says nothing, before anything is computed."""
    path = tmp_path / "rig.toml"
    path.write_text(LIGHT, encoding="utf-8")
    run = CliRunner()
    out = tmp_path / "ways.svg"
    done = run.invoke(app, ["compare", str(path), "--to", str(out)])
    assert (done.exit_code, out.read_text(encoding="utf-8")[:4]) == (0, "<svg")
    bad = run.invoke(app, ["compare", str(path), "--to", "ways.doc"])
    assert bad.exit_code == 2
    assert "Allowed: .txt .md .html .htm .csv .json .pdf .svg" in bad.output
