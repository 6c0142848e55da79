"""Newton's method on the ports of many points at once.

Arrays have the points on the last axis, so that every step runs over all points together. In each round the devices are
replaced by straight lines through their present currents, and the network says which port voltages follow
(``wiregen.solve.network``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from wiregen.solve.devices import Array, Converters, Diodes, Indices, Lamps
from wiregen.solve.network import Flags, Network
from wiregen.solve.ports import DrawnCurrents, Ports

#: A point is solved when no port voltage is off by more than this, V.
BALANCE_V: Final = 1e-9
#: A set voltage from here on is none: the output follows the input, V.
_FOLLOWS_FROM_V: Final = 100.0
_PLAIN_ROUNDS: Final = 16
#: Half a step now and then ends the running to and fro between two straight lines of a law.
_HALF_ROUNDS: Final = (5, 8, 11)
#: Once this share of the points is solved, only the others go on.
_DONE_SHARE: Final = 0.25
_STALLS: Final = 6
_PROGRESS: Final = 0.8
#: Share of the largest term of a balance that round-off may leave of it.
_ROUND_OFF: Final = 32 * float(np.finfo(float).eps)


@dataclass(frozen=True)
class Devices:
    """The nonlinear elements of some points.

    Attributes:
        net: The circuit they are of.
        on: Which converters are on, shape (converters, points).
        share: Share of each lamp and diode that is there, shape (lamps and diodes, points), or None for all.
    """

    net: Network
    on: Flags
    share: Array | None = None

    def pick(self, rows: Indices) -> Devices:
        """Return the devices of some of the points."""
        return Devices(self.net, self.on[:, rows], self.share[:, rows] if self.share is not None else None)

    @classmethod
    def together(cls, parts: Sequence[Devices]) -> Devices:
        """Return the devices of several lots of points of one circuit."""
        share = None
        if any(part.share is not None for part in parts):
            rows = len(parts[0].net.lamp_elements) + len(parts[0].net.diode_elements)
            some = [np.ones((rows, part.on.shape[1])) if part.share is None else part.share for part in parts]
            share = np.concatenate(some, axis=1)
        return cls(parts[0].net, np.concatenate([part.on for part in parts], axis=1), share)

    @property
    def lamps(self) -> Lamps:
        """Lamps, arrays as columns."""
        return self.net.lamps

    @property
    def converters(self) -> Converters:
        """Converters, arrays as columns."""
        return self.net.converters

    @property
    def diodes(self) -> Diodes:
        """Diodes, arrays as columns."""
        return self.net.diodes

    @cached_property
    def spans(self) -> tuple[slice, slice, slice, slice]:
        """Which ports are lamps, converter inputs, converter outputs, diodes."""
        lamps, pairs = len(self.lamps.a), len(self.converters.a)
        ends = lamps, lamps + pairs, lamps + 2 * pairs, lamps + 2 * pairs + len(self.diodes.a)
        return slice(0, ends[0]), slice(ends[0], ends[1]), slice(ends[1], ends[2]), slice(ends[2], ends[3])

    @property
    def base_v(self) -> Array:
        """Voltage that a converter has without load when its input is high enough, V; nothing for one that follows."""
        return np.where(self.converters.output_v < _FOLLOWS_FROM_V, self.converters.output_v, 0.0)

    def plain(self) -> DrawnCurrents:
        """Return the devices as a fixed network: lamps at their rated resistance, converters at their set voltage."""
        lamps, _, outputs, _ = self.spans
        own = np.zeros((len(self.net.ports), self.on.shape[1]))
        source = np.zeros_like(own)
        own[lamps] = self.lamps.rated_a / self.lamps.rated_v
        if self.share is not None:
            own[lamps] *= self.share[lamps]
        own[outputs] = self.on / self.converters.resistance_ohm
        source[outputs] = self.base_v * own[outputs]
        return DrawnCurrents(own, source)

    def start(self, ports: Ports) -> Array:
        """Return port voltages to start from, V: the fixed network's, with each converter that follows unloaded.

        Started at no voltage such a converter would seem to feed a short.
        """
        _, inputs, outputs, _ = self.spans
        u = ports.respond(self.plain())
        e_v = np.minimum(self.converters.output_v, self.converters.ratio * u[inputs])
        u[outputs] = np.where(self.on & (self.base_v == 0), np.maximum(e_v, 0.0), u[outputs])
        return u

    def tame(self, old: Array, trial: Array) -> None:
        """Hold each converter's output of ``trial``, V, on the slope of its law where a step would jump over it.

        The law has a slope no wider than limit × resistance between two flat parts, the current limit and nothing; a
        step from either flat part leads far into the other, and back.
        """
        c = self.converters
        if not c.is_limited:
            return
        _, inputs, outputs, _ = self.spans
        before, after = old[outputs], trial[outputs]
        high = np.minimum(c.output_v, c.ratio * trial[inputs])
        low = high - c.limit_a * c.resistance_ohm
        jumps = self.on & (((before < low) & (after > high)) | ((before > high) & (after < low))) & (low > 0)
        after[:] = np.where(jumps, (low + high) / 2, after)

    @np.errstate(over="ignore", invalid="ignore", divide="ignore")
    def lines(self, u: Array) -> tuple[Array, DrawnCurrents]:
        """Return what the ports draw at voltages ``u``, A, and straight lines through it."""
        lamps, inputs, outputs, diodes = self.spans
        amps, own = np.empty_like(u), np.empty_like(u)
        amps[lamps], own[lamps] = self.lamps.current_and_slope(u[lamps])
        in_by_out = out_by_in = None
        if len(self.diodes.a):
            amps[diodes], own[diodes] = self.diodes.current_and_slope(u[diodes])
        if self.share is not None:
            amps[lamps] *= self.share[: lamps.stop]
            own[lamps] *= self.share[: lamps.stop]
            amps[diodes] *= self.share[lamps.stop :]
            own[diodes] *= self.share[lamps.stop :]
        source = own * u
        source -= amps
        if len(self.converters.a):
            v_in, v_out = u[inputs], u[outputs]
            at = self.converters.currents(v_in, v_out, self.on)
            in_by_out, out_by_in = at.in_by_out, -at.out_by_in
            amps[inputs], amps[outputs] = at.i_in, -at.i_out
            own[inputs], own[outputs] = at.in_by_in, -at.out_by_out
            source[inputs] = at.in_by_in * v_in + in_by_out * v_out - at.i_in
            source[outputs] = own[outputs] * v_out + out_by_in * v_in + at.i_out
        return amps, DrawnCurrents(own, source, in_by_out, out_by_in)

    def answer(self, ports: Ports, u: Array) -> Array:
        """Return the voltages of the fixed network, V, with what the devices draw at ``u`` beyond it."""
        amps, _ = self.lines(u)
        own = self.plain().own_s
        return ports.respond(DrawnCurrents(own, own * u - amps))


@np.errstate(over="ignore", invalid="ignore", divide="ignore")
def solve_plain(
    devices: Devices, ports: Ports, start_v: Array, rounds: int = _PLAIN_ROUNDS, rest_v: Array | None = None
) -> tuple[Array, Flags]:
    """Take full Newton steps; return port voltages, V, and which points are solved.

    Args:
        devices: The nonlinear elements.
        ports: The networks.
        start_v: Port voltages to start from, V.
        rounds: Steps at the most.
        rest_v: A point is solved when its step moves no port by more, V, shape (points,); ``BALANCE_V`` when None.
    """
    u = start_v.copy()
    good = np.zeros(u.shape[1], dtype=bool)
    todo, now = np.arange(u.shape[1]), u
    for round_number in range(1, rounds + 1):
        new = _stepped(devices, ports, now)
        if round_number in _HALF_ROUNDS:
            new += now
            new /= 2
        devices.tame(now, new)
        done = np.abs(new - now).max(axis=0, initial=0.0) <= (BALANCE_V if rest_v is None else rest_v[todo])
        now = new
        count = np.count_nonzero(done)
        if count == len(todo) or count > _DONE_SHARE * len(todo) or round_number == rounds:
            u[:, todo], good[todo] = now, done
            left = np.flatnonzero(~done)
            if not len(left):
                break
            todo, now, devices, ports = todo[left], now[:, left], devices.pick(left), ports.pick(left)
    return u, good


@np.errstate(over="ignore", invalid="ignore", divide="ignore")
def solve_damped(devices: Devices, ports: Ports, start_v: Array, rounds: int, halvings: int) -> tuple[Array, Flags]:
    """Take Newton steps, each halved while it makes the balance worse; return port voltages, V, and what is solved."""
    u = start_v.copy()
    balance = u - devices.answer(ports, u)
    error = np.abs(balance).max(axis=0, initial=0.0)
    todo = np.flatnonzero(~(error <= BALANCE_V))
    stalls = np.zeros(u.shape[1], dtype=np.intp)
    for _ in range(rounds):
        if not len(todo):
            break
        some, net = devices.pick(todo), ports.pick(todo)
        new, new_error = _search(some, net, u[:, todo], error[todo], halvings)
        # A point that hardly improves, again and again, has no operating point within reach.
        stalls[todo] += ~(new_error < _PROGRESS * error[todo])
        u[:, todo], error[todo] = new, new_error
        todo = todo[~(error[todo] <= BALANCE_V) & (stalls[todo] < _STALLS)]
    good = error <= BALANCE_V
    late = np.flatnonzero(~good)
    if len(late):
        good[late] = error[late] <= round_off_v(devices.pick(late), ports.pick(late), u[:, late])
    return u, good


def round_off_v(devices: Devices, ports: Ports, u: Array) -> Array:
    """Return what round-off may leave of a balance, V: much where amperes pass a port of megohms, as between diodes."""
    amps, _ = devices.lines(u)
    own = devices.plain().own_s
    return np.asarray(_ROUND_OFF * np.abs(ports.respond(DrawnCurrents(own, np.abs(amps)))).max(axis=0, initial=0.0))


def _stepped(devices: Devices, ports: Ports, u: Array) -> Array:
    """Return where a full Newton step from ``u`` leads, V: one linear system a point."""
    _, drawn = devices.lines(u)
    return ports.respond(drawn)


def _search(devices: Devices, ports: Ports, u: Array, error: Array, halvings: int) -> tuple[Array, Array]:
    """Take the Newton step; halve it for the points whose balance it makes worse. Return voltages and balances, V."""
    step = _stepped(devices, ports, u) - u
    trial = u + step
    devices.tame(u, trial)
    now = _error(devices, ports, trial)
    length = 1.0
    for _ in range(halvings):
        worse = np.flatnonzero(~(now < error) & (error > BALANCE_V))
        if not len(worse):
            break
        length /= 2
        some, net = devices.pick(worse), ports.pick(worse)
        shorter = u[:, worse] + length * step[:, worse]
        some.tame(u[:, worse], shorter)
        trial[:, worse], now[worse] = shorter, _error(some, net, shorter)
    return trial, now


def _error(devices: Devices, ports: Ports, u: Array) -> Array:
    return np.asarray(np.abs(u - devices.answer(ports, u)).max(axis=0, initial=0.0))
