"""What public military manuals say of faults and their symptoms, row by row, on the demo rig.

The troubleshooting tables of those manuals for lights were not in any stored copy; what was read are general rules and
checks, each named beside its test (S57). Further rows are plain reasoning on a circuit with a shared ground, derived,
common practice without a source. Left out: reversed polarity hurts LED lamps only; a swapped ground is a short here.
"""

from dataclasses import replace

import numpy as np
import pytest

from tests.fault_trials import demo_finder
from wiregen.circuit.build import vehicle_signals
from wiregen.model.circuit import Path
from wiregen.questions.faults.diagnosis import LOOKS, Change, FaultCase
from wiregen.questions.faults.finder import Finder
from wiregen.questions.faults.symptom import saw_from


@pytest.fixture(scope="module")
def finder() -> Finder:
    return demo_finder("boat trailer")


def look(finder: Finder, key: str, setting: str, lamp: str) -> str:
    book = finder.book
    row = [case.key for case in book.cases].index(key)
    place = [controls.words for controls in book.settings].index(setting)
    return LOOKS[book.looks[row, place, [one.name for one in book.watched].index(lamp)]]


def volts(finder: Finder, key: str, setting: str, point: str) -> float:
    book = finder.book
    row = [case.key for case in book.cases].index(key)
    place = [controls.words for controls in book.settings].index(setting)
    return float(book.volts_v[row, place, [one.name for one in book.points].index(point)])


def probability(finder: Finder, texts: list[str], kinds: tuple[str, ...]) -> float:
    p = finder.reasoner.posterior([one for text in texts for one in saw_from(text, finder.book)])
    return float(sum(p[row] for row, case in enumerate(finder.book.cases) if case.kind in kinds))


def test_many_problems_are_poor_grounds(finder):
    """TM 5-3805-255-14 p. 0020-9: where lamps of several circuits are dim, a poor ground is the first thought."""
    seen = ["service lights, brake: left stop and turn dim, right stop and turn dim, tail E1 dim"]
    assert probability(finder, seen, ("ground_open", "ground_resistance")) > 0.5


@pytest.mark.parametrize(("key", "helps"), [("W29 open", True), ("E3 out", False), ("W19 open", False)])
def test_a_jumper_from_the_part_to_the_hull_proves_its_ground(finder, key, helps):
    """TM 10-3930-643-20 para 2-13: a jumper from the part to the hull makes it work where its ground is at fault."""
    book = finder.book
    case = next(one for one in book.cases if one.key == key)
    wire = Path(
        ref="-JUMPER", a="-E3:2", b="chassis", circuit="ground", zone="trailer", resistance_ohm=0.01, title="jumper"
    )
    solved = finder.solve([book.cases[0], replace(case, fault=None, change=case.change.also(Change(put=(wire,))))])
    brake = [controls.words for controls in book.settings].index("brake")
    lamp = [one.name for one in book.watched].index("left stop and turn")
    assert (LOOKS[solved.looks[1, brake, lamp]] == "lit") == helps


def test_one_lamp_out_is_the_bulb_first(finder):
    """TM 9-2320-273-20 para 5-5: when one lamp is out check the bulb first."""
    seen = ["brake: left stop and turn dark, right stop and turn lit"]
    found = finder.diagnose([one for text in seen for one in saw_from(text, finder.book)])
    assert found.suspects[0].kind == "lamp_out"


def test_wiring_is_the_common_source(finder):
    """TM 5-3895-379-23 WP 0004: frayed, broken, loose or corroded wiring is the common source of problems."""
    wiring = ("wire_", "ground_", "contact_", "short_", "socket_ground")
    share = sum(
        p for p, case in zip(finder.reasoner.prior, finder.book.cases, strict=True) if case.kind.startswith(wiring)
    )
    assert share > 0.5


def test_case_grounds_are_seen(finder):
    """TM 5-3895-379-23 WP 0004: case grounds deserve attention: a lamp holder without one shows."""
    assert look(finder, "E3 holder", "brake", "left stop and turn") != "lit"


@pytest.mark.parametrize("key", ["F1 open", "T1 open", "W6 open"])
def test_without_the_towing_vehicles_supply_all_is_dark(finder, key):
    """TM 10-4610-240-10 PMCS item 1: without 24 V from the towing vehicle the trailer is not available: all is dark."""
    lamps = [one.name for one in finder.book.watched if one.is_lamp]
    row = [case.key for case in finder.book.cases].index(key)
    columns = [k for k, one in enumerate(finder.book.watched) if one.is_lamp]
    assert (finder.book.looks[row][:, columns] == 0).all(), lamps


@pytest.mark.parametrize(
    ("wire", "setting", "lamp"),
    [
        ("W17", "service lights", "tail E1"),
        ("W19", "brake", "left stop and turn"),
        ("W21", "brake", "right stop and turn"),
        ("W15", "brake", "electric brakes"),
    ],
)
def test_a_wire_without_continuity_takes_its_own_circuit_and_no_other(finder, wire, setting, lamp):
    """TM 10-4610-215-24, test of the cable: continuity wire by wire; one that has none darkens its circuit alone."""
    book = finder.book
    row = [case.key for case in book.cases].index(f"{wire} open")
    function = next(one.function for one in book.watched if one.name == lamp)
    assert look(finder, f"{wire} open", setting, lamp) == "dark"
    others = [k for k, one in enumerate(book.watched) if one.function != function]
    assert np.array_equal(book.looks[row][:, others], book.looks[0][:, others])


# --- derived, common practice, no source ---


def test_a_lifted_ground_raises_the_frame(finder):
    """Ground of the trailer open: every lamp is dark and the frame stands at the voltage of what is switched on."""
    assert look(finder, "X2:1 open", "service lights, brake", "tail E1") == "dark"
    assert look(finder, "X2:1 open", "brake", "left stop and turn") == "dark"
    assert volts(finder, "X2:1 open", "brake", "X2:1 trailer") > 10.0
    assert abs(volts(finder, "nothing", "brake", "X2:1 trailer")) < 1.0


@pytest.mark.parametrize("ohm", [0.2, 1.0])
def test_a_poor_ground_takes_its_resistance_times_the_current(finder, ohm):
    """The ground conductor takes (R + more) × I, with the current read as the drop over the contact behind it."""
    contact, wire = (finder.book.circuit.by_ref[ref] for ref in ("-X2:1", "-W22"))
    key = f"W22 +{ohm:g} ohm"
    on_plug = volts(finder, key, "brake", "X2:1 trailer")
    amps = (on_plug - volts(finder, key, "brake", "X2:1 adapter")) / contact.resistance_ohm
    on_frame = volts(finder, key, "brake", "X2:ground")
    assert on_frame - on_plug == pytest.approx((wire.resistance_ohm + ohm) * amps, rel=1e-6)
    assert on_frame > 0.5


def test_over_the_hitch_lamps_burn_dim(finder):
    """Ground open, way over the hitch: lamps are not dark as without it, and dim under load."""
    assert look(finder, "X2:1 open", "brake", "left stop and turn") == "dark"
    assert look(finder, "X2:1 open, hitch", "service lights, brake", "left stop and turn") == "dim"


def test_a_corroded_pin_drops_what_the_formula_says(finder):
    """0.2 ohm more in a pin at I amperes: 0.2 V per ampere, read on both sides of the contact."""
    drop = volts(finder, "X2:3 +0.2 ohm", "service lights", "X2:3 adapter") - volts(
        finder, "X2:3 +0.2 ohm", "service lights", "X2:3 trailer"
    )
    sound = volts(finder, "nothing", "service lights", "X2:3 adapter") - volts(
        finder, "nothing", "service lights", "X2:3 trailer"
    )
    assert 0.2 < drop - sound < 0.6


def test_crossed_left_and_right(finder):
    """Left and right crossed: the turn signal shows on the other side, braking shows nothing."""
    assert look(finder, "X2 5<>6 t", "left turn", "right stop and turn") == "flashes"
    assert look(finder, "X2 5<>6 t", "left turn", "left stop and turn") == "dark"
    assert look(finder, "X2 5<>6 t", "brake", "left stop and turn") == "lit"


def test_stop_feeds_the_tail_lamps_when_a_two_filament_holder_loses_its_ground(finder):
    """Holder of a two-filament lamp without ground: braking makes other lamps glow that should be dark."""
    assert look(finder, "E3 holder", "brake", "tail E1") in ("dim", "lit", "some dark")


def test_the_signals_of_the_rig_are_all_used(finder):
    """The settings reach every control the vehicle reacts to, but those that change no switch of this rig."""
    from tests import steps
    from tests.fault_trials import BUS

    used = {name for c in finder.book.settings for name, on in c.signals(lit=True, stop_wins=False).items() if on}
    assert {"lights", "brake", "left", "right", "hazard"} <= used & vehicle_signals(steps.load(BUS))


def test_case_is_the_record_it_says():
    """A change that drops a part and adds another leaves the rest as it was."""
    finder = demo_finder("boat trailer")
    case = next(one for one in finder.book.cases if one.key == "W29 open")
    assert isinstance(case, FaultCase)
    made = case.change.of(finder.book.circuit)
    assert len(made.elements) == len(finder.book.circuit.elements) - 1
