"""Loads that return by a contact of their own: where the current goes, and what is told when it has no way back."""

import numpy as np
import pytest

from tests.findings import at_nominal, findings, one
from tests.problems import only
from tests.rigs import RUNS, load, rig, straight, trailer
from tests.steps import build, chart
from wiregen.model.circuit import Conductor, Lamp

#: A refrigerator of 10 A: common practice, no source.
FRIDGE = {"function": "ignition", "technology": "filament", "voltage": "12 V", "power": "120 W"}
#: Something that takes 2 A from the permanent supply.
PUMP = {"function": "charge", "technology": "filament", "voltage": "12 V", "power": "24 W"}
V12 = {"vehicle": {"battery": {"nominal": "12 V"}}, "volts": 12}
IGNITION = {"name": "key", "live": "ignition", "source": "battery", "fuse": "30 A"}


def caravan(plug: str = "iso-11446", lamps=("stop", FRIDGE, PUMP), **more) -> str:
    """A 24 V lorry whose adapter feeds a caravan: lamps, refrigerator and pump."""
    channels = ["stop > stop", "key > ignition", "box_feed > charge"]
    return rig("iso-12098", plug, channels=channels, lamps=lamps, taps=[IGNITION], **more)


def amps(text: str) -> dict[str, float]:
    """Highest current of every contact of the trailer's connector and of every lamp, A."""
    study = at_nominal(text)
    names = [e.ref for e in study.circuit.elements if e.ref.startswith(("-X2:", "-E"))]
    return {name: float(np.abs(study.current_a(name)).max()) for name in names}


def test_every_load_returns_by_the_contact_that_its_pinout_gives_it():
    """ISO 11446 (I8 I8b I9 P24): 10 by 11, 9 by 13, lamps by 3. Kirchhoff: what goes in comes out."""
    found = amps(caravan())
    for feed, back in (("6", "3"), ("10", "11"), ("9", "13")):
        assert found[f"-X2:{feed}"] > 1
        assert found[f"-X2:{back}"] == pytest.approx(found[f"-X2:{feed}"], rel=1e-6)


def test_before_2004_one_contact_carries_both_returns_back():
    """ISO 11446 before 2004 (I10 I11 P10 P11): 13 is the return of 9 and of 10."""
    found = amps(caravan("iso-11446-before-2004"))
    assert found["-X2:13"] == pytest.approx(found["-X2:9"] + found["-X2:10"], rel=1e-6)
    assert "-X2:11" not in found


def test_a_return_that_nothing_needs_is_not_built():
    """Without a load on 9 and 10 the contacts 11 and 13 carry nothing, and the adapter has no wire for them."""
    (circuit,) = build(load(caravan(lamps=["stop"]))).circuits
    ends = {end for wire in circuit.of(Conductor) for end in (wire.a, wire.b)}
    assert {"-X2:11.a", "-X2:13.a"} & ends == set()


def test_the_chart_says_where_the_returns_go():
    """A return that the adapter joins stands with the ground bar and its wire; one that it does not says so."""
    made = chart(load(caravan(lamps=["stop", FRIDGE])))
    rows = {row.trailer_contact: row for row in made.pins}
    assert (rows["X2:11"].channel, rows["X2:11"].vehicle_contact) == ("ground bar", "X1:4")
    assert rows["X2:13"].channel == ""
    wires = {(row.start, row.end) for row in made.conductors}
    assert ("X2:11", "A1:0V") in wires
    assert not any("X2:13" in ends for ends in wires)


def test_a_plain_lead_takes_every_return_to_its_own_contact():
    """12 V, equal wirings: the refrigerator's current is in 10 and 11 of the vehicle's socket and in no other."""
    study = at_nominal(straight("iso-11446", "iso-11446", [FRIDGE], **V12))
    currents = {
        mark: float(np.abs(study.current_a(f"-X1:{mark}")).max())
        for mark in (e.mark for e in study.circuit.elements if getattr(e, "connector", "") == "-X1")
    }
    assert currents["11"] == pytest.approx(currents["10"], rel=1e-6)
    assert currents["10"] > 5
    assert sum(currents.values()) == pytest.approx(2 * currents["10"], rel=1e-3)


def test_an_adapter_takes_a_feed_back_by_the_return_of_its_contact():
    """A 12 V socket with split returns: the permanent supply comes in by 9, and 13 is joined to the ground bar."""
    feeding = {"channels": ["charge > charge | wire"], "lamps": [PUMP], "supply": None, **V12}
    (circuit,) = build(load(rig("iso-11446", "sae-j2863", **feeding))).circuits
    joined = {(wire.a, wire.b) for wire in circuit.of(Conductor) if wire.stretch == "socket-adapter"}
    assert ("-A1:0V", "-X1:13.a") in joined
    assert not any("-X1:11.a" in ends for ends in joined)
    other = {"channels": ["stop > tail | wire"], "lamps": ["tail"], "supply": None, **V12}
    (circuit,) = build(load(rig("iso-11446", "sae-j2863", **other))).circuits
    assert not any("-X1:13.a" in (wire.a, wire.b) for wire in circuit.of(Conductor))


def test_the_reversing_lamp_of_type_12s_has_a_return():
    """ISO 3732 has no plain ground; 1 is tested against 3 (P21)."""
    text = rig("iso-12098", "iso-3732", channels=["reverse > reverse"], lamps=["reverse"])
    found = amps(text)
    assert found["-X2:3"] == pytest.approx(found["-X2:1"], rel=1e-6)
    assert found["-X2:1"] > 1
    assert findings(text, "no-ground") == []


# --- the battery of a trailer


@pytest.mark.parametrize(("contact", "feed", "back"), [(None, "9", "13"), ("9", "9", "13"), ("10", "10", "11")])
def test_the_battery_of_a_caravan_hangs_on_nine_or_on_ten(contact, feed, back):
    """ISO 11446: charged over 9 (P29) or over 10 (P24 P30); its return is that of the contact."""
    battery = {"voltage": "12.0 V", "resistance": "50 mohm", **({"contact": contact} if contact else {})}
    found = amps(caravan(lamps=["stop"], battery=battery))
    assert found[f"-X2:{feed}"] > 1
    assert found[f"-X2:{back}"] == pytest.approx(found[f"-X2:{feed}"], rel=1e-6)
    assert {"-X2:11", "-X2:13"} & set(found) == {f"-X2:{back}"}


def test_the_rules_of_the_charge_line_follow_the_battery():
    """Thin wires and current back into the vehicle are looked for on the contact that the battery hangs on."""
    thin = {"from": "adapter", "to": "trailer", "circuits": ["ignition"], "length": "1 m", "size": "1 mm²"}
    battery = {"voltage": "12.6 V", "resistance": "50 mohm", "contact": "10", "fuse": "30 A"}
    channels = [{"input": "key", "output": "ignition", "device": "wire"}]
    text = rig(
        *("iso-12098", "iso-11446"), channels=channels, lamps=["stop"], taps=[{**IGNITION, "live": "always"}],
        battery=battery, runs=[*RUNS, thin], vehicle={"battery": {"nominal": "12 V"}}, supply=None,
    )  # fmt: skip
    assert [f.where.split()[1] for f in findings(text, "charge-line")] == ["1"]
    assert one(text, "trailer-backfeed").severity == "error"


@pytest.mark.parametrize(
    ("contact", "message"),
    [
        ("5", "contact '5' is 'tail_right': a battery is charged over 9 or 10 here"),
        ("99", "ISO 11446 has no contact '99': a battery is charged over 9 or 10 here"),
    ],
)
def test_a_battery_on_a_contact_that_charges_none_is_refused(contact, message):
    """The problem names what the contact is and which ones charge."""
    text = caravan(lamps=["stop"], battery={"contact": contact})
    assert (only(text).message, only(text).path) == (message, "trailer.0.battery.contact")


# --- the findings


@pytest.mark.parametrize(
    ("socket", "plug", "feed", "back", "source"),
    [
        ("iso-11446-before-2004", "iso-11446", "10", "11", "I7,I8,I9"),
        ("iso-3732-uk-before-1998", "iso-3732", "6", "7", "I8b,I9,N2"),
    ],
)
def test_a_refrigerator_behind_an_older_socket_has_no_way_back(socket, plug, feed, back, source):
    """The older socket has no ground where the newer plug returns: an error on that contact, and the load is dead."""
    text = straight(socket, plug, [FRIDGE], **V12)
    found = one(text, "open-return")
    assert (found.severity, found.where, found.source) == ("error", f"-X2:{back}", source)
    assert f"on contact {feed} returns by contact {back}" in found.message
    assert found.origin is not None
    study = at_nominal(text)
    (fridge,) = study.circuit.of(Lamp)
    assert np.abs(study.current_a(fridge.ref)).max() < 1e-3


@pytest.mark.parametrize("wiring", ["iso-11446", "iso-11446-before-2004", "iso-3732", "iso-3732-uk-before-1998"])
def test_equal_wirings_have_no_open_return(wiring):
    """The twin: socket and plug of one wiring."""
    text = straight(wiring, wiring, [FRIDGE], **V12)
    assert findings(text, "open-return") == []


def test_a_return_that_the_trailer_joins_to_another_is_not_open():
    """The refrigerator behind the older socket returns by the lamp ground then: a warning, and it is not dead."""
    text = straight("iso-11446-before-2004", "iso-11446", [FRIDGE], bridged=[["3", "11"]], **V12)
    assert findings(text, "open-return") == []
    assert one(text, "joined-returns").where == "-X2:3, -X2:11"
    study = at_nominal(text)
    (fridge,) = study.circuit.of(Lamp)
    assert np.abs(study.current_a(fridge.ref)).max() > 5


def test_an_adapter_leaves_no_return_open():
    """The ground bar takes every return of the trailer."""
    assert findings(caravan(), "open-return") == []


@pytest.mark.parametrize(
    ("ties", "where"),
    [
        ([["3", "13"]], "-X2:3, -X2:13"),
        ([["3", "11", "13"]], "-X2:3, -X2:11, -X2:13"),
        ([["5", "7"]], None),
        ([], None),
    ],
)
def test_returns_that_a_trailer_joins_are_named(ties, where):
    """ISO 11446: the three returns must not be joined on the trailer (I8 I8b I9 I10 P26); tail contacts may be."""
    found = findings(caravan(bridged=ties), "joined-returns")
    assert [(f.severity, f.where) for f in found] == ([("warning", where)] if where else [])


def test_a_trailer_whose_connector_has_one_ground_may_join_what_it_likes():
    """Without returns of their own there is nothing to keep apart: the two grounds of the military plug."""
    plug = trailer("military-12-us", ["tail"], bridged=[["D", "L"]])
    assert findings(rig(trailers=[plug]), "joined-returns") == []


def test_joined_returns_share_the_current():
    """Why: joined to 13, the lamp ground takes part of the pump's current."""
    apart, joined = amps(caravan(lamps=["stop", PUMP])), amps(caravan(lamps=["stop", PUMP], bridged=[["3", "13"]]))
    assert joined["-X2:3"] > apart["-X2:3"] + 0.1
    assert joined["-X2:3"] + joined["-X2:13"] == pytest.approx(apart["-X2:3"] + apart["-X2:13"], rel=0.01)
