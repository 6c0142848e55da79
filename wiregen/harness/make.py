"""Makes the harness record in one pass over the circuits, never from a pinout's guess or a printed text."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.circuit.assume import Assumed
from wiregen.circuit.build import Built
from wiregen.circuit.parts import ADAPTER_GROUND, BUS, CHASSIS
from wiregen.circuit.runs import Runs
from wiregen.harness.record import Cavity, Half, Harness, Part, PointKind, Wire, WirePoint
from wiregen.model.chart import NO_FUSE
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Conductor,
    Contact,
    Converter,
    Diode,
    Element,
    Equaliser,
    Fuse,
    Path,
    RelayContact,
    Resistor,
)
from wiregen.quantity import show
from wiregen.rig.loaded import LoadedRig

#: Where the fuses in the leads of an equaliser stand; they have no designation of their own.
AT_BATTERY: Final = "at the battery"
_STRIP: Final = "-A1:"
_KINDS: Final[dict[str, PointKind]] = {"X": "cavity", "K": "blade", "F": "holder", "G": "stud", "c": "stud"}


def terminal_words(terminal: str) -> str:
    """Return a terminal as it is printed: ``-X1:E.a`` is ``X1:E``."""
    name = terminal.removeprefix("-")
    name = name[:-2] if name.endswith((".v", ".a", ".t")) else name
    return name.replace("_", " ")


def fuse_words(fuse: Fuse) -> str:
    """Return ``F3 10 A``."""
    return f"{fuse.ref.removeprefix('-')} {show(fuse.rating_a, 'A')}"


def harness(loaded: LoadedRig, built: Built) -> Harness:
    """Return the harness of a rig."""
    return _Maker(loaded, built).harness()


class _Maker:
    def __init__(self, loaded: LoadedRig, built: Built) -> None:
        self.loaded = loaded
        self.circuits = built.circuits
        self.straight = loaded.rig.adapter.straight
        self.conductors: dict[str, tuple[Circuit, Conductor]] = {}
        for circuit in built.circuits:
            for wire in circuit.of(Conductor):
                self.conductors.setdefault(wire.ref, (circuit, wire))
        self.unfused = {circuit.trailer: unfused(circuit) for circuit in built.circuits}
        self.devices: dict[str, list[WirePoint]] = {}
        self.hubs: dict[str, WirePoint] = {}

    def harness(self) -> Harness:
        for element in _once(self.circuits):
            for point in _terminals(element):
                self.devices.setdefault(point.net, []).append(point)
        self._hubs()
        wires = [self._wire(circuit, wire) for circuit, wire in self.conductors.values()]
        if self.straight:
            wires += self._idle(wires)
        wires += self._equaliser_leads(_highest(wires))
        wires += self._leads()
        points = dict.fromkeys((*self.hubs.values(), *(p for net in self.devices.values() for p in net)))
        points |= dict.fromkeys(point for wire in wires for point in wire.points)
        return Harness(
            wires=tuple(wires),
            points=tuple(points),
            parts=tuple(self._parts()),
            halves=tuple(self._halves(wires)),
            straight=self.straight,
        )

    # --- points ---

    def _hubs(self) -> None:
        """Find the points on which several wires meet: bars and strips of the adapter, splices."""
        ends: dict[str, int] = {}
        for _, wire in self.conductors.values():
            for net in (wire.a, wire.b):
                ends[net] = ends.get(net, 0) + (wire.stretch == "adapter-trailer")
        for net in dict.fromkeys((*ends, *self.devices)):
            if net in (ADAPTER_GROUND, BUS):
                self.hubs[net] = WirePoint(terminal_words(net), "bar", net)
            elif net.startswith(_STRIP):
                self.hubs[net] = WirePoint(terminal_words(net), "strip", net)
            elif ends.get(net, 0) > 1 and net in self.devices:
                self.hubs[net] = WirePoint(
                    f"SP{sum(p.kind == 'splice' for p in self.hubs.values()) + 1}", "splice", net
                )

    def _end(self, net: str) -> WirePoint:
        """Return the point on which a wire ends that lies on a net."""
        if net in self.hubs:
            return self.hubs[net]
        name = terminal_words(net)
        own = next((point for point in self.devices.get(net, ()) if point.id == name), None)
        if own is not None:
            return own
        if net.endswith((".s", ":ground")):
            return WirePoint(f"{name.removesuffix('.s')} splice" if net.endswith(".s") else name, "splice", net)
        return WirePoint(name, _KINDS.get(name[0], "screw"), net)

    # --- wires ---

    def _wire(self, circuit: Circuit, wire: Conductor) -> Wire:
        own = wire.zone == "trailer" or wire.stretch == "adapter-trailer"
        return Wire(
            id=wire.ref.removeprefix("-"),
            a=self._end(wire.a),
            b=self._end(wire.b),
            circuit=wire.circuit,
            stretch=wire.stretch,
            length_m=wire.length_m,
            size=wire.size,
            colour=wire.colour,
            fuse=self._fuse(circuit, wire),
            channel=wire.channel,
            trailer=circuit.trailer if own else "",
            title=wire.title,
            element=wire.ref,
        )

    def _fuse(self, circuit: Circuit, wire: Conductor) -> str:
        fuse = circuit.fuse_of.get(wire.ref)
        if fuse is None and wire.channel:
            fuse = next((fuse for fuse in circuit.of(Fuse) if fuse.channel == wire.channel), None)
        if fuse is not None:
            return fuse_words(fuse)
        return NO_FUSE if wire.ref in self.unfused[circuit.trailer] else ""

    def _idle(self, wires: Sequence[Wire]) -> Iterator[Wire]:
        """Yield the wires of a straight lead that the circuit does without: sensors, data, other returns."""
        runs, count = Runs(self.loaded, Assumed()), _highest(wires)
        taken = {point.id for wire in wires for point in wire.points if wire.stretch == "adapter-trailer"}
        for index, circuit in enumerate(self.circuits):
            for entry in self.loaded.plugs[index].contact:
                facing, end = self.loaded.socket.find(entry.mark), f"-X{index + 2}:{entry.mark}.a"
                if facing is None or terminal_words(end) in taken or "unused" in (facing.circuit, entry.circuit):
                    continue
                count += 1
                wire = runs.conductor(
                    "adapter-trailer",
                    f"-X1:{entry.mark}.a",
                    end,
                    circuit=entry.circuit,
                    zone="adapter",
                    trailer=circuit.trailer,
                    contact=entry,
                )
                fed = NO_FUSE if CIRCUITS[facing.circuit].group == "Supply" else ""
                yield replace(self._wire(circuit, wire), id=f"W{count}", element="", fuse=fed)

    def _equaliser_leads(self, after: int) -> Iterator[Wire]:
        """Yield the three leads of an equaliser, which the circuit takes as part of it."""
        for equaliser in self.circuits[0].of(Equaliser):
            fuse = NO_FUSE if equaliser.fuse_a is None else f"{show(equaliser.fuse_a, 'A')} {AT_BATTERY}"
            ends = ((equaliser.a, "plus", fuse), (equaliser.b, "centre", fuse), (equaliser.common, "minus", ""))
            for number, (net, lead, words) in enumerate(ends, after + 1):
                yield Wire(
                    id=f"W{number}",
                    a=self._end(net),
                    b=WirePoint(f"{terminal_words(equaliser.ref)}:{lead}", "screw", net),
                    circuit=f"battery equaliser, {lead}",
                    stretch="battery-adapter",
                    length_m=equaliser.lead_m,
                    size=equaliser.lead_size,
                    fuse=words,
                )

    def _leads(self) -> Iterator[Wire]:
        """Yield the leads inside the adapter: from a bar, strip or splice to each device on it, else in a chain."""
        for net, devices in self.devices.items():
            hub = self.hubs.get(net)
            ends = ((hub, device) for device in devices) if hub else pairwise(devices)
            for a, b in ends:
                yield Wire(id="", a=a, b=b, circuit="", stretch="inside", length_m=0.0, size=None)

    # --- parts and connectors ---

    def _parts(self) -> Iterator[Part]:
        found: dict[str, list[Element]] = {}
        tapped = {wire.a for _, wire in self.conductors.values() if wire.stretch == "battery-adapter"}
        for element in _once(self.circuits):
            device = element.zone == "adapter" and not isinstance(element, Conductor | Contact | Path)
            if device or isinstance(element, Equaliser) or (isinstance(element, Fuse) and element.b in tapped):
                found.setdefault(terminal_words(element.ref).partition(":")[0], []).append(element)
        for name, elements in found.items():
            yield Part(id=name, zone=elements[0].zone, elements=tuple(elements))

    def _halves(self, wires: Sequence[Wire]) -> Iterator[Half]:
        at: dict[str, list[Wire]] = {}
        for wire in wires:
            for end in wire.points if wire.is_made else ():
                at.setdefault(end.id, []).append(wire)
        plugs = zip(self.loaded.plugs, (circuit.trailer for circuit in self.circuits), strict=True)
        for number, (pinout, trailer) in enumerate(((self.loaded.socket, ""), *plugs), start=1):
            name = f"X{number}"
            cavities = (
                Cavity(point=point, entry=entry, wires=tuple(at.get(point, ())))
                for entry in pinout.contact
                if (point := f"{name}:{entry.mark}")
            )
            yield Half(id=name, pinout=pinout, trailer=trailer, cavities=tuple(cavities))


def _once(circuits: Sequence[Circuit]) -> Iterator[Element]:
    """Yield every element of all circuits once."""
    yield from {element.ref: element for circuit in circuits for element in circuit.elements}.values()


def _highest(wires: Sequence[Wire]) -> int:
    return max((int(number) for wire in wires for number in re.findall(r"^W(\d+)$", wire.id)), default=0)


def unfused(circuit: Circuit) -> frozenset[str]:
    """Return the refs of the conductors that a battery or a converter feeds without a fuse between."""
    plus = [battery.a for battery in circuit.of(Battery)] + [converter.b for converter in circuit.of(Converter)]
    return frozenset(wire.ref for start in plus for wire in circuit.reached(start, CHASSIS, ADAPTER_GROUND))


def _terminals(element: Element) -> Iterator[WirePoint]:
    """Yield the terminals of a device inside the adapter, by what is printed on it, with the net each lies on."""
    if element.zone != "adapter":
        return
    name = terminal_words(element.ref).partition(":")[0]

    def marked(kind: PointKind, *pairs: tuple[str, str]) -> Iterator[WirePoint]:
        yield from (WirePoint(f"{name}:{mark}", kind, net) for mark, net in pairs)

    match element:
        case Coil(is_copper=True):
            yield from marked("blade", ("86", element.a), ("85", element.b))
        case Coil():
            yield from marked("screw", ("in", element.a), ("0V", element.b))
        case RelayContact() if element.ties:
            yield WirePoint(terminal_words(element.b), "blade", element.b)
            yield from _tied(element.ref, element.ties, element.a, element.b)
        case RelayContact():
            yield from marked("blade" if element.is_relay else "screw", ("30", element.a), ("87", element.b))
        case Converter():
            yield from marked("screw", ("in", element.a), ("out", element.b), ("0V", element.common))
            yield from _signal(element, name)
        case Fuse():
            yield from marked("holder", ("1", element.a), ("2", element.b))
        case Diode() | Resistor():
            yield from marked("screw", ("1", element.a), ("2", element.b))
        case Battery():
            yield from marked("stud", ("+", element.a), ("-", element.b))


def _signal(element: Converter, name: str) -> Iterator[WirePoint]:
    """Yield how relays tell a brake controller that the pedal is down: the circuit holds only what they decide."""
    gate, signal = element.gate, f"{element.ref}:signal"
    if gate is None or any(not coil.startswith("-K") for coil in gate.coils.values()):
        return
    coil = next(iter(gate.coils.values()))
    groups = gate.ties(element.a, signal) or ((element.a, f"{coil}:30"), (f"{coil}:87", signal))
    yield from _tied(element.ref, groups, element.a, signal)
    yield WirePoint(f"{name}:signal", "screw", signal)


def _tied(ref: str, groups: Sequence[tuple[str, ...]], start: str, end: str) -> Iterator[WirePoint]:
    """Yield the relay terminals of a contact network; what a group joins is one net, of its own inside the network."""
    for number, group in enumerate(groups, start=1):
        net = next((name for name in group if name in (start, end)), f"{ref}/{number}")
        for name in group:
            if name not in (start, end):
                yield WirePoint(terminal_words(name), "blade", net)
