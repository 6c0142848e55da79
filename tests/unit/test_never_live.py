"""What never works, what is too bright, and what never comes to rest: each said once, with advice that fits."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.findings import findings, one
from tests.rigs import SUPPLY, rig
from tests.unit.test_shorts import thin

CHARGE = {"function": "charge", "technology": "led", "voltage": "12 V", "power": "5 W"}
STOP = {"input": "stop", "output": "stop", "rating": "30 A"}


def permanent(*channels: dict[str, str]) -> str:
    """A load on the permanent contact of the trailer, beside a stop lamp."""
    return rig("iso-12098", "iso-11446", channels=[STOP, *channels], lamps=["stop", CHARGE])


def test_a_load_on_a_contact_that_nobody_feeds_is_named() -> None:
    """Permanent supply is allowed to be missing, and so no wrong behaviour; the load on it is dead all the same."""
    found = one(permanent(), "never-lit")
    assert found.severity == "warning"
    assert "no channel feeds its contact" in found.message
    assert "Add a channel" in found.advice


def test_a_load_on_a_contact_that_a_channel_feeds_is_not() -> None:
    """The near twin: a channel from the vehicle's own permanent contact."""
    fed = permanent({"input": "charge", "output": "charge", "rating": "30 A", "fuse": "10 A"})
    assert findings(fed, "never-lit") == []


# --- too bright ---


def long_way(output: str) -> str:
    """Stop lamps at the end of a long thin cable."""
    return rig(
        "iso-12098",
        "iso-11446",
        channels=[STOP],
        lamps=[{"function": "stop", "type": "p21w-12v"}],
        supply={**SUPPLY, "fed_by": "charge", "output": output, "current_limit": "50 A"},
        runs=thin("1 mm²", "12 m"),
    )


@pytest.mark.parametrize(("output", "is_named"), [("13.6 V", True), ("15.6 V", False)])
def test_a_lamp_with_its_rated_voltage_wants_no_larger_conductor(output: str, is_named: bool) -> None:
    """Both lose more than 5 %, and only the one that has less than 13.5 V loses light by it."""
    found = [f for f in findings(long_way(output), "lamp-voltage") if f.severity == "warning"]
    assert bool(found) == is_named
    assert all("larger conductors" in f.advice and f.limit == pytest.approx(0.675) for f in found)


# --- never comes to rest ---


def test_shorts_that_never_come_to_rest_are_one_notice() -> None:
    """One cause, one notice: the first in full, the others by their designation."""
    text = (Path(__file__).parents[2] / "wiregen" / "bundle" / "demo" / "observatory-bus.toml").read_text("utf-8")
    sagging = text.replace('output = "13.6 V"', 'output = "13.6 V"\nminimum_input = "22.5 V"')
    restless = [f for f in findings(sagging, "short-clears") if "never comes to rest" in f.message]
    assert len(restless) == 1
    assert "; likewise -" in restless[0].message
    assert [f for f in findings(text, "short-clears") if "never comes to rest" in f.message] == []
