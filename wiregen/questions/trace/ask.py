"""Trace one mark of a rig."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wiregen.design.design import Design
    from wiregen.questions.trace.record import Trace


def trace(design: Design, mark: str, trailer: str | None = None) -> Trace:
    """Tell where a contact, wire, fuse, lamp or terminal leads, when it is live, and what a break there cuts off.

    Args:
        design: The rig.
        mark: What to trace, ``X1:B``; with or without a leading hyphen.
        trailer: Name of a trailer; all on which the mark is when None.

    Raises:
        InputError: There is no such mark, or no such trailer.
    """
    from wiregen.errors import InputError
    from wiregen.questions.trace.marks import find, target_words, targets, wire_ids
    from wiregen.questions.trace.record import Trace
    from wiregen.questions.trace.work import trace_one

    found = find(mark, [(one.trailer, targets(one, design.harness)) for one in design.circuits])
    wanted = design.circuits if trailer is None else (design.circuits[design.trailer_index(trailer)],)
    traced = [one for one in wanted if one.trailer in found]
    if not traced:
        raise InputError(f"{mark!r} is not on {wanted[0].trailer}: it is on {', '.join(found)}")
    wires, first = wire_ids(design.harness), found[traced[0].trailer]
    return Trace(
        title=design.title,
        digest=design.digest,
        mark=first.mark,
        what=target_words(first, traced[0]),
        trailers=tuple(trace_one(one, design.signals, found[one.trailer], wires) for one in traced),
    )
