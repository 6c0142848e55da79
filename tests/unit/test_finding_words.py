"""Small words of findings: a breaker is no fuse, magnets are no lamp, and a rating that nobody makes is named."""

from __future__ import annotations

import pytest

from tests.findings import findings, one
from tests.rigs import load, rig, straight, trailer
from tests.steps import build
from tests.unit.test_shorts import far, thin
from wiregen.check.behaviour_rules import lamp_words


@pytest.mark.parametrize(("breaker", "word"), [({}, "the fuse lets"), ({"breaker": "type III"}, "the breaker lets")])
def test_a_breaker_is_called_a_breaker(breaker: dict[str, str], word: str) -> None:
    """The message of a device too large for its conductor."""
    vehicle = {"fuse": [{"circuits": ["tail_left"], "fuse": "30 A", **breaker}]}
    found = findings(straight("iso-1185", "iso-1185", ["tail_left"], vehicle=vehicle, runs=thin()), "fuse-conductor")
    assert found
    assert all(f.message.startswith(word) for f in found)


def test_magnets_are_no_lamp() -> None:
    """A long thin cable to brake magnets, and one to a lamp."""
    channel = {"input": "brake_tap", "output": "brake", "device": "brake_controller", "rating": "25 A", "fuse": "20 A"}
    tap = {"name": "brake_tap", "live": "brake", "source": "brake switch", "fuse": "5 A"}
    text = rig(
        channels=[channel],
        lamps=[],
        trailers=[{**trailer("sae-j2863", []), "brakes": {"magnets": 2}}],
        taps=[tap],
        runs=thin("2.5 mm²", "12 m"),
    )
    (found,) = [f for f in findings(text, "lamp-voltage") if f.severity == "warning"]
    assert "from the supply to the magnets and back" in found.message
    assert "lamp" not in found.message


@pytest.mark.parametrize(
    ("function", "side", "words"),
    [
        ("tail_right", "centre", "on right tail, at the centre (C5W 12 V)"),
        ("tail_right", "right", "right tail (C5W 12 V)"),
        ("fog", "centre", "rear fog centre (C5W 12 V)"),
    ],
)
def test_a_plate_lamp_on_the_circuit_of_one_side(function: str, side: str, words: str) -> None:
    """In the middle of the trailer, on the right tail circuit: never 'right tail centre'."""
    lamp = {"function": function, "type": "c5w-12v", "side": side}
    channel = {"input": function, "output": function, "rating": "30 A"}
    built = build(load(rig("iso-12098", "iso-11446", channels=[channel], lamps=[lamp])))
    (made,) = [e for e in built.circuits[0].elements if e.ref == "-E1"]
    assert lamp_words(made) == words


def test_a_fuse_that_nobody_makes_is_called_so() -> None:
    """33 A stands between 30 A and 35 A; no larger conductor makes its opening times known."""
    odd = one(far(33.0), "short-clears")
    assert "No blade fuse of 33 A is in the table" in odd.advice
    assert "30 A and 35 A" in odd.advice
    assert "larger" not in odd.advice
    assert "No blade fuse" not in one(far(30.0), "short-clears").advice
