"""Contact networks: a channel's logic as relay contacts that can be wired."""

import itertools
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests import steps
from tests.rigs import load, rig
from wiregen.circuit.build import build as built
from wiregen.circuit.contacts import MOST_CONTACTS, contact_network
from wiregen.model.circuit import Conductor, Converter, RelayContact
from wiregen.model.contacts import (
    CLOSED,
    IN,
    OPEN,
    OUT,
    Break,
    ChangeOver,
    Gate,
    Make,
    Parallel,
    Series,
    is_closed,
    most_in_series,
    wired,
)
from wiregen.model.logic import MAX_WORDS, parse

_NAMES = ("stop", "pedal", "left", "right", "black")


def _expressions():
    leaf = st.sampled_from([*_NAMES, "always", "never"])

    def grow(inner):
        pair = st.tuples(inner, st.sampled_from([" and ", " or ", " xor "]), inner).map("".join)
        return st.one_of(pair, inner.map("({})".format), inner.map("not ({})".format))

    return st.recursive(leaf, grow, max_leaves=9)


def settings_of(expression):
    for truth in itertools.product((False, True), repeat=len(expression.names)):
        yield {name for name, true in zip(expression.names, truth, strict=True) if true}


def ways(poles, pulled):
    """Return the lengths, in closed contacts, of every way through the poles that enters no node twice."""
    closed = []
    for pole in poles:
        far = pole.make if pole.circuit in pulled else pole.rest
        if far:
            closed += [(pole.common, far), (far, pole.common)]
    found, todo = [], [(IN,)]
    while todo:
        path = todo.pop()
        if path[-1] == OUT:
            found.append(len(path) - 1)
            continue
        todo += [(*path, b) for a, b in closed if a == path[-1] and b not in path]
    return found


def gate(text, first=4):
    """Return a gate with relays K4, K5 ... in the order of the names."""
    expression = parse(text)
    coils = {name: f"-K{number}" for number, name in enumerate(expression.names, start=first)}
    return Gate(logic=expression, coils=coils, network=contact_network(expression))


@given(_expressions())
def test_network_does_what_the_expression_says(text):
    """For every setting of the relays the tree is closed exactly when the expression is true."""
    expression = parse(text)
    network = contact_network(expression)
    if network is not None:
        assert [is_closed(network, pulled) for pulled in settings_of(expression)] == [
            expression.value(lambda name, pulled=pulled: name in pulled) for pulled in settings_of(expression)
        ]


@given(_expressions())
def test_wired_poles_do_what_the_expression_says(text):
    """A current finds a way through the poles as wired exactly when the expression is true; no way is a sneak path."""
    expression = parse(text)
    network = contact_network(expression)
    if network not in (None, CLOSED, OPEN):
        for pulled in settings_of(expression):
            lengths = ways(wired(network), pulled)
            assert bool(lengths) is expression.value(lambda name, pulled=pulled: name in pulled)
            assert max(lengths, default=0) <= most_in_series(network)


@given(_expressions())
def test_every_pole_of_a_relay_is_used_once(text):
    """The poles of each relay are numbered from 1 without a gap, and each has at least one contact."""
    network = contact_network(parse(text))
    if network is not None:
        poles = wired(network)
        for circuit in {pole.circuit for pole in poles}:
            numbers = [pole.number for pole in poles if pole.circuit == circuit]
            assert numbers == list(range(1, len(numbers) + 1))
        assert all(pole.make or pole.rest for pole in poles)


SHAPES = {
    "stop": Make("stop"),
    "not stop": Break("stop"),
    "not not stop": Make("stop"),
    "stop and left": Series((Make("stop"), Make("left"))),
    "stop or not left": Parallel((Make("stop"), Break("left"))),
    "not (stop or left)": Series((Break("stop"), Break("left"))),
    "stop xor left": ChangeOver(("stop", "left")),
    "stop xor not left": ChangeOver(("stop", "left"), odd=False),
    "not (stop xor left)": ChangeOver(("stop", "left"), odd=False),
    "stop xor left xor right": ChangeOver(("stop", "left", "right")),
    "stop xor left xor stop": Make("left"),
    "(stop and not left) or (left and not stop)": ChangeOver(("stop", "left")),
    "(stop or not left) and (left or not stop)": ChangeOver(("stop", "left"), odd=False),
    "stop and left and stop": Series((Make("stop"), Make("left"))),
    "stop or not stop": CLOSED,
    "left and never": OPEN,
    "(stop xor pedal) and not black": Series((ChangeOver(("stop", "pedal")), Break("black"))),
}


@pytest.mark.parametrize("text", SHAPES)
def test_shape_of_a_network(text):
    """Series for and, parallel for or, a break contact for not, change-over contacts for xor; what cancels is gone."""
    assert contact_network(parse(text)) == SHAPES[text]


WORDS = {
    "stop and not left": "K4 make in series with K5 break",
    "stop xor left": "K4 and K5 change-over, cross-connected",
    "not (stop xor left)": "K4 and K5 change-over, connected like to like",
    "(stop xor pedal) and not black": "(K4 and K5 change-over, cross-connected) in series with K6 break",
    "stop or left and not right": "K4 make in parallel with (K5 make in series with K6 break)",
    "stop xor left xor right": (
        "K4, K5, K6 change-over in a row, closed while an odd number of them is pulled in; K5 needs 2 poles"
    ),
    "stop or always": "a bridge, always closed",
}


@pytest.mark.parametrize("text", WORDS)
def test_network_in_words(text):
    """A reader without the drawing is told every contact and how it is joined."""
    assert gate(text).words == WORDS[text]


def test_xor_of_two_is_the_cross_connected_pair():
    """30 of the first on the supply, 87 to 87a and 87a to 87, 30 of the second on.

    Source: two-way switching of one lamp from two places; common practice, no source.
    """
    assert gate("left xor pedal").ties("-F6:2", "-K5:30") == (
        ("-F6:2", "-K4:30"),
        ("-K4:87", "-K5:87a"),
        ("-K4:87a", "-K5:87"),
    )


def test_ties_name_the_poles_of_a_relay_used_twice():
    """Where a relay has several poles the terminals say which, and both ends of the network are told."""
    assert gate("stop and left or right and not stop").ties("-F1:2", "-W1") == (
        ("-F1:2", "-K4.1:30", "-K6:30"),
        ("-K4.1:87", "-K5:30"),
        ("-K6:87", "-K4.2:30"),
        ("-K5:87", "-K4.2:87a", "-W1"),
    )
    assert gate("stop and left or right and not stop").poles == {"-K4": 2, "-K5": 1, "-K6": 1}


def test_a_network_nobody_would_wire_is_not_given():
    """Expressions that need too many contacts give none, the longest that is read and the deepest nested included."""
    words = [f"n{number}" for number in range(MAX_WORDS // 2)]
    assert contact_network(parse(" and ".join(words[:MOST_CONTACTS]))) is not None
    assert contact_network(parse(" and ".join(words[: MOST_CONTACTS + 1]))) is None
    assert contact_network(parse(" xor ".join(words))) is None
    doubling = " xor ".join(f"({a} and {b})" for a, b in zip(words[::2], words[1::2], strict=True))
    assert contact_network(parse(doubling[: doubling.index(" xor (n100")])) is None
    deep = "not (" * 130 + "x" + ")" * 130
    assert contact_network(parse(deep)) == Make("x")


# --- in the circuit -------------------------------------------------------------------------------------------------


def contact_of(text, **keys):
    """Return the contact of the one channel of a 24 V vehicle with separate stop and turn signals."""
    channel = {"input": text, "output": "stop", "fuse": "5 A", **keys}
    (circuit,) = built(load(rig("iso-12098", "iso-1724", channels=[channel], lamps=["stop"]))).circuits
    (contact,) = circuit.of(RelayContact)
    return contact, circuit


def test_resistance_counts_the_contacts_one_behind_another():
    """Three contacts in series have three times the resistance of one; side by side the longest way counts."""
    lone, _ = contact_of("stop", contact_resistance="10 mohm")
    assert (lone.network, lone.words, lone.ties, lone.resistance_ohm) == (None, "", (), 0.01)
    for text, count in {
        "(stop xor turn_left) and not fog": 3,
        "stop or turn_left and fog": 2,
        "not stop": 1,
        "stop or always": 1,
        "stop xor turn_left xor fog": 3,
    }.items():
        contact, _ = contact_of(text, contact_resistance="10 mohm")
        assert contact.resistance_ohm == pytest.approx(count * 0.01)


def test_leads_start_at_the_terminal_the_network_ends_on():
    """The lead to the trailer starts at 87a of the relay that parts it in blackout, not at 87 of the first one."""
    contact, circuit = contact_of("(stop xor turn_left) and not fog")
    assert contact.b == "-K3:87a"
    assert contact.ties == (
        (contact.a, "-K1:30"),
        ("-K1:87", "-K2:87a"),
        ("-K1:87a", "-K2:87"),
        ("-K2:30", "-K3:30"),
    )
    assert [e.b for e in circuit.of(Conductor) if e.a == "-K3:87a"] == ["-X2:6.a"]
    assert contact.words == "(K1 and K2 change-over, cross-connected) in series with K3 break"


def test_logic_of_an_electronic_switch_sits_in_the_device():
    """A solid-state channel has no contact network, whatever its expression."""
    contact, _ = contact_of("(stop xor turn_left) and not fog", device="solid_state", contact_resistance="10 mohm")
    assert (contact.network, contact.words, contact.resistance_ohm) == (None, "", 0.01)


def test_relays_tell_a_brake_controller():
    """On 24 V the controller hears relays, whose network belongs to its gate; on 12 V it hears the circuit itself."""
    channel = {"input": "stop and not fog", "output": "brake", "device": "brake_controller"}
    (circuit,) = built(load(rig("iso-12098", "as-4177-7", channels=[channel], lamps=["stop"]))).circuits
    controller = next(c for c in circuit.of(Converter) if c.gate)
    assert controller.gate.words == "K1 make in series with K2 break"


def test_shells_know_how_well_their_contacts_are_supported():
    """The sign of the pinout's support comes with every contact of a connector."""
    (circuit,) = built(
        load(rig("military-12-us", "iso-11446", channels=["tail > tail_left"], lamps=["tail_left"]))
    ).circuits
    loaded = load(rig("military-12-us", "iso-11446", channels=["tail > tail_left"], lamps=["tail_left"]))
    signs = {"two": "2", "one": "1", "memory": "?", "disagree": "≠"}
    for shell, pinout in zip(circuit.shells.values(), (loaded.socket, *loaded.plugs), strict=True):
        assert shell.support == {entry.mark: signs[entry.support] for entry in pinout.contact}
    assert "≠" in circuit.shells["-X2"].support.values()


# --- in the chart ---------------------------------------------------------------------------------------------------


def joints(row):
    return f"Join {'; '.join(row.joints)}."


def notes_of(*channels, **keys):
    """Return what the chart says of each channel's relays, on a 24 V vehicle with separate stop and turn signals."""
    text = rig("iso-12098", "iso-1724", channels=channels, lamps=["stop"], **keys)
    return [
        f"{'; '.join(part for part in (row.title, row.about) if part)}. {joints(row)} {row.note}".strip()
        for row in steps.chart(load(text)).relays
    ]


def bench(note):
    """Return groups of joined terminals from the words of a note."""
    joints = re.search(r"Join (.*?)\.(?: |$)", note)[1].split("; ")
    return [set(joint.split(" to ")) for joint in joints]


def lit(groups, pulled):
    """Return what A1:12V reaches with the relays ``pulled`` pulled in, every relay having the terminals of ISO 7588."""
    poles = {name.split(":")[0] for group in groups for name in group if re.match(r"K[\d.]+:", name)}
    closed = [{f"{pole}:30", f"{pole}:{'87' if pole.split('.')[0] in pulled else '87a'}"} for pole in poles]
    closed += [{name, f"{name[:-1]}2"} for group in groups for name in group if re.match(r"F\d+:1", name)]
    reached = {"A1:12V"}
    while more := [group for group in (*groups, *closed) if reached & group and not group <= reached]:
        reached = reached.union(*more)
    return reached


@pytest.mark.parametrize(
    "text",
    [
        "stop",
        "not stop",
        "stop xor turn_left",
        "stop or turn_left",
        "stop and not turn_left or fog and turn_left",
        "stop xor turn_left xor fog",
        "(stop xor turn_left) and not fog",
    ],
)
def test_who_wires_by_the_words_gets_the_logic(text):
    """Relays joined as the chart says pass 12 V to the trailer's conductor exactly when the expression is true."""
    expression = parse(text)
    (note,) = notes_of(f"{text} > stop")
    groups = bench(note)
    coils = {}
    for group in groups:
        relays = [name for name in group if name.endswith(":86")]
        coils |= {name.split(":")[1].replace(" ", "_"): relays[0][:-3] for name in group if relays and name[:2] == "A1"}
    assert set(coils) == set(expression.names)
    assert all({"A1:0V", f"{relay}:85"} in groups for relay in coils.values())
    for on in settings_of(expression):
        reached = lit(groups, {coils[name] for name in on})
        assert any(name.startswith("W") for name in reached) is expression.value(lambda name, on=on: name in on)
        assert not any(name.endswith((":85", ":86")) for name in reached)


def test_relay_notes_name_fuses_and_every_trailer_conductor():
    """A plain channel is told with its fuse and where its conductor goes; the words are those of the cut list."""
    (note,) = notes_of({"input": "stop", "output": "stop", "fuse": "5 A"})
    assert note.startswith("K1, stop. Join A1:stop to K1:86; A1:0V to K1:85; F2:2 to K1:30; K1:87 to W")


def test_relays_that_tell_a_brake_controller_end_on_its_input():
    """The contacts of a 24 V signal switch 12 V to the controller's own input, from where the joints say."""
    channel = {"input": "stop and not fog", "output": "brake", "device": "brake_controller", "fuse": "25 A"}
    (note,) = notes_of(channel)
    assert {"A2:in to K1:30", "K1:87 to K2:30", "K2:87a to A2:signal"} <= set(note.rstrip(".").split("; "))


def test_no_relays_no_notes():
    """A rig of electronic switches has no relay wiring."""
    text = rig("iso-12098", "iso-1724", channels=["stop xor turn_left > stop | solid_state"], lamps=["stop"])
    assert steps.chart(load(text)).relays == ()
