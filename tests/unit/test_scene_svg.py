"""Scenes, their SVG, text widths and sheets."""

import os
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.drawing_checks import texts
from wiregen.draw.scene import (
    Arc,
    Box,
    Circle,
    Group,
    Line,
    Pen,
    Rect,
    Scene,
    Text,
    around,
    box_of,
    groups,
    moved,
    primitives,
    safe_id,
)
from wiregen.draw.sheet import Sheet
from wiregen.draw.svg import svg_text
from wiregen.draw.text_width import fit, text_width_mm, wrap
from wiregen.model.chart import SheetInfo
from wiregen.paper.sizes import SIZES_MM

INFO = SheetInfo(title="Rig", revision="B", date="2026-05-04", digest="3f9a1c27aa00", author="A. Smith")
SVG = "{http://www.w3.org/2000/svg}"


def scene_of(*children, description=""):
    return Scene(name="test", width_mm=100.0, height_mm=50.0, title="Test", description=description, children=children)


def test_root_says_size_and_title():
    """The root has the size in mm, a viewBox in mm, a role, and a title and description for screen readers."""
    root = ET.fromstring(svg_text(scene_of(description="Two wires.")))
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("100mm", "50mm", "0 0 100 50")
    assert root.get("role") == "img"
    labels = root.get("aria-labelledby").split()
    spoken = [element.text for label in labels for element in root.iter() if element.get("id") == label]
    assert spoken == ["Test", "Two wires."]


def test_text_stays_text_and_is_escaped():
    """Any text comes back unchanged from an XML parser, so that it can be searched and copied."""
    words = "W4 <BN> & \"2 × 1.5 mm²\" 'x' ≤ 3 Ω"
    root = ET.fromstring(svg_text(scene_of(Group(id="g", title=words, children=(Text(x=1, y=2, text=words),)))))
    assert [element.text for element in root.iter(f"{SVG}text")] == [words]
    assert root.find(f".//{SVG}g[@id='g']/{SVG}title").text == words


@pytest.mark.parametrize("bad", ["\x00", "\x1b", "\u202e", "\u2066", "\u200f", "\ufeff", "\ud800", "\x85"])
def test_characters_that_break_or_deceive_are_replaced(bad):
    """Control, bidirectional and lone surrogate characters never reach the file: XML 1.0 section 2.2, Unicode TR36."""
    svg = svg_text(scene_of(Text(x=0, y=0, text=f"a{bad}b")))
    assert bad not in svg
    assert ET.fromstring(svg.encode()).find(f".//{SVG}text").text == "a\ufffdb"


@given(st.text())
def test_every_text_gives_well_formed_xml(words):
    """No text a user can write breaks the file."""
    svg = svg_text(scene_of(Group(title=words, data=(("net", words),), children=(Text(x=0, y=0, text=words),))))
    ET.fromstring(svg.encode())


def test_numbers_have_fixed_decimals_and_no_tail():
    """Coordinates are written with at most two decimals, without trailing zeros, and never as minus zero."""
    svg = svg_text(scene_of(Line(((0.1 + 0.2, -0.0001), (1 / 3, 2.0)))))
    assert 'points="0.3,0 0.33,2"' in svg


def test_common_attributes_stand_once():
    """Line colour, width and font stand on the root group and not on every line."""
    svg = svg_text(scene_of(*(Line(((0, i), (9, i))) for i in range(50))))
    assert svg.count("stroke=") == 1
    assert svg.count("font-family") == 1
    assert svg.count("sans-serif") == 1


def test_pens_are_written():
    """Width, dashes, fill and ends of a pen reach the file; a pen of no width draws no line."""
    root = ET.fromstring(
        svg_text(
            scene_of(
                Line(((0, 0), (1, 0)), Pen(width_mm=0.8, dash=(1.6, 0.9), cap="round", colour="#123")),
                *(Line(((0, 0), (1, 0))) for _ in range(2)),
                Circle(1, 2, 3, Pen(width_mm=0, fill="black")),
            )
        )
    )
    line, circle = root.find(f".//{SVG}polyline"), root.find(f".//{SVG}circle")
    assert (line.get("stroke-width"), line.get("stroke-dasharray"), line.get("stroke-linecap")) == (
        "0.8",
        "1.6 0.9",
        "round",
    )
    assert line.get("stroke") == "#123"
    assert (circle.get("fill"), circle.get("stroke")) == ("black", "none")


def test_arcs_run_clockwise_from_start_to_end():
    """A quarter from the right to the bottom is a small clockwise arc; three quarters are a large one."""
    svg = svg_text(scene_of(Arc(10, 10, 5, 0, 90), Arc(10, 10, 5, 0, 270)))
    assert "M15,10 A5,5 0 0 1 10,15" in svg
    assert "M15,10 A5,5 0 1 1 10,5" in svg


def test_turned_text_takes_upright_room():
    """A text turned by a quarter takes the room of the level one, turned."""
    level = Text(x=10, y=20, text="W12", size_mm=2.5).box
    upright = Text(x=10, y=20, text="W12", size_mm=2.5, turn_deg=90).box
    assert upright.height == pytest.approx(level.width)
    assert upright.width == pytest.approx(level.height)
    assert 'transform="rotate(90 10 20)"' in svg_text(scene_of(Text(x=10, y=20, text="W12", turn_deg=90)))


def test_boxes_and_moving():
    """The box around a group goes with it when it is moved."""
    group = Group(children=(Rect(1, 2, 3, 4), Circle(10, 10, 2), Line(((0, 0), (1, 1))), Arc(5, 5, 1, 0, 90)))
    assert around([group]) == Box(0, 0, 12, 12)
    assert around([moved(group, 5, -1)]) == Box(5, -1, 17, 11)
    assert len(list(primitives([group]))) == 4
    assert [g.children for g in groups([group])] == [group.children]


@given(st.text(max_size=8), st.text(max_size=8))
def test_ids_are_xml_names_and_never_clash(one, other):
    """Different nets get different ids, whatever characters their names have."""
    assert (safe_id("net", one) == safe_id("net", other)) is (one == other)
    ET.fromstring(f'<g id="{safe_id("net", one)}"/>')


@pytest.mark.parametrize(
    ("character", "advance"),
    [("A", 667), ("W", 944), ("i", 222), ("m", 833), ("5", 556), (" ", 278), (".", 278), ("-", 333)],
)
def test_widths_cover_helvetica(character, advance):
    """No character is taken for narrower than in Helvetica (advance widths of the core 14 metrics, from memory)."""
    assert text_width_mm(character, 1000.0) >= advance
    assert text_width_mm(character, 1000.0) <= advance * 1.45


def test_width_counts_every_character_and_unknown_ones_in_full():
    """Widths add up; a character outside the table counts one font size."""
    assert text_width_mm("W4", 2.5) == pytest.approx(text_width_mm("W", 2.5) + text_width_mm("4", 2.5))
    assert text_width_mm("漢", 2.0) == pytest.approx(2.0)
    assert text_width_mm("W4 BN", 2.5, "bold") > text_width_mm("W4 BN", 2.5)


@given(
    st.lists(st.sampled_from(["lorry", "left", "X1:E", "-K3", "W12", "adapter", "of", "the"]), max_size=9),
    st.integers(2, 60),
)
def test_shortened_text_keeps_every_designation(words, width):
    """However narrow the room, no contact mark or designation is lost; and what else is kept fits."""
    text = " ".join(words)
    shown = fit(text, float(width), 2.5)
    kept = [w for w in shown.replace("…", " ").split() if w in ("X1:E", "-K3", "W12")]
    assert kept == [w for w in words if w in ("X1:E", "-K3", "W12")]
    if not kept and words:
        assert text_width_mm(shown, 2.5) <= max(float(width), text_width_mm("…", 2.5))


def test_short_text_is_left_alone_and_long_text_is_marked():
    """A text that fits is not touched; a shortened one ends in an ellipsis."""
    assert fit("left stop", 50.0, 2.5) == "left stop"
    assert fit("left stop and turn lamp", 20.0, 2.5).endswith("…")


def test_wrapping_keeps_numbers_with_their_units():
    """A line never breaks between a number and its unit or its times sign."""
    assert wrap("2 × P21W 12 V", 1.0, 2.5) == ("2 × P21W", "12 V")
    assert wrap("W4 BN 1.5 mm²", 1.0, 2.5) == ("W4", "BN", "1.5 mm²")
    assert wrap("4, 7 not used", 1.0, 2.5) == ("4,", "7", "not", "used")


@pytest.mark.parametrize("paper", sorted(SIZES_MM))
@pytest.mark.parametrize("landscape", [False, True])
def test_sheets_hold_their_frame_and_title_block(paper, landscape):
    """On every paper, both ways up: everything inside the border, no two texts over one another, none under 2 mm."""
    sheet = Sheet(paper, landscape)
    long_info = SheetInfo(title="A title that goes on " * 6, revision="B", date="2026-05-04", digest="3f9a1c27aa00")
    scene = sheet.scene(long_info, "Schematic", (), page=2, pages=3)
    inside = [item for item in primitives(scene.children) if item.css_class != "paper"]
    assert all(sheet.frame.holds(box_of(item)) for item in inside)
    boxes = [text.box for text in texts(scene)]
    assert [(a, b) for i, a in enumerate(boxes) for b in boxes[:i] if a.overlaps(b)] == []
    assert min(text.size_mm for text in texts(scene)) >= 2.0
    assert sheet.area.y1 < min(box.y0 for box in boxes)
    assert (scene.width_mm > scene.height_mm) is landscape


def test_title_block_shows_every_field():
    """Title, sheet, author, revision, date, digest and page stand on the sheet; what is missing shows as a dash."""
    scene = Sheet("a4").scene(INFO, "Schematic", (), page=2, pages=3)
    shown = [text.text for text in texts(scene)]
    for field in ("Rig", "Schematic", "A. Smith", "B", "2026-05-04", "3f9a1c27aa00", "2 of 3"):
        assert shown.count(field) == 1
    blank = SheetInfo(title="Rig", revision="", date="", digest="x")
    assert [text.text for text in texts(Sheet("a4").scene(blank, "Chart", ()))].count("–") == 3


def test_same_bytes_whatever_the_hash_seed():
    """A schematic comes out byte for byte the same in processes with different hash seeds."""
    code = (
        "from tests.unit.sample_circuit import sample_circuit\n"
        "from wiregen.draw.schematic.scenes import schematic\nfrom wiregen.draw.svg import svg_text\n"
        "from wiregen.model.chart import SheetInfo\n"
        "info = SheetInfo(title='x', revision='', date='', digest='')\n"
        "print(''.join(svg_text(s) for s in schematic(sample_circuit(7), info)))"
    )
    root = Path(__file__).parents[2]
    outputs = [
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(root)},
            cwd=root,
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("0", "1", "4242")
    ]
    assert len(outputs[0]) > 20_000
    assert outputs[1:] == outputs[:1] * 2
