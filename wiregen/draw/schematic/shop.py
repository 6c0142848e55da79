"""What the makers of schematic pieces share: lettering, the piece itself, and what is known of the whole drawing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

from wiregen.catalogue.connector import DOUBTFUL, SUPPORT_MARKS
from wiregen.draw.scene import CAP_HEIGHT, DESCENT, SMALLEST_TEXT_MM, Anchor, Item, Point, Text, Weight
from wiregen.draw.schematic.columns import Sides
from wiregen.draw.schematic.layout import DrawnPart, Port
from wiregen.draw.text_width import text_width_mm
from wiregen.model.circuit import Circuit, Coil, Contact, Converter, Element, Gate, Lamp, Load, RelayContact

#: Draws a wire of the net of a terminal along points.
Stroke: TypeAlias = Callable[[Sequence[Point], str], tuple[Item, ...]]
#: Draws a piece: left and right edge of its column, its height, and how wires look.
Draw: TypeAlias = Callable[[float, float, float, Stroke], tuple[Item, ...]]

#: Room left and right of a piece in its column, mm.
MARGIN_MM: Final = 0.9
#: Widest text under a device, in font sizes.
DEVICE_TEXT: Final = 5.6
#: Networks of up to so many contacts are drawn contact by contact.
MOST_DRAWN: Final = 3
#: Signs of what nobody has verified.
_DOUBTFUL_SIGNS: Final = frozenset(sign for word, sign in SUPPORT_MARKS.items() if word in DOUBTFUL)
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

    part: DrawnPart
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

    def at(self, x: float, y: float, text: str, anchor: Anchor = "start", weight: Weight = "normal") -> Text:
        """Return a text with its baseline at ``y``."""
        return Text(x=x, y=y, text=text, size_mm=self.size_mm, anchor=anchor, weight=weight)

    def over(self, x: float, y: float, text: str, anchor: Anchor = "middle", weight: Weight = "normal") -> Text:
        """Return a text that stands just over a wire at ``y``."""
        return Text(x=x, y=y - _AIR_MM, text=text, size_mm=self.size_mm, anchor=anchor, weight=weight)

    def under(
        self, x: float, y: float, text: str, anchor: Anchor = "middle", weight: Weight = "normal", line: int = 0
    ) -> Text:
        """Return a text that hangs just under a wire at ``y``; ``line`` counts lines down."""
        baseline = y + _AIR_MM + self.cap + line * self.line
        return Text(x=x, y=baseline, text=text, size_mm=self.size_mm, anchor=anchor, weight=weight)


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
        relays: Refs of the coils of relays; the other coils are control inputs of electronic devices.
        doubtful: Refs of contacts and lamps whose data nobody has verified.
        poles: Terminals of the vehicle's batteries.
    """

    side: Mapping[str, Sides]
    column: Mapping[str, int]
    text: Lettering
    links: Mapping[str, Sequence[str]]
    hitch: frozenset[str]
    relays: frozenset[str]
    doubtful: frozenset[str]
    poles: frozenset[str]

    def part(
        self, element: Element, rank: float, width: float, up: float, down: float, ports: tuple[Port, ...] = ()
    ) -> DrawnPart:
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
        return DrawnPart(
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


def draws_contacts(gate: Gate) -> bool:
    """Return whether the contact network of a gate is drawn contact by contact, and not as a box that tells of it."""
    return 0 < len(gate.wired) <= MOST_DRAWN


def link_nets(elements: Iterable[Element]) -> dict[str, list[str]]:
    """Return the link nets of each coil and of each thing coils work, by ref."""
    links: dict[str, list[str]] = {}
    present = {element.ref for element in elements}
    for element in elements:
        gate = element.gate if isinstance(element, RelayContact | Converter) else None
        if isinstance(element, RelayContact) and draws_contacts(element.gate):
            # Every contact bears the number of its relay; one dashed line to all would say that they move together.
            continue
        coils = [ref for ref in gate.coils.values() if ref in present] if gate else []
        if coils:
            net = f"link:{element.ref}"
            for ref in (element.ref, *coils):
                links.setdefault(ref, []).append(net)
    return links


def doubtful(circuit: Circuit) -> frozenset[str]:
    """Return the refs of contacts and lamps of whose data no document was seen, or on which sources disagree."""
    contacts = (
        contact.ref
        for contact in circuit.of(Contact)
        if (shell := circuit.shells.get(contact.connector)) and shell.support.get(contact.mark) in _DOUBTFUL_SIGNS
    )
    lamps = (lamp.ref for lamp in circuit.of(Lamp) if lamp.support in DOUBTFUL)
    return frozenset((*contacts, *lamps))


def relay_coils(elements: Iterable[Element]) -> frozenset[str]:
    """Return the refs of the coils that are windings."""
    return frozenset(element.ref for element in elements if isinstance(element, Coil) and element.is_copper)


def unverified(x: float, y: float) -> Text:
    """Return the sign beside something whose data nobody has verified, with its foot at ``x``, ``y``."""
    return Text(x=x, y=y, text="!", size_mm=SMALLEST_TEXT_MM, weight="bold", css_class="unverified")
