"""The layout of the harness: which conductors run together, from where to where, how long; not to scale.

One row a branch, the adapter in the middle, the vehicle on the left, the trailers on the right. A solid line is to be
made, a dashed one is there already; a stroke across a line with a number tells how many conductors run in it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from wiregen.draw.scene import DASHED, Box, Circle, Group, Item, Line, Pen, Rect, Scene, Text, safe_id
from wiregen.draw.sheet import Paper, Sheet
from wiregen.draw.table import break_lines
from wiregen.draw.text_width import text_width_mm
from wiregen.model.chart import SheetInfo
from wiregen.model.harness import Branch, HarnessPlan

_NAME: Final = "Harness layout"
_BOLD_MM: Final = 2.8
_TEXT_MM: Final = 2.4
_PITCH_MM: Final = 1.4
_NOTES: Final = (
    "NOT TO SCALE. Solid line: to be made. Dashed line: the trailer's own wiring, for orientation. A stroke with a "
    "number: conductors that run together. Dot: branch point.",
    "Lengths lie between the ends; the cut list adds its allowance. Lead each branch so that it cannot chafe, hang or "
    "be caught by the drawbar when the trailer turns.",
)
#: Shares of the width: place, branch, adapter, lead, connector, cable, lamps.
_COLUMNS: Final = (32.0, 48.0, 34.0, 48.0, 28.0, 46.0, 31.0)
_ROW_GAP_MM: Final = 5.0


@dataclass(frozen=True, slots=True)
class _Row:
    """One row: a branch, on the trailer's side with the cable that goes on from it."""

    branch: Branch
    cable: Branch | None = None


class _Columns:
    """Where the columns begin, mm."""

    def __init__(self, area: Box) -> None:
        scale = area.width / math.fsum(_COLUMNS)
        self.widths = tuple(width * scale for width in _COLUMNS)
        starts = [area.x0]
        for width in self.widths:
            starts.append(starts[-1] + width)
        self.starts = tuple(starts)

    def span(self, number: int) -> tuple[float, float]:
        """Return where a column begins and ends, mm."""
        return self.starts[number], self.starts[number + 1]


def harness_scenes(plan: HarnessPlan, info: SheetInfo, paper: Paper = "a4") -> list[Scene]:
    """Return the layout on landscape sheets.

    Args:
        plan: What to draw.
        info: What stands in the title block.
        paper: ``a4`` or ``letter``.
    """
    sheet = Sheet(paper, landscape=True)
    area = sheet.area
    notes = [line for note in _NOTES for line in break_lines(note, area.width, _TEXT_MM)]
    room = Box(area.x0, area.y0, area.x1, area.y1 - len(notes) * _TEXT_MM * _PITCH_MM - 2.0)
    columns = _Columns(area)
    left = _pages([_Row(branch) for branch in plan.branches if branch.side == "vehicle"], columns, room)
    right = _pages(_trailer_rows(plan), columns, room)
    pages = max(len(left), len(right), 1)
    scenes = []
    for number in range(pages):
        sides = (left[number] if number < len(left) else [], right[number] if number < len(right) else [])
        items = (*_page(plan, columns, room, *sides), *_lettered(notes, area))
        scenes.append(
            sheet.scene(
                info,
                _NAME,
                items,
                page=number + 1,
                pages=pages,
                description=_described(plan),
                ident=f"harness-{number + 1}",
            )
        )
    return scenes


def _trailer_rows(plan: HarnessPlan) -> list[_Row]:
    rows: list[_Row] = []
    for branch in plan.branches:
        if branch.side != "trailer":
            continue
        if branch.made or not rows:
            rows.append(_Row(branch))
        else:
            rows[-1] = _Row(rows[-1].branch, branch)
    return rows


def _described(plan: HarnessPlan) -> str:
    told = [
        f"{branch.name} {branch.start} to {branch.end}, {len(branch.refs)} conductors, {_length(branch)}"
        for branch in plan.branches
    ]
    return "Layout of the harness, not to scale: " + "; ".join(told)


def _told(branch: Branch) -> str:
    return f"{branch.name}, {branch.start} to {branch.end}: {' '.join(branch.refs)}"


def _length(branch: Branch) -> str:
    if branch.shortest_m == branch.longest_m:
        return f"{branch.longest_m:.2f} m / {branch.longest_ft:.2f} ft"
    return (
        f"{branch.shortest_m:.2f} to {branch.longest_m:.2f} m / {branch.shortest_ft:.2f} to {branch.longest_ft:.2f} ft"
    )


def _sizes(branch: Branch) -> str:
    return ", ".join(f"{count} × {size}" for count, size in branch.sizes)


# --- rows and pages ---


def _above(branch: Branch, width: float) -> list[str]:
    return break_lines(f"{branch.name}: {_length(branch)}", width - 6.0, _BOLD_MM, "bold")


def _below(branch: Branch, width: float) -> list[str]:
    words = width - 6.0
    return [*break_lines(_sizes(branch), words, _TEXT_MM), *break_lines(" ".join(branch.refs), words, _TEXT_MM)]


def _box_lines(head: str, words: str, width: float) -> list[tuple[str, bool]]:
    lines = [(line, True) for line in break_lines(head, width - 3.0, _BOLD_MM, "bold")]
    return lines + [(line, False) for line in break_lines(words, width - 3.0, _TEXT_MM) if line]


def _heads(row: _Row, columns: _Columns) -> list[tuple[int, list[tuple[str, bool]]]]:
    """Return the boxes of a row: column, and lines with whether they are bold."""
    branch = row.branch
    if branch.side == "vehicle":
        return [(0, _box_lines(branch.start, branch.note, columns.widths[0]))]
    boxes = [(4, _box_lines(branch.end, branch.note, columns.widths[4]))]
    if row.cable:
        boxes.append((6, _box_lines("Splice", row.cable.note.partition(": ")[2], columns.widths[6])))
    return boxes


def _lines(row: _Row) -> list[tuple[int, Branch]]:
    if row.branch.side == "vehicle":
        return [(1, row.branch)]
    return [(3, row.branch), *([(5, row.cable)] if row.cable else [])]


def _extent(row: _Row, columns: _Columns) -> tuple[float, float]:
    """Return how far a row reaches above and below its line, mm."""
    step, bold = _TEXT_MM * _PITCH_MM, _BOLD_MM * _PITCH_MM
    boxes = max(len(lines) for _, lines in _heads(row, columns)) * bold / 2 + 2.0
    up = max(len(_above(branch, columns.widths[column])) * bold + 2.0 for column, branch in _lines(row))
    down = max(len(_below(branch, columns.widths[column])) * step + 3.0 for column, branch in _lines(row))
    return max(boxes, up), max(boxes, down)


def _pages(rows: Sequence[_Row], columns: _Columns, room: Box) -> list[list[_Row]]:
    pages: list[list[_Row]] = []
    left = 0.0
    for row in rows:
        need = math.fsum(_extent(row, columns)) + _ROW_GAP_MM
        if not pages or need > left:
            pages.append([])
            left = room.height
        pages[-1].append(row)
        left -= need
    return pages


def _page(
    plan: HarnessPlan, columns: _Columns, room: Box, left: Sequence[_Row], right: Sequence[_Row]
) -> Iterator[Item]:
    heights = [math.fsum(math.fsum(_extent(row, columns)) + _ROW_GAP_MM for row in side) for side in (left, right)]
    tall = min(room.height, max(30.0, *heights))
    x0, x1 = columns.span(2)
    top = room.y0 + (room.height - tall) / 2
    yield _centre(plan, Box(x0, top, x1, top + tall))
    for side, height in zip((left, right), heights, strict=True):
        # What room is left over is shared between the rows, so that both sides fill the height of the box.
        spare = (tall - height) / max(1, len(side))
        y = top
        for row in side:
            up, down = _extent(row, columns)
            y += up + (_ROW_GAP_MM + spare) / 2
            yield _row(row, columns, y)
            y += down + (_ROW_GAP_MM + spare) / 2


def _centre(plan: HarnessPlan, box: Box) -> Group:
    head, words = (f"A1 {plan.centre}", plan.place) if plan.centre else ("X1", "plug in the vehicle socket")
    items: list[Item] = [Rect(box.x0, box.y0, box.width, box.height, Pen(width_mm=0.7))]
    lines = _box_lines(head, words, box.width)
    y = (box.y0 + box.y1) / 2 - (len(lines) - 1) * _BOLD_MM * _PITCH_MM / 2
    items += _boxed(lines, (box.x0 + box.x1) / 2, y)
    return Group(id=safe_id("harness", "centre"), css_class="adapter", title=head, children=tuple(items))


def _boxed(lines: Sequence[tuple[str, bool]], x: float, y: float) -> Iterator[Text]:
    for line, bold in lines:
        yield Text(
            x=x,
            y=y,
            text=line,
            size_mm=_BOLD_MM if bold else _TEXT_MM,
            anchor="middle",
            vertical="middle",
            weight="bold" if bold else "normal",
        )
        y += _BOLD_MM * _PITCH_MM


def _row(row: _Row, columns: _Columns, y: float) -> Group:
    items: list[Item] = []
    for column, lines in _heads(row, columns):
        x0, x1 = columns.span(column)
        tall = len(lines) * _BOLD_MM * _PITCH_MM + 2.4
        dash = DASHED if column == 6 else ()
        items.append(Rect(x0, y - tall / 2, x1 - x0, tall, Pen(width_mm=0.35, dash=dash), radius=1.0))
        items += _boxed(lines, (x0 + x1) / 2, y - (len(lines) - 1) * _BOLD_MM * _PITCH_MM / 2)
    for column, branch in _lines(row):
        items += _run(branch, *columns.span(column), y, dot_left=column == 3, dot_right=column in (1, 5))
    return Group(
        id=safe_id("branch", row.branch.name), css_class="branch", title=_told(row.branch), children=tuple(items)
    )


def _run(branch: Branch, x0: float, x1: float, y: float, *, dot_left: bool, dot_right: bool) -> Iterator[Item]:
    """Yield the line of a branch with its stroke, dots and words."""
    pen = Pen(width_mm=0.9 if branch.made else 0.5, dash=() if branch.made else DASHED)
    yield Line(((x0, y), (x1, y)), pen)
    for wanted, x in ((dot_left, x0), (dot_right, x1)):
        if wanted:
            yield Circle(x, y, 1.1, Pen(fill="black"))
    count = str(len(branch.refs))
    at = x1 - 5.0 - text_width_mm(count, _BOLD_MM, "bold")
    yield Line(((at - 1.2, y + 2.2), (at + 1.2, y - 2.2)), Pen(width_mm=0.35))
    yield Text(x=at + 1.8, y=y - 1.2, text=count, size_mm=_BOLD_MM, weight="bold")
    above = _above(branch, x1 - x0)
    for number, line in enumerate(above):
        base = y - 2.6 - (len(above) - 1 - number) * _BOLD_MM * _PITCH_MM
        yield Text(x=x0 + 2.5, y=base, text=line, size_mm=_BOLD_MM, weight="bold")
    for number, line in enumerate(_below(branch, x1 - x0)):
        yield Text(x=x0 + 2.5, y=y + 3.6 + number * _TEXT_MM * _PITCH_MM, text=line, size_mm=_TEXT_MM)


def _lettered(notes: Sequence[str], area: Box) -> Iterator[Text]:
    for number, note in enumerate(notes):
        yield Text(
            x=area.x0,
            y=area.y1 - (len(notes) - 1 - number) * _TEXT_MM * _PITCH_MM,
            text=note,
            size_mm=_TEXT_MM,
            weight="bold" if number == 0 else "normal",
        )
