"""The linear network of some points: terminals without devices are taken out before, and read off after.

Newton's method (``wiregen.solve.newton``) works on the few terminals that stay (``wiregen.solve.ports``).
"""

from __future__ import annotations

import numpy as np

from wiregen.solve.devices import Array
from wiregen.solve.elimination import GROUND, EliminationStep
from wiregen.solve.network import Flags, Network
from wiregen.solve.ports import Ports, Rows, inverse_ohm


class Linear:
    """The network of some points.

    Args:
        net: The circuit.
        conduct_s: Conductances of the branches, S, shape (branches, points).
        battery_v: Voltages of the batteries, V, shape (batteries, points).

    Attributes:
        ports: The network as the devices see it.
    """

    def __init__(self, net: Network, conduct_s: Array, battery_v: Array) -> None:
        self.net = net
        points = conduct_s.shape[1]
        # One row more stays nothing: for pairs that nothing joins before devices do.
        table = np.zeros((net.inner_plan.rows + 1, points))
        table[net.first[0]] = conduct_s[net.first[1]]
        for row, branch in net.more:
            table[row] += conduct_s[branch]
        self.rows: Rows = list(table)
        self.injected_a: dict[int, Array] = {}
        for branch, volts in zip(net.batteries, battery_v, strict=True):
            amps = conduct_s[branch] * volts
            a, b = net.pairs[branch]
            self._inject(a, amps)
            self._inject(b, -amps)
        self.inverse_ohm: Rows = []
        for step in net.inner_plan.steps:
            self._take_out(step)
        injected = np.zeros((len(net.kept), points))
        for node, place in net.place.items():
            if node in self.injected_a:
                injected[place] = self.injected_a[node]
        self.ports = Ports(net, table[net.base], injected)

    def _inject(self, node: int, amps: Array) -> None:
        if node != GROUND:
            self.injected_a[node] = self.injected_a[node] + amps if node in self.injected_a else amps

    def _take_out(self, step: EliminationStep) -> None:
        rows, inverse = self.rows, inverse_ohm([self.rows[row] for _, row in step.toward])
        self.inverse_ohm.append(inverse)
        parts = [rows[row] * inverse for _, row in step.back]
        for target, place, row in step.joins:
            rows[target] += parts[place] * rows[row]
        amps = self.injected_a.get(step.node)
        if amps is not None:
            for (node, _), part in zip(step.back, parts, strict=True):
                self._inject(node, part * amps)

    def watched_v(self, kept: Array) -> Array:
        """Return the voltages of coils, then of loads, V, shape (watched, points), from those of the kept terminals."""
        volts = dict(zip(self.net.kept, kept, strict=True))
        for number in self.net.read:
            self._read_back(number, volts)
        out = np.zeros((len(self.net.watched), self.ports.points))
        for row, (a, b) in enumerate(self.net.watched):
            if a != GROUND:
                out[row] += volts[a]
            if b != GROUND:
                out[row] -= volts[b]
        return out

    def terminal_v(self, kept: Array, share: Array | None) -> tuple[Array, Flags]:
        """Return the voltages of all terminals, V, and which float, both of shape (terminals, points).

        Args:
            kept: Voltages of the kept terminals, V.
            share: See ``Ports.linked``.
        """
        net = self.net
        volts = dict(zip(net.kept, kept, strict=True))
        linked = self.ports.linked(share)
        for number in range(len(net.inner_plan.steps) - 1, -1, -1):
            step = net.inner_plan.steps[number]
            self._read_back(number, volts)
            linked[step.node] = np.zeros(self.ports.points, dtype=bool)
            for node, row in step.toward:
                some = self.rows[row] > 0
                linked[step.node] |= some if node == GROUND else some & linked[node]
        table, adrift = (
            np.zeros((len(net.index), self.ports.points)),
            np.zeros((len(net.index), self.ports.points), bool),
        )
        for node, values in volts.items():
            table[node], adrift[node] = values, ~linked[node]
        return table, adrift

    def _read_back(self, number: int, volts: dict[int, Array]) -> None:
        step, inverse = self.net.inner_plan.steps[number], self.inverse_ohm[number]
        amps: Array | float = self.injected_a.get(step.node, 0.0)
        for node, row in step.toward:
            if node != GROUND:
                amps = amps + self.rows[row] * volts[node]
        volts[step.node] = amps * inverse
