"""A check's result as a paper: the verdict, what to do first, findings by cause, what it rests on, what is spare."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from wiregen.catalogue.sources import SOURCES
from wiregen.model.finding import Assumption, Finding, Headroom
from wiregen.model.report import Report
from wiregen.paper.blocks import (
    CALCULATED,
    Block,
    Bullets,
    Column,
    Head,
    Heading,
    Item,
    Paper,
    Para,
    Row,
    Table,
    grouped,
    row,
    table,
)
from wiregen.paper.words import counted, marks
from wiregen.quantity import show
from wiregen.questions.verdict.data import report_data

_GROUPS: Final = {
    "error": "ERRORS: do not build it so",
    "warning": "WARNINGS: look again",
    "notice": "NOTICES: know this",
}
_UNITS: Final = ("v", "a", "ohm", "m", "mm2", "c", "s", "min", "w", "h")
#: So many steps stand first; of a rig without errors and warnings fewer do.
_MOST_STEPS: Final = {True: 5, False: 3}
#: So many places of one cause are named; trailers side by side; places of an assumption.
_MOST_PLACES: Final = 6
_MOST_TRAILERS: Final = 2
_MOST_PARTS: Final = 8


def report_paper(report: Report, *, full: bool = True) -> Paper:
    """Return the result of a check: every finding and all it rests on, or by cause where not ``full``."""
    return Paper(
        kind="check",
        name="Check",
        head=Head(title=report.title, digest=report.digest),
        blocks=(Para(verdict_words(report), bold=True), *(_whole(report) if full else _brief(report))),
        closing=CALCULATED,
        data=report_data(report),
    )


def verdict_words(report: Report) -> str:
    """Return the verdict in words, with the counts of findings."""
    words = ", ".join(counted(report.count(severity), severity) for severity in ("error", "warning", "notice"))
    if report.count("error"):
        return f"DO NOT BUILD YET: {words}."
    return f"LOOK AGAIN BEFORE YOU BUILD: {words}." if report.verdict == "findings" else f"CLEAR ON PAPER: {words}."


def proved_words(report: Report) -> str:
    """Return how much was looked at."""
    lamps = len({(one.trailer, one.lamp) for one in report.behaviour})
    settings = len({(one.trailer, one.controls) for one in report.behaviour})
    faults = f", {_thousands(report.fault_points)} more with a single fault" if report.fault_points else ""
    return (
        f"{counted(settings, 'control setting')} compared for {counted(lamps, 'lamp')} and loads, "
        f"{_thousands(report.states)} operating points solved{faults}."
    )


def _thousands(count: int) -> str:
    return f"{count:,}".replace(",", "\N{NO-BREAK SPACE}")


def margin_words(share: float) -> str:
    """Return the margin in words: past twice the limit, a negative percentage says less than how many times it is."""
    return f"margin {share:+.0%}" if share >= -1 else f"{1 - share:.2g} times the limit"


# --- by cause ---


def _brief(report: Report) -> Iterator[Block]:
    causes = _causes(report.findings)
    if steps := first_steps([one for cause in causes for one in cause], clean=report.verdict == "clean"):
        yield Heading("Do this first")
        yield Bullets(steps, numbered=True)
    serious = [cause for cause in causes if cause[0].severity != "notice"]
    shown = serious or causes
    if shown:
        yield Heading("Found, worst first" if serious else "Found, worst first (all are notices: know this)")
        yield Bullets(tuple(_cause(cause) for cause in shown))
    notices = report.count("notice") if serious else 0
    if notices:
        yield Para(f"{counted(notices, 'notice')}: check --full.")
    yield Heading("What this rests on")
    assumed = counted(len(report.assumptions), "value")
    yield Para(f"{proved_words(report)} {assumed} assumed. List, advice and sources: check --full.")
    yield from _spare(report.headroom)


def first_steps(findings: Sequence[Finding], *, clean: bool) -> tuple[Item, ...]:
    """Return what to do first: the advice of the worst findings, each once, with its line."""
    worst = [one for one in findings if clean or one.severity != "notice"]
    by_advice: dict[str, list[Finding]] = {}
    for one in worst:
        by_advice.setdefault(one.advice, []).append(one)
    steps = [*by_advice.items()][: _MOST_STEPS[not clean]]
    return tuple(Item(marks(f"{same[0].where}: {advice}"), end=_lines(same)) for advice, same in steps)


def _causes(findings: Iterable[Finding]) -> list[list[Finding]]:
    """Return findings of one rule together, the worst first: by severity, by harm, feed and structure before lamps."""
    from wiregen.check.rules import RULES

    harms = ("fire", "brakes", "dark lamp", "part")
    rank = {rule.info.id: min(harms.index(rule.info.harm), 2) for rule in RULES}
    causes: dict[tuple[str, str], list[Finding]] = {}
    for one in findings:
        causes.setdefault((one.severity, one.rule), []).append(one)

    def worse(cause: list[Finding]) -> tuple[int, int, bool]:
        first = cause[0]
        severity = ("error", "warning", "notice").index(first.severity)
        return severity, rank.get(first.rule, len(harms)), first.where.startswith(("-E", "-M"))

    return sorted(causes.values(), key=worse)


def _cause(cause: Sequence[Finding]) -> Item:
    first = cause[0]
    places = dict.fromkeys(marks(one.where) for one in cause[1:])
    likewise = [place for place in places if place != marks(first.where)]
    more = f", and {len(likewise) - _MOST_PLACES} more" if len(likewise) > _MOST_PLACES else ""
    also = f"; likewise {', '.join(likewise[:_MOST_PLACES])}{more}" if likewise else ""
    lead = "" if first.severity == "notice" else first.severity.upper()
    return Item(f"{marks(first.where)}: {marks(first.message)}{also}.", lead=lead, end=_lines(cause))


def _lines(findings: Iterable[Finding]) -> str:
    lines = sorted({one.origin.line for one in findings if one.origin})
    more = " ..." if len(lines) > 2 else ""
    return f"line{'s' if len(lines) > 1 else ''} {', '.join(map(str, lines[:2]))}{more}" if lines else ""


def _spare(rows: Sequence[Headroom]) -> Iterator[Block]:
    """Yield a row a channel, a column a trailer; where nothing is spare, what is overloaded the most."""
    if not rows:
        return
    yield Heading("Spare capacity")
    worst = min(rows, key=lambda one: one.spare_a)
    if all(one.spare_a <= 0 for one in rows):
        yield Para(f"None: {_spare_words(worst)}.")
        return
    trailers = [*dict.fromkeys(one.trailer for one in rows)]
    channels: dict[str, dict[str, Headroom]] = {}
    for one in rows:
        channels.setdefault(one.channel, {})[one.trailer] = one
    if len(trailers) <= _MOST_TRAILERS:
        columns = (Column(), *(Column(trailer, 1.0) for trailer in trailers))
        yield table(
            columns, ((name, *(_spare_words(by.get(one)) for one in trailers)) for name, by in channels.items())
        )
        return
    least = {name: min(by.values(), key=lambda one: one.spare_a) for name, by in channels.items()}
    columns = (Column(), Column("the least of all trailers", 1.0), Column("behind", 1.0))
    yield table(columns, ((name, _spare_words(one), one.trailer) for name, one in least.items()))


def _spare_words(one: Headroom | None) -> str:
    """Return what is spare, rounded down, with what limits it."""
    if one is None:
        return "–"
    bound = marks(one.bound_by)
    if one.spare_a != one.spare_a or abs(one.spare_a) >= 1e6:
        return "no known limit"
    if one.spare_a < 0:
        return f"overloaded by {math.ceil(-10 * one.spare_a) / 10:g} A, {bound}"
    return f"{math.floor(10 * one.spare_a + 1e-9) / 10:g} A, {bound}"


# --- all of it ---


def _whole(report: Report) -> Iterator[Block]:
    yield Para(proved_words(report))
    yield Heading("Findings")
    yield findings_table(report.findings) if report.findings else Para("The check found nothing to report.")
    if report.headroom:
        yield Heading("Spare capacity, with the other channels as they are")
        columns = (
            Column("Channel"),
            Column("Trailer", 0.8),
            Column("Carries A", right=True),
            Column("Spare A", right=True),
            Column("Limited by", 1.0),
            Column("Enough for", 1.2),
        )
        yield table(columns, (_headroom(one) for one in report.headroom))
    if report.assumptions:
        yield Heading("Assumed, because the rig file does not say")
        yield assumptions_table(report.assumptions)
    keys = source_keys(report)
    if keys:
        yield Heading("Sources")
        yield sources_table(keys)


def findings_table(findings: Iterable[Finding]) -> Table:
    """Return every finding with when, how far, what to do and why."""
    columns = (
        Column("Rule"),
        Column("Where", 1.0),
        Column("What", 2.2),
        Column("When", 1.0, spare=5),
        Column("Found / limit", 0.9, spare=6),
        Column("Do", 1.8, spare=9),
        Column("Source", spare=7),
        Column("Line", spare=8),
    )
    return Table(columns, grouped((_GROUPS[one.severity], _finding(one)) for one in findings), "What the check found")


def _finding(one: Finding) -> Row:
    numbers = [show(value, one.unit).strip() for value in (one.value, one.limit) if value is not None]
    when = "; ".join(part for part in (one.state, one.trailer) if part)
    found = " / ".join(numbers) + (f", {margin_words(one.margin)}" if one.margin is not None else "")
    line = str(one.origin) if one.origin else ""
    words = (marks(text) for text in (one.where, one.message))
    cells = (one.rule, *words, when, found.strip(", "), marks(one.advice), one.source.replace(",", ", "), line)
    return row(cells, bold=(0,), marked=one.severity == "error")


def _headroom(one: Headroom) -> tuple[str, ...]:
    if one.spare_a != one.spare_a or abs(one.spare_a) >= 1e6:
        spare = "no known limit"
    else:
        spare = f"{math.floor(100 * one.spare_a + 1e-9) / 100:.2f}"
    fit = " or ".join(f"{count} × {word}" for word, count in one.lamps if count)
    if one.spare_a <= 0:
        fit = "nothing may be added"
    elif not fit:
        fit = f"too little for 1 × {' or '.join(word for word, _ in one.lamps)}"
    return one.channel, one.trailer, f"{one.carried_a:.2f}", spare, marks(one.bound_by), fit


def assumptions_table(rows: Iterable[Assumption]) -> Table:
    """Return every value that the rig file leaves open, with where it comes from."""
    columns = (
        Column("What", 1.3),
        Column("Value", right=True),
        Column("Why", 2.4),
        Column("Used for", 1.6, spare=2),
        Column("Proof", spare=3),
        Column("Source", spare=1),
    )
    return Table(columns, grouped(("", _assumption(one)) for one in rows), "What is assumed")


def _assumption(one: Assumption) -> Row:
    more = len(one.where) - _MOST_PARTS
    where = marks(", ".join(one.where[:_MOST_PARTS])) + (f" and {more} more" if more > 0 else "")
    parts = one.name.split("_")
    name = " ".join(parts[:-1] if parts[-1] in _UNITS else parts)
    return row((name, one.text.strip(), one.why, where, one.support, one.source), bold=(1,))


def source_keys(report: Report, more: Iterable[str] = ()) -> tuple[str, ...]:
    """Return the keys of every source that findings and assumptions rest on, each once."""
    texts = (*(one.source for one in report.findings), *(one.source for one in report.assumptions), *more)
    return tuple(dict.fromkeys(key.strip() for text in texts for key in text.split(",") if key.strip()))


def sources_table(keys: Iterable[str]) -> Table:
    """Return what is known of each source that is in the list of sources."""
    columns = (
        Column("Key"),
        Column("Title", 2.2),
        Column("Where found", 1.8, spare=1),
        Column("Read"),
        Column("Kind", spare=2),
    )
    known = ((key, SOURCES[key]) for key in keys if key in SOURCES)
    return table(columns, ((key, entry.title, entry.where, entry.read, entry.kind) for key, entry in known), "Sources")
