"""``wiregen packet`` as a user meets it: exit status, folder, refusals in words."""

import json
from pathlib import Path

import pytest

from tests.test_cli import BAD, BUS, wiregen


def test_packet_is_written_and_told(tmp_path: Path) -> None:
    """A clean rig exits with 0; the folder has what the list of contents says; the same again changes nothing."""
    first = wiregen("packet", BUS, "--out", tmp_path / "out", "--json")
    again = wiregen("packet", BUS, "--out", tmp_path / "out")

    assert (first.returncode, first.stderr) == (0, "")
    listing = json.loads(first.stdout)
    names = {path.relative_to(tmp_path / "out").as_posix() for path in (tmp_path / "out").rglob("*") if path.is_file()}
    assert names == {entry["name"] for entry in listing["files"]} | {"packet.json"}
    assert {"packet.pdf", "chart.html", "tables/cut-list.csv", "labels/labels.csv", "rig.toml"} <= names
    assert json.loads((tmp_path / "out" / "packet.json").read_text("utf-8")) == listing
    assert again.returncode == 0
    assert again.stdout.startswith("nothing changed")


def test_packet_of_a_bad_rig_is_written_with_its_verdict(tmp_path: Path) -> None:
    """Findings exit with 1, the packet is there all the same, and another rig does not replace it unasked."""
    found = wiregen("packet", BAD, "--out", tmp_path / "out", "--paper", "letter")
    other = wiregen("packet", BUS, "--out", tmp_path / "out")

    assert found.returncode == 1
    assert "has findings" in found.stderr
    assert json.loads((tmp_path / "out" / "packet.json").read_text("utf-8"))["paper"] == "letter"
    assert other.returncode == 2
    assert "use --force" in other.stderr
    assert json.loads((tmp_path / "out" / "packet.json").read_text("utf-8"))["title"] == "How not to do it"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((BUS, "--out", "taken"), "taken is a file"),
        ((BUS, "--out", "out", "--paper", "a5"), "--paper 'a5' is not known"),
        (("no-such.toml", "--out", "out"), "no-such.toml"),
        ((BUS,), "--out"),
    ],
)
def test_bad_input_is_told_in_words(tmp_path: Path, arguments: tuple[object, ...], words: str) -> None:
    """Exit status 2, the thing named, no traceback, no folder."""
    (tmp_path / "taken").write_text("mine")
    result = wiregen("packet", *arguments, cwd=tmp_path)

    assert result.returncode == 2
    assert words in result.stderr
    assert "Traceback" not in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]
