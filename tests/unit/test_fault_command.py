"""``wiregen fault`` as it is typed: options, talking, sessions, what is refused."""

import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from tests.rigs import load, rig, trailer
from tests.steps import fault_finder
from wiregen.cli import app
from wiregen.questions.faults.coverage import test_points as best_points
from wiregen.questions.faults.weigh import APART

RUN = CliRunner()


@pytest.fixture(scope="module")
def small(tmp_path_factory) -> Path:
    """A rig with one lamp a side, for speed."""
    path = tmp_path_factory.mktemp("rig") / "rig.toml"
    path.write_text(
        rig(channels=["stop_turn_left > stop_turn_left", "tail > tail"], lamps=["stop_turn_left", "tail"]), "utf-8"
    )
    return path


def run(*words: object, typed: str = ""):
    return RUN.invoke(app, ["fault", *map(str, words)], input=typed)


def test_observations_in_suspects_out(small):
    """Given what was seen, suspects and the next check come out, no line wider than the terminal."""
    result = run(small, "--saw", "left: left dark")
    assert result.exit_code == 0, result.output
    assert "SUSPECTS" in result.output
    assert "NEXT CHECK" in result.output
    assert max(len(line) for line in result.output.splitlines()) <= 80


def test_json(small):
    """Machines get the same."""
    result = run(small, "--saw", "brake: left dark", "--measured", "X2:5 adapter, brake 13.4 V", "--json")
    data = json.loads(result.stdout)
    assert data["suspects"][0]["probability"] > 0
    assert data["symptoms"][1] == "X2:5 adapter, brake 13.4 V"


def test_talking_until_the_fault_is_found(small, tmp_path):
    """Complaint, a number, a skipped check, a step back, stop: the session holds it and is taken up again."""
    kept = tmp_path / "s.json"
    result = run(small, "--session", kept, typed="left: left dark\n\n1\n?\nb\nq\n")
    assert result.exit_code == 0, result.output
    assert "What is wrong?" in result.output
    session = json.loads(kept.read_text("utf-8"))
    assert session["seen"][0] == {"kind": "saw", "text": "left: left dark"}
    again = run(small, "--session", kept, typed="q\n")
    assert "What is wrong?" not in again.output
    assert "SUSPECTS" in again.output


def test_what_is_typed_wrongly_is_asked_again(small):
    """A misread line says why and asks again; the end of the input ends the talk."""
    result = run(small, typed="nonsense\nleft: left dark\n\n99\nfoo bar\n")
    assert result.exit_code == 0, result.output
    assert "write the controls, a colon" in result.output


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--saw", "left left dark"), "write the controls"),
        (("--measured", "X2:1 left"), "reading is missing"),
        (("--tried", "bulb"), "write the part"),
        (("--trailer", "nobody"), "no trailer named 'nobody'"),
        (("--guide", "--coverage"), "stand alone"),
        (("--guide", "--saw", "left: left dark"), "stand alone"),
    ],
)
def test_refused(small, words, says):
    """Bad input is exit 2 with words, never a traceback."""
    result = run(small, *words)
    assert (result.exit_code, says in result.output) == (2, True), result.output


def test_a_file_that_is_no_session_is_left_alone(small, tmp_path):
    """A user's other file is refused and keeps its bytes."""
    other = tmp_path / "notes.txt"
    other.write_text("my notes", "utf-8")
    result = run(small, "--session", other, "--saw", "left: left dark")
    assert (result.exit_code, other.read_text("utf-8")) == (2, "my notes")


@pytest.mark.parametrize("option", ["--guide", "--coverage"])
def test_guide_and_coverage(small, option):
    """Both print as text and as JSON."""
    assert run(small, option).exit_code == 0
    assert isinstance(json.loads(run(small, option, "--json").stdout), list)


def test_lines_of_another_rig_are_left_out_and_named(small, tmp_path):
    """A session begun with an older rig goes on with what still means something."""
    kept = tmp_path / "s.json"
    seen = [{"kind": "saw", "text": "left turn: fog dark"}, {"kind": "saw", "text": "brake: left dark"}]
    old = {"wiregen_fault_session": 1, "digest": "old", "trailer": "test trailer", "seen": seen}
    kept.write_text(json.dumps(old), "utf-8")
    result = run(small, "--session", kept, "--json")
    assert "left out of the session" in result.stderr
    assert json.loads(result.stdout)["symptoms"] == ["brake: left stop and turn dark"]


@pytest.mark.parametrize("typed", ["q\n", "QUIT\n", "1\nq\n"])
def test_q_ends_the_talk_at_any_question(tmp_path, typed):
    """Asked which trailer is coupled, or what is wrong, q ends without an error and is no name and no symptom."""
    path = tmp_path / "rig.toml"
    path.write_text(rig(trailers=[trailer("sae-j2863", ["tail"], name=name) for name in ("one", "two")]), "utf-8")
    result = run(path, typed=typed)
    assert result.exit_code == 0, result.output
    assert "q = stop" in result.output
    assert "SUSPECTS" not in result.output


@pytest.mark.parametrize("option", ["--json", "--guide", "--coverage"])
def test_a_trailer_without_lamps(tmp_path, option):
    """Nothing is seen where no lamp is, and each way of asking says so without a traceback."""
    path = tmp_path / "rig.toml"
    path.write_text(rig(lamps=()), "utf-8")
    result = run(path, option)
    assert (result.exit_code, result.exception) == (0, None)
    assert option != "--coverage" or "SEEN: no fault" in result.stdout


def test_a_test_point_splits_what_all_pairs_one_by_one_say(small):
    """The share of the best test point is that of a count over all ordered pairs, each looked at by itself."""
    finder = fault_finder(load(small.read_text("utf-8")))
    book, reasoner = finder.book, finder.reasoner
    best = best_points(finder)[0]
    at = next(k for k, point in enumerate(book.points) if point.at == best.terminal and point.words == best.words)
    outside = {k: point.access not in ("hidden", "adapter") for k, point in enumerate(book.points)}
    rows = np.flatnonzero((book.looks != book.looks[0]).any(axis=(1, 2)))
    apart = reasoner.apart(rows.tolist(), outside)
    sigma_v = np.stack([reasoner.sigma_v(setting, at) for setting in range(len(book.settings))], axis=1)
    told = every = 0.0
    for i, one in enumerate(rows):
        for k, other in enumerate(rows):
            mine, theirs = book.cases[one], book.cases[other]
            if i == k or apart[i, k] or (mine.part, mine.kind) == (theirs.part, theirs.kind):
                continue
            weight = reasoner.prior[one] * reasoner.prior[other]
            off = np.abs(book.volts_v[one, :, at] - book.volts_v[other, :, at])
            spread = np.hypot(sigma_v[one], sigma_v[other])
            every += weight
            told += weight * bool((off > APART * spread).any())
    assert best.splits == pytest.approx(told / every, rel=1e-9)
