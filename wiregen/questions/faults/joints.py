"""Faults that join or part terminals, many at once: wires become switches, and so does everything that may touch.

Swapping two wires opens both and closes two others between the same terminals; contacts that touch close one more; a
fuse that a short has opened is a switch that is open. So all such faults are settings of one circuit, and the solver
carries them together as it does any other setting. Every resistance stays what it is.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from wiregen.model.circuit import Circuit, Coil, Element, Fuse, Load, RelayContact, Resistive, Switch
from wiregen.model.logic import parse
from wiregen.model.state import State
from wiregen.questions.faults.diagnosis import Array, Change
from wiregen.solve.network import Flags
from wiregen.solve.states import Setting
from wiregen.solve.sweep import Sweep

_ALWAYS, _NEVER = parse("always"), parse("never")
#: Resistances that are more than a piece of metal.
_MORE: Final = (Switch, RelayContact, Coil, Load)
_Bar = tuple[str, str, float]


def is_joint(circuit: Circuit, change: Change) -> bool:
    """Return whether a change only opens and closes plain resistances between terminals that are there."""
    if not change.drop and not change.put:
        return False
    there = set(circuit.terminals)
    dropped = [circuit.by_ref.get(ref) for ref in change.drop]
    replaced = [circuit.by_ref[e.ref] for e in change.put if e.ref in circuit.by_ref]
    return all(_is_metal(e) for e in (*dropped, *replaced, *change.put)) and all(
        {e.a, e.b} <= there and e.a != e.b for e in change.put
    )


def _is_metal(element: Element | None) -> bool:
    return isinstance(element, Resistive) and not isinstance(element, _MORE)


class Joints:
    """One circuit in which every change of a list is a setting of switches.

    Args:
        circuit: The circuit as built.
        changes: Changes for which ``is_joint`` holds.
    """

    def __init__(self, circuit: Circuit, changes: Iterable[Change]) -> None:
        self.bars: dict[_Bar, str] = {}
        opened: set[str] = {fuse.ref for fuse in circuit.of(Fuse)}
        for change in changes:
            opened |= {*change.drop, *(e.ref for e in change.put if e.ref in circuit.by_ref)}
            for bar in _bars(change):
                self.bars.setdefault(bar, f"-BAR{len(self.bars) + 1}")
        elements = [_switch(e, e.ref, "always") if e.ref in opened else e for e in circuit.elements]
        model = next(e for e in circuit.elements if isinstance(e, Resistive))
        elements += [
            _switch(replace(model, a=a, b=b, resistance_ohm=ohm), ref, "never")
            for (a, b, ohm), ref in self.bars.items()
        ]
        self.circuit = replace(circuit, elements=tuple(elements))
        self.switches = self.circuit.of(Switch)

    def solve(self, changes: Sequence[Change], states: Sequence[State]) -> list[tuple[Array, str]]:
        """Return for each change the terminal voltages in every state, V, and words of trouble.

        The terminals stand in the order of the circuit as built; NaN where one floats.
        """
        signals = [state.controls.signals(lit=state.lit, stop_wins=self.circuit.stop_wins) for state in states]
        normal = np.array([[switch.live.value(values) for switch in self.switches] for values in signals], dtype=bool)
        number: dict[bytes, int] = {}
        where: list[list[int]] = []
        settings: list[Setting] = []
        for opened, closed in map(self._toggled, changes):
            where.append([])
            for state, row in zip(states, (normal & ~opened) | closed, strict=True):
                key = row.tobytes()
                if key not in number:
                    number[key] = len(settings)
                    settings.append(Setting(tuple(row.tolist()), state, 1))
                where[-1].append(number[key])
        sweep = Sweep([self.circuit], settings)
        points = sweep.healthy()
        volts = sweep.terminal_v(points, np.arange(len(settings)))
        found = []
        for rows in where:
            trouble = next((points.trouble[place] for place in rows if place in points.trouble), "")
            found.append((np.asarray(volts[rows]), trouble))
        return found

    def _toggled(self, change: Change) -> tuple[Flags, Flags]:
        """Return which switches a change opens, and which it closes."""
        opened, closed = {*change.drop, *(e.ref for e in change.put)}, {self.bars[bar] for bar in _bars(change)}
        return self._marked(opened), self._marked(closed)

    def _marked(self, refs: Collection[str]) -> Flags:
        return np.array([switch.ref in refs for switch in self.switches], dtype=bool)


def _bars(change: Change) -> list[_Bar]:
    return [(e.a, e.b, e.resistance_ohm) for e in change.put if isinstance(e, Resistive) and e.ref not in change.drop]


def _switch(element: Element, ref: str, live: str) -> Switch:
    ohm = element.resistance_ohm if isinstance(element, Resistive) else 0.0
    return Switch(ref=ref, a=element.a, b=element.b, circuit=element.circuit, zone=element.zone, title=element.title,
                  resistance_ohm=ohm, live=_ALWAYS if live == "always" else _NEVER)  # fmt: skip
