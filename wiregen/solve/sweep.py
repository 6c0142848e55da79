"""Solve many points of one circuit together: every state, at every corner, with every fault.

A point is a corner, a setting of the switches, and at most one fault. Points start with all relays at rest and all
converters off, or, for a fault, where the same state came to rest without it; relays and converters are iterated until
nothing changes. A fault is nothing but another conductance, contact or lamp of its point. One that changes nothing,
because no current flows there, is not solved again, and of faults that lamps and relays cannot tell apart one is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from wiregen.model.circuit import Battery, Circuit, Coil, Converter, Gate
from wiregen.model.fault import Fault
from wiregen.solve.changes import Changes
from wiregen.solve.cycles import Histories
from wiregen.solve.devices import Array, Indices
from wiregen.solve.linear import Linear
from wiregen.solve.network import Flags, Network
from wiregen.solve.newton import Devices
from wiregen.solve.ports import Ports
from wiregen.solve.settle import solve_doubting, switched_on
from wiregen.solve.states import Setting

_RELAY_ROUNDS: Final = 32
#: A change that moves less current than this, A, moves no voltage by more than 1e-8 V in a circuit below 100 kilohm.
_NO_CHANGE_A: Final = 1e-13
#: Currents below this are round-off, A.
_NOTHING_A: Final = 1e-9


@dataclass
class Points:
    """Points and their solution; the last axis of two-dimensional arrays of voltages counts points.

    Attributes:
        corner: Row of the corner of each point.
        state: Row of its setting.
        fault: Row of its fault, -1 for none.
        port_v: Port voltages, V, shape (ports, points): lamps, converter inputs, converter outputs, diodes.
        watched_v: Voltages of coils, then of loads, V, shape (watched, points).
        pulled: Which coils pull, shape (points, coils).
        on: Which converters are on, shape (points, converters).
        trouble: Words for points that cannot be trusted, by point.
    """

    corner: Indices
    state: Indices
    fault: Indices
    port_v: Array
    watched_v: Array
    pulled: Flags
    on: Flags
    trouble: dict[int, str]

    def __len__(self) -> int:
        return len(self.state)

    def take(self, rows: Indices) -> Points:
        """Return copies of some points, without their troubles."""
        return Points(
            self.corner[rows], self.state[rows], self.fault[rows], self.port_v[:, rows], self.watched_v[:, rows],
            self.pulled[rows], self.on[rows], {},
        )  # fmt: skip

    def part(self, start: int, stop: int) -> Points:
        """Return copies of some points that follow each other, with their troubles."""
        found = self.take(np.arange(start, min(stop, len(self))))
        found.trouble = {row - start: words for row, words in self.trouble.items() if start <= row < stop}
        return found

    def put(self, rows: Indices, other: Points) -> None:
        """Replace some points by those of ``other``, troubles included."""
        self.port_v[:, rows], self.watched_v[:, rows] = other.port_v, other.watched_v
        self.pulled[rows], self.on[rows] = other.pulled, other.on
        if self.trouble:
            for row in rows:
                self.trouble.pop(int(row), None)
        self.trouble |= {int(rows[row]): words for row, words in other.trouble.items()}


@dataclass(frozen=True)
class _Parked:
    """Points that are to be switched on from dark."""

    rows: Indices
    devices: Devices
    ports: Ports


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
        self.network = net = Network(self.circuits, self.changes.shorts)
        self.changes.enter(net)
        self.closed = np.array([s.closed for s in self.settings], dtype=bool).reshape(len(self.settings), -1)
        coils = [circuit.of(Coil) for circuit in self.circuits]
        self.pick_up_v = np.array([[coil.pick_up_v for coil in row] for row in coils]).reshape(len(coils), -1)
        self.drop_out_v = np.array([[coil.drop_out_v for coil in row] for row in coils]).reshape(len(coils), -1)
        self.minimum_input_v = np.array([c.minimum_input_v for c in net.converter_elements])
        #: Operating points that were asked for, and how many were solved for them, relay rounds included.
        self.asked = self.solved = 0

    # --- the order of work ---

    def healthy(self) -> Points:
        """Solve every setting at every corner without a fault: corners one after the other."""
        corners, settings = len(self.circuits), len(self.settings)
        points = self._blank(
            np.repeat(np.arange(corners), settings),
            np.tile(np.arange(settings), corners),
            np.full(corners * settings, -1),
        )
        self.asked += len(points)
        self._rest(points)
        return points

    def faulty(self, healthy: Points) -> Points:
        """Solve every point of ``healthy`` with every fault: all faults of the first point, then of the second ..."""
        count = len(self.faults)
        first, alike = self.changes.alike()
        some = healthy.take(np.repeat(np.arange(len(healthy)), len(first)))
        some.fault = np.tile(first, len(healthy))
        some.trouble = {
            row * len(first) + place: words for row, words in healthy.trouble.items() for place in range(len(first))
        }
        rows = np.flatnonzero(self._matters(healthy, first).reshape(-1))
        part = some.take(rows)
        self._rest(part, warm=True)
        # A relay held by its history is no answer for a fault that was there from the start: those begin at rest.
        held = np.flatnonzero(self._held(part))
        if len(held):
            again = self._blank(part.corner[held], part.state[held], part.fault[held])
            self._rest(again)
            part.put(held, again)
        some.put(rows, part)
        points = some.take((np.arange(len(healthy))[:, None] * len(first) + alike).reshape(-1))
        points.fault = np.tile(np.arange(count), len(healthy))
        members = [np.flatnonzero(alike == place) for place in range(len(first))]
        for row, words in some.trouble.items():
            source, place = divmod(row, len(first))
            points.trouble |= {source * count + int(member): words for member in members[place]}
        self.asked += len(points)
        return points

    def _blank(self, corner: Indices, state: Indices, fault: Indices) -> Points:
        net, count = self.network, len(state)
        return Points(
            corner, state, fault, np.zeros((len(net.ports), count)), np.zeros((len(net.watched), count)),
            np.zeros((count, len(net.coils)), dtype=bool), np.zeros((count, len(net.converter_elements)), dtype=bool),
            {},
        )  # fmt: skip

    def _matters(self, healthy: Points, faults: Indices) -> Flags:
        """Return which faults change anything where points stand without them, shape (points, faults)."""
        net, changes = self.network, self.changes
        rows = np.arange(len(healthy))
        volts, _ = self.voltages_v(healthy, rows)
        flags = self.toggles(healthy, rows)
        branches = net.conduct_s[:, healthy.corner]
        a, b = np.array(net.pairs, dtype=np.intp).reshape(-1, 2).T
        across = volts[a] - volts[b]
        across[net.batteries] -= net.battery_v[:, healthy.corner]
        closed = np.ones(branches.shape, dtype=bool)
        closed[net.contacts] = flags[:, : len(net.contacts)].T
        out = np.zeros((len(rows), len(faults)), dtype=bool)
        for column, fault in enumerate(faults):
            branch = changes.branch[fault]
            if changes.is_share[fault]:
                out[:, column] = True
            elif branch >= 0:
                change = changes.now_s[fault, healthy.corner] - branches[branch]
                out[:, column] = np.abs(change * closed[branch] * across[branch]) > _NO_CHANGE_A
            else:
                held = flags.copy()
                changes.hold(np.full(len(rows), fault), held)
                out[:, column] = (held != flags).any(axis=1)
        return out

    def _held(self, points: Points) -> Flags:
        across = np.abs(points.watched_v[: len(self.network.coils)].T)
        return np.asarray((points.pulled & (across < self.pick_up_v[points.corner])).any(axis=1))

    def _rest(self, points: Points, *, warm: bool = False) -> None:
        """Iterate relays and converters of points to rest.

        Args:
            points: Points, with the relays and converters to start from.
            warm: Start Newton's method from the port voltages they hold.
        """
        ready, parked = np.arange(len(points)), list[_Parked]()
        rounds = np.zeros(len(points), dtype=np.intp)
        histories = Histories((*self.network.coils, *self.network.converter_elements), len(points))
        while len(ready) or parked:
            # Switching on from dark takes many short steps: points in doubt wait for each other.
            if len(ready):
                rows, fed, late = self._solve(points, ready, warm=warm)
                good = np.ones(len(rows), dtype=bool)
                parked += late
                warm = False
            else:
                rows, fed, good = self._switch_on(points, parked)
                parked = []
            pulled, on = self._listen(points, rows)
            # A converter that asks for more than its feed can give has no operating point: it drops out.
            ready = self._moved(points, rows, pulled, on & fed & good[:, None], histories)
            rounds[ready] += 1
            restless = rounds[ready] >= _RELAY_ROUNDS
            points.trouble |= {int(row): "relays did not come to rest" for row in ready[restless]}
            ready = ready[~restless]

    def _moved(self, points: Points, rows: Indices, pulled: Flags, on: Flags, histories: Histories) -> Indices:
        """Note what coils and converters do now; return the points where that is another pattern, and a new one."""
        changed = (pulled != points.pulled[rows]).any(axis=1) | (on != points.on[rows]).any(axis=1)
        rows, pulled, on = rows[changed], pulled[changed], on[changed]
        endless = histories.repeats(rows, np.concatenate([pulled, on], axis=1))
        points.trouble |= {int(rows[place]): words for place, words in endless.items()}
        keep = np.delete(np.arange(len(rows)), [*endless])
        points.pulled[rows[keep]], points.on[rows[keep]] = pulled[keep], on[keep]
        return np.asarray(rows[keep])

    # --- one round ---

    def toggles(self, points: Points, rows: Indices) -> Flags:
        """Return the toggles of points, shape (points, toggles): switches, relay contacts, converters."""
        gates = self._by_pattern(points.pulled[rows], [relay.gate for relay in self.network.relays])
        flags = np.concatenate([self.closed[points.state[rows]], gates, points.on[rows]], axis=1)
        self.changes.hold(points.fault[rows], flags)
        return flags

    def _by_pattern(self, pulled: Flags, gates: Sequence[Gate]) -> Flags:
        """Return which gates are on, shape (points, gates), looking at every pattern of coils once."""
        if not gates or not len(pulled):
            return np.zeros((len(pulled), len(gates)), dtype=bool)
        packed = np.packbits(pulled, axis=1)
        if 0 < packed.shape[1] < 8:
            # Whole numbers are sorted much faster than rows.
            key = packed.astype(np.int64) @ (256 ** np.arange(packed.shape[1], dtype=np.int64))
            _, first, where = np.unique(key, return_index=True, return_inverse=True)
        else:
            _, first, where = np.unique(packed, axis=0, return_index=True, return_inverse=True)
        table = np.array([[gate.is_open_to(self._refs(pulled[row])) for gate in gates] for row in first], dtype=bool)
        return np.asarray(table[where.reshape(-1)])

    def _refs(self, pulled: Flags) -> frozenset[str]:
        return frozenset(coil.ref for coil, is_in in zip(self.network.coils, pulled, strict=True) if is_in)

    def _linear(self, points: Points, rows: Indices, flags: Flags) -> tuple[Linear, Array | None]:
        """Return the networks of points, with their contacts and faults, and the share of lamps and diodes there."""
        net, corner, fault = self.network, points.corner[rows], points.fault[rows]
        conduct = net.conduct_s[:, corner]
        share = None
        if len(self.faults) and (fault >= 0).any():
            changed = np.flatnonzero((fault >= 0) & (self.changes.branch[fault] >= 0))
            which = fault[changed]
            conduct[self.changes.branch[which], changed] = self.changes.now_s[which, corner[changed]]
        if len(self.faults) and (
            (self.changes.is_share[fault] & (fault >= 0)).any() or (self.changes.sound != 1).any()
        ):
            share = np.where(fault >= 0, self.changes.share[:, fault], self.changes.sound)
        conduct[net.contacts] *= flags[:, : len(net.contacts)].T
        return Linear(net, conduct, net.battery_v[:, corner]), share

    def _solve(self, points: Points, todo: Indices, *, warm: bool) -> tuple[Indices, Flags, list[_Parked]]:
        """Solve points with their relays and converters as they are.

        Returns:
            The points that are beyond doubt; which of their converters are fed, shape (points, converters); the others.
        """
        self.solved += len(todo)
        if points.trouble:
            for point in todo:
                points.trouble.pop(int(point), None)
        size = self.network.block
        sure, all_fed, parked = [], [], []
        for start in range(0, len(todo), size):
            rows = todo[start : start + size]
            linear, devices, fed = self._seen(points, rows)
            ports = linear.ports
            u, doubt = solve_doubting(devices, ports, points.port_v[:, rows] if warm else None)
            points.port_v[:, rows] = u
            points.watched_v[:, rows] = linear.watched_v(ports.nodes_v(devices.lines(u)[1]))
            late = np.flatnonzero(doubt)
            if len(late):
                parked.append(_Parked(rows[late], devices.pick(late), ports.pick(late)))
            sure.append(rows[~doubt])
            all_fed.append(fed[:, ~doubt].T)
        return np.concatenate(sure), np.concatenate(all_fed), parked

    def _switch_on(self, points: Points, parked: Sequence[_Parked]) -> tuple[Indices, Flags, Flags]:
        """Solve points from dark; return them, which of their converters are fed, and which came to rest."""
        rows = np.concatenate([part.rows for part in parked])
        u, good = switched_on(
            Devices.together([part.devices for part in parked]), Ports.together([part.ports for part in parked])
        )
        points.port_v[:, rows] = u
        points.trouble |= {
            int(row): "no operating point found: Newton's method did not converge" for row in rows[~good]
        }
        size, all_fed = self.network.block, []
        for start in range(0, len(rows), size):
            some = rows[start : start + size]
            linear, devices, fed = self._seen(points, some)
            drawn = devices.lines(points.port_v[:, some])[1]
            points.watched_v[:, some] = linear.watched_v(linear.ports.nodes_v(drawn))
            all_fed.append(fed.T)
        return rows, np.concatenate(all_fed), good

    def _seen(self, points: Points, rows: Indices) -> tuple[Linear, Devices, Flags]:
        """Return the networks and devices of points, and which converters are fed, shape (converters, points)."""
        flags = self.toggles(points, rows)
        linear, share = self._linear(points, rows, flags)
        fed = self._fed(linear, share)
        return linear, Devices(self.network, flags[:, len(self.network.contacts) :].T & fed, share), fed

    def _fed(self, linear: Linear, share: Array | None) -> Flags:
        """Return which converters have a path from their input to their common minus, shape (converters, points).

        Without one there is no voltage between them, and no current can come back.
        """
        c, ports = self.network.converters, linear.ports
        fed = np.ones((len(c.a), ports.points), dtype=bool)
        if not len(c.a):
            return fed
        to_ground = ports.linked(share)
        for number, (a, m) in enumerate(zip(map(int, c.a), map(int, c.common), strict=True)):
            first, second = (to_ground[end] for end in (a, m))
            fed[number] = first & second
            apart = np.flatnonzero(~first & ~second)
            if len(apart):
                some = ports.pick(apart)
                part = share[:, apart] if share is not None else None
                fed[number, apart] = some.linked(part, m)[a]
        return fed

    def _listen(self, points: Points, todo: Indices) -> tuple[Flags, Flags]:
        """Return which coils pull and which converters run at the solved voltages."""
        net, corner = self.network, points.corner[todo]
        across = np.abs(points.watched_v[: len(net.coils), todo].T)
        pulled = (across >= self.pick_up_v[corner]) | (points.pulled[todo] & (across >= self.drop_out_v[corner]))
        self.changes.hold_open(points.fault[todo], pulled)
        lamps, pairs = len(net.lamps.a), len(net.converter_elements)
        on = self.minimum_input_v <= points.port_v[lamps : lamps + pairs, todo].T
        gated = [column for column, converter in enumerate(net.converter_elements) if converter.gate is not None]
        if gated:
            gates = [gate for gate in (net.converter_elements[column].gate for column in gated) if gate is not None]
            on[:, gated] &= self._by_pattern(pulled, gates)
        return pulled, on

    # --- from ports back to the whole circuit ---

    def voltages_v(self, points: Points, rows: Indices) -> tuple[Array, Flags]:
        """Return terminal voltages of points, V, and which terminals float, both of shape (terminals, points).

        Those of a piece that floats are against one of its own terminals.
        """
        size, net = self.network.block, self.network
        volts = np.empty((len(net.index), len(rows)))
        adrift = np.empty(volts.shape, dtype=bool)
        for start in range(0, len(rows), size):
            some = rows[start : start + size]
            linear, devices, _ = self._seen(points, some)
            kept = linear.ports.nodes_v(devices.lines(points.port_v[:, some])[1])
            volts[:, start : start + size], adrift[:, start : start + size] = linear.terminal_v(kept, devices.share)
        return volts, adrift

    def terminal_v(self, points: Points, rows: Indices) -> Array:
        """Return terminal voltages of points, V, shape (points, terminals); NaN where a terminal floats."""
        volts, adrift = self.voltages_v(points, rows)
        return np.where(adrift, np.nan, volts).T

    def currents_a(self, points: Points) -> Array:
        """Return the currents of all elements, A from a to b, shape (points, elements); of a converter its output.

        Args:
            points: Solved points, without faults.
        """
        net, elements, rows = self.network, self.circuit.elements, np.arange(len(points))
        volts, _ = self.voltages_v(points, rows)
        flags = self.toggles(points, rows)
        conduct = net.conduct_s[:, points.corner]
        conduct[net.contacts] *= flags[:, : len(net.contacts)].T
        devices = Devices(net, points.on.T)
        at_ports, _ = devices.lines(points.port_v)
        _, _, outputs, diodes = devices.spans
        port = {lamp.ref: number for number, lamp in enumerate(net.lamp_elements)}
        port |= {diode.ref: diodes.start + number for number, diode in enumerate(net.diode_elements)}
        output = {c.ref: outputs.start + number for number, c in enumerate(net.converter_elements)}
        battery = {b.ref: number for number, b in enumerate(self.circuit.of(Battery))}
        currents = np.zeros((len(elements), len(points)))
        for column, element in enumerate(elements):
            if isinstance(element, Converter):
                currents[column] = -at_ports[output[element.ref]]
                continue
            across = volts[net.index[element.a]] - volts[net.index[element.b]]
            if element.ref in battery:
                across -= net.battery_v[battery[element.ref], points.corner]
            if element.ref in net.branch:
                currents[column] = across * conduct[net.branch[element.ref]]
            if element.ref in port:
                currents[column] += at_ports[port[element.ref]]
        currents[np.abs(currents) < _NOTHING_A] = 0.0
        return np.asarray(currents.T)

    def input_a(self, points: Points) -> dict[str, Array]:
        """Return the input current of every converter at solved points without faults, A, by its ref."""
        devices = Devices(self.network, points.on.T)
        amps, _ = devices.lines(points.port_v)
        inputs = amps[devices.spans[1]]
        return {c.ref: inputs[number] for number, c in enumerate(self.network.converter_elements)}
