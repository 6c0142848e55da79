"""The plain solver: nodal equations of every terminal, Newton's method, each circuit switched on from dark.

It is the reference that the fast solver (``wiregen.solve.full_study``) is held against, written so that each step can
be read: no port, no low-rank change, no starting point taken over. All states are carried through each step together:
arrays have the shape (states, terminals, ...). Terminals without any path to the reference are found in the graph,
named, and have no voltage; nothing is held up by a numerical crutch.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Converter,
    Diode,
    Lamp,
    RelayContact,
    Resistive,
    Switch,
)
from wiregen.model.connection import joined
from wiregen.model.study import Point, Study
from wiregen.solve.cycles import Histories
from wiregen.solve.devices import CONVERTER_BLEED_OHM, Converters, Diodes, Lamps
from wiregen.solve.refusals import refuse
from wiregen.solve.states import Setting, distinct_settings

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

#: Newton stops when no terminal's current balance is off by more than this, A.
RESIDUAL_A: Final = 1e-9
#: ... and the last step moved no voltage by more than this, V,
STEP_V: Final = 1e-9
#: or the last two moved none by more than this: on a terminal that hangs on megohms the rest is round-off, V.
NOISE_V: Final = 1e-5
_NEWTON_ROUNDS: Final = 60
_RELAY_ROUNDS: Final = 32
_HALVINGS: Final = 12
#: Conductance of the capacitors in the first and in the last step, S, and how it changes after a step that is taken and
#: after one that finds no balance.
FIRST_S: Final = 1e4
LAST_S: Final = 1e-12
GROWTH: Final = 4.0
RETREAT: Final = 32.0
_STEPS: Final = 100
#: The last step may move a voltage by this share of the highest one; more is a jump to another operating point.
_REST: Final = 1e-3


def solve(circuit: Circuit, signals: Collection[str]) -> Study:
    """Solve every distinct state of a circuit.

    Args:
        circuit: The rig with one trailer coupled.
        signals: Control signals the vehicle reacts to (``wiregen.circuit.build.vehicle_signals``).

    Raises:
        SolveError: A value no part can have, or no supply (``wiregen.solve.refusals``).
    """
    return _Solver(circuit, distinct_settings(circuit, signals)).run()


@dataclass(frozen=True)
class _System:
    """The equations of some rows: conductances S, injected currents A, converters that run, terminals held at 0 V."""

    linear: Array
    injected: Array
    on: Flags
    held: Flags

    def rows(self, rows: npt.NDArray[np.intp]) -> _System:
        return _System(self.linear[rows], self.injected[rows], self.on[rows], self.held[rows])


class _Solver:
    """Arrays of one circuit; the row of the reference terminal is 0 and is left out of the equations."""

    def __init__(self, circuit: Circuit, settings: tuple[Setting, ...]) -> None:
        self.circuit = circuit
        self.settings = settings
        self.index = {name: row for row, name in enumerate(circuit.terminals)}
        self.size = len(self.index)
        self.count = len(settings)
        self.switches = circuit.of(Switch)
        self.relays = circuit.of(RelayContact)
        self.coils = circuit.of(Coil)
        self.converter_elements = circuit.of(Converter)
        self.lamps = Lamps.of(circuit.of(Lamp), self.index)
        self.converters = Converters.of(circuit, self.index)
        self.diodes = Diodes.of(circuit.of(Diode), self.index)
        self.closed = np.array([setting.closed for setting in settings], dtype=bool).reshape(
            self.count, len(self.switches)
        )
        self.groups: list[tuple[tuple[str, ...], ...]] = [()] * self.count
        self._islands: dict[bytes, tuple[Flags, Flags, tuple[tuple[str, ...], ...]]] = {}
        self.held = np.zeros((self.count, self.size), dtype=bool)
        refuse(circuit)
        self.tolerance_a = RESIDUAL_A
        self.base, self.injected = self._base()
        self.capacitors = np.zeros_like(self.base)
        c = self.converters
        pairs = ((self.lamps.a, self.lamps.b), (c.a, c.common), (c.b, c.common), (self.diodes.a, self.diodes.b))
        for a, b in (pair for ends in pairs for pair in zip(*ends, strict=True)):
            _stamp(self.capacitors, int(a), int(b), 1.0)

    def _base(self) -> tuple[Array, Array]:
        """Return conductances of what always conducts, and currents that the batteries inject, S and A."""
        base = np.zeros((self.size, self.size))
        injected = np.zeros(self.size)
        for element in self.circuit.elements:
            if isinstance(element, Switch | RelayContact) or not isinstance(element, Resistive | Battery):
                continue
            _stamp(base, self.index[element.a], self.index[element.b], 1 / element.resistance_ohm)
            if isinstance(element, Battery):
                current = element.voltage_v / element.resistance_ohm
                injected[self.index[element.a]] += current
                injected[self.index[element.b]] -= current
        for converter in self.converter_elements:
            _stamp(base, self.index[converter.b], self.index[converter.common], 1 / CONVERTER_BLEED_OHM)
        for diode in self.circuit.of(Diode):
            _stamp(base, self.index[diode.a], self.index[diode.b], 1 / diode.leak_ohm)
        return base, injected

    def run(self) -> Study:
        """Iterate relays and converters until none changes, with Newton inside."""
        pulled = np.zeros((self.count, len(self.coils)), dtype=bool)
        on = np.zeros((self.count, len(self.converter_elements)), dtype=bool)
        histories = Histories((*self.coils, *self.converter_elements), self.count)
        trouble = [""] * self.count
        open_rows = np.ones(self.count, dtype=bool)
        for _ in range(_RELAY_ROUNDS):
            gates = self._gates(pulled)
            floating = self._floating(gates)
            volts, failed = self._switch_on(gates, on)
            new_pulled, new_on = self._listen(volts, floating, pulled, on)
            changed = (new_pulled != pulled).any(axis=1) | (new_on != on).any(axis=1)
            rows = np.flatnonzero(changed & open_rows)
            for place, words in histories.repeats(rows, np.concatenate([new_pulled, new_on], axis=1)[rows]).items():
                trouble[rows[place]] = words
                open_rows[rows[place]] = False
            go_on = changed & open_rows
            if not go_on.any():
                break
            pulled = np.where(go_on[:, None], new_pulled, pulled)
            on = np.where(go_on[:, None], new_on, on)
        else:
            for row in np.flatnonzero(go_on):
                trouble[row] = "relays did not come to rest"
        for row in np.flatnonzero(failed):
            trouble[row] = trouble[row] or "no operating point found: Newton's method did not converge"
        return self._study(volts, pulled, on, gates, floating, trouble)

    def _gates(self, pulled: Flags) -> Flags:
        """Return which relay contacts are closed, shape (states, relay contacts)."""
        gates = np.zeros((self.count, len(self.relays)), dtype=bool)
        for row in range(self.count):
            refs = self._refs(pulled[row])
            gates[row] = [contact.gate.is_open_to(refs) for contact in self.relays]
        return gates

    def _refs(self, pulled: Flags) -> frozenset[str]:
        return frozenset(coil.ref for coil, is_in in zip(self.coils, pulled, strict=True) if is_in)

    def _floating(self, gates: Flags) -> Flags:
        """Return which terminals have no path to the reference, shape (states, terminals).

        Of each piece one is held at 0 V, as the reference is: the voltages inside the piece still hold.
        """
        floating = np.zeros((self.count, self.size), dtype=bool)
        # A converter joins its output to its common minus through its bleed; its input hangs on what feeds it.
        inputs = {f"{converter.ref}/in" for converter in self.converter_elements}
        contacts = (*self.switches, *self.relays)
        for row in range(self.count):
            closed = (*self.closed[row], *gates[row])
            key = bytes(bytearray(map(bool, closed)))
            if key not in self._islands:
                opened = {element.ref for element, is_closed in zip(contacts, closed, strict=True) if not is_closed}
                pieces = joined(self.circuit.graph(opened | inputs))
                groups = tuple(sorted(tuple(sorted(piece)) for piece in pieces if self.circuit.reference not in piece))
                adrift = np.isin(self.circuit.terminals, [name for group in groups for name in group])
                held = np.zeros(self.size, dtype=bool)
                held[[0, *(self.index[group[0]] for group in groups)]] = True
                self._islands[key] = (adrift, held, groups)
            floating[row], self.held[row], self.groups[row] = self._islands[key]
        return floating

    def _switch_on(self, gates: Flags, on: Flags) -> tuple[Array, Flags]:
        """Return voltages V of shape (states, terminals) that a circuit reaches from dark, and which rows failed.

        Every lamp, converter input and output, and diode gets a capacitor, all empty at first, and time steps grow
        until nothing moves: of several operating points this is the one that a circuit really takes.
        """
        linear = np.repeat(self.base[None], self.count, axis=0)
        for elements, flags in ((self.switches, self.closed), (self.relays, gates)):
            for column, element in enumerate(elements):
                conductance = flags[:, column] / element.resistance_ohm
                _stamp_many(linear, self.index[element.a], self.index[element.b], conductance)
        # Round-off of the largest conductance sets how exactly the currents can balance at all.
        self.tolerance_a = max(RESIDUAL_A, 256 * np.finfo(float).eps * float(np.abs(linear).max()) * 30.0)
        volts = np.zeros((self.count, self.size))
        step_s = np.full(self.count, FIRST_S)
        failed = np.ones(self.count, dtype=bool)
        busy = np.ones(self.count, dtype=bool)
        for _ in range(_STEPS):
            rows = np.flatnonzero(busy)
            if not len(rows):
                break
            last = step_s[rows] <= LAST_S
            extra = np.where(last, 0.0, step_s[rows])
            system = _System(
                linear[rows] + extra[:, None, None] * self.capacitors,
                self.injected + extra[:, None] * (volts[rows] @ self.capacitors),
                on[rows],
                self.held[rows],
            )
            now, fine = self._newton(system, volts[rows])
            moved = np.abs(now - volts[rows]).max(axis=1) > _REST * np.abs(now).max(axis=1)
            failed[rows] = ~(fine & last & ~moved)
            volts[rows[fine]] = now[fine]
            step_s[rows] = np.where(fine, np.maximum(step_s[rows] / GROWTH, LAST_S), step_s[rows] * RETREAT)
            busy[rows] = ~(last & fine) & (step_s[rows] <= FIRST_S * RETREAT)
        return volts, failed

    def _newton(self, system: _System, start: Array) -> tuple[Array, Flags]:
        """Return voltages and which rows converged."""
        volts = start.copy()
        residual = self._residual(system, volts)
        last_step = np.full(len(volts), np.inf)
        step_before = last_step.copy()
        for _ in range(_NEWTON_ROUNDS):
            error = np.abs(residual).max(axis=1)
            still = (last_step <= STEP_V) | (np.maximum(last_step, step_before) <= NOISE_V)
            active = (error > self.tolerance_a) | ~still
            if not active.any():
                break
            rows = np.flatnonzero(active)
            some = system.rows(rows)
            step = _solve_rows(self._jacobian(some, volts[rows]), -residual[rows], some.held)
            volts[rows], residual[rows] = self._search(some, volts[rows], residual[rows], step)
            step_before[rows], last_step[rows] = last_step[rows], np.abs(step).max(axis=1)
        error = np.abs(residual).max(axis=1)
        return volts, (error <= self.tolerance_a * 10) & (last_step <= NOISE_V)

    def _residual(self, system: _System, volts: Array) -> Array:
        """Return the current leaving each terminal in excess of what arrives, A; zero where a terminal is held."""
        residual: Array = np.einsum("sij,sj->si", system.linear, volts) - system.injected
        for devices in (self.lamps, self.diodes):
            current, _ = devices.current_and_slope(volts[:, devices.a] - volts[:, devices.b])
            for column, (a, b) in enumerate(zip(devices.a, devices.b, strict=True)):
                residual[:, a] += current[:, column]
                residual[:, b] -= current[:, column]
        c = self.converters
        point = c.currents(volts[:, c.a] - volts[:, c.common], volts[:, c.b] - volts[:, c.common], system.on)
        for column, (a, b, common) in enumerate(zip(c.a, c.b, c.common, strict=True)):
            residual[:, a] += point.i_in[:, column]
            residual[:, b] -= point.i_out[:, column]
            residual[:, common] += point.i_out[:, column] - point.i_in[:, column]
        residual[system.held] = 0.0
        return residual

    def _jacobian(self, system: _System, volts: Array) -> Array:
        jacobian = system.linear.copy()
        for devices in (self.lamps, self.diodes):
            _, slope = devices.current_and_slope(volts[:, devices.a] - volts[:, devices.b])
            for column, (a, b) in enumerate(zip(devices.a, devices.b, strict=True)):
                _stamp_many(jacobian, int(a), int(b), slope[:, column])
        c = self.converters
        point = c.currents(volts[:, c.a] - volts[:, c.common], volts[:, c.b] - volts[:, c.common], system.on)
        for column, (a, b, m) in enumerate(zip(c.a, c.b, c.common, strict=True)):
            by = {
                (a, a): point.in_by_in,
                (a, b): point.in_by_out,
                (b, a): -point.out_by_in,
                (b, b): -point.out_by_out,
                (m, a): point.out_by_in - point.in_by_in,
                (m, b): point.out_by_out - point.in_by_out,
            }
            for (i, j), slopes in by.items():
                jacobian[:, i, j] += slopes[:, column]
                jacobian[:, i, m] -= slopes[:, column]
        return jacobian

    def _search(self, system: _System, volts: Array, residual: Array, step: Array) -> tuple[Array, Array]:
        """Take the Newton step, halved row by row while it makes the balance worse."""
        scale = np.ones(len(volts))
        before = np.abs(residual).max(axis=1)
        for _ in range(_HALVINGS):
            trial = volts + scale[:, None] * step
            new = self._residual(system, trial)
            worse = np.abs(new).max(axis=1) > np.maximum(before, self.tolerance_a)
            if not worse.any():
                break
            scale[worse] /= 2
        return trial, new

    def _listen(self, volts: Array, floating: Flags, pulled: Flags, on: Flags) -> tuple[Flags, Flags]:
        """Return which coils pull and which converters run at these voltages."""
        new_pulled, new_on = pulled.copy(), on.copy()
        for column, coil in enumerate(self.coils):
            a, b = self.index[coil.a], self.index[coil.b]
            across = np.abs(volts[:, a] - volts[:, b]) * ~(floating[:, a] | floating[:, b])
            new_pulled[:, column] = (across >= coil.pick_up_v) | (pulled[:, column] & (across >= coil.drop_out_v))
        for column, converter in enumerate(self.converter_elements):
            a, common = self.index[converter.a], self.index[converter.common]
            v_in = (volts[:, a] - volts[:, common]) * ~(floating[:, a] | floating[:, common])
            enough = v_in >= converter.minimum_input_v
            if converter.gate is not None:
                gate = converter.gate
                enough &= np.array([gate.is_open_to(self._refs(row)) for row in new_pulled])
            new_on[:, column] = enough
        return new_pulled, new_on

    def _study(
        self, volts: Array, pulled: Flags, on: Flags, gates: Flags, floating: Flags, trouble: list[str]
    ) -> Study:
        elements = self.circuit.elements
        currents = np.zeros((self.count, len(elements)))
        flags = {e.ref: self.closed[:, i] for i, e in enumerate(self.switches)}
        flags |= {e.ref: gates[:, i] for i, e in enumerate(self.relays)}
        lamp_current, _ = self.lamps.current_and_slope(volts[:, self.lamps.a] - volts[:, self.lamps.b])
        lamp_column = {lamp.ref: i for i, lamp in enumerate(self.circuit.of(Lamp))}
        forward, _ = self.diodes.current_and_slope(volts[:, self.diodes.a] - volts[:, self.diodes.b])
        diode_column = {diode.ref: i for i, diode in enumerate(self.circuit.of(Diode))}
        c = self.converters
        point = c.currents(volts[:, c.a] - volts[:, c.common], volts[:, c.b] - volts[:, c.common], on)
        converter_column = {e.ref: i for i, e in enumerate(self.converter_elements)}
        for column, element in enumerate(elements):
            across = volts[:, self.index[element.a]] - volts[:, self.index[element.b]]
            if isinstance(element, Lamp):
                currents[:, column] = lamp_current[:, lamp_column[element.ref]]
            elif isinstance(element, Converter):
                currents[:, column] = point.i_out[:, converter_column[element.ref]]
            elif isinstance(element, Diode):
                currents[:, column] = forward[:, diode_column[element.ref]] + across / element.leak_ohm
            elif isinstance(element, Battery):
                currents[:, column] = (across - element.voltage_v) / element.resistance_ohm
            elif isinstance(element, Resistive):
                currents[:, column] = across / element.resistance_ohm * flags.get(element.ref, 1.0)
        currents[np.abs(currents) < RESIDUAL_A] = 0.0
        return Study(
            circuit=self.circuit,
            points=tuple(Point(setting.state) for setting in self.settings),
            alike=tuple(setting.alike for setting in self.settings),
            voltages_v=np.where(floating, np.nan, volts),
            currents_a=currents,
            input_a={ref: point.i_in[:, i] for ref, i in converter_column.items()},
            pulled=tuple(self._refs(row) for row in pulled),
            floating=tuple(self.groups),
            trouble=tuple(trouble),
        )


def _stamp(matrix: Array, a: int, b: int, conductance: float) -> None:
    matrix[a, a] += conductance
    matrix[b, b] += conductance
    matrix[a, b] -= conductance
    matrix[b, a] -= conductance


def _stamp_many(matrices: Array, a: int, b: int, conductance: Array) -> None:
    matrices[:, a, a] += conductance
    matrices[:, b, b] += conductance
    matrices[:, a, b] -= conductance
    matrices[:, b, a] -= conductance


def _solve_rows(matrices: Array, right: Array, held: Flags) -> Array:
    """Solve each row's equations with the held terminals at zero."""
    matrices = np.where(held[:, :, None] | held[:, None, :], 0.0, matrices)
    diagonal = np.arange(matrices.shape[1])
    matrices[:, diagonal, diagonal] += held
    return np.asarray(np.linalg.solve(matrices, np.where(held, 0.0, right)[..., None])[..., 0])
