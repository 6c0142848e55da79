"""Short-circuit currents: every short in the states that make it live, from the solved nonlinear circuit.

Each short is one more contact of the circuit, closed in its own rows only, so that all of them are solved in one sweep
with the relays and converters that the sag works on: a coil that gets too little lets go, a converter gives its limit
or what it folds back to. A row shows the circuit switched on with the short in place. A relay whose own contact makes
the sag has pulled in before and holds down to its drop-out voltage; one that the sag keeps below its pick-up voltage
stays out; one whose sag lets itself go never comes to rest, and its row says so.

A short is live where its terminal has voltage in the healthy study. Of all states with the same contacts closed on
the way from the source to the terminal, the one with the most other load is solved for the least current, and the
simplest for the most: the others close the same way and load the source less than the first.

At the corner of the least current copper is as hot as its insulation allows, fuses have their resistance at rated
current, contacts are aged and the battery is low. Coils stay at 20 °C there: whether a hot relay pulls in at all is
another question, and one that stays out feeds no short.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from wiregen.catalogue.ampacity import OutsideTable
from wiregen.catalogue.fuses import resistance_ohm
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Conductor,
    Contact,
    Converter,
    Diode,
    Element,
    Fuse,
    Path,
    RelayContact,
    Resistor,
    Switch,
)
from wiregen.model.corner import Corner
from wiregen.model.logic import parse
from wiregen.model.short import LEAST, MOST, Short, ShortPoint, ShortStudy
from wiregen.model.state import State
from wiregen.model.study import Array, Point, Study
from wiregen.solve.corners import Heating, at_corner
from wiregen.solve.full_study import study_of
from wiregen.solve.states import Setting
from wiregen.solve.sweep import Sweep

Flags = npt.NDArray[np.bool_]

#: Below this a terminal is not live, V.
_LIVE_V: Final = 1.0
#: A converter this near to its limit, as a share of it, is at its limit.
_AT_LIMIT: Final = 1e-6
_NEVER: Final = parse("never")
_PASSES: Final = (Conductor, Fuse, Contact, Resistor, Diode, Switch, RelayContact, Converter, Battery)


def solve_shorts(circuit: Circuit, study: Study, shorts: Sequence[Short]) -> ShortStudy:
    """Solve shorts in the states that make them live: for the least current and for the most.

    A state in which relays or converters never come to rest is solved again with the other load; where that does not
    rest either, the point says so.

    Args:
        circuit: The circuit as built.
        study: Its healthy study.
        shorts: The shorts.

    Raises:
        SolveError: The circuit cannot be solved at all.
    """
    healthy = study.trusted()
    bench = _Bench(circuit, healthy, shorts)
    for corner, load in ((LEAST, _HEAVY), (MOST, _LIGHT)):
        bench.solve(corner, load)
    return bench.study()


#: Which of the states with the same way of the current: (simplest, most other load).
_LIGHT, _HEAVY = 0, 1


class _Bench:
    """Solves shorts corner by corner and gathers what comes out."""

    def __init__(self, circuit: Circuit, healthy: Study, shorts: Sequence[Short]) -> None:
        self.circuit, self.healthy, self.shorts = circuit, healthy, shorts
        self.states = healthy.states
        self.barred = _with_bars(circuit, shorts)
        self.jobs = [(number, pair) for number, short in enumerate(shorts) for pair in self._ways(short)]
        self.points: list[ShortPoint] = []
        self.currents: list[Array] = []
        self.input_a: dict[str, list[Array]] = {c.ref: [] for c in circuit.of(Converter)}
        self.limited: dict[str, list[Flags]] = {c.ref: [] for c in circuit.of(Converter)}

    def solve(self, corner: Corner, load: int) -> None:
        """Solve every short at one corner, in the state with that load."""
        if not self.jobs:
            return
        there = at_short_corner(self.barred, corner)
        restless = self._solve(there, corner, [(number, pair[load]) for number, pair in self.jobs])
        again = [(place, self.jobs[place]) for place in restless if len(set(self.jobs[place][1])) > 1]
        if again:
            start = len(self.points) - len(self.jobs)
            self._solve(there, corner, [(number, pair[1 - load]) for _, (number, pair) in again])
            for new, (place, _) in enumerate(again, start=start + len(self.jobs)):
                self.points[start + place] = self.points[new]
            del self.points[start + len(self.jobs) :]

    def _solve(self, there: Circuit, corner: Corner, wanted: Sequence[tuple[int, int]]) -> list[int]:
        """Solve shorts by number and healthy row; return the places of those that never come to rest."""
        settings = [self._setting(number, self.states[row]) for number, row in wanted]
        sweep = Sweep([there], settings)
        solved = study_of(self.barred, sweep, sweep.healthy(), [corner])
        first = sum(map(len, self.currents))
        self.points += [self._point(solved, row, first, *job) for row, job in enumerate(wanted)]
        self.currents.append(solved.currents_a[:, : len(self.circuit.elements)])
        for converter in self.circuit.of(Converter):
            self.input_a[converter.ref].append(solved.input_a[converter.ref])
            self.limited[converter.ref].append(_limited(solved, converter))
        return [place for place, words in enumerate(solved.trouble) if words]

    def _point(self, solved: Study, row: int, first: int, number: int, before: int) -> ShortPoint:
        let_go = self.healthy.pulled[before] - solved.pulled[row]
        return ShortPoint(
            short=self.shorts[number],
            point=Point(self.states[before], solved.points[row].corner),
            current_a=float(solved.current_a(_bar(number))[row]),
            let_go=tuple(coil.ref for coil in self.circuit.of(Coil) if coil.ref in let_go),
            pulled=solved.pulled[row],
            # A converter that runs always draws: at least what its own bleed takes.
            on=frozenset(ref for ref, input_a in solved.input_a.items() if input_a[row] != 0.0),
            trouble=solved.trouble[row],
            row=first + row,
        )

    def study(self) -> ShortStudy:
        """Return everything solved so far."""
        return ShortStudy(
            circuit=self.circuit,
            points=tuple(self.points),
            currents_a=np.concatenate([np.zeros((0, len(self.circuit.elements))), *self.currents]),
            input_a={ref: np.concatenate([np.zeros(0), *parts]) for ref, parts in self.input_a.items()},
            limited={ref: np.concatenate([np.zeros(0, dtype=bool), *parts]) for ref, parts in self.limited.items()},
        )

    def _setting(self, short: int, state: State) -> Setting:
        closed = _switches(self.circuit, state)
        return Setting(closed + tuple(number == short for number in range(len(self.shorts))), state, 1)

    # --- which states ---

    def _ways(self, short: Short) -> list[tuple[int, int]]:
        """Return healthy rows of a short: of each way of the current the simplest, and the one with most other load."""
        study = self.healthy
        volts = np.nan_to_num(study.voltage_v(short.terminal)) - np.nan_to_num(study.voltage_v(short.ground))
        toggles = _toggles_before(self.circuit, short.terminal)
        ways: dict[tuple[bool, ...], list[int]] = {}
        for row in map(int, np.flatnonzero(volts > _LIVE_V)):
            ways.setdefault(tuple(self._closed(row)[toggle] for toggle in toggles), []).append(row)
        # States come simplest first within each corner, and the study begins with the nominal one.
        return [(rows[0], max(rows, key=lambda row: self._load_a[row])) for rows in ways.values()]

    @cached_property
    def _load_a(self) -> Array:
        """What all batteries of the vehicle give at every row, A."""
        batteries = [battery for battery in self.circuit.of(Battery) if battery.zone == "vehicle"]
        return np.asarray(sum(np.abs(self.healthy.current_a(battery.ref)) for battery in batteries))

    def _closed(self, row: int) -> dict[str, bool]:
        """Return which switches and relay contacts are closed at a row of the healthy study."""
        if row not in self._known:
            flags = zip(self.circuit.of(Switch), _switches(self.circuit, self.states[row]), strict=True)
            contacts = self.circuit.of(RelayContact)
            pulled = self.healthy.pulled[row]
            self._known[row] = {switch.ref: flag for switch, flag in flags}
            self._known[row] |= {contact.ref: contact.gate.is_open_to(pulled) for contact in contacts}
        return self._known[row]

    @cached_property
    def _known(self) -> dict[int, dict[str, bool]]:
        return {}


def _switches(circuit: Circuit, state: State) -> tuple[bool, ...]:
    signals = state.controls.signals(lit=state.lit, stop_wins=circuit.stop_wins)
    return tuple(switch.live.value(signals) for switch in circuit.of(Switch))


def _bar(number: int) -> str:
    return f"-SHORT{number}"


def _with_bars(circuit: Circuit, shorts: Sequence[Short]) -> Circuit:
    """Return the circuit with one open contact to ground for every short."""
    bars = tuple(
        Switch(
            ref=_bar(number),
            a=short.terminal,
            b=short.ground,
            circuit="ground",
            zone="vehicle",
            resistance_ohm=short.ohm,
            live=_NEVER,
        )
        for number, short in enumerate(shorts)
    )
    return replace(circuit, elements=circuit.elements + bars)


def at_short_corner(circuit: Circuit, corner: Corner) -> Circuit:
    """Return the circuit at a corner, with copper of hot corners as hot as its insulation allows, and coils at 20 °C.

    Args:
        circuit: The circuit as built.
        corner: The corner.
    """
    heating = Heating(
        conductor_c={wire.ref: max(wire.insulation_c, wire.ambient_c) for wire in circuit.of(Conductor)},
        fuse_ohm={fuse.ref: _hot_ohm(fuse) for fuse in circuit.of(Fuse)},
    )
    there = at_corner(circuit, corner, heating)
    elements = (
        built if isinstance(built, Coil) else now for built, now in zip(circuit.elements, there.elements, strict=True)
    )
    return replace(there, elements=tuple(elements))


def _hot_ohm(fuse: Fuse) -> float:
    try:
        cold, hot = resistance_ohm(fuse.rating_a, 0.0), resistance_ohm(fuse.rating_a, fuse.rating_a)
    except OutsideTable:
        return fuse.resistance_ohm
    return fuse.resistance_ohm * hot / cold


def _toggles_before(circuit: Circuit, terminal: str) -> list[str]:
    """Return the refs of the switches and relay contacts that lie on any way from a source to a terminal."""
    ending: dict[str, list[Element]] = {}
    for element in circuit.elements:
        if isinstance(element, _PASSES):
            ending.setdefault(element.b, []).append(element)
        elif isinstance(element, Path):
            ending.setdefault(element.b, []).append(element)
            ending.setdefault(element.a, []).append(element)
    found: dict[str, None] = {}
    todo, seen = [terminal], {terminal, circuit.reference}
    while todo:
        here = todo.pop()
        for element in ending.get(here, ()):
            if isinstance(element, Switch | RelayContact):
                found[element.ref] = None
            end = element.a if element.b == here else element.b
            if end not in seen:
                seen.add(end)
                todo.append(end)
    return list(found)


def _limited(solved: Study, converter: Converter) -> Flags:
    """Return whether a converter gives its current limit, folded back or not, at every row."""
    v_in = np.nan_to_num(solved.voltage_v(converter.a) - solved.voltage_v(converter.common))
    v_out = np.nan_to_num(solved.voltage_v(converter.b) - solved.voltage_v(converter.common))
    set_v = np.minimum(converter.output_v, converter.ratio * v_in)
    share = np.clip(v_out / np.maximum(set_v, 1e-3), 0.0, 1.0)
    limit = min(converter.limit_a, 1e9) * (converter.foldback + (1 - converter.foldback) * share)
    given = solved.current_a(converter.ref)
    return np.asarray((given >= limit * (1 - _AT_LIMIT)) & (given > 0))
