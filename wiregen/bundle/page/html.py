"""The page itself: drawing, controls and tables of a rig in one file that loads nothing and runs only its own script.

Every word of the rig is escaped; the content security policy names the page's own style and script by their hashes and
allows nothing else, so the page itself proves that it does not reach for a network. Without scripts it shows the first
state: everything off.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from importlib.resources import files
from typing import Final

from wiregen.bundle.page.data import SHOWS, controls_of, json_text, range_digits, range_ends
from wiregen.bundle.page.guide import guide_sections
from wiregen.model.circuit import Conductor, Element
from wiregen.model.live import LivePage, LiveSheets, LiveState, Show
from wiregen.model.reading import Reading
from wiregen.paper.outward import end, fixed
from wiregen.paper.safe_text import clean, escape_html

#: A phone opens a file of so many bytes from its file store at once; the guide gives way when there is more.
MOST_BYTES: Final = 300_000
_ADVICE: Final = (
    "Computed from the rig file, not measured: advice, no proof. Measure before you connect; test every lamp and the "
    "brakes before you drive. Local codes and qualified people have the last word."
)
#: What a lamp shows and what a load does, in the order of ``SHOWS``.
_SHOWS: Final = ("dark", "dim", "lit", "too bright")
_DOES: Final = ("off", "weak", "on", "too strong")
_PICK: Final = "Tap a wire or a part of the drawing to read it."
_GROUP: Final = re.compile(r'<g(?: id="(?P<id>[^"]*)")? class="(?P<class>[^"]*)"(?P<data>(?: data-\w+="[^"]*")+)>')
_ROOT: Final = re.compile(r'width="[^"]*" height="[^"]*" viewBox="[^"]*"')
_ID: Final = re.compile(r'(?P<what> id="| aria-labelledby=")(?P<ids>[^"]*)"')
_KEY: Final = (
    ("live", "live: has voltage", 'stroke="#a00000" stroke-width="4"'),
    ("return", "return: ground side, carries current", 'stroke="#0047a8" stroke-width="3" stroke-dasharray="9 4"'),
    ("dead", "dead: neither", 'stroke="#555" stroke-width="1.2"'),
    ("floating", "floating: hangs free", 'stroke="#555" stroke-width="1.6" stroke-dasharray="2 4"'),
)


def page_text(page: LivePage) -> str:
    """Return the whole page as HTML; its fault guide is cut to the likeliest symptoms where there is too much of it."""
    without = ("",) * len(page.trailers)
    if not page.guides:
        return _text(page, without)
    return _text(page, guide_sections(page.guides, MOST_BYTES - len(_text(page, without).encode())))


def _text(page: LivePage, guides: Sequence[str]) -> str:
    style, script = _shipped("page.css"), _shipped("page.js") + _shipped("guide.js")
    policy = (
        f"default-src 'none'; style-src 'sha256-{_hash(style)}'; script-src 'sha256-{_hash(script)}'; "
        "base-uri 'none'; form-action 'none'"
    )
    return "\n".join(
        (
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{escape_html(policy)}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="referrer" content="no-referrer">',
            f"<title>{escape_html(page.title)}: work the controls</title>",
            f"<style>{style}</style>",
            "</head>",
            "<body>",
            *_header(page),
            "<main>",
            *_controls(page),
            '<p id="now" role="status">all off</p>',
            *(f"<p><small>{escape_html(note)}</small></p>" for note in page.notes),
            *_tools(),
            *(line for number, guide in enumerate(guides) for line in _trailer(page, number, guide)),
            "</main>",
            f'<script type="application/json" id="data">{json_text(page)}</script>',
            f"<script>{script}</script>",
            "</body>",
            "</html>",
            "",
        )
    )


@cache
def _shipped(name: str) -> str:
    return (files("wiregen.bundle.page") / name).read_text("utf-8")


def _hash(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _header(page: LivePage) -> Iterator[str]:
    yield "<header>"
    yield f"<h1>{escape_html(page.title)}</h1>"
    yield '<dl class="facts">'
    yield from (f"<div><dt>{escape_html(word)}</dt><dd>{escape_html(value)}</dd></div>" for word, value in page.facts)
    yield "</dl>"
    yield f'<div class="cautions"><p>{_ADVICE}</p><details><summary>All cautions</summary><ul>'
    yield from (f"<li>{escape_html(caution)}</li>" for caution in page.cautions)
    yield "</ul></details></div>"
    yield "<noscript><p><strong>Scripts are off: this is the first state, everything off.</strong></p></noscript>"
    yield "</header>"


def _controls(page: LivePage) -> Iterator[str]:
    yield '<div class="controls needs-script" hidden>'
    if len(page.trailers) > 1:
        names = [(str(number), one.table.circuit.trailer, number == 0) for number, one in enumerate(page.trailers)]
        yield from _choice("trailers", "Trailer", ((value, name, "", on) for value, name, on in names))
    for place, (control, positions) in enumerate(controls_of(page)):
        if control.rest is False:
            yield (
                f'<button type="button" role="switch" aria-checked="false" id="c-{place}-1" '
                f'data-words="{positions[0].words}">{control.label}</button>'
            )
            continue
        entries = [(str(n), position.label, position.words, False) for n, position in enumerate(positions, start=1)]
        rest = ("0", control.rest_label, "", True)
        yield from _choice(f"control-{place}", control.label, (rest, *entries), f"c-{place}-")
    flasher = (("runs", "Runs", "", True), ("lit", "Lit", "", False), ("dark", "Dark", "", False))
    yield from _choice("flasher", "Flasher", flasher, hidden=True)
    yield "</div>"


def _choice(
    name: str, label: str, entries: Iterable[tuple[str, str, str, bool]], ids: str = "", *, hidden: bool = False
) -> Iterator[str]:
    yield f'<div id="{name}" role="radiogroup" aria-label="{label}"{" hidden" if hidden else ""}>'
    yield f"<small>{label}</small><br>"
    for value, title, words, on in entries:
        ident = f' id="{ids}{value}"' if ids else ""
        yield (
            f'<button type="button" role="radio" aria-checked="{str(on).lower()}"{ident} data-value="{value}" '
            f'data-words="{words}">{escape_html(title)}</button>'
        )
    yield "</div>"


def _tools() -> Iterator[str]:
    yield '<div class="tools needs-script" hidden>'
    yield '<label for="search">Find a contact, conductor or lamp<input type="search" id="search" size="18"></label>'
    yield '<button type="button" id="larger">Larger</button>'
    yield '<button type="button" id="smaller">Smaller</button>'
    yield '<button type="button" id="print">Print</button>'
    yield '<span id="hits" role="status"></span>'
    yield "</div>"
    yield '<ul class="key" aria-label="How the drawing tells conditions apart">'
    for _, words, pen in _KEY:
        line = f'<line x1="0" y1="6" x2="36" y2="6" {pen}/>'
        yield f'<li><svg viewBox="0 0 36 12" width="36" height="12" aria-hidden="true">{line}</svg>{words}</li>'
    yield "<li>switches and contacts are drawn at rest: a heavy one is closed, a grey coil has pulled in, "
    yield "a filled lamp is lit, one with a broken rim is dim</li>"
    yield "</ul>"
    yield f'<p id="picked" role="status" class="needs-script" hidden data-empty="{_PICK}">{_PICK}</p>'


def _trailer(page: LivePage, number: int, guide: str) -> Iterator[str]:
    one = page.trailers[number]
    circuit, first = one.table.circuit, one.table.states[0]
    hidden = " hidden" if number else ""
    yield f'<section id="trailer-{number}" aria-labelledby="trailer-{number}-heading"{hidden}>'
    yield f'<h2 id="trailer-{number}-heading">With {escape_html(circuit.trailer)}</h2>'
    yield guide
    yield '<div class="two"><div>'
    for sheet, drawing in enumerate(one.drawings):
        label = f"Schematic, sheet {sheet + 1} of {len(one.drawings)}"
        yield f'<div class="drawing" tabindex="0" role="group" aria-label="{label}">'
        yield _worked(drawing, one, f"t{number}s{sheet}-")
        yield "</div>"
    yield "</div><div>"
    readings = list(enumerate(first.readings.readings))
    yield from _contacts(page, one, readings)
    yield from _parts("Lamps and loads", "V across", one, [r for r in readings if r[1].kind in ("lamp", "load")])
    yield from _parts("Supplies", "V", one, [r for r in readings if r[1].kind == "supply"])
    yield "<p><small>V at a contact is against the connector's own ground contact, or the chassis where it has none; "
    yield "beneath it the range over battery and temperature.</small></p>"
    yield "</div></div>"
    yield from _conductors(one)
    yield "</section>"


def _worked(drawing: str, one: LiveSheets, prefix: str) -> str:
    """Return a drawing with ids that no other drawing of the page has, in the look of the first state."""
    circuit, first = one.table.circuit, one.table.states[0]
    condition = dict(zip(circuit.terminals, first.conditions, strict=True))

    def look(found: re.Match[str]) -> str:
        data = dict(re.findall(r' data-(\w+)="([^"]*)"', found["data"]))
        classes, element = found["class"], circuit.by_ref.get(data.get("ref", ""))
        if data.get("net") in condition:
            classes += f" c-{condition[data['net']]}"
        elif isinstance(element, Conductor):
            classes += f" c-{condition[element.a]}"
        elif element is not None and element.ref in first.shows:
            classes += f" l-{_slug(word_of(first.shows[element.ref], is_load=False))}"
        kept = "".join(f' data-{name}="{value}"' for name, value in data.items() if name in ("net", "ref"))
        return f'<g class="{classes}"{kept}>'

    window = " ".join(f"{value:g}" for value in one.window_mm)
    text = _ROOT.sub(f'viewBox="{window}"', _GROUP.sub(look, drawing), count=1)
    return _ID.sub(lambda m: m["what"] + " ".join(prefix + one for one in m["ids"].split()) + '"', text)


def _contacts(page: LivePage, one: LiveSheets, readings: Sequence[tuple[int, Reading]]) -> Iterator[str]:
    circuit, first = one.table.circuit, one.table.states[0]
    by_part: dict[str, list[tuple[int, Reading]]] = {}
    for place, reading in readings:
        if reading.kind == "contact":
            by_part.setdefault(reading.part, []).append((place, reading))
    for connector in dict.fromkeys(sides[0][1].connector for sides in by_part.values()):
        mine = [sides for sides in by_part.values() if sides[0][1].connector == connector]
        short = page.shells.get((circuit.trailer, connector), "")
        heads = ["Contact", "Carries", *(f"V {reading.side}" for _, reading in mine[0]), "A", "Is"]
        rows = []
        for sides in mine:
            reading = sides[0][1]
            cells = [
                _number(_two(r.volts_v.nominal), _range(r.volts_v.lowest, r.volts_v.highest, 100)) for _, r in sides
            ]
            amps = _number(_three(reading.amps_a.nominal), _range(reading.amps_a.lowest, reading.amps_a.highest, 1000))
            says = first.conditions[circuit.terminals.index(reading.at)]
            words = f"{connector} {reading.mark} {reading.what}"
            extra = f'data-reading="{" ".join(str(place) for place, _ in sides)}" data-at="{escape_html(reading.at)}"'
            rows.append(_row(reading.part, reading.mark, reading.what, [*cells, amps], says, words, extra))
        yield from _table(f"{connector} {short}", heads, rows)


def _parts(caption: str, volts: str, one: LiveSheets, readings: Sequence[tuple[int, Reading]]) -> Iterator[str]:
    circuit, first = one.table.circuit, one.table.states[0]
    rows = []
    for place, reading in readings:
        what = f"{reading.what}, {reading.side}" if reading.side else reading.what
        is_lamp = reading.part in first.shows
        says = (
            word_of(first.shows[reading.part], reading.kind == "load")
            if is_lamp
            else first.conditions[circuit.terminals.index(reading.at)]
        )
        cells = [
            _number(_two(reading.volts_v.nominal), _range(reading.volts_v.lowest, reading.volts_v.highest, 100)),
            _number(_three(reading.amps_a.nominal), _range(reading.amps_a.lowest, reading.amps_a.highest, 1000)),
        ]
        extra = f'data-reading="{place}" data-at="{escape_html(reading.at)}"'
        extra += f' data-lamp="{escape_html(reading.part)}"' if is_lamp else ""
        extra += ' data-load="yes"' if reading.kind == "load" else ""
        rows.append(_row(reading.part, reading.part, what, cells, says, f"{reading.part} {what}", extra))
    if rows:
        yield from _table(caption, ["Part", "Is a", volts, "A", "Shows" if caption.startswith("Lamps") else "Is"], rows)


def _conductors(one: LiveSheets) -> Iterator[str]:
    circuit, first = one.table.circuit, one.table.states[0]
    rows = [
        _row(
            element.ref,
            element.ref,
            element.title,
            [_number(*_at_start(circuit.terminals.index(element.a), first)), _number(_three(first.amps_a[n]))],
            first.conditions[circuit.terminals.index(element.a)],
            f"{element.ref} {element.title}",
            f'data-part="{escape_html(element.ref)}"',
        )
        for n, element in enumerate(circuit.elements)
        if _is_listed(element)
    ]
    yield "<details><summary>Every conductor, one by one</summary>"
    caption = (
        "Volts at the end nearer to the supply, against battery minus; amps towards the lamp, or back to the battery"
    )
    yield from _table(caption, ["Ref", "Is", "V", "A", "Is now"], rows)
    yield "</details>"


def _is_listed(element: Element) -> bool:
    return isinstance(element, Conductor)


def _at_start(terminal: int, state: LiveState) -> tuple[str, str]:
    volts = state.volts_v[terminal]
    return ("floats" if volts is None else _two(volts)), ""


def word_of(shows: Show, is_load: bool) -> str:
    """Return what a lamp, or a load that is no lamp, shows in the words of the page."""
    return (_DOES if is_load else _SHOWS)[SHOWS.index(shows)]


def _slug(word: str) -> str:
    return word.replace(" ", "-")


def _row(ref: str, name: str, what: str, cells: Sequence[str], says: str, words: str, extra: str) -> str:
    search = escape_html(clean(words).lower())
    return (
        f'<tr class="{_slug(says)}" data-now="{says}" data-ref="{escape_html(ref)}" data-words="{search}" {extra}>'
        f'<th scope="row"><bdi>{escape_html(name)}</bdi></th><td><bdi>{escape_html(what)}</bdi></td>'
        f'{"".join(cells)}<td class="s">{says}</td></tr>'
    )


def _table(caption: str, heads: Sequence[str], rows: Sequence[str]) -> Iterator[str]:
    """Yield a table that scrolls by itself where the screen is too narrow for it, with the keyboard too."""
    words = escape_html(caption)
    yield f'<div class="table" tabindex="0" role="region" aria-label="{words}">'
    yield f"<table><caption>{words}</caption><thead><tr>"
    yield from (f'<th scope="col">{escape_html(head)}</th>' for head in heads)
    yield "</tr></thead><tbody>"
    yield from rows
    yield "</tbody></table></div>"


def _number(value: str, small: str = "") -> str:
    return f'<td class="n">{value}<small>{small}</small></td>'


def _two(value: float | None) -> str:
    return "floats" if value is None else fixed(round(value * 100) / 100, 2)


def _three(value: float | None) -> str:
    return "–" if value is None else fixed(round(value * 1000) / 1000, 3)


def _range(low: float | None, high: float | None, scale: int) -> str:
    """Return the range as the script writes it, rounded outwards; empty where both ends print alike.

    Args:
        low: Lower end.
        high: Upper end.
        scale: Steps to a volt or an ampere: 100 or 1000.
    """
    first, last = range_ends(low, high, scale)
    if first is None or last is None:
        return ""
    return "\u2026".join(
        end(value / scale, range_digits(value / scale, scale), up=up) for value, up in ((first, False), (last, True))
    )
