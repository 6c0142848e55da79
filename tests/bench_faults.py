"""How well a fault is found, against a fixed order of checks as manuals have it.

    python -m tests.bench_faults

Faults are drawn as often as they happen (the weights of the catalogue), then once each; then come poor joints of sizes
that the library does not have, which tells how much rests on the library. The observer mistakes one look or reading in
a hundred, reads a meter to 0.1 V, and battery, temperature and age are somewhere in their range. Counted: how often the
true fault is the first suspect at the end, or among the first three (what no check can tell from it does not stand
before it; the manual order gives up after 40 checks), checks done, and their effort in looks at the lamps. Then the
time to work out the book.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from tests import steps
from tests.fault_trials import OFF_SIZE_OHM, Observer, Trial, drawn, manual, off_size, ours
from wiregen.questions.faults.finder import Finder

DEMO = Path(__file__).parent.parent / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"
COUNT, SEED = 200, 20260504


def row(name: str, trials: Sequence[Trial]) -> str:
    """Return the figures of some trials as a line."""
    if not trials:
        return f"  {name:<12}none"
    ranks = np.array([trial.rank for trial in trials])
    checks = np.array([trial.checks for trial in trials])
    effort = np.array([trial.effort for trial in trials])
    return (
        f"  {name:<12}first {(ranks == 1).mean():6.1%}   top 3 {(ranks <= 3).mean():6.1%}   "
        f"checks {checks.mean():5.1f} (worst {checks.max():2d})   "
        f"effort {effort.mean():5.1f} (worst {effort.max():.0f})"
    )


def run(finder: Finder, cases: Sequence[int], search: Callable[[Finder, Observer], Trial]) -> list[Trial]:
    """Search for every fault once."""
    return [search(finder, Observer(finder.book, case, SEED + number)) for number, case in enumerate(cases)]


def main() -> None:
    """Print the figures of both trailers of the demo."""
    loaded = steps.load(DEMO)
    for trailer in steps.trailer_names(loaded):
        start = time.process_time()
        finder = steps.fault_finder(loaded, trailer)
        took = time.process_time() - start
        book = finder.book
        noticed = np.flatnonzero((book.looks != book.looks[0]).any(axis=(1, 2)))
        print(f"{trailer}: {len(book.cases) - 1} faults in {len(book.settings)} settings, worked out in {took:.2f} s")
        print(f"  {len(noticed)} of them are noticed")
        for title, cases in (
            (f"{COUNT} drawn by weight", drawn(finder, COUNT, SEED)),
            ("each noticed fault once", noticed.tolist()),
        ):
            print(f" {title}")
            print(row("ours", run(finder, cases, ours)))
            print(row("manual", run(finder, cases, manual)))
        joints = off_size(finder)
        print(f" {len(joints)} poor joints of sizes that the library does not have ({OFF_SIZE_OHM} ohm)")
        for name, search in (("ours", ours), ("manual", manual)):
            trials = [
                search(finder, Observer(made, place, SEED + number, case=case))
                for number, (made, place, case) in enumerate(joints)
            ]
            print(row(name, trials))


if __name__ == "__main__":
    main()
