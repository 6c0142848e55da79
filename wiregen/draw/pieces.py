"""Turn the elements of a circuit into pieces of a schematic: what each needs of room, and how it is drawn."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import schemdraw.elements as elm

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.draw import symbols, wires
from wiregen.draw.columns import Sides
from wiregen.draw.layout import Part, Port
from wiregen.draw.scene import CAP_HEIGHT, DESCENT, Anchor, Item, Line, Pen, Point, Text, Weight
from wiregen.draw.text_width import text_width_mm, wrap
from wiregen.model.circuit import (
    Battery,
    Coil,
    Conductor,
    Contact,
    Converter,
    Element,
    Fuse,
    Lamp,
    Load,
    Path,
    RelayContact,
    Switch,
)
from wiregen.quantity import show

#: Draws a wire of the net a side belongs to: points and the terminal.
Stroke: TypeAlias = Callable[[Sequence[Point], str], tuple[Item, ...]]
#: Draws a piece: left and right edge of its column, its height, and how wires look.
Draw: TypeAlias = Callable[[float, float, float, Stroke], tuple[Item, ...]]

_AIR: Final = 0.9
_MARGIN: Final = 0.9
#: Widest texts beside a lamp, under a device and under a switch, in font sizes.
_LAMP_TEXT: Final = 8.0
_DEVICE_TEXT: Final = 5.6
_SWITCH_TEXT: Final = 5.0


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
        return _AIR + self.cap + 0.2

    def below(self, lines: int = 1) -> float:
        """Room for lines below a wire, mm."""
        return _AIR + self.cap + (lines - 1) * self.line + DESCENT * self.size_mm

    def width(self, text: str, weight: Weight = "normal") -> float:
        """Width of a text, mm."""
        return text_width_mm(text, self.size_mm, weight)

    def over(self, x: float, y: float, text: str, anchor: Anchor = "middle", weight: Weight = "normal") -> Text:
        """Return a text that stands on ``y``."""
        return Text(x=x, y=y - _AIR, text=text, size_mm=self.size_mm, anchor=anchor, weight=weight)

    def under(
        self, x: float, y: float, text: str, anchor: Anchor = "middle", weight: Weight = "normal", line: int = 0
    ) -> Text:
        """Return a text that hangs from ``y``."""
        baseline = y + _AIR + self.cap + line * self.line
        return Text(x=x, y=baseline, text=text, size_mm=self.size_mm, anchor=anchor, weight=weight)


def word(circuit: str) -> str:
    """Return the printed word of a circuit or tap."""
    return CIRCUITS[circuit].word if circuit in CIRCUITS else circuit.replace("_", " ")


def is_foot(element: Element) -> bool:
    """Return whether an element belongs to the returns, which run along the foot of the sheet."""
    return element.circuit.startswith("ground") and not isinstance(element, Lamp | Load)


class Pieces:
    """Makes pieces with the lettering of one sheet.

    Args:
        side: Sides of every element by ref.
        column: Column of every element by ref.
        lettering: Font sizes.
        links: Link net of each coil or relay contact by ref.
        hitch: Refs of paths through the hitch.
        devices: What each coil belongs to, by ref: ``relay`` or something else.
        poles: Terminals of the vehicle's batteries.
    """

    def __init__(
        self,
        side: Mapping[str, Sides],
        column: Mapping[str, int],
        lettering: Lettering,
        links: Mapping[str, Sequence[str]],
        hitch: frozenset[str],
        devices: Mapping[str, str],
        poles: Sequence[str],
    ) -> None:
        self.side = side
        self.column = column
        self.text = lettering
        self.links = links
        self.hitch = hitch
        self.devices = devices
        self.poles = frozenset(poles)

    def of(self, element: Element, rank: float) -> Piece:
        """Return the piece of an element.

        Args:
            element: What to draw.
            rank: Wish for its height, top first.
        """
        match element:
            case Conductor():
                return self._conductor(element, rank)
            case Contact():
                return self._contact(element, rank)
            case Fuse():
                texts = (f"{element.ref.lstrip('-')} {show(element.rating_a, 'A')}",)
                return self._two_ended(element, rank, symbols.fuse(), symbols.FUSE_MM, texts, zoom=symbols.FUSE_MM[0])
            case Switch():
                words = wrap(
                    f"{element.ref.lstrip('-')} {word(element.circuit)}",
                    _SWITCH_TEXT * self.text.size_mm,
                    self.text.size_mm,
                )
                return self._two_ended(
                    element, rank, symbols.switch(), symbols.SWITCH_MM, words, zoom=symbols.SWITCH_MM[0], up=3.2
                )
            case Coil():
                return self._coil(element, rank)
            case RelayContact():
                return self._relay_contact(element, rank)
            case Converter():
                return self._converter(element, rank)
            case Lamp() | Load():
                return self._consumer(element, rank)
            case Path():
                return self._path(element, rank)
            case Battery():
                return self._battery_in_box(element, rank)
            case _:
                message = f"{element.ref}: no symbol for a {type(element).__name__}"
                raise TypeError(message)

    def _part(
        self, element: Element, rank: float, width: float, up: float, down: float, ports: tuple[Port, ...] = ()
    ) -> Part:
        side = self.side[element.ref]
        both = (Port(side.left, right=False), Port(side.right, right=True))
        return Part(
            key=element.ref,
            column=self.column[element.ref],
            width=width + 2 * _MARGIN,
            up=up,
            down=down,
            ports=(*both, *ports),
            rank=rank,
            foot=is_foot(element),
            block=element.connector if isinstance(element, Contact) else "",
        )

    def _conductor(self, element: Conductor, rank: float) -> Piece:
        words = [element.ref.lstrip("-"), *filter(None, [element.colour]), element.size.label]
        upper, lower = min(
            ((" ".join(words[:k]), " ".join(words[k:])) for k in range(1, len(words))),
            key=lambda pair: (max(self.text.width(pair[0]), self.text.width(pair[1])), pair),
        )
        width = max(self.text.width(upper), self.text.width(lower))
        part = self._part(element, rank, width, self.text.above, self.text.below())

        def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
            del stroke
            middle = (x0 + x1) / 2
            return (
                *wires.conductor([(x0, y), (x1, y)], element.colour),
                self.text.over(middle, y, upper),
                self.text.under(middle, y, lower),
            )

        title = f"{element.ref}: {word(element.circuit)}, {element.size.label}, {show(element.length_m, 'm')}"
        return Piece(part, draw, element, title)

    def _contact(self, element: Contact, rank: float) -> Piece:
        radius = max(2.3, 0.95 * self.text.size_mm)
        half = max(radius, self.text.width(element.mark, "bold") / 2 + 0.7)
        if half < radius + 0.3:
            half = radius
        reach = radius + 1.2
        part = self._part(element, rank, 2 * half + 2.4, reach, reach)
        symbol = symbols.PinContact(half, radius)

        def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
            middle = (x0 + x1) / 2
            return (
                *stroke([(x0, y), (middle - half, y)], self.side[element.ref].left),
                *stroke([(middle + half, y), (x1, y)], self.side[element.ref].right),
                *symbols.place(symbol, middle, y),
                Text(
                    x=middle,
                    y=y,
                    text=element.mark,
                    size_mm=self.text.size_mm,
                    anchor="middle",
                    vertical="middle",
                    weight="bold",
                ),
            )

        return Piece(part, draw, element, element.title)

    def _two_ended(
        self,
        element: Element,
        rank: float,
        symbol: elm.Element,
        box: tuple[float, float],
        below: Sequence[str],
        *,
        zoom: float,
        up: float = 0.0,
    ) -> Piece:
        """Return a piece with a library symbol (zero at its left end) and its text below the line."""
        width, height = box
        widest = max([width + 1.0, *(self.text.width(line) for line in below)])
        drop = height / 2 if not up else 0.4
        part = self._part(element, rank, widest, up or height / 2 + 0.1, drop + self.text.below(len(below)))

        def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
            middle = (x0 + x1) / 2
            left, right = middle - width / 2, middle + width / 2
            return (
                *stroke([(x0, y), (left, y)], self.side[element.ref].left),
                *stroke([(right, y), (x1, y)], self.side[element.ref].right),
                *symbols.place(symbol, left, y, zoom=zoom),
                *(self.text.under(middle, y + drop, line, line=k) for k, line in enumerate(below)),
            )

        return Piece(part, draw, element, element.title)

    def _coil(self, element: Coil, rank: float) -> Piece:
        relay = self.devices.get(element.ref, "relay") == "relay"
        symbol = symbols.Coil() if relay else symbols.ControlInput()
        width, height = symbols.COIL_MM
        marks = ("86", "85") if relay else ("in", "0V")
        stub = max(self.text.width(mark) for mark in marks) + 0.8
        ports = tuple(Port(net, right=True, dy=-symbols.LINK_MM) for net in self.links.get(element.ref, ()))
        part = self._part(element, rank, width + 2 * stub - 2 * _MARGIN, height / 2, self.text.below(), ports)

        def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
            middle = (x0 + x1) / 2
            left, right = middle - width / 2, middle + width / 2
            items: list[Item] = [
                *stroke([(x0, y), (left, y)], self.side[element.ref].left),
                *stroke([(right, y), (x1, y)], self.side[element.ref].right),
                *symbols.place(symbol, middle, y),
                self.text.under(left - 0.4, y, marks[0], "end"),
                self.text.under(right + 0.4, y, marks[1], "start"),
            ]
            shift = 0.0 if relay else -1.2
            items.append(
                Text(
                    x=middle + shift,
                    y=y,
                    text=element.ref.lstrip("-"),
                    size_mm=self.text.size_mm,
                    anchor="middle",
                    vertical="middle",
                    weight="bold",
                )
            )
            if ports:
                items += wires.link([(right, y - symbols.LINK_MM), (x1, y - symbols.LINK_MM)])
            return tuple(items)

        return Piece(part, draw, element, element.title)

    def _relay_contact(self, element: RelayContact, rank: float) -> Piece:
        relay = element.device == "relay"
        symbol: elm.Element = symbols.MakeContact() if relay else symbols.ElectronicSwitch()
        width, height = symbols.MAKE_MM if relay else symbols.ELECTRONIC_MM
        logic = element.gate.logic
        name = element.ref.split(":")[0].lstrip("-")
        lines = wrap(
            name if logic.is_bare else f"{name}: {logic.text.replace('_', ' ')}",
            _DEVICE_TEXT * self.text.size_mm,
            self.text.size_mm,
        )
        marks = ("30", "87") if relay else ("in", "out")
        inner = width - 2 * max(self.text.width(mark) for mark in marks) - 1.0
        beside = max(self.text.width(line) for line in lines) > inner
        rows = len(lines) + beside
        down = self.text.below(rows) + (1.6 if not relay else 0.0)
        need = max(width, *(self.text.width(line) for line in lines))
        ports = tuple(Port(net, right=False, dy=-symbols.LINK_MM) for net in self.links.get(element.ref, ()))
        up = 3.0 if relay else height - 1.6
        part = self._part(element, rank, max(need, width + 0.8), up, down, ports)

        def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
            middle = (x0 + x1) / 2
            left, right = middle - width / 2, middle + width / 2
            base = y if relay else y + 1.6
            items: list[Item] = [
                *stroke([(x0, y), (left, y)], self.side[element.ref].left),
                *stroke([(right, y), (x1, y)], self.side[element.ref].right),
                *symbols.place(symbol, middle, y),
                self.text.under(left, base, marks[0], "start"),
                self.text.under(right, base, marks[1], "end"),
                *(
                    self.text.under(middle, base, line, weight="bold" if not k else "normal", line=k + beside)
                    for k, line in enumerate(lines)
                ),
            ]
            if ports:
                items += wires.link([(x0, y - symbols.LINK_MM), symbols.anchor(symbol, "link", middle, y)])
            return tuple(items)

        return Piece(part, draw, element, element.title)

    def _converter(self, element: Converter, rank: float) -> Piece:
        symbol = symbols.Converter()
        width, height = symbols.CONVERTER_MM
        wire_dy, ground_dy = -height / 4, height / 4
        rating = f" {show(element.continuous_a, 'A')}" if element.continuous_a else ""
        out = f"{show(element.output_v, 'V')}{rating}" if element.gate is None else element.title
        name = element.ref.split(":")[0].lstrip("-")
        lines = (name, *wrap(out, _DEVICE_TEXT * self.text.size_mm, self.text.size_mm))
        side = self.side[element.ref]
        # A brake controller is worked by its input as a relay is by its coil: the link meets the box.
        links = tuple(Port(net, right=False, dy=-height / 2 + 0.6) for net in self.links.get(element.ref, ()))
        ports = (
            Port(side.left, right=False, dy=wire_dy),
            Port(side.right, right=True, dy=wire_dy),
            Port(side.under, right=True, dy=ground_dy),
            *links,
        )
        need = max(width, *(self.text.width(line, "bold") for line in lines))
        part = Part(
            key=element.ref,
            column=self.column[element.ref],
            width=need + 2 * _MARGIN + 1.0,
            up=height / 2,
            down=height / 2 + self.text.below(len(lines)),
            ports=ports,
            rank=rank,
        )

        def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
            middle = (x0 + x1) / 2
            left, right = middle - width / 2, middle + width / 2
            items: list[Item] = [
                *stroke([(x0, y + wire_dy), (left, y + wire_dy)], side.left),
                *stroke([(right, y + wire_dy), (x1, y + wire_dy)], side.right),
                *stroke([(right, y + ground_dy), (x1, y + ground_dy)], side.under),
                *symbols.place(symbol, middle, y),
                *(
                    self.text.under(middle, y + height / 2, line, weight="bold" if not k else "normal", line=k)
                    for k, line in enumerate(lines)
                ),
            ]
            for port in links:
                items += wires.link([(x0, y + port.dy), (left, y + port.dy)])
            return tuple(items)

        return Piece(part, draw, element, element.title)

    def _consumer(self, element: Lamp | Load, rank: float) -> Piece:
        """Return lamp or magnet with its texts on the line to its right, where they cost no height."""
        symbol: elm.Element = symbols.Lamp() if isinstance(element, Lamp) else symbols.Load()
        width, height = symbols.LAMP_MM if isinstance(element, Lamp) else symbols.LOAD_MM
        side = element.side if isinstance(element, Lamp) and element.side not in ("", "both") else ""
        name = word(element.function)
        size = self.text.size_mm
        if isinstance(element, Load):
            upper: tuple[str, ...] = (element.ref.lstrip("-"),)
            lower = wrap(element.title or name, _LAMP_TEXT * size, size)
        else:
            upper = wrap(
                f"{element.ref.lstrip('-')} {name}" + (f" {side}" if side not in name else ""), _LAMP_TEXT * size, size
            )
            lower = wrap(element.title or name, _LAMP_TEXT * size, size)
        room = max(self.text.width(line) for line in (*upper, *lower))
        up = max(height / 2, self.text.above + (len(upper) - 1) * self.text.line)
        down = max(height / 2, self.text.below(len(lower)))
        part = self._part(element, rank, width + 0.8 + room, up, down)

        def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
            left = x0 + _MARGIN
            right = left + width
            return (
                *stroke([(x0, y), (left, y)], self.side[element.ref].left),
                *stroke([(right, y), (x1, y)], self.side[element.ref].right),
                *symbols.place(symbol, left + width / 2, y),
                *(
                    self.text.over(right + 0.8, y - (len(upper) - 1 - k) * self.text.line, line, "start")
                    for k, line in enumerate(upper)
                ),
                *(self.text.under(right + 0.8, y, line, "start", line=k) for k, line in enumerate(lower)),
            )

        return Piece(part, draw, element, element.title)

    def _path(self, element: Path, rank: float) -> Piece:
        if any(terminal in self.poles for terminal in (element.a, element.b)):
            return self._chassis(element, rank)
        hitch = element.ref in self.hitch
        lines = wrap(element.title or element.ref, _DEVICE_TEXT * self.text.size_mm, self.text.size_mm)
        width = max(self.text.width(line) for line in lines)
        part = self._part(element, rank, width, 1.2, self.text.below(len(lines)))

        def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
            del stroke
            middle = (x0 + x1) / 2
            line = wires.unintended if hitch else wires.joint
            return (
                *line([(x0, y), (x1, y)]),
                *(self.text.under(middle, y, text, line=k) for k, text in enumerate(lines)),
            )

        return Piece(part, draw, element, element.title)

    def _chassis(self, element: Path, rank: float) -> Piece:
        """Return the way from the chassis to a battery pole, with the chassis sign at its right end."""
        width, height = symbols.CHASSIS_MM
        name = "chassis"
        drop = 1.2 + height
        part = self._part(element, rank, max(self.text.width(name), width), 1.2, drop + self.text.below() - 0.4)

        def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
            del stroke
            x = (x0 + x1) / 2
            return (
                *wires.joint([(x0, y), (x1, y)]),
                Line(((x, y), (x, y + 1.2)), Pen(width_mm=wires.PLAIN_MM)),
                *symbols.place(symbols.chassis(), x, y + 1.2, zoom=symbols.CHASSIS_ZOOM),
                self.text.under(x, y + drop - 0.4, name),
            )

        return Piece(part, draw, element, element.title)

    def _battery_in_box(self, element: Battery, rank: float) -> Piece:
        """Return a battery that stands in the adapter, both poles to the right."""
        symbol = symbols.BatteryPlates()
        width, height = symbols.BATTERY_MM
        reach = height / 2 + 1.6
        side = self.side[element.ref]
        lines = (element.ref.lstrip("-"), show(element.voltage_v, "V"))
        room = max(self.text.width(line, "bold") for line in lines)
        part = Part(
            key=element.ref,
            column=self.column[element.ref],
            width=width + room + 2 * _MARGIN + 1.5,
            up=reach + 1.0,
            down=reach + 1.0,
            ports=(Port(side.left, right=True, dy=-reach), Port(side.right, right=True, dy=reach)),
            rank=rank,
        )

        def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
            middle = x1 - _MARGIN - width / 2
            del x0
            return (
                *stroke([(middle, y - height / 2), (middle, y - reach), (x1, y - reach)], side.left),
                *stroke([(middle, y + height / 2), (middle, y + reach), (x1, y + reach)], side.right),
                *symbols.place(symbol, middle, y),
                *battery_label(self.text, middle - width / 2 - 0.8, y, lines, "end"),
            )

        return Piece(part, draw, element, element.title)


def battery_label(text: Lettering, x: float, y: float, lines: Sequence[str], anchor: Anchor) -> tuple[Item, ...]:
    """Return the lines of a battery's label, centred on ``y``, beside its plates."""
    first = y - (len(lines) - 1) / 2 * text.line
    return tuple(
        Text(
            x=x,
            y=first + k * text.line,
            text=line,
            size_mm=text.size_mm,
            anchor=anchor,
            vertical="middle",
            weight="bold" if k == 0 else "normal",
        )
        for k, line in enumerate(lines)
    )
