"""From sections to the bytes of a PDF: typst, the shipped fonts, nothing of the machine it runs on."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import resources
from typing import Any, Final

from wiregen.bundle.packet.blocks import Section
from wiregen.bundle.packet.glyphs import FONT_FAMILY, words
from wiregen.errors import WiregenError
from wiregen.model.chart import SheetInfo

#: PDF/UA-1 (ISO 14289-1): tagged, with headings, table heads and words for every picture.
STANDARD: Final = "ua-1"


class PdfError(WiregenError, RuntimeError):
    """The PDF could not be made."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetGeometry:
    """Paper, frame and title block, as on the drawing sheets, mm.

    Attributes:
        width_mm: Width of the paper as it lies.
        height_mm: Height of the paper as it lies.
        margin_mm: From the edge of the paper to the frame.
        row_mm: Height of one of the two rows of the title block.
        gap_mm: Air between frame and what is inside.
    """

    width_mm: float
    height_mm: float
    margin_mm: float
    row_mm: float
    gap_mm: float


@dataclass(frozen=True, slots=True)
class Pdf:
    """A PDF and how many pages it has."""

    data: bytes
    pages: int


def compile_pdf(info: SheetInfo, sections: Sequence[Section], geometry: SheetGeometry) -> Pdf:
    """Return the PDF of sections; the same input gives the same bytes on every run.

    Args:
        info: What stands in the title block.
        sections: The pages, the cover first.
        geometry: Paper and frame.

    Raises:
        PdfError: typst refuses, or a font is missing.
    """
    # 80 MB that only this function needs.
    import typst

    folder = resources.files("wiregen.bundle.packet")
    with resources.as_file(folder) as root:
        compiler = typst.Compiler(
            str(root / "packet.typ"),
            root=str(root),
            font_paths=[str(root / "fonts")],
            ignore_system_fonts=True,
            sys_inputs={"data": json.dumps(_data(info, sections, geometry), ensure_ascii=False)},
        )
        try:
            made, warnings = compiler.compile_with_warnings(format="pdf", pdf_standards=[STANDARD])
            pages = json.loads(compiler.query("<pages>", field="value", one=True))
        except typst.TypstError as error:
            raise PdfError(f"the PDF cannot be made: {error.message}") from error
    # An unknown font is only a warning there; here it would be a sheet in letters that nobody has looked at.
    lost = [warning.message for warning in warnings if "font" in warning.message]
    if lost:
        raise PdfError(f"the PDF cannot be made: {'; '.join(lost)}")
    if not isinstance(made, bytes):
        raise PdfError("the PDF cannot be made: nothing came of it")
    return Pdf(made, int(pages))


def _data(info: SheetInfo, sections: Sequence[Section], geometry: SheetGeometry) -> dict[str, Any]:
    return {
        "title": words(f"{info.title}: wiring packet"),
        "date": [int(part) for part in info.date.split("-")] if info.date else None,
        "font": FONT_FAMILY,
        "sheet": {
            "title": words(info.title),
            "author": words(info.author),
            "revision": words(info.revision),
            "date": info.date,
            "digest": info.digest,
            "width_mm": geometry.width_mm,
            "height_mm": geometry.height_mm,
            "margin_mm": geometry.margin_mm,
            "row_mm": geometry.row_mm,
            "gap_mm": geometry.gap_mm,
        },
        "sections": [section.data() for section in sections],
    }
