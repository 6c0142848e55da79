"""A design works each stage out once, refuses what is still open in words, and names the files it was read from."""

from __future__ import annotations

import hashlib
import re
import shutil
from pathlib import Path

import pytest

import wiregen
from wiregen.errors import ArgumentError, InputError
from wiregen.sizing.ask import sized

ROOT = Path(__file__).parents[2]
BUS = ROOT / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"


@pytest.fixture(scope="module")
def bus() -> wiregen.Design:
    """The bus of the demo."""
    return wiregen.load(BUS)


def opened_up(tmp_path: Path) -> Path:
    """Write the bus with the size of its first run open."""
    text = re.sub(r'^size = ".*"', 'size = "auto"', BUS.read_text("utf-8"), count=1, flags=re.M)
    path = tmp_path / "open.toml"
    path.write_text(text, "utf-8")
    return path


def test_each_stage_is_worked_out_once(bus: wiregen.Design) -> None:
    """Asking twice gives the same record, not an equal one."""
    for stage in ("built", "behaviour", "studies", "healthy_case", "case", "findings", "report", "chart"):
        assert getattr(bus, stage) is getattr(bus, stage), stage
    assert bus.case.couplings[0].study is bus.healthy_case.couplings[0].study


def test_a_design_tells_what_is_open_and_refuses_circuits(tmp_path: Path) -> None:
    """A rig with "auto" in it can be read and named, but not built; sizing gives a new one that can."""
    design = wiregen.load(opened_up(tmp_path))

    assert len(design.open) == 1
    with pytest.raises(InputError, match=re.escape(design.open[0])):
        _ = design.circuits
    done = sized(design)
    assert not done.open
    assert done.report.verdict
    assert len(design.open) == 1, "the one that was given stays as it was"


def test_every_file_that_was_read_is_named_with_its_digest(tmp_path: Path) -> None:
    """The rig file first, then each pinout; a user's own pinout among them."""
    shutil.copy(ROOT / "pinouts" / "sae-j1239-4.toml", tmp_path / "mine.toml")
    rig = tmp_path / "rig.toml"
    rig.write_text(BUS.read_text("utf-8").replace('"sae-j1239-4"', '"mine"'), "utf-8")

    files = wiregen.load(rig).files

    assert files[0].path == str(rig)
    assert str(tmp_path / "mine.toml") in {one.path for one in files}
    for one in files:
        assert one.sha256 == hashlib.sha256(Path(one.path).read_bytes()).hexdigest()


def test_errors_name_fields_to_python_and_options_to_the_terminal(bus: wiregen.Design) -> None:
    """The same misfit, told to whom it happens."""
    from tests.command import wiregen as command

    with pytest.raises(ArgumentError) as told:
        bus.readings(trailer="boat trailr")
    assert str(told.value).startswith("trailer: no trailer named 'boat trailr'; did you mean 'boat trailer'?")
    result = command("readings", str(BUS), "--trailer", "boat trailr")
    assert result.returncode == 2
    assert result.stderr.startswith("--trailer: no trailer named 'boat trailr'")


def test_a_notebook_shows_a_design_without_solving(bus: wiregen.Design) -> None:
    """The picture of a design is its title, its file code and its files."""
    fresh = wiregen.Design(bus.loaded)

    shown = fresh._repr_html_()

    assert fresh.title in shown
    assert fresh.digest in shown
    assert "built" not in fresh.__dict__


def test_the_readme_s_python_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The example of the README runs as it stands, beside the example rig."""
    found = re.search(r"<!-- python-example -->\n```python\n(.*?)```", (ROOT / "README.md").read_text("utf-8"), re.S)
    assert found
    shutil.copy(BUS, tmp_path / "my-rig.toml")
    monkeypatch.chdir(tmp_path)
    scope: dict[str, object] = {}

    exec(compile(found.group(1), "README.md", "exec"), scope)

    assert (tmp_path / "chart.html").stat().st_size > 1000
