"""Part a schematic into sheets."""

from __future__ import annotations

from collections.abc import Sequence

from wiregen.draw.drawing import Drawing
from wiregen.draw.scene import Box
from wiregen.model.circuit import Circuit


def parted(circuit: Circuit, room: Box, sizes_mm: Sequence[float]) -> list[Drawing]:
    """Return drawings that together show the circuit, each at the largest lettering that fits ``room``."""
    order: tuple[int, ...] = ()
    for size_mm in sizes_mm:
        drawing = Drawing(circuit, circuit.elements, size_mm, order=order)
        if drawing.fits(room):
            return [drawing]
        order = drawing.order
    return [drawing]
