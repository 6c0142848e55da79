"""The cut list: length with allowance, and what is put on each end."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

from wiregen.catalogue.defaults import default
from wiregen.circuit.build import Built
from wiregen.circuit.parts import ADAPTER_GROUND, BUS, CHASSIS
from wiregen.harness.cut_list import terminal_words
from wiregen.model.chart import Chart, ConductorRow
from wiregen.model.circuit import Fuse
from wiregen.model.finding import Assumption
from wiregen.model.harness import CutRow, Node

#: Cut lengths are rounded up to this, m.
STEP_M: Final = 0.05

CONTACT: Final = "connector contact"
RING: Final = "ring terminal"
FERRULE: Final = "ferrule"
BLADE: Final = "blade receptacle"
HOLDER: Final = "fuse holder"
SPLICE: Final = "splice"

#: What each finish means, in words; all of it is common practice without a source.
FINISHES: Final[dict[str, str]] = {
    CONTACT: "crimp, solder or screw as the part asks; a ferrule under a screw, never a tinned end",
    RING: "crimped ring to fit the stud, on bare bright metal, sealed afterwards",
    FERRULE: "strip, ferrule, into the strip terminal or the screw terminal of the device",
    BLADE: "insulated crimp receptacle for the blade of the relay socket",
    HOLDER: "crimped to the lead or into the contact of the fuse holder",
    SPLICE: "strip and crimp into the splice named; see the splice list",
}


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
    # The smallest part taken off keeps a length that is a whole number of steps from growing by a last binary digit.
    return round(math.ceil(wanted / STEP_M - 1e-9) * STEP_M, 2)


def cut_list(built: Built, chart: Chart, joints: Sequence[Node]) -> tuple[CutRow, ...]:
    """Return a row for each conductor of the chart, in the order of the chart."""
    splices = {ref: node for node in joints if node.kind == "splice" for ref in node.joins}
    taps = {terminal_words(fuse.b) for circuit in built.circuits for fuse in circuit.of(Fuse)}
    return tuple(_row(row, splices, taps) for row in chart.conductors)


def _row(row: ConductorRow, splices: Mapping[str, Node], taps: set[str]) -> CutRow:
    return CutRow(
        ref=row.ref,
        start=row.start,
        end=row.end,
        circuit=row.circuit,
        colour=row.colour,
        colour_word=row.colour_word,
        size=row.size,
        length_m=row.length_m,
        cut_m=cut_length_m(row.length_m),
        start_finish=_finish(row.ref, row.start, splices, taps),
        end_finish=_finish(row.ref, row.end, splices, taps),
        fuse=row.fuse,
        trailer=row.trailer,
    )


def _finish(ref: str, terminal: str, splices: Mapping[str, Node], taps: set[str]) -> str:
    """Return what is put on the end of a conductor at a terminal, as the chart prints it."""
    device = terminal.split(":")[0]
    if device.startswith("X"):
        return CONTACT
    if terminal in (terminal_words(ADAPTER_GROUND), terminal_words(BUS), CHASSIS) or device.startswith("G"):
        return RING
    node = splices.get(ref)
    if node is not None and any(part.startswith(device) for part in (*node.joins, node.at.split()[-1])):
        return f"{SPLICE} {node.name}"
    if terminal in taps or device.startswith("F"):
        return HOLDER
    return BLADE if device.startswith("K") else FERRULE
