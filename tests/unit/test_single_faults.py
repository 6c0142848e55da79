"""Single faults: every part has its own, each in words of its own, and the solver takes all of them."""

import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from tests.device_rigs import device_rig
from tests.rigs import load, rig
from wiregen.circuit.build import build, vehicle_signals
from wiregen.circuit.faults import ADDED_OHM, single_faults
from wiregen.model.circuit import (
    Battery,
    Coil,
    Conductor,
    Contact,
    Converter,
    Diode,
    Equaliser,
    Fuse,
    Lamp,
    Load,
    RelayContact,
    Resistor,
    Switch,
)
from wiregen.model.circuit import Path as MetalPath
from wiregen.model.corner import CORNERS
from wiregen.solve.full_study import solve_faults

DEMOS = Path(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo"
WANTED = {
    Conductor: ("open", "resistance", "resistance"),
    Contact: ("open", "resistance", "resistance"),
    Fuse: ("open", "resistance", "resistance"),
    MetalPath: ("open", "resistance", "resistance"),
    Coil: ("open",),
    Load: ("open",),
    Resistor: ("open",),
    Switch: ("stuck_on", "stuck_off"),
    RelayContact: ("stuck_on", "stuck_off"),
    Converter: ("stuck_off",),
    Diode: ("open", "shorted"),
}


def circuits():
    loaded = [load((DEMOS / f"{name}.toml").read_text("utf-8")) for name in ("observatory-bus", "ringing-lorry")]
    # Among rigs with every device stand diodes, resistors, equalisers and batteries on adapter and trailer.
    loaded += [load(device_rig(seed)) for seed in range(6)]
    return [circuit for one in loaded for circuit in build(one).circuits]


def test_the_rigs_hold_every_part():
    """Every kind of part that has a fault stands in one of the rigs."""
    found = {type(element) for circuit in circuits() for element in circuit.elements}
    assert {Lamp, Battery, Equaliser, *WANTED} <= found


@pytest.mark.parametrize("circuit", circuits(), ids=lambda circuit: circuit.trailer)
def test_each_kind_of_part_has_its_faults(circuit):
    """Opens and added resistance where current passes, stuck contacts, dead converters; lamps one and all."""
    faults = single_faults(circuit)
    by_ref: dict[str, list[str]] = {}
    for fault in faults:
        by_ref.setdefault(fault.ref, []).append(fault.kind)
    for element in circuit.elements:
        kinds = tuple(by_ref.pop(element.ref, []))
        if isinstance(element, Lamp):
            assert kinds == ("burnt",) * (2 if element.count > 1 else 1)
        elif isinstance(element, Battery):
            vehicle = [battery.zone for battery in circuit.of(Battery)].count("vehicle")
            assert kinds == (() if element.zone == "vehicle" and vehicle == 1 else ("open",)), element
        else:
            assert kinds == WANTED[Converter if isinstance(element, Converter) else type(element)], element
    assert by_ref == {}
    for lamp in circuit.of(Lamp):
        assert {fault.share for fault in faults if fault.ref == lamp.ref} == {1.0, 1 / lamp.count}
    assert {fault.ohm for fault in faults if fault.kind == "resistance"} == set(ADDED_OHM)


@pytest.mark.parametrize("circuit", circuits(), ids=lambda circuit: circuit.trailer)
def test_no_two_faults_read_alike(circuit):
    """The words tell every fault from every other, and name the part."""
    faults = single_faults(circuit)
    assert [words for words, count in Counter(fault.words for fault in faults).items() if count > 1] == []
    # A relay contact is named after its relay, a connector contact by connector and mark.
    assert [
        fault for fault in faults if fault.ref.lstrip("-").partition(":")[0] not in re.findall(r"\w+", fault.words)
    ] == []
    contacts = {contact.ref: contact.mark for contact in circuit.of(Contact)}
    assert [f for f in faults if f.ref in contacts and f"contact {contacts[f.ref]} " not in f.words] == []


def test_words_for_people():
    """What is broken, where it runs, and how it shows."""
    loaded = load(
        rig(
            channels=[{"input": "tail", "output": "tail", "fuse": "10 A", "rating": "20 A"}],
            lamps=[{"function": "tail", "count": 2}],
        )
    )
    (circuit,) = build(loaded).circuits
    words = {fault.words for fault in single_faults(circuit)}
    assert "relay K1 (tail) has an open coil and never picks up" in words
    assert "relay K1 (tail) is stuck closed" in words
    assert "X1 contact E (tail) has 0.2 ohm too much: corroded or loose" in words
    assert "one of tail lamps E1 is out" in words
    assert "all of tail lamps E1 are out" in words
    assert any(
        text.startswith("wire W") and text.endswith("(tail, battery to socket) is open (broken)") for text in words
    )
    assert any(text.startswith("fuse F") and "(tail, 10 A) is blown or missing" in text for text in words)


def test_every_fault_is_solved_and_most_change_something():
    """The study takes all of them; two in three change a lamp's voltage: the others lie before coils or do nothing."""
    loaded = load((DEMOS / "observatory-bus.toml").read_text("utf-8"))
    circuit = build(loaded).circuits[0]
    faults = single_faults(circuit)
    study = solve_faults(circuit, vehicle_signals(loaded), faults, CORNERS[:1])
    assert study.faults == faults
    assert study.across_v.shape[1] == len(faults)
    # The spread over faults of each state and lamp: none of them is the healthy value.
    middle = np.nanmedian(study.across_v, axis=1, keepdims=True)
    moved = (np.abs(study.across_v - middle) > 1e-6).any(axis=(0, 2))
    assert moved.mean() > 0.6
