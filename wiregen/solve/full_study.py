"""The study: every distinct state at every corner, and on demand with every single fault."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from wiregen.catalogue.ampacity import OutsideTable, ampacity_a
from wiregen.catalogue.fuses import resistance_ohm
from wiregen.model.circuit import Circuit, Conductor, Fuse, Lamp, Load
from wiregen.model.corner import CORNERS, NOMINAL, Corner
from wiregen.model.fault import Fault
from wiregen.model.study import Array, FaultStudy, Point, Study
from wiregen.solve.corners import UNLOADED, Heating, at_corner
from wiregen.solve.islands import Islands
from wiregen.solve.states import Setting, distinct_settings
from wiregen.solve.sweep import Points, Sweep


def solve_study(circuit: Circuit, signals: Collection[str], corners: Sequence[Corner] = (NOMINAL, *CORNERS)) -> Study:
    """Solve every distinct state of a circuit at every corner.

    Args:
        circuit: The circuit as built.
        signals: Control signals the vehicle reacts to.
        corners: Corners, in the order of the rows: all states of the first, then all of the second ...

    Raises:
        SolveError: The circuit cannot be solved at all.
    """
    settings = distinct_settings(circuit, signals)
    return _solve(circuit, settings, corners, _heating_for(circuit, settings, corners))


def _heating_for(circuit: Circuit, settings: Sequence[Setting], corners: Sequence[Corner]) -> Heating:
    return heating(circuit, settings) if any(corner.warmth == "hot" for corner in corners) else UNLOADED


def heating(circuit: Circuit, settings: Sequence[Setting]) -> Heating:
    """Return what their own current makes of conductors and fuses at hot corners.

    The currents are those of a circuit whose copper is at its ambient and whose fuses are cold, at the supply voltage
    that makes them largest. A conductor is held at the temperature of its insulation, and a fuse at its resistance at
    rated current: one that would go beyond is a finding of its own. States that cannot be trusted heat nothing.
    """
    study = _solve(circuit, settings, [corner for corner in CORNERS if corner.warmth == "hot"], UNLOADED).trusted()
    currents = np.abs(study.currents_a).max(axis=0, initial=0.0)
    most = {element.ref: float(current) for element, current in zip(circuit.elements, currents, strict=True)}
    return Heating(
        conductor_c={c.ref: _temperature_c(c, most[c.ref]) for c in circuit.of(Conductor)},
        fuse_ohm={f.ref: _fuse_ohm(f, most[f.ref]) for f in circuit.of(Fuse)},
    )


def _fuse_ohm(fuse: Fuse, current_a: float) -> float:
    try:
        return fuse.resistance_ohm * resistance_ohm(fuse.rating_a, current_a) / resistance_ohm(fuse.rating_a, 0.0)
    except OutsideTable:
        return fuse.resistance_ohm


def _temperature_c(conductor: Conductor, current_a: float) -> float:
    ambient, most = conductor.ambient_c, conductor.insulation_c
    try:
        allowed = ampacity_a(conductor.size, most, ambient, conductor.bundle).amps
    except OutsideTable:
        return ambient
    if allowed <= 0 or most <= ambient:
        return ambient
    return float(min(most, ambient + (most - ambient) * (current_a / allowed) ** 2))


def _solve(circuit: Circuit, settings: Sequence[Setting], corners: Sequence[Corner], warm: Heating) -> Study:
    sweep = Sweep([at_corner(circuit, corner, warm) for corner in corners], settings)
    return study_of(circuit, sweep, sweep.healthy(), corners)


def study_of(circuit: Circuit, sweep: Sweep, points: Points, corners: Sequence[Corner]) -> Study:
    """Return solved points without faults as a study of the circuit as built."""
    net, rows = sweep.network, np.arange(len(points))
    contacts = len(net.contacts)
    islands = Islands(circuit)
    return Study(
        circuit=circuit,
        points=tuple(
            Point(sweep.settings[state].state, corners[corner])
            for corner, state in zip(points.corner, points.state, strict=True)
        ),
        alike=tuple(sweep.settings[state].alike for state in points.state),
        voltages_v=sweep.terminal_v(points, rows),
        currents_a=sweep.currents_a(points),
        input_a=sweep.input_a(points),
        pulled=tuple(
            frozenset(coil.ref for coil, is_in in zip(net.coils, row, strict=True) if is_in) for row in points.pulled
        ),
        floating=tuple(islands.named(row[:contacts]) for row in sweep.toggles(points, rows)),
        trouble=tuple(points.trouble.get(int(row), "") for row in rows),
    )


def solve_faults(
    circuit: Circuit,
    signals: Collection[str],
    faults: Sequence[Fault],
    corners: Sequence[Corner] = CORNERS,
    grounds: dict[str, str] | None = None,
) -> FaultStudy:
    """Solve every distinct state at every corner with every single fault.

    Args:
        circuit: The circuit as built.
        signals: Control signals the vehicle reacts to.
        faults: The faults.
        corners: The corners.
        grounds: Ground terminal by zone, for shorts.
    """
    settings = distinct_settings(circuit, signals)
    warm = _heating_for(circuit, settings, corners)
    sweep = Sweep([at_corner(circuit, corner, warm) for corner in corners], settings, faults, grounds)
    healthy = sweep.healthy()
    solved = sweep.faulty(healthy)
    consumers = [*circuit.of(Lamp), *circuit.of(Load)]
    across = _consumers_v(sweep, solved).reshape(len(healthy.state), len(faults), len(consumers))
    trouble = {divmod(point, len(faults)): words for point, words in solved.trouble.items()}
    for row, fault in trouble:
        across[row, fault] = np.nan
    points = tuple(
        Point(settings[state].state, corners[corner])
        for corner, state in zip(healthy.corner, healthy.state, strict=True)
    )
    return FaultStudy(circuit, points, tuple(faults), tuple(e.ref for e in consumers), across, trouble)


def _consumers_v(sweep: Sweep, points: Points) -> Array:
    """Return voltages across lamps, then loads, V, shape (points, consumers)."""
    lamps = points.port_v[: len(sweep.network.lamps.a)].T
    loads = points.watched_v[len(sweep.network.coils) :].T
    return np.concatenate([lamps, loads], axis=1)
