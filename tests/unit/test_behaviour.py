"""The behaviour table against truth tables written by hand, and wrong rigs that it must find.

The hand tables say what each lamp does, typed out row by row from the rules of practice (stop lamps burn with the
pedal, turn lamps flash with the lever or the hazard switch, on shared lamps the flash wins over the pedal on its own
side). They share no expression with ``wiregen.catalogue.circuits``.
"""

from itertools import product

import pytest

from tests.circuits import GROUND, battery, circuit, coil, filament, relay
from tests.conversions import HABIT, INTERRUPTED, ONE_TO_ONE, SEPARATE_LAMPS, SHARED_LAMPS, STOP_TAP, TO_SEPARATE, XOR
from tests.plain_solver import solve
from tests.rigs import load, rig, straight
from tests.steps import behaviour, build, check
from wiregen.circuit.behaviour import behave
from wiregen.model.behaviour import Behaviour
from wiregen.model.circuit import Battery, Circuit, Coil, Gate, Lamp, Path, RelayContact
from wiregen.model.logic import parse
from wiregen.model.state import Controls

#: Pedal, lever as seen from one side, hazard switch -> a shared stop and turn signal of that side: on the usual
#: vehicle, and on one where the pedal holds the hazard flashing steady.
SHARED = {
    ("up", "rest", "off"): ("dark", "dark"),
    ("up", "this", "off"): ("flash", "flash"),
    ("up", "other", "off"): ("dark", "dark"),
    ("up", "rest", "on"): ("flash", "flash"),
    ("up", "this", "on"): ("flash", "flash"),
    ("up", "other", "on"): ("flash", "flash"),
    ("down", "rest", "off"): ("steady", "steady"),
    ("down", "this", "off"): ("flash", "flash"),
    ("down", "other", "off"): ("steady", "steady"),
    ("down", "rest", "on"): ("flash", "steady"),
    ("down", "this", "on"): ("flash", "steady"),
    ("down", "other", "on"): ("flash", "steady"),
}
#: What a shared lamp may do: as above, but braking with the hazard lights on leaves both answers open.
SHARED_ALLOWED = {
    **{row: {looks[0]} for row, looks in SHARED.items()},
    ("down", "rest", "on"): {"flash", "steady"},
    ("down", "this", "on"): {"flash", "steady"},
    ("down", "other", "on"): {"flash", "steady"},
}
#: What a turn lamp of its own does; the pedal is none of its business.
TURN = {
    ("rest", "off"): "dark",
    ("this", "off"): "flash",
    ("other", "off"): "dark",
    ("rest", "on"): "flash",
    ("this", "on"): "flash",
    ("other", "on"): "flash",
}
#: What such a lamp does behind a shared signal whose stop part was taken out: flash stays, steady becomes dark.
TAKEN_OUT = {"flash": "flash", "steady": "dark", "dark": "dark"}

BASE = {"lighting": ("off", "service", "blackout"), "brake": (False, True), "turn": ("none", "left", "right")}
US = {**BASE, "hazard": (False, True)}
#: A civilian vehicle has no blackout switch.
ISO_1185 = {**US, "lighting": ("off", "service")}
ISO_12098 = {**ISO_1185, "reverse": (False, True), "fog": (False, True)}


def settings(controls: dict[str, tuple]) -> list[Controls]:
    """Every setting of the named controls."""
    return [Controls(**dict(zip(controls, values, strict=True))) for values in product(*controls.values())]


def side_view(one: Controls, side: str) -> tuple[str, str, str]:
    """Pedal, lever as seen from a side, hazard switch."""
    lever = "rest" if one.turn == "none" else "this" if one.turn == side else "other"
    return "down" if one.brake else "up", lever, "on" if one.hazard else "off"


def steady_if(flag: bool) -> str:
    return "steady" if flag else "dark"


def by_hand(function: str, one: Controls, *, vehicle: str, habit: bool = False) -> str:
    """What a lamp does when everything is wired right; ``vehicle`` has shared or separate signals."""
    service, dark_drive = one.lighting == "service", one.lighting == "blackout"
    if function.startswith("tail"):
        return steady_if(service)
    if function == "fog":
        return steady_if(service and one.fog)
    if function.startswith("blackout"):
        return steady_if(dark_drive and (one.brake or function == "blackout_tail"))
    if dark_drive:
        return "dark"
    if function == "stop":
        return steady_if(one.brake)
    if function == "reverse":
        return steady_if(one.reverse)
    kind, _, side = function.rpartition("_")
    view = side_view(one, side)
    signal = SHARED[view][habit]
    if kind == "stop_turn":
        # A vehicle with separate signals never holds the flash: each of its wires minds its own switch.
        return signal if vehicle == "shared" else SHARED[view][0]
    assert kind == "turn"
    return TAKEN_OUT[signal] if vehicle == "shared" else TURN[view[1:]]


def allowed(function: str, one: Controls, *, habit: bool = False) -> set[str]:
    """What practice allows a lamp to do."""
    if one.lighting != "blackout" and function.startswith("stop_turn_"):
        return SHARED_ALLOWED[side_view(one, function.removeprefix("stop_turn_"))]
    right = {by_hand(function, one, vehicle="separate")}
    if habit and function.startswith("turn_") and one.brake and one.hazard and one.lighting != "blackout":
        right |= {"dark"}  # such a vehicle cannot tell a trailer that the hazard lights run
    return right


def table(text: str) -> Behaviour:
    loaded = load(text)
    (one,) = behaviour(loaded, build(loaded))
    return one


RIGHT = {
    "shared to shared": (
        {"socket": "military-12-us", "plug": "sae-j2863", "lamps": SHARED_LAMPS},
        [f"{name} > {name}" for name in SHARED_LAMPS],
        US,
        "shared",
        False,
    ),
    "shared to shared, pedal holds": (
        {"socket": "military-12-us", "plug": "sae-j2863", "lamps": SHARED_LAMPS, "vehicle": HABIT},
        [f"{name} > {name}" for name in SHARED_LAMPS],
        US,
        "shared",
        True,
    ),
    "separate to shared, xor": (
        {"socket": "iso-12098", "plug": "sae-j1239-4", "lamps": SHARED_LAMPS},
        XOR,
        ISO_12098,
        "separate",
        False,
    ),
    "separate to shared, interrupted stop": (
        {"socket": "iso-12098", "plug": "sae-j1239-4", "lamps": SHARED_LAMPS},
        INTERRUPTED,
        ISO_12098,
        "separate",
        False,
    ),
    "separate to separate, 7-contact": (
        {"socket": "iso-1185", "plug": "iso-11446", "lamps": SEPARATE_LAMPS},
        ONE_TO_ONE,
        ISO_1185,
        "separate",
        False,
    ),
    "separate to separate, 15-contact": (
        {"socket": "iso-12098", "plug": "iso-11446", "lamps": [*SEPARATE_LAMPS, "reverse", "fog"]},
        [*ONE_TO_ONE, "reverse > reverse", "fog > fog"],
        ISO_12098,
        "separate",
        False,
    ),
    "shared to separate, stop tap": (
        {"socket": "military-12-us", "plug": "iso-11446", "lamps": SEPARATE_LAMPS, "taps": [STOP_TAP]},
        TO_SEPARATE,
        US,
        "shared",
        False,
    ),
    "shared to separate, stop tap, pedal holds": (
        {
            "socket": "military-12-us",
            "plug": "iso-11446",
            "lamps": SEPARATE_LAMPS,
            "taps": [STOP_TAP],
            "vehicle": HABIT,
        },
        TO_SEPARATE,
        US,
        "shared",
        True,
    ),
}


@pytest.mark.parametrize("device", ["relay", "solid_state"])
@pytest.mark.parametrize("name", RIGHT)
def test_a_right_rig_does_what_the_hand_table_says(name, device):
    """Every lamp of a rightly converted rig does what the hand table says, in every setting, and that is allowed."""
    keys, channels, controls, vehicle, habit = RIGHT[name]
    made = table(rig(channels=[f"{entry} | {device}" for entry in channels], **keys))
    expected = {
        (function, one): by_hand(function, one, vehicle=vehicle, habit=habit)
        for function in keys["lamps"]
        for one in settings(controls)
    }
    assert {(row.function, row.controls): row.actual for row in made.rows} == expected
    wanted = {
        (function, one): allowed(function, one, habit=habit) for function in keys["lamps"] for one in settings(controls)
    }
    assert {(row.function, row.controls): row.wanted for row in made.rows} == wanted
    assert [row for row in made.rows if not row.fits] == []
    assert made.conflicts == ()


def test_equal_wirings_behind_a_straight_lead():
    """A US trailer behind a US vehicle, 24 V throughout: service and blackout lamps follow the hand table."""
    lamps = [*SHARED_LAMPS, "blackout_tail", "blackout_stop"]
    made = table(straight("military-12-us", "military-12-us", lamps))
    expected = {(function, one): by_hand(function, one, vehicle="shared") for function in lamps for one in settings(US)}
    assert {(row.function, row.controls): row.actual for row in made.rows} == expected
    assert [row for row in made.rows if not row.fits] == []
    assert made.conflicts == ()


def test_the_half_of_the_flash_a_lamp_burns_in():
    """Behind stop xor turn a lamp flashes with the lever, and in the other half while the pedal is down too."""
    made = table(rig("iso-1185", "sae-j1239-4", channels=XOR, lamps=SHARED_LAMPS))
    burns = {row.controls.words: row.burns for row in made.rows if row.function == "stop_turn_left"}
    assert {words: burns[words] for words in ("all off", "brake", "left turn", "brake, left turn", "right turn")} == {
        "all off": (False, False),
        "brake": (True, True),
        "left turn": (True, False),
        "brake, left turn": (False, True),
        "right turn": (False, False),
    }
    assert all((row.burns[0] != row.burns[1]) == (row.actual == "flash") for row in made.rows)


@pytest.mark.parametrize("name", RIGHT)
def test_a_right_rig_has_no_behaviour_finding(name):
    """A rightly converted rig has no finding from the behaviour table nor from the wiring as written."""
    keys, channels, *_ = RIGHT[name]
    report = check(load(rig(channels=channels, **keys)))
    assert [f for f in report.findings if f.severity == "error"] == []


CHATTER = [
    "turn_left > turn_left | wire",
    {"input": "not turn_left", "output": "turn_left", "pick_up": "8 V", "rating": "9 A"},
]


def test_relays_that_chatter_are_unsettled_for_behaviour_and_solver():
    """A coil whose contact feeds the coil's own circuit backwards and opens by it never rests; both stages say so."""
    text = rig("iso-1185", "iso-11446", channels=CHATTER, lamps=["turn_left"])
    loaded = load(text)
    built = build(loaded)
    (made,) = behaviour(loaded, built)
    assert ("unsettled", ("-K1",)) in {(c.kind, c.terminals) for c in made.conflicts}
    study = solve(built.circuits[0], ["left", "right", "hazard"])
    trouble = {state.words: words for state, words in zip(study.states, study.trouble, strict=True)}
    assert trouble["all off"] == "never comes to rest: -K1 in, then -K1 out, and so on"
    findings = {f.rule: f for f in check(loaded).findings}
    assert findings["unsettled"].state == "all off"
    assert findings["unsettled"].where == "-K1"
    assert findings["no-operating-point"].state == "all off"


def buzzer(logic: str) -> Circuit:
    """A 24 V battery, a relay whose contact feeds its own coil, and a lamp beside the coil."""
    coil = {"circuit": "supply", "zone": "adapter"}
    return Circuit(
        title="buzzer",
        trailer="none",
        reference="-G1:-",
        stop_wins=False,
        elements=(
            Battery(
                ref="-G1", a="plus", b="-G1:-", circuit="supply", zone="vehicle", voltage_v=24, resistance_ohm=0.02
            ),
            RelayContact(
                ref="-K1:30-87",
                a="plus",
                b="fed",
                gate=Gate(logic=parse(logic), coils={"self": "-K1"}),
                rating_a=10,
                resistance_ohm=0.01,
                **coil,
            ),
            Path(ref="-W1", a="fed", b="coil", resistance_ohm=0.01, **coil),
            Coil(ref="-K1", a="coil", b="-G1:-", resistance_ohm=350, pick_up_v=16, drop_out_v=2.4, **coil),
            Lamp(
                ref="-E1",
                a="coil",
                b="-G1:-",
                circuit="stop",
                zone="trailer",
                count=1,
                technology="filament",
                rated_v=28,
                rated_a=1,
                peak_a=1,
                nominal_v=24,
                max_v=32,
                function="stop",
            ),
        ),
    )


def test_a_buzzer_never_rests():
    """A coil fed through its own break contact: 'unsettled' in the table, words from the solver, no numbers."""
    made_by_hand = buzzer("not self")
    made = behave(made_by_hand, [])
    assert [(c.kind, c.terminals) for c in made.conflicts] == [("unsettled", ("-K1",))]
    study = solve(made_by_hand, [])
    assert study.trouble == ("never comes to rest: -K1 in, then -K1 out, and so on",)
    assert study.trusted().states == ()


def test_a_part_burns_whichever_end_is_plus():
    """A lamp and a coil whose second end is on plus work like those whose first end is; two ends on plus are dark."""
    turned = circuit(
        battery(24),
        coil("-K1", GROUND, "plus"),
        relay("-K1:30-87", "plus", "fed", "k", {"k": "-K1"}),
        filament("-E1", GROUND, "fed"),
        filament("-E2", "fed", "plus"),
    )
    assert {row.lamp: row.actual for row in behave(turned, []).rows} == {"-E1": "steady", "-E2": "dark"}


def test_a_relay_that_holds_itself_rests_open():
    """A coil fed through its own make contact rests where it starts: open. Neither stage calls that unsettled."""
    made_by_hand = buzzer("self")
    made = behave(made_by_hand, [])
    assert made.conflicts == ()
    assert [row.actual for row in made.rows] == ["dark"]
    study = solve(made_by_hand, [])
    assert study.trouble == ("",)
    assert study.pulled == (frozenset(),)
