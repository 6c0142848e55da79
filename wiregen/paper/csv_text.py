"""Tables as CSV: RFC 4180, safe against formulas, right in a spreadsheet by double click."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Final, TypeAlias

from wiregen.paper.blocks import Block, Bullets, Facts, Heading, Paper, Para, Picture, Steps, Table
from wiregen.paper.safe_text import guard_csv
from wiregen.paper.words import GLUE

Value: TypeAlias = str | float | bool | None

#: Columns of what is no cell of a table: the heading it stands under, the name of its group, its words, and the sign of
#: a row that must be looked at.
_PART, _GROUP, _WORDS, _SIGN = "part", "group", "text", "!"
_NUMBER: Final = re.compile(r"[-+]?\d+(?:\.\d+)?")
#: Far below any meter, so that a text does not hang on the last bit.
_DIGITS: Final = 6


def csv_text(paper: Paper) -> str:
    r"""Return everything a paper says as one rectangular table.

    The first columns say under which heading a line stands, the name of its group, and words that are in no table; then
    come the columns of all tables, those with the same head as one. Of the first ones, those that stay empty are left
    out.

    Returns:
        Text as ``csv_lines`` gives it.
    """
    records: list[dict[str, str]] = [{_WORDS: paper.title}]
    records += [{_GROUP: word, _WORDS: value} for word, value in paper.told]
    first = (_PART, _GROUP, _WORDS, _SIGN)
    heads = dict.fromkeys(first)
    part = ""
    for block in paper.blocks:
        if isinstance(block, Heading):
            part = block.text
        elif isinstance(block, Table):
            names = _names(block, part)
            heads |= dict.fromkeys(names)
            records += [{_PART: part, **record} for record in _rows(block, names)]
        else:
            records += [{_PART: part, **record} for record in _block(block)]
    records += [{_WORDS: paper.closing}] if paper.closing else []
    kept = [head for head in heads if head not in first or any(record.get(head) for record in records)]
    return csv_lines(kept, ([record.get(head, "") for head in kept] for record in records))


def _names(table: Table, part: str) -> list[str]:
    """Return a name for every column: its head, with a number where a table has the same one twice."""
    names: list[str] = []
    for column in table.columns:
        head = column.head or part
        names.append(f"{head} {names.count(head) + 1}" if head in names else head)
    return names


def _rows(table: Table, names: Sequence[str]) -> Iterator[dict[str, str]]:
    for group in table.groups:
        for row in group.rows:
            cells = {name: cell.text for name, cell in zip(names, row.cells, strict=True)}
            yield {_GROUP: group.name, _SIGN: "!" if row.marked else "", **cells}


def _block(block: Block) -> Iterator[dict[str, str]]:
    match block:
        case Para(text) | Picture(alt=text):
            yield {_WORDS: text}
        case Facts(pairs, title):
            under = {_PART: title} if title else {}
            yield from ({**under, _GROUP: word, _WORDS: text} for word, text in pairs)
        case Steps(steps):
            yield from ({_GROUP: title, _WORDS: action} for title, actions in steps for action in actions)
        case Bullets(title=title):
            under = {_PART: title} if title else {}
            for item in block.entries:
                end = f" ({item.end})" if item.end else ""
                yield {**under, _GROUP: item.lead, _WORDS: f"{item.text}{end}"}
                yield from ({**under, _GROUP: item.lead, _WORDS: text} for text in item.more)


def csv_lines(heads: Sequence[str], rows: Iterable[Sequence[Value]]) -> str:
    r"""Return rows as CSV.

    Args:
        heads: The first line.
        rows: Values: words, numbers, yes or no, nothing.

    Returns:
        Comma-separated text, ``\r\n`` line ends. It starts with a byte-order mark where it holds more than ASCII,
        without which a spreadsheet takes it for the machine's old code page. A cell of somebody's words that a
        spreadsheet would take for a formula starts with an apostrophe. To be written as UTF-8.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([guard_csv(head) for head in heads])
    writer.writerows([_cell(value) for value in row] for row in rows)
    text = out.getvalue()
    return text if text.isascii() else f"\ufeff{text}"


def _cell(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | int):
        text = f"{value:.{_DIGITS}f}".rstrip("0").rstrip(".")
        return "0" if text in ("-0", "") else text
    bare = value.replace(GLUE, " ")
    return bare if _NUMBER.fullmatch(bare) else guard_csv(bare)
