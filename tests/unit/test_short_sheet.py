"""The list of short circuits: every one stands in it, with the words and numbers of the rule that speaks of it."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from tests.rigs import load, straight
from tests.steps import check, shorts
from wiregen.circuit.build import build
from wiregen.circuit.shorts import shorts as sites
from wiregen.paper.terminal import terminal_text
from wiregen.paper.words import marks
from wiregen.questions.shorts.paper import shorts_data, shorts_paper
from wiregen.questions.shorts.record import Ends, ShortSheet

DEMOS = Path(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo"
BAD_ENDS = {"burns", "never", "late"}


def shorts_text(sheet: ShortSheet, width: int = 80, *, full: bool = True) -> str:
    return terminal_text(shorts_paper(sheet, full=full), width)


def demo(name: str) -> str:
    return (DEMOS / f"{name}.toml").read_text("utf-8")


@cache
def sheet_of(name: str) -> ShortSheet:
    return shorts(load(demo(name)))


@pytest.mark.parametrize("name", ["observatory-bus", "bad-example"])
def test_every_live_short_stands_once(name: str) -> None:
    """Each part has one row, whatever trailers share it; the least is no more than the most; all parts are known."""
    loaded = load(demo(name))
    sheet = sheet_of(name)
    known = {(site.ref, site.place) for circuit in build(loaded).circuits for site in sites(circuit)}
    listed = [(row.part, row.place) for row in sheet.rows]
    assert len(set(listed)) == len(listed)
    assert set(listed) <= known
    assert len(listed) > 15
    assert all(row.least_a <= row.most_a for row in sheet.rows if row.least_a is not None and row.most_a is not None)


def test_a_clean_rig_has_no_short_that_ends_badly() -> None:
    """What the list calls bad the check calls a finding, and the other way round."""
    for name in ("observatory-bus", "bad-example"):
        loaded = load(demo(name))
        found = {f.rule for f in check(loaded).findings if f.severity != "notice"} & {"short-clears", "short-limited"}
        assert bool(found) == bool({row.ends for row in sheet_of(name).rows} & BAD_ENDS)


def test_the_bad_example_shows_every_way_not_to_end() -> None:
    """A breaker that cycles, a fuse that a converter cannot blow, wires without a fuse."""
    rows = sheet_of("bad-example").rows
    assert {row.ends for row in rows} >= {"cycles", "never", "no device"}
    never = [row for row in rows if row.ends == "never"]
    assert {row.limited_by for row in never} == {"-T1"}
    assert {(row.device, row.latest_s) for row in never} == {("-F2", None)}
    assert max(row.most_a or 0 for row in never) == pytest.approx(7.5, rel=1e-3)


def test_a_short_in_time_by_hand() -> None:
    """24 V lead: the row names the fuse, its 0.1 s line at 600 %, and a conductor that stands longer."""
    vehicle = {"fuse": [{"circuits": ["tail_left"], "fuse": "5 A"}]}
    rows = shorts(load(straight("iso-1185", "iso-1185", ["tail_left"], vehicle=vehicle))).rows
    first = next(row for row in rows if row.part.startswith("-W"))
    assert (first.ends, first.device, first.rating_a, first.latest_s) == ("in time", "-F1", 5.0, 0.1)
    assert first.conductor
    assert first.stands_s is not None
    assert first.stands_s > first.latest_s


@pytest.mark.parametrize("width", [80, 100])
@pytest.mark.parametrize("name", ["observatory-bus", "ringing-lorry", "bad-example"])
def test_the_list_is_no_wider_than_the_terminal(name: str, width: int) -> None:
    """Every row is printed, none wider than asked, with a word for each that does not simply end."""
    sheet = sheet_of(name)
    text = shorts_text(sheet, width)
    assert max(map(len, text.splitlines())) <= width
    flat = " ".join(text.split())
    assert [row.place for row in sheet.rows if marks(row.place).split()[0] not in flat] == []
    assert ("MAY NOT OPEN" in text) == any(row.ends == "never" for row in sheet.rows)
    assert ("COMES BACK" in text) == any(row.ends == "cycles" for row in sheet.rows)
    assert "Never test a short on purpose." in flat


def test_a_leak_is_not_told_in_seven_digits() -> None:
    """Where a relay has let go a trace flows: it keeps its column, and machines get the number."""
    sheet = sheet_of("observatory-bus")
    leaks = replace(sheet, rows=(replace(sheet.rows[0], least_a=0.0000348),))
    line = next(one for one in shorts_text(leaks).splitlines() if marks(sheet.rows[0].part) in one)
    assert " <0.001 " in line
    assert len(line) <= 80


@pytest.mark.parametrize(("ends", "word"), [("not known", "unknown"), ("no device", "none")])
def test_a_short_that_is_not_known_is_not_said_to_open_nothing(ends: Ends, word: str) -> None:
    """Where what comes and goes never comes to rest, a fuse may well open."""
    sheet = sheet_of("observatory-bus")
    row = replace(sheet.rows[0], ends=ends, device="", rating_a=None, latest_s=None)
    line = next(one for one in shorts_text(replace(sheet, rows=(row,))).splitlines() if marks(row.place)[:9] in one)
    assert re.search(rf" {word} +–", line)


def test_machines_get_every_number() -> None:
    """Amps and seconds carry their unit in the key; null stands where nothing is sure to open."""
    sheet = sheet_of("bad-example")
    data = shorts_data(sheet)
    assert set(data) == {"title", "digest", "shorts", "left_out"}
    assert len(data["shorts"]) == len(sheet.rows)
    assert set(data["shorts"][0]) == {
        "part", "what", "place", "trailer", "least_a", "most_a", "ends", "device", "rating_a", "earliest_s", "latest_s",
        "limited_by", "conductor", "conductor_a", "stands_s", "state", "opening_known", "unlimited_by",
    }  # fmt: skip
    assert any(one["latest_s"] is None for one in data["shorts"])


def test_the_list_of_the_demo_fits_40_lines() -> None:
    """The verdict comes first, what ends badly before what does not, and one line a fuse stands for the rest."""
    lines = shorts_text(sheet_of("observatory-bus"), full=False).splitlines()
    assert len(lines) <= 40
    assert "No wire is harmed" in lines[1]
    bad = shorts_text(sheet_of("bad-example"), full=False)
    assert bad.splitlines()[1].startswith("A WIRE CAN CATCH FIRE: 14 of 20 shorts")
    assert bad.index("LOOK AT THESE FIRST") < bad.index("OPENED IN TIME")
