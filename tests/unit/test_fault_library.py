"""The library of faults: what it holds, what each does on the demo, and that two ways to solve it agree."""

from dataclasses import replace

import numpy as np
import pytest

from tests import steps
from tests.fault_trials import BUS, demo_finder
from tests.rigs import load, rig, straight, trailer
from tests.steps import fault_book
from wiregen.catalogue.faults import CHECK_KINDS, FAULT_KINDS
from wiregen.catalogue.sources import SUPPORT_WORDS, source
from wiregen.circuit.build import vehicle_signals
from wiregen.loader.pinout_files import built_in_pinouts
from wiregen.questions.faults.behaviour import fault_book as solve_book
from wiregen.questions.faults.diagnosis import LOOKS, FaultBook
from wiregen.questions.faults.mixups import side_by_side


@pytest.fixture(scope="module")
def book() -> FaultBook:
    return demo_finder("boat trailer").book


def row(book: FaultBook, key: str) -> int:
    return [case.key for case in book.cases].index(key)


def look(book: FaultBook, key: str, setting: str, lamp: str) -> str:
    place = [controls.words for controls in book.settings].index(setting)
    column = [one.name for one in book.watched].index(lamp)
    return LOOKS[book.looks[row(book, key), place, column]]


def test_tables_name_their_sources():
    """Every kind of fault and of check names sources that exist, and how well they support it."""
    for one in (*FAULT_KINDS.values(), *CHECK_KINDS.values()):
        assert [source(key).key for key in one.sources] == list(one.sources)
        assert one.support in SUPPORT_WORDS


def test_every_kind_is_used_on_the_demo(book):
    """The demo's library holds every kind but those of parts it does not have."""
    assert set(FAULT_KINDS) - {case.kind for case in book.cases} == {
        "battery_open",
        "diode_open",
        "diode_short",
        "resistor_open",
        "trailer_family",
    }


def test_keys_are_unique(book):
    """A case has a key of its own."""
    keys = [case.key for case in book.cases]
    assert len(set(keys)) == len(keys)


@pytest.mark.parametrize(
    ("key", "setting", "lamp", "seen"),
    [
        ("nothing", "brake", "left stop and turn", "lit"),
        ("nothing", "left turn", "left stop and turn", "flashes"),
        ("E3 out", "brake", "left stop and turn", "dark"),
        ("E1 one out", "service lights", "tail E1", "some dark"),
        ("E3 24 V", "brake", "left stop and turn", "dim"),
        ("K2:30-87 stuck", "all off", "left stop and turn", "lit"),
        ("flasher lit", "left turn", "left stop and turn", "lit"),
        ("flasher dark", "left turn", "left stop and turn", "dark"),
        ("F8 open", "brake", "electric brakes", "dark"),
        ("X2 5<>6 t", "left turn", "right stop and turn", "flashes"),
        ("W18 short", "brake", "left stop and turn", "dark"),
        ("E3=E1 filaments", "service lights", "left stop and turn", "lit"),
    ],
)
def test_what_is_seen(book, key, setting, lamp, seen):
    """Single faults show what they must, by plain reasoning on the schematic."""
    assert look(book, key, setting, lamp) == seen


def test_too_much_voltage_is_a_danger(book):
    """A converter that passes 24 V on: lamps are too bright, and stand more than they are made for."""
    assert look(book, "T1 through", "brake", "left stop and turn") == "bright"
    lamp = [one.name for one in book.watched].index("left stop and turn")
    assert book.over_v[row(book, "T1 through"), lamp] > 1.5
    assert book.over_v[0, lamp] < 1.0


def test_a_short_tells_its_fuse(book):
    """A wire that touches ground blows the fuse in front of it; the story of before is kept."""
    opened = book.opened[row(book, "W18 short")]
    assert (opened.fuse, opened.times > 2) == ("-F5", True)


@pytest.mark.parametrize("key", ["W24 open", "X2:1 open", "W6 open", "F3 +1 ohm", "K1 open", "S2 stuck", "E1 one out"])
def test_batched_agrees_with_a_circuit_of_its_own(book, key):
    """A fault solved as a low-rank change reads the same everywhere as the circuit built with it."""
    loaded = steps.load(BUS)
    cases = [book.cases[0], replace(book.cases[row(book, key)], fault=None)]
    alone = solve_book(book.circuit, vehicle_signals(loaded), cases, book.watched, book.points)
    assert np.abs(alone.volts_v[1] - book.volts_v[row(book, key)]).max() < 1e-6
    assert alone.looks[1].tolist() == book.looks[row(book, key)].tolist()


@pytest.mark.parametrize(
    "key", ["W24 open", "E3 24 V", "E1 24 V", "X2 5<>6 t", "X1 E<>B v", "E3=E1 filaments", "T1 low"]
)
def test_solved_together_agrees_with_the_changed_circuit(book, key):
    """A case solved beside others, whatever way, reads everywhere as the rig with nothing else in it."""
    case = book.cases[row(book, key)]
    signals = vehicle_signals(steps.load(BUS))
    alone = solve_book(case.change.of(book.circuit), signals, [book.cases[0]], book.watched, book.points)
    assert np.abs(alone.volts_v[0] - book.volts_v[row(book, key)]).max() < 1e-5


def test_neighbours_lie_side_by_side():
    """In the flat four-way connector each contact touches the next; in a list without a face too, and it says so."""
    flat = dict(built_in_pinouts())["sae-j1239-4"]
    assert side_by_side(flat)[0] == [("1", "2"), ("2", "3"), ("3", "4")]
    bare = flat.model_copy(update={"contact": tuple(c.model_copy(update={"face": None}) for c in flat.contact)})
    assert side_by_side(bare) == (
        [("1", "2"), ("2", "3"), ("3", "4")],
        "neighbours by the order of the list: no face is known",
    )


def test_another_table_of_the_family():
    """A vehicle wired by the STANAG table has no stop lamps behind an adapter for the US one (facts of the family)."""
    loaded = load(rig("military-12-us", channels=["stop_turn_left > stop_turn_left"], lamps=["stop_turn_left"]))
    found = fault_book(loaded)
    assert look(found, "X1 as military-12-stanag", "brake", "left stop and turn") == "dark"
    assert look(found, "X1 as military-12-stanag", "left turn", "left stop and turn") == "flashes"


RIGS = {
    "centre tap, two batteries": rig(
        channels=["tail > tail", "stop_turn_left > stop_turn_left"],
        lamps=["tail", "stop_turn_left"],
        supply={"kind": "centre_tap", "fuse": "20 A"},
        runs=[],
    ),
    "straight lead to another table": straight(
        "military-12-us", "military-12-stanag", ["tail", "turn_left", "blackout_stop"], runs=[]
    ),
    "trailer battery behind a diode": rig(
        "iso-12098",
        trailers=[
            trailer("sae-j2863", ["tail"], battery={"isolation": "diode", "capacity": "20 Ah", "fuse": "20 A"}),
        ],
        channels=["tail_left > tail", {"input": "charge", "output": "charge", "fuse": "20 A"}],
        runs=[],
    ),
}


@pytest.mark.parametrize("name", RIGS)
def test_other_rigs_have_a_book_too(name):
    """Every case of other kinds of rig is solved; a sound rig shows nothing wrong, and most faults are told apart."""
    found = fault_book(load(RIGS[name]))
    assert len(found.cases) > 100
    assert found.trouble[0] == ""
    assert not np.isnan(found.volts_v).any()
    kinds = {case.kind for case in found.cases}
    assert {
        "centre tap, two batteries": {"battery_open"},
        "straight lead to another table": {"socket_family", "trailer_family"},
        "trailer battery behind a diode": {"battery_open", "diode_open", "diode_short"},
    }[name] <= kinds


def test_a_lead_between_two_tables_knows_the_family():
    """US vehicle, trailer by another table: where the vehicle too followed that table, the turn lamp would flash."""
    found = fault_book(load(RIGS["straight lead to another table"]))
    assert look(found, "X1 as military-12-stanag", "left turn", "left turn") == "flashes"
