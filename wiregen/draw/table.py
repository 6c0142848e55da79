"""Tables and running text on sheets: columns, wrapped cells, repeated headings, as many sheets as it takes."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

from wiregen.draw.scene import CAP_HEIGHT, DASHED, THICK, Anchor, Box, Item, Line, Pen, Rect, Text
from wiregen.draw.text_width import ELLIPSIS, text_width_mm
from wiregen.paper.blocks import Cell, Column, Row, RowGroup
from wiregen.paper.colours import swatches
from wiregen.paper.words import tied

Weight = Literal["normal", "bold"]

#: Size of text in tables and paragraphs, and the distance of its lines, mm.
TEXT_MM: Final = 2.5
PITCH_MM: Final = 3.4
_PAD_X_MM: Final = 1.1
_PAD_Y_MM: Final = 1.0
_SWATCH_MM: Final = 6.0
_SWATCH_HEIGHT_MM: Final = 2.4
_HEADING_MM: Final = 4.0
# One endless cell must not make a row taller than a sheet.
_MOST_LINES: Final = 14
_WIDEST_FITTED_MM: Final = 34.0

_HEAD_FILL: Final = Pen(fill="#d9d9d9")
_GROUP_FILL: Final = Pen(fill="#efefef")
_RULE: Final = Pen(width_mm=0.18)
_MARKED: Final = Pen(width_mm=0.4, dash=DASHED)

# A line may break at a space that does not tie a number to its unit, after a plus that joins contacts, and after the
# slash between two words.
_BREAKS: Final = re.compile(r" |(?<=\+)(?=[A-Z])|(?<=[a-z]/)(?=[a-z])")


def break_lines(
    text: str, width_mm: float, size_mm: float = TEXT_MM, weight: Weight = "normal", most: int = 0
) -> list[str]:
    """Return ``text`` as lines no wider than ``width_mm``; a word that is wider alone is cut.

    Args:
        text: One paragraph.
        width_mm: Widest line, mm.
        size_mm: Font size, mm.
        weight: Of the font.
        most: Text of more lines than this ends with an ellipsis; 0 for no limit.
    """
    lines = [""]
    used = 0.0
    for piece in _pieces(text):
        for part in _parts(piece, width_mm, size_mm, weight):
            # Widths add up letter by letter, so a line need not be measured again for every word.
            wide = text_width_mm(part, size_mm, weight)
            if lines[-1] and used + wide > width_mm:
                lines.append("")
            if not lines[-1]:
                part, used = part.lstrip(" "), 0.0
                wide = text_width_mm(part, size_mm, weight)
            lines[-1] += part
            used += wide
    return [*lines[: most - 1], ELLIPSIS] if most and len(lines) > most else lines


def _pieces(text: str) -> list[str]:
    """Return the pieces between which lines may break, a space kept in front of the piece it belongs to."""
    bare = re.sub(r"[ \t\r\n]+", " ", text).strip(" ")
    pieces: list[str] = []
    start = 0
    for match in _BREAKS.finditer(tied(bare)):
        pieces.append(bare[start : match.start()])
        start = match.start()
    return [*pieces, bare[start:]]


def _parts(piece: str, width_mm: float, size_mm: float, weight: Weight) -> list[str]:
    """Return a piece, cut where it alone is wider than a line."""
    if text_width_mm(piece.lstrip(" "), size_mm, weight) <= width_mm:
        return [piece]
    parts = [""]
    used = 0.0
    for letter in piece:
        wide = 0.0 if letter == " " and not parts[-1].strip(" ") else text_width_mm(letter, size_mm, weight)
        if used + wide > width_mm and parts[-1].strip(" "):
            parts.append("")
            used = 0.0
        parts[-1] += letter
        used += wide
    return parts


def swatch(code: str, x: float, y: float) -> list[Item]:
    """Return a wire in its colour, the second colour as a stripe along it; top left at ``x``, ``y``, mm."""
    fills = swatches(code)
    if not fills:
        return []
    outline = Pen(width_mm=0.2, fill=fills[0])
    shapes: list[Item] = [Rect(x, y, _SWATCH_MM, _SWATCH_HEIGHT_MM, outline, css_class="swatch")]
    third = _SWATCH_HEIGHT_MM / 3
    for fill in fills[1:]:
        stripe = Pen(width_mm=0.12, fill=fill)
        shapes.append(Rect(x + 0.1, y + third, _SWATCH_MM - 0.2, third, stripe, css_class="swatch"))
    return shapes


def column_widths(columns: Sequence[Column], rows: Iterable[Row], width_mm: float) -> list[float]:
    """Return the width of every column, mm, together ``width_mm``."""
    rows = tuple(rows)
    fitted = [
        column.field_mm or (0.0 if column.share else _fitted(column, [row.cells[index] for row in rows]))
        for index, column in enumerate(columns)
    ]
    shares = math.fsum(column.share for column in columns)
    rest = width_mm - math.fsum(fitted)
    if not shares or rest < 10.0 * sum(1 for column in columns if column.share):
        # Hostile input only: fitted columns are capped far below this on real charts.
        return [width_mm / len(columns)] * len(columns)
    return [have or rest * column.share / shares for have, column in zip(fitted, columns, strict=True)]


def _fitted(column: Column, cells: Sequence[Cell]) -> float:
    """Return the width at which no word of the column is cut, mm, up to a limit."""
    widest = max(text_width_mm(word, TEXT_MM, "bold") for word in column.head.split())
    for cell in cells:
        room = _room_of_swatch(cell)
        pieces = [cell.text] if column.whole else [piece.strip(" ") for piece in _pieces(cell.text)]
        widest = max(widest, *(text_width_mm(piece, TEXT_MM, _weight(cell)) + room for piece in pieces))
    return min(widest, _WIDEST_FITTED_MM) + 2 * _PAD_X_MM + 0.1


def _weight(cell: Cell) -> Weight:
    return "bold" if cell.bold else "normal"


def _room_of_swatch(cell: Cell) -> float:
    return _SWATCH_MM + 1.0 if cell.colour else 0.0


@dataclass(slots=True)
class Flow:
    """Fills sheets from top to bottom.

    Attributes:
        area: Where text may stand, mm.
        top_first: Where the first sheet starts, mm, when something else stands above.
        pages: What is on every sheet.
        y: Next free position on the last sheet, mm.
    """

    area: Box
    top_first: float | None = None
    pages: list[list[Item]] = field(default_factory=lambda: [[]])
    y: float = 0.0

    def __post_init__(self) -> None:
        self.y = self.area.y0 if self.top_first is None else self.top_first

    @property
    def left_mm(self) -> float:
        """Height still free on this sheet, mm."""
        return self.area.y1 - self.y

    def new_page(self) -> None:
        """Start another sheet, unless this one is still empty."""
        if self.y > self.area.y0:
            self.pages.append([])
            self.y = self.area.y0

    def need(self, height_mm: float) -> bool:
        """Start another sheet when less than ``height_mm`` is free; return whether it did."""
        short = height_mm > self.left_mm + 0.001
        if short:
            self.new_page()
        return short

    def heading(self, text: str, keep_mm: float = 14.0) -> None:
        """Write a heading, together with at least ``keep_mm`` of what follows."""
        self.need(_HEADING_MM + 3.0 + keep_mm)
        if self.y > self.area.y0:
            self.y += 2.5
        base = self.y + CAP_HEIGHT * _HEADING_MM
        self.pages[-1].append(Text(x=self.area.x0, y=base, text=text, size_mm=_HEADING_MM, weight="bold"))
        self.y = base + 2.4

    def paragraph(self, text: str, weight: Weight = "normal") -> None:
        """Write running text over the whole width."""
        lines = break_lines(text, self.area.width, TEXT_MM, weight)
        if PITCH_MM * len(lines) < self.area.height / 2:
            self.need(PITCH_MM * len(lines))
        for line in lines:
            self.need(PITCH_MM)
            base = self.y + CAP_HEIGHT * TEXT_MM
            self.pages[-1].append(Text(x=self.area.x0, y=base, text=line, size_mm=TEXT_MM, weight=weight))
            self.y += PITCH_MM
        self.y += 0.9

    def boxed(self, texts: Sequence[str], title: str = "") -> None:
        """Write bold texts, each with a dash in front, under a title, inside a heavy border."""
        inner = self.area.width - 8.0
        heads = [("", [title])] if title else []
        blocks = [*heads, *(("–", break_lines(text, inner, TEXT_MM, "bold", _MOST_LINES)) for text in texts)]
        for block in _chunks(blocks, self.area.height / PITCH_MM - 4):
            height = PITCH_MM * sum(len(lines) for _, lines in block) + 3.0
            self.need(height)
            self.pages[-1].append(Rect(self.area.x0, self.y, self.area.width, height, Pen(width_mm=0.7)))
            base = self.y + 1.8 + CAP_HEIGHT * TEXT_MM
            for sign, lines in block:
                left = self.area.x0 + (5.0 if sign else 2.0)
                self.pages[-1] += [Text(x=self.area.x0 + 2, y=base, text=sign, weight="bold")] if sign else []
                for line in lines:
                    self.pages[-1].append(Text(x=left, y=base, text=line, weight="bold"))
                    base += PITCH_MM
            self.y += height + 1.5

    def table(self, columns: Sequence[Column], groups: Sequence[RowGroup]) -> None:
        """Write a table; heading row and name of the group are repeated on every further sheet."""
        widths = column_widths(columns, (row for group in groups for row in group.rows), self.area.width)
        table = _TableRows(columns, widths, self.area.x0)
        head = table.head_height
        started = False
        for group in groups:
            name = group.name
            for row in group.rows:
                height = table.height(row)
                above = (0.0 if started else head) + (table.group_height if name else 0.0)
                if self.need(above + height) or not started:
                    self._put(*table.head(self.y))
                    started = True
                    name = name or (f"{group.name} (continued)" if group.name else "")
                if name:
                    self._put(*table.group(name, self.y))
                    name = ""
                self._put(*table.row(row, self.y))
        self.y += 2.0

    def _put(self, items: list[Item], bottom: float) -> None:
        self.pages[-1] += items
        self.y = bottom


def _chunks(blocks: Sequence[tuple[str, list[str]]], most_lines: float) -> list[list[tuple[str, list[str]]]]:
    chunks: list[list[tuple[str, list[str]]]] = []
    count = 0
    for block in blocks:
        if not chunks or count + len(block[1]) > most_lines:
            chunks.append([])
            count = 0
        chunks[-1].append(block)
        count += len(block[1])
    return chunks


def table_items(
    columns: Sequence[Column], widths: Sequence[float], rows: Sequence[Row], x: float, y: float
) -> tuple[list[Item], float]:
    """Return a whole table at one place, not cut, and the position of its lower edge, mm."""
    table = _TableRows(columns, widths, x)
    items, bottom = table.head(y)
    for row in rows:
        more, bottom = table.row(row, bottom)
        items += more
    return items, bottom


@dataclass(frozen=True, slots=True)
class _TableRows:
    """Draws single rows of one table; every method returns what it drew and the lower edge, mm."""

    columns: Sequence[Column]
    widths: Sequence[float]
    x: float

    @property
    def width(self) -> float:
        return math.fsum(self.widths)

    @property
    def group_height(self) -> float:
        return _height(1) + 0.4

    @property
    def head_height(self) -> float:
        return _height(max(len(lines) for lines in self._head_lines()))

    def height(self, row: Row) -> float:
        return _height(max(len(lines) for lines in self._lines(row)))

    def head(self, y: float) -> tuple[list[Item], float]:
        height = self.head_height
        items: list[Item] = [Rect(self.x, y, self.width, height, _HEAD_FILL)]
        for x, lines in zip(self._lefts(), self._head_lines(), strict=True):
            items += _texts(lines, x + _PAD_X_MM, y, "bold")
        items += self._uprights(y, height)
        items.append(Line(((self.x, y + height), (self.x + self.width, y + height)), THICK))
        return items, y + height

    def group(self, name: str, y: float) -> tuple[list[Item], float]:
        height = self.group_height
        line = break_lines(name, self.width - 2 * _PAD_X_MM, TEXT_MM, "bold")[0]
        box = Rect(self.x, y, self.width, height, _GROUP_FILL)
        return [box, *_texts([line], self.x + _PAD_X_MM, y + 0.2, "bold")], y + height

    def row(self, row: Row, y: float) -> tuple[list[Item], float]:
        height = self.height(row)
        items: list[Item] = [Rect(self.x, y, self.width, height, _RULE)]
        places = zip(self.columns, self._lefts(), self.widths, row.cells, self._lines(row), strict=True)
        for column, x, width, cell, lines in places:
            left = x + _PAD_X_MM
            items += swatch(cell.colour, left, y + _PAD_Y_MM - 0.25)
            at = x + width - _PAD_X_MM if column.right else left + _room_of_swatch(cell)
            items += _texts(lines, at, y, _weight(cell), "end" if column.right else "start")
        items += self._uprights(y, height)
        if row.marked:
            items.append(Rect(self.x + 0.25, y + 0.25, self.width - 0.5, height - 0.5, _MARKED))
        return items, y + height

    def _lefts(self) -> list[float]:
        return [self.x + math.fsum(self.widths[:index]) for index in range(len(self.widths))]

    def _uprights(self, y: float, height: float) -> list[Item]:
        return [Line(((x, y), (x, y + height)), _RULE) for x in self._lefts()[1:]]

    def _lines(self, row: Row) -> list[list[str]]:
        return [
            break_lines(cell.text, room - 2 * _PAD_X_MM - _room_of_swatch(cell), TEXT_MM, _weight(cell), _MOST_LINES)
            for cell, room in zip(row.cells, self.widths, strict=True)
        ]

    def _head_lines(self) -> list[list[str]]:
        return [
            break_lines(column.head, room - 2 * _PAD_X_MM, TEXT_MM, "bold")
            for column, room in zip(self.columns, self.widths, strict=True)
        ]


def _height(lines: int) -> float:
    return 2 * _PAD_Y_MM + CAP_HEIGHT * TEXT_MM + 0.3 + PITCH_MM * (lines - 1)


def _texts(lines: Sequence[str], x: float, y: float, weight: Weight, anchor: Anchor = "start") -> list[Item]:
    base = y + _PAD_Y_MM + CAP_HEIGHT * TEXT_MM
    return [
        Text(x=x, y=base + PITCH_MM * index, text=line, size_mm=TEXT_MM, weight=weight, anchor=anchor)
        for index, line in enumerate(lines)
        if line
    ]
