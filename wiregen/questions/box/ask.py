"""The label of a relay or adapter box, judged."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wiregen.design.design import Design
    from wiregen.questions.box.record import BoxReport, Label


def box(design: Design, label: Label, trailer: str | None = None) -> BoxReport:
    """Judge what is printed on a relay or adapter box against the trailers of a rig.

    The currents are those of the rig with such a box in place of its adapter, fed without limit.

    Args:
        design: The rig.
        label: What is printed on the box.
        trailer: Name of a trailer; all of them when None.

    Raises:
        InputError: The trailer is none, or no channel can be served by a box.
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.catalogue.lamps import find_lamp
    from wiregen.check.headroom import COMMON_LAMPS
    from wiregen.convert.rewrite import chosen_trailer
    from wiregen.questions.box.judge import judge
    from wiregen.questions.box.needs import needs

    chosen = chosen_trailer(design, trailer)
    common = tuple((word, find_lamp(lamp)) for word, lamp in COMMON_LAMPS)
    return judge(design.title, design.digest, label, needs(chosen), common)
