"""Sheets that show a connector from both sides, and say which side is which.

Reading a face from the wrong side is the classic mistake; wiring by position in a picture that nobody has checked is
the other. Both views are named in words, and a layout that is not verified says so in the largest letters of the sheet.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final

from wiregen.catalogue.connector import Connector, PinoutContact, ProvedField, support_legend
from wiregen.draw.face.layout import FaceLayout, FaceSpot, lay_out, polar, words_of
from wiregen.draw.scene import (
    CAP_HEIGHT,
    DASHED,
    DOTTED,
    THICK,
    Box,
    Circle,
    Group,
    Item,
    Line,
    Pen,
    Rect,
    Scene,
    Text,
    moved,
    safe_id,
)
from wiregen.draw.sheet import Paper, Sheet
from wiregen.draw.table import (
    PITCH_MM,
    TEXT_MM,
    Flow,
    Weight,
    break_lines,
    column_widths,
    table_items,
)
from wiregen.draw.text_width import text_width_mm
from wiregen.harness.record import Half, Wire
from wiregen.model.chart import SheetInfo
from wiregen.paper.blocks import Cell, Column, Row, RowGroup

MATING_TITLE: Final = (
    "Mating face of the vehicle socket",
    "(as you look at the socket from behind the vehicle)",
)
WIRE_TITLE: Final = (
    "Wire side of the vehicle socket",
    "(as you look into it when wiring) – mirror image",
)
PLUG_LINE: Final = (
    "Trailer plug: its wire side shows the same picture as the socket's mating face; its mating face is the mirror."
)
BANNER: Final = "Layout not verified: find the mark moulded beside each contact. Wire by mark, never by position."
NO_POSITIONS: Final = (
    "Positions not known: this is a list of marks, not a face. Find the mark moulded beside each contact. "
    "Wire by mark, never by position."
)
NO_PICTURE: Final = (
    "The positions given cannot be drawn without overlap: this is a list of marks, not a face. "
    "Wire by mark, never by position."
)

_FIELDS: Final[dict[ProvedField, str]] = {
    "colour": "Colour",
    "colour_other": "Other colour",
    "size": "Size",
    "takes": "Takes",
    "rating_a": "Rating",
    "returns_by": "Returns by",
}
_TITLE_MM: Final = 4.2
_BANNER_MM: Final = 4.2
_VIEW_MM: Final = 3.4
_PANEL_GAP_MM: Final = 5.0
_CELL_MM: Final = 50.0
_FUNCTION_MM: Final = 32.0
_PAPER_FILL: Final = Pen(width_mm=0.4, fill="white")
_BLACK: Final = Pen(width_mm=0.5, fill="black")
_LEADER: Final = Pen(width_mm=0.18)


def face_scenes(connector: Connector, info: SheetInfo, *, half: Half | None = None, paper: Paper = "a4") -> list[Scene]:
    """Return the landscape sheets of one connector: both sides, then every contact in a table.

    Args:
        connector: The connector.
        info: What stands in the title block.
        half: The half that a rig builds of it: its designation stands in front of the title and in the ids, and each
            contact tells which wire is in it.
        paper: ``a4`` or ``letter``.

    Returns:
        One sheet where everything fits, else more.
    """
    sheet = Sheet(paper, landscape=True)
    designation = half.id if half else ""
    top = _Top(sheet.area, {c.entry.mark: wire_words(c.wires) for c in half.cavities} if half else {})
    name = f"{designation} {connector.title}" if designation else connector.title
    top.lines(name, _TITLE_MM)
    if connector.standard:
        top.lines(f"Follows: {connector.standard}", TEXT_MM)
    half_mm = (sheet.area.width - _PANEL_GAP_MM) / 4
    layout = lay_out(connector, half_mm - 1.0)
    ident = safe_id("face", designation or connector.short)
    if layout is None:
        placed = any(contact.face is not None for contact in connector.contact)
        top.banner(NO_PICTURE if placed else NO_POSITIONS)
        top.grid(connector.contact, ident)
    else:
        if not connector.face.verified:
            top.banner(BANNER)
        top.views(layout, half_mm, ident)
        lost = tuple(contact for contact in connector.contact if contact.face is None)
        if lost:
            top.lines("Position not known; find these marks on the part:", TEXT_MM)
            top.grid(lost, ident)
    flow = Flow(sheet.area, top_first=top.y, pages=[top.items])
    if layout is not None:
        flow.paragraph(PLUG_LINE, "bold")
    if connector.face.verified:
        flow.paragraph(f"Layout verified against: {', '.join(connector.face.sources) or 'the part itself'}.")
    if connector.face.note:
        flow.paragraph(f"Layout: {connector.face.note}")
    _tables(flow, connector, top.wires)
    pages = len(flow.pages)
    return [
        sheet.scene(
            info,
            f"Connector {designation or connector.short}",
            tuple(items),
            page=number,
            pages=pages,
            description=f"{name}: mating face and wire side of the vehicle socket, and a table of its contacts.",
            ident=f"{ident}-{number}",
        )
        for number, items in enumerate(flow.pages, start=1)
    ]


class _Top:
    """Stacks headings, banner and pictures from the top of the first sheet downwards.

    Args:
        area: Where to draw, mm.
        wires: What is in each contact, in words; empty for a connector outside a rig.
    """

    def __init__(self, area: Box, wires: Mapping[str, str]) -> None:
        self.area = area
        self.wires = wires
        self.items: list[Item] = []
        self.y = area.y0

    def lines(self, text: str, size_mm: float) -> None:
        """Write a title or a remark over the whole width."""
        weight: Weight = "bold" if size_mm > TEXT_MM else "normal"
        for line in break_lines(text, self.area.width, size_mm, weight):
            base = self.y + CAP_HEIGHT * size_mm
            self.items.append(Text(x=self.area.x0, y=base, text=line, size_mm=size_mm, weight=weight))
            self.y = base + 0.45 * size_mm
        self.y += 0.6

    def banner(self, text: str) -> None:
        """Write a warning in white on black, a sign on both sides."""
        lines = _banner_lines(text, self.area.width - 26.0)
        pitch = 1.3 * _BANNER_MM
        height = pitch * len(lines) + 2.2
        self.items.append(Rect(self.area.x0, self.y, self.area.width, height, _BLACK, css_class="banner"))
        for x in (self.area.x0 + 6.5, self.area.x1 - 6.5):
            self.items += _warning_sign(x, self.y + height / 2)
        middle = (self.area.x0 + self.area.x1) / 2
        base = self.y + 1.1 + pitch / 2
        for line in lines:
            self.items.append(
                Text(
                    x=middle,
                    y=base,
                    text=line,
                    size_mm=_BANNER_MM,
                    anchor="middle",
                    vertical="middle",
                    weight="bold",
                    colour="white",
                    css_class="banner",
                )
            )
            base += pitch
        self.y += height + 2.0

    def views(self, layout: FaceLayout, half: float, ident: str) -> None:
        """Draw both sides, each in a box of its own with its name on top."""
        left = self.area.x0
        strip = 2.8 * _VIEW_MM
        box = layout.box
        height = strip + box.height + 5.0 + 5.0
        middle_y = self.y + strip + 3.0 - box.y0
        sides = ("← vehicle left", "vehicle right →"), ("← vehicle right", "vehicle left →")
        titles = (MATING_TITLE, WIRE_TITLE)
        for index, (face, lines) in enumerate(zip((layout, layout.mirrored()), titles, strict=True)):
            x = left + index * (2 * half + _PANEL_GAP_MM)
            pen = Pen(width_mm=0.35, dash=DASHED if index else ())
            fill = Pen(width_mm=0.35, fill="#d9d9d9" if index else "white")
            panel: list[Item] = [Rect(x, self.y, 2 * half, height, pen), Rect(x, self.y, 2 * half, strip, fill)]
            for number, line in enumerate(lines):
                size = TEXT_MM if number else _VIEW_MM
                base = self.y + (0.75 + 1.2 * number) * _VIEW_MM
                panel.append(Text(x=x + 2.0, y=base, text=line, size_mm=size, vertical="middle", weight="bold"))
            low = self.y + height - 1.6
            panel.append(Text(x=x + 2.0, y=low, text=sides[index][0]))
            panel.append(Text(x=x + 2 * half - 2.0, y=low, text=sides[index][1], anchor="end"))
            view = f"{ident}-{'wire' if index else 'mating'}"
            panel += [moved(item, x + half, middle_y) for item in _face(face, view, self.wires)]
            self.items.append(Group(id=view, css_class="face", title=" ".join(lines), children=tuple(panel)))
        self.y += height + 2.0

    def grid(self, contacts: Sequence[PinoutContact], ident: str) -> None:
        """List marks in a grid: mark in a circle, words beside it."""
        columns = max(1, int(self.area.width // _CELL_MM))
        pitch = self.area.width / columns
        self.items.append(Line(((self.area.x0, self.y), (self.area.x1, self.y)), Pen(dash=DOTTED)))
        self.y += 1.5
        for start in range(0, len(contacts), columns):
            row = contacts[start : start + columns]
            tallest = 0.0
            for column, contact in enumerate(row):
                half = max(3.4, text_width_mm(contact.mark, 3.0, "bold") / 2 + 0.9)
                spot = FaceSpot(0, 0, half, 3.4, contact.mark, 3.0, contact)
                x = self.area.x0 + column * pitch
                lines = break_lines(words_of(contact).split(": ", 1)[1], pitch - 2 * half - 5.0)
                children = [moved(item, x + half + 0.5, self.y + 3.6) for item in _spot_items(spot)]
                base = self.y + 3.6
                for number, line in enumerate(lines):
                    at = base + PITCH_MM * number
                    children.append(Text(x=x + 2 * half + 2.0, y=at, text=line, vertical="middle"))
                tallest = max(tallest, 7.2, 5.4 + PITCH_MM * (len(lines) - 1))
                name = f"{ident}-list-{start + column}"
                title = _told(contact, self.wires)
                self.items.append(Group(id=name, css_class="contact", title=title, children=tuple(children)))
            self.y += tallest + 1.2
        self.items.append(Line(((self.area.x0, self.y), (self.area.x1, self.y)), Pen(dash=DOTTED)))
        self.y += 2.0


def _banner_lines(text: str, width_mm: float) -> list[str]:
    """Return as many whole sentences a line as fit: a warning is not broken where it can be helped."""
    lines: list[str] = []
    for sentence in re.split(r"(?<=\.) ", text):
        longer = f"{lines[-1]} {sentence}" if lines else sentence
        if lines and text_width_mm(longer, _BANNER_MM, "bold") <= width_mm:
            lines[-1] = longer
        else:
            lines.append(sentence)
    return [part for line in lines for part in break_lines(line, width_mm, _BANNER_MM, "bold")]


def _warning_sign(x: float, y: float) -> list[Item]:
    """Return a triangle with an exclamation mark, white with black, its middle at ``x``, ``y``, mm."""
    corners = ((x, y - 2.9), (x + 3.2, y + 2.5), (x - 3.2, y + 2.5))
    return [
        Line(corners, Pen(width_mm=0.3, colour="white", fill="white"), closed=True),
        Line(((x, y - 1.2), (x, y + 0.7)), Pen(width_mm=0.7)),
        Line(((x, y + 1.3), (x, y + 2.0)), Pen(width_mm=0.7)),
    ]


def wire_words(wires: Iterable[Wire]) -> str:
    """Return wires with their colours, ``W16 BN``; ``none`` for none."""
    return ", ".join(f"{wire.id} {wire.colour}".rstrip() for wire in wires) or "none"


def _told(contact: PinoutContact, wires: Mapping[str, str]) -> str:
    """Return what a contact is, and which wire is in it."""
    return words_of(contact) + (f"; wire: {wires[contact.mark]}" if wires else "")


def _face(layout: FaceLayout, ident: str, wires: Mapping[str, str]) -> list[Item]:
    """Return outline, key, lines, contacts and words of one view around its own middle."""
    items: list[Item] = list(_outline(layout))
    for index, label in enumerate(layout.labels):
        children: list[Item] = [Line(label.leader, _LEADER)]
        for number, line in enumerate(label.lines):
            children.append(
                Text(
                    x=label.x,
                    y=label.y + PITCH_MM * number,
                    text=line,
                    size_mm=TEXT_MM,
                    anchor=label.anchor,
                    vertical="middle",
                )
            )
        title = " ".join(label.lines)
        if index < len(layout.spots):
            children += _spot_items(layout.spots[index])
            title = _told(layout.spots[index].contact, wires)
        items.append(Group(id=f"{ident}-{index}", css_class="contact", title=title, children=tuple(children)))
    return items


def _outline(layout: FaceLayout) -> list[Item]:
    (half_x, half_y), (x, y) = layout.shell, layout.middle
    if not layout.is_round:
        return [Rect(x - half_x, y - half_y, 2 * half_x, 2 * half_y, THICK, radius=1.5)]
    items: list[Item] = [Circle(x, y, half_x, THICK)]
    if layout.key_deg is not None:
        items += _key(half_x, layout.key_deg)
    return items


def _key(shell: float, key_deg: float) -> list[Item]:
    """Return the key as a black wedge on the outside of the shell, pointing inwards."""
    corners = (polar(shell - 1.4, key_deg), polar(shell + 1.4, key_deg + 4.5), polar(shell + 1.4, key_deg - 4.5))
    return [Line(corners, Pen(width_mm=0.2, fill="black"), closed=True)]


def _spot_items(spot: FaceSpot) -> list[Item]:
    outline: Item
    if spot.half > spot.radius:
        box = spot.box
        outline = Rect(box.x0, box.y0, box.width, box.height, _PAPER_FILL, radius=spot.radius)
    else:
        outline = Circle(spot.x, spot.y, spot.radius, _PAPER_FILL)
    mark = Text(
        x=spot.x,
        y=spot.y,
        text=spot.mark,
        size_mm=spot.size_mm,
        anchor="middle",
        vertical="middle",
        weight="bold",
    )
    return [outline, mark]


def _tables(flow: Flow, connector: Connector, wires: Mapping[str, str]) -> None:
    """Write the table, in two halves side by side where that saves a sheet, then the remarks."""
    contacts = connector.contact
    columns, rows = _contact_table(connector, wires)
    if len(rows) < 6 or not _side_by_side(flow, columns, rows):
        flow.table(columns, [RowGroup("", tuple(rows))])
    usual = "Wire: what this adapter has there. Colour and size: the usual ones. " if wires else ""
    flow.paragraph(usual + support_legend())
    codes = [f"Colour: {connector.colour_code}."] if connector.colour_code else []
    codes += [f"Other colour: {connector.colour_code_other}."] if connector.colour_code_other and not wires else []
    codes += [f"{_FIELDS[field]}: {note}" for field, note in connector.field_notes.items()]
    if codes:
        flow.paragraph(" ".join(codes))
    remarks = [f"{contact.mark}: {contact.notes}" for contact in contacts if contact.notes]
    if remarks:
        flow.paragraph("Remarks. " + " – ".join(remarks))


def _side_by_side(flow: Flow, columns: Sequence[Column], rows: Sequence[Row]) -> bool:
    """Write the table in two halves; return False, and write nothing, where they do not fit."""
    half = (flow.area.width - _PANEL_GAP_MM) / 2
    widths = column_widths(columns, rows, half)
    if widths[1] < _FUNCTION_MM:
        return False
    cut = (len(rows) + 1) // 2
    left, left_end = table_items(columns, widths, rows[:cut], flow.area.x0, flow.y)
    start = flow.area.x0 + half + _PANEL_GAP_MM
    right, right_end = table_items(columns, widths, rows[cut:], start, flow.y)
    lowest = max(left_end, right_end)
    if lowest > flow.area.y1:
        return False
    flow.pages[-1] += [*left, *right]
    flow.y = lowest + 2.0
    return True


def _contact_table(connector: Connector, wires: Mapping[str, str]) -> tuple[list[Column], list[Row]]:
    """Return the columns that have something to say for this connector, and a row for each contact."""
    contacts = connector.contact
    table: list[tuple[Column, Callable[[PinoutContact], Cell]]] = [
        (Column("Mark", whole=True), lambda contact: Cell(contact.mark, bold=True)),
        (Column("Function", 1.0), lambda contact: Cell(contact.function)),
    ]
    if wires:
        table.append((Column("Wire", whole=True), lambda contact: Cell(wires.get(contact.mark, ""), bold=True)))
    if any(contact.terminal for contact in contacts):
        table.append((Column("DIN 72552"), lambda contact: Cell(contact.terminal or "–")))
    if any(contact.tag for contact in contacts):
        table.append((Column("Tag", whole=True), lambda contact: Cell(contact.tag or "–")))
    used = {field for contact in contacts for field in connector.fields(contact)}
    table += [
        _field_column(connector, field, heading)
        for field, heading in _FIELDS.items()
        # In a rig the wire is there, with the colour it has: a second code would only make the table wider.
        if (field in used or field in ("colour", "size")) and not (wires and field == "colour_other")
    ]
    table.append((Column("Proof"), lambda contact: Cell(contact.sign, bold=True)))
    rows = [Row(tuple(cell(contact) for _, cell in table), marked=contact.is_doubtful) for contact in contacts]
    return [column for column, _ in table], rows


def _field_column(
    connector: Connector, field: ProvedField, heading: str
) -> tuple[Column, Callable[[PinoutContact], Cell]]:
    """Return the column of a field: its support mark stands in the heading where it is one for all, else in cells."""
    signs = {connector.own_sign(contact, field) for contact in connector.contact if field in connector.fields(contact)}
    shared = signs.pop() if len(signs) == 1 else ""

    def cell(contact: PinoutContact) -> Cell:
        text, sign = connector.fields(contact).get(field), connector.own_sign(contact, field)
        swatch = (contact.colour_other if field == "colour_other" else contact.colour) if "colour" in field else ""
        return Cell(f"{text} ({sign})" if sign and not shared else text, colour=swatch or "") if text else Cell("–")

    return Column(f"{heading}\N{NO-BREAK SPACE}({shared})" if shared else heading, whole=True), cell
