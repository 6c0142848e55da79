"""The packet: everything one needs under the truck, as one folder."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wiregen.bundle.page.ask import live_page
from wiregen.questions.faults.ask import fault_guide
from wiregen.questions.record.ask import records
from wiregen.questions.workshop.ask import harness

if TYPE_CHECKING:
    from wiregen.bundle.packet.contents import PacketContents, PacketDrawing
    from wiregen.design.design import Design
    from wiregen.draw.scene import Scene
    from wiregen.draw.sheet import Paper
    from wiregen.model.harness import HarnessPapers
    from wiregen.model.report import Report


@dataclass(frozen=True, slots=True)
class Packet:
    """A packet ready to be written.

    Attributes:
        files: Content by name, the list of contents among them.
        listing: The list of contents: title, verdict, pages, and every file with size and SHA-256.
        verdict: Of the check.
    """

    files: dict[str, bytes]
    listing: dict[str, Any]
    verdict: str


def contents(design: Design, paper: Paper = "a4", *, guide: bool = True) -> PacketContents:
    """Make everything that the packet prints.

    Args:
        design: The rig.
        paper: ``a4`` or ``letter``.
        guide: Whether to work out the fault guide, which takes longer than all the rest.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.bundle.packet.contents import PacketContents

    papers = harness(design)
    rig, path = design.rig, design.loaded.path
    place = f"{rig.adapter.name}, {rig.adapter.location}" if rig.adapter.location else rig.adapter.name
    return PacketContents(
        chart=design.chart,
        report=_nameless(design.report),
        papers=papers,
        readings=design.readings(),
        drawings=tuple(_drawings(design, papers, paper)),
        trailers=design.trailers,
        adapter="straight lead" if rig.adapter.straight else place,
        records=tuple(record for _, record in records(path)) if path else (),
        guides=fault_guide(design) if guide else (),
    )


def packet(design: Design, paper: Paper = "a4") -> Packet:
    """Make the packet; the same rig gives the same bytes on every run.

    Args:
        design: The rig.
        paper: ``a4`` or ``letter``.

    Raises:
        InputError: A record beside the rig file cannot be read.
        SolveError: A circuit cannot be solved at all.
        PdfError: The PDF cannot be made.
    """
    from wiregen.bundle.packet.document import packet_pdf
    from wiregen.bundle.page.html import page_text
    from wiregen.chart.paper import chart_paper
    from wiregen.paper.csv_text import csv_text
    from wiregen.paper.folder import MANIFEST, manifest
    from wiregen.paper.html import html_text
    from wiregen.paper.json_text import data_json, json_text, paper_json
    from wiregen.questions.faults.guide_paper import guide_data
    from wiregen.questions.readings.paper import readings_paper
    from wiregen.questions.record.as_built import numbered
    from wiregen.questions.record.paper import form_csv, records_paper
    from wiregen.questions.verdict.paper import report_paper
    from wiregen.questions.workshop.data import harness_csv, harness_data, labels_csv

    made = contents(design, paper)
    pdf = packet_pdf(made, paper)
    chart, readings = chart_paper(made.chart), readings_paper(made.readings)
    texts = {
        "chart.html": html_text(chart),
        "page.html": page_text(live_page(design, guides=made.guides)),
        "tables/chart.csv": csv_text(chart),
        "tables/readings.csv": csv_text(readings),
        "tables/test-sheet.csv": form_csv(numbered(made.readings), design.digest),
        "labels/labels.csv": labels_csv(made.papers),
        "data/chart.json": paper_json(chart),
        "data/check.json": paper_json(report_paper(made.report)),
        "data/readings.json": paper_json(readings),
        "data/harness.json": data_json("harness", harness_data(made.papers)),
        "data/fault-guide.json": data_json("fault-guide", {"guides": [guide_data(one) for one in made.guides]}),
        "data/as-built.json": paper_json(records_paper(made.records, design.title)),
    }
    texts |= {f"tables/{name}": text for name, text in harness_csv(made.papers).items()}
    for drawing in made.drawings:
        folder = "labels" if drawing.kind == "labels" else "drawings"
        texts |= {f"{folder}/{stem}.svg": text for stem, text in zip(drawing.stem, drawing.sheets, strict=True)}
    files = {"packet.pdf": pdf.data} | {name: text.encode() for name, text in texts.items()}
    path = design.loaded.path
    if path is not None and path.is_file():
        files["rig.toml"] = path.read_bytes()
    head = {
        "title": design.title,
        "digest": design.digest,
        "verdict": made.report.verdict,
        "paper": paper,
        "pages": pdf.pages,
    }
    listing = manifest(files, head)
    files[MANIFEST] = json_text(listing).encode()
    return Packet(files, listing, made.report.verdict)


def _nameless(report: Report) -> Report:
    """Return the report with bare file names, so that the same rig in another folder gives the same bytes."""
    return replace(
        report,
        findings=tuple(
            replace(one, origin=replace(one.origin, file=Path(one.origin.file).name)) if one.origin else one
            for one in report.findings
        ),
    )


# --- drawings ---


def _drawings(design: Design, papers: HarnessPapers, paper: Paper) -> list[PacketDrawing]:
    from wiregen.chart.make import sheet_info
    from wiregen.draw.face.scenes import face_scenes
    from wiregen.draw.harness import harness_scenes
    from wiregen.draw.labels import label_scenes
    from wiregen.draw.schematic.scenes import schematic

    info = sheet_info(design.loaded)
    several, wires = len(design.circuits) > 1, design.harness.wires
    made = []
    for number, circuit in enumerate(design.circuits, start=1):
        stem = f"schematic-{number}" if several else "schematic"
        made.append(
            _drawing("schematic", f"Schematic, {circuit.trailer}", stem, schematic(circuit, info, paper, wires))
        )
    for half in design.harness.halves:
        scenes = face_scenes(half.pinout, info, half=half, paper=paper)
        made.append(_drawing("face", f"Connector {half.id}, {half.pinout.short}", f"face-{half.id.lower()}", scenes))
    made.append(_drawing("harness", "Harness layout", "harness-layout", harness_scenes(papers.plan, info, paper)))
    made.append(_drawing("labels", "Wire labels", "labels", label_scenes(papers.labels, info, paper)))
    return made


def _drawing(kind: str, title: str, stem: str, scenes: list[Scene]) -> PacketDrawing:
    from wiregen.bundle.packet.contents import PacketDrawing
    from wiregen.draw.svg import svg_text

    stems = (stem,) if len(scenes) == 1 else tuple(f"{stem}-{number}" for number in range(1, len(scenes) + 1))
    return PacketDrawing(
        kind=kind,
        title=title,
        stem=stems,
        sheets=tuple(svg_text(scene) for scene in scenes),
        bare=tuple(svg_text(_bare(scene)) for scene in scenes),
        alts=tuple(". ".join(part for part in (scene.title, scene.description) if part) for scene in scenes),
    )


def _bare(scene: Scene) -> Scene:
    """Return a sheet without paper, frame and title block: the packet draws its own around all pages alike."""
    return replace(scene, children=tuple(item for item in scene.children if item.css_class not in ("paper", "sheet")))
