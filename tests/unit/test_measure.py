"""The measure table: every row follows from what the vehicle does, and says how far it may be trusted."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests import rigs, steps
from wiregen.catalogue.circuits import CIRCUITS
from wiregen.chart.measure import NOT_TESTED
from wiregen.circuit.switching import Live, Switching, is_part
from wiregen.loader.pinout_files import built_in_pinouts
from wiregen.model.chart import MeasureRow
from wiregen.model.logic import parse
from wiregen.model.state import Controls

STOP_TURN = ("stop_turn_left > stop_turn_left", "stop_turn_right > stop_turn_right", "tail > tail")
SERVICE = "lighting switch at STOP LIGHT or SERVICE DRIVE"
BLACKOUT = "lighting switch at BLACKOUT MARKER or DRIVE"
SHELLS = [name for name, _ in built_in_pinouts()]


def measures(text: str) -> tuple[MeasureRow, ...]:
    return steps.chart(rigs.load(text)).measures


def at(rows: tuple[MeasureRow, ...], connector: str, mark: str) -> dict[str, str]:
    """What one contact shows, by the position of the controls."""
    return {row.switch: row.expected for row in rows if row.connector.split()[0] == connector and row.contact == mark}


def us_rig(*, stop_wins: bool) -> tuple[MeasureRow, ...]:
    vehicle = {"braking_holds_hazard_steady": stop_wins, "battery": {"low": "23 V", "charging": "29 V"}}
    return measures(rigs.rig(channels=STOP_TURN, vehicle=vehicle))


# --- vehicles with blackout lighting


def test_a_service_contact_names_the_lighting_switch():
    """B of the US wiring: each control with the switch where it feeds stop and turn (TM 9-2320-280-20-3, FO-1)."""
    found = at(us_rig(stop_wins=True), "X1", "B")
    assert found == {
        f"{SERVICE}, brake": "23 V to 29 V",
        f"{SERVICE}, left turn": "flashes: 0 V and 23 V to 29 V",
        f"{SERVICE}, hazard": "flashes: 0 V and 23 V to 29 V",
        f"{SERVICE}, brake, left turn": "flashes: 0 V and 23 V to 29 V",
        f"{SERVICE}, brake, right turn": "23 V to 29 V",
        f"{SERVICE}, brake, hazard": "23 V to 29 V",
        f"{BLACKOUT}, brake": "0 V",
        "lighting switch OFF; brake, left turn, hazard, one after another": "0 V, inferred: write down what you read",
    }


def test_right_mirrors_left():
    """Brake and right turn: J flashes and B is steady; the other way round for the left."""
    rows = us_rig(stop_wins=True)
    left, right = at(rows, "X1", "B"), at(rows, "X1", "J")
    swapped = {
        switch.replace("left", "?").replace("right", "left").replace("?", "right"): expected
        for switch, expected in left.items()
    }
    assert right == swapped


@pytest.mark.parametrize(("stop_wins", "expected"), [(True, "23 V to 29 V"), (False, "flashes: 0 V and 23 V to 29 V")])
def test_braking_with_the_hazard_on_follows_the_habit(stop_wins, expected):
    """The pedal holds the hazard lamps steady on some vehicles only, and the rig says on which."""
    rows = us_rig(stop_wins=stop_wins)
    assert [at(rows, "X1", mark)[f"{SERVICE}, brake, hazard"] for mark in "BJ"] == [expected] * 2


def test_blackout_contacts_and_dark_service_contacts():
    """With the switch in blackout and the pedal down F is live, B, E and J are dead (pinout notice, inferred there)."""
    rows = us_rig(stop_wins=True)
    assert [at(rows, "X1", mark)[f"{BLACKOUT}, brake"] for mark in "BEJF"] == ["0 V"] * 3 + ["23 V to 29 V"]
    assert [at(rows, "X1", mark) for mark in "ACH"] == [{BLACKOUT: "23 V to 29 V"}] * 3
    assert at(rows, "X1", "E")["lighting switch OFF"] == "0 V"


def test_what_is_inferred_is_marked():
    """That OFF cuts stop and turn is inferred: those rows alone are not verified on a wiring with good sources."""
    doubtful = [(row.contact, row.switch[:20]) for row in us_rig(stop_wins=True) if row.unverified]
    assert doubtful == [("B", "lighting switch OFF;"), ("J", "lighting switch OFF;")]


def test_a_civilian_vehicle_has_no_such_switch():
    """ISO 12098 has no blackout contact: plain words, and no row for a switch that is not there."""
    rows = measures(rigs.rig("iso-12098", "iso-11446", channels=("stop > stop",), lamps=("stop",)))
    assert at(rows, "X1", "7") == {"brake": "22 V to 28.8 V"}
    assert [row for row in rows if "lighting switch" in row.switch] == []


def test_letters_are_not_written_into_the_program():
    """The same vehicle with its letters moved: the combined tests follow the circuits."""
    text = rigs.rig("flat-5", channels=STOP_TURN, vehicle={"choose": {"5": "reverse"}, "battery": {"nominal": "12 V"}})
    rows = measures(text)
    marks = {row.contact for row in rows if row.connector.startswith("X1") and row.switch == "brake, left turn"}
    pinout = dict(built_in_pinouts())["flat-5"]
    assert marks == {c.mark for c in pinout.contact if c.circuit.startswith("stop_turn")}


# --- contacts that are no lamps


def test_sensors_and_data_are_left_alone():
    """Contacts 10 to 15 of ISO 12098 carry sensors, axle lift and data (its notice): no volts are promised there."""
    rows = measures(rigs.rig("iso-12098", "iso-11446", channels=("stop > stop",), lamps=("stop",)))
    found = {mark: at(rows, "X1", mark) for mark in ("10", "11", "12", "13", "14", "15")}
    assert found == {mark: {"–": NOT_TESTED} for mark in found}


def test_a_contact_without_wire_must_be_dead():
    """K, M and N of the US wiring have no wire on the sheets read: volts there mean another wiring."""
    rows = us_rig(stop_wins=True)
    assert [list(at(rows, "X1", mark).values()) for mark in "KMN"] == [
        ["0 V. If not, STOP: this socket is wired to another standard"]
    ] * 3


def test_ignition_has_two_rows():
    """What the key switches is measured with the key in both positions, at socket, tap and outlet."""
    tap = {"name": "key_feed", "live": "ignition", "source": "ignition", "fuse": "10 A"}
    rows = measures(rigs.rig(channels=("tail > tail", "key_feed > charge | wire"), taps=[tap]))
    both = {"ignition on": "22 V to 28.8 V", "ignition off": "0 V"}
    assert {switch: at(rows, "taps", "key_feed")[switch] for switch in both} == both
    assert at(rows, "X2", "4") == both


def test_a_box_fed_by_the_ignition_is_dead_without_it():
    """Relays switch the adapter's own supply: with the key off nothing comes out, whatever the pedal does."""
    tap = {"name": "key_feed", "live": "ignition", "source": "ignition", "fuse": "10 A"}
    supply = {**rigs.SUPPLY, "fed_by": "key_feed"}
    rows = measures(
        rigs.rig("iso-12098", "iso-11446", channels=("stop > stop",), lamps=("stop",), supply=supply, taps=[tap])
    )
    assert at(rows, "X2", "6") == {"brake, ignition on": "about 13.6 V", "brake, ignition off": "0 V"}


# --- the adapter's outlets


def test_outlets_have_grounds_and_dead_contacts():
    """Continuity of the ground comes first; what nothing feeds is dead in every position."""
    rows = [row for row in us_rig(stop_wins=True) if row.connector.startswith("X2")]
    assert (rows[0].contact, rows[0].against, "continuity" in rows[0].expected) == ("1", "chassis", True)
    assert [at(tuple(rows), "X2", mark) for mark in "247"] == [{"every position": "0 V"}] * 3


def test_a_brake_controller_is_scaled_by_its_gain():
    """Half the gain is half of 13.6 V at the most, and the row says what a meter makes of it without magnets."""
    brakes = {"input": "pedal", "output": "brake", "device": "brake_controller", "gain": "50 %", "rating": "20 A"}
    rows = measures(rigs.rig(channels=("tail > tail", brakes), pedal=True, brakes={"magnets": 2}))
    assert at(rows, "X2", "2") == {"brake": "up to about 6.8 V at 50 % gain; may show little without magnets"}


def test_combined_outlets_of_a_converter_are_tested_together():
    """Separate stop and turn made into combined: brake and left turn flash left, steady right."""
    channels = ("stop xor turn_left > stop_turn_left", "stop xor turn_right > stop_turn_right")
    rows = measures(rigs.rig("iso-12098", channels=channels, lamps=("stop_turn_left",)))
    assert [at(rows, "X2", mark)["brake, left turn"] for mark in "56"] == [
        "flashes: 0 V and about 13.6 V",
        "about 13.6 V",
    ]


def test_a_load_proves_a_contact():
    """The notes say why a meter does not, and which contacts to spare."""
    notes = " ".join(steps.chart(rigs.load(rigs.rig())).measure_notes)
    assert [word for word in ("test lamp", "rotten", "floating", NOT_TESTED) if word not in notes] == []


# --- what holds for every wiring


def test_the_range_ends_at_the_charging_voltage():
    """Engine fast and batteries full is the most a meter shows: 28.8 V unless the rig says otherwise."""
    fast = {"battery": {"running": "28 V", "charging": "29.5 V"}}
    found = [at(measures(rigs.rig(vehicle=vehicle)), "taps", "box_feed") for vehicle in ({}, fast)]
    assert found == [{"every position": "22 V to 28.8 V"}, {"every position": "22 V to 29.5 V"}]


def test_support_marks_follow_the_contact():
    """Each row of a contact carries its pinout's mark; sources that disagree are not verified."""
    rows = measures(rigs.rig("military-12-commonwealth", channels=("tail > tail",)))
    marks = {row.contact: (row.support, row.unverified) for row in rows if row.connector.startswith("X1")}
    assert (marks["F"], marks["E"], marks["others"]) == (("≠", True), ("2", False), ("", False))


def straight_rig(name: str) -> str:
    """A lead from a wiring to itself; contacts to be chosen are left to the test of the pinouts."""
    pinout = dict(built_in_pinouts())[name]
    choose = {c.mark: c.choices[0] for c in pinout.contact if c.circuit == "choose" and c.choices}
    function = next(
        c.circuit for c in pinout.contact if CIRCUITS[c.circuit].steady != "never" and c.circuit != "choose"
    )
    volts = pinout.voltage_v[0]
    entry = {"function": function, "technology": "filament", "voltage": f"{volts} V", "power": "5 W"}
    vehicle = {"choose": choose, "battery": {"nominal": f"{volts} V"}}
    return rigs.straight(name, name, (entry,), volts=volts, vehicle=vehicle, choose=choose)


@pytest.mark.parametrize("name", SHELLS)
def test_what_has_no_row_is_dead(name):
    """The promise of the last row of a socket: a contact without a row for a position, or a part of it, shows 0 V."""
    loaded = rigs.load(straight_rig(name))
    switching = Switching(loaded)
    rows = [row for row in steps.chart(loaded).measures if row.connector.startswith("X1")]
    told = {row.contact for row in rows}
    assert {c.mark for c in loaded.socket.contact} - told == set()
    lives = {c.mark: switching.circuit(c.circuit) for c in loaded.socket.contact}
    said: dict[str, list[Controls]] = {
        mark: [c for c in switching.settings if any(_is_about(row, mark, switching.words(live, c)) for row in rows)]
        for mark, live in lives.items()
    }
    used = {controls for own in said.values() for controls in own}
    silent = [
        (mark, controls.words)
        for mark, live in lives.items()
        for controls in used
        if not switching.is_constant(live) and not any(is_part(own, controls) for own in said[mark])
        if switching.look(live, controls) != "dark"
    ]
    assert silent == []


def _is_about(row: MeasureRow, mark: str, words: str) -> bool:
    return row.contact == mark and row.switch.removesuffix(", ignition on") == words


SIGNALS = ("lights", "blackout", "brake", "left", "right", "hazard", "reverse", "fog")
EXPRESSIONS = st.recursive(
    st.sampled_from(SIGNALS),
    lambda inner: st.one_of(
        inner.map(lambda one: f"not ({one})"),
        st.tuples(inner, st.sampled_from(("and", "or", "xor")), inner).map(lambda t: f"({t[0]}) {t[1]} ({t[2]})"),
    ),
    max_leaves=5,
)


@settings(max_examples=60, deadline=None)
@given(EXPRESSIONS)
def test_simplest_settings_are_live_and_cover_all(text):
    """Every setting in which an expression is live contains one of the simplest, and none of these contains another."""
    switching = Switching(rigs.load(rigs.rig()))
    live = Live.by(parse(text))
    found = switching.simplest(live)
    alive = [controls for controls in switching.settings if switching.look(live, controls) != "dark"]
    assert [c for c in found if c not in alive] == []
    assert [c for c in alive if not any(is_part(least, c) for least in found)] == []
    assert [(a, b) for a in found for b in found if a != b and a.moved <= b.moved] == []
