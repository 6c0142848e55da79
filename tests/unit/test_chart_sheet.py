"""The chart as sheets: everything on them, headings repeated, nothing overlapping or outside the frame."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.sample_chart import hostile_chart, sample_chart
from tests.unit.sheet_checks import assert_sheet_is_sound, texts_of, words_of
from wiregen.chart.paper import chart_paper
from wiregen.draw.paper_sheet import paper_sheets
from wiregen.draw.scene import Rect, primitives
from wiregen.draw.svg import svg_text
from wiregen.draw.table import break_lines
from wiregen.draw.text_width import text_width_mm
from wiregen.model.chart import NO_FUSE


def chart_sheets(chart, size="a4"):
    """The sheets of a chart."""
    return paper_sheets(chart_paper(chart), size)


def long_chart():
    """The sample chart with five times the conductors."""
    chart = sample_chart()
    return replace(chart, conductors=chart.conductors * 5)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("make", [sample_chart, long_chart], ids=["sample", "long"])
def test_sheets_are_sound(make, paper):
    """No text on another, all inside the frame, none under 2 mm, valid SVG."""
    for scene in chart_sheets(make(), paper):
        assert_sheet_is_sound(scene)
        assert scene.width_mm > scene.height_mm


@pytest.mark.parametrize(
    "text", ["x" * 500, "<script>&</script> " * 30, "\N{RIGHT-TO-LEFT OVERRIDE}\x00", "", "幅" * 300]
)
def test_hostile_words_stay_inside(text):
    """500-character words, markup and control characters in every cell neither overlap nor leave the frame."""
    scenes = chart_sheets(hostile_chart(text))
    for scene in scenes:
        assert_sheet_is_sound(scene)
        assert "<script" not in svg_text(scene)


def test_every_contact_and_conductor_is_on_the_sheets():
    """Marks are never shortened, whatever else is."""
    chart = sample_chart()
    words = {word for scene in chart_sheets(chart) for word in words_of(scene).replace("+", " ").split()}
    marks = {mark for row in chart.pins for mark in row.vehicle_contact.split(" + ") if mark}
    marks |= {row.trailer_contact for row in chart.pins if row.trailer_contact}
    marks |= {mark for row in chart.conductors for mark in (row.ref, row.start, row.end)} - {"G1:+"}
    assert marks - words == set()
    expected = "".join(word for scene in chart_sheets(chart) for word in words_of(scene).split())
    assert [row.expected for row in chart.measures if row.expected.replace(" ", "") not in expected] == []


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_relay_wiring_is_on_the_sheets(paper):
    """Every joint of every relay channel is there, and nothing of relays on the chart of a rig without."""
    chart = sample_chart()
    expected = "".join(word for scene in chart_sheets(chart, paper) for word in words_of(scene).split())
    joints = [joint for row in chart.relays for joint in row.joints]
    assert [joint for joint in joints if "".join(joint.split()) not in expected] == []
    without = [word for scene in chart_sheets(replace(chart, relays=()), paper) for word in words_of(scene).split()]
    assert "Relay" not in without


def test_headings_are_repeated_and_groups_continued():
    """Every sheet with wires has the column headings; a group that goes on says so."""
    refs = {row.ref for row in long_chart().conductors}
    words = [words_of(scene) for scene in chart_sheets(long_chart())]
    with_rows = [text for text in words if refs & set(text.split())]
    assert len(with_rows) > 1
    assert [text.count("Wire From To Circuit") for text in with_rows] == [1] * len(with_rows)
    assert "(continued)" in "".join(words_of(scene) for scene in chart_sheets(long_chart()))


def test_pages_are_numbered():
    """Page x of y in the title block of every sheet."""
    scenes = chart_sheets(long_chart())
    pages = len(scenes)
    wanted = [f"{number} of {pages}" for number in range(1, pages + 1)]
    words = [[text.text for text in texts_of(scene)] for scene in scenes]
    assert [text in on_sheet for text, on_sheet in zip(wanted, words, strict=True)] == [True] * pages
    assert len({scene.name for scene in scenes}) == pages


def test_cautions_lead_and_measures_end():
    """What can hurt stands in a box over the first table; what to measure comes last."""
    chart = sample_chart()
    scenes = chart_sheets(chart)
    first, last = words_of(scenes[0]), " ".join(words_of(scene) for scene in scenes[-2:])
    found = [first.index(caution) for caution in chart.cautions]
    assert [*found, first.index("Pin to pin")] == sorted([*found, first.index("Pin to pin")])
    border = next(
        item for item in primitives(scenes[0].children) if isinstance(item, Rect) and item.pen.width_mm == 0.7
    )
    boxed = [text for text in texts_of(scenes[0]) if border.y < text.y < border.y + border.height]
    assert [caution for caution in chart.cautions if caution not in " ".join(text.text for text in boxed)] == []
    assert last.index("Measure before connecting") < last.index(chart.measure_notes[0]) < last.rindex("tail, after the")


def test_a_plus_never_stands_alone():
    """Contacts joined with a plus break behind it."""
    lines = {text.text for scene in chart_sheets(sample_chart()) for text in texts_of(scene)}
    assert ("+" in lines, any(line.startswith("+ ") for line in lines)) == (False, False)
    assert any(line.endswith("\N{NO-BREAK SPACE}+") for line in lines)


def test_a_conductor_without_fuse_is_named():
    """In the table and where the words are explained."""
    chart = sample_chart()
    text = " ".join(words_of(scene) for scene in chart_sheets(chart))
    assert text.count(NO_FUSE) == 1 + sum(row.fuse == NO_FUSE for row in chart.conductors)


def test_chart_without_rows_has_its_headings():
    """An empty rig still gives the headings and the warning to measure."""
    empty = replace(sample_chart(), pins=(), conductors=(), measures=(), notices=(), cautions=())
    words = " ".join(words_of(scene) for scene in chart_sheets(empty))
    assert [words.count(part) for part in ("Pin to pin", "Cut list", "Measure before connecting", "None.")] == [
        1,
        1,
        1,
        3,
    ]


def test_unverified_row_is_marked_without_colour():
    """In words and with a dashed border, so that a black-and-white print shows it."""
    scenes = chart_sheets(sample_chart())
    dashed = [item for one in scenes for item in primitives(one.children) if isinstance(item, Rect) and item.pen.dash]
    # One contact, one wire and one measurement of the sample rest on memory.
    assert len(dashed) == 3
    assert sum(words_of(one).count("NOT VERIFIED") for one in scenes) == 1


def test_sheets_repeat_byte_for_byte():
    """The same chart gives the same files."""
    first, second = ([svg_text(scene) for scene in chart_sheets(sample_chart())] for _ in range(2))
    assert first == second


@given(st.text(max_size=200), st.floats(8, 120))
def test_broken_lines_fit_and_lose_nothing(text, width_mm):
    """Lines are never wider than asked, save a single character that is; no character but spaces is lost."""
    lines = break_lines(text, width_mm)
    assert all(text_width_mm(line, 2.5) <= width_mm + 1e-9 for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())
