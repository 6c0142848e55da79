"""The layout of the harness: which conductors run together, from where to where, how long."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from wiregen.circuit.build import Built
from wiregen.harness.cut_list import terminal_words
from wiregen.model.chart import Chart
from wiregen.model.circuit import Circuit, Conductor, Fuse
from wiregen.model.harness import Branch, HarnessPlan
from wiregen.quantity import parse_size
from wiregen.rig.loaded import LoadedRig


def plan(loaded: LoadedRig, built: Built, chart: Chart) -> HarnessPlan:
    """Return the branches around the adapter; of a straight lead those from the socket to each trailer."""
    harness = {row.ref for row in chart.conductors}
    wires = {
        terminal_words(wire.ref): wire
        for circuit in built.circuits
        for wire in circuit.of(Conductor)
        if terminal_words(wire.ref) in harness
    }
    planner = _Planner(loaded, built, wires, chart)
    return HarnessPlan(
        centre="" if loaded.rig.adapter.straight else loaded.rig.adapter.name,
        place=loaded.rig.adapter.location,
        branches=tuple(planner.branches()),
    )


class _Planner:
    def __init__(self, loaded: LoadedRig, built: Built, wires: dict[str, Conductor], chart: Chart) -> None:
        self.loaded = loaded
        self.built = built
        self.wires = wires
        self.chart = chart
        self._count = 0

    def branches(self) -> list[Branch]:
        """Return every branch: of the vehicle's side first."""
        straight = self.loaded.rig.adapter.straight
        made = [] if straight else self._vehicle_side()
        for index, circuit in enumerate(self.built.circuits):
            outlet = f"X{index + 2}"
            made.append(self._lead(outlet, circuit, "X1" if straight else "A1"))
            cable = self._cable(outlet, circuit)
            if cable:
                made.append(cable)
        return made

    def _vehicle_side(self) -> list[Branch]:
        made = []
        socket = self._of("socket-adapter")
        if socket:
            made.append(self._branch(f"X1 {self.loaded.socket.short}", "A1", "vehicle", socket, "vehicle socket"))
        made += [
            self._branch(f"tap {tap.circuit.replace('_', ' ')}", "A1", "vehicle", [tap], self._at(tap))
            for tap in self._of("battery-adapter")
        ]
        ground = self._of("adapter-chassis")
        if ground:
            made.append(self._branch("chassis", "A1", "vehicle", ground, "bolt on bare metal"))
        return made

    def _of(self, stretch: str) -> list[Conductor]:
        return [wire for wire in self.wires.values() if wire.stretch == stretch]

    def _at(self, wire: Conductor) -> str:
        """Return where a tap begins, with its fuse."""
        fuse = next((f for c in self.built.circuits for f in c.of(Fuse) if wire.a == f.b), None)
        words = wire.title or "tap"
        return f"{words}, {terminal_words(fuse.ref)} there" if fuse else f"{words}, no fuse stated"

    def _lead(self, outlet: str, circuit: Circuit, start: str) -> Branch:
        """Return the lead to a trailer's connector; from the chart, which knows the conductors without duty too."""
        rows = [row for row in self.chart.conductors if f"{outlet}:" in f"{row.start} {row.end}"]
        return Branch(
            name=self._next(),
            start=start,
            end=f"{outlet} {self.loaded.plugs[int(outlet[1:]) - 2].short}",
            side="trailer",
            refs=tuple(row.ref for row in rows),
            sizes=_sizes([row.size for row in rows]),
            shortest_m=min((row.length_m for row in rows), default=0.0),
            longest_m=max((row.length_m for row in rows), default=0.0),
            note=circuit.trailer,
        )

    def _cable(self, outlet: str, circuit: Circuit) -> Branch | None:
        wires = [wire for wire in circuit.of(Conductor) if wire.stretch == "plug-splice"]
        if not wires:
            return None
        lamps = sum(wire.stretch == "splice-lamp" for wire in circuit.of(Conductor))
        words = f"{circuit.trailer}: {lamps} conductors go on to lamps and loads"
        return self._branch(outlet, "lamps", "trailer", wires, words, made=False)

    def _branch(
        self, start: str, end: str, side: str, wires: Sequence[Conductor], note: str, *, made: bool = True
    ) -> Branch:
        lengths = [wire.length_m for wire in wires]
        return Branch(
            name=self._next(),
            start=start,
            end=end,
            side="vehicle" if side == "vehicle" else "trailer",
            refs=tuple(terminal_words(wire.ref) for wire in wires),
            sizes=_sizes([wire.size.label for wire in wires]),
            shortest_m=min(lengths),
            longest_m=max(lengths),
            made=made,
            note=note,
        )

    def _next(self) -> str:
        self._count += 1
        return f"B{self._count}"


def _sizes(labels: Sequence[str]) -> tuple[tuple[int, str], ...]:
    counted = Counter(labels)
    return tuple(
        (count, label) for label, count in sorted(counted.items(), key=lambda pair: -parse_size(pair[0]).area_mm2)
    )
