"""Pages of the wiring: cover, pin to pin, drawings."""

from __future__ import annotations

from typing import Final

from wiregen.bundle.packet.contents import PacketContents, PacketDrawing
from wiregen.bundle.packet.layouts import Cover
from wiregen.chart.paper import CAUTIONS, connectors, note_blocks, pin_table, proof_marks, relay_blocks
from wiregen.paper.blocks import CALCULATED, Bullets, Picture
from wiregen.paper.pdf.data import Printed, Section
from wiregen.questions.verdict.paper import proved_words, verdict_words

_SIGNED: Final = ("Drawn and checked", "Built", "Harness alone proved", "Proved on the vehicle", "Handed over")


def cover(packet: PacketContents) -> Section:
    """Return the first page: job, verdict, cautions, contents, signatures."""
    sheet, report = packet.chart.sheet, packet.report
    facts = (
        ("Vehicle", packet.chart.vehicle),
        ("Adapter", packet.adapter),
        ("Trailers", ", ".join(packet.trailers)),
        ("Connectors", "; ".join(f"{name} {short}" for name, short, _ in packet.chart.connectors)),
        ("Drawn by", sheet.author),
        ("Revision, date", ", ".join(part for part in (sheet.revision, sheet.date) if part)),
        ("File code", sheet.digest),
    )
    more = f"{proved_words(report)} It holds for the rig file with file code {report.digest} and for nothing else. "
    return Section(
        "Cover",
        (
            Cover(
                title=sheet.title,
                facts=tuple((name, value) for name, value in facts if value),
                verdict=verdict_words(report),
                verdict_more=f"{more}{CALCULATED}",
                cautions=_cautions(packet),
                signatures=_SIGNED,
            ),
        ),
    )


def pin_chart(packet: PacketContents) -> Section:
    """Return the pin-to-pin chart."""
    chart = packet.chart
    blocks: tuple[Printed, ...] = (
        *connectors(chart),
        pin_table(chart),
        *proof_marks(),
        *relay_blocks(chart),
        *note_blocks(chart),
    )
    return Section("Pin-to-pin chart", blocks)


def drawings(packet: PacketContents, kind: str) -> list[Section]:
    """Return the drawings of one kind, a section each."""
    return [_drawn(drawing) for drawing in packet.drawings if drawing.kind == kind]


def _drawn(drawing: PacketDrawing) -> Section:
    pictures = tuple(Picture(svg, alt) for svg, alt in zip(drawing.bare, drawing.alts, strict=True))
    return Section(drawing.title, pictures)


def cautions(packet: PacketContents) -> Bullets:
    """Return the cautions in a frame, for pages where somebody works on the real thing."""
    return Bullets(_cautions(packet), CAUTIONS, boxed=True)


def _cautions(packet: PacketContents) -> tuple[str, ...]:
    """Return the cautions without the one that sends a reader of the chart to the check: the packet holds it."""
    return tuple(text for text in packet.chart.cautions if "'wiregen check'" not in text)
