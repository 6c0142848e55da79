"""Pages that say what the packet rests on: findings, assumptions, what is not verified, sources."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from wiregen.bundle.packet.contents import PacketContents
from wiregen.catalogue.sources import SOURCES
from wiregen.model.finding import Assumption, Finding
from wiregen.paper.blocks import Block, Bullets, Column, Para, Row, Table, grouped, row
from wiregen.paper.cautions import CAUTION
from wiregen.paper.pdf.data import Section
from wiregen.quantity import show
from wiregen.questions.verdict.paper import margin_words

_SEVERITIES: Final = {
    "error": "ERRORS: do not build it so",
    "warning": "WARNINGS: look again",
    "notice": "NOTICES: know this",
}
_MOST_PLACES: Final = 8
#: So many contacts are listed below what stands before; more begin a page of their own.
_FEW: Final = 6


def findings(packet: PacketContents) -> Section:
    """Return what the check found."""
    columns = (
        Column("Rule"),
        Column("Where", 1),
        Column("What", 2.2),
        Column("When", 1),
        Column("Found / limit", 0.9),
        Column("Do", 1.8),
        Column("Source"),
    )
    if not packet.report.findings:
        return Section("Findings", (Para("The check found nothing to report."), Para(CAUTION)))
    groups = grouped((_SEVERITIES[one.severity], _finding(one)) for one in packet.report.findings)
    return Section("Findings", (Table(columns, groups), Para(CAUTION, bold=True)))


def _finding(one: Finding) -> Row:
    numbers = [show(value, one.unit).strip() for value in (one.value, one.limit) if value is not None]
    when = "; ".join(part for part in (one.state, one.trailer) if part)
    found = " / ".join(numbers) + (f" {margin_words(one.margin)}" if one.margin is not None else "")
    cells = (one.rule, one.where, one.message, when, found.strip(), one.advice, one.source.replace(",", ", "))
    return row(cells, bold=(0,), marked=one.severity == "error")


def assumptions(packet: PacketContents) -> Section:
    """Return every value the rig file does not state."""
    columns = (
        Column("What", 1.3),
        Column("Value"),
        Column("Used for", 1.6),
        Column("Why", 2.4),
        Column("Support"),
        Column("Source"),
    )
    rows = (*packet.report.assumptions, *packet.papers.assumptions)
    return Section(
        "Assumptions",
        (
            Para(
                "The rig file does not say these; each stands in for something you can measure or read off the part. "
                "Write the real value into the rig file and make the packet again."
            ),
            Table(columns, grouped(("", _assumption(one)) for one in rows)),
        ),
    )


def _assumption(one: Assumption) -> Row:
    more = len(one.where) - _MOST_PLACES
    where = ", ".join(part.lstrip("-") for part in one.where[:_MOST_PLACES]) + (f" and {more} more" if more > 0 else "")
    return row((_name(one.name), one.text.strip(), where, one.why, one.support, one.source), bold=(1,))


def _name(key: str) -> str:
    """Return the key of a default in words, without its unit: the value has it."""
    parts = key.split("_")
    return " ".join(parts[:-1] if parts[-1] in ("v", "a", "ohm", "m", "mm2", "c", "s", "min", "w", "h") else parts)


def unverified(packet: PacketContents) -> Section:
    """Return the contacts and faces that nobody has verified."""
    papers = packet.papers
    columns = (
        Column("Contact"),
        Column("Connector", 1),
        Column("Said to be", 1.6),
        Column("Support", 1.1),
        Column("Sources"),
        Column("Note", 2),
        Column("Used"),
        Column("Measured", field_mm=22),
    )
    blocks: list[Block] = []
    if papers.doubts:
        rows = (
            (
                "",
                row(
                    (
                        one.contact,
                        one.connector,
                        one.function,
                        one.support,
                        ", ".join(one.sources),
                        one.note,
                        "yes" if one.used else "no",
                        "",
                    ),
                    bold=(0,),
                    marked=one.used,
                ),
            )
            for one in papers.doubts
        )
        blocks += [
            Para("Measure these before you rely on them; the ones with a bar are used by this harness."),
            Table(columns, grouped(rows), tall=True),
        ]
    else:
        blocks.append(
            Para(
                "Every contact of these connectors rests on at least one source that was read. Measure them all the "
                "same: vehicles differ from their manuals."
            )
        )
    faces = tuple(
        f"{name} {short}: the positions in the drawing are not verified; wire by the mark, never by position"
        for name, short, verified in papers.faces
        if not verified
    )
    if faces:
        blocks.append(Bullets(faces, "Faces that nobody has held against the part"))
    return Section("Unverified contacts", tuple(blocks), follows=len(papers.doubts) <= _FEW)


def sources(packet: PacketContents) -> Section:
    """Return every source that anything in the packet rests on."""
    columns = (Column("Key"), Column("Title", 2.2), Column("Where found", 1.8), Column("Read"), Column("Kind"))
    keys = dict.fromkeys(_keys(packet))
    rows = [
        ("", row((key, entry.title, entry.where, entry.read, entry.kind), bold=(0,)))
        for key in keys
        if (entry := SOURCES.get(key))
    ]
    own = tuple(key for key in keys if key not in SOURCES and " " not in key)
    blocks: list[Block] = [Table(columns, grouped(rows))] if rows else []
    if own:
        blocks.append(Bullets(own, "Named, but not in the list of sources"))
    return Section("Sources", tuple(blocks) or (Para("None."),))


def _keys(packet: PacketContents) -> Iterator[str]:
    texts = [one.source for one in packet.report.findings]
    texts += [one.source for one in (*packet.report.assumptions, *packet.papers.assumptions)]
    texts += packet.papers.sources
    for text in texts:
        yield from (part.strip() for part in text.split(",") if part.strip())
