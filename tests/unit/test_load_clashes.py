"""Clashes of two places, several problems in one run, and misspelt keys, when a rig is loaded."""

import re
from typing import get_args

import pytest

from tests.problems import marked, only, problems
from tests.rigs import RUNS, SUPPLY, load, rig, trailer
from wiregen.catalogue.defaults import default
from wiregen.model.stretch import RUNS as ENDS
from wiregen.model.stretch import STRETCHES, Stretch
from wiregen.rig.records import Place

#: name -> rig, what the first and the second mark lie under, part of the message
TWO_PLACES = {
    "tap twice": (
        rig(taps=[{"name": "box_feed", "live": "brake"}]),
        '"box_feed"',
        '"box_feed"',
        "tap 'box_feed' is used twice",
    ),
    "feed of a circuit twice": (
        rig(vehicle={"fuse": [{"circuits": ["tail"]}, {"circuits": ["stop_turn_left", "tail"]}]}),
        '"tail"',
        '"tail"',
        "feed of circuit 'tail' is used twice",
    ),
    "habit twice": (
        rig(vehicle={"exception": [{"circuit": "tail", "live": "fog"}, {"circuit": "tail", "live": "lights"}]}),
        '"tail"',
        '"tail"',
        "habit of circuit 'tail' is used twice",
    ),
    "channel twice": (
        rig(channels=[{"input": "tail", "output": "tail", "name": "A1"}] * 2),
        '"A1"',
        '"A1"',
        "channel 'A1' is used twice",
    ),
    "trailer twice": (
        rig(trailers=[trailer("sae-j2863", ["tail"]), trailer("sae-j2863", ["tail"])]),
        '"test trailer"',
        '"test trailer"',
        "trailer 'test trailer' is used twice",
    ),
    "straight lead with a channel": (
        rig(adapter={"straight": True}, supply=None, channels=["tail > tail | wire"]),
        "[[adapter.channel]]",
        "true",
        "a straight lead has neither supply nor channels",
    ),
    "brakes without a contact": (
        rig(plug="sae-j1239-4", brakes={"magnets": 2}),
        "[trailer.brakes]",
        '"sae-j1239-4"',
        "4-way flat (SAE J1239) has no contact for electric brakes",
    ),
    "lock-out without a contact": (
        rig(plug="sae-j1239-4", lock_out={"resistance": "10 ohm"}),
        "[trailer.lock_out]",
        '"sae-j1239-4"',
        "has no reverse contact for a lock-out",
    ),
    "lamp without a contact": (
        rig(plug="sae-j1239-4", lamps=["reverse"]),
        '"reverse"',
        '"sae-j1239-4"',
        "has no contact for 'reverse'. It has: tail, stop_turn_left, stop_turn_right",
    ),
    "lamp with a type and data": (
        rig(lamps=[{"function": "tail", "type": "r5w-12v", "power": "5 W"}]),
        '"5 W"',
        '"r5w-12v"',
        "a lamp has a type or its own data, not both",
    ),
    "centre tap of a 12 V vehicle": (
        rig(vehicle={"battery": {"nominal": "12 V"}}, supply={"kind": "centre_tap"}),
        '"centre_tap"',
        '"12 V"',
        "a centre tap wants two 12 V batteries in series",
    ),
}


@pytest.mark.parametrize("name", TWO_PLACES)
def test_a_clash_shows_both_places(name):
    """A clash of two places marks both, and prints both with their lines and carets."""
    text, first, second, message = TWO_PLACES[name]
    one = only(text)
    assert message in one.message
    assert (marked(one, 0), marked(one, 1)) == (first, second)
    assert one.marks[0].line != one.marks[1].line
    printed = one.text()
    assert printed.count("^") == one.marks[0].length + one.marks[1].length
    assert f"rig.toml:{one.marks[1].line}:{one.marks[1].column}: and here" in printed


def test_brakes_on_a_contact_of_choice_get_the_words_to_write():
    """Where a contact of choice may carry the brakes, the message says what to write; written so, it loads."""
    text = rig(plug="flat-5", brakes={"magnets": 2})
    hint = re.search(r'say choose = \{ "(\w+)" = "brake" \}', only(text).message)
    assert hint
    assert load(rig(plug="flat-5", brakes={"magnets": 2}, choose={hint.group(1): "brake"})).plugs[0].on("brake")


def test_all_problems_in_one_run_in_the_order_of_the_file():
    """Problems of every kind come together: unknown pinouts do not hide a lamp, a run or a feed that is wrong."""
    text = rig(
        "military-12-usa",
        channels=["taill > tail", {"input": "tail", "output": "ground"}],
        trailers=[
            trailer("sae-j2863", ["tail r5w-13v", "reverse"], name="one", bridged=[["3", "9"]]),
            trailer("no-such-plug", ["tail led-tail"], name="one"),
        ],
        supply={**SUPPLY, "fed_by": "tap"},
        runs=[{"from": "trailer", "to": "lamps", "trailer": "two"}],
        taps=[{"name": "pedal", "live": "braek"}],
    )
    found = problems(text)
    assert [one.path for one in found] == [
        "vehicle.socket",
        "vehicle.tap.0.live",
        "adapter.supply.fed_by",
        "adapter.channel.0.input",
        "adapter.channel.1.output",
        "trailer.0.bridged.0",
        "trailer.0.lamp.0.type",
        "trailer.1.name",
        "trailer.1.plug",
        "trailer.1.lamp.0.type",
        "run.0.trailer",
    ]
    lines = [one.marks[0].line for one in found]
    assert lines == sorted(lines)


def test_all_misfits_of_single_records_in_one_run():
    """Unknown keys, wrong units, wrong words and missing keys come together, each with the nearest word."""
    text = (
        rig(taps=[{"name": "pedal", "live": "brake", "fuse": "5 W"}])
        .replace("[adapter]", "[adapter]\nlocaton = 'shed'", 1)
        .replace('kind = "converter"', 'kind = "convertor"', 1)
        .replace('function = "tail"\n', 'function = "tali"\n', 1)
        .replace('plug = "sae-j2863"\n', "", 1)
    )
    found = {one.path: one.message for one in problems(text)}
    assert set(found) == {
        "vehicle.tap.1.fuse",
        "adapter.locaton",
        "adapter.supply.kind",
        "trailer.0.lamp.0.function",
        "trailer.0.plug",
    }
    assert "did you mean 'location'" in found["adapter.locaton"]
    assert "did you mean 'converter'" in found["adapter.supply.kind"]
    assert "did you mean 'tail'" in found["trailer.0.lamp.0.function"]
    assert "'W'" in found["vehicle.tap.1.fuse"]
    assert "plug" in found["trailer.0.plug"]


@pytest.mark.parametrize(
    ("old", "new", "path", "hint"),
    [
        ('kind = "converter"', 'kind = "converter"\nefficency = "90 %"', "adapter.supply.efficency", "efficiency"),
        ("own_ground = true", "own_groud = true", "adapter.own_groud", "own_ground"),
        ("[[run]]", "[[runs]]", "runs", "run"),
        ('live = "always"', 'live = "always"\nfuze = "3 A"', "vehicle.tap.0.fuze", "fuse"),
    ],
)
def test_an_unknown_key_gets_the_nearest_one(old, new, path, hint):
    """A misspelt key or table is refused where it stands, with the nearest known one."""
    text = rig(runs=RUNS[:1]).replace(old, new, 1)
    found = {one.path: one for one in problems(text)}
    assert f"did you mean {hint!r}?" in found[path].message
    assert path.rpartition(".")[2] in marked(found[path])


def test_an_own_load_without_its_fuse_is_refused():
    """What the vehicle's own lamps take is held against a fuse: without its rating it says nothing."""
    feed = {"circuits": ["tail"], "own_load": "3 A"}
    found = {one.path: one.message for one in problems(rig(vehicle={"fuse": [feed]}))}
    assert found == {"vehicle.fuse.0.own_load": "it says nothing without the fuse it hangs on"}
    assert load(rig(vehicle={"fuse": [{**feed, "fuse": "10 A"}]})).rig.vehicle.feed[0].own_load is not None


def test_a_run_names_the_ends_of_the_table_and_no_other():
    """Every place that may stand in from and to ends a stretch, and every stretch that can be written has a default."""
    assert {end for pair in ENDS for end in pair} == set(get_args(Place))
    assert all(default(STRETCHES[stretch].length).value > 0 for stretch in ENDS.values())
    assert set(STRETCHES) - set(ENDS.values()) == {"inside"}
    assert set(STRETCHES) == set(get_args(Stretch))
