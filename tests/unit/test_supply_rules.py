"""Rules on converters and the centre tap, from both sides of each limit; the worked examples they rest on."""

from __future__ import annotations

import numpy as np
import pytest

from tests.findings import above, at_nominal, below, carried, findings, one, place, row_of, solved, turns
from tests.rigs import BOX_FEED, RUNS, SUPPLY, rig
from wiregen.model.circuit import Converter, Equaliser
from wiregen.model.study import Study

BULBS = {"function": "tail", "type": "p21w-12v", "count": 2}


def converted(lamps: list[object] | None = None, **more: object) -> str:
    """A tail channel behind a converter; ``more`` goes into the supply, ``ambient`` into the adapter."""
    ambient = {"ambient": more.pop("ambient")} if "ambient" in more else {}
    supply = {**SUPPLY, **more}
    # The builder of rigs adds the feed itself where the supply is the usual one.
    taps = [] if supply == SUPPLY else [BOX_FEED]
    return rig(lamps=lamps or [BULBS], supply=supply, taps=taps, adapter=ambient)


def input_v(one: Study) -> np.ndarray:
    (converter,) = one.circuit.of(Converter)
    return one.voltage_v(converter.a) - one.voltage_v(converter.common)


# --- continuous output, hot ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ambient_c", "share"), [(40, 1.0), (50, 0.75), (60, 0.5)])
def test_a_converter_gives_less_in_warm_air(ambient_c, share):
    """Facts 8.1 (memory): 2.5 % of the output a kelvin above 40 °C. The limit is what is left, at hot corners."""
    amps = carried(converted(), "-T1")

    def text(continuous_a: float) -> str:
        return converted(continuous=f"{continuous_a:.6f} A", ambient=f"{ambient_c} °C", current_limit="90 A")

    found = one(text(amps / share * 0.99), "supply-continuous")
    above(found, "A")
    assert found.limit == pytest.approx(amps * 0.99, rel=1e-5)
    assert ("hot" in found.state, found.source) == (share < 1, "M-CONVERTER" if share < 1 else "rig file")
    assert findings(text(amps / share * 1.01), "supply-continuous") == []


def test_a_converter_s_own_derating_is_taken():
    """Derating of the data sheet takes the place of the usual one: 1 % a kelvin from 30 °C leaves 80 % at 50 °C."""
    amps = carried(converted(), "-T1")
    own = {"derate_from": "30 °C", "derating": "1 %", "current_limit": "90 A"}
    found = one(converted(continuous=f"{amps / 0.8 * 0.99:.6f} A", **own), "supply-continuous")
    assert f"(80% of {found.limit / 0.8:.3g} A, at 50 °C)" in found.message
    assert findings(converted(continuous=f"{amps / 0.8 * 1.01:.6f} A", **own), "supply-continuous") == []


# --- current limit ---------------------------------------------------------------------------------------------------


def test_a_converter_at_its_current_limit():
    """A limit a little below what the lamps take is an error with the voltage that is left; a little above is none."""
    amps = carried(converted(), "-T1")
    text = converted(continuous="3 A", current_limit=f"{amps * 0.9:.6f} A")
    found = one(text, "supply-limit")
    assert (found.severity, found.unit) == ("error", "A")
    assert found.value == pytest.approx(amps * 0.9)
    assert found.limit == pytest.approx(amps * 0.9)
    # Less current, less voltage: by the handbook law V falls with I^(1/0.55), S35.
    left_v = float(found.message.split("falls to ")[1].split(" V")[0])
    assert left_v == pytest.approx(13.6 * 0.9 ** (1 / 0.55), rel=0.02)
    place(found, text, "[adapter.supply]")
    assert findings(converted(continuous="3 A", current_limit=f"{amps * 1.01:.6f} A"), "supply-limit") == []


def test_without_a_stated_limit_one_and_a_half_times_the_output_is_taken():
    """S56: current limit 150 %. A converter of 60 % of the load runs at its limit, one of 70 % does not."""
    amps = carried(converted(), "-T1")
    assert len(findings(converted(continuous=f"{amps * 0.6} A"), "supply-limit")) == 1
    assert findings(converted(continuous=f"{amps * 0.7} A"), "supply-limit") == []


def test_a_peak_beyond_one_and_a_half_times_the_output_is_the_limit():
    """A peak of the data sheet lifts the assumed limit: for a short time only, so the continuous output still holds."""
    amps = carried(converted(), "-T1")
    short = {"continuous": f"{amps * 0.6:.6f} A"}
    assert len(findings(converted(**short, peak=f"{amps * 0.95:.6f} A"), "supply-limit")) == 1
    lifted = converted(**short, peak=f"{amps * 1.01:.6f} A")
    assert findings(lifted, "supply-limit") == []
    assert one(lifted, "supply-continuous").severity == "error"


# --- inrush ----------------------------------------------------------------------------------------------------------


def test_cold_lamps_against_the_current_limit():
    """Ten times the filament current (S40) above the limit is a notice; below it, or with LED lamps, there is none."""
    feed = at_nominal(converted())
    amps = 10 * float(abs(feed.current_a("-E1")).max())
    found = one(converted(continuous="3 A", current_limit=f"{amps * 0.98:.6f} A"), "supply-inrush")
    above(found, "A")
    assert (found.severity, found.source) == ("notice", "S40")
    assert found.value == pytest.approx(amps, rel=2e-3)
    assert findings(converted(continuous="3 A", current_limit=f"{amps * 1.02:.6f} A"), "supply-inrush") == []
    leds = [{"function": "tail", "type": "led-tail-12v", "count": 2}]
    assert findings(converted(leds, continuous="1 A", current_limit="1 A"), "supply-inrush") == []


# --- input -----------------------------------------------------------------------------------------------------------


def test_a_converter_below_its_minimum_input():
    """With the battery low the input is the worst: a minimum just above it is an error, just below it is none."""

    def text(minimum_v: float) -> str:
        return converted(minimum_input=f"{minimum_v:.6f} V")

    good, bad = turns(lambda volts: bool(findings(text(volts), "supply-input")), 20.0, 23.0, 1e-3)
    found = one(text(bad), "supply-input")
    below(found, "V")
    assert (found.severity, found.limit) == ("error", pytest.approx(bad))
    assert "battery low" in found.state
    assert found.value is not None
    assert 21.5 < found.value <= 22.0
    assert min(input_v(solved(text(good)))) == pytest.approx(good, abs=0.3)
    place(found, text(bad), "[adapter.supply]")


def test_a_converter_above_its_maximum_input():
    """Charging at 28.8 V: a maximum just below is an error, just above it is none."""
    found = one(converted(maximum_input="28.7 V"), "supply-input")
    above(found, "V")
    assert found.value == pytest.approx(28.8, abs=0.05)
    assert "charging high" in found.state
    assert findings(converted(maximum_input="28.85 V"), "supply-input") == []


def test_a_converter_whose_feed_is_dead_is_another_rule_s():
    """A step-down on a lamp circuit has no input while that circuit is off; that is no finding of this rule."""
    channel = {"input": "stop", "output": "stop_turn_left", "device": "step_down", "rating": "9 A"}
    text = rig("iso-12098", channels=[channel], lamps=["stop_turn_left"], supply=None)
    assert findings(text, "supply-input") == []
    low = rig("iso-12098", channels=[channel], lamps=[], supply=None, vehicle={"battery": {"low": "17 V"}})
    assert one(low, "supply-input").state.startswith("brake; battery low")


@pytest.mark.parametrize(("battery_v", "printed_a"), [(20, 7.556), (24, 6.296), (28, 5.397)])
def test_what_a_converter_draws(battery_v, printed_a):
    """CV-2 (derived in the facts): 13.6 V, 10 A, efficiency 0.90 takes 7.556, 6.296, 5.397 A at 20, 24, 28 V."""
    lamp = {"function": "tail", "technology": "filament", "voltage": "13.6 V", "power": "136 W"}
    supply = {**SUPPLY, "efficiency": "90 %", "idle": "0.001 mA", "output_resistance": "0.001 mohm"}
    thick = [{**run, "length": "0.1 m", "size": "50 mm²"} for run in RUNS]
    vehicle = {"battery": {"running": f"{battery_v} V", "resistance": "0.001 mohm"}}
    tap = {key: value for key, value in BOX_FEED.items() if key != "fuse"}
    text = rig(lamps=[lamp], supply=supply, taps=[tap], runs=thick, vehicle=vehicle)
    made = at_nominal(text)
    lit = row_of(made, "service lights")
    drawn = float(made.input_a["-T1"][lit])
    out_v = float(made.voltage_v("-A1:12V")[lit] - made.voltage_v("-A1:0V")[lit])
    out_a = float(made.current_a("-T1")[lit])
    # The law itself to six digits, and the printed figures where the wires lose next to nothing.
    assert drawn == pytest.approx(out_v * out_a / (0.9 * float(input_v(made)[lit])), rel=1e-6)
    assert drawn == pytest.approx(printed_a, rel=0.02)
    # Heat: 15.1 W.
    assert out_v * out_a * (1 / 0.9 - 1) == pytest.approx(15.1, rel=0.02)


# --- centre tap ------------------------------------------------------------------------------------------------------


def tapped(**more: object) -> str:
    supply = {"kind": "centre_tap", "fuse": "20 A", **more}
    lamp = {"function": "tail", "technology": "filament", "voltage": "14 V", "power": "140 W"}
    return rig(lamps=[lamp], supply=supply)


def test_a_tap_without_an_equaliser():
    """What the tap takes is lost by the lower battery alone, in Ah an hour: a warning at the supply's line or run."""
    found = one(tapped(), "centre-tap")
    made = at_nominal(tapped())
    lit = row_of(made, "service lights")
    assert (found.severity, found.source, found.limit, found.state) == ("warning", "S55", 0.0, "service lights")
    assert found.value == pytest.approx(made.imbalance_a()[lit], rel=1e-3)
    assert f"loses {found.value:.3g} Ah an hour more than the upper" in found.message
    assert "no equaliser makes it good" in found.message


def test_an_equaliser_on_both_sides_of_its_rating():
    """S55: the rating must be at least the current of the tap; then nothing is lost on one side."""
    amps = one(tapped(), "centre-tap").value
    assert amps is not None
    found = one(tapped(equaliser=f"{amps * 0.97:.6f} A"), "centre-tap")
    above(found, "A")
    assert found.limit == pytest.approx(amps * 0.97)
    assert "the equaliser makes good" in found.message
    enough = tapped(equaliser=f"{amps * 1.03:.6f} A")
    assert findings(enough, "centre-tap") == []
    # What is left comes from the equaliser's own output resistance, in which the lower battery lies in parallel.
    made = at_nominal(enough)
    assert made.imbalance_a().max() < amps


def test_what_an_equaliser_takes_from_the_pair():
    """Facts 8.3: a tap of 10 A at an efficiency of 0.9 takes 5.6 A from the 24 V pair, I / (2 × efficiency)."""
    made = at_nominal(tapped(equaliser="30 A"))
    (equaliser,) = made.circuit.of(Equaliser)
    lit = row_of(made, "service lights")
    gives = float(made.current_a(equaliser.ref)[lit])
    takes = float(made.input_a[equaliser.ref][lit]) - equaliser.idle_a
    across_v = float(made.voltage_v(equaliser.a)[lit] - made.voltage_v(equaliser.common)[lit])
    centre_v = float(made.voltage_v(equaliser.b)[lit] - made.voltage_v(equaliser.common)[lit])
    assert equaliser.efficiency == 0.9
    assert takes == pytest.approx(gives * centre_v / (0.9 * across_v), rel=1e-9)
    assert takes / gives == pytest.approx(5.6 / 10, rel=0.02)


def test_a_converter_has_no_imbalance():
    """A step-down converter takes from both batteries alike."""
    assert findings(converted(), "centre-tap") == []
    assert at_nominal(converted()).imbalance_a().max() == 0.0
