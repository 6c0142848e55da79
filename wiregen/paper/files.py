"""Write files whole or not at all, and never over something else without being told to."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from wiregen.errors import InputError, Problem


def write_files(files: Mapping[Path, str | bytes], *, force: bool = False) -> list[Path]:
    """Write every file, or none when one may not be written.

    A file that already holds the same text is left alone. One that holds something else is refused, unless ``force``.

    Args:
        files: Text or bytes by path; missing folders are made.
        force: Replace what is there.

    Returns:
        The paths, in the order given.

    Raises:
        InputError: Naming every path that cannot be written.
    """
    todo = {path: data if isinstance(data, bytes) else data.encode() for path, data in files.items()}
    problems = [problem for path, data in todo.items() if (problem := _obstacle(path, data, force=force))]
    if problems:
        raise InputError(problems)
    for path, data in todo.items():
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            if not (path.is_file() and path.read_bytes() == data):
                _replace(path, data)
        except OSError as error:
            raise InputError(f"{path}: cannot be written: {error.strerror}") from error
    return list(files)


def _obstacle(path: Path, data: bytes, *, force: bool) -> Problem | None:
    """Return why a file may not be written; None where nothing is in the way."""
    try:
        return _in_the_way(path, data, force=force)
    except OSError as error:  # a name that is too long, to begin with: it cannot even be looked for
        return Problem(f"{path}: cannot be written: {error.strerror}")


def _in_the_way(path: Path, data: bytes, *, force: bool) -> Problem | None:
    if path.is_dir():
        return Problem(f"{path} is a folder; a file name is wanted")
    if path.exists() and not force:
        with contextlib.suppress(OSError):
            if path.read_bytes() == data:
                return None
        return Problem(f"{path} exists and holds something else; use --force to replace it, or another name")
    blocked = next((parent for parent in path.parents if parent.exists() and not parent.is_dir()), None)
    return Problem(f"{blocked} is not a folder, so {path} cannot be written") if blocked else None


def _replace(path: Path, data: bytes) -> None:
    """Put ``data`` in place of ``path`` in one step, so that no reader ever sees half a file."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:40]}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        umask = os.umask(0)
        os.umask(umask)
        Path(name).chmod(0o666 & ~umask)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def replace_file(path: Path, read: bytes, data: bytes) -> bool:
    """Change a user's own file in one step: the old file stays until the new one is safe on the disk.

    Args:
        path: The file; where it is a link, what it points to. Its permissions stay.
        read: What it held when the new content was worked out.
        data: The new content.

    Returns:
        Whether anything was written: not where the content stays the same.

    Raises:
        InputError: The file changed meanwhile, or cannot be written.
    """
    if data == read:
        return False
    target = path.resolve()
    try:
        # Root may write anywhere, and a file in a folder of ours may be replaced: neither is what read-only means.
        if not target.stat().st_mode & 0o222:
            raise InputError(f"{path} is read-only; nothing is written")
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:40]}.")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            shutil.copymode(target, name)
            if target.read_bytes() != read:
                message = f"{path} changed while it was worked on; nothing is written. Run the command again"
                raise InputError(message)
            Path(name).replace(target)
        finally:
            with contextlib.suppress(FileNotFoundError):
                Path(name).unlink()
    except OSError as error:
        raise InputError(f"{path}: cannot be written: {error.strerror}") from error
    return True
