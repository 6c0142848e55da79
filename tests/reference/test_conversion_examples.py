"""Conversions against formulas done by hand, sources beside them, and a centre tap against ngspice."""

from dataclasses import replace

import pytest

from tests.plain_solver import solve as solve_here
from tests.reference.ngspice_batch import solve_many
from tests.reference.swept import LAWS
from tests.rigs import BOX_FEED, SUPPLY, load, rig
from tests.steps import build
from wiregen.catalogue.relays import brake_current, switch_rating_needed_a
from wiregen.circuit.build import vehicle_signals
from wiregen.convert.rewrite import behind_12v, one_lamp_each, rewrite
from wiregen.convert.ways import WAYS
from wiregen.model.circuit import Battery, Converter, Equaliser, Lamp, Load
from wiregen.model.corner import NOMINAL
from wiregen.questions.box.judge import allowed
from wiregen.questions.box.record import ChannelNeed, Label, TrailerNeed
from wiregen.questions.netlist.spice import netlist_text, point_of
from wiregen.questions.ways.ask import way_result
from wiregen.questions.ways.sizes import sized
from wiregen.solve.full_study import solve_study
from wiregen.solve.heat import heat_of_w

WAY = {way.id: way for way in WAYS}
#: Copper, contacts and battery that are next to nothing, so that a formula without them holds.
NOTHING_LOST = {
    "runs": [
        {"from": a, "to": b, "length": "1 mm", "size": "16 mm²"}
        for a, b in (
            ("battery", "socket"), ("socket", "chassis"), ("battery", "adapter"), ("adapter", "chassis"),
            ("socket", "adapter"), ("adapter", "trailer"), ("trailer", "lamps"),
        )
    ],
    "vehicle": {
        "battery": {"running": "28 V", "resistance": "1e-6 ohm"},
        "switch_resistance": "1e-6 ohm",
        "chassis_resistance": "1e-6 ohm",
    },
}  # fmt: skip


def lamps(kind, count):
    return [{"function": "tail", "type": kind, "count": count, "branch": "1 mm"}]


def finished(text, way):
    """The rig of a way with every rating filled in."""
    return sized(rewrite(load(text), WAY[way]), WAY[way])[0]


def nominal(loaded):
    """Every state at the nominal corner, of the first trailer."""
    return solve_study(build(loaded).circuits[0], vehicle_signals(loaded), [NOMINAL])


def root(f, low, high):
    """The zero of a rising function, by halving."""
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if f(middle) < 0 else (low, middle)
    return (low + high) / 2


# --- CV: converters ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("volts", "efficiency", "amps", "input_a"),
    [
        # CV-1 (S56): a 12 V 1 A module from 24 V takes 0.575 A at 87 % and 0.610 A at 82 %.
        ("12 V", "87 %", 1.0, 0.575),
        ("12 V", "82 %", 1.0, 0.610),
        # CV-2 (derived): 13.6 V 10 A at 90 % takes 6.296 A from 24 V and turns 15.1 W into heat.
        ("13.6 V", "90 %", 10.0, 6.296),
    ],
)
def test_cv_a_box_on_a_converter(volts, efficiency, amps, input_a):
    """The converter of the way 'relay box on a converter' takes what the examples print, and its heat is the rest."""
    set_v = float(volts.split()[0])
    supply = {
        "kind": "converter", "fed_by": "box_feed", "output": volts, "efficiency": efficiency, "continuous": "40 A",
        "output_resistance": "1e-6 ohm", "idle": "1 mA",
    }  # fmt: skip
    vehicle = {**NOTHING_LOST["vehicle"], "battery": {"running": "24 V", "resistance": "1e-6 ohm"}}
    # One filament that takes the current at the output voltage: technology, voltage and power of its own.
    lamp = {"function": "tail", "technology": "filament", "voltage": volts, "power": f"{set_v * amps} W"}
    text = rig(
        channels=[{"input": "tail", "output": "tail", "contact_resistance": "1e-6 ohm", "rating": "30 A"}],
        lamps=[{**lamp, "branch": "1 mm"}],
        supply=supply,
        taps=[BOX_FEED],
        runs=NOTHING_LOST["runs"],
        vehicle=vehicle,
    )
    solved = nominal(finished(text, "converter"))
    (converter,) = solved.circuit.of(Converter)
    row = max(range(len(solved.points)), key=lambda r: solved.current_a(converter.ref)[r])
    assert solved.current_a(converter.ref)[row] == pytest.approx(amps, rel=0.005)
    assert solved.input_a[converter.ref][row] == pytest.approx(input_a, rel=0.01)
    share = float(efficiency.split()[0]) / 100
    # What it takes without load, and the 10 kohm across its output that the model has, come on top.
    heat_w = set_v * amps * (1 / share - 1) + 24.0 * 0.001 + set_v**2 / 10_000
    assert heat_of_w(solved, converter)[row] == pytest.approx(heat_w, rel=0.005)


# --- BR: electric brakes -----------------------------------------------------------------------------------------

BRAKED = rig(
    channels=[
        "tail > tail",
        {"name": "brakes", "device": "brake_controller", "input": "pedal", "output": "brake", "rating": "25 A"},
    ],
    lamps=["tail"],
    pedal=True,
    brakes={"magnets": 4, "magnet_resistance": "3.3 ohm"},
)


@pytest.mark.parametrize("way", [way.id for way in WAYS])
def test_br_1_the_brakes_draw_the_same_in_every_way(way):
    """BR-1 (S48): four magnets of 10 and 12 in drums take 15.0 to 16.3 A at 12 to 13 V; 24 V never reach them."""
    solved = nominal(finished(BRAKED, way))
    (magnets,) = solved.circuit.of(Load)
    volts, amps = solved.across_v(magnets).max(), solved.current_a(magnets.ref).max()
    table = brake_current(4, 12.5)
    assert (table.low_a, table.high_a) == (15.0, 16.3)
    assert 12.0 < volts < 14.5
    # The table is for 12 to 13 V; a magnet is a resistance, so its current goes with its voltage.
    assert table.low_a <= amps * 13.0 / volts <= table.high_a


def test_br_2_one_magnet():
    """BR-2 (derived from S48): 3.2 to 3.5 ohm at 12 V are 3.43 to 3.75 A; four of 3.3 ohm are one of 0.825 ohm."""
    solved = nominal(finished(BRAKED, "24v-lamps"))
    (magnets,) = solved.circuit.of(Load)
    row = int(solved.across_v(magnets).argmax())
    each_at_12_v = float(solved.current_a(magnets.ref)[row] / 4 * 12.0 / solved.across_v(magnets)[row])
    assert 3.43 <= each_at_12_v <= 3.75


# --- SW: contacts ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("contact_v", "example", "rating_a"), [(24.0, "SW-1", 16.0), (12.0, "SW-2", 10.0)])
def test_sw_a_box_is_judged_no_milder_than_a_switch(contact_v, example, rating_a):
    """SW-1, SW-2 (S2, AC 43.13-1B table 11-4): a 2 A lamp circuit wants a switch of 16 A at 28 V and 10 A at 12 V.

    A box whose label says resistive amps for 12 V must print at least as much before its contact may close on 2 A of
    lamps.
    """
    assert switch_rating_needed_a(28.0 if contact_v > 16 else 12.0, "lamp", 2.0) == rating_a, example
    one = ChannelNeed(channel="K1", feeds="tail", steady_a=2.0, state="", closing_a=20.0)
    asked = TrailerNeed(
        trailer="t", channels=(one,), lamps_a=2.0, lamps_state="", all_a=2.0, state="", cold_a=20.0, besides="",
        contact_v=contact_v, ambient_c=20.0,
    )  # fmt: skip

    def may_close(printed_a):
        label = Label(channels=1, each_a=printed_a, total_a=100.0, voltage_v=12.0, load="resistive", duty="continuous")
        limit = allowed(label, asked).closing_a
        return limit is not None and one.closing_a <= limit

    least_a = next(amps for amps in range(1, 100) if may_close(float(amps)))
    assert least_a >= rating_a
    # S40 and S41 by hand: 2 A × 10, twice that where a 12 V rating switches 24 V.
    assert least_a == (40 if contact_v > 16 else 20)


# --- series resistors --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [2, 4])
def test_a_resistor_by_hand(count):
    """Filament law I = I0 (V/V0)^0.55 (S35) behind R = (28 - 13.5) / (N × I0): all burn at V0, one alone far above.

    P21W at 13.5 V: 25 W objective, 1.852 A (UN R37, from memory).
    """
    text = rig(lamps=lamps("p21w-12v", count), **NOTHING_LOST)
    (row,) = way_result(load(text), WAY["resistors"]).resistors
    rated_a = 25.0 / 13.5
    ohm = (28.0 - 13.5) / (count * rated_a)
    alone_v = root(lambda volts: rated_a * (volts / 13.5) ** 0.55 - (28.0 - volts) / ohm, 1.0, 28.0)
    assert row.resistance_ohm == pytest.approx(ohm, rel=1e-6)
    assert row.together_v == pytest.approx(13.5, abs=0.15)
    assert row.alone_v == pytest.approx(alone_v, abs=0.15)
    assert alone_v > 18.0
    # All lamps burning while charging: the heat is at least what flows at the running voltage.
    assert row.heat_w > (28.0 - 13.5) * count * rated_a


def test_a_resistor_alone_is_the_rig_with_one_lamp():
    """The figure for one lamp left is that of a rig which has one lamp, behind the same resistor."""
    text = rig(lamps=lamps("p21w-12v", 3), **NOTHING_LOST)
    final = finished(text, "resistors")
    solved = nominal(one_lamp_each(final))
    (lamp,) = solved.circuit.of(Lamp)
    (row,) = way_result(load(text), WAY["resistors"]).resistors
    assert lamp.count == 1
    assert row.alone_v == pytest.approx(float(solved.across_v(lamp).max()))


def test_an_led_lamp_behind_a_resistor_has_several_operating_points():
    """A lamp that holds P behind R has V = (28 ± sqrt(28² - 4 R P)) / 2; the result says that it may hang when lit.

    6 W at 12 V: R = 32 ohm, roots 12 and 16 V; at its 7 V cut-off it asks for 0.86 A, and only 0.66 A come.
    """
    loaded = load(rig(lamps=lamps("led-stop-12v", 1), **NOTHING_LOST))
    found = way_result(loaded, WAY["resistors"])
    (row,) = found.resistors
    assert row.resistance_ohm == pytest.approx(32.0)
    roots = [(28 + sign * (28**2 - 4 * 32 * 6) ** 0.5) / 2 for sign in (-1, 1)]
    assert roots == [12.0, 16.0]
    assert (28 - 7) / 32 < 6 / 7
    assert any("may hang" in note for note in found.notes)
    bulb = way_result(load(rig(lamps=lamps("p21w-12v", 1), **NOTHING_LOST)), WAY["resistors"])
    assert not any("may hang" in note for note in bulb.notes)


# --- 24 V lamps behind a 12 V car --------------------------------------------------------------------------------


def test_lr_7_a_24_v_bulb_behind_a_12_v_car():
    """LR-7 (derived from S35): P21W 24 V, 1.0 A at 28 V, gives 8.4 % light and takes 0.669 A at 13.5 V."""
    text = rig(lamps=lamps("p21w-12v", 1), **NOTHING_LOST)
    made = rewrite(load(text), WAY["24v-lamps"])
    solved = nominal(behind_12v(made))
    (lamp,) = solved.circuit.of(Lamp)
    row = int(solved.across_v(lamp).argmax())
    assert solved.across_v(lamp)[row] == pytest.approx(13.5, abs=0.08)
    assert solved.current_a(lamp.ref)[row] == pytest.approx(0.669, rel=0.01)
    (behind,) = way_result(load(text), WAY["24v-lamps"]).behind_12v
    assert behind.share == pytest.approx(0.084, abs=0.002)


# --- centre tap --------------------------------------------------------------------------------------------------


def test_a_centre_tap_by_hand():
    """S55: a tap of I empties the lower battery alone, I Ah an hour; an equaliser passes I / (2 × 0.9) from the pair.

    10 A tapped with an efficiency of 0.9: 5.6 A from 24 V.
    """
    lamp = {"function": "tail", "technology": "filament", "voltage": "14 V", "power": "140 W", "branch": "1 mm"}
    # The batteries keep their resistance: an equaliser relieves them because they give way and it does not.
    vehicle = {**NOTHING_LOST["vehicle"], "battery": {"running": "28 V", "resistance": "20 mohm"}}
    channels = [{"input": "tail", "output": "tail", "rating": "30 A"}]
    text = rig(channels=channels, lamps=[lamp], runs=NOTHING_LOST["runs"], vehicle=vehicle)
    plain, even = (nominal(finished(text, way)) for way in ("centre-tap", "centre-tap-equaliser"))
    lower, upper = plain.circuit.of(Battery)
    row = int(plain.imbalance_a().argmax())
    tap_a = float(plain.imbalance_a()[row])
    assert tap_a == pytest.approx(10.0, abs=0.3)
    assert -plain.current_a(lower.ref)[row] - tap_a == pytest.approx(-plain.current_a(upper.ref)[row])
    (equaliser,) = even.circuit.of(Equaliser)
    row = int(even.current_a(equaliser.ref).argmax())
    given = float(even.current_a(equaliser.ref)[row])
    assert given == pytest.approx(10.0, abs=0.6)
    assert even.input_a[equaliser.ref][row] - equaliser.idle_a == pytest.approx(given / (2 * 0.9), rel=0.01)
    drawn_a = 10.0 / (2 * 0.9)
    assert drawn_a == pytest.approx(5.6, abs=0.05)


@pytest.mark.parametrize("way", ["centre-tap", "resistors"])
def test_a_rewritten_rig_agrees_with_ngspice(way, tmp_path):
    """Every terminal of the rewritten and sized rig has ngspice's voltage to a microvolt, everything on."""
    # A regulated LED lamp behind a resistor has several operating points, and two programs may find different ones.
    stop = "stop_turn_left p21w-12v" if way == "resistors" else "stop_turn_left led-stop-12v"
    text = rig(
        channels=["tail > tail", "stop_turn_left > stop_turn_left"],
        lamps=[{"function": "tail", "type": "r10w-12v", "count": 2}, stop],
        supply={**SUPPLY, "continuous": "20 A"},
        taps=[BOX_FEED],
        runs=[],
    )
    final = finished(text, way)
    (circuit,) = build(final).circuits
    study = solve_here(circuit, vehicle_signals(final))
    row = max(range(len(study.points)), key=lambda r: sum(abs(study.current_a(e.ref)[r]) for e in circuit.of(Lamp)))
    point = point_of(circuit, study, row)
    (theirs,) = solve_many([netlist_text(replace(point, volts={}), LAWS)], tmp_path)
    adrift = {name for group in point.floating for name in group}
    names = [name for name in circuit.terminals[1:] if name not in adrift]
    ours = {name: float(study.voltage_v(name)[row]) for name in names}
    number = {name: f"n{index}" for index, name in enumerate(circuit.terminals)}
    assert ours == pytest.approx({name: theirs[number[name]] for name in names}, rel=0, abs=1e-6)
