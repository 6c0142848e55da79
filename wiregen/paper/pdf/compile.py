"""From a paper to the bytes of a PDF: typst, the shipped fonts, nothing of the machine it runs on."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import resources
from typing import Any, Final

from wiregen.errors import WiregenError
from wiregen.paper.blocks import Head, Paper, Para
from wiregen.paper.pdf.data import Section
from wiregen.paper.pdf.glyphs import FONT_FAMILY, words
from wiregen.paper.sizes import GAP_MM, MARGIN_MM, ROW_MM, SIZES_MM, Size

#: PDF/UA-1 (ISO 14289-1): tagged, with headings, table heads and words for every picture.
STANDARD: Final = "ua-1"


class PdfError(WiregenError, RuntimeError):
    """The PDF could not be made."""


@dataclass(frozen=True, slots=True)
class Pdf:
    """A PDF and how many pages it has."""

    data: bytes
    pages: int


def paper_pdf(paper: Paper, size: Size = "a4") -> Pdf:
    """Return one paper as a PDF on landscape sheets.

    Raises:
        PdfError: typst refuses, or a font is missing.
    """
    facts = "; ".join(f"{word}: {value}" for word, value in paper.facts if value)
    blocks = (
        *([Para(facts)] if facts else []),
        *paper.blocks,
        *([Para(paper.closing, bold=True)] if paper.closing else []),
    )
    return compile_pdf(paper.head, [Section(paper.name, blocks)], size, paper.title)


def compile_pdf(head: Head, sections: Sequence[Section], size: Size = "a4", title: str = "") -> Pdf:
    """Return the PDF of sections; the same input gives the same bytes on every run.

    Args:
        head: What stands in the title block.
        sections: The pages, the cover first.
        size: ``a4`` or ``letter``.
        title: Title of the file; that of the job where there is none.

    Raises:
        PdfError: typst refuses, or a font is missing.
    """
    # 80 MB that only this function needs.
    import typst

    folder = resources.files("wiregen.paper.pdf")
    with resources.as_file(folder) as root:
        compiler = typst.Compiler(
            str(root / "paper.typ"),
            root=str(root),
            font_paths=[str(root / "fonts")],
            ignore_system_fonts=True,
            sys_inputs={"data": json.dumps(_data(head, sections, size, title), ensure_ascii=False)},
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


def _data(head: Head, sections: Sequence[Section], size: Size, title: str) -> dict[str, Any]:
    high, wide = SIZES_MM[size]
    return {
        "title": words(title or head.title),
        "date": [int(part) for part in head.date.split("-")] if head.date else None,
        "font": FONT_FAMILY,
        "sheet": {
            "title": words(head.title),
            "author": words(head.author),
            "revision": words(head.revision),
            "date": head.date,
            "digest": head.digest,
            "width_mm": wide,
            "height_mm": high,
            "margin_mm": MARGIN_MM,
            "row_mm": ROW_MM,
            "gap_mm": GAP_MM,
        },
        "sections": [section.data() for section in sections],
    }
