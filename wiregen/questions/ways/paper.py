"""A comparison of ways to convert as a paper: what is recommended, the ways side by side, why, then each in full."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from wiregen.check.data import finding_data
from wiregen.model.comparison import Comparison, WayResult
from wiregen.paper.blocks import (
    CALCULATED,
    Block,
    Bullets,
    Cell,
    Column,
    Facts,
    Head,
    Heading,
    Paper,
    Para,
    Row,
    Table,
    grouped,
)
from wiregen.paper.json_text import plain
from wiregen.questions.ways.words import WHAT_COLUMNS_MEAN, facts, mark, numbers

_HEADS: Final = ("Err.", "Warn.", "Light", "Heat W", "24 V A", "Tap A", "Ah/h", "Parts")


def ways_paper(comparison: Comparison, *, full: bool = True) -> Paper:
    """Return the comparison; each way in full, and what the columns mean, only where ``full``."""
    found = comparison.recommendation
    blocks: list[Block] = [Para(found.words, bold=True), _table(comparison)]
    blocks.append(
        Para("> recommended   * as in the rig file" + ("" if full else "   Each way in full: compare --full"))
    )
    blocks += [Heading("Why"), Bullets((*found.reasons, *(f"Close call: {words}." for words in found.close_calls)))]
    blocks += [Heading("Before you buy"), Bullets(found.cautions)]
    if comparison.questions:
        blocks += [Heading("Not said in the rig file"), Bullets(comparison.questions)]
    blocks += _each(comparison) if full else []
    return Paper(
        kind="compare",
        name="Ways to convert",
        head=Head(title=comparison.title, digest=comparison.digest),
        facts=(("Trailers", ", ".join(comparison.trailers)),),
        blocks=tuple(blocks),
        closing=CALCULATED,
        data=comparison_data(comparison),
    )


def _table(comparison: Comparison) -> Table:
    columns = (Column("Way", 1.0), *(Column(head, right=True) for head in _HEADS))
    rows = grouped(("", _row(way, comparison.recommendation.ways)) for way in comparison.ways)
    return Table(columns, rows, "The ways side by side")


def _row(way: WayResult, recommended: tuple[str, ...]) -> Row:
    name = Cell(f"{mark(way, recommended)} {way.short}".strip(), bold=way.id in recommended)
    if way.fit == "no":
        return Row((name, *(Cell("–") for _ in _HEADS)))
    return Row((name, *(Cell(text) for text in numbers(way))))


def _each(comparison: Comparison) -> Iterator[Block]:
    for way in comparison.ways:
        yield Heading(way.title)
        yield Facts(tuple(facts(way)))
    yield Heading("What the columns mean")
    yield Para(WHAT_COLUMNS_MEAN)


def comparison_data(comparison: Comparison) -> dict[str, Any]:
    """Return the comparison as plain data; every finding of every way with it."""
    data: dict[str, Any] = plain(comparison)
    for told, way in zip(data["ways"], comparison.ways, strict=True):
        told |= {"errors": way.count("error"), "warnings": way.count("warning")}
        told["findings"] = [finding_data(finding) for finding in way.findings]
        told["heat_places"] = dict(told["heat_places"])
    return data
