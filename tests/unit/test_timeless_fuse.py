"""A fuse that no table gives opening times for: nobody knows when it opens, so nothing may say that a wire burns."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.findings import one
from tests.rigs import load
from tests.steps import check, shorts
from tests.unit.test_short_sheet import shorts_text
from tests.unit.test_shorts import behind_converter, thin
from wiregen.catalogue.opening import fuse_opening, smallest_timed_a
from wiregen.cli import app
from wiregen.model.finding import Finding
from wiregen.quantity import show
from wiregen.questions.shorts.paper import shorts_data
from wiregen.questions.shorts.record import HARMS, ShortSheet

DEMOS = Path(__file__).parents[2] / "wiregen" / "bundle" / "demo"
SHORTS = ("short-clears", "short-limited")


@cache
def bus(rating: str) -> str:
    """The clean demo rig with another fuse in front of its tail lamps; 40 A at the converter holds 600 s at 135 %."""
    text = (DEMOS / "observatory-bus.toml").read_text("utf-8")
    old = 'output = "tail"\nfuse = "10 A"'
    assert text.count(old) == 1
    return text.replace(old, f'output = "tail"\nfuse = "{rating}"')


@cache
def sheet_of(rating: str) -> ShortSheet:
    return shorts(load(bus(rating)))


@cache
def found_in(rating: str) -> tuple[Finding, ...]:
    return tuple(f for f in check(load(bus(rating))).findings if f.rule in SHORTS)


def test_the_smallest_rating_with_times_is_that_of_the_table() -> None:
    """The 200 % line of the table begins at 3 A; below it the table only says that a fuse holds 110 %."""
    assert smallest_timed_a() == 3.0
    assert [fuse_opening(rating_a, 100.0).is_known for rating_a in (1.0, 2.0, 3.0)] == [False, False, True]


@pytest.mark.parametrize("rating", ["1 A", "2 A"])
def test_no_wire_burns_behind_a_fuse_of_unknown_times(rating: str) -> None:
    """The 40 A fuse in front is late, but the small one may be in time: every row behind it names the small one."""
    rows = [row for row in sheet_of(rating).rows if "tail" in row.place and row.device != "-F3"]
    assert {(row.device, row.opening_known) for row in rows} == {("-F4", False)}
    assert {row.ends for row in rows} == {"carried", "not known"}
    assert not {row.ends for row in sheet_of(rating).rows} & HARMS
    assert {(f.where.split()[0], f.severity) for f in found_in(rating)} == {("-F4", "warning")}
    limited = next(f for f in found_in(rating) if f.rule == "short-limited")
    unknown = f"no opening time is known for -F4, a fuse of {rating} (the next one, -F2, opens within 600 s)"
    assert unknown in limited.message
    assert all("a fuse of 3 A or more" in f.advice for f in found_in(rating))


def test_a_fuse_of_3_a_has_times_and_opens() -> None:
    """The near twin: each row behind it ends in time, and no finding speaks of a short."""
    rows = [row for row in sheet_of("3 A").rows if "tail" in row.place and row.device != "-F3"]
    assert {(row.device, row.opening_known, row.ends) for row in rows} == {("-F4", True, "in time")}
    assert found_in("3 A") == ()


def test_the_list_says_unknown_where_it_knows_nothing() -> None:
    """Words and JSON: neither 'never' nor a time stands where no table has one."""
    text = shorts_text(sheet_of("1 A"))
    rows = [line for line in text.splitlines() if re.search(r"F4 1 A", line) and not line.startswith("    ")]
    assert rows
    assert all("unknown" in line for line in rows)
    assert "NOT KNOWN: no opening time is known for F4, 1 A" in " ".join(shorts_text(sheet_of("1 A"), 200).split())
    assert "BURNS" not in text
    entries = [entry for entry in shorts_data(sheet_of("1 A"))["shorts"] if entry["device"] == "-F4"]
    assert {(entry["opening_known"], entry["earliest_s"], entry["latest_s"]) for entry in entries} == {
        (False, None, None)
    }


# --- words, value and limit agree ---


@pytest.mark.parametrize(
    ("size", "fuse", "value_s", "limit_s", "words"),
    [
        # 45 A are 180 % of 25 A: past the 160 % line, 50 s, and later than the 5 s of the k factors.
        ("4 mm²", "25 A", 50.0, 5.0, "the fuse opens within 50 s (no more than 5 s wanted)"),
        # 150 % of 30 A: 600 s, but no more heat than at 135 %, 600 × (1.35 / 1.5)² = 486 s.
        ("2.5 mm²", "30 A", 486.0, None, "the fuse opens within 600 s, letting through the heat of 486 s"),
    ],
)
def test_a_finding_in_seconds_says_its_value_and_its_limit(
    size: str, fuse: str, value_s: float, limit_s: float | None, words: str
) -> None:
    """What a program reads stands in the message: the value, and the limit of 5 s where that is the limit."""
    text = behind_converter(thin(size, "1 m"), fuse=fuse, current_limit="45 A")
    found = one(text, "short-limited")
    assert found.unit == "s"
    assert found.value == pytest.approx(value_s, rel=1e-3)
    assert words in found.message
    assert found.limit is not None
    assert limit_s is None or found.limit == limit_s
    assert f"stands its 45 A for {show(found.limit, 's')}" in found.message or limit_s == found.limit


# --- exit status ---


@pytest.mark.parametrize(("name", "status"), [("observatory-bus", 0), ("ringing-lorry", 0), ("bad-example", 1)])
def test_shorts_exits_1_where_a_conductor_is_harmed(name: str, status: int) -> None:
    """0 where every short ends or is carried, 1 where a wire burns; as text and as JSON."""
    rig = str(DEMOS / f"{name}.toml")
    assert [CliRunner().invoke(app, ["shorts", rig, *more]).exit_code for more in ([], ["--json"])] == [status] * 2


def test_what_is_not_known_is_no_harm_yet(tmp_path: Path) -> None:
    """A fuse of unknown times alone: the list says so, `check` warns, and nothing is claimed to burn."""
    rig = tmp_path / "rig.toml"
    rig.write_text(bus("1 A"), "utf-8")
    assert CliRunner().invoke(app, ["shorts", str(rig)]).exit_code == 0
