"""Every state of a circuit, solved and told in words for a picture: live, return, dead, floating."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from wiregen.catalogue.lamps import light_ratio
from wiregen.model.circuit import Circuit, Conductor, Contact, Element, Lamp, Load, Path, RelayContact, Switch, ends
from wiregen.model.live import Condition, LiveState, LiveTable, Show
from wiregen.model.reading import StateReadings
from wiregen.model.state import State, every_controls
from wiregen.model.study import Array, Study
from wiregen.solve.chosen import closed_switches, every_state, solve_chosen
from wiregen.solve.readings import READ_CORNERS, readings_of

#: Below this a terminal is told as dead: more than a leak through a dark LED lamp, less than any lamp shows, V.
LIVE_FROM_V = 1.0
#: Below this no current worth showing flows, A.
CARRIES_FROM_A = 0.001
#: A filament with less light than this share is told as dark, one below the second share as dim. The first is too
#: little to see by day (assumed); the second is the light at 85 % of the voltage.
DARK_BELOW, DIM_BELOW = 0.005, light_ratio(0.85)


def live_table(circuit: Circuit, signals: Collection[str]) -> LiveTable:
    """Solve every state that sets the switches differently.

    Args:
        circuit: The circuit as built.
        signals: Control signals the vehicle reacts to.

    Raises:
        SolveError: The circuit cannot be solved at all.
    """
    states = every_state(circuit, signals)
    number = {closed_switches(circuit, state): row for row, state in enumerate(states)}
    study = solve_chosen(circuit, signals, states, READ_CORNERS).study
    readings = readings_of(study, states)
    grounded = _ground_side(circuit)
    return LiveTable(
        circuit=circuit,
        states=tuple(_live(study, row, state, grounded, readings) for row, state in enumerate(states)),
        rows=tuple(
            (
                number[closed_switches(circuit, State(controls))],
                number[closed_switches(circuit, State(controls, lit=False))],
            )
            for controls in every_controls(signals)
        ),
    )


def _metal(circuit: Circuit) -> tuple[Element, ...]:
    return (*circuit.of(Conductor), *circuit.of(Contact), *circuit.of(Path))


def _ground_side(circuit: Circuit) -> frozenset[str]:
    """Return the terminals that plain metal joins to the reference."""
    joined: dict[str, list[str]] = {}
    for element in _metal(circuit):
        joined.setdefault(element.a, []).append(element.b)
        joined.setdefault(element.b, []).append(element.a)
    reached, ahead = {circuit.reference}, [circuit.reference]
    while ahead:
        for other in joined.get(ahead.pop(), ()):
            if other not in reached:
                reached.add(other)
                ahead.append(other)
    return frozenset(reached)


def _live(
    study: Study, row: int, state: State, grounded: frozenset[str], readings: tuple[StateReadings, ...]
) -> LiveState:
    circuit = study.circuit
    volts, amps = study.voltages_v[row], study.currents_a[row]
    trouble = study.trouble[row]
    consumers: list[Lamp | Load] = [*circuit.of(Lamp), *circuit.of(Load)]
    return LiveState(
        state=state,
        conditions=_conditions(circuit, volts, amps, grounded),
        volts_v=tuple(None if trouble or np.isnan(value) else float(value) for value in volts),
        amps_a=tuple(None if trouble or np.isnan(value) else float(value) for value in amps),
        working=_working(circuit, state, study.pulled[row]),
        shows={lamp.ref: _shows(lamp, float(study.across_v(lamp)[row])) for lamp in consumers},
        readings=readings[row],
        trouble=trouble,
    )


def _conditions(circuit: Circuit, volts: Array, amps: Array, grounded: frozenset[str]) -> tuple[Condition, ...]:
    carrying = {
        end
        for element, value in zip(circuit.elements, amps, strict=True)
        if abs(value) >= CARRIES_FROM_A
        for end in ends(element)
    }
    made: list[Condition] = []
    for terminal, value in zip(circuit.terminals, volts, strict=True):
        if np.isnan(value):
            made.append("floating")
        elif terminal in grounded:
            made.append("return" if terminal in carrying else "dead")
        else:
            made.append("live" if abs(value) >= LIVE_FROM_V else "dead")
    return tuple(made)


def _working(circuit: Circuit, state: State, pulled: frozenset[str]) -> frozenset[str]:
    switches = zip(circuit.of(Switch), closed_switches(circuit, state), strict=True)
    closed = {switch.ref for switch, is_closed in switches if is_closed}
    return frozenset(pulled | closed | {c.ref for c in circuit.of(RelayContact) if c.gate.is_open_to(pulled)})


def _shows(part: Lamp | Load, across_v: float) -> Show:
    """Return what a lamp or load shows at a voltage; one whose voltage is not known is told as dark."""
    volts = 0.0 if np.isnan(across_v) else abs(across_v)
    if volts > part.max_v:
        return "bright"
    if isinstance(part, Lamp) and part.technology != "filament":
        if volts < max(part.cut_off_v, LIVE_FROM_V):
            return "dark"
        return "dim" if volts < part.min_v else "lit"
    light = light_ratio(volts / (part.rated_v if isinstance(part, Lamp) else part.nominal_v))
    return "dark" if light < DARK_BELOW else "dim" if light < DIM_BELOW else "lit"
