"""Splices, bars and joints: every electrical point where the builder brings more than one thing together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from wiregen.circuit.build import Built
from wiregen.circuit.parts import ADAPTER_GROUND, BUS
from wiregen.harness.cut_list import HARNESS, terminal_words
from wiregen.model.chart import Chart
from wiregen.model.circuit import (
    Circuit,
    Coil,
    Conductor,
    Converter,
    Diode,
    Element,
    Fuse,
    RelayContact,
    Resistor,
)
from wiregen.model.harness import Node
from wiregen.quantity import parse_size
from wiregen.rig.loaded import LoadedRig

_BARS: Final = {ADAPTER_GROUND: "ground bar of the adapter", BUS: "12 V bus of the adapter"}
_SPLICE: Final = (
    "crimped, in adhesive-lined shrink tube, or a terminal block; one lead as large as the largest goes on to {lead}"
)


class _Point:
    """What is on one terminal of the circuit."""

    def __init__(self) -> None:
        self.wires: dict[str, Conductor] = {}
        self.devices: dict[str, None] = {}


def nodes(loaded: LoadedRig, built: Built, chart: Chart) -> tuple[Node, ...]:
    """Return every splice and bar of the harness, every joint inside the adapter, and the trailers' own splices.

    Args:
        loaded: The rig.
        built: Its circuits.
        chart: Its chart; its conductors are those of the harness.
    """
    if loaded.rig.adapter.straight:
        return tuple(_trailer_nodes(built))
    points = _points(built, {row.ref for row in chart.conductors})
    made: list[Node] = []
    splices = 0
    for terminal, point in points.items():
        if terminal in _BARS:
            made.append(_bar(terminal, point))
        elif len(point.wires) > 1:
            splices += 1
            made.append(_splice(f"SP{splices}", terminal, point))
        elif len(point.wires) + len(point.devices) > 1:
            made.append(_joint(terminal, point))
    order = {"bar": 0, "splice": 1, "joint": 2}
    made.sort(key=lambda node: order[node.kind])
    return (*made, *_trailer_nodes(built))


def _points(built: Built, harness: set[str]) -> dict[str, _Point]:
    """Return what meets on each terminal of the adapter, in building order."""
    found: dict[str, _Point] = {}
    seen: set[str] = set()
    for circuit in built.circuits:
        for element in circuit.elements:
            if element.ref in seen:
                continue
            seen.add(element.ref)
            if isinstance(element, Conductor):
                if terminal_words(element.ref) in harness and element.stretch in HARNESS:
                    for end in (element.a, element.b):
                        # A fuse that a conductor to a trailer begins on sits in the adapter, that of a tap does not.
                        tapped = end.startswith("-F") and element.stretch != "adapter-trailer"
                        if tapped or end.startswith(("-X", "-S", "-G", "chassis")):
                            continue
                        found.setdefault(end, _Point()).wires[terminal_words(element.ref)] = element
            elif element.zone == "adapter":
                for device, end in _device_ends(element):
                    found.setdefault(end, _Point()).devices[device] = None
    return {end: point for end, point in found.items() if point.wires or len(point.devices) > 1}


def _device_ends(element: Element) -> Iterator[tuple[str, str]]:
    """Yield (what is printed on the device, terminal of the circuit) of everything inside the adapter."""
    name = terminal_words(element.ref).split(":")[0]
    match element:
        case Coil():
            high, low = ("86", "85") if element.is_copper else ("in", "0V")
            yield f"{name}:{high}", element.a
            yield f"{name}:{low}", element.b
        case RelayContact() if element.ties:
            # The feed side is a bar or a fuse, which names itself; the output is a terminal of a relay.
            yield terminal_words(element.b), element.b
            yield from _tied(element.ties, element.a, element.b)
        case RelayContact():
            relay = element.is_relay
            yield f"{name}:30{'' if relay else ' (supply)'}", element.a
            yield f"{name}:87{'' if relay else ' (output)'}", element.b
        case Converter():
            yield f"{name}:in", element.a
            yield f"{name}:out", element.b
            yield f"{name}:0V", element.common
            yield from _signal(element, name)
        case Fuse():
            yield f"{name} feed side", element.a
            yield f"{name} load side", element.b
        case Diode():
            yield f"{name} anode", element.a
            yield f"{name} cathode (band)", element.b
        case Resistor():
            yield f"{name}:1", element.a
            yield f"{name}:2", element.b


def _signal(element: Converter, name: str) -> Iterator[tuple[str, str]]:
    """Yield how relays tell a brake controller that the pedal is down: the circuit holds only what they decide."""
    gate, signal = element.gate, f"{element.ref}:signal"
    if gate is None or any(not coil.startswith("-K") for coil in gate.coils.values()):
        return
    yield f"{name}:signal", signal
    groups = gate.ties(element.a, signal)
    if not groups:
        coil = terminal_words(next(iter(gate.coils.values())))
        groups = ((element.a, f"{coil}:30"), (f"{coil}:87", signal))
    yield from _tied(groups, element.a, signal)


def _tied(groups: Iterable[tuple[str, ...]], start: str, end: str) -> Iterator[tuple[str, str]]:
    """Yield the relay terminals that each group ties, with the terminal of the circuit they lie on."""
    for group in groups:
        outer = next((name for name in group if name in (start, end)), group[0])
        for name in group:
            if name not in (start, end):
                yield terminal_words(name), outer


def _sizes(wires: Iterable[Conductor]) -> tuple[str, ...]:
    labels = dict.fromkeys(wire.size.label for wire in wires)
    return tuple(sorted(labels, key=lambda label: (-parse_size(label).area_mm2, label)))


def _joins(point: _Point) -> tuple[str, ...]:
    return (*point.wires, *point.devices)


def _bar(terminal: str, point: _Point) -> Node:
    return Node(
        name=terminal_words(terminal),
        kind="bar",
        at=_BARS[terminal],
        joins=_joins(point),
        sizes=_sizes(point.wires.values()),
        how=f"bar or stud with at least {len(_joins(point))} places; a ring terminal on each conductor",
    )


def _splice(name: str, terminal: str, point: _Point) -> Node:
    device = next(iter(point.devices), terminal_words(terminal))
    return Node(
        name=name,
        kind="splice",
        at=f"adapter, in front of {device}",
        joins=_joins(point),
        sizes=_sizes(point.wires.values()),
        how=_SPLICE.format(lead=", ".join(point.devices) or terminal_words(terminal)),
    )


def _joint(terminal: str, point: _Point) -> Node:
    return Node(
        name=terminal_words(terminal) if terminal.startswith("-A1:") else "",
        kind="joint",
        at="inside the adapter",
        joins=_joins(point),
        sizes=_sizes(point.wires.values()),
        how="strip terminal or lead",
    )


def _trailer_nodes(built: Built) -> Iterator[Node]:
    """Yield where the trailer's own wiring branches to its lamps; made already, or made with the trailer."""
    for circuit in built.circuits:
        yield from _of_trailer(circuit)


def _of_trailer(circuit: Circuit) -> Iterator[Node]:
    points: dict[str, dict[str, Conductor]] = {}
    for wire in circuit.of(Conductor):
        if wire.stretch in ("plug-splice", "splice-lamp"):
            for end in (wire.a, wire.b):
                points.setdefault(end, {})[terminal_words(wire.ref)] = wire
    for end, wires in points.items():
        if len(wires) > 1:
            ground = end.endswith(":ground")
            contact = terminal_words(end)
            yield Node(
                name=contact if ground else f"{contact} splice",
                kind="trailer",
                at=f"{circuit.trailer}: " + ("common ground" if ground else "cable end"),
                joins=tuple(wires),
                sizes=_sizes(wires.values()),
                how="there already",
            )
