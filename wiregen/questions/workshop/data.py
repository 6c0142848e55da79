"""The papers of the shop as CSV and as plain data: cut list, splices, labels, parts, continuity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from wiregen.model.harness import HarnessPapers
from wiregen.paper.csv_text import csv_lines


def harness_csv(papers: HarnessPapers) -> dict[str, str]:
    r"""Return CSV texts by file name: ``\r\n`` line ends (RFC 4180), UTF-8, safe against formulas."""
    return {
        "cut-list.csv": csv_lines(
            (
                *("conductor", "from", "from_end", "to", "to_end", "circuit", "colour", "size"),
                *("length_m", "length_ft", "cut_m", "cut_ft", "fuse", "trailer"),
            ),
            (
                (
                    *(cut.ref, cut.start, cut.start_finish, cut.end, cut.end_finish, cut.circuit, cut.colour, cut.size),
                    *(cut.length_m, cut.length_ft, cut.cut_m, cut.cut_ft, cut.fuse, cut.trailer or "all"),
                )
                for cut in papers.cuts
            ),
        ),
        "splices.csv": csv_lines(
            ("name", "kind", "where", "joins", "sizes", "how"),
            (
                (node.name, node.kind, node.at, " ".join(node.joins), " ".join(node.sizes), node.how)
                for node in papers.nodes
            ),
        ),
        "parts.csv": csv_lines(
            ("group", "quantity", "unit", "quantity_ft", "part", "for", "remarks"),
            (
                (
                    part.group,
                    part.quantity,
                    part.unit or "pieces",
                    part.quantity_ft,
                    part.what,
                    _list(part.refs),
                    part.note,
                )
                for part in papers.parts
            ),
        ),
        "continuity.csv": csv_lines(
            ("number", "one_lead", "other_lead", "kind", "expected", "lowest_ohm", "highest_ohm", "why", "read_ohm"),
            (
                (one.ident, one.one, one.other, one.kind, one.expected, one.lowest_ohm, one.highest_ohm, one.why, None)
                for one in papers.continuity
            ),
        ),
    }


def harness_data(papers: HarnessPapers) -> dict[str, Any]:
    """Return the papers of the shop as plain data, key for key."""
    return asdict(papers)


def labels_csv(papers: HarnessPapers) -> str:
    """Return the wire labels for a label printer: one row a label."""
    return csv_lines(
        ("conductor", "this_end", "far_end", "text", "size", "circuit"),
        (
            (label.ref, label.here, label.there, f"{label.ref} {label.here} → {label.there}", label.size, label.circuit)
            for label in papers.labels
        ),
    )


def _list(refs: Sequence[str]) -> str:
    return " ".join(refs)
