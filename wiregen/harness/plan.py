"""The layout of the harness: which wires run together, from where to where, how long."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from wiregen.harness.record import Harness, Wire
from wiregen.model.harness import Branch, HarnessPlan
from wiregen.quantity import parse_size
from wiregen.rig.loaded import LoadedRig


def plan(loaded: LoadedRig, harness: Harness) -> HarnessPlan:
    """Return the branches around the adapter; of a straight lead those from the socket to each trailer."""
    adapter = loaded.rig.adapter
    branches = (*_vehicle_side(harness), *_trailer_side(harness))
    return HarnessPlan(
        centre="" if harness.straight else adapter.name,
        place=adapter.location,
        branches=tuple(replace(branch, name=f"B{number}") for number, branch in enumerate(branches, start=1)),
    )


def _vehicle_side(harness: Harness) -> Iterator[Branch]:
    def on(stretch: str) -> list[Wire]:
        return [wire for wire in harness.wires if wire.stretch == stretch]

    if socket := on("socket-adapter"):
        yield _branch(f"X1 {harness.halves[0].pinout.short}", "A1", "vehicle", socket, "vehicle socket")
    for tap in on("battery-adapter"):
        start = f"tap {tap.circuit.replace('_', ' ')}"
        words = tap.title or "tap"
        at = f"{words}, {tap.a.part} there" if tap.a.kind == "holder" else f"{words}, no fuse stated"
        yield _branch(start, tap.b.part, "vehicle", [tap], at)
    if ground := on("adapter-chassis"):
        yield _branch("chassis", "A1", "vehicle", ground, "bolt on bare metal")


def _trailer_side(harness: Harness) -> Iterator[Branch]:
    for half in harness.halves[1:]:
        wires = [wire for wire in harness.wires if wire.trailer == half.trailer]
        lead = [wire for wire in wires if wire.stretch == "adapter-trailer"]
        yield _branch(
            "X1" if harness.straight else "A1", f"{half.id} {half.pinout.short}", "trailer", lead, half.trailer
        )
        cable = [wire for wire in wires if wire.stretch == "plug-splice"]
        if cable:
            lamps = sum(wire.stretch == "splice-lamp" for wire in wires)
            words = f"{half.trailer}: {lamps} conductors go on to lamps and loads"
            yield replace(_branch(half.id, "lamps", "trailer", cable, words), made=False)


def _branch(start: str, end: str, side: str, wires: Sequence[Wire], note: str) -> Branch:
    sizes = Counter(wire.size.label for wire in wires if wire.size)
    return Branch(
        name="",
        start=start,
        end=end,
        side="vehicle" if side == "vehicle" else "trailer",
        refs=tuple(wire.id for wire in wires),
        sizes=tuple((n, label) for label, n in sorted(sizes.items(), key=lambda pair: -parse_size(pair[0]).area_mm2)),
        shortest_m=min((wire.length_m for wire in wires), default=0.0),
        longest_m=max((wire.length_m for wire in wires), default=0.0),
        note=note,
    )
