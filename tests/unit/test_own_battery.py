"""A 12 V battery in the adapter: it rests, runs down, may be charged, and nothing in a rig file charges it."""

from __future__ import annotations

import pytest

from tests.findings import findings, one
from tests.rigs import SUPPLY, load, rig
from tests.steps import check
from tests.unit.test_shorts import thin
from wiregen.circuit.build import build
from wiregen.errors import InputError
from wiregen.model.circuit import Battery
from wiregen.model.finding import Finding

OWN = {"kind": "battery", "fuse": "20 A"}


def battery_of(**supply: str) -> Battery:
    (circuit,) = build(load(rig(supply={**OWN, **supply}))).circuits
    return next(battery for battery in circuit.of(Battery) if battery.zone == "adapter")


@pytest.mark.parametrize(
    ("stated", "volts"),
    [
        ({}, (10.5, 12.0, 14.4)),
        ({"output": "12.6 V"}, (10.5, 12.6, 14.4)),
        ({"output": "10 V"}, (10.0, 10.0, 14.4)),
        ({"output": "15 V"}, (10.5, 15.0, 15.0)),
    ],
)
def test_it_has_a_low_a_resting_and_a_charging_voltage(
    stated: dict[str, str], volts: tuple[float, float, float]
) -> None:
    """ISO 16750-2 code D from memory, SAE J590's 12 V; what the rig states is never contradicted."""
    battery = battery_of(**stated)
    assert (battery.low_v, battery.voltage_v, battery.charging_v) == volts


def test_all_three_are_listed_as_assumed() -> None:
    """The user reads what was taken for the voltage of the battery."""
    names = {entry.name for entry in check(load(rig(supply=OWN))).assumptions if "-G2" in entry.where}
    assert {"battery_12v_low_v", "battery_12v_resting_v", "battery_12v_charging_v"} <= names


def test_a_low_battery_puts_out_a_lamp_made_for_more() -> None:
    """A thin cable takes half a volt: a 10 V LED lamp is out at 10.5 V, a 9 V one is not; a converter helps both."""

    def text(kind: str, supply: dict[str, str]) -> str:
        channels = [{"input": "stop", "output": "stop", "rating": "30 A"}]
        lamps = [{"function": "stop", "type": kind, "count": 2}]
        return rig("iso-12098", "iso-11446", supply=supply, channels=channels, lamps=lamps, runs=thin("0.5 mm²", "6 m"))

    def too_low(kind: str, supply: dict[str, str]) -> list[Finding]:
        return [f for f in findings(text(kind, supply), "lamp-voltage") if f.severity == "error"]

    (found,) = too_low("led-stop-10_30v", OWN)
    assert found.limit == 10.0
    assert "battery low" in str(found.state)
    assert too_low("led-stop-12v", OWN) == []
    assert too_low("led-stop-10_30v", SUPPLY) == []


def test_nothing_charges_it_and_how_long_it_lasts() -> None:
    """Hours are capacity over the current of the finding, rounded down; without a capacity they hold for 10 Ah."""
    stated = one(rig(supply={**OWN, "capacity": "7 Ah"}), "battery-charge")
    assert stated.severity == "notice"
    words = stated.message.removeprefix("nothing in this file charges it; its 7 Ah last ")
    time, amps = words.replace(" at the most", "").removesuffix(" A").split(" at ")
    hours = float(time.removesuffix(" h"))
    assert hours <= 7 / float(amps) < hours + 0.15
    open_capacity = one(rig(supply=OWN), "battery-charge")
    assert f"at {amps} A every 10 Ah of its capacity last" in open_capacity.message
    assert "never straight from 24 V" in stated.advice


def test_a_converter_needs_no_charge() -> None:
    """The near twin: no battery in the adapter, no word of charging; and no capacity either."""
    assert findings(rig(supply=SUPPLY), "battery-charge") == []
    with pytest.raises(InputError, match="capacity"):
        load(rig(supply={**SUPPLY, "capacity": "7 Ah"}))


@pytest.mark.parametrize(("stated", "is_told"), [({}, True), ({"output": "13.6 V"}, False)])
def test_bulbs_on_a_resting_battery_are_told_of_a_charger(stated: dict[str, str], is_told: bool) -> None:
    """13.5 V bulbs behind 12 V at rest: not copper alone; with the voltage of a charged one stated, copper alone."""
    text = rig(
        "iso-12098",
        "iso-11446",
        supply={**OWN, **stated},
        channels=[{"input": "stop", "output": "stop", "rating": "30 A"}],
        lamps=[{"function": "stop", "type": "p21w-12v", "count": 2}],
        runs=thin("0.5 mm²", "12 m"),
    )
    (found,) = [f for f in findings(text, "lamp-voltage") if f.severity == "error"]
    assert ("is taken to rest at 12 V" in found.advice) == is_told
    assert "larger conductors" in found.advice
