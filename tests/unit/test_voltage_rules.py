"""Rules on over-voltage, faults, dark lamps, grounds and parts with ratings, from both sides of each limit."""

from __future__ import annotations

import numpy as np
import pytest

from tests.findings import above, at_nominal, below, findings, one, place, row_of, solved, turns
from tests.rigs import RUNS, SUPPLY, load, rig, straight
from tests.steps import build, check, fault_study
from wiregen.model.circuit import Lamp
from wiregen.questions.verdict.paper import proved_words

# --- over-voltage ----------------------------------------------------------------------------------------------------


def battery_on_a_wire(charging_v: float) -> str:
    vehicle = {
        "battery": {"nominal": "12 V", "charging": f"{charging_v:.6f} V"},
        "fuse": [{"circuits": ["charge"], "fuse": "20 A"}],
    }
    return rig(
        "iso-12098",
        "iso-11446",
        channels=["charge > charge | wire"],
        lamps=[],
        vehicle=vehicle,
        supply=None,
        battery={"voltage": "12 V"},
    )


def test_a_trailer_battery_stands_16_v():
    """The highest voltage of a 12 V part holds for the trailer's battery too (ISO 16750-2, memory)."""
    good, bad = turns(lambda volts: bool(findings(battery_on_a_wire(volts), "over-voltage")), 15.0, 25.0, 1e-2)
    found = one(battery_on_a_wire(bad), "over-voltage")
    above(found, "V")
    assert found.where.startswith("-G2 trailer battery")
    assert (found.limit, found.source, found.severity) == (16.0, "M-16750", "error")
    assert "charging high" in found.state
    place(found, battery_on_a_wire(bad), "[trailer.battery]")
    assert good > 16.0  # what charges it is lost on the way


def dropping(charging_v: float, count: int = 2) -> str:
    """Stop lamps of 12 V behind a dropping resistor, as they are found in old lorries."""
    ohm = (28 - 13.5) / (25 / 13.5 * count)
    channel = {"input": "stop", "output": "stop_turn_left", "device": "resistor", "resistance": f"{ohm} ohm"}
    lamps = [{"function": "stop_turn_left", "type": "p21w-12v", "count": count}]
    battery = {"charging": f"{charging_v:.6f} V", "running": "20 V", "low": "19 V"}
    return rig("iso-12098", channels=[channel], lamps=lamps, supply=None, vehicle={"battery": battery})


def test_one_lamp_out_overloads_its_neighbour():
    """Two lamps on one dropping resistor: when one burns out the other gets too much, from a certain voltage on."""

    def hit(charging_v: float) -> bool:
        return bool(findings(dropping(charging_v), "fault-over-voltage"))

    good, bad = turns(hit, 20.0, 28.8, 1e-2)
    found = one(dropping(bad), "fault-over-voltage")
    above(found, "V")
    assert (found.severity, found.limit, found.source) == ("warning", 16.0, "M-16750")
    assert found.message.startswith("when one of left stop and turn lamps E1 is out, this 12 V part gets 16 V")
    assert found.state.startswith("brake; charging high")
    place(found, dropping(bad), "[[trailer.lamp]]")
    # By hand, S35: the lamp that is left takes I = 1.852 (V / 13.5)^0.55 through the resistor, and V is 16 V.
    ohm = (28 - 13.5) / (25 / 13.5 * 2)
    by_hand = 16 + ohm * 25 / 13.5 * (16 / 13.5) ** 0.55
    assert good == pytest.approx(by_hand, rel=0.01)
    # Without a fault nothing is wrong at that voltage.
    assert findings(dropping(bad), "over-voltage") == []


def test_what_is_too_much_without_a_fault_is_said_once():
    """24 V through a wire is an over-voltage; the same with every fault is not said again."""
    text = rig("iso-12098", "sae-j2863", channels=["stop > reverse | wire"], lamps=["reverse p21w-12v"], supply=None)
    assert len(findings(text, "over-voltage")) == 1
    assert findings(text, "fault-over-voltage") == []


def test_the_fault_study_is_made_while_charging():
    """Voltages are highest there: cold and hot, every state, every single fault."""
    loaded = load(rig())
    (faulty,) = fault_study(loaded, build(loaded))
    assert {point.corner.words for point in faulty.points} == {"charging high, cold", "charging high, hot"}
    assert faulty.across_v.shape == (len(faulty.points), len(faulty.faults), len(faulty.consumers))
    report = check(loaded)
    assert report.fault_points == len(faulty.points) * len(faulty.faults)
    told = proved_words(report).replace("\N{NO-BREAK SPACE}", "")
    assert f"{report.fault_points} more with a single fault." in told


def test_a_lamp_that_is_out_minds_no_voltage():
    """A burnt lamp stands at the voltage of its feed: alone behind a dropping resistor that is no finding."""
    assert findings(dropping(28.8, count=1), "fault-over-voltage") == []


# --- lamps with the battery low --------------------------------------------------------------------------------------


def on_a_centre_tap(length_m: float, low_v: float = 22.0) -> str:
    runs = [*RUNS, {"from": "trailer", "to": "lamps", "length": f"{length_m:.6f} m", "size": "1 mm²"}]
    lamp = {"function": "tail", "type": "p21w-12v", "count": 2}
    supply = {"kind": "centre_tap", "equaliser": "20 A", "fuse": "10 A"}
    return rig(lamps=[lamp], runs=runs, supply=supply, vehicle={"battery": {"low": f"{low_v} V"}})


def test_a_low_battery_is_no_fault_of_the_wiring():
    """S22 asks for 85 % with the engine running. With it off, 85 % of what the battery has: 11 V at a centre tap."""
    assert findings(on_a_centre_tap(2.0), "lamp-voltage") == []
    made = solved(on_a_centre_tap(2.0))
    (lamp,) = made.circuit.of(Lamp)
    low = float(made.across_v(lamp)[row_of(made, "service lights; battery low, hot")])
    assert low < 0.85 * 13.5
    _, bad = turns(
        lambda metres: any(f.severity == "error" for f in findings(on_a_centre_tap(metres), "lamp-voltage")),
        2.0,
        40.0,
        1e-2,
    )
    found = one(on_a_centre_tap(bad), "lamp-voltage")
    below(found, "V")
    assert found.limit == pytest.approx(0.85 * 11.0)
    assert "(85% of 11 V); light " in found.message
    assert "battery low" in found.state


# --- measured lamps --------------------------------------------------------------------------------------------------


def test_a_lamp_beyond_its_points():
    """A lamp measured up to a little less than it gets is a warning; up to a little more it is none."""

    def text(last_v: float) -> str:
        lamp = {"function": "tail", "points": [["9 V", "0.2 A"], [f"{last_v:.6f} V", "0.3 A"]], "voltage": "12 V"}
        return rig(lamps=[lamp])

    made = solved(text(16))
    (lamp,) = made.circuit.of(Lamp)
    most = float(np.nanmax(made.across_v(lamp)))
    found = one(text(most - 0.02), "beyond-points")
    above(found, "V")
    assert (found.severity, found.value) == ("warning", pytest.approx(most, abs=0.01))
    assert "its measured points end at" in found.message
    place(found, text(most - 0.02), "[[trailer.lamp]]")
    assert findings(text(most + 0.02), "beyond-points") == []


# --- dark lamps ------------------------------------------------------------------------------------------------------


def leaking(charging_v: float, lamp: str = "led-tail-12v") -> str:
    """A marker lamp fed from service and from blackout lights over two diodes; the service tail lamp on a wire."""
    channels: list[object] = [
        "tail > tail | wire",
        "tail > blackout_marker | diode",
        "blackout_tail > blackout_marker | diode",
    ]
    volts = f"{charging_v:.6f} V"
    vehicle = {"battery": {"nominal": "12 V", "charging": volts, "running": "1.4 V", "low": "1.3 V"}}
    lamps = [f"tail {lamp}", "blackout_marker w3w-12v"]
    return rig("military-12-us", "military-12-stanag", channels=channels, lamps=lamps, supply=None, vehicle=vehicle)


def test_leakage_into_a_service_lamp_in_blackout():
    """Through a diode's 100 kohm and the lamp's 100 kohm half of the marker's voltage reaches an LED tail lamp: from
    2 V on more than the 1 V below which no LED glows. A filament takes it to nothing."""
    good, bad = turns(lambda volts: bool(findings(leaking(volts), "dark-voltage")), 1.5, 4.0, 1e-2)
    found = one(leaking(bad), "dark-voltage")
    above(found, "V")
    assert (found.severity, found.limit) == ("error", 1.0)
    assert found.state.startswith("blackout; charging high")
    made = solved(leaking(bad))
    row = row_of(made, found.state)
    marker_v = made.voltage_v("-E2:1")[row] - made.voltage_v("-E2:2")[row]
    assert found.value == pytest.approx(marker_v / 2, rel=0.01)
    assert good < bad
    assert "must be dark and still gets 1 V" in found.message
    # The logic is right: the lamp is dark by every switch.
    assert [f for f in findings(leaking(bad), "lamp-behaviour") if f.where.startswith("-E1")] == []
    assert findings(leaking(14.4, "r5w-12v"), "dark-voltage") == []


def test_a_lamp_that_is_lit_in_blackout_by_the_switches_is_the_other_rule_s():
    """A tail channel that hears blackout too is wrong in logic; its volts are not said again."""
    text = rig(channels=["tail or blackout_tail > tail"])
    assert len(findings(text, "lamp-behaviour")) == 1
    assert findings(text, "dark-voltage") == []


# --- ground return ---------------------------------------------------------------------------------------------------


def grounded(length_m: float, count: int = 6, **rules: str) -> str:
    """A wide cable with a ground of 2.5 mm² to lamps of 21 W."""
    ground = {
        "from": "trailer",
        "to": "lamps",
        "circuits": ["ground"],
        "length": f"{length_m:.6f} m",
        "size": "2.5 mm²",
    }
    thick = {"from": "trailer", "to": "lamps", "length": "1 m", "size": "25 mm²"}
    lamps = [{"function": "tail", "type": "p21w-12v", "count": count}]
    return rig(lamps=lamps, runs=[*RUNS, thick, ground], rules=rules)


def test_the_target_of_5_mohm():
    """S3: 5 mohm are satisfactory. A short thick ground keeps it with aged contacts left out: it is a notice above."""
    found = one(grounded(1.0), "ground-return")
    assert (found.unit, found.margin) == ("ohm", None)
    assert found.value is not None
    assert found.value > 0.005
    assert (found.severity, found.limit, found.source) == ("notice", 0.005, "S3")
    made = solved(grounded(1.0))
    row = row_of(made, found.state)
    volts = made.voltage_v("-X2:ground")[row] - made.voltage_v("-A1:0V")[row]
    amps = made.current_a("-E1")[row]
    assert found.value == pytest.approx(volts / amps, rel=1e-6)
    lost = float(made.across_v(made.circuit.by_ref["-E1"])[row])
    share = 1 - (lost / (lost + volts)) ** 3.4
    assert f"up to {share:.0%} of the light of -E1" in found.message


def test_the_return_of_step_downs_ends_at_their_minus():
    """Behind a step-down in each channel the current turns round in the adapter; what it then loses to the battery is
    made good by the regulation. Behind a wire all of the way back counts.
    """
    lamps = [{"function": "tail", "type": "p21w-12v", "count": 2}]
    for device, minus in (("step_down", "-A1:0V"), ("wire", "chassis")):
        volts = "24 V" if device == "wire" else "12 V"
        lamp = [{**lamps[0], "type": f"p21w-{volts[:2]}v"}]
        text = rig(channels=[f"tail > tail | {device}"], supply=None, lamps=lamp, runs=RUNS)
        found = one(text, "ground-return")
        made = solved(text)
        row = row_of(made, found.state)
        volts_v = made.voltage_v("-X2:ground")[row] - made.voltage_v(made.circuit.reference)[row]
        to_minus_v = made.voltage_v("-X2:ground")[row] - made.voltage_v(minus)[row]
        amps = made.current_a("-E1")[row]
        assert to_minus_v < volts_v - 1e-3
        assert found.value == pytest.approx((to_minus_v if device == "step_down" else volts_v) / amps, rel=1e-6)


def test_a_ground_of_more_than_50_mohm_that_loses_half_a_volt():
    """Ten times S3's figure, at the 10 A where it loses half a volt: a warning; with less current it is a notice."""

    def is_warned(length_m: float) -> bool:
        return any(f.severity != "notice" for f in findings(grounded(length_m), "ground-return"))

    good, bad = turns(is_warned, 1.0, 12.0, 1e-2)
    found = one(grounded(bad), "ground-return")
    assert (found.severity, found.limit) == ("warning", 0.05)
    assert found.value == pytest.approx(0.05, abs=2e-4)
    assert one(grounded(good), "ground-return").severity == "notice"
    assert one(grounded(bad, count=2), "ground-return").severity == "notice"


def test_a_ground_that_loses_a_tenth_of_the_voltage():
    """1.2 V in the return alone is an error, a little less a warning; the voltage is the printed one."""

    def is_error(length_m: float) -> bool:
        return any(f.severity == "error" for f in findings(grounded(length_m), "ground-return"))

    good, bad = turns(is_error, 6.0, 40.0, 5e-2)
    found = one(grounded(bad), "ground-return")
    lost_v = float(found.message.split("allowed; ")[1].split(" V")[0])
    assert (found.severity, lost_v) == ("error", pytest.approx(1.2, abs=0.01))
    assert one(grounded(good), "ground-return").severity == "warning"


def test_the_user_s_own_limit_of_the_ground():
    """ground_return under [rules] is an error whatever it loses, on both sides of what there is."""
    ohm = one(grounded(3.0, count=2), "ground-return").value
    assert ohm is not None
    found = one(grounded(3.0, count=2, ground_return=f"{ohm * 990:.6f} mohm"), "ground-return")
    assert (found.severity, found.source) == ("error", "rig file")
    loose = one(grounded(3.0, count=2, ground_return=f"{ohm * 1010:.6f} mohm"), "ground-return")
    assert loose.severity == "notice"


# --- diodes and resistors --------------------------------------------------------------------------------------------


def diode(**more: str) -> str:
    channel = {"input": "tail_left", "output": "tail", "device": "diode", **more}
    return rig("iso-12098", channels=[channel], lamps=["tail r5w-24v"], supply=None, volts=24)


def test_a_diode_on_both_sides_of_its_rating():
    """Its current above its rating is an error; without a rating a notice."""
    amps = float(abs(solved(diode()).current_a("-V1")).max())
    found = one(diode(rating=f"{amps * 0.99:.6f} A"), "part-rating")
    above(found, "A")
    assert (found.severity, found.value) == ("error", pytest.approx(amps))
    assert findings(diode(rating=f"{amps * 1.01:.6f} A"), "part-rating") == []
    bare = one(diode(), "part-rating")
    assert (bare.severity, bare.value) == ("notice", None)


def resistor(**more: str) -> str:
    channel = {"input": "stop", "output": "stop_turn_left", "device": "resistor", "resistance": "8 ohm", **more}
    return rig("iso-12098", channels=[channel], lamps=["stop_turn_left"], supply=None)


def test_a_dropping_resistor_on_both_sides_of_its_power():
    """I² R against the power it is made for; the drop in it is meant and is no loss on the way to the lamp."""
    amps = float(abs(solved(resistor()).current_a("-R1")).max())
    watts = amps**2 * 8
    found = one(resistor(power=f"{watts * 0.99:.6f} W"), "part-rating")
    above(found, "W")
    assert (found.severity, found.value) == ("error", pytest.approx(watts))
    assert findings(resistor(power=f"{watts * 1.01:.6f} W"), "part-rating") == []
    assert findings(resistor(power="60 W"), "lamp-voltage") == []


# --- ampacity by way of a rig ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("size", "bundle", "printed_a"), [("14 AWG", 2, 29.75), ("10 AWG", 10, 25.5)])
def test_ampacity_in_warm_air_and_in_a_bundle(size, bundle, printed_a):
    """AM-1 and AM-3 (S10, S11): 105 °C insulation at 50 °C; the printed factor 0.85 is the rounded square root."""
    cable = {
        "from": "trailer",
        "to": "lamps",
        "length": "0.5 m",
        "size": size,
        "insulation": "105 °C",
        "ambient": "50 °C",
        "bundle": bundle,
    }
    lamp = {"function": "tail", "technology": "filament", "voltage": "13.5 V", "power": f"{printed_a * 1.1 * 13.5} W"}
    found = findings(rig(lamps=[lamp], runs=[*RUNS, cable], supply={**SUPPLY}), "conductor-current")
    limits = {round(f.limit, 6) for f in found if f.limit and size in f.message}
    assert len(limits) == 1
    assert limits.pop() == pytest.approx(printed_a, rel=0.01)


def test_nominal_and_every_corner_are_told_apart():
    """A fuse between the continuous share and its rating warns at the running voltage only."""
    lamp = {"function": "tail", "technology": "filament", "voltage": "13.5 V", "power": f"{3.9 * 13.5} W"}
    channel = {"input": "tail", "output": "tail", "rating": "60 A", "fuse": "5 A"}
    found = one(rig(channels=[channel], lamps=[lamp]), "fuse-load")
    assert (found.severity, found.state) == ("warning", "service lights")
    assert found.value == pytest.approx(at_nominal(rig(channels=[channel], lamps=[lamp])).current_a("-F2").max())
    tight = rig(channels=[channel], lamps=[lamp], rules={"fuse_share": "90 %"})
    assert findings(tight, "fuse-load") == []


# --- the wrong voltage of a lamp -------------------------------------------------------------------------------------


def test_a_12_v_lamp_on_a_24_v_trailer_is_told_its_24_v_type():
    """On a 24 V trailer the cure is the other lamp; on a 12 V one it is to bring the signal down."""
    lead = straight("iso-1185", "iso-1185", ["stop p21w-12v", "turn_left"])
    found = one(lead, "over-voltage")
    assert "12 V part on a 24 V trailer: fit the 24 V type (p21w-24v)" in found.advice
    assert findings(straight("iso-1185", "iso-1185", ["stop p21w-24v", "turn_left"]), "over-voltage") == []
    wire = rig("iso-12098", channels=["stop > stop_turn_left | wire"], lamps=["stop_turn_left"], supply=None)
    assert "never run 24 V through" in one(wire, "over-voltage").advice


def test_a_24_v_lamp_behind_12_v_is_told_its_12_v_type():
    """Larger conductors do not cure a lamp for 24 V on 13.6 V: the advice is the 12 V type."""
    found = one(rig(lamps=["tail p21w-24v"]), "lamp-voltage")
    assert found.advice == "This is a 24 V lamp on 12 V: fit the 12 V type (p21w-12v) of it."
    assert findings(rig(lamps=["tail p21w-12v"]), "lamp-voltage") == []
