"""Misfits in the keys of batteries, flasher, converters, devices and measured lamps, each at its place."""

import re

import pytest

from tests.problems import marked, only
from tests.rigs import SUPPLY, load, rig

POINTS = [["9 V", "0.2 A"], ["12 V", "0.25 A"]]
BOX = {"name": "box_feed", "live": "always", "source": "battery", "fuse": "30 A"}
TAIL = {"input": "tail", "output": "tail"}
CHARGE = [{"input": "charge", "output": "charge", "device": "step_down"}]


def charged(plug: str = "sae-j2863", **battery: str) -> str:
    return rig("iso-12098", plug, channels=CHARGE, lamps=[], supply=None, battery=battery)


def supplied(**keys: str) -> str:
    return rig(supply={**SUPPLY, **keys}, taps=[BOX])


#: name -> rig, what the first and the second mark lie under, the message or its beginning
TWO_PLACES = {
    "low above running": (
        rig(vehicle={"battery": {"low": "28 V", "running": "27 V"}}),
        '"27 V"',
        '"28 V"',
        "running must not be less than low",
    ),
    "charging below running": (
        rig(vehicle={"battery": {"running": "28 V", "charging": "27 V"}}),
        '"27 V"',
        '"28 V"',
        "charging must not be less than running",
    ),
    "charging below low": (
        rig(vehicle={"battery": {"low": "24 V", "charging": "23 V"}}),
        '"23 V"',
        '"24 V"',
        "charging must not be less than low",
    ),
    "flasher's loads, one in watts": (
        rig(vehicle={"flasher": {"kind": "thermal", "lowest_load": "84 W", "highest_load": "2.9 A"}}),
        '"2.9 A"',
        '"84 W"',
        "highest_load must not be less than lowest_load",
    ),
    "peak below continuous": (
        supplied(peak="30 A"),
        '"30 A"',
        '"40 A"',
        "peak must not be less than continuous",
    ),
    "limit below peak": (
        supplied(peak="60 A", current_limit="50 A"),
        '"50 A"',
        '"60 A"',
        "current_limit must not be less than peak",
    ),
    "maximum below minimum input": (
        supplied(minimum_input="20 V", maximum_input="18 V"),
        '"18 V"',
        '"20 V"',
        "maximum_input must not be less than minimum_input",
    ),
    "limit of a step-down below its rating": (
        rig(channels=[{**TAIL, "device": "step_down", "rating": "5 A", "current_limit": "4 A"}]),
        '"4 A"',
        '"5 A"',
        "current_limit must not be less than rating",
    ),
    "points and power": (
        rig(lamps=[{"function": "tail", "points": POINTS, "power": "5 W"}]),
        '"5 W"',
        '[["9 V", "0.2 A"], ["12 V", "0.25 A"]]',
        "a lamp has points or power, not both",
    ),
    "points and technology": (
        rig(lamps=[{"function": "tail", "points": POINTS, "technology": "led"}]),
        '"led"',
        '[["9 V", "0.2 A"], ["12 V", "0.25 A"]]',
        "a lamp has points or technology, not both",
    ),
    "trailer battery without a contact": (
        rig(plug="sae-j1239-4", battery={"capacity": "7 Ah"}),
        "[trailer.battery]",
        '"sae-j1239-4"',
        "4-way flat (SAE J1239) has no contact that charges a battery",
    ),
    "24 V battery on a 12 V trailer": (
        charged(voltage="25 V"),
        '"25 V"',
        '"12 V"',
        "a battery of 25 V on a 12 V trailer",
    ),
}

#: name -> rig, what the mark lies under, the message or its beginning
ONE_PLACE = {
    "logic into a diode": (
        rig(channels=[{**TAIL, "input": "not tail", "device": "diode"}]),
        '"not tail"',
        "a diode passes one circuit on",
    ),
    "logic into a resistor": (
        rig(channels=[{**TAIL, "input": "not tail", "device": "resistor", "resistance": "5 ohm"}]),
        '"not tail"',
        "a resistor passes one circuit on",
    ),
    "a resistor without a resistance": (
        rig(channels=[{**TAIL, "device": "resistor"}]),
        "[[adapter.channel]]",
        "required key 'resistance' is missing; wanted here: input, output, device, resistance",
    ),
    "a resistance for a relay": (
        rig(channels=[{**TAIL, "resistance": "5 ohm"}]),
        "resistance",
        "resistance does nothing for relay; it is for resistor",
    ),
    "a drop for a wire": (
        rig(channels=[{**TAIL, "device": "wire", "drop": "0.7 V"}]),
        "drop",
        "drop does nothing for wire; it is for diode",
    ),
    "suppression of a solid-state switch": (
        rig(channels=[{**TAIL, "device": "solid_state", "suppression": "diode"}]),
        "suppression",
        "suppression does nothing for solid_state; it is for relay",
    ),
    "suppression resistance of a diode": (
        rig(channels=[{**TAIL, "suppression": "diode", "suppression_resistance": "680 ohm"}]),
        '"680 ohm"',
        'it says nothing without suppression = "resistor"',
    ),
    "a peak for a relay": (
        rig(channels=[{**TAIL, "peak": "30 A"}]),
        "peak",
        "peak does nothing for relay; it is for step_down, brake_controller",
    ),
    "foldback of nothing": (
        rig(channels=[{**TAIL, "device": "step_down", "foldback": "30 %"}]),
        '"30 %"',
        "a share of what? Give current_limit too",
    ),
    "an equaliser without a centre tap": (
        supplied(equaliser="10 A"),
        "equaliser",
        "equaliser does nothing for converter; it is for centre_tap",
    ),
    "efficiency without an equaliser": (
        rig(supply={"kind": "centre_tap", "efficiency": "90 %"}),
        "efficiency",
        "a centre tap without an equaliser has no efficiency",
    ),
    "one point": (
        rig(lamps=[{"function": "tail", "points": POINTS[:1]}]),
        '[["9 V", "0.2 A"]]',
        "at least 2 entries are wanted, the list has 1",
    ),
    "points that fall": (
        rig(lamps=[{"function": "tail", "points": [*POINTS, ["11 V", "0.3 A"]]}]),
        '["11 V", "0.3 A"]',
        "the voltages of points must rise: 11 V stands behind 12 V",
    ),
    "two points at one voltage": (
        rig(lamps=[{"function": "tail", "points": [["9 V", "0.2 A"], ["9 V", "0.3 A"]]}]),
        '["9 V", "0.3 A"]',
        "the voltages of points must rise: 9 V stands behind 9 V",
    ),
    "points without a current": (
        rig(lamps=[{"function": "tail", "points": [["9 V", "0 A"], ["12 V", "0 mA"]]}]),
        '[["9 V", "0 A"], ["12 V", "0 mA"]]',
        "a lamp that draws less than 0.1 mA at every point is no load",
    ),
    "a lamp with nothing": (
        rig(lamps=[{"function": "tail", "technology": "led", "voltage": "12 V"}]),
        "[[trailer.lamp]]",
        "a lamp needs a type, or technology, voltage and power, or points",
    ),
    "a flasher's load in volts": (
        rig(vehicle={"flasher": {"kind": "thermal", "lowest_load": "12 V"}}),
        '"12 V"',
        'a power or a current is wanted, such as "42 W" or "3.5 A": ',
    ),
    "a flasher's load of nothing": (
        rig(vehicle={"flasher": {"kind": "thermal", "lowest_load": "0 A"}}),
        '"0 A"',
        "0 A is too small; more than nothing is wanted",
    ),
    "a trailer battery's fuse": (
        charged(fuse="500 mA"),
        '"500 mA"',
        "no fuse of 0.5 A is known here; the smallest is 1 A",
    ),
}


@pytest.mark.parametrize("name", TWO_PLACES)
def test_a_clash_shows_both_places(name):
    """Two values that cannot both hold are told once, with both places marked."""
    text, first, second, message = TWO_PLACES[name]
    problem = only(text)
    assert problem.message.startswith(message)
    assert (marked(problem), marked(problem, 1)) == (first, second)


@pytest.mark.parametrize("name", ONE_PLACE)
def test_a_misfit_shows_its_place(name):
    """A value or key that does not fit is told with its place."""
    text, where, message = ONE_PLACE[name]
    problem = only(text)
    assert problem.message.startswith(message)
    assert marked(problem) == where


def test_the_hint_to_choose_a_charge_contact():
    """A contact that may charge a battery in the trade is named with what to write; chosen so, the rig loads."""
    said = only(charged("round-6")).message
    assert "has no contact that charges a battery. Contact S may carry it: say choose = {" in said
    more = {"battery": {}, "choose": {"S": "charge"}}
    load(rig("iso-12098", "round-6", channels=CHARGE, lamps=[], supply=None, **more))


@pytest.mark.parametrize("value", ["0 ohm", "0.0000001 ohm", "-1 ohm", "2000 kohm"])
def test_absurd_resistances_are_refused(value):
    """Zero, a tenth of a microohm, a negative one and two megohms are no parts of a harness."""
    problem = only(rig(vehicle={"battery": {"resistance": value}}))
    assert problem.path == "vehicle.battery.resistance"
    assert re.search("at least 1e-06 ohm|at most 1e\\+06 ohm", problem.message)


@pytest.mark.parametrize("value", ["0 m", "0.1 mm", "900 m"])
def test_absurd_lengths_are_refused(value):
    """No conductor is shorter than a millimetre or longer than 200 m."""
    run = {"from": "adapter", "to": "trailer", "length": value}
    assert re.search("at least 0.001 m|at most 200 m", only(rig(runs=[run])).message)


@pytest.mark.parametrize("value", ["0 W", "-5 W", "20 kW"])
def test_absurd_powers_are_refused(value):
    """A lamp of 0 W is no load; one of 20 kW no lamp."""
    lamp = {"function": "tail", "technology": "led", "voltage": "12 V", "power": value}
    assert re.search("at least 0.001 W|at most 10000 W", only(rig(lamps=[lamp])).message)


def test_every_new_key_may_be_left_out():
    """A rig with none of them loads, and one with all of them too."""
    load(rig())
    everything = rig(
        "iso-12098",
        "sae-j2863",
        vehicle={
            "battery": {"low": "22 V", "running": "27 V", "charging": "28 V"},
            "flasher": {"kind": "electronic", "lowest_load": "4 W", "highest_load": "10 A"},
        },
        adapter={"ambient": "40 °C"},
        supply={
            **SUPPLY,
            **{"peak": "50 A", "current_limit": "60 A", "foldback": "50 %", "maximum_input": "36 V"},
            **{"derate_from": "50 °C", "derating": "2 %"},
        },
        taps=[BOX],
        channels=[
            {"input": "tail_left", "output": "tail", "suppression": "resistor", "suppression_resistance": "680 ohm"},
            {"input": "stop", "output": "stop_turn_left", "device": "diode", "drop": "0.5 V"},
            {"input": "stop", "output": "stop_turn_right", "device": "resistor", "resistance": "6 ohm", "power": "9 W"},
            *CHARGE,
        ],
        lamps=[{"function": "tail", "points": POINTS, "voltage": "12 V"}],
        battery={
            "voltage": "12.6 V",
            "capacity": "7 Ah",
            "resistance": "30 mohm",
            "isolation": "diode",
            "branch": "1 m",
        },
    )
    load(everything)
