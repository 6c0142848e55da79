"""Operating points that Newton's method does not find, or that a circuit would not reach when it is switched on.

A lamp whose current falls with its voltage, a converter at its current limit, and a converter that starves its own feed
may have more than one operating point, and Newton's method finds any of them. The one to show is the one a circuit
reaches from dark. So the doubtful points are switched on: every port gets a capacitor, all are empty at first, and the
time steps (backward Euler) grow until nothing moves any more. What is left is an operating point that holds by itself.

A capacitor that takes ``g`` siemens in a step is a conductance at its port with a source of g times the voltage of the
step before.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from wiregen.solve.devices import Array
from wiregen.solve.network import Flags
from wiregen.solve.newton import BALANCE_V, Devices, solve_damped, solve_plain
from wiregen.solve.ports import DrawnCurrents, Ports

#: Conductance of the capacitors in the first and in the last step, S: capacity over step time.
FIRST_S: Final = 1e3
LAST_S: Final = 1e-12
_MOST_S: Final = 1e9
GROWTH: Final = 16.0
RETREAT: Final = 8.0
_STEPS: Final = 200
#: No feed is so weak that a converter it can feed dips so far on the way up, V.
_UNFED_V: Final = -0.5
#: No time step leads further than this, V: two operating points of a lamp on a converter lie further apart.
LEAP_V: Final = 3.0
#: Steps are made as long as leads so far, as a share of that.
_AIM: Final = 0.85
#: Below this no device has a slope, S: nothing happens any more that steps could be too long for.
_NO_SLOPE_S: Final = 1e-4
_LATE_GROWTH: Final = 1e4
#: A time step is left when it moves less than this, V.
_ON_THE_WAY_V: Final = 1e-2
_STEP_ROUNDS: Final = 8
_ROUNDS: Final = 16
_HALVINGS: Final = 8
#: The last step may move a voltage by this share of the highest one, or of 1 V; more is a jump to another operating
#: point.
_REST: Final = 1e-3
#: A lamp that is offered so many times its highest current on the way up gets past it; less is looked at.
_MARGIN: Final = 2.0
#: A converter whose feed has lost more than half its voltage is beyond the most power the feed can give.
_HALF: Final = 0.5
#: Where a 12 V regulated lamp takes most, as a share of a converter's output (7 V of 13.5 V, and some room).
_PEAK_SHARE: Final = 0.45


def solve_doubting(devices: Devices, ports: Ports, start_v: Array | None = None) -> tuple[Array, Flags]:
    """Solve points: return port voltages, V, shape (ports, points), and which points are to be switched on from dark.

    Args:
        devices: Their nonlinear elements.
        ports: Their networks.
        start_v: Port voltages to start from, V; those of the fixed network when None.
    """
    u, good = solve_plain(devices, ports, devices.start(ports) if start_v is None else start_v)
    late = np.flatnonzero(~good)
    if len(late) and start_v is not None:
        some, net = devices.pick(late), ports.pick(late)
        u[:, late], good[late] = solve_plain(some, net, some.start(net))
    return u, ~good | doubtful(devices, ports, u)


def doubtful(devices: Devices, ports: Ports, u: Array) -> Flags:
    """Return which solved points may not be the ones that a circuit reaches from dark.

    Args:
        devices: The nonlinear elements.
        ports: The networks.
        u: Port voltages, V.
    """
    converters = devices.converters
    doubt, more_a = np.zeros(u.shape[1], dtype=bool), np.zeros(u.shape[1])
    plain, current = devices.plain(), np.zeros_like(u)
    u0 = ports.respond(plain)
    if devices.net.peaks:
        current, _ = devices.lines(u)
    for row, peak_v, peak_a in devices.net.peaks:
        # A lamp that is not there has no peak to get past.
        passed = np.flatnonzero((u[row] > peak_v) & (True if devices.share is None else devices.share[row] > 0))
        if len(passed):
            # One ampere into the lamp's port shows the impedance there.
            source = plain.source_a[:, passed].copy()
            source[row] += 1.0
            ohm = ports.pick(passed).respond(DrawnCurrents(plain.own_s[:, passed], source))[row] - u0[row, passed]
            offered = current[row, passed] + (u[row, passed] - peak_v) / ohm
            doubt[passed] |= offered < _MARGIN * peak_a
            more_a[passed] += np.maximum(peak_a - current[row, passed], 0.0)
    if not len(converters.a):
        return doubt
    _, inputs, outputs, _ = devices.spans
    v_in, v_out = u[inputs], u[outputs]
    doubt |= (devices.on & (v_in < _HALF * u0[inputs])).any(axis=0)
    if converters.is_limited:
        given = converters.currents(v_in, v_out, devices.on).i_out
        back = converters.foldback
        # Filaments take the root of their voltage or less: the least that a folded limit leaves above that root.
        least = np.where(back < _HALF, 2 * np.sqrt(back * (1 - back)), 1.0)
        peak = np.where(more_a > 0, back + (1 - back) * _PEAK_SHARE, 1.0)
        wary = (more_a > 0) | (back < _HALF)
        doubt |= (devices.on & wary & (given + more_a > converters.limit_a * np.minimum(least, peak))).any(axis=0)
    return doubt


def switched_on(devices: Devices, ports: Ports) -> tuple[Array, Flags]:
    """Solve the points that circuits reach from dark: return port voltages, V, and which points came to rest."""
    points = ports.points
    u, g = np.zeros((len(ports.net.ports), points)), np.full(points, FIRST_S)
    good = np.zeros(points, dtype=bool)
    todo = np.arange(points)
    for _ in range(_STEPS):
        if not len(todo):
            break
        last = g[todo] <= LAST_S
        net = ports.pick(todo).loaded(np.where(last, 0.0, g[todo]), u[:, todo])
        now, fine = _step(devices.pick(todo), net, u[:, todo], last)
        shift = np.abs(now - u[:, todo])
        # The input of a converter that is off may hang on nothing but its capacitor.
        shift[devices.spans[1]] *= devices.on[:, todo]
        moved = (shift * (now > 0)).max(axis=0)
        good[todo] = fine & last & (shift.max(axis=0) <= _REST * np.abs(now).max(axis=0, initial=1.0))
        fine &= last | (moved <= LEAP_V)
        u[:, todo[fine]] = now[:, fine]
        g[todo] *= step_growth(fine, moved, g[todo])
        g[todo] = np.maximum(g[todo], LAST_S)
        # A running converter that pulls its own input below nothing has no feed: it will be taken out.
        unfed = fine & (devices.on[:, todo] & (now[devices.spans[1]] < _UNFED_V)).any(axis=0)
        good[todo[unfed]] = True
        # A point that moves away in the last step rests nowhere; one that cannot even begin has no way there.
        todo = todo[~(last & fine) & ~unfed & (g[todo] <= _MOST_S)]
    return u, good


def step_growth(fine: Flags, moved_v: Array, g_s: Array) -> Array:
    """Return by how much the conductance of the capacitors changes from one step to the next.

    Args:
        fine: Which steps were taken.
        moved_v: How far a step led, V.
        g_s: The conductance in it, S.
    """
    aim = _AIM * LEAP_V / np.maximum(moved_v, 1e-3)
    slower = np.where(g_s > _NO_SLOPE_S, np.clip(aim, 1.0, GROWTH), _LATE_GROWTH)
    return np.where(fine, 1 / slower, np.where(moved_v > LEAP_V, np.clip(1 / aim, 1.5, RETREAT), RETREAT))


def _step(devices: Devices, ports: Ports, before: Array, last: Flags) -> tuple[Array, Flags]:
    """Solve one time step; only the last one, with no capacitor any more, needs all its digits."""
    u, good = solve_plain(devices, ports, before, _STEP_ROUNDS, np.where(last, BALANCE_V, _ON_THE_WAY_V))
    late = np.flatnonzero(~good & last)
    if len(late):
        some, net = devices.pick(late), ports.pick(late)
        u[:, late], good[late] = solve_damped(some, net, before[:, late], _ROUNDS, _HALVINGS)
    return u, good
