"""Rules on relays and the flasher, from both sides of each limit; the worked examples they rest on."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from tests.findings import above, at_nominal, below, findings, one, place, row_of, solved, turns
from tests.rigs import rig
from wiregen.catalogue.relays import switch_rating_needed_a
from wiregen.model.circuit import Coil
from wiregen.model.study import Study


def stop(**more: object) -> dict[str, object]:
    return {"input": "stop", "output": "stop_turn_left", **more}


def bulb(volts: float, amps: float, count: int = 1) -> dict[str, object]:
    """A filament lamp of so many amperes, by its own data."""
    watts = f"{volts * amps} W"
    return {
        "function": "stop_turn_left",
        "technology": "filament",
        "voltage": f"{volts} V",
        "power": watts,
        "count": count,
    }


def stops(channel: dict[str, object], lamps: list[object] | None = None) -> str:
    return rig("iso-12098", channels=[channel], lamps=lamps or ["stop_turn_left"])


# --- contacts --------------------------------------------------------------------------------------------------------


def on_24_v(**more: object) -> str:
    """A relay that switches 24 V: the bus hangs on a 24 V battery in the adapter."""
    supply = {"kind": "battery", "output": "24 V", "fuse": "20 A"}
    return rig("iso-12098", channels=[stop(**more)], lamps=["stop_turn_left"], supply=supply, volts=24)


def test_a_contact_breaks_half_its_12_v_current_at_24_v():
    """S41: 12 A and lamps 20 A at 12 V are 6 A and 10 A at 24 V. A rating for 24 V counts whole."""
    amps = float(abs(solved(on_24_v(rating="9 A")).current_a("-K1:30-87")).max())
    found = one(on_24_v(rating=f"{2 * amps * 0.99:.6f} A"), "relay-contact")
    above(found, "A")
    assert (found.severity, found.value, found.source) == ("error", pytest.approx(amps), "S41")
    assert found.limit == pytest.approx(amps * 0.99)
    assert "hold for 12 V, and it switches 24 V" in found.message
    assert findings(on_24_v(rating=f"{2 * amps * 1.01:.6f} A"), "relay-contact") == []
    assert findings(on_24_v(rating=f"{amps * 1.01:.6f} A", rated_at="24 V"), "relay-contact") == []
    assert one(on_24_v(rating=f"{amps * 0.99:.6f} A", rated_at="24 V"), "relay-contact").source == "rig file"
    # A solid-state switch draws no arc.
    assert findings(on_24_v(rating=f"{amps * 1.01:.6f} A", device="solid_state"), "relay-contact") == []


def closing_a(text: str) -> float:
    """S40: ten times the filament current, highest of all states and corners."""
    return 10 * float(abs(solved(text).current_a("-E1")).max())


def test_inrush_against_the_make_current():
    """A make current below ten times the lamp is an error, above it nothing, whatever the rating says."""
    amps = closing_a(stops(stop(rating="30 A")))
    text = stops(stop(rating="5 A", inrush=f"{amps * 0.99:.6f} A"))
    found = one(text, "relay-inrush")
    above(found, "A")
    assert (found.severity, found.value, found.source) == ("error", pytest.approx(amps, rel=1e-3), "S40")
    assert found.state.startswith("brake")
    place(found, text, "[[adapter.channel]]")
    assert findings(stops(stop(rating="5 A", inrush=f"{amps * 1.01:.6f} A")), "relay-inrush") == []


def test_inrush_against_a_rating():
    """Without a make current the rating is a resistive one, known or assumed, and a warning; a lamp rating has it."""
    amps = closing_a(stops(stop(rating="30 A")))
    low, high = f"{amps * 0.99:.6f} A", f"{amps * 1.01:.6f} A"
    unknown = one(stops(stop(rating=low)), "relay-inrush")
    assert unknown.severity == "warning"
    assert "does not say what the rating is for, so it is taken for a resistive one" in unknown.message
    known = one(stops(stop(rating=low, rated_for="resistive")), "relay-inrush")
    assert (known.severity, known.message.endswith("allowed: the rating is a resistive one")) == ("warning", True)
    assert findings(stops(stop(rating=high)), "relay-inrush") == []
    assert findings(stops(stop(rating=low, rated_for="lamp")), "relay-inrush") == []
    assert findings(stops(stop(rating=low, device="solid_state")), "relay-inrush") == []


def test_inrush_against_a_rating_for_12_v_at_24_v():
    """S41: lamps of 20 A at 12 V are 10 A at 24 V. Half a 12 V rating counts; a 24 V rating and a make count whole."""
    amps = closing_a(on_24_v(rating="30 A"))
    found = one(on_24_v(rating=f"{2 * amps * 0.99:.6f} A"), "relay-inrush")
    above(found, "A")
    assert (found.severity, found.source) == ("warning", "S40,S41")
    assert found.limit == pytest.approx(amps * 0.99)
    assert found.message.endswith("so it is taken for a resistive one, and half of it at 24 V")
    assert findings(on_24_v(rating=f"{2 * amps * 1.01:.6f} A"), "relay-inrush") == []
    assert findings(on_24_v(rating=f"{amps * 1.01:.6f} A", rated_at="24 V"), "relay-inrush") == []
    assert findings(on_24_v(rating="5 A", inrush=f"{amps * 1.01:.6f} A"), "relay-inrush") == []


def test_led_lamps_have_no_inrush_here():
    """LED lamps count once: a relay that carries them may close on them."""
    text = stops(stop(rating="2 A"), ["stop_turn_left led-stop-12v"])
    assert findings(text, "relay-inrush") == []


@pytest.mark.parametrize(("volts", "factor"), [(12, 5), (24, 8)])
def test_the_advice_names_the_switch_that_aircraft_practice_asks_for(volts, factor):
    """SW-1 and SW-2 (S2, AC 43.13-1B table 11-4): 2 A of lamps want 16 A at 28 V and 10 A at 12 V."""
    assert (switch_rating_needed_a(28, "lamp", 2.0), switch_rating_needed_a(12, "lamp", 2.0)) == (16.0, 10.0)
    text = stops(stop(rating="4 A"), [bulb(13.5, 2.0)]) if volts == 12 else on_24_v(rating="4 A", rated_at="24 V")
    found = one(text, "relay-inrush")
    assert found.value is not None
    (amps,) = re.findall(r"a relay of (\d+) A or more", found.advice)
    assert int(amps) == math.ceil(found.value / 10 * factor)


# --- coils -----------------------------------------------------------------------------------------------------------


def coil_v(one: Study, words: str) -> float:
    (coil,) = one.circuit.of(Coil)
    return float(one.across_v(coil)[row_of(one, words)])


def test_a_warm_coil_needs_more_voltage():
    """Facts 5.1: a relay that needs 14.4 V at 20 °C needs 18.1 V with its coil at 85 °C, by 319.5 / 254.5 (S2)."""

    def text(low_v: float) -> str:
        vehicle = {"battery": {"low": f"{low_v:.6f} V"}}
        return rig("iso-12098", channels=[stop(rating="30 A", pick_up="14.4 V")], lamps=[], vehicle=vehicle)

    enough, too_low = turns(lambda volts: bool(findings(text(volts), "coil-pick-up")), 20.0, 17.0, 1e-3)
    found = one(text(too_low), "coil-pick-up")
    below(found, "V")
    assert (found.severity, found.state) == ("error", "brake; battery low, hot")
    assert found.limit == pytest.approx(14.4 * 319.5 / 254.5)
    assert found.limit == pytest.approx(18.1, abs=0.05)
    assert found.value == pytest.approx(coil_v(solved(text(too_low)), "brake; battery low, hot"))
    assert found.value == pytest.approx(found.limit, abs=2e-3)
    place(found, text(too_low), "[[adapter.channel]]")
    # Just above, the coil pulls in; cold, the same relay pulls in far below.
    assert coil_v(solved(text(enough)), "brake; battery low, hot") == pytest.approx(18.08, abs=5e-3)


def test_a_control_input_needs_the_same_warm_and_cold():
    """The input of a solid-state channel is no copper: its threshold stays where it is stated."""

    def text(low_v: float) -> str:
        vehicle = {"battery": {"low": f"{low_v:.6f} V"}}
        channel = stop(rating="30 A", pick_up="18 V", device="solid_state")
        return rig("iso-12098", channels=[channel], lamps=[], vehicle=vehicle)

    assert findings(text(18.05), "coil-pick-up") == []
    found = one(text(17.95), "coil-pick-up")
    assert found.limit == 18.0
    assert "at 20 °C" not in found.message


def test_a_coil_that_nobody_calls_need_not_pull_in():
    """A coil is looked at only where its circuit is live: behind a socket without the contact another rule speaks."""
    text = rig(channels=["tail > tail", {"input": "stop", "output": "stop_turn_left", "rating": "30 A"}])
    assert findings(text, "coil-pick-up") == []
    assert one(text, "missing-input").where == "channel K2"


@pytest.mark.parametrize(("pick_up", "limit"), [("16 V", 32.0), ("7.2 V", 16.0)])
def test_a_coil_while_charging(pick_up, limit):
    """S42: a 12 V lamp relay is made for 10 to 16 V; 24 V relays are taken for twice that. To a millivolt."""

    def text(charging_v: float) -> str:
        vehicle = {"battery": {"charging": f"{charging_v:.6f} V", "running": "14 V", "low": "12 V"}}
        channel = stop(rating="30 A", pick_up=pick_up, drop_out="2 V")
        return rig("iso-12098", channels=[channel], lamps=[], vehicle=vehicle)

    good, bad = turns(lambda volts: bool(findings(text(volts), "coil-over-voltage")), limit - 1, limit + 1, 1e-3)
    found = one(text(bad), "coil-over-voltage")
    above(found, "V")
    assert (found.limit, found.source, found.severity) == (limit, "S42", "error")
    assert found.state.startswith("brake; charging high")
    assert found.value == pytest.approx(limit, abs=2e-3)
    assert good < bad


def test_a_12_v_relay_on_a_24_v_circuit():
    """The usual mistake: a 12 V relay in a 24 V vehicle; its pick-up voltage tells."""
    found = one(
        rig(channels=[{"input": "tail", "output": "tail", "rating": "30 A", "pick_up": "7.2 V"}]), "coil-over-voltage"
    )
    assert found.value == pytest.approx(28.8, abs=0.3)


# --- the flasher -----------------------------------------------------------------------------------------------------


def turning(flasher: dict[str, str] | None, device: str = "") -> str:
    vehicle = {"flasher": flasher} if flasher else {}
    volts, lamp = (24, "turn_left p21w-24v") if device else (12, "turn_left")
    channels = [f"turn_{side} > turn_{side}{device}" for side in ("left", "right")]
    lamps = [lamp, lamp.replace("left", "right")]
    return rig("iso-1185", "iso-11446", channels=channels, lamps=lamps, vehicle=vehicle, volts=volts)


@pytest.mark.parametrize("kind", ["thermal", "electromechanical"])
def test_a_flasher_that_sees_relay_coils_only(kind):
    """A flasher that keeps time by its lamps' current sees 0.08 A of coil; behind wires it sees the lamps."""
    text = turning({"kind": kind})
    found = one(text, "flasher-load")
    assert (found.severity, found.unit, found.state) == ("warning", "A", "left turn (lit half of the flash)")
    assert found.value == pytest.approx(28 / 350, rel=0.02)
    assert "these are relay coils only" in found.message
    place(found, text, "[vehicle.flasher]")
    assert findings(turning({"kind": kind}, " | wire"), "flasher-load") == []
    assert findings(turning({"kind": "electronic"}), "flasher-load") == []
    assert findings(turning(None), "flasher-load") == []


def test_the_flasher_s_window_on_both_sides():
    """The load of one side against the lowest and the highest load the flasher is made for."""
    lit = at_nominal(turning(None, " | wire"))
    amps = float(np.abs(lit.current_a("-E1"))[row_of(lit, "left turn (lit half of the flash)")])

    def window(**loads: str) -> list[tuple[float | None, str]]:
        text = turning({"kind": "electronic", **loads}, " | wire")
        return [(f.limit, f.message) for f in findings(text, "flasher-load")]

    assert window(lowest_load=f"{amps * 0.99:.6f} A", highest_load=f"{amps * 1.01:.6f} A") == []
    ((limit, words),) = window(lowest_load=f"{amps * 1.01:.6f} A")
    assert (limit, "must bring the rest" in words) == (pytest.approx(amps * 1.01), True)
    ((limit, words),) = window(highest_load=f"{amps * 0.99:.6f} A")
    assert (limit, "come on top" in words) == (pytest.approx(amps * 0.99), True)
    # Watts on a label are at the test voltage: 28 V.
    ((limit, _),) = window(lowest_load="42 W")
    assert limit == pytest.approx(1.5)


def test_the_converter_s_feed_is_no_flasher_load():
    """What the box takes from its own feed is not counted: the load is the coil of one side."""
    lit = at_nominal(turning(None))
    found = one(turning({"kind": "thermal"}), "flasher-load")
    assert found.value == pytest.approx(abs(lit.current_a("-K1"))[row_of(lit, "left turn (lit half of the flash)")])
