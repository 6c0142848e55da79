"""The command line in a process of its own, as a user meets it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent


def wiregen(*arguments: object, cwd: Path = ROOT, typed: str = "") -> subprocess.CompletedProcess[str]:
    """Run wiregen on a terminal of 80 columns that knows no other programs."""
    return subprocess.run(
        [sys.executable, "-m", "wiregen", *map(str, arguments)],
        cwd=cwd,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin", "COLUMNS": "80"},
        capture_output=True,
        encoding="utf-8",
        input=typed,
        check=False,
    )
