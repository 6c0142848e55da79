"""Operating points that Newton's method does not find, or that a circuit would not reach when it is switched on.

A lamp whose current falls with its voltage, a converter at its current limit, and a converter that starves its own feed
may have more than one operating point, and Newton's method finds any of them. The one to show is the one a circuit
reaches from dark. So the doubtful points are switched on: every port gets a capacitor, all are empty at first, and the
time steps (backward Euler) grow until nothing moves any more. What is left is an operating point that holds by itself.

A capacitor that takes ``g`` siemens in a step is a change of the linear network: with the voltages v of the step
before, u = u0 − Z (d + g (u − v)) is u = u0' − Z' d with (1 + g Z) Z' = Z and (1 + g Z) u0' = u0 + g Z v.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from wiregen.solve.devices import Array
from wiregen.solve.newton import Devices, Flags, solve_block, solve_ports

#: Conductance of the capacitors in the first and in the last step, S: capacity over step time.
FIRST_S: Final = 1e4
LAST_S: Final = 1e-12
GROWTH: Final = 4.0
RETREAT: Final = 32.0
_STEPS: Final = 100
_ROUNDS: Final = 16
_HALVINGS: Final = 8
#: The last step may move a voltage by this share of the highest one; more is a jump to another operating point.
_REST: Final = 1e-3
#: A lamp that is offered so many times its highest current on the way up gets past it; less is looked at.
_MARGIN: Final = 2.0
#: A converter whose feed has lost more than half its voltage is beyond the most power the feed can give.
_HALF: Final = 0.5
#: Where a 12 V regulated lamp takes most, as a share of a converter's output (7 V of 13.5 V, and some room).
_PEAK_SHARE: Final = 0.45


def solve_settled(
    devices: Devices, impedance_ohm: Array, open_v: Array, on: Flags, share: Array | None, start_v: Array | None = None
) -> tuple[Array, Array, Flags]:
    """Solve points as ``solve_ports`` does, and switch on from dark those that may have come out otherwise."""
    u, d, good = solve_ports(devices, impedance_ohm, open_v, on, share, start_v)
    late = np.flatnonzero(~good | doubtful(devices, impedance_ohm, open_v, u, d, on))
    if len(late):
        part = share[:, late] if share is not None else None
        u[:, late], d[:, late], good[late] = switched_on(
            devices, impedance_ohm[:, :, late], open_v[:, late], on[:, late], part
        )
    return u, d, good


def doubtful(devices: Devices, z: Array, u0: Array, u: Array, d: Array, on: Flags) -> Flags:
    """Return which solved points may not be the ones that a circuit reaches from dark.

    Args:
        devices: The nonlinear elements.
        z: Port impedances, ohm, shape (ports, ports, points).
        u0: Port voltages of the linear network, V, shape (ports, points).
        u: Port voltages, V.
        d: Excess currents, A.
        on: Which converters are on, shape (converters, points).
    """
    lamps, converters = devices.lamps, devices.converters
    count, pairs = len(lamps.a), len(converters.a)
    doubt = np.zeros(u.shape[1], dtype=bool)
    more_a = np.zeros(u.shape[1])
    for row, peak_v, peak_a in devices.peaks:
        passed = u[row] > peak_v
        if passed.any():
            current = d[row] + lamps.rated_a[row] / lamps.rated_v[row] * u[row]
            offered = current + (u[row] - peak_v) / z[row, row]
            doubt |= passed & (offered < _MARGIN * peak_a)
            more_a += passed * np.maximum(peak_a - current, 0.0)
    if not pairs:
        return doubt
    v_in, v_out = u[count : count + pairs], u[count + pairs : count + 2 * pairs]
    starves = on & (v_in < _HALF * u0[count : count + pairs])
    doubt |= starves.any(axis=0)
    if np.isfinite(converters.limit_a).any():
        given = converters.currents(v_in, v_out, on).i_out
        back = converters.foldback
        # Filaments take the root of their voltage or less: the least that a folded limit leaves above that root.
        least = np.where(back < _HALF, 2 * np.sqrt(back * (1 - back)), 1.0)
        peak = np.where(more_a > 0, back + (1 - back) * _PEAK_SHARE, 1.0)
        wary = (more_a > 0) | (back < _HALF)
        doubt |= (on & wary & (given + more_a > converters.limit_a * np.minimum(least, peak))).any(axis=0)
    return doubt


def switched_on(devices: Devices, z: Array, u0: Array, on: Flags, share: Array | None) -> tuple[Array, Array, Flags]:
    """Solve the points that circuits reach from dark.

    Args:
        devices: The nonlinear elements.
        z: Port impedances, ohm, shape (ports, ports, points).
        u0: Port voltages of the linear network, V, shape (ports, points).
        on: Which converters are on, shape (converters, points).
        share: Share of lamps not burnt, shape (lamps, points), or None.

    Returns:
        Port voltages u, V, excess currents d, A, and which points came to rest.
    """
    u, d = np.zeros_like(u0), np.zeros_like(u0)
    g = np.full(u0.shape[1], FIRST_S)
    good = np.zeros(u0.shape[1], dtype=bool)
    todo = np.arange(u0.shape[1])
    for _ in range(_STEPS):
        if not len(todo):
            break
        last = g[todo] <= LAST_S
        now_z, now_u0 = _step(z[:, :, todo], u0[:, todo], u[:, todo], np.where(last, 0.0, g[todo]))
        part = share[:, todo] if share is not None else None
        now, now_d, fine = solve_block(devices, now_z, now_u0, on[:, todo], part, u[:, todo], _ROUNDS, _HALVINGS)
        moved = np.abs(now - u[:, todo]).max(axis=0) > _REST * np.abs(now).max(axis=0)
        good[todo] = fine & last & ~moved
        u[:, todo[fine]], d[:, todo[fine]] = now[:, fine], now_d[:, fine]
        g[todo] = np.where(fine, np.maximum(g[todo] / GROWTH, LAST_S), g[todo] * RETREAT)
        # A point that moves away in the last step rests nowhere; one that cannot even begin has no way there.
        todo = todo[~(last & fine) & (g[todo] <= FIRST_S * RETREAT)]
    return u, d, good


def _step(z: Array, u0: Array, before: Array, g: Array) -> tuple[Array, Array]:
    """Return Z and u0 of a step with capacitors that take ``g``, S, at voltages ``before``, V."""
    many = np.moveaxis(z, 2, 0)
    loaded = np.eye(len(z)) + g[:, None, None] * many
    right = np.concatenate([many, (u0.T + g[:, None] * np.einsum("pij,pj->pi", many, before.T))[..., None]], axis=2)
    both = np.linalg.solve(loaded, right)
    return np.ascontiguousarray(np.moveaxis(both[:, :, :-1], 0, 2)), both[:, :, -1].T.copy()
