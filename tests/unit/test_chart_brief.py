"""The chart on a terminal: short, whole where it must be, and its grids say what the long table says."""

from pathlib import Path

import pytest

from tests import rigs, steps
from tests.unit.sample_chart import hostile_chart
from wiregen.chart.brief import chart_brief
from wiregen.model.chart import Chart, MeasureGrid
from wiregen.paper.safe_text import display_width
from wiregen.paper.terminal import terminal_text

DEMOS = Path(__file__).parents[2] / "wiregen" / "bundle" / "demo"
NAMES = ("observatory-bus", "ringing-lorry", "bad-example")
#: The 12-contact US wiring in each setting: 24 V on, flashing, dead, or only inferred to be dead. Typed from the
#: behaviour that the pinout's sources describe (TM 9-2320-280-20-3, FO-1: the turn switch holds stop on a side that
#: does not flash, and both with hazard and brake; blackout parts service lamps from the lighting switch).
US_SOCKET = """
setting            | A C H | B  | E | F | J
all off            | .     | .  | . | . | .
SERVICE DRIVE      | .     | .  | + | . | .
BLACKOUT           | +     | .  | . | . | .
brake              | .     | +  | . | . | +
left turn          | .     | fl | . | . | .
right turn         | .     | .  | . | . | fl
hazard             | .     | fl | . | . | fl
BLACKOUT, brake    | +     | .  | . | + | .
brake, left turn   | .     | fl | . | . | +
brake, right turn  | .     | +  | . | . | fl
brake, hazard      | .     | +  | . | . | +
switch OFF, then   | .     | ?  | . | . | ?
"""


def chart(name: str) -> Chart:
    return steps.chart(steps.load(DEMOS / f"{name}.toml"))


def column(grid: MeasureGrid, mark: str) -> dict[str, str]:
    return {words: cells[grid.contacts.index(mark)] for words, cells in grid.rows}


def sign(read: str) -> str:
    if "inferred" in read:
        return "?"
    return "." if read.startswith("0 V") else "fl" if read.startswith("flashes") else "+"


def test_the_demo_fits_120_lines():
    """Half a screen each for pins, wires and each grid: no more than 120 lines of 80 columns."""
    lines = terminal_text(chart_brief(chart("observatory-bus"))).splitlines()
    assert len(lines) <= 120
    assert max(map(display_width, lines)) <= 80


@pytest.mark.parametrize("name", NAMES)
def test_every_contact_and_wire_is_there(name):
    """Short, but no contact of any connector, no wire and no joint of a relay is left out."""
    made = chart(name)
    text = terminal_text(chart_brief(made), 400)
    words = set(text.replace(",", " ").replace(";", " ").replace("(", " ").split())
    assert {row.ref for row in made.conductors} <= words
    assert {end for row in made.conductors for end in (row.start, row.end) if " " not in end} <= words
    assert [joint for row in made.relays for joint in row.joints if joint not in text] == []
    assert [caution for caution in made.cautions if caution not in text] == []
    idle = {row.trailer_contact for row in made.pins if not row.channel and row.trailer_contact}
    assert idle <= words


def test_the_grid_of_the_us_socket():
    """What each contact reads, held against a table typed by hand."""
    (grid,) = [grid for grid in chart("observatory-bus").grids if grid.name == "X1"]
    head, *rows = ([cell.strip() for cell in line.split("|")] for line in US_SOCKET.strip().splitlines())
    assert len(grid.rows) == len(rows)
    for words, *signs in rows:
        (cells,) = [cells for setting, cells in grid.rows if setting.startswith(words)][:1]
        read = dict(zip(grid.contacts, map(sign, cells), strict=True))
        wanted = {mark: one for marks, one in zip(head[1:], signs, strict=True) for mark in marks.split()}
        assert {mark: read[mark] for mark in wanted} == wanted, words
    assert {sign(read) for mark in "KMN" for read in column(grid, mark).values()} == {"."}


@pytest.mark.parametrize("name", ["ringing-lorry"])
def test_grid_and_table_say_the_same(name):
    """A row of the long table has its cell in the grid; a contact without a row for a setting reads 0 V there."""
    made = chart(name)
    for grid in made.grids:
        rows = [row for row in made.measures if row.connector == grid.connector]
        for mark in grid.contacts:
            told = {row.switch.replace("service lights", "lights"): row.expected for row in rows if row.contact == mark}
            read = column(grid, mark)
            if set(told) == {"every position"} or set(told) == {"–"}:
                assert set(read.values()) == set(told.values())
                continue
            assert {words: read[words] for words in told} == told
            parts = [set(words.split(", ")) for words in told]
            silent = [words for words in read if not any(part <= set(words.split(", ")) for part in parts)]
            assert {read[words] for words in silent} <= {"0 V"}


def test_a_contact_that_follows_the_ignition_has_its_row():
    """With the ignition off it is dead, and the grid says so."""
    text = rigs.rig("iso-12098", "iso-11446", channels=("ign > ignition | wire",), lamps=["stop"], taps=[
        {"name": "ign", "live": "ignition", "source": "other"}
    ])  # fmt: skip
    (grid,) = [grid for grid in steps.chart(rigs.load(text)).grids if grid.name == "X2"]
    read = column(grid, "10")
    off = {words: one for words, one in read.items() if words.endswith("ignition off")}
    assert off
    assert set(off.values()) == {"0 V"}
    assert "0 V" not in {one for words, one in read.items() if words not in off}


def test_outlets_wired_alike_stand_once():
    """Six trailers do not make six tables: outlets that read and are wired alike share one."""
    made = chart("observatory-bus")
    again = tuple(
        MeasureGrid(connector=f"X{n} {grid.connector[3:]}", against=f"X{n}:1", contacts=grid.contacts, rows=grid.rows,
                    grounds=grid.grounds)
        for n, grid in enumerate([made.grids[2]] * 3, start=2)
    )  # fmt: skip
    text = terminal_text(chart_brief(type(made)(**{**{f: getattr(made, f) for f in made.__slots__}, "grids": again})))
    assert text.count("X2, X3, X4: black lead on contact 1.") == 1


@pytest.mark.parametrize("word", ["x" * 500, "word " * 100, "幅" * 250, "<b>\x00\x1b[31m" * 20, ""])
def test_hostile_words_keep_80_columns(word):
    """Long words, wide characters and control characters do not break the tables."""
    lines = terminal_text(chart_brief(hostile_chart(word))).splitlines()
    assert [line for line in lines if display_width(line) > 80] == []
