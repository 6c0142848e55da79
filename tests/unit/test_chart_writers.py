"""The chart as terminal text, CSV, Markdown and HTML: complete, safe and the same on every run."""

import base64
import csv
import hashlib
import io
import re
import unicodedata
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.sample_chart import hostile_chart, sample_chart
from wiregen.catalogue.connector import COLOURS
from wiregen.chart.csv_text import csv_text
from wiregen.chart.html_text import SWATCHES, html_text, swatch
from wiregen.chart.markdown import markdown_text
from wiregen.chart.text import support_legend, terminal_text, wrap
from wiregen.model.chart import NO_FUSE
from wiregen.paper.safe_text import (
    REPLACEMENT,
    clean,
    display_width,
    escape_markdown,
    guard_csv,
)

WRITERS = (terminal_text, csv_text, markdown_text, html_text)
RLO = "\N{RIGHT-TO-LEFT OVERRIDE}"
HOSTILE = f'<script>alert("1")</script> & {RLO}B:1X | =1+1 `x` \x1b[31m\x00\r\n[a](http://b.example) ' + "\ud800"


class _Page(HTMLParser):
    """Collects tags, attributes and text of a page."""

    def __init__(self):
        super().__init__()
        self.tags = []
        self.words = []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.words.append(data)


def read_page(text):
    page = _Page()
    page.feed(text)
    return page


def flat(text):
    """Text without spaces and line ends, so that wrapping does not matter."""
    return re.sub(r"[\s\\]+|<wbr>", "", text)


def rows_of(text):
    return list(csv.reader(io.StringIO(text, newline=""), strict=True))


# --- all writers


@pytest.mark.parametrize("writer", WRITERS)
def test_writers_repeat_byte_for_byte(writer):
    """The same chart gives the same bytes, so that a packet can be compared with the last one."""
    assert writer(sample_chart()).encode() == writer(sample_chart()).encode()


@pytest.mark.parametrize("writer", WRITERS)
def test_every_contact_conductor_and_measure_is_there(writer):
    """No contact, conductor or expected reading is lost on the way to paper."""
    chart = sample_chart()
    text = flat(writer(chart))
    wanted = {mark for row in chart.pins for mark in row.vehicle_contact.split(" + ")}
    wanted |= {row.tag for row in chart.pins} | {row.marking for row in chart.conductors}
    wanted |= {row.trailer_contact for row in chart.pins}
    wanted |= {row.ref for row in chart.conductors} | {row.start for row in chart.conductors}
    wanted |= {row.size for row in chart.conductors} | {row.length_m for row in chart.conductors}
    texts = {f"{item:.2f}" if isinstance(item, float) else flat(item) for item in wanted}
    assert {item for item in texts if item not in text} == set()


@pytest.mark.parametrize("writer", WRITERS)
def test_relays_are_told_terminal_by_terminal(writer):
    """Every joint of every relay channel, its logic and its contacts reach the reader; without relays no heading."""
    chart = sample_chart()
    text = flat(writer(chart))
    for row in chart.relays:
        wanted = (*row.joints, row.circuit, row.logic, row.contacts, row.note)
        assert [words for words in wanted if flat(words) not in text.replace("\N{NO-BREAK SPACE}", "")] == []
    assert "relaywiring" in text.lower()
    assert "relaywiring" not in flat(writer(replace(chart, relays=()))).lower()


@pytest.mark.parametrize("writer", [markdown_text, html_text, csv_text])
def test_every_expected_reading_is_there(writer):
    """Each row of the measure table survives with its expectation."""
    text = flat(writer(sample_chart()))
    assert [row.expected for row in sample_chart().measures if flat(row.expected) not in text] == []


@pytest.mark.parametrize("writer", WRITERS)
def test_cautions_come_first_and_the_measure_table_last(writer):
    """What can hurt stands before the first contact; what to measure comes last, with nothing behind it."""
    chart = sample_chart()
    text = flat(writer(chart))
    cautions = [text.index(flat(caution)) for caution in chart.cautions]
    first_contact = min(text.index(mark) for mark in ("X1:E", "X2:3"))
    notices, last = text.index(flat(chart.notices[-1])), text.rindex(flat("tail, after the adapter"))
    assert text.index(chart.sheet.digest) < cautions[0]
    assert [*cautions, first_contact, notices, last] == sorted([*cautions, first_contact, notices, last])
    assert text.rindex(flat(chart.measure_notes[0])) < last
    assert len(text) - last < 250 if writer is html_text else len(text) - last < 60


@pytest.mark.parametrize("writer", WRITERS)
def test_a_conductor_without_fuse_says_so(writer):
    """The one conductor that a supply feeds without a fuse says it in words; none says it once the fuse is there."""
    chart = sample_chart()
    fused = replace(chart, conductors=tuple(replace(row, fuse=row.fuse and "F6 30 A") for row in chart.conductors))
    counts = [writer(each).replace("\N{NO-BREAK SPACE}", " ").count(NO_FUSE) for each in (chart, fused)]
    # Once in the table and once where its meaning is told.
    assert counts == [2, 0]


@pytest.mark.parametrize("writer", WRITERS)
def test_lengths_stand_in_metres_and_feet(writer):
    """Whoever cuts to feet need not convert: 4.75 m are 15.58 ft (1 ft = 0.3048 m, yard and pound agreement 1959)."""
    text = flat(writer(sample_chart()))
    assert ("4.75" in text, "15.58" in text) == (True, True)


@pytest.mark.parametrize("writer", [terminal_text, markdown_text, html_text])
def test_a_free_colour_is_any(writer):
    """A conductor whose colour the rig leaves open may have any, which is no colour named 'free'."""
    text = writer(sample_chart())
    assert len(re.findall(r"\bany\b", text)) == 2


@pytest.mark.parametrize("writer", WRITERS)
def test_unverified_row_is_marked_in_words(writer):
    """A row from memory carries a word, not only a colour, and the word goes when the row is sure."""
    chart = sample_chart()
    sure = replace(chart, pins=tuple(replace(row, unverified=False) for row in chart.pins))
    word = "yes" if writer is csv_text else "not verified"
    marked, unmarked = (writer(each).lower().count(word) for each in (chart, sure))
    assert marked == unmarked + 1


def test_conductor_and_measurement_from_memory_are_marked():
    """The conductor and the measurement that rest on memory carry the sign, in every layout for people."""
    text = next(line for line in terminal_text(sample_chart()).splitlines() if line.startswith("W20 "))
    measure = [line for line in terminal_text(sample_chart()).splitlines() if line.startswith("2 ")][-1]
    markdown = next(line for line in markdown_text(sample_chart()).splitlines() if "**W20**" in line)
    page = next(line for line in html_text(sample_chart()).splitlines() if ">W20<" in line)
    assert (text.split()[-1], measure.split()[-1]) == ("?!", "?!")
    assert ("?\\! **! not verified**" in markdown, "! not verified" in page) == (True, True)
    assert markdown_text(sample_chart()).splitlines()[-1].split(" | ")[-2] == "?\\! **! not verified**"
    assert html_text(sample_chart()).count('class="unverified"') == 3


def test_csv_says_which_rows_are_unverified():
    """The column is right for all three tables: one row of each rests on memory."""
    rows = [dict(zip(table[0], row, strict=True)) for table in [rows_of(csv_text(sample_chart()))] for row in table[1:]]
    doubtful = [(row["section"], row["support"]) for row in rows if row["unverified"] == "yes"]
    assert doubtful == [("pins", "vehicle 2, 2 / trailer ?"), ("conductors", "?"), ("measures", "?")]


@pytest.mark.parametrize("writer", WRITERS)
def test_hostile_words_leave_no_control_or_bidi_character(writer):
    """Escape sequences, NUL, lone surrogates and direction overrides never reach the file."""
    text = writer(hostile_chart(HOSTILE))
    text.encode("utf-8")
    bad = [hex(ord(c)) for c in text if unicodedata.category(c) in ("Cc", "Cf", "Cs") and c not in "\r\n"]
    assert bad == []
    assert REPLACEMENT in text


@pytest.mark.parametrize("writer", WRITERS)
def test_empty_chart_still_prints(writer):
    """A rig with nothing converted yet still gives a chart with its headings."""
    chart = replace(sample_chart(), pins=(), conductors=(), measures=(), notices=(), cautions=(), connectors=())
    text = writer(chart).lower()
    wanted = ("trailer_contact", "length_m") if writer is csv_text else ("pin to pin", "measure before connecting")
    assert [word for word in wanted if word not in text] == []


# --- terminal


@pytest.mark.parametrize("width", [48, 60, 80, 100, 132])
def test_terminal_keeps_the_width(width):
    """No line is wider than asked."""
    lines = terminal_text(sample_chart(), width).splitlines()
    assert [line for line in lines if display_width(line) > width] == []


@pytest.mark.parametrize("text", ["x" * 500, "word " * 100, "幅" * 250, HOSTILE * 5, ""])
def test_terminal_keeps_80_columns_with_hostile_words(text):
    """Long words, wide characters and control characters do not break the table."""
    lines = terminal_text(hostile_chart(text)).splitlines()
    assert [line for line in lines if display_width(line) > 80] == []


@given(st.text(max_size=200), st.integers(min_value=8, max_value=90))
def test_wrapping_loses_nothing(text, width):
    """Whatever is wrapped stays within the width and keeps every character that is no space."""
    bare = clean(text)
    lines = wrap(bare, width, "  ")
    assert all(display_width(line) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == bare.replace(" ", "")


def test_terminal_never_cuts_a_contact_mark():
    """At 80 columns every contact mark stands whole on one line."""
    chart = sample_chart()
    text = terminal_text(chart)
    marks = {mark for row in chart.pins for mark in row.vehicle_contact.split(" + ") if mark}
    marks |= {row.trailer_contact for row in chart.pins if row.trailer_contact}
    marks |= {mark for row in chart.conductors for mark in (row.ref, row.start, row.end)}
    whole = {word for line in text.splitlines() for word in re.split(r"[ +]+", line)}
    # A terminal named "+" ends its own designation and would be split by the line above.
    assert marks - whole - {"G1:+"} == set()
    assert "G1:+" in text


@pytest.mark.parametrize("word", ["ignition-switched supply", "trailer-present contact", "identification, clearance"])
def test_terminal_breaks_no_word_inside_and_keeps_the_gaps(word):
    """At 80 columns a long word of the trade breaks at its hyphen or not at all, and no two cells touch."""
    chart = sample_chart()
    pins = tuple(replace(row, vehicle_circuit=word, circuit=word) for row in chart.pins)
    conductors = tuple(replace(row, circuit=word, trailer=word) for row in chart.conductors)
    text = terminal_text(replace(chart, pins=pins, conductors=conductors))
    pieces = {piece for whole in word.split() for piece in re.findall(r"[^-]+-?", whole)}
    assert pieces - set(re.split(r"[ \n]+|(?<=-)", text)) == set()
    rules = [line for line in text.splitlines() if set(line) == {"─", " "}]
    assert [re.search(r"─ ─", rule) for rule in rules] == [None] * 3
    assert [line for line in text.splitlines() if display_width(line) > 80] == []


@pytest.mark.parametrize("writer", [terminal_text, markdown_text, html_text])
def test_a_plus_between_contacts_stands_behind_one(writer):
    """No line can start with the plus, or hold nothing else."""
    text = writer(sample_chart())
    assert [line for line in text.splitlines() if line.strip().startswith("+ ")] == []
    assert re.search(r"X1:A +\+", text.replace("\N{NO-BREAK SPACE}", "_")) is None or writer is terminal_text


def test_terminal_has_headings_and_support_legend():
    """The three tables and what the support marks mean are there."""
    text = terminal_text(sample_chart())
    for wanted in (
        "PIN TO PIN",
        "CONDUCTORS",
        "MEASURE BEFORE CONNECTING",
        "NOTICES",
        "CAUTIONS",
        "Support marks (Sup.)",
    ):
        assert wanted in text
    assert "≠ = sources disagree" in text


# --- CSV


@pytest.mark.parametrize("which", ["all", "pins", "conductors", "measures"])
def test_csv_is_rectangular_with_crlf(which):
    """RFC 4180: every record ends with CRLF and has as many fields as the heading."""
    text = csv_text(sample_chart(), which)
    rows = rows_of(text)
    assert {len(row) for row in rows} == {len(rows[0])}
    assert text.count("\n") == text.count("\r\n") == len(rows)


def test_csv_counts_every_row():
    """Each table holds one record for each row of the chart, the combined one all of them and all words."""
    chart = sample_chart()
    counts = {which: len(rows_of(csv_text(chart, which))) - 1 for which in ("pins", "conductors", "measures", "all")}
    words = len(chart.notices) + len(chart.cautions) + len(chart.conductor_notes) + 1 + len(chart.measure_notes)
    words += len(chart.relay_notes) + len(chart.relays)
    legend, sheet = len(support_legend()) + 1, 6 + len(chart.connectors)
    assert counts == {"pins": 11, "conductors": 22, "measures": 12, "all": 45 + words + legend + sheet}


def test_csv_begins_with_the_sheet():
    """Title, revision, date and digest lead, so that a loose file says what it belongs to."""
    rows = rows_of(csv_text(sample_chart()))
    sheet = sample_chart().sheet
    assert rows[0][:3] == ["section", "key", "text"]
    assert [row[:3] for row in rows[1:5]] == [
        ["sheet", "title", sheet.title],
        ["sheet", "revision", sheet.revision],
        ["sheet", "date", sheet.date],
        ["sheet", "digest", sheet.digest],
    ]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"])
def test_csv_disarms_formulas(start):
    """A cell that a spreadsheet would run as a formula starts with an apostrophe."""
    for text in (f"{start}1+1", f"  {start}cmd|' /C calc'!A0"):
        rows = rows_of(csv_text(hostile_chart(text), "measures"))
        cells = {cell[:1] for row in rows[1:] for cell in row[: rows[0].index("support")]}
        assert cells == ({"'"} if start not in "\t\r\n" or text[0] == start else {" "})


def test_csv_round_trips_quotes_commas_and_lines():
    """Quotes and commas come back from a reader; line ends become spaces."""
    rows = rows_of(csv_text(hostile_chart('say "no", twice\nplease'), "measures"))
    assert rows[1][1] == 'say "no", twice please'


def test_csv_support_is_no_date():
    """Several marks are written out: a spreadsheet would read 2 / 1 as a date."""
    text = csv_text(sample_chart(), "pins")
    rows = rows_of(text)
    column = rows[0].index("support")
    assert {row[column] for row in rows[1:]} == {"2", "vehicle 2, 2 / trailer ?", "1"}


def test_csv_leaves_designations_alone():
    """Plain designations get no apostrophe."""
    assert [guard_csv(text) for text in ("X1:E", "W4", "0 V", "2.5 mm²")] == ["X1:E", "W4", "0 V", "2.5 mm²"]


# --- Markdown


def test_markdown_tables_are_rectangular():
    """Every table line has as many bars as its heading, even with bars in the words."""
    for chart in (sample_chart(), hostile_chart("a|b \\| c || d")):
        lines = [line for line in markdown_text(chart).splitlines() if line.startswith("|")]
        counts = {len(re.findall(r"(?<!\\)(?:\\\\)*\|", line)) for line in lines}
        assert counts == {10, 13, 9}


def test_markdown_escapes_html_and_links():
    """No tag, link, code, mention or formula of the user's survives."""
    text = markdown_text(hostile_chart(HOSTILE))
    assert "<script" not in text
    assert re.search(r"(?<!\\)\[a(?<!\\)\]\(", text) is None
    assert re.search(r"(?<!\\)`", text) is None
    assert "http://" not in text


@pytest.mark.parametrize(
    ("raw", "escaped"),
    [
        ("a|b", r"a\|b"),
        ("a & <b>", "a &amp; &lt;b&gt;"),
        ("stop_left", r"stop\_left"),
        ("www.x.example", r"www\.x.example"),
    ],
)
def test_markdown_escapes(raw, escaped):
    """What the escapes look like."""
    assert escape_markdown(raw) == escaped


# --- HTML


def test_page_policy_names_the_hash_of_its_style():
    """The policy allows this style sheet and nothing else; a wrong hash would switch the layout off."""
    text = html_text(sample_chart())
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', text).group(1)
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL).group(1)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert policy.startswith(f"default-src 'none'; style-src 'sha256-{digest}';")


def test_page_loads_and_runs_nothing():
    """No script, no outside address, no inline style, no event attribute, also with hostile words."""
    for chart in (sample_chart(), hostile_chart(HOSTILE)):
        page = read_page(html_text(chart))
        names = {tag for tag, _ in page.tags}
        attributes = {name for _, attrs in page.tags for name in attrs}
        assert names & {"script", "link", "img", "iframe", "object", "form", "a:link"} == set()
        assert {name for name in attributes if name in ("src", "style", "srcset") or name.startswith("on")} == set()
        assert {attrs["href"][:1] for tag, attrs in page.tags if tag == "a"} == {"#"}


def test_page_shows_hostile_words_as_text():
    """The reader sees the words as they were written, as text."""
    page = read_page(html_text(hostile_chart("<script>alert(1)</script> & \"q\" 'r'")))
    assert "<script>alert(1)</script> & \"q\" 'r'" in "".join(page.words)


def test_page_is_accessible():
    """Language, title, one top heading, captions, scopes on heading cells, roles kept."""
    page = read_page(html_text(sample_chart()))
    count = [tag for tag, _ in page.tags].count
    assert ("html", {"lang": "en"}) in page.tags
    assert (count("title"), count("h1"), count("main"), count("table"), count("caption")) == (1, 1, 1, 3, 3)
    assert {attrs.get("scope") for tag, attrs in page.tags if tag == "th"} == {"col", "row", "rowgroup"}
    assert all("role" in attrs for tag, attrs in page.tags if tag in ("table", "thead", "tbody", "tr", "th", "td"))
    assert all(attrs["aria-hidden"] == "true" for tag, attrs in page.tags if tag == "svg")
    ids = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))


def test_page_puts_code_and_word_beside_every_swatch():
    """A swatch never stands alone: code and word follow it."""
    text = html_text(sample_chart())
    swatches = text.count('<svg class="swatch"')
    named = len(re.findall(r"</svg> (?:[A-Z]{2})(?:/[A-Z]{2})? [a-z]+(?:/[a-z]+)?<", text))
    assert (swatches, named) == (10 + 20, 10 + 20)


def test_swatches_cover_every_colour_and_show_the_stripe():
    """Each colour of the catalogue has a swatch; a second colour is a stripe on the first."""
    assert set(SWATCHES) == set(COLOURS)
    assert len(set(SWATCHES.values())) == len(COLOURS)
    striped = swatch("WH/BK")
    assert striped.index(SWATCHES["WH"]) < striped.index(SWATCHES["BK"])
    assert swatch("") == ""
