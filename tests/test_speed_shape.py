"""What commands import: a stable stand-in for their speed. The times themselves are in ``tests/bench.py``."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from wiregen.cli import app

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"
HEAVY = {"numpy", "scipy", "networkx", "pydantic", "schemdraw", "jinja2", "typst", "rich", "asyncio"}


def imported(*arguments: str) -> set[str]:
    """Return the top-level modules that a command of wiregen imports."""
    result = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "wiregen", *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 0, result.stderr[-2000:]
    lines = [line for line in result.stderr.splitlines() if line.startswith("import time:")]
    assert len(lines) > 20
    return {line.rsplit("|", 1)[1].strip().split(".")[0] for line in lines}


def test_help_imports_nothing_heavy() -> None:
    """Asking for help loads neither the records nor the solver nor the drawing."""
    assert imported("--help") & HEAVY == set()


@pytest.mark.parametrize("command", [command.name for command in app.registered_commands])
def test_help_of_a_command_imports_nothing_heavy(command: str) -> None:
    """Nor does the help of any command."""
    # typer itself loads pydantic to read a command's arguments
    assert imported(command, "--help") & (HEAVY - {"pydantic"}) == set()


def test_chart_imports_no_solver_and_no_drawing() -> None:
    """The chart is read off the records: no numpy, networkx or schemdraw."""
    assert imported("chart", str(DEMO)) & (HEAVY - {"pydantic"}) == set()


def test_pinouts_imports_no_solver() -> None:
    """Nor does the list of pinouts need one."""
    assert imported("pinouts") & (HEAVY - {"pydantic"}) == set()


def test_explain_imports_no_graph_and_no_drawing() -> None:
    """The rules count with numpy; to explain one needs nothing else."""
    assert imported("explain", "lamp-voltage") & (HEAVY - {"pydantic", "numpy"}) == set()


def test_no_solver_imports_scipy_or_networkx() -> None:
    """Readings are solved with numpy alone."""
    assert imported("readings", str(DEMO), "--state", "brake") & {"scipy", "networkx", "schemdraw"} == set()
