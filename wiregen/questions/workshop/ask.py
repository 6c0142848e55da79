"""What a harness shop needs beside the chart, taken from the built circuits: one module a paper."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiregen.harness.continuity import continuity
from wiregen.harness.cuts import allowance, cut_list
from wiregen.harness.doubts import doubts, faces, pinout_sources
from wiregen.harness.nodes import nodes
from wiregen.harness.plan import plan
from wiregen.model.harness import HarnessPapers
from wiregen.questions.workshop.assembly import assembly
from wiregen.questions.workshop.labels import labels
from wiregen.questions.workshop.parts_list import parts_list

if TYPE_CHECKING:
    from wiregen.design.design import Design


def harness(design: Design) -> HarnessPapers:
    """Make the papers of the shop: cut list, splices, labels, parts, order of assembly, continuity, layout."""
    loaded, built, made = design.loaded, design.built, design.harness
    joints, cuts = nodes(made), cut_list(made)
    return HarnessPapers(
        plan=plan(loaded, made),
        cuts=cuts,
        nodes=joints,
        labels=labels(cuts),
        parts=parts_list(loaded, built, made, joints),
        steps=assembly(loaded, built, made, joints),
        continuity=continuity(made),
        doubts=doubts(made),
        faces=faces(made),
        assumptions=(allowance(),),
        sources=pinout_sources(made),
    )
