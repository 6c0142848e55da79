"""What a harness shop needs beside the chart, taken from the built circuits: one module a paper."""

from __future__ import annotations

from wiregen.circuit.build import Built
from wiregen.harness.continuity import continuity
from wiregen.harness.cuts import allowance, cut_list
from wiregen.harness.doubts import doubts, faces, pinout_sources
from wiregen.harness.make import harness
from wiregen.harness.nodes import nodes
from wiregen.harness.plan import plan
from wiregen.model.harness import HarnessPapers
from wiregen.questions.workshop.assembly import assembly
from wiregen.questions.workshop.labels import labels
from wiregen.questions.workshop.parts_list import parts_list
from wiregen.rig.loaded import LoadedRig


def harness_papers(loaded: LoadedRig, built: Built) -> HarnessPapers:
    """Make every paper of the harness.

    Args:
        loaded: The rig.
        built: Its circuits.
    """
    made = harness(loaded, built)
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
