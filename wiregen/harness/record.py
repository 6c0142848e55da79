"""The harness record: every wire, joint and cavity of a rig, made once; chart, cut list, drawings and tests are views.

A point is where a wire may end: the cavity of a connector, a terminal of a device, a strip, a bar, a splice, a stud.
Points that are one electrical node share a net, which is a terminal of the circuit. A wire runs from point to point;
a lead inside the adapter is a wire too.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

from wiregen.catalogue.circuits import CIRCUITS, GROUPS
from wiregen.catalogue.connector import Connector, PinoutContact
from wiregen.model.circuit import Element, Zone
from wiregen.model.stretch import STRETCHES, Stretch
from wiregen.quantity import ConductorSize

PointKind = Literal["cavity", "strip", "screw", "blade", "holder", "bar", "stud", "splice"]

HOLDER: Final = "fuse holder"
SPLICE: Final = "splice"

#: What is put on the end of a wire, by the kind of point it ends on.
FINISHES: Final[dict[PointKind, str]] = {
    "cavity": "connector contact",
    "bar": "ring terminal",
    "stud": "ring terminal",
    "strip": "ferrule",
    "screw": "ferrule",
    "blade": "blade receptacle",
    "holder": HOLDER,
    "splice": SPLICE,
}
#: What each finish means, in words; all of it is common practice without a source.
MEANING: Final[dict[str, str]] = {
    "connector contact": "crimp, solder or screw as the part asks; a ferrule under a screw, never a tinned end",
    "ring terminal": "crimped ring to fit the stud, on bare bright metal, sealed afterwards",
    "ferrule": "strip, ferrule, into the strip terminal or the screw terminal of the device",
    "blade receptacle": "insulated crimp receptacle for the blade of the relay socket",
    HOLDER: "crimped to the lead or into the contact of the fuse holder",
    SPLICE: "strip and crimp into the splice named; see the splice list",
}


@dataclass(frozen=True, slots=True)
class WirePoint:
    """A place where wires end.

    Attributes:
        id: ``X1:E``, ``K1:86``, ``A1:0V``; the mark behind the colon is the one on the part.
        kind: What it is, which decides how a wire is finished there.
        net: Electrical node it lies on: a terminal of the circuit.
    """

    id: str
    kind: PointKind
    net: str

    @property
    def part(self) -> str:
        """The part it is on: ``X1``."""
        return self.id.partition(":")[0]

    @property
    def mark(self) -> str:
        """The mark on the part: ``E``."""
        return self.id.partition(":")[2]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """A wire from point to point.

    Attributes:
        id: ``W4``.
        a: End on the side of the battery's plus in a feed, of the lamp in a return.
        b: The other end.
        circuit: Circuit or tap that it carries.
        stretch: Where it runs.
        length_m: Length between its ends, m.
        size: Cross-section; None where nobody says.
        colour: IEC 60757 code, empty where it is left open.
        fuse: Fuse that protects it, ``F3 10 A``; ``NO_FUSE`` where a supply can feed it and none does; else empty.
        channel: Channel of the adapter that it belongs to, or empty.
        trailer: Trailer that it serves; empty for all.
        title: What it is, where its circuit does not say it.
        element: Ref of its element in the circuit; empty where the solver does without it.
    """

    id: str
    a: WirePoint
    b: WirePoint
    circuit: str
    stretch: Stretch
    length_m: float
    size: ConductorSize | None
    colour: str = ""
    fuse: str = ""
    channel: str = ""
    trailer: str = ""
    title: str = ""
    element: str = ""

    @property
    def is_made(self) -> bool:
        """Whether it is made with the adapter; the others belong to the vehicle or a trailer and are there."""
        return STRETCHES[self.stretch].owner == "adapter"

    @property
    def group(self) -> str:
        """Function group that it is listed in."""
        return CIRCUITS[self.circuit].group if self.circuit in CIRCUITS else "Supply"

    @property
    def points(self) -> tuple[WirePoint, WirePoint]:
        """Both ends."""
        return self.a, self.b


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A device of the adapter, or the fuse in a tap.

    Attributes:
        id: ``K1``.
        zone: Where it is.
        elements: What it is in the circuit: a relay is a coil and its contact.
    """

    id: str
    zone: Zone
    elements: tuple[Element, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cavity:
    """A place of a connector half of the adapter.

    Attributes:
        point: ``X1:E``.
        entry: What the pinout says of it.
        wires: Wires of the adapter in it; none where it stays empty.
    """

    point: str
    entry: PinoutContact
    wires: tuple[Wire, ...]

    @property
    def half(self) -> str:
        """The connector it is in: ``X1``."""
        return self.point.partition(":")[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Half:
    """A connector half that is built: the plug for the vehicle's socket, or the socket for a trailer's plug.

    Attributes:
        id: ``X1``.
        pinout: Its wiring.
        trailer: Trailer that it fits; empty for the vehicle's side.
        cavities: Its places, in the order of the pinout.
    """

    id: str
    pinout: Connector
    trailer: str
    cavities: tuple[Cavity, ...]


@dataclass(frozen=True, kw_only=True)
class Harness:
    """Everything that is built, and the wires of vehicle and trailers that it meets.

    Attributes:
        wires: Every wire, in building order: the vehicle's, those that are made, the trailers'.
        points: Every point of the adapter and of the trailers' splices.
        parts: Devices of the adapter.
        halves: Connector halves, the vehicle's side first.
        straight: Whether it is a plain lead that joins equal marks.
    """

    wires: tuple[Wire, ...]
    points: tuple[WirePoint, ...]
    parts: tuple[Part, ...]
    halves: tuple[Half, ...]
    straight: bool

    @cached_property
    def made(self) -> tuple[Wire, ...]:
        """The wires that are cut for the adapter, without the leads inside it, by function group."""
        made = [wire for wire in self.wires if wire.is_made and wire.stretch != "inside"]
        return tuple(sorted(made, key=lambda wire: GROUPS.index(wire.group)))

    @cached_property
    def inside(self) -> tuple[Wire, ...]:
        """The leads inside the adapter."""
        return tuple(wire for wire in self.wires if wire.stretch == "inside")

    @cached_property
    def _at(self) -> dict[str, list[Wire]]:
        found = defaultdict(list)
        for wire in self.wires:
            for point in wire.points:
                found[point.id].append(wire)
        return found

    def at(self, point: str) -> tuple[Wire, ...]:
        """Return the wires that end on a point, whoever made them."""
        return tuple(self._at.get(point, ()))

    @cached_property
    def _on(self) -> dict[str, list[WirePoint]]:
        found = defaultdict(list)
        for point in self.points:
            found[point.net].append(point)
        return found

    def on(self, net: str) -> tuple[WirePoint, ...]:
        """Return the points of a net."""
        return tuple(self._on.get(net, ()))

    @cached_property
    def cavities(self) -> dict[str, Cavity]:
        """Every cavity by its point."""
        return {cavity.point: cavity for half in self.halves for cavity in half.cavities}

    def sources(self, net: str) -> Iterator[Wire]:
        """Yield the wires of the adapter that bring a net in from the vehicle."""
        for wire in self.made:
            if wire.stretch != "adapter-trailer" and net in (wire.a.net, wire.b.net):
                yield wire
