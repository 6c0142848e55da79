"""Fuses, lamps, relays and brake magnets against data sheets and standards, typed a second time by hand.

The source of each check stands beside it; keys are those of ``sources.toml``. Left out on purpose: the life
figures of a landscape-lighting page, which follow no power law.
"""

import math

import pytest

from wiregen.catalogue.ampacity import ampacity_a
from wiregen.catalogue.fuses import (
    SMALL_CRAFT_FACTOR,
    ambient_share,
    find_fuse,
    largest_rating_a,
    opening_time,
    protector,
    resistance_ohm,
)
from wiregen.catalogue.lamps import (
    current_ratio,
    find_lamp,
    inrush_a2s,
    life_ratio,
    light_ratio,
    lumens,
    power_ratio,
)
from wiregen.catalogue.relays import brake_current, switch_rating_needed_a, warm_pick_up_v
from wiregen.quantity import parse_size

# --- Protection: S2, S12, S13, S61; fuses: S44 ---


def test_pr_1():
    """PR-1: 14 AWG, 105 °C, boat below 50 V: at most 52.5 A, the largest standard rating is 50 A (S12, S13)."""
    limit_a = SMALL_CRAFT_FACTOR * ampacity_a(parse_size("14 AWG"), 105.0, 30.0, 1).amps
    assert limit_a == 52.5
    assert largest_rating_a(limit_a) == 50.0


#: AC 43.13-1B table 11-3 (S2): wire -> breaker A, fuse A.
FAA_11_3 = {
    **{"22": (5, 5), "20": (7.5, 5), "18": (10, 10), "16": (15, 10), "14": (20, 15), "12": (30, 20), "10": (40, 30)},
    **{"8": (50, 50), "6": (80, 70), "4": (100, 70), "2": (125, 100), "1": (None, 150), "1/0": (None, 150)},
}


@pytest.mark.parametrize(("wire", "printed"), FAA_11_3.items())
def test_faa_protectors(wire: str, printed: tuple[float | None, float]):
    """Every row; PR-3 is wire 16: breaker 15 A, fuse 10 A."""
    found = protector("faa", wire)
    assert (found.breaker_a, found.fuse_a) == printed


@pytest.mark.parametrize(("awg", "printed_a"), [("14", 15), ("12", 20), ("10", 30)])
def test_small_conductor_rule(awg: str, printed_a: float):
    """NEC 240.4(D) (S61); PR-4 is 12 AWG: 20 A."""
    found = protector("nec", awg)
    assert (found.breaker_a, found.fuse_a) == (printed_a, printed_a)


@pytest.mark.parametrize(
    ("name", "rating_a", "style", "amps", "least_s", "most_s"),
    [
        ("FU-1", 10, "blade", 16, 0.25, 50),
        ("FU-2", 10, "blade", 20, 0.15, 5),
        ("FU-4", 40, "maxi", 80, 2, 50),
        ("FU-4", 40, "maxi", 240, 0.04, 1),
        ("35 A at 135 %", 35, "blade", 47.25, 0.75, 600),
        ("40 A at 350 %", 40, "blade", 140, 0.08, 0.5),
        ("40 A at 600 %", 40, "blade", 240, 0, 0.15),
        ("maxi at 135 %", 60, "maxi", 81, 60, 1800),
        ("maxi at 350 %", 60, "maxi", 210, 0.2, 7),
        ("40 A at 100 %", 40, "blade", 40, 360_000, math.inf),
    ],
)
def test_opening_times_that_were_read(
    name: str, rating_a: float, style: str, amps: float, least_s: float, most_s: float
):
    """The gates of S44 at the percentages it prints, none of them from memory."""
    found = opening_time(rating_a, amps, style)
    assert (found.min_s, found.max_s, found.support) == (least_s, most_s, "seen"), name


@pytest.mark.parametrize(("ambient_c", "usable_a"), [(-40, 40), (20, 40), (65, 34), (85, 30), (110, 25), (125, 22)])
def test_fu_5(ambient_c: float, usable_a: float):
    """FU-5 and the rest of S44's curve for a 40 A maxi fuse."""
    assert 40 * ambient_share(ambient_c) == pytest.approx(usable_a)


def test_fu_6():
    """FU-6: 40 A regular blade: 96 mV at rated current, hot 2.4 mohm, cold 1.44 mohm (S44)."""
    fuse = find_fuse(40)
    assert (fuse.drop_v, fuse.support) == (0.096, "seen")
    assert resistance_ohm(40, 40) == pytest.approx(0.0024)
    assert resistance_ohm(40, 0) == pytest.approx(0.00144)
    assert resistance_ohm(40, 40) * 40 == pytest.approx(0.096)


# --- Lamps ---


def test_lr_1():
    """LR-1, after the handbook of S35: a 130 V lamp at 115 V.

    Current -7 %, power -18 %, light -34 %, life 7 times with exponent -16.
    """
    ratio = 115 / 130
    assert current_ratio(ratio) == pytest.approx(1 - 0.07, abs=0.006)
    assert power_ratio(ratio) == pytest.approx(1 - 0.18, abs=0.008)
    assert light_ratio(ratio) == pytest.approx(1 - 0.34, abs=0.005)
    assert life_ratio(ratio, -16) == pytest.approx(7, abs=0.2)


def test_lr_2_and_lr_3():
    """LR-2, LR-3 (S36, S39): 5 % less doubles the life, 5 % more halves it; our -13 gives 1.95 and 0.53."""
    assert light_ratio(0.95) == pytest.approx(0.840, abs=5e-4)
    assert life_ratio(0.95) == pytest.approx(2.0, rel=0.03)
    assert life_ratio(1.05) == pytest.approx(0.5, rel=0.07)
    assert life_ratio(0.95, -12) == pytest.approx(1.85, abs=5e-3)
    assert life_ratio(0.95, -16) == pytest.approx(2.27, abs=5e-3)


def test_lr_4():
    """LR-4: 1157 bright filament at 13.5 V: 2.162 A, 38.35 cp, 633 h with exponent -12 (from S31)."""
    lamp = find_lamp("1157-bright")
    ratio = 13.5 / lamp.test_v
    assert lamp.current_a * current_ratio(ratio) == pytest.approx(2.162, abs=5e-4)
    assert lamp.mscp is not None
    assert lamp.mscp * light_ratio(ratio) == pytest.approx(38.35, abs=5e-3)
    assert lamp.life_h is not None
    assert lamp.life_h * life_ratio(ratio, -12) == pytest.approx(633, abs=0.5)


def test_lr_5():
    """LR-5: S31 prints 402 lm for 32 cp and 440 lm for 35 cp."""
    assert lumens(32) == pytest.approx(402, abs=0.5)
    assert lumens(35) == pytest.approx(440, abs=0.5)


def test_lr_6():
    """LR-6: at California's 85 % (S22): light 0.576, current 0.914, power 0.777."""
    assert light_ratio(0.85) == pytest.approx(0.576, abs=1e-3)
    assert current_ratio(0.85) == pytest.approx(0.914, abs=1e-3)
    assert power_ratio(0.85) == pytest.approx(0.777, abs=1e-3)


def test_lr_7():
    """LR-7: a 24 V P21W on 13.5 V: 0.669 A and 8.4 % light."""
    lamp = find_lamp("p21w-24v")
    assert lamp.current_a * current_ratio(13.5 / lamp.test_v) == pytest.approx(0.669, abs=5e-4)
    assert light_ratio(13.5 / lamp.test_v) == pytest.approx(0.084, abs=5e-4)


def test_lr_8():
    """LR-8: PY21/5W at 13.5 V takes at most 26.5 W and 6.6 W, 270 lm and 21 lm (S33)."""
    bright, dim = find_lamp("py21_5w-12v-bright"), find_lamp("py21_5w-12v-dim")
    assert bright.max_current_a * bright.test_v == pytest.approx(26.5)
    assert dim.max_current_a * dim.test_v == pytest.approx(6.6)
    assert (bright.flux_lm, dim.flux_lm) == (270, 21)
    assert bright.current_is_maximum
    assert dim.current_is_maximum


@pytest.mark.parametrize(
    ("lamp_id", "test_v", "objective_w", "tolerance", "flux_lm"),
    [
        ("p21_5w-12v-bright", 13.5, 25, 0.06, 440),
        ("p21_5w-12v-dim", 13.5, 6, 0.10, 35),
        ("p21_5w-24v-bright", 28.0, 28, 0.06, 440),
        ("p21_5w-24v-dim", 28.0, 10, 0.10, 40),
    ],
)
def test_p21_5w_sheet(lamp_id: str, test_v: float, objective_w: float, tolerance: float, flux_lm: float):
    """Directive 97/24/EC annex sheet (S32): objective power, its tolerance as the maximum, flux."""
    lamp = find_lamp(lamp_id)
    assert (lamp.test_v, lamp.flux_lm, lamp.support) == (test_v, flux_lm, "seen")
    assert lamp.current_a * test_v == pytest.approx(objective_w)
    assert lamp.max_current_a * test_v == pytest.approx(objective_w * (1 + tolerance), rel=1e-3)


#: S31's table: trade number -> (V, A, cp, h) of the dim and the bright filament.
S31_LAMPS = {
    "1034": ((14.0, 0.59, 3, 5000), (12.8, 1.80, 32, 200)),
    "1157": ((14.0, 0.59, 3, 5000), (12.8, 2.10, 32, 1200)),
    "2057": ((14.0, 0.49, 2, 5000), (12.8, 2.10, 32, 1200)),
    "2357": ((14.0, 0.59, 3, 5000), (12.8, 2.23, 40, 400)),
    "2397": ((14.0, 0.48, 2, 5000), (12.8, 2.23, 40, 400)),
}


@pytest.mark.parametrize(("trade", "printed"), S31_LAMPS.items())
def test_trade_numbers(trade: str, printed: tuple[tuple[float, ...], tuple[float, ...]]):
    """Every lamp that S31 lists, both filaments."""
    for suffix, row in zip(("dim", "bright"), printed, strict=True):
        lamp = find_lamp(f"{trade}-{suffix}")
        assert (lamp.test_v, lamp.current_a, lamp.mscp, lamp.life_h) == row
        assert lamp.source == "S31"


def test_us_and_european_21_5_w_agree():
    """S31 lists the 21/5 W lamp at 13.5 V with 0.44 and 1.86 A: the directive's sheet gives the same to 1 %."""
    assert find_lamp("p21_5w-12v-dim").current_a == pytest.approx(0.44, rel=0.011)
    assert find_lamp("p21_5w-12v-bright").current_a == pytest.approx(1.86, rel=0.011)


def test_in_1():
    """IN-1 (from S37): 1.85 A, 11 times, 2 ms: twice the current at 4.6 ms, 0.48 A²s beyond the steady current."""
    assert 1 + 10 * math.exp(-4.6 / 2) == pytest.approx(2.0, abs=5e-3)
    assert inrush_a2s(1.85) == pytest.approx(0.48, abs=5e-3)
    assert inrush_a2s(7.4) == pytest.approx(7.7, abs=0.05)


# --- Relays, switches, brake magnets ---


def test_switches():
    """SW-1, SW-2 (S2 table 11-4): a 2 A lamp circuit wants 16 A at 28 V and 10 A at 12 V; 0.08 A of coil, 0.32 A."""
    assert switch_rating_needed_a(28, "lamp", 2) == 16
    assert switch_rating_needed_a(24, "lamp", 2) == 16
    assert switch_rating_needed_a(12, "lamp", 2) == 10
    assert switch_rating_needed_a(28, "inductive", 0.08) == pytest.approx(0.32)
    assert [switch_rating_needed_a(28, kind, 1) for kind in ("lamp", "inductive", "resistive", "motor")] == [8, 4, 2, 3]
    assert [switch_rating_needed_a(12, kind, 1) for kind in ("lamp", "inductive", "resistive", "motor")] == [5, 2, 1, 2]


def test_warm_coil():
    """A relay that picks up at 14.4 V at 20 °C needs 18.1 V with its coil at 85 °C (law of S2)."""
    assert warm_pick_up_v(14.4, 85.0) == pytest.approx(18.1, abs=0.05)


@pytest.mark.parametrize(
    ("magnets", "supply_v", "drum", "printed"),
    [
        (2, 12.5, "10 and 12 in", (7.5, 8.2)),
        (4, 12.0, "10 and 12 in", (15.0, 16.3)),
        (6, 13.0, "10 and 12 in", (22.6, 24.5)),
        (2, 9.0, "10 and 12 in", (5.6, 6.6)),
        (4, 10.0, "10 and 12 in", (11.3, 13.3)),
        (6, 10.5, "10 and 12 in", (17.0, 20.0)),
        (2, 12.5, "7 in", (6.3, 6.8)),
        (4, 12.5, "7 in", (12.6, 13.7)),
        (6, 12.5, "7 in", (19.0, 20.6)),
        (2, 9.5, "7 in", (4.7, 5.6)),
        (4, 9.5, "7 in", (9.5, 11.0)),
        (6, 9.5, "7 in", (14.3, 16.0)),
    ],
)
def test_brake_magnets(magnets: int, supply_v: float, drum: str, printed: tuple[float, float]):
    """S48's table; BR-1 is four brakes at 12 to 13 V."""
    found = brake_current(magnets, supply_v, drum)
    assert (found.low_a, found.high_a) == printed
