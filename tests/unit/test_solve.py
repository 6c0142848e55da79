"""The solver by its physics: currents balance, power adds up, thresholds switch where they should, and it owns up."""

import math
import random
from dataclasses import replace
from pathlib import Path as FilePath

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.circuits import GROUND, battery, circuit, coil, converter, filament, led, relay, resistor, switch
from tests.rigs import load, rig, straight
from tests.unit.test_build import random_rigs
from wiregen.build.circuit import vehicle_signals
from wiregen.errors import SolveError
from wiregen.model.circuit import Battery, Circuit, Converter, Lamp, Resistive, Switch
from wiregen.model.logic import parse
from wiregen.model.state import every_controls
from wiregen.model.study import Study
from wiregen.pipeline import build, study
from wiregen.solve.devices import CONVERTER_BLEED_OHM, Lamps, filament_constant
from wiregen.solve.operating_point import solve
from wiregen.solve.states import distinct_settings

DEMOS = FilePath(__file__).parent.parent.parent / "wiregen" / "demo"
#: Currents below a nanoampere are reported as nothing, so a sum over a dozen elements may miss this much.
BALANCE_A = 2e-8


def run(made: Circuit, signals=()) -> Study:
    return solve(made, signals)


def settled(made: Circuit) -> Study:
    one = run(made)
    assert one.trouble == ("",)
    return one


def demo_studies() -> list[Study]:
    loaded = [load((DEMOS / f"{n}.toml").read_text()) for n in ("observatory-bus", "ringing-lorry", "bad-example")]
    return [one for each in loaded for one in study(each, build(each))]


def balance_a(one: Study) -> np.ndarray:
    """Sum of the currents that leave each terminal, shape (states, terminals), A."""
    index = {name: column for column, name in enumerate(one.circuit.terminals)}
    total = np.zeros(one.voltages_v.shape)
    for element in one.circuit.elements:
        current = one.current_a(element.ref)
        if not isinstance(element, Converter):
            total[:, index[element.a]] += current
            total[:, index[element.b]] -= current
            continue
        bleed = np.nan_to_num(one.voltage_v(element.b) - one.voltage_v(element.common)) / CONVERTER_BLEED_OHM
        drawn = one.input_a[element.ref]
        total[:, index[element.a]] += drawn
        total[:, index[element.b]] += bleed - current
        total[:, index[element.common]] += current - drawn - bleed
    return total


def assert_balanced(one: Study) -> None:
    good = [row for row, words in enumerate(one.trouble) if not words]
    assert np.abs(balance_a(one)[good]).max(initial=0.0) < BALANCE_A * max(1.0, np.abs(one.currents_a).max() / 50)


def power_w(one: Study) -> tuple[np.ndarray, np.ndarray]:
    """Power from the batteries' voltages, and power that turns into heat and light, in every state, W.

    A converter's loss is counted by its own rule, not as the difference of its two sides.
    """
    given_w, used_w = np.zeros(len(one.states)), np.zeros(len(one.states))
    for element in one.circuit.elements:
        current = one.current_a(element.ref)
        if isinstance(element, Battery):
            given_w -= element.voltage_v * current
            used_w += element.resistance_ohm * current**2
        elif isinstance(element, Lamp):
            used_w += np.nan_to_num(one.across_v(element)) * current
        elif isinstance(element, Converter):
            v_in = np.nan_to_num(one.voltage_v(element.a) - one.voltage_v(element.common))
            v_out = np.nan_to_num(one.voltage_v(element.b) - one.voltage_v(element.common))
            runs = one.input_a[element.ref] > 0
            used_w += v_out * current * (1 / element.efficiency - 1) + runs * element.idle_a * v_in
            used_w += v_out**2 / CONVERTER_BLEED_OHM
        else:
            assert isinstance(element, Resistive)
            used_w += element.resistance_ohm * current**2
    return given_w, used_w


@pytest.mark.parametrize("one", demo_studies(), ids=lambda one: one.circuit.trailer)
def test_currents_balance_at_every_terminal_of_the_demos(one):
    """In every state of every demo no terminal gains or loses current (Kirchhoff), and every state is trusted."""
    assert set(one.trouble) == {""}
    assert_balanced(one)


@pytest.mark.parametrize("one", demo_studies(), ids=lambda one: one.circuit.trailer)
def test_power_in_is_power_out_in_the_demos(one):
    """In every state the batteries give what wires, lamps, coils and converter losses take, to a microwatt or so."""
    given_w, used_w = power_w(one)
    assert given_w == pytest.approx(used_w, rel=1e-8, abs=1e-6)
    assert given_w.max() > 20  # the demos do burn lamps


@settings(max_examples=40, deadline=None)
@given(random_rigs())
def test_any_rig_balances_or_owns_up(text):
    """Random rigs: every state either balances in current and in power, or says in words that it cannot be trusted."""
    loaded = load(text)
    for one in study(loaded, build(loaded)):
        assert_balanced(one)
        trusted = one.trusted()
        given_w, used_w = power_w(trusted)
        assert given_w == pytest.approx(used_w, rel=1e-6, abs=1e-5)
        floating = [{name for group in groups for name in group} for groups in trusted.floating]
        for row, names in enumerate(floating):
            isnan = {n for n in one.circuit.terminals if math.isnan(trusted.voltage_v(n)[row])}
            assert isnan == names


@settings(max_examples=25, deadline=None)
@given(
    counts=st.lists(st.integers(1, 6), min_size=3, max_size=3),
    low_v=st.floats(8, 30),
    more_v=st.floats(0.01, 10),
    length_m=st.floats(0.1, 60),
)
def test_more_supply_never_dims_a_filament_lamp(counts, low_v, more_v, length_m):
    """With filament lamps only, a higher battery voltage raises the voltage at every lamp in every state."""
    lamps = [
        {"function": function, "count": count}
        for function, count in zip(("tail", "stop_turn_left", "stop_turn_right"), counts, strict=True)
    ]
    runs = [{"from": "trailer", "to": "lamps", "length": f"{length_m} m", "size": "1 mm²"}]

    def solved(volts: float) -> Study:
        vehicle = {"battery": {"running": f"{volts} V"}}
        loaded = load(straight("military-12-us", "military-12-us", lamps, runs=runs, vehicle=vehicle))
        (one,) = study(loaded, build(loaded))
        return one

    before, after = solved(low_v), solved(low_v + more_v)
    for lamp in before.circuit.of(Lamp):
        twin = after.circuit.by_ref[lamp.ref]
        assert (after.across_v(twin) - before.across_v(lamp) >= -1e-9).all()


def test_the_order_of_the_parts_does_not_matter():
    """The same circuit with its elements shuffled has the same voltage at every terminal."""
    loaded = load((DEMOS / "observatory-bus.toml").read_text())
    first = study(loaded, build(loaded))[0]
    rnd = random.Random(24)
    for _ in range(3):
        elements = list(first.circuit.elements)
        rnd.shuffle(elements)
        again = solve(replace(first.circuit, elements=tuple(elements)), vehicle_signals(loaded))
        assert [state.words for state in again.states] == [state.words for state in first.states]
        for name in first.circuit.terminals:
            assert again.voltage_v(name) == pytest.approx(first.voltage_v(name), abs=1e-8, nan_ok=True)


# --- islands and refusals --------------------------------------------------------------------------------------------


def test_islands_are_named_and_have_no_voltage():
    """A lamp whose return is cut stays at the supply; two parts with no path at all are an island with its names."""
    one = settled(
        circuit(
            battery(12),
            filament("-E1", "plus", "lifted"),
            resistor("-R1", "left", "right", 1.0),
            switch("-S1", "plus", "left", "never"),
        )
    )
    assert one.floating == ((("left", "right"),),)
    assert math.isnan(one.voltage_v("left")[0])
    assert math.isnan(one.voltage_v("right")[0])
    # The lifted end hangs on the plus through the lamp: it has the supply's voltage and no current flows.
    assert one.voltage_v("lifted")[0] == pytest.approx(12.0, abs=1e-9)
    assert (one.current_a("-E1")[0], one.current_a("-R1")[0]) == (0.0, 0.0)


def test_a_battery_without_a_path_to_the_reference_floats():
    """A battery that is joined to nothing is an island; it disturbs nobody."""
    one = settled(circuit(battery(12), filament("-E1", "plus"), battery(6, ref="-G2", a="alone +", b="alone -")))
    assert one.floating == ((("alone +", "alone -"),),)
    assert one.voltage_v("plus")[0] == pytest.approx(12.0, abs=1e-3)


def test_an_island_that_a_switch_joins_floats_only_while_it_is_open():
    """The same terminals float in one state and have a voltage in the next."""
    made = circuit(
        battery(12),
        switch("-S1", "plus", "far", "brake"),
        switch("-S2", "far", "farther", "always"),
        coil("-K1", "farther", "end"),
    )
    one = solve(made, ["brake"])
    rows = {state.words: row for row, state in enumerate(one.states)}
    assert one.floating[rows["all off"]] == (("end", "far", "farther"),)
    assert one.floating[rows["brake"]] == ()
    assert one.voltage_v("end")[rows["brake"]] == pytest.approx(12.0)


@pytest.mark.parametrize("ohm", [0.0, -0.01, math.nan])
@pytest.mark.parametrize("ref", ["-G1", "-R1", "-S1", "-K1", "-K1:30-87", "-T1"])
def test_no_resistance_is_refused(ref, ohm):
    """A part without a resistance above zero is refused by its name, whichever kind it is."""
    parts = (
        battery(24),
        resistor("-R1", "plus", "a", 1.0),
        switch("-S1", "a", "b", "always"),
        coil("-K1", "b"),
        relay("-K1:30-87", "b", "c", "k", {"k": "-K1"}),
        converter("-T1", "b", "out"),
        filament("-E1", "c"),
    )
    changed = tuple(replace(e, resistance_ohm=ohm) if e.ref == ref else e for e in parts)
    assert settled(circuit(*parts)).trouble == ("",)
    with pytest.raises(SolveError, match=f"^{ref} has a resistance of"):
        solve(circuit(*changed), [])


def test_a_circuit_without_a_battery_is_refused():
    """Nothing can be solved without a supply."""
    with pytest.raises(SolveError, match="no battery"):
        solve(circuit(filament("-E1", "plus")), [])


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
        assert one.trouble == ("never comes to rest: -K1 keeps switching on and off",)


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


# --- states ----------------------------------------------------------------------------------------------------------


def test_every_setting_and_flash_half_is_counted_once():
    """The settings that set the switches alike are solved once; the counts add up to all settings and flash halves."""
    made = circuit(
        battery(12),
        switch("-S1", "plus", "a", "lit and (left or hazard)"),
        switch("-S2", "plus", "b", "brake"),
        filament("-E1", "a"),
        filament("-E2", "b"),
    )
    signals = ["brake", "left", "hazard", "lit"]
    found = distinct_settings(made, signals)
    assert {s.closed for s in found} == {(x, y) for x in (False, True) for y in (False, True)}
    total = sum(2 if controls.turn == "left" or controls.hazard else 1 for controls in every_controls(signals))
    assert sum(s.alike for s in found) == total
    assert found[0].state.words == "all off"


def test_each_state_is_the_simplest_of_its_kind():
    """The state shown for a setting of the switches is one with the fewest controls away from rest."""
    lights = parse("lights")
    made = circuit(
        battery(12), switch("-S1", "plus", "a", "lights"), replace(switch("-S2", "plus", "b", "x"), live=lights)
    )
    words = [s.state.words for s in distinct_settings(made, ["lights", "brake", "hazard"])]
    assert words == ["all off", "service lights"]


def test_open_switches_carry_nothing():
    """An open switch has no current although there is a voltage across it."""
    one = run(circuit(battery(12), switch("-S1", "plus", "a", "brake"), filament("-E1", "a")), ["brake"])
    rows = {state.words: row for row, state in enumerate(one.states)}
    assert one.current_a("-S1")[rows["all off"]] == 0.0
    assert one.across_v(one.circuit.by_ref["-S1"])[rows["all off"]] == pytest.approx(12.0)
    assert one.current_a("-S1")[rows["brake"]] > 1.0


def test_trusted_keeps_the_good_states():
    """A circuit with one chattering state keeps all its other states."""
    made = circuit(
        battery(24),
        switch("-S1", "plus", "fed", "brake"),
        relay("-K1:30-87", "fed", "coil", "not k", {"k": "-K1"}),
        coil("-K1", "coil"),
        filament("-E1", "plus", volts=28, amps=1),
    )
    one = solve(made, ["brake"])
    assert {s.words: t for s, t in zip(one.states, one.trouble, strict=True)} == {
        "all off": "",
        "brake": "never comes to rest: -K1 keeps switching on and off",
    }
    assert [s.words for s in one.trusted().states] == ["all off"]
    assert one.trusted().voltages_v.shape[0] == 1
    assert_balanced(one.trusted())


def test_the_reference_is_zero():
    """The reference terminal is at 0 V in every state, and the switch count of a rig is that of its circuits in use."""
    loaded = load(rig())
    (one,) = study(loaded, build(loaded))
    assert set(one.voltage_v("-G1:-")) == {0.0}
    assert len(one.states) == 2
    assert len(one.circuit.of(Switch)) == 1
