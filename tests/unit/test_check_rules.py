"""Every rule of the check: one rig that breaks it and a near twin that does not, on both sides of the limit.

A finding must carry value, limit and unit, a margin with the right sign, the state it happens in, and the line to
change.
"""

import math
from pathlib import Path

import pytest

from tests.rigs import BOX_FEED, PEDAL, RUNS, SUPPLY, dump, line_of, load, rig, straight, trailer
from tests.unit.test_load_rig import OWN
from wiregen.catalogue.ampacity import ampacity_a
from wiregen.catalogue.lamps import find_lamp
from wiregen.check.headroom import COMMON_LAMPS
from wiregen.check.rules import RULES
from wiregen.model.circuit import Contact, Converter, Fuse, Lamp
from wiregen.model.finding import Finding, Headroom
from wiregen.model.study import Study
from wiregen.pipeline import build, check, design_of, study
from wiregen.quantity import parse_size

TAIL = {"input": "tail", "output": "tail", "rating": "30 A"}


def findings(text: str, rule: str, beside: Path | None = None) -> list[Finding]:
    return [f for f in check(load(text, beside)).findings if f.rule == rule]


def one(text: str, rule: str, beside: Path | None = None) -> Finding:
    found = findings(text, rule, beside)
    assert len(found) == 1, found
    return found[0]


def place(f: Finding, text: str, part: str, after: str = "") -> None:
    """The finding points at the line that holds ``part``."""
    assert f.origin is not None
    assert f.origin.line == line_of(text, part, after)


def above(f: Finding, unit: str) -> None:
    """A value above its limit: the margin is negative and fits both."""
    assert f.unit == unit
    assert f.value is not None
    assert f.limit is not None
    assert f.value > f.limit
    assert f.margin == pytest.approx((f.limit - f.value) / f.limit)
    assert f.source


def solved(text: str) -> Study:
    loaded = load(text)
    return study(loaded, build(loaded))[0]


# --- behaviour and connections ---------------------------------------------------------------------------------------


def test_a_lamp_that_nothing_asks_for_is_named():
    """A reverse lamp behind a socket without a reverse contact is a warning; with a tap for it there is none."""
    text = rig(channels=["tail > tail"], lamps=["tail", "reverse"])
    found = one(text, "never-lit")
    assert (found.severity, found.where) == ("warning", "-E2 reverse (P21W 12 V)")
    place(found, text, "[[trailer.lamp]]", 'type = "r5w-12v"')
    tap = {"name": "reversing", "live": "reverse and not blackout", "fuse": "5 A"}
    twin = rig(channels=["tail > tail", "reversing > reverse"], lamps=["tail", "reverse"], taps=[tap])
    assert findings(twin, "never-lit") == []
    assert findings(twin, "lamp-behaviour") == []


def test_a_lamp_that_burns_unasked_is_no_never_lit():
    """A reverse lamp that burns always is wrong in another way: the behaviour rule has it, this one has not."""
    text = rig(channels=["box_feed > reverse | wire"], lamps=["reverse"])
    assert findings(text, "never-lit") == []
    assert one(text, "lamp-behaviour").state == "all off"


def test_a_short_is_found():
    """Plus joined to ground inside the trailer: the supply that is shorted, with the state and the supply's line."""
    text = rig(ties=[["1", "3"]])
    found = one(text, "short")
    assert (found.severity, found.where, found.state) == ("error", "-T1", "service lights")
    assert found.message == "plus of -T1 (step-down converter) lies straight on ground"
    place(found, text, "[adapter.supply]")
    assert findings(rig(ties=[["3", "4"]]), "short") == []


def test_joined_supplies_are_found():
    """24 V and 12 V on one contact are named with both supplies; two channels of one bus may share a contact."""
    text = rig("iso-12098", "sae-j2863", channels=["charge > charge | wire", "stop > charge"], lamps=[])
    found = one(text, "joined")
    assert (found.where, found.state) == ("-G1, -T1", "brake")
    assert "-G1 (battery 28 V) and -T1 (step-down converter) of different voltage are joined" in found.message
    twin = rig("iso-12098", "sae-j2863", channels=["tail_left > tail", "tail_right > tail"], lamps=["tail"])
    assert findings(twin, "joined") == []


def test_a_circuit_fed_backwards_is_found():
    """Two vehicle circuits wired to one contact feed each other backwards; relays between them do not."""
    channels = ["turn_left > stop_turn_left", "turn_right > stop_turn_left"]
    text = rig("iso-1185", "sae-j2863", channels=[f"{c} | wire" for c in channels], lamps=[], supply=None)
    found = findings(text, "backfeed")
    assert [(f.where, f.state) for f in found] == [("-S2", "left turn"), ("-S1", "right turn")]
    assert "(left turn switch) is open, yet the circuit behind it is live" in found[1].message
    assert findings(rig("iso-1185", "sae-j2863", channels=channels, lamps=[]), "backfeed") == []


def test_no_operating_point_is_a_finding():
    """A converter behind 190 m of thin wire cannot run: said once, with the simplest state; behind 40 m it can."""
    lamps = [{"function": "tail", "type": "p21w-12v", "count": 4}]

    def text(length: str) -> str:
        runs = [*RUNS, {"from": "battery", "to": "adapter", "length": length, "size": "1.5 mm²"}]
        return rig(lamps=lamps, runs=runs)

    (found,) = findings(text("190 m"), "no-operating-point")
    assert (found.severity, found.state) == ("error", "service lights")
    assert found.message.startswith(("never comes to rest: -T1", "no operating point found"))
    assert findings(text("40 m"), "no-operating-point") == []


# --- the design as written -------------------------------------------------------------------------------------------


def test_a_stop_contact_that_is_not_there():
    """A channel that hears stop on a US military socket: error at the channel's line, and the tap as the cure."""
    text = rig(channels=["tail > tail", "stop > stop_turn_left"])
    found = one(text, "missing-input")
    assert (found.severity, found.where) == ("error", "channel K2")
    assert found.message == "the vehicle socket (12-contact, US military) has no contact for stop"
    assert "take the pedal signal from a tap at the brake switch" in found.advice
    place(found, text, "[[adapter.channel]]", 'output = "tail"')
    assert findings(rig("iso-12098", channels=["stop > stop_turn_left"], lamps=[]), "missing-input") == []
    assert findings(rig(channels=["pedal > stop_turn_left"], pedal=True), "missing-input") == []


def test_a_converter_fed_from_a_lamp_circuit():
    """A converter on the tail circuit is dead with the lights off: error at the feed's line, with that state."""
    text = rig(supply={**SUPPLY, "feed": "tail"})
    found = one(text, "supply-feed")
    assert (found.severity, found.state) == ("error", "all off")
    assert "the converter is fed from 'tail', a lamp circuit that is not always live" in found.message
    place(found, text, "feed =")
    assert findings(rig(), "supply-feed") == []
    habit = {"habit": [{"circuit": "tail", "live": "always"}]}
    assert findings(rig(supply={**SUPPLY, "feed": "tail"}, vehicle=habit), "supply-feed") == []


def test_a_converter_feed_that_is_not_there():
    """A converter on a charge contact that the socket has not: error; on a socket that has one: none."""
    text = rig(supply={**SUPPLY, "feed": "charge"})
    found = one(text, "supply-feed")
    assert found.message == "the converter's feed 'charge' is not offered by the vehicle"
    place(found, text, "feed =")
    twin = rig("iso-12098", channels=["tail_left > tail"], supply={**SUPPLY, "feed": "charge"})
    assert findings(twin, "supply-feed") == []


def test_a_tap_without_a_fuse():
    """A wire from the battery without a fuse is an error at the tap's line; with a fuse it is none."""
    bare = {key: value for key, value in BOX_FEED.items() if key != "fuse"}
    text = rig(supply={**SUPPLY, "output": "13.5 V"}, taps=[bare])
    found = [f for f in findings(text, "unfused-feed") if f.severity == "error"]
    assert [f.where for f in found] == ["tap box_feed"]
    assert found[0].message == "no fuse where box_feed leaves the battery"
    place(found[0], text, "[[vehicle.tap]]")
    assert [f for f in findings(rig(), "unfused-feed") if f.severity == "error"] == []


def test_circuits_without_a_fuse_are_a_notice():
    """Circuits in use for which the rig names no fuse are listed; named under a feed they are not."""
    found = one(rig(channels=["tail > tail", "stop_turn_left > stop_turn_left"]), "unfused-feed")
    assert (found.severity, found.message) == ("notice", "no fuse or breaker is given for: tail, left stop and turn")
    vehicle = {"feed": [{"circuits": ["tail"], "fuse": "10 A"}]}
    assert findings(rig(vehicle=vehicle), "unfused-feed") == []
    # A feed without a rating is no fuse.
    assert one(rig(vehicle={"feed": [{"circuits": ["tail"]}]}), "unfused-feed").severity == "notice"


def test_a_channel_that_ends_nowhere():
    """A channel for a contact that no trailer has is a warning; one trailer that has it is enough."""
    channels = ["tail > tail", "stop_turn_left > reverse"]
    text = rig(plug="sae-j1239-4", channels=channels)
    found = one(text, "no-outlet")
    assert (found.severity, found.where) == ("warning", "channel K2")
    assert found.message == "no trailer connector has a contact for reverse"
    place(found, text, "[[adapter.channel]]", 'output = "tail"')
    both = [trailer("sae-j1239-4", ["tail"], name="one"), trailer("sae-j2863", ["tail"], name="two")]
    assert findings(rig(trailers=both, channels=channels), "no-outlet") == []


def test_lamps_without_a_ground(tmp_path):
    """A plug whose only ground is that of another supply leaves the lamps without a return; they are named."""
    contacts = [{**OWN["contact"][0], "circuit": "ground_charge"}, *OWN["contact"][1:]]
    (tmp_path / "bad.toml").write_text(dump({**OWN, "contact": contacts}), encoding="utf-8")
    (tmp_path / "good.toml").write_text(dump(OWN), encoding="utf-8")
    text = rig(plug="bad", lamps=["tail", "stop_turn_left"])
    found = one(text, "no-ground", tmp_path)
    assert (found.severity, found.where) == ("error", "-E1, -E2")
    place(found, text, "[[trailer.lamp]]")
    assert findings(rig(plug="good", lamps=["tail", "stop_turn_left"]), "no-ground", tmp_path) == []


def test_contacts_from_memory_are_named():
    """A contact in use whose function is from memory or disputed is a notice; an unused one is none."""
    memory = rig("iso-12098", "sae-j2863", channels=["tail_left > tail", "reverse > reverse"], lamps=["tail"])
    marks = {f.where for f in findings(memory, "unverified-contact")}
    pinouts = {"-X1": load(memory).socket, "-X2": load(memory).plugs[0]}
    used = {c.ref for circuit in build(load(memory)).circuits for c in circuit.of(Contact)}
    weak = {
        f"{d}:{c.mark}" for d, pinout in pinouts.items() for c in pinout.contact if c.support in ("memory", "disagree")
    }
    assert marks == weak & used
    # F of the British wiring: two sources disagree.
    text = straight("military-12-commonwealth", "military-12-commonwealth", ["tail"])
    disputed = {f.where: f for f in findings(text, "unverified-contact")}
    assert set(disputed) == {"-X1:F", "-X2:F"}
    assert "sources disagree" in disputed["-X1:F"].message
    place(disputed["-X1:F"], text, "socket =")


def test_lamp_types_from_memory_are_named():
    """A lamp type whose current is from memory is a notice; a lamp with its own data rests on the user's word."""
    weak = next(name for name in ("led-tail-12v", "led-marker-12v") if find_lamp(name).support == "memory")
    assert one(rig(lamps=[f"tail {weak}"]), "lamp-data").where == "-E1"
    own = {"function": "tail", "technology": "led", "voltage": "12 V", "power": "1.2 W"}
    assert findings(rig(lamps=[own]), "lamp-data") == []


def test_shells_that_mate_with_other_wirings_are_named():
    """A shell with several wirings is a notice at each end; a shell with one wiring is none."""
    text = rig()
    found = one(text, "shared-shell")
    assert (found.severity, found.where) == ("notice", "-X1 vehicle socket")
    assert "12-contact, STANAG 4007 (24/12 V)" in found.message
    place(found, text, "socket =")
    assert findings(rig("iso-12098", "sae-j2863", channels=["tail_left > tail"]), "shared-shell") == []


# --- voltages --------------------------------------------------------------------------------------------------------


def test_24_v_through_a_wire_channel_is_over_voltage():
    """A 24 V wire on a 12 V lamp: over-voltage at the lamp's line; a 24 V lamp on the same wire is right."""

    def text(lamp: str) -> str:
        return rig("iso-12098", "sae-j2863", channels=["stop > reverse | wire"], lamps=[f"reverse {lamp}"], supply=None)

    found = one(text("p21w-12v"), "over-voltage")
    above(found, "V")
    assert (found.severity, found.state, found.limit) == ("error", "brake", 16.0)
    assert found.value == pytest.approx(28, abs=0.5)
    place(found, text("p21w-12v"), "[[trailer.lamp]]")
    assert findings(text("p21w-24v"), "over-voltage") == []


@pytest.mark.parametrize(("running", "breaks"), [("16.3 V", True), ("16.1 V", False)])
def test_over_voltage_on_both_sides_of_the_limit(running, breaks):
    """A 12 V lamp stands 16 V: a little more at the battery passes it, a little less does not."""
    vehicle = {"battery": {"nominal": "12 V", "running": running}}
    text = rig("iso-12098", channels=["stop > stop_turn_left | wire"], lamps=["stop_turn_left"], vehicle=vehicle)
    found = findings(text, "over-voltage")
    across = solved(text)
    (lamp,) = across.circuit.of(Lamp)
    most = across.across_v(lamp).max()
    assert (most > 16.0) == breaks
    assert [f.value for f in found] == ([pytest.approx(most)] if breaks else [])
    if breaks:
        above(found[0], "V")
        assert found[0].state == "brake"


def cable(length_m: float, **more: object) -> str:
    runs = [*RUNS, {"from": "trailer", "to": "lamps", "length": f"{length_m} m", "size": "1 mm²"}]
    return rig(lamps=[{"function": "tail", "type": "p21w-12v", "count": 2}], runs=runs, **more)  # type: ignore[arg-type]


def lengths_around(rule: str, severity: str) -> tuple[float, float]:
    """Cable lengths a millimetre apart between which the finding appears, m."""
    without, with_it = 0.1, 60.0
    hits = {"warning": ("warning", "error"), "error": ("error",)}[severity]
    while with_it - without > 1e-3:
        middle = (without + with_it) / 2
        if any(f.severity in hits for f in findings(cable(middle), rule)):
            with_it = middle
        else:
            without = middle
    return without, with_it


@pytest.mark.parametrize(("severity", "limit"), [("warning", 0.05 * 13.5), ("error", 0.85 * 13.5)])
def test_lamp_voltage_on_both_sides_of_the_limit(severity, limit):
    """The drop turns into a warning at 5 % and the lamp voltage into an error at 85 % of 13.5 V, to a millivolt."""
    without, with_it = lengths_around("lamp-voltage", severity)
    found = one(cable(with_it), "lamp-voltage")
    assert (found.severity, found.unit, found.state) == (severity, "V", "service lights")
    assert found.limit == pytest.approx(limit)
    assert found.value == pytest.approx(limit, abs=1e-3)
    assert found.margin is not None
    assert -1e-3 < found.margin < 0
    assert [f.severity for f in findings(cable(without), "lamp-voltage")] == (
        [] if severity == "warning" else ["warning"]
    )
    across = solved(cable(with_it))
    (lamp,) = across.circuit.of(Lamp)
    (converter,) = across.circuit.of(Converter)
    lit = int(across.current_a("-E1").argmax())
    lamp_v = across.across_v(lamp)[lit]
    source_v = (across.voltage_v(converter.b) - across.voltage_v(converter.common))[lit]
    assert found.value == pytest.approx(lamp_v if severity == "error" else source_v - lamp_v)
    place(found, cable(with_it), "[[trailer.lamp]]")


def test_the_user_may_tighten_the_lamp_limits():
    """Limits under [rules] take the place of the usual ones, and are named as the source."""
    text = cable(4.0, rules={"lowest_lamp_voltage": "99 %"})
    found = one(text, "lamp-voltage")
    assert (found.severity, found.limit, found.source) == ("error", pytest.approx(0.99 * 13.5), "rig file")
    loose = cable(10.0, rules={"lamp_drop_warning": "20 %"})
    assert findings(loose, "lamp-voltage") == []
    assert one(cable(10.0), "lamp-voltage").severity == "warning"


@pytest.mark.parametrize(("pick_up", "dark"), [("28.5 V", True), ("20 V", False)])
@pytest.mark.parametrize("function", ["tail_left", "turn_left"])
def test_a_coil_that_does_not_pick_up_is_a_dark_lamp(function, pick_up, dark):
    """A relay that never gets its pick-up voltage leaves its lamp at 0 V: an error, for flashing lamps too."""
    channel = {"input": function, "output": function, "rating": "9 A", "pick_up": pick_up}
    text = rig("iso-1185", "iso-11446", channels=[channel], lamps=[function])
    found = findings(text, "lamp-voltage")
    assert [f.severity for f in found] == (["error"] if dark else [])
    if dark:
        assert found[0].value == pytest.approx(0.0, abs=1e-6)
        assert "not fed at all" in found[0].advice


def test_a_lamp_behind_two_channels_is_measured_against_their_supply():
    """The drop of a lamp that two channels feed is against the 12 V bus, not against the 24 V battery."""
    text = rig("iso-1185", "sae-j2863", channels=["tail_left > tail", "tail_right > tail"], lamps=["tail"])
    assert findings(text, "lamp-voltage") == []


def test_the_drop_behind_two_step_downs_is_against_the_one_that_is_on():
    """Of two step-downs on one lamp only one is on with the lights: the drop is counted from that one's output."""
    thin = [*RUNS, {"from": "trailer", "to": "lamps", "length": "12 m", "size": "1 mm²"}]
    channels = ["tail_left > tail | step_down", "stop > tail | step_down"]
    text = rig("iso-12098", channels=channels, lamps=["tail p21w-12v"], runs=thin, supply=None)
    found = one(text, "lamp-voltage")
    both = solved(text)
    row = [state.words for state in both.states].index("service lights")
    first, second = both.circuit.of(Converter)
    assert both.voltage_v(second.b)[row] - both.voltage_v(first.b)[row] == pytest.approx(0.0, abs=0.5)
    source_v = (both.voltage_v(first.b) - both.voltage_v(first.common))[row]
    assert found.value == pytest.approx(source_v - both.across_v(both.circuit.by_ref["-E1"])[row])
    assert found.severity == "warning"


@pytest.mark.parametrize("supply", [{"kind": "centre_tap"}, {"kind": "battery", "output": "13.6 V"}])
def test_the_drop_is_against_the_supply_in_use(supply):
    """With a centre tap or an adapter battery the drop is counted from that battery's terminals."""
    text = cable(10.0, supply=supply)
    found = one(text, "lamp-voltage")
    across = solved(text)
    (lamp,) = across.circuit.of(Lamp)
    lit = int(across.current_a("-E1").argmax())
    battery = next(b for b in across.circuit.elements if b.ref == ("-G1" if supply["kind"] == "centre_tap" else "-G2"))
    drop_v = across.across_v(battery)[lit] - across.across_v(lamp)[lit]
    assert found.value == pytest.approx(drop_v, abs=1e-6)
    assert 0.675 < drop_v < 2.0


def test_an_led_lamp_is_held_to_the_voltage_it_is_made_for():
    """An LED lamp is in order down to its lowest working voltage, which is the limit that is named."""
    kind = find_lamp("led-tail-12v")

    def text(length_m: float) -> str:
        runs = [*RUNS, {"from": "trailer", "to": "lamps", "length": f"{length_m} m", "size": "0.5 mm²"}]
        lamp = {"function": "tail", "type": "led-tail-12v", "count": 10}
        return rig(lamps=[lamp], runs=runs, rules={"lamp_drop_warning": "60 %"})

    assert findings(text(30), "lamp-voltage") == []
    found = one(text(60), "lamp-voltage")
    assert (found.limit, found.severity, found.source) == (kind.min_v, "error", kind.source)
    assert "light" not in found.message


# --- currents --------------------------------------------------------------------------------------------------------


def carried(text: str, ref: str) -> float:
    return float(abs(solved(text).current_a(ref)).max())


def test_relay_contact_on_both_sides_of_the_rating():
    """A contact rated a hundredth below what it carries is an error at the channel's line; above it is none."""
    amps = carried(rig(), "-K1:30-87")
    text = rig(channels=[{**TAIL, "rating": f"{amps * 0.99:.6f} A"}])
    found = one(text, "relay-contact")
    above(found, "A")
    assert (found.severity, found.state, found.value) == ("error", "service lights", pytest.approx(amps))
    place(found, text, "[[adapter.channel]]")
    assert findings(rig(channels=[{**TAIL, "rating": f"{amps * 1.01:.6f} A"}]), "relay-contact") == []


def test_a_relay_without_a_rating_is_a_warning():
    """Contacts without a rating are named in one warning; a rating for all under [rules] takes it away."""
    bare = [{"input": name, "output": name} for name in ("tail", "stop_turn_left")]
    found = one(rig(channels=bare), "relay-contact")
    assert (found.severity, found.where, found.value) == ("warning", "K1, K2", None)
    assert findings(rig(channels=bare, rules={"relay_rating": "20 A"}), "relay-contact") == []


def supply_of(continuous_a: float) -> dict[str, str]:
    return {**SUPPLY, "continuous": f"{continuous_a:.6f} A"}


def test_the_sum_of_the_channels_against_the_converter():
    """Two channels, each within the converter's output, together beyond it: error with the state that has both."""
    channels = ["tail_left > tail_left", "stop > stop"]
    lamps = [{"function": "tail_left", "count": 4}, "stop"]
    amps = carried(rig("iso-12098", "iso-11446", channels=channels, lamps=lamps), "-T1")
    tail_a = carried(rig("iso-12098", "iso-11446", channels=channels[:1], lamps=lamps[:1]), "-T1")

    def with_supply(continuous_a: float) -> str:
        supply = supply_of(continuous_a)
        return rig("iso-12098", "iso-11446", channels=channels, lamps=lamps, supply=supply, taps=[BOX_FEED])

    text = with_supply(amps - 0.01)
    found = one(text, "supply-continuous")
    above(found, "A")
    assert tail_a < amps - 0.1
    assert (found.value, found.severity) == (pytest.approx(amps), "error")
    assert found.state == "service lights, brake"
    assert "all channels together take" in found.message
    place(found, text, "[adapter.supply]")
    assert findings(with_supply(amps + 0.01), "supply-continuous") == []


def test_a_converter_without_a_rating_is_a_warning():
    """Without a continuous output the sum is not checked, and a warning says so at the supply's line."""
    bare = {key: value for key, value in SUPPLY.items() if key != "continuous"}
    text = rig(supply=bare, taps=[BOX_FEED])
    found = one(text, "supply-continuous")
    assert (found.severity, found.value) == ("warning", None)
    place(found, text, "[adapter.supply]")


def test_a_step_down_channel_against_its_own_rating():
    """A step-down of one channel is held to that channel's rating."""

    def text(rating_a: float) -> str:
        channel = {"input": "stop", "output": "stop_turn_left", "device": "step_down", "rating": f"{rating_a:.6f} A"}
        return rig("iso-12098", channels=[channel], lamps=["stop_turn_left"], supply=None)

    amps = carried(text(9), "-T1")
    found = one(text(amps * 0.99), "supply-continuous")
    above(found, "A")
    assert "channel T1 gives" in found.message
    assert found.state == "brake"
    assert findings(text(amps * 1.01), "supply-continuous") == []


def test_contact_current_against_the_user_s_rating():
    """Contacts without a rating of their own are held to what the user allows, on both sides of it."""
    lamps = [{"function": "tail", "type": "p21w-12v", "count": 3}]
    amps = carried(rig(lamps=lamps), "-X2:3")
    found = findings(rig(lamps=lamps, rules={"contact_rating": f"{amps - 0.01} A"}), "contact-current")
    assert [f.where for f in found] == [
        "-X2:3 -X2 contact 3, tail",
        "-X2:1 -X2 contact 1, ground",
    ]
    for each in found:
        above(each, "A")
        assert (each.value, each.state, each.source) == (pytest.approx(amps), "service lights", "rig file")
    assert findings(rig(lamps=lamps, rules={"contact_rating": f"{amps + 0.01} A"}), "contact-current") == []
    assert findings(rig(lamps=lamps, rules={"contact_rating": f"{amps + 0.01} A"}), "contact-unrated") == []


def test_contacts_without_a_rating_are_a_notice():
    """Contacts that no source rates are listed with the most that one of them carries."""
    found = {f.where: f for f in findings(rig(), "contact-unrated")}
    assert set(found) == {"-X1 12-contact, US military", "-X2 7-way blade (SAE J2863)"}
    plug = found["-X2 7-way blade (SAE J2863)"]
    assert (plug.severity, plug.unit, plug.limit) == ("notice", "A", None)
    assert plug.value == pytest.approx(carried(rig(), "-X2:3"))
    assert "contacts 1, 3;" in plug.message


def grounds(amps: float) -> str:
    """A straight lead between STANAG connectors whose two ground contacts share so many amps about evenly."""
    # Own data: an LED lamp takes its watts at any voltage, so the current is set to a few per cent by hand.
    lamps = [
        {"function": name, "technology": "filament", "voltage": "26.5 V", "power": f"{amps / 3 * 26.5} W"}
        for name in ("tail", "stop", "reverse")
    ]
    thick = [{**run, "length": "0.5 m", "size": "50 mm²"} for run in RUNS]
    return straight("military-12-stanag", "military-12-stanag", lamps, runs=thick)


def test_the_shared_rating_of_two_ground_contacts():
    """D and L of STANAG 4007 carry 15 A each and 30 A together (N1): above it both rules speak, below it neither."""

    def shared(text: str) -> list[Finding]:
        return [f for f in findings(text, "contact-current") if "together carry" in f.message]

    low, high = 25.0, 40.0
    while high - low > 0.01:
        middle = (low + high) / 2
        low, high = (low, middle) if shared(grounds(middle)) else (middle, high)
    found = shared(grounds(high))
    assert [f.where.split()[0] for f in found] == ["-X1:D", "-X2:D"]
    for each in found:
        above(each, "A")
        assert (each.limit, each.source) == (30.0, "N1")
        assert each.value == pytest.approx(30.0, abs=0.02)
        assert each.state == "service lights, brake, reverse"
    both = solved(grounds(high))
    row = [s.words for s in both.states].index("service lights, brake, reverse")
    total = abs(both.current_a("-X2:D")[row] + both.current_a("-X2:L")[row])
    assert found[1].value == pytest.approx(total)
    assert shared(grounds(low)) == []


def test_conductor_current_on_both_sides_of_the_ampacity():
    """A 1 mm² cable is in order up to the table's ampacity and an error just above it, with the run's line."""
    limit = ampacity_a(parse_size("1 mm²"), 105.0, 50.0, 1).amps

    def text(amps: float) -> str:
        lamp = {"function": "tail", "technology": "filament", "voltage": "13.5 V", "power": f"{amps * 13.5} W"}
        cable = {"from": "trailer", "to": "lamps", "length": "0.5 m", "size": "1 mm²", "insulation": "105 °C"}
        return rig(lamps=[lamp], runs=[*RUNS, cable])

    low, high = limit * 0.8, limit * 1.2
    while high - low > 1e-3:
        middle = (low + high) / 2
        low, high = (low, middle) if findings(text(middle), "conductor-current") else (middle, high)
    assert findings(text(low), "conductor-current") == []
    found = findings(text(high), "conductor-current")
    assert len(found) == 4  # cable and branch, out and back
    for each in found:
        assert each.limit == pytest.approx(limit)
        above(each, "A")
        assert each.value == pytest.approx(limit, abs=2e-3)
        assert each.state == "service lights"
        assert each.origin is not None
        assert text(high).splitlines()[each.origin.line - 1 :][4] == 'size = "1 mm²"'


def test_a_conductor_outside_the_tables_is_a_warning():
    """A size below every table has no ampacity: a warning, not silence, and no other rule stops."""
    runs = [*RUNS, {"from": "trailer", "to": "lamps", "length": "0.5 m", "size": "0.12 mm²"}]
    found = findings(rig(runs=runs), "conductor-current")
    assert {f.severity for f in found} == {"warning"}
    assert all(f.message.startswith("no ampacity: ") for f in found)
    assert findings(rig(), "conductor-current") == []


def fused(amps: float) -> str:
    return rig(
        channels=[{**TAIL, "fuse": "5 A"}],
        lamps=[{"function": "tail", "technology": "filament", "voltage": "13.5 V", "power": f"{amps * 13.5} W"}],
    )


@pytest.mark.parametrize(("severity", "limit"), [("warning", 3.75), ("error", 5.0)])
def test_fuse_load_on_both_sides_of_the_limit(severity, limit):
    """A 5 A fuse is a warning above 75 % of its rating and an error above the rating itself."""
    low, high = limit * 0.9, limit * 1.1
    while high - low > 1e-3:
        middle = (low + high) / 2
        hit = any(f.severity == severity for f in findings(fused(middle), "fuse-load"))
        low, high = (low, middle) if hit else (middle, high)
    found = one(fused(high), "fuse-load")
    above(found, "A")
    assert (found.severity, found.state, found.limit) == (severity, "service lights", limit)
    assert found.value == pytest.approx(limit, abs=2e-3)
    assert found.where == "-F2 fuse 5 A"
    place(found, fused(high), "[[adapter.channel]]")
    assert [f.severity for f in findings(fused(low), "fuse-load")] == ([] if severity == "warning" else ["warning"])


def test_a_fuse_larger_than_the_conductor_behind_it():
    """A fuse above the ampacity of the thinnest conductor behind it is an error; at or below it is none."""
    limit = ampacity_a(parse_size("1.5 mm²"), 105.0, 50.0, 1).amps

    def text(fuse_a: float) -> str:
        cable = {"from": "trailer", "to": "lamps", "length": "1 m", "size": "1.5 mm²", "insulation": "105 °C"}
        return rig(channels=[{**TAIL, "fuse": f"{fuse_a} A"}], runs=[*RUNS, cable])

    found = one(text(math.ceil(limit)), "fuse-conductor")
    above(found, "A")
    assert (found.severity, found.value, found.limit) == ("error", math.ceil(limit), pytest.approx(limit))
    assert "(1.5 mm²), which carries" in found.message
    assert found.where == f"-F2 fuse {math.ceil(limit)} A"
    place(found, text(math.ceil(limit)), "[[adapter.channel]]")
    assert findings(text(math.floor(limit)), "fuse-conductor") == []


def test_a_second_fuse_protects_the_thin_end():
    """A thin cable behind a large fuse is in order once a small fuse of its own stands before it."""
    cable = {"from": "trailer", "to": "lamps", "length": "1 m", "size": "1 mm²", "insulation": "105 °C"}
    supply = {**SUPPLY, "fuse": "40 A"}
    bare = rig(channels=[TAIL], supply=supply, taps=[BOX_FEED], runs=[*RUNS, cable])
    own = rig(channels=[{**TAIL, "fuse": "5 A"}], supply=supply, taps=[BOX_FEED], runs=[*RUNS, cable])
    assert [f.where for f in findings(bare, "fuse-conductor")] == ["-F2 fuse 40 A"]
    assert findings(own, "fuse-conductor") == []


# --- headroom --------------------------------------------------------------------------------------------------------


def room(text: str, channel: str = "K1") -> Headroom:
    return next(row for row in check(load(text)).headroom if row.channel == channel)


def with_tail_lamps(count: int, **channel: str) -> str:
    return rig(channels=[{**TAIL, **channel}], lamps=[{"function": "tail", "count": count}])


def test_headroom_and_what_is_carried_reach_the_limit_that_is_named():
    """Carried and spare current add up to the limit of the part that binds: fuse, contact, cable, converter."""
    fuse = room(with_tail_lamps(2, fuse="5 A"))
    assert fuse.bound_by == "-F2 fuse 5 A"
    assert fuse.carried_a + fuse.spare_a == pytest.approx(3.75)
    contact = room(with_tail_lamps(2, rating="3 A"))
    assert contact.bound_by == "-K1:30-87 K1 contact"
    assert contact.carried_a + contact.spare_a == pytest.approx(3.0)
    converter = room(rig(supply=supply_of(2.0), taps=[BOX_FEED]))
    assert converter.bound_by == "-T1 step-down converter"
    # The converter's own bleed, 13.6 V over 10 kohm, is what the channel does not carry.
    assert converter.carried_a + converter.spare_a == pytest.approx(2.0 - 13.6 / 10_000, abs=1e-4)
    thin = [*RUNS, {"from": "trailer", "to": "lamps", "length": "1 m", "size": "0.5 mm²", "insulation": "80 °C"}]
    cable = room(rig(runs=thin))
    limit = ampacity_a(parse_size("0.5 mm²"), 80.0, 50.0, 1).amps
    assert cable.bound_by.endswith("0.5 mm²")
    assert cable.carried_a + cable.spare_a == pytest.approx(limit, abs=1e-6)


def test_headroom_of_a_shared_converter_counts_the_other_channels():
    """What other channels take at the same time is taken off the room of this one, in the states in which it is on."""
    channels = ["tail > tail", "stop_turn_left > stop_turn_left"]
    lamps = [{"function": "tail", "count": 2}, "stop_turn_left"]
    text = rig(channels=channels, lamps=lamps, supply=supply_of(4.0), taps=[BOX_FEED])
    row = room(text)
    assert row.bound_by == "-T1 step-down converter"
    assert row.spare_a == pytest.approx(4.0 - carried(text, "-T1"))
    assert row.spare_a < 4.0 - row.carried_a - 1.0


def test_headroom_does_not_count_states_in_which_the_channel_is_off():
    """A heavy load in blackout only takes nothing off the room of the service tail lamps."""
    channels = ["tail > tail", "blackout_tail > charge"]
    lamps = ["tail", {"function": "charge", "type": "p21w-12v", "count": 3}]
    text = rig(channels=channels, lamps=lamps, supply=supply_of(6.0), taps=[BOX_FEED])
    service = room(text)
    assert service.bound_by == "-T1 step-down converter"
    assert service.spare_a == pytest.approx(6.0 - service.carried_a, abs=2e-3)
    assert room(text, "K2").spare_a < 2.0


def test_headroom_in_lamps_can_be_used_up():
    """So many more 5 W lamps as headroom promises break no rule; two more do."""
    start = 2
    row = room(with_tail_lamps(start, fuse="5 A"))
    more = dict(row.lamps)["5 W"]
    assert more == math.floor(row.spare_a / find_lamp(dict(COMMON_LAMPS)["5 W"]).max_current_a)
    assert findings(with_tail_lamps(start + more, fuse="5 A"), "fuse-load") == []
    assert findings(with_tail_lamps(start + more + 2, fuse="5 A"), "fuse-load") != []


def test_headroom_below_zero_when_a_limit_is_passed():
    """A channel that is over its limit has a negative room and no lamp left."""
    row = room(with_tail_lamps(30, fuse="5 A"))
    assert row.spare_a < 0
    assert {count for _, count in row.lamps} == {0}


def test_headroom_of_a_wire_is_bound_by_the_vehicle_s_fuse():
    """A wire takes its current from the vehicle's circuit: the fuse there binds, and not the converter beside it."""
    vehicle = {"feed": [{"circuits": ["tail_left"], "fuse": "5 A"}]}
    row = room(
        rig("iso-12098", channels=["tail_left > tail | wire"], lamps=["tail r5w-24v"], vehicle=vehicle, volts=24),
        "wire1",
    )
    assert row.bound_by == "-F2 fuse 5 A"
    assert row.carried_a + row.spare_a == pytest.approx(3.75)


def test_headroom_in_front_of_a_converter_counts_the_voltages():
    """A small fuse in front of the converter binds: an amp at 13.6 V takes about half an amp at 28 V through it."""
    tap = {**BOX_FEED, "fuse": "2 A"}
    text = rig(supply={**SUPPLY, "output": "13.6 V", "fuse": "30 A"}, taps=[tap])
    row = room(text)
    assert row.bound_by == "-F1 fuse 2 A"
    both = solved(text)
    lit = int(both.current_a("-T1").argmax())
    fuse = both.circuit.by_ref["-F1"]
    assert isinstance(fuse, Fuse)
    (converter,) = both.circuit.of(Converter)
    v_in = (both.voltage_v(converter.a) - both.voltage_v(converter.common))[lit]
    v_out = (both.voltage_v(converter.b) - both.voltage_v(converter.common))[lit]
    spare_in = 1.5 - both.current_a("-F1")[lit]
    assert row.spare_a == pytest.approx(spare_in * converter.efficiency * v_in / v_out)
    assert row.spare_a > 1.5 * spare_in


def test_every_rule_has_a_name_and_is_listed_once():
    """No rule is listed twice, and each says in its first line what holds when it finds nothing."""
    assert len(set(RULES)) == len(RULES)
    assert [rule.__name__ for rule in RULES if not (rule.__doc__ or "").strip()] == []


def test_findings_come_errors_first_and_once_for_two_trailers():
    """Errors, then warnings, then notices; what two trailers share is said once."""
    both = [trailer("sae-j2863", ["tail"], name=name) for name in ("one", "two")]
    report = check(load(rig(trailers=both, channels=["stop > stop_turn_left", {"input": "tail", "output": "tail"}])))
    order = [f.severity for f in report.findings]
    assert order == sorted(order, key=("error", "warning", "notice").index)
    assert len([f for f in report.findings if f.rule == "missing-input"]) == 1
    assert len([f for f in report.findings if f.rule == "shared-shell"]) == 1
    assert report.verdict == "findings"
    clean = check(load(rig()))
    assert (clean.verdict, clean.count("error"), clean.count("warning")) == ("clean", 0, 0)


def test_the_design_holds_what_the_rules_look_at():
    """Channels, taps and limits reach the rules as written."""
    loaded = load(rig(pedal=True, channels=["tail > tail", "pedal > stop_turn_left"]))
    design = design_of(loaded, build(loaded))
    assert [(c.name, c.inputs, c.outputs) for c in design.channels] == [
        ("K1", ("tail",), ("tail",)),
        ("K2", ("pedal",), ("stop_turn_left",)),
    ]
    assert [(t.name, t.fuse_a) for t in design.taps] == [("box_feed", 30.0), (PEDAL["name"], 5.0)]
    assert (design.supply_feed, design.supply_feed_live, design.missing_feed) == ("box_feed", "always", None)
