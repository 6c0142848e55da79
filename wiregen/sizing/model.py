"""A solved operating point as a linear network in which conductors and fuses may be exchanged.

Around a solved point every element is a conductance and a fixed current that reproduce its voltage and its current:
lamps, coils, loads and converters with the slope of their law there, everything of metal with its resistance.
Exchanging conductors changes conductances only, so that the voltages of any other choice follow exactly in the network
and to first order in the loads: I(V) stays on its tangent. Near a choice that keeps the limits, voltages move by a few
per cent, and the tangent is off by a fraction of a per cent of the drop. It serves to leave out what cannot be; what
is taken is always solved in full.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from wiregen.catalogue.conductors import copper_factor, resistance_per_m
from wiregen.catalogue.fuses import resistance_ohm
from wiregen.model.circuit import (
    Battery,
    Coil,
    Conductor,
    Converter,
    Diode,
    Element,
    Fuse,
    Lamp,
    Load,
    RelayContact,
    Resistive,
    Switch,
)
from wiregen.model.study import Array, Study
from wiregen.sizing.problem import SizedWire, SizingProblem

#: Less than this is no current, A, and no voltage, V.
_NOTHING = 1e-9
#: Of the droop current of a converter; further away it is at its limit.
_DROOP = 1e-3
#: Ties terminals that nothing joins, so that the equations can be solved, S.
_LEAK_S = 1e-12
#: Slope of a filament's current against its voltage, both as shares (I ∝ V^0.55, S35).
_FILAMENT = 0.55


@dataclass(frozen=True, slots=True)
class Target:
    """A voltage to watch: of terminal ``a`` against ``b``, less that of ``c`` against ``d`` where they are given.

    Attributes:
        a: Terminal.
        b: Terminal it is counted from.
        c: Terminal of a supply, or an empty text.
        d: Terminal it is counted from.
    """

    a: str
    b: str
    c: str = ""
    d: str = ""


class PointModel:
    """One row of a study, linear.

    Args:
        problem: What may be exchanged.
        study: A solved study.
        row: The row.
        heat_a: Highest current of each element at hot corners, A, by designation; it heats conductors.
    """

    def __init__(self, problem: SizingProblem, study: Study, row: int, heat_a: Mapping[str, float]) -> None:
        self._volts = study.voltages_v[row]
        index = {name: number for number, name in enumerate(study.circuit.terminals)}
        self._index = index
        self._is_hot = study.points[row].corner.warmth == "hot"
        count = len(index)
        matrix = np.eye(count) * _LEAK_S
        reference = index[study.circuit.reference]
        edges: list[tuple[int, int, Array]] = []
        slots: list[int] = []
        for element, current in zip(study.circuit.elements, study.currents_a[row], strict=True):
            a, b = index[element.a], index[element.b]
            across = float(self._volts[a] - self._volts[b])
            if not np.isfinite(across):
                continue
            if isinstance(element, Converter):
                self._converter(matrix, element, study.input_a[element.ref][row], float(current))
                continue
            slope = _slope(element, across, float(current))
            _stamp(matrix, a, b, slope)
            other = self._exchanged(problem, element, slope, heat_a.get(element.ref, 0.0))
            if other is not None:
                edges.append((a, b, other - slope))
                slots.append(_slot_of(problem, element.ref))
        self._slots = slots
        self._changes = [change for _, _, change in edges]
        incidence = np.zeros((count, len(edges)))
        for number, (a, b, _) in enumerate(edges):
            incidence[a, number] += 1.0
            incidence[b, number] -= 1.0
        incidence[reference] = 0.0
        matrix[reference] = 0.0
        matrix[reference, reference] = 1.0
        volts = np.nan_to_num(self._volts)
        self._response = np.linalg.solve(matrix, incidence)
        self._coupling = incidence.T @ self._response
        self._across = incidence.T @ volts

    def _converter(self, matrix: Array, converter: Converter, input_a: float, output_a: float) -> None:
        index, volts = self._index, np.nan_to_num(self._volts)
        a, b, common = index[converter.a], index[converter.b], index[converter.common]
        v_in, v_out = float(volts[a] - volts[common]), float(volts[b] - volts[common])
        if output_a <= _NOTHING and input_a <= _NOTHING:
            return
        follows = converter.ratio * v_in < converter.output_v
        droop_a = ((converter.ratio * v_in if follows else converter.output_v) - v_out) / converter.resistance_ohm
        slope = 1 / converter.resistance_ohm if abs(droop_a - output_a) <= _DROOP * max(1.0, droop_a) else 0.0
        by_in = converter.ratio * slope if follows else 0.0
        # The output current flows from common to b and falls with v_out.
        for row, sign in ((b, 1.0), (common, -1.0)):
            matrix[row, b] += sign * slope
            matrix[row, common] -= sign * (slope - by_in)
            matrix[row, a] -= sign * by_in
        safe_in = max(v_in, 1e-3)
        factor = 1 / (converter.efficiency * safe_in)
        in_by_out = (output_a - v_out * slope) * factor
        in_by_in = v_out * by_in * factor - v_out * output_a * factor / safe_in
        for row, sign in ((a, 1.0), (common, -1.0)):
            matrix[row, a] += sign * in_by_in
            matrix[row, b] += sign * in_by_out
            matrix[row, common] -= sign * (in_by_in + in_by_out)

    def _exchanged(self, problem: SizingProblem, element: Element, slope: float, heat_a: float) -> Array | None:
        """Return the conductance of an element with every option of its slot, S; None where it has none."""
        if isinstance(element, Conductor) and (wire := problem.by_ref.get(element.ref)):
            ratio = self._ratios(problem, wire, element, heat_a)
        elif isinstance(element, Fuse) and element.ref in problem.fuses:
            slot = problem.slots[problem.fuses[element.ref]]
            worst = heat_a if self._is_hot else 0.0
            ohms = np.array([resistance_ohm(slot.rating_a(n), worst) for n in range(len(slot.options))])
            ratio = resistance_ohm(element.rating_a, worst) / ohms
        else:
            return None
        return np.asarray(slope * ratio)

    def _ratios(self, problem: SizingProblem, wire: SizedWire, element: Conductor, heat_a: float) -> Array:
        slot = problem.slots[wire.slot]
        sizes = [slot.size(number) for number in range(len(slot.options))]
        now = resistance_per_m(element.size, 20.0).ohm_per_m
        ratio = now / np.array([resistance_per_m(size, 20.0).ohm_per_m for size in sizes])
        if not self._is_hot:
            return np.asarray(ratio)
        warmth = np.array([copper_factor(hot_c(wire, wire.allowed_a(size), heat_a)) for size in sizes])
        return np.asarray(ratio * copper_factor(hot_c(wire, wire.allowed_a(element.size), heat_a)) / warmth)

    def values(self, targets: Sequence[Target], choices: Sequence[Sequence[int]]) -> Array:
        """Return the voltages of targets in this row under other choices, V, shape (choices, targets)."""
        weights = np.array([self._weights(target) for target in targets])
        base = weights @ np.nan_to_num(self._volts)
        if not self._slots:
            return np.tile(base, (len(choices), 1))
        change = np.array(
            [[row[choice[slot]] for slot, row in zip(self._slots, self._changes, strict=True)] for choice in choices]
        )
        inner = np.eye(len(self._slots)) + change[:, :, None] * self._coupling
        moved = np.linalg.solve(inner, (change * self._across)[:, :, None])[:, :, 0]
        return np.asarray(base - moved @ (weights @ self._response).T)

    def _weights(self, target: Target) -> Array:
        made = np.zeros(len(self._volts))
        for name, sign in ((target.a, 1.0), (target.b, -1.0), (target.c, -1.0), (target.d, 1.0)):
            if name:
                made[self._index[name]] += sign
        return made


def hot_c(wire: SizedWire, allowed_a: float | None, current_a: float) -> float:
    """Return the temperature of a conductor at a hot corner, °C, by the square law of its rise."""
    room = wire.insulation_c - wire.ambient_c
    if not allowed_a or room <= 0:
        return wire.ambient_c
    return min(wire.insulation_c, wire.ambient_c + room * (current_a / allowed_a) ** 2)


def _slot_of(problem: SizingProblem, ref: str) -> int:
    wire = problem.by_ref.get(ref)
    return wire.slot if wire else problem.fuses[ref]


def _stamp(matrix: Array, a: int, b: int, slope: float) -> None:
    matrix[a, a] += slope
    matrix[b, b] += slope
    matrix[a, b] -= slope
    matrix[b, a] -= slope


def _slope(element: Element, across: float, current: float) -> float:
    """Return by how much the current of an element rises with its voltage at a solved point, S."""
    if isinstance(element, Battery):
        return 1 / element.resistance_ohm
    if isinstance(element, Diode):
        return 1 / (element.resistance_ohm if across > element.drop_v else element.leak_ohm)
    if isinstance(element, Lamp):
        if abs(current) < _NOTHING or abs(across) < _NOTHING:
            return 0.0
        exponent = {"filament": _FILAMENT, "led": -1.0}.get(element.technology, 0.0)
        is_on = element.technology != "led" or across > element.cut_off_v
        return exponent * current / across if is_on else 0.0
    if isinstance(element, Switch | RelayContact):
        return current / across if abs(across) > _NOTHING and abs(current) > _NOTHING else 0.0
    if isinstance(element, Resistive):
        if isinstance(element, Coil | Load) or abs(current) < _NOTHING or abs(across) < _NOTHING:
            return 1 / element.resistance_ohm
        return current / across
    return 0.0
