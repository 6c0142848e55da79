"""Pieces of channels whose logic reads several circuits: the real relay contacts, or a box that says what it does."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from wiregen.draw.scene import SMALLEST_TEXT_MM, Circle, Item, Line, Pen, Point, Rect
from wiregen.draw.schematic import symbols
from wiregen.draw.schematic.layout import DrawnPart, Port
from wiregen.draw.schematic.shop import MARGIN_MM, Lettering, Piece, Shop, Stroke, designation
from wiregen.draw.schematic.wires import PLAIN_MM, link
from wiregen.draw.text_width import wrap
from wiregen.model.circuit import RelayContact
from wiregen.model.contacts import ChangeOver, Gate, Network, Parallel, Pole, Series

#: Widest text in a box, in font sizes, and the most lines of it: the chart has every expression in full.
_BOX_TEXT: Final = 6.4
_MOST_LINES: Final = 7
#: From the rail of contacts side by side to their branches, between two contacts, and between two branches, mm.
_RAIL_MM: Final = 1.2
_BETWEEN_MM: Final = 1.8
_APART_MM: Final = 0.8
_DOT_MM: Final = 0.65
_MARK_SHARE: Final = 0.8
_PAD_MM: Final = 0.8


@dataclass(frozen=True, slots=True)
class _Block:
    """A part of a network with one line in on the left and one out on the right, both at its own height.

    Attributes:
        width: Room across, mm.
        up: Room above its line, mm.
        down: Room below its line, mm.
        draw: Gives its primitives from the left end of its line.
    """

    width: float
    up: float
    down: float
    draw: Callable[[float, float], Iterator[Item]]


def contact_network(shop: Shop, element: RelayContact, network: Network, rank: float) -> Piece:
    """Return the piece of a channel with every contact of its network, each with its relay and its terminals."""
    block = _Network(shop.text, element.gate).block(network)
    part = shop.part(element, rank, block.width, block.up, block.down)

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        left = (x0 + x1 - block.width) / 2
        right = left + block.width
        return (
            *stroke([(x0, y), (left, y)], shop.side[element.ref].left),
            *stroke([(right, y), (x1, y)], shop.side[element.ref].right),
            *block.draw(left, y),
        )

    return Piece(part, draw, element, f"{element.title}: {element.words}")


class _Network:
    """Makes the blocks of one network, taking its poles in the order in which they are met."""

    def __init__(self, text: Lettering, gate: Gate) -> None:
        self.text = text
        self.marks = Lettering(max(SMALLEST_TEXT_MM, _MARK_SHARE * text.size_mm))
        self._gate = gate
        self._poles = iter(gate.wired)

    def block(self, network: Network) -> _Block:
        """Return the block of a network."""
        match network:
            case Series(members):
                return _in_series([self.block(member) for member in members])
            case Parallel(members):
                return _side_by_side([self.block(member) for member in members])
            case ChangeOver():
                return self._pair(next(self._poles), next(self._poles))
            case _:
                return self._contact(next(self._poles))

    def _name(self, pole: Pole) -> str:
        ref = self._gate.coils[pole.circuit]
        several = self._gate.poles[ref] > 1
        return designation(ref) + (f".{pole.number}" if several else "")

    def _stub(self, *poles: Pole) -> float:
        """Return the length of the line on a terminal 30, which carries the name of its relay, mm."""
        names = max(self.text.width(self._name(pole), "bold") for pole in poles)
        return max(names, self.marks.width("30")) + 0.6

    def _contact(self, pole: Pole) -> _Block:
        far, kind = ("87", "make") if pole.make else ("87a", "break")
        # Nothing is below the blade, so that the marks may reach under it.
        marks = self.marks.width("30") + self.marks.width(far) + 1.2
        stub = self._stub(pole)
        tail = max(2.0, marks - stub - symbols.GAP_MM)
        blade = symbols.blade(kind)

        def draw(x: float, y: float) -> Iterator[Item]:
            pivot, fixed = x + stub, x + stub + symbols.GAP_MM
            yield _line((x, y), (pivot, y))
            yield _line((fixed, y), (fixed + tail, y))
            yield from symbols.place(blade, pivot, y)
            yield self.text.over(x + 0.2, y, self._name(pole), "start", "bold")
            yield self.marks.under(x + 0.2, y, "30", "start")
            yield self.marks.under(fixed + tail - 0.2, y, far, "end")

        return _Block(stub + symbols.GAP_MM + tail, max(2.4, self.text.above), self.marks.below(), draw)

    def _pair(self, first: Pole, second: Pole) -> _Block:
        """Return two change-over contacts face to face; their wires run straight, so that 87 may face 87a."""
        stub, reach, spread = self._stub(first, second), symbols.GAP_MM, symbols.SPREAD_MM
        crossed = first.make == second.rest
        facing = ("87a", "87") if crossed else ("87", "87a")
        wire = self.marks.width("87") + self.marks.width("87a") + 1.4
        width = 2 * (stub + reach) + wire
        blades = (symbols.blade("change-over"), symbols.blade("change-over", rests_up=crossed, mirrored=True))

        def draw(x: float, y: float) -> Iterator[Item]:
            pivots = (x + stub, x + width - stub)
            fixed = (pivots[0] + reach, pivots[1] - reach)
            yield _line((x, y), (pivots[0], y))
            yield _line((pivots[1], y), (x + width, y))
            for level in (y - spread, y + spread):
                yield _line((fixed[0], level), (fixed[1], level))
            for blade, pivot in zip(blades, pivots, strict=True):
                yield from symbols.place(blade, pivot, y)
            yield self.text.over(x + 0.2, y, self._name(first), "start", "bold")
            yield self.text.over(x + width - 0.2, y, self._name(second), "end", "bold")
            yield self.marks.under(x + 0.2, y, "30", "start")
            yield self.marks.under(x + width - 0.2, y, "30", "end")
            yield self.marks.over(fixed[0] + 0.4, y - spread, "87", "start")
            yield self.marks.over(fixed[1] - 0.4, y - spread, facing[0], "end")
            yield self.marks.under(fixed[0] + 0.4, y + spread, "87a", "start")
            yield self.marks.under(fixed[1] - 0.4, y + spread, facing[1], "end")

        up = max(self.text.above, spread + self.marks.above)
        return _Block(width, up, max(self.marks.below(), spread + self.marks.below()), draw)


def _in_series(blocks: list[_Block]) -> _Block:
    def draw(x: float, y: float) -> Iterator[Item]:
        for number, block in enumerate(blocks):
            if number:
                yield _line((x, y), (x + _BETWEEN_MM, y))
                x += _BETWEEN_MM
            yield from block.draw(x, y)
            x += block.width

    return _Block(
        math.fsum(block.width for block in blocks) + (len(blocks) - 1) * _BETWEEN_MM,
        max(block.up for block in blocks),
        max(block.down for block in blocks),
        draw,
    )


def _side_by_side(blocks: list[_Block]) -> _Block:
    """Return blocks one under another between two rails; the first is on the line of the whole."""
    drops = [0.0]
    for above, below in pairwise(blocks):
        drops.append(drops[-1] + above.down + _APART_MM + below.up)
    inner = max(block.width for block in blocks)

    def draw(x: float, y: float) -> Iterator[Item]:
        right = x + inner + 2 * _RAIL_MM
        for block, drop in zip(blocks, drops, strict=True):
            yield _line((x, y + drop), (x + _RAIL_MM, y + drop))
            yield from block.draw(x + _RAIL_MM, y + drop)
            yield _line((x + _RAIL_MM + block.width, y + drop), (right, y + drop))
        for rail in (x, right):
            yield _line((rail, y), (rail, y + drops[-1]))
            for drop in drops[:-1]:
                yield Circle(rail, y + drop, _DOT_MM, Pen(width_mm=0, fill="black"), css_class="dot")

    return _Block(inner + 2 * _RAIL_MM, blocks[0].up, drops[-1] + blocks[-1].down, draw)


def _line(start: Point, end: Point) -> Line:
    return Line((start, end), Pen(width_mm=PLAIN_MM, cap="round"))


def logic_box(shop: Shop, element: RelayContact, rank: float) -> Piece:
    """Return the piece of a channel whose logic is only told: many relay contacts, or an electronic switch."""
    relay = element.is_relay
    size = shop.text.size_mm
    name = f"{designation(element.ref.split(':')[0])} {'relay logic' if relay else 'logic'}"
    heading = wrap(name, _BOX_TEXT * size, size, "bold")
    body = wrap(element.gate.logic.text.replace("_", " "), _BOX_TEXT * size, size)
    if len(body) > _MOST_LINES:
        body = (*body[: _MOST_LINES - 1], "… see the chart")
    lines = (*((line, True) for line in heading), *((line, False) for line in body))
    room = max(shop.text.width(line, "bold" if bold else "normal") for line, bold in lines)
    width = room + 2 * _PAD_MM
    height = (len(lines) - 1) * shop.text.line + shop.text.cap + 2 * _PAD_MM + 0.6
    link_dy = -height / 2 + 0.8
    ports = tuple(Port(net, right=False, dy=link_dy) for net in shop.links.get(element.ref, ()))
    side = shop.side[element.ref]
    part = DrawnPart(
        key=element.ref,
        column=shop.column[element.ref],
        width=width + 2 * MARGIN_MM + 1.0,
        up=height / 2,
        down=height / 2,
        ports=(Port(side.left, right=False), Port(side.right, right=True), *ports),
        rank=rank,
    )

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        middle = (x0 + x1) / 2
        left, top = middle - width / 2, y - height / 2
        first = top + _PAD_MM + shop.text.cap
        return (
            *stroke([(x0, y), (left, y)], side.left),
            *stroke([(left + width, y), (x1, y)], side.right),
            Rect(left, top, width, height, Pen(width_mm=symbols.SYMBOL_MM, fill="white")),
            *(
                shop.text.at(middle, first + k * shop.text.line, line, "middle", "bold" if bold else "normal")
                for k, (line, bold) in enumerate(lines)
            ),
            *(item for port in ports for item in link([(x0, y + port.dy), (left, y + port.dy)])),
        )

    return Piece(part, draw, element, f"{element.title}: {element.words or element.gate.logic.text}")
