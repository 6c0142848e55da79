"""The command line as a user meets it: output, exit status, files, bad input."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.command import ROOT, wiregen
from wiregen.cli import app

DEMO = ROOT / "wiregen" / "bundle" / "demo"
BUS, LORRY, BAD = (DEMO / f"{name}.toml" for name in ("observatory-bus", "ringing-lorry", "bad-example"))


@pytest.mark.parametrize(("rig", "status"), [(BUS, 0), (LORRY, 0), (BAD, 1)])
def test_check_exit_status(rig: Path, status: int) -> None:
    """A clean rig exits with 0, one with findings with 1."""
    assert wiregen("check", rig).returncode == status


def test_check_json_has_the_promised_keys() -> None:
    """Machines find the same keys whatever the rig."""
    report = json.loads(wiregen("check", BAD, "--json").stdout)

    assert set(report) == {
        "format", "kind", "title", "digest", "verdict", "assumptions", "behaviour", "findings", "headroom"
    }  # fmt: skip
    assert report["verdict"] == "findings"
    keys = {
        "rule", "severity", "where", "message", "state", "trailer", "value", "limit", "unit", "margin", "advice",
        "source", "file", "line",
    }  # fmt: skip
    assert all(set(finding) == keys for finding in report["findings"])
    assert any(finding["line"] for finding in report["findings"])


def test_bad_example_shows_every_classic_mistake() -> None:
    """The deliberately bad rig raises the findings the README lists."""
    rules = {finding["rule"] for finding in json.loads(wiregen("check", BAD, "--json").stdout)["findings"]}

    assert rules >= {
        "lamp-behaviour", "missing-input", "supply-feed", "unfused-feed", "over-voltage", "lamp-voltage",
        "supply-continuous", "conductor-current", "fuse-conductor", "relay-contact", "contact-unrated", "shared-shell",
        "relay-inrush", "flasher-load", "ground-return",
    }  # fmt: skip


def test_explain_tells_a_rule_and_lists_them_all() -> None:
    """Every rule that the bad rig breaks can be explained; the list has them all; a wrong name gives the nearest."""
    found = {finding["rule"] for finding in json.loads(wiregen("check", BAD, "--json").stdout)["findings"]}
    listed = {rule["id"] for rule in json.loads(wiregen("explain", "--json").stdout)["rules"]}
    one = wiregen("explain", "lamp-voltage")
    wrong = wiregen("explain", "lamp-votlage")

    assert found <= listed
    rows = [line for line in wiregen("explain").stdout.splitlines() if line[1:2].isalpha()]
    assert listed <= {line.split()[0] for line in rows}
    assert one.returncode == 0
    assert "S22: California 13 CCR 1249" in one.stdout
    assert (wrong.returncode, wrong.stdout) == (2, "")
    assert "did you mean 'lamp-voltage'?" in wrong.stderr


def test_explain_prints_the_same_to_people_and_to_machines() -> None:
    """One rule: what, why, formula, limit and source stand in the text at 80 columns and under their keys in JSON."""
    text = wiregen("explain", "relay-inrush").stdout
    data = json.loads(wiregen("explain", "relay-inrush", "--json").stdout)
    wrong = wiregen("explain", "relay-inrsh", "--json")

    assert {"format", "kind", "id", "title", "severity", "what", "why", "formula", "limit", "sources"} <= set(data)
    flat = " ".join(text.split()).lower()
    assert all(data[key].lower() in flat for key in ("id", "title", "what", "why", "formula", "limit", "tighten"))
    assert all(source["title"].lower() in flat for source in data["sources"])
    assert max(map(len, text.splitlines())) <= 80
    assert (wrong.returncode, wrong.stdout) == (2, "")
    assert "'relay-inrsh' is not a rule; did you mean 'relay-inrush'?" in wrong.stderr


def test_readings_of_a_state(tmp_path: Path) -> None:
    """A state in words, in any spelling that is accepted: the same points for people, machines and a table."""
    text = wiregen("readings", BUS, "--state", "lights, left", "--trailer", "Boat Trailer")
    state = ("--state", "service lights, left turn", "--trailer", "boat trailer")
    data = json.loads(wiregen("readings", BUS, *state, "--json").stdout)
    table = wiregen("readings", BUS, *state, "--to", tmp_path / "r.csv", "--json")
    rows = (tmp_path / "r.csv").read_text("utf-8").splitlines()

    assert text.returncode == 0
    assert max(map(len, text.stdout.splitlines())) <= 80
    assert set(data) == {"format", "kind", "title", "digest", "corners", "notes", "states"}
    assert [(one["state"], one["half"]) for one in data["states"]] == [
        ("service lights, left turn", "lit"),
        ("service lights, left turn", "dark"),
    ]
    readings = data["states"][0]["readings"]
    (coming,) = [r for r in readings if (r["contact"], r["connector"], r["side"]) == ("B", "-X1", "vehicle")]
    assert coming["lowest_v"] < coming["nominal_v"] < coming["highest_v"]
    (line,) = [line for line in text.stdout.split("(DARK HALF")[0].splitlines() if line.startswith(" X1:B  ")]
    assert f"{coming['nominal_v']:.2f}" in line
    assert json.loads(table.stdout) == data
    assert sum("(lit half of the flash)" in row for row in rows) == len(readings)


def test_readings_go_through_the_controls_when_none_is_named() -> None:
    """Without a state every control is read in turn, with what it needs to work at all, and the one that takes most."""
    data = json.loads(wiregen("readings", LORRY, "--json").stdout)
    states = {one["state"] for one in data["states"]}

    assert {"all off", "service lights", "brake", "left turn", "right turn", "hazard"} <= states
    assert {state for state in states if "," in state} == {
        "service lights, rear fog",
        "service lights, brake, hazard, reverse, rear fog",
    }


def test_netlists_are_written_and_never_silently_replaced(tmp_path: Path) -> None:
    """One file a state; a changed one stays until --force; with --json the files and what was left out, no words."""
    asked = ("netlist", BUS, "--out", tmp_path, "--state", "brake", "--trailer", "boat trailer")
    first = wiregen(*asked)
    (file,) = tmp_path.iterdir()
    made = file.read_text("utf-8")
    file.write_text("mine", "utf-8")
    refused = wiregen(*asked)
    kept = file.read_text("utf-8")
    forced = wiregen(*asked, "--force", "--json")

    assert (first.returncode, first.stdout) == (0, f"wrote {file}\n")
    assert "* state: brake; running voltage" in made
    assert (refused.returncode, refused.stdout, kept) == (2, "", "mine")
    assert "--force" in refused.stderr
    assert json.loads(forced.stdout) == {"files": [str(file)], "left_out": []}
    assert file.read_text("utf-8") == made


#: They write files, or print what is JSON already.
ANSWERS_NOTHING = {"demo", "draw", "new", "page", "schema", "upgrade"}


@pytest.mark.parametrize("command", sorted({command.name for command in app.registered_commands} - ANSWERS_NOTHING))
def test_commands_that_answer_have_json(command: str) -> None:
    """What another program may read is to be had as JSON."""
    assert "--json" in wiregen(command, "--help").stdout


def test_readme_lists_the_findings_of_the_bad_example() -> None:
    """The README's table names exactly the rules that the bad rig breaks."""
    readme = (ROOT / "README.md").read_text("utf-8")
    table = readme.split("## A rig that goes wrong")[1].split("## ")[0]
    listed = {line.split("`")[1] for line in table.splitlines() if line.startswith("| `")}
    found = {finding["rule"] for finding in json.loads(wiregen("check", BAD, "--json").stdout)["findings"]}

    assert listed == found


@pytest.mark.parametrize("command", [("check",), ("chart",), ("pinouts", "military-12-us"), ("pinouts",)])
def test_nothing_is_wider_than_the_terminal(command: tuple[str, ...]) -> None:
    """At 80 columns no line is longer."""
    arguments = (*command, BUS) if command[0] in ("check", "chart") else command
    lines = wiregen(*arguments).stdout.splitlines()

    assert len(lines) > 10
    assert max(map(len, lines)) <= 80


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("check", "nowhere.toml"), "nowhere.toml"),
        (("chart", DEMO), "directory"),
        (("chart", BUS, "--to", "x.doc"), "Allowed: .txt .md .html .htm .csv .json .pdf .svg"),
        (("chart", BUS, "--to", "x.svg", "--paper", "a5"), "a4, letter"),
        (("pinouts", "iso-1146"), "did you mean 'iso-11446'?"),
        (("demo", "buss"), "did you mean 'bus'?"),
        (("draw", BUS, "--paper", "leter"), "did you mean 'letter'?"),
        (("chart", BUS, "--paper", "a3"), "--paper 'a3' is not known. Allowed: a4, letter"),
        (("diff", BUS, BUS, "--paper", "a3"), "--paper 'a3' is not known. Allowed: a4, letter"),
        (("readings", BUS, "--state", "brakes"), "--state 'brakes' is no control; did you mean 'brake'?"),
        (("readings", BUS, "--state", "lights, blackout"), "'lights' and 'blackout' cannot both hold"),
        (("readings", BUS, "--trailer", "boat trialer"), "did you mean 'boat trailer'?"),
        (("readings", BUS, "--to", "x.xls"), "Allowed: .txt .md .html .htm .csv .json .pdf .svg"),
        (("netlist", BUS, "--state", "left trun"), "did you mean 'left turn'?"),
        (("netlist", BUS, "--corner", "hott"), "--corner 'hott' is no corner; did you mean 'hot'?"),
        (("netlist", BUS, "--trailer", "boat"), "this rig has boat trailer"),
        (("check",), "RIG"),
        (("chekc", BUS), "chekc"),
    ],
)
def test_bad_input_exits_2_with_words(tmp_path: Path, arguments: tuple[object, ...], words: str) -> None:
    """Bad input says what is wrong and what is allowed, without a traceback, and writes nothing."""
    result = wiregen(*arguments, cwd=tmp_path)

    assert result.returncode == 2
    assert words in result.stderr
    assert "Traceback" not in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_misfits_of_a_rig_file_are_placed(tmp_path: Path) -> None:
    """Every misfit of a file is shown in one run with file, line, column and caret."""
    text = BUS.read_text("utf-8").replace('socket = "military-12-us" ', 'sokcet = "military-12-us" ')
    text = text.replace('fuse = "20 A"', 'fuse = "20 W"').replace('type = "1157-dim"', 'type = "1157-dimm"')
    path = tmp_path / "rig.toml"
    path.write_text(text, "utf-8")
    result = wiregen("check", path)

    assert result.returncode == 2
    assert "unknown key 'sokcet'; did you mean 'socket'?" in result.stderr
    assert "current is wanted" in result.stderr
    assert f"{path}:" in result.stderr
    assert "^^^^" in result.stderr


def test_files_are_never_overwritten_silently(tmp_path: Path) -> None:
    """A file that holds something else stays as it is until --force; the same text again is no clash."""
    target = tmp_path / "chart.csv"
    target.write_text("mine", "utf-8")
    refused = wiregen("chart", BUS, "--to", target)
    kept = target.read_text("utf-8")
    forced = wiregen("chart", BUS, "--to", target, "--force")
    again = wiregen("chart", BUS, "--to", target)

    assert (refused.returncode, kept) == (2, "mine")
    assert "--force" in refused.stderr
    assert (forced.returncode, again.returncode) == (0, 0)
    assert [path.name for path in tmp_path.iterdir()] == ["chart.csv"]


def test_draw_refuses_all_when_one_file_clashes(tmp_path: Path) -> None:
    """Either all drawings are written or none."""
    (tmp_path / "face-x2.svg").write_text("mine", "utf-8")
    result = wiregen("draw", BUS, "--out", tmp_path)

    assert result.returncode == 2
    assert [path.name for path in tmp_path.iterdir()] == ["face-x2.svg"]


def test_demo_output_is_what_out_holds(tmp_path: Path) -> None:
    """The committed out/ is byte for byte what the demo writes, under any hash seed."""
    result = wiregen("demo", "--out", tmp_path / "out")
    written = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    committed = {path.name: path.read_bytes() for path in (ROOT / "out").iterdir()}

    assert result.returncode == 0, result.stderr
    assert written.keys() == committed.keys()
    assert [name for name in written if written[name] != committed[name]] == []


def test_chart_json_and_file_together(tmp_path: Path) -> None:
    """With --json the standard output is JSON alone, also when a file is written."""
    result = wiregen("chart", BUS, "--json", "--to", tmp_path / "c.md")
    data = json.loads(result.stdout)

    assert data["sheet"]["title"] == "Observatory bus, trailer adapter"
    assert len(data["measures"]) > 20
    assert (tmp_path / "c.md").exists()


def test_schema_is_valid_json_schema_and_written(tmp_path: Path) -> None:
    """The schema of rig and pinout files can be written and names the top-level tables."""
    rig = json.loads(wiregen("schema").stdout)
    pinout = json.loads(wiregen("schema", "--pinout").stdout)

    assert {"title", "vehicle", "adapter", "trailer", "run", "rules"} <= set(rig["properties"])
    assert {"title", "shell", "contact"} <= set(pinout["properties"])


def test_a_closed_pipe_is_no_error() -> None:
    """A reader that stops early gets no traceback."""
    process = subprocess.run(
        f"{sys.executable} -m wiregen chart {BUS} | head -n 1",
        shell=True,
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )

    assert process.stdout.startswith("WIRING CHART")
    assert "Traceback" not in process.stderr


def test_pinouts_json_holds_every_contact_with_source() -> None:
    """Every contact of every pinout names its sources and how well they support it."""
    data = json.loads(wiregen("pinouts", "--json").stdout)

    assert len(data) >= 15
    assert all(contact["sources"] and contact["support"] for pinout in data for contact in pinout["contact"])


def test_lamps_are_listed() -> None:
    """Lamp types are listed with what they draw."""
    result = wiregen("pinouts", "--lamps")

    assert "p21w-12v" in result.stdout
    assert json.loads(wiregen("pinouts", "--lamps", "--json").stdout)[0]["id"]


def test_new_asks_and_writes_a_rig_that_checks_clean(tmp_path: Path) -> None:
    """Typed answers, list numbers among them, give a rig file without errors, and the schema beside it."""
    typed = "us\nBus\n\n6\nyes\nboat\nsae-j2863\nled\ny\n2\nno\n\n\n\n"
    asked = wiregen("new", tmp_path / "bus.toml", typed=typed)
    checked = wiregen("check", tmp_path / "bus.toml", "--json")

    assert asked.returncode == 0, asked.stdout + asked.stderr
    assert "Which trailer socket has it?" in asked.stdout
    assert (tmp_path / "wiregen.schema.json").exists()
    assert [f for f in json.loads(checked.stdout)["findings"] if f["severity"] == "error"] == []


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        (("socket=iso-12098", "trailer.1.plug=iso-11446"), "finds no errors and"),
        (
            ("socket=iso-12098", "trailer.1.plug=as-4177-7", "trailer.1.lamps=filament", "trailer.1.magnets=4"),
            "errors (",
        ),
    ],
)
def test_new_says_what_the_check_finds_in_the_draft(tmp_path: Path, answers: tuple[str, ...], words: str) -> None:
    """The counts on the terminal are those of the check; the file itself promises nothing."""
    rig = tmp_path / "a.toml"
    made = wiregen("new", rig, "--defaults", *(word for answer in answers for word in ("--answer", answer)))
    findings = json.loads(wiregen("check", rig, "--json").stdout)["findings"]
    counts = [sum(finding["severity"] == severity for finding in findings) for severity in ("error", "warning")]

    told = " ".join(made.stdout.split())
    assert made.returncode == 0, made.stderr
    assert words in told
    assert re.findall(r"(\w+) (?:error|warning)s? ?[(a.]", told)[:2] == [str(count or "no") for count in counts]
    assert "its lengths, lamps and fuses are guesses" in told
    assert max(map(len, made.stdout.splitlines())) <= max(
        80, len(f"Next: read it, correct lengths and lamps, then run 'wiregen check {rig}'.")
    )
    assert "it checks" not in rig.read_text("utf-8")


def test_new_lists_the_keys_of_its_answers() -> None:
    """Every key with its question and what it takes, in 80 columns; nothing is asked or written."""
    listed = wiregen("new", "--keys")

    assert listed.returncode == 0
    assert "  trailer.1.magnets     How many electric brake magnets? 0 to 8." in listed.stdout.splitlines()
    assert max(map(len, listed.stdout.splitlines())) <= 80


def test_new_gives_up_where_nobody_answers(tmp_path: Path) -> None:
    """Empty lines without end, as from a pipe, end in a message and no file, not in a loop."""
    asked = wiregen("new", tmp_path / "bus.toml", typed="\n" * 1000)

    assert asked.returncode == 2
    assert "no answer to: Which trailer socket has it? (20 answers would not do; nothing is written)" in asked.stderr
    assert list(tmp_path.iterdir()) == []


def test_the_list_of_commands_is_not_cut_off() -> None:
    """Every line of the list fits 80 columns and ends in a whole sentence."""
    listed = wiregen("--help").stdout.partition("Commands:")[2]

    assert max(len(line) for line in listed.splitlines()) <= 80
    assert "..." not in listed
    assert "limit, source." in listed


def test_new_takes_prepared_answers(tmp_path: Path) -> None:
    """Answers on the command line and defaults for the rest need no terminal; a wrong one is refused with a hint."""
    good = wiregen(
        "new", tmp_path / "a.toml", "--defaults", "--answer", "socket=iso-12098", "--answer", "trailer.1.plug=iso-11446"
    )
    wrong = wiregen("new", tmp_path / "b.toml", "--defaults", "--answer", "socket=iso-1209")
    ended = wiregen("new", tmp_path / "c.toml")

    assert good.returncode == 0, good.stderr
    assert (wrong.returncode, ended.returncode) == (2, 2)
    assert "iso-12098" in wrong.stderr
    assert not (tmp_path / "b.toml").exists()
    assert "the input ended" in ended.stderr
