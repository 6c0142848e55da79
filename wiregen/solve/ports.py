"""The linear network of some points, as their devices see it: only the terminals that are kept.

Where the devices draw along straight lines, one elimination without subtractions gives the voltages. A piece without
any path to the reference comes out as such, exactly: one terminal of it is held at nothing, so that the voltages inside
the piece still hold.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from wiregen.solve.devices import Array, Indices
from wiregen.solve.elimination import GROUND
from wiregen.solve.network import Flags, Network

Rows = list[Array]

#: Up to so many points numpy's own cost a call counts more than the work, and one product replaces many sums.
_FEW_POINTS: Final = 256


@dataclass(frozen=True)
class DrawnCurrents:
    """What the ports draw as straight lines: own · u + other · u of the converter's other port − source.

    Attributes:
        own_s: Slope by the port's own voltage, S, shape (ports, points).
        source_a: Current at no voltage, drawn the other way, A, same shape.
        in_by_out_s: Slope of each converter's input by its output voltage, S, shape (converters, points); None where
            nothing depends on the other side.
        out_by_in_s: Slope of each converter's output by its input voltage, S.
    """

    own_s: Array
    source_a: Array
    in_by_out_s: Array | None = None
    out_by_in_s: Array | None = None


@dataclass(frozen=True)
class Ports:
    """The network of some points as the devices see it.

    Attributes:
        net: The circuit.
        conduct_s: Conductances between kept terminals, S, shape (rows of the port plan, points).
        injected_a: Currents that the batteries inject there, A, shape (kept, points).
    """

    net: Network
    conduct_s: Array
    injected_a: Array

    @property
    def points(self) -> int:
        """How many points there are."""
        return int(self.conduct_s.shape[1])

    def pick(self, rows: Indices) -> Ports:
        """Return the network of some of the points."""
        return Ports(self.net, self.conduct_s[:, rows], self.injected_a[:, rows])

    @classmethod
    def together(cls, parts: Sequence[Ports]) -> Ports:
        """Return the networks of several lots of points of one circuit."""
        conduct = np.concatenate([part.conduct_s for part in parts], axis=1)
        return cls(parts[0].net, conduct, np.concatenate([part.injected_a for part in parts], axis=1))

    def loaded(self, g_s: Array, before_v: Array) -> Ports:
        """Return the network with a capacitor at every port.

        Args:
            g_s: What a capacitor takes in this step, S, shape (points,).
            before_v: Port voltages before it, V, shape (ports, points).
        """
        conduct, amps = self.conduct_s.copy(), self.injected_a.copy()
        own = np.broadcast_to(g_s, before_v.shape)
        self._stamp(DrawnCurrents(own, g_s * before_v), conduct, amps)
        return Ports(self.net, conduct, amps)

    def nodes_v(self, drawn: DrawnCurrents) -> Array:
        """Return the voltages of the kept terminals, V, shape (kept, points), where ports draw along straight lines."""
        table, volts = self.conduct_s.copy(), self.injected_a.copy()
        self._stamp(drawn, table, volts)
        conduct, amps = list(table), list(volts)
        inverses = []
        for here, toward, back, joins, _ in self.net.program:
            inverse = inverse_ohm([conduct[row] for row in toward])
            inverses.append(inverse)
            parts = [conduct[row] * inverse for _, row in back]
            for (place, _), part in zip(back, parts, strict=True):
                amps[place] += part * amps[here]
            for target, start, row in joins:
                conduct[target] += parts[start] * conduct[row]
        for (here, _, _, _, known), inverse in zip(reversed(self.net.program), reversed(inverses), strict=True):
            one = amps[here]
            for place, row in known:
                one += conduct[row] * amps[place]
            one *= inverse
        return volts

    def respond(self, drawn: DrawnCurrents) -> Array:
        """Return the port voltages, V, shape (ports, points), where ports draw along straight lines."""
        return np.asarray(self.net.reads @ self.nodes_v(drawn))

    def _stamp(self, drawn: DrawnCurrents, conduct: Array, amps: Array) -> None:
        net = self.net
        amps += net.reads.T @ drawn.source_a
        slopes = [drawn.own_s]
        if drawn.in_by_out_s is not None and drawn.out_by_in_s is not None:
            slopes += [drawn.in_by_out_s, drawn.out_by_in_s]
        if self.points <= _FEW_POINTS:
            for stamps, values in zip(net.stamps, slopes, strict=False):
                conduct += stamps @ values
            return
        for places, values in zip(net.stamp_places, slopes, strict=False):
            for row, sign, number in places:
                if sign > 0:
                    conduct[row] += values[number]
                else:
                    conduct[row] -= values[number]

    def linked(self, share: Array | None, start: int = GROUND) -> dict[int, Flags]:
        """Return which kept terminals, by row, have a path to one of them or to the reference.

        Args:
            share: Share of lamps and diodes that is there, shape (lamps and diodes, points), or None for all.
            start: The terminal to start from.
        """
        net = self.net
        edges: list[tuple[int, int, Flags | None]] = [(a, b, self.conduct_s[row] > 0) for a, b, row in net.joined]
        for number, (a, b) in enumerate(net.ports[: len(net.lamps.a)]):
            edges.append((a, b, share[number] > 0 if share is not None else None))
        found = {node: np.zeros(self.points, dtype=bool) for node in (*net.kept, GROUND)}
        found[start][:] = True
        going = True
        while going:
            before = [flags.sum() for flags in found.values()]
            for a, b, closed in edges:
                both = found[a] | found[b]
                if closed is not None:
                    both &= closed
                found[a] |= both
                found[b] |= both
            going = before != [flags.sum() for flags in found.values()]
        return found


def inverse_ohm(conductances: Rows) -> Array:
    """Return one over the sum of conductances, ohm; nothing where there is none."""
    total = conductances[0]
    for more in conductances[1:]:
        total = total + more
    if np.count_nonzero(total) < len(total):
        total = np.where(total == 0.0, np.inf, total)
    return 1.0 / total
