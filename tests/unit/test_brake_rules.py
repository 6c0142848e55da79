"""Rules on magnets, breakaway battery and charge line, from both sides of each limit; the table of S48."""

from __future__ import annotations

import numpy as np
import pytest

from tests.findings import above, at_nominal, below, findings, one, place, row_of, solved, turns
from tests.rigs import BOX_FEED, RUNS, SUPPLY, rig
from wiregen.catalogue.relays import brake_current
from wiregen.model.circuit import Load

CONTROLLER = {"input": "pedal", "output": "brake", "device": "brake_controller", "rating": "40 A"}
THICK = [{**run, "size": "25 mm²"} for run in RUNS]


def braked(
    magnets: int = 4,
    ohm: float = 3.3,
    output_v: float = 13.0,
    battery: dict[str, object] | None = None,
    **channel: object,
) -> str:
    trailer = {"brakes": {"magnets": magnets, "magnet_resistance": f"{ohm:.6f} ohm"}}
    if battery is not None:
        trailer["battery"] = battery
    return rig(
        channels=[{**CONTROLLER, **channel}],
        lamps=[],
        pedal=True,
        supply={**SUPPLY, "output": f"{output_v} V", "continuous": "90 A"},
        taps=[{**BOX_FEED, "fuse": "60 A"}],
        runs=THICK,
        **trailer,  # type: ignore[arg-type]
    )


def braking_a(text: str) -> tuple[float, float]:
    """Current of all magnets, A, and voltage at them, V, with the pedal down, at nominal."""
    made = at_nominal(text)
    (magnets,) = made.circuit.of(Load)
    row = row_of(made, "brake")
    return abs(float(made.current_a(magnets.ref)[row])), abs(float(made.across_v(magnets)[row]))


# --- magnets ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("output_v", "low_a", "high_a"), [(12.7, 15.0, 16.3), (13.5, 15.0, 16.3), (10.0, 11.3, 13.3)])
def test_four_magnets_draw_what_the_table_says(output_v, low_a, high_a):
    """BR-1 (S48): four magnets of 10 and 12 in drums take 15.0 to 16.3 A at 12 to 13 V, 11.3 to 13.3 A at 9 to 10.5."""
    amps, volts = braking_a(braked(ohm=3.2, output_v=output_v))
    table = brake_current(4, volts)
    assert (table.low_a, table.high_a) == (low_a, high_a)
    assert low_a <= amps <= high_a
    assert findings(braked(ohm=3.2, output_v=output_v), "brake-magnets") == []


@pytest.mark.parametrize(("ohm", "each_a"), [(3.2, 3.75), (3.5, 3.43)])
def test_one_magnet_at_12_v(ohm, each_a):
    """BR-2 (derived from S48): a magnet of 3.2 to 3.5 ohm takes 3.75 to 3.43 A at 12 V."""
    amps, volts = braking_a(braked(ohm=ohm, output_v=12.3))
    assert amps / 4 * 12 / volts == pytest.approx(each_a, abs=0.005)


def test_magnets_that_draw_too_much():
    """A resistance below what the table's highest current means, 13 V over 4.075 A, is a warning; above it is none."""

    def text(ohm: float) -> str:
        return braked(ohm=ohm, output_v=13.6)

    good, bad = turns(lambda ohm: bool(findings(text(ohm), "brake-magnets")), 3.4, 3.0, 1e-3)
    found = one(text(bad), "brake-magnets")
    above(found, "A")
    assert (found.severity, found.source, found.state) == ("warning", "S48", "brake")
    _, volts = braking_a(text(good))
    assert good == pytest.approx(max(13.0, volts) / (16.3 / 4) * min(1.0, volts / 13.0), abs=3e-3)
    assert "10 and 12 in drums" in found.message


def test_magnets_that_draw_too_little():
    """Below the table's least at 9 to 10.5 V, 11.3 A for four, the brakes are weak: a long thin lead does that."""

    def text(output_v: float) -> str:
        return braked(output_v=output_v)

    _, bad = turns(lambda volts: bool(findings(text(volts), "brake-magnets")), 12.0, 8.5, 1e-3)
    found = one(text(bad), "brake-magnets")
    below(found, "A")
    assert found.limit == pytest.approx(11.3 / 4)
    assert "the brakes are weak" in found.message
    assert braking_a(text(bad))[0] == pytest.approx(11.3, abs=0.01)


def test_gain_turns_the_magnets_down():
    """Gain is a setting: at 60 % six tenths of the current, and no weak brakes; the message says the gain."""
    full, turned = braking_a(braked())[0], braking_a(braked(gain="60 %"))[0]
    assert turned == pytest.approx(0.6 * full, rel=0.01)
    assert findings(braked(gain="60 %"), "brake-magnets") == []
    assert findings(braked(gain="60 %"), "lamp-voltage") == []
    weak = one(braked(gain="60 %", output_v=8.9), "brake-magnets")
    assert "at a gain of 60%" in weak.message
    assert weak.limit == pytest.approx(0.6 * 11.3 / 4)


def test_small_drums_have_magnets_of_their_own():
    """S48: magnets of 7 in drums have 3.8 to 4.0 ohm and take 12.6 to 13.7 A for four at 12 to 13 V."""
    amps, volts = braking_a(braked(ohm=3.8, output_v=12.8))
    assert 12 < volts < 13
    assert 12.6 <= amps <= 13.7
    assert findings(braked(ohm=3.8, output_v=12.8), "brake-magnets") == []
    # Three magnets are in no row: counted by the pair.
    assert findings(braked(magnets=3, ohm=3.3), "brake-magnets") == []


# --- breakaway -------------------------------------------------------------------------------------------------------


def breakaway(magnets: int, capacity_ah: float | None, voltage_v: float = 12.5, ohm: float = 3.2) -> str:
    battery: dict[str, object] = {"voltage": f"{voltage_v} V", "resistance": "1 mohm"}
    if capacity_ah is not None:
        battery["capacity"] = f"{capacity_ah:.6f} Ah"
    return braked(magnets=magnets, ohm=ohm, battery=battery)


@pytest.mark.parametrize(("magnets", "low_ah", "high_ah"), [(2, 1.9, 2.1), (4, 3.8, 4.1), (6, 5.7, 6.1)])
def test_energy_for_fifteen_minutes(magnets, low_ah, high_ah):
    """Facts 7.3 (from S48, S49): 15 minutes at full current take 1.9 to 2.1, 3.8 to 4.1, 5.7 to 6.1 Ah."""

    def is_short(capacity_ah: float) -> bool:
        return bool(findings(breakaway(magnets, capacity_ah), "breakaway"))

    enough, too_small = turns(is_short, 20.0, 1.0, 0.02)
    # A small lead battery gives 55 % of its 20 h capacity in a quarter of an hour (memory).
    assert low_ah <= 0.55 * enough <= high_ah
    found = one(breakaway(magnets, too_small), "breakaway")
    below(found, "min")
    assert (found.severity, found.limit, found.source) == ("error", 15.0, "S49")
    assert found.value == pytest.approx(15.0, abs=0.1)
    place(found, breakaway(magnets, too_small), "[trailer.battery]")


def test_five_ampere_hours():
    """Facts 7.3: a 5 Ah battery is enough for two magnets and not for four."""
    assert findings(breakaway(2, 5.0), "breakaway") == []
    assert len(findings(breakaway(4, 5.0), "breakaway")) == 1


def test_a_battery_without_a_capacity_is_a_notice():
    """Without a capacity the capacity that is wanted is told; a trailer without brakes needs none."""
    found = one(breakaway(4, None), "breakaway")
    assert (found.severity, found.value) == ("notice", None)
    assert "which asks for 7.09 Ah" in found.message
    plain = rig("iso-12098", "iso-11446", channels=["charge > charge"], lamps=[], battery={"capacity": "1 Ah"})
    assert findings(plain, "breakaway") == []


@pytest.mark.parametrize(("stated", "severity"), [(None, "notice"), (False, "warning"), (True, None)])
def test_electric_brakes_without_a_breakaway_switch(stated, severity):
    """Nothing stated is a notice, none there a warning, one there no finding; the caution names 49 CFR 393.43 (S65)."""
    brakes = {"magnets": 2, **({} if stated is None else {"breakaway": stated})}
    text = rig(channels=[CONTROLLER], lamps=[], pedal=True, brakes=brakes)
    found = findings(text, "breakaway")
    assert [f.severity for f in found] == ([severity] if severity else [])
    for one_finding in found:
        assert one_finding.source == "S49,S65"
        assert "49 CFR 393.43" in one_finding.advice
        place(one_finding, text, "[trailer.brakes]")


def test_without_brakes_nobody_asks_for_a_breakaway_switch():
    """A trailer with lamps only has no breakaway finding."""
    assert findings(rig(), "breakaway") == []


# --- charge line -----------------------------------------------------------------------------------------------------


def charged(voltage_v: float = 12.0, size: str = "2.5 mm²") -> str:
    runs = [*RUNS, {"from": "trailer", "to": "lamps", "circuits": ["charge"], "length": "5 m", "size": size}]
    battery = {"voltage": f"{voltage_v:.6f} V", "capacity": "7 Ah"}
    return rig("iso-12098", "iso-11446", channels=["charge > charge"], lamps=[], runs=runs, battery=battery)


def test_a_battery_that_nothing_charges():
    """A bus of 13.6 V charges a battery of 13.5 V and not one of 13.7 V."""
    found = one(charged(13.7), "charge-line")
    assert (found.severity, found.message) == ("warning", "no state of the vehicle charges it")
    place(found, charged(13.7), "[trailer.battery]")
    assert findings(charged(13.5), "charge-line") == []


def test_a_thin_charge_line():
    """S63: supply contacts of the 13-contact connector want 2.5 mm²; 1.5 mm² is a notice."""
    found = one(charged(size="1.5 mm²"), "charge-line")
    below(found, "mm²")
    assert (found.severity, found.value, found.limit, found.source) == ("notice", 1.5, 2.5, "S63")
    assert findings(charged(size="2.5 mm²"), "charge-line") == []


# --- backfeed --------------------------------------------------------------------------------------------------------


def parked(low_v: float, **battery: str) -> str:
    """A 12 V vehicle whose permanent supply is wired through to the trailer's battery of 12 V."""
    vehicle = {
        "battery": {"nominal": "12 V", "low": f"{low_v:.6f} V"},
        "fuse": [{"circuits": ["charge"], "fuse": "20 A"}],
    }
    return rig(
        "iso-12098",
        "iso-11446",
        channels=["charge > charge | wire"],
        lamps=[],
        vehicle=vehicle,
        supply=None,
        battery={"voltage": "12.0 V", **battery},
    )


def test_the_trailer_battery_feeds_a_tired_vehicle():
    """With the vehicle's battery lower than the trailer's the charge line carries current backwards: an error."""
    found = one(parked(11.0), "trailer-backfeed")
    above(found, "A")
    made = solved(parked(11.0))
    back = -made.current_a("-X2:9")
    assert (found.severity, found.value) == ("error", pytest.approx(float(back.max())))
    assert "battery low" in found.state
    assert made.points[int(np.argmax(back))].corner.supply == "low"
    place(found, parked(11.0), "[trailer.battery]")
    assert findings(parked(11.0, isolation="diode"), "trailer-backfeed") == []


def test_backfeed_on_both_sides_of_its_limit():
    """A twentieth of an ampere is the limit: a few millivolts of difference turn it."""
    good, bad = turns(lambda volts: bool(findings(parked(volts), "trailer-backfeed")), 12.05, 11.9, 1e-3)
    found = one(parked(bad), "trailer-backfeed")
    assert found.limit == 0.05
    assert found.value == pytest.approx(0.05, abs=0.02)
    assert bad < good < 12.0


def test_a_converter_takes_nothing_back():
    """A 24 V vehicle that charges through a converter is not fed by the trailer."""
    assert findings(charged(), "trailer-backfeed") == []
