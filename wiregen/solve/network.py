"""The terminals, branches and ports of a circuit, and the order in which its terminals are taken out.

The linear part holds every resistance, the bleed of every converter and the leak of every diode. The devices proper
sit at *ports*: one a lamp, two a converter (input and output, both against its common minus), one a diode. Every point
has conductances of its own, so a closed contact, a corner and a fault are nothing but values; what is here holds for
all of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from wiregen.model.circuit import Battery, Circuit, Coil, Converter, Diode, Lamp, Load, RelayContact, Resistive, Switch
from wiregen.solve.devices import CONVERTER_BLEED_OHM, Array, Converters, Diodes, Indices, Lamps
from wiregen.solve.elimination import GROUND, Pair, plan
from wiregen.solve.refusals import refuse

Flags = npt.NDArray[np.bool_]
Rows = list[Array]

#: Points are taken in blocks of this many: enough that numpy's own cost a call does not count, few enough for a cache.
BLOCK: Final = 2048
#: A terminal with more neighbours is kept although no device sits there, so that few become neighbours of many.
_MOST_NEIGHBOURS: Final = 3
#: A block holds this many numbers at the most.
_MOST_NUMBERS: Final = 8_000_000


class Network:
    """One circuit at its corners.

    Args:
        circuits: The circuit at each corner, with the resistances and voltages of the corner.
        shorts: Pairs of terminals that a fault may join.

    Attributes:
        branch: Row of the linear branch of an element by ref; shorts come behind them.
        conduct_s: Conductances, S, shape (branches, corners); those of shorts are zero.
        stamp_places: Where slopes go: by the port's own voltage, of inputs by output voltages, of outputs by input
            voltages; each a row of the port plan, a sign, and the number of the port or converter.
        stamps: The same as matrices.
        reads: Port voltages from the voltages of kept terminals, shape (ports, kept).
        peaks: Of each lamp whose current falls above some voltage: its port, that voltage, V, and the current there, A.

    Raises:
        SolveError: A value no part can have, or no supply (``wiregen.solve.refusals``).
    """

    def __init__(self, circuits: Sequence[Circuit], shorts: Sequence[tuple[str, str]] = ()) -> None:
        for one in circuits:
            refuse(one)
        self.circuit = circuit = circuits[0]
        self.index = {name: row for row, name in enumerate(circuit.terminals)}
        self.switches, self.relays = circuit.of(Switch), circuit.of(RelayContact)
        self.coils, self.loads = circuit.of(Coil), circuit.of(Load)
        self.converter_elements = circuit.of(Converter)
        self.lamp_elements, self.diode_elements = circuit.of(Lamp), circuit.of(Diode)
        self.lamps = Lamps.of(circuit.of(Lamp), self.index).columns()
        self.converters = Converters.of(circuit, self.index).columns()
        self.diodes = Diodes.of(circuit.of(Diode), self.index).columns()
        self.peaks = self.lamps.peaks()
        self._branches(circuits, shorts)
        c, diodes = self.converters, self.diodes
        self.ports: list[Pair] = [
            *_pairs(self.lamps.a, self.lamps.b),
            *_pairs(c.a, c.common),
            *_pairs(c.b, c.common),
            *_pairs(diodes.a, diodes.b),
        ]
        self.watched = [(self.index[e.a], self.index[e.b]) for e in (*self.coils, *self.loads)]
        self._order()

    def _branches(self, circuits: Sequence[Circuit], shorts: Sequence[tuple[str, str]]) -> None:
        linear = [e for e in self.circuit.elements if isinstance(e, Battery | Converter | Diode | Resistive)]
        self.branch = {element.ref: row for row, element in enumerate(linear)}
        self.pairs: list[Pair] = []
        for element in linear:
            a, b = (element.b, element.common) if isinstance(element, Converter) else (element.a, element.b)
            self.pairs.append((self.index[a], self.index[b]))
        self.pairs += [(self.index[a], self.index[b]) for a, b in shorts]
        self.conduct_s = np.zeros((len(self.pairs), len(circuits)))
        self.batteries = [self.branch[battery.ref] for battery in self.circuit.of(Battery)]
        self.battery_v = np.array([[b.voltage_v for b in circuit.of(Battery)] for circuit in circuits]).T
        for corner, circuit in enumerate(circuits):
            for part in circuit.elements:
                if isinstance(part, Battery | Converter | Diode | Resistive):
                    self.conduct_s[self.branch[part.ref], corner] = _conductance_s(part)
        self.contacts = [self.branch[contact.ref] for contact in (*self.switches, *self.relays)]

    def _order(self) -> None:
        """Find the order of elimination: first where no device sits, then lamps and diodes, then converters."""
        c = self.converters
        at_ports = {end for pair in self.ports for end in pair}
        inner = set(range(len(self.index))) - at_ports - {GROUND}
        self.inner_plan = plan(self.pairs, [inner], most=_MOST_NEIGHBOURS)
        self.kept = sorted(set(range(len(self.index))) - {step.node for step in self.inner_plan.steps} - {GROUND})
        # What each row starts with: its first branch is copied, others in parallel are added.
        first: dict[int, int] = {}
        self.more: list[tuple[int, int]] = []
        for branch, (a, b) in enumerate(self.pairs):
            if a != b:
                row = self.inner_plan.row[a, b]
                if first.setdefault(row, branch) != branch:
                    self.more.append((row, branch))
        self.first = np.array([*first], dtype=np.intp), np.array([*first.values()], dtype=np.intp)
        stay = {*self.kept, GROUND}
        between = [pair for pair in self.inner_plan.row if set(pair) <= stay and pair[0] < pair[1]]
        ends = {int(end) for array in (c.a, c.b, c.common) for end in array} - {GROUND}
        crossed = [pair for a, b, m in zip(c.a, c.b, c.common, strict=True) for pair in ((a, b), (a, m), (b, m))]
        wanted = [*between, *self.ports, *((int(a), int(b)) for a, b in crossed)]
        self.port_plan = plan(wanted, [set(self.kept) - ends, ends], ends)
        self.place = place = {node: number for number, node in enumerate(self.kept)}
        self.program = [
            (
                place[step.node],
                [row for _, row in step.toward],
                [(place[node], row) for node, row in step.back],
                step.joins,
                [(place[node], row) for node, row in step.toward if node != GROUND],
            )
            for step in self.port_plan.steps
        ]
        self.base = np.full(self.port_plan.rows, self.inner_plan.rows, dtype=np.intp)
        for pair in between:
            for way in (pair, pair[::-1]):
                self.base[self.port_plan.row[way]] = self.inner_plan.row[pair]
        self.joined = [(a, b, self.port_plan.row[a, b]) for a, b in between]
        self._stamps()
        self.read = self._needed({end for pair in self.watched for end in pair})

    def _stamps(self) -> None:
        """Note where the slopes of the ports go, and how port voltages are read off."""
        row, c = self.port_plan.row, self.converters

        def way(a: int, b: int) -> list[int]:
            return [row[a, b]] if a not in (GROUND, b) else []

        own = [(to, 1, port) for port, (a, b) in enumerate(self.ports) for to in {*way(a, b), *way(b, a)}]
        cross_in: list[tuple[int, int, int]] = []
        cross_out: list[tuple[int, int, int]] = []
        for pair, (a, b, m) in enumerate(zip(map(int, c.a), map(int, c.b), map(int, c.common), strict=True)):
            cross_in += [(to, 1, pair) for to in (*way(a, m), *way(m, b))] + [(to, -1, pair) for to in way(a, b)]
            cross_out += [(to, 1, pair) for to in (*way(b, m), *way(m, a))] + [(to, -1, pair) for to in way(b, a)]
        self.stamp_places = own, cross_in, cross_out
        self.stamps = [np.zeros((self.port_plan.rows, n)) for n in (len(self.ports), len(c.a), len(c.a))]
        for stamp, places in zip(self.stamps, self.stamp_places, strict=True):
            for to, sign, number in places:
                stamp[to, number] += sign
        self.reads = np.zeros((len(self.ports), len(self.kept)))
        for port, (a, b) in enumerate(self.ports):
            for node, sign in ((a, 1), (b, -1)):
                if node != GROUND:
                    self.reads[port, self.place[node]] += sign

    def _needed(self, ends: set[int]) -> list[int]:
        """Return which steps of the inner plan are to be read back, last first, for the voltages of some terminals."""
        wanted, steps = set(ends), []
        for number, step in enumerate(self.inner_plan.steps):
            if step.node in wanted:
                steps.append(number)
                wanted |= {node for node, _ in step.toward}
        return steps[::-1]

    @property
    def block(self) -> int:
        """How many points to take together."""
        return max(1, min(BLOCK, _MOST_NUMBERS // (self.inner_plan.rows + self.port_plan.rows + 1)))


def _pairs(a: Indices, b: Indices) -> list[Pair]:
    return [(int(first), int(second)) for first, second in zip(a, b, strict=True)]


def _conductance_s(element: Battery | Converter | Diode | Resistive) -> float:
    if isinstance(element, Converter):
        return 1 / CONVERTER_BLEED_OHM
    return 1 / (element.leak_ohm if isinstance(element, Diode) else element.resistance_ohm)
