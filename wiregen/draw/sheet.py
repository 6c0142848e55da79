"""Drawing sheets: paper, frame and title block for A4 and Letter, upright and across."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from wiregen.draw.scene import THICK, THIN, Box, Group, Item, Line, Pen, Rect, Scene, Text
from wiregen.draw.text_width import fit
from wiregen.model.chart import SheetInfo
from wiregen.paper.sizes import GAP_MM, MARGIN_MM, ROW_MM, SIZES_MM, Size

Paper = Size
_PAPER_PEN: Final = Pen(width_mm=0.0, fill="white")
_CAPTION_MM: Final = 2.0
_VALUE_MM: Final = 2.8


@dataclass(frozen=True, slots=True)
class Sheet:
    """One kind of sheet.

    Attributes:
        paper: ``a4`` or ``letter``.
        landscape: Long side across.
    """

    paper: str = "a4"
    landscape: bool = False

    @property
    def width_mm(self) -> float:
        """Width of the paper as it lies, mm."""
        return SIZES_MM[self.paper][1 if self.landscape else 0]

    @property
    def height_mm(self) -> float:
        """Height of the paper as it lies, mm."""
        return SIZES_MM[self.paper][0 if self.landscape else 1]

    @property
    def frame(self) -> Box:
        """The border line."""
        return Box(MARGIN_MM, MARGIN_MM, self.width_mm - MARGIN_MM, self.height_mm - MARGIN_MM)

    @property
    def area(self) -> Box:
        """Where a drawing may go: inside the border, above the title block, with a little air."""
        frame = self.frame
        return Box(frame.x0 + GAP_MM, frame.y0 + GAP_MM, frame.x1 - GAP_MM, frame.y1 - 2 * ROW_MM - GAP_MM)

    def scene(
        self,
        info: SheetInfo,
        name: str,
        children: tuple[Item, ...],
        *,
        page: int = 1,
        pages: int = 1,
        description: str = "",
        ident: str = "",
    ) -> Scene:
        """Return a whole sheet: frame, title block and ``children``.

        Args:
            info: What stands in the title block.
            name: Name of the sheet, such as ``Schematic``.
            children: The drawing, inside ``area``.
            page: Number of this sheet, from 1.
            pages: Number of sheets in the set.
            description: What the sheet shows, in words.
            ident: Short name for ids; by default made of ``name`` and ``page``.
        """
        return Scene(
            name=ident or f"{name.lower()}-{page}",
            width_mm=self.width_mm,
            height_mm=self.height_mm,
            title=f"{info.title}: {name}" + (f", sheet {page} of {pages}" if pages > 1 else ""),
            description=description,
            children=(
                Rect(0, 0, self.width_mm, self.height_mm, _PAPER_PEN, css_class="paper"),
                self.title_block(info, name, page=page, pages=pages),
                *children,
            ),
        )

    def title_block(self, info: SheetInfo, name: str, *, page: int = 1, pages: int = 1) -> Group:
        """Return border and title block as one group."""
        frame = self.frame
        top = frame.y1 - 2 * ROW_MM
        rows = (
            ((0.62, "Title", info.title), (0.38, "Sheet", name)),
            (
                (0.30, "Drawn by", info.author),
                (0.16, "Revision", info.revision),
                (0.16, "Date", info.date),
                (0.22, "File code", info.digest),
                (0.16, "Page", f"{page} of {pages}"),
            ),
        )
        children: list[Item] = [
            Rect(frame.x0, frame.y0, frame.width, frame.height, THICK),
            Line(((frame.x0, top), (frame.x1, top)), THICK),
            Line(((frame.x0, top + ROW_MM), (frame.x1, top + ROW_MM)), THIN),
        ]
        for index, row in enumerate(rows):
            y = top + index * ROW_MM
            x = frame.x0
            for share, caption, value in row:
                width = share * frame.width
                if x > frame.x0:
                    children.append(Line(((x, y), (x, y + ROW_MM)), THIN))
                children += _cell(x, y, width, caption, value, bold=index == 0)
                x += width
        return Group(id="", css_class="sheet", title="", children=tuple(children))


def _cell(x: float, y: float, width_mm: float, caption: str, value: str, *, bold: bool) -> list[Item]:
    """Return caption and value of one field; a value left out by the user shows as a dash, not as a hole."""
    weight: Literal["normal", "bold"] = "bold" if bold else "normal"
    shown = fit(value, width_mm - 3.0, _VALUE_MM, weight) or "–"
    return [
        Text(x=x + 1.5, y=y + 2.4, text=caption, size_mm=_CAPTION_MM, colour="#333"),
        Text(x=x + 1.5, y=y + 6.2, text=shown, size_mm=_VALUE_MM, weight=weight),
    ]
