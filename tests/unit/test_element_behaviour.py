"""Diodes, dropping resistors, equalisers and trailer batteries in the behaviour table and in the study of rigs."""

import pytest

from tests.findings import row_of
from tests.rigs import load, rig
from wiregen.circuit.behaviour import behave
from wiregen.circuit.build import build, vehicle_signals
from wiregen.model.behaviour import Behaviour
from wiregen.model.circuit import Battery, Diode, Equaliser, Lamp, Resistor
from wiregen.model.corner import NOMINAL
from wiregen.model.study import Study
from wiregen.solve.devices import CONVERTER_BLEED_OHM
from wiregen.solve.full_study import solve_study


def told(text: str) -> Behaviour:
    loaded = load(text)
    return behave(build(loaded).circuits[0], vehicle_signals(loaded))


def solved(text: str) -> Study:
    loaded = load(text)
    return solve_study(build(loaded).circuits[0], vehicle_signals(loaded), [NOMINAL])


def conflicts(text: str) -> set[tuple[str, tuple[str, ...]]]:
    return {(conflict.kind, conflict.terminals) for conflict in told(text).conflicts}


def joined_tails(device: str) -> str:
    """Two tail circuits of the vehicle joined onto one tail contact of a 24 V trailer."""
    more = {"resistance": "1 ohm"} if device == "resistor" else {}
    channels = [{"input": name, "output": "tail", "device": device, **more} for name in ("tail_left", "stop")]
    return rig("iso-1185", "sae-j2863", channels=channels, lamps=["tail"], volts=24, supply=None)


def test_diodes_let_two_circuits_feed_one_and_nothing_back():
    """Left tail and stop onto one lamp: wires feed the other's open switch backwards, diodes do not."""
    assert {kind for kind, _ in conflicts(joined_tails("wire"))} == {"backfeed"}
    assert {kind for kind, _ in conflicts(joined_tails("resistor"))} == {"backfeed"}
    assert conflicts(joined_tails("diode")) == set()


@pytest.mark.parametrize("device", ["wire", "diode", "resistor"])
def test_the_lamp_behind_a_device_that_passes_one_circuit_on(device):
    """The lamp burns whenever one of its two circuits is live, whatever the current passes on its way."""
    lit = {row.controls.words for row in told(joined_tails(device)).rows if row.actual == "steady"}
    assert {"service lights", "brake", "service lights, brake"} <= lit
    assert "all off" not in lit


def test_the_diode_takes_its_drop_from_the_lamp():
    """Behind a diode the lamp has the drop less than behind a wire, and the dark circuit's switch stays dead."""
    wired, parted = solved(joined_tails("wire")), solved(joined_tails("diode"))
    row = row_of(wired, "brake")
    (lamp,) = wired.circuit.of(Lamp)
    lost = wired.across_v(lamp)[row] - parted.across_v(lamp)[row_of(parted, "brake")]
    assert lost == pytest.approx(0.7, abs=0.02)
    blocking = next(d for d in parted.circuit.of(Diode) if d.channel == "V1")
    assert abs(parted.current_a(blocking.ref)[row_of(parted, "brake")]) < 1e-3


def test_a_dropping_resistor_drops_with_its_current():
    """One 5 W lamp or four behind 20 ohm: right for one, it starves four. A resistor is no converter."""
    for count in (1, 4):
        entry = {"input": "tail", "output": "tail", "device": "resistor", "resistance": "20 ohm"}
        one = solved(rig(channels=[entry], lamps=[{"function": "tail", "count": count}], supply=None))
        row = row_of(one, "service lights")
        (lamp,), (part,) = one.circuit.of(Lamp), one.circuit.of(Resistor)
        current = one.current_a(part.ref)[row]
        assert one.across_v(part)[row] == pytest.approx(20 * current)
        assert one.across_v(lamp)[row] == pytest.approx(28 - 20 * current, abs=0.2)
        assert (one.across_v(lamp)[row] > lamp.max_v) == (count == 1)


# --- centre tap ------------------------------------------------------------------------------------------------------


def tapped(**more: str) -> str:
    lamps = [{"function": "tail", "count": 8}]
    return rig(supply={"kind": "centre_tap", "fuse": "20 A", **more}, lamps=lamps)


def test_the_lower_battery_gives_what_the_tap_takes():
    """Without an equaliser every ampere of the tap comes from the lower battery alone: so many Ah an hour."""
    one = solved(tapped())
    row = row_of(one, "service lights")
    tap = one.current_a("-F1")[row]
    assert tap > 2.5
    assert one.imbalance_a()[row] == pytest.approx(tap)
    assert one.imbalance_a()[row_of(one, "all off")] == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("rating_a", [1.0, 2.0, 10.0])
def test_an_equaliser_gives_its_rating_at_the_most(rating_a):
    """It takes over the tap up to its rating, and I / (2 · efficiency) from the pair for it (facts, 8.3 of S55)."""
    one = solved(tapped(equaliser=f"{rating_a} A", efficiency="90 %"))
    row = row_of(one, "service lights")
    tap, given = one.current_a("-F1")[row], one.current_a("-T1")[row]
    (equaliser,) = one.circuit.of(Equaliser)
    assert given == pytest.approx(min(rating_a, tap), rel=0.06)
    assert one.input_a["-T1"][row] == pytest.approx(given / (2 * 0.9) + equaliser.idle_a, rel=0.01)
    # What the equaliser takes from the pair it takes from both batteries alike: only what it does not give is uneven,
    # and what leaks across its own output.
    leak = one.voltage_v(equaliser.b)[row] / CONVERTER_BLEED_OHM
    assert one.imbalance_a()[row] == pytest.approx(tap - given + leak, abs=1e-6)


def test_the_equaliser_is_no_conflict():
    """Two supplies meet at the centre of the pair, and that is right."""
    assert conflicts(tapped(equaliser="5 A")) == set()


def test_a_rig_without_a_pair_has_no_imbalance():
    """One battery cannot be uneven."""
    one = solved(rig())
    assert one.imbalance_a().tolist() == [0.0] * len(one.points)


# --- a battery on the trailer ----------------------------------------------------------------------------------------


def charged(device: str, feed: str = "direct", **battery: str) -> str:
    channel = {"input": "charge", "output": "charge", "device": device}
    limits = {"rating": "5 A", "current_limit": "6 A"} if device == "step_down" else {}
    return rig(
        "iso-12098",
        "sae-j2863",
        channels=[{**channel, **limits}],
        lamps=[],
        battery={"isolation": feed, **battery},
        supply=None,
    )


@pytest.mark.parametrize("feed", ["direct", "diode"])
def test_charging_through_a_step_down_is_no_conflict(feed):
    """A 12 V source and a 12 V battery may meet; what flows is at the step-down's limit."""
    text = charged("step_down", feed)
    assert conflicts(text) == set()
    one = solved(text)
    (battery,) = [b for b in one.circuit.of(Battery) if b.zone == "trailer"]
    assert one.current_a(battery.ref)[0] == pytest.approx(6.0, abs=0.5)


@pytest.mark.parametrize("feed", ["direct", "diode"])
def test_a_24_v_wire_to_a_12_v_battery_is_a_conflict(feed):
    """28 V straight onto a 12 V battery is named, and the battery sees more than it stands."""
    text = charged("wire", feed)
    assert conflicts(text) == {("joined", ("-G1", "-G2"))}
    one = solved(text)
    (battery,) = [b for b in one.circuit.of(Battery) if b.zone == "trailer"]
    assert one.current_a(battery.ref)[0] > 50
    assert one.across_v(battery)[0] > battery.voltage_v + 2


def fed_backwards(feed: str) -> str:
    """A 12 V vehicle that feeds the trailer's battery over a wire, with the lights on only."""
    habits = [{"circuit": "charge", "live": "lights"}]
    return rig(
        "iso-12098",
        "sae-j2863",
        channels=[{"input": "charge", "output": "charge", "device": "wire"}],
        lamps=[],
        battery={"isolation": feed, "voltage": "12.6 V"},
        supply=None,
        vehicle={"battery": {"nominal": "12 V", "running": "12.1 V"}, "exception": habits},
    )


def test_a_trailer_battery_feeds_a_dead_charge_line_backwards():
    """With the circuit switched off the trailer's battery makes it live, unless a diode stands in front of it."""
    assert {kind for kind, _ in conflicts(fed_backwards("direct"))} == {"backfeed"}
    assert conflicts(fed_backwards("diode")) == set()


def test_a_fuller_trailer_battery_gives_to_the_vehicle():
    """12.6 V on the trailer against 12.1 V on the vehicle: current flows towards the vehicle; a diode stops it."""
    for feed, least, most in (("direct", -20.0, -2.0), ("diode", -1e-3, 0.0)):
        one = solved(fed_backwards(feed))
        (battery,) = [b for b in one.circuit.of(Battery) if b.zone == "trailer"]
        assert least < one.current_a(battery.ref)[row_of(one, "service lights")] <= most
