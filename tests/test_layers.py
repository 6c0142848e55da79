"""The import contract holds, and it breaks on a planted violation."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    """Run import-linter in a folder that holds the package and its settings."""
    pytest.importorskip("importlinter")
    code = "from importlinter.cli import lint_imports_command; lint_imports_command(['--no-cache'])"
    environment = {**os.environ, "PYTHONPATH": str(folder)}
    return subprocess.run(
        [sys.executable, "-c", code], cwd=folder, env=environment, capture_output=True, text=True, check=False
    )


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the package that a test may spoil."""
    shutil.copytree(ROOT / "wiregen", tmp_path / "wiregen", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def test_contract_holds(copy: Path) -> None:
    """The package as it stands keeps every contract."""
    result = lint(copy)

    assert result.returncode == 0, result.stdout


@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("check/rules.py", "from wiregen.chart.make import chart"),
        ("solve/devices.py", "from wiregen.rig.records import Rig"),
        ("model/circuit.py", "from wiregen.catalogue.circuits import CIRCUITS"),
        ("paper/files.py", "import typer"),
        ("circuit/build.py", "import schemdraw"),
        ("draw/scene.py", "from wiregen.check.case import Case"),
        ("paper/safe_text.py", "from wiregen.model.chart import Chart"),
        ("questions/box/ask.py", "from wiregen.questions.ways.ask import compare"),
        ("questions/__init__.py", "from wiregen.bundle.packet.ask import packet"),
    ],
)
def test_planted_violation_breaks_it(copy: Path, module: str, line: str) -> None:
    """An import against the arrows, even one for types only, fails the contract."""
    path = copy / "wiregen" / module
    path.write_text(f"{path.read_text('utf-8')}\nfrom typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    {line}\n")

    assert lint(copy).returncode != 0


def test_new_module_needs_a_place(copy: Path) -> None:
    """A module that no layer names fails the contract."""
    (copy / "wiregen" / "helpers.py").write_text('"""Nowhere."""\n')

    assert lint(copy).returncode != 0
