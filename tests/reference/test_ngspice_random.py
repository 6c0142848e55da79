"""Two hundred and more random circuits, in random states, at random corners, with random faults, against ngspice.

ngspice is given the parts with the fault worked into them by hand (``tests.reference.faulted``), the contacts as the
sweep left them, and what floats as networkx finds it. Every terminal that does not float must have the same voltage.
"""

import math
import random
import re
from collections import Counter
from functools import cache

import pytest

from tests.conftest import program
from tests.reference.ngspice_batch import solve_many
from tests.reference.seeded import seeded
from tests.reference.swept import LAWS, Swept, sweep_points
from wiregen.model.circuit import Coil, Converter, Lamp
from wiregen.model.corner import CORNERS, NOMINAL
from wiregen.questions.netlist.spice import netlist_text

SEEDS = range(220)
TOLERANCE_V = 1e-6


@cache
def points() -> tuple[tuple[int, Swept], ...]:
    found = []
    for seed in SEEDS:
        rng = random.Random(seed)
        corners = (NOMINAL, rng.choice(CORNERS))
        swept = sweep_points(seeded(seed), corners, rng, settings=4, faults=12, healthy=2, faulty=8)
        found += [(seed, one) for one in swept]
    return tuple(found)


def trusted() -> list[int]:
    return [row for row, (_, one) in enumerate(points()) if not one.trouble]


def worst(one: Swept, theirs: dict[str, float]) -> tuple[float, str]:
    """Largest difference in volts between sweep and ngspice, and where; infinite where one of them has no voltage."""
    circuit = one.point.circuit
    number = {name: f"n{row}" for row, name in enumerate(circuit.terminals)}
    adrift = {name for group in one.point.floating for name in group}
    if one.fault == "short":
        # What hung on nothing lies on ground through the short; the sweep still names it as floating.
        adrift |= set(circuit.terminals) - set(one.ours_v)
    off = [(0.0, "")]
    for name in circuit.terminals:
        if name not in adrift and name != circuit.reference:
            ours, ngspice = one.ours_v.get(name, math.inf), theirs.get(number[name], math.inf)
            off.append((math.inf if math.isinf(ngspice) else abs(ours - ngspice), name))
    for ref, across_v in one.consumers_v.items():
        part = circuit.by_ref.get(ref)
        if part is not None and one.point.burning.get(ref) != 0.0 and not {part.a, part.b} & adrift:
            ngspice = theirs.get(number[part.a], 0.0) - theirs.get(number[part.b], 0.0)
            off.append((abs(across_v - ngspice), ref))
    return max(off)


def started_exactly(one: Swept) -> str:
    """The netlist of a point with ngspice's search started at every digit of the sweep's own answer."""
    volts = {f"n{row}": one.ours_v.get(name, 0.0) for row, name in enumerate(one.point.circuit.terminals)}
    text = netlist_text(one.point, LAWS)
    return re.sub(r"(?m)^\.nodeset v\((n\d+)\)=.*$", lambda m: f".nodeset v({m[1]})={volts[m[1]]!r}", text)


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, float]]:
    """ngspice's voltages of every point; a point with two solutions is solved again from the sweep's own."""
    program("ngspice")
    folder = tmp_path_factory.mktemp("ngspice")
    solved = solve_many([netlist_text(one.point, LAWS) for _, one in points()], folder)
    again = [row for row in trusted() if not worst(points()[row][1], solved[row])[0] <= TOLERANCE_V]
    assert len(again) < 0.01 * len(points())
    second = solve_many([started_exactly(points()[row][1]) for row in again], folder)
    for row, answer in zip(again, second, strict=True):
        solved[row] = answer
    return solved


@pytest.mark.slow
def test_every_terminal_of_every_random_point_agrees_with_ngspice(answers):
    """Every trusted point has ngspice's voltages at its terminals, and across its lamps and loads, to 1e-6 V."""
    off, most_v = [], 0.0
    for row in trusted():
        seed, one = points()[row]
        error_v, name = worst(one, answers[row])
        most_v = max(most_v, error_v)
        if not error_v <= TOLERANCE_V:
            off.append(f"seed {seed}: {name} off by {error_v:.3g} V: {one.point.words}")
    faulty = sum(bool(points()[row][1].fault) for row in trusted())
    print(
        f"{len(trusted())} points of {len(SEEDS)} random circuits, {faulty} of them with a fault: {most_v:.2g} V apart"
    )
    assert off == []


@pytest.mark.slow
def test_coils_and_converters_are_where_the_voltages_put_them(answers):
    """At ngspice's voltages every coil and converter of a healthy point is on the right side of its threshold."""
    wrong = []
    for row in trusted():
        seed, one = points()[row]
        circuit = one.point.circuit
        if one.fault:
            continue
        volts = {name: answers[row].get(f"n{number}", 0.0) for number, name in enumerate(circuit.terminals)}
        for coil in circuit.of(Coil):
            across_v = abs(volts[coil.a] - volts[coil.b])
            held = coil.ref in one.point.pulled
            if not (across_v >= coil.drop_out_v - TOLERANCE_V if held else across_v < coil.pick_up_v + TOLERANCE_V):
                wrong.append(f"seed {seed}: {coil.ref} has {across_v} V: {one.point.words}")
        for converter in circuit.of(Converter):
            is_open = converter.gate is None or converter.gate.is_open_to(one.point.pulled)
            enough = volts[converter.a] - volts[converter.common] >= converter.minimum_input_v
            if (converter.ref in one.point.on) != (is_open and enough):
                wrong.append(f"seed {seed}: {converter.ref}: {one.point.words}")
    assert wrong == []


def test_the_random_points_reach_what_they_are_meant_to_reach():
    """Over 2000 points of 220 circuits with every kind of fault and part; few that the solver doubts."""
    every = [one for _, one in points()]
    kinds = Counter(one.fault for one in every)
    assert {seed for seed, _ in points()} == set(SEEDS)
    assert len(every) > 2000
    assert set(kinds) == {"", "open", "resistance", "short", "shorted", "burnt", "stuck_on", "stuck_off"}
    assert min(count for kind, count in kinds.items() if kind != "shorted") > 40
    assert kinds["shorted"] > 5
    broken = {type(one.made.whole).__name__ for one in every if one.fault == "open" and one.made.whole}
    assert {"Diode", "Battery", "Resistor", "Coil", "Load"} <= broken
    assert sum(bool(one.trouble) for one in every) < 0.08 * len(every)
    parts = Counter(type(element).__name__ for one in every for element in one.point.circuit.elements)
    assert min(parts[name] for name in ("Diode", "Resistor", "Load", "Converter", "Coil", "RelayContact")) > 200
    lamps = {lamp.technology for one in every for lamp in one.point.circuit.of(Lamp)}
    assert lamps == {"filament", "led", "points"}
