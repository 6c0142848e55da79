"""What the keys of a rig file become: batteries, converters, relays, measured lamps, diodes, resistors, equaliser."""

import math

import pytest

from tests.rigs import SUPPLY, load, rig
from tests.steps import build
from wiregen.catalogue.defaults import default
from wiregen.check.facts import flasher_facts
from wiregen.circuit.build import Built
from wiregen.model.circuit import (
    Battery,
    Coil,
    Converter,
    Diode,
    Equaliser,
    Fuse,
    Lamp,
    Load,
    RelayContact,
    Resistor,
)

POINTS = [["9 V", "0.21 A"], ["12 V", "0.25 A"], ["15 V", "0.26 A"]]
CHARGED = {"plug": "sae-j2863", "socket": "iso-12098"}


def made(text: str) -> Built:
    return build(load(text))


def only(text: str, kind: type, zone: str = ""):
    """The only element of a kind, in a zone where one is named."""
    (found,) = [element for element in made(text).circuits[0].of(kind) if zone in ("", element.zone)]
    return found


def assumed(text: str) -> set[str]:
    return {entry.name for entry in made(text).assumptions}


# --- the vehicle -----------------------------------------------------------------------------------------------------


def test_the_battery_has_its_extremes_from_the_rig():
    """Low, running and charging voltage as written; none of them is assumed."""
    text = rig(vehicle={"battery": {"low": "23 V", "running": "27.5 V", "charging": "28.4 V"}})
    battery = only(text, Battery)
    assert (battery.low_v, battery.voltage_v, battery.charging_v, battery.nominal_v) == (23.0, 27.5, 28.4, 24.0)
    assert not any(name.startswith("battery_24v") for name in assumed(text))


def test_the_battery_has_its_extremes_from_the_defaults():
    """22, 28 and 28.8 V for 24 V, 10.5, 13.5 and 14.4 V for 12 V, each listed."""
    for nominal, volts in (("24 V", (22.0, 28.0, 28.8)), ("12 V", (10.5, 13.5, 14.4))):
        text = rig(vehicle={"battery": {"nominal": nominal}})
        battery = only(text, Battery)
        assert (battery.low_v, battery.voltage_v, battery.charging_v) == volts
        system = nominal.replace(" V", "v")
        assert assumed(text) >= {f"battery_{system}_{word}_v" for word in ("low", "running", "charging")}


@pytest.mark.parametrize(("running", "low_v", "charging_v"), [("21 V", 21.0, 28.8), ("29.5 V", 22.0, 29.5)])
def test_a_default_extreme_gives_way_to_the_running_voltage(running, low_v, charging_v):
    """A battery that runs at 21 V is not low at 22 V, and one that runs at 29.5 V does not charge at 28.8 V."""
    battery = only(rig(vehicle={"battery": {"running": running}}), Battery)
    assert (battery.low_v, battery.charging_v) == (low_v, charging_v)


def test_a_centre_tap_halves_every_voltage():
    """Two batteries in series, each with half of every voltage and half of the resistance."""
    text = rig(supply={"kind": "centre_tap"}, vehicle={"battery": {"resistance": "20 mohm"}})
    lower, upper = made(text).circuits[0].of(Battery)
    assert upper.b == lower.a
    for battery in (lower, upper):
        assert (battery.low_v, battery.voltage_v, battery.charging_v, battery.nominal_v) == (11.0, 14.0, 14.4, 12.0)
        assert battery.resistance_ohm == 0.010


def test_the_flasher_in_amps():
    """42 W at the 28 V lamps are tested with are 1.5 A; amps stay amps; a rig without a flasher has none."""
    written = {"kind": "thermal", "lowest_load": "42 W", "highest_load": "5 A"}
    facts = flasher_facts(load(rig(vehicle={"flasher": written})))
    assert facts is not None
    assert (facts.kind, facts.lowest_a, facts.highest_a) == ("thermal", 1.5, 5.0)
    assert facts.origin is not None
    twelve = flasher_facts(load(rig(vehicle={"flasher": written, "battery": {"nominal": "12 V"}})))
    assert twelve is not None
    assert twelve.lowest_a == pytest.approx(42 / 13.5)
    bare = flasher_facts(load(rig(vehicle={"flasher": {"kind": "electronic"}})))
    assert bare is not None
    assert (bare.lowest_a, bare.highest_a) == (None, None)
    assert flasher_facts(load(rig())) is None


# --- converters ------------------------------------------------------------------------------------------------------


def test_every_key_of_a_converter():
    """What the rig says of the converter is what the circuit has."""
    supply = {
        **SUPPLY,
        "peak": "50 A",
        "current_limit": "55 A",
        "foldback": "30 %",
        "maximum_input": "32 V",
        "derate_from": "45 °C",
        "derating": "2 %",
    }
    converter = only(rig(supply=supply, taps=[BOX], adapter={"ambient": "60 °C"}), Converter)
    assert (converter.continuous_a, converter.peak_a, converter.limit_a, converter.foldback) == (40, 50, 55, 0.3)
    assert (converter.ambient_c, converter.derate_from_c, converter.derate_per_k) == (60, 45, 0.02)
    assert converter.maximum_input_v == 32


BOX = {"name": "box_feed", "live": "always", "source": "battery", "fuse": "30 A"}


@pytest.mark.parametrize(
    ("keys", "limit_a", "is_assumed"),
    [
        ({"continuous": "20 A"}, 30.0, True),
        ({"continuous": "20 A", "peak": "25 A"}, 30.0, True),
        ({"continuous": "20 A", "peak": "35 A"}, 35.0, False),
        ({"continuous": "20 A", "current_limit": "22 A"}, 22.0, False),
        ({"peak": "35 A"}, 35.0, False),
        ({}, math.inf, False),
    ],
)
def test_the_current_limit_of_a_converter(keys, limit_a, is_assumed):
    """The stated limit; else one and a half times the continuous current (S56), but no less than the stated peak."""
    bare = {key: value for key, value in SUPPLY.items() if key != "continuous"}
    text = rig(supply={**bare, **keys}, taps=[BOX])
    assert only(text, Converter).limit_a == limit_a
    assert ("converter_current_limit_factor" in assumed(text)) == is_assumed


@pytest.mark.parametrize("device", ["step_down", "brake_controller"])
def test_converter_channels_have_limits_too(device):
    """A step-down and a brake controller take peak, limit and foldback from their channel; else 1.5 × the rating."""
    output = "tail" if device == "step_down" else "brake"
    base = {"input": "tail", "output": output, "device": device, "rating": "10 A"}
    stated = {"peak": "12 A", "current_limit": "14 A", "foldback": "50 %"}
    for more, wanted in (({}, (10, None, 15, 1.0)), (stated, (10, 12, 14, 0.5))):
        circuit = made(rig(channels=[{**base, **more}], lamps=[])).circuits[0]
        (converter,) = [c for c in circuit.of(Converter) if c.channel]
        assert (converter.continuous_a, converter.peak_a, converter.limit_a, converter.foldback) == wanted


def test_an_equaliser_stands_between_the_batteries():
    """From the plus of the pair to its centre, half the voltage, no more than its rating; no key, no equaliser."""
    text = rig(supply={"kind": "centre_tap", "equaliser": "10 A", "efficiency": "92 %"})
    circuit = made(text).circuits[0]
    equaliser = only(text, Equaliser)
    lower, upper = circuit.of(Battery)
    assert (equaliser.a, equaliser.b, equaliser.common) == (upper.a, lower.a, lower.b)
    assert (equaliser.ratio, equaliser.limit_a, equaliser.continuous_a, equaliser.efficiency) == (0.5, 10, 10, 0.92)
    assert made(rig(supply={"kind": "centre_tap"})).circuits[0].of(Equaliser) == []


# --- channels --------------------------------------------------------------------------------------------------------


def test_a_relay_with_a_suppression_resistor():
    """350 ohm beside 1200 ohm: a meter shows 271 ohm, the winding is still 350; the contact knows what it may make."""
    entry = {"input": "tail", "output": "tail", "suppression": "resistor", "inrush": "120 A", "rating": "30 A"}
    text = rig(channels=[entry])
    coil, contact = only(text, Coil), only(text, RelayContact)
    assert coil.resistance_ohm == pytest.approx(350 * 1200 / 1550)
    assert (coil.winding_ohm, coil.suppression, coil.suppression_ohm) == (pytest.approx(350), "resistor", 1200)
    assert (contact.make_a, contact.rating_a) == (120, 30)
    own = only(rig(channels=[{**entry, "suppression_resistance": "680 ohm"}]), Coil)
    assert own.resistance_ohm == pytest.approx(350 * 680 / 1030)


@pytest.mark.parametrize("word", ["diode", "none", None])
def test_other_suppression_carries_no_current(word):
    """A diode across a coil, nothing at all, or nothing said: the coil is its winding."""
    entry = {"input": "tail", "output": "tail", **({"suppression": word} if word else {})}
    coil = only(rig(channels=[entry]), Coil)
    assert (coil.resistance_ohm, coil.winding_ohm, coil.suppression) == (350, 350, word or "")


def test_a_diode_in_a_wire():
    """Socket, fuse, diode, trailer: the anode is on the vehicle's side; drop and slope from channel or defaults."""
    base = {"input": "tail", "output": "tail", "device": "diode", "fuse": "5 A"}
    own = {**base, "drop": "0.45 V", "contact_resistance": "5 mohm", "rating": "15 A"}
    for entry, wanted in ((base, (0.7, 0.02, None)), (own, (0.45, 0.005, 15))):
        text = rig(channels=[entry], supply=None)
        diode, fuse = only(text, Diode), only(text, Fuse)
        assert (diode.a, diode.channel, fuse.channel) == (fuse.b, "V1", "V1")
        assert (diode.drop_v, diode.resistance_ohm, diode.rating_a) == wanted
        assert diode.leak_ohm == default("diode_leak_ohm").value


def test_a_dropping_resistor_in_a_wire():
    """The resistor as written; two of them are numbered."""
    entries = [
        {"input": "tail", "output": "tail", "device": "resistor", "resistance": "12 ohm", "power": "25 W"},
        {"input": "stop_turn_left", "output": "stop_turn_left", "device": "resistor", "resistance": "4.7 ohm"},
    ]
    first, second = made(rig(channels=entries, supply=None)).circuits[0].of(Resistor)
    assert (first.ref, first.resistance_ohm, first.power_w) == ("-R1", 12, 25)
    assert (second.ref, second.resistance_ohm, second.power_w) == ("-R2", 4.7, None)


# --- the trailer -----------------------------------------------------------------------------------------------------


def test_a_measured_lamp():
    """Its points go into the circuit; it is rated at the 13.5 V of lamp tests, on the line between its points."""
    lamp = only(rig(lamps=[{"function": "tail", "points": POINTS, "count": 3}]), Lamp)
    assert (lamp.technology, lamp.count) == ("points", 3)
    assert lamp.points == ((9.0, 0.21), (12.0, 0.25), (15.0, 0.26))
    assert (lamp.rated_v, lamp.peak_a, lamp.max_v, lamp.nominal_v) == (13.5, 0.26, 16.0, 12.0)
    assert lamp.rated_a == pytest.approx(0.255)


@pytest.mark.parametrize(
    ("entry", "rated_v", "rated_a", "nominal_v"),
    [
        ({"points": POINTS[:2]}, 12.0, 0.25, 12.0),
        ({"points": POINTS, "voltage": "10.5 V"}, 10.5, 0.23, 12.0),
        ({"points": [["10 V", "0.1 A"], ["30 V", "0.3 A"]], "voltage": "28 V"}, 28.0, 0.28, 24.0),
        ({"points": [["9 V", "0.2 A"], ["13 V", "0 A"], ["15 V", "0 A"]]}, 9.0, 0.2, 12.0),
    ],
)
def test_where_a_measured_lamp_is_rated(entry, rated_v, rated_a, nominal_v):
    """Within its points, at the voltage it is made for; where it draws nothing there, at its highest current."""
    lamp = only(rig(lamps=[{"function": "tail", **entry}]), Lamp)
    assert (lamp.rated_v, lamp.nominal_v) == (rated_v, nominal_v)
    assert lamp.rated_a == pytest.approx(rated_a)


def test_a_battery_on_the_trailer():
    """Behind the charge contact, with its fuse at its plus and its minus on the trailer's ground."""
    battery = {"voltage": "12.4 V", "capacity": "7 Ah", "resistance": "40 mohm", "fuse": "15 A", "branch": "2 m"}
    channels = [{"input": "charge", "output": "charge", "device": "step_down"}]
    text = rig("iso-12098", "sae-j2863", channels=channels, lamps=[], battery=battery, supply=None)
    circuit = made(text).circuits[0]
    found, (fuse,) = only(text, Battery, "trailer"), circuit.of(Fuse)
    assert (found.voltage_v, found.capacity_ah, found.resistance_ohm) == (12.4, 7, 0.04)
    assert (found.circuit, found.nominal_v, found.max_v) == ("charge", 12, 16)
    assert (fuse.a, fuse.rating_a) == (found.a, 15)
    assert circuit.of(Diode) == []


def test_a_trailer_battery_behind_a_diode():
    """isolation = "diode" puts one between the contact and the battery, anode on the contact's side."""
    channels = [{"input": "charge", "output": "charge", "device": "step_down"}]
    text = rig("iso-12098", "sae-j2863", channels=channels, lamps=[], battery={"isolation": "diode"}, supply=None)
    battery, diode = only(text, Battery, "trailer"), only(text, Diode)
    assert (diode.b, diode.zone) == (battery.a, "trailer")
    assert {"battery_12v_resting_v", "trailer_battery_resistance_ohm", "diode_drop_v"} <= assumed(text)


def test_the_return_of_the_charge_contact():
    """On a plug with a return of its own for the permanent supply (ISO 11446, 13) the battery's minus is there."""
    channels = [{"input": "charge", "output": "charge", "device": "step_down"}]
    text = rig("iso-12098", "iso-11446", channels=channels, lamps=["stop"], battery={}, supply=None)
    circuit = made(text).circuits[0]
    battery = only(text, Battery, "trailer")
    (back,) = [e for e in circuit.elements if e.a == battery.b and e is not battery]
    (cable,) = [e for e in circuit.elements if e.a == back.b]
    assert (back.circuit, cable.circuit, cable.b) == ("ground", "ground_charge", "-X2:13.t")


def test_magnets_and_the_lock_out_get_as_warm_as_they_do():
    """Brake magnets at 100 °C, the lock-out solenoid at 85 °C, both copper."""
    channels = [
        {"input": "pedal", "output": "brake", "device": "brake_controller"},
        {"input": "reverse", "output": "reverse"},
    ]
    more = {"brakes": {"magnets": 2}, "lock_out": {"resistance": "9 ohm"}}
    text = rig("iso-12098", "sae-j2863", channels=channels, lamps=[], pedal=True, **more)
    loads = {load_.function: load_.hot_c for load_ in made(text).circuits[0].of(Load)}
    assert loads == {"brake": 100.0, "reverse": 85.0}
