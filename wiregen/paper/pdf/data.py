"""Blocks as plain data for ``paper.typ``: clean words that the shipped fonts can print, colours, widths."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Protocol, TypeAlias

from wiregen.paper.blocks import Block, Bullets, Column, Facts, Heading, Item, Para, Picture, Row, Steps, Table
from wiregen.paper.colours import swatches
from wiregen.paper.pdf.glyphs import printable, words

#: A row with a longer cell may be parted between pages; all others stay whole.
_LONG_CELL: Final = 600


class Laid(Protocol):
    """What only print has: a block that says itself how it is laid out, by a ``kind`` of ``paper.typ``."""

    def data(self) -> dict[str, Any]:
        """Return plain data."""


Printed: TypeAlias = Block | Laid


@dataclass(frozen=True, slots=True)
class Section:
    """A section of a print: it begins a new page, as a rule, and is listed on the cover.

    Attributes:
        title: Its heading.
        blocks: What is in it; pictures stand alone, one a page.
        short: Its name in the title block, where the heading is long.
        follows: Whether it goes on where the one before ends, without a new page.
    """

    title: str
    blocks: tuple[Printed, ...] = ()
    short: str = ""
    follows: bool = False

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "title": words(self.title),
            "short": words(self.short or self.title),
            "follows": self.follows,
            "blocks": [block_data(block) for block in self.blocks],
        }


def block_data(block: Printed) -> dict[str, Any]:
    """Return one block as plain data."""
    match block:
        case Heading(text):
            return {"kind": "heading", "text": words(text)}
        case Para(text, bold):
            return {"kind": "para", "text": words(text), "bold": bold}
        case Bullets(title=title, boxed=boxed, numbered=numbered):
            items = [_item(item) for item in block.entries]
            return {"kind": "bullets", "title": words(title), "items": items, "boxed": boxed, "numbered": numbered}
        case Facts(pairs, title):
            return {"kind": "facts", "title": words(title), "pairs": [[words(one), words(two)] for one, two in pairs]}
        case Steps(steps):
            made = [{"title": words(title), "actions": [words(one) for one in rest]} for title, rest in steps]
            return {"kind": "steps", "steps": made}
        case Picture(svg, alt):
            return {"kind": "picture", "svg": printable(svg), "alt": words(alt)}
        case Table():
            return _table(block)
    return block.data()


def _item(item: Item) -> dict[str, Any]:
    end = f" ({item.end})" if item.end else ""
    return {"lead": words(item.lead), "text": words(f"{item.text}{end}"), "more": [words(one) for one in item.more]}


def _table(table: Table) -> dict[str, Any]:
    if not any(table.rows):
        return {"kind": "para", "text": "None.", "bold": False}
    columns = [{"head": words(column.head), "width": _width(column), "right": column.right} for column in table.columns]
    groups = [{"name": words(group.name), "rows": [_row(row) for row in group.rows]} for group in table.groups]
    return {"kind": "table", "tall": table.tall, "columns": columns, "groups": groups}


def _width(column: Column) -> str:
    if column.field_mm:
        return f"{column.field_mm:g}mm"
    return f"{column.share:g}fr" if column.share else "auto"


def _row(row: Row) -> dict[str, Any]:
    return {
        "cells": [{"text": words(cell.text), "bold": cell.bold, "swatch": swatches(cell.colour)} for cell in row.cells],
        "marked": row.marked,
        "long": any(len(cell.text) > _LONG_CELL for cell in row.cells),
    }
