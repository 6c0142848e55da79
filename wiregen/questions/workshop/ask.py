"""What a harness shop needs beside the chart, taken from the built circuits: one module a paper."""

from __future__ import annotations

from wiregen.design.design import Design
from wiregen.harness.continuity import continuity
from wiregen.harness.cuts import allowance, cut_list
from wiregen.harness.doubts import doubts, faces, pinout_sources
from wiregen.harness.nodes import nodes
from wiregen.harness.plan import plan
from wiregen.model.harness import HarnessPapers
from wiregen.questions.workshop.assembly import assembly
from wiregen.questions.workshop.labels import labels
from wiregen.questions.workshop.parts_list import parts_list


def harness(design: Design) -> HarnessPapers:
    """Make the papers of the shop: cut list, splices, labels, parts, order of assembly, continuity, layout."""
    loaded, built, chart = design.loaded, design.built, design.chart
    joints = nodes(loaded, built, chart)
    cuts = cut_list(built, chart, joints)
    return HarnessPapers(
        plan=plan(loaded, built, chart),
        cuts=cuts,
        nodes=joints,
        labels=labels(cuts),
        parts=parts_list(loaded, built, cuts, joints),
        steps=assembly(loaded, built, cuts, joints),
        continuity=continuity(loaded, built, chart),
        doubts=doubts(loaded, built),
        faces=faces(loaded),
        assumptions=(allowance(),),
        sources=pinout_sources(loaded),
    )
