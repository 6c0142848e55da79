"""Pages that say what the packet rests on: findings, assumptions, what is not verified, sources."""

from __future__ import annotations

from typing import Final

from wiregen.bundle.packet.contents import PacketContents
from wiregen.catalogue.sources import SOURCES
from wiregen.paper.blocks import CALCULATED, Block, Bullets, Column, Para, Table, grouped, row
from wiregen.paper.pdf.data import Section
from wiregen.questions.verdict.paper import assumptions_table, findings_table, source_keys, sources_table

#: So many contacts are listed below what stands before; more begin a page of their own.
_FEW: Final = 6


def findings(packet: PacketContents) -> Section:
    """Return what the check found."""
    found = packet.report.findings
    block = findings_table(found) if found else Para("The check found nothing to report.")
    return Section("Findings", (block, Para(CALCULATED, bold=True)))


def assumptions(packet: PacketContents) -> Section:
    """Return every value the rig file does not state."""
    return Section(
        "Assumptions",
        (
            Para(
                "The rig file does not say these; each stands in for something you can measure or read off the part. "
                "Write the real value into the rig file and make the packet again."
            ),
            assumptions_table((*packet.report.assumptions, *packet.papers.assumptions)),
        ),
    )


def unverified(packet: PacketContents) -> Section:
    """Return the contacts and faces that nobody has verified."""
    papers = packet.papers
    columns = (
        Column("Contact"),
        Column("Connector", 1),
        Column("Said to be", 1.6),
        Column("Proof", 1.1),
        Column("Sources"),
        Column("Note", 2),
        Column("Used"),
        Column("Measured", field_mm=22),
    )
    blocks: list[Block] = []
    if papers.doubts:
        rows = (
            (
                "",
                row(
                    (
                        one.contact,
                        one.connector,
                        one.function,
                        one.support,
                        ", ".join(one.sources),
                        one.note,
                        "yes" if one.used else "no",
                        "",
                    ),
                    bold=(0,),
                    marked=one.used,
                ),
            )
            for one in papers.doubts
        )
        blocks += [
            Para("Measure these before you rely on them; the ones with a bar are used by this harness."),
            Table(columns, grouped(rows), tall=True),
        ]
    else:
        blocks.append(
            Para(
                "Every contact of these connectors rests on at least one source that was read. Measure them all the "
                "same: vehicles differ from their manuals."
            )
        )
    faces = tuple(
        f"{name} {short}: the positions in the drawing are not verified; wire by the mark, never by position"
        for name, short, verified in papers.faces
        if not verified
    )
    if faces:
        blocks.append(Bullets(faces, "Faces that nobody has held against the part"))
    return Section("Unverified contacts", tuple(blocks), follows=len(papers.doubts) <= _FEW)


def sources(packet: PacketContents) -> Section:
    """Return every source that anything in the packet rests on."""
    more = (*(one.source for one in packet.papers.assumptions), *packet.papers.sources)
    keys = source_keys(packet.report, more)
    own = tuple(key for key in keys if key not in SOURCES and " " not in key)
    blocks: list[Block] = [sources_table(keys)] if any(key in SOURCES for key in keys) else []
    if own:
        blocks.append(Bullets(own, "Named, but not in the list of sources"))
    return Section("Sources", tuple(blocks) or (Para("None."),))
