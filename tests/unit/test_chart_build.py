"""The chart as built from a rig: rows, fuses, support, tags, cautions, straight leads."""

import pytest

from tests import rigs, steps
from tests.problems import OWN
from wiregen.catalogue.connector import PinoutContact, support_words
from wiregen.model.chart import NO_FUSE, Chart, ConductorRow, PinRow

LORRY = rigs.rig("iso-12098", "iso-11446", channels=("stop > stop",), lamps=("stop",))
CHARGE = {"name": "spare_feed", "live": "always", "source": "battery"}


def chart(text: str) -> Chart:
    return steps.chart(rigs.load(text))


def pin(made: Chart, end: str) -> PinRow:
    return next(row for row in made.pins if end in (row.trailer_contact, row.vehicle_contact))


def conductor(made: Chart, *ends: str) -> ConductorRow:
    return next(row for row in made.conductors if {row.start, row.end} == set(ends))


# --- fuses


def test_a_feed_without_fuse_says_so_and_a_ground_does_not():
    """A battery feed, its channel and a box output without a fuse are named; grounds have nothing to name."""
    made = chart(rigs.rig(channels=("tail > tail", "spare_feed > charge | wire"), taps=[CHARGE]))
    assert conductor(made, "A1:spare feed", "X2:4").fuse == NO_FUSE
    assert [row.fuse for row in made.conductors if row.circuit == "spare feed"] == [NO_FUSE]
    assert {row.fuse for row in made.conductors if row.group == "Ground"} == {""}
    assert pin(made, "X2:4").fuse == NO_FUSE
    assert pin(made, "X2:1").fuse == ""


def test_a_fuse_in_front_is_named_instead():
    """The twin with fuses: tap, channel and vehicle feed each protect what lies behind them."""
    fused = {"input": "tail", "output": "tail", "fuse": "10 A", "rating": "20 A"}
    feed = [{"circuits": ["tail"], "fuse": "20 A"}]
    channels = (fused, "spare_feed > charge | wire")
    made = chart(rigs.rig(channels=channels, taps=[{**CHARGE, "fuse": "15 A"}], vehicle={"fuse": feed}))
    assert [row.fuse for row in made.conductors if NO_FUSE in row.fuse] == []
    assert conductor(made, "A1:spare feed", "X2:4").fuse.endswith("15 A")
    assert conductor(made, "X1:E", "A1:tail").fuse.endswith("20 A")
    assert (pin(made, "X2:3").fuse.endswith("10 A"), pin(made, "X2:4").fuse.endswith("15 A")) == (True, True)


@pytest.mark.parametrize("feed", ["direct", "diode"])
def test_a_charge_line_names_the_fuse_of_the_box_not_of_the_trailers_battery(feed: str):
    """Both fuses reach the line; the one to fit and to look for is the one in front of it."""
    charging = {"input": "charge", "output": "charge", "device": "step_down", "fuse": "10 A"}
    battery = {"isolation": feed, "fuse": "15 A"}
    made = chart(rigs.rig("iso-12098", "sae-j2863", channels=[charging], lamps=[], battery=battery, supply=None))
    (row,) = [row for row in made.conductors if row.end == "X2:4"]
    assert row.fuse == f"{row.start.partition(':')[0]} 10 A"
    assert pin(made, "X2:4").fuse == row.fuse


def test_a_lead_that_brings_a_supply_to_a_ground_contact_says_so():
    """ISO 1724 has left turn where the 7-way blade has ground: that conductor is no plain return."""
    vehicle = {"battery": {"nominal": "12 V"}}
    made = chart(rigs.straight("iso-1724", "sae-j2863", ("tail",), volts=12, vehicle=vehicle))
    assert (conductor(made, "X1:1", "X2:1").circuit, conductor(made, "X1:1", "X2:1").fuse) == ("ground", NO_FUSE)


# --- support


def entries(*supports: str) -> tuple[PinoutContact, ...]:
    return tuple(PinoutContact(mark=str(i), function="f", sources=("x",), support=s) for i, s in enumerate(supports))


@pytest.mark.parametrize(
    ("vehicle", "trailer", "words"),
    [
        (("two",), ("two",), "2"),
        (("two", "two"), ("two",), "2"),
        (("two", "two"), ("memory",), "2, 2 / ?"),
        (("two", "one"), ("one",), "2, 1 / 1"),
        (("two", "one"), (), "2, 1"),
        ((), ("disagree",), "≠"),
    ],
)
def test_support_of_many_contacts_is_told_apart(vehicle, trailer, words):
    """One mark where all are alike; else vehicle contacts, slash, trailer contact."""
    assert support_words(entries(*vehicle), entries(*trailer)) == words


def test_unfed_rows_keep_the_note_of_the_pinout():
    """Contact 12 of ISO 11446 is disputed; its note says why, and must not be lost behind 'not connected'."""
    loaded = rigs.load(LORRY)
    row, entry = pin(steps.chart(loaded), "X2:12"), loaded.plugs[0].find("12")
    assert entry.note
    assert (row.unverified, row.note) == (True, f"not connected by this adapter. {entry.note}")


def test_a_disputed_vehicle_contact_tells_its_note():
    """F of the British wiring is blackout stop by one source and rear fog by another."""
    row = pin(chart(rigs.rig("military-12-commonwealth")), "X1:F")
    assert (row.support, row.unverified) == ("≠", True)
    assert "rear fog [N3]" in row.note


def test_a_colour_has_its_own_mark_in_chart_and_cut_list(tmp_path):
    """A red wire without a document on a contact whose function is known: red (?); a colour of the rig has no mark."""
    proof = {"colour": {"sources": ["memory"], "support": "memory"}}
    contacts = [dict(contact) for contact in OWN["contact"]]
    contacts[1] |= {"colour": "RD", "proof": proof}
    (tmp_path / "boathouse.toml").write_text(rigs.dump({**OWN, "contact": contacts}), encoding="utf-8")
    run = {"from": "adapter", "to": "trailer", "length": "1 m", "size": "6 mm²", "colour": "BU"}
    for runs, code, words in (((), "RD", "red (?)"), ((run,), "BU", "blue")):
        made = steps.chart(rigs.load(rigs.rig(plug="boathouse", lamps=["tail"], runs=runs), tmp_path))
        assert (pin(made, "X2:b").colour, pin(made, "X2:b").colour_word) == (code, words)
        (row,) = [row for row in made.conductors if row.end == "X2:b"]
        assert (row.colour, row.colour_word, row.support, row.unverified) == (code, words, "1", False)


def test_conductors_know_their_doubt():
    """A conductor on a disputed contact is not verified, the others are."""
    made = chart(
        rigs.rig(
            "military-12-commonwealth", channels=("tail > tail", "blackout_stop > stop_turn_left"), lamps=("tail",)
        )
    )
    assert {row.start for row in made.conductors if row.unverified} == {"X1:F"}


# --- tags and markings


def test_vehicle_tags_are_in_both_tables():
    """The harness of the vehicle is all black; its metal tags tell the wires apart (pinout, T1 and T10)."""
    made = chart(rigs.rig())
    assert (pin(made, "X2:3").tag, pin(made, "X1:A + X1:C + X1:H").tag) == ("21D", "24E + 24D + 24F")
    assert conductor(made, "X1:E", "A1:tail").tag == "21D"
    assert pin(made, "X2:3").vehicle_words == "tail, vehicle tag 21D"


def test_conductors_that_share_a_colour_get_a_marking():
    """Their number, on both ends; a conductor alone in its colour needs none, one of any colour always does."""
    made = chart(rigs.rig(channels=("tail > tail", "stop_turn_left > stop_turn_left")))
    colours = [row.colour for row in made.conductors]
    assert {row.ref: row.marking for row in made.conductors} == {
        row.ref: row.ref if colours.count(row.colour) > 1 else "" for row in made.conductors
    }
    assert conductor(made, "X1:E", "A1:tail").marking != ""
    assert conductor(made, "K1:87", "X2:3").marking == ""


# --- what the vehicle has


def test_the_feed_of_the_supply_has_a_row():
    """Contact 9 of ISO 12098 feeds the converter: it is used, so it is not among the contacts that are not."""
    supply = {**rigs.SUPPLY, "fed_by": "charge"}
    row = pin(
        chart(rigs.rig("iso-12098", "iso-11446", channels=("stop > stop",), lamps=("stop",), supply=supply)), "X1:9"
    )
    assert (row.group, row.channel) == ("Supply", "T1 (step-down converter, the adapter's supply)")


@pytest.mark.parametrize(
    "text",
    [
        rigs.rig(),
        LORRY,
        rigs.straight("iso-12098", "iso-12098", ("stop",)),
        rigs.straight("military-12-us", "military-12-stanag", ("turn_left",)),
    ],
)
def test_every_contact_is_listed_once_a_side(text):
    """No contact of the vehicle is missing, none is listed as both used and not used; trailer contacts come once."""
    loaded = rigs.load(text)
    made = steps.chart(loaded)
    named = [mark for row in made.pins for mark in row.vehicle_contact.split(" + ") if mark.startswith("X1:")]
    assert set(named) == {f"X1:{contact.mark}" for contact in loaded.socket.contact}
    idle = [mark for row in made.pins if not row.channel for mark in row.vehicle_contact.split(" + ") if mark]
    assert set(idle) & {mark for row in made.pins if row.channel for mark in row.vehicle_contact.split(" + ")} == set()
    assert len(idle) == len(set(idle))
    ends = [row.trailer_contact for row in made.pins if row.trailer_contact]
    assert sorted(ends) == sorted(f"X2:{contact.mark}" for contact in loaded.plugs[0].contact)


def test_the_lead_is_in_the_cut_list():
    """A plain lead of 15 contacts has 15 conductors, also those for sensors and data, which carry no lamp."""
    made = chart(rigs.straight("iso-12098", "iso-12098", ("stop",)))
    joined = {tuple(sorted((row.start, row.end))) for row in made.conductors}
    assert joined == {(f"X1:{number}", f"X2:{number}") for number in range(1, 16)}
    refs = [row.ref for row in made.conductors]
    assert len(refs) == len(set(refs))
    assert {row.size for row in made.conductors} == {"6 mm²"}


# --- cautions


def test_the_fuse_caution_is_an_order():
    """It says what to do; what is there already the table shows."""
    assert any(text.endswith("Fit a fuse at the battery in every feed.") for text in chart(rigs.rig()).cautions)


@pytest.mark.parametrize(("brakes", "wanted"), [({}, 0), ({"brakes": {"magnets": 2}}, 1)])
def test_the_brake_caution_needs_brakes(brakes, wanted):
    """A trailer without brakes is not told about them."""
    cautions = chart(rigs.rig(**brakes)).cautions
    assert sum(text.startswith("Brakes:") for text in cautions) == wanted


def test_the_chart_says_that_it_is_no_check():
    """With the file code of the rig it was made from, so that the check can be tied to it."""
    loaded = rigs.load(rigs.rig())
    wanted = f"This chart is not a check: run 'wiregen check' on the rig file with file code {loaded.digest}."
    assert wanted in steps.chart(loaded).cautions
