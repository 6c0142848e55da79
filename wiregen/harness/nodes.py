"""Splices, bars and joints: every place where the builder brings more than one thing together."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from wiregen.harness.record import Harness, Wire, WirePoint
from wiregen.model.harness import Node
from wiregen.quantity import parse_size

_BARS: Final = {"A1:0V": "ground bar of the adapter", "A1:12V": "12 V bus of the adapter"}
_SPLICE: Final = (
    "crimped, in adhesive-lined shrink tube, or a terminal block; one lead as large as the largest goes on to {lead}"
)
_ORDER: Final = {"bar": 0, "splice": 1, "joint": 2, "trailer": 3}


def nodes(harness: Harness) -> tuple[Node, ...]:
    """Return every splice and bar of the harness, every joint inside the adapter, and the trailers' own splices."""
    made = [_node(harness, point) for point in harness.points if point.kind in ("bar", "strip", "splice")]
    made += [_lead(lead) for lead in harness.inside if not {lead.a.kind, lead.b.kind} & {"bar", "strip", "splice"}]
    return tuple(sorted((node for node in made if len(node.joins) > 1), key=lambda node: _ORDER[node.kind]))


def _node(harness: Harness, point: WirePoint) -> Node:
    wires = harness.at(point.id)
    cut = [wire for wire in wires if wire.stretch != "inside"]
    devices = [end.id for wire in wires if wire.stretch == "inside" for end in wire.points if end != point]
    joins, sizes = (*(wire.id for wire in cut), *devices), _sizes(cut)
    if point.kind == "bar":
        how = f"bar or stud with at least {len(joins)} places; a ring terminal on each conductor"
        return Node(name=point.id, kind="bar", at=_BARS[point.id], joins=joins, sizes=sizes, how=how)
    if point.kind == "strip":
        return Node(
            name=point.id, kind="joint", at="inside the adapter", joins=joins, sizes=sizes, how="strip terminal"
        )
    if wires and not any(wire.is_made for wire in wires):
        at = f"{wires[0].trailer}: " + ("common ground" if point.mark == "ground" else "cable end")
        return Node(name=point.id, kind="trailer", at=at, joins=joins, sizes=sizes, how="there already")
    return Node(
        name=point.id,
        kind="splice",
        at=f"adapter, in front of {devices[0]}",
        joins=joins,
        sizes=sizes,
        how=_SPLICE.format(lead=", ".join(devices)),
    )


def _lead(lead: Wire) -> Node:
    joins = (lead.a.id, lead.b.id)
    return Node(name="", kind="joint", at="inside the adapter", joins=joins, sizes=(), how="lead")


def _sizes(wires: Iterable[Wire]) -> tuple[str, ...]:
    labels = dict.fromkeys(wire.size.label for wire in wires if wire.size)
    return tuple(sorted(labels, key=lambda label: (-parse_size(label).area_mm2, label)))
