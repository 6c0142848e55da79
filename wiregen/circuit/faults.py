"""Every single thing that may go wrong with one part, as faults with words for people.

Opens and added resistance in everything that passes current, lamps that are out, coils that no longer pull, contacts
and converters that no longer follow, diodes that are open or conduct both ways, batteries that are off. What a bad
crimp or a corroded contact adds is not known beforehand: 0.2 ohm is what dims a lamp circuit noticeably, 1 ohm what
spoils it (assumed, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from wiregen.circuit.fault_words import open_words, out_words, poor_words
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
from wiregen.model.fault import Fault, FaultKind

#: Added resistance that single faults are made with, ohm.
ADDED_OHM: Final = (0.2, 1.0)

_OPENING: Final = (Conductor, Contact, Fuse, Path, Coil, Load, Resistor, Diode)
_ADDING: Final = (Conductor, Contact, Fuse, Path)


def single_faults(circuit: Circuit) -> tuple[Fault, ...]:
    """Return every single fault of a circuit that its study is made with, in building order.

    Wires, contacts, fuses and metal paths: open, and with ``ADDED_OHM`` more resistance. Coils, loads and
    resistors: open. Diodes: open, and shorted.
    Lamps: one out where an entry has several, and all. Switches and relay contacts: stuck on, stuck off. Converters,
    equalisers among them: dead. Batteries: disconnected, but for the only one of a vehicle, without which all is dark.
    Shorts to ground are left out: where a wire chafes through, its fuse must clear, which is another question.
    """
    starters = [battery for battery in circuit.of(Battery) if battery.zone == "vehicle"]
    only = starters[0].ref if len(starters) == 1 else ""
    return tuple(fault for element in circuit.elements if element.ref != only for fault in _of(element))


def _of(element: Element) -> Iterator[Fault]:
    if isinstance(element, Switch | RelayContact):
        yield _plain(element, "stuck_on")
        yield _plain(element, "stuck_off")
    elif isinstance(element, Converter):
        yield _plain(element, "stuck_off")
    elif isinstance(element, Lamp):
        if element.count > 1:
            share = 1 / element.count
            yield Fault("burnt", element.ref, out_words(element, element.count - 1), share=share)
        yield Fault("burnt", element.ref, out_words(element, 0), share=1.0)
    elif isinstance(element, Battery):
        yield _plain(element, "open")
    elif isinstance(element, _OPENING):
        yield _plain(element, "open")
        if isinstance(element, Diode):
            yield _plain(element, "shorted", element.resistance_ohm)
        if isinstance(element, _ADDING):
            for ohm in ADDED_OHM:
                yield Fault("resistance", element.ref, poor_words(element, f"{ohm:g}"), ohm=ohm)


def _plain(element: Element, kind: FaultKind, ohm: float = 0.0) -> Fault:
    return Fault(kind, element.ref, open_words(element, kind), ohm=ohm)
