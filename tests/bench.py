"""Speed of the commands, each as a ratio to a reference timed in the same run.

    python -m tests.bench

Reference: an empty typer program's ``--help``. Times on a busy machine mean little, ratios more; the aims are
``--help`` at most 1.3 times the reference and ``chart`` on the demo rig at most 0.6 s.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"
EMPTY = """import typer
app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)

@app.command()
def one() -> None:
    "One."

@app.command()
def two() -> None:
    "Two."

if __name__ == "__main__":
    app()
"""
ROUNDS = 11


def seconds(command: list[str]) -> float:
    """Return the wall time of one run, s."""
    start = time.perf_counter()
    subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)
    return time.perf_counter() - start


def main() -> None:
    """Time every command in turn, several rounds, and print medians and ratios."""
    with tempfile.TemporaryDirectory() as folder:
        empty = Path(folder) / "empty.py"
        empty.write_text(EMPTY)
        wiregen = [sys.executable, "-m", "wiregen"]
        commands = {
            "empty typer --help": [sys.executable, str(empty), "--help"],
            "wiregen --help": [*wiregen, "--help"],
            "wiregen chart (demo)": [*wiregen, "chart", str(DEMO)],
            "wiregen check (demo)": [*wiregen, "check", str(DEMO)],
            "wiregen draw (demo)": [*wiregen, "draw", str(DEMO), "--out", folder, "--force"],
        }
        times: dict[str, list[float]] = {name: [] for name in commands}
        for round_number in range(ROUNDS + 1):
            for name, command in commands.items():
                took = seconds(command)
                if round_number:  # the first round warms the caches
                    times[name].append(took)
    reference = statistics.median(times["empty typer --help"])
    print(f"{'command':<24}{'median':>10}{'min':>10}{'max':>10}{'ratio':>8}")
    for name, values in times.items():
        median = statistics.median(values)
        print(
            f"{name:<24}{median * 1000:>7.0f} ms{min(values) * 1000:>7.0f} ms{max(values) * 1000:>7.0f} ms"
            f"{median / reference:>8.2f}"
        )


if __name__ == "__main__":
    main()
