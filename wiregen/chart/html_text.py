"""The wiring chart as one self-contained page for phone, desk and printer: no scripts, nothing loaded."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from wiregen.catalogue.connector import COLOURS, split_colour
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
    bind_units,
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
from wiregen.model.chart import NO_FUSE, Chart, ConductorRow, MeasureRow, PinRow
from wiregen.paper.safe_text import escape_html
from wiregen.paper.style import STYLE

#: Screen and print colours of conductor insulation by IEC 60757 code; beside every one stand code and word.
SWATCHES: Final = {
    "BK": "#1a1a1a",
    "BN": "#7b4a1e",
    "RD": "#d0201c",
    "OG": "#f08010",
    "YE": "#f7d510",
    "GN": "#2f9a3c",
    "BU": "#2a62c4",
    "VT": "#7f3fa8",
    "GY": "#8f8f8f",
    "WH": "#ffffff",
    "PK": "#f296bc",
    "TQ": "#2fb8b0",
}

_WARNING: Final = f' <strong class="warn">! {NOT_VERIFIED}</strong>'

#: Letters; a longer word would push a column of the table off the page.
_LONGEST_WORD: Final = 24


@dataclass(frozen=True, slots=True)
class _Cell:
    """One cell: ``html`` is already escaped; ``kind`` is the class that sets its look."""

    html: str
    kind: str = ""


def html_text(chart: Chart) -> str:
    """Return the chart as one HTML page.

    The page runs no script and loads nothing: its content security policy allows only its own style sheet, by
    hash. Every word of the chart is escaped; bidirectional and control characters are replaced.
    """
    digest = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    title = escape_html(f"Wiring chart: {chart.sheet.title}")
    return "\n".join(
        (
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="referrer" content="no-referrer">',
            f"<title>{title}</title>",
            f"<style>{STYLE}</style>",
            "</head>",
            "<body>",
            *_header(chart, title),
            "<main>",
            *_list("cautions", CAUTIONS_HEADING, chart.cautions),
            *_section("pins", PINS_HEADING, [*_pin_table(chart), *_legend()]),
            *_section("conductors", CONDUCTORS_HEADING, [*_conductor_table(chart), *_bullets(chart.conductor_notes)]),
            *_relays(chart),
            *_list("notices", NOTICES_HEADING, chart.notices),
            *_section("measure", MEASURES_HEADING, [*_how_to_measure(chart), *_measure_table(chart)]),
            "</main>",
            "</body>",
            "</html>",
            "",
        )
    )


def swatch(code: str) -> str:
    """Return a small picture of a conductor in its colour, with the second colour as a stripe along it.

    An SVG picture rather than a background, because printers leave backgrounds out.
    """
    parts = [SWATCHES[part] for part in split_colour(code) if part in COLOURS]
    if not parts:
        return ""
    shapes = [f'<rect x=".5" y=".5" width="27" height="11" fill="{parts[0]}" stroke="#000"/>']
    shapes += [
        f'<rect x=".5" y="4" width="27" height="4" fill="{stripe}" stroke="#000" stroke-width=".6"/>'
        for stripe in parts[1:]
    ]
    return (
        '<svg class="swatch" viewBox="0 0 28 12" width="28" height="12" aria-hidden="true" focusable="false">'
        + "".join(shapes)
        + "</svg>"
    )


def _header(chart: Chart, title: str) -> Iterator[str]:
    yield "<header>"
    yield f"<h1>{title}</h1>"
    yield '<dl class="facts">'
    for word, value in sheet_facts(chart):
        yield f"<div><dt>{word}</dt><dd>{_words(value)}</dd></div>"
    yield "</dl>"
    yield '<ul class="connectors">'
    for designation, short, follows in chart.connectors:
        tail = f" <small>{_words(follows)}</small>" if follows else ""
        yield f"<li>{_mark(designation)} <bdi>{_words(short)}</bdi>{tail}</li>"
    yield "</ul>"
    yield '<nav aria-label="Parts of the chart">'
    if chart.cautions:
        yield f'<a href="#cautions">{CAUTIONS_HEADING}</a>'
    yield f'<a href="#pins">{PINS_HEADING}</a> <a href="#conductors">{CONDUCTORS_HEADING}</a>'
    if chart.relays:
        yield f'<a href="#relays">{RELAYS_HEADING}</a>'
    yield f'<a href="#measure">{MEASURES_HEADING}</a>'
    yield "</nav>"
    yield "</header>"


def _section(name: str, heading: str, body: Iterable[str]) -> Iterator[str]:
    yield f'<section id="{name}" aria-labelledby="{name}-heading">'
    yield f'<h2 id="{name}-heading">{heading}</h2>'
    yield from body
    yield "</section>"


def _list(name: str, heading: str, texts: Sequence[str]) -> Iterator[str]:
    if texts:
        yield from _section(name, heading, _bullets(texts))


def _bullets(texts: Sequence[str]) -> Iterator[str]:
    if texts:
        yield "<ul>"
        yield from (f"<li>{_words(text)}</li>" for text in texts)
        yield "</ul>"


def _how_to_measure(chart: Chart) -> Iterator[str]:
    yield f"<p>{MEASURE_ADVICE}</p>"
    yield from _bullets(chart.measure_notes)


def _legend() -> Iterator[str]:
    yield f'<h3 class="legend">{SUPPORT_HEADING}</h3>'
    yield f"<p>{_words(support_note())}"
    yield f"A row marked <b>! {NOT_VERIFIED}</b> has no document behind it, or sources disagree.</p>"
    yield '<dl class="legend">'
    yield from (f"<div><dt>{mark}</dt><dd>{meaning}</dd></div>" for mark, meaning in support_legend())
    yield "</dl>"


def _pin_table(chart: Chart) -> Iterator[str]:
    headings = (
        "From",
        "Vehicle has",
        "Through",
        "To",
        "Trailer has",
        "Trailer",
        "Colour",
        "Support",
        "Remarks",
    )
    groups = [(group, [(_pin(row), row.unverified) for row in rows]) for group, rows in grouped(chart.pins)]
    yield from _table("From every vehicle contact to the trailer contact", headings, groups)


def _pin(row: PinRow) -> list[_Cell]:
    connected = bool(row.trailer_contact)
    remarks = [f"Live when: <code>{_words(row.logic)}</code>"] if row.logic else []
    remarks += [_words(row.note)] if row.note else []
    return [
        _Cell(_mark(row.start) if row.vehicle_contact else row.start, "contact" if connected else "contact alone"),
        _Cell(_words(row.vehicle_words)),
        _Cell(_fused(through(row))),
        _Cell(_mark(row.trailer_contact), "contact to"),
        _Cell(_words(row.circuit if connected else "")),
        _Cell(_words(row.trailer)),
        _Cell(_colour(row.colour, row.colour_word) if connected else "", "colour half"),
        _support(row),
        _Cell("<br>".join(remarks)),
    ]


def _conductor_table(chart: Chart) -> Iterator[str]:
    ends = ("Ref", "From", "To", "Circuit")
    headings = (*ends, "Colour", "Size", "Length", "Fuse", "Channel", "Trailer", "Marking", "Support")
    groups = [(group, [(_conductor(row), row.unverified) for row in rows]) for group, rows in grouped(chart.conductors)]
    yield from _table("Every conductor to cut, with its two ends", headings, groups)


def _conductor(row: ConductorRow) -> list[_Cell]:
    return [
        _Cell(_mark(row.ref), "contact"),
        _Cell(_mark(row.start), "contact"),
        _Cell(_mark(row.end), "contact to"),
        _Cell(_words(row.circuit), "half"),
        _Cell(_colour(row.colour, row.colour_word), "colour half"),
        _Cell(_words(row.size), "number half"),
        _Cell(_words(length_text(row)), "number half"),
        _Cell(_fused(row.fuse) or "–", "half"),
        _Cell(_words(row.channel), "half"),
        _Cell(_words(row.trailer or "all"), "half"),
        _Cell(_words(row.marking_words), "half"),
        _support(row),
    ]


def _relays(chart: Chart) -> Iterator[str]:
    if chart.relays:
        yield from _section(
            "relays", RELAYS_HEADING, [*(f"<p>{_words(n)}</p>" for n in chart.relay_notes), *_joints(chart)]
        )


def _joints(chart: Chart) -> Iterator[str]:
    for row in chart.relays:
        yield f"<h3>{_words(row.title)}</h3>"
        yield f"<p>{_words(row.sentences)}</p>"
        yield '<ul class="joints">'
        yield from (f"<li>{_words(joint)}</li>" for joint in row.joints)
        yield "</ul>"


def _fused(text: str) -> str:
    """Return words with the ones that no fuse is there in bold."""
    front, found, rest = text.partition(NO_FUSE)
    return f"{_words(front)}<b>{NO_FUSE}</b>{_words(rest)}" if found else _words(text)


def _support(row: PinRow | ConductorRow | MeasureRow) -> _Cell:
    return _Cell(_words(marks_text(row.support, False)) + (_WARNING if row.unverified else ""), "half")


def _measure_table(chart: Chart) -> Iterator[str]:
    headings = ("Contact", "Against", "Controls", "Meter shows", "Because it is", "Support", "Reading")
    groups = [
        (connector, [(_measure(row), row.unverified) for row in rows])
        for connector, rows in measures_by_connector(chart.measures)
    ]
    yield from _table("What the meter must show before anything is plugged in", headings, groups)


def _measure(row: MeasureRow) -> list[_Cell]:
    return [
        _Cell(_mark(row.contact), "contact"),
        _Cell(_mark(row.against), "contact to against"),
        _Cell(_words(row.switch)),
        _Cell(f"<b>{_words(row.expected)}</b>"),
        _Cell(_words(row.why)),
        _support(row),
        _Cell("", "reading"),
    ]


def _words(text: str) -> str:
    """Return ``text`` escaped; a word too long for a column may break anywhere, shorter ones stay whole."""
    return " ".join(_breakable(word) for word in bind_units(text).split(" "))


def _breakable(word: str) -> str:
    if len(word) <= _LONGEST_WORD:
        return escape_html(word)
    step = _LONGEST_WORD // 2
    return "<wbr>".join(escape_html(word[start : start + step]) for start in range(0, len(word), step))


def _mark(text: str) -> str:
    """Return a contact mark or designation; several joined with a plus may break after the plus."""
    if not text:
        return ""
    parts = re.split(r"(?<=\+)(?=[A-Z])", text)
    return '<bdi class="mark">' + "<wbr>".join(_words(part) for part in parts) + "</bdi>"


def _colour(code: str, word: str) -> str:
    return f"{swatch(code)} {_words(colour_text(code, word))}".strip()


_Groups = Sequence[tuple[str, Sequence[tuple[Sequence[_Cell], bool]]]]


def _table(caption: str, headings: Sequence[str], groups: _Groups) -> Iterator[str]:
    """Yield a table; roles are stated because the phone layout takes the table display off the elements."""
    if not groups:
        yield "<p>None.</p>"
        return
    yield '<table role="table">'
    yield f"<caption>{caption}</caption>"
    yield '<thead role="rowgroup"><tr role="row">'
    yield from (f'<th scope="col" role="columnheader">{heading}</th>' for heading in headings)
    yield "</tr></thead>"
    for group, rows in groups:
        yield '<tbody role="rowgroup">'
        name = _words(group)
        head = f'<th scope="rowgroup" role="rowheader" colspan="{len(headings)}">{name}</th>'
        yield f'<tr role="row" class="group">{head}</tr>'
        yield from (_row(headings, cells, marked) for cells, marked in rows)
        yield "</tbody>"
    yield "</table>"


def _row(headings: Sequence[str], cells: Sequence[_Cell], marked: bool) -> str:
    parts = ['<tr role="row" class="unverified">' if marked else '<tr role="row">']
    for index, (heading, cell) in enumerate(zip(headings, cells, strict=True)):
        kinds = " ".join(part for part in (cell.kind, "" if cell.html else "empty") if part)
        look = f' class="{kinds}"' if kinds else ""
        if index == 0:
            parts.append(f'<th scope="row" role="rowheader"{look} data-label="{heading}">{cell.html}</th>')
        else:
            parts.append(f'<td role="cell"{look} data-label="{heading}">{cell.html}</td>')
    return "".join([*parts, "</tr>"])
