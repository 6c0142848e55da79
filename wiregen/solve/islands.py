"""Terminals with no path to the reference: found in the graph, for each setting of the contacts."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from wiregen.model.circuit import Circuit, Converter, RelayContact, Switch
from wiregen.model.merge import merged

Flags = npt.NDArray[np.bool_]


class Islands:
    """Joins what always conducts once; each setting of the contacts then joins only the remaining groups."""

    def __init__(self, circuit: Circuit) -> None:
        self.terminals = circuit.terminals
        row = {name: number for number, name in enumerate(circuit.terminals)}
        gated = [*circuit.of(Switch), *circuit.of(RelayContact)]
        fixed = [(e.a, e.b) for e in circuit.elements if not isinstance(e, Switch | RelayContact | Converter)]
        # A converter joins its output to its common minus through its bleed; its input hangs on what feeds it.
        fixed += [(converter.b, converter.common) for converter in circuit.of(Converter)]
        self.group = merged(len(row), ((row[a], row[b]) for a, b in fixed))
        self.contacts = [(self.group[row[e.a]], self.group[row[e.b]]) for e in gated]
        self._rows = np.array(self.group)
        self._seen: dict[bytes, list[int]] = {}

    def groups(self, closed: Flags | Sequence[bool]) -> list[int]:
        """Return for each terminal the number of its group; that of the reference is its own row, 0."""
        key = bytes(bytearray(map(bool, closed)))
        if key not in self._seen:
            joined = [pair for pair, is_closed in zip(self.contacts, closed, strict=True) if is_closed]
            lowest = merged(len(self.group), joined)
            self._seen[key] = [lowest[group] for group in self.group]
        return self._seen[key]

    def adrift(self, closed: Flags | Sequence[bool]) -> Flags:
        """Return which terminals float, by row."""
        return np.array([group != 0 for group in self.groups(closed)], dtype=bool)

    def named(self, closed: Flags | Sequence[bool]) -> tuple[tuple[str, ...], ...]:
        """Return the floating groups by the names of their terminals, sorted."""
        members: dict[int, list[str]] = {}
        for name, group in zip(self.terminals, self.groups(closed), strict=True):
            if group != 0:
                members.setdefault(group, []).append(name)
        return tuple(sorted(tuple(sorted(names)) for names in members.values()))
