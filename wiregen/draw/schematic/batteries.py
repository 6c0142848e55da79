"""Pieces of batteries: one that stretches between its poles, several in series, one in the adapter."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from wiregen.draw.scene import Anchor, Item, Text
from wiregen.draw.schematic import symbols
from wiregen.draw.schematic.layout import DrawnPart, Port
from wiregen.draw.schematic.shop import MARGIN_MM, Lettering, Piece, Shop, Stroke, designation
from wiregen.draw.text_width import wrap
from wiregen.model.circuit import Battery
from wiregen.quantity import show

#: From the middle of the plates to a pole of a battery drawn with a fixed height, mm.
_REACH_MM: Final = symbols.BATTERY_MM[1] / 2 + 2.4
#: Widest line of a label, in font sizes.
_LABEL_TEXT: Final = 4.2


@dataclass(frozen=True, slots=True)
class Poles:
    """The poles of the vehicle's batteries in column 0.

    Attributes:
        pieces: The pieces; ``plates`` draws the batteries between them.
        spots: For each terminal, the key of its piece and its height there, mm.
    """

    pieces: tuple[Piece, ...]
    spots: Mapping[str, tuple[str, float]]


def vehicle_poles(batteries: Sequence[Battery], text: Lettering, *, stretched: bool) -> Poles:
    """Return the poles of the vehicle's batteries.

    Args:
        batteries: The batteries; those in series are stacked as one piece.
        text: Lettering of the sheet.
        stretched: Whether a single battery has a piece for each pole, so that it reaches from the feeds at the top to
            the ground at the foot.
    """
    if stretched and len(batteries) == 1:
        battery = batteries[0]
        pieces = (_pole(battery, text, plus=True), _pole(battery, text, plus=False))
        return Poles(pieces, {battery.a: (pieces[0].part.key, 0.0), battery.b: (pieces[1].part.key, 0.0)})
    made: list[Piece] = []
    spots: dict[str, tuple[str, float]] = {}
    for number, row in enumerate(_rows(batteries)):
        piece, levels = _stack(row, text, number)
        made.append(piece)
        spots |= {terminal: (piece.part.key, dy) for terminal, dy in levels.items()}
    return Poles(tuple(made), spots)


def _rows(batteries: Sequence[Battery]) -> list[list[Battery]]:
    """Sort batteries into rows in series, plus first."""
    left = list(batteries)
    rows = []
    while left:
        row = [next((b for b in left if all(b.a != other.b for other in left)), left[0])]
        left.remove(row[0])
        while below := next((b for b in left if b.a == row[-1].b), None):
            row.append(below)
            left.remove(below)
        rows.append(row)
    return rows


def _lines(battery: Battery, text: Lettering) -> tuple[str, ...]:
    """Return the label: the system it is made for, and what it has while running where that differs."""
    running = show(battery.voltage_v, "V")
    nominal = show(battery.nominal_v, "V") if battery.nominal_v else running
    volts = nominal if nominal == running else f"{nominal} ({running} running)"
    return designation(battery.ref), *wrap(volts, _LABEL_TEXT * text.size_mm, text.size_mm)


def _room(batteries: Sequence[Battery], text: Lettering) -> float:
    """Return the width of plates and label, mm."""
    label = max(_label_width(battery, text) for battery in batteries)
    return symbols.BATTERY_MM[0] + 1.0 + label + 1.5


def _label_width(battery: Battery, text: Lettering) -> float:
    """Return the width of the label, whose first line is bold, mm."""
    name, *volts = _lines(battery, text)
    return max(text.width(name, "bold"), *(text.width(line) for line in volts))


def _half_label(batteries: Sequence[Battery], text: Lettering) -> float:
    """Return half the height of the tallest label, mm."""
    return max(len(_lines(battery, text)) for battery in batteries) * text.line / 2


def plates_x(x1: float) -> float:
    """Return the middle of the plates in a column that ends at ``x1``, mm."""
    return x1 - symbols.BATTERY_MM[0] / 2 - 1.0


def _pole(battery: Battery, text: Lettering, *, plus: bool) -> Piece:
    terminal = battery.a if plus else battery.b
    reach = max(symbols.BATTERY_MM[1] / 2 + 3.0, _half_label([battery], text))
    part = DrawnPart(
        key=f"pole:{terminal}",
        column=0,
        width=_room([battery], text),
        up=1.0 if plus else reach,
        down=reach if plus else 1.0,
        ports=(Port(terminal, right=True),),
        foot=not plus,
        rank=-1.0 if plus else 1e5,
    )

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        del x0
        return stroke([(plates_x(x1), y), (x1, y)], terminal)

    return Piece(part, draw, None, "")


def plates(
    battery: Battery, text: Lettering, x1: float, heights: tuple[float, float], stroke: Stroke
) -> tuple[Item, ...]:
    """Return a battery between the heights of its two poles, in a column that ends at ``x1``."""
    x = plates_x(x1)
    middle = math.fsum(heights) / 2
    half = symbols.BATTERY_MM[1] / 2
    return (
        *stroke([(x, heights[0]), (x, middle - half)], battery.a),
        *stroke([(x, middle + half), (x, heights[1])], battery.b),
        *symbols.place(symbols.battery_plates(), x, middle),
        *_label(text, x - symbols.BATTERY_MM[0] / 2 - 0.8, middle, _lines(battery, text), "end"),
        Text(x=x + 1.0, y=middle - half - 0.9, text="+", size_mm=text.size_mm),
    )


def _stack(row: Sequence[Battery], text: Lettering, number: int) -> tuple[Piece, dict[str, float]]:
    """Return batteries in series as one piece with a port at every pole, and the heights of the poles in it."""
    pitch = 2 * max(_REACH_MM, _half_label(row, text)) + 1.0
    top = -pitch * len(row) / 2
    terminals = [row[0].a, *(battery.b for battery in row)]
    levels = {terminal: top + k * pitch for k, terminal in enumerate(terminals)}
    part = DrawnPart(
        key=f"batteries:{number}",
        column=0,
        width=_room(row, text),
        up=-top + 1.0,
        down=-top + 1.0,
        ports=tuple(Port(terminal, right=True, dy=dy) for terminal, dy in levels.items()),
    )

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        del x0
        for terminal, dy in levels.items():
            stroke([(plates_x(x1), y + dy), (x1, y + dy)], terminal)
        return ()

    return Piece(part, draw, None, ""), levels


def battery_in_adapter(shop: Shop, element: Battery, rank: float) -> Piece:
    """Return a battery that stands in the adapter, both poles to the right."""
    symbol = symbols.battery_plates()
    width, height = symbols.BATTERY_MM
    reach = max(_REACH_MM, _half_label([element], shop.text))
    side = shop.side[element.ref]
    lines = _lines(element, shop.text)
    room = _label_width(element, shop.text)
    part = DrawnPart(
        key=element.ref,
        column=shop.column[element.ref],
        width=width + room + 2 * MARGIN_MM + 1.5,
        up=reach + 1.0,
        down=reach + 1.0,
        ports=(Port(side.right, right=True, dy=-reach), Port(side.under, right=True, dy=reach)),
        rank=rank,
    )

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        middle = x1 - MARGIN_MM - width / 2
        del x0
        return (
            *stroke([(middle, y - height / 2), (middle, y - reach), (x1, y - reach)], side.right),
            *stroke([(middle, y + height / 2), (middle, y + reach), (x1, y + reach)], side.under),
            *symbols.place(symbol, middle, y),
            *_label(shop.text, middle - width / 2 - 0.8, y, lines, "end"),
        )

    return Piece(part, draw, element, element.title)


def _label(text: Lettering, x: float, y: float, lines: Sequence[str], anchor: Anchor) -> tuple[Item, ...]:
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
