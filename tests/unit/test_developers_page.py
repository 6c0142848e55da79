"""The contributor guide tells the truth about the tree: every path it names is there, every command has its place."""

from __future__ import annotations

import re
from pathlib import Path

from wiregen.cli import app

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8")


def test_every_command_has_a_row_and_every_row_a_folder_that_is_there():
    """The map names each command once; its folders and files exist."""
    rows = dict(re.findall(r"^\| `(\w+)` \| [^|]+ \| ([^|]+) \|$", GUIDE, flags=re.M))
    commands = {command.name for command in app.registered_commands}

    assert set(rows) == commands
    for places in rows.values():
        for place in re.findall(r"`([^`]+)`", places):
            assert (ROOT / "wiregen" / place).exists() or (ROOT / place).exists(), place


def test_every_path_in_the_guide_exists():
    """A path in code style with a slash and an ending is a file of the checkout, below wiregen/ or at its top."""
    paths = re.findall(r"`((?:[a-z_]+/)+[\w.*-]*\.(?:py|toml|csv|js|typ))`", GUIDE)
    assert len(paths) > 20
    missing = [one for one in paths if not (list(ROOT.glob(one)) or list((ROOT / "wiregen").glob(one)))]

    assert not missing


def test_every_room_stands_in_the_picture_of_layers():
    """Each folder and module right under wiregen/ is in the picture of what may import what."""
    rooms = {path.stem for path in (ROOT / "wiregen").iterdir() if not path.name.startswith(("_", "py."))}
    picture = GUIDE[GUIDE.index("Imports go one way") : GUIDE.index("## Where a feature stands")]

    assert not {room for room in rooms if room not in picture}


def test_one_file_a_command():
    """A command stands in the file of its name."""
    for command in app.registered_commands:
        assert command.callback
        assert command.callback.__module__ == f"wiregen.cli.{command.name}"
