"""Loading a rig: every misfit between records has its line, all of them in one run, and nothing else is ever raised."""

from pathlib import Path

import pytest

from tests.problems import marked, only
from tests.rigs import BOX_FEED, SUPPLY, line_of, rig

DEMOS = sorted((Path(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo").glob("*.toml"))


#: name -> rig, path, what is marked, a line that the mark is on or behind, part of the message
CROSS = {
    "positive ground": (
        rig(vehicle={"ground": "positive"}),
        "vehicle.ground",
        '"positive"',
        "[vehicle]",
        "positive-ground vehicles are not computed here",
    ),
    "tap named as a circuit": (
        rig(taps=[{"name": "stop", "live": "brake"}]),
        "vehicle.tap.1.name",
        '"stop"',
        'source = "battery"',
        "a tap may not have the name of a circuit ('stop')",
    ),
    "tap named as a word of the language": (
        rig(taps=[{"name": "supply", "live": "brake"}]),
        "vehicle.tap.1.name",
        '"supply"',
        'source = "battery"',
        "'supply' means something else here",
    ),
    "tap over an unknown signal": (
        rig(taps=[{"name": "pedal", "live": "not blackout and brakes"}]),
        "vehicle.tap.1.live",
        "brakes",
        'name = "pedal"',
        "'brakes' is not a control signal; did you mean 'brake'?",
    ),
    "habit over an unknown signal": (
        rig(vehicle={"exception": [{"circuit": "tail", "live": "light"}]}),
        "vehicle.exception.0.live",
        "light",
        "[[vehicle.exception]]",
        "'light' is not a control signal; did you mean 'lights'?",
    ),
    "channel input that is nothing": (
        rig(channels=["tail or taill > tail"]),
        "adapter.channel.0.input",
        "taill",
        "[[adapter.channel]]",
        "'taill' is neither a vehicle circuit nor a tap; did you mean 'tail'?",
    ),
    "misspelt tap in an input": (
        rig(channels=["stop_turn_left xor pedall > tail"], pedal=True),
        "adapter.channel.0.input",
        "pedall",
        "[[adapter.channel]]",
        "did you mean 'pedal'?",
    ),
    "channel that listens to nothing": (
        rig(channels=["always > tail"]),
        "adapter.channel.0.input",
        '"always"',
        "[[adapter.channel]]",
        "a channel must listen to at least one circuit",
    ),
    "logic over a wire": (
        rig(channels=["not tail > tail | wire"]),
        "adapter.channel.0.input",
        '"not tail"',
        "[[adapter.channel]]",
        "a wire passes one circuit on; logic needs a relay or solid_state",
    ),
    "channel that feeds a ground": (
        rig(channels=[{"input": "tail", "output": ["tail", "ground"]}]),
        "adapter.channel.0.output",
        "ground",
        "[[adapter.channel]]",
        "'ground' is nothing a channel feeds",
    ),
    "relay without a supply": (
        rig(supply=None),
        "adapter.channel.0",
        "[[adapter.channel]]",
        "[[adapter.channel]]",
        "this channel (relay) needs the adapter's 12 V",
    ),
    "drop-out above pick-up": (
        rig(channels=[{"input": "tail", "output": "tail", "pick_up": "14 V", "drop_out": "15 V"}]),
        "adapter.channel.0.drop_out",
        '"15 V"',
        "[[adapter.channel]]",
        "drop_out must be below pick_up",
    ),
    "key of another device": (
        rig(channels=[{"input": "tail", "output": "tail", "gain": "80 %"}]),
        "adapter.channel.0.gain",
        "gain",
        "[[adapter.channel]]",
        "gain does nothing for relay; it is for brake_controller",
    ),
    "key of another supply": (
        rig(supply={"kind": "centre_tap", "output": "12 V"}),
        "adapter.supply.output",
        "output",
        "[adapter.supply]",
        "output does nothing for centre_tap; it is for converter, battery",
    ),
    "misspelt feed": (
        rig(supply={**SUPPLY, "fed_by": "box_fed"}, taps=[BOX_FEED]),
        "adapter.supply.fed_by",
        "box_fed",
        "[adapter.supply]",
        "'box_fed' is neither a vehicle circuit nor a tap; did you mean 'box_feed'?",
    ),
    "adapter that does nothing": (
        rig(channels=[], supply=None),
        "adapter",
        "[adapter]",
        "[adapter]",
        "the adapter needs at least one [[adapter.channel]]",
    ),
    "fuse below the table": (
        rig(channels=[{"input": "tail", "output": "tail", "fuse": "0.5 A"}]),
        "adapter.channel.0.fuse",
        '"0.5 A"',
        "[[adapter.channel]]",
        "no fuse of 0.5 A is known here; the smallest is 1 A",
    ),
    "tie of a contact that is not there": (
        rig(bridged=[["3", "8"]]),
        "trailer.0.bridged.0",
        '["3", "8"]',
        "[[trailer]]",
        "7-way blade (SAE J2863) has no contact '8'. It has: 1, 2, 3, 4, 5, 6, 7",
    ),
    "lamp on a contact that is not there": (
        rig(lamps=[{"function": "tail", "contact": "9"}]),
        "trailer.0.lamp.0.contact",
        '"9"',
        "[[trailer.lamp]]",
        "7-way blade (SAE J2863) has no contact '9'. It has: 1, 2, 3, 4, 5, 6, 7",
    ),
    "lamp for a ground": (
        rig(lamps=[{"function": "ground"}]),
        "trailer.0.lamp.0.function",
        '"ground"',
        "[[trailer.lamp]]",
        "'ground' is nothing a lamp is for",
    ),
    "misspelt lamp type": (
        rig(lamps=["tail r5w12v"]),
        "trailer.0.lamp.0.type",
        '"r5w12v"',
        "[[trailer.lamp]]",
        "'r5w12v' is not a lamp type; did you mean 'r5w-12v'?",
    ),
    "lamp without data": (
        rig(lamps=[{"function": "tail", "technology": "led", "voltage": "12 V"}]),
        "trailer.0.lamp.0",
        "[[trailer.lamp]]",
        "[[trailer.lamp]]",
        "a lamp needs a type, or technology, voltage and power",
    ),
    "run between places that are not joined": (
        rig(runs=[{"from": "battery", "to": "lamps"}]),
        "run.0.to",
        '"lamps"',
        "[[run]]",
        "no conductor runs from battery to lamps. Allowed: battery to socket; socket to chassis;",
    ),
    "run of a trailer that is not there": (
        rig(runs=[{"from": "trailer", "to": "lamps", "trailer": "test trailor"}]),
        "run.0.trailer",
        '"test trailor"',
        "[[run]]",
        "there is no trailer 'test trailor'; did you mean 'test trailer'? There are: test trailer",
    ),
    "run of the vehicle for one trailer": (
        rig(runs=[{"from": "battery", "to": "socket", "trailer": "test trailer"}]),
        "run.0.trailer",
        "trailer",
        "[[run]]",
        "conductors from battery to socket serve every trailer: leave 'trailer' out",
    ),
    "run for a circuit that is nothing": (
        rig(runs=[{"from": "battery", "to": "adapter", "circuits": ["tail", "box_fee"]}]),
        "run.0.circuits.1",
        '"box_fee"',
        "[[run]]",
        "'box_fee' is neither a circuit nor a tap; did you mean 'box_feed'?",
    ),
    "misspelt pinout of the vehicle": (
        rig("military-12-usa"),
        "vehicle.socket",
        '"military-12-usa"',
        "[vehicle]",
        "'military-12-usa' is neither a built-in pinout nor a file beside the rig file; "
        "did you mean 'military-12-us'? Built in: agricultural-7, as-4177-7, ",
    ),
    "misspelt pinout of a trailer": (
        rig(plug="sae-2863"),
        "trailer.0.plug",
        '"sae-2863"',
        "[[trailer]]",
        "did you mean 'sae-j2863'?",
    ),
    "choice for a contact that is not there": (
        rig(vehicle={"choose": {"Z": "charge"}}),
        "vehicle.choose.Z",
        "Z",
        "[vehicle.choose]",
        "12-contact, US military has no contact 'Z'",
    ),
    "choice for a contact that is known": (
        rig(vehicle={"choose": {"K": "charge"}}),
        "vehicle.choose.K",
        "K",
        "[vehicle.choose]",
        "contact 'K' is 'unused' in this pinout; only contacts marked 'choose' are chosen",
    ),
    "choice that the trade does not know": (
        rig("military-12-stanag", "iso-11446", vehicle={"choose": {"K": "fog"}}, lamps=["tail_left"]),
        "vehicle.choose.K",
        '"fog"',
        "[vehicle.choose]",
        "contact 'K' is found as charge, ignition in the trade, not as 'fog'",
    ),
}


@pytest.mark.parametrize("name", CROSS)
def test_a_misfit_between_records_has_its_place(name):
    """Each check between records gives one problem, at the line and column of the value that is wrong."""
    text, path, under, after, message = CROSS[name]
    one = only(text)
    assert (one.path, marked(one)) == (path, under)
    assert message in one.message
    place = one.marks[0]
    assert place.file == "rig.toml"
    assert place.line == line_of(text, under, after)
    assert one.text().startswith(f"rig.toml:{place.line}:{place.column}: ")
