"""The order of the packet."""

from __future__ import annotations

from wiregen.bundle.packet import faults, grounds, proving, wiring, workshop
from wiregen.bundle.packet.contents import PacketContents
from wiregen.chart.paper import sheet_head
from wiregen.paper.pdf.compile import Pdf, compile_pdf
from wiregen.paper.pdf.data import Section
from wiregen.paper.sizes import Size


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


def packet_pdf(packet: PacketContents, size: Size = "a4") -> Pdf:
    """Return the packet as a PDF.

    Args:
        packet: What to print.
        size: ``a4`` or ``letter``.

    Raises:
        PdfError: The PDF cannot be made.
    """
    head = sheet_head(packet.chart.sheet)
    return compile_pdf(head, sections(packet), size, f"{head.title}: wiring packet")
