"""Solve many points of one circuit together: every state, at every corner, with every fault.

A point is a corner, a setting of the switches, and at most one fault. Points start with all relays at rest and all
converters off, or, for a fault, where the same state came to rest without it; relays and converters are iterated until
nothing changes. Each distinct topology is factored once a corner (``wiregen.solve.network``); a fault that changes one
conductance is a rank-one change on top. A fault that changes nothing, because no current flows there, is not solved
again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from wiregen.model.circuit import Battery, Circuit, Converter, Diode, Gate, Lamp, Resistive
from wiregen.model.fault import Fault
from wiregen.solve.changes import Changes
from wiregen.solve.cycles import History
from wiregen.solve.devices import Array, Indices
from wiregen.solve.network import Flags, Network, Table, base_output_v
from wiregen.solve.newton import Devices
from wiregen.solve.settle import solve_settled
from wiregen.solve.states import Setting

_RELAY_ROUNDS: Final = 32
#: Below this share of its own conductance a part has no second path beside it: opening it parts the network.
_PARTED: Final = 1e-9
#: Port impedances held at once, at the most.
_MOST_NUMBERS: Final = 16_000_000
#: A change that moves less current than this, A, moves no voltage by more than 1e-8 V in a circuit below 100 kilohm.
_NO_CHANGE_A: Final = 1e-13
#: Currents below this are round-off, A.
_NOTHING_A: Final = 1e-9


@dataclass
class Points:
    """Points and their solution; the last axis of two-dimensional arrays of ports counts points.

    Attributes:
        corner: Row of the corner of each point.
        state: Row of its setting.
        fault: Row of its fault, -1 for none.
        port_v: Port voltages, V, shape (ports, points): lamps, converter inputs, converter outputs, diodes.
        excess_a: Excess currents, A, same shape.
        pulled: Which coils pull, shape (points, coils).
        on: Which converters are on, shape (points, converters).
        topology: Row in the sweep's table of topologies.
        kappa_s: Strength of the rank-one change, S; 0 for none.
        trouble: Words for points that cannot be trusted, by point.
    """

    corner: Indices
    state: Indices
    fault: Indices
    port_v: Array
    excess_a: Array
    pulled: Flags
    on: Flags
    topology: Indices
    kappa_s: Array
    trouble: dict[int, str]

    def take(self, rows: Indices) -> Points:
        """Return copies of some points, without their troubles."""
        return Points(
            self.corner[rows], self.state[rows], self.fault[rows], self.port_v[:, rows].copy(),
            self.excess_a[:, rows].copy(), self.pulled[rows].copy(), self.on[rows].copy(), self.topology[rows].copy(),
            self.kappa_s[rows].copy(), {},
        )  # fmt: skip

    def put(self, rows: Indices, other: Points) -> None:
        """Replace some points by those of ``other``, troubles included."""
        self.port_v[:, rows], self.excess_a[:, rows] = other.port_v, other.excess_a
        self.pulled[rows], self.on[rows] = other.pulled, other.on
        self.topology[rows], self.kappa_s[rows] = other.topology, other.kappa_s
        if self.trouble:
            for row in rows:
                self.trouble.pop(int(row), None)
        self.trouble |= {int(rows[row]): words for row, words in other.trouble.items()}


class Sweep:
    """Solves points of one circuit.

    Args:
        circuits: The circuit at each corner: the same elements, with the resistances and voltages of the corner.
        settings: Settings of the switches.
        faults: Faults to solve each setting with, besides none.
        grounds: Terminal that stands for ground in each zone, for shorts; the reference where a zone is missing.
    """

    def __init__(
        self,
        circuits: Sequence[Circuit],
        settings: Sequence[Setting],
        faults: Sequence[Fault] = (),
        grounds: dict[str, str] | None = None,
    ) -> None:
        self.circuits = tuple(circuits)
        self.circuit = self.circuits[0]
        self.settings = tuple(settings)
        self.faults = tuple(faults)
        self.changes = Changes(self.circuits, self.faults, grounds or {})
        self.networks = [Network(circuit, self.changes.sites) for circuit in self.circuits]
        self.network = net = self.networks[0]
        base_v = np.array([base_output_v(c) for c in net.converter_elements])[:, None]
        self.devices = Devices(net.lamps, net.converters, base_v, net.diodes)
        self.closed = np.array([s.closed for s in self.settings], dtype=bool).reshape(len(self.settings), -1)
        coils = [network.coils for network in self.networks]
        self.pick_up_v = np.array([[coil.pick_up_v for coil in row] for row in coils]).reshape(len(coils), -1)
        self.drop_out_v = np.array([[coil.drop_out_v for coil in row] for row in coils]).reshape(len(coils), -1)
        self.minimum_input_v = np.array([c.minimum_input_v for c in net.converter_elements])
        self.table: dict[bytes, int] = {}
        self.reduced = Table()
        self._toggles: list[Flags] = []
        self._gates: dict[bytes, Flags] = {}
        #: Points that were really solved, and points in all, for the benchmark.
        self.solved = self.asked = 0

    # --- the order of work ---

    def healthy(self) -> Points:
        """Solve every setting at every corner without a fault: corners one after the other."""
        corners, settings = len(self.circuits), len(self.settings)
        points = self._blank(
            np.repeat(np.arange(corners), settings),
            np.tile(np.arange(settings), corners),
            np.full(corners * settings, -1),
        )
        self._rest(points)
        return points

    def faulty(self, healthy: Points) -> Points:
        """Solve every point of ``healthy`` with every fault: all faults of the first point, then of the second ..."""
        count = len(self.faults)
        source = np.repeat(np.arange(len(healthy.state)), count)
        points = healthy.take(source)
        points.fault = np.tile(np.arange(count), len(healthy.state))
        points.trouble = {
            int(row) * count + fault: words for row, words in healthy.trouble.items() for fault in range(count)
        }
        rows = np.flatnonzero(self._matters(points))
        self.asked += len(points.state)
        part = points.take(rows)
        self._rest(part, warm=True)
        # A relay held by its history is no answer for a fault that was there from the start: those begin at rest.
        held = np.flatnonzero(self._held(part))
        if len(held):
            again = self._blank(part.corner[held], part.state[held], part.fault[held])
            self._rest(again)
            part.put(held, again)
        points.put(rows, part)
        return points

    def _blank(self, corner: Indices, state: Indices, fault: Indices) -> Points:
        net, count = self.network, len(state)
        ports = np.zeros((len(net.ports[0]), count))
        return Points(
            corner, state, fault, ports, ports.copy(), np.zeros((count, len(net.coils)), dtype=bool),
            np.zeros((count, len(net.converter_elements)), dtype=bool), np.zeros(count, dtype=np.intp),
            np.zeros(count), {},
        )  # fmt: skip

    def _matters(self, points: Points) -> Flags:
        """Return which faults change anything where the point stands without them."""
        flags = np.array(self._toggles)[points.topology]
        delta = self.changes.delta_s(points.corner, points.fault, flags)
        site = self.changes.site[points.fault]
        across = self._site_v(points, site)
        matters = np.abs(delta * across) > _NO_CHANGE_A
        matters |= self.changes.burns[points.fault]
        sticks = self.changes.sticks(points.fault, flags)
        return np.asarray(matters | (sticks != flags).any(axis=1))

    def _site_v(self, points: Points, site: Indices) -> Array:
        """Return the voltage across fault sites at points without a fault, V."""
        r, table = self.reduced.reduced, points.topology
        drop = np.einsum("pm,mp->p", r.site_port_ohm[table, site], points.excess_a)
        return np.asarray(r.site_v[table, site] - drop)

    def _held(self, points: Points) -> Flags:
        across = np.abs(self.watched_v(points)[:, : len(self.network.coils)])
        return np.asarray((points.pulled & (across < self.pick_up_v[points.corner])).any(axis=1))

    def _rest(self, points: Points, *, warm: bool = False) -> None:
        """Iterate relays and converters of points to rest.

        Args:
            points: Points, with the relays and converters to start from.
            warm: Start Newton's method from the port voltages they hold.
        """
        todo = np.arange(len(points.state))
        history: dict[int, History] = {}
        for _ in range(_RELAY_ROUNDS):
            if not len(todo):
                return
            good = self._solve(points, todo, warm=warm)
            warm = False
            pulled, on = self._listen(points, todo)
            # A converter that asks for more than its feed can give has no operating point: it drops out.
            on &= good[:, None]
            changed = (pulled != points.pulled[todo]).any(axis=1) | (on != points.on[todo]).any(axis=1)
            for place in np.flatnonzero(changed):
                point = int(todo[place])
                if point not in history:
                    history[point] = History((*self.network.coils, *self.network.converter_elements))
                words = history[point].repeats(np.concatenate([pulled[place], on[place]]))
                if words:
                    points.trouble[point] = words
                    changed[place] = False
            keep = np.flatnonzero(changed)
            todo = todo[keep]
            points.pulled[todo], points.on[todo] = pulled[keep], on[keep]
        points.trouble |= {int(restless): "relays did not come to rest" for restless in todo}

    # --- one round ---

    def _flags(self, points: Points, todo: Indices) -> Flags:
        """Return the toggles of points, shape (points, toggles): switches, relay contacts, converters."""
        patterns, where = np.unique(points.pulled[todo], axis=0, return_inverse=True)
        gates = np.array([self._gates_of(pattern) for pattern in patterns], dtype=bool)
        gates = gates.reshape(len(patterns), len(self.network.relays))[where.reshape(-1)]
        flags = np.concatenate([self.closed[points.state[todo]], gates, points.on[todo]], axis=1)
        return self.changes.sticks(points.fault[todo], flags)

    def _gates_of(self, pattern: Flags) -> Flags:
        key = pattern.tobytes()
        if key not in self._gates:
            refs = frozenset(coil.ref for coil, is_in in zip(self.network.coils, pattern, strict=True) if is_in)
            self._gates[key] = np.array([relay.gate.is_open_to(refs) for relay in self.network.relays], dtype=bool)
        return self._gates[key]

    def _factor(self, corner: Indices, flags: Flags) -> Indices:
        """Return the row of each point's topology in the table, factoring the new ones of a corner together."""
        packed = np.packbits(flags, axis=1)
        tagged = np.concatenate([corner[:, None].astype(np.uint8), packed], axis=1)
        unique, first, where = np.unique(tagged, axis=0, return_index=True, return_inverse=True)
        rows = np.empty(len(unique), dtype=np.intp)
        fresh: dict[int, list[int]] = {}
        for number, key in enumerate(map(bytes, unique)):
            if key in self.table:
                rows[number] = self.table[key]
            else:
                fresh.setdefault(int(unique[number, 0]), []).append(number)
        for place, numbers in fresh.items():
            some = flags[first[numbers]]
            made = self.networks[place].reduce(some)
            for place_in_table, number in enumerate(numbers, start=len(self._toggles)):
                rows[number] = place_in_table
                self.table[bytes(unique[number])] = place_in_table
            self._toggles += list(some)
            self.reduced.add(made)
        return rows[where.reshape(-1)]

    def _solve(self, points: Points, todo: Indices, *, warm: bool) -> Flags:
        """Solve points with their relays and converters as they are; return which converged."""
        # What a rig with very many lamps asks for at once must fit into memory.
        size = max(1, _MOST_NUMBERS // max(1, len(self.network.ports[0])) ** 2)
        parts = [todo[start : start + size] for start in range(0, len(todo), size)]
        return np.concatenate([self._solve_part(points, part, warm=warm) for part in parts])

    def _solve_part(self, points: Points, todo: Indices, *, warm: bool) -> Flags:
        flags = self._flags(points, todo)
        table = self._factor(points.corner[todo], flags)
        cut = self._cut_off(points, todo, table, flags)
        converters = flags[:, len(self.network.switches) + len(self.network.relays) :]
        lost = np.flatnonzero((converters & cut).any(axis=1))
        if len(lost):
            converters &= ~cut
            table[lost] = self._factor(points.corner[todo[lost]], flags[lost])
        points.topology[todo] = table
        r = self.reduced.reduced
        z, u0 = np.moveaxis(r.impedance_ohm[table], 0, 2), r.open_v[table].T.copy()
        share = None
        faulty = np.flatnonzero(points.fault[todo] >= 0)
        if len(faulty):
            which, at = points.fault[todo[faulty]], table[faulty]
            delta = self.changes.delta_s(points.corner[todo[faulty]], which, flags[faulty])
            site = self.changes.site[which]
            rest = 1 + delta * r.site_ohm[at, site]
            # A part that alone joins a piece to the rest carries no current, so taking it out changes nothing else.
            # Nor does a short of something that hangs on nothing.
            ends = self.network.site_pairs
            parted = (np.abs(rest) < _PARTED) | r.floating[at, ends[0][site]] | r.floating[at, ends[1][site]]
            kappa = np.where(parted, 0.0, delta / np.where(parted, 1.0, rest))
            points.kappa_s[todo[faulty]] = kappa
            w = r.site_port_ohm[at, site].T
            z[:, :, faulty] -= w[:, None] * (w * kappa)[None]
            u0[:, faulty] -= w * (kappa * r.site_v[at, site])
            if self.changes.burns[which].any():
                share = np.ones((len(self.changes.share), len(todo)))
                share[:, faulty] = self.changes.share[:, which]
        on = flags[:, len(self.network.switches) + len(self.network.relays) :].T
        start = points.port_v[:, todo] if warm else None
        u, d, good = solve_settled(self.devices, z, u0, on, share, start)
        points.port_v[:, todo], points.excess_a[:, todo] = u, d
        self.solved += len(todo)
        if points.trouble:
            for point in todo:
                points.trouble.pop(int(point), None)
        for place in np.flatnonzero(~good):
            points.trouble[int(todo[place])] = "no operating point found: Newton's method did not converge"
        return good

    def _cut_off(self, points: Points, todo: Indices, table: Indices, flags: Flags) -> Flags:
        """Return which converters a broken part leaves without the only way to their input, or back from it.

        Where a part alone joins a piece to the rest, a converter that draws from across it passes all its current
        through it: one ampere there drops the part's whole resistance.
        """
        lamps, pairs = len(self.network.lamps.a), len(self.network.converter_elements)
        cut = np.zeros((len(todo), pairs), dtype=bool)
        faulty = np.flatnonzero(points.fault[todo] >= 0)
        if not pairs or not len(faulty):
            return cut
        r, which, at = self.reduced.reduced, points.fault[todo[faulty]], table[faulty]
        site = self.changes.site[which]
        ohm = r.site_ohm[at, site]
        delta = self.changes.delta_s(points.corner[todo[faulty]], which, flags[faulty])
        alone = np.abs(1 + delta * ohm) < _PARTED
        through = np.abs(r.site_port_ohm[at, site][:, lamps : lamps + pairs]) > ohm[:, None] / 2
        cut[faulty] = alone[:, None] & through
        return cut

    def _listen(self, points: Points, todo: Indices) -> tuple[Flags, Flags]:
        """Return which coils pull and which converters run at the solved voltages."""
        net, corner = self.network, points.corner[todo]
        across = np.abs(self.watched_v(points, todo)[:, : len(net.coils)])
        pulled = (across >= self.pick_up_v[corner]) | (points.pulled[todo] & (across >= self.drop_out_v[corner]))
        self.changes.hold_open(points.fault[todo], pulled)
        lamps, pairs = len(net.lamps.a), len(net.converter_elements)
        on = self.minimum_input_v <= points.port_v[lamps : lamps + pairs, todo].T
        for column, converter in enumerate(net.converter_elements):
            if converter.gate is not None:
                on[:, column] &= self._gate_open(converter.gate, pulled)
        table = points.topology[todo]
        on &= ~self._cut_off(points, todo, table, np.array(self._toggles)[table])
        return pulled, on

    def _gate_open(self, gate: Gate, pulled: Flags) -> Flags:
        patterns, where = np.unique(pulled, axis=0, return_inverse=True)
        refs = [frozenset(c.ref for c, i in zip(self.network.coils, row, strict=True) if i) for row in patterns]
        return np.array([gate.is_open_to(names) for names in refs], dtype=bool)[where.reshape(-1)]

    # --- from ports back to the whole circuit ---

    def watched_v(self, points: Points, rows: Indices | None = None) -> Array:
        """Return the voltages of coils, then of loads, V, shape (points, watched)."""
        rows = np.arange(len(points.state)) if rows is None else rows
        r, table = self.reduced.reduced, points.topology[rows]
        d = points.excess_a[:, rows]
        volts = r.watched_v[table] - np.einsum("pkm,mp->pk", r.watched_ohm[table], d)
        kappa = points.kappa_s[rows]
        faulty = np.flatnonzero(kappa != 0)
        if len(faulty):
            site, at = self.changes.site[points.fault[rows[faulty]]], table[faulty]
            across = r.site_v[at, site] - np.einsum("pm,mp->p", r.site_port_ohm[at, site], d[:, faulty])
            volts[faulty] -= r.site_watched_ohm[at, site] * (kappa[faulty] * across)[:, None]
        return np.asarray(volts)

    def terminal_v(self, points: Points, rows: Indices) -> Array:
        """Return terminal voltages of points, V, shape (points, terminals); NaN where a terminal floats."""
        r, net, table = self.reduced.reduced, self.network, points.topology[rows]
        volts = r.terminal_v[table] - np.einsum("pnm,mp->pn", r.terminal_port_ohm[table], points.excess_a[:, rows])
        faulty = np.flatnonzero(points.kappa_s[rows] != 0)
        if len(faulty):
            site, at = self.changes.site[points.fault[rows[faulty]]], table[faulty]
            a, b = net.site_pairs[0][site], net.site_pairs[1][site]
            # The voltage already holds the excess currents; kappa turns it into the current that the change moves.
            moved = points.kappa_s[rows[faulty]] * (volts[faulty, a] - volts[faulty, b])
            # The column of the site is not kept: only readings of faults ask for it.
            for topology in np.unique(at):
                here = np.flatnonzero(at == topology)
                network = self.networks[points.corner[rows[faulty[here[0]]]]]
                inverse = network.inverse(self._toggles[topology][None])[0][0]
                volts[faulty[here]] -= (inverse[:, a[here]] - inverse[:, b[here]]).T * moved[here, None]
        volts[r.floating[table]] = np.nan
        return np.asarray(volts)

    def topologies(self, points: Points) -> Flags:
        """Return the toggles of points, shape (points, toggles)."""
        return np.array([self._toggles[row] for row in points.topology], dtype=bool).reshape(len(points.state), -1)

    def currents_a(self, points: Points, rows: Indices, volts: Array, corner: int) -> Array:
        """Return the currents of all elements, A from a to b, shape (points, elements); of a converter its output.

        Args:
            points: Solved points, without faults.
            rows: Which of them, all of one corner.
            volts: Their terminal voltages, V.
            corner: The corner.
        """
        net, elements = self.networks[corner], self.circuits[corner].elements
        a = np.array([net.index[element.a] for element in elements], dtype=np.intp)
        b = np.array([net.index[element.b] for element in elements], dtype=np.intp)
        across = np.nan_to_num(volts[:, a] - volts[:, b])
        currents = across * np.array([1 / e.resistance_ohm if isinstance(e, Resistive) else 0.0 for e in elements])
        column = {element.ref: number for number, element in enumerate(elements)}
        flags = self.topologies(points)[rows]
        for number, toggle in enumerate(net.toggles):
            if not isinstance(toggle, Converter):
                currents[:, column[toggle.ref]] *= flags[:, number]
        for element in elements:
            if isinstance(element, Battery):
                place = column[element.ref]
                currents[:, place] = (across[:, place] - element.voltage_v) / element.resistance_ohm
        lamps = self.circuit.of(Lamp)
        lamp_current, _ = net.lamps.current_and_slope(points.port_v[: len(lamps), rows])
        for number, lamp in enumerate(lamps):
            currents[:, column[lamp.ref]] = lamp_current[number]
        pairs = len(net.converter_elements)
        v_in = points.port_v[len(lamps) : len(lamps) + pairs, rows]
        v_out = points.port_v[len(lamps) + pairs : len(lamps) + 2 * pairs, rows]
        given = net.converters.currents(v_in, v_out, points.on[rows].T)
        for number, converter in enumerate(net.converter_elements):
            currents[:, column[converter.ref]] = given.i_out[number]
        diodes = self.circuit.of(Diode)
        forward = points.excess_a[len(net.ports[0]) - len(diodes) :, rows]
        for number, diode in enumerate(diodes):
            currents[:, column[diode.ref]] = forward[number] + across[:, column[diode.ref]] / diode.leak_ohm
        currents[np.abs(currents) < _NOTHING_A] = 0.0
        return np.asarray(currents)
