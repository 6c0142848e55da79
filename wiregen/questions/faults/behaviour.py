"""What every fault of the library does in every setting of the controls: lamps, readings, over-voltage, fuses.

A fault that changes one conductance, one contact or one lamp is solved with the batched solver, all of them together
(``wiregen.solve.sweep``). One that joins or parts other terminals gets a circuit of its own. A short is solved as it
strikes; the fuse that then carries most, against its rating, opens, and what is told is the circuit after that.
Everything is at the nominal corner; over-voltage is told for the highest charging voltage in proportion.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from wiregen.model.circuit import Battery, Circuit, Fuse
from wiregen.model.corner import CORNERS, NOMINAL
from wiregen.model.fault import Fault
from wiregen.model.state import Controls, State
from wiregen.questions.faults.diagnosis import Array, Change, FaultBook, FaultCase, MeterPoint, Opened, Watched
from wiregen.questions.faults.joints import Joints, is_joint
from wiregen.questions.faults.looks import Lights, fold, looks_of
from wiregen.solve.chosen import closed_switches, single_controls, solve_chosen
from wiregen.solve.states import Setting
from wiregen.solve.sweep import Sweep

#: A fuse opens from this multiple of its rating on: the lowest line of its table by which it has opened (blade fuses,
#: at most ten minutes; ``catalogue/data/fuse_gates.csv``).
OPENS_FROM: Final = 1.35
_MOST_FUSES: Final = 3
#: Halves of the flash, in the order of the rows.
_HALVES: Final = (True, False)
#: A reading moves by this share at least: what is not in the rig, and the meter.
_LEAST_SPREAD: Final = 0.02


def book_settings(circuit: Circuit, signals: Collection[str]) -> tuple[Controls, ...]:
    """Return all off, each control by itself, and the pairs of controls that set the switches in another way."""
    singles = single_controls(circuit, signals)
    pairs = [_both(first, second) for k, first in enumerate(singles) for second in singles[k + 1 :]]
    seen = {_switches(circuit, controls) for controls in singles}
    found = list(singles)
    for controls in pairs:
        if controls is not None and _switches(circuit, controls) not in seen:
            seen.add(_switches(circuit, controls))
            found.append(controls)
    return tuple(found)


def _switches(circuit: Circuit, controls: Controls) -> tuple[tuple[bool, ...], ...]:
    return tuple(closed_switches(circuit, State(controls, lit=lit)) for lit in _HALVES)


def _both(first: Controls, second: Controls) -> Controls | None:
    """Return two settings at once; None where they want the same control in two places, or one changes nothing."""
    rest, together = Controls(), first
    for name in Controls.__slots__:
        mine, theirs, off = getattr(first, name), getattr(second, name), getattr(rest, name)
        if mine != off and theirs not in (off, mine):
            return None
        if theirs != off:
            together = replace(together, **{name: theirs})
    return None if together in (first, second) else together


def fault_book(
    circuit: Circuit,
    signals: Collection[str],
    cases: Sequence[FaultCase],
    watched: Sequence[Watched],
    points: Sequence[MeterPoint],
) -> FaultBook:
    """Solve every case in every setting.

    Args:
        circuit: The circuit as built.
        signals: Control signals the vehicle reacts to.
        cases: What may be wrong; the first is nothing.
        watched: Lamps and loads to tell of.
        points: Places for a meter.

    Raises:
        SolveError: The circuit cannot be solved at all.
    """
    bench = _Bench(circuit, book_settings(circuit, signals), watched, points)
    solved = bench.all(cases)
    lights = Lights.of(circuit, [case.change for case in cases], watched, bench.across(solved[0]))
    across = np.stack([one.across for one in solved])
    return FaultBook(
        circuit=circuit,
        cases=tuple(cases),
        settings=bench.settings,
        flashing=tuple(
            closed_switches(circuit, State(c)) != closed_switches(circuit, State(c, lit=False)) for c in bench.settings
        ),
        watched=tuple(watched),
        looks=looks_of(lights, across, np.stack([one.twins for one in solved])),
        points=tuple(points),
        volts_v=np.stack([one.read for one in solved]),
        spread=bench.spread(signals),
        over_v=lights.over(across, _charging_factor(circuit)),
        opened={row: one.opened for row, one in enumerate(solved) if one.opened is not None},
        trouble=tuple(one.trouble for one in solved),
    )


def _charging_factor(circuit: Circuit) -> float:
    batteries = [b for b in circuit.of(Battery) if b.zone == "vehicle"]
    running = math.fsum(b.voltage_v for b in batteries)
    charging = math.fsum(b.voltage_v if b.charging_v is None else b.charging_v for b in batteries)
    return charging / running if running else 1.0


@dataclass
class _Solved:
    """One case, solved: voltages across what is watched, of its twins, and readings; with a fuse's story."""

    across: Array
    twins: Array
    read: Array
    opened: Opened | None = None
    trouble: str = ""


@dataclass(frozen=True)
class _Rows:
    """Terminal voltages of one circuit in all states, V, NaN where a terminal floats, and words of trouble."""

    circuit: Circuit
    volts: Array
    trouble: str


class _Bench:
    """Solves cases of one circuit in the same states: every setting, in both halves of the flash."""

    def __init__(
        self, circuit: Circuit, settings: tuple[Controls, ...], watched: Sequence[Watched], points: Sequence[MeterPoint]
    ) -> None:
        self.circuit, self.settings, self.watched, self.points = circuit, settings, watched, points
        self.states = [State(controls, lit=lit) for controls in settings for lit in _HALVES]

    # --- the order of work ---

    def all(self, cases: Sequence[FaultCase]) -> list[_Solved]:
        """Solve every case."""
        quick = [row for row, case in enumerate(cases) if case.fault is not None]
        rows = dict(zip(quick, self._batched(self.circuit, [_fault(cases[row]) for row in quick]), strict=True))
        rows |= self._changed([(row, case.change, case.flasher) for row, case in enumerate(cases) if row not in rows])
        stories: dict[int, Opened] = {}
        shorts = [row for row, case in enumerate(cases) if case.is_short]
        changes = {row: cases[row].change for row in shorts}
        for _ in range(_MOST_FUSES):
            shorts = self._open(cases, rows, shorts, changes, stories)
        found = []
        for row in range(len(cases)):
            solved = self._told(rows[row])
            solved.opened = stories.get(row)
            found.append(solved)
        return found

    def _open(
        self,
        cases: Sequence[FaultCase],
        rows: dict[int, _Rows],
        shorts: Sequence[int],
        changes: dict[int, Change],
        stories: dict[int, Opened],
    ) -> list[int]:
        """Open one fuse of every short that opens one, solve it again, and return those shorts."""
        by_fuse: dict[str, list[int]] = {}
        for row in shorts:
            most = self._most_loaded(rows[row], changes[row].drop)
            if most is None:
                continue
            if most.times < OPENS_FROM:
                stories.setdefault(row, replace(most, fuse=""))
                continue
            stories.setdefault(row, most)
            changes[row] = replace(changes[row], drop=changes[row].drop | {most.fuse})
            by_fuse.setdefault(most.fuse, []).append(row)
        for fuse, struck in by_fuse.items():
            # With one fuse out, shorts of single parts are again changes of one conductance.
            plain = [row for row in struck if cases[row].fault is not None and changes[row].drop == {fuse}]
            without = Change(frozenset({fuse})).of(self.circuit)
            plain = [row for row in plain if _fault(cases[row]).ref in without.by_ref]
            solved = self._batched(without, [_fault(cases[row]) for row in plain])
            rows.update(zip(plain, solved, strict=True))
            rest = sorted(set(struck) - set(plain))
            rows.update(self._changed([(row, changes[row], cases[row].flasher) for row in rest]))
        return [row for struck in by_fuse.values() for row in struck]

    def _changed(self, wanted: Sequence[tuple[int, Change, str]]) -> dict[int, _Rows]:
        """Solve (number, change, flasher) triples: those that only join and part terminals all together."""
        joint = [(row, change) for row, change, flasher in wanted if not flasher and is_joint(self.circuit, change)]
        rows: dict[int, _Rows] = {}
        if len(joint) > 1:
            made = Joints(self.circuit, [change for _, change in joint])
            solved = made.solve([change for _, change in joint], self.states)
            for (row, _), (volts, trouble) in zip(joint, solved, strict=True):
                rows[row] = _Rows(self.circuit, volts, trouble)
        for row, change, flasher in wanted:
            if row not in rows:
                rows[row] = self._alone(change.of(self.circuit), flasher)
        return rows

    def _most_loaded(self, rows: _Rows, opened: Collection[str]) -> Opened | None:
        index = {name: place for place, name in enumerate(rows.circuit.terminals)}
        found = []
        for fuse in rows.circuit.of(Fuse):
            amps = np.abs(rows.volts[:, index[fuse.a]] - rows.volts[:, index[fuse.b]]) / fuse.resistance_ohm
            # One that has opened stands in the circuit as built; it carries nothing.
            amps = np.zeros(len(amps)) if fuse.ref in opened else np.nan_to_num(amps)
            row = int(np.argmax(amps))
            words = self.states[row].controls.words
            found.append(Opened(fuse.ref, float(amps[row]), float(amps[row]) / fuse.rating_a, words))
        return max(found, key=lambda one: one.times, default=None)

    # --- solving ---

    def _alone(self, circuit: Circuit, flasher: str = "") -> _Rows:
        """Solve one circuit in all states; those that set its switches alike once."""
        states = [replace(state, lit=flasher == "lit") for state in self.states] if flasher else self.states
        closed = [closed_switches(circuit, state) for state in states]
        number = {key: place for place, key in enumerate(dict.fromkeys(closed))}
        sweep = Sweep([circuit], [Setting(key, states[closed.index(key)], 1) for key in number])
        points = sweep.healthy()
        volts = sweep.terminal_v(points, np.arange(len(points.state)))
        return _Rows(circuit, volts[[number[key] for key in closed]], _first(points.trouble))

    def _batched(self, circuit: Circuit, faults: Sequence[Fault]) -> list[_Rows]:
        """Solve changes of single parts, all of them together."""
        if not faults:
            return []
        closed = [closed_switches(circuit, state) for state in self.states]
        number = {key: place for place, key in enumerate(dict.fromkeys(closed))}
        where = [number[key] for key in closed]
        settings = [Setting(key, self.states[closed.index(key)], 1) for key in number]
        sweep = Sweep([circuit], settings, faults, self._grounds())
        points = sweep.faulty(sweep.healthy())
        volts = sweep.terminal_v(points, np.arange(len(points.state))).reshape(len(settings), len(faults), -1)
        trouble: dict[int, str] = {}
        for point, words in points.trouble.items():
            trouble.setdefault(point % len(faults), words)
        return [_Rows(circuit, volts[where, row], trouble.get(row, "")) for row in range(len(faults))]

    def _grounds(self) -> dict[str, str]:
        terminals = self.circuit.terminals
        chassis = "chassis" if "chassis" in terminals else self.circuit.reference
        frame = next((name for name in terminals if name.endswith(":ground")), chassis)
        return {"vehicle": chassis, "adapter": chassis, "trailer": frame}

    # --- telling ---

    def _told(self, rows: _Rows) -> _Solved:
        index = {name: place for place, name in enumerate(rows.circuit.terminals)}
        by_ref = rows.circuit.by_ref
        volts = np.concatenate([rows.volts, np.full((len(rows.volts), 1), np.nan)], axis=1)
        names = [one.ref for one in self.watched]
        parts = [by_ref.get(ref) for ref in (*names, *(f"{ref}.2" for ref in names))]
        pairs = [(point.at, point.against) for point in self.points]
        pairs += [(part.a, part.b) if part else ("", "") for part in parts]
        a = [index.get(first, -1) for first, _ in pairs]
        b = [index.get(second, -1) for _, second in pairs]
        between = np.nan_to_num(volts[:, a] - volts[:, b])
        read, across = between[:, : len(self.points)], between[:, len(self.points) :]
        across[:, [part is None for part in parts]] = np.nan
        return _Solved(
            across=across[:, : len(names)], twins=across[:, len(names) :], read=fold(read), trouble=rows.trouble
        )

    def across(self, solved: _Solved) -> Array:
        """Return the highest voltage across what is watched, V, over all states."""
        return np.asarray(np.abs(np.nan_to_num(solved.across)).max(axis=0))

    def spread(self, signals: Collection[str]) -> Array:
        """Return by what share each healthy reading moves over battery, temperature and age, shape (settings, points).

        Half of the range counts, as two standard deviations. A reading that is nothing when all is well takes the
        share of the same place in other settings.
        """
        study = solve_chosen(self.circuit, signals, self.states, (NOMINAL, *CORNERS)).study
        index = {name: place for place, name in enumerate(self.circuit.terminals)}
        a = [index[point.at] for point in self.points]
        b = [index[point.against] for point in self.points]
        volts = np.nan_to_num(study.voltages_v[:, a] - study.voltages_v[:, b])
        volts = volts.reshape(1 + len(CORNERS), len(self.states), len(self.points))
        range_v, most_v = volts.max(axis=0) - volts.min(axis=0), np.abs(volts).max(axis=0)
        share = np.where(most_v > 1.0, range_v / np.maximum(most_v, 1.0) / 4, 0.0)
        share = np.maximum(share, np.where(share == 0, share.max(axis=0, initial=0.0), 0.0))
        return np.asarray(np.maximum(share.reshape(len(self.settings), 2, -1).max(axis=1), _LEAST_SPREAD))


def _fault(case: FaultCase) -> Fault:
    assert case.fault is not None
    return case.fault


def _first(trouble: dict[int, str]) -> str:
    return next(iter(trouble.values()), "")
