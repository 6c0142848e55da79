"""From rig to circuit: which parts stand between battery and lamp, what they are made of, and what was assumed."""

from pathlib import Path as FilePath

import pytest
from hypothesis import given, settings

from tests.random_rigs import random_rigs
from tests.rigs import BOX_FEED, SUPPLY, load, rig, trailer
from tests.steps import build, check
from wiregen.catalogue.conductors import resistance_per_m
from wiregen.catalogue.defaults import default
from wiregen.catalogue.fuses import resistance_ohm
from wiregen.check.facts import supply_live, unfused_circuits
from wiregen.circuit.build import Built, vehicle_signals
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Conductor,
    Contact,
    Converter,
    Element,
    Fuse,
    Lamp,
    Load,
    Path,
    RelayContact,
    Switch,
)
from wiregen.quantity import parse_size

DEMOS = FilePath(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo"


def built(text: str) -> Built:
    return build(load(text))


def circuit(text: str) -> Circuit:
    (one,) = built(text).circuits
    return one


def way(made: Circuit, start: str, end: str) -> list[str]:
    """Refs of the elements on the one way between two terminals, lamps and coils left out of it."""
    todo: list[tuple[str, list[str]]] = [(start, [])]
    seen = {start}
    found = []
    while todo:
        here, refs = todo.pop()
        if here == end:
            found.append(refs)
            continue
        for element in made.elements:
            if isinstance(element, Coil | Lamp | Load | Battery | Converter) or here not in (element.a, element.b):
                continue
            far = element.b if element.a == here else element.a
            if far not in seen:
                seen.add(far)
                todo.append((far, [*refs, element.ref]))
    assert len(found) == 1, found
    return found[0]


def kinds(made: Circuit, refs: list[str]) -> list[str]:
    return [type(made.by_ref[ref]).__name__ for ref in refs]


def titles(made: Circuit, kind: type[Element]) -> list[str]:
    return [element.title for element in made.of(kind)]


def test_the_way_of_a_signal_and_of_the_lamp_current():
    """Battery, fuse, switch, wire, contact, wire, coil; converter, fuse, relay contact, wire, contact, cable."""
    feed = {"fuse": [{"circuits": ["tail"], "fuse": "20 A"}]}
    channel = {"input": "tail", "output": "tail", "fuse": "10 A", "rating": "20 A"}
    made = circuit(rig(vehicle=feed, channels=[channel]))
    signal = way(made, "-G1:+", "-A1:tail")
    assert kinds(made, signal) == ["Fuse", "Switch", "Conductor", "Contact", "Conductor"]
    assert [made.by_ref[ref].zone for ref in signal] == ["vehicle"] * 4 + ["adapter"]
    lamp_way = way(made, "-A1:12V", "-E1:1")
    assert kinds(made, lamp_way) == ["Fuse", "RelayContact", "Conductor", "Contact", "Conductor", "Conductor"]
    (coil,) = made.of(Coil)
    assert (coil.a, coil.b) == ("-A1:tail", "-A1:0V")
    # Back: branch, cable, contact, lead to the adapter's ground bar, whence two socket grounds and the own ground.
    back = way(made, "-E1:2", "-A1:0V")
    assert kinds(made, back) == ["Conductor", "Conductor", "Contact", "Conductor"]
    grounds = [e for e in made.of(Conductor) if e.a == "-A1:0V"]
    assert [e.b for e in grounds] == ["-X1:D.a", "-X1:L.a", "chassis"]
    assert [e.b for e in made.of(Path)] == ["-G1:-"]


def test_the_converter_hangs_on_its_tap():
    """Tap: fuse at the source, one wire, converter with its common minus on the adapter's ground bar."""
    made = circuit(rig())
    assert kinds(made, way(made, "-G1:+", "-A1:box_feed")) == ["Fuse", "Conductor"]
    (converter,) = made.of(Converter)
    assert (converter.a, converter.b, converter.common) == ("-A1:box_feed", "-A1:12V", "-A1:0V")
    assert (converter.output_v, converter.continuous_a, converter.ratio) == (13.6, 40.0, 1.0)


def test_a_supply_fuse_stands_between_converter_and_bus():
    """A fuse of the supply lies behind the converter, in front of every channel."""
    made = circuit(rig(supply={**SUPPLY, "fuse": "25 A"}, taps=[BOX_FEED]))
    (converter,) = made.of(Converter)
    assert kinds(made, way(made, converter.b, "-A1:12V")) == ["Fuse"]
    assert titles(made, Fuse) == ["fuse 30 A", "fuse 25 A"]


def test_resistances_are_those_of_the_tables():
    """A wire is length times ohm per metre of its size at the assumed temperature; the rest is looked up."""
    runs = [{"from": "trailer", "to": "lamps", "length": "4.5 m", "size": "2.5 mm²"}]
    channel = {"input": "tail", "output": "tail", "fuse": "10 A", "rating": "20 A"}
    made = circuit(rig(runs=runs, channels=[channel]))
    cable = next(e for e in made.of(Conductor) if e.stretch == "plug-splice" and e.circuit == "tail")
    per_m = resistance_per_m(parse_size("2.5 mm²"), default("copper_temperature_c").value).ohm_per_m
    assert cable.resistance_ohm == pytest.approx(4.5 * per_m, rel=1e-12)
    assert [e.resistance_ohm for e in made.of(Fuse)] == [resistance_ohm(30, 0), resistance_ohm(10, 0)]
    assert {e.resistance_ohm for e in made.of(Contact)} == {default("contact_resistance_ohm").value}


def test_what_a_run_leaves_out_comes_from_contact_and_defaults():
    """Size and colour of a pinout stand in where no run names any, then the default size; every default is listed."""
    made = built(rig(plug="iso-11446", channels=["stop_turn_left > turn_left"], lamps=["turn_left"], runs=[]))
    (one,) = made.circuits
    cable = next(e for e in one.of(Conductor) if e.stretch == "plug-splice" and e.circuit == "turn_left")
    assert (cable.size.label, cable.colour) == ("1.5 mm²", "YE")
    assert cable.length_m == default("trailer_cable_length_m").value
    names = {a.name for a in made.assumptions}
    assert {"trailer_cable_length_m", "vehicle_feed_length_m", "insulation_c", "copper_temperature_c"} <= names


def test_no_default_is_listed_that_the_user_gave():
    """A value in the rig file is used and takes its default off the list of assumptions."""
    given_battery = {"battery": {"running": "27.5 V", "resistance": "11 mohm"}}
    plain, stated = built(rig()), built(rig(vehicle=given_battery))
    gone = {a.name for a in plain.assumptions} - {a.name for a in stated.assumptions}
    assert gone == {"battery_24v_running_v", "battery_resistance_ohm"}
    (battery,) = stated.circuits[0].of(Battery)
    assert (battery.voltage_v, battery.resistance_ohm) == (27.5, 0.011)


def test_an_assumption_names_the_parts_that_rest_on_it():
    """Each assumption says where it was used: every coil for the coil resistance, the supply for its efficiency."""
    made = built(rig(channels=["tail > tail", "stop_turn_left > stop_turn_left"], lamps=["tail"]))
    where = {a.name: a.where for a in made.assumptions}
    assert where["relay_coil_24v_ohm"] == ("-K1", "-K2")
    assert where["converter_efficiency"] == ("-T1",)
    assert where["contact_resistance_ohm"] == ("-X1", "-X2")


RUN = {"from": "trailer", "to": "lamps"}
RUN_CASES = {
    "general": ([{**RUN, "length": "3 m", "size": "1 mm²"}], (3.0, "1 mm²", "")),
    "later beats earlier": (
        [{**RUN, "length": "3 m", "size": "1 mm²"}, {**RUN, "length": "4 m"}],
        (4.0, "1 mm²", ""),
    ),
    "trailer beats general": (
        [{**RUN, "trailer": "test trailer", "length": "5 m"}, {**RUN, "length": "4 m", "size": "1 mm²"}],
        (5.0, "1 mm²", ""),
    ),
    "circuits beat trailer": (
        [
            {**RUN, "circuits": ["tail"], "length": "6 m"},
            {**RUN, "trailer": "test trailer", "length": "5 m", "size": "4 mm²"},
            {**RUN, "colour": "GY", "size": "1 mm²"},
        ],
        (6.0, "4 mm²", "GY"),
    ),
    "both beat circuits": (
        [
            {**RUN, "trailer": "test trailer", "circuits": ["tail"], "length": "7 m", "size": "1 mm²"},
            {**RUN, "circuits": ["tail"], "length": "6 m"},
        ],
        (7.0, "1 mm²", ""),
    ),
    "another circuit does not count": (
        [{**RUN, "length": "3 m", "size": "1 mm²"}, {**RUN, "circuits": ["ground"], "length": "9 m"}],
        (3.0, "1 mm²", ""),
    ),
}


@pytest.mark.parametrize("name", RUN_CASES)
def test_the_most_particular_run_wins_key_by_key(name):
    """Named circuits beat a named trailer, that beats a general run, a later one an earlier one; each key by itself."""
    runs, expected = RUN_CASES[name]
    made = circuit(rig(plug="sae-j1239-4", runs=runs))
    cable = next(e for e in made.of(Conductor) if e.stretch == "plug-splice" and e.circuit == "tail")
    assert (cable.length_m, cable.size.label) == expected[:2]
    assert cable.colour == (expected[2] or "BN")  # brown is what the pinout has for tail


def test_a_run_of_another_trailer_does_not_count():
    """A run that names a trailer leaves the other trailer's conductors alone."""
    both = [trailer("sae-j1239-4", ["tail"], name=name) for name in ("near", "far")]
    runs = [{**RUN, "trailer": "far", "length": "9 m"}, {**RUN, "length": "2 m"}]
    made = built(rig(trailers=both, runs=runs))
    lengths = [
        next(e.length_m for e in one.of(Conductor) if e.stretch == "plug-splice" and e.circuit == "tail")
        for one in made.circuits
    ]
    assert lengths == [2.0, 9.0]


def test_two_trailers_share_vehicle_and_adapter():
    """Vehicle and adapter are the same parts with the same numbers behind every trailer; the rest is numbered on."""
    both = [trailer("sae-j1239-4", ["tail"], name="one"), trailer("iso-11446", ["tail_left"], name="two")]
    made = built(rig(trailers=both, channels=["tail > tail", {"input": "tail", "output": ["tail_left"]}]))
    first, second = ({e.ref: e for e in one.elements if not e.ref.startswith("-X")} for one in made.circuits)
    shared = [ref for ref in first if ref in second]
    assert [first[ref] for ref in shared] == [second[ref] for ref in shared]
    assert {"-G1", "-T1", "-K1", "-K1:30-87", "-K2", "-F1"} <= set(shared)
    assert (set(made.circuits[0].shells), set(made.circuits[1].shells)) == ({"-X1", "-X2"}, {"-X1", "-X3"})
    assert [lamp.ref for one in made.circuits for lamp in one.of(Lamp)] == ["-E1", "-E2"]


def test_one_fuse_for_the_circuits_of_one_feed():
    """All circuits of a feed hang on one fuse; a circuit without a feed hangs on the battery and is named unfused."""
    vehicle = {"fuse": [{"circuits": ["tail", "stop_turn_left"], "fuse": "15 A"}]}
    text = rig(
        vehicle=vehicle,
        channels=[f"{name} > {name}" for name in ("tail", "stop_turn_left", "stop_turn_right")],
    )
    made = circuit(text)
    starts = {e.circuit: e.a for e in made.of(Switch)}
    assert starts == {"tail": "-F2:2", "stop_turn_left": "-F2:2", "stop_turn_right": "-G1:+"}
    assert unfused_circuits(load(text), built(text)) == ("stop_turn_right",)


def test_a_habit_replaces_the_usual_rule():
    """A habit decides when a circuit is live; a circuit that is always live has no switch."""
    made = circuit(rig(vehicle={"exception": [{"circuit": "tail", "live": "lights or brake"}]}))
    assert [s.live.text for s in made.of(Switch)] == ["lights or brake"]
    always = circuit(rig(vehicle={"exception": [{"circuit": "tail", "live": "always"}]}))
    assert always.of(Switch) == []


def test_the_signals_are_those_of_socket_taps_and_habits():
    """Only controls that something on the vehicle reacts to are tried."""
    assert vehicle_signals(load(rig())) == {
        "lights",
        "blackout",
        "brake",
        "left",
        "right",
        "hazard",
        "lit",
        "stop_wins",
    }
    tap = {"name": "plough", "live": "reverse", "fuse": "5 A"}
    assert "reverse" in vehicle_signals(load(rig(taps=[tap])))
    assert "blackout" not in vehicle_signals(load(rig("iso-1185", "iso-11446", lamps=["tail_left"])))
    gated = {"name": "pedal", "live": "brake and not blackout", "fuse": "5 A"}
    assert "blackout" in vehicle_signals(load(rig("iso-1185", "iso-11446", lamps=["tail_left"], taps=[gated])))
    fog = {"exception": [{"circuit": "tail", "live": "lights or fog"}]}
    assert "fog" in vehicle_signals(load(rig(vehicle=fog)))


def test_a_centre_tap_splits_the_battery():
    """With a centre tap the battery is two halves in series, and the bus hangs on the middle through its fuse."""
    made = circuit(rig(supply={"kind": "centre_tap", "fuse": "20 A"}))
    lower, upper = made.of(Battery)
    assert (lower.a, lower.b, upper.a, upper.b) == ("-G1:+", "-G1:-", "-G2:+", "-G1:+")
    assert (lower.voltage_v, upper.voltage_v) == (14.0, 14.0)
    assert lower.resistance_ohm + upper.resistance_ohm == default("battery_resistance_ohm").value
    assert kinds(made, way(made, "-G1:+", "-A1:12V")) == ["Fuse", "Conductor"]
    (tail,) = made.of(Switch)
    assert tail.a == "-G2:+"


def test_an_adapter_battery():
    """An adapter battery stands between the ground bar and the bus, with its own voltage and fuse."""
    made = circuit(rig(supply={"kind": "battery", "output": "12.6 V", "fuse": "20 A"}))
    vehicle, own = made.of(Battery)
    assert (vehicle.zone, own.zone, own.voltage_v, own.b) == ("vehicle", "adapter", 12.6, "-A1:0V")
    assert kinds(made, way(made, own.a, "-A1:12V")) == ["Fuse"]


def test_devices_of_a_channel():
    """Wire, step-down, solid state and controller: each makes its own parts, with the values the channel gives."""
    channels = [
        {"input": "charge", "output": "charge", "device": "wire", "fuse": "10 A", "name": "feed"},
        {"input": "stop", "output": "stop", "device": "step_down", "output_voltage": "12.5 V", "rating": "4 A"},
        {"input": "turn_left", "output": "turn_left", "device": "solid_state", "contact_resistance": "12 mohm"},
        {"input": "stop", "output": "brake", "device": "brake_controller", "gain": "80 %", "rating": "25 A"},
    ]
    made = circuit(rig("iso-12098", "as-4177-7", channels=channels, lamps=["stop", "turn_left"]))
    step_down, controller = (c for c in made.of(Converter) if c.channel)
    assert (step_down.output_v, step_down.continuous_a, step_down.gate) == (12.5, 4.0, None)
    assert step_down.a == "-A1:stop"
    assert controller.gate is not None
    assert (controller.ratio, controller.continuous_a, controller.a) == (0.8, 25.0, "-A1:12V")
    assert [(c.circuit, c.channel) for c in made.of(Coil)] == [("turn_left", "Q1"), ("stop", "A2")]
    (contact,) = made.of(RelayContact)
    assert (contact.device, contact.resistance_ohm, contact.rating_a) == ("solid_state", 0.012, None)
    fuse = next(f for f in made.of(Fuse) if f.channel == "feed")
    assert fuse.a == "-A1:charge"


def test_one_coil_for_each_circuit_the_logic_reads():
    """Logic over two circuits takes two coils and one contact; the contact closes as the logic says."""
    made = circuit(rig("iso-12098", "sae-j1239-4", channels=["stop xor turn_left > stop_turn_left"], lamps=[]))
    assert [(c.ref, c.circuit, c.channel) for c in made.of(Coil)] == [
        ("-K1", "stop", "K1"),
        ("-K2", "turn_left", "K1"),
    ]
    (contact,) = made.of(RelayContact)
    pulled = [frozenset(), frozenset({"-K1"}), frozenset({"-K2"}), frozenset({"-K1", "-K2"})]
    assert [contact.gate.is_open_to(refs) for refs in pulled] == [False, True, True, False]


def test_a_circuit_on_two_contacts_feeds_both():
    """A channel reaches every contact of its circuit: stop on B and J of a British plug."""
    made = circuit(rig("iso-12098", "military-12-commonwealth", channels=["stop > stop"], lamps=["stop"], volts=24))
    leads = [e.b for e in made.of(Conductor) if e.stretch == "adapter-trailer" and e.circuit == "stop"]
    assert leads == ["-X2:B.a", "-X2:J.a"]


def test_a_missing_input_and_a_missing_feed_are_kept():
    """A channel input and a supply feed that the vehicle does not offer are remembered for the check."""
    made = built(rig(channels=["stop > stop_turn_left"], supply={**SUPPLY, "fed_by": "charge"}))
    assert made.missing_feed == "charge"
    assert [channel.missing for channel in made.channels] == [("stop",)]
    assert built(rig()).missing_feed is None


def test_when_the_feed_is_live():
    """The feed's rule comes from the tap, a habit or the circuit; an empty text where the vehicle does not offer it."""
    habit = {"exception": [{"circuit": "tail", "live": "always"}]}
    assert supply_live(load(rig())) == "always"
    assert supply_live(load(rig(supply={**SUPPLY, "fed_by": "tail"}))) == "lights"
    assert supply_live(load(rig(vehicle=habit, supply={**SUPPLY, "fed_by": "tail"}))) == "always"
    assert supply_live(load(rig(supply={**SUPPLY, "fed_by": "charge"}))) == ""
    assert supply_live(load(rig(supply={"kind": "battery"}))) == ""


def test_a_contact_of_choice_is_what_the_rig_says():
    """Contact K of STANAG 4007 carries what [vehicle.choose] says; without it nothing."""
    lamps = [{"function": "stop", "type": "p21w-12v"}]
    text = rig(
        "military-12-stanag",
        "iso-11446",
        vehicle={"choose": {"K": "charge"}},
        channels=["stop > stop"],
        lamps=lamps,
        supply={**SUPPLY, "fed_by": "charge"},
    )
    assert built(text).missing_feed is None
    unchosen = rig(
        "military-12-stanag", "iso-11446", channels=["stop > stop"], lamps=lamps, supply={**SUPPLY, "fed_by": "charge"}
    )
    assert built(unchosen).missing_feed == "charge"


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(random_rigs())
def test_any_rig_that_loads_is_built_and_checked(text):
    """Whatever loads is built, put in a table, solved and checked without an error; refs are unique."""
    loaded = load(text)
    made = build(loaded)
    for one in made.circuits:
        assert len(one.by_ref) == len(one.elements)
    report = check(loaded)
    assert report.states > 0
