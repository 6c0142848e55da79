"""The papers of the shop as CSV and as plain data: cut list, splices, labels, parts, continuity."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

from wiregen.model.harness import HarnessPapers
from wiregen.paper.safe_text import guard_csv

Value = str | float | bool | None


def harness_csv(papers: HarnessPapers) -> dict[str, str]:
    r"""Return CSV texts by file name: ``\r\n`` line ends (RFC 4180), UTF-8, safe against formulas."""
    return {
        "cut-list.csv": _csv(
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
        "splices.csv": _csv(
            ("name", "kind", "where", "joins", "sizes", "how"),
            (
                (node.name, node.kind, node.at, " ".join(node.joins), " ".join(node.sizes), node.how)
                for node in papers.nodes
            ),
        ),
        "parts.csv": _csv(
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
        "continuity.csv": _csv(
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
    return _csv(
        ("conductor", "this_end", "far_end", "text", "size", "circuit"),
        (
            (label.ref, label.here, label.there, f"{label.ref} {label.here} → {label.there}", label.size, label.circuit)
            for label in papers.labels
        ),
    )


def _list(refs: Sequence[str]) -> str:
    return " ".join(refs)


def _csv(columns: Sequence[str], rows: Iterable[Sequence[Value]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return out.getvalue()


def _cell(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | int):
        # Far below any meter, so that a text does not hang on the last bit; never nothing with a sign.
        text = f"{value:.6f}".rstrip("0").rstrip(".")
        return "0" if text in ("-0", "") else text
    return guard_csv(value)
