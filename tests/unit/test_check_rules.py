"""Every rule of the check: one rig that breaks it and a near twin that does not, on both sides of the limit.

A finding must carry value, limit and unit, a margin with the right sign, the state it happens in, and the line to
change.
"""

import pytest

from tests.findings import above, at_nominal, findings, one, place, row_of, solved
from tests.problems import OWN
from tests.rigs import BOX_FEED, PEDAL, RUNS, SUPPLY, dump, load, rig, straight, trailer
from tests.steps import build, case_of, check
from wiregen.catalogue.lamps import find_lamp
from wiregen.check.rules import RULES
from wiregen.model.circuit import Contact, Converter, Lamp

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
    text = rig(bridged=[["1", "3"]])
    found = one(text, "short")
    assert (found.severity, found.where, found.state) == ("error", "-T1", "service lights")
    assert found.message == "plus of -T1 (step-down converter) lies straight on ground"
    place(found, text, "[adapter.supply]")
    assert findings(rig(bridged=[["3", "4"]]), "short") == []


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
    text = rig(supply={**SUPPLY, "fed_by": "tail"})
    found = one(text, "supply-feed")
    assert (found.severity, found.state) == ("error", "all off")
    assert "the converter is fed from 'tail', a lamp circuit that is not always live" in found.message
    place(found, text, "fed_by =")
    assert findings(rig(), "supply-feed") == []
    habit = {"exception": [{"circuit": "tail", "live": "always"}]}
    assert findings(rig(supply={**SUPPLY, "fed_by": "tail"}, vehicle=habit), "supply-feed") == []


def test_a_converter_feed_that_is_not_there():
    """A converter on a charge contact that the socket has not: error; on a socket that has one: none."""
    text = rig(supply={**SUPPLY, "fed_by": "charge"})
    found = one(text, "supply-feed")
    assert found.message == "the converter's feed 'charge' is not offered by the vehicle"
    place(found, text, "fed_by =")
    twin = rig("iso-12098", channels=["tail_left > tail"], supply={**SUPPLY, "fed_by": "charge"})
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
    """Circuits that feed coils and for which the rig names no fuse are listed; named under a feed they are not."""
    found = one(rig(channels=["tail > tail", "stop_turn_left > stop_turn_left"]), "unfused-feed")
    words = "no vehicle fuse or breaker is stated for: tail, left stop and turn"
    assert (found.severity, found.message) == ("notice", words)
    vehicle = {"fuse": [{"circuits": ["tail"], "fuse": "10 A"}]}
    assert findings(rig(vehicle=vehicle), "unfused-feed") == []
    # A feed without a rating is no fuse.
    assert one(rig(vehicle={"fuse": [{"circuits": ["tail"]}]}), "unfused-feed").severity == "notice"


def test_a_converter_s_feed_without_a_stated_fuse_is_a_warning():
    """What feeds the converter carries its whole current: go and look; with the fuse stated there is nothing."""
    supply = {**SUPPLY, "fed_by": "charge"}
    relays = {"circuits": ["tail_left"], "fuse": "10 A"}

    def text(*feeds: object) -> str:
        vehicle = {"fuse": [relays, *feeds]}
        return rig("iso-12098", channels=["tail_left > tail"], supply=supply, vehicle=vehicle)

    found = one(text(), "unfused-feed")
    assert (found.severity, found.where) == ("warning", "vehicle feed charge")
    place(found, text(), "fed_by =")
    assert findings(text({"circuits": ["charge"], "fuse": "20 A"}), "unfused-feed") == []


def test_a_circuit_that_runs_on_to_the_trailer_without_a_stated_fuse_is_a_warning():
    """A straight lead and a wire carry lamps: a warning that names them; behind a relay it stays a notice."""
    lead = one(straight("iso-1185", "iso-1185", ["stop"]), "unfused-feed")
    assert (lead.severity, "left tail" in lead.message, "stop" in lead.message) == ("warning", True, True)
    mixed = findings(
        rig("iso-12098", channels=["stop > stop_turn_left | wire", "tail_left > tail"], lamps=["tail"]), "unfused-feed"
    )
    assert [(f.severity, f.message.split(": ")[1]) for f in mixed] == [("warning", "stop"), ("notice", "left tail")]


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
    assert (found.severity, found.state, found.limit) == ("error", "brake; charging high, cold", 16.0)
    assert found.value == pytest.approx(28.8, abs=0.5)
    place(found, text("p21w-12v"), "[[trailer.lamp]]")
    assert findings(text("p21w-24v"), "over-voltage") == []


@pytest.mark.parametrize(("running", "breaks"), [("16.3 V", True), ("16.1 V", False)])
def test_over_voltage_on_both_sides_of_the_limit(running, breaks):
    """A 12 V lamp stands 16 V: a little more at the battery passes it, a little less does not."""
    vehicle = {"battery": {"nominal": "12 V", "charging": running}}
    text = rig("iso-12098", channels=["stop > stop_turn_left | wire"], lamps=["stop_turn_left"], vehicle=vehicle)
    found = findings(text, "over-voltage")
    across = solved(text)
    (lamp,) = across.circuit.of(Lamp)
    most = across.across_v(lamp).max()
    assert (most > 16.0) == breaks
    assert [f.value for f in found] == ([pytest.approx(most)] if breaks else [])
    if breaks:
        above(found[0], "V")
        assert found[0].state == "brake; charging high, cold"


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
    assert (found.severity, found.unit) == (severity, "V")
    # The usual drop is for ordinary conditions; the lowest voltage holds at every corner.
    assert found.state == "service lights" if severity == "warning" else found.state.startswith("service lights")
    assert "; light " in found.message
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
    lit = row_of(across, found.state)
    lamp_v = across.across_v(lamp)[lit]
    source_v = (across.voltage_v(converter.b) - across.voltage_v(converter.common))[lit]
    assert found.value == pytest.approx(lamp_v if severity == "error" else source_v - lamp_v)
    place(found, cable(with_it), "[[trailer.lamp]]")


def test_the_user_may_tighten_the_lamp_limits():
    """Limits under [rules] take the place of the usual ones, and are named as the source."""
    text = cable(4.0, rules={"lowest_lamp_voltage": "99 %"})
    found = one(text, "lamp-voltage")
    assert (found.severity, found.limit, found.source) == ("error", pytest.approx(0.99 * 13.5), "rig file")
    loose = cable(8.0, rules={"lamp_drop_warning": "20 %"})
    assert findings(loose, "lamp-voltage") == []
    assert one(cable(8.0), "lamp-voltage").severity == "warning"


@pytest.mark.parametrize(("pick_up", "dark"), [("28.5 V", True), ("16 V", False)])
@pytest.mark.parametrize("function", ["tail_left", "turn_left"])
def test_a_coil_that_does_not_pick_up_is_a_dark_lamp(function, pick_up, dark):
    """A relay that does not get its pick-up voltage leaves its lamp at 0 V: an error, for flashing lamps too."""
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
    both = at_nominal(text)
    row = row_of(both, "service lights")
    first, second = both.circuit.of(Converter)
    assert both.voltage_v(second.b)[row] - both.voltage_v(first.b)[row] == pytest.approx(0.0, abs=0.5)
    source_v = (both.voltage_v(first.b) - both.voltage_v(first.common))[row]
    assert found.value == pytest.approx(source_v - both.across_v(both.circuit.by_ref["-E1"])[row])
    assert found.severity == "warning"


@pytest.mark.parametrize("supply", [{"kind": "centre_tap"}, {"kind": "battery", "output": "13.6 V"}])
def test_the_drop_is_against_the_supply_in_use(supply):
    """With a centre tap or an adapter battery the drop is counted from that battery's terminals."""
    text = cable(8.0, supply=supply)
    found = one(text, "lamp-voltage")
    across = at_nominal(text)
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


def test_lamps_that_lose_too_much_in_one_state_are_one_finding():
    """Three lamps on one long cable: the worst in full, the others named; a lamp alone names none."""
    cable = {"from": "trailer", "to": "lamps", "length": "12 m", "size": "1.5 mm²"}

    def text(*lamps: object) -> str:
        return rig(lamps=list(lamps), runs=[*RUNS, cable], rules={"lowest_lamp_voltage": "50 %"})

    both = one(text({"function": "tail", "count": 2, "type": "p21w-12v"}, "tail", "tail"), "lamp-voltage")
    alone = one(text({"function": "tail", "count": 3, "type": "p21w-12v"}), "lamp-voltage")
    assert (both.severity, both.where.split()[0]) == ("warning", "-E1")
    assert both.message.endswith("; likewise -E2, -E3")
    assert "likewise" not in alone.message


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
    clean = check(load(rig(supply={**SUPPLY, "current_limit": "50 A"}, taps=[BOX_FEED])))
    assert (clean.verdict, clean.count("error"), clean.count("warning")) == ("clean", 0, 0)


def test_the_design_holds_what_the_rules_look_at():
    """Channels, taps and limits reach the rules as written."""
    loaded = load(rig(pedal=True, channels=["tail > tail", "pedal > stop_turn_left"]))
    case = case_of(loaded, build(loaded))
    assert [(c.name, c.inputs, c.outputs) for c in case.channels] == [
        ("K1", ("tail",), ("tail",)),
        ("K2", ("pedal",), ("stop_turn_left",)),
    ]
    assert [(t.name, t.fuse_a) for t in case.taps] == [("box_feed", 30.0), (PEDAL["name"], 5.0)]
    assert (case.supply_feed, case.supply_feed_live, case.missing_feed) == ("box_feed", "always", None)
