"""Single devices in the solver: lamps, converters and relays, against closed forms and at their thresholds."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.circuits import (
    GROUND,
    assert_balanced,
    battery,
    circuit,
    coil,
    converter,
    filament,
    led,
    relay,
    resistor,
    run,
    settled,
)
from wiregen.solve.devices import Lamps, filament_constant

# --- single devices --------------------------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(volts=st.floats(1, 30), ohms=st.lists(st.floats(1e-3, 1e4), min_size=2, max_size=6))
def test_a_voltage_divider(volts, ohms):
    """Resistances in series divide the voltage in their proportion; the closed form is the reference."""
    names = ["plus", *(f"p{i}" for i in range(len(ohms) - 1)), GROUND]
    parts = [resistor(f"-R{i}", names[i], names[i + 1], ohm) for i, ohm in enumerate(ohms)]
    one = settled(circuit(battery(volts, 0.001), *parts))
    current = volts / (0.001 + sum(ohms))
    assert one.current_a("-R0")[0] == pytest.approx(current, rel=1e-6, abs=1e-8)
    assert one.current_a("-G1")[0] == pytest.approx(-current, rel=1e-6, abs=1e-8)
    for i in range(len(ohms) - 1):
        assert one.voltage_v(f"p{i}")[0] == pytest.approx(current * sum(ohms[i + 1 :]), rel=1e-6, abs=1e-8)


@settings(max_examples=60, deadline=None)
@given(watts=st.floats(0.2, 20), ohm=st.floats(0.01, 2))
def test_an_led_lamp_takes_constant_power(watts, ohm):
    """Above its cut-off an LED lamp's voltage solves V² - EV + PR = 0 (upper root), which is typed here.

    The lamp's bleed of 100 kohm is folded into the source by Thevenin's rule.
    """
    supply_v, bleed_ohm = 13.5, 100_000
    source_ohm = ohm + 1e-4
    seen_v, seen_ohm = supply_v * bleed_ohm / (bleed_ohm + source_ohm), 1 / (1 / source_ohm + 1 / bleed_ohm)
    inside = seen_v**2 / 4 - watts * seen_ohm
    one = settled(circuit(battery(supply_v), resistor("-R1", "plus", "lamp", ohm), led("-E1", "lamp", watts=watts)))
    if inside > 0 and (root := seen_v / 2 + math.sqrt(inside)) > 7.5:
        assert one.voltage_v("lamp")[0] == pytest.approx(root, abs=1e-7)
    else:
        assert one.voltage_v("lamp")[0] < 7.6


@pytest.mark.parametrize(("volts", "share"), [(6.2, 0.0), (6.3, 0.0), (6.65, 0.5), (7.0, 1.0), (14.0, 0.5)])
def test_an_led_lamp_comes_in_below_its_cut_off(volts, share):
    """Dark below 90 % of the cut-off, a straight line up to it, constant power above: 7 V and 6 W here, bleed apart."""
    lamps = Lamps.of([led("-E1", "plus")], {"plus": 1, GROUND: 0})
    current, _ = lamps.current_and_slope(np.array([[volts]]))
    assert current[0, 0] - volts / 100_000 == pytest.approx(share * 6 / 7, abs=1e-12)


@settings(max_examples=100, deadline=None)
@given(volts=st.floats(-40, 40), kind=st.sampled_from(["filament", "led"]))
def test_slopes_are_those_of_the_currents(volts, kind):
    """The slope that Newton uses is the derivative of the current (central difference), away from the LED's corners."""
    part = filament("-E1", "plus") if kind == "filament" else led("-E1", "plus")
    lamps = Lamps.of([part], {"plus": 1, GROUND: 0})
    h = 1e-6
    if kind == "led" and min(abs(volts - 7), abs(volts - 6.3)) < 2 * h:
        return
    (low, high), _ = (lamps.current_and_slope(np.array([[volts - h], [volts + h]]))[0][:, 0], None)
    _, slope = lamps.current_and_slope(np.array([[volts]]))
    assert (high - low) / (2 * h) == pytest.approx(slope[0, 0], rel=1e-4, abs=1e-6)


def test_a_cold_filament_is_its_cold_resistance():
    """Near zero volts a filament is a plain resistance: the cold share of its hot one; the other way round too."""
    lamps = Lamps.of([filament("-E1", "plus", amps=1.0, cold_ratio=0.1)], {"plus": 1, GROUND: 0})
    current, slope = lamps.current_and_slope(np.array([[1e-6], [-1e-6]]))
    assert 1 / slope[0, 0] == pytest.approx(1.35, rel=1e-6)
    assert current[1, 0] == -current[0, 0]
    assert (filament_constant(0.1) / (1 + filament_constant(0.1))) ** 0.225 == pytest.approx(0.1, rel=1e-9)


def test_count_is_that_many_lamps_in_parallel():
    """Three lamps written as one entry with a count take what three entries take."""
    source = [battery(13.5), resistor("-R1", "plus", "lamp", 0.4)]
    together = settled(circuit(*source, filament("-E1", "lamp", count=3)))
    apart = settled(circuit(*source, *(filament(f"-E{i}", "lamp") for i in (1, 2, 3))))
    assert together.voltage_v("lamp")[0] == pytest.approx(apart.voltage_v("lamp")[0], abs=1e-9)
    assert together.current_a("-E1")[0] == pytest.approx(3 * apart.current_a("-E1")[0], abs=1e-9)


@pytest.mark.parametrize(("ohm", "watts"), [(0.5, 6), (5, 6), (500, 6), (1e5, 6), (1e6, 60), (1e6, 1e4), (0.2, 1e4)])
def test_an_led_lamp_behind_an_absurd_resistance(ohm, watts):
    """Where the supply cannot give the power, the lamp rests balanced on its slope, or words say that it does not."""
    one = run(circuit(battery(13.5), resistor("-R1", "plus", "lamp", ohm), led("-E1", "lamp", watts=watts)))
    if one.trouble == ("",):
        assert_balanced(one)
        assert one.voltage_v("lamp")[0] <= 13.5
    else:
        assert "no operating point found" in one.trouble[0]


# --- converters ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("volts", "runs"), [(17.9, False), (18.1, True)])
def test_a_converter_below_its_minimum_input_is_off(volts, runs):
    """Below its minimum input a converter takes and gives nothing; just above it, it runs."""
    parts = (converter("-T1", "plus", "out"), resistor("-R1", "out", GROUND, 10.0))
    one = settled(circuit(battery(volts), *parts))
    assert (one.input_a["-T1"][0] > 0) == runs
    assert (one.current_a("-T1")[0] > 0) == runs
    assert one.voltage_v("out")[0] == pytest.approx(13.6 * 10 / (10 + 0.01) if runs else 0.0, abs=1e-3)


def test_a_converter_that_cannot_hold_its_input_says_so():
    """A converter that pulls its own input below the minimum and comes back for ever: words, no numbers."""
    parts = (
        resistor("-R1", "plus", "in", 4.0),
        converter("-T1", "in", "out", efficiency=0.9),
        resistor("-R2", "out", GROUND, 5.0),
    )
    one = run(circuit(battery(24), *parts))
    assert one.trouble[0].startswith(("never comes to rest: -T1", "no operating point found"))
    assert one.trusted().states == ()
    assert one.troubles() == ((one.trouble[0], "all off"),)


@pytest.mark.parametrize(("volts", "set_v"), [(28.0, 13.6), (11.0, 8.8)])
def test_a_converter_follows_its_input_down(volts, set_v):
    """The output is the lower of the set voltage and its share of the input, behind its output resistance."""
    parts = (converter("-T1", "plus", "out", ratio=0.8, minimum=9), resistor("-R1", "out", GROUND, 2.0))
    one = settled(circuit(battery(volts), *parts))
    out_v = set_v * 2.0 / 2.01
    # Within a millivolt or two: the battery's tenth of a milliohm and the bleed are not in the closed form.
    assert one.voltage_v("out")[0] == pytest.approx(out_v, abs=2e-3)
    drawn = out_v * out_v / 2.0 / (0.88 * volts) + 0.02
    assert one.input_a["-T1"][0] == pytest.approx(drawn, rel=1e-3)


def test_a_converter_takes_nothing_back():
    """A battery on the output that stands higher than the converter pushes no current into it."""
    parts = (converter("-T1", "plus", "out"), battery(14.4, 0.01, ref="-G2", a="out"), filament("-E1", "out"))
    one = settled(circuit(battery(28), *parts))
    assert one.current_a("-T1")[0] == 0.0
    assert one.input_a["-T1"][0] == pytest.approx(0.02)
    assert one.voltage_v("out")[0] > 14.0


def test_two_converters_on_one_bus_share():
    """Of two converters on one bus the higher one carries the lamp; the lower joins in only below its own voltage."""
    parts = [
        converter("-T1", "plus", "out", output=13.6, ohm=0.1),
        converter("-T2", "plus", "out", output=13.0, ohm=0.1),
    ]
    light = settled(circuit(battery(28), *parts, resistor("-R1", "out", GROUND, 10.0)))
    assert light.current_a("-T2")[0] == 0.0
    heavy = settled(circuit(battery(28), *parts, resistor("-R1", "out", GROUND, 0.5)))
    out_v = (13.6 / 0.1 + 13.0 / 0.1) / (1 / 0.1 + 1 / 0.1 + 1 / 0.5)
    assert heavy.voltage_v("out")[0] == pytest.approx(out_v, abs=1e-3)
    assert heavy.current_a("-T2")[0] > 0


# --- relays ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("volts", "pulls"), [(15.9, False), (16.1, True)])
def test_a_coil_pulls_in_at_its_pick_up_voltage(volts, pulls):
    """Just below the pick-up voltage the contact stays open, just above it closes."""
    parts = (coil("-K1", "plus"), relay("-K1:30-87", "plus", "lamp", "k", {"k": "-K1"}), filament("-E1", "lamp"))
    one = settled(circuit(battery(volts), *parts))
    assert one.pulled == (frozenset({"-K1"}) if pulls else frozenset(),)
    assert (one.current_a("-E1")[0] > 1.0) == pulls


@pytest.mark.parametrize(("drop_out", "holds"), [(11.9, True), (12.1, False)])
def test_a_coil_holds_down_to_its_drop_out_voltage(drop_out, holds):
    """Once in, a coil whose own load pulls it from 24 to 12 V holds above its drop-out voltage, else it chatters.

    Source 24 V behind 1 ohm; the coil of 1 Mohm sees 24 V; its contact adds a load of 1 ohm: 12 V.
    """
    parts = (
        coil("-K1", "sagging", ohm=1e6, pick_up=16, drop_out=drop_out),
        relay("-K1:30-87", "sagging", "load", "k", {"k": "-K1"}, ohm=0.5),
        resistor("-R1", "load", GROUND, 0.5),
    )
    one = run(circuit(battery(24, 1.0, a="sagging"), *parts))
    if holds:
        assert one.trouble == ("",)
        assert one.pulled == (frozenset({"-K1"}),)
        assert one.voltage_v("sagging")[0] == pytest.approx(12.0, abs=1e-4)
    else:
        assert one.trouble == ("never comes to rest: -K1 in, then -K1 out, and so on",)


def test_relays_in_a_row_settle_one_after_another():
    """Five relays, each fed by the contact of the one before, all pull in; the last one's lamp burns."""
    parts: list = [coil("-K1", "plus")]
    for i in range(1, 5):
        parts.append(relay(f"-K{i}:30-87", "plus", f"c{i}", "k", {"k": f"-K{i}"}))
        parts.append(coil(f"-K{i + 1}", f"c{i}"))
    parts.append(relay("-K5:30-87", "plus", "lamp", "k", {"k": "-K5"}))
    one = settled(circuit(battery(24), *parts, filament("-E1", "lamp", volts=28, amps=1)))
    assert one.pulled == (frozenset(f"-K{i}" for i in range(1, 6)),)
    assert one.current_a("-E1")[0] > 0.5
