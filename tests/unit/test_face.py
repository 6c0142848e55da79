"""Connector faces: right positions, both sides mirrored, warnings where nothing was verified, nothing overlapping."""

import math
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.sample_chart import sample_chart
from tests.unit.sheet_checks import assert_sheet_is_sound, crossed_by_lines, overlapping, texts_of, words_of
from wiregen.catalogue.circuits import CIRCUITS
from wiregen.catalogue.connector import SUPPORT_MARKS, Connector, colour_word
from wiregen.draw.face.layout import lay_out
from wiregen.draw.face.scenes import BANNER, MATING_TITLE, NO_PICTURE, NO_POSITIONS, PLUG_LINE, WIRE_TITLE, face_scenes
from wiregen.draw.scene import groups
from wiregen.draw.svg import svg_text
from wiregen.harness.record import Half

PINOUTS = sorted((Path(__file__).parents[2] / "pinouts").glob("*.toml"))
INFO = sample_chart().sheet
HALF_MM = 65.0
FIELDS = ("colour", "colour_other", "size", "takes", "rating_a", "returns_by")


def load(path):
    return Connector.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))


def named(stem):
    return next(load(path) for path in PINOUTS if path.stem == stem)


def connector(contacts, **more):
    """A connector of ``(mark, face)`` pairs."""
    rows = [
        {"mark": mark, "function": "tail lamps", "circuit": "tail", "sources": ["memory"], "support": "memory"}
        | ({"face": face} if face else {})
        for mark, face in contacts
    ]
    frame = {"title": "Trial", "short": "trial", "shell": "trial", "voltage_v": [12], "stop_turn": "separate"}
    return Connector.model_validate(frame | {"contact": rows} | more)


def places_in(scene, view):
    """Mark → position of its letter in one view."""
    group = next(group for group in groups(scene.children) if group.id.endswith(view))
    return {
        text.text: (text.x, text.y)
        for child in groups(group.children)
        if child.css_class == "contact"
        for text in child.children
        if getattr(text, "weight", "") == "bold"
    }


def test_there_are_pinouts():
    """The tests below have something to look at."""
    assert len(PINOUTS) >= 15


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("path", PINOUTS, ids=lambda path: path.stem)
def test_shipped_faces_are_sound(path, paper):
    """No text on another, none crossed by a line, all inside the frame, none under 2 mm, valid SVG."""
    for scene in face_scenes(load(path), INFO, paper=paper):
        assert_sheet_is_sound(scene)
        assert crossed_by_lines(scene) == []


@pytest.mark.parametrize("path", PINOUTS, ids=lambda path: path.stem)
def test_table_states_every_contact(path):
    """Mark, function, colour code and word, size and support mark of every contact stand on the sheets."""
    made = load(path)
    words = " ".join(words_of(scene) for scene in face_scenes(made, INFO))
    flat = words.replace(" ", "")
    for contact in made.contact:
        assert CIRCUITS[contact.circuit].word.replace(" ", "") in flat
        assert contact.function.replace(" ", "") in flat
        assert not contact.colour or f"{contact.colour} {colour_word(contact.colour)}" in words
        assert not contact.size or contact.size in words
        assert SUPPORT_MARKS[contact.support] in words.split()


def test_table_marks_a_field_that_is_known_worse_than_the_function():
    """Colour, size, range, rating and return: a mark in brackets, in the heading where the whole column has it."""
    told = {"sources": ["I4"], "support": "one"}
    ground = {"mark": "3", "circuit": "ground", "function": "earth", "sources": ["I4"], "support": "one"}
    feed = {"circuit": "charge", "function": "supply", "sources": ["I4", "I5"], "support": "two"}
    feed |= {"colour": "OG", "colour_other": "RD", "size": "2.5 mm²", "rating_a": 20, "returns_by": "3"}
    feed |= {"takes": {"smallest": "14 AWG", "largest": "10 AWG"}}
    doubtful = feed | {"mark": "9", "proof": dict.fromkeys(FIELDS, told)}
    frame = {"title": "Trial", "short": "trial", "shell": "trial", "voltage_v": [12], "stop_turn": "separate"}

    def words(*contacts):
        made = Connector.model_validate(frame | {"contact": [ground, *contacts]})
        return words_of(face_scenes(made, INFO)[0]).replace("\N{NO-BREAK SPACE}", " ")

    cells = ("OG orange (1)", "RD red (1)", "2.5 mm² (1)", "14 to 10 AWG (1)", "20 A (1)", "3 (1)")
    headings = ("Colour (1)", "colour (1)", "Size (1)", "Takes (1)", "Rating (1)", "by (1)")
    both, alone, sure = words(doubtful, feed | {"mark": "10"}), words(doubtful), words(feed | {"mark": "10"})
    assert [cell for cell in cells if cell not in both or cell in alone] == []
    assert [heading for heading in headings if heading not in alone or heading in both] == []
    assert ("(1)" in sure, "in brackets" in both) == (False, True)


@pytest.mark.parametrize("path", PINOUTS, ids=lambda path: path.stem)
def test_face_that_nobody_checked_says_so_in_the_largest_letters(path):
    """Every layout that is not verified carries the banner, and nothing on the sheet is larger."""
    made = load(path)
    assert made.face.verified is False
    first = face_scenes(made, INFO)[0]
    placed = any(contact.face for contact in made.contact)
    banner = [text for text in texts_of(first) if text.css_class == "banner"]
    assert " ".join(text.text for text in banner) == (BANNER if placed else NO_POSITIONS)
    assert min(text.size_mm for text in banner) >= max(text.size_mm for text in texts_of(first))


def test_verified_face_has_no_banner():
    """A checked layout names what it was checked against instead."""
    made = connector([("1", {"angle_deg": 0, "radius": 1})], face={"verified": True, "sources": ["A standard"]})
    words = words_of(face_scenes(made, INFO)[0])
    assert ("not verified" in words.split("Marks of proof")[0].lower(), "against: A standard" in words) == (False, True)


def test_both_sides_are_named_in_words():
    """Titles say which side is which, and a line says what the trailer plug shows."""
    words = words_of(face_scenes(named("sae-j2863"), INFO)[0])
    for wanted in (*MATING_TITLE, *WIRE_TITLE, PLUG_LINE, "vehicle left", "vehicle right"):
        assert wanted in words


@pytest.mark.parametrize("path", PINOUTS, ids=lambda path: path.stem)
def test_wire_side_is_the_mirror_image(path):
    """Each contact lies as far right of the middle on one side as left on the other, at equal height."""
    made = load(path)
    scene = face_scenes(made, INFO)[0]
    if not any(contact.face for contact in made.contact):
        assert [group for group in groups(scene.children) if group.css_class == "face"] == []
        return
    mating, wire = places_in(scene, "mating"), places_in(scene, "wire")
    assert set(mating) == set(wire) == {contact.mark for contact in made.contact}
    sums = [round(mating[mark][0] + wire[mark][0], 6) for mark in mating]
    assert sums == [round(scene.width_mm, 6)] * len(mating)
    assert [mating[mark][1] for mark in mating] == [wire[mark][1] for mark in mating]


def test_clock_positions_of_the_seven_way():
    """Ground at 7 o'clock, supply at 1, right at 3 (P37 P39 as listed in the pinout file); wire side mirrored."""
    scene = face_scenes(named("sae-j2863"), INFO)[0]
    mating = places_in(scene, "mating")
    x0, y0 = mating["7"]
    angles = {mark: round(math.degrees(math.atan2(x - x0, y0 - y))) % 360 for mark, (x, y) in mating.items()}
    del angles["7"]
    assert angles == {"1": 210, "2": 150, "3": 330, "4": 30, "5": 270, "6": 90}
    wire = places_in(scene, "wire")
    assert wire["1"][0] > wire["7"][0] > wire["6"][0]


def test_row_runs_left_to_right_as_given():
    """A row stands in a line; the wire side runs the other way."""
    scene = face_scenes(named("sae-j1239-4"), INFO)[0]
    mating, wire = places_in(scene, "mating"), places_in(scene, "wire")
    order = sorted(mating, key=lambda mark: mating[mark][0])
    assert len({y for _, y in mating.values()}) == 1
    assert sorted(wire, key=lambda mark: wire[mark][0]) == order[::-1]


@pytest.mark.parametrize("stem", ["iso-12098", "iso-11446", "round-6"])
def test_unknown_positions_give_a_list_not_a_face(stem):
    """Where no position is known nothing looks like a face; every mark is listed."""
    made = named(stem)
    scene = face_scenes(made, INFO)[0]
    listed = [group.title for group in groups(scene.children) if group.css_class == "contact"]
    assert [title.split(":")[0] for title in listed] == [contact.mark for contact in made.contact]
    assert lay_out(made, HALF_MM) is None


def test_some_positions_unknown():
    """Contacts without a position are listed under the face, none is lost."""
    made = connector([("1", {"angle_deg": 0, "radius": 1}), ("2", {"angle_deg": 90, "radius": 1}), ("3", None)])
    scene = face_scenes(made, INFO)[0]
    assert_sheet_is_sound(scene)
    assert set(places_in(scene, "mating")) == {"1", "2"}
    assert "Position not known; find these marks on the part: 3 tail" in words_of(scene)


def test_contacts_on_each_other_are_not_drawn():
    """Positions that cannot be told apart fall back to a list with a warning."""
    made = connector([("1", {"angle_deg": 10, "radius": 1}), ("2", {"angle_deg": 12, "radius": 1})])
    scene = face_scenes(made, INFO)[0]
    assert_sheet_is_sound(scene)
    assert NO_PICTURE in words_of(scene)


def test_key_is_drawn_only_when_known():
    """A key with its words where the file states one, none where it does not; mirrored on the wire side."""
    assert "key (not verified)" in words_of(face_scenes(named("sae-j2863"), INFO)[0])
    assert "key (" not in words_of(face_scenes(named("sae-j560"), INFO)[0]).split("Layout:")[0]
    layout = lay_out(connector([("1", {"angle_deg": 0, "radius": 1})], face={"keyway_deg": 60}), HALF_MM)
    assert (layout.key_deg, layout.mirrored().key_deg) == (60, 300)


@pytest.mark.parametrize(
    "text", ["<script>alert(1)</script> & ]]>", "\N{RIGHT-TO-LEFT OVERRIDE}B:1X\x00\x1b[31m", "x" * 120]
)
def test_hostile_words_stay_text_inside_the_frame(text):
    """Markup, direction overrides and endless words of a user's pinout neither break nor leave the sheet."""
    made = connector([("<&>", {"angle_deg": 0, "radius": 1}), ("B", None)], region=text)
    rows = [row.model_copy(update={"function": text, "note": text * 20, "tag": text}) for row in made.contact]
    made = made.model_copy(
        update={"contact": tuple(rows), "title": text[:90], "standard": text, "colour_code": text * 5}
    )
    for scene in face_scenes(made, INFO, half=Half(id="X1", pinout=made, trailer="", cavities=())):
        assert_sheet_is_sound(scene)
        svg = svg_text(scene)
        assert ("<script" in svg, "\N{RIGHT-TO-LEFT OVERRIDE}" in svg, "\x1b" in svg) == (False, False, False)


def test_faces_repeat_byte_for_byte():
    """The same pinout gives the same file."""
    first, second = ([svg_text(s) for s in face_scenes(named("military-12-us"), INFO)] for _ in range(2))
    assert first == second


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 359), st.sampled_from([0.0, 0.35, 0.4, 0.7, 1.0])), min_size=1, max_size=13),
    st.one_of(st.none(), st.floats(0, 359)),
)
def test_any_positions_give_a_sound_sheet(places, key_deg):
    """Wherever a user's file puts contacts: a readable face, or the list with its warning, never a heap."""
    contacts = [(f"{index}", {"angle_deg": angle, "radius": radius}) for index, (angle, radius) in enumerate(places)]
    made = connector(contacts, face={"keyway_deg": key_deg} if key_deg is not None else {})
    scene = face_scenes(made, INFO)[0]
    assert overlapping(scene) == []
    assert crossed_by_lines(scene) == []
    assert_sheet_is_sound(scene)


def test_twelve_contacts_in_two_rows():
    """Two rows: the words of the upper row stand above, those of the lower row below, no line through a contact."""
    lower = [(f"{i + 1}", {"x": -1 + i / 3, "y": -1}) for i in range(7)]
    upper = [(f"{i + 8}", {"x": -0.8 + 0.4 * i, "y": 1}) for i in range(5)]
    scene = face_scenes(connector(lower + upper, face={"shape": "two_rows"}), INFO)[0]
    assert_sheet_is_sound(scene)
    assert crossed_by_lines(scene) == []
    mating = places_in(scene, "mating")
    assert mating["8"][1] < mating["1"][1]
