"""The newer revision's chart, with a word on every row that changed."""

from __future__ import annotations

from dataclasses import replace

from wiregen.model.chart import Chart, PinRow
from wiregen.questions.diff.changes import pin_name
from wiregen.questions.diff.record import Difference, Differences


def marked(chart: Chart, changes: Differences) -> Chart:
    """Return the newer revision's chart with every row that changed marked in words, and what went told first.

    Args:
        chart: The chart of the newer revision.
        changes: What changed.
    """
    pins = {(c.trailer, c.name): c for c in changes.changes if c.subject == "contact"}
    conductors = {c.name: c for c in changes.changes if c.subject == "conductor" and c.kind != "removed"}
    gone = [f"{c.name} {c.words}".strip() for c in changes.changes if c.kind == "removed" and c.subject != "finding"]
    old = changes.old
    against = f"revision {old.revision}" if old.revision else f"digest {old.digest}"
    first = f"Compared with {against}: rows that changed say NEW or CHANGED."
    if gone:
        first += f" Removed since: {'; '.join(gone)}."
    return replace(
        chart,
        pins=tuple(_marked_pin(row, pins.get((row.trailer, pin_name(row)))) for row in chart.pins),
        conductors=tuple(
            replace(row, change=_mark(conductors[f"-{row.ref}"])) if f"-{row.ref}" in conductors else row
            for row in chart.conductors
        ),
        cautions=(first, *chart.cautions),
    )


def _marked_pin(row: PinRow, change: Difference | None) -> PinRow:
    if change is None:
        return row
    return replace(row, note=". ".join(part for part in (_mark(change), row.note) if part))


def _mark(change: Difference) -> str:
    if change.kind == "added":
        return "NEW"
    return "CHANGED: " + ", ".join(f"{d.what} {d.before or 'none'} → {d.after or 'none'}" for d in change.details)
