"""Worked examples of lamps and converters, run through the real solver; the source key stands beside each.

LN and LR examples are for the pure handbook law I = I0 * (V/V0)^0.55 (S35). The solver's law bends to a plain
resistance near zero volts; with a cold resistance of a millionth of the hot one that bend lies far below a microvolt,
so the printed digits must come out. A second test holds the real law, cold resistance a tenth of the hot one, against a
root that ``scipy.optimize`` finds of the law typed here again.
"""

import pytest
from scipy.optimize import brentq

from tests.circuits import PURE_POWER_LAW, battery, circuit, converter, filament, resistor
from tests.plain_solver import solve
from wiregen.catalogue.lamps import find_lamp, light_ratio
from wiregen.model.circuit import Circuit
from wiregen.model.study import Study

#: Two batteries in these examples have no resistance; the solver wants one above zero. At 4 A it takes 4 µV.
NEXT_TO_NOTHING_OHM = 1e-6


def run(made: Circuit) -> Study:
    study = solve(made, [])
    assert study.trouble == ("",)
    return study


def one_loop(
    supply_v: float, loop_ohm: float, lamp_v: float, lamp_a: float, count: int = 1, cold: float = 1e-6
) -> Study:
    """A source, half the loop resistance in it and half behind it, and lamps in parallel."""
    return run(
        circuit(
            battery(supply_v, loop_ohm / 2),
            resistor("-W1", "plus", "lamp", loop_ohm / 2),
            filament("-E1", "lamp", volts=lamp_v, amps=lamp_a, count=count, cold_ratio=cold),
        )
    )


def lamp_point(study: Study) -> tuple[float, float]:
    (lamp,) = (e for e in study.circuit.elements if e.ref == "-E1")
    return float(study.across_v(lamp)[0]), float(study.current_a("-E1")[0])


def test_ln_1_two_lamps_in_series():
    """LN-1: two 12 V 21 W lamps (1.852 A at 13.5 V) in series on 24 V: 12.0 V each, 1.736 A (worked out from S35)."""
    study = run(
        circuit(
            battery(24.0, NEXT_TO_NOTHING_OHM),
            filament("-E1", "plus", "middle", amps=1.852, cold_ratio=PURE_POWER_LAW),
            filament("-E2", "middle", amps=1.852, cold_ratio=PURE_POWER_LAW),
        )
    )
    assert study.voltage_v("middle")[0] == pytest.approx(12.0, abs=5e-5)
    assert study.current_a("-E1")[0] == pytest.approx(1.736, abs=5e-4)


#: A 25 W lamp: 1.852 A at 13.5 V.
LAMP_A = 25 / 13.5
#: id -> supply V, loop ohm, lamp V, lamp A, lamps in parallel, wanted V, A and light (all worked out from S35)
LOOPS = {
    "LN-2": (13.5, 0.5, 13.5, LAMP_A, 1, 12.6082, 1.7835, 0.7927),
    "LN-3": (13.5, 0.2, 13.5, LAMP_A, 2, 12.7812, 3.5939, None),
    "LN-4": (28.0, 1.0, 28.0, 1.0, 1, 27.0194, 0.9806, 0.8859),
    "LN-6": (12.8, 0.25, 12.8, 2.10, 1, 12.2867, 2.0533, None),
}


@pytest.mark.parametrize("name", LOOPS)
def test_ln_lamp_behind_a_resistance(name):
    """LN-2, 3, 4, 6: voltage and current of a lamp behind a loop resistance to the four digits printed (from S35)."""
    supply_v, loop_ohm, lamp_v, lamp_a, count, wanted_v, wanted_a, wanted_light = LOOPS[name]
    volts, amps = lamp_point(one_loop(supply_v, loop_ohm, lamp_v, lamp_a, count))
    assert volts == pytest.approx(wanted_v, abs=5e-5)
    assert amps == pytest.approx(wanted_a, abs=5e-5)
    if wanted_light is not None:
        assert light_ratio(volts / lamp_v) == pytest.approx(wanted_light, abs=5e-5)


@pytest.mark.parametrize("name", LOOPS)
def test_the_real_law_behind_a_resistance(name):
    """The same loops with a real cold resistance agree with a root of the typed law to a nanovolt (scipy, brentq)."""
    supply_v, loop_ohm, lamp_v, lamp_a, count, wanted_v, *_ = LOOPS[name]
    cold = 0.1
    share = cold ** (1 / 0.225)

    def excess_a(volts: float) -> float:
        ratio2 = (volts / lamp_v) ** 2
        hot_ohm = lamp_v / lamp_a
        lamp = count * volts / hot_ohm * ((ratio2 + share / (1 - share)) * (1 - share)) ** -0.225
        return lamp - (supply_v - volts) / loop_ohm

    root = brentq(excess_a, 0.1, supply_v, xtol=1e-13)
    volts, _ = lamp_point(one_loop(supply_v, loop_ohm, lamp_v, lamp_a, count, cold))
    assert volts == pytest.approx(root, abs=1e-9)
    # The bend towards the cold resistance is not seen at these voltages: a tenth of a millivolt at the most.
    assert volts == pytest.approx(wanted_v, abs=1.5e-4)


def test_ln_8_open_trailer_ground():
    """LN-8: the ground lifts, a 25 W lamp burns through four 5 W lamps: 5.3992 V, 8.1008 V, 1.1187 A (from S35)."""
    study = run(
        circuit(
            battery(13.5, NEXT_TO_NOTHING_OHM),
            filament("-E1", "plus", "trailer ground", amps=25 / 13.5, cold_ratio=PURE_POWER_LAW),
            filament("-E2", "trailer ground", amps=5 / 13.5, count=4, cold_ratio=PURE_POWER_LAW),
        )
    )
    ground_v = float(study.voltage_v("trailer ground")[0])
    assert 13.5 - ground_v == pytest.approx(5.3992, abs=5e-5)
    assert ground_v == pytest.approx(8.1008, abs=5e-5)
    assert study.current_a("-E1")[0] == pytest.approx(1.1187, abs=5e-5)
    assert light_ratio((13.5 - ground_v) / 13.5) == pytest.approx(0.044, abs=5e-4)
    assert light_ratio(ground_v / 13.5) == pytest.approx(0.176, abs=5e-4)


def test_lr_6_lamp_at_85_percent():
    """LR-6: at 85 % of its design voltage a lamp takes 0.914 of its current and 0.777 of its power (S22, S35)."""
    volts, amps = lamp_point(one_loop(0.85 * 13.5, NEXT_TO_NOTHING_OHM, 13.5, 2.0))
    assert light_ratio(volts / 13.5) == pytest.approx(0.576, abs=1e-3)
    assert amps / 2.0 == pytest.approx(0.914, abs=1e-3)
    assert volts * amps / (13.5 * 2.0) == pytest.approx(0.777, abs=1e-3)


def test_lr_7_24_v_lamp_on_12_v():
    """LR-7: a P21W for 24 V (1.0 A at 28 V) on 13.5 V takes 0.669 A and gives 8.4 % of its light (S32, S35)."""
    kind = find_lamp("p21w-24v")
    assert (kind.test_v, kind.current_a) == (28.0, 1.0)
    volts, amps = lamp_point(one_loop(13.5, NEXT_TO_NOTHING_OHM, kind.test_v, kind.current_a))
    assert amps == pytest.approx(0.669, abs=5e-4)
    assert light_ratio(volts / kind.test_v) == pytest.approx(0.084, abs=5e-4)


@pytest.mark.parametrize(("lamp", "watts"), [("py21_5w-12v-bright", 26.5), ("py21_5w-12v-dim", 6.6)])
def test_lr_8_highest_power(lamp, watts):
    """LR-8: a PY21/5W at 13.5 V takes at the most 26.5 W and 6.6 W (S33)."""
    kind = find_lamp(lamp)
    volts, amps = lamp_point(one_loop(13.5, NEXT_TO_NOTHING_OHM, kind.test_v, kind.max_current_a))
    assert volts * amps == pytest.approx(watts, abs=1e-3)


def converter_point(input_v: float, output_v: float, output_a: float, efficiency: float) -> tuple[float, float]:
    """Input current and heat of a converter that gives ``output_a`` at exactly ``output_v``, A and W.

    The load is what the converter's own bleed of 10 kohm leaves of the current, so that the current it gives is whole.
    """
    load_ohm = 1 / (output_a / output_v - 1 / 10_000)
    study = run(
        circuit(
            battery(input_v, NEXT_TO_NOTHING_OHM, a="in"),
            # The output resistance drops output_a times itself; the set voltage makes up for it.
            converter("-T1", "in", "out", output=output_v + 0.01 * output_a, efficiency=efficiency, idle=0.0),
            resistor("-R1", "out", "0", load_ohm),
        )
    )
    assert study.voltage_v("out")[0] == pytest.approx(output_v, abs=1e-6)
    assert study.current_a("-T1")[0] == pytest.approx(output_a, abs=1e-6)
    input_a = float(study.input_a["-T1"][0])
    return input_a, input_a * float(study.voltage_v("in")[0]) - output_v * output_a


@pytest.mark.parametrize(("efficiency", "wanted_a"), [(0.87, 0.575), (0.82, 0.610)])
def test_cv_1_small_module(efficiency, wanted_a):
    """CV-1: 12 V 1 A from 24 V takes 0.575 A at 87 % and 0.610 A at 82 % (S56)."""
    input_a, _ = converter_point(24.0, 12.0, 1.0, efficiency)
    assert input_a == pytest.approx(wanted_a, abs=5e-4)


@pytest.mark.parametrize(("input_v", "wanted_a"), [(20.0, 7.556), (24.0, 6.296), (28.0, 5.397)])
def test_cv_2_adapter_supply(input_v, wanted_a):
    """CV-2: 13.6 V 10 A at 90 % takes 7.556, 6.296 and 5.397 A from 20, 24 and 28 V; 15.1 W turn into heat."""
    input_a, heat_w = converter_point(input_v, 13.6, 10.0, 0.90)
    assert input_a == pytest.approx(wanted_a, abs=5e-4)
    assert heat_w == pytest.approx(15.1, abs=0.05)
