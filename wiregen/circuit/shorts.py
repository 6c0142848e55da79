"""Where conductors may touch ground: the far end of every conductor that is fed, and right behind every fuse.

A bolted short is a tenth of a milliohm: nothing beside any conductor, and no number that a solver divides by. What
chafes through on the vehicle and in the adapter meets the vehicle's chassis; on the trailer it meets the frame, which
is taken to be bonded to the trailer's ground. Where the rig states a path through the hitch, a frame that is not bonded
is computed too: then the current comes back over the hitch alone, and it is the least.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from wiregen.catalogue.circuits import GROUNDS
from wiregen.circuit.fault_words import circuit_words
from wiregen.circuit.parts import CHASSIS
from wiregen.model.circuit import Circuit, Conductor, Fuse, Path
from wiregen.model.short import Short
from wiregen.model.stretch import STRETCHES

#: Resistance of a bolted short, ohm.
BOLTED_OHM: Final = 1e-4
#: The vehicle's own wiring; what is not stated of it by a [[run]] is not laid by the user and not known.
_OWN: Final = "battery-socket"


def shorts(circuit: Circuit) -> tuple[Short, ...]:
    """Return every short that is computed of a circuit, in building order, no two at the same terminals.

    Conductors of a ground are left out: they touch nothing that is live. The vehicle's own feeds count where a
    ``[[run]]`` says how long they are.
    """
    found: dict[tuple[str, str], Short] = {}
    for short in (short for element in circuit.elements for short in _of(circuit, element)):
        found.setdefault((short.terminal, short.ground), short)
    return tuple(found.values())


def _of(circuit: Circuit, element: object) -> Iterator[Short]:
    chassis = CHASSIS if CHASSIS in circuit.terminals else circuit.reference
    if isinstance(element, Fuse):
        place = f"behind {element.ref} {circuit_words(element)}, {element.rating_a:g} A"
        words = f"{place}: what it feeds touches ground"
        yield Short(element.ref, element.b, _ground(circuit, element.zone, chassis), BOLTED_OHM, words, place)
    if not isinstance(element, Conductor) or element.circuit in GROUNDS:
        return
    if element.stretch == _OWN and element.origin is None:
        return
    ground = _ground(circuit, element.zone, chassis)
    where = "the trailer's frame" if element.zone == "trailer" else "the chassis"
    run = STRETCHES[element.stretch].short
    name, place = f"{element.ref} ({circuit_words(element)}, {run})", f"{element.ref} {circuit_words(element)}, {run}"
    yield Short(element.ref, element.b, ground, BOLTED_OHM, f"{name} touches {where} at its far end", place)
    hitch = next((path for path in circuit.of(Path) if path.zone == "trailer" and path.b == chassis), None)
    if element.zone == "trailer" and hitch is not None and hitch.a == ground:
        ohm, words = BOLTED_OHM + hitch.resistance_ohm, f"{name} touches a frame that only the hitch grounds"
        yield Short(element.ref, element.b, chassis, ohm, words, f"{place}, hitch alone", through_hitch=True)


def _ground(circuit: Circuit, zone: str, chassis: str) -> str:
    frames = [name for name in circuit.terminals if name.endswith(":ground")]
    return frames[0] if zone == "trailer" and frames else chassis
