"""The linear network of a circuit, factored once for each setting of its contacts and seen from its ports.

The linear part holds every resistance, every lamp at its rated resistance, the bleed of every converter and the leak of
every diode. What the nonlinear elements draw beyond that enters at *ports*: one a lamp, two a converter (input and
output, both against its common minus), one a diode. A setting of contacts (a *topology*) needs one inverse; everything
else is read off it:

    u = u0 − Z d(u)        u port voltages, V; d excess currents, A; Z port impedances, ohm

A single changed conductance (a fault) is a rank-one change of Z and u0, so no fault needs an inverse of its own.
Terminals with no path to the reference are found in the graph and left out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Converter,
    Diode,
    Lamp,
    Load,
    RelayContact,
    Resistive,
    Switch,
)
from wiregen.solve.devices import CONVERTER_BLEED_OHM, Array, Converters, Diodes, Indices, Lamps
from wiregen.solve.islands import Islands
from wiregen.solve.refusals import refuse

Flags = npt.NDArray[np.bool_]

#: Inverses are taken together up to this many numbers (8 bytes each).
_MOST_NUMBERS: Final = 16_000_000

#: A pair of terminals, by row: a port, a coil, or the place of a fault.
Pair = tuple[int, int]


@dataclass(frozen=True)
class Reduced:
    """Topologies seen from their ports; the first axis counts topologies.

    Attributes:
        impedance_ohm: Z, shape (T, ports, ports).
        open_v: u0, shape (T, ports).
        watched_v: Voltages of coils, then of loads, without excess currents, shape (T, watched).
        watched_ohm: The same by port current, shape (T, watched, ports).
        site_v: Voltage across each fault site without excess currents, shape (T, sites).
        site_ohm: Impedance seen from each site, shape (T, sites).
        site_port_ohm: Site against ports, shape (T, sites, ports).
        site_watched_ohm: Site against coils and loads, shape (T, sites, watched).
        terminal_port_ohm: Terminals against ports, shape (T, n, ports).
        terminal_v: Terminal voltages without excess currents, shape (T, n).
        floating: Which terminals float, shape (T, n).
    """

    impedance_ohm: Array
    open_v: Array
    watched_v: Array
    watched_ohm: Array
    site_v: Array
    site_ohm: Array
    site_port_ohm: Array
    site_watched_ohm: Array
    terminal_port_ohm: Array
    terminal_v: Array
    floating: Flags


class Table:
    """Reduced topologies that grow in place: room is doubled when it runs out, so that adding stays cheap.

    Attributes:
        reduced: The topologies with the room behind them; rows beyond ``len`` mean nothing.
    """

    def __init__(self) -> None:
        self._length = 0
        self._reduced: Reduced | None = None

    def __len__(self) -> int:
        return self._length

    @property
    def reduced(self) -> Reduced:
        """The topologies; to be read only at rows that were added."""
        if self._reduced is None:
            message = "no topology has been factored yet"
            raise LookupError(message)
        return self._reduced

    def cut(self) -> Reduced:
        """Return the topologies without the room behind them."""
        return self._mapped(lambda array: array[: self._length])

    def _mapped(self, change: Callable[[Any], Any]) -> Reduced:
        return Reduced(**{name: change(array) for name, array in vars(self.reduced).items()})

    def add(self, block: Reduced) -> None:
        """Add topologies behind those that are there."""
        new = len(block.open_v)
        if self._reduced is None:
            self._reduced = block
        elif self._length + new > len(self._reduced.open_v):
            room = max(self._length + new, 2 * self._length)
            self._reduced = self._mapped(lambda array: _widened(array, self._length, room))
        if self._reduced is not block:
            for mine, theirs in zip(vars(self._reduced).values(), vars(block).values(), strict=True):
                mine[self._length : self._length + new] = theirs
        self._length += new


def _widened(array: npt.NDArray[Any], length: int, room: int) -> npt.NDArray[Any]:
    wide = np.empty((room, *array.shape[1:]), dtype=array.dtype)
    wide[:length] = array[:length]
    return wide


class Network:
    """One circuit at one corner.

    Args:
        circuit: The circuit, with resistances and voltages of the corner.
        sites: Pairs of terminals at which faults change a conductance.

    Attributes:
        toggles: Switches, relay contacts and converters, in the order of a topology's flags.

    Raises:
        SolveError: A value no part can have, or no supply (``wiregen.solve.refusals``).
    """

    def __init__(self, circuit: Circuit, sites: Sequence[tuple[str, str]] = ()) -> None:
        refuse(circuit)
        self.circuit = circuit
        self.index = {name: row for row, name in enumerate(circuit.terminals)}
        self.switches = circuit.of(Switch)
        self.relays = circuit.of(RelayContact)
        self.coils = circuit.of(Coil)
        self.converter_elements = circuit.of(Converter)
        self.lamps = Lamps.of(circuit.of(Lamp), self.index).columns()
        self.converters = Converters.of(circuit, self.index).columns()
        self.diodes = Diodes.of(circuit.of(Diode), self.index).columns()
        self.toggles: list[Switch | RelayContact | Converter] = [*self.switches, *self.relays, *self.converter_elements]
        self.islands = Islands(circuit)
        self._base()
        self._toggles()
        c, diodes = self.converters, self.diodes
        self.ports = _pairs(
            np.concatenate([self.lamps.a, c.a, c.b, diodes.a]),
            np.concatenate([self.lamps.b, c.common, c.common, diodes.b]),
        )
        self.loads = circuit.of(Load)
        self.watched_pairs = self._rows([(element.a, element.b) for element in (*self.coils, *self.loads)])
        self.site_pairs = self._rows(sites)

    def _rows(self, names: Sequence[tuple[str, str]]) -> tuple[Indices, Indices]:
        a = np.array([self.index[name] for name, _ in names], dtype=np.intp)
        return a, np.array([self.index[name] for _, name in names], dtype=np.intp)

    def _base(self) -> None:
        size = len(self.index)
        self.base, self.injected = np.zeros((size, size)), np.zeros(size)
        for element in self.circuit.elements:
            a, b = self.index[element.a], self.index[element.b]
            if isinstance(element, Battery):
                _stamp(self.base, a, b, 1 / element.resistance_ohm)
                self.injected[a] += element.voltage_v / element.resistance_ohm
                self.injected[b] -= element.voltage_v / element.resistance_ohm
            elif isinstance(element, Lamp):
                _stamp(self.base, a, b, element.rated_a * element.count / element.rated_v)
            elif isinstance(element, Converter):
                _stamp(self.base, b, self.index[element.common], 1 / CONVERTER_BLEED_OHM)
            elif isinstance(element, Diode):
                _stamp(self.base, a, b, 1 / element.leak_ohm)
            elif isinstance(element, Resistive) and not isinstance(element, Switch | RelayContact):
                _stamp(self.base, a, b, 1 / element.resistance_ohm)

    def _toggles(self) -> None:
        """Note what each toggle adds while it is closed: a conductance, and of a converter its open-circuit current."""
        self.toggle_a = np.zeros(len(self.toggles), dtype=np.intp)
        self.toggle_b = np.zeros(len(self.toggles), dtype=np.intp)
        self.toggle_s = np.zeros(len(self.toggles))
        self.toggle_current_a = np.zeros(len(self.toggles))
        for number, element in enumerate(self.toggles):
            a, b = (element.b, element.common) if isinstance(element, Converter) else (element.a, element.b)
            self.toggle_a[number], self.toggle_b[number] = self.index[a], self.index[b]
            self.toggle_s[number] = 1 / element.resistance_ohm
            if isinstance(element, Converter):
                self.toggle_current_a[number] = base_output_v(element) / element.resistance_ohm

    def reduce(self, topologies: Flags) -> Reduced:
        """Factor topologies.

        Args:
            topologies: Shape (T, toggles): which toggles are closed, or on.
        """
        # A large circuit is taken a few topologies at a time: each needs the square of its terminals.
        step = max(1, _MOST_NUMBERS // len(self.index) ** 2)
        table = Table()
        for start in range(0, len(topologies), step):
            inverse, right, floating = self.inverse(topologies[start : start + step])
            table.add(self._seen(inverse, np.einsum("tij,tj->ti", inverse, right), floating))
        return table.cut()

    def inverse(self, topologies: Flags) -> tuple[Array, Array, Flags]:
        """Return terminal impedances, ohm, shape (T, n, n), injected currents, A, and which terminals float."""
        count, size = len(topologies), len(self.index)
        matrix = np.repeat(self.base[None], count, axis=0)
        right = np.repeat(self.injected[None], count, axis=0)
        floating = np.zeros((count, size), dtype=bool)
        for number in range(len(self.toggles)):
            closed = topologies[:, number]
            a, b = self.toggle_a[number], self.toggle_b[number]
            _stamp_many(matrix, a, b, closed * self.toggle_s[number])
            right[:, a] += closed * self.toggle_current_a[number]
            right[:, b] -= closed * self.toggle_current_a[number]
        contacts = len(self.switches) + len(self.relays)
        for row in range(count):
            floating[row] = self.islands.adrift(topologies[row, :contacts])
        held = floating.copy()
        held[:, 0] = True
        matrix[held[:, :, None] | held[:, None, :]] = 0.0
        diagonal = np.arange(size)
        matrix[:, diagonal, diagonal] += held
        inverse = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
        inverse[:, diagonal, diagonal] -= held
        right[held] = 0.0
        return inverse, right, floating

    def _seen(self, inverse: Array, terminal_v: Array, floating: Flags) -> Reduced:
        port, coil, site = self.ports, self.watched_pairs, self.site_pairs
        to_ports = inverse[:, :, port[0]] - inverse[:, :, port[1]]
        to_watched = inverse[:, :, coil[0]] - inverse[:, :, coil[1]]
        return Reduced(
            impedance_ohm=to_ports[:, port[0]] - to_ports[:, port[1]],
            open_v=terminal_v[:, port[0]] - terminal_v[:, port[1]],
            watched_v=terminal_v[:, coil[0]] - terminal_v[:, coil[1]],
            watched_ohm=to_ports[:, coil[0]] - to_ports[:, coil[1]],
            site_v=terminal_v[:, site[0]] - terminal_v[:, site[1]],
            site_ohm=inverse[:, site[0], site[0]]
            + inverse[:, site[1], site[1]]
            - inverse[:, site[0], site[1]]
            - inverse[:, site[1], site[0]],
            site_port_ohm=to_ports[:, site[0]] - to_ports[:, site[1]],
            site_watched_ohm=to_watched[:, site[0]] - to_watched[:, site[1]],
            terminal_port_ohm=to_ports,
            terminal_v=terminal_v,
            floating=floating,
        )


def base_output_v(converter: Converter) -> float:
    """Return the voltage the linear network gives a converter that is on; what differs from it enters at its port."""
    return converter.output_v if converter.output_v < 100 else 0.0


def _pairs(a: Indices, b: Indices) -> tuple[Indices, Indices]:
    return a.astype(np.intp), b.astype(np.intp)


def _stamp(matrix: Array, a: int, b: int, conductance: float) -> None:
    matrix[a, a] += conductance
    matrix[b, b] += conductance
    matrix[a, b] -= conductance
    matrix[b, a] -= conductance


def _stamp_many(matrices: Array, a: int | np.intp, b: int | np.intp, conductance: Array) -> None:
    matrices[:, a, a] += conductance
    matrices[:, b, b] += conductance
    matrices[:, a, b] -= conductance
    matrices[:, b, a] -= conductance
