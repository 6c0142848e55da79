"""What the tests of papers share: every writer, and a look into what it wrote."""

from __future__ import annotations

import csv
import io
import re
import subprocess
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

from tests.conftest import program
from tests.unit.sheet_checks import words_of
from wiregen.draw.paper_sheet import paper_sheets
from wiregen.paper.blocks import Paper
from wiregen.paper.csv_text import csv_text
from wiregen.paper.html import html_text
from wiregen.paper.json_text import said as json_said
from wiregen.paper.markdown import markdown_text
from wiregen.paper.pdf.compile import paper_pdf
from wiregen.paper.terminal import terminal_text

TEXTS = (terminal_text, csv_text, markdown_text, html_text)


class Page(HTMLParser):
    """Collects tags, attributes and text of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def read_page(text: str) -> Page:
    page = Page()
    page.feed(text)
    return page


def rows_of(text: str) -> list[list[str]]:
    """The lines of a CSV text, as a strict reader sees them."""
    return list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True))


def pdf_text(data: bytes, folder: Path, *options: str) -> str:
    """The text of a PDF."""
    path = folder / "made.pdf"
    path.write_bytes(data)
    tool = program("pdftotext")
    done = subprocess.run([tool, *options, "-enc", "UTF-8", path, "-"], capture_output=True, check=True)
    return done.stdout.decode().replace("\u200b", "")


def bare(text: str) -> str:
    """Text without spaces and in small letters: a writer may wrap, and set a heading in capitals."""
    return re.sub(r"[\s\u00a0\u200b\u00ad]+", "", text).lower()


def strings(data: object) -> Iterator[str]:
    """Every key and word in plain data."""
    if isinstance(data, dict):
        yield from (word for pair in data.items() for one in pair for word in strings(one))
    elif isinstance(data, list):
        yield from (word for one in data for word in strings(one))
    elif isinstance(data, str):
        yield data


def said(paper: Paper, folder: Path) -> dict[str, str]:
    """What a reader finds in each format, without spaces and in small letters."""
    markdown = re.sub(r"\\(?=[^\w\s]|_)", "", markdown_text(paper)).replace("**", "").replace("&amp;", "&")
    return {
        name: bare(text)
        for name, text in {
            # Wide enough that no cell is wrapped into its neighbour.
            "terminal": terminal_text(paper, 1000),
            "markdown": markdown.replace("&lt;", "<").replace("&gt;", ">"),
            "html": "".join(read_page(html_text(paper)).words),
            "csv": " ".join(cell for row in rows_of(csv_text(paper)) for cell in row),
            "json": " ".join(strings(json_said(paper))),
            "pdf": pdf_text(paper_pdf(paper).data, folder, "-raw"),
            "svg": " ".join(words_of(scene) for scene in paper_sheets(paper)),
        }.items()
    }
