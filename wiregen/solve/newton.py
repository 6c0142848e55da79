"""Newton's method on the ports of many points at once.

Arrays have the points on the last axis, so that every step of the elimination runs over all points together. The
equations are u − u0 + Z d(u) = 0 with port voltages u, V, and excess currents d, A (see ``wiregen.solve.network``).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from wiregen.solve.devices import Array, Converters, Diodes, Indices, Lamps

Flags = npt.NDArray[np.bool_]

#: A point is solved when no port voltage is off by more than this, V.
BALANCE_V: Final = 1e-9
_ROUNDS: Final = 60
_FIRST_ROUNDS: Final = 6
_FIRST_HALVINGS: Final = 2
_HALVINGS: Final = 8
_STALLS: Final = 6
_PROGRESS: Final = 0.8
#: Share of the largest term of a balance that round-off may leave of it.
_ROUND_OFF: Final = 32 * float(np.finfo(float).eps)
#: Points are taken in blocks of this many: enough that numpy's own cost a call does not count.
BLOCK: Final = 4096


@dataclass(frozen=True)
class Devices:
    """The nonlinear elements of a circuit.

    Attributes:
        lamps: Lamps, arrays as columns.
        converters: Converters, arrays as columns.
        base_v: Voltage the linear network gives each converter that is on, V, as a column.
        diodes: Diodes, arrays as columns.
    """

    lamps: Lamps
    converters: Converters
    base_v: Array
    diodes: Diodes

    @cached_property
    def peaks(self) -> tuple[tuple[int, float, float], ...]:
        """Of each lamp whose current falls above some voltage: its port, that voltage, V, and the current there, A."""
        return self.lamps.peaks()

    def start(self, u0: Array, on: Flags) -> Array:
        """Return port voltages to start from: the linear network's, with each running converter unloaded.

        A converter whose output follows its input is no part of the linear network; started at no voltage it would
        seem to feed a short.
        """
        count, pairs = len(self.lamps.a), len(self.converters.a)
        u = u0.copy()
        e_v = np.minimum(self.converters.output_v, self.converters.ratio * u0[count : count + pairs])
        outputs = u[count + pairs : count + 2 * pairs]
        outputs[:] = np.where(on & (self.base_v == 0), np.maximum(e_v, 0.0), outputs)
        return u

    def tame(self, old: Array, trial: Array, on: Flags) -> None:
        """Hold each converter's output of ``trial``, V, on the slope of its law where a step would jump over it.

        The law has a slope no wider than limit × resistance between two flat parts, the current limit and nothing; a
        step from either flat part leads far into the other, and back.
        """
        c = self.converters
        if not np.isfinite(c.limit_a).any():
            return
        count, pairs = len(self.lamps.a), len(c.a)
        before, after = old[count + pairs : count + 2 * pairs], trial[count + pairs : count + 2 * pairs]
        high = np.minimum(c.output_v, c.ratio * trial[count : count + pairs])
        low = high - c.limit_a * c.resistance_ohm
        jumps = on & (((before < low) & (after > high)) | ((before > high) & (after < low))) & (low > 0)
        after[:] = np.where(jumps, (low + high) / 2, after)

    def excess(self, u: Array, on: Flags, share: Array | None) -> tuple[Array, Array, Array, Array]:
        """Return what the ports draw beyond the linear network, and its slopes.

        Args:
            u: Port voltages, V, shape (ports, points).
            on: Which converters are on, shape (converters, points).
            share: Share of each lamp entry that is not burnt, shape (lamps, points), or None for all.

        Returns:
            Excess current d, A; its slope by its own port; of each converter input by the output voltage; of each
            converter output by the input voltage, A/V.
        """
        lamps, converters = self.lamps, self.converters
        count, pairs = len(lamps.a), len(converters.a)
        current, slope = lamps.current_and_slope(u[:count])
        if share is not None:
            current, slope = current * share, slope * share
        rated = lamps.rated_a / lamps.rated_v
        v_in, v_out = u[count : count + pairs], u[count + pairs : count + 2 * pairs]
        point = converters.currents(v_in, v_out, on)
        # The network already carries (base − v_out) / r for a converter that is on.
        linear = np.where(on, (self.base_v - v_out) / converters.resistance_ohm, 0.0)
        linear_slope = np.where(on, -1 / converters.resistance_ohm, 0.0)
        d = [current - rated * u[:count], point.i_in, linear - point.i_out]
        own = [slope - rated, point.in_by_in, linear_slope - point.out_by_out]
        if len(self.diodes.a):
            forward, its_slope = self.diodes.current_and_slope(u[count + 2 * pairs :])
            d.append(forward)
            own.append(its_slope)
        return np.concatenate(d), np.concatenate(own), point.in_by_out, -point.out_by_in


def solve_ports(
    devices: Devices, impedance_ohm: Array, open_v: Array, on: Flags, share: Array | None, start_v: Array | None = None
) -> tuple[Array, Array, Flags]:
    """Solve points.

    Args:
        devices: The nonlinear elements.
        impedance_ohm: Z of each point, shape (ports, ports, points).
        open_v: u0 of each point, shape (ports, points).
        on: Which converters are on, shape (converters, points).
        share: Share of lamps not burnt, shape (lamps, points), or None.
        start_v: Port voltages to start from, V, shape (ports, points); those of the linear network when None.

    Returns:
        Port voltages u, V, and excess currents d, A, shape (ports, points), and which points converged.
    """
    points = open_v.shape[1]
    u = start_v.copy() if start_v is not None else devices.start(open_v, on)
    d = np.empty_like(open_v)
    good = np.zeros(points, dtype=bool)

    def solve(pick: slice | Indices, rounds: int, halvings: int) -> None:
        part = share[:, pick] if share is not None else None
        z = np.ascontiguousarray(impedance_ohm[:, :, pick])
        u[:, pick], d[:, pick], good[pick] = solve_block(
            devices, z, open_v[:, pick], on[:, pick], part, u[:, pick], rounds, halvings
        )

    for start in range(0, points, BLOCK):
        solve(slice(start, min(start + BLOCK, points)), _FIRST_ROUNDS, _FIRST_HALVINGS)
    # The few that need more are taken up together, so that no block waits for them.
    late = np.flatnonzero(~good)
    for start in range(0, len(late), BLOCK):
        solve(late[start : start + BLOCK], _ROUNDS, _HALVINGS)
    return u, d, good


def solve_block(
    devices: Devices, z: Array, u0: Array, on: Flags, share: Array | None, u: Array, rounds: int, halvings: int
) -> tuple[Array, Array, Flags]:
    """Solve points from port voltages ``u`` in at most so many rounds and halvings a round; see ``solve_ports``."""
    u = u.copy()
    d, own, in_by_out, out_by_in = devices.excess(u, on, share)
    balance = u - u0 + np.einsum("ijp,jp->ip", z, d)
    error = np.abs(balance).max(axis=0, initial=0.0)
    todo = np.flatnonzero(error > BALANCE_V)
    stalls = np.zeros(u.shape[1], dtype=np.intp)
    for _ in range(rounds):
        if not len(todo):
            break
        everything = len(todo) == u.shape[1]
        pick = slice(None) if everything else todo
        some_z, some_share = z[:, :, pick], share[:, pick] if share is not None else None
        step = _eliminate(
            _jacobian(devices, some_z, own[:, pick], in_by_out[:, pick], out_by_in[:, pick]), balance[:, pick]
        )
        trial = _search(devices, some_z, u0[:, pick], on[:, pick], some_share, u[:, pick], step, error[pick], halvings)
        u[:, pick], d[:, pick], own[:, pick], in_by_out[:, pick], out_by_in[:, pick], balance[:, pick] = trial
        new_error = np.abs(trial[5]).max(axis=0)
        # A point that hardly improves, again and again, has no operating point within reach.
        stalls[pick] += ~(new_error < _PROGRESS * error[pick])
        error[pick] = new_error
        todo = todo[~(error[todo] <= BALANCE_V) & (stalls[todo] < _STALLS)]
    good = error <= BALANCE_V
    late = np.flatnonzero(~good)
    if len(late):
        # Where amperes pass a port of megohms, as between two diodes in series, round-off is all that is left.
        floor = _ROUND_OFF * np.einsum("ijp,jp->ip", np.abs(z[:, :, late]), np.abs(d[:, late])).max(axis=0)
        good[late] = error[late] <= floor
    return u, d, good


def _search(
    devices: Devices,
    z: Array,
    u0: Array,
    on: Flags,
    share: Array | None,
    u: Array,
    step: Array,
    error: Array,
    halvings: int,
) -> tuple[Array, Array, Array, Array, Array, Array]:
    """Take the Newton step; halve it for the points whose balance it makes worse."""
    trial = u - step
    devices.tame(u, trial, on)
    d, own, in_by_out, out_by_in = devices.excess(trial, on, share)
    balance = trial - u0 + np.einsum("ijp,jp->ip", z, d)
    length = np.ones(u.shape[1])
    for _ in range(halvings):
        worse = np.flatnonzero(~(np.abs(balance).max(axis=0) < error) & (error > BALANCE_V))
        if not len(worse):
            break
        length[worse] /= 2
        shorter = u[:, worse] - length[worse] * step[:, worse]
        devices.tame(u[:, worse], shorter, on[:, worse])
        trial[:, worse] = shorter
        part = share[:, worse] if share is not None else None
        d[:, worse], own[:, worse], in_by_out[:, worse], out_by_in[:, worse] = devices.excess(
            shorter, on[:, worse], part
        )
        balance[:, worse] = shorter - u0[:, worse] + np.einsum("ijp,jp->ip", z[:, :, worse], d[:, worse])
    return trial, d, own, in_by_out, out_by_in, balance


def _jacobian(devices: Devices, z: Array, own: Array, in_by_out: Array, out_by_in: Array) -> Array:
    """Return I + Z · (slopes of the excess currents), shape (ports, ports, points)."""
    count, pairs = len(devices.lamps.a), len(devices.converters.a)
    jacobian = z * own[None]
    inputs, outputs = slice(count, count + pairs), slice(count + pairs, count + 2 * pairs)
    # A converter's input current hangs on its output voltage too, and the other way round.
    jacobian[:, outputs] += z[:, inputs] * in_by_out[None]
    jacobian[:, inputs] += z[:, outputs] * out_by_in[None]
    diagonal = np.arange(len(z))
    jacobian[diagonal, diagonal] += 1.0
    return np.asarray(jacobian)


def _eliminate(matrix: Array, right: Array) -> Array:
    """Return the solution of matrix · x = right for every point, by elimination without row exchange.

    The matrix is I + Z G with Z positive semidefinite; where all slopes G are positive no exchange is needed. Where a
    pivot vanishes all the same, the point comes out as no number and is taken up by the caller as not converged.
    """
    size = len(matrix)
    right = right.copy()
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for k in range(size - 1):
            factor = matrix[k + 1 :, k] / matrix[k, k]
            matrix[k + 1 :, k + 1 :] -= factor[:, None] * matrix[k, k + 1 :][None]
            right[k + 1 :] -= factor * right[k]
        for k in range(size - 1, -1, -1):
            right[k] /= matrix[k, k]
            right[:k] -= matrix[:k, k] * right[k]
    return right
