"""A paper as one self-contained page for phone, desk and printer: no scripts, nothing loaded."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from wiregen.paper.blocks import (
    Block,
    Bullets,
    Cell,
    Column,
    Facts,
    Heading,
    Item,
    Paper,
    Para,
    Picture,
    Row,
    Steps,
    Table,
)
from wiregen.paper.colours import swatches
from wiregen.paper.safe_text import escape_html
from wiregen.paper.style import STYLE
from wiregen.paper.words import bind_units, breakable

#: Letters; a longer word would push a column of the table off the page.
_LONGEST_WORD: Final = 24
#: Stands for a place where a line may break until the text is escaped; no cleaned text holds it.
_BREAK: Final = "\0"


def html_text(paper: Paper) -> str:
    """Return a paper as one HTML page.

    The page runs no script and loads nothing: its content security policy allows only its own style sheet, by
    hash. Every word is escaped; bidirectional and control characters are replaced.
    """
    digest = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    title = escape_html(paper.title)
    return "\n".join(
        (
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="referrer" content="no-referrer">',
            f"<title>{title}</title>",
            f"<style>{STYLE}</style>",
            "</head>",
            "<body>",
            "<header>",
            f"<h1>{title}</h1>",
            '<dl class="facts">',
            *(f"<div><dt>{_words(word)}</dt><dd>{_words(value)}</dd></div>" for word, value in paper.told),
            "</dl>",
            *_contents(paper),
            "</header>",
            "<main>",
            *_body(paper.blocks),
            "</main>",
            *([f"<footer><p>{_words(paper.closing)}</p></footer>"] if paper.closing else []),
            "</body>",
            "</html>",
            "",
        )
    )


def html_piece(paper: Paper) -> str:
    """Return a paper as a piece of HTML that stands in somebody else's page, such as a notebook."""
    closing = [f"<p><small>{_words(paper.closing)}</small></p>"] if paper.closing else []
    return "\n".join((f"<h3>{escape_html(paper.title)}</h3>", *_body(paper.blocks, level=4), *closing))


def _contents(paper: Paper) -> Iterator[str]:
    headings = [block.text for block in paper.blocks if isinstance(block, Heading)]
    if len(headings) > 1:
        links = (f'<a href="#{name}">{_words(text)}</a>' for name, text in _named(headings))
        yield f'<nav aria-label="Parts of this paper">{" ".join(links)}</nav>'


def _named(headings: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Yield (id, heading) of every section; ids are letters and hyphens, each once."""
    for number, text in enumerate(headings, start=1):
        slug = re.sub(r"[^a-z]+", "-", text.lower()).strip("-")
        yield f"{slug[:40] or 'part'}-{number}", text


def _body(blocks: Iterable[Block], level: int = 2) -> Iterator[str]:
    """Yield the blocks, those under one heading as a section."""
    blocks = tuple(blocks)
    names = _named([block.text for block in blocks if isinstance(block, Heading)])
    within = False
    for block in blocks:
        if isinstance(block, Heading):
            name, text = next(names)
            yield from ["</section>"] if within else []
            yield f'<section aria-labelledby="{name}">'
            yield f'<h{level} id="{name}">{_words(text)}</h{level}>'
            within = True
        else:
            yield from _block(block, level + 1)
    yield from ["</section>"] if within else []


def _block(block: Block, level: int) -> Iterator[str]:
    match block:
        case Para(text, bold):
            yield f"<p><strong>{_words(text)}</strong></p>" if bold else f"<p>{_words(text)}</p>"
        case Bullets():
            yield from _bullets(block, level)
        case Facts(pairs, title):
            yield from [f"<h{level}>{_words(title)}</h{level}>"] if title else []
            yield '<dl class="pairs">'
            yield from (f"<div><dt>{_words(word)}</dt><dd>{_words(text)}</dd></div>" for word, text in pairs)
            yield "</dl>"
        case Steps(steps):
            for number, (title, actions) in enumerate(steps, start=1):
                yield f"<h{level}>{number} {_words(title)}</h{level}>"
                yield f'<ul class="ticks">{"".join(f"<li>{_words(action)}</li>" for action in actions)}</ul>'
        case Picture(svg, alt):
            yield f"<figure>{svg}<figcaption>{_words(alt)}</figcaption></figure>"
        case Table():
            yield from _table(block)


def _bullets(block: Bullets, level: int) -> Iterator[str]:
    tag = "ol" if block.numbered else "ul"
    if block.boxed:
        yield '<div class="boxed">'
    if block.title:
        yield f"<h{level - 1 if block.boxed else level}>{_words(block.title)}</h{level - 1 if block.boxed else level}>"
    yield f"<{tag}>"
    yield from (_item(item) for item in block.entries)
    yield f"</{tag}>"
    if block.boxed:
        yield "</div>"


def _item(item: Item) -> str:
    lead = f"<b>{_words(item.lead)}</b> " if item.lead else ""
    end = f' <span class="end">{_words(item.end)}</span>' if item.end else ""
    more = "".join(f"<br>{_words(text)}" for text in item.more)
    return f"<li>{lead}{_words(item.text)}{end}{more}</li>"


def _words(text: str) -> str:
    """Return ``text`` escaped; a word too long for a column may break anywhere, a mark behind a plus."""
    marked = re.sub(r"(?<=\+)(?=[A-Z])", _BREAK, breakable(bind_units(text), _LONGEST_WORD, _BREAK))
    return "<wbr>".join(escape_html(part) for part in marked.split(_BREAK))


# --- tables ---


def _table(table: Table) -> Iterator[str]:
    """Yield a table; roles are stated because the phone layout takes the table display off the elements."""
    if not any(table.rows):
        yield "<p>None.</p>"
        return
    yield '<table role="table">'
    yield from [f"<caption>{_words(table.title)}</caption>"] if table.title else []
    if any(column.head for column in table.columns):
        heads = (f'<th scope="col" role="columnheader">{_words(column.head)}</th>' for column in table.columns)
        yield f'<thead role="rowgroup"><tr role="row">{"".join(heads)}</tr></thead>'
    for group in table.groups:
        yield '<tbody role="rowgroup">'
        if group.name:
            head = f'<th scope="rowgroup" role="rowheader" colspan="{len(table.columns)}">{_words(group.name)}</th>'
            yield f'<tr role="row" class="group">{head}</tr>'
        yield from (_row(table.columns, row) for row in group.rows)
        yield "</tbody>"
    yield "</table>"


def _row(columns: Sequence[Column], row: Row) -> str:
    parts = ['<tr role="row" class="marked">' if row.marked else '<tr role="row">']
    for number, (column, cell) in enumerate(zip(columns, row.cells, strict=True)):
        look = f' class="{kinds}"' if (kinds := _kinds(column, cell)) else ""
        label = f' data-label="{escape_html(column.head)}"' if column.head else ""
        tag, role = ('th scope="row"', "rowheader") if number == 0 else ("td", "cell")
        parts.append(f'<{tag} role="{role}"{look}{label}>{_cell(cell)}</{tag[:2]}>')
    return "".join([*parts, "</tr>"])


def _kinds(column: Column, cell: Cell) -> str:
    """Return the classes that set the look of a cell, above all on a phone, where a row becomes a card."""
    kinds = {
        "mark": cell.bold,
        "half": not column.share,
        "number": column.right,
        "whole": column.whole,
        "field": column.field_mm > 0,
        "empty": not cell.text,
    }
    return " ".join(kind for kind, holds in kinds.items() if holds)


def _cell(cell: Cell) -> str:
    picture = swatch(cell.colour)
    words = _words(cell.text)
    return " ".join(part for part in (picture, f"<bdi>{words}</bdi>" if cell.bold and words else words) if part)


def swatch(code: str) -> str:
    """Return a small picture of a wire in its colour, with the second colour as a stripe along it.

    An SVG picture rather than a background, because printers leave backgrounds out.
    """
    fills = swatches(code)
    if not fills:
        return ""
    shapes = [f'<rect x=".5" y=".5" width="27" height="11" fill="{fills[0]}" stroke="#000"/>']
    shapes += [
        f'<rect x=".5" y="4" width="27" height="4" fill="{fill}" stroke="#000" stroke-width=".6"/>'
        for fill in fills[1:]
    ]
    return (
        '<svg class="swatch" viewBox="0 0 28 12" width="28" height="12" aria-hidden="true" focusable="false">'
        + "".join(shapes)
        + "</svg>"
    )
