"""What the packet is made of: the records that the stages before it have made."""

from __future__ import annotations

from dataclasses import dataclass

from wiregen.model.chart import Chart
from wiregen.model.fault_guide import FaultGuide
from wiregen.model.harness import HarnessPapers
from wiregen.model.reading import ReadingSheet
from wiregen.model.report import Report
from wiregen.questions.record.as_built import AsBuilt


@dataclass(frozen=True, slots=True, kw_only=True)
class PacketDrawing:
    """One drawing: one or more sheets.

    Attributes:
        kind: ``schematic``, ``face``, ``harness`` or ``labels``; the packet orders by it.
        title: Heading of the section.
        stem: File stem of each sheet, in order.
        sheets: SVG of each sheet with frame and title block, for the folder.
        bare: SVG of each sheet without them, for the packet, which has its own.
        alts: Each sheet in words.
    """

    kind: str
    title: str
    stem: tuple[str, ...]
    sheets: tuple[str, ...]
    bare: tuple[str, ...]
    alts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PacketContents:
    """Everything the packet prints.

    Attributes:
        chart: The wiring chart.
        report: The check.
        papers: What the shop needs.
        readings: What a meter shows, state by state.
        drawings: Schematics, faces, layout, labels.
        trailers: Names of the trailers.
        adapter: Name and place of the adapter, in words.
        records: What has been measured on the finished rig, the oldest first.
        guides: For each symptom the checks in order, one guide a trailer.
    """

    chart: Chart
    report: Report
    papers: HarnessPapers
    readings: ReadingSheet
    drawings: tuple[PacketDrawing, ...]
    trailers: tuple[str, ...]
    adapter: str
    records: tuple[AsBuilt, ...] = ()
    guides: tuple[FaultGuide, ...] = ()
