"""Faulted circuits against ngspice: what the fault book says a meter shows, ngspice says too.

Every fifth case of the demo's library, so that every kind comes up, each in one setting of the controls. Where a fault
is one of a single part, the part is taken out, changed or added here by hand (``tests.reference.faulted``); the fuse
that a short has opened is out. Contacts and converters stand as the solver left them, and whether they may stand so at
the voltages that ngspice finds is checked too. What hangs on nothing is nothing to ngspice, and 0 V in the book.
"""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from tests.fault_trials import demo_finder
from tests.reference.faulted import with_fault
from tests.reference.ngspice_batch import solve_many
from tests.reference.swept import LAWS
from wiregen.model.circuit import Circuit, Coil, Converter
from wiregen.model.corner import NOMINAL
from wiregen.model.state import State
from wiregen.questions.faults.diagnosis import FaultBook
from wiregen.questions.netlist.spice import OperatingPoint, netlist_text, point_of
from wiregen.solve.chosen import solve_chosen

TOLERANCE_V = 2e-6
SIGNALS = ("lights", "brake", "left", "right", "hazard", "blackout", "lit")
#: The least that is asked for; the sample is larger.
LEAST = 50


@pytest.fixture(scope="module")
def book() -> FaultBook:
    return demo_finder("boat trailer").book


def chosen(book: FaultBook) -> list[tuple[int, int]]:
    """Cases with a setting each: the first steady one in which the case shows, else the one with most lamps."""
    steady = [row for row, flashes in enumerate(book.flashing) if not flashes]
    richest = max(steady, key=lambda row: book.settings[row].weight)
    found = []
    for row in range(1, len(book.cases), 5):
        if book.cases[row].flasher or book.trouble[row]:
            continue
        differs = [s for s in steady if (book.looks[row, s] != book.looks[0, s]).any()]
        found.append((row, differs[0] if differs else richest))
    return found


def faulted(book: FaultBook, row: int) -> tuple[Circuit, dict[str, float]]:
    """The circuit with a case, and the share of lamps that burn: by hand where the case is one of a single part."""
    case, opened = book.cases[row], book.opened.get(row)
    circuit, burning = case.change.of(book.circuit), {}
    if case.fault is not None and case.fault.kind in ("open", "resistance", "short", "burnt"):
        grounds = {"vehicle": "chassis", "adapter": "chassis", "trailer": "-X2:ground"}
        made = with_fault(book.circuit, case.fault, grounds)
        circuit, burning = made.circuit, dict(made.burning)
    if opened is not None and opened.fuse:
        circuit = replace(circuit, elements=tuple(e for e in circuit.elements if e.ref != opened.fuse))
    return circuit, burning


def operating_point(book: FaultBook, row: int, setting: int) -> OperatingPoint:
    circuit, burning = faulted(book, row)
    # The switching is the solver's; it may not see lamps that are half out, so it gets the circuit of the library.
    opened = book.opened.get(row)
    drop = {opened.fuse} if opened is not None else set()
    switching = book.cases[row].change.of(book.circuit)
    switching = replace(switching, elements=tuple(e for e in switching.elements if e.ref not in drop))
    study = solve_chosen(switching, SIGNALS, [State(book.settings[setting])], (NOMINAL,)).study
    point = point_of(switching, study, 0)
    return replace(point, circuit=circuit, burning=burning)


def judged(points: list[OperatingPoint], folder: Path) -> list[dict[str, float]]:
    """ngspice's node voltages; its search starts from nothing, and from our numbers where it then finds nothing."""
    solved = solve_many([netlist_text(replace(point, volts={}), LAWS) for point in points], folder)
    lost = [place for place, volts in enumerate(solved) if not volts]
    assert len(lost) <= len(points) // 20
    for place, volts in zip(
        lost, solve_many([netlist_text(points[place], LAWS) for place in lost], folder), strict=True
    ):
        solved[place] = volts
    return solved


@pytest.mark.slow
def test_readings_agree_with_ngspice(book, tmp_path):
    """At least 50 faulted states: every reading to 2 µV, coils and converters where ngspice's voltages put them."""
    sample = chosen(book)
    assert len(sample) >= LEAST
    points = [operating_point(book, row, setting) for row, setting in sample]
    solved = judged(points, tmp_path)
    for (row, setting), point, volts in zip(sample, points, solved, strict=True):
        key = book.cases[row].key
        assert volts, key
        number = {name: f"n{place}" for place, name in enumerate(point.circuit.terminals)}
        adrift = {name for group in point.floating for name in group}
        theirs = {n: volts.get(number[n], math.nan) for n in point.circuit.terminals[1:] if n not in adrift}
        theirs[point.circuit.reference] = 0.0
        for place, where in enumerate(book.points):
            between = theirs.get(where.at, math.nan) - theirs.get(where.against, math.nan)
            expected = 0.0 if math.isnan(between) else between
            assert book.volts_v[row, setting, place] == pytest.approx(expected, rel=0, abs=TOLERANCE_V), (key, where)
        _switched_right(point, theirs, key)


def _switched_right(point: OperatingPoint, theirs: dict[str, float], key: str) -> None:
    """Coils pull in where there is enough for them, and converters run where there is; a stuck part is none."""
    for coil in point.circuit.of(Coil):
        across = abs(theirs.get(coil.a, 0.0) - theirs.get(coil.b, 0.0))
        if coil.drop_out_v <= across < coil.pick_up_v:
            continue
        assert (coil.ref in point.pulled) == (across >= coil.pick_up_v), (key, coil.ref)
    for converter in point.circuit.of(Converter):
        v_in = theirs.get(converter.a, 0.0) - theirs.get(converter.common, 0.0)
        gate = converter.gate is None or converter.gate.is_open_to(point.pulled)
        assert (converter.ref in point.on) == (gate and v_in >= converter.minimum_input_v), (key, converter.ref)


def test_swapped_wires_swap_the_lamps(book):
    """With the wires of left and right swapped behind the plug every lamp reads what its twin reads on a sound rig."""
    row = next(k for k, case in enumerate(book.cases) if case.key == "X2 5<>6 t")
    names = [controls.words for controls in book.settings]
    lamps = [point.name for point in book.points]
    left, right = lamps.index("E3"), lamps.index("E4")
    for one, other in (("left turn", "right turn"), ("brake", "brake")):
        assert book.volts_v[row, names.index(one), right] == pytest.approx(
            book.volts_v[0, names.index(other), right], abs=1e-3
        )
        assert book.volts_v[row, names.index(one), left] == pytest.approx(
            book.volts_v[0, names.index(other), left], abs=1e-3
        )
