"""What a paper is made of: headings, paragraphs, lists, tables, fields to fill in. Every format is written from these.

A paper knows what it says and in which order. How that looks is the writer's: one file a format (``terminal``,
``markdown``, ``html``, ``csv_text``, ``json_text``, ``pdf``; sheets are drawn by ``draw.paper_sheet``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, TypeAlias

#: Who decides. Said once a paper.
LAST_WORD: Final = "Local codes and qualified people have the last word."
#: The last line of a paper whose numbers come out of a computation.
CALCULATED: Final = f"Calculated, not measured. {LAST_WORD}"


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell.

    Attributes:
        text: What stands in it.
        bold: In bold letters: marks, and what the eye looks for first.
        colour: IEC 60757 code of a wire to show in front of the text, or an empty text.
    """

    text: str = ""
    bold: bool = False
    colour: str = ""


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Attributes:
        head: Words above it.
        share: Share of the room that fitted columns leave; 0 fits the column to its longest word.
        whole: Fit it to its longest cell instead, so that no cell is broken.
        right: Numbers, flush right.
        spare: Where a line is too short for all columns, the one with the highest number goes below the row first; 0
            never goes.
        field_mm: A form field: empty cells so wide, mm, to write in by hand; 0 for none. A screen leaves it out.
    """

    head: str = ""
    share: float = 0.0
    whole: bool = False
    right: bool = False
    spare: int = 0
    field_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Row:
    """One row; a ``marked`` one must be looked at: its sign is a bar, a dashed border or ``!``, never a colour."""

    cells: tuple[Cell, ...]
    marked: bool = False


@dataclass(frozen=True, slots=True)
class RowGroup:
    """Rows under a line of their own; without a name there is no such line."""

    name: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table; ``title`` says in words what it holds, ``tall`` rows have room for handwriting."""

    columns: tuple[Column, ...]
    groups: tuple[RowGroup, ...]
    title: str = ""
    tall: bool = False

    @property
    def rows(self) -> Iterator[Row]:
        """Every row, group by group."""
        return (row for group in self.groups for row in group.rows)


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading."""

    text: str


@dataclass(frozen=True, slots=True)
class Para:
    """A paragraph."""

    text: str
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Item:
    """One entry of a list.

    Attributes:
        text: What it says.
        lead: A word in front that the eye looks for: ``ERROR``, a name.
        end: What stands at the right end of its last line: ``line 45``.
        more: Lines below it, of less weight.
    """

    text: str
    lead: str = ""
    end: str = ""
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list; ``boxed`` ones stand in a heavy frame under ``title``: what can hurt."""

    items: tuple[str | Item, ...]
    title: str = ""
    boxed: bool = False
    numbered: bool = False

    @property
    def entries(self) -> Iterator[Item]:
        """Every entry, plain words too."""
        return (item if isinstance(item, Item) else Item(item) for item in self.items)


@dataclass(frozen=True, slots=True)
class Facts:
    """Pairs of a word and what it means or holds."""

    pairs: tuple[tuple[str, str], ...]
    title: str = ""


@dataclass(frozen=True, slots=True)
class Steps:
    """Numbered steps, each action with a box to tick."""

    steps: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing that fills a sheet; ``alt`` says it in words."""

    svg: str
    alt: str


Block: TypeAlias = Heading | Para | Bullets | Facts | Table | Steps | Picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What stands in the title block of every sheet.

    Attributes:
        title: Title of the job.
        digest: Mark of the file's content; an empty text where the paper is about no file.
        revision: As the user wrote it, or an empty text.
        date: ISO date, or an empty text; never today's date, so that files repeat byte for byte.
        author: Who made it, or an empty text.
    """

    title: str
    digest: str = ""
    revision: str = ""
    date: str = ""
    author: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """One answer in words and tables.

    Attributes:
        kind: Short name, letters and hyphens: ``chart``.
        name: What it is, in words: ``Wiring chart``.
        head: What it is about.
        facts: Pairs of a word and a value that say more about the job.
        blocks: What it says, the most important first.
        closing: The last line.
        data: The record behind it as plain data, for programs; None where the blocks are all there is.
    """

    kind: str
    name: str
    head: Head
    blocks: tuple[Block, ...]
    facts: tuple[tuple[str, str], ...] = ()
    closing: str = ""
    data: Mapping[str, Any] | None = field(default=None, compare=False)

    @property
    def title(self) -> str:
        """Name and title in one line."""
        return f"{self.name}: {self.head.title}"

    @property
    def told(self) -> tuple[tuple[str, str], ...]:
        """Every fact that is not empty: those of the title block, then the paper's own."""
        head = self.head
        pairs = (
            ("Revision", head.revision),
            ("Date", head.date),
            ("Drawn by", head.author),
            ("File code", head.digest),
        )
        return tuple((word, value) for word, value in (*pairs, *self.facts) if value)


def row(texts: Iterable[str], bold: Sequence[int] = (), *, marked: bool = False) -> Row:
    """Return a row of plain cells; ``bold`` numbers the cells that are."""
    return Row(tuple(Cell(text, bold=k in bold) for k, text in enumerate(texts)), marked)


def grouped(pairs: Iterable[tuple[str, Row]]) -> tuple[RowGroup, ...]:
    """Return rows by the name in front of each, groups in the order met."""
    groups: dict[str, list[Row]] = {}
    for name, made in pairs:
        groups.setdefault(name, []).append(made)
    return tuple(RowGroup(name, tuple(rows)) for name, rows in groups.items())


def cells_of(paper: Paper) -> Iterator[str]:
    """Yield everything a paper says, piece by piece: what no format may lose."""
    yield paper.head.title
    for pair in paper.told:
        yield from pair
    for block in paper.blocks:
        yield from _pieces(block)
    yield paper.closing


def _pieces(block: Block) -> Iterator[str]:
    match block:
        case Heading(text) | Para(text):
            yield text
        case Bullets(title=title):
            yield title
            for item in block.entries:
                yield from (item.lead, item.text, item.end, *item.more)
        case Facts(pairs, title):
            yield title
            yield from (word for pair in pairs for word in pair)
        case Table(columns, groups) if any(block.rows):
            yield from (column.head for column in columns)
            for group in groups:
                yield group.name
                yield from (cell.text for made in group.rows for cell in made.cells)
        case Steps(steps):
            for title, actions in steps:
                yield from (title, *actions)
        case Picture(alt=alt):
            yield alt
