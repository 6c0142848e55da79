"""The many-states solver by what any circuit must do: balances, monotony, parts in a row, leaks, islands."""

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.circuits import GROUND, assert_balanced, battery, circuit, coil, converter, filament, relay, resistor, switch
from tests.device_rigs import device_rig
from tests.plain_solver import solve
from tests.rigs import load
from wiregen.circuit.build import build, vehicle_signals
from wiregen.circuit.faults import single_faults
from wiregen.model.circuit import Diode, Lamp
from wiregen.model.corner import CORNERS, NOMINAL
from wiregen.model.fault import Fault
from wiregen.solve.changes import chains
from wiregen.solve.elimination import GROUND as REFERENCE
from wiregen.solve.elimination import plan
from wiregen.solve.full_study import solve_faults, solve_study


def lamp_v(made, *names: str) -> list[float]:
    study = solve_study(made, (), [NOMINAL])
    assert study.trouble == ("",)
    return [float(study.across_v(made.by_ref[name])[0]) for name in names]


@pytest.mark.parametrize("seed", range(40, 46))
def test_no_terminal_of_a_rig_with_every_device_gains_or_loses_current(seed):
    """Kirchhoff's current law at every terminal, in every trusted state, cold and hot."""
    loaded = load(device_rig(seed))
    study = solve_study(build(loaded).circuits[0], vehicle_signals(loaded), [NOMINAL, *CORNERS[:2]])
    assert "" in study.trouble
    assert_balanced(study)


@settings(max_examples=60, deadline=None)
@given(
    ohms=st.lists(st.floats(0.005, 3), min_size=3, max_size=8),
    amps=st.lists(st.floats(0.1, 8), min_size=8, max_size=8),
    second_ohm=st.floats(0.005, 10),
)
def test_a_second_path_beside_one_never_dims_the_lamps_it_feeds(ohms, amps, second_ohm):
    """Beside the common feed or return all lamps gain; beside the wire of one lamp that lamp gains, the others lose."""
    feed_ohm, return_ohm, *wires = ohms
    lamps = [filament(f"-E{n}", f"lamp{n}", "return", amps=amps[n]) for n in range(len(wires))]
    parts = [
        battery(13.5, 0.01),
        resistor("-W1", "plus", "bus", feed_ohm),
        resistor("-W2", "return", GROUND, return_ohm),
        *(resistor(f"-W{n}a", "bus", f"lamp{n}", ohm) for n, ohm in enumerate(wires)),
        *lamps,
    ]
    names = [lamp.ref for lamp in lamps]
    before = lamp_v(circuit(*parts), *names)
    for ends in (("plus", "bus"), ("return", GROUND)):
        after = lamp_v(circuit(*parts, resistor("-W9", *ends, second_ohm)), *names)
        assert [new >= old - 1e-9 for new, old in zip(after, before, strict=True)] == [True] * len(names)
    first, *others = lamp_v(circuit(*parts, resistor("-W9", "bus", "lamp0", second_ohm)), *names)
    assert first >= before[0] - 1e-9
    assert [new <= old + 1e-9 for new, old in zip(others, before[1:], strict=True)] == [True] * len(others)


@settings(max_examples=60, deadline=None)
@given(volts=st.floats(6, 30), more_v=st.floats(0.01, 5), ohms=st.lists(st.floats(0.01, 5), min_size=4, max_size=4))
def test_more_voltage_never_dims_lamps_in_a_bridge(volts, more_v, ohms):
    """In a bridge of wires and filament lamps no lamp in the feed's direction loses when the battery gains."""

    def solved(supply_v: float) -> list[float]:
        made = circuit(
            battery(supply_v, 0.02),
            *(resistor(f"-W{n}", "plus", f"lamp{n}", ohm) for n, ohm in enumerate(ohms)),
            *(filament(f"-E{n}", f"lamp{n}", "return") for n in range(4)),
            resistor("-W8", "lamp0", "lamp1", 0.5),
            resistor("-W9", "return", GROUND, 0.1),
        )
        return lamp_v(made, *(f"-E{n}" for n in range(4)))

    assert [new >= old for new, old in zip(solved(volts + more_v), solved(volts), strict=True)] == [True] * 4


# --- faults ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [100, 103])
def test_parts_in_one_row_may_stand_for_each_other(seed):
    """Each fault solved alone, so that no other can stand for it, gives what it gives among all."""
    loaded = load(device_rig(seed))
    made, signals = build(loaded).circuits[0], vehicle_signals(loaded)
    rows = chains(made)
    faults = [fault for fault in single_faults(made) if fault.ref in rows]
    together = solve_faults(made, signals, faults, [NOMINAL])
    assert len(set(rows.values())) < len(rows)
    for column in random.Random(seed).sample(range(len(faults)), 12):
        alone = solve_faults(made, signals, [faults[column]], [NOMINAL])
        assert together.across_v[:, column] == pytest.approx(alone.across_v[:, 0], abs=1e-8, nan_ok=True)
        assert {row for row, other in together.trouble if other == column} == {row for row, _ in alone.trouble}


def test_a_row_ends_at_branches_coils_and_the_reference():
    """Two wires in a row are one; a third beside a branch, a coil and what lies behind the reference are not."""
    made = circuit(
        battery(12),
        resistor("-W1", "plus", "p", 0.1),
        switch("-S1", "p", "q", "always"),
        resistor("-W2", "q", "fork", 0.1),
        resistor("-W3", "fork", "r", 0.1),
        coil("-K1", "r", "s"),
        resistor("-W4", "s", GROUND, 0.1),
        resistor("-W5", "fork", GROUND, 5.0),
        filament("-E1", "fork"),
    )
    assert chains(made) == {"-W1": "-S1", "-S1": "-S1", "-W2": "-S1", "-W3": "-W3", "-W4": "-W4", "-W5": "-W5"}


@pytest.mark.parametrize(("kind", "wanted_v"), [("open", 0.0), ("shorted", 12 * 10 / (10 + 1e-4 + 0.02))])
def test_a_diode_that_is_open_or_shorted(kind, wanted_v):
    """Open it feeds nothing, not even its leak; shorted it is 20 milliohm in either direction. By the divider."""
    diode = Diode(ref="-V1", a="plus", b="load", drop_v=0.7, resistance_ohm=0.02, leak_ohm=1e6, circuit="stop",
                  zone="trailer")  # fmt: skip
    backwards = replace(diode, a="load", b="plus")
    lamp = filament("-E1", "load", amps=1e-6)
    for one in (diode, backwards):
        made = circuit(battery(12), one, resistor("-R1", "load", GROUND, 10.0), lamp)
        study = solve_faults(made, (), [Fault(kind, "-V1", "wrong", ohm=0.02)], [NOMINAL])
        assert study.across_v[0, 0, 0] == pytest.approx(wanted_v, abs=1e-5)


def test_a_battery_that_is_off_gives_nothing():
    """A lamp on its own battery goes dark; beside another battery it stays lit from that one."""
    alone = circuit(battery(24), battery(12, ref="-G2", a="aux"), filament("-E1", "aux"))
    off = Fault("open", "-G2", "off")
    assert solve_faults(alone, (), [off], [NOMINAL]).across_v[0, 0, 0] == 0.0
    fed = replace(alone, elements=(*alone.elements, resistor("-R1", "plus", "aux", 1e-3)))
    assert solve_faults(fed, (), [off], [NOMINAL]).across_v[0, 0, 0] > 20


def test_behind_a_broken_wire_a_leak_keeps_all_its_digits():
    """A megohm beside a wire of a milliohm that breaks: the divider of the megohm and 10 kilohm, to a nanovolt."""
    made = circuit(
        battery(12, 1e-3),
        resistor("-W1", "plus", "far", 1e-3),
        resistor("-R1", "plus", "far", 1e6),
        resistor("-R2", "far", GROUND, 1e4),
        filament("-E1", "plus"),
        coil("-K1", "far", ohm=1e7),
    )
    rest = 1 / (1 / 1e4 + 1 / 1e7)
    study = solve_faults(made, (), [Fault("open", "-W1", "broken")], [NOMINAL])
    plus_v = study.across_v[0, 0, 0]
    seen = solve_study(replace(made, elements=tuple(e for e in made.elements if e.ref != "-W1")), (), [NOMINAL])
    assert seen.voltage_v("far")[0] == pytest.approx(plus_v * rest / (rest + 1e6), rel=1e-12)


def test_a_loop_that_never_rests_is_told_with_its_round_also_for_a_fault():
    """A relay that cuts its own coil chatters once a switch sticks; the words are its round, there are no numbers."""
    made = circuit(
        battery(24),
        switch("-S1", "plus", "fed", "never"),
        relay("-K1:30-87", "fed", "coil", "not k", {"k": "-K1"}),
        coil("-K1", "coil"),
        filament("-E1", "plus", volts=28, amps=1),
    )
    study = solve_faults(made, (), [Fault("stuck_on", "-S1", "stuck"), Fault("burnt", "-E1", "out")], [NOMINAL])
    assert study.trouble == {(0, 0): "never comes to rest: -K1 in, then -K1 out, and so on"}
    assert np.isnan(study.across_v[0, 0]).all()
    assert not np.isnan(study.across_v[0, 1]).any()


def test_more_coils_than_bits_in_a_word():
    """Eighty relays, each behind a switch of its own: every lamp burns where its own switch is closed, and no other."""
    parts = [battery(24, 1e-3)]
    for number in range(80):
        live = "brake" if number % 2 else "not brake"
        parts += [
            switch(f"-S{number}", "plus", f"feed{number}", live),
            coil(f"-K{number}", f"feed{number}"),
            relay(f"-K{number}:30-87", "plus", f"lamp{number}", "k", {"k": f"-K{number}"}),
            filament(f"-E{number}", f"lamp{number}", volts=28, amps=1),
        ]
    made = circuit(*parts)
    study = solve_study(made, ["brake"], [NOMINAL])
    lit = np.array([study.across_v(lamp) > 20 for lamp in made.of(Lamp)])
    brake = np.array([state.controls.brake for state in study.states])
    assert lit.tolist() == [(brake == bool(number % 2)).tolist() for number in range(80)]


def test_a_piece_that_hangs_on_nothing_still_has_its_own_currents():
    """A battery with its lamp and no path to the reference: the lamp burns, its terminals have no voltage to tell."""
    made = circuit(
        battery(24), filament("-E1", "plus", volts=28), battery(12, 1e-3, ref="-G2", a="up", b="down"),
        filament("-E2", "up", "down"),
    )  # fmt: skip
    for study in (solve_study(made, (), [NOMINAL]), solve(made, ())):
        assert study.floating == ((("down", "up"),),)
        assert np.isnan(study.voltage_v("up")[0])
        assert study.current_a("-E2")[0] == pytest.approx(-study.current_a("-G2")[0], abs=1e-8)
        assert study.current_a("-E2")[0] > 1.5


def test_a_converter_with_no_way_back_takes_nothing():
    """A converter whose common minus hangs on nothing is off, whatever stands at its input."""
    made = circuit(
        battery(24),
        replace(converter("-T1", "plus", "out"), common="lifted"),
        filament("-E1", "out", "lifted"),
    )
    study = solve_study(made, (), [NOMINAL])
    assert (study.trouble, study.input_a["-T1"][0]) == (("",), 0.0)


# --- elimination -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(12))
def test_elimination_gives_what_a_dense_solver_gives(seed):
    """Random networks of up to twelve terminals: the resistance to the reference is that of the inverted matrix."""
    rng = random.Random(seed)
    count = rng.randint(3, 12)
    pairs = [(a, rng.randrange(a)) for a in range(1, count)]
    pairs += [tuple(rng.sample(range(count), 2)) for _ in range(rng.randint(0, count))]
    siemens = [10 ** rng.uniform(-3, 3) for _ in pairs]
    matrix = np.zeros((count, count))
    for (a, b), value in zip(pairs, siemens, strict=True):
        matrix[a, a] += value
        matrix[b, b] += value
        matrix[a, b] -= value
        matrix[b, a] -= value
    wanted_ohm = np.linalg.inv(matrix[1:, 1:])[0, 0]
    order = plan(pairs, [set(range(2, count)), {1}])
    rows = np.zeros(order.rows)
    for (a, b), value in zip(pairs, siemens, strict=True):
        rows[order.row[a, b]] += value
    for step in order.steps:
        total = sum(rows[row] for _, row in step.toward)
        parts = [rows[row] / total for _, row in step.back]
        for target, place, row in step.joins:
            rows[target] += parts[place] * rows[row]
    assert order.steps[-1].node == 1
    assert total == pytest.approx(1 / wanted_ohm, rel=1e-9)


def test_a_terminal_that_nothing_joins_gets_a_conductance_of_nothing():
    """Its one row leads to the reference, so that its sum is nothing and not missing."""
    order = plan([(1, REFERENCE)], [{1, 2}])
    assert {step.node: step.toward for step in order.steps}[2] == ((REFERENCE, order.row[2, REFERENCE]),)
