"""A comparison of ways to convert for a terminal: a table, the recommendation, then each way in full."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from wiregen.model.comparison import Comparison, WayResult
from wiregen.paper.safe_text import clean
from wiregen.paper.words import wrap
from wiregen.questions.ways.words import CAUTION, WHAT_COLUMNS_MEAN, facts, mark, numbers

#: Heading over two lines, width; the first column takes what is left.
_COLUMNS: Final = (
    ("", "Err", 3),
    ("", "Warn", 4),
    ("Light", "least–most", 10),
    ("Heat", "W", 4),
    ("From 24 V", "A", 14),
    ("Imbal.", "Ah/h", 6),
    ("", "Parts", 5),
)
_WORD: Final = 14


def comparison_text(comparison: Comparison, width: int = 80, *, brief: bool = False) -> str:
    """Return the comparison as plain text, no line wider than ``width`` columns.

    Args:
        comparison: What to print.
        width: Columns of the terminal.
        brief: Table and recommendation only.
    """
    trailers = ", ".join(clean(name) for name in comparison.trailers)
    lines = wrap(f"Ways to convert: {clean(comparison.title)}  (digest {comparison.digest})", width)
    lines += [*wrap(f"Trailers: {trailers}", width), "", *_table(comparison, width), ""]
    lines += [*wrap("> recommended   * as in the rig file", width), "", *_recommendation(comparison, width)]
    if not brief:
        for way in comparison.ways:
            lines += _way(way, width)
        lines += ["WHAT THE COLUMNS MEAN", *wrap(f"  {WHAT_COLUMNS_MEAN}", width, "  "), ""]
    lines += wrap(CAUTION, width)
    return "".join(line.rstrip() + "\n" for line in lines)


def _table(comparison: Comparison, width: int) -> Iterator[str]:
    rows = {way.id: numbers(way) for way in comparison.ways if way.fit != "no"}
    sizes = [max([size, *(len(row[at]) for row in rows.values())]) for at, (_, _, size) in enumerate(_COLUMNS)]
    room = width - sum(size + 1 for size in sizes)
    for line in (0, 1):
        yield " " * room + "".join(f" {column[line]:>{size}}" for column, size in zip(_COLUMNS, sizes, strict=True))
    yield "-" * width
    for way in comparison.ways:
        name = f"{mark(way, comparison.recommendation.ways)} {way.short}"
        if way.id not in rows:
            yield f"{name:<{room}} {'not on this rig, see below':>{width - room - 1}}"
            continue
        yield f"{name:<{room}}" + "".join(f" {cell:>{size}}" for cell, size in zip(rows[way.id], sizes, strict=True))


def _recommendation(comparison: Comparison, width: int) -> Iterator[str]:
    found = comparison.recommendation
    yield "RECOMMENDATION"
    yield from wrap(f"  {found.words}", width, "  ")
    for reason in found.reasons:
        yield from wrap(f"  - {reason}", width, "    ")
    for words in found.close_calls:
        yield from wrap(f"  - Close call: {words}.", width, "    ")
    yield ""
    yield "MIND"
    for words in found.cautions:
        yield from wrap(f"  - {words}", width, "    ")
    if comparison.questions:
        yield ""
        yield "NOT SAID IN THE RIG FILE"
        for words in comparison.questions:
            yield from wrap(f"  - {words}", width, "    ")
    yield ""


def _way(way: WayResult, width: int) -> Iterator[str]:
    yield from wrap(way.title.upper(), width)
    for word, sentence in facts(way):
        yield from wrap(f"  {word:<{_WORD - 2}}{clean(sentence)}", width, " " * _WORD)
    yield ""
