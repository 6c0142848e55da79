"""Write a whole folder at once: complete or not at all, and never over something that is not an earlier one.

Everything is written to a temporary folder beside the wanted one and moved in when it is complete. A folder that is
there already is replaced only when told to, and only when all that is in it came from here: its list of contents says
what that is. Whatever else lies in it stays, and the new folder is not written.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from typing import Any, Final

from wiregen.errors import InputError, Problem

#: The list of contents inside the folder.
MANIFEST: Final = "packet.json"
_MOST_NAMED: Final = 10


def manifest(files: Mapping[str, bytes], head: Mapping[str, Any]) -> dict[str, Any]:
    """Return the list of contents: ``head``, and name, size and SHA-256 of every file."""
    listed = [
        {"name": name, "bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}
        for name, data in sorted(files.items())
    ]
    return {**head, "files": listed}


def write_folder(files: Mapping[str, bytes], folder: Path, *, force: bool = False) -> bool:
    """Write a folder of files, its list of contents among them.

    Args:
        files: Content by name; a name may have folders in it, ``tables/parts.csv``.
        folder: Folder to make.
        force: Replace an earlier folder of ours that holds something else.

    Returns:
        Whether anything was written: False where the folder holds the very same already.

    Raises:
        InputError: The folder cannot be written, or holds what is not ours.
    """
    for name in files:
        _check_name(name)
    folder = Path(os.path.abspath(folder))  # noqa: PTH100 - resolve() would follow a link that is to be refused
    _refuse_obstacles(folder)
    if folder.is_dir():
        held = _held(folder)
        if held == dict(files):
            return False
        _refuse_foreign(folder, held, force=force)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(dir=folder.parent, prefix=f".{folder.name[:40]}."))
    except OSError as error:
        raise InputError(f"{folder}: cannot be written: {error.strerror}") from error
    try:
        _fill(made, files)
        _move_in(made, folder)
    except OSError as error:
        raise InputError(f"{folder}: cannot be written: {error.strerror}") from error
    finally:
        shutil.rmtree(made, ignore_errors=True)
    return True


def _check_name(name: str) -> None:
    """Refuse a name that could lead out of the folder; names are ours, so this is a mistake of a program."""
    parts = PurePosixPath(name).parts
    if not parts or name.startswith("/") or "\\" in name or any(part in ("..", ".") or ":" in part for part in parts):
        message = f"{name!r} is no name for a file of the packet"
        raise ValueError(message)


def _refuse_obstacles(folder: Path) -> None:
    if folder.is_symlink():
        raise InputError(f"{folder} is a link; name the folder itself")
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder} is a file; a folder name is wanted")
    blocked = next((parent for parent in folder.parents if parent.exists() and not parent.is_dir()), None)
    if blocked:
        raise InputError(f"{blocked} is not a folder, so {folder} cannot be written")


def _held(folder: Path) -> dict[str, bytes]:
    """Return what a folder holds, by name; a link counts as what it is, not as what it leads to."""
    held: dict[str, bytes] = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink() or not (path.is_dir() or path.is_file()):
            held[name] = b"\0not a file"
        elif path.is_file():
            held[name] = path.read_bytes()
    return held


def _refuse_foreign(folder: Path, held: Mapping[str, bytes], *, force: bool) -> None:
    """Refuse to touch a folder that is not an earlier packet, or that has grown.

    Raises:
        InputError: Naming what is in the way.
    """
    if not held:
        return
    ours = _listed(held)
    if ours is None:
        raise InputError(f"{folder} exists and holds no packet; give the name of a new folder")
    foreign = [name for name in held if name not in ours]
    if foreign:
        more = len(foreign) - _MOST_NAMED
        problems = [
            Problem(f"{folder / name} is not of the packet; move it away first") for name in foreign[:_MOST_NAMED]
        ]
        raise InputError([*problems, *([Problem(f"and {more} more")] if more > 0 else [])])
    if not force:
        raise InputError(f"{folder} exists and holds another packet; use --force to replace it, or another name")


def _listed(held: Mapping[str, bytes]) -> set[str] | None:
    """Return the names that the list of contents in a folder gives, itself among them; None where there is none."""
    try:
        listed = json.loads(held[MANIFEST])
        return {str(entry["name"]) for entry in listed["files"]} | {MANIFEST}
    except (KeyError, TypeError, ValueError):
        return None


def _fill(made: Path, files: Mapping[str, bytes]) -> None:
    umask = os.umask(0)
    os.umask(umask)
    for name, data in files.items():
        path = made.joinpath(*PurePosixPath(name).parts)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    made.chmod(0o777 & ~umask)


def _move_in(made: Path, folder: Path) -> None:
    """Put the finished folder in place; an earlier one is moved aside first and comes back when that fails."""
    if not folder.exists():
        made.rename(folder)
        return
    aside = Path(tempfile.mkdtemp(dir=folder.parent, prefix=f".{folder.name[:40]}.old."))
    old = aside / "old"
    try:
        folder.rename(old)
        try:
            made.rename(folder)
        except OSError:
            old.rename(folder)
            raise
    finally:
        shutil.rmtree(aside, ignore_errors=True)
