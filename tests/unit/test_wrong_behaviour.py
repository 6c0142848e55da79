"""Wrong rigs that the behaviour table must find: controls, lamp, what is wanted, what is found, and the channel."""

import re

from tests.conversions import HABIT, SEPARATE_LAMPS, SHARED_LAMPS, TO_SEPARATE, XOR
from tests.rigs import SUPPLY, load, rig, straight
from tests.steps import check
from wiregen.model.finding import Finding


def behaviour_findings(text: str) -> dict[tuple[str, str, str], Finding]:
    """Findings by (lamp, state, message without the count of further settings)."""
    return {
        (f.where, f.state, re.sub(r" \(and under \d+ more settings?\)", "", f.message)): f
        for f in check(load(text)).findings
        if f.rule == "lamp-behaviour"
    }


def test_a_pedal_tap_that_is_live_in_blackout_is_found():
    """A tap straight at the brake switch lights stop and turn lamps in blackout; gated with blackout it does not."""
    keys = {"socket": "military-12-us", "plug": "iso-11446", "lamps": SEPARATE_LAMPS, "pedal": True}
    found = behaviour_findings(rig(channels=TO_SEPARATE, **keys))
    assert set(found) == {
        (
            "-E3 stop (P21W 12 V)",
            "blackout, brake",
            "stop: dark wanted, steady found; fed by channel K3 (input: pedal)",
        ),
        (
            "-E4 left turn (P21W 12 V)",
            "blackout, brake",
            "left turn: dark wanted, steady found; fed by channel K4 (input: stop_turn_left xor pedal)",
        ),
        (
            "-E5 right turn (P21W 12 V)",
            "blackout, brake",
            "right turn: dark wanted, steady found; fed by channel K6 (input: stop_turn_right xor pedal)",
        ),
    }
    gated = [entry.replace("pedal", "(pedal and not blackout_tail)") for entry in TO_SEPARATE]
    assert behaviour_findings(rig(channels=gated, **keys)) == {}


def test_shared_to_separate_without_a_stop_tap_is_found():
    """Without a stop tap the pedal lights both turn lamps and leaves the stop lamp dark: found, with the cure."""
    text = rig(
        "military-12-us",
        "iso-11446",
        channels=["stop_turn_left > turn_left", "stop_turn_right > turn_right"],
        lamps=["stop", "turn_left", "turn_right"],
    )
    found = behaviour_findings(text)
    assert set(found) == {
        ("-E1 stop (P21W 12 V)", "brake", "stop: steady wanted, dark found; fed by no channel"),
        (
            "-E2 left turn (P21W 12 V)",
            "brake",
            "left turn: dark wanted, steady found; fed by channel K1 (input: stop_turn_left)",
        ),
        (
            "-E3 right turn (P21W 12 V)",
            "brake",
            "right turn: dark wanted, steady found; fed by channel K2 (input: stop_turn_right)",
        ),
    }
    left = found[
        "-E2 left turn (P21W 12 V)",
        "brake",
        "left turn: dark wanted, steady found; fed by channel K1 (input: stop_turn_left)",
    ]
    assert 'input = "stop_turn_left xor pedal"' in left.advice


def test_shared_to_separate_without_a_stop_tap_on_a_vehicle_that_holds():
    """Where the pedal holds the hazard flashing, pedal and hazard together give a steady turn lamp: found too."""
    text = rig(
        "military-12-us",
        "iso-11446",
        channels=["stop_turn_left > turn_left"],
        lamps=["turn_left"],
        vehicle=HABIT,
    )
    # One cause, one finding: the pedal alone in full, the pedal with the hazard lights beside it.
    assert set(behaviour_findings(text)) == {
        (
            "-E1 left turn (P21W 12 V)",
            "brake",
            "left turn: dark wanted, steady found; fed by channel K1 (input: stop_turn_left); "
            "also dark or flash wanted, steady found (brake, hazard)",
        )
    }


def test_stop_or_turn_for_shared_lamps_is_found():
    """'stop or turn_left' for a shared lamp burns steadily when it must flash: the pedal hides the turn signal."""
    channels = [entry.replace("xor", "or") for entry in XOR]
    found = behaviour_findings(rig("iso-12098", "sae-j1239-4", channels=channels, lamps=SHARED_LAMPS))
    assert set(found) == {
        (
            "-E2 left stop and turn (P21W 12 V)",
            "brake, left turn",
            "left stop and turn: flash wanted, steady found; fed by channel K3 (input: stop or turn_left)",
        ),
        (
            "-E3 right stop and turn (P21W 12 V)",
            "brake, right turn",
            "right stop and turn: flash wanted, steady found; fed by channel K5 (input: stop or turn_right)",
        ),
    }
    assert {f.advice for f in found.values()} == {
        f'Stop and turn must share this lamp: try input = "stop xor turn_{side}".' for side in ("left", "right")
    }


def test_swapped_sides_are_found():
    """Left and right exchanged: every lamp is named, dark when it must flash and flashing when it must be dark."""
    text = rig(
        "iso-1185",
        "iso-11446",
        channels=["turn_left > turn_right", "turn_right > turn_left"],
        lamps=["turn_left", "turn_right"],
    )
    left, right = "-E1 left turn (P21W 12 V)", "-E2 right turn (P21W 12 V)"
    assert set(behaviour_findings(text)) == {
        (left, "left turn", "left turn: flash wanted, dark found; fed by channel K2 (input: turn_right)"),
        (left, "right turn", "left turn: dark wanted, flash found; fed by channel K2 (input: turn_right)"),
        (right, "right turn", "right turn: flash wanted, dark found; fed by channel K1 (input: turn_left)"),
        (right, "left turn", "right turn: dark wanted, flash found; fed by channel K1 (input: turn_left)"),
    }


def test_service_lamps_lit_in_blackout_are_found():
    """A service tail lamp that hears the blackout wire too burns in blackout: found, with the rule in words."""
    found = behaviour_findings(
        rig("military-12-us", "sae-j2863", channels=["tail or blackout_tail > tail"], lamps=["tail"])
    )
    key = (
        "-E1 tail (R5W 12 V)",
        "blackout",
        "tail: dark wanted, steady found; fed by channel K1 (input: tail or blackout_tail)",
    )
    assert set(found) == {key}
    assert found[key].advice == "This lamp must stay dark in blackout: feed it from a service circuit only."


def test_rear_fog_on_a_blackout_wire_is_found():
    """A channel that takes the US blackout wire (contacts A, C and H) for rear fog lights the fog lamp in blackout."""
    text = rig("military-12-us", "iso-11446", channels=["blackout_tail > fog"], lamps=["fog"])
    assert set(behaviour_findings(text)) == {
        (
            "-E1 rear fog (P21W 12 V)",
            "blackout",
            "rear fog: dark wanted, steady found; fed by channel K1 (input: blackout_tail)",
        )
    }


def test_a_missing_stop_contact_is_found():
    """A channel that hears a stop contact the socket does not have leaves the stop lamp dark: take a tap."""
    text = rig("military-12-us", "iso-11446", channels=["stop > stop"], lamps=["stop"])
    found = behaviour_findings(text)
    key = ("-E1 stop (P21W 12 V)", "brake", "stop: steady wanted, dark found; fed by channel K1 (input: stop)")
    assert set(found) == {key}
    assert found[key].advice == "The vehicle socket has no contact for stop: take the signal from a tap."


def test_a_dead_converter_feed_is_found():
    """With the converter on a lamp circuit all other lamps are dark while that is off, and the advice says why."""
    supply = {**SUPPLY, "fed_by": "tail"}
    text = rig(
        "military-12-us",
        "sae-j2863",
        channels=["tail > tail", "stop_turn_left > stop_turn_left"],
        lamps=["tail", "stop_turn_left"],
        supply=supply,
    )
    found = behaviour_findings(text)
    lamp, by = "-E2 left stop and turn (P21W 12 V)", "fed by channel K2 (input: stop_turn_left)"
    ((where, state, words),) = found
    also = ["brake", "hazard", "brake, hazard"]
    wanted = ["steady", "flash", "steady or flash"]
    assert (where, by in words) == (lamp, True)
    told = [f"{want} wanted, dark found" in words for want in wanted]
    assert (told, [other for other in also if other != state and f"({other})" not in words]) == ([True] * 3, [])
    assert {f.advice for f in found.values()} == {"The adapter's supply is dead here, because its feed 'tail' is."}


def test_a_lamp_on_the_wrong_contact_is_found():
    """A lamp that is wired to another contact than that of its function does what that contact does."""
    lamp = {"function": "stop_turn_left", "contact": "3"}  # 3 is tail
    text = rig("military-12-us", "sae-j2863", channels=["tail > tail"], lamps=["tail", lamp])
    found = behaviour_findings(text)
    assert (
        "-E2 left stop and turn (P21W 12 V)",
        "service lights",
        "left stop and turn: dark wanted, steady found; fed by channel K1 (input: tail)",
    ) in found


def test_a_finding_counts_its_settings():
    """The first of several settings is the simplest, and the count is that of the hand table."""
    text = rig("military-12-us", "iso-11446", channels=["blackout_tail > tail_left"], lamps=["tail_left"])
    found = [f for f in check(load(text)).findings if f.rule == "lamp-behaviour"]
    blackout, service = sorted(found, key=lambda f: f.state)
    assert (blackout.state, service.state) == ("blackout", "service lights")
    # Each lighting position comes with 2 pedal × 3 lever × 2 hazard settings, the first of which is named.
    assert "dark wanted, steady found (and under 11 more settings)" in blackout.message
    assert "steady wanted, dark found (and under 11 more settings)" in service.message


# --- advice and sources ----------------------------------------------------------------------------------------------


def test_a_straight_lead_is_told_what_a_wire_cannot_do():
    """Combined to separate over a plain lead: it takes relays, and the pedal signal; the same over relays says less."""
    lead = behaviour_findings(straight("military-12-us", "military-12-stanag", ["turn_left", "stop"], volts=24))
    steady = [f for (_, state, words), f in lead.items() if "left turn" in words and "steady found" in words]
    assert [f.advice.startswith("A straight wire cannot do this: it takes an adapter with relays") for f in steady]
    assert all("stop_turn_left xor pedal" in f.advice for f in steady)
    relays = behaviour_findings(
        rig("military-12-us", "iso-11446", channels=["stop_turn_left > turn_left"], lamps=["turn_left"])
    )
    assert [f for f in relays.values() if "straight wire" in f.advice] == []


def test_a_straight_lead_with_other_contacts_is_told_to_move_them():
    """British stop contacts are American stop-and-turn ones: equal marks are not equal circuits."""
    found = behaviour_findings(straight("military-12-us", "military-12-commonwealth", ["stop"], volts=24))
    wrong = [f for (_, _, words), f in found.items() if "dark wanted" in words]
    assert wrong
    assert all("equal marks are not equal circuits" in f.advice for f in wrong)


def test_brakes_are_not_spoken_of_as_lamps():
    """A controller on the tail circuit: it drags with the lights and is dead under the pedal; both say brakes."""
    controller = {"input": "tail", "output": "brake", "device": "brake_controller", "rating": "30 A"}
    found = behaviour_findings(rig(channels=[controller], lamps=[], pedal=True, brakes={"magnets": 2}))
    words = {message.split("; ")[0]: f.advice for (_, _, message), f in found.items()}
    assert "the brakes drag" in words["electric brakes: dark wanted, steady found"]
    assert "Do not tow it so" in words["electric brakes: steady wanted, dark found"]
    assert [advice for advice in words.values() if "lamp" in advice.replace("with the lamps", "")] == []


def test_the_source_of_a_duty_fits_the_region():
    """An American plug cites 49 CFR 393.11, a European one no American law; region under [rules] decides."""
    wrong = {"channels": ["stop > turn_left"], "lamps": ["turn_left"]}

    def sources(plug, **more):
        return {f.source for f in behaviour_findings(rig("iso-12098", plug, **wrong, **more)).values()}

    assert sources("sae-j560") == {"S24,S25"}
    assert sources("iso-11446") == {"S60"}
    assert sources("as-4177-7") == {"S24,S60"}
    assert sources("as-4177-7", rules={"region": "us"}) == {"S24,S25"}


def test_a_lighting_switch_at_off_fools_a_channel_that_hears_the_pedal():
    """The socket dead, the pedal live: left and right turn lamps would burn. Not where the pedal is dead at OFF too."""
    keys = {"socket": "military-12-us", "plug": "iso-11446", "lamps": SEPARATE_LAMPS, "pedal": True}
    gated = [entry.replace("pedal", "(pedal and not blackout_tail)") for entry in TO_SEPARATE]
    found = [f for f in check(load(rig(channels=gated, **keys))).findings if f.rule == "switch-off"]
    assert [(f.severity, f.where) for f in found] == [("notice", "channel K5"), ("notice", "channel K8")]
    assert "left stop and turn may be dead while pedal is live: braking then lights a turn lamp" in found[0].message
    behind = [entry.replace("pedal", "(pedal and tail)") for entry in TO_SEPARATE]
    assert [f for f in check(load(rig(channels=behind, **keys))).findings if f.rule == "switch-off"] == []
    european = {**keys, "socket": "iso-1185"}
    channels = ["stop > stop", "turn_left > turn_left", "turn_right > turn_right"]
    assert [f for f in check(load(rig(channels=channels, **european))).findings if f.rule == "switch-off"] == []
