"""What every fault of the library does in every setting of the controls: lamps, readings, over-voltage, fuses.

A fault that changes one conductance, one contact or one lamp is solved with the batched solver, all of them together
(``wiregen.solve.sweep``). One that joins or parts other terminals gets a circuit of its own. A short is solved as it
strikes; the fuse that then carries most, against its rating, opens, and what is told is the circuit after that.
Everything is at the nominal corner; over-voltage is told for the highest charging voltage in proportion.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from wiregen.model.circuit import Battery, Circuit, Fuse, Lamp
from wiregen.model.corner import CORNERS, NOMINAL
from wiregen.model.fault import Fault
from wiregen.model.state import CONTROLS, Controls, State
from wiregen.questions.faults.diagnosis import Array, Change, FaultBook, FaultCase, MeterPoint, Opened, Reads, Watched
from wiregen.questions.faults.joints import Joints, is_joint
from wiregen.questions.faults.looks import Lights, fold, looks_of
from wiregen.solve.chosen import closed_switches, single_controls, solve_chosen
from wiregen.solve.states import Setting
from wiregen.solve.sweep import Sweep

#: A fuse opens from this multiple of its rating on: the lowest line of its table by which it has opened (blade fuses,
#: at most ten minutes; ``catalogue/data/fuse_gates.csv``).
OPENS_FROM: Final = 1.35
_MOST_FUSES: Final = 3
#: Points to solve at once.
_MOST_POINTS: Final = 20_000
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
    together = first
    for control in CONTROLS:
        mine, theirs = getattr(first, control.name), getattr(second, control.name)
        if mine != control.rest and theirs not in (control.rest, mine):
            return None
        if theirs != control.rest:
            together = replace(together, **{control.name: theirs})
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
    bench = _Bench(circuit, book_settings(circuit, signals), cases, watched, points)
    told = bench.all()
    best_v = np.asarray(np.abs(np.nan_to_num(told.across[0])).max(axis=0))
    lights = Lights.of(circuit, [case.change for case in cases], watched, best_v)
    return FaultBook(
        circuit=circuit,
        cases=tuple(cases),
        settings=bench.settings,
        flashing=tuple(
            closed_switches(circuit, State(c)) != closed_switches(circuit, State(c, lit=False)) for c in bench.settings
        ),
        watched=tuple(watched),
        looks=looks_of(lights, told.across, told.twins),
        points=tuple(points),
        volts_v=told.read,
        spread=bench.spread(signals),
        over_v=lights.over(told.across, _charging_factor(circuit)),
        opened=dict(sorted(told.opened.items())),
        trouble=tuple(told.trouble),
    )


def _charging_factor(circuit: Circuit) -> float:
    batteries = [b for b in circuit.of(Battery) if b.zone == "vehicle"]
    running = math.fsum(b.voltage_v for b in batteries)
    charging = math.fsum(b.voltage_v if b.charging_v is None else b.charging_v for b in batteries)
    return charging / running if running else 1.0


class _Told:
    """What is kept of every case, told case by case as it is solved: nobody holds all terminals of all of them.

    Attributes:
        across: Voltage across what is watched, V, shape (cases, states, watched); NaN for what is gone.
        twins: The same of a lamp that a fault has taken out of its entry, NaN where there is none.
        read: Readings, V, shape (cases, settings, points).
        opened: What a short does before its fuse opens, by case.
        trouble: Why some state of a case cannot be trusted.
    """

    def __init__(self, cases: int, states: int, watched: int, points: int) -> None:
        self.across, self.twins = (np.full((cases, states, watched), np.nan) for _ in range(2))
        self.read: Reads = np.zeros((cases, states // len(_HALVES), points), dtype=np.float32)
        self.opened: dict[int, Opened] = {}
        self.trouble = [""] * cases


class _Teller:
    """Reads off the voltages of one circuit what is kept of it.

    Args:
        circuit: The circuit.
        watched: Lamps and loads.
        points: Places for a meter.
        fuses: Fuses of the circuit as built.
    """

    def __init__(
        self, circuit: Circuit, watched: Sequence[Watched], points: Sequence[MeterPoint], fuses: Sequence[Fuse]
    ) -> None:
        index, by_ref = {name: place for place, name in enumerate(circuit.terminals)}, circuit.by_ref
        names = [one.ref for one in watched]
        parts = [by_ref.get(ref) for ref in (*names, *(f"{ref}.2" for ref in names), *(fuse.ref for fuse in fuses))]
        pairs = [(point.at, point.against) for point in points]
        pairs += [(part.a, part.b) if part else ("", "") for part in parts]
        # What is not there is read where nothing stands: behind the last terminal.
        self._a = np.array([index.get(first, -1) for first, _ in pairs], dtype=np.intp)
        self._b = np.array([index.get(second, -1) for _, second in pairs], dtype=np.intp)
        self._gone = np.array([part is None for part in parts[: 2 * len(names)]], dtype=bool)
        self._ends = len(points), len(points) + len(names), len(points) + 2 * len(names)

    def tell(self, volts: Array, told: _Told, row: int) -> Array:
        """Keep one case; return the voltages across the fuses, V, shape (states, fuses).

        Args:
            volts: Voltages of the terminals in all states, V, NaN where one floats.
            told: Where to keep it.
            row: The case.
        """
        volts = np.concatenate([volts, np.full((len(volts), 1), np.nan)], axis=1)
        between = np.nan_to_num(volts[:, self._a] - volts[:, self._b])
        points, watched, twins = self._ends
        between[:, points:twins][:, self._gone] = np.nan
        told.read[row] = fold(between[:, :points])
        told.across[row], told.twins[row] = between[:, points:watched], between[:, watched:twins]
        return np.asarray(between[:, twins:])


class _Bench:
    """Solves cases of one circuit in the same states: every setting, in both halves of the flash."""

    def __init__(
        self,
        circuit: Circuit,
        settings: tuple[Controls, ...],
        cases: Sequence[FaultCase],
        watched: Sequence[Watched],
        points: Sequence[MeterPoint],
    ) -> None:
        self.circuit, self.settings, self.cases = circuit, settings, cases
        self.watched, self.points, self.fuses = watched, points, circuit.of(Fuse)
        self.states = [State(controls, lit=lit) for controls in settings for lit in _HALVES]
        self.told = _Told(len(cases), len(self.states), len(watched), len(points))
        #: Voltages across the fuses of every short, V, shape (states, fuses).
        self._loads: dict[int, Array] = {}

    # --- the order of work ---

    def all(self) -> _Told:
        """Solve every case."""
        rest = set(range(len(self.cases)))
        for fits in (_is_single, _is_flasher, _is_other_lamp):
            rows = [row for row in sorted(rest) if fits(self.circuit, self.cases[row])]
            (self._flashers if fits is _is_flasher else self._single)(rows)
            rest -= set(rows)
        self._changed({row: self.cases[row].change for row in sorted(rest)})
        changes = {row: case.change for row, case in enumerate(self.cases) if case.is_short}
        for _ in range(_MOST_FUSES):
            changes = self._open(changes)
        return self.told

    def _open(self, changes: dict[int, Change]) -> dict[int, Change]:
        """Open one fuse of every short that opens one, solve it again, and return those shorts."""
        struck: dict[int, Change] = {}
        for row, change in changes.items():
            most = self._most_loaded(row, change.drop)
            if most is None:
                continue
            if most.times < OPENS_FROM:
                self.told.opened.setdefault(row, replace(most, fuse=""))
                continue
            self.told.opened.setdefault(row, most)
            struck[row] = replace(change, drop=change.drop | {most.fuse})
        self._changed(struck)
        return struck

    def _most_loaded(self, row: int, opened: Collection[str]) -> Opened | None:
        found = []
        for fuse, volts in zip(self.fuses, self._loads[row].T, strict=True):
            # One that has opened carries nothing.
            amps = np.zeros(len(volts)) if fuse.ref in opened else np.abs(volts) / fuse.resistance_ohm
            state = int(np.argmax(amps))
            words = self.states[state].controls.words
            found.append(Opened(fuse.ref, float(amps[state]), float(amps[state]) / fuse.rating_a, words))
        return max(found, key=lambda one: one.times, default=None)

    def _keep(self, row: int, teller: _Teller, volts: Array, trouble: str) -> None:
        fuses_v = teller.tell(volts, self.told, row)
        self.told.trouble[row] = trouble
        if self.cases[row].is_short:
            self._loads[row] = fuses_v

    def _teller(self, circuit: Circuit) -> _Teller:
        return _Teller(circuit, self.watched, self.points, self.fuses)

    # --- solving ---

    def _changed(self, changes: Mapping[int, Change]) -> None:
        """Solve changed circuits, by case: those that only join and part terminals together, connector by connector."""
        lots: dict[str, list[int]] = {}
        for row, change in changes.items():
            if is_joint(self.circuit, change):
                lots.setdefault(self._lot(self.cases[row]), []).append(row)
            else:
                self._alone(row, change.of(self.circuit))
        teller = self._teller(self.circuit)
        for rows in lots.values():
            made = Joints(self.circuit, [changes[row] for row in rows])
            for row, (volts, trouble) in zip(
                rows, made.solve([changes[row] for row in rows], self.states), strict=True
            ):
                self._keep(row, teller, volts, trouble)

    @staticmethod
    def _lot(case: FaultCase) -> str:
        """Return with which others a case is solved.

        What may touch in one connector makes a dense network; two connectors in one make one twice as dense.
        """
        return case.part.partition(":")[0] if case.fault is None and case.part.startswith("-X") else ""

    def _alone(self, row: int, circuit: Circuit) -> None:
        """Solve one circuit in all states; those that set its switches alike once."""
        settings, where = _settings(circuit, self.states)
        sweep = Sweep([circuit], settings)
        points = sweep.healthy()
        volts = sweep.terminal_v(points, np.arange(len(points)))
        self._keep(row, self._teller(circuit), volts[where], next(iter(points.trouble.values()), ""))

    def _flashers(self, rows: Sequence[int]) -> None:
        """Solve the sound circuit: the flasher works, or is stuck in one half of the flash."""
        teller = self._teller(self.circuit)
        halves = {
            "": self.states,
            **{word: [replace(one, lit=word == "lit") for one in self.states] for word in ("lit", "dark")},
        }
        settings, where = _settings(self.circuit, [state for states in halves.values() for state in states])
        sweep = Sweep([self.circuit], settings)
        points = sweep.healthy()
        volts = sweep.terminal_v(points, np.arange(len(points)))
        by_word = dict(zip(halves, np.array(where).reshape(len(halves), -1), strict=True))
        for row in rows:
            used = by_word[self.cases[row].flasher]
            self._keep(row, teller, volts[used], next((points.trouble[k] for k in used if k in points.trouble), ""))

    def _single(self, rows: Sequence[int]) -> None:
        """Solve changes of single parts, all of them together, some settings at a time."""
        if not rows:
            return
        faults, circuit = [], self.circuit
        for row in rows:
            fault, circuit = _fault(self.cases[row], circuit)
            faults.append(fault)
        settings, where = _settings(circuit, self.states)
        sweep = Sweep([circuit], settings, faults, self._grounds())
        healthy, teller = sweep.healthy(), self._teller(self.circuit)
        volts = np.empty((len(rows), len(settings), len(self.circuit.terminals)))
        trouble: dict[int, str] = {}
        step = max(1, _MOST_POINTS // len(faults))
        for start in range(0, len(settings), step):
            some = sweep.faulty(healthy.part(start, start + step))
            solved = sweep.terminal_v(some, np.arange(len(some)))
            volts[:, start : start + step] = solved.reshape(-1, len(faults), solved.shape[1]).swapaxes(0, 1)
            for point, words in some.trouble.items():
                trouble.setdefault(point % len(faults), words)
        for number, row in enumerate(rows):
            self._keep(row, teller, volts[number, where], trouble.get(number, ""))

    def _grounds(self) -> dict[str, str]:
        terminals = self.circuit.terminals
        chassis = "chassis" if "chassis" in terminals else self.circuit.reference
        frame = next((name for name in terminals if name.endswith(":ground")), chassis)
        return {"vehicle": chassis, "adapter": chassis, "trailer": frame}

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


def _is_single(_: Circuit, case: FaultCase) -> bool:
    return case.fault is not None


def _is_flasher(_: Circuit, case: FaultCase) -> bool:
    return case.change == Change()


def _is_other_lamp(circuit: Circuit, case: FaultCase) -> bool:
    """Return whether a case is nothing but another lamp in the place of one."""
    put = case.change.put
    if case.change.drop or len(put) != 1 or not isinstance(put[0], Lamp):
        return False
    old = circuit.by_ref.get(put[0].ref)
    return isinstance(old, Lamp) and (old.a, old.b) == (put[0].a, put[0].b)


def _fault(case: FaultCase, circuit: Circuit) -> tuple[Fault, Circuit]:
    """Return a case as a change of one part, and the circuit with the lamp that stands by for another one."""
    if case.fault is not None:
        return case.fault, circuit
    (lamp,) = case.change.put
    stand_by = replace(lamp, ref=f"{lamp.ref} other")
    fault = Fault("exchanged", lamp.ref, "", by=stand_by.ref)
    return fault, replace(circuit, elements=(*circuit.elements, stand_by))


def _settings(circuit: Circuit, states: Sequence[State]) -> tuple[list[Setting], list[int]]:
    """Return the distinct settings of the switches in some states, and which of them each state is."""
    closed = [closed_switches(circuit, state) for state in states]
    number = {key: place for place, key in enumerate(dict.fromkeys(closed))}
    return [Setting(key, states[closed.index(key)], 1) for key in number], [number[key] for key in closed]
