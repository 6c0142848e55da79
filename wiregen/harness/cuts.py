"""The cut list: length with allowance, and what is put on each end."""

from __future__ import annotations

from typing import Final

from wiregen.catalogue.circuits import circuit_word
from wiregen.catalogue.connector import colour_word
from wiregen.catalogue.defaults import default
from wiregen.harness.record import FINISHES, Harness, Wire, WirePoint
from wiregen.model.finding import Assumption
from wiregen.model.harness import CutRow
from wiregen.quantity import whole_up

#: Cut lengths are rounded up to this, m.
STEP_M: Final = 0.05


def allowance() -> Assumption:
    """Return the allowance that the cut lengths have in them."""
    entry = default("cut_allowance_end_m")
    return Assumption(
        name=entry.name,
        text=entry.text,
        why=entry.why,
        source=entry.source,
        support=entry.support,
        where=("cut list",),
    )


def cut_length_m(length_m: float) -> float:
    """Return the length to cut, m: with the allowance at both ends, rounded up to ``STEP_M``."""
    wanted = length_m + 2 * default("cut_allowance_end_m").value
    return round(whole_up(wanted / STEP_M) * STEP_M, 2)


def cut_list(harness: Harness) -> tuple[CutRow, ...]:
    """Return a row for each wire that is made outside the adapter, by function group."""
    return tuple(_row(wire) for wire in harness.made)


def _row(wire: Wire) -> CutRow:
    return CutRow(
        ref=wire.id,
        start=wire.a.id,
        end=wire.b.id,
        circuit=circuit_word(wire.circuit),
        colour=wire.colour,
        colour_word=colour_word(wire.colour) if wire.colour else "",
        size=wire.size.label if wire.size else "",
        length_m=wire.length_m,
        cut_m=cut_length_m(wire.length_m),
        start_finish=_finish(wire.a),
        end_finish=_finish(wire.b),
        fuse=wire.fuse,
        trailer=wire.trailer,
    )


def _finish(point: WirePoint) -> str:
    """Return what is put on the end of a wire, in words; at a splice with its name."""
    return f"{FINISHES[point.kind]} {point.id}" if point.kind == "splice" else FINISHES[point.kind]
