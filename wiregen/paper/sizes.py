"""Sheets of paper, with the frame and the title block that all of them share: drawings, charts, the packet."""

from __future__ import annotations

from typing import Final, Literal

Size = Literal["a4", "letter"]

#: Width and height of upright paper, mm: ISO 216 A4, ANSI Y14.1 size A.
SIZES_MM: Final[dict[str, tuple[float, float]]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
#: What common printers cannot print, and room to hold the sheet, mm.
MARGIN_MM: Final = 10.0
#: Height of one of the two rows of the title block, mm.
ROW_MM: Final = 7.6
#: Air between the frame and what is inside, mm.
GAP_MM: Final = 3.0
