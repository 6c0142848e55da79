"""Rules on currents and the headroom of channels, from both sides of each limit."""

import math

import pytest

from tests.findings import TAIL, above, at_nominal, carried, findings, one, place, row_of, solved, supply_of
from tests.rigs import BOX_FEED, RUNS, SUPPLY, load, rig, straight
from tests.steps import check
from wiregen.catalogue.ampacity import ampacity_a
from wiregen.catalogue.lamps import find_lamp
from wiregen.check.headroom import COMMON_LAMPS
from wiregen.model.circuit import Converter, Fuse
from wiregen.model.finding import Finding, Headroom
from wiregen.quantity import parse_size


def test_relay_contact_on_both_sides_of_the_rating():
    """A contact rated a hundredth below what it carries is an error at the channel's line; above it is none."""
    amps = carried(rig(), "-K1:30-87")
    text = rig(channels=[{**TAIL, "rating": f"{amps * 0.99:.6f} A"}])
    found = one(text, "relay-contact")
    above(found, "A")
    assert (found.severity, found.value) == ("error", pytest.approx(amps))
    assert found.state.startswith("service lights")
    place(found, text, "[[adapter.channel]]")
    assert findings(rig(channels=[{**TAIL, "rating": f"{amps * 1.01:.6f} A"}]), "relay-contact") == []


def test_a_relay_without_a_rating_is_a_warning():
    """Contacts without a rating are named in one warning; a rating for all under [rules] takes it away."""
    bare = [{"input": name, "output": name} for name in ("tail", "stop_turn_left")]
    found = one(rig(channels=bare), "relay-contact")
    assert (found.severity, found.where, found.value) == ("warning", "K1, K2", None)
    assert findings(rig(channels=bare, rules={"relay_rating": "20 A"}), "relay-contact") == []


def test_the_sum_of_the_channels_against_the_converter():
    """Two channels, each within the converter's output, together beyond it: error with the state that has both."""
    channels = ["tail_left > tail_left", "stop > stop"]
    lamps = [{"function": "tail_left", "count": 4}, "stop"]

    def with_supply(continuous_a: float) -> str:
        supply = supply_of(continuous_a)
        return rig("iso-12098", "iso-11446", channels=channels, lamps=lamps, supply=supply, taps=[BOX_FEED])

    amps = carried(with_supply(40.0), "-T1")
    tail_a = carried(rig("iso-12098", "iso-11446", channels=channels[:1], lamps=lamps[:1]), "-T1")
    text = with_supply(amps - 0.01)
    found = one(text, "supply-continuous")
    above(found, "A")
    assert tail_a < amps - 0.1
    assert (found.value, found.severity) == (pytest.approx(amps), "error")
    assert found.state.startswith("service lights, brake")
    assert "all channels together take" in found.message
    place(found, text, "[adapter.supply]")
    assert findings(with_supply(amps + 0.01), "supply-continuous") == []


def test_a_converter_without_a_rating_is_a_warning():
    """Without a continuous output the sum is not checked, and a warning says so at the supply's line."""
    bare = {key: value for key, value in SUPPLY.items() if key != "continuous"}
    text = rig(supply=bare, taps=[BOX_FEED])
    found = one(text, "supply-continuous")
    assert (found.severity, found.value) == ("warning", None)
    place(found, text, "[adapter.supply]")


def test_a_step_down_channel_against_its_own_rating():
    """A step-down of one channel is held to that channel's rating."""

    def text(rating_a: float) -> str:
        channel = {"input": "stop", "output": "stop_turn_left", "device": "step_down", "rating": f"{rating_a:.6f} A"}
        return rig("iso-12098", channels=[channel], lamps=["stop_turn_left"], supply=None)

    # At hot corners a quarter is lost, 10 K above 40 °C at 2.5 % each.
    amps = carried(text(9), "-T1") / 0.75
    found = one(text(amps * 0.99), "supply-continuous")
    above(found, "A")
    assert "channel T1 gives" in found.message
    assert "(75% of" in found.message
    assert found.state == "brake; battery low, hot"
    assert findings(text(amps * 1.01), "supply-continuous") == []


def test_contact_current_against_the_user_s_rating():
    """Contacts without a rating of their own are held to what the user allows, on both sides of it."""
    lamps = [{"function": "tail", "type": "p21w-12v", "count": 3}]
    amps = carried(rig(lamps=lamps), "-X2:3")
    found = findings(rig(lamps=lamps, rules={"contact_rating": f"{amps - 0.01} A"}), "contact-current")
    assert [f.where for f in found] == [
        "-X2:3 -X2 contact 3, tail",
        "-X2:1 -X2 contact 1, ground",
    ]
    for each in found:
        above(each, "A")
        assert (each.value, each.source) == (pytest.approx(amps), "rig file")
        assert each.state.startswith("service lights")
    assert findings(rig(lamps=lamps, rules={"contact_rating": f"{amps + 0.01} A"}), "contact-current") == []
    assert findings(rig(lamps=lamps, rules={"contact_rating": f"{amps + 0.01} A"}), "contact-unrated") == []


def test_contacts_without_a_rating_are_a_notice():
    """Contacts that no source rates are listed with the most that one of them carries."""
    found = {f.where: f for f in findings(rig(), "contact-unrated")}
    assert set(found) == {"-X1 12-contact, US military", "-X2 7-way blade (SAE J2863)"}
    plug = found["-X2 7-way blade (SAE J2863)"]
    assert (plug.severity, plug.unit, plug.limit) == ("notice", "A", None)
    assert plug.value == pytest.approx(carried(rig(), "-X2:3"))
    assert "contacts 1, 3;" in plug.message


def grounds(amps: float) -> str:
    """A straight lead between STANAG connectors whose two ground contacts share so many amps about evenly."""
    # Own data: an LED lamp takes its watts at any voltage, so the current is set to a few per cent by hand.
    lamps = [
        {"function": name, "technology": "filament", "voltage": "26.5 V", "power": f"{amps / 3 * 26.5} W"}
        for name in ("tail", "stop", "reverse")
    ]
    thick = [{**run, "length": "0.5 m", "size": "50 mm²"} for run in RUNS]
    return straight("military-12-stanag", "military-12-stanag", lamps, runs=thick)


def test_the_shared_rating_of_two_ground_contacts():
    """D and L of STANAG 4007 carry 15 A each and 30 A together (N1): above it both rules speak, below it neither."""

    def shared(text: str) -> list[Finding]:
        return [f for f in findings(text, "contact-current") if "together carry" in f.message]

    low, high = 25.0, 40.0
    while high - low > 0.01:
        middle = (low + high) / 2
        low, high = (low, middle) if shared(grounds(middle)) else (middle, high)
    found = shared(grounds(high))
    assert [f.where.split()[0] for f in found] == ["-X1:D", "-X2:D"]
    for each in found:
        above(each, "A")
        assert (each.limit, each.source) == (30.0, "N1")
        assert each.value == pytest.approx(30.0, abs=0.02)
        assert each.state == "service lights, brake, reverse; charging high, cold"
    both = solved(grounds(high))
    row = row_of(both, "service lights, brake, reverse; charging high, cold")
    total = abs(both.current_a("-X2:D")[row] + both.current_a("-X2:L")[row])
    assert found[1].value == pytest.approx(total)
    assert shared(grounds(low)) == []


def test_conductor_current_on_both_sides_of_the_ampacity():
    """A 1 mm² cable is in order up to the table's ampacity and an error just above it, with the run's line."""
    limit = ampacity_a(parse_size("1 mm²"), 105.0, 50.0, 1).amps

    def text(amps: float) -> str:
        lamp = {"function": "tail", "technology": "filament", "voltage": "13.5 V", "power": f"{amps * 13.5} W"}
        cable = {"from": "trailer", "to": "lamps", "length": "0.5 m", "size": "1 mm²", "insulation": "105 °C"}
        return rig(lamps=[lamp], runs=[*RUNS, cable])

    low, high = limit * 0.8, limit * 1.2
    while high - low > 1e-3:
        middle = (low + high) / 2
        low, high = (low, middle) if findings(text(middle), "conductor-current") else (middle, high)
    assert findings(text(low), "conductor-current") == []
    found = findings(text(high), "conductor-current")
    (each,) = found  # cable and branch, out and back: one run, one finding that names all four
    assert len({each.where.split()[0], *each.message.split("likewise ")[1].split(", ")}) == 4
    assert each.limit == pytest.approx(limit)
    above(each, "A")
    assert each.value == pytest.approx(limit, abs=2e-3)
    assert each.state.startswith("service lights")
    assert each.origin is not None
    assert text(high).splitlines()[each.origin.line - 1 :][4] == 'size = "1 mm²"'


def test_a_conductor_outside_the_tables_is_a_warning():
    """A size below every table has no ampacity: a warning, not silence, and no other rule stops."""
    runs = [*RUNS, {"from": "trailer", "to": "lamps", "length": "0.5 m", "size": "0.12 mm²"}]
    found = findings(rig(runs=runs), "conductor-current")
    assert {f.severity for f in found} == {"warning"}
    assert all(f.message.startswith("no ampacity: ") for f in found)
    assert findings(rig(), "conductor-current") == []


def fused(amps: float) -> str:
    return rig(
        channels=[{**TAIL, "fuse": "5 A"}],
        lamps=[{"function": "tail", "technology": "filament", "voltage": "13.5 V", "power": f"{amps * 13.5} W"}],
    )


@pytest.mark.parametrize(("severity", "limit"), [("warning", 3.75), ("error", 5.0)])
def test_fuse_load_on_both_sides_of_the_limit(severity, limit):
    """A 5 A fuse is a warning above 75 % of its rating and an error above the rating itself."""
    low, high = limit * 0.9, limit * 1.1
    while high - low > 1e-3:
        middle = (low + high) / 2
        hit = any(f.severity == severity for f in findings(fused(middle), "fuse-load"))
        low, high = (low, middle) if hit else (middle, high)
    found = one(fused(high), "fuse-load")
    above(found, "A")
    assert (found.severity, found.limit) == (severity, limit)
    # The continuous share is for ordinary conditions; the rating holds at every corner.
    assert found.state == ("service lights" if severity == "warning" else "service lights; battery low, cold")
    assert found.value == pytest.approx(limit, abs=2e-3)
    assert found.where == "-F2 fuse 5 A"
    place(found, fused(high), "[[adapter.channel]]")
    assert [f.severity for f in findings(fused(low), "fuse-load")] == ([] if severity == "warning" else ["warning"])


def test_a_fuse_larger_than_the_conductor_behind_it():
    """A fuse above the ampacity of the thinnest conductor behind it is an error; at or below it is none."""
    limit = ampacity_a(parse_size("1.5 mm²"), 105.0, 50.0, 1).amps

    def text(fuse_a: float) -> str:
        cable = {"from": "trailer", "to": "lamps", "length": "1 m", "size": "1.5 mm²", "insulation": "105 °C"}
        return rig(channels=[{**TAIL, "fuse": f"{fuse_a} A"}], runs=[*RUNS, cable])

    found = one(text(math.ceil(limit)), "fuse-conductor")
    above(found, "A")
    assert (found.severity, found.value, found.limit) == ("error", math.ceil(limit), pytest.approx(limit))
    assert "(1.5 mm²), which carries" in found.message
    assert found.where == f"-F2 fuse {math.ceil(limit)} A"
    place(found, text(math.ceil(limit)), "[[adapter.channel]]")
    assert findings(text(math.floor(limit)), "fuse-conductor") == []


def test_a_fuse_before_a_conductor_of_an_assumed_size_is_a_warning():
    """Without a run the size is assumed: a warning that says so; a run that states the same size makes it an error."""

    def text(*more: object) -> str:
        runs = [run for run in RUNS if (run["from"], run["to"]) != ("trailer", "lamps")]
        return rig(plug="sae-j1239-4", channels=[{**TAIL, "fuse": "20 A"}], runs=[*runs, *more])

    cable = {"from": "trailer", "to": "lamps", "length": "6 m", "insulation": "80 °C"}
    assumed = one(text(cable), "fuse-conductor")
    assert assumed.severity == "warning"
    assert "from the plug to the splice (1.5 mm², size assumed, not stated), which carries 15.5 A" in assumed.message
    assert "state its size" in assumed.advice
    stated = one(text({**cable, "size": "1.5 mm²"}), "fuse-conductor")
    assert (stated.severity, "assumed" in stated.message) == ("error", False)


def test_a_second_fuse_protects_the_thin_end():
    """A thin cable behind a large fuse is in order once a small fuse of its own stands before it."""
    cable = {"from": "trailer", "to": "lamps", "length": "1 m", "size": "1 mm²", "insulation": "105 °C"}
    supply = {**SUPPLY, "fuse": "40 A"}
    bare = rig(channels=[TAIL], supply=supply, taps=[BOX_FEED], runs=[*RUNS, cable])
    own = rig(channels=[{**TAIL, "fuse": "5 A"}], supply=supply, taps=[BOX_FEED], runs=[*RUNS, cable])
    assert [f.where for f in findings(bare, "fuse-conductor")] == ["-F2 fuse 40 A"]
    assert findings(own, "fuse-conductor") == []


# --- headroom --------------------------------------------------------------------------------------------------------


def room(text: str, channel: str = "K1") -> Headroom:
    return next(row for row in check(load(text)).headroom if row.channel == channel)


def with_tail_lamps(count: int, **channel: str) -> str:
    return rig(channels=[{**TAIL, **channel}], lamps=[{"function": "tail", "count": count}])


def test_headroom_and_what_is_carried_reach_the_limit_that_is_named():
    """Carried and spare current add up to the limit of the part that binds: fuse, contact, cable, converter."""
    fused_text = with_tail_lamps(2, fuse="5 A")
    fuse = room(fused_text)
    assert fuse.bound_by == "-F2 fuse 5 A"
    assert at_nominal(fused_text).current_a("-F2").max() + fuse.spare_a == pytest.approx(3.75)
    contact = room(with_tail_lamps(2, rating="3 A"))
    assert contact.bound_by == "-K1:30-87 K1 contact"
    assert contact.carried_a + contact.spare_a == pytest.approx(3.0)
    converter = room(rig(supply=supply_of(2.0), taps=[BOX_FEED]))
    assert converter.bound_by == "-T1 step-down converter"
    # The converter's own bleed, 13.6 V over 10 kohm, is what the channel does not carry.
    assert converter.carried_a + converter.spare_a == pytest.approx(2.0 - 13.6 / 10_000, abs=1e-4)
    thin = [*RUNS, {"from": "trailer", "to": "lamps", "length": "1 m", "size": "0.5 mm²", "insulation": "80 °C"}]
    cable = room(rig(runs=thin))
    limit = ampacity_a(parse_size("0.5 mm²"), 80.0, 50.0, 1).amps
    assert cable.bound_by.endswith("0.5 mm²")
    assert cable.carried_a + cable.spare_a == pytest.approx(limit, abs=1e-6)


def test_headroom_of_a_shared_converter_counts_the_other_channels():
    """What other channels take at the same time is taken off the room of this one, in the states in which it is on."""
    channels = ["tail > tail", "stop_turn_left > stop_turn_left"]
    lamps = [{"function": "tail", "count": 2}, "stop_turn_left"]
    text = rig(channels=channels, lamps=lamps, supply=supply_of(4.0), taps=[BOX_FEED])
    row = room(text)
    assert row.bound_by == "-T1 step-down converter"
    assert row.spare_a == pytest.approx(4.0 - carried(text, "-T1"))
    assert row.spare_a < 4.0 - row.carried_a - 1.0


def test_headroom_does_not_count_states_in_which_the_channel_is_off():
    """A heavy load in blackout only takes nothing off the room of the service tail lamps."""
    channels = ["tail > tail", "blackout_tail > charge"]
    lamps = ["tail", {"function": "charge", "type": "p21w-12v", "count": 3}]
    text = rig(channels=channels, lamps=lamps, supply=supply_of(6.0), taps=[BOX_FEED])
    service = room(text)
    assert service.bound_by == "-T1 step-down converter"
    assert service.spare_a == pytest.approx(6.0 - service.carried_a, abs=2e-3)
    assert room(text, "K2").spare_a < 2.0


def test_headroom_in_lamps_can_be_used_up():
    """So many more 5 W lamps as headroom promises break no rule; two more do."""
    start = 2
    row = room(with_tail_lamps(start, fuse="5 A"))
    more = dict(row.lamps)["5 W"]
    assert more == math.floor(row.spare_a / find_lamp(dict(COMMON_LAMPS)["5 W"]).max_current_a)
    assert findings(with_tail_lamps(start + more, fuse="5 A"), "fuse-load") == []
    assert findings(with_tail_lamps(start + more + 2, fuse="5 A"), "fuse-load") != []


def test_headroom_of_a_brake_channel_is_told_in_magnets():
    """A 40 A controller and fuse with two magnets of 3.3 ohm has room for as many more as their current fits in."""
    brakes = {"magnets": 2, "magnet_resistance": "3.3 ohm"}
    controller = {"input": "pedal", "output": "brake", "device": "brake_controller", "rating": "30 A", "name": "b"}
    text = rig(channels=[controller], lamps=[], pedal=True, brakes=brakes)
    row = room(text, "b")
    each_a = row.carried_a / 2
    assert each_a == pytest.approx(13.6 / 3.3, rel=0.25)
    assert row.lamps == (("brake magnet", math.floor(row.spare_a / each_a)),)
    assert row.lamps[0][1] >= 1


def test_headroom_below_zero_when_a_limit_is_passed():
    """A channel that is over its limit has a negative room and no lamp left."""
    row = room(with_tail_lamps(30, fuse="5 A"))
    assert row.spare_a < 0
    assert {count for _, count in row.lamps} == {0}


def test_headroom_of_a_wire_is_bound_by_the_vehicle_s_fuse():
    """A wire takes its current from the vehicle's circuit: the fuse there binds, and not the converter beside it."""
    vehicle = {"fuse": [{"circuits": ["tail_left"], "fuse": "5 A"}]}
    text = rig("iso-12098", channels=["tail_left > tail | wire"], lamps=["tail r5w-24v"], vehicle=vehicle, volts=24)
    row = room(text, "wire1")
    assert row.bound_by == "-F2 fuse 5 A"
    assert at_nominal(text).current_a("-F2").max() + row.spare_a == pytest.approx(3.75)
    assert row.carried_a == pytest.approx(carried(text, "-F2"))


def test_headroom_in_front_of_a_converter_counts_the_voltages():
    """A small fuse in front of the converter binds: an amp at 13.6 V takes about half an amp at 28 V through it."""
    tap = {**BOX_FEED, "fuse": "2 A"}
    text = rig(supply={**SUPPLY, "output": "13.6 V", "fuse": "30 A"}, taps=[tap])
    row = room(text)
    assert row.bound_by == "-F1 fuse 2 A"
    both = at_nominal(text)
    lit = int(both.current_a("-T1").argmax())
    fuse = both.circuit.by_ref["-F1"]
    assert isinstance(fuse, Fuse)
    (converter,) = both.circuit.of(Converter)
    v_in = (both.voltage_v(converter.a) - both.voltage_v(converter.common))[lit]
    v_out = (both.voltage_v(converter.b) - both.voltage_v(converter.common))[lit]
    spare_in = 1.5 - both.current_a("-F1")[lit]
    assert row.spare_a == pytest.approx(spare_in * converter.efficiency * v_in / v_out)
    assert row.spare_a > 1.5 * spare_in
