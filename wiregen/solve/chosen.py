"""A few chosen states at chosen corners, with the circuit as it is there: for readings and netlists."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from wiregen.model.circuit import Battery, Circuit, Switch
from wiregen.model.corner import NOMINAL, Corner
from wiregen.model.state import Controls, State, every_controls
from wiregen.model.study import Study
from wiregen.solve.corners import at_corner
from wiregen.solve.full_study import heating, study_of
from wiregen.solve.states import Setting, distinct_settings
from wiregen.solve.sweep import Sweep

#: Currents nearer to each other than this are the same, A.
_SAME_A = 1e-6


@dataclass(frozen=True)
class Chosen:
    """Solved states.

    Attributes:
        study: All states of the first corner, then all of the second ...
        circuits: The circuit at each corner, in the order of the corners.
    """

    study: Study
    circuits: tuple[Circuit, ...]


def solve_chosen(
    circuit: Circuit, signals: Collection[str], states: Sequence[State], corners: Sequence[Corner]
) -> Chosen:
    """Solve chosen states at chosen corners.

    Args:
        circuit: The circuit as built.
        signals: Control signals the vehicle reacts to; all their states heat the conductors of hot corners.
        states: The states.
        corners: The corners.

    Raises:
        SolveError: The circuit cannot be solved at all.
    """
    settings = [Setting(closed_switches(circuit, state), state, 1) for state in states]
    if any(corner.warmth == "hot" for corner in corners):
        warm = heating(circuit, distinct_settings(circuit, signals))
        circuits = [at_corner(circuit, corner, warm) for corner in corners]
    else:
        circuits = [at_corner(circuit, corner) for corner in corners]
    sweep = Sweep(circuits, settings)
    return Chosen(study_of(circuit, sweep, sweep.healthy(), corners), tuple(circuits))


def states_of(circuit: Circuit, controls: Controls, halves: Collection[bool] = (True, False)) -> tuple[State, ...]:
    """Return the states of a setting of the controls: both halves of the flash where a switch follows it.

    Args:
        circuit: The circuit.
        controls: The setting.
        halves: Which halves are wanted: True lit, False dark.
    """
    flashing = closed_switches(circuit, State(controls)) != closed_switches(circuit, State(controls, lit=False))
    if not flashing:
        return (State(controls),)
    return tuple(State(controls, lit=lit, flashing=True) for lit in (True, False) if lit in halves)


def single_controls(circuit: Circuit, signals: Collection[str]) -> tuple[Controls, ...]:
    """Return the settings worth reading first: all off, and each control by itself.

    A control that does nothing by itself, such as a fog lamp that wants the service lights, comes with them; one that
    does nothing then either is left out.
    """
    found: list[Controls] = [Controls()]
    rest = {closed_switches(circuit, State(Controls(), lit=lit)) for lit in (True, False)}
    lit_up = {closed_switches(circuit, State(Controls("service"), lit=lit)) for lit in (True, False)}
    for controls in every_controls(signals):
        with_lights = replace(controls, lighting="service")
        if controls.weight != 1:
            continue
        if closed_switches(circuit, State(controls)) not in rest:
            found.append(controls)
        elif "lights" in signals and closed_switches(circuit, State(with_lights)) not in lit_up:
            found.append(with_lights)
    return tuple(found)


def heaviest(circuit: Circuit, signals: Collection[str]) -> Controls | None:
    """Return the setting in which the vehicle's batteries give most at the nominal corner; None where none is trusted.

    Of settings that take the same the simplest, as everywhere.

    Raises:
        SolveError: The circuit cannot be solved at all.
    """
    states = every_state(circuit, signals)
    study = solve_chosen(circuit, signals, states, (NOMINAL,)).study
    given = [battery.ref for battery in circuit.of(Battery) if battery.zone == "vehicle"]
    taken_a = [-math.fsum(float(study.current_a(ref)[row]) for ref in given) for row in range(len(states))]
    trusted = [row for row, why in enumerate(study.trouble) if not why]
    if not trusted or not given:
        return None
    most_a = max(taken_a[row] for row in trusted)
    return next(states[row].controls for row in trusted if taken_a[row] >= most_a - _SAME_A)


def every_state(circuit: Circuit, signals: Collection[str]) -> tuple[State, ...]:
    """Return every state that sets the switches differently, the simplest first."""
    return tuple(setting.state for setting in distinct_settings(circuit, signals))


def closed_switches(circuit: Circuit, state: State) -> tuple[bool, ...]:
    """Return which switches of a circuit are closed in a state, in their order in the circuit."""
    signals = state.controls.signals(lit=state.lit, stop_wins=circuit.stop_wins)
    return tuple(switch.live.value(signals) for switch in circuit.of(Switch))
