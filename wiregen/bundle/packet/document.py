"""The order of the packet."""

from __future__ import annotations

from wiregen.bundle.packet import faults, grounds, proving, wiring, workshop
from wiregen.bundle.packet.blocks import Section
from wiregen.bundle.packet.compile import Pdf, SheetGeometry, compile_pdf
from wiregen.bundle.packet.contents import PacketContents


def sections(packet: PacketContents) -> tuple[Section, ...]:
    """Return every section in its order. A new page of the packet is one more line here."""
    return (
        wiring.cover(packet),
        wiring.pin_chart(packet),
        *wiring.drawings(packet, "schematic"),
        *wiring.drawings(packet, "face"),
        *wiring.drawings(packet, "harness"),
        workshop.cut_list(packet),
        workshop.splice_list(packet),
        *wiring.drawings(packet, "labels"),
        workshop.parts_list(packet),
        workshop.assembly(packet),
        proving.harness_alone(packet),
        proving.vehicle_and_outlets(packet),
        *proving.coupled(packet),
        *faults.guides(packet),
        *proving.as_built(packet),
        grounds.assumptions(packet),
        grounds.sources(packet),
        grounds.unverified(packet),
        grounds.findings(packet),
    )


def packet_pdf(packet: PacketContents, geometry: SheetGeometry) -> Pdf:
    """Return the packet as a PDF.

    Args:
        packet: What to print.
        geometry: Paper, frame and title block.

    Raises:
        PdfError: The PDF cannot be made.
    """
    return compile_pdf(packet.chart.sheet, sections(packet), geometry)
