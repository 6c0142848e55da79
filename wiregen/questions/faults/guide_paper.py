"""The guide by symptom and the report on how well faults can be found, for a terminal and for machines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Any

from wiregen.model.fault_guide import Coverage, FaultGuide, Found, GuideEntry
from wiregen.paper.safe_text import clean
from wiregen.paper.words import wrap
from wiregen.questions.faults.paper import PLACES, head_lines

_MOST_FOUND = 5


def guide_text(guides: Sequence[FaultGuide], width: int = 80) -> str:
    """Return guides as plain text, no line wider than ``width`` columns."""
    lines: list[str] = []
    for guide in guides:
        lines += [*([""] if lines else []), *head_lines(guide.title, guide.trailer, guide.cautions, width)]
        lines += wrap(
            "Each list goes on from what a check most likely shows; everything else it may show stands under it with "
            f"what is then to be suspected. For one fault at a time; digest {guide.digest}.",
            width,
        )
        lists = {seen: number for number, entry in enumerate(guide.entries, start=1) for seen in entry.pictures}
        for number, entry in enumerate(guide.entries, start=1):
            lines += _entry(number, entry, lists, width)
    return "".join(line.rstrip() + "\n" for line in lines)


def _entry(at: int, entry: GuideEntry, lists: dict[tuple[str, str], int], width: int) -> Iterator[str]:
    yield ""
    yield from wrap(f"LIST {at}  {clean(entry.symptom).upper()}", width, "        ")
    for number, step in enumerate(entry.steps, start=1):
        yield from wrap(f"  {number}. {clean(step.words)} ({PLACES[step.access]})", width, "     ")
        yield from wrap(f"     Shows: {clean(step.expect)} - go on.", width, "       ")
        for shows, suspects in step.branches:
            other = lists.get((step.setting, shows), at)
            if other != at and step.access == "lamps":
                yield from wrap(f"     Else {clean(shows)}: go to list {other}.", width, "       ")
                continue
            yield from wrap(f"     Else {clean(shows)}: {'; '.join(map(clean, suspects))}", width, "       ")
    yield from wrap(f"  Then: {'; '.join(map(clean, entry.left))}", width, "        ")
    if entry.danger:
        yield from wrap(f"  ! It may be that {clean(entry.danger)}.", width, "    ")


def guide_data(guide: FaultGuide) -> dict[str, Any]:
    """Return a guide as plain data."""
    return asdict(guide)


def coverage_text(reports: Sequence[Coverage], width: int = 80) -> str:
    """Return reports on how well faults can be found, as plain text."""
    lines: list[str] = []
    for report in reports:
        if lines:
            lines.append("")
        lines += wrap(f"HOW WELL FAULTS CAN BE FOUND  {clean(report.title)}, with {clean(report.trailer)}", width)
        lines += wrap(
            "Parts are named as in the chart; short: it touches ground; stuck: it no longer lets go; +1 ohm: a poor "
            "joint with so much too much; <>: swapped wires; =: contacts or filaments that touch.",
            width,
        )
        lines += _danger(report, width)
        lines += _silent(report, width)
        lines += _found(report, width)
        lines += _points(report, width)
    return "".join(line.rstrip() + "\n" for line in lines)


def _danger(report: Coverage, width: int) -> Iterator[str]:
    listed = [one for one in (*report.unseen, *report.silent) if one.danger]
    yield ""
    if not listed:
        yield "No fault that can hurt stays unseen."
        return
    yield from wrap(f"DANGER: no lamp shows these {len(listed)} faults. Try the brakes before each trip.", width)
    for danger in dict.fromkeys(one.danger for one in listed):
        yield from wrap(f"  ! {clean(danger)}:", width, "    ")
        yield from wrap(f"    {_keys([one for one in listed if one.danger == danger])}", width, "    ")


def _silent(report: Coverage, width: int) -> Iterator[str]:
    harmless = [one for one in report.silent if not one.danger]
    if harmless:
        yield ""
        yield from wrap(
            f"SILENT: {len(harmless)} faults change nothing that is seen, as long as they come alone "
            "(a second way for the current, or too little to see):",
            width,
        )
        yield from wrap(f"    {_keys(harmless)}", width, "    ")


def _keys(found: Sequence[Found]) -> str:
    """Return the keys of faults, the sizes of one joint together: ``W7 +0.2, +1, +5 ohm``."""
    sizes: dict[str, list[str]] = {}
    for one in found:
        name, plus, size = one.key.partition(" +")
        sizes.setdefault(name if plus else one.key, []).extend([f"+{size.removesuffix(' ohm')}"] if plus else [])
    return "; ".join(f"{name} {', '.join(more)} ohm" if more else name for name, more in sizes.items())


def _found(report: Coverage, width: int) -> Iterator[str]:
    yield ""
    if not report.found:
        yield "SEEN: no fault at all shows on a lamp."
        return
    yield from wrap(
        f"SEEN: {len(report.found)} faults. {report.mean_checks:.1f} checks on average, by how often they happen, "
        f"worth {report.mean_effort:.0f} looks at the lamps.",
        width,
    )
    hardest = sorted(report.found, key=lambda one: (-one.checks, -one.effort))[:_MOST_FOUND]
    yield "  Hardest to find:"
    for one in hardest:
        left = f", {one.left} left that nothing tells apart" if one.left > 1 else ""
        yield from wrap(f"  {one.checks:>4} checks{left}: {clean(one.words)}", width, "       ")


def _points(report: Coverage, width: int) -> Iterator[str]:
    if not report.points:
        return
    yield ""
    yield from wrap(
        "A TEST POINT WOULD HELP MOST, brought out to where a meter reaches without opening the adapter:", width
    )
    for point in report.points:
        where = "in the adapter" if point.where == "adapter" else "under tape"
        yield from wrap(
            f"  {clean(point.words)} ({where}): tells apart {point.splits:.1%} of the pairs that look alike "
            "from outside",
            width,
            "    ",
        )


def coverage_data(report: Coverage) -> dict[str, Any]:
    """Return a report as plain data; efforts in looks at the lamps."""
    return asdict(report)
