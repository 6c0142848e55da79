"""Findings of a rig text, and what every finding must carry, for tests of the check."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.rigs import SUPPLY, line_of, load
from tests.steps import build, check, study
from wiregen.circuit.build import vehicle_signals
from wiregen.model.corner import NOMINAL
from wiregen.model.finding import Finding
from wiregen.model.study import Study
from wiregen.solve.full_study import solve_study

TAIL = {"input": "tail", "output": "tail", "rating": "30 A"}


def findings(text: str, rule: str, beside: Path | None = None) -> list[Finding]:
    return [f for f in check(load(text, beside)).findings if f.rule == rule]


def one(text: str, rule: str, beside: Path | None = None) -> Finding:
    found = findings(text, rule, beside)
    assert len(found) == 1, found
    return found[0]


def place(f: Finding, text: str, part: str, after: str = "") -> None:
    """The finding points at the line that holds ``part``."""
    assert f.origin is not None
    assert f.origin.line == line_of(text, part, after)


def above(f: Finding, unit: str) -> None:
    """A value above its limit: the margin is negative and fits both."""
    assert f.unit == unit
    assert f.value is not None
    assert f.limit is not None
    assert f.value > f.limit
    assert f.margin == pytest.approx((f.limit - f.value) / f.limit)
    assert f.source


def solved(text: str) -> Study:
    """Every state at every corner, of the first trailer."""
    loaded = load(text)
    return study(loaded, build(loaded))[0]


def at_nominal(text: str) -> Study:
    """Every state at the nominal corner, of the first trailer."""
    loaded = load(text)
    (circuit, *_) = build(loaded).circuits
    return solve_study(circuit, vehicle_signals(loaded), [NOMINAL])


def row_of(one: Study, words: str) -> int:
    """The row of a state at a corner, by its words."""
    return [point.words for point in one.points].index(words)


def carried(text: str, ref: str) -> float:
    return float(abs(solved(text).current_a(ref)).max())


def supply_of(continuous_a: float) -> dict[str, str]:
    """A converter that gives its continuous output at every corner."""
    return {**SUPPLY, "continuous": f"{continuous_a:.6f} A", "derate_from": "60 °C"}


def below(f: Finding, unit: str) -> None:
    """A value below the lowest allowed: the margin is negative and fits both."""
    assert f.unit == unit
    assert f.value is not None
    assert f.limit is not None
    assert f.value < f.limit
    assert f.margin == pytest.approx((f.value - f.limit) / f.limit)
    assert f.source


def turns(hit: Callable[[float], bool], without: float, with_it: float, within: float) -> tuple[float, float]:
    """Two values no further apart than ``within``: ``hit`` is false at the first and true at the second."""
    assert not hit(without)
    assert hit(with_it)
    while abs(with_it - without) > within:
        middle = (without + with_it) / 2
        without, with_it = (without, middle) if hit(middle) else (middle, with_it)
    return without, with_it
