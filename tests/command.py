"""The command line as a user meets it: in this process, or in one of its own where that is what is tested."""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
from pathlib import Path
from unittest import mock

ROOT = Path(__file__).parent.parent
_COLUMNS = {"COLUMNS": "80"}


def wiregen(*arguments: object, cwd: Path = ROOT, typed: str = "") -> subprocess.CompletedProcess[str]:
    """Run wiregen on a terminal of 80 columns."""
    from wiregen.cli import app

    words = [str(argument) for argument in arguments]
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="") for _ in range(2))
    entered = io.TextIOWrapper(io.BytesIO(typed.encode()), encoding="utf-8")
    status: object = 0
    with (
        contextlib.chdir(cwd),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        mock.patch("sys.stdin", entered),
        mock.patch.dict(os.environ, _COLUMNS),
    ):
        try:
            app(words, prog_name="wiregen")
        except SystemExit as end:
            status = end.code
        out.flush()
        err.flush()
    printed = [stream.buffer.getvalue().decode("utf-8") for stream in (out, err)]  # type: ignore[attr-defined]
    return subprocess.CompletedProcess(
        words, status if isinstance(status, int) else 0 if status is None else 1, *printed
    )


def wiregen_process(*arguments: object, cwd: Path = ROOT, typed: str = "") -> subprocess.CompletedProcess[str]:
    """Run wiregen in a process of its own that knows no other programs and no locale."""
    return subprocess.run(
        [sys.executable, "-m", "wiregen", *map(str, arguments)],
        cwd=cwd,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"} | _COLUMNS,
        capture_output=True,
        encoding="utf-8",
        input=typed,
        check=False,
    )
