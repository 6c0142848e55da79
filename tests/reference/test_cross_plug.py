"""A trailer behind the wrong army's vehicle: the four rows of the table of cross-plug consequences, one by one.

All wirings of the 12-contact connector mate. The table was worked out by hand from the foldouts of the US manuals (T1,
T2), the STANAG 4007 text (N1) and the British and Australian pages (N2, N3, N4); the rigs here are plain leads that
join equal letters.
"""

import pytest

from tests.rigs import load, straight
from tests.steps import behaviour, build, check
from wiregen.model.behaviour import Behaviour
from wiregen.model.state import Controls

US, STANAG, BRITISH = "military-12-us", "military-12-stanag", "military-12-commonwealth"

US_LAMPS = ("tail", "stop_turn_left", "stop_turn_right", "blackout_tail", "blackout_stop")
STANAG_LAMPS = (
    "tail",
    "stop",
    "turn_left",
    "turn_right",
    "fog",
    "reverse",
    "blackout_command",
    "blackout_marker",
    "blackout_stop",
)
BRITISH_LAMPS = (
    "tail",
    {"function": "stop", "contact": "B", "side": "left"},
    {"function": "stop", "contact": "J", "side": "right"},
    "turn_left",
    "turn_right",
    "blackout_marker",
)
BRAKE = Controls(brake=True)
LEFT, RIGHT = Controls(turn="left"), Controls(turn="right")
HAZARD = Controls(hazard=True)
BLACKOUT = Controls(lighting="blackout")
LIGHTS = Controls(lighting="service")


def table(socket: str, plug: str, lamps, **more) -> Behaviour:
    loaded = load(straight(socket, plug, lamps, **more))
    (made,) = behaviour(loaded, build(loaded))
    return made


def looks(made: Behaviour, controls: Controls) -> dict[str, str]:
    """What each lamp does in one setting, by function; the two stop lamps of a British trailer as stop and stop 2."""
    found: dict[str, str] = {}
    for row in made.rows:
        if row.controls == controls:
            found[f"{row.function} 2" if row.function in found else row.function] = row.actual
    return found


def lit(made: Behaviour, controls: Controls) -> dict[str, str]:
    return {name: look for name, look in looks(made, controls).items() if look != "dark"}


def wrong(made: Behaviour, controls: Controls) -> set[str]:
    """Functions that do not do what they must in one setting."""
    return {row.function for row in made.rows if row.controls == controls and not row.fits}


def fed_backwards(made: Behaviour, circuit_of: dict[str, str]) -> set[tuple[str, str]]:
    """(circuit fed backwards, simplest state) of every backfeed."""
    return {(circuit_of[c.terminals[0]], c.controls.words) for c in made.conflicts if c.kind == "backfeed"}


def switches(socket: str, plug: str, lamps, **more) -> dict[str, str]:
    loaded = load(straight(socket, plug, lamps, **more))
    return {e.ref: e.circuit for e in build(loaded).circuits[0].elements if e.ref.startswith("-S")}


def test_us_vehicle_stanag_trailer():
    """Braking lights both turn lamps steadily and no stop lamp; blackout makes A, C and H live: fog (T1 T2 N1)."""
    made = table(US, STANAG, STANAG_LAMPS)
    assert lit(made, BRAKE) == {"turn_left": "steady", "turn_right": "steady"}
    assert wrong(made, BRAKE) == {"stop", "turn_left", "turn_right"}
    assert lit(made, BLACKOUT) == {"blackout_command": "steady", "blackout_marker": "steady", "fog": "steady"}
    assert wrong(made, BLACKOUT) == {"fog"}
    # Turn signals and tail lamps come out right, and the stop lamp burns in no setting at all: M is dead.
    assert lit(made, LEFT) == {"turn_left": "flash"}
    assert lit(made, LIGHTS) == {"tail": "steady"}
    assert {row.actual for row in made.rows if row.function == "stop"} == {"dark"}
    assert made.conflicts == ()


def test_us_vehicle_stanag_trailer_live_contacts():
    """In blackout the US vehicle puts its supply on A, C and H of the plug, and on F with the pedal (T1 T2)."""
    made = table(US, STANAG, STANAG_LAMPS)
    in_blackout = {ref for ref in made.live_contacts[BLACKOUT] if ref.startswith("-X2:")}
    assert in_blackout == {"-X2:A", "-X2:C", "-X2:H"}
    braking = {ref for ref in made.live_contacts[Controls(lighting="blackout", brake=True)] if ref.startswith("-X2:")}
    assert braking == {"-X2:A", "-X2:C", "-X2:F", "-X2:H"}


def test_us_vehicle_british_trailer():
    """M and N are dead, so there are no indicators; each stop lamp flashes with the turn signal of its side."""
    made = table(US, BRITISH, BRITISH_LAMPS)
    assert lit(made, LEFT) == {"stop": "flash"}
    assert lit(made, RIGHT) == {"stop 2": "flash"}
    assert lit(made, BRAKE) == {"stop": "steady", "stop 2": "steady"}
    assert {row.actual for row in made.rows if row.function.startswith("turn_")} == {"dark"}
    assert wrong(made, HAZARD) == {"stop", "turn_left", "turn_right"}
    assert made.conflicts == ()


def test_us_vehicle_british_trailer_with_b_and_j_bridged():
    """A trailer that bridges B and J shorts left and right together: each turn output is fed by the other one."""
    more = {"bridged": [["B", "J"]]}
    made = table(US, BRITISH, BRITISH_LAMPS, **more)
    assert lit(made, LEFT) == {"stop": "flash", "stop 2": "flash"}
    assert lit(made, RIGHT) == {"stop": "flash", "stop 2": "flash"}
    assert fed_backwards(made, switches(US, BRITISH, BRITISH_LAMPS, **more)) == {
        ("stop_turn_left", "right turn"),
        ("stop_turn_right", "left turn"),
    }


def test_stanag_vehicle_us_trailer():
    """Turn signals work; no stop lamp burns in any setting, because stop is on M; nothing is shorted (N1, T1)."""
    made = table(STANAG, US, US_LAMPS)
    assert lit(made, LEFT) == {"stop_turn_left": "flash"}
    assert lit(made, RIGHT) == {"stop_turn_right": "flash"}
    assert lit(made, HAZARD) == {"stop_turn_left": "flash", "stop_turn_right": "flash"}
    assert lit(made, BRAKE) == {}
    assert wrong(made, BRAKE) == {"stop_turn_left", "stop_turn_right"}
    assert {row.actual for row in made.rows if row.function.startswith("stop_turn")} == {"dark", "flash"}
    # Reverse arrives on N, where the trailer has nothing.
    assert lit(made, Controls(reverse=True)) == {}
    assert made.conflicts == ()


def test_stanag_vehicle_us_trailer_with_a_c_h_tied():
    """A trailer that ties A, C and H joins the vehicle's blackout, convoy and fog outputs: each feeds the others."""
    more = {"bridged": [["A", "C", "H"]]}
    made = table(STANAG, US, US_LAMPS, **more)
    assert fed_backwards(made, switches(STANAG, US, US_LAMPS, **more)) == {
        ("fog", "blackout"),
        ("blackout_command", "service lights, rear fog"),
        ("blackout_marker", "service lights, rear fog"),
    }
    # Rear fog then lights the trailer's blackout tail lamps on the open road.
    assert looks(made, Controls(lighting="service", fog=True))["blackout_tail"] == "steady"


def test_british_vehicle_us_trailer():
    """Stop works on both sides; there are no turn signals, because M and N lead nowhere (N2 N3 N4, T1)."""
    made = table(BRITISH, US, US_LAMPS)
    assert lit(made, BRAKE) == {"stop_turn_left": "steady", "stop_turn_right": "steady"}
    for setting in (LEFT, RIGHT, HAZARD):
        assert lit(made, setting) == {}
    assert wrong(made, LEFT) == {"stop_turn_left"}
    assert wrong(made, HAZARD) == {"stop_turn_left", "stop_turn_right"}
    assert "flash" not in {row.actual for row in made.rows}
    assert lit(made, BLACKOUT) == {"blackout_tail": "steady"}
    assert made.conflicts == ()


@pytest.mark.parametrize(
    ("socket", "plug", "lamps", "ties", "rules"),
    [
        (US, STANAG, STANAG_LAMPS, [], {"lamp-behaviour"}),
        (US, BRITISH, BRITISH_LAMPS, [["B", "J"]], {"lamp-behaviour", "backfeed"}),
        (STANAG, US, US_LAMPS, [["A", "C", "H"]], {"lamp-behaviour", "backfeed"}),
        (BRITISH, US, US_LAMPS, [], {"lamp-behaviour"}),
    ],
)
def test_the_check_names_the_lamps_and_the_shared_shell(socket, plug, lamps, ties, rules):
    """Each row gives errors of the named rules, and a notice that other wirings mate with this shell."""
    findings = check(load(straight(socket, plug, lamps, bridged=ties))).findings
    assert {f.rule for f in findings if f.severity == "error"} == rules
    assert {f.where for f in findings if f.rule == "shared-shell"} == {"-X1 vehicle socket", "-X2 test trailer"}
    for finding in findings:
        if finding.rule == "lamp-behaviour":
            assert finding.message.rpartition("; fed by ")[2] in {"straight lead", "no channel"}


def test_equal_letters_of_one_wiring_are_right():
    """The twin: each wiring behind a vehicle of its own kind does everything right, ties or not."""
    for wiring, lamps, ties in (
        (US, US_LAMPS, [["A", "C", "H"]]),
        (STANAG, STANAG_LAMPS, []),
        (BRITISH, BRITISH_LAMPS, [["A", "C", "H"], ["B", "J"]]),
    ):
        made = table(wiring, wiring, lamps, bridged=ties)
        assert [(row.function, row.controls.words) for row in made.rows if not row.fits] == []
        assert made.conflicts == ()
