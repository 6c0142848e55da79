"""Faults as changes of the network: of one branch, of a toggle, or of the share of lamps and diodes that is there."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Converter,
    Diode,
    Element,
    Lamp,
    Load,
    RelayContact,
    Resistive,
    Switch,
    ends,
)
from wiregen.model.fault import Fault
from wiregen.solve.devices import Indices
from wiregen.solve.network import Flags, Network


class Changes:
    """What each fault does at each corner.

    Args:
        circuits: The circuit at each corner.
        faults: The faults.
        grounds: Ground terminal by zone, for shorts.

    Attributes:
        shorts: Pairs of terminals that some fault joins.
        branch: Row of the branch that a fault changes, by fault; -1 for none.
        now_s: Its conductance with the fault, while it conducts at all, S, shape (faults, corners).
        sound: Share of each lamp and diode that is there without a fault, shape (lamps and diodes, 1).
        share: The same with each fault, shape (lamps and diodes, faults).
        is_share: Whether a fault takes lamps or diodes away, by fault.
        dead_coil: Number of the coil that a fault opens, by fault; -1 for none.
    """

    def __init__(self, circuits: Sequence[Circuit], faults: Sequence[Fault], grounds: dict[str, str]) -> None:
        circuit = circuits[0]
        self.faults = tuple(faults)
        self._circuits = circuits
        self._places = [
            (circuit.by_ref[fault.ref].b, grounds.get(circuit.by_ref[fault.ref].zone, circuit.reference))
            if fault.kind == "short"
            else None
            for fault in faults
        ]
        self.shorts = tuple(dict.fromkeys(place for place in self._places if place is not None))
        toggles = [*circuit.of(Switch), *circuit.of(RelayContact), *circuit.of(Converter)]
        toggle = {element.ref: place for place, element in enumerate(toggles)}
        held = [toggle.get(f.ref, -1) if f.kind in ("open", "stuck_on", "stuck_off") else -1 for f in faults]
        # A toggle that no longer follows is a setting of its own; nothing else changes.
        self._stuck = np.array(held, dtype=np.intp)
        self._stuck_on = np.array([fault.kind == "stuck_on" for fault in faults], dtype=bool)
        coil = {element.ref: row for row, element in enumerate(circuit.of(Coil))}
        self.dead_coil = np.array([coil.get(f.ref, -1) if f.kind == "open" else -1 for f in faults], dtype=np.intp)
        vanishing: list[Element] = [*circuit.of(Lamp), *circuit.of(Diode)]
        row = {element.ref: number for number, element in enumerate(vanishing)}
        self.sound = np.ones((len(vanishing), 1))
        self.sound[[row[fault.by] for fault in faults if fault.by]] = 0.0
        self.share = np.repeat(self.sound, len(faults), axis=1)
        for place, fault in enumerate(faults):
            if fault.ref in row and fault.kind in ("burnt", "open", "exchanged"):
                self.share[row[fault.ref], place] = 1 - fault.share
            if fault.by:
                self.share[row[fault.by], place] = 1.0
        self.is_share = (self.share != self.sound).any(axis=0)

    def enter(self, net: Network) -> None:
        """Look up the branches of a network that was made with ``shorts``."""
        count = len(self.faults)
        first_short = len(net.pairs) - len(self.shorts)
        self.branch = np.full(count, -1, dtype=np.intp)
        self.now_s = np.zeros((count, len(self._circuits)))
        for number, (fault, place) in enumerate(zip(self.faults, self._places, strict=True)):
            if place is not None:
                self.branch[number] = first_short + self.shorts.index(place)
                self.now_s[number] = 1 / fault.ohm
            elif self._stuck[number] < 0 and fault.kind in ("open", "resistance", "shorted"):
                self.branch[number] = net.branch.get(fault.ref, -1)
                self.now_s[number] = [_faulty_s(circuit.by_ref[fault.ref], fault) for circuit in self._circuits]

    def hold_open(self, fault: Indices, pulled: Flags) -> None:
        """Take out of ``pulled``, shape (points, coils), the coils that faults open: there is voltage, but no pull."""
        self._hold(self.dead_coil, fault, pulled, False)

    def hold(self, fault: Indices, flags: Flags) -> None:
        """Set the toggles of ``flags``, shape (points, toggles), that faults hold; ``fault`` may be -1 for none."""
        self._hold(self._stuck, fault, flags, None)

    def _hold(self, column: Indices, fault: Indices, flags: Flags, value: bool | None) -> None:
        if not (column >= 0).any():
            return
        held = np.where(fault >= 0, column[fault], -1)
        rows = np.flatnonzero(held >= 0)
        flags[rows, held[rows]] = self._stuck_on[fault[rows]] if value is None else value

    def alike(self) -> tuple[Indices, Indices]:
        """Return one fault of each kind that lamps and relays can tell apart, and for each fault which of them it is.

        Parts in one row, without a branch between them, carry one current: it does not matter which of them is open or
        has so much more resistance.
        """
        circuit = self._circuits[0]
        chain = chains(circuit)
        keys: dict[object, int] = {}
        first: list[int] = []
        which = np.zeros(len(self.faults), dtype=np.intp)
        for number, fault in enumerate(self.faults):
            key: object = number
            if fault.ref in chain:
                if fault.kind in ("open", "stuck_off"):
                    key = chain[fault.ref], "open"
                elif fault.kind == "resistance":
                    key = chain[fault.ref], fault.ohm
            if key not in keys:
                keys[key] = len(first)
                first.append(number)
            which[number] = keys[key]
        return np.array(first, dtype=np.intp), which


def chains(circuit: Circuit) -> dict[str, str]:
    """Return for each part in a row of resistances the ref of the first of them.

    Coils and loads are left out, because the voltage across them is asked for: it is not the same whether they or
    their feed is open. So are parts that lead from a terminal to itself.
    """
    touching: dict[str, list[Element]] = {}
    for element in circuit.elements:
        for end in ends(element):
            touching.setdefault(end, []).append(element)
    member = {
        e.ref: e.ref
        for e in circuit.elements
        if isinstance(e, Resistive) and not isinstance(e, Coil | Load) and e.a != e.b
    }
    for terminal, parts in touching.items():
        if len(parts) == 2 and terminal != circuit.reference and all(part.ref in member for part in parts):
            old, new = sorted((member[parts[0].ref], member[parts[1].ref]))
            member = {ref: old if first == new else first for ref, first in member.items()}
    return member


def _faulty_s(element: Element, fault: Fault) -> float:
    """Return the conductance of a part's linear branch with a fault, while it conducts at all, S."""
    if fault.kind == "open":
        return 0.0
    if fault.kind == "shorted":
        return 1 / fault.ohm
    return 1 / (element.resistance_ohm + fault.ohm) if isinstance(element, Resistive | Battery) else 0.0
