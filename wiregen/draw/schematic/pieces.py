"""Turn the elements of a circuit into pieces of a schematic: what each needs of room, and how it is drawn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from wiregen.catalogue.circuits import circuit_word
from wiregen.draw.scene import Item, Line, Pen, Text
from wiregen.draw.schematic import symbols, wires
from wiregen.draw.schematic.batteries import battery_in_adapter
from wiregen.draw.schematic.devices import coil, converter, relay_contact
from wiregen.draw.schematic.shop import DEVICE_TEXT, MARGIN_MM, Piece, Shop, Stroke, designation, unverified
from wiregen.draw.text_width import wrap
from wiregen.model.circuit import (
    Battery,
    Coil,
    Conductor,
    Contact,
    Converter,
    Diode,
    Element,
    Equaliser,
    Fuse,
    Lamp,
    Load,
    Path,
    RelayContact,
    Resistor,
    Switch,
)
from wiregen.quantity import show

#: Widest texts beside a lamp and under a switch, in font sizes.
_LAMP_TEXT: Final = 8.7
_SWITCH_TEXT: Final = 5.0


def piece_of(shop: Shop, element: Element, rank: float) -> Piece:
    """Return the piece of an element.

    Args:
        shop: What is known of the whole drawing.
        element: What to draw.
        rank: Wish for its height, top first.
    """
    if isinstance(element, Battery) and element.zone == "adapter":
        return battery_in_adapter(shop, element, rank)
    maker = SYMBOLS.get(type(element))
    if maker is None:
        message = f"{element.ref}: no symbol for a {type(element).__name__}"
        raise TypeError(message)
    return maker(shop, element, rank)


def _fuse(shop: Shop, element: Fuse, rank: float) -> Piece:
    name = f"{designation(element.ref)} {show(element.rating_a, 'A')}"
    if element.breaker:
        return _two_ended(shop, element, rank, symbols.breaker(), symbols.BREAKER_MM, (name, "breaker"), drop=1.0)
    return _two_ended(shop, element, rank, symbols.fuse(), symbols.FUSE_MM, (name,))


def _diode(shop: Shop, element: Diode, rank: float) -> Piece:
    rating = f" {show(element.rating_a, 'A')}" if element.rating_a else ""
    texts = (designation(element.ref) + rating,)
    return _two_ended(shop, element, rank, symbols.diode(), symbols.DIODE_MM, texts)


def _resistor(shop: Shop, element: Resistor, rank: float) -> Piece:
    words = f"{designation(element.ref)} {show(element.resistance_ohm, 'Ω')}"
    words += f" {show(element.power_w, 'W')}" if element.power_w else ""
    texts = wrap(words, DEVICE_TEXT * shop.text.size_mm, shop.text.size_mm)
    return _two_ended(shop, element, rank, symbols.resistor(), symbols.RESISTOR_MM, texts)


def _switch(shop: Shop, element: Switch, rank: float) -> Piece:
    size = shop.text.size_mm
    words = wrap(f"{designation(element.ref)} {circuit_word(element.circuit)}", _SWITCH_TEXT * size, size)
    return _two_ended(shop, element, rank, symbols.switch(), symbols.SWITCH_MM, words, drop=0.4)


def _conductor(shop: Shop, element: Conductor, rank: float) -> Piece:
    words = [designation(element.ref), *filter(None, [element.colour]), element.size.label]
    upper, lower = min(
        ((" ".join(words[:k]), " ".join(words[k:])) for k in range(1, len(words))),
        key=lambda pair: (max(shop.text.width(pair[0]), shop.text.width(pair[1])), pair),
    )
    width = max(shop.text.width(upper), shop.text.width(lower))
    part = shop.part(element, rank, width, shop.text.above, shop.text.below())

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        middle = (x0 + x1) / 2
        side = shop.side[element.ref]
        return (
            *wires.conductor([(x0, y), (x1, y)], element.colour),
            *stroke([(x0, y)], side.left),
            *stroke([(x1, y)], side.right),
            shop.text.over(middle, y, upper),
            shop.text.under(middle, y, lower),
        )

    title = f"{element.ref}: {circuit_word(element.circuit)}, {element.size.label}, {show(element.length_m, 'm')}"
    return Piece(part, draw, element, title)


def _contact(shop: Shop, element: Contact, rank: float) -> Piece:
    radius = max(2.3, 0.95 * shop.text.size_mm)
    half = max(radius, shop.text.width(element.mark, "bold") / 2 + 0.7)
    if half < radius + 0.3:
        half = radius
    reach = radius + 1.2
    part = shop.part(element, rank, 2 * half + 2.4, reach, reach)
    symbol = symbols.pin_contact(half, radius)

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        middle = (x0 + x1) / 2
        sign = (unverified(middle + half + 0.2, y - 0.7),) if element.ref in shop.doubtful else ()
        return (
            *stroke([(x0, y), (middle - half, y)], shop.side[element.ref].left),
            *stroke([(middle + half, y), (x1, y)], shop.side[element.ref].right),
            *symbols.place(symbol, middle, y),
            Text(
                x=middle,
                y=y,
                text=element.mark,
                size_mm=shop.text.size_mm,
                anchor="middle",
                vertical="middle",
                weight="bold",
            ),
            *sign,
        )

    return Piece(part, draw, element, element.title)


def _two_ended(
    shop: Shop,
    element: Element,
    rank: float,
    symbol: symbols.Symbol,
    box: tuple[float, float],
    below: Sequence[str],
    *,
    drop: float | None = None,
) -> Piece:
    """Return a piece with a symbol and its text below it.

    ``drop`` is how far a symbol that stands on the line reaches below it, mm; others lie on it with their middle.
    """
    width, height = box
    widest = max([width + 1.0, *(shop.text.width(line) for line in below)])
    up, drop = (height / 2 + 0.1, height / 2) if drop is None else (height, drop)
    part = shop.part(element, rank, widest, up, drop + shop.text.below(len(below)))

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        middle = (x0 + x1) / 2
        left, right = middle - width / 2, middle + width / 2
        return (
            *stroke([(x0, y), (left, y)], shop.side[element.ref].left),
            *stroke([(right, y), (x1, y)], shop.side[element.ref].right),
            *symbols.place(symbol, middle, y),
            *(shop.text.under(middle, y + drop, line, line=k) for k, line in enumerate(below)),
        )

    return Piece(part, draw, element, element.title)


def _consumer(shop: Shop, element: Lamp | Load | Battery, rank: float) -> Piece:
    """Return what stands at the end of a row, with its texts on the line to its right, where they cost no height."""
    drawn: dict[type[Element], tuple[symbols.Symbol, tuple[float, float]]] = {
        Lamp: (symbols.lamp(), symbols.LAMP_MM),
        Load: (symbols.load(), symbols.LOAD_MM),
        Battery: (symbols.flat_battery(), symbols.FLAT_BATTERY_MM),
    }
    symbol, (width, height) = drawn[type(element)]
    name = designation(element.ref)
    if isinstance(element, Lamp):
        name += f" {circuit_word(element.function)}"
        name += f" {element.side}" if element.side not in ("", "both") and element.side not in name else ""
    size = shop.text.size_mm
    upper = wrap(name, _LAMP_TEXT * size, size)
    lower = wrap(element.title or circuit_word(element.circuit), _LAMP_TEXT * size, size)
    room = max(shop.text.width(line) for line in (*upper, *lower))
    up = max(height / 2, shop.text.above + (len(upper) - 1) * shop.text.line)
    down = max(height / 2, shop.text.below(len(lower)))
    plus = "+" if isinstance(element, Battery) else ""
    before = shop.text.width(plus) + 0.4 if plus else 0.0
    part = shop.part(element, rank, before + width + 0.8 + room, up, down)

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        left = x0 + MARGIN_MM + before
        right = left + width
        return (
            *stroke([(x0, y), (left, y)], shop.side[element.ref].left),
            *stroke([(right, y), (x1, y)], shop.side[element.ref].right),
            *symbols.place(symbol, left + width / 2, y),
            *((shop.text.over(left - 0.4, y, plus, "end"),) if plus else ()),
            *((unverified(x0 + 0.1, y - 1.0),) if element.ref in shop.doubtful else ()),
            *(
                shop.text.over(right + 0.8, y - (len(upper) - 1 - k) * shop.text.line, line, "start")
                for k, line in enumerate(upper)
            ),
            *(shop.text.under(right + 0.8, y, line, "start", line=k) for k, line in enumerate(lower)),
        )

    return Piece(part, draw, element, element.title)


def _path(shop: Shop, element: Path, rank: float) -> Piece:
    if any(terminal in shop.poles for terminal in (element.a, element.b)):
        return _chassis(shop, element, rank)
    hitch = element.ref in shop.hitch
    lines = wrap(element.title or element.ref, DEVICE_TEXT * shop.text.size_mm, shop.text.size_mm)
    width = max(shop.text.width(line) for line in lines)
    part = shop.part(element, rank, width, 1.2, shop.text.below(len(lines)))

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        del stroke
        middle = (x0 + x1) / 2
        line = wires.unintended if hitch else wires.joint
        return (
            *line([(x0, y), (x1, y)]),
            *(shop.text.under(middle, y, text, line=k) for k, text in enumerate(lines)),
        )

    return Piece(part, draw, element, element.title)


def _chassis(shop: Shop, element: Path, rank: float) -> Piece:
    """Return the way from the chassis to a battery pole, with the chassis sign at its right end."""
    width, height = symbols.CHASSIS_MM
    name = "chassis"
    drop = 1.2 + height
    part = shop.part(element, rank, max(shop.text.width(name), width), 1.2, drop + shop.text.below() - 0.4)

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        del stroke
        x = (x0 + x1) / 2
        return (
            *wires.joint([(x0, y), (x1, y)]),
            Line(((x, y), (x, y + 1.2)), Pen(width_mm=wires.PLAIN_MM)),
            *symbols.place(symbols.chassis(), x, y + 1.2),
            shop.text.under(x, y + drop - 0.4, name),
        )

    return Piece(part, draw, element, element.title)


#: Makes the piece of an element, by its class; a battery in the adapter and those of the vehicle look different.
SYMBOLS: Final[dict[type[Element], Callable[..., Piece]]] = {
    Conductor: _conductor,
    Contact: _contact,
    Fuse: _fuse,
    Switch: _switch,
    Coil: coil,
    RelayContact: relay_contact,
    Converter: converter,
    Equaliser: converter,
    Diode: _diode,
    Resistor: _resistor,
    Lamp: _consumer,
    Load: _consumer,
    Path: _path,
    Battery: _consumer,
}
