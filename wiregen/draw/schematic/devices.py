"""Pieces of what switches and converts: coils, contacts, electronic switches, converters, brake controllers."""

from __future__ import annotations

from typing import Final

from wiregen.catalogue.devices import KINDS
from wiregen.draw.scene import Item, Text
from wiregen.draw.schematic import symbols, wires
from wiregen.draw.schematic.layout import DrawnPart, Port
from wiregen.draw.schematic.networks import contact_network, logic_box
from wiregen.draw.schematic.shop import DEVICE_TEXT, MARGIN_MM, Piece, Shop, Stroke, designation, draws_contacts
from wiregen.draw.text_width import wrap
from wiregen.model.circuit import Coil, Converter, Equaliser, RelayContact
from wiregen.quantity import show

#: Widest text under a brake controller or an equaliser, in font sizes: "12 V signal" on one line.
_TOLD_TEXT: Final = 6.6
#: What is drawn across a coil.
_ACROSS: Final = ("diode", "resistor")


def coil(shop: Shop, element: Coil, rank: float) -> Piece:
    """Return the piece of a relay coil, or of the control input of an electronic device."""
    relay = element.is_copper
    symbol = symbols.coil() if relay else symbols.control_input()
    width, height = symbols.COIL_MM
    marks = ("86", "85") if relay else ("in", "0V")
    stub = max(shop.text.width(mark) for mark in marks) + 1.1
    ports = tuple(Port(net, right=True, dy=-symbols.LINK_MM) for net in shop.links.get(element.ref, ()))
    across = symbols.suppressor(diode=element.suppression == "diode") if element.suppression in _ACROSS else None
    down = max(shop.text.below(), height / 2 + (symbols.SUPPRESSOR_MM if across else 0.0))
    part = shop.part(element, rank, width + 2 * stub - 2 * MARGIN_MM, height / 2, down, ports)

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        middle = (x0 + x1) / 2
        left, right = middle - width / 2, middle + width / 2
        items: list[Item] = [
            *stroke([(x0, y), (left, y)], shop.side[element.ref].left),
            *stroke([(right, y), (x1, y)], shop.side[element.ref].right),
            *(symbols.place(across, middle, y) if across else ()),
            *symbols.place(symbol, middle, y),
            shop.text.under(left - 0.6, y, marks[0], "end"),
            shop.text.under(right + 0.6, y, marks[1], "start"),
        ]
        shift = 0.0 if relay else -1.2
        items.append(
            Text(
                x=middle + shift,
                y=y,
                text=designation(element.ref),
                size_mm=shop.text.size_mm,
                anchor="middle",
                vertical="middle",
                weight="bold",
            )
        )
        if ports:
            items += wires.link([(right, y - symbols.LINK_MM), (x1, y - symbols.LINK_MM)])
        return tuple(items)

    return Piece(part, draw, element, element.title)


def relay_contact(shop: Shop, element: RelayContact, rank: float) -> Piece:
    """Return the piece of a relay contact or an electronic switch, or of what does the logic of several circuits.

    A single make contact never stands for anything but a single circuit.
    """
    if element.network and draws_contacts(element.gate):
        return contact_network(shop, element, element.network, rank)
    if not element.gate.logic.is_bare:
        return logic_box(shop, element, rank)
    relay = element.is_relay
    symbol = symbols.make_contact() if relay else symbols.electronic_switch()
    width, height = symbols.MAKE_MM if relay else symbols.ELECTRONIC_MM
    name = designation(element.ref.split(":")[0])
    marks = ("30", "87") if relay else ("in", "out")
    inner = width - 2 * max(shop.text.width(mark) for mark in marks) - 1.0
    beside = shop.text.width(name, "bold") > inner
    down = shop.text.below(1 + beside) + (1.6 if not relay else 0.0)
    need = max(width, shop.text.width(name, "bold"))
    ports = tuple(Port(net, right=False, dy=-symbols.LINK_MM) for net in shop.links.get(element.ref, ()))
    up = 3.0 if relay else height - 1.6
    part = shop.part(element, rank, max(need, width + 0.8), up, down, ports)

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        middle = (x0 + x1) / 2
        left, right = middle - width / 2, middle + width / 2
        base = y if relay else y + 1.6
        items: list[Item] = [
            *stroke([(x0, y), (left, y)], shop.side[element.ref].left),
            *stroke([(right, y), (x1, y)], shop.side[element.ref].right),
            *symbols.place(symbol, middle, y),
            shop.text.under(left, base, marks[0], "start"),
            shop.text.under(right, base, marks[1], "end"),
            shop.text.under(middle, base, name, weight="bold", line=int(beside)),
        ]
        if ports:
            items += wires.link([(x0, y - symbols.LINK_MM), (middle + symbol.link[0], y - symbol.link[1])])
        return tuple(items)

    return Piece(part, draw, element, element.title)


def converter(shop: Shop, element: Converter, rank: float) -> Piece:
    """Return the piece of a step-down converter or a brake controller."""
    symbol = symbols.converter()
    width, height = symbols.CONVERTER_MM
    wire_dy, ground_dy = -height / 4, height / 4
    rating = f" {show(element.continuous_a, 'A')}" if element.continuous_a else ""
    out = (show(element.output_v, "V") if KINDS[element.device].has_voltage else element.title) + rating
    name = designation(element.ref.split(":")[0])
    told = _told(shop, element)
    room = (_TOLD_TEXT if told else DEVICE_TEXT) * shop.text.size_mm
    lines = (name, *(line for words in (out, told) if words for line in wrap(words, room, shop.text.size_mm)))
    side = shop.side[element.ref]
    # A brake controller is worked by its input as a relay is by its coil: the link meets the box.
    links = tuple(Port(net, right=False, dy=-height / 2 + 0.6) for net in shop.links.get(element.ref, ()))
    ports = (
        Port(side.left, right=False, dy=wire_dy),
        Port(side.right, right=True, dy=wire_dy),
        Port(side.under, right=True, dy=ground_dy),
        *links,
    )
    need = max(width, *(shop.text.width(line, "bold") for line in lines))
    part = DrawnPart(
        key=element.ref,
        column=shop.column[element.ref],
        width=need + 2 * MARGIN_MM + 1.0,
        up=height / 2,
        down=height / 2 + shop.text.below(len(lines)),
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
                shop.text.under(middle, y + height / 2, line, weight="bold" if not k else "normal", line=k)
                for k, line in enumerate(lines)
            ),
        ]
        for port in links:
            items += wires.link([(x0, y + port.dy), (left, y + port.dy)])
        return tuple(items)

    return Piece(part, draw, element, f"{element.title}, {told}" if told else element.title)


def _told(shop: Shop, element: Converter) -> str:
    """Return what no line of the drawing shows of a device.

    Which relays tell a brake controller: the circuit has no contact of theirs, only what they decide. The fuses of an
    equaliser, which the circuit takes as part of it.
    """
    if isinstance(element, Equaliser):
        fuse = f"fuse {show(element.fuse_a, 'A')}" if element.fuse_a else "NO FUSE"
        return f"{fuse} in plus and in centre"
    if element.gate is None:
        return ""
    relays = [designation(ref) for ref in element.gate.coils.values() if ref in shop.relays]
    logic = "" if element.gate.logic.is_bare else "relay logic "
    return f"12 V signal by {logic}{', '.join(relays)}" if relays else ""
