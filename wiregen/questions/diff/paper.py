"""What changed between two revisions, in words for a terminal, and as data."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from itertools import groupby
from typing import Any, Final

from wiregen.paper.safe_text import clean
from wiregen.paper.words import wrap
from wiregen.questions.diff.record import Change, Changes, Detail, Revision

_HEADINGS: Final = {
    "connector": "CONNECTORS",
    "contact": "CONTACTS",
    "conductor": "CONDUCTORS",
    "fuse": "FUSES",
    "channel": "CHANNELS",
    "supply": "SUPPLIES",
    "lamp": "LAMPS AND LOADS",
    "vehicle": "VEHICLE",
    "finding": "FINDINGS OF THE CHECK",
}
#: A sign for black and white, and for one who only skims.
SIGNS: Final = {"added": "+", "removed": "-", "changed": "~"}
_VERDICTS: Final = {"clean": "no errors or warnings", "findings": "errors or warnings"}


def changes_text(changes: Changes, width: int = 80) -> str:
    """Return the changes as plain text, no line wider than ``width`` columns."""
    lines = list(wrap(f"From {_revision(changes.old)}", width, "     "))
    lines += wrap(f"to   {_revision(changes.new)}", width, "     ")
    for subject, group in groupby(changes.changes, key=lambda change: change.subject):
        lines += ["", _HEADINGS[subject]]
        for change in group:
            lines += _change(change, width)
    lines += ["", *wrap(_summary(changes), width)]
    return "".join(line.rstrip() + "\n" for line in lines)


def changes_data(changes: Changes) -> dict[str, Any]:
    """Return the changes as plain data for JSON."""
    return asdict(changes)


def _revision(revision: Revision) -> str:
    parts = [f"revision {revision.revision}" if revision.revision else "", revision.date, f"digest {revision.digest}"]
    return f"{clean(revision.title)} ({', '.join(clean(part) for part in parts if part)})"


def _change(change: Change, width: int) -> Iterator[str]:
    trailer = f", {change.trailer}" if change.trailer else ""
    severity = f"{change.severity} " if change.severity else ""
    head = f"{SIGNS[change.kind]} {severity}{change.name}: {change.words}{trailer}"
    yield from wrap(f"  {clean(head)}", width, "    ")
    for detail in change.details:
        if detail.before or detail.after:
            yield from wrap(f"      {clean(detail_words(detail, change))}", width, "        ")


def detail_words(detail: Detail, change: Change) -> str:
    """Return one changed value in words: ``size: 14 AWG → 12 AWG``; one value alone for what came or went."""
    if change.kind != "changed":
        return f"{detail.what}: {detail.after or detail.before}"
    return f"{detail.what}: {detail.before or 'none'} → {detail.after or 'none'}"


def _summary(changes: Changes) -> str:
    if not changes.changes:
        return "Nothing changed that the tool knows of."
    counts = {kind: sum(change.kind == kind for change in changes.changes) for kind in SIGNS}
    told = ", ".join(f"{count} {kind} ({SIGNS[kind]})" for kind, count in counts.items() if count)
    was, now = _VERDICTS[changes.old.verdict], _VERDICTS[changes.new.verdict]
    check = f"The check finds {now}, as before." if was == now else f"The check found {was}; now it finds {now}."
    return f"{told}. {check} Test again what has changed, and every lamp, before the next trip."
