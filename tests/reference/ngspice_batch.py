"""Let one ngspice process solve many netlists. For tests only."""

import os
import re
import subprocess
from collections.abc import Sequence
from pathlib import Path

from tests.conftest import program

_MARK = "@@point"


def solve_many(netlists: Sequence[str], folder: Path) -> list[dict[str, float]]:
    """Return the voltage of every node of each netlist, V; nothing for one that ngspice cannot solve."""
    script = ["* many points", ".control", "set numdgt=15"]
    for number, text in enumerate(netlists):
        deck = folder / f"point-{number}.cir"
        # One control section drives them all; each netlist's own would end the process.
        deck.write_text(re.sub(r"(?s)^\.control\n.*?^\.endc\n", "", text, flags=re.MULTILINE), encoding="ascii")
        script += [f"source {deck}", f"echo {_MARK} {number}", "op", "print all", "destroy all", "remcirc"]
    main = folder / "all.cir"
    main.write_text("\n".join([*script, "quit 0", ".endc", ".end", ""]), encoding="ascii")
    out = run(main, folder)
    solved: list[dict[str, float]] = [{} for _ in netlists]
    for part in out.split(_MARK)[1:]:
        number, _, printed = part.partition("\n")
        solved[int(number)] = voltages(printed)
    return solved


def run(path: Path, folder: Path) -> str:
    """Run one file in batch mode and return what ngspice prints."""
    # A home of its own: without any it stops, and a user's start-up file must not change what it prints.
    environment = {**os.environ, "HOME": str(folder)}
    command = [program("ngspice"), "-b", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False, env=environment)
    return done.stdout


def voltages(printed: str) -> dict[str, float]:
    """Return the voltages in printed lines such as ``v(n7) = 1.2e+01``, by node."""
    return {
        name: float(value) for name, value in re.findall(r"^(?:v\()?(n\d+)\)? = (\S+)$", printed, flags=re.MULTILINE)
    }
