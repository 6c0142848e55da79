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
#: Currents that differ by less than this share of one of them are those of one chain.
_ALIKE = 1e-7
#: Share of a resistance that is left where it is taken away; none at all would divide by nothing.
_LEFT = 1e-6
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
    """One row of a study, linear, with the voltages to watch.

    An exchanged resistance is a voltage i · ΔR put in series with the old one. Conductors that always carry the same
    current form a chain, whose voltages add up, so that the equations for the currents i are few:
    (1 + Y · ΔR) i = i₀, with Y the currents that one volt in a chain drives in all of them.

    Args:
        problem: What may be exchanged.
        study: A solved study.
        row: The row.
        heat_a: Highest current of each element at hot corners, A, by designation; it heats conductors.
        targets: Voltages to watch.
    """

    def __init__(
        self, problem: SizingProblem, study: Study, row: int, heat_a: Mapping[str, float], targets: Sequence[Target]
    ) -> None:
        self._volts = np.nan_to_num(study.voltages_v[row])
        self._index = {name: number for number, name in enumerate(study.circuit.terminals)}
        self._is_hot = study.points[row].corner.warmth == "hot"
        self._slopes: dict[str, float] = {}
        self._matrix = np.eye(len(self._index)) * _LEAK_S
        edges: list[Element] = []
        ohms: list[tuple[int, Array]] = []
        for element, current in zip(study.circuit.elements, study.currents_a[row], strict=True):
            across = float(study.voltage_v(element.a)[row] - study.voltage_v(element.b)[row])
            if not np.isfinite(across):
                continue
            if isinstance(element, Converter):
                self._converter(element, float(study.input_a[element.ref][row]), float(current))
                continue
            slope = self._slopes[element.ref] = _slope(element, across, float(current))
            self._stamp(element, slope)
            more = self._exchanged(problem, element, slope, heat_a.get(element.ref, 0.0))
            if more is not None:
                edges.append(element)
                ohms.append((_slot_of(problem, element.ref), more))
        reference = self._index[study.circuit.reference]
        self._matrix[reference] = 0.0
        self._matrix[reference, reference] = 1.0
        self._reference = reference
        self._weights = np.array([self._weight(target) for target in targets]).reshape(len(targets), -1)
        self._base_v = self._weights @ self._volts
        self._set_up(problem, edges, ohms)

    def _set_up(self, problem: SizingProblem, edges: Sequence[Element], ohms: Sequence[tuple[int, Array]]) -> None:
        """Join edges into chains, and lay out what every option of every slot adds to each chain, ohm."""
        drive, across, response = self._driven(edges)
        slopes = np.array([self._slopes[edge.ref] for edge in edges])
        current = slopes * across
        reach = np.abs(drive).max(axis=1, initial=0.0)
        live = [int(edge) for edge in np.flatnonzero((np.abs(current) > _NOTHING) | (reach > _NOTHING))]
        chain_of, heads = _chains(drive, live)
        self._current_a, self._drive_s = current[heads], drive[np.ix_(heads, heads)]
        counts = [len(slot.options) for slot in problem.slots]
        self._offsets = np.concatenate([[0], np.cumsum(counts)[:-1]]).astype(int)
        gains = self._weights @ response * slopes
        self._ohms = np.zeros((sum(counts), len(heads)))
        self._moves = np.zeros((sum(counts), len(gains), len(heads)))
        for edge in live:
            slot, more = ohms[edge]
            rows = slice(int(self._offsets[slot]), int(self._offsets[slot]) + counts[slot])
            self._ohms[rows, chain_of[edge]] += more
            self._moves[rows, :, chain_of[edge]] += more[:, None] * gains[:, edge]
        self._used = np.unique([ohms[edge][0] for edge in live]).astype(int)

    def _driven(self, edges: Sequence[Element]) -> tuple[Array, Array, Array]:
        """Return (Y, voltages, response) of edges: the current that 1 V in series with each takes from all, A."""
        incidence = np.zeros((len(self._index), len(edges)))
        for number, edge in enumerate(edges):
            incidence[self._index[edge.a], number] += 1.0
            incidence[self._index[edge.b], number] -= 1.0
        across = incidence.T @ self._volts
        incidence[self._reference] = 0.0
        response = np.linalg.solve(self._matrix, incidence)
        slopes = np.array([self._slopes[edge.ref] for edge in edges])
        coupling = incidence.T @ response
        drive = np.diag(slopes) - slopes[:, None] * coupling * slopes
        return np.asarray(drive), np.asarray(across), np.asarray(response)

    def _converter(self, converter: Converter, input_a: float, output_a: float) -> None:
        matrix, index, volts = self._matrix, self._index, self._volts
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

    def _stamp(self, element: Element, slope: float) -> None:
        a, b = self._index[element.a], self._index[element.b]
        self._matrix[a, a] += slope
        self._matrix[b, b] += slope
        self._matrix[a, b] -= slope
        self._matrix[b, a] -= slope

    def _exchanged(self, problem: SizingProblem, element: Element, slope: float, heat_a: float) -> Array | None:
        """Return by how much every option of its slot raises the resistance of an element, ohm; None without a slot."""
        if isinstance(element, Conductor) and (wire := problem.by_ref.get(element.ref)):
            ratio = self._ratios(problem, wire, element, heat_a)
        elif isinstance(element, Fuse) and element.ref in problem.fuses:
            slot = problem.slots[problem.fuses[element.ref]]
            worst = heat_a if self._is_hot else 0.0
            ohms = np.array([resistance_ohm(slot.rating_a(n), worst) for n in range(len(slot.options))])
            ratio = resistance_ohm(element.rating_a, worst) / ohms
        else:
            return None
        return np.asarray((1 / ratio - 1) / slope)

    def _ratios(self, problem: SizingProblem, wire: SizedWire, element: Conductor, heat_a: float) -> Array:
        slot = problem.slots[wire.slot]
        sizes = [slot.size(number) for number in range(len(slot.options))]
        now = resistance_per_m(element.size, 20.0).ohm_per_m
        ratio = now / np.array([resistance_per_m(size, 20.0).ohm_per_m for size in sizes])
        if not self._is_hot:
            return np.asarray(ratio)
        warmth = np.array([copper_factor(hot_c(wire, wire.allowed_a(size), heat_a)) for size in sizes])
        return np.asarray(ratio * copper_factor(hot_c(wire, wire.allowed_a(element.size), heat_a)) / warmth)

    def values(self, choices: Sequence[Sequence[int]]) -> Array:
        """Return the watched voltages in this row under other choices, V, shape (choices, targets)."""
        rows = np.asarray(choices)[:, self._used] + self._offsets[self._used]
        if not rows.size:
            return np.tile(self._base_v, (len(choices), 1))
        more = self._ohms[rows].sum(axis=1)
        inner = np.eye(len(self._current_a)) + self._drive_s * more[:, None, :]
        current = np.linalg.solve(inner, np.broadcast_to(self._current_a[:, None], (*more.shape, 1)))
        return np.asarray(self._base_v + (self._moves[rows].sum(axis=1) @ current)[:, :, 0])

    def gain(self, elements: Sequence[Element], left: float = 0.0) -> Array:
        """Return by how much the watched voltages rise when elements keep only a share of their resistance, V.

        Elements that have no voltage here give nothing.
        """
        known = [element for element in elements if self._slopes.get(element.ref, 0.0) > 0]
        drive, across, response = self._driven(known)
        slopes = np.array([self._slopes[element.ref] for element in known])
        ohm = (max(left, _LEFT) - 1) / slopes
        current = np.linalg.solve(np.eye(len(known)) + drive * ohm, slopes * across)
        return np.asarray((self._weights @ response) @ (slopes * ohm * current))

    def _weight(self, target: Target) -> Array:
        made = np.zeros(len(self._volts))
        for name, sign in ((target.a, 1.0), (target.b, -1.0), (target.c, -1.0), (target.d, 1.0)):
            if name:
                made[self._index[name]] += sign
        return made


def _chains(drive: Array, live: Sequence[int]) -> tuple[dict[int, int], list[int]]:
    """Return the chain of every live edge, and the first edge of each chain: edges of one carry the same current."""
    chain_of: dict[int, int] = {}
    heads: list[int] = []
    for edge in live:
        near = _ALIKE * abs(drive[edge, edge])
        for chain, head in enumerate(heads):
            if (np.abs(drive[edge] - drive[head]) <= near).all() and (
                np.abs(drive[:, edge] - drive[:, head]) <= near
            ).all():
                chain_of[edge] = chain
                break
        else:
            chain_of[edge] = len(heads)
            heads.append(edge)
    return chain_of, heads


def hot_c(wire: SizedWire, allowed_a: float | None, current_a: float) -> float:
    """Return the temperature of a conductor at a hot corner, °C, by the square law of its rise."""
    room = wire.insulation_c - wire.ambient_c
    if not allowed_a or room <= 0:
        return wire.ambient_c
    return min(wire.insulation_c, wire.ambient_c + room * (current_a / allowed_a) ** 2)


def _slot_of(problem: SizingProblem, ref: str) -> int:
    wire = problem.by_ref.get(ref)
    return wire.slot if wire else problem.fuses[ref]


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
