"""Measured lamps, diodes, converters at their limit: laws by hand, in both solvers; and which point a circuit takes."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.circuits import GROUND, battery, circuit, converter, filament, led, resistor
from tests.plain_solver import solve
from wiregen.model.circuit import Circuit, Diode, Lamp
from wiregen.model.corner import NOMINAL
from wiregen.model.study import Study
from wiregen.solve.devices import LED_BLEED_OHM, Diodes, Lamps
from wiregen.solve.full_study import solve_study

POINTS = ((9.0, 0.21), (12.0, 0.25), (15.0, 0.26))
#: One that is dark below 7 V and takes less the more it gets, as a regulated lamp does.
FALLING = ((7.0, 0.0), (8.0, 0.5), (12.0, 0.35), (24.0, 0.2))


def measured(ref: str, a: str, b: str = GROUND, *, points=POINTS, count: int = 1) -> Lamp:
    made = filament(ref, a, b, volts=points[-1][0], amps=0.25, count=count)
    return replace(made, technology="points", points=points)


def diode(ref: str, a: str, b: str, *, drop: float = 0.7, ohm: float = 0.02, leak: float = 1e5) -> Diode:
    return Diode(
        ref=ref, a=a, b=b, circuit="stop", zone="adapter", drop_v=drop, resistance_ohm=ohm, leak_ohm=leak
    )  # fmt: skip


def both(made: Circuit) -> list[Study]:
    """The plain and the fast solver's answer; each trusts its own."""
    answers = [solve(made, ()), solve_study(made, (), [NOMINAL])]
    assert [one.trouble for one in answers] == [("",), ("",)]
    return answers


# --- measured lamps --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("points", [POINTS, FALLING])
@pytest.mark.parametrize("count", [1, 7])
def test_a_measured_lamp_is_a_straight_line_between_its_points(points, count):
    """numpy's own interpolation is the reference; below 0 V and above the last point there is only the bleed."""
    index = {"a": 0, GROUND: 1}
    lamps = Lamps.of([measured("-E1", "a", points=points, count=count)], index)
    volts = np.linspace(-6.0, 30.0, 721)
    current, _ = lamps.current_and_slope(volts[:, None])
    at_v, at_a = (np.array([0.0, *column]) for column in zip(*points, strict=True))
    # A point below the bleed of 100 kilohm, such as 0 A, is raised to it.
    vertices = np.maximum(at_a * count, at_v / LED_BLEED_OHM)
    wanted = np.interp(volts, at_v, vertices)
    wanted = np.where(volts < 0, volts / LED_BLEED_OHM, wanted)
    beyond = volts > at_v[-1]
    wanted = np.where(beyond, vertices[-1] + (volts - at_v[-1]) / LED_BLEED_OHM, wanted)
    assert current[:, 0] == pytest.approx(wanted, abs=1e-12)


def test_the_slope_of_every_lamp_is_that_of_its_current():
    """Differences of the current are the reference, away from the kinks; rows and columns give the same."""
    parts = [
        measured("-E1", "a"),
        filament("-E2", "a"),
        measured("-E3", "a", points=FALLING, count=3),
        led("-E4", "a"),
    ]
    lamps = Lamps.of(parts, {"a": 0, GROUND: 1})
    volts = np.linspace(-3.03, 26.97, 101)
    grid = np.repeat(volts[:, None], len(parts), axis=1)
    current, slope = lamps.current_and_slope(grid)
    step = 1e-6
    ahead, _ = lamps.current_and_slope(grid + step)
    behind, _ = lamps.current_and_slope(grid - step)
    assert slope == pytest.approx((ahead - behind) / (2 * step), rel=1e-5, abs=1e-7)
    turned_current, turned_slope = lamps.columns().current_and_slope(grid.T.copy())
    assert np.array_equal(turned_current.T, current)
    assert np.array_equal(turned_slope.T, slope)


def test_a_measured_lamp_behind_a_resistance():
    """By hand: I = 0.21 + (V - 9) · 0.04 / 3 and V = 12 - 10 I meet at 0.220588 A and 9.79412 V."""
    for one in both(circuit(battery(12, 1e-6), resistor("-R1", "plus", "lamp", 10.0), measured("-E1", "lamp"))):
        assert one.current_a("-E1")[0] == pytest.approx(0.25 / (1 + 10 * 0.04 / 3), rel=1e-6)
        assert one.voltage_v("lamp")[0] == pytest.approx(12 - 2.20588, abs=1e-4)


def test_above_its_last_point_a_measured_lamp_is_held():
    """At 20 V the lamp measured up to 15 V takes its last 0.26 A, and what the bleed of 100 kilohm adds for 5 V."""
    for one in both(circuit(battery(20, 1e-6), measured("-E1", "plus"))):
        assert one.current_a("-E1")[0] == pytest.approx(0.26 + 5 / 1e5, abs=1e-8)


def test_where_the_current_of_a_lamp_falls_is_known():
    """A regulated lamp takes most at its cut-off voltage, the measured one at 8 V; filaments never fall."""
    parts = [filament("-E1", "a"), led("-E2", "a", watts=6, cut_off=7), measured("-E3", "a", points=FALLING, count=2)]
    bleed = 8 / LED_BLEED_OHM
    peaks = Lamps.of(parts, {"a": 0, GROUND: 1}).peaks()
    assert [(row, volts) for row, volts, _ in peaks] == [(1, 7.0), (2, 8.0)]
    assert [amps for _, _, amps in peaks] == pytest.approx([6 / 7, 2 * 0.5 - bleed])


# --- diodes ----------------------------------------------------------------------------------------------------------


def test_a_diode_conducts_one_way():
    """By hand: forward I = Vd / leak + (Vd - 0.7) / 0.02 with 12 = Vd + 10 I; backward only the leak."""
    loop = 10 + 1e-6
    siemens = 1 / 1e5 + 1 / 0.02
    forward_v = (12 + loop * 0.7 / 0.02) / (1 + loop * siemens)
    wanted = {"a": siemens * forward_v - 0.7 / 0.02, "k": -12 / (1e5 + loop)}
    for anode, amps in wanted.items():
        ends = ("plus", "far") if anode == "a" else ("far", "plus")
        for one in both(circuit(battery(12, 1e-6), diode("-V1", *ends), resistor("-R1", "far", GROUND, 10.0))):
            assert one.current_a("-V1")[0] == pytest.approx(amps, rel=1e-6)
            assert one.current_a("-R1")[0] == pytest.approx(abs(amps), rel=1e-6)


def test_of_two_supplies_behind_diodes_the_higher_feeds():
    """13 V and 12 V through a diode each onto 10 ohm: the first carries all, the second blocks."""
    made = circuit(
        battery(13, 1e-4, a="high"),
        battery(12, 1e-4, ref="-G2", a="low"),
        diode("-V1", "high", "bus"),
        diode("-V2", "low", "bus"),
        resistor("-R1", "bus", GROUND, 10.0),
    )
    for one in both(made):
        assert one.current_a("-V1")[0] == pytest.approx((13 - 0.7) / 10.02, rel=1e-4)
        # The leak lets (12 - 12.28) V / 100 kilohm back.
        assert one.current_a("-V2")[0] == pytest.approx(-0.275 / 1e5, rel=0.02)


def test_amperes_through_two_diodes_in_series():
    """28 V onto a 12 V battery over two diodes: (16 - 1.4) V over 0.1 + 0.04 + 0.02 ohm.

    The terminal between the diodes hangs on nothing but their leaks, so amperes pass a port of megohms.
    """
    made = circuit(
        battery(28, 0.01),
        resistor("-W1", "plus", "one", 0.1),
        diode("-V1", "one", "two"),
        diode("-V2", "two", "three"),
        battery(12, 0.01, ref="-G2", a="three"),
    )
    for one in both(made):
        assert one.current_a("-V1")[0] == pytest.approx(14.6 / 0.16, rel=1e-5)
        assert one.current_a("-V2")[0] == pytest.approx(14.6 / 0.16, rel=1e-5)


def test_the_slope_of_a_diode():
    """Nothing below the drop, one over its resistance above; its leak belongs to the network."""
    diodes = Diodes.of([diode("-V1", "a", "k", drop=0.5, ohm=0.1)], {"a": 0, "k": 1})
    current, slope = diodes.current_and_slope(np.array([[-24.0], [0.0], [0.5], [0.6]]))
    assert current.ravel() == pytest.approx([0, 0, 0, 1.0])
    assert slope.ravel() == pytest.approx([0, 0, 0, 10.0])


# --- which operating point -------------------------------------------------------------------------------------------


def regulated_v(ohm: float, watts: float = 6.0, supply_v: float = 24.0) -> float:
    """Higher root of V · (supply - V) / ohm = watts, V: where a regulated lamp behind a resistance would burn."""
    return supply_v / 2 + math.sqrt((supply_v / 2) ** 2 - watts * ohm)


@pytest.mark.parametrize("ohm", [5.0, 15.0, 19.0])
def test_a_regulated_lamp_that_gets_past_its_cut_off_burns(ohm):
    """By hand: through 19 ohm there flow (24 - 7) / 19 = 0.895 A at 7 V, more than the 6 W / 7 V the lamp takes."""
    made = circuit(battery(24, 1e-6), resistor("-R1", "plus", "lamp", ohm), led("-E1", "lamp", watts=6, cut_off=7))
    for one in both(made):
        assert one.voltage_v("lamp")[0] == pytest.approx(regulated_v(ohm), abs=0.01)


@pytest.mark.parametrize("ohm", [20.0, 23.0])
def test_a_regulated_lamp_that_is_starved_on_its_way_up_stays_dark(ohm):
    """By hand: through 20 ohm only 0.85 A flow at 7 V, and 6 W ask for 0.857 A.

    The lamp would burn at 16.9 V if it were there, but switched on from dark it stays on the slope below its cut-off,
    I = (V - 6.3) · 1.2245.
    """
    made = circuit(battery(24, 1e-6), resistor("-R1", "plus", "lamp", ohm), led("-E1", "lamp", watts=6, cut_off=7))
    slope = 6 / 7 / 0.7
    wanted = (24 + ohm * slope * 6.3) / (1 + ohm * slope)
    assert regulated_v(ohm) > 14  # the other operating point is there
    for one in both(made):
        assert one.voltage_v("lamp")[0] == pytest.approx(wanted, abs=1e-3)
        assert 6.3 < one.voltage_v("lamp")[0] < 7


def test_a_converter_too_small_to_start_its_lamps():
    """24 W of regulated lamps take 1.8 A at 13.6 V but 3.4 A at 7 V: a limit of 2 A holds them at 6.3 + 2 / 4.898 V."""
    lamps = led("-E1", "out", volts=12, watts=24, cut_off=7)
    for limit_a, wanted_v in ((2.0, 6.3 + 2 / (24 / 7 / 0.7)), (4.0, 13.6 - 0.01 * 24 / 13.58)):
        made = circuit(battery(28), replace(converter("-T1", "plus", "out"), limit_a=limit_a), lamps)
        for one in both(made):
            assert one.voltage_v("out")[0] == pytest.approx(wanted_v, abs=2e-3)


@pytest.mark.parametrize("foldback", [0.2, 1.0])
def test_a_converter_holds_its_limit_into_a_short(foldback):
    """Into 1 milliohm there flows the folded share of 5 A, and a little more for the millivolts that are left."""
    made = circuit(
        battery(28),
        replace(converter("-T1", "plus", "out"), limit_a=5.0, foldback=foldback),
        resistor("-R1", "out", GROUND, 0.001),
    )
    for one in both(made):
        assert one.current_a("-T1")[0] == pytest.approx(5 * foldback, rel=1e-3)


def test_a_converter_whose_feed_cannot_give_what_it_asks_for_owns_up():
    """100 W behind 3 ohm from 24 V: no more than 48 W can be had. The converter starts, starves its feed and stops."""
    made = circuit(
        battery(24, 1e-3),
        resistor("-W1", "plus", "in", 3.0),
        converter("-T1", "in", "out"),
        resistor("-R1", "out", GROUND, 13.6**2 / 100),
    )
    for one in (solve(made, ()), solve_study(made, (), [NOMINAL])):
        assert one.trouble == ("never comes to rest: -T1 on, then -T1 off, and so on",)
