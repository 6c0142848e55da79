"""Sizes chosen by search against sizes that handbooks and tables print for the same current, length and drop."""

import pytest

from wiregen.catalogue.conductors import resistance_per_m, standard_sizes
from wiregen.model.finding import Finding
from wiregen.sizing.choose import Chooser
from wiregen.sizing.limits import CheckedChoice
from wiregen.sizing.problem import ChoiceSlot, SizedWire, SizingProblem

FOOT_M = 0.3048


def chosen(series: str, broken) -> str:
    """Return the size chosen for one conductor that must not be ``broken(wire, size)``."""
    wire = SizedWire("-W1", 0, 1.0, 105.0, 50.0, 2)
    problem = SizingProblem((ChoiceSlot("size", standard_sizes(series), ("-W1",)),), (wire,), (), 0.75)

    def check(choice):
        size = problem.slots[0].size(choice[0])
        found = Finding(rule="drop", severity="error", where="-W1", message="", advice="", source="")
        return CheckedChoice(choice, (found,) if broken(wire, size) else (), ())

    best = Chooser(problem, check, lambda choice: check(choice).findings).run().outcome
    assert best is not None
    return problem.slots[0].size(best.choice[0]).label


def test_size_of_the_handbook_example():
    """AC 43.13-1B page 11-26, example 1: 28 V, 50 ft with the return, 20 A, 1 V allowed, 20 °C: size 8, not 10."""
    size = chosen("AWG", lambda _, size: 20 * 50 * FOOT_M * resistance_per_m(size, 20.0).ohm_per_m > 1.0)
    assert size == "8 AWG"


@pytest.mark.parametrize(
    ("feet", "amps", "printed"),
    [
        (10, 5, "18"), (10, 15, "12"), (10, 30, "10"), (20, 5, "14"), (20, 20, "8"), (20, 50, "4"), (30, 10, "10"),
        (30, 40, "4"), (40, 5, "10"), (40, 30, "4"), (50, 20, "4"), (70, 10, "6"), (80, 15, "4"), (100, 10, "4"),
    ],
)  # fmt: skip
def test_size_of_the_marine_table(feet: int, amps: int, printed: str):
    """A marine catalogue's table for 12 V and 3 % (loop feet, SAE sizes): CM = 10.75 I L / 0.36, copper at 29.3 °C."""
    size = chosen("SAE", lambda _, size: amps * feet * FOOT_M * resistance_per_m(size, 29.3).ohm_per_m > 0.36)
    assert size == f"{printed} SAE"


def test_size_of_the_ampacity_example():
    """ABYC E-11 with 33 CFR 183.425: in an engine space 14 AWG of 105 °C carries 29.75 A (35 × 0.85), 16 AWG less."""
    size = chosen("AWG", lambda wire, size: (wire.allowed_a(size) or 0.0) < 29.75)
    assert size == "14 AWG"


def test_drop_of_the_metric_example():
    """ISO 6722: 5 A over a loop of 6 m drop 0.228 V in 2.5 mm² at 20 °C; with 0.228 V allowed it is chosen."""
    size = chosen("mm2", lambda _, size: 5 * 6 * resistance_per_m(size, 20.0).ohm_per_m > 0.2280001)
    assert size == "2.5 mm²"
