"""Solved operating points."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from wiregen.model.circuit import Circuit, Element
from wiregen.model.state import State

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Study:
    """Every state of one circuit, solved.

    Attributes:
        circuit: What was solved.
        states: One for each row of the arrays; states that set every switch alike are solved once and stand once, as
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
    states: tuple[State, ...]
    alike: tuple[int, ...]
    voltages_v: Array
    currents_a: Array
    input_a: dict[str, Array]
    pulled: tuple[frozenset[str], ...]
    floating: tuple[tuple[tuple[str, ...], ...], ...]
    trouble: tuple[str, ...] = field(default=())

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
