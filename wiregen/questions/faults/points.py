"""Where a fault can be looked for: lamps to look at, places for the two leads of a meter, and how each is reached."""

from __future__ import annotations

from collections.abc import Iterator

from wiregen.catalogue.circuits import GROUNDS
from wiregen.circuit.fault_words import bare, circuit_words
from wiregen.circuit.parts import ADAPTER_GROUND, CHASSIS
from wiregen.model.circuit import (
    Circuit,
    Coil,
    Contact,
    Converter,
    Diode,
    Element,
    Fuse,
    Lamp,
    Load,
    RelayContact,
    Resistor,
)
from wiregen.questions.faults.diagnosis import MeterPoint, Watched

_SIDES = {"v": "vehicle", "a": "adapter", "t": "trailer"}
#: Plain words for what a lamp does, beside those of its circuit.
_ALSO = {"stop": "brake", "turn": "indicator", "tail": "running", "reverse": "reversing", "brake": "magnets"}


def watched(circuit: Circuit) -> tuple[Watched, ...]:
    """Return every lamp and load, in building order; those of one name are told apart by their designation."""
    parts: list[Lamp | Load] = [*circuit.of(Lamp), *circuit.of(Load)]
    names = [_name(part) for part in parts]
    found = []
    for part, name in zip(parts, names, strict=True):
        unique = name if names.count(name) == 1 else f"{name} {bare(part.ref)}"
        words = {bare(part.ref).lower(), *name.lower().split(), *part.title.lower().split()}
        words |= {also for word, also in _ALSO.items() if word in words}
        words -= {"and", "lamp", "lamps", "or", "×"}
        found.append(
            Watched(
                ref=part.ref,
                name=unique,
                function=part.function,
                title=part.title,
                count=part.count,
                is_lamp=isinstance(part, Lamp),
                is_bulb=isinstance(part, Lamp) and part.technology == "filament",
                words=frozenset(words),
            )
        )
    return tuple(found)


def _name(part: Lamp | Load) -> str:
    word = circuit_words(part)
    side = getattr(part, "side", "")
    return f"{side} {word}" if side in ("left", "right") and side not in word else word


def meter_points(circuit: Circuit) -> tuple[MeterPoint, ...]:
    """Return every place to hold a meter, from the batteries to the lamps; what is under tape comes last."""
    found: dict[tuple[str, str], MeterPoint] = {}
    for point in _points(circuit):
        found.setdefault((point.at, point.against), point)
    at = {point.at for point in found.values()}
    for terminal in circuit.terminals:
        if terminal not in at and terminal != circuit.reference:
            words = _hidden_words(circuit, terminal)
            point = MeterPoint(bare(terminal), words, terminal, _minus(circuit), "chassis", "hidden")
            found[terminal, point.against] = point
    return tuple(found.values())


def _minus(circuit: Circuit) -> str:
    return CHASSIS if CHASSIS in circuit.terminals else circuit.reference


def _points(circuit: Circuit) -> Iterator[MeterPoint]:
    ground = ADAPTER_GROUND if ADAPTER_GROUND in circuit.terminals else _minus(circuit)
    contacts = circuit.of(Contact)
    yield MeterPoint("battery", "batteries", circuit.elements[0].a, circuit.reference, "battery minus", "vehicle")
    for element in circuit.elements:
        if isinstance(element, Contact):
            yield from _at_contact(circuit, element, contacts)
        elif isinstance(element, Lamp | Load):
            yield from _at_lamp(circuit, element)
        else:
            yield from _at_part(circuit, element, ground)
    if ADAPTER_GROUND in circuit.terminals:
        yield MeterPoint("adapter ground", "ground bar in the adapter", ground, _minus(circuit), "chassis", "adapter")


def _at_contact(circuit: Circuit, contact: Contact, contacts: list[Contact]) -> Iterator[MeterPoint]:
    is_ground = contact.circuit in GROUNDS
    place = f"{bare(contact.connector)}:{contact.mark}"
    ends = sorted((contact.a, contact.b), key=lambda end: "vat".index(end[-1]))
    for end in ends:
        side = end.rpartition(".")[2]
        against, minus = _minus(circuit), "chassis"
        if not is_ground:
            near = next((c for c in contacts if c.connector == contact.connector and c.circuit in GROUNDS), None)
            lead = next((e for e in (near.a, near.b) if e.endswith(f".{side}")), None) if near else None
            if near and lead:
                against, minus = lead, f"{bare(near.connector)}:{near.mark} {_SIDES[side]} side"
        words = f"{place} ({circuit_words(contact)}), {_SIDES[side]} side"
        yield MeterPoint(f"{place} {_SIDES[side]}", words, end, against, minus, "connector")


def _at_lamp(circuit: Circuit, part: Lamp | Load) -> Iterator[MeterPoint]:
    ref, what = bare(part.ref), circuit_words(part)
    frame = next((name for name in circuit.terminals if name.endswith(":ground")), _minus(circuit))
    yield MeterPoint(ref, f"across {what} {ref}", part.a, part.b, "its ground terminal", "lamp")
    yield MeterPoint(f"{ref} feed", f"feed terminal of {what} {ref}", part.a, frame, "trailer frame", "lamp")
    yield MeterPoint(f"{ref} ground", f"ground terminal of {what} {ref}", part.b, frame, "trailer frame", "lamp")


def _at_part(circuit: Circuit, element: Element, ground: str) -> Iterator[MeterPoint]:
    ref, what = bare(element.ref), circuit_words(element).replace("_", " ")
    if isinstance(element, Fuse) and element.zone == "vehicle":
        yield MeterPoint(f"{ref} out", f"behind fuse {ref} ({what})", element.b, _minus(circuit), "chassis", "vehicle")
    if element.zone != "adapter":
        return
    if isinstance(element, Fuse | Resistor | Diode):
        yield MeterPoint(f"{ref} in", f"before {ref} ({what})", element.a, ground, "ground bar", "adapter")
        yield MeterPoint(f"{ref} out", f"behind {ref} ({what})", element.b, ground, "ground bar", "adapter")
    elif isinstance(element, Coil):
        yield MeterPoint(f"{ref} coil", f"coil of {ref} ({what})", element.a, element.b, "its other end", "adapter")
    elif isinstance(element, RelayContact):
        name = ref.partition(":")[0]
        yield MeterPoint(f"{name} 87", f"{name} contact 87 ({what})", element.b, ground, "ground bar", "adapter")
    elif isinstance(element, Converter):
        yield MeterPoint(f"{ref} in", f"input of {ref} ({what})", element.a, element.common, "its minus", "adapter")
        yield MeterPoint(f"{ref} out", f"output of {ref} ({what})", element.b, element.common, "its minus", "adapter")


def _hidden_words(circuit: Circuit, terminal: str) -> str:
    if terminal.endswith(".s"):
        return f"splice behind {bare(terminal[:-2])}"
    near = next((e for e in circuit.elements if terminal in (e.a, e.b)), None)
    return f"joint {bare(terminal)}" + (f" ({circuit_words(near)})" if near else "")
