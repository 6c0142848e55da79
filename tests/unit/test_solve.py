"""The solver by its physics: currents balance, power adds up, thresholds switch where they should, and it owns up."""

import math
import random
from dataclasses import replace
from pathlib import Path as FilePath

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.circuits import (
    assert_balanced,
    battery,
    circuit,
    coil,
    converter,
    filament,
    relay,
    resistor,
    run,
    settled,
    switch,
)
from tests.plain_solver import solve
from tests.random_rigs import random_rigs
from tests.rigs import load, rig, straight
from tests.steps import build
from wiregen.circuit.build import vehicle_signals
from wiregen.errors import SolveError
from wiregen.model.circuit import Battery, Converter, Lamp, Resistive, Switch
from wiregen.model.corner import NOMINAL
from wiregen.model.logic import parse
from wiregen.model.state import every_controls
from wiregen.model.study import Study
from wiregen.solve.devices import CONVERTER_BLEED_OHM
from wiregen.solve.full_study import solve_study
from wiregen.solve.states import distinct_settings

DEMOS = FilePath(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo"


def study(loaded, built) -> list[Study]:
    """Every state of every trailer at the nominal corner, where resistances and voltages are those of the circuit."""
    return [solve_study(circuit, vehicle_signals(loaded), [NOMINAL]) for circuit in built.circuits]


def demo_studies() -> list[Study]:
    loaded = [load((DEMOS / f"{n}.toml").read_text()) for n in ("observatory-bus", "ringing-lorry", "bad-example")]
    return [one for each in loaded for one in study(each, build(each))]


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
        "brake": "never comes to rest: -K1 in, then -K1 out, and so on",
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
