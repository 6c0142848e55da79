"""An installed copy works far from the checkout: pinouts, demo rigs and tables travel in the wheel."""

from __future__ import annotations

import json
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from the checkout."""
    pytest.importorskip("hatchling")
    out = tmp_path_factory.mktemp("dist")
    built = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(out)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert built.returncode == 0, built.stderr
    return next(out.glob("*.whl"))


def test_wheel_holds_every_pinout(wheel: Path) -> None:
    """Every file of pinouts/ and every data file of the package is inside."""
    names = set(zipfile.ZipFile(wheel).namelist())
    pinouts = {f"wiregen/_pinouts/{path.name}" for path in (ROOT / "pinouts").glob("*.toml")}
    data = {
        path.relative_to(ROOT).as_posix()
        for ending in ("toml", "csv", "typ", "ttf", "txt")
        for path in (ROOT / "wiregen").rglob(f"*.{ending}")
    }

    assert pinouts
    assert pinouts | data <= names


@pytest.mark.slow
def test_demo_runs_from_an_empty_environment(wheel: Path, tmp_path: Path) -> None:
    """Installed in a fresh virtual environment outside the checkout, the demo runs and its rig comes out clean."""
    subprocess.run([sys.executable, "-m", "venv", str(tmp_path / "venv")], check=True)
    binaries = tmp_path / "venv" / ("Scripts" if sys.platform == "win32" else "bin")
    installed = subprocess.run(
        [binaries / "python", "-m", "pip", "install", "-q", str(wheel)], capture_output=True, text=True, check=False
    )
    if installed.returncode != 0 and "No matching distribution" in installed.stderr:
        pytest.skip("the package index is out of reach, so the wheel's dependencies cannot be installed")
    assert installed.returncode == 0, installed.stderr
    away = tmp_path / "away"
    away.mkdir()

    result = subprocess.run([binaries / "wiregen", "demo"], cwd=away, capture_output=True, text=True, check=False)

    assert result.returncode == 0, result.stdout + result.stderr
    report = json.loads((away / "wiregen-demo" / "check.json").read_text("utf-8"))
    assert report["verdict"] == "clean"
    assert {"chart.csv", "chart.html", "schematic-boat-trailer.svg"} <= {
        path.name for path in (away / "wiregen-demo").iterdir()
    }
