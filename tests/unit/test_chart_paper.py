"""The chart as a paper: nothing lost on the way, dangers first, what to measure last, doubt told in words."""

import re
from dataclasses import replace

import pytest

from tests.unit.papers import TEXTS, bare, rows_of, said
from tests.unit.sample_chart import hostile_chart, sample_chart
from wiregen.chart.paper import chart_paper
from wiregen.model.chart import NO_FUSE
from wiregen.paper.blocks import LAST_WORD, Table, cells_of
from wiregen.paper.csv_text import csv_text
from wiregen.paper.html import html_text
from wiregen.paper.markdown import markdown_text
from wiregen.paper.safe_text import display_width
from wiregen.paper.terminal import terminal_text

PEOPLE = (terminal_text, markdown_text, html_text)


def flat(text):
    return bare(re.sub(r"\\(?=[^\w\s]|_)|<wbr>", "", text))


def test_every_format_carries_the_whole_chart(tmp_path):
    """Every cell of every table, every note and caution, in all seven formats."""
    paper = chart_paper(sample_chart())
    wanted = {bare(text) for text in cells_of(paper) if text}
    assert len(wanted) > 100
    columns = [column for block in paper.blocks if isinstance(block, Table) for column in block.columns]
    fields = {bare(column.head) for column in columns if column.field_mm}
    for name, text in said(paper, tmp_path).items():
        missing = {one for one in wanted if one not in text}
        assert missing - (fields if name == "terminal" else set()) == set(), name


@pytest.mark.parametrize("writer", TEXTS)
def test_every_contact_wire_and_measurement_is_there(writer):
    """What stands in the record reaches the paper: marks, tags, markings, sizes, lengths, expected readings, joints."""
    chart = sample_chart()
    paper = chart_paper(chart)
    text = flat(terminal_text(paper, 1000) if writer is terminal_text else writer(paper))
    wanted = {mark for row in chart.pins for mark in row.vehicle_contact.split(" + ")}
    wanted |= {row.tag for row in chart.pins} | {row.marking for row in chart.conductors}
    wanted |= {row.trailer_contact for row in chart.pins}
    for row in chart.conductors:
        wanted |= {row.ref, row.start, row.end, row.size, f"{row.length_m:.2f}", f"{row.length_ft:.2f}", row.fuse}
    wanted |= {words for row in chart.measures for words in (row.expected, row.switch, row.against, row.why)}
    for row in chart.relays:
        wanted |= {*row.joints, row.circuit, row.logic, row.contacts, row.note}
    assert {item for item in wanted if flat(item) not in text} == set()


@pytest.mark.parametrize("writer", TEXTS)
def test_dangers_come_first_and_the_measurements_last(writer):
    """What can hurt stands before the first contact; what to measure comes last, with nothing behind it."""
    chart = sample_chart()
    text = flat(writer(chart_paper(chart))).replace(flat(LAST_WORD), "")
    cautions = [text.index(flat(caution)) for caution in chart.cautions]
    first_contact = min(text.index(mark) for mark in ("x1:e", "x2:3"))
    notices, last = text.index(flat(chart.notices[-1])), text.rindex(flat("tail, after the adapter"))
    assert text.index(chart.sheet.digest) < cautions[0]
    assert [*cautions, first_contact, notices, last] == sorted([*cautions, first_contact, notices, last])
    assert text.rindex(flat(chart.measure_notes[0])) < last
    assert len(text) - last < (250 if writer is html_text else 60)


@pytest.mark.parametrize("writer", TEXTS)
def test_a_wire_without_fuse_says_so(writer):
    """The one wire that a supply feeds without a fuse says it in words; none says it once the fuse is there."""
    chart = sample_chart()
    fused = replace(chart, conductors=tuple(replace(row, fuse=row.fuse and "F6 30 A") for row in chart.conductors))
    counts = [" ".join(writer(chart_paper(each)).split()).count(NO_FUSE) for each in (chart, fused)]
    # Once in the table and once where its meaning is told.
    assert counts == [2, 0]


@pytest.mark.parametrize("writer", TEXTS)
def test_lengths_stand_in_metres_and_feet(writer):
    """Whoever cuts to feet need not convert: 4.75 m are 15.58 ft (1 ft = 0.3048 m, yard and pound agreement 1959)."""
    text = flat(writer(chart_paper(sample_chart())))
    assert ("4.75" in text, "15.58" in text) == (True, True)


@pytest.mark.parametrize("writer", PEOPLE)
def test_a_free_colour_is_any(writer):
    """A wire whose colour the rig leaves open may have any, which is no colour named 'free'."""
    assert len(re.findall(r"\bany\b", writer(chart_paper(sample_chart())))) == 2


@pytest.mark.parametrize("writer", TEXTS)
def test_what_rests_on_memory_says_so(writer):
    """Contact, wire and measurement from memory carry a sign, the contact the words; both go when the row is sure."""
    chart = sample_chart()
    sure = replace(chart, pins=tuple(replace(row, unverified=False) for row in chart.pins))
    marked, unmarked = (flat(writer(chart_paper(each))).count("!notverified") for each in (chart, sure))
    assert (marked, unmarked) == (1, 0)
    rows = [row for block in chart_paper(chart).blocks if isinstance(block, Table) for row in block.rows]
    assert [row.cells[0].text for row in rows if row.marked] == ["X1:D\N{NO-BREAK SPACE}+ X1:L", "W20", "2"]
    proofs = {cell.text for row in rows if row.marked for cell in row.cells if cell.text.endswith("!")}
    assert proofs == {"2, 2\N{NO-BREAK SPACE}→ ? !", "? !"}


def test_csv_proof_is_no_day():
    """Several marks are joined by an arrow: a spreadsheet would read 2 / 1 as a day of the year."""
    rows = rows_of(csv_text(chart_paper(sample_chart())))
    column = rows[0].index("Proof")
    assert {row[column] for row in rows[1:]} == {"", "2", "2, 2 → ? !", "1", "? !"}


@pytest.mark.parametrize("writer", PEOPLE)
def test_an_empty_chart_still_prints(writer):
    """A rig with nothing converted yet still gives a chart with its headings."""
    chart = sample_chart()
    chart = replace(chart, pins=(), conductors=(), measures=(), notices=(), cautions=(), connectors=(), relays=())
    text = writer(chart_paper(chart)).lower()
    wanted = ("pin to pin", "cut list", "measure before connecting", "none.")
    assert [word for word in wanted if word not in text] == []


def test_without_relays_there_is_no_heading_for_them():
    """Nothing of relays on the chart of a rig without."""
    assert "relay wiring" in terminal_text(chart_paper(sample_chart())).lower()
    assert "relay wiring" not in terminal_text(chart_paper(replace(sample_chart(), relays=()))).lower()


# --- terminal


def test_every_word_stands_on_80_columns():
    """Wrapped or below its row, no word of any cell is lost on a narrow terminal."""
    paper = chart_paper(sample_chart())
    words = {word for text in cells_of(paper) for word in re.findall(r"[^\W_]+", text.lower())}
    assert words - set(re.findall(r"[^\W_]+", terminal_text(paper).lower())) == {"fitted", "reading"}


@pytest.mark.parametrize("text", ["x" * 500, "word " * 100, "幅" * 250, "<b>\x00\x1b[31m" * 20, ""])
def test_terminal_keeps_80_columns_with_hostile_words(text):
    """Long words, wide characters and control characters do not break the tables."""
    lines = terminal_text(chart_paper(hostile_chart(text))).splitlines()
    assert [line for line in lines if display_width(line) > 80] == []


def test_terminal_never_cuts_a_contact_mark():
    """At 80 columns every contact mark stands whole on one line."""
    chart = sample_chart()
    text = terminal_text(chart_paper(chart))
    marks = {mark for row in chart.pins for mark in row.vehicle_contact.split(" + ") if mark}
    marks |= {row.trailer_contact for row in chart.pins if row.trailer_contact}
    marks |= {mark for row in chart.conductors for mark in (row.ref, row.start, row.end)}
    whole = {word for line in text.splitlines() for word in re.split(r"[ +]+", line)}
    # A terminal named "+" ends its own designation and would be split by the line above.
    assert marks - whole - {"G1:+"} == set()
    assert "G1:+" in text


@pytest.mark.parametrize("word", ["ignition-switched supply", "trailer-present contact", "identification, clearance"])
def test_terminal_breaks_no_word_inside(word):
    """At 80 columns a long word of the trade breaks at its hyphen or not at all."""
    chart = sample_chart()
    pins = tuple(replace(row, vehicle_circuit=word, circuit=word) for row in chart.pins)
    conductors = tuple(replace(row, circuit=word, trailer=word) for row in chart.conductors)
    text = terminal_text(chart_paper(replace(chart, pins=pins, conductors=conductors)))
    pieces = {piece for whole in word.split() for piece in re.findall(r"[^-]+-?", whole)}
    assert pieces - set(re.split(r"[ \n]+|(?<=-)", text)) == set()
    assert [line for line in text.splitlines() if display_width(line) > 80] == []


@pytest.mark.parametrize("writer", PEOPLE)
def test_a_plus_between_contacts_stands_behind_one(writer):
    """No line can start with the plus, or hold nothing else."""
    text = writer(chart_paper(sample_chart()))
    assert [line for line in text.splitlines() if line.strip().startswith("+ ")] == []
    assert re.search(r"X1:A +\+", text.replace("\N{NO-BREAK SPACE}", "_")) is None or writer is terminal_text
