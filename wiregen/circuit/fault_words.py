"""What parts are called and what may be wrong with them: the one vocabulary of faults, and the record of one case."""

from __future__ import annotations

from typing import Final

from wiregen.catalogue.circuits import CIRCUITS, GROUNDS
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
    Path,
    RelayContact,
    Resistor,
    Switch,
)
from wiregen.model.fault import FaultKind
from wiregen.model.stretch import STRETCHES

#: Kinds of fault of a part that carries current no more, and of one with too much resistance, by its class.
_OPEN: Final[tuple[tuple[type[Element], str], ...]] = (
    (Conductor, "wire_open"),
    (Contact, "contact_open"),
    (Fuse, "fuse_open"),
    (Path, "wire_open"),
    (Coil, "coil_open"),
    (Load, "load_open"),
    (Resistor, "resistor_open"),
    (Diode, "diode_open"),
    (Switch, "switch_open"),
    (RelayContact, "relay_burnt"),
    (Converter, "converter_dead"),
    (Battery, "battery_open"),
)
_POOR: Final[tuple[tuple[type[Element], str], ...]] = (
    (Conductor, "wire_resistance"),
    (Contact, "contact_resistance"),
    (Fuse, "fuse_resistance"),
    (Path, "wire_resistance"),
)
_STUCK: Final[tuple[tuple[type[Element], str], ...]] = ((Switch, "switch_stuck"), (RelayContact, "relay_stuck"))
_SAYS: Final = {
    "wire_open": "is open (broken)",
    "contact_open": "makes no contact",
    "fuse_open": "is blown or missing",
    "coil_open": "has an open coil and never picks up",
    "load_open": "is open (broken)",
    "resistor_open": "is burnt through",
    "diode_open": "is open",
    "diode_short": "conducts both ways",
    "switch_open": "makes no contact",
    "switch_stuck": "is stuck on",
    "relay_burnt": "never closes",
    "relay_stuck": "is stuck closed",
    "converter_dead": "gives nothing",
    "battery_open": "is disconnected",
}
#: Why a part may have too much resistance.
_WHY_POOR: Final = {
    "wire_resistance": "bad crimp or corroded strands",
    "contact_resistance": "corroded or loose",
    "fuse_resistance": "poor holder",
}
_WHY_POOR_PATH: Final = "rust or paint under the joint"


def bare(ref: str) -> str:
    """Return a designation without its leading hyphen, as people say it."""
    return ref.lstrip("-")


def part_name(element: Element) -> str:
    """Return a part in words: ``wire W7 (tail, battery to socket)``."""
    ref, carries = bare(element.ref), circuit_words(element).replace("_", " ")
    if isinstance(element, Conductor):
        return f"wire {ref} ({carries}, {_where(element)})"
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


def circuit_words(element: Element) -> str:
    """Return what an element carries, in words: of a circuit its word, of a tap its name."""
    return CIRCUITS[element.circuit].word if element.circuit in CIRCUITS else element.circuit


def _where(wire: Conductor) -> str:
    if wire.stretch != "splice-lamp":
        return STRETCHES[wire.stretch].short
    end = next((bare(name.rpartition(":")[0]) for name in (wire.b, wire.a) if _is_part(name)), "the lamp")
    return f"on the trailer, at {end}"


def _is_part(terminal: str) -> bool:
    return terminal[:2] in ("-E", "-M", "-G") and terminal[-2:] in (":1", ":2")


def kind_of(element: Element, kind: FaultKind) -> str:
    """Return the key of what is wrong with a part in ``wiregen.catalogue.faults``; empty where such a part has no such.

    Args:
        element: The part.
        kind: What is wrong with it, as a change of the circuit.
    """
    found = _plain_kind(element, kind)
    if element.circuit in GROUNDS and found.startswith(("wire_", "contact_")):
        return "ground_" + found.partition("_")[2]
    return found


def _plain_kind(element: Element, kind: FaultKind) -> str:
    if kind == "burnt" and isinstance(element, Lamp):
        return "lamp_out" if element.technology == "filament" else "led_out"
    if kind == "shorted":
        return "diode_short"
    table = {"resistance": _POOR, "stuck_on": _STUCK}.get(kind, _OPEN)
    return next((word for cls, word in table if isinstance(element, cls)), "")


def open_words(element: Element, kind: FaultKind) -> str:
    """Return in words that a part does not carry current, or that it no longer follows."""
    return f"{part_name(element)} {_SAYS[_plain_kind(element, kind)]}"


def poor_words(element: Element, ohm: str) -> str:
    """Return in words that a part has too much resistance; ``ohm`` says how much."""
    why = _WHY_POOR_PATH if isinstance(element, Path) else _WHY_POOR[_plain_kind(element, "resistance")]
    return f"{part_name(element)} has {ohm} ohm too much: {why}"


def out_words(lamp: Lamp, left: int) -> str:
    """Return in words that lamps of an entry are out; ``left`` are not."""
    if left:
        return f"one of {part_name(lamp)} is out"
    return f"all of {part_name(lamp)} are out" if lamp.count > 1 else f"{part_name(lamp)} is out"
