"""What the makers of schematic pieces share: lettering, the piece itself, and what is known of the whole drawing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.draw.columns import Sides
from wiregen.draw.layout import Part, Port
from wiregen.draw.scene import CAP_HEIGHT, DESCENT, Anchor, Item, Point, Text, Weight
from wiregen.draw.text_width import text_width_mm
from wiregen.model.circuit import Contact, Converter, Element, Lamp, Load, RelayContact

#: Draws a wire of the net of a terminal along points.
Stroke: TypeAlias = Callable[[Sequence[Point], str], tuple[Item, ...]]
#: Draws a piece: left and right edge of its column, its height, and how wires look.
Draw: TypeAlias = Callable[[float, float, float, Stroke], tuple[Item, ...]]

#: Room left and right of a piece in its column, mm.
MARGIN_MM: Final = 0.9
#: Widest text under a device, in font sizes.
DEVICE_TEXT: Final = 5.6
_AIR_MM: Final = 0.9


@dataclass(frozen=True, slots=True)
class Piece:
    """A part with its drawing.

    Attributes:
        part: What the layout needs to know.
        draw: Gives its primitives.
        element: The element it shows; None for what has none of its own.
        title: Tip for the reader.
    """

    part: Part
    draw: Draw
    element: Element | None
    title: str


@dataclass(frozen=True, slots=True)
class Lettering:
    """Font sizes of one sheet, mm."""

    size_mm: float

    @property
    def cap(self) -> float:
        """Height of capitals, mm."""
        return CAP_HEIGHT * self.size_mm

    @property
    def line(self) -> float:
        """From one line to the next, mm."""
        return 1.2 * self.size_mm

    @property
    def above(self) -> float:
        """Room for one line above a wire, mm."""
        return _AIR_MM + self.cap + 0.2

    def below(self, lines: int = 1) -> float:
        """Room for lines below a wire, mm."""
        return _AIR_MM + self.cap + (lines - 1) * self.line + DESCENT * self.size_mm

    def width(self, text: str, weight: Weight = "normal") -> float:
        """Width of a text, mm."""
        return text_width_mm(text, self.size_mm, weight)

    def over(self, x: float, y: float, text: str, anchor: Anchor = "middle", weight: Weight = "normal") -> Text:
        """Return a text that stands just over a wire at ``y``."""
        return Text(x=x, y=y - _AIR_MM, text=text, size_mm=self.size_mm, anchor=anchor, weight=weight)

    def under(
        self, x: float, y: float, text: str, anchor: Anchor = "middle", weight: Weight = "normal", line: int = 0
    ) -> Text:
        """Return a text that hangs just under a wire at ``y``; ``line`` counts lines down."""
        baseline = y + _AIR_MM + self.cap + line * self.line
        return Text(x=x, y=baseline, text=text, size_mm=self.size_mm, anchor=anchor, weight=weight)


def word(circuit: str) -> str:
    """Return the printed word of a circuit or tap."""
    return CIRCUITS[circuit].word if circuit in CIRCUITS else circuit.replace("_", " ")


def is_foot(element: Element) -> bool:
    """Return whether an element belongs to the returns, which run along the foot of the sheet."""
    return element.circuit.startswith("ground") and not isinstance(element, Lamp | Load)


@dataclass(frozen=True, slots=True)
class Shop:
    """What is known of the whole drawing when a piece is made.

    Attributes:
        side: Sides of every element by ref.
        column: Column of every element by ref.
        text: Lettering of the sheet.
        links: Link nets of each coil and of each thing coils work, by ref.
        hitch: Refs of paths through the hitch.
        devices: What each coil belongs to, by ref: ``relay`` or something else.
        poles: Terminals of the vehicle's batteries.
    """

    side: Mapping[str, Sides]
    column: Mapping[str, int]
    text: Lettering
    links: Mapping[str, Sequence[str]]
    hitch: frozenset[str]
    devices: Mapping[str, str]
    poles: frozenset[str]

    def part(
        self, element: Element, rank: float, width: float, up: float, down: float, ports: tuple[Port, ...] = ()
    ) -> Part:
        """Return the part of an element with a terminal on each side.

        Args:
            element: What it is.
            rank: Wish for its height, top first.
            width: Room across without margins, mm.
            up: Room above its wire, mm.
            down: Room below its wire, mm.
            ports: Further ends.
        """
        side = self.side[element.ref]
        both = (Port(side.left, right=False), Port(side.right, right=True))
        return Part(
            key=element.ref,
            column=self.column[element.ref],
            width=width + 2 * MARGIN_MM,
            up=up,
            down=down,
            ports=(*both, *ports),
            rank=rank,
            foot=is_foot(element),
            block=element.connector if isinstance(element, Contact) else "",
        )


def designation(ref: str) -> str:
    """Return a reference designation as it is printed: without the leading sign, which nothing here needs."""
    return ref.lstrip("-")


def link_nets(elements: Iterable[Element]) -> dict[str, list[str]]:
    """Return the link nets of each coil and of each thing coils work, by ref."""
    links: dict[str, list[str]] = {}
    present = {element.ref for element in elements}
    for element in elements:
        gate = element.gate if isinstance(element, RelayContact | Converter) else None
        coils = [ref for ref in gate.coils.values() if ref in present] if gate else []
        if coils:
            net = f"link:{element.ref}"
            for ref in (element.ref, *coils):
                links.setdefault(ref, []).append(net)
    return links


def coil_devices(elements: Iterable[Element]) -> dict[str, str]:
    """Return what each coil belongs to: ``relay`` or something else."""
    devices: dict[str, str] = {}
    for element in elements:
        if isinstance(element, RelayContact):
            devices |= dict.fromkeys(element.gate.coils.values(), element.device)
        elif isinstance(element, Converter) and element.gate:
            devices |= dict.fromkeys(element.gate.coils.values(), "converter")
    return devices
