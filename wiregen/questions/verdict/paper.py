"""A check's result for a terminal: findings first, then headroom, assumptions, sources."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from wiregen.catalogue.sources import SOURCES
from wiregen.model.finding import Assumption, Finding, Headroom
from wiregen.model.report import Report
from wiregen.paper.cautions import CAUTION
from wiregen.paper.safe_text import clean
from wiregen.paper.words import wrap
from wiregen.quantity import show

_HEADINGS = {"error": "ERROR", "warning": "WARNING", "notice": "NOTICE"}


def report_text(report: Report, width: int = 80, *, brief: bool = False) -> str:
    """Return the report as plain text, no line wider than ``width`` columns.

    Args:
        report: What to print.
        width: Columns of the terminal.
        brief: Findings and verdict only.
    """
    lines = [*_head(report, width)]
    for finding in report.findings:
        lines += [*_finding(finding, width), ""]
    if not brief:
        lines += _headroom(report.headroom, width)
        lines += _assumptions(report.assumptions, width)
        lines += _sources(report, width)
    lines += [*wrap(verdict_words(report), width), *wrap(CAUTION, width)]
    return "".join(line.rstrip() + "\n" for line in lines)


def _head(report: Report, width: int) -> Iterator[str]:
    yield from wrap(f"Check of {clean(report.title)}  (digest {report.digest})", width)
    lamps = len({(row.trailer, row.lamp) for row in report.behaviour})
    settings = len({(row.trailer, row.controls) for row in report.behaviour})
    yield from wrap(
        f"{settings} control settings compared for {lamps} lamps and loads, {report.states} operating points solved"
        f"{f', {report.fault_points} more with a single fault' if report.fault_points else ''}.",
        width,
    )
    yield ""


def _finding(finding: Finding, width: int) -> Iterator[str]:
    yield from wrap(f"{_HEADINGS[finding.severity]}  {finding.rule}: {clean(finding.where)}", width, "    ")
    yield from wrap(f"    {clean(finding.message)}", width, "    ")
    facts = []
    if finding.state:
        facts.append(f"when: {finding.state}")
    if finding.trailer:
        facts.append(f"trailer: {clean(finding.trailer)}")
    if finding.margin is not None:
        facts.append(margin_words(finding.margin))
    if facts:
        yield from wrap(f"    {'; '.join(facts)}", width, "    ")
    yield from wrap(f"    do: {clean(finding.advice)}", width, "    ")
    place = f"  at {finding.origin}" if finding.origin else ""
    yield from wrap(f"    [{finding.source}]{place}", width, "    ")


def margin_words(share: float) -> str:
    """Return the margin in words: past twice the limit, a negative percentage says less than how many times it is."""
    return f"margin {share:+.0%}" if share >= -1 else f"{1 - share:.2g} times the limit"


def _headroom(rows: Sequence[Headroom], width: int) -> Iterator[str]:
    if not rows:
        return
    yield "HOW MUCH MORE EACH CHANNEL MAY CARRY, with the others as they are"
    for row in rows:
        fit = " or ".join(f"{count} × {word}" for word, count in row.lamps if count)
        lamps = f"enough for {fit}" if fit else f"too little for 1 × {' or '.join(word for word, _ in row.lamps)}"
        spare = show(row.spare_a, "A") if row.spare_a == row.spare_a and abs(row.spare_a) < 1e6 else "no known limit"
        more = f"; {lamps}" if row.spare_a > 0 else ": nothing may be added"
        yield from wrap(
            f"  {row.channel}, {clean(row.trailer)}: carries {show(row.carried_a, 'A')}, room for {spare} "
            f"(bound by {row.bound_by}){more}",
            width,
            "      ",
        )
    yield ""


def _assumptions(rows: Sequence[Assumption], width: int) -> Iterator[str]:
    if not rows:
        return
    yield "ASSUMED, because the rig file does not say"
    for row in rows:
        where = ", ".join(row.where[:3]) + (f" and {len(row.where) - 3} more" if len(row.where) > 3 else "")
        mark = "" if row.support == "seen" else f", {row.support}"
        name = row.name.rsplit("_", 1)[0] if row.name.rsplit("_", 1)[-1] in _UNITS else row.name
        yield from wrap(
            f"  {name.replace('_', ' ')} {row.text.strip()}: {row.why} [{row.source}{mark}] ({where})", width, "      "
        )
    yield ""


_UNITS = {"v", "a", "ohm", "m", "mm2", "c", "s", "min", "w", "h"}


def _sources(report: Report, width: int) -> Iterator[str]:
    keys: dict[str, None] = {}
    for text in (*(f.source for f in report.findings), *(a.source for a in report.assumptions)):
        for key in text.split(","):
            keys[key.strip()] = None
    known = [(key, SOURCES[key]) for key in keys if key in SOURCES]
    if not known:
        return
    yield "SOURCES"
    for key, entry in known:
        yield from wrap(f"  {key}: {entry.title}; read: {entry.read}", width, "      ")
    yield ""


def verdict_words(report: Report) -> str:
    """Return the verdict in words, with the counts of findings."""
    counts = [(report.count(severity), severity) for severity in ("error", "warning", "notice")]
    words = ", ".join(f"{count} {word}{'' if count == 1 else 's'}" for count, word in counts)
    verdict = "no errors or warnings found" if report.verdict == "clean" else "do not build it as it is"
    if report.verdict == "findings" and not report.count("error"):
        verdict = "look again before you build it"
    return f"Verdict: {verdict} ({words})."
