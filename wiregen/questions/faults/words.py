"""Words for people who look for a fault: part names, places, and the record of one case."""

from __future__ import annotations

from typing import Final, Literal

from wiregen.catalogue.faults import FAULT_KINDS
from wiregen.circuit.faults import circuit_words
from wiregen.model.circuit import (
    Battery,
    Coil,
    Conductor,
    Contact,
    Converter,
    Diode,
    Element,
    Fuse,
    Lamp,
    Load,
    RelayContact,
    Switch,
)
from wiregen.model.fault import Fault
from wiregen.questions.faults.diagnosis import Change, FaultCase

_STRETCHES: Final = {
    "battery-socket": "battery to socket",
    "socket-chassis": "socket to chassis",
    "battery-adapter": "battery to box",
    "adapter-chassis": "box to chassis",
    "socket-adapter": "socket to box",
    "inside": "inside the box",
    "adapter-trailer": "box to trailer connector",
    "plug-splice": "trailer cable",
    "splice-lamp": "on the trailer, at {end}",
}


def bare(ref: str) -> str:
    """Return a designation without its leading hyphen, as people say it."""
    return ref.lstrip("-")


def part_name(element: Element) -> str:
    """Return a part in words: ``wire W7 (tail, battery to socket)``."""
    ref, carries = bare(element.ref), circuit_words(element).replace("_", " ")
    if isinstance(element, Conductor):
        end = next((bare(name.rpartition(":")[0]) for name in (element.b, element.a) if _is_part(name)), "the lamp")
        return f"wire {ref} ({carries}, {_STRETCHES[element.stretch].format(end=end)})"
    if isinstance(element, Contact):
        return f"{bare(element.connector)} contact {element.mark} ({carries})"
    if isinstance(element, Fuse):
        return f"fuse {ref} ({carries}, {element.rating_a:g} A)"
    if isinstance(element, Coil):
        return f"relay {ref} ({carries})"
    if isinstance(element, RelayContact):
        kind = "relay" if element.is_relay else "switch"
        return f"{kind} {ref.partition(':')[0]} ({carries})"
    if isinstance(element, Switch):
        return f"switch {ref} ({carries})"
    if isinstance(element, Lamp):
        return f"{carries} lamp{'s' if element.count > 1 else ''} {ref}"
    if isinstance(element, Load | Converter | Battery | Diode):
        return f"{element.title or carries} {ref}"
    return f"{element.title or carries} ({ref})"


def _is_part(terminal: str) -> bool:
    return terminal[:2] in ("-E", "-M", "-G") and terminal[-2:] in (":1", ":2")


def case(
    key: str,
    kind: str,
    part: str,
    words: str,
    *,
    change: Change | None = None,
    fault: Fault | None = None,
    is_short: bool = False,
    flasher: Literal["", "lit", "dark"] = "",
    note: str = "",
) -> FaultCase:
    """Make a case with the weight and the cure of its kind."""
    row = FAULT_KINDS.find(kind)
    return FaultCase(
        key=key,
        kind=kind,
        part=part,
        words=words,
        cure=row.cure,
        weight=row.weight,
        change=change or Change(),
        fault=fault,
        is_short=is_short,
        flasher=flasher,
        note=note,
    )
