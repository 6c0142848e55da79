"""Solved operating points."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from wiregen.model.circuit import Battery, Circuit, Element
from wiregen.model.corner import NOMINAL, Corner
from wiregen.model.fault import Fault
from wiregen.model.state import Controls, State

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Point:
    """One solved operating point: a state at a corner."""

    state: State
    corner: Corner = NOMINAL

    @property
    def controls(self) -> Controls:
        """The setting of the controls."""
        return self.state.controls

    @property
    def words(self) -> str:
        """Return state and corner in words; the nominal corner goes without saying."""
        return self.state.words if self.corner == NOMINAL else f"{self.state.words}; {self.corner.words}"


@dataclass(frozen=True)
class Study:
    """Every state of one circuit, solved.

    Attributes:
        circuit: What was solved.
        points: One for each row of the arrays; states that set every switch alike are solved once and stand once, as
            the simplest of them.
        alike: For each row, how many (setting, flash half) pairs it stands for.
        voltages_v: Shape (states, terminals), V against the reference; NaN where a terminal floats.
        currents_a: Shape (states, elements), A from ``a`` to ``b``; for a converter the output current.
        input_a: For each converter ref, its input current in every state, A.
        pulled: For each row, the refs of the coils that pulled in.
        floating: For each row, groups of terminals with no path to the reference.
        trouble: For each row, words when the point could not be trusted; empty when it could.
    """

    circuit: Circuit
    points: tuple[Point, ...]
    alike: tuple[int, ...]
    voltages_v: Array
    currents_a: Array
    input_a: dict[str, Array]
    pulled: tuple[frozenset[str], ...]
    floating: tuple[tuple[tuple[str, ...], ...], ...]
    trouble: tuple[str, ...] = field(default=())

    def trusted(self) -> Study:
        """Return the study without the states that could not be trusted; itself when all could."""
        rows = [row for row, words in enumerate(self.trouble) if not words]
        if len(rows) == len(self.points):
            return self
        return replace(
            self,
            points=tuple(self.points[row] for row in rows),
            alike=tuple(self.alike[row] for row in rows),
            voltages_v=self.voltages_v[rows],
            currents_a=self.currents_a[rows],
            input_a={ref: current[rows] for ref, current in self.input_a.items()},
            pulled=tuple(self.pulled[row] for row in rows),
            floating=tuple(self.floating[row] for row in rows),
            trouble=("",) * len(rows),
        )

    def troubles(self) -> tuple[tuple[str, str], ...]:
        """Return (words, state in words) of every state that could not be trusted."""
        return tuple((words, point.words) for words, point in zip(self.trouble, self.points, strict=True) if words)

    @property
    def states(self) -> tuple[State, ...]:
        """The state of each row."""
        return tuple(point.state for point in self.points)

    @cached_property
    def _terminal(self) -> dict[str, int]:
        return {name: index for index, name in enumerate(self.circuit.terminals)}

    @cached_property
    def _element(self) -> dict[str, int]:
        return {element.ref: index for index, element in enumerate(self.circuit.elements)}

    def voltage_v(self, terminal: str) -> Array:
        """Return the voltage of a terminal in every state, V; NaN where it floats."""
        return np.asarray(self.voltages_v[:, self._terminal[terminal]])

    def current_a(self, ref: str) -> Array:
        """Return the current of an element in every state, A."""
        return np.asarray(self.currents_a[:, self._element[ref]])

    def across_v(self, element: Element) -> Array:
        """Return the voltage from ``a`` to ``b`` of an element in every state, V."""
        return self.voltage_v(element.a) - self.voltage_v(element.b)

    def imbalance_a(self) -> Array:
        """Return what the lower battery of a pair gives more than the upper one, in every state, A.

        So many Ah an hour go from the lower battery alone. Zero where the vehicle has no two batteries in series.
        """
        batteries = [battery for battery in self.circuit.of(Battery) if battery.zone == "vehicle"]
        pairs = ((low, high) for low in batteries for high in batteries if high.b == low.a)
        nothing = np.zeros(len(self.points))
        return next((self.current_a(high.ref) - self.current_a(low.ref) for low, high in pairs), nothing)


@dataclass(frozen=True)
class FaultStudy:
    """Every state at some corners, solved with every single fault.

    Attributes:
        circuit: The circuit as built.
        points: State and corner of each row.
        faults: Faults, one a column.
        consumers: Refs of lamps and loads, in the order of the last axis.
        across_v: Voltage across each consumer, V, shape (points, faults, consumers); NaN where it cannot be trusted.
        trouble: Words for points that cannot be trusted, by (row, fault).
    """

    circuit: Circuit
    points: tuple[Point, ...]
    faults: tuple[Fault, ...]
    consumers: tuple[str, ...]
    across_v: Array
    trouble: dict[tuple[int, int], str]
