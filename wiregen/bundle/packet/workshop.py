"""Pages of the workshop: cut list, splices, parts, order of assembly."""

from __future__ import annotations

from typing import Final

from wiregen.bundle.packet.contents import PacketContents
from wiregen.chart.paper import colour_cell
from wiregen.model.chart import NO_FUSE
from wiregen.model.harness import PRACTICE, CutRow, Node, PartRow
from wiregen.paper.blocks import Block, Cell, Column, Para, Row, Steps, Table, grouped, row
from wiregen.paper.pdf.data import Section
from wiregen.paper.words import GLUE

_JOINTS: Final = (
    "A joint inside the adapter is a strip terminal or a lead as large as the conductor that feeds it. Splices "
    f"and joints in the trailers' own wiring: there, dry, tight? How a joint is made: {PRACTICE}."
)
_NODE_HEADS: Final = {
    "splice": "Splices of the harness",
    "bar": "Bars of the adapter",
    "joint": "Joints inside the adapter",
    "trailer": "In the trailers' own wiring, for orientation",
}


def metres(value_m: float) -> str:
    """Return a length as it is cut, ``1.70 m``."""
    return f"{value_m:.2f}{GLUE}m"


def feet(value_ft: float) -> str:
    """Return a length in feet."""
    return f"{value_ft:.2f}{GLUE}ft"


def cut_list(packet: PacketContents) -> Section:
    """Return the cut list."""
    papers = packet.papers
    allowance = "; ".join(f"{one.text} {one.why} ({one.support})" for one in papers.assumptions)
    columns = (
        Column("No."),
        Column("From"),
        Column("End", 1),
        Column("To"),
        Column("End", 1),
        Column("Circuit", 1.2),
        Column("Colour", whole=True),
        Column("Size"),
        Column("Between ends", right=True),
        Column("Cut to", right=True),
        Column("Fuse"),
        Column("Trailer", 0.8),
        Column("Cut", field_mm=9),
        Column("Fitted", field_mm=11),
    )
    blocks: list[Block] = [
        Para(f"'Cut to' has an allowance at each end and is rounded up to 0.05 m. Allowance: {allowance}."),
        Table(columns, grouped((_branch(one), _cut(one)) for one in papers.cuts)),
    ]
    blocks += [Para(note, bold=True) for note in packet.chart.conductor_notes if note.startswith(NO_FUSE)]
    blocks.append(
        Para(
            "Ends: connector contact – as the part asks, a ferrule under a screw; ring terminal – on bright metal, "
            "sealed; ferrule – under every screw of a strip or device; blade receptacle – into a relay socket; splice "
            f"– see the splice list. ({PRACTICE})"
        )
    )
    return Section("Cut list", tuple(blocks))


def _branch(cut: CutRow) -> str:
    """Return where a conductor runs, so that what runs together is cut together."""
    ends = [_place(end, cut) for end in (cut.start, cut.end)]
    return f"{ends[0]} – {ends[1]}" if ends[0] <= ends[1] else f"{ends[1]} – {ends[0]}"


def _place(terminal: str, cut: CutRow) -> str:
    device = terminal.split(":")[0]
    if device.startswith("X"):
        return f"connector {device}"
    if device.startswith(("F", "S", "G")) and not cut.trailer:
        return "tap on the vehicle"
    return "chassis" if device == "chassis" else "adapter"


def _cut(cut: CutRow) -> Row:
    return Row(
        (
            Cell(cut.ref, bold=True),
            Cell(cut.start, bold=True),
            Cell(cut.start_finish),
            Cell(cut.end, bold=True),
            Cell(cut.end_finish),
            Cell(cut.circuit),
            colour_cell(cut.colour, cut.colour_word),
            Cell(cut.size.replace(" ", GLUE)),
            Cell(f"{metres(cut.length_m)} {feet(cut.length_ft)}"),
            Cell(f"{metres(cut.cut_m)} {feet(cut.cut_ft)}", bold=True),
            Cell(cut.fuse.replace(" ", GLUE) or "–", bold=cut.fuse == NO_FUSE),
            Cell(cut.trailer or "all"),
            Cell(),
            Cell(),
        )
    )


def splice_list(packet: PacketContents) -> Section:
    """Return splices, bars and joints."""
    columns = (
        Column("Name"),
        Column("Where", 1.1),
        Column("Joins", 1.7),
        Column("Sizes", 0.8),
        Column("How", 1.8),
        Column("Made", field_mm=12),
    )
    groups = grouped((_NODE_HEADS[node.kind], _node(node)) for node in packet.papers.nodes)
    if not groups:
        return Section("Splice list", (Para("Nothing is joined: each conductor runs from contact to contact."),))
    return Section("Splice list", (Para(_JOINTS), Table(columns, groups)))


def _node(node: Node) -> Row:
    return row((node.name or "–", node.at, ", ".join(node.joins), ", ".join(node.sizes), node.how, ""), bold=(0, 2))


def parts_list(packet: PacketContents) -> Section:
    """Return the parts list."""
    columns = (
        Column("Quantity", right=True),
        Column("Part", 2.2),
        Column("For", 1.3),
        Column("Remarks", 1.9),
        Column("In hand", field_mm=14),
    )
    return Section(
        "Parts list",
        (
            Para(
                "Parts are named by their properties. Leads inside the adapter are not counted: the rig file states no "
                "lengths for them. What the vehicle and the trailers have already is not listed."
            ),
            Table(columns, grouped((part.group, _part(part)) for part in packet.papers.parts)),
        ),
    )


def _part(part: PartRow) -> Row:
    in_feet = part.quantity_ft
    count = f"{part.quantity:g} ×" if in_feet is None else f"{metres(part.quantity)} / {feet(in_feet)}"
    return Row((Cell(count, bold=True), Cell(part.what), Cell(", ".join(part.refs)), Cell(part.note), Cell()))


def assembly(packet: PacketContents) -> Section:
    """Return the order of assembly."""
    steps = tuple((step.title, step.actions) for step in packet.papers.steps)
    return Section(
        "Order of assembly",
        (
            Para("Tick each box when it is done. Where a word here and a standard or the law differ, follow those."),
            Steps(steps),
        ),
    )
