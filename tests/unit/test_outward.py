"""Ends of ranges are rounded away from the range, in the terminal, on the form and on the page alike."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.steps import load, readings, sheet_rows
from wiregen.bundle.page.data import range_ends
from wiregen.paper.outward import end
from wiregen.paper.terminal import terminal_text
from wiregen.questions.readings.paper import readings_paper
from wiregen.questions.record.paper import form_csv
from wiregen.rig.loaded import LoadedRig

DEMO = Path(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"
BRAKE = "service lights, brake"


@pytest.fixture(scope="module")
def bus() -> LoadedRig:
    """The example rig."""
    return load(DEMO)


@given(st.floats(-60, 60).map(lambda value: round(value, 6)), st.integers(1, 3))
def test_an_end_never_moves_into_the_range(value: float, digits: int) -> None:
    """The printed lower end is not above the value, the upper not below, and both within one step of it."""
    low, high = (float(end(value, digits, up=up)) for up in (False, True))
    assert low <= value <= high
    assert Decimal(end(value, digits, up=True)) - Decimal(end(value, digits, up=False)) <= Decimal(10) ** -digits


@pytest.mark.parametrize(("low", "high", "ends"), [(12.2649, 12.362, (1226, 1237)), (12.26, 12.27, (None, None))])
def test_the_page_packs_ends_outwards(low: float, high: float, ends: tuple[int | None, int | None]) -> None:
    """Whole hundredths outside the range; nothing where a meter shows both ends alike."""
    assert range_ends(low, high, 100) == ends


def test_the_terminal_prints_every_value_inside_its_range(bus: LoadedRig) -> None:
    """No value of the demo stands outside the range beside it."""
    sheet = readings(bus, BRAKE)
    pairs = re.findall(r"(-?[\d.]+) +(-?[\d.]+?)\.\.(-?[\d.]+)", terminal_text(readings_paper(sheet, full=False)))
    assert len(pairs) > 10
    assert [pair for pair in pairs if not float(pair[1]) <= float(pair[0]) <= float(pair[2])] == []


def test_the_form_holds_every_corner(bus: LoadedRig) -> None:
    """The ends on the blank form are never inside the ends computed."""
    rows = sheet_rows(bus)
    lines = form_csv(rows, "d").splitlines()[1:]
    for row, line in zip(rows, lines, strict=True):
        span = row.reading.amps_a
        low, high = line.split(",")[-4:-2]
        if span.lowest is not None and span.highest is not None:
            assert float(low) <= span.lowest + 1e-6
            assert float(high) >= span.highest - 1e-6
