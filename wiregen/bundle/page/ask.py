"""The rig as a page on which its controls can be worked."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiregen.design.design import Design
    from wiregen.model.fault_guide import FaultGuide
    from wiregen.model.live import LivePage


def live_page(design: Design, guides: Sequence[FaultGuide] = ()) -> LivePage:
    """Solve every state of every trailer and draw its circuit, ready for ``wiregen.bundle.page``.

    Args:
        design: The rig.
        guides: ``fault_guide`` of the rig, one a trailer, to stand on the page too.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.chart.make import cautions, sheet_info
    from wiregen.chart.measure import switch_notes
    from wiregen.draw.schematic.scenes import schematic
    from wiregen.draw.sheet import Sheet
    from wiregen.draw.svg import svg_text
    from wiregen.model.live import LivePage, LiveSheets
    from wiregen.solve.live import live_table

    loaded, circuits = design.loaded, design.circuits
    area = Sheet("a4", landscape=True).area
    signals, info = design.signals, sheet_info(loaded)
    facts = (("Vehicle", loaded.rig.vehicle.name), ("Revision", info.revision), ("Date", info.date))
    return LivePage(
        title=loaded.rig.title,
        facts=(*((word, value) for word, value in facts if value), ("Digest", loaded.digest)),
        cautions=cautions(loaded),
        signals=signals,
        shells={(c.trailer, name): shell.short for c in circuits for name, shell in c.shells.items()},
        trailers=tuple(
            LiveSheets(
                table=live_table(circuit, signals),
                drawings=tuple(svg_text(scene) for scene in schematic(circuit, info, wires=design.harness.wires)),
                window_mm=(area.x0, area.y0, area.width, area.height),
            )
            for circuit in circuits
        ),
        guides=tuple(guides),
        notes=switch_notes(loaded),
    )
