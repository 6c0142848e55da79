"""A paper as plain text: readable on a terminal of 80 columns, in a pipe and in a mail."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from wiregen.paper.blocks import Block, Bullets, Column, Facts, Heading, Item, Paper, Para, Picture, Steps, Table
from wiregen.paper.safe_text import clean, display_width
from wiregen.paper.words import GLUE, bind_units, pieces, wrap

_GAP: Final = "  "
#: Columns; a longer word is cut where a table would else be wider than the terminal.
_LONGEST: Final = 18
_NARROWEST: Final = 48
#: A word in front of a fact that is longer stands alone on its line.
_LONGEST_WORD: Final = 24


def terminal_text(paper: Paper, width: int = 80) -> str:
    """Return a paper as plain text.

    Args:
        paper: What to lay out.
        width: Columns of the terminal; no line is wider. Below 48 columns the text is set for 48.

    Returns:
        Text with line ends, no control characters, no colour.
    """
    width = max(width, _NARROWEST)
    lines = [*_head(paper, width)]
    for heading, blocks in _sections(paper.blocks):
        lines += _section(heading, blocks, width)
    lines += ["", *wrap(bind_units(paper.closing), width)] if paper.closing else []
    return "".join(line.replace(GLUE, " ").rstrip() + "\n" for line in lines)


def _sections(blocks: Iterable[Block]) -> list[tuple[str, list[Block]]]:
    """Return the blocks under each heading; what stands before the first is under an empty one."""
    found: list[tuple[str, list[Block]]] = [("", [])]
    for block in blocks:
        if isinstance(block, Heading):
            found.append((clean(block.text).upper(), []))
        else:
            found[-1][1].append(block)
    return found


def _section(heading: str, blocks: Sequence[Block], width: int) -> Iterator[str]:
    indent = " " if heading else ""
    if heading:
        yield ""
    first = blocks[0] if blocks else None
    if heading and isinstance(first, Table) and _takes(first, heading, width):
        yield from _table(first, width, heading)
        blocks = blocks[1:]
    elif heading:
        yield from wrap(heading, width)
    for block in blocks:
        yield from _block(block, width, indent)


def _takes(table: Table, heading: str, width: int) -> bool:
    """Return whether a heading may stand in the line of a table's heads: its first column has none, and all fits."""
    rows = [[cell.text for cell in row.cells] for row in table.rows]
    if not rows or table.columns[0].head:
        return False
    heads = [heading, *(column.head for column in table.columns[1:])]
    shown = [k for k, column in enumerate(table.columns) if not column.field_mm]
    return sum(_longest([heads, *rows], k) + len(_GAP) for k in shown) <= width


def _head(paper: Paper, width: int) -> Iterator[str]:
    """Yield name and title with the file code at the right end, then every other fact."""
    code = f"file code {clean(paper.head.digest)}" if paper.head.digest else ""
    yield from _ended(wrap(clean(paper.title).upper(), width), code, width)
    facts = [f"{word}: {clean(value)}" for word, value in paper.told if value != paper.head.digest]
    yield from wrap(bind_units(" · ".join(facts)), width) if facts else []


def _ended(lines: list[str], end: str, width: int) -> list[str]:
    """Return lines with ``end`` flush right on the last one, or on a line of its own where there is no room."""
    if not end:
        return lines
    if display_width(end) > width:
        return [*lines, *wrap(end, width)]
    if display_width(lines[-1]) + len(_GAP) + display_width(end) > width:
        lines = [*lines, ""]
    room = width - display_width(lines[-1]) - display_width(end)
    return [*lines[:-1], lines[-1] + " " * room + end]


def _block(block: Block, width: int, indent: str) -> Iterator[str]:
    match block:
        case Para(text):
            yield from wrap(indent + bind_units(text), width, indent)
        case Bullets():
            yield from _bullets(block, width, indent)
        case Facts():
            yield from _facts(block, width, indent)
        case Steps(steps):
            for number, (title, actions) in enumerate(steps, start=1):
                yield from wrap(bind_units(f"{indent}{number} {title}"), width, f"{indent}  ")
                for action in actions:
                    yield from wrap(bind_units(f"{indent}  [ ] {action}"), width, f"{indent}      ")
        case Picture(alt=alt):
            yield from wrap(indent + bind_units(alt), width, indent)
        case Table():
            yield from _table(block, width)


def _bullets(block: Bullets, width: int, indent: str) -> Iterator[str]:
    if block.title:
        yield from ["", clean(block.title).upper()] if block.boxed else wrap(indent + bind_units(block.title), width)
        indent = " "
    digits = len(str(len(block.items)))
    for number, item in enumerate(block.entries, start=1):
        yield from _item(item, f"{number:>{digits}}" if block.numbered else "-", width, indent)


def _item(item: Item, sign: str, width: int, indent: str) -> Iterator[str]:
    # A word in front takes the place of the dash.
    front = f"{indent}{clean(item.lead) if item.lead and sign == '-' else sign}"
    lead = f"{clean(item.lead)}  " if item.lead and sign != "-" else ""
    deeper = indent + " " * (len(sign) + 1)
    lines = wrap(f"{front}{'  ' if item.lead and sign == '-' else ' '}{lead}{bind_units(item.text)}", width, deeper)
    yield from _ended(lines, clean(item.end), width)
    for text in item.more:
        yield from wrap(f"{deeper}{bind_units(text)}", width, f"{deeper}  ")


def _facts(block: Facts, width: int, indent: str) -> Iterator[str]:
    if block.title:
        yield from wrap(indent + bind_units(block.title), width, indent)
    words = [clean(word) for word, _ in block.pairs]
    room = max((display_width(word) for word in words if display_width(word) <= _LONGEST_WORD), default=0)
    deeper = indent + " " * (room + len(_GAP))
    for word, (_, text) in zip(words, block.pairs, strict=True):
        blank = " " * (room - display_width(word)) + _GAP
        yield from wrap(f"{indent}{word}{blank}{bind_units(text)}", width, deeper)


# --- tables ---


def _table(table: Table, width: int, heading: str = "") -> Iterator[str]:
    """Yield the lines of one table; a heading stands in the first of its heads."""
    columns = [column for column in table.columns if not column.field_mm]
    shown = [k for k, column in enumerate(table.columns) if not column.field_mm]
    rows = [
        (group.name, row, [bind_units(row.cells[k].text) for k in shown])
        for group in table.groups
        for row in group.rows
    ]
    if not rows:
        yield " None."
        return
    heads = [heading or clean(columns[0].head), *(clean(column.head) for column in columns[1:])]
    if heading:
        columns[0] = replace(columns[0], whole=True)
    # In front of every row stands a blank, or the sign of a marked one.
    blank = "  " if any(row.marked for _, row, _ in rows) else " "
    laid = _Laid.of(columns, heads, [cells for _, _, cells in rows], width - len(blank))
    if any(heads[k] for k in laid.kept):
        first, *more = laid.lines(heads, blank)
        yield from (f"{heading}{blank}{first[len(heading + blank) :]}" if heading else first, *more)
    before = rows[0][0]
    if before:
        yield from wrap(f"[{bind_units(before)}]", width)
    for name, row, cells in rows:
        if name != before:
            yield from ["", *wrap(f"[{bind_units(name)}]", width)]
        before = name
        yield from laid.lines(cells, blank, "!" if row.marked else " ")
        for below in laid.below(heads, cells, width - 4):
            yield from wrap(f"    {below}", width, "      ")


@dataclass(frozen=True, slots=True)
class _Laid:
    """How a table is set: which columns stand side by side, and how wide they are."""

    columns: Sequence[Column]
    kept: Sequence[int]
    widths: Sequence[int]

    @classmethod
    def of(cls, columns: Sequence[Column], heads: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> _Laid:
        table = [heads, *rows]
        kept = _kept(columns, table, width)
        return cls(columns, kept, _widths([columns[k] for k in kept], [[row[k] for k in kept] for row in table], width))

    def lines(self, cells: Sequence[str], blank: str, sign: str = " ") -> list[str]:
        """Return the lines of one row behind blanks, its sign in front of the first."""
        wrapped = [wrap(cells[k], room) for k, room in zip(self.kept, self.widths, strict=True)]
        made = []
        for number in range(max(len(lines) for lines in wrapped)):
            parts = []
            for k, lines, room in zip(self.kept, wrapped, self.widths, strict=True):
                text = lines[number] if number < len(lines) else ""
                rest = " " * (room - display_width(text))
                parts.append(rest + text if self.columns[k].right else text + rest)
            made.append((" " if number else sign) + blank[1:] + _GAP.join(parts))
        return made

    def below(self, heads: Sequence[str], cells: Sequence[str], width: int) -> list[str]:
        """Return what has no place beside the others, each with its head; short ones share a line."""
        made: list[str] = []
        for k in (k for k in range(len(cells)) if k not in self.kept and cells[k]):
            told = f"{heads[k].lower()}: {cells[k]}"
            if made and display_width(made[-1]) + len(_GAP) + display_width(told) <= width:
                made[-1] += _GAP + told
            else:
                made.append(told)
        return made


def _kept(columns: Sequence[Column], table: Sequence[Sequence[str]], width: int) -> list[int]:
    """Return the columns that stand side by side in rows of two lines or so; the spare ones leave in their order."""
    kept = list(range(len(columns)))
    wanted = [max(_least([row[k] for row in table], whole=columns[k].whole), _longest(table, k) // 2) for k in kept]
    for leaving in sorted(kept, key=lambda k: -columns[k].spare):
        if sum(wanted[k] + len(_GAP) for k in kept) - len(_GAP) <= width or not columns[leaving].spare:
            break
        kept.remove(leaving)
    return kept


def _longest(table: Sequence[Sequence[str]], k: int) -> int:
    return max(display_width(row[k]) for row in table)


def _widths(columns: Sequence[Column], table: Sequence[Sequence[str]], width: int) -> list[int]:
    """Return the widths of columns: natural where all fits; else heads wrap, then the widest column that can."""
    heads, *rows = table
    widths = [_longest(table, k) for k in range(len(columns))]
    least = [_least([row[k] for row in table], whole=column.whole) for k, column in enumerate(columns)]
    natural = [max(_longest(rows, k), _least([heads[k]], whole=False)) for k in range(len(columns))]
    room = width - len(_GAP) * (len(columns) - 1)
    for floor in (natural, least, [min(low, 4) for low in least], [1] * len(columns)):
        while sum(widths) > room:
            slack = [have - low for have, low in zip(widths, floor, strict=True)]
            if max(slack) <= 0:
                break
            widest = max(range(len(widths)), key=lambda k: (slack[k] > 0, widths[k], -k))
            widths[widest] -= 1
    return widths


def _least(texts: Sequence[str], *, whole: bool) -> int:
    """Return the narrowest width, columns, in which no word, or no cell, is cut, up to a sane limit."""
    parts = texts if whole else [piece.strip(" ") for text in texts for piece in pieces(text)]
    return min(max(map(display_width, parts)), _LONGEST)
