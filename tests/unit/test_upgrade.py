"""A file of an earlier format is refused by today's names, and brought up to them with every comment kept."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from tests.command import wiregen
from wiregen.catalogue.connector import FORMAT, Connector
from wiregen.loader.reading import parse_toml, read_toml
from wiregen.loader.renamed import RENAMED
from wiregen.loader.upgrade import upgraded
from wiregen.rig.records import Rig

WRITTEN = Path(__file__).parents[1] / "written"
BUS = Path(__file__).parents[2] / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"

OLD = """\
# my bus  # feed = "not a key"
title = "feed and at"

[vehicle]            # the bus
[[vehicle.feed]]     # its fuse
fuse = "20 A"
[[vehicle.feed]]
fuse = "5 A"
[[vehicle.habit]]
circuit = "tail"
[[vehicle.tap]]
at = "battery"       # at the battery
[adapter.supply]
feed   =   'box'
[[adapter.channel]]
make = "40 A"
[[trailer]]
ties = [["1", "2"]]
battery = { feed = "diode", voltage = "12 V" }
[[trailer.lamp]]
"at" = "3"
"""


def test_every_old_key_is_renamed_and_nothing_else() -> None:
    """Comments, blanks, quotes of values and the order of keys stay; a second run changes nothing."""
    made = upgraded(parse_toml(OLD, "old.toml"))

    assert len(made.changes) == 9
    assert made.text.startswith('# my bus  # feed = "not a key"\nformat = 2\ntitle = "feed and at"\n')
    assert "[[vehicle.fuse]]     # its fuse" in made.text
    assert made.text.count("[[vehicle.fuse]]") == 2
    assert "fed_by   =   'box'" in made.text
    assert 'source = "battery"       # at the battery' in made.text
    assert '{ isolation = "diode", voltage = "12 V" }' in made.text
    again = upgraded(parse_toml(made.text, "new.toml"))
    assert (again.text, again.changes) == (made.text, ())


@pytest.mark.parametrize("path", [BUS, *sorted(WRITTEN.glob("*.toml"))], ids=lambda path: path.stem)
def test_today_s_files_written_with_old_keys_come_back(path: Path) -> None:
    """Every rig of the tests, put back to the old names line by line, says the same again after the upgrade."""
    heads = {"vehicle.fuse": "vehicle.feed", "vehicle.exception": "vehicle.habit"}
    old, table = [], ""
    for line in path.read_text("utf-8").splitlines():
        if head := re.match(r"\[+([a-z.]+)\]+", line):
            table = head[1]
            line = line.replace(table, heads.get(table, table), 1)
        for one in RENAMED:
            if ".".join(one.table) == table:
                line = re.sub(rf"^{one.new}(?=\s*=)", one.old, line)
        if not line.startswith("format"):
            old.append(line)

    made = upgraded(parse_toml("\n".join(old) + "\n", "old.toml"))

    assert tomllib.loads(made.text) == read_toml(path).data


def test_the_names_of_today_are_keys_of_the_records() -> None:
    """Each new name is a key that a rig or a pinout may have, and no old one is."""
    known = str(Rig.model_json_schema(by_alias=True)) + str(Connector.model_json_schema(by_alias=True))
    for one in RENAMED:
        assert f"'{one.new}'" in known, one


def test_the_command_renames_in_place_and_says_where(tmp_path: Path) -> None:
    """An old key is an error that names the new one; after the upgrade the file is read."""
    rig = tmp_path / "rig.toml"
    rig.write_text(BUS.read_text("utf-8").replace("fed_by", "feed").replace("format = 2\n", ""), "utf-8")
    rig.chmod(0o640)

    refused = wiregen("chart", rig)
    told = wiregen("upgrade", rig)

    assert refused.returncode == 2
    assert "'feed' is called 'fed_by' now; 'wiregen upgrade FILE'" in refused.stderr
    assert (told.returncode, "adapter.supply.feed is fed_by now" in told.stdout) == (0, True)
    assert rig.stat().st_mode & 0o777 == 0o640
    assert wiregen("chart", rig).returncode == 0
    assert "already" in wiregen("upgrade", rig).stdout


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (f"format = {FORMAT + 1}\n", "newer than this wiregen"),
        ('[adapter.supply]\nfeed = "a"\nfed_by = "b"\n', "are both there"),
        ("[adapter\n", "old.toml:1"),
    ],
)
def test_what_cannot_be_brought_up_is_refused_and_stays(tmp_path: Path, text: str, says: str) -> None:
    """Nothing is written, the exit status is 2, and the words say why."""
    path = tmp_path / "old.toml"
    path.write_text(text, "utf-8")

    result = wiregen("upgrade", path)

    assert (result.returncode, says in result.stderr) == (2, True), result.stderr
    assert path.read_text("utf-8") == text


def test_a_read_only_file_stays(tmp_path: Path) -> None:
    """Also for root, who could write it."""
    path = tmp_path / "old.toml"
    path.write_text(OLD, "utf-8")
    path.chmod(0o444)

    result = wiregen("upgrade", path)

    assert (result.returncode, "read-only" in result.stderr) == (2, True), result.stderr
    assert path.read_text("utf-8") == OLD
