"""A check's findings, readings and changes as pieces of HTML that stand in somebody else's page, such as a notebook."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from wiregen.model.finding import Finding
from wiregen.model.reading import Reading, ReadingSheet, Span
from wiregen.model.report import Report
from wiregen.paper.cautions import CAUTION
from wiregen.paper.safe_text import escape_html
from wiregen.quantity import show
from wiregen.questions.diff.paper import detail_words
from wiregen.questions.diff.record import Differences
from wiregen.questions.verdict.paper import verdict_words


def report_html(report: Report) -> str:
    """Return the findings of a check as a table, worst first, under the verdict and above the caution."""
    rows = [(f.severity.upper(), f.rule, f.where, _message(f), _number(f), f.advice, f.source) for f in report.findings]
    heads = ("", "Rule", "Where", "What", "Found / limit", "Do", "Source")
    return "\n".join(
        (
            f"<h3>{escape_html(f'Check of {report.title}')}</h3>",
            f"<p><strong>{escape_html(verdict_words(report))}</strong></p>",
            *_table(heads, rows),
            f"<p><small>{escape_html(CAUTION)}</small></p>",
        )
    )


def readings_html(sheet: ReadingSheet) -> str:
    """Return what a meter shows, one table a state."""
    parts = [f"<h3>{escape_html(f'Readings of {sheet.title}')}</h3>"]
    for state in sheet.states:
        half = f" ({state.half} half of the flash)" if state.half else ""
        parts.append(f"<h4>{escape_html(f'{state.state}{half}, with {state.trailer}')}</h4>")
        rows = [(r.part, r.side, r.what, _span(r, "V"), _span(r, "A")) for r in state.readings]
        parts += _table(("Part", "Side", "What", "V", "A"), rows)
    return "\n".join(parts)


def changes_html(changes: Differences) -> str:
    """Return what changed between two revisions as a table."""
    rows = [
        (one.kind, one.subject, one.name, one.words, "; ".join(detail_words(d, one) for d in one.details))
        for one in changes.changes
    ]
    return "\n".join(_table(("", "What", "Name", "Is", "Change"), rows))


def _message(finding: Finding) -> str:
    return f"{finding.message} ({finding.state})" if finding.state else finding.message


def _number(finding: Finding) -> str:
    if finding.value is None or finding.limit is None:
        return ""
    return f"{show(finding.value, finding.unit)} / {show(finding.limit, finding.unit)}"


def _span(reading: Reading, unit: str) -> str:
    span: Span = reading.volts_v if unit == "V" else reading.amps_a
    if span.nominal is None or span.lowest is None or span.highest is None:
        return ""
    if f"{span.lowest:.3g}" == f"{span.highest:.3g}":
        return show(span.nominal, unit)
    return f"{show(span.nominal, unit)} ({show(span.lowest, unit)} … {show(span.highest, unit)})"


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    yield f"<table><thead><tr>{''.join(f'<th>{head}</th>' for head in heads)}</tr></thead><tbody>"
    for row in rows:
        yield f"<tr>{''.join(f'<td>{escape_html(cell)}</td>' for cell in row)}</tr>"
    yield "</tbody></table>"
