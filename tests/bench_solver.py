"""Speed of the solver, as ratios to references timed in the same run.

    python -m tests.bench_solver

(a) One operating point against ngspice, both on one core, on the demo rig with the boat trailer: every state at every
    corner with every single fault here; every state as an exported netlist there. Three ways to use ngspice:
    a process that is started, reads every netlist, solves each once and ends, as a user computes operating points;
    ``op`` of a netlist that is already read, started from nothing; the same, started at the answer (``.nodeset``).
    The aim, 50 times, is set against the second: it is the work of one operating point and nothing else. The last two
    are the difference of a long and a short run, so that start-up and reading do not count.
(b) Against bare LAPACK: ``numpy.linalg.solve`` of random systems of the same sizes (ports × ports), as many as Newton's
    method takes steps here, in the same blocks, with nothing else.
(c) Growth with the size of a circuit (1, 2, 4, 8 times the channels and lamps) and with the number of points.
(d) The demo: all states, all corners, every single fault, both trailers, in seconds.

Times are processor times, the best of several rounds: a busy machine makes a time longer, none shorter. The aims are
50 times ngspice, 2.5 times LAPACK, and 1 s for the demo. "Solved only" counts the points that went through Newton's
method, once for every round of the relays: a fault where no current flows changes nothing, and of faults in one row of
parts lamps and relays see one, which ngspice cannot know.
"""

from __future__ import annotations

import os
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from tests import circuits as hand
from tests import steps
from wiregen.circuit.build import vehicle_signals
from wiregen.circuit.faults import single_faults
from wiregen.model.circuit import Circuit, Element
from wiregen.model.corner import CORNERS, NOMINAL, Corner
from wiregen.model.fault import Fault
from wiregen.solve import newton
from wiregen.solve.full_study import solve_faults, solve_study
from wiregen.solve.ports import Ports
from wiregen.solve.sweep import Sweep

DEMO = Path(__file__).parent.parent / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"
ROUNDS = 5
SIGNALS = ("lights", "blackout", "brake", "left", "right", "reverse")


def best_s(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Return the shortest of several runs, s."""
    times = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


class Count:
    """Counts what the solver does in one run: points and the linear systems of Newton's method, by their shape."""

    def __init__(self, work: Callable[[], object]) -> None:
        self.systems: list[tuple[int, int]] = []
        sweeps: list[Sweep] = []
        step, start = newton._stepped, Sweep.__init__

        def counted_step(devices: newton.Devices, ports: Ports, u: np.ndarray) -> np.ndarray:
            self.systems.append(u.shape)
            return step(devices, ports, u)

        def counted_start(one: Sweep, *more: object) -> None:
            sweeps.append(one)
            start(one, *more)

        newton._stepped, Sweep.__init__ = counted_step, counted_start
        try:
            work()
        finally:
            newton._stepped, Sweep.__init__ = step, start
        self.solved = sum(one.solved for one in sweeps)

    def lapack_s(self) -> float:
        """Return how long numpy.linalg.solve takes for systems of the same shapes and nothing else, s."""
        rng = np.random.default_rng(1)
        data = {}
        for size, points in set(self.systems):
            # As the solver's: near the identity, never singular.
            data[size, points] = np.eye(size) + 0.1 * rng.random((points, size, size)), rng.random((points, size, 1))
        times = {shape: best_s(lambda shape=shape: np.linalg.solve(*data[shape])) for shape in data}
        return sum(times[shape] * count for shape, count in Counter(self.systems).items())


# --- ngspice ---


def ngspice_s(decks: Sequence[str], loop: str, folder: Path) -> float:
    """Return how long one process takes for a loop on each of some netlists, s; start-up and reading included."""
    script = ["* bench", ".control"]
    for number, text in enumerate(decks):
        path = folder / f"deck-{number}.cir"
        path.write_text(text, encoding="ascii")
        script += [f"source {path}", loop, "remcirc"]
    main = folder / "bench.cir"
    main.write_text("\n".join([*script, "quit 0", ".endc", ".end", ""]), encoding="ascii")
    environment = {**os.environ, "HOME": str(folder)}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(["ngspice", "-b", str(main)], capture_output=True, check=True, env=environment)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def per_point_s(decks: Sequence[str], loop: Callable[[int], str], few: int, many: int, folder: Path) -> float:
    """Return ngspice's time a point, s: the difference of a long and a short run, best of several."""
    short = min(ngspice_s(decks, loop(few), folder) for _ in range(3))
    long = min(ngspice_s(decks, loop(many), folder) for _ in range(3))
    return (long - short) / ((many - few) * len(decks))


def repeat_op(count: int) -> str:
    return f"repeat {count}\nop\ndestroy all\nend"


def whole_process_s(decks: Sequence[str], folder: Path) -> float:
    """Return the time a point of a process that reads every netlist and solves it once, s, best of several."""
    return min(ngspice_s(decks, "op\ndestroy all", folder) for _ in range(3)) / len(decks)


def decks_of(path: Path) -> list[str]:
    """Return the netlists of every state of the boat trailer, without their control sections."""
    texts, _ = steps.netlists(steps.load(path), None, "nominal", "boat trailer")
    return [re.sub(r"(?ms)^\.control\n.*?^\.endc\n", "", text) for text in texts.values()]


def against_ngspice(ours_s: float, solved_s: float) -> None:
    if shutil.which("ngspice") is None:
        print("    ngspice is not installed: nothing to compare with")
        return
    decks = decks_of(DEMO)
    cold = [re.sub(r"(?m)^\.nodeset .*\n", "", text) for text in decks]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        rows = (
            ("a process: start, read, op, end", whole_process_s(cold, folder)),
            ("op, netlist read, from nothing (aim)", per_point_s(cold, repeat_op, 1, 3, folder)),
            ("op, netlist read, from the answer", per_point_s(decks, repeat_op, 20, 120, folder)),
        )
    print(f"    {'ngspice':<38}{'a point':>12}{'ratio':>9}{'ratio, solved only':>21}")
    for words, theirs_s in rows:
        print(f"    {words:<38}{theirs_s * 1e6:>9.1f} us{theirs_s / ours_s:>9.1f}{theirs_s / solved_s:>21.1f}")
    print("    From nothing ngspice's Newton fails on this rig and it steps the sources up: most of its time.")
    print("    From the answer is the least an operating point can cost it; nobody has the answer beforehand.")


# --- growth ---


def grown(channels: int) -> Circuit:
    """Return a circuit of so many relay channels, each with a filament and an LED lamp, on one converter and ground."""
    lives = ("lights", "brake", "left and lit", "right and lit", "reverse", "blackout")
    parts: list[Element] = [
        hand.battery(28, 0.02),
        hand.resistor("-W1", "plus", "in", 0.01),
        hand.converter("-T1", "in", "bus"),
        hand.resistor("-W2", "ground", hand.GROUND, 0.005),
    ]
    for number in range(channels):
        feed, out, end = f"feed{number}", f"out{number}", f"end{number}"
        parts += [
            hand.switch(f"-S{number}", "plus", f"{feed}.s", lives[number % len(lives)]),
            hand.resistor(f"-W{number}a", f"{feed}.s", feed, 0.1),
            hand.coil(f"-K{number}", feed),
            hand.relay(f"-K{number}:30-87", "bus", out, "k", {"k": f"-K{number}"}),
            hand.resistor(f"-W{number}b", out, end, 0.1),
            hand.filament(f"-E{number}a", end, "ground"),
            hand.led(f"-E{number}b", end, "ground"),
        ]
    return hand.circuit(*parts)


def growth_of_size() -> None:
    print(f"    {'channels':>8}{'terminals':>11}{'ports':>7}{'points':>9}{'a point':>12}{'LAPACK ratio':>14}")
    for channels in (3, 6, 12, 24):
        circuit = grown(channels)
        faults = single_faults(circuit)[:: max(1, channels // 3)][:30]

        def work(circuit: Circuit = circuit, faults: Sequence[Fault] = faults) -> None:
            solve_faults(circuit, SIGNALS, faults, CORNERS[:2])

        points = solve_faults(circuit, SIGNALS, faults, CORNERS[:2]).across_v.shape
        count = Count(work)
        ports = max(size for size, _ in count.systems)
        seconds = best_s(work, 3)
        asked = points[0] * points[1]
        print(
            f"    {channels:>8}{len(circuit.terminals):>11}{ports:>7}{asked:>9}{seconds / asked * 1e6:>9.1f} us"
            f"{seconds / count.lapack_s():>14.2f}"
        )


def growth_of_points(circuit: Circuit, signals: frozenset[str], faults: Sequence[Fault]) -> None:
    print(f"    {'points':>8}{'time':>12}{'a point':>12}")
    rows: list[tuple[Sequence[Corner], Sequence[Fault]]] = [
        ((NOMINAL,), ()), (CORNERS, ()), ((NOMINAL,), faults[::10]), (CORNERS, faults[::10]), (CORNERS, faults[::2]),
        (CORNERS, faults),
    ]  # fmt: skip
    for corners, some in rows:

        def work(corners: Sequence[Corner] = corners, some: Sequence[Fault] = some) -> int:
            if not some:
                return len(solve_study(circuit, signals, corners).points)
            return int(np.prod(solve_faults(circuit, signals, some, corners).across_v.shape[:2]))

        points = work()
        seconds = best_s(work, 3)
        print(f"    {points:>8}{seconds * 1e3:>9.1f} ms{seconds / points * 1e6:>9.1f} us")


def main() -> None:
    """Run everything on one core and print small tables."""
    threads = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    if any(os.environ.get(name) != "1" for name in threads):
        # numpy reads this when it is loaded, so the process starts again with it.
        os.execve(sys.executable, [sys.executable, "-m", "tests.bench_solver"], {**os.environ, **threads})
    loaded = steps.load(DEMO)
    signals = vehicle_signals(loaded)
    circuits = steps.build(loaded).circuits
    boat = circuits[0]
    faults = single_faults(boat)

    def study() -> tuple[int, ...]:
        return solve_faults(boat, signals, faults, CORNERS).across_v.shape

    states, count_faults, _ = study()
    count, seconds = Count(study), best_s(study)
    asked = states * count_faults
    lapack_s = count.lapack_s()
    print(f"boat trailer: {states} states and corners x {count_faults} faults = {asked} points in {seconds:.3f} s")
    print(
        f"    {seconds / asked * 1e6:.1f} us a point; {count.solved} solved, relay rounds included, "
        f"{seconds / count.solved * 1e6:.1f} us each"
    )
    print("(a) against ngspice, one core (aim: 50)")
    against_ngspice(seconds / asked, seconds / count.solved)
    newton_systems = sum(points for _, points in count.systems)
    print("(b) against LAPACK (aim: at most 2.5)")
    print(
        f"    {newton_systems} systems of {max(size for size, _ in count.systems)} x "
        f"{max(size for size, _ in count.systems)}: {lapack_s:.3f} s; ratio {seconds / lapack_s:.2f}"
    )
    print("(c) growth with the size of the circuit")
    growth_of_size()
    print("    growth with the number of points, demo")
    growth_of_points(boat, signals, faults)

    def everything() -> None:
        for circuit in circuits:
            solve_faults(circuit, signals, single_faults(circuit), CORNERS)

    print("(d) demo, both trailers: all states, all corners, every single fault (aim: at most 1 s)")
    print(f"    {best_s(everything):.3f} s")


if __name__ == "__main__":
    main()
