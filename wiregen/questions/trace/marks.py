"""Marks: what a person writes for a part or a place, and what it is in the circuit."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from wiregen.catalogue.circuits import circuit_word
from wiregen.errors import InputError, guess
from wiregen.harness.make import terminal_words
from wiregen.harness.record import Harness
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
    ends,
)
from wiregen.questions.trace.record import Step

_KINDS: Final[dict[type[Element], str]] = {
    Battery: "battery",
    Coil: "coil",
    Conductor: "wire",
    Contact: "contact",
    Diode: "diode",
    Fuse: "fuse",
    Lamp: "lamp",
    Load: "load",
    Path: "metal",
    RelayContact: "relay contact",
    Resistor: "resistor",
    Switch: "switch",
}
#: Points at which several things meet: the place itself is meant, and not one thing on it.
_PLACES: Final = ("bar", "strip", "splice")


@dataclass(frozen=True, slots=True)
class TraceTarget:
    """What a mark is in a circuit: elements, or a terminal on which several meet.

    Attributes:
        mark: The mark as it stands on the papers.
        refs: Refs of the elements.
        terminal: The terminal; empty where it is elements.
    """

    mark: str
    refs: frozenset[str] = frozenset()
    terminal: str = ""

    def broken(self, circuit: Circuit) -> Circuit:
        """Return the circuit with the elements gone, or with everything on the terminal loose."""
        left = [element for element in circuit.elements if element.ref not in self.refs]
        if self.terminal:
            left = [_loose(element, self.terminal, number) for number, element in enumerate(left)]
        return replace(circuit, elements=tuple(left))


def _loose(element: Element, terminal: str, number: int) -> Element:
    """Return an element with its ends on a terminal hanging free, each by itself."""
    if isinstance(element, Converter) and element.common == terminal:
        element = replace(element, common=f"{terminal}/{number}common")
    if element.a == terminal:
        element = replace(element, a=f"{terminal}/{number}a")
    return replace(element, b=f"{terminal}/{number}b") if element.b == terminal else element


def mark_of(ref: str, wires: Mapping[str, str]) -> str:
    """Return the mark of an element as it stands on the papers.

    Args:
        ref: Its ref.
        wires: Ids of the wires by the refs of their elements.
    """
    return wires.get(ref) or terminal_words(ref)


def wire_ids(harness: Harness) -> dict[str, str]:
    """Return the ids of the wires by the refs of their elements."""
    return {wire.element: wire.id for wire in harness.wires if wire.element}


def targets(circuit: Circuit, harness: Harness) -> dict[str, TraceTarget]:
    """Return everything of a circuit that a person may ask about, by its mark."""
    wires, found = wire_ids(harness), dict[str, TraceTarget]()

    def add(mark: str, refs: Collection[str] = (), terminal: str = "") -> None:
        if mark and (refs or terminal):
            found.setdefault(mark, TraceTarget(mark, frozenset(refs), terminal))

    touching: dict[str, list[Element]] = {}
    for element in circuit.elements:
        add(mark_of(element.ref, wires), (element.ref,))
        for end in ends(element):
            touching.setdefault(end, []).append(element)
    for point in harness.points:
        if point.kind in _PLACES:
            add(point.id, terminal=point.net if point.net in touching else "")
            continue
        inside = point.net.partition("/")[0]
        own = [e.ref for e in touching.get(point.net, ()) if terminal_words(e.ref).partition(":")[0] == point.part]
        # A terminal inside a contact network stands for the network; the signal of a controller for the controller.
        own = own or [inside] * (inside in circuit.by_ref) or _controlled(circuit, point.part, point.id)
        add(point.id, own)
    for terminal in circuit.terminals:
        add(terminal_words(terminal), terminal=terminal)
    return found


def _controlled(circuit: Circuit, part: str, point: str) -> list[str]:
    """Return the controller that a relay, or the controller's own signal terminal, switches on."""
    gated = [c for c in circuit.of(Converter) if c.gate is not None]
    return [
        c.ref
        for c in gated
        if point == f"{part}:signal"
        or (c.gate and f"-{part}" in c.gate.coils.values() and point.endswith((":30", ":87")))
    ]


def find(text: str, tables: Sequence[tuple[str, Mapping[str, TraceTarget]]]) -> dict[str, TraceTarget]:
    """Return what a person means by a mark, by trailer.

    Args:
        text: The mark, with or without a leading hyphen.
        tables: Trailers with their marks.

    Raises:
        InputError: No trailer's circuit has it.
    """
    bare = " ".join(text.replace("_", " ").split()).lstrip("-")
    for same in (bare.__eq__, lambda mark: mark.casefold() == bare.casefold()):
        found = {trailer: table[mark] for trailer, table in tables for mark in table if same(mark)}
        if found:
            return found
    known = list(dict.fromkeys(mark for _, table in tables for mark in table))
    raise InputError(
        f"{text!r} is no mark of this rig{guess(bare.upper(), known)} Allowed: a contact (X1:B), a wire (W12), a fuse "
        "(F3), a lamp (E3), a terminal (K1:30), as the chart and the schematic name them"
    )


# --- words ---


def step_of(element: Element, wires: Mapping[str, str]) -> Step:
    """Return an element as a step of a way."""
    return Step(
        mark=mark_of(element.ref, wires),
        kind="converter" if isinstance(element, Converter) else _KINDS[type(element)],
        size=element.size.label if isinstance(element, Conductor) else "",
        colour=element.colour if isinstance(element, Conductor) else "",
        rating_a=element.rating_a if isinstance(element, Fuse) else None,
        words=element.title if isinstance(element, Path) else "",
    )


def load_words(element: Element) -> str:
    """Return a load in words with its mark: ``left tail lamp (E3)``."""
    mark = terminal_words(element.ref)
    if isinstance(element, Lamp):
        word = circuit_word(element.function)
        side = "" if element.side in ("", "both") or element.side in word.split() else f"{element.side} "
        return f"{side}{word} lamp{'s' if element.count > 1 else ''} ({mark})"
    if isinstance(element, Coil):
        return f"{'relay' if element.is_copper else 'electronic switch'} {mark}"
    return f"{element.title or circuit_word(element.circuit)} ({mark})"


def target_words(target: TraceTarget, circuit: Circuit) -> str:
    """Return what a target is: ``wire, left turn, 1.5 mm² BK``."""
    if target.terminal:
        return "terminal"
    element = circuit.by_ref[min(target.refs)]
    if isinstance(element, Lamp | Load | Coil):
        return load_words(element).rpartition(" (")[0] or load_words(element)
    step = step_of(element, {})
    rating = f"{step.rating_a:g} A" if step.rating_a is not None else ""
    carries = circuit_word(element.circuit)
    words = (step.kind, carries if carries not in step.kind else "", f"{step.size} {step.colour}".strip(), rating)
    return ", ".join(word for word in words if word)
