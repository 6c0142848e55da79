"""The wiring chart as GitHub Markdown, for a repository or a handover note."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from wiregen.chart.text import (
    CAUTIONS_HEADING,
    CONDUCTORS_HEADING,
    MEASURE_ADVICE,
    MEASURES_HEADING,
    NOT_VERIFIED,
    NOTICES_HEADING,
    PINS_HEADING,
    RELAYS_HEADING,
    SUPPORT_HEADING,
    colour_text,
    grouped,
    length_text,
    marks_text,
    measures_by_connector,
    sheet_facts,
    support_legend,
    support_note,
    through,
)
from wiregen.model.chart import Chart, ConductorRow, MeasureRow, PinRow
from wiregen.paper.safe_text import escape_markdown

_PIN_HEADINGS = (
    *("From", "Vehicle has", "Through", "To", "Trailer has", "Trailer"),
    *("Colour", "Support", "Remarks"),
)
_CONDUCTOR_HEADINGS = (
    *("Ref", "From", "To", "Circuit", "Colour", "Size", "Length"),
    *("Fuse", "Channel", "Trailer", "Marking", "Support"),
)
_MEASURE_HEADINGS = (
    *("Connector", "Contact", "Against", "Controls", "Meter shows"),
    *("Because it is", "Support", "Reading"),
)

_UNVERIFIED = f"**! {NOT_VERIFIED}**"


def markdown_text(chart: Chart) -> str:
    """Return the chart as GitHub Markdown: one table a part, groups as bold rows, all words escaped."""
    lines = [f"# Wiring chart: {escape_markdown(chart.sheet.title)}", ""]
    lines += [f"- {word}: {escape_markdown(value)}" for word, value in sheet_facts(chart)]
    for designation, short, follows in chart.connectors:
        tail = f" ({escape_markdown(follows)})" if follows else ""
        lines.append(f"- {_strong(designation)} {escape_markdown(short)}{tail}")
    lines += _list(CAUTIONS_HEADING, chart.cautions)
    lines += ["", f"## {PINS_HEADING}", "", *_pins(chart)]
    legend = [f"- {_strong(mark)}: {meaning}" for mark, meaning in support_legend()]
    lines += ["", f"{SUPPORT_HEADING}. {support_note()}", "", *legend]
    lines += ["", f"## {CONDUCTORS_HEADING}", "", *_conductors(chart)]
    lines += ["", *_bullets(chart.conductor_notes)] if chart.conductor_notes else []
    lines += _relays(chart)
    lines += _list(NOTICES_HEADING, chart.notices)
    advice = _bullets((MEASURE_ADVICE, *chart.measure_notes))
    lines += ["", f"## {MEASURES_HEADING}", "", *advice, "", *_measures(chart)]
    return "\n".join(lines) + "\n"


def _pins(chart: Chart) -> Iterator[str]:
    yield from _head(_PIN_HEADINGS)
    for group, rows in grouped(chart.pins):
        yield _group(group, len(_PIN_HEADINGS))
        yield from (_line(_pin(row)) for row in rows)


def _pin(row: PinRow) -> list[str]:
    connected = bool(row.trailer_contact)
    remarks = [f"live when: {escape_markdown(row.logic)}"] if row.logic else []
    remarks += [_UNVERIFIED] if row.unverified else []
    remarks += [escape_markdown(row.note)] if row.note else []
    return [
        _strong(row.start),
        escape_markdown(row.vehicle_words),
        escape_markdown(through(row)),
        _strong(row.trailer_contact),
        escape_markdown(row.circuit if connected else ""),
        escape_markdown(row.trailer),
        escape_markdown(colour_text(row.colour, row.colour_word) if connected else ""),
        escape_markdown(marks_text(row.support, row.unverified)),
        "; ".join(remarks),
    ]


def _conductors(chart: Chart) -> Iterator[str]:
    yield from _head(_CONDUCTOR_HEADINGS)
    for group, rows in grouped(chart.conductors):
        yield _group(group, len(_CONDUCTOR_HEADINGS))
        yield from (_line(_conductor(row)) for row in rows)


def _conductor(row: ConductorRow) -> list[str]:
    words = (
        row.circuit,
        colour_text(row.colour, row.colour_word),
        row.size,
        length_text(row),
        row.fuse or "–",
        row.channel,
        row.trailer or "all",
        row.marking_words,
    )
    return [
        _strong(row.ref),
        _strong(row.start),
        _strong(row.end),
        *(escape_markdown(word) for word in words),
        _support(row),
    ]


def _measures(chart: Chart) -> Iterator[str]:
    yield from _head(_MEASURE_HEADINGS)
    for _, rows in measures_by_connector(chart.measures):
        yield from (_line(_measure(row)) for row in rows)


def _measure(row: MeasureRow) -> list[str]:
    words = (row.against, row.switch, row.expected, row.why)
    return [
        escape_markdown(row.connector),
        _strong(row.contact),
        *(escape_markdown(word) for word in words),
        _support(row),
        "",
    ]


def _support(row: ConductorRow | MeasureRow) -> str:
    marks = escape_markdown(marks_text(row.support, row.unverified))
    return f"{marks} {_UNVERIFIED}" if row.unverified else marks


def _relays(chart: Chart) -> list[str]:
    if not chart.relays:
        return []
    lines = ["", f"## {RELAYS_HEADING}", "", *(escape_markdown(note) for note in chart.relay_notes)]
    for row in chart.relays:
        lines += ["", f"{_strong(f'{row.title}.')} {escape_markdown(row.sentences)}", "", *_bullets(row.joints)]
    return lines


def _list(heading: str, texts: Sequence[str]) -> list[str]:
    return ["", f"## {heading}", "", *_bullets(texts)] if texts else []


def _bullets(texts: Sequence[str]) -> list[str]:
    return [f"- {escape_markdown(text)}" for text in texts]


def _strong(text: str) -> str:
    bare = escape_markdown(text).strip()
    return f"**{bare}**" if bare else ""


def _group(name: str, columns: int) -> str:
    return _line([_strong(name), *[""] * (columns - 1)])


def _head(headings: Sequence[str]) -> list[str]:
    return [_line(headings), _line(["---"] * len(headings))]


def _line(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cells) + " |"
