"""Pages of the wiring: cover, pin to pin, drawings."""

from __future__ import annotations

from typing import Final

from wiregen.bundle.packet.blocks import (
    Block,
    Bullets,
    Cell,
    Column,
    Cover,
    Heading,
    Para,
    Picture,
    Row,
    Section,
    Table,
    grouped,
)
from wiregen.bundle.packet.contents import Drawing, PacketContents
from wiregen.chart.text import (
    CAUTIONS_HEADING,
    NOT_VERIFIED,
    colour_text,
    relay_text,
    support_legend,
    support_note,
    through,
)
from wiregen.model.chart import NO_FUSE, PinRow
from wiregen.paper.cautions import CAUTION
from wiregen.questions.verdict.paper import verdict_words

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
        ("Digest of the rig file", sheet.digest),
    )
    lamps = len({(row.trailer, row.lamp) for row in report.behaviour})
    settings = len({(row.trailer, row.controls) for row in report.behaviour})
    verdict = verdict_words(report)
    more = (
        f"{settings} control settings compared for {lamps} lamps and loads; {report.states} operating points solved"
        + (f", {report.fault_points} more with a single fault" if report.fault_points else "")
        + f". It holds for the rig file with digest {report.digest} and for nothing else. {CAUTION}"
    )
    return Section(
        "Cover",
        (
            Cover(
                title=sheet.title,
                facts=tuple((name, value) for name, value in facts if value),
                verdict=verdict,
                verdict_more=more,
                cautions=_cautions(packet),
                signatures=_SIGNED,
            ),
        ),
    )


def pin_chart(packet: PacketContents) -> Section:
    """Return the pin-to-pin chart."""
    chart = packet.chart
    columns = (
        Column("From"),
        Column("Vehicle has", "1.1fr"),
        Column("Through", "1.25fr"),
        Column("To"),
        Column("Trailer has", "1fr"),
        Column("Trailer", "0.8fr"),
        Column("Colour", "24mm"),
        Column("Support"),
        Column("Remarks", "1.9fr"),
    )
    follows = "; ".join(
        f"{name} {short}" + (f" ({standard})" if standard else "") for name, short, standard in chart.connectors
    )
    legend = "; ".join(f"{mark} = {meaning}" for mark, meaning in support_legend())
    blocks: list[Block] = [
        Para(f"{chart.vehicle}. {follows}"),
        Table(columns, grouped((row.group, _pin(row)) for row in chart.pins)),
        Para(f"Support marks: {legend}. {support_note()} ! = {NOT_VERIFIED}."),
    ]
    if chart.relays:
        blocks += [Heading("Relay wiring"), Bullets(tuple(relay_text(row) for row in chart.relays))]
    if chart.notices:
        blocks += [Heading("Notices"), Bullets(chart.notices)]
    return Section("Pin-to-pin chart", tuple(blocks))


def _pin(row: PinRow) -> Row:
    joined = bool(row.trailer_contact)
    remarks = [f"Live when: {row.logic}."] if row.logic else []
    remarks += [f"! {NOT_VERIFIED.upper()}."] if row.unverified else []
    remarks += [row.note] if row.note else []
    return Row(
        (
            Cell(row.start, bold=bool(row.vehicle_contact)),
            Cell(row.vehicle_words),
            Cell(through(row), bold=row.fuse == NO_FUSE),
            Cell(row.trailer_contact, bold=True),
            Cell(row.circuit if joined else ""),
            Cell(row.trailer),
            Cell(colour_text(row.colour, row.colour_word), colour=row.colour) if joined else Cell(),
            Cell(f"{row.support} !" if row.unverified else row.support, bold=row.unverified),
            Cell(" ".join(remarks)),
        ),
        marked=row.unverified,
    )


def drawings(packet: PacketContents, kind: str) -> list[Section]:
    """Return the drawings of one kind, a section each."""
    return [_drawn(drawing) for drawing in packet.drawings if drawing.kind == kind]


def _drawn(drawing: Drawing) -> Section:
    pictures = tuple(Picture(svg, alt) for svg, alt in zip(drawing.bare, drawing.alts, strict=True))
    return Section(drawing.title, pictures)


def cautions(packet: PacketContents) -> Bullets:
    """Return the cautions in a frame, for pages where somebody works on the real thing."""
    return Bullets(_cautions(packet), CAUTIONS_HEADING, boxed=True)


def _cautions(packet: PacketContents) -> tuple[str, ...]:
    """Return the cautions without the one that sends a reader of the chart to the check: the packet holds it."""
    return tuple(text for text in packet.chart.cautions if "'wiregen check'" not in text)
