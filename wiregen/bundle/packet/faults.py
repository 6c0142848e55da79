"""Pages of the fault guide: for each symptom the checks in order, with what they show on this rig."""

from __future__ import annotations

from wiregen.bundle.packet.contents import PacketContents
from wiregen.bundle.packet.layouts import Guide
from wiregen.paper.blocks import Para
from wiregen.paper.pdf.data import Printed, Section
from wiregen.questions.faults.guide_lists import guide_lists


def guides(packet: PacketContents) -> list[Section]:
    """Return the fault guide, a section a trailer."""
    sections = []
    for number, guide in enumerate(packet.guides, start=1):
        empty = Para("No single fault of a likely kind shows itself at a lamp or a load of this trailer.")
        block: Printed = Guide(guide_lists(guide), f"guide-{number}") if guide.entries else empty
        sections.append(Section(f"Fault guide: {guide.trailer}", (block,)))
    return sections
