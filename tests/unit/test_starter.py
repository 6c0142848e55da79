"""The first rig file: channels between two wirings, questions, and a text that checks without an error."""

import tomllib
import unicodedata
from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.steps import check, new_rig
from wiregen.catalogue.circuits import LOADABLE
from wiregen.errors import InputError
from wiregen.loader.pinout_files import built_in_pinouts
from wiregen.loader.rig_file import load_rig_text
from wiregen.model.logic import parse as parse_logic
from wiregen.quantity import parse_size
from wiregen.questions.draft.answers import is_trailer_plug, is_vehicle_socket
from wiregen.questions.draft.channels import chosen, propose_channels
from wiregen.questions.draft.keys import answer_keys
from wiregen.questions.draft.loads import circuit_loads_a, conductor_for, fuse_for_a, size_supply
from wiregen.questions.draft.starter import (
    Answers,
    Choice,
    Question,
    TrailerAnswers,
    answers_of,
    given_of,
    questions,
    rig_text,
)
from wiregen.questions.draft.toml_text import quoted

PINOUTS = dict(built_in_pinouts())
SOCKETS = ("as-4735", "iso-1185", "iso-12098", "military-12-commonwealth", "military-12-stanag", "military-12-us")
PLUGS = (
    "as-4177-7",
    "as-4177-7-round",
    "as-4735",
    "flat-5",
    "iso-11446",
    "iso-11446-before-2004",
    "iso-1724",
    "military-12-commonwealth",
    "military-12-stanag",
    "nen-6120",
    "round-4",
    "round-6",
    "sae-j1239-4",
    "sae-j2863",
    "sae-j560",
)
#: What a trailer must show behind any socket; reverse, fog and blackout depend on the vehicle.
_ALWAYS = ("tail", "tail_left", "tail_right", "stop", "turn_left", "turn_right", "stop_turn_left", "stop_turn_right")


def _choices(name, index=0):
    return tuple((contact.mark, contact.choices[index]) for contact in PINOUTS[name].on("choose"))


def _trailer(plug, index=0, **more):
    choices = _choices(plug, index)
    if more.get("magnets") and not chosen(PINOUTS[plug], dict(choices)).on("brake"):
        more["magnets"] = 0
    return TrailerAnswers(**{"name": f"behind {plug}", "plug": plug, "choices": choices, **more})


def _answers(socket, *trailers, **more):
    common = {"title": "Draft", "vehicle_name": "Vehicle", "socket_choices": _choices(socket)}
    return Answers(**{**common, "socket": socket, "trailers": trailers, **more})


def _report(answers):
    return check(load_rig_text(rig_text(answers, PINOUTS)))


def _complaints(answers):
    """Errors of the draft, as text. Warnings it may have: what a thin contact costs, what nobody has looked at yet."""
    return [
        f"{finding.rule}: {finding.where}: {finding.message} ({finding.state})"
        for finding in _report(answers).findings
        if finding.severity == "error"
    ]


def test_sockets_and_plugs_are_those_that_carry_lights():
    """24 V sockets and 12 V plugs with lights are offered; supplementary connectors and 12 V sockets are not."""
    sockets = tuple(name for name, pinout in PINOUTS.items() if is_vehicle_socket(pinout))
    plugs = tuple(name for name, pinout in PINOUTS.items() if is_trailer_plug(pinout))

    assert (sockets, tuple(sorted(plugs))) == (SOCKETS, PLUGS)


#: Plugs that no source gives sizes for: what is usual or assumed is too thin for a wide trailer's bulbs and brakes.
_UNSIZED = ("as-4177-7", "as-4177-7-round", "flat-5", "round-4", "round-6", "sae-j1239-4")


@pytest.mark.parametrize("socket", SOCKETS)
@pytest.mark.parametrize("plug", PLUGS)
def test_every_pair_checks_without_a_complaint(socket, plug):
    """Wide, with brakes, bulbs where the plug has sizes: no error, and every lamp circuit is listed."""
    answers = _answers(socket, _trailer(plug, lamps="led" if plug in _UNSIZED else "filament", wide=True, magnets=4))

    complaints = _complaints(answers)

    lamps = tomllib.loads(rig_text(answers, PINOUTS))["trailer"][0]["lamp"]
    wanted = {contact.circuit for contact in PINOUTS[plug].contact} & set(_ALWAYS)
    assert (complaints, wanted - {lamp["function"] for lamp in lamps}) == ([], set())


@pytest.mark.parametrize("plug", _UNSIZED)
def test_bulbs_on_contacts_of_unknown_size_may_lose_too_much_and_the_draft_says_why(plug):
    """Nothing but lost volts goes wrong, and each run that is held down says by what; the connector is named."""
    answers = _answers("iso-12098", _trailer(plug, lamps="filament", wide=True, magnets=4))
    text = rig_text(answers, PINOUTS)

    found = {finding.rule for finding in _report(answers).findings if finding.severity == "error"}

    assert found <= {"lamp-voltage", "ground-return"}
    assert "# held at the usual size of the contact" in text
    assert f"# - {PINOUTS[plug].short}: " in text


#: Answers that change what is written, each on pairs of a different kind.
_VARIANTS = {
    "LED lamps": _answers("military-12-us", _trailer("iso-11446", lamps="led")),
    "small lamps LED": _answers("iso-1185", _trailer("sae-j560", lamps="mixed", wide=True)),
    "US units": _answers("iso-12098", _trailer("sae-j2863", lamps="filament", wide=True, magnets=4), units="us"),
    "pedal holds the hazard": _answers("military-12-us", _trailer("as-4177-7", magnets=2), stop_wins=True),
    "pedal holds the hazard, combined": _answers("military-12-us", _trailer("sae-j2863"), stop_wins=True),
    "centre tap": _answers("iso-12098", _trailer("iso-11446", lamps="filament"), supply="centre_tap"),
    "centre tap, US": _answers("military-12-us", _trailer("sae-j560", lamps="filament"), supply="centre_tap"),
    "own battery": _answers("as-4735", _trailer("as-4735", lamps="led", wide=True), supply="battery"),
    "battery feed by wish": _answers("iso-12098", _trailer("iso-1724"), feed="battery"),
    "second meaning of contacts": _answers("military-12-us", _trailer("round-6", 1, magnets=2)),
    "reverse on the centre contact": _answers(
        "iso-12098",
        TrailerAnswers(name="t", plug="round-6", choices=(("S", "charge"), ("A", "reverse")), lamps="filament"),
    ),
    "contacts left open": _answers(
        "military-12-stanag", TrailerAnswers(name="t", plug="flat-5", lamps="filament"), socket_choices=()
    ),
}


@pytest.mark.parametrize("answers", _VARIANTS.values(), ids=_VARIANTS.keys())
def test_every_kind_of_answer_checks_without_a_complaint(answers):
    """Other lamps, units, supplies, feeds, habits and choices: still no error."""
    complaints = _complaints(answers)

    assert complaints == []


@pytest.mark.parametrize("socket", ["military-12-us", "iso-12098"])
def test_two_trailers_share_channels(socket):
    """A combined and a separate trailer behind one adapter: no complaint, and no circuit is fed by two channels."""
    answers = _answers(socket, _trailer("sae-j2863", magnets=4, lamps="filament"), _trailer("iso-11446"))

    complaints = _complaints(answers)

    channels = tomllib.loads(rig_text(answers, PINOUTS))["adapter"]["channel"]
    outputs = [
        name for one in channels for name in ([one["output"]] if isinstance(one["output"], str) else one["output"])
    ]
    assert (complaints, sorted(set(outputs))) == ([], sorted(outputs))


def _channels(socket, *plugs, **more):
    parts = [chosen(PINOUTS[name], dict(_choices(name))) for name in (socket, *plugs)]
    proposal = propose_channels(parts[0], parts[1:], **more)
    return {channel.outputs: channel.input for channel in proposal.channels}


#: Written by hand from the pinouts and from truth tables, pair by pair.
_EXPECTED = {
    ("military-12-us", "sae-j1239-4"): {
        ("tail",): "tail",
        ("stop_turn_left",): "stop_turn_left",
        ("stop_turn_right",): "stop_turn_right",
    },
    ("military-12-us", "as-4177-7"): {
        ("tail",): "tail",
        ("stop",): "pedal and not blackout_tail",
        ("turn_left",): "(stop_turn_left xor pedal) and not blackout_tail",
        ("turn_right",): "(stop_turn_right xor pedal) and not blackout_tail",
        ("brake",): "pedal",
    },
    ("iso-12098", "flat-5"): {
        ("tail",): "tail_left or tail_right",
        ("stop_turn_left",): "stop xor turn_left",
        ("stop_turn_right",): "stop xor turn_right",
        ("reverse",): "reverse",
    },
    ("iso-12098", "iso-11446"): {
        ("tail_left",): "tail_left",
        ("tail_right",): "tail_right",
        ("stop",): "stop",
        ("turn_left",): "turn_left",
        ("turn_right",): "turn_right",
        ("reverse",): "reverse",
        ("fog",): "fog",
    },
    ("military-12-stanag", "iso-1724"): {
        ("tail_left", "tail_right"): "tail",
        ("stop",): "stop",
        ("turn_left",): "turn_left",
        ("turn_right",): "turn_right",
        ("fog",): "fog",
    },
    ("iso-1185", "sae-j560"): {
        ("tail",): "tail_left or tail_right",
        ("marker",): "tail_left or tail_right",
        ("stop",): "stop",
        ("turn_left",): "turn_left",
        ("turn_right",): "turn_right",
    },
    ("as-4735", "sae-j560"): {
        ("tail",): "tail",
        ("marker",): "marker",
        ("stop",): "stop",
        ("turn_left",): "turn_left",
        ("turn_right",): "turn_right",
    },
    ("military-12-stanag", "sae-j2863"): {
        ("tail",): "tail",
        ("stop_turn_left",): "stop xor turn_left",
        ("stop_turn_right",): "stop xor turn_right",
        ("reverse",): "reverse",
        ("brake",): "stop or blackout_stop",
    },
    ("iso-1185", "as-4177-7"): {
        ("tail",): "tail_left or tail_right",
        ("stop",): "stop",
        ("turn_left",): "turn_left",
        ("turn_right",): "turn_right",
        ("brake",): "stop",
    },
    ("military-12-stanag", "military-12-stanag"): {
        ("tail",): "tail",
        ("stop",): "stop",
        ("turn_left",): "turn_left",
        ("turn_right",): "turn_right",
        ("reverse",): "reverse",
        ("fog",): "fog",
        ("blackout_command",): "blackout_command",
        ("blackout_marker",): "blackout_marker",
        ("blackout_stop",): "blackout_stop",
    },
}


@pytest.mark.parametrize("pair", _EXPECTED, ids=" to ".join)
def test_channels_are_those_worked_out_by_hand(pair):
    """Every way two wirings can differ gives the channel list that was written down by hand."""
    assert _channels(*pair) == _EXPECTED[pair]


def test_a_common_and_a_split_plug_share_the_tail_channel():
    """One vehicle tail circuit feeds tail of one trailer and both tails of the other through one channel."""
    found = _channels("military-12-us", "sae-j1239-4", "iso-1724")

    assert found["tail", "tail_left", "tail_right"] == "tail"


def test_a_proposal_does_not_depend_on_the_order_of_the_plugs():
    """Two plugs in either order give the same channels, taps and reasons."""
    socket, first, second = PINOUTS["military-12-us"], PINOUTS["sae-j2863"], PINOUTS["iso-11446"]

    assert propose_channels(socket, [first, second]) == propose_channels(socket, [second, first])


@pytest.mark.parametrize("socket", SOCKETS)
def test_every_input_is_on_the_socket_or_a_tap(socket):
    """No channel of any pair listens to something the vehicle does not have, and no tap is proposed for nothing."""
    vehicle = PINOUTS[socket]
    for plug in PLUGS:
        proposal = propose_channels(vehicle, [PINOUTS[plug]])
        taps = {tap.name for tap in proposal.taps}
        heard = {name for channel in proposal.channels for name in parse_logic(channel.input).names}
        strangers = {name for name in heard if not vehicle.on(name)} - taps

        assert (plug, strangers, taps - heard - {proposal.feed}) == (plug, set(), set())


@pytest.mark.parametrize("socket", SOCKETS)
def test_every_circuit_of_a_plug_is_fed_or_explained(socket):
    """A circuit of a plug that a lamp or load may hang on has a channel, or a reason why not."""
    for plug in PLUGS:
        proposal = propose_channels(PINOUTS[socket], [PINOUTS[plug]])
        wanted = {contact.circuit for contact in PINOUTS[plug].contact} & set(LOADABLE)
        explained = {entry.circuit for entry in proposal.left_out if len(entry.why) > 20}

        assert (plug, proposal.fed | explained, proposal.fed & explained) == (plug, wanted, frozenset())


def test_the_converter_hangs_on_the_permanent_contact_or_on_a_tap():
    """The feed is the socket's permanent contact where it has one, else a tap at the battery, or what was wished."""
    feeds = {
        "contact": propose_channels(PINOUTS["iso-12098"], [PINOUTS["iso-1724"]]),
        "tap": propose_channels(PINOUTS["iso-1185"], [PINOUTS["iso-1724"]]),
        "wished": propose_channels(PINOUTS["iso-12098"], [PINOUTS["iso-1724"]], feed_from="battery"),
        "none": propose_channels(PINOUTS["iso-1185"], [PINOUTS["iso-1724"]], feed_from="none"),
    }

    found = {word: (proposal.feed, [(t.name, t.live, t.at) for t in proposal.taps]) for word, proposal in feeds.items()}

    tap = [("box_feed", "always", "battery")]
    assert found == {"contact": ("charge", []), "tap": ("box_feed", tap), "wished": ("box_feed", tap), "none": ("", [])}


def test_a_contact_of_15_a_feeds_a_small_converter_only():
    """STANAG 4007 rates a contact at 15 A: a small LED load hangs on it, eight magnets want a tap (limit from N1)."""
    small, large = _trailer("as-4177-7"), _trailer("as-4177-7", magnets=8)

    feeds = [
        tomllib.loads(rig_text(_answers("military-12-stanag", one), PINOUTS))["adapter"]["supply"]["fed_by"]
        for one in (small, large)
    ]

    assert feeds == ["charge", "box_feed"]


def test_a_converter_that_is_too_small_is_named_in_the_file_and_by_the_check():
    """A stated output below the load is kept, said in a comment, and found by the check; it is the user's to change."""
    answers = _answers("iso-12098", _trailer("iso-11446", lamps="filament"), continuous_a=5.0)

    found = {finding.rule for finding in _report(answers).findings if finding.severity == "error"}

    # At its current limit its voltage falls, so the lamps get too little as well.
    assert found == {"supply-continuous", "supply-limit", "lamp-voltage"}
    assert "more than this converter gives" in rig_text(answers, PINOUTS)


# --- lamps and sizes --------------------------------------------------------------------------------------------


def _lamps(answers):
    lamps = tomllib.loads(rig_text(answers, PINOUTS))["trailer"][0]["lamp"]
    return [(lamp["function"], lamp.get("type", lamp.get("power")), lamp.get("count", 1)) for lamp in lamps]


def test_lamps_of_a_wide_us_trailer():
    """S25: 80 in and wider, 4 side markers, 4 clearance and 3 identification lamps; small ones LED where mixed."""
    answers = _answers("military-12-us", _trailer("sae-j2863", wide=True, lamps="mixed"))

    assert _lamps(answers) == [
        ("tail", "1157-dim", 2),
        ("tail", "led-licence-12v", 1),
        ("tail", "led-marker-12v", 11),
        ("stop_turn_left", "1157-bright", 1),
        ("stop_turn_right", "1157-bright", 1),
    ]


def test_lamps_of_a_narrow_european_trailer():
    """No marker lamps up to 2.1 m; the licence lamp on one side; fog and reverse where the vehicle has them."""
    answers = _answers("iso-12098", _trailer("iso-11446", lamps="filament"))

    assert _lamps(answers) == [
        ("tail_left", "r5w-12v", 1),
        ("tail_right", "r5w-12v", 1),
        ("tail_right", "c5w-12v", 1),
        ("stop", "p21w-12v", 2),
        ("turn_left", "py21w-12v", 1),
        ("turn_right", "py21w-12v", 1),
        ("reverse", "p21w-12v", 1),
        ("fog", "p21w-12v", 1),
    ]


def test_lamps_that_could_never_burn_are_not_listed():
    """Behind a socket without reverse and fog such lamps are left out; markers are shared by both sides."""
    answers = _answers("iso-1185", _trailer("iso-11446", wide=True, lamps="led"))

    assert _lamps(answers) == [
        ("tail_left", "led-tail-12v", 1),
        ("tail_right", "led-tail-12v", 1),
        ("tail_right", "led-licence-12v", 1),
        ("tail_left", "led-marker-12v", 2),
        ("tail_right", "led-marker-12v", 2),
        ("stop", "led-stop-12v", 2),
        ("turn_left", "led-turn-12v", 1),
        ("turn_right", "led-turn-12v", 1),
    ]


@pytest.mark.parametrize(
    ("load_a", "fuse_a"), [(0.0, 5), (0.3, 5), (3.75, 5), (3.76, 7.5), (7.5, 10), (16.4, 25), (33.0, 50)]
)
def test_a_fuse_is_the_next_rating_above_four_thirds_of_the_load(load_a, fuse_a):
    """By hand: load over 0.75, next standard rating, never below 5 A."""
    assert fuse_for_a(load_a) == fuse_a


def test_sizes_of_the_supply_by_hand():
    """12 A of lamps at 75 % in 50 °C: 20 A converter, 20 A fuse; at 22 V in and 88 % 13.9 A, which wants 20 A."""
    size = size_supply([{"tail": 4.0, "stop": 8.0}, {"tail": 1.0}], None)

    assert (size.load_a, size.continuous_a, size.fuse_a, size.feed_fuse_a) == (12.0, 20.0, 20.0, 20.0)
    assert size.feed_a == pytest.approx(20 * 13.5 / (0.88 * 22))


def test_brakes_take_what_a_table_of_magnet_currents_says():
    """S48: four magnets of 10 and 12 in brakes take 15.0 to 16.3 A at 12 to 13 V; 13.5 V gives a little more."""
    loads = circuit_loads_a(_trailer("as-4177-7", magnets=4), ())

    assert loads == {"brake": pytest.approx(4 * 13.5 / 3.3)}
    assert 16.3 <= loads["brake"] <= 16.3 * 13.5 / 13 * 1.02


def test_a_conductor_is_large_enough_for_its_fuse_and_for_the_drop():
    """By hand: 20 A want 4 mm² at 80 °C insulation and 50 °C ambient; 10 A over 10 m at 1.8 % of 12 V want 10 mm²."""
    found = [conductor_for("metric", 20.0), conductor_for("us", 20.0), conductor_for("metric", 10.0, 10.0, 10.0, 0.018)]

    assert [(one.size, one.insulation) for one in found] == [("4 mm²", ""), ("12 AWG", ""), ("10 mm²", "")]


#: By hand from S12 (60 °C of rise left of 105 °C insulation): (contact size, units, fuse) to (size, insulation).
_HELD = [
    ("2.5 mm²", "metric", 15.0, ("1.5 mm²", "")),
    ("2.5 mm²", "metric", 25.0, ("2.5 mm²", "105 °C")),
    ("12 AWG", "metric", 25.0, ("12 AWG", "")),
    ("2.5 mm²", "us", 25.0, ("2.5 mm²", "105 °C")),
    ("1.5 mm²", "us", 5.0, ("16 AWG", "")),
]


@pytest.mark.parametrize(("contact", "units", "fuse_a", "wanted"), _HELD)
def test_a_conductor_is_never_larger_than_its_contact_takes(contact, units, fuse_a, wanted):
    """The contact's size is the end of the series: with better insulation it carries more, larger it gets not."""
    row = PINOUTS["iso-12098"].contact[0].model_copy(update={"size": contact})

    found = conductor_for(units, fuse_a, 10.0, 10.0, 0.018 if fuse_a > 20 else 1.0, contacts=[row])

    assert (found.size, found.insulation) == wanted


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize(("socket", "plug"), [("iso-12098", "iso-11446"), ("iso-1185", "sae-j2863")])
def test_no_draft_puts_a_larger_conductor_on_a_contact_than_it_takes(socket, plug, units):
    """Every run that ends on a contact of socket or plug has at most the contact's usual size, circuit by circuit."""
    answers = _answers(socket, _trailer(plug, lamps="filament", wide=True, magnets=4), units=units)
    runs = tomllib.loads(rig_text(answers, PINOUTS))["run"]
    sides = {"adapter-trailer": plug, "trailer-lamps": plug, "socket-adapter": socket, "battery-socket": socket}

    found = []
    for name, pinout in sides.items():
        own = [run for run in runs if f"{run['from']}-{run['to']}" == name]
        for contact in PINOUTS[pinout].contact:
            fitting = [run for run in own if contact.circuit in run.get("circuits", [contact.circuit])]
            if fitting and contact.size:
                found.append(parse_size(fitting[-1]["size"]).area_mm2 <= parse_size(contact.size).area_mm2 * 1.000001)

    assert (len(found) > 5, set(found)) == (True, {True})


def _held(plug, units, **more):
    """Largest conductors of a draft on the contacts of a plug: (on any but ground, on ground)."""
    answers = _answers("military-12-us", _trailer(plug, lamps="filament", wide=True, **more), units=units)
    text = rig_text(answers, PINOUTS)
    runs = [run for run in tomllib.loads(text)["run"] if "trailer" in (run["from"], run["to"])]
    grounds = [run["size"] for run in runs if "ground" in run.get("circuits", ())]
    others = [run["size"] for run in runs if "ground" not in run.get("circuits", ())]
    return max(others, key=lambda size: parse_size(size).area_mm2), *sorted(set(grounds)), text


#: Usual sizes typed a second time: J1239 from memory beside A19, the military receptacle from memory; else the default.
_CAPS = [
    ("sae-j1239-4", "us", "16 AWG", "14 AWG", "sources disagree"),
    ("sae-j1239-4", "metric", "16 AWG", "14 AWG", "sources disagree"),
    ("flat-5", "us", "16 AWG", "14 AWG", "sources disagree"),
    ("round-6", "us", "14 AWG", "14 AWG", "no source gives a size. 14 AWG is assumed"),
    ("as-4177-7", "metric", "2.5 mm²", "2.5 mm²", "no source gives a size. 2.5 mm² is assumed"),
    ("as-4177-7-round", "metric", "2.5 mm²", "2.5 mm²", "no source gives a size. 2.5 mm² is assumed"),
]


@pytest.mark.parametrize(("plug", "units", "size", "ground", "words"), _CAPS)
def test_contacts_without_a_size_hold_a_draft_down(plug, units, size, ground, words):
    """No draft puts more on them than is usual or, where nobody says what is, assumed; the file says which it is."""
    text = _held(plug, units, magnets=4)[-1]
    most, held = _held(plug, units, magnets=4)[:2]

    assert parse_size(most).area_mm2 <= parse_size(size).area_mm2
    assert held == ground
    assert words in " ".join(line.lstrip("# ") for line in text.splitlines())


def test_a_military_contact_has_its_size_from_memory_and_the_draft_says_so():
    """14 AWG is expected behind that receptacle (memory): a feed through its permanent contact is no larger."""
    text = rig_text(_answers("military-12-stanag", _trailer("iso-11446")), PINOUTS)
    runs = [run for run in tomllib.loads(text)["run"] if run.get("circuits") == ["charge"]]

    assert runs
    assert [run for run in runs if parse_size(run["size"]).area_mm2 > parse_size("14 AWG").area_mm2] == []
    assert "12-contact, STANAG 4007: 14 AWG, no document seen" in " ".join(
        line.lstrip("# ") for line in text.splitlines()
    )


def test_bulbs_on_a_battery_at_rest_are_dim_and_the_draft_says_so():
    """12 V at rest cannot give 85 % of 13.5 V behind fuse, relay and wire: only that is an error, and it is told."""
    answers = _answers("as-4735", _trailer("as-4735", lamps="filament", wide=True), supply="battery")

    found = {finding.rule for finding in _report(answers).findings if finding.severity == "error"}

    assert found == {"lamp-voltage"}
    assert "At rest it gives 12 V" in rig_text(answers, PINOUTS)


def test_the_lamps_own_wires_have_a_size_of_their_own():
    """A pigtail carries its fuse: thinner than the cable where that is thick for the drop, thicker never."""

    def of(trailer, start, circuit):
        runs = tomllib.loads(rig_text(_answers("iso-1185", trailer), PINOUTS))["run"]
        own = [run for run in runs if run["from"] == start and run["to"] == "lamps"]
        return parse_size([run for run in own if circuit in run.get("circuits", [circuit])][-1]["size"]).area_mm2

    thick = _trailer("as-4735", lamps="filament", wide=True)
    held = _trailer("as-4177-7", lamps="led", magnets=4)
    assert [of(thick, start, "stop") for start in ("splice", "trailer")] == [1.5, 6]
    assert [of(held, start, "brake") for start in ("splice", "trailer")] == [2.5, 2.5]


def test_eight_magnets_are_too_many_for_a_contact_of_12_awg():
    """32.7 A through 12 AWG (S12) lose too much: the draft says what holds it down, and the check that it is so."""
    answers = _answers("iso-12098", _trailer("sae-j2863", lamps="filament", magnets=8), units="us")

    found = {finding.rule for finding in _report(answers).findings if finding.severity == "error"}

    assert found == {"lamp-voltage"}
    assert "Some contacts take no conductor as large" in rig_text(answers, PINOUTS)


@pytest.mark.parametrize(("typed", "warnings"), [("later", 1), ("20 A", 0)])
def test_the_fuse_behind_the_feed_is_asked_for(typed, warnings):
    """Open, the file has it switched off and the check warns; read and answered, it stands in the file."""
    given_answers = {"socket": "iso-12098", "trailer.1.plug": "sae-j1239-4", "feed_fuse": typed}
    answers = answers_of(given_answers, PINOUTS)
    text = rig_text(answers, PINOUTS)

    found = [f.severity for f in check(load_rig_text(text)).findings if f.rule == "unfused-feed"]

    assert found.count("warning") == warnings
    assert ("nobody has read it yet" in text) == bool(warnings)
    assert answers_of(given_of(answers), PINOUTS) == answers


def test_what_feeds_the_converter_through_the_socket_has_its_size_both_ways():
    """What contacts 9 and 4 take carries the feed's fuse with better insulation, both ways; signals less."""
    answers = _answers("iso-12098", _trailer("iso-11446", lamps="filament"), continuous_a=20.0, feed="contact")
    runs = tomllib.loads(rig_text(answers, PINOUTS))["run"]

    found = [(run.get("circuits"), run["size"]) for run in runs if (run["from"], run["to"]) == ("socket", "adapter")]

    assert found == [(None, "1.5 mm²"), (["charge"], "2.5 mm²"), (["ground"], "2.5 mm²")]


def test_the_wish_for_a_battery_feed_is_kept():
    """A socket whose contact would do is left alone when the user wants a wire of its own."""
    written = rig_text(_answers("iso-12098", _trailer("iso-1724"), feed="battery"), PINOUTS)

    assert tomllib.loads(written)["adapter"]["supply"]["fed_by"] == "box_feed"


# --- the text ---------------------------------------------------------------------------------------------------

_HOSTILE = [
    'say "hello"',
    '"""',
    "'''",
    "back\\slash \\n \\u0041 \\",
    "two\nlines\r\nthree",
    "tab\tand\x00nul\x1b[31m",
    "Anhänger für Ærø, 拖车 🚚",
    "right\u202eto left\u2028line",
    "# not a comment",
    ']\n[vehicle]\nsocket = "other"',
    "title = 1",
]


@pytest.mark.parametrize("text", _HOSTILE)
def test_hostile_names_come_back_letter_by_letter(text):
    """Quotes, backslashes, line breaks and control characters in every free text neither break nor change the file."""
    trailer = replace(_trailer("iso-1724"), name=text)
    written = rig_text(_answers("iso-1185", trailer, title=text, vehicle_name=text, location=text), PINOUTS)

    rig = load_rig_text(written).rig

    found = (rig.title, rig.vehicle.name, rig.adapter.location, rig.trailer[0].name)
    assert (found, {run.trailer for run in rig.run}) == ((text,) * 4, {None, text})


@settings(max_examples=300, deadline=None)
@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_any_text_is_quoted_as_toml(text):
    """Any text at all survives the way through a TOML reader, on one line without hidden characters."""
    line = f"key = {quoted(text)}"
    hidden = [letter for letter in line if unicodedata.category(letter) in ("Cc", "Cf", "Zl", "Zp")]

    assert (tomllib.loads(line), hidden) == ({"key": text}, [])


def test_half_a_surrogate_pair_is_refused_in_an_answer_and_replaced_in_a_text():
    """A letter that no file can hold is refused when it is answered."""
    with pytest.raises(InputError, match="broken character"):
        rig_text(_answers("iso-1185", _trailer("iso-1724"), title="a\ud800b"), PINOUTS)

    assert quoted("a\ud800b") == '"a\ufffdb"'


@cache
def _long_text():
    trailers = (_trailer("sae-j2863", wide=True, magnets=4, lamps="mixed"), _trailer("iso-11446"))
    return rig_text(_answers("military-12-us", *trailers, units="us"), PINOUTS)


def test_the_same_answers_give_the_same_text():
    """Nothing of the clock or of chance is in the file."""
    assert rig_text(_answers("iso-1185", _trailer("iso-1724")), PINOUTS) == rig_text(
        _answers("iso-1185", _trailer("iso-1724")), PINOUTS
    )


def test_the_file_starts_with_its_schema_and_every_line_is_short():
    """An editor finds the schema in the first line; no line is longer than a page, none ends in a blank."""
    lines = _long_text().splitlines()

    assert lines[0] == "#:schema ./wiregen.schema.json"
    assert [line for line in lines if len(line) > 104 or line != line.rstrip()] == []
    assert [pair for pair in pairwise(lines) if pair == ("", "")] == []


def test_every_block_has_a_comment_and_the_dangers_are_named():
    """Each heading has prose under it, and what can hurt somebody stands in the file."""
    lines = _long_text().splitlines()
    headings = [index for index, line in enumerate(lines) if line.startswith("# --- ")]
    bare = [lines[i] for i in headings if not any(line.startswith("# ") for line in lines[i + 1 : i + 12])]
    text = " ".join(line.lstrip("# ") for line in lines)
    missing = [
        words
        for words in (
            "measure every contact against ground",
            "Never run the vehicle's 24 V through",
            "try the brakes before the road",
            "a breakaway battery and switch belong to them",
            "once you have pulled the pin",
            "have someone qualified look at the work",
            "Typical lamps, not yours",
            "Lengths are guesses",
            "the pedal signal takes stop out again",
        )
        if words not in text
    ]

    assert (len(headings), bare, missing) == (4, [], [])


@pytest.mark.parametrize(("plug", "warned"), [("iso-11446", True), ("sae-j2863", False)])
def test_a_pedal_wire_that_undoes_stop_and_turn_names_the_dead_switch(plug, warned):
    """Where the pedal is taken out of stop and turn, a socket that is dead at OFF lights both turn lamps."""
    given = {"socket": "military-12-us", "trailer.1.plug": plug}
    text = " ".join(line.lstrip("# ") for line in new_rig(given, None).splitlines())
    assert ("Try it with the lighting switch at OFF too." in text) is warned


def test_every_logic_has_its_reason_beside_it():
    """A channel that does more than pass one circuit on has a comment above or beside its header."""
    lines = _long_text().splitlines()
    inputs = [index for index, line in enumerate(lines) if line.startswith("input = ") and " " in line[9:]]
    unexplained = [lines[i] for i in inputs if "#" not in lines[i - 1] and not lines[i - 2].startswith("# ")]

    assert (len(inputs) > 2, unexplained) == (True, [])


def _switched_on(text):
    """The text with every switched-off setting switched on."""
    lines = [line[1:] if line[:1] == "#" and line[1:2] not in ("", " ", ":") else line for line in text.splitlines()]
    return "\n".join(lines)


@pytest.mark.parametrize(
    "answers",
    [
        _answers("military-12-us", _trailer("sae-j2863", wide=True, magnets=4), _trailer("iso-11446")),
        _answers("iso-12098", _trailer("flat-5")),
        _answers("iso-1185", _trailer("iso-1724"), supply="battery"),
    ],
    ids=["taps for reverse and fog", "feed from the socket", "a battery of its own"],
)
def test_every_switched_off_setting_works_when_it_is_switched_on(answers):
    """Taking the '#' away everywhere gives a rig that loads and has no error: fuses, taps, channels, values."""
    text = rig_text(answers, PINOUTS)
    report = check(load_rig_text(_switched_on(text)))

    errors = [finding.message for finding in report.findings if finding.severity == "error"]

    assert (len(_switched_on(text)) < len(text), errors) == (True, [])


# --- the questions ----------------------------------------------------------------------------------------------


def _interview(typed):
    """What a command line does: ask, let the user try again, keep the answer; (keys asked, complaints, given)."""
    given_answers, asked, complaints = {}, [], []
    for question in questions(given_answers, PINOUTS):
        asked.append(question.key)
        tries = iter(typed.get(question.key, [""]))
        text = next(tries)
        while problem := question.problem(text):
            complaints.append(problem)
            text = next(tries)
        given_answers[question.key] = text
    return asked, complaints, given_answers


def test_a_person_who_errs_is_helped_and_ends_with_a_rig():
    """The questions come in order, a wrong word gets the nearest right one, and numbers pick from a list."""
    typed = {
        "vehicle": ["Bus"],
        "socket": ["", "military-12-uss", "military-12-us"],
        "stop_wins": ["maybe", "y"],
        "trailer.1.plug": ["flat5", "4"],
        "trailer.1.contact.5": ["brakes", "brake"],
        "trailer.1.magnets": ["two", "2"],
        "continuous": ["20", "20 A"],
    }

    asked, complaints, given_answers = _interview(typed)

    assert asked == [
        *("units", "vehicle", "title", "socket", "stop_wins", "trailer.1.name", "trailer.1.plug"),
        *("trailer.1.contact.5", "trailer.1.lamps", "trailer.1.wide", "trailer.1.magnets", "trailer.1.another"),
        *("supply", "continuous", "location"),
    ]
    wanted = [
        "An answer is needed here.",
        "did you mean 'military-12-us'?",
        "neither 'yes' nor 'no'",
        "did you mean 'flat-5'?",
        "did you mean 'brake'?",
        "A whole number from 0 to 8",
        "has no unit",
    ]
    assert [words for words, found in zip(wanted, complaints, strict=True) if words not in found] == []
    assert answers_of(given_answers, PINOUTS) == Answers(
        title="Bus, trailer adapter",
        vehicle_name="Bus",
        socket="military-12-us",
        stop_wins=True,
        trailers=(TrailerAnswers(name="trailer 1", plug="flat-5", choices=(("5", "brake"),), magnets=2),),
        continuous_a=20.0,
        feed="battery",
    )


def test_a_prepared_set_of_answers_leaves_nothing_to_ask():
    """The mapping of some answers answers every question that would come but those that end a list."""
    answers = answers_of(given_of(_answers("iso-12098", _trailer("sae-j2863", magnets=2), _trailer("flat-5"))), PINOUTS)
    prepared = given_of(answers)

    left = [question.key for question in questions(prepared, PINOUTS)]

    assert (left, answers_of(prepared, PINOUTS)) == (["trailer.2.another"], answers)


def test_two_trailers_are_asked_for_and_a_name_is_used_once():
    """A second trailer is asked for with the same questions, and may not have the first one's name."""
    typed = {
        "socket": ["iso-1185"],
        "trailer.1.name": ["boat"],
        "trailer.1.plug": ["iso-1724"],
        "trailer.1.another": ["yes"],
        "trailer.2.name": ["boat", "box"],
        "trailer.2.plug": ["sae-j560"],
    }

    _, complaints, given_answers = _interview(typed)

    assert complaints == ["'boat' is used already: choose another name."]
    assert [one.name for one in answers_of(given_answers, PINOUTS).trailers] == ["boat", "box"]


def test_only_what_matters_is_asked():
    """Separate sockets are not asked for the hazard habit, plugs without a brake contact not for magnets."""
    asked, _, _ = _interview({"socket": ["iso-1185"], "trailer.1.plug": ["iso-1724"], "supply": ["battery"]})

    assert [key for key in asked if key in ("stop_wins", "trailer.1.magnets", "continuous", "feed")] == []


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"socket": "iso-1186"}, "did you mean 'iso-1185'"),
        ({"socket": "sae-j560"}, "'sae-j560' is not one of them"),
        ({"plug": "iso-3732"}, "'iso-3732' is not one of them"),
        ({"title": "x" * 61}, "60 characters at most, not 61"),
        ({"title": "  "}, None),
        ({"magnets": 2}, "'trailer.1.magnets' is not asked here"),
        ({"stop_wins": True}, "'stop_wins' is not asked here"),
        ({"continuous_a": 500.0}, "at most 100 A"),
        ({"continuous_a": -1.0}, "More than 0"),
        ({"choices": (("5", "reverse"),)}, "'trailer.1.contact.5' is not asked here"),
        ({"trailers": ()}, "trailer.1.plug"),
    ],
)
def test_answers_that_do_not_fit_are_refused(changes, words):
    """A program's answers are held against the same questions; a blank title takes the default."""
    own = {key: changes.pop(key) for key in ("plug", "magnets", "choices") if key in changes}
    trailer = replace(_trailer("iso-1724"), **own)
    answers = replace(_answers("iso-1185", trailer), **changes)

    if words is None:
        assert tomllib.loads(rig_text(answers, PINOUTS))["title"] == "Vehicle, trailer adapter"
    else:
        with pytest.raises(InputError) as caught:
            rig_text(answers, PINOUTS)

        assert words in str(caught.value)


def test_an_answer_to_no_question_is_refused_with_the_nearest_one():
    """A mistyped key of a prepared answer is not passed over."""
    with pytest.raises(InputError, match="'titel' is not asked here; did you mean 'title'"):
        answers_of({"socket": "iso-1185", "trailer.1.plug": "iso-1724", "titel": "x"}, PINOUTS)


def _walks():
    """Every key that comes on many ways through the questions, each way its own answers."""
    typed = [
        *({"socket": [socket], "trailer.1.plug": [plug]} for socket in SOCKETS for plug in PLUGS),
        {"socket": ["iso-1185"], "trailer.1.plug": ["flat-5"], "trailer.1.contact.5": ["brake"]},
        {"socket": ["iso-12098"], "trailer.1.plug": ["sae-j2863"], "fuse": ["battery"], "supply": ["centre_tap"]},
    ]
    return {key for one in typed for key in _interview(one)[0]}


def test_every_key_of_an_answer_is_listed_and_none_besides():
    """What --keys lists is what may come to be asked, each once, and says what it takes."""
    found = answer_keys(PINOUTS)

    keys = [question.key for question in found]
    assert (len(set(keys)), set(keys)) == (len(keys), _walks())
    assert keys[:3] == ["units", "vehicle", "title"]
    takes = {question.key: question.takes for question in found}
    assert takes["units"] == "One of: metric, us."
    assert takes["trailer.1.magnets"] == "0 to 8."
    assert takes["trailer.1.wide"] == "yes or no."
    assert takes["feed_fuse"] == "At most 100 A, such as 15 A; or later."
    assert [key for key, words in takes.items() if "Needed" in words] == ["socket", "trailer.1.plug"]


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("plug", "'plug' is no key of an answer\n"),
        ("trailer.1.plugg", "did you mean 'trailer.1.plug'?"),
        ("trailer.9.plug", "'trailer.9.plug' is no key"),
        ("socket.contact.5", "'socket.contact.5' is no key"),
    ],
)
def test_a_key_that_nobody_asks_for_is_refused_before_the_first_question(key, words):
    """The nearest key and all there are stand in the message; nothing is asked."""
    with pytest.raises(InputError) as caught:
        new_rig({key: "x"}, lambda question: pytest.fail(question.key))

    assert words in str(caught.value)
    assert "keys: units, vehicle, title, socket" in str(caught.value)


def test_keys_of_a_second_trailer_are_known():
    """A number from 1 to 8 stands for every trailer."""
    given = {"socket": "iso-1185", "trailer.1.plug": "iso-1724", "trailer.1.another": "yes", "trailer.2.plug": "flat-5"}

    assert len(tomllib.loads(new_rig(given, None))["trailer"]) == 2


_LAMPS = Question(
    key="lamps",
    text="Which lamps?",
    kind="choice",
    choices=(Choice("filament", "bulbs"), Choice("led", "LED lamps")),
    default="filament",
)
_WIDE = Question(key="wide", text="Is it wide?", kind="yes_no", default="no")


@pytest.mark.parametrize(
    ("question", "text", "plain"),
    [
        (_LAMPS, " LED ", "led"),
        (_LAMPS, "2", "led"),
        (_LAMPS, "", "filament"),
        (_WIDE, "Y", "yes"),
        (_WIDE, " ", "no"),
    ],
)
def test_an_answer_is_read_into_its_plain_form(question, text, plain):
    """Blanks, capitals, numbers of a list and empty texts come out as the word that is meant."""
    assert (question.problem(text), question.read(text)) == ("", plain)


def test_a_number_outside_the_list_and_a_digit_of_another_script_are_refused():
    """Only the numbers that stand before the choices count."""
    assert [bool(_LAMPS.problem(text)) for text in ("0", "1", "2", "3", "٢", "-1")] == [
        True,
        False,
        False,
        True,
        True,
        True,
    ]


def test_a_prompt_shows_the_default():
    """The question, what an empty answer means, and a blank to type after."""
    assert (_LAMPS.prompt, _WIDE.prompt) == ("Which lamps? [filament] ", "Is it wide? [y/N] ")


def test_answers_survive_the_round_trip_on_a_socket_without_permanent_feed():
    """What answers_of filled in may be handed to rig_text, also where the feed is never asked for."""
    pinouts = dict(built_in_pinouts())
    answers = answers_of({"socket": "military-12-us", "trailer.1.plug": "sae-j2863"}, pinouts)

    assert answers.feed == "battery"
    assert 'fed_by = "box_feed"' in rig_text(answers, pinouts)
