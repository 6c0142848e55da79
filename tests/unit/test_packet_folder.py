"""The folder of the packet: whole or not at all, and nothing that is not its own is ever lost."""

import json
import os
from pathlib import Path

import pytest

from wiregen.cli.fault import _read
from wiregen.errors import InputError
from wiregen.paper.files import write_files
from wiregen.paper.folder import MANIFEST, manifest, write_folder


def filled(**texts: str) -> dict[str, bytes]:
    """Files of a small packet with its list of contents."""
    files = {f"{name}.txt": text.encode() for name, text in texts.items()} | {"tables/one.csv": b"1\r\n"}
    return {**files, MANIFEST: json.dumps(manifest(files, {"title": "small"})).encode()}


def held(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_new_folder_is_written_whole(tmp_path):
    """Every file is there, in folders of its own, and nothing temporary is left beside it."""
    assert write_folder(filled(a="x"), tmp_path / "deep" / "out") is True
    assert held(tmp_path / "deep" / "out") == filled(a="x")
    assert [path.name for path in (tmp_path / "deep").iterdir()] == ["out"]


def test_the_same_again_changes_nothing(tmp_path):
    """A folder that holds the very same is left alone, and needs no force."""
    write_folder(filled(a="x"), tmp_path / "out")
    before = (tmp_path / "out").stat().st_mtime_ns
    assert write_folder(filled(a="x"), tmp_path / "out") is False
    assert (tmp_path / "out").stat().st_mtime_ns == before


def test_an_empty_folder_is_filled(tmp_path):
    """A folder somebody has made for it is taken."""
    (tmp_path / "out").mkdir()
    assert write_folder(filled(a="x"), tmp_path / "out") is True
    assert held(tmp_path / "out") == filled(a="x")


def test_another_packet_is_replaced_only_by_force(tmp_path):
    """Without force nothing changes; with it the old files are gone, those that the new one does not have too."""
    write_folder(filled(a="x", b="y"), tmp_path / "out")
    with pytest.raises(InputError, match="--force"):
        write_folder(filled(a="z"), tmp_path / "out")
    assert held(tmp_path / "out") == filled(a="x", b="y")
    assert write_folder(filled(a="z"), tmp_path / "out", force=True) is True
    assert held(tmp_path / "out") == filled(a="z")
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize("force", [False, True])
def test_files_of_somebody_else_are_never_touched(tmp_path, force):
    """A packet to which somebody has added a file is refused by name, even with force."""
    write_folder(filled(a="x"), tmp_path / "out")
    (tmp_path / "out" / "my notes.txt").write_text("mine")
    with pytest.raises(InputError, match=r"my notes\.txt is not of the packet"):
        write_folder(filled(a="z"), tmp_path / "out", force=force)
    assert held(tmp_path / "out") == {**filled(a="x"), "my notes.txt": b"mine"}


def test_a_filled_in_form_is_not_lost(tmp_path):
    """A file of the packet that somebody has written into is refused by name, even with force."""
    write_folder(filled(a="x"), tmp_path / "out")
    (tmp_path / "out" / "tables" / "one.csv").write_text("1, 12.6")
    with pytest.raises(InputError, match=r"one\.csv has been changed since it was written"):
        write_folder(filled(a="z"), tmp_path / "out", force=True)
    assert (tmp_path / "out" / "tables" / "one.csv").read_text() == "1, 12.6"


@pytest.mark.parametrize("content", ["", "{}", '{"files": [1]}', "\x00", '{"files": [{"name": "a.txt"}]}'])
def test_a_folder_that_is_no_packet_is_refused(tmp_path, content):
    """A home folder is not emptied because of --force, nor with a list of contents that does not fit."""
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "letter.txt").write_text("dear")
    if content:
        (tmp_path / "out" / MANIFEST).write_text(content)
    before = held(tmp_path / "out")
    with pytest.raises(InputError):
        write_folder(filled(a="x"), tmp_path / "out", force=True)
    assert held(tmp_path / "out") == before


def test_a_failure_leaves_nothing_and_loses_nothing(tmp_path, monkeypatch):
    """When the disk is full in the middle, the old folder stands as it was and no half of a new one is left."""
    write_folder(filled(a="x"), tmp_path / "out")
    written = Path.write_bytes

    def full(path: Path, data: bytes) -> int:
        if path.name == "one.csv":
            raise OSError(28, "No space left on device")
        return written(path, data)

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(InputError, match="No space left on device"):
        write_folder(filled(a="z"), tmp_path / "out", force=True)
    assert held(tmp_path / "out") == filled(a="x")
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_the_old_folder_comes_back_when_the_new_one_cannot_be_moved_in(tmp_path, monkeypatch):
    """Moving fails at the last step: what was there is there again."""
    write_folder(filled(a="x"), tmp_path / "out")
    moved = Path.rename

    def failing(path: Path, target: Path) -> Path:
        if Path(target).name == "out" and path.name != "old":
            raise OSError(5, "Input/output error")
        return moved(path, target)

    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(InputError, match="Input/output error"):
        write_folder(filled(a="z"), tmp_path / "out", force=True)
    assert held(tmp_path / "out") == filled(a="x")


@pytest.mark.skipif(not hasattr(os, "symlink"), reason="this system has no symbolic links")
def test_links_are_refused(tmp_path):
    """A link in place of the folder is refused, and a link inside it counts as somebody else's file."""
    write_folder(filled(a="x"), tmp_path / "out")
    (tmp_path / "link").symlink_to(tmp_path / "out")
    with pytest.raises(InputError, match="is a link"):
        write_folder(filled(a="z"), tmp_path / "link", force=True)
    (tmp_path / "out" / "elsewhere").symlink_to(tmp_path)
    with pytest.raises(InputError, match="elsewhere is not of the packet"):
        write_folder(filled(a="z"), tmp_path / "out", force=True)


@pytest.mark.parametrize("name", ["../a", "/a", "a/../../b", "", "c:\\a", "a\\b", "."])
def test_no_name_leads_out_of_the_folder(tmp_path, name):
    """A name with a way out is a mistake of a program and is refused before anything is written."""
    with pytest.raises(ValueError, match="no name for a file"):
        write_folder({name: b"x"}, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_a_file_in_the_way_is_told(tmp_path):
    """A file where the folder, or a folder above it, should be is named."""
    (tmp_path / "out").write_text("mine")
    with pytest.raises(InputError, match="out is a file"):
        write_folder(filled(a="x"), tmp_path / "out")
    with pytest.raises(InputError, match="out is not a folder"):
        write_folder(filled(a="x"), tmp_path / "out" / "deeper")


def test_a_folder_that_is_no_packet_is_not_even_read(tmp_path, monkeypatch):
    """Given a home folder by mistake, nothing in it is opened or listed to the end."""
    (tmp_path / "out" / "deep").mkdir(parents=True)
    (tmp_path / "out" / "deep" / "letter.txt").write_text("dear")

    def never(*_: object, **__: object) -> None:
        raise AssertionError

    for name in ("read_bytes", "read_text", "rglob"):
        monkeypatch.setattr(Path, name, never)
    monkeypatch.setattr(os, "walk", never)
    with pytest.raises(InputError, match="holds no packet"):
        write_folder(filled(a="x"), tmp_path / "out", force=True)


def test_a_name_that_is_too_long_is_told(tmp_path):
    """No file system takes 300 characters: packet, single files and the session of a fault say so in words."""
    long = tmp_path / ("x" * 300)
    for attempt in (
        lambda: write_folder({"a.txt": b"a"}, long),
        lambda: write_folder({"a.txt": b"a"}, long / "packet"),
        lambda: write_files({tmp_path / "a.svg": "a", long: "b"}),
        lambda: _read(long),
    ):
        with pytest.raises(InputError, match="too long"):
            attempt()
    assert list(tmp_path.iterdir()) == []
