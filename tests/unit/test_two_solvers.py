"""Two solvers agree on rigs with every device: the fast one, which keeps few terminals, and the plain one.

They share the element laws (held by hand in ``test_device_laws``) and nothing else: the plain solver keeps every
terminal, solves every state and every fault from dark, and knows no port, no elimination and no row of like faults.
"""

import random
from dataclasses import replace

import numpy as np
import pytest

from tests.circuits import assert_balanced
from tests.device_rigs import device_rig
from tests.plain_solver import solve
from tests.reference.faulted import with_fault
from tests.rigs import load
from wiregen.circuit.build import build, vehicle_signals
from wiregen.circuit.faults import single_faults
from wiregen.model.circuit import Battery, Circuit, Converter, Diode, Equaliser, Lamp, RelayContact, Resistor
from wiregen.model.corner import CORNERS, NOMINAL
from wiregen.model.study import Study
from wiregen.solve.corners import at_corner
from wiregen.solve.full_study import heating, solve_faults, solve_study
from wiregen.solve.states import distinct_settings

#: A terminal behind a diode that blocks hangs on 100 kilohm, which make 0.1 mV of the nanoampere the plain solver
#: leaves in a balance.
AGREE_V = 1e-4
#: Where nothing hangs on megohms: across lamps and loads.
AGREE_LAMP_V = 2e-6


def built(seed: int) -> tuple[Circuit, frozenset[str]]:
    loaded = load(device_rig(seed))
    return build(loaded).circuits[0], vehicle_signals(loaded)


def assert_agree(fast: Study, rows: slice, plain: Study) -> int:
    """Compare some rows of a study with all of another; return how many both trust."""
    assert fast.trouble[rows] == plain.trouble
    assert fast.pulled[rows] == plain.pulled
    good = [row for row, words in enumerate(plain.trouble) if not words]
    assert np.array_equal(np.isnan(fast.voltages_v[rows][good]), np.isnan(plain.voltages_v[good]))
    assert fast.voltages_v[rows][good] == pytest.approx(plain.voltages_v[good], abs=AGREE_V, nan_ok=True)
    for lamp in plain.circuit.of(Lamp):
        across = fast.across_v(fast.circuit.by_ref[lamp.ref])[rows][good]
        assert across == pytest.approx(plain.across_v(lamp)[good], abs=AGREE_LAMP_V, nan_ok=True)
    return len(good)


def _slow(seeds):
    """Seeds that are left to the long run."""
    return [pytest.param(seed, marks=pytest.mark.slow) for seed in seeds]


@pytest.mark.parametrize("seed", [*range(4), *_slow(range(4, 16))])
def test_both_solvers_agree_in_every_state(seed):
    """Nominal or at a corner: the same voltages at every terminal, the same relays, the same words where none hold."""
    circuit, signals = built(seed)
    settings = distinct_settings(circuit, signals)
    corners = [NOMINAL, random.Random(seed).choice(CORNERS)] if len(settings) <= 16 else [CORNERS[seed % len(CORNERS)]]
    study = solve_study(circuit, signals, corners)
    warm = heating(circuit, settings)
    count = len(settings)
    trusted = 0
    for place, one in enumerate(corners):
        plain = solve(at_corner(circuit, one, warm), signals)
        assert_balanced(plain)
        trusted += assert_agree(study, slice(place * count, (place + 1) * count), plain)
    assert trusted > 0


@pytest.mark.parametrize("seed", [100, *_slow(range(101, 107))])
def test_both_solvers_agree_on_broken_and_corroded_parts(seed):
    """Some opens and added resistances of each rig: a changed conductance against a changed circuit."""
    circuit, signals = built(seed)
    faults = [fault for fault in single_faults(circuit) if fault.kind in ("open", "resistance")]
    picked = random.Random(seed).sample(faults, 4)
    study = solve_faults(circuit, signals, picked, [NOMINAL])
    for column, fault in enumerate(picked):
        plain = solve(with_fault(circuit, fault, {}).circuit, signals)
        for row, words in enumerate(plain.trouble):
            assert bool(words) == ((row, column) in study.trouble), fault.words
            if not words:
                assert study.across_v[row, column] == pytest.approx(
                    _across(plain, study.consumers, row), abs=AGREE_LAMP_V
                )


def _across(plain: Study, refs: tuple[str, ...], row: int) -> list[float]:
    """Voltages of consumers; 0 for one that the fault took out or left hanging."""
    known = plain.circuit.by_ref
    return [float(np.nan_to_num(plain.across_v(known[ref])[row])) if ref in known else 0.0 for ref in refs]


def test_the_rigs_hold_every_device():
    """The random rigs above are worth something: among them stand every device, supply and lamp law."""
    circuits = [built(seed)[0] for seed in range(20)]
    elements = [element for circuit in circuits for element in circuit.elements]
    kinds = {type(element) for element in elements}
    assert {Diode, Equaliser, Resistor, Converter, RelayContact} <= kinds
    assert {lamp.technology for circuit in circuits for lamp in circuit.of(Lamp)} == {"filament", "led", "points"}
    assert {battery.zone for circuit in circuits for battery in circuit.of(Battery)} == {
        "vehicle",
        "adapter",
        "trailer",
    }
    assert any(c.foldback < 1 for circuit in circuits for c in circuit.of(Converter))


def test_the_order_of_the_parts_is_no_part_of_the_physics():
    """The fast solver on shuffled elements gives every terminal the same voltage in every state."""
    for seed in range(4):
        circuit, signals = built(seed)
        first = solve_study(circuit, signals, [NOMINAL])
        elements = list(circuit.elements)
        random.Random(seed).shuffle(elements)
        again = solve_study(replace(circuit, elements=tuple(elements)), signals, [NOMINAL])
        good = [row for row, words in enumerate(first.trouble) if not words]
        assert [bool(words) for words in again.trouble] == [bool(words) for words in first.trouble]
        for name in circuit.terminals:
            assert again.voltage_v(name)[good] == pytest.approx(first.voltage_v(name)[good], abs=AGREE_V, nan_ok=True)
