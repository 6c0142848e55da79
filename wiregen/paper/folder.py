"""Write a whole folder at once: complete or not at all, and never over something that is not an earlier one.

Everything is written to a temporary folder beside the wanted one and moved in when it is complete. A folder that is
there already is replaced only when told to, and only when all that is in it came from here and is as it was written:
its list of contents says what that is. Whatever else lies in it stays, and the new folder is not written.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Collection, Iterator, Mapping
from itertools import islice
from pathlib import Path, PurePosixPath
from typing import Any, Final

from wiregen.errors import InputError, Problem

#: The list of contents inside the folder.
MANIFEST: Final = "packet.json"
_MOST_NAMED: Final = 10
#: A list of contents is far smaller, bytes.
_LARGEST_LIST: Final = 4_000_000


def manifest(files: Mapping[str, bytes], head: Mapping[str, Any]) -> dict[str, Any]:
    """Return the list of contents: ``head``, and name, size and SHA-256 of every file."""
    listed = [{"name": name, "bytes": len(data), "sha256": _sum(data)} for name, data in sorted(files.items())]
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
    try:
        _refuse_obstacles(folder)
        if folder.is_dir() and any(folder.iterdir()):
            if _holds(folder, files):
                return False
            if not force:
                raise InputError(
                    f"{folder} exists and holds another packet; use --force to replace it, or another name"
                )
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


def _sum(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


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


def _holds(folder: Path, files: Mapping[str, bytes]) -> bool:
    """Return whether an earlier packet in a folder is the very same.

    Nothing is walked or read before the list of contents says that the folder is ours: it may be somebody's home.

    Raises:
        InputError: The folder is no packet, holds more than one, or one that was changed; what is in the way is named.
    """
    ours = _listed(folder)
    if ours is None:
        raise InputError(f"{folder} exists and holds no packet; give the name of a new folder")
    foreign = [*islice(_foreign(folder, ours), _MOST_NAMED + 1)]
    if foreign:
        problems = [Problem(f"{path} is not of the packet; move it away first") for path in foreign[:_MOST_NAMED]]
        raise InputError([*problems, *([Problem("and more")] if len(foreign) > _MOST_NAMED else [])])
    held = {name: (folder / name).read_bytes() for name in ours if (folder / name).is_file()}
    if held == dict(files):
        return True
    # A form that somebody has filled in lies under a name of ours and is not ours any more.
    changed = [name for name, data in held.items() if name != MANIFEST and _sum(data) != ours[name]]
    if changed:
        told = "has been changed since it was written; move it away first"
        raise InputError([Problem(f"{folder / name} {told}") for name in sorted(changed)[:_MOST_NAMED]])
    return False


def _listed(folder: Path) -> dict[str, str] | None:
    """Return the sums in a folder's list of contents by name, itself among them; None where there is no such list."""
    path = folder / MANIFEST
    try:
        if path.is_symlink() or path.stat().st_size > _LARGEST_LIST:
            return None
        entries = json.loads(path.read_bytes())["files"]
        return {str(entry["name"]): str(entry["sha256"]) for entry in entries} | {MANIFEST: ""}
    except (OSError, KeyError, TypeError, ValueError):
        return None


def _foreign(folder: Path, ours: Collection[str]) -> Iterator[Path]:
    """Yield what is in a folder and not in its list; a link is nobody's file, whatever it leads to."""
    inside = {parent.as_posix() for name in ours for parent in PurePosixPath(name).parents}
    for root, folders, names in os.walk(folder):
        here = Path(root)
        for name in sorted((*folders, *names)):
            path = here / name
            short = path.relative_to(folder).as_posix()
            known = short in (inside if name in folders else ours)
            if not known or path.is_symlink():
                yield path
        folders[:] = [name for name in folders if (here / name).relative_to(folder).as_posix() in inside]


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
