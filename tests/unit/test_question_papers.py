"""Every answer is one paper: all formats carry its cells, every ending is written, others are refused in words."""

import datetime as dt
import json
from collections.abc import Callable
from functools import cache, partial
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests import steps
from tests.unit.papers import bare, said
from wiregen.chart.brief import chart_brief
from wiregen.chart.paper import chart_paper
from wiregen.cli import app
from wiregen.cli.base import paper_files
from wiregen.design.design import Design, load
from wiregen.paper.blocks import Paper, Table, cells_of
from wiregen.paper.json_text import FORMAT
from wiregen.paper.pdf.glyphs import printable
from wiregen.paper.safe_text import display_width
from wiregen.paper.terminal import terminal_text
from wiregen.questions.box.paper import box_paper
from wiregen.questions.box.record import Label
from wiregen.questions.diff.paper import changes_paper
from wiregen.questions.explain.paper import rule_paper, rules_paper
from wiregen.questions.readings.paper import readings_paper
from wiregen.questions.record.as_built import Entry
from wiregen.questions.record.paper import records_paper
from wiregen.questions.shorts.paper import shorts_paper
from wiregen.questions.verdict.paper import report_paper
from wiregen.questions.ways.paper import ways_paper

DEMOS = Path(__file__).parents[2] / "wiregen" / "bundle" / "demo"
BUS = DEMOS / "observatory-bus.toml"
LABEL = Label(channels=4, each_a=20.0, total_a=40.0)
NAMES = ("chart", "check", "rules", "rule", "readings", "shorts", "box", "compare", "diff", "record")
ENDINGS = (".txt", ".md", ".html", ".csv", ".json", ".pdf", ".svg")


@cache
def bus() -> Design:
    return load(BUS)


@cache
def answer(name: str) -> Any:
    """What one question says of the bus; each is worked out once."""
    design = bus()
    if name == "diff":
        return steps.diff(design, steps.load_text(BUS.read_text("utf-8").replace('fuse = "10 A"', 'fuse = "7.5 A"')))
    if name == "record":
        rows = steps.sheet_rows(design)
        entries = [Entry(row.ident, 5.0, "V") for row in rows[:30]]
        return [steps.judge(design, rows, entries, dt.date(2026, 5, 4), "A. Warden")]
    makers: dict[str, Callable[[], Any]] = {
        "chart": lambda: design.chart,
        "check": lambda: design.report,
        "rules": steps.rules,
        "rule": lambda: steps.explain("lamp-voltage"),
        "readings": lambda: design.readings("service lights, left turn"),
        "shorts": lambda: steps.shorts(design),
        "box": lambda: steps.box(design, LABEL),
        "compare": lambda: steps.compare(design),
    }
    return makers[name]()


def paper(name: str, *, full: bool = True) -> Paper:
    """One answer as a paper."""
    papers: dict[str, Callable[[Any], Paper]] = {
        "chart": chart_paper if full else chart_brief,
        "check": partial(report_paper, full=full),
        "rules": rules_paper,
        "rule": rule_paper,
        "readings": partial(readings_paper, full=full),
        "shorts": partial(shorts_paper, full=full),
        "box": partial(box_paper, full=full),
        "compare": partial(ways_paper, full=full),
        "diff": changes_paper,
        "record": partial(records_paper, title="a rig", full=full),
    }
    return papers[name](answer(name))


@pytest.mark.parametrize("name", NAMES)
def test_every_format_carries_the_same_cells(name, tmp_path):
    """Each word of each block of the whole paper stands in all seven formats."""
    made = paper(name)
    wanted = {bare(text) for text in cells_of(made) if text}
    columns = [column for block in made.blocks if isinstance(block, Table) for column in block.columns]
    fields = {bare(column.head) for column in columns if column.field_mm}
    for form, text in said(made, tmp_path).items():
        missing = {one for one in wanted if (bare(printable(one)) if form == "pdf" else one) not in text}
        assert missing - (fields if form == "terminal" else set()) == set(), form


@pytest.mark.parametrize("full", [True, False])
@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("width", [60, 80])
def test_no_line_is_wider_than_the_terminal(name, full, width):
    """Short or whole."""
    assert [
        line for line in terminal_text(paper(name, full=full), width).splitlines() if display_width(line) > width
    ] == []


@pytest.mark.parametrize("name", NAMES)
def test_what_is_read_first_is_no_reference_mark_with_a_hyphen(name):
    """Marks are written X1 where people read; the hyphen of IEC 81346-2 stays in JSON."""
    found = [text for text in cells_of(paper(name)) if text.startswith(("-X", "-W", "-F", "-E", "-K", "-T"))]
    assert found == []


@pytest.mark.parametrize("name", NAMES)
def test_every_ending_is_written(name, tmp_path):
    """Seven files of one answer, none of them empty; JSON says its format and its kind."""
    made = paper(name)
    for ending in ENDINGS:
        files = paper_files(made, tmp_path / f"made{ending}")
        assert min(map(len, files.values())) > 100
        assert {path.suffix for path in files} == {ending}
    data = json.loads(paper_files(made, Path("x.json"))[Path("x.json")])
    assert (data["format"], data["kind"]) == (FORMAT, name)


@pytest.mark.parametrize("command", [
    ("chart", BUS), ("check", BUS), ("explain",), ("readings", BUS), ("shorts", BUS), ("box", BUS), ("compare", BUS),
    ("diff", BUS, BUS), ("record", BUS, "--list"),
], ids=lambda command: command[0])  # fmt: skip
def test_an_ending_that_says_nothing_is_refused(command, tmp_path):
    """Before anything is computed, with what is allowed; nothing is written."""
    for name in ("x.doc", "x"):
        refused = CliRunner().invoke(app, [*map(str, command), "--to", str(tmp_path / name)])
        assert refused.exit_code == 2
        assert "Allowed: .txt .md .html .htm .csv .json .pdf .svg" in refused.output
    assert "did you mean '.htm" in CliRunner().invoke(app, [*map(str, command), "--to", "x.htlm"]).output
    assert [*tmp_path.iterdir()] == []


def test_a_command_writes_a_file_of_each_kind(tmp_path):
    """Text, bytes and several sheets; and prints nothing else to the standard output."""
    for ending in (".csv", ".pdf", ".svg"):
        done = CliRunner().invoke(app, ["explain", "lamp-voltage", "--to", str(tmp_path / f"rule{ending}")])
        assert (done.exit_code, done.output) == (0, f"wrote {tmp_path / f'rule{ending}'}\n")
    assert (tmp_path / "rule.pdf").read_bytes().startswith(b"%PDF")
