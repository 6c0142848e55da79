"""A new control is a field of the table of controls and a circuit that its signal makes live: two files, no more.

The test plants both lines in a copy of the package, and takes a rig with that control through everything that knows
controls. What misses it keeps a list of its own.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parent.parent
#: File, a line of it, and the line to plant behind that.
PLANTED = (
    (
        "model/state.py",
        'Position(True, "fog", "rear fog", ("fog",))))\n',
        '    work: bool = field(default=False, metadata=_said("Work lamp", '
        'Position(True, "work", "work lamp", ("worklight",))))\n',
    ),
    (
        "catalogue/circuits.py",
        'CircuitKind("fog", "rear fog", "Rear fog", "fog and lights", "fog and lights"),\n',
        '    CircuitKind("work", "work lamp", "Work lamp", "work", "work"),\n',
    ),
)
WALK = """
import json, pathlib, sys
from tests.rigs import BOX_FEED, load, rig
from wiregen.bundle.page.ask import live_page
from wiregen.bundle.page.data import page_data
from wiregen.bundle.page.html import page_text
from wiregen.design.design import Design
from wiregen.errors import InputError
from wiregen.loader.schema import json_schema
from wiregen.model.state import Controls
from wiregen.model.state_words import states_from
from wiregen.questions.faults.ask import fault_book
from wiregen.questions.faults.symptom import saw_from
from wiregen.questions.netlist.ask import netlists
from wiregen.questions.verdict.data import report_data
from wiregen.rig.records import Rig

tap = {"name": "work_tap", "live": "work", "fuse": "10 A"}
text = rig(plug="mine", channels=["tail > tail", "work_tap > work"], lamps=["tail", {"function": "work"}], taps=[tap])
design = Design(load(text, pathlib.Path.cwd()))
lamp = next(e.ref for e in design.circuits[0].elements if getattr(e, "function", "") == "work")

def refusal(of, *given):
    try:
        of(*given)
    except InputError as error:
        return error.problems[0].message

page, book = live_page(design), fault_book(design)
told = {
    "signals": sorted(design.signals),
    "asked": [controls.work for controls in (states_from(w, design.signals)[0] for w in ("worklight", "work lamp"))],
    "refused": refusal(states_from, "work lmap", design.signals),
    "moved": sorted(Controls(work=True, brake=True).moved),
    "solved": sorted({state.controls.work for state in design.studies[0].states}),
    "behaviour": sorted({(row.controls.work, row.actual) for row in design.behaviour[0].rows if row.lamp == lamp}),
    "findings": [one.rule for one in design.findings if lamp in one.where and one.severity == "error"],
    "data": sorted({row["controls"]["work"] for row in report_data(design.report)["behaviour"]}),
    "read": [one.state for one in design.readings().states],
    "measured": sorted({(row.connector[:2], row.switch) for row in design.chart.measures if "work" in row.switch}),
    "shown": page_data(page)["controls"],
    "buttons": page_text(page).count('data-words="work lamp">Work lamp</button>'),
    "settings": [controls.words for controls in book.settings],
    "symptom": [one.text for one in saw_from("worklight: work lamp dark", book)],
    "files": sorted(netlists(design, "work lamp")[0]),
    "hover": json_schema(Rig)["$defs"]["Habit"]["properties"]["live"]["description"],
    "unknown": refusal(load, text.replace('live = "work"', 'live = "wrok"'), pathlib.Path.cwd()),
}
print(json.dumps(told))
"""


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What a copy of the package with the planted control says at every place."""
    folder = tmp_path_factory.mktemp("planted")
    shutil.copytree(ROOT / "wiregen", folder / "wiregen", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(ROOT / "pinouts", folder / "pinouts")
    for name, line, new in PLANTED:
        path = folder / "wiregen" / name
        before = path.read_text("utf-8")
        assert before.count(line) == 1, f"{name} has not this line once: {line}"
        path.write_text(before.replace(line, line + new), "utf-8")
    plug = (ROOT / "pinouts" / "sae-j2863.toml").read_text("utf-8")
    (folder / "mine.toml").write_text(plug.replace('circuit = "reverse"', 'circuit = "work"'), "utf-8")
    done = subprocess.run(
        [sys.executable, "-c", WALK],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(folder), str(ROOT)])},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_it_can_be_asked_for(told: dict[str, Any]) -> None:
    """By its words and by its short form; a slip of the hand names it; a tap may be live by it."""
    assert told["asked"] == [True, True]
    assert "did you mean 'work lamp'?" in told["refused"]
    assert told["refused"].endswith("rear fog, work lamp")
    assert "did you mean 'work'?" in told["unknown"]
    assert "fog, work, ignition" in told["hover"]


def test_it_is_searched(told: dict[str, Any]) -> None:
    """It is among what the vehicle reacts to, is solved at rest and away from it, and its lamp does what it must."""
    assert "work" in told["signals"]
    assert told["moved"] == ["brake", "work"]
    assert told["solved"] == told["data"] == [False, True]
    assert told["behaviour"] == [[False, "dark"], [True, "steady"]]
    assert told["findings"] == []


def test_it_is_shown(told: dict[str, Any]) -> None:
    """Readings, measure table, page and netlists have it under its words."""
    assert "work lamp" in told["read"]
    assert [place for place, words in told["measured"] if words == "work lamp"] == ["X2", "ta"]
    assert ["work", ["off", "on"]] in told["shown"]
    assert told["buttons"] == 1
    assert told["files"] == ["test-trailer-work-lamp"]


def test_faults_are_looked_for_in_it(told: dict[str, Any]) -> None:
    """The fault finder works it alone and beside others, and reads a symptom seen in it."""
    assert {"work lamp", "service lights, work lamp"} <= set(told["settings"])
    assert told["symptom"] == ["work lamp: work lamp dark"]
