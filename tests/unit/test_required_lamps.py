"""The lamps a trailer must have, in outline: the table by hand, and the rule on both sides of it."""

from __future__ import annotations

import pytest

from tests.findings import findings, one, place
from tests.rigs import rig
from wiregen.catalogue.circuits import CIRCUITS
from wiregen.catalogue.required_lamps import region_of, required_lamps

NARROW_US = [
    {"function": "tail", "count": 7},
    {"function": "stop_turn_left"},
    {"function": "stop_turn_right"},
]
EUROPE = [
    {"function": "tail_left", "count": 2},
    {"function": "tail_right"},
    {"function": "stop", "count": 2},
    {"function": "turn_left"},
    {"function": "turn_right"},
    {"function": "fog"},
]
#: Typed from the facts 7.1 (S25) and 7.4, and from S66, S67, S68: (region, width, length) to how many lamps.
COUNTS = [
    ("us", None, None, 2 + 2 + 2 + 1 + 4),
    ("us", 2.0, 9.0, 11),
    ("us", 2.032, 9.0, 11 + 2 + 2 + 3),
    ("us", 2.032, 9.144, 18 + 2),
    ("europe", None, None, 2 + 2 + 2 + 1 + 1),
    ("europe", 1.59, 6.0, 8),
    ("europe", 1.6, 6.0, 8 + 2),
    ("europe", 2.1, 6.0, 10),
    ("europe", 2.11, 6.01, 10 + 4 + 4),
]


@pytest.mark.parametrize(("region", "width_m", "length_m", "count"), COUNTS)
def test_how_many_lamps_a_trailer_of_a_size_must_have(region, width_m, length_m, count):
    """80 in and 30 ft count from the figure on, 2.1 m and 6 m only above it, 1.6 m from it on."""
    asked = [row for row in required_lamps() if row.region == region and row.is_asked(width_m, length_m)]
    assert sum(row.count for row in asked) == count


def test_every_circuit_of_the_list_is_a_lamp_circuit():
    """A row names circuits that a lamp can hang on; a reversing lamp, asked for by mass, is never counted."""
    assert {name for row in required_lamps() for name in row.circuits if not CIRCUITS[name].is_light} == set()
    assert [row.words for row in required_lamps() if row.only] == ["reversing lamp"]


@pytest.mark.parametrize(
    ("words", "region"), [("North America", "us"), ("US", "us"), ("Europe and others", "europe"), ("AU, NZ", None)]
)
def test_the_region_of_a_plug(words, region):
    """The plug tells whose list holds, where it belongs to one of the two."""
    assert region_of(words) == region


def text(lamps: list[dict[str, object]], plug: str = "sae-j2863", rules: object = None, **more: object) -> str:
    feeds = ["tail > tail", "stop_turn_left > stop_turn_left", "stop_turn_right > stop_turn_right"]
    return rig(plug=plug, channels=feeds, lamps=lamps, rules=rules, **more)  # type: ignore[arg-type]


def test_a_narrow_american_trailer_on_both_sides_of_the_list():
    """Seven tail and marker lamps, two combined lamps: complete. One less, or no right lamp, is named."""
    assert findings(text(NARROW_US), "required-lamps") == []
    found = one(text([{"function": "tail", "count": 6}, *NARROW_US[1:]]), "required-lamps")
    assert (found.severity, found.source) == ("notice", "S25")
    assert found.message.startswith(
        "not listed: 1 of these 7: 2 × tail lamp, licence plate lamp, 2 × front side marker"
    )
    assert "Check your local code" in found.advice
    place(found, text(NARROW_US), "[[trailer]]")
    lame = one(text(NARROW_US[:2]), "required-lamps")
    assert "1 of these 2: 2 × stop lamp" in lame.message
    assert "right turn lamp" in lame.message
    assert "left turn lamp" not in lame.message


def test_a_wide_trailer_needs_more():
    """The same lamps at 80 in are seven short: two clearance lamps at each end and three for identification (S25)."""
    assert findings(text(NARROW_US, width="79 in", length="20 ft"), "required-lamps") == []
    found = one(text(NARROW_US, width="80 in", length="20 ft"), "required-lamps")
    assert "7 of these 14" in found.message
    assert "State width" not in found.advice


def test_the_region_can_be_chosen_and_switched_off():
    """An American plug held against the European list lacks fog; with none there is no list."""
    assert "rear fog lamp" in one(text(NARROW_US, rules={"region": "europe"}), "required-lamps").message
    assert findings(text([], rules={"region": "none"}), "required-lamps") == []


def test_a_european_trailer_on_both_sides_of_the_list():
    """UN R48 in outline: complete with fog; without it that is named, and the reversing lamp of heavier ones told."""
    full = rig("iso-12098", "iso-11446", channels=["tail_left > tail_left"], lamps=EUROPE)
    bare = rig("iso-12098", "iso-11446", channels=["tail_left > tail_left"], lamps=EUROPE[:-1])
    assert findings(full, "required-lamps") == []
    found = one(bare, "required-lamps")
    assert found.message == "not listed: rear fog lamp (UN R48 in outline)"
    assert "reversing lamp (above 750 kg)" in found.advice


def test_where_no_list_fits_only_what_both_ask_for_is_wanted():
    """An Australian plug: tail, stop, turn and plate lamp; nothing about fog or side markers."""
    found = one(rig("iso-12098", "as-4177-7", channels=["stop > stop"], lamps=["stop"]), "required-lamps")
    assert "2 × tail lamp, licence plate lamp" in found.message
    assert [word for word in ("fog", "side marker") if word in found.message] == []
    assert "what both the US and the European outline ask for" in found.message
