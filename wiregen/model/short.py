"""Short circuits: where a conductor may touch ground, and what flows when it does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from wiregen.model.circuit import Circuit
from wiregen.model.corner import Corner
from wiregen.model.study import Array, Point

#: The least a short can give: battery low, copper hot, contacts aged. It is the worst for a fuse that must open.
LEAST = Corner("low", "hot")
#: The most it can give: battery charging, copper cold, contacts new. It is the worst for what the current passes.
MOST = Corner("charging", "cold")


@dataclass(frozen=True, slots=True)
class Short:
    """One place where a conductor touches ground.

    Attributes:
        ref: The part whose far end touches ground: a conductor, or a fuse for a short right behind it.
        terminal: Its far end.
        ground: Terminal of the ground it touches.
        ohm: Resistance of the touch, and of a metal path to ``ground`` that no other part stands for, ohm.
        words: In words, for people.
        place: Where it is, in few words.
        through_hitch: Whether the current comes back over the hitch alone.
    """

    ref: str
    terminal: str
    ground: str
    ohm: float
    words: str
    place: str = ""
    through_hitch: bool = False


@dataclass(frozen=True)
class ShortPoint:
    """One short in one state at one corner.

    Attributes:
        short: Where.
        point: State and corner.
        current_a: What flows into ground there, A.
        let_go: Refs of relays that had pulled in and that the sag lets go.
        pulled: Refs of coils that are in with the short.
        on: Refs of converters that run with it.
        trouble: Words where the point cannot be trusted: relays that never come to rest, or no operating point.
        row: Row of the arrays of the study.
    """

    short: Short
    point: Point
    current_a: float
    let_go: tuple[str, ...]
    pulled: frozenset[str]
    on: frozenset[str]
    trouble: str
    row: int


@dataclass(frozen=True)
class ShortStudy:
    """Every short of one circuit in the states that make it live, solved.

    Attributes:
        circuit: The circuit as built.
        points: Shorts in states at corners.
        currents_a: Current of every element of the circuit, A from ``a`` to ``b``, shape (rows, elements); of a
            converter its output.
        input_a: For each converter ref its input current, A, by row.
        limited: For each converter ref whether it gives its current limit, by row.
    """

    circuit: Circuit
    points: tuple[ShortPoint, ...]
    currents_a: Array
    input_a: dict[str, Array]
    limited: dict[str, npt.NDArray[np.bool_]]

    @cached_property
    def _column(self) -> dict[str, int]:
        return {element.ref: column for column, element in enumerate(self.circuit.elements)}

    def current_a(self, point: ShortPoint, ref: str) -> float:
        """Return the current of an element with a short, A from ``a`` to ``b``."""
        return float(self.currents_a[point.row, self._column[ref]])

    def at(self, corner: Corner) -> Iterator[ShortPoint]:
        """Yield the points of a corner that can be trusted."""
        return (point for point in self.points if point.point.corner == corner and not point.trouble)
