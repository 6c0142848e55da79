"""Faults as changes of the network: of one conductance, of a toggle, or of the share of lamps that burn."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wiregen.model.circuit import Circuit, Coil, Converter, Lamp, RelayContact, Resistive, Switch
from wiregen.model.fault import Fault
from wiregen.solve.devices import Array, Indices
from wiregen.solve.network import Flags


class Changes:
    """What each fault does at each corner.

    Attributes:
        sites: Pairs of terminals at which some fault changes a conductance.
        site: Site of each fault.
        burns: Whether a fault takes lamps out, by fault.
        share: Share of each lamp entry that still burns, shape (lamps, faults).
        dead_coil: Number of the coil that a fault opens, by fault; -1 for none.
    """

    def __init__(self, circuits: Sequence[Circuit], faults: Sequence[Fault], grounds: dict[str, str]) -> None:
        circuit = circuits[0]
        pairs = [self._pair(circuit, fault, grounds) for fault in faults]
        number = {pair: place for place, pair in enumerate(dict.fromkeys(pairs))}
        self.sites = tuple(number)
        self.site = np.array([number[pair] for pair in pairs], dtype=np.intp)
        toggles = [*circuit.of(Switch), *circuit.of(RelayContact), *circuit.of(Converter)]
        self._toggle = {element.ref: place for place, element in enumerate(toggles)}
        count, lamps = len(faults), circuit.of(Lamp)
        self._open_s = np.zeros((len(circuits), count))
        self._closed_s = np.zeros((len(circuits), count))
        self._gated = np.full(count, -1, dtype=np.intp)
        self._stuck = np.full(count, -1, dtype=np.intp)
        self._stuck_on = np.zeros(count, dtype=bool)
        self.burns = np.array([fault.kind == "burnt" for fault in faults], dtype=bool)
        self.share = np.ones((len(lamps), count))
        coil_row = {coil.ref: row for row, coil in enumerate(circuit.of(Coil))}
        self.dead_coil = np.array(
            [coil_row.get(fault.ref, -1) if fault.kind == "open" else -1 for fault in faults], dtype=np.intp
        )
        lamp_row = {lamp.ref: row for row, lamp in enumerate(lamps)}
        for place, fault in enumerate(faults):
            if fault.kind == "burnt":
                # The network keeps the lamp at its rated resistance; the excess current takes it away again.
                self.share[lamp_row[fault.ref], place] = 1 - fault.share
            else:
                self._note(place, fault, circuits)

    @staticmethod
    def _pair(circuit: Circuit, fault: Fault, grounds: dict[str, str]) -> tuple[str, str]:
        element = circuit.by_ref[fault.ref]
        if fault.kind == "short":
            return element.b, grounds.get(element.zone, circuit.reference)
        return element.a, element.b

    def _note(self, place: int, fault: Fault, circuits: Sequence[Circuit]) -> None:
        toggle = self._toggle.get(fault.ref, -1)
        if toggle >= 0 and fault.kind in ("open", "stuck_on", "stuck_off"):
            # A toggle that no longer follows is a topology of its own: it may join an island, or part one.
            self._stuck[place], self._stuck_on[place] = toggle, fault.kind == "stuck_on"
            return
        self._gated[place] = toggle if fault.kind != "short" else -1
        for row, circuit in enumerate(circuits):
            element = circuit.by_ref[fault.ref]
            if not isinstance(element, Resistive):
                continue
            was = 1 / element.resistance_ohm
            if fault.kind == "short":
                self._open_s[row, place] = self._closed_s[row, place] = 1 / fault.ohm
            else:
                now = 0.0 if fault.kind == "open" else 1 / (element.resistance_ohm + fault.ohm)
                self._closed_s[row, place] = now - was

    def delta_s(self, corner: Indices, fault: Indices, flags: Flags) -> Array:
        """Return the change of conductance of points, S.

        Args:
            corner: Corner of each point.
            fault: Fault of each point, none below zero.
            flags: Toggles of each point, shape (points, toggles).
        """
        gated = self._gated[fault]
        closed = np.where(gated >= 0, flags[np.arange(len(fault)), np.maximum(gated, 0)] if flags.size else True, True)
        return np.where(closed, self._closed_s[corner, fault], self._open_s[corner, fault])

    def hold_open(self, fault: Indices, pulled: Flags) -> None:
        """Take out of ``pulled``, shape (points, coils), the coils that faults open: there is voltage, but no pull."""
        if not len(self.dead_coil):
            return
        dead = np.where(fault >= 0, self.dead_coil[np.maximum(fault, 0)], -1)
        rows = np.flatnonzero(dead >= 0)
        pulled[rows, dead[rows]] = False

    def sticks(self, fault: Indices, flags: Flags) -> Flags:
        """Return the toggles with the ones that a fault holds; ``fault`` may be -1 for none."""
        if not len(self._stuck):
            return flags
        stuck = np.where(fault >= 0, self._stuck[np.maximum(fault, 0)], -1)
        rows = np.flatnonzero(stuck >= 0)
        if not len(rows):
            return flags
        held = flags.copy()
        held[rows, stuck[rows]] = self._stuck_on[fault[rows]]
        return held
