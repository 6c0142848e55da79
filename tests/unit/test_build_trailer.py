"""The trailer side of a built circuit: lamps, brakes, joints, the hitch; and what leads back to the rig file."""

from pathlib import Path as FilePath

import pytest

from tests.rigs import load, rig, straight
from tests.steps import behaviour, build, check
from wiregen.circuit.behaviour import feeder_of
from wiregen.circuit.build import Built
from wiregen.model.circuit import (
    Circuit,
    Lamp,
    Load,
    Path,
    Resistive,
)
from wiregen.model.connection import joined

DEMOS = FilePath(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo"


def built(text: str) -> Built:
    return build(load(text))


def circuit(text: str) -> Circuit:
    (one,) = built(text).circuits
    return one


def test_lamps_of_a_type_and_with_own_data():
    """A lamp of the list brings its own values; one with voltage and power gets its current from them."""
    own = {"function": "stop_turn_left", "technology": "filament", "voltage": "12.8 V", "power": "25.6 W", "count": 3}
    led = {"function": "stop_turn_right", "technology": "led", "voltage": "24 V", "power": "6 W"}
    made = circuit(rig(channels=["tail > tail"], lamps=["tail r5w-12v", own, led]))
    tail, filament, diode = made.of(Lamp)
    assert (tail.rated_v, tail.rated_a) == (13.5, pytest.approx(5 / 13.5, rel=1e-12))
    assert (filament.rated_v, filament.rated_a, filament.count, filament.nominal_v) == (12.8, 2.0, 3, 12.0)
    assert (diode.rated_a, diode.nominal_v, diode.max_v, diode.cut_off_v) == (0.25, 24.0, 32.0, 14.0)


def test_brakes_and_lock_out():
    """Magnets lie in parallel on the brake contact, the lock-out on the reverse contact, each with its own return."""
    more = {"brakes": {"magnets": 4, "magnet_resistance": "3.2 ohm"}, "lock_out": {"resistance": "12 ohm"}}
    made = circuit(rig("iso-12098", "sae-j2863", channels=["tail_left > tail"], lamps=["tail"], **more))
    brakes, lock = made.of(Load)
    assert (brakes.resistance_ohm, brakes.count, brakes.function) == (0.8, 4, "brake")
    assert (lock.resistance_ohm, lock.count, lock.function) == (12.0, 1, "reverse")
    assert [e.b for e in made.elements if e.a in (f"{brakes.ref}:2", f"{lock.ref}:2")] == ["-X2:ground"] * 2


def test_the_hitch_is_counted_only_when_the_rig_says_so():
    """The unintended path through the hitch joins trailer ground and chassis, with the resistance the rig gives."""
    assert [p.ref for p in circuit(rig()).of(Path)] == ["-XE1"]
    hitch = next(p for p in circuit(rig(hitch_resistance="0.3 ohm")).of(Path) if p.ref == "-XE2")
    assert (hitch.a, hitch.b, hitch.resistance_ohm) == ("-X2:ground", "chassis", 0.3)


def test_ties_are_those_of_the_trailer():
    """A trailer joins only the contacts its rig says; a pinout's own ties are those of the vehicle it was read from."""
    lamps = [{"function": "stop_turn_left"}, {"function": "stop_turn_right"}]
    assert [p.title for p in circuit(straight("military-12-us", "military-12-us", lamps)).of(Path)] == [
        "chassis to battery minus"
    ]
    tied = circuit(straight("military-12-us", "military-12-us", lamps, bridged=[["A", "C", "H"]]))
    joints = [(p.a, p.b) for p in tied.of(Path) if p.zone == "trailer"]
    assert joints == [("-X2:A.s", "-X2:C.s"), ("-X2:C.s", "-X2:H.s")]


@pytest.mark.parametrize("order", [["3", "1"], ["1", "3"]])
def test_a_tie_to_ground_is_a_short(order):
    """A live contact joined to the ground contact inside the trailer is a short, in whichever order it is written."""
    report = check(load(rig("iso-1185", "sae-j2863", channels=["tail_left > tail"], bridged=[order])))
    (short,) = (f for f in report.findings if f.rule == "short")
    assert (short.where, short.state) == ("-T1", "service lights")


def test_ties_written_twice_are_one():
    """The same group written twice, and a mark twice in a group, make one joint."""
    text = rig("iso-1185", "sae-j2863", channels=["tail_left > tail"], bridged=[["3", "5", "3"], ["3", "5", "3"]])
    assert len([p for p in circuit(text).of(Path) if p.zone == "trailer"]) == 1


def test_a_lamp_on_a_ground_contact_is_dark():
    """A lamp wired to the ground contact by mistake lies between ground and ground; no part is made twice."""
    made = circuit(rig(lamps=[{"function": "tail", "contact": "1"}]))
    assert len(made.by_ref) == len(made.elements)
    loaded = load(rig(lamps=[{"function": "tail", "contact": "1"}]))
    (table,) = behaviour(loaded, build(loaded))
    assert {row.actual for row in table.rows} == {"dark"}


def test_feeders_have_the_names_of_their_channels():
    """A lamp's feeder is found back through cable, contact and joints, whichever way a joint was written."""

    def feeders(text: str) -> list[str]:
        made = circuit(text)
        return [feeder_of(made, lamp) for lamp in made.of(Lamp)]

    both = rig("iso-1185", "sae-j2863", channels=["tail_left > tail", "tail_right > tail"], lamps=["tail"])
    assert feeders(both) == ["K1 + K2"]
    for ties in ([["3", "5"]], [["5", "3"]]):
        assert feeders(
            rig("iso-1185", "sae-j2863", channels=["stop > tail"], lamps=["stop_turn_left"], bridged=ties)
        ) == ["K1"]
    assert feeders(rig(channels=["tail > tail"], lamps=["stop_turn_left"])) == ["no channel"]
    assert feeders(straight("military-12-us", "military-12-us", ["tail"])) == ["straight lead"]
    assert feeders(rig("iso-12098", "iso-11446", channels=["stop > stop | wire"], lamps=["stop"])) == ["wire1"]


def test_origins_lead_to_the_line():
    """Every part that a table of the rig file made knows that table's line."""
    text = rig(vehicle={"fuse": [{"circuits": ["tail"], "fuse": "20 A"}]})
    lines = text.splitlines()
    made = circuit(text)
    header = {
        "-F2": "[[vehicle.fuse]]",
        "-F1": "[[vehicle.tap]]",
        "-T1": "[adapter.supply]",
        "-K1": "[[adapter.channel]]",
        "-E1": "[[trailer.lamp]]",
        "-W1": "[[run]]",
    }
    found = {ref: lines[made.by_ref[ref].origin.line - 1] for ref in header}
    assert found == header


@pytest.mark.parametrize("name", ["observatory-bus", "ringing-lorry", "bad-example"])
def test_demo_circuits_are_sound(name):
    """In a demo no reference is used twice, no resistance is zero, and every part hangs on the rest."""
    for one in build(load((DEMOS / f"{name}.toml").read_text())).circuits:
        assert len(one.by_ref) == len(one.elements)
        assert [e.ref for e in one.of(Resistive) if not e.resistance_ohm > 0] == []
        # A contact that nothing feeds, and the coil of a missing input, hang on ground alone: still one piece.
        assert len(joined(one.graph())) == 1
