"""Corners: what supply and temperature make of every element, by hand."""

import pytest

from tests.circuits import battery, circuit, coil, filament, resistor
from tests.rigs import load, rig
from wiregen.catalogue.fuses import resistance_ohm
from wiregen.circuit.build import build, vehicle_signals
from wiregen.model.circuit import Battery, Circuit, Coil, Conductor, Contact, Element, Fuse, Lamp, Load
from wiregen.model.corner import CORNERS, NOMINAL, Corner
from wiregen.solve.corners import Heating, at_corner
from wiregen.solve.full_study import heating, solve_study
from wiregen.solve.states import distinct_settings

COLD, HOT = Corner("running", "cold"), Corner("running", "hot")


def copper(from_c: float, to_c: float) -> float:
    """R(T) = R(20 °C) · (234.5 + T) / 254.5, typed a second time (S2)."""
    return (234.5 + to_c) / (234.5 + from_c)


def full_rig() -> Circuit:
    channels = [
        {"input": "tail_left", "output": "tail", "suppression": "resistor", "fuse": "10 A"},
        {"input": "pedal", "output": "brake", "device": "brake_controller", "fuse": "20 A"},
        {"input": "reverse", "output": "reverse", "device": "solid_state"},
    ]
    more = {"brakes": {"magnets": 2}, "lock_out": {"resistance": "9 ohm"}}
    lamps = [{"function": "tail", "count": 12}]
    return build(load(rig("iso-12098", "sae-j2863", channels=channels, lamps=lamps, pedal=True, **more))).circuits[0]


def changed(before: Circuit, after: Circuit, kind: type[Element]) -> list[float]:
    """Resistance after over resistance before, of every element of a kind."""
    pairs = zip(before.of(kind), after.of(kind), strict=True)
    return [b.resistance_ohm / a.resistance_ohm for a, b in pairs]  # type: ignore[attr-defined]


@pytest.mark.parametrize(("level", "volts"), [("low", 21.0), ("running", 27.0), ("charging", 29.0)])
def test_the_battery_at_each_supply(level, volts):
    """The corner's supply picks the voltage; a battery without extremes keeps its own."""
    text = rig(vehicle={"battery": {"low": "21 V", "running": "27 V", "charging": "29 V"}})
    made = at_corner(build(load(text)).circuits[0], Corner(level, "given"))
    assert [one.voltage_v for one in made.of(Battery)] == [volts]
    plain = at_corner(circuit(battery(12)), Corner(level, "given"))
    assert [one.voltage_v for one in plain.of(Battery)] == [12]


def test_nothing_but_the_supply_changes_while_no_temperature_is_asked_for():
    """The nominal corner is the circuit as built."""
    made = full_rig()
    assert at_corner(made, NOMINAL).elements == made.elements


def test_copper_at_both_corners():
    """Conductors: from 60 °C as built to -17 °C, or to the temperature their current makes, else to their ambient."""
    made = full_rig()
    cold = changed(made, at_corner(made, COLD), Conductor)
    assert cold == pytest.approx([copper(60, -17)] * len(cold))
    first, second = made.of(Conductor)[:2]
    hot = changed(made, at_corner(made, HOT, Heating(conductor_c={first.ref: 77.0})), Conductor)
    assert hot[:2] == pytest.approx([copper(60, 77), copper(60, second.ambient_c)])


def test_coils_and_their_thresholds():
    """A winding at 85 °C has 25.5 % more, and asks for as much more voltage; its suppression resistor stays."""
    made = full_rig()
    hot = at_corner(made, HOT)
    relay, *_ = (one for one in hot.of(Coil) if one.suppression == "resistor")
    factor = copper(20, 85)
    assert factor == pytest.approx(1.2554, abs=1e-4)
    assert relay.resistance_ohm == pytest.approx(1 / (1 / (350 * factor) + 1 / 1200))
    assert (relay.pick_up_v, relay.drop_out_v) == pytest.approx((16 * factor, 2.4 * factor))
    before = next(one for one in made.of(Coil) if not one.is_copper)
    assert next(one for one in hot.of(Coil) if one.ref == before.ref) == before


def test_loads_at_both_corners():
    """Magnets at 100 °C, the solenoid at 85 °C; both at -17 °C."""
    made = full_rig()
    assert [one.function for one in made.of(Load)] == ["brake", "reverse"]
    assert changed(made, at_corner(made, HOT), Load) == pytest.approx([copper(20, 100), copper(20, 85)])
    assert changed(made, at_corner(made, COLD), Load) == pytest.approx([copper(20, -17)] * 2)


def test_contacts_age_at_the_hot_corner_only():
    """3 mohm as new, 10 mohm when worn."""
    made = full_rig()
    assert {one.resistance_ohm for one in at_corner(made, HOT).of(Contact)} == {0.010}
    assert {one.resistance_ohm for one in at_corner(made, COLD).of(Contact)} == {0.003}


def test_fuses_and_lamps_stay_as_they_are_without_a_current():
    """A fuse of which no current is known is cold; lamps have no corner of their own."""
    made = full_rig()
    for corner in (COLD, HOT):
        assert at_corner(made, corner).of(Fuse) == made.of(Fuse)
        assert at_corner(made, corner).of(Lamp) == made.of(Lamp)


def test_a_fuse_is_as_warm_as_its_worst_current_makes_it():
    """In the study the drop over each fuse at a hot corner is that of its resistance at its highest hot current."""
    loaded = load(
        rig(channels=[{"input": "tail", "output": "tail", "fuse": "10 A"}], lamps=[{"function": "tail", "count": 20}])
    )
    made, signals = build(loaded).circuits[0], vehicle_signals(loaded)
    study = solve_study(made, signals, CORNERS)
    fuse = next(one for one in made.of(Fuse) if one.rating_a == 10)
    hot = [row for row, point in enumerate(study.points) if point.corner.warmth == "hot"]
    cold = [row for row, point in enumerate(study.points) if point.corner.warmth == "cold"]
    current, drop = study.current_a(fuse.ref), study.across_v(fuse)
    most = current[hot].max()
    assert most > 5
    row = hot[int(current[hot].argmax())]
    # The current that warms it is that of a circuit with cold fuses, a little higher than the one with warm ones.
    assert drop[row] / current[row] == pytest.approx(resistance_ohm(10, most), rel=1e-3)
    assert resistance_ohm(10, most) > 1.1 * fuse.resistance_ohm
    lit = cold[int(current[cold].argmax())]
    assert drop[lit] / current[lit] == pytest.approx(fuse.resistance_ohm, rel=1e-6)


def test_heating_stops_at_the_insulation_and_at_the_rating():
    """A conductor beyond its ampacity is held at the temperature of its insulation, a fuse at its hot resistance.

    That they carry too much is a finding of its own.
    """
    loaded = load(
        rig(
            channels=[{"input": "tail", "output": "tail", "fuse": "1 A"}],
            lamps=[{"function": "tail", "count": 60}],
            runs=[{"from": "adapter", "to": "trailer", "length": "2 m", "size": "0.75 mm²"}],
        )
    )
    made = build(loaded).circuits[0]
    warm = heating(made, distinct_settings(made, vehicle_signals(loaded)))
    fuse = next(one for one in made.of(Fuse) if one.rating_a == 1)
    thin = [one for one in made.of(Conductor) if one.stretch == "adapter-trailer"]
    assert warm.fuse_ohm[fuse.ref] == pytest.approx(resistance_ohm(1, 99.0))
    assert [warm.conductor_c[one.ref] for one in thin] == [one.insulation_c for one in thin]


def test_a_circuit_by_hand_at_every_corner():
    """A 12 V battery, a wire that is no conductor, a coil and a lamp: the study runs, and only the coil follows."""
    made = circuit(battery(12), resistor("-R1", "plus", "in", 0.1), coil("-K1", "in"), filament("-E1", "in"))
    study = solve_study(made, [], CORNERS)
    assert set(study.trouble) == {""}
    through = {point.corner.warmth: study.current_a("-K1")[row] for row, point in enumerate(study.points)}
    volts = {point.corner.warmth: study.voltage_v("in")[row] for row, point in enumerate(study.points)}
    for warmth, celsius in (("cold", -17), ("hot", 85)):
        assert volts[warmth] / through[warmth] == pytest.approx(350 * copper(20, celsius))
