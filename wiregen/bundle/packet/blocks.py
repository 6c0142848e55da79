"""What a page is made of: headings, paragraphs, lists, tables, steps, pictures. Plain records that become JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, TypeAlias

from wiregen.bundle.packet.glyphs import printable, words
from wiregen.catalogue.connector import COLOURS, split_colour
from wiregen.chart.html_text import SWATCHES
from wiregen.questions.faults.guide_lists import AFTER, HOW, FaultList, GuideLists, Place

#: A row with a longer cell may be parted between pages; all others stay whole.
_LONG_CELL: Final = 600
#: A check of a guide whose suspects take more letters may be parted between columns.
_LONG_CHECK: Final = 1500


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell.

    Attributes:
        text: What stands in it.
        bold: In bold letters.
        colour: IEC 60757 code to show in front of the text, or an empty text.
        right: Numbers, flush right.
    """

    text: str = ""
    bold: bool = False
    colour: str = ""
    right: bool = False

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        swatch = [SWATCHES[part] for part in split_colour(self.colour) if part in COLOURS] if self.colour else []
        return {"text": words(self.text), "bold": self.bold, "swatch": swatch, "right": self.right}


@dataclass(frozen=True, slots=True)
class Row:
    """One row; ``marked`` ones bear a bar at their left: the reader must look at them."""

    cells: tuple[Cell, ...]
    marked: bool = False

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "cells": [cell.data() for cell in self.cells],
            "marked": self.marked,
            "long": any(len(cell.text) > _LONG_CELL for cell in self.cells),
        }


@dataclass(frozen=True, slots=True)
class Column:
    """One column; ``width`` is ``auto``, a share such as ``2fr``, or a length such as ``20mm``."""

    head: str
    width: str = "auto"


@dataclass(frozen=True, slots=True)
class RowGroup:
    """Rows under a line of their own; without a name there is no such line."""

    name: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table; its head stands again on every page. ``tall`` rows have room for handwriting."""

    columns: tuple[Column, ...]
    groups: tuple[RowGroup, ...]
    tall: bool = False

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "kind": "table",
            "tall": self.tall,
            "columns": [{"head": words(column.head), "width": column.width} for column in self.columns],
            "groups": [
                {"name": words(group.name), "rows": [row.data() for row in group.rows]} for group in self.groups
            ],
        }


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading inside a section."""

    text: str

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        return {"kind": "heading", "text": words(self.text)}


@dataclass(frozen=True, slots=True)
class Para:
    """A paragraph."""

    text: str
    bold: bool = False

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        return {"kind": "para", "text": words(self.text), "bold": self.bold}


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list; ``boxed`` ones stand in a heavy frame under ``title``."""

    items: tuple[str, ...]
    title: str = ""
    boxed: bool = False

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        items = [words(item) for item in self.items]
        return {"kind": "bullets", "title": words(self.title), "items": items, "boxed": self.boxed}


@dataclass(frozen=True, slots=True)
class Steps:
    """Numbered steps, each action with a box to tick."""

    steps: tuple[tuple[str, tuple[str, ...]], ...]

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "kind": "steps",
            "steps": [{"title": words(title), "actions": [words(one) for one in rest]} for title, rest in self.steps],
        }


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing that fills the sheet inside the frame; ``alt`` says it in words."""

    svg: str
    alt: str

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        return {"kind": "picture", "svg": printable(self.svg), "alt": words(self.alt)}


@dataclass(frozen=True, slots=True)
class Cover:
    """The first page.

    Attributes:
        title: Title of the job.
        facts: Pairs of a word and a value.
        verdict: The verdict in a few words, in large letters.
        verdict_more: What it rests on.
        cautions: What can hurt.
        signatures: Who signs for what.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    verdict: str
    verdict_more: str
    cautions: tuple[str, ...]
    signatures: tuple[str, ...]

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "kind": "cover",
            "title": words(self.title),
            "facts": [[words(name), words(value)] for name, value in self.facts],
            "verdict": words(self.verdict),
            "verdict_more": words(self.verdict_more),
            "cautions": [words(caution) for caution in self.cautions],
            "signatures": [words(name) for name in self.signatures],
        }


@dataclass(frozen=True, slots=True)
class Guide:
    """A fault guide in columns: cautions, what may be seen, the lists; ``key`` tells its lists from another's."""

    lists: GuideLists
    key: str

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "kind": "guide",
            "key": self.key,
            "how": words(HOW),
            "after": words(AFTER),
            "cautions": [words(caution) for caution in self.lists.cautions],
            "seen": [
                {"setting": words(setting), "rows": [[words(picture), number] for picture, number in rows]}
                for setting, rows in self.lists.seen
            ],
            "lists": [_list_data(one) for one in self.lists.lists],
        }


def _list_data(one: FaultList) -> dict[str, Any]:
    return {
        "number": one.number,
        "symptom": words(one.symptom),
        "danger": words(one.danger),
        "checks": [
            {
                "words": words(check.words),
                "in_order": words(check.in_order),
                "shown": [
                    {
                        "words": words(shown.words),
                        "to": _place_data(shown.to),
                        "here": shown.to is not None and shown.to == Place(one.number, at + 1),
                        "suspects": words("; ".join(shown.suspects)),
                    }
                    for shown in check.shown
                ],
                "long": sum(len(suspect) for shown in check.shown for suspect in shown.suspects) > _LONG_CHECK,
            }
            for at, check in enumerate(one.checks, start=1)
        ],
        # What is left stands with the last check; only a list without any has to say it itself.
        "then": _place_data(one.then) if not one.checks else None,
        "left": words("; ".join(one.left)) if not one.checks and not one.then else "",
    }


def _place_data(place: Place | None) -> list[int] | None:
    return [place.number, place.check] if place else None


Block: TypeAlias = Table | Heading | Para | Bullets | Steps | Picture | Cover | Guide


@dataclass(frozen=True, slots=True)
class Section:
    """A section: it begins a new page, as a rule, and is listed on the cover.

    Attributes:
        title: Its heading.
        blocks: What is in it; pictures stand alone, one a page.
        short: Its name in the title block, where the heading is long.
        follows: Whether it goes on where the one before ends, without a new page.
    """

    title: str
    blocks: tuple[Block, ...] = field(default=())
    short: str = ""
    follows: bool = False

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "title": words(self.title),
            "short": words(self.short or self.title),
            "follows": self.follows,
            "blocks": [block.data() for block in self.blocks],
        }


def row(texts: Iterable[str], bold: Sequence[int] = (), right: Sequence[int] = (), *, marked: bool = False) -> Row:
    """Return a row of plain cells; ``bold`` and ``right`` number the cells that are."""
    cells = (Cell(text, bold=k in bold, right=k in right) for k, text in enumerate(texts))
    return Row(tuple(cells), marked)


def grouped(pairs: Iterable[tuple[str, Row]]) -> tuple[RowGroup, ...]:
    """Return rows by the name in front of each, groups in the order met."""
    groups: dict[str, list[Row]] = {}
    for name, made in pairs:
        groups.setdefault(name, []).append(made)
    return tuple(RowGroup(name, tuple(rows)) for name, rows in groups.items())
