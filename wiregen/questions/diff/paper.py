"""What changed between two revisions, as a paper: what the check says now, then every change in words."""

from __future__ import annotations

from typing import Final

from wiregen.paper.blocks import Block, Column, Head, Paper, Para, Row, Table, grouped, row
from wiregen.paper.json_text import plain
from wiregen.paper.words import marks
from wiregen.questions.diff.record import Detail, Difference, Differences, Revision

_HEADINGS: Final = {
    "connector": "Connectors",
    "contact": "Contacts",
    "conductor": "Wires",
    "fuse": "Fuses",
    "channel": "Channels",
    "supply": "Supplies",
    "lamp": "Lamps and loads",
    "vehicle": "Vehicle",
    "finding": "Findings of the check",
}
#: What happened to it, in one word.
KINDS: Final = {"added": "NEW", "removed": "GONE", "changed": "CHANGED"}
_VERDICTS: Final = {"clean": "no errors or warnings", "findings": "errors or warnings"}


def changes_paper(changes: Differences) -> Paper:
    """Return the changes, those of one kind of part together."""
    blocks: list[Block] = [Para(_summary(changes), bold=True)]
    if changes.changes:
        columns = (Column("Change"), Column("Name"), Column("What it is", 1.4), Column("Was and is", 2.0))
        blocks.append(Table(columns, grouped((_HEADINGS[one.subject], _row(one)) for one in changes.changes)))
        blocks.append(Para("Test again what has changed, and every lamp, before the next trip."))
    return Paper(
        kind="diff",
        name="Changes",
        head=Head(
            title=changes.new.title,
            digest=changes.new.digest,
            revision=changes.new.revision,
            date=changes.new.date,
        ),
        facts=(("Compared with", _revision(changes.old)),),
        blocks=tuple(blocks),
        data=plain(changes),
    )


def _revision(revision: Revision) -> str:
    named = f"revision {revision.revision}" if revision.revision else ""
    parts = [named, revision.date, f"file code {revision.digest}"]
    return f"{revision.title} ({', '.join(part for part in parts if part)})"


def _row(change: Difference) -> Row:
    words = ", ".join(part for part in (change.words, change.trailer) if part)
    severity = f"{change.severity}: " if change.severity else ""
    told = "; ".join(detail_words(one, change) for one in change.details if one.before or one.after)
    return row((KINDS[change.kind], marks(change.name), marks(f"{severity}{words}"), marks(told)), bold=(0, 1))


def detail_words(detail: Detail, change: Difference) -> str:
    """Return one changed value in words: ``size was 14 AWG, is 12 AWG``; one value alone for what came or went."""
    if change.kind != "changed":
        return f"{detail.what} {detail.after or detail.before}"
    return f"{detail.what} was {detail.before or 'none'}, is {detail.after or 'none'}"


def _summary(changes: Differences) -> str:
    if not changes.changes:
        return "Nothing changed that the tool knows of."
    counts = {kind: sum(change.kind == kind for change in changes.changes) for kind in KINDS}
    told = ", ".join(f"{count} {KINDS[kind].lower()}" for kind, count in counts.items() if count)
    was, now = _VERDICTS[changes.old.verdict], _VERDICTS[changes.new.verdict]
    check = f"The check finds {now}, as before." if was == now else f"The check found {was}; now it finds {now}."
    return f"{check} {told[:1].upper()}{told[1:]}."
