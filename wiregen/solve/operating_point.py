"""The nonlinear DC operating point of every state: nodal equations, Newton's method, relays iterated to rest.

All states are carried through each step together: arrays have the shape (states, terminals, ...). Terminals without any
path to the reference are found in the graph, named, and taken out of the equations; nothing is held up by a numerical
crutch.
"""

from __future__ import annotations

from collections.abc import Collection
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
from wiregen.model.study import Point, Study
from wiregen.solve.cycles import History
from wiregen.solve.devices import CONVERTER_BLEED_OHM, Converters, Diodes, Lamps
from wiregen.solve.refusals import refuse
from wiregen.solve.states import Setting, distinct_settings

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

#: Newton stops when no terminal's current balance is off by more than this, A.
RESIDUAL_A: Final = 1e-9
#: ... and the last step moved no voltage by more than this, V.
STEP_V: Final = 1e-9
_NEWTON_ROUNDS: Final = 60
_RELAY_ROUNDS: Final = 32
_HALVINGS: Final = 12


def solve(circuit: Circuit, signals: Collection[str]) -> Study:
    """Solve every distinct state of a circuit.

    Args:
        circuit: The rig with one trailer coupled.
        signals: Control signals the vehicle reacts to (``wiregen.build.circuit.vehicle_signals``).

    Raises:
        SolveError: A value no part can have, or no supply (``wiregen.solve.refusals``).
    """
    return _Solver(circuit, distinct_settings(circuit, signals)).run()


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
        self._islands: dict[bytes, tuple[Flags, tuple[tuple[str, ...], ...]]] = {}
        refuse(circuit)
        self.tolerance_a = RESIDUAL_A
        self.base, self.injected = self._base()

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
        history = [History((*self.coils, *self.converter_elements)) for _ in self.settings]
        trouble = [""] * self.count
        open_rows = np.ones(self.count, dtype=bool)
        for _ in range(_RELAY_ROUNDS):
            gates = self._gates(pulled)
            floating = self._floating(gates)
            volts, failed = self._newton(gates, on, floating)
            new_pulled, new_on = self._listen(volts, floating, pulled, on)
            changed = (new_pulled != pulled).any(axis=1) | (new_on != on).any(axis=1)
            for row in np.flatnonzero(changed & open_rows):
                trouble[row] = history[row].repeats(np.concatenate([new_pulled[row], new_on[row]]))
                open_rows[row] = not trouble[row]
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
        """Return which terminals have no path to the reference, shape (states, terminals)."""
        from networkx.utils import UnionFind

        floating = np.zeros((self.count, self.size), dtype=bool)
        seen = self._islands
        fixed = [
            (element.a, element.b)
            for element in self.circuit.elements
            if not isinstance(element, Switch | RelayContact | Converter)
        ]
        # A converter joins its output to its common minus through its bleed; its input hangs on what feeds it.
        fixed += [(converter.b, converter.common) for converter in self.converter_elements]
        for row in range(self.count):
            key = self.closed[row].tobytes() + gates[row].tobytes()
            if key not in seen:
                union = UnionFind(self.circuit.terminals)
                for a, b in fixed:
                    union.union(a, b)
                for elements, flags in ((self.switches, self.closed[row]), (self.relays, gates[row])):
                    for element, is_closed in zip(elements, flags, strict=True):
                        if is_closed:
                            union.union(element.a, element.b)
                root = union[self.circuit.reference]
                adrift = np.array([union[name] != root for name in self.circuit.terminals])
                groups = tuple(tuple(sorted(group)) for group in union.to_sets() if self.circuit.reference not in group)
                seen[key] = (adrift, tuple(sorted(groups)))
            floating[row] = seen[key][0]
            self.groups[row] = seen[key][1]
        return floating

    def _newton(self, gates: Flags, on: Flags, floating: Flags) -> tuple[Array, Flags]:
        """Return voltages V of shape (states, terminals) and which rows failed to converge."""
        linear = np.repeat(self.base[None], self.count, axis=0)
        for elements, flags in ((self.switches, self.closed), (self.relays, gates)):
            for column, element in enumerate(elements):
                conductance = flags[:, column] / element.resistance_ohm
                _stamp_many(linear, self.index[element.a], self.index[element.b], conductance)
        volts = self._first_guess(linear, on, floating)
        # Round-off of the largest conductance sets how exactly the currents can balance at all.
        self.tolerance_a = max(RESIDUAL_A, 256 * np.finfo(float).eps * float(np.abs(linear).max()) * 30.0)
        residual = self._residual(linear, volts, on, floating)
        last_step = np.full(self.count, np.inf)
        for _ in range(_NEWTON_ROUNDS):
            error = np.abs(residual).max(axis=1)
            active = (error > self.tolerance_a) | (last_step > STEP_V)
            if not active.any():
                break
            rows = np.flatnonzero(active)
            step = _solve_rows(self._jacobian(linear, volts, on, rows), -residual[rows], floating[rows])
            volts, residual = self._search(linear, volts, residual, on, floating, rows, step)
            last_step[rows] = np.abs(step).max(axis=1)
        error = np.abs(residual).max(axis=1)
        return volts, ~((error <= self.tolerance_a * 10) & (last_step <= STEP_V * 1000))

    def _first_guess(self, linear: Array, on: Flags, floating: Flags) -> Array:
        """Solve with every lamp at its rated resistance and every converter without input current."""
        guess = linear.copy()
        for a, b, volts, amps in zip(self.lamps.a, self.lamps.b, self.lamps.rated_v, self.lamps.rated_a, strict=True):
            _stamp_many(guess, int(a), int(b), np.full(self.count, amps / volts))
        right = np.repeat(self.injected[None], self.count, axis=0)
        for column, converter in enumerate(self.converter_elements):
            out, common = self.index[converter.b], self.index[converter.common]
            conductance = on[:, column] / converter.resistance_ohm
            _stamp_many(guess, out, common, conductance)
            source_v = min(converter.output_v, 60.0)
            right[:, out] += conductance * source_v
            right[:, common] -= conductance * source_v
        return _solve_rows(guess, right, floating)

    def _residual(self, linear: Array, volts: Array, on: Flags, floating: Flags) -> Array:
        """Return the current leaving each terminal in excess of what arrives, A; zero for floating and reference."""
        residual: Array = np.einsum("sij,sj->si", linear, volts) - self.injected
        for devices in (self.lamps, self.diodes):
            current, _ = devices.current_and_slope(volts[:, devices.a] - volts[:, devices.b])
            for column, (a, b) in enumerate(zip(devices.a, devices.b, strict=True)):
                residual[:, a] += current[:, column]
                residual[:, b] -= current[:, column]
        c = self.converters
        point = c.currents(volts[:, c.a] - volts[:, c.common], volts[:, c.b] - volts[:, c.common], on)
        for column, (a, b, common) in enumerate(zip(c.a, c.b, c.common, strict=True)):
            residual[:, a] += point.i_in[:, column]
            residual[:, b] -= point.i_out[:, column]
            residual[:, common] += point.i_out[:, column] - point.i_in[:, column]
        residual[floating] = 0.0
        residual[:, 0] = 0.0
        return residual

    def _jacobian(self, linear: Array, volts: Array, on: Flags, rows: npt.NDArray[np.intp]) -> Array:
        jacobian = linear[rows]
        for devices in (self.lamps, self.diodes):
            _, slope = devices.current_and_slope(volts[rows][:, devices.a] - volts[rows][:, devices.b])
            for column, (a, b) in enumerate(zip(devices.a, devices.b, strict=True)):
                _stamp_many(jacobian, int(a), int(b), slope[:, column])
        c = self.converters
        some = volts[rows]
        point = c.currents(some[:, c.a] - some[:, c.common], some[:, c.b] - some[:, c.common], on[rows])
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

    def _search(
        self,
        linear: Array,
        volts: Array,
        residual: Array,
        on: Flags,
        floating: Flags,
        rows: npt.NDArray[np.intp],
        step: Array,
    ) -> tuple[Array, Array]:
        """Take the Newton step, halved row by row while it makes the balance worse."""
        scale = np.zeros(self.count)
        scale[rows] = 1.0
        full = np.zeros_like(volts)
        full[rows] = step
        before = np.abs(residual).max(axis=1)
        for _ in range(_HALVINGS):
            trial = volts + scale[:, None] * full
            new = self._residual(linear, trial, on, floating)
            worse = (np.abs(new).max(axis=1) > np.maximum(before, self.tolerance_a)) & (scale > 0)
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


def _solve_rows(matrices: Array, right: Array, floating: Flags) -> Array:
    """Solve each row's equations with the reference and the floating terminals held at zero."""
    held = floating.copy()
    held[:, 0] = True
    matrices = np.where(held[:, :, None] | held[:, None, :], 0.0, matrices)
    diagonal = np.arange(matrices.shape[1])
    matrices[:, diagonal, diagonal] += held
    return np.asarray(np.linalg.solve(matrices, np.where(held, 0.0, right)[..., None])[..., 0])
