"""A trace agrees with the behaviour table: ways are there exactly when a lamp is lit, breaks do what they were told."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.command import ROOT, wiregen
from tests.random_rigs import random_rigs
from tests.rigs import rig
from wiregen.circuit.behaviour import behave
from wiregen.design.design import Design, load, load_text
from wiregen.model.circuit import Battery, Circuit, Coil, Contact, Converter, Diode, Lamp, Load, RelayContact, Switch
from wiregen.model.state import Controls, every_controls
from wiregen.questions.trace.ask import trace
from wiregen.questions.trace.marks import TraceTarget, targets, wire_ids
from wiregen.questions.trace.paper import trace_text
from wiregen.questions.trace.record import Trace
from wiregen.questions.trace.ways import Moment, Moments, Route
from wiregen.questions.trace.work import listed, read, trace_one

DEMO = ROOT / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"
#: The demos, and rigs written as new users write them; one that leaves its sizes open is not among them.
RIGS = [
    *sorted(DEMO.parent.glob("*.toml")),
    *(path for path in sorted((ROOT / "tests" / "written").glob("*.toml")) if path.stem != "us-truck-auto"),
]
EVERY = pytest.mark.parametrize("path", RIGS, ids=lambda path: path.stem)
RANDOM = settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))


#: Trailers of a rig that are looked at: the vehicle and the adapter are the same with every one.
MOST = 2


def agree(design: Design) -> None:
    """Every lamp has a way there and a way back exactly when the behaviour table says that it is lit."""
    for circuit, table in list(zip(design.circuits, design.behaviour, strict=True))[:MOST]:
        moments, seen = Moments(circuit), set()
        for row in table.rows:
            for lit, burns in zip((True, False), row.burns, strict=True):
                closed = moments.board.closed(row.controls, lit=lit)
                part = circuit.by_ref[row.lamp]
                if (row.lamp, closed, burns) in seen:
                    continue
                seen.add((row.lamp, closed, burns))
                assert isinstance(part, Lamp | Load)
                moment = moments.at(closed)
                feeds, backs = moment.loops(part)
                assert (bool(feeds), bool(backs)) == (burns, burns), (row.lamp, row.controls.words)
                for route in (*feeds, *backs):
                    assert_walks(circuit, moment, route, dict(zip(moments.board.switches, closed, strict=True)))
                    assert route.terminals[-1 if route.lead else 0] in (part.a, part.b)


def assert_walks(circuit: Circuit, moment: Moment, route: Route, closed: dict[Switch, bool]) -> None:
    """Each part of a way joins the two terminals beside it, conducts, and no terminal is passed twice."""
    parts = [circuit.by_ref[ref] for ref in route.refs]
    battery, way = (parts[0], parts[1:]) if route.lead else (parts[-1], parts[:-1])
    assert isinstance(battery, Battery)
    assert len(set(route.terminals)) == len(route.terminals) == len(way) + 1
    for part, a, b in zip(way, route.terminals, route.terminals[1:], strict=False):
        one_way = isinstance(part, Diode | Converter)
        assert (part.a, part.b) == (a, b) or (not one_way and (part.b, part.a) == (a, b))
        assert not isinstance(part, Lamp | Load | Coil | Battery)
        assert not isinstance(part, Switch) or closed[part]
        assert not isinstance(part, RelayContact) or part.gate.is_open_to(moment.nets.pulled)


@EVERY
def test_ways_are_there_exactly_when_a_lamp_is_lit(path):
    """Ways are searched in the graph, the table is made by union-find: both say the same in every setting."""
    agree(load(path))


@RANDOM
@given(random_rigs())
def test_ways_are_there_exactly_when_a_lamp_is_lit_in_random_rigs(text):
    """So they do with any input on any output."""
    agree(load_text(text))


def looks(circuit: Circuit, signals: frozenset[str]) -> dict[tuple[str, Controls], tuple[bool, bool]]:
    return {(row.lamp, row.controls): row.burns for row in behave(circuit, signals).rows}


def told(design: Design, number: int, target: TraceTarget) -> None:
    """What a trace says of a break is what the behaviour table of the broken circuit says, lamp by lamp."""
    circuit = design.circuits[number]
    before, after = looks(circuit, design.signals), looks(target.broken(circuit), design.signals)
    out, partly, on, other = set(), set(), set(), set()
    for lamp in {lamp for lamp, _ in before}:
        of_lamp = [
            (was, after.get((lamp, controls), (False, False))) for (one, controls), was in before.items() if one == lamp
        ]
        gone = [any(was) and not any(now) for was, now in of_lamp]
        if any(not any(was) and any(now) for was, now in of_lamp):
            on.add(lamp)
        elif any(gone):
            (out if sum(gone) == sum(any(was) for was, _ in of_lamp) else partly).add(lamp)
        elif any(was != now for was, now in of_lamp):
            other.add(lamp)
    traced = trace_one(circuit, design.signals, target, wire_ids(design.harness))
    found = {
        kind: {f"-{e.mark}" for e in traced.effects if e.kind == kind} for kind in ("out", "partly", "on", "other")
    }
    lamps = {lamp for lamp, _ in before}
    assert {kind: refs & lamps for kind, refs in found.items()} == {
        "out": out,
        "partly": partly,
        "on": on,
        "other": other,
    }


def sample(design: Design, count: int, seed: int) -> Iterator[tuple[int, TraceTarget]]:
    """A few marks of one trailer, by lot."""
    choice = random.Random(seed)
    number = choice.randrange(len(design.circuits))
    known = targets(design.circuits[number], design.harness)
    for mark in choice.sample(sorted(known), count):
        yield number, known[mark]


@EVERY
def test_a_break_does_what_the_trace_says(path):
    """Marks of all kinds, by lot: parts that are gone, and terminals on which everything has come loose."""
    design = load(path)
    for number, target in sample(design, 3, seed=len(path.stem)):
        told(design, number, target)


@RANDOM
@given(random_rigs(), st.integers(0, 1000))
def test_a_break_does_what_the_trace_says_in_random_rigs(text, seed):
    """So it is in rigs made at random."""
    design = load_text(text)
    for number, target in sample(design, 2, seed):
        told(design, number, target)


def predicted(moment: Moment, circuit: Circuit, part: Lamp | Load, broken: str) -> bool | None:
    """Whether a lamp that is lit stays lit without a part, from the ways alone; None where a relay opens another.

    A coil lets go when every way to it or every way from it passes the part; a way is left when it does not pass it and
    every relay contact on it stays closed.
    """
    kept = {
        coil.ref
        for coil in circuit.of(Coil)
        if coil.ref in moment.nets.pulled
        and coil.ref != broken
        and all(any(broken not in route.refs for route in routes) for routes in moment.loops(coil))
    }
    gates = {e.ref: e.gate for e in (*circuit.of(RelayContact), *circuit.of(Converter)) if e.gate is not None}
    if any(gate.is_open_to(kept) and not gate.is_open_to(moment.nets.pulled) for gate in gates.values()):
        return None

    def is_left(route: Route) -> bool:
        return broken not in route.refs and all(gates[ref].is_open_to(kept) for ref in route.refs if ref in gates)

    return part.ref != broken and all(any(is_left(route) for route in routes) for routes in moment.loops(part))


@EVERY
def test_breaks_follow_from_the_ways(path):
    """What every way passes puts the lamp out, what one way does not pass does not: held against the behaviour table.

    Grounds of converters are left out: what comes back from a converter is on no lamp's way to it.
    """
    design, choice = load(path), random.Random(7)
    checked = 0
    for circuit in design.circuits[:MOST]:
        moments, seen = Moments(circuit), set()
        lamps = [*circuit.of(Lamp), *circuit.of(Load)]
        parts = [e for e in circuit.elements if not e.circuit.startswith("ground") and not isinstance(e, Battery)]
        for broken in choice.sample(parts, min(6, len(parts))):
            after = looks(TraceTarget("x", frozenset({broken.ref})).broken(circuit), design.signals)
            for controls in every_controls(design.signals):
                for half, lit in enumerate((True, False)):
                    closed = moments.board.closed(controls, lit=lit)
                    if (broken.ref, closed) in seen:
                        continue
                    seen.add((broken.ref, closed))
                    moment = moments.at(closed)
                    for part in lamps:
                        stays = predicted(moment, circuit, part, broken.ref) if moment.lies(part) else None
                        if stays is not None:
                            burns = after.get((part.ref, controls), (False, False))[half]
                            assert burns == stays, (broken.ref, part.ref, controls.words)
                            checked += 1
    assert checked > 20 or path.stem == "bad-example"


@EVERY
def test_contacts_are_live_when_the_table_says_so(path):
    """The list of settings, read back, is the behaviour table's own row of each contact, for contacts by lot."""
    design, choice = load(path), random.Random(3)
    for circuit, table in list(zip(design.circuits, design.behaviour, strict=True))[:1]:
        for contact in choice.sample(circuit.of(Contact), 2):
            one = trace_one(
                circuit, design.signals, TraceTarget("x", frozenset({contact.ref})), wire_ids(design.harness)
            )
            if not one.is_return:
                live = [controls for controls, refs in table.live_contacts.items() if contact.ref in refs]
                assert one.count == len(live), contact.ref
                assert one.settings == len(table.live_contacts)


CONTROLS = list(every_controls({"lights", "blackout", "brake", "left", "right", "hazard"}))


@settings(deadline=None, max_examples=30)
@given(st.lists(st.sampled_from(["dark", "steady", "flash"]), min_size=len(CONTROLS), max_size=len(CONTROLS)))
def test_every_setting_is_read_from_the_list(drawn):
    """Whatever a mark does, the list tells it of every setting."""
    table = dict(zip(CONTROLS, drawn, strict=True))
    entries = listed(table)
    assert {controls: read(entries, controls) for controls in table} == table


def test_the_list_is_short_where_the_rule_is():
    """A turn signal that the pedal holds steady is told in three lines, and all off."""
    table = {c: "flash" if c.turn == "left" else "steady" if c.brake else "dark" for c in CONTROLS}
    told = [(controls.words, look) for controls, look in listed(table)]
    assert told == [("all off", "dark"), ("left turn", "flash"), ("brake", "steady"), ("brake, left turn", "flash")]


# --- the example of the observatory's bus, followed on its schematic by hand ---


@pytest.fixture(scope="module")
def bus() -> Design:
    return load(DEMO)


def marks(ways) -> list[str]:
    return [" ".join(step.mark for step in way.steps) for way in ways]


def test_contact_that_works_a_relay(bus):
    """X1:B is the left stop and turn of the bus: it works K2, which brings 12 V to E3; three grounds lead back."""
    (one,) = trace(bus, "X1:B", "boat trailer").trailers
    (relay,) = one.coils
    assert marks(relay.feeds) == ["G1 F3 S2 W9 X1:B W10"]
    (lamp,) = one.loads
    assert (lamp.words, lamp.serves, lamp.relays) == ("left stop and turn lamp (E3)", "works", ("K2",))
    assert marks(lamp.feeds) == ["G1 F1 W6 T1 F2 F5 K2:30-87 W18 X2:5 W19 W28"]
    assert marks(lamp.backs) == [
        "W29 W22 X2:1 W23 W5 XE1 G1",
        "W29 W22 X2:1 W23 W1 X1:D W2 XE1 G1",
        "W29 W22 X2:1 W23 W3 X1:L W4 XE1 G1",
    ]
    assert {"W5", "W1", "X1:D", "W3"}.isdisjoint(lamp.no_second)
    assert {"W29", "X2:1", "XE1", "K2:30-87", "E3"} <= set(lamp.no_second)
    assert [(effect.words, effect.kind) for effect in one.effects] == [("left stop and turn lamp (E3)", "out")]
    assert (one.never, one.dead, one.is_return) == (("blackout",), ("X1:B",), False)
    wire = lamp.feeds[0].steps[7]
    assert (wire.mark, wire.kind, wire.size, wire.colour) == ("W18", "wire", "14 AWG", "YE")


def test_one_of_three_grounds_cuts_nothing_off(bus):
    """The own ground of the box has two contacts of the socket beside it."""
    (one,) = trace(bus, "W5", "boat trailer").trailers
    assert one.is_return
    assert one.effects == ()
    assert "nothing goes out" in trace_text(trace(bus, "W5"))


def test_the_ground_bar_cuts_everything_off(bus):
    """Everything on A1:0V comes loose: every lamp and the brakes are out."""
    (one,) = trace(bus, "A1:0V", "boat trailer").trailers
    assert {effect.mark for effect in one.effects if effect.kind == "out"} == {"E1", "E2", "E3", "E4", "M1"}
    assert "DANGER" in trace_text(trace(bus, "A1:0V"))


def test_a_normally_closed_contact_that_loses_its_coil_lights_a_lamp():
    """With "tail and not pedal" a broken pedal wire keeps the lamps on while braking."""
    text = rig(channels=["tail and not pedal > tail"], pedal=True)
    design = load_text(text)
    pedal = next(w for w in design.harness.wires if w.circuit == "pedal")
    (one,) = trace(design, pedal.id).trailers
    assert [(effect.kind, "brake" in effect.settings[0]) for effect in one.effects] == [("on", True)]
    assert "ON where it was off" in trace_text(trace(design, pedal.id))


# --- words and the command ---


@pytest.mark.parametrize("path", RIGS[:3], ids=lambda path: path.stem)
def test_a_trace_fits_a_screen(path):
    """At most 40 lines of 80 columns on the demos; only the battery of the lorry, on which 14 ways hang, has more."""
    design = load(path)
    known = targets(design.circuits[0], design.harness)
    for mark in ["G1", "F1", "X1:B" if "X1:B" in known else "X1:1", "A1:0V", "chassis", "T1", *sorted(known)[::29]]:
        if mark in known:
            lines = trace_text(trace(design, mark)).splitlines()
            assert len(lines) <= (50 if (path.stem, mark) == ("ringing-lorry", "G1") else 40), mark
            assert max(map(len, lines)) <= 80, mark


def test_the_same_mark_however_it_is_written(bus):
    """With and without a hyphen, in small letters."""
    for text in ("X1:B", "-X1:B", "x1:b", " X1:B "):
        assert trace(bus, text).mark == "X1:B"
    assert trace(bus, "k1:30").trailers[0].loads[0].words == "tail lamps (E1)"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("W99",), "'W99' is no mark of this rig; did you mean 'W9'?"),
        (("X2:3", "--trailer", "light trailer"), "'X2:3' is not on light trailer: it is on boat trailer"),
        (("X2:3", "--trailer", "boot trailer"), "did you mean 'boat trailer'?"),
        (("",), "is no mark of this rig"),
    ],
)
def test_what_is_not_there_is_told(arguments, words):
    """An unknown mark or trailer: exit status 2, the nearest right word."""
    done = wiregen("trace", DEMO, *arguments)
    assert done.returncode == 2
    assert words in done.stderr


def test_the_command_prints_text_and_json():
    """The text names the lamp with its mark; JSON holds every way."""
    done = wiregen("trace", DEMO, "-X1:B")
    assert done.returncode == 0
    assert "left stop and turn lamp (E3)" in done.stdout
    assert "qualified people have the last word" in done.stdout
    data = json.loads(wiregen("trace", DEMO, "X1:B", "--json", "--trailer", "light trailer").stdout)
    (one,) = data["trailers"]
    assert (data["mark"], one["trailer"]) == ("X1:B", "light trailer")
    assert [step["mark"] for step in one["coils"][0]["feeds"][0]["steps"]] == ["G1", "F3", "S2", "W9", "X1:B", "W10"]
    assert "hazard" in one["coils"][0]["feeds"][0]["settings"]
    assert set(Trace.__slots__) == set(data)
