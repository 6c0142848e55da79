"""The rig as a page on which its controls can be worked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiregen.design.steps import build

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiregen.circuit.build import Built
    from wiregen.model.fault_guide import FaultGuide
    from wiregen.model.live import LivePage
    from wiregen.rig.loaded import LoadedRig


def live_page(loaded: LoadedRig, built: Built | None = None, guides: Sequence[FaultGuide] = ()) -> LivePage:
    """Solve every state of every trailer and draw its circuit, ready for ``wiregen.bundle.page``.

    Args:
        loaded: The rig.
        built: Its circuits, where they have been built already.
        guides: ``fault_guide`` of the rig, one a trailer, to stand on the page too.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.chart.make import cautions, sheet_info
    from wiregen.chart.measure import switch_notes
    from wiregen.circuit.build import vehicle_signals
    from wiregen.draw.schematic.scenes import schematic
    from wiregen.draw.sheet import Sheet
    from wiregen.draw.svg import svg_text
    from wiregen.model.live import LivePage, LiveSheets
    from wiregen.solve.live import live_table

    built = built or build(loaded)
    area = Sheet("a4", landscape=True).area
    signals, info = vehicle_signals(loaded), sheet_info(loaded)
    facts = (("Vehicle", loaded.rig.vehicle.name), ("Revision", info.revision), ("Date", info.date))
    return LivePage(
        title=loaded.rig.title,
        facts=(*((word, value) for word, value in facts if value), ("Digest", loaded.digest)),
        cautions=cautions(loaded),
        signals=frozenset(signals),
        shells={(c.trailer, name): shell.short for c in built.circuits for name, shell in c.shells.items()},
        trailers=tuple(
            LiveSheets(
                table=live_table(circuit, signals),
                drawings=tuple(svg_text(scene) for scene in schematic(circuit, info)),
                window_mm=(area.x0, area.y0, area.width, area.height),
            )
            for circuit in built.circuits
        ),
        guides=tuple(guides),
        notes=switch_notes(loaded),
    )
