"""Every single thing that may go wrong with one part, as faults with words for people.

Opens and added resistance in everything that passes current, lamps that are out, coils that no longer pull, contacts
and converters that no longer follow, diodes that are open or conduct both ways, batteries that are off. What a bad
crimp or a corroded contact adds is not known beforehand: 0.2 ohm is what dims a lamp circuit noticeably, 1 ohm what
spoils it (assumed, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Conductor,
    Contact,
    Converter,
    Diode,
    Element,
    Fuse,
    Lamp,
    Load,
    Path,
    RelayContact,
    Resistor,
    Switch,
)
from wiregen.model.fault import Fault

#: Added resistance that single faults are made with, ohm.
ADDED_OHM: Final = (0.2, 1.0)

_OPEN: Final[dict[type[Element], str]] = {
    Conductor: "is broken",
    Contact: "makes no contact",
    Fuse: "is blown or out of its holder",
    Path: "is broken",
    Coil: "is open and never pulls in",
    Load: "is open",
    Resistor: "is burnt through",
    Diode: "is open",
}
_ADDED: Final[dict[type[Element], str]] = {
    Conductor: "bad crimp or corroded strands",
    Contact: "corroded or loose",
    Fuse: "poor holder",
    Path: "rust or paint under the joint",
}


def single_faults(circuit: Circuit) -> tuple[Fault, ...]:
    """Return every single fault of a circuit that its study is made with, in building order.

    Conductors, contacts, fuses and metal paths: open, and with ``ADDED_OHM`` more resistance. Coils, loads and
    resistors: open. Diodes: open, and shorted.
    Lamps: one out where an entry has several, and all. Switches and relay contacts: stuck on, stuck off. Converters,
    equalisers among them: dead. Batteries: disconnected, but for the only one of a vehicle, without which all is dark.
    Shorts to ground are left out: where a wire chafes through, its fuse must clear, which is another question.
    """
    starters = [battery for battery in circuit.of(Battery) if battery.zone == "vehicle"]
    only = starters[0].ref if len(starters) == 1 else ""
    return tuple(fault for element in circuit.elements if element.ref != only for fault in _of(element))


def _of(element: Element) -> Iterator[Fault]:
    ref, name = element.ref, part_words(element)
    if isinstance(element, Switch | RelayContact):
        yield Fault("stuck_on", ref, f"{name} is stuck on")
        yield Fault("stuck_off", ref, f"{name} is stuck off")
    elif isinstance(element, Converter):
        yield Fault("stuck_off", ref, f"{name} is dead")
    elif isinstance(element, Lamp):
        if element.count > 1:
            yield Fault("burnt", ref, f"one of {name} is out", share=1 / element.count)
        yield Fault("burnt", ref, f"all of {name} are out" if element.count > 1 else f"{name} is out", share=1.0)
    elif isinstance(element, Battery):
        yield Fault("open", ref, f"battery {name} is disconnected")
    elif type(element) in _OPEN:
        yield Fault("open", ref, f"{name} {_OPEN[type(element)]}")
        if isinstance(element, Diode):
            yield Fault("shorted", ref, f"{name} conducts both ways", ohm=element.resistance_ohm)
        if type(element) in _ADDED:
            for ohm in ADDED_OHM:
                yield Fault("resistance", ref, f"{name} has {ohm:g} ohm too much: {_ADDED[type(element)]}", ohm=ohm)


def part_words(element: Element) -> str:
    """Return a part in words: ``conductor -W7 (tail, battery to socket)``."""
    ref, circuit = element.ref, circuit_words(element)
    if isinstance(element, Conductor):
        return f"conductor {ref} ({circuit}, {element.stretch.replace('-', ' to ')})"
    if isinstance(element, Contact):
        return f"contact {ref} ({circuit})"
    if isinstance(element, Fuse):
        return f"fuse {ref} ({circuit}, {element.rating_a:g} A)"
    if isinstance(element, Coil):
        kind = "relay coil" if element.is_copper else "control input"
        return f"{kind} {ref} (hears {circuit})"
    if isinstance(element, RelayContact):
        return f"{element.kind_word} {ref} ({circuit})"
    if isinstance(element, Switch):
        return f"switch {ref} ({circuit})"
    return f"{ref} ({element.title or circuit})"


def circuit_words(element: Element) -> str:
    """Return what an element carries, in words: of a circuit its word, of a tap its name."""
    return CIRCUITS[element.circuit].word if element.circuit in CIRCUITS else element.circuit
