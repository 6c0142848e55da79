"""The three leads of a battery equaliser: in the cut list, the parts, the order of assembly, and fused."""

from __future__ import annotations

import pytest

from tests import steps
from tests.findings import findings, one
from tests.rigs import RUNS, load, rig
from tests.unit.test_harness_papers import papers
from tests.unit.test_short_sheet import shorts_text
from wiregen.draw.scene import groups
from wiregen.draw.schematic.scenes import schematic
from wiregen.errors import InputError
from wiregen.model.chart import SheetInfo
from wiregen.model.harness import CutRow
from wiregen.paper.words import marks

TAP = {"kind": "centre_tap", "fuse": "30 A"}


def text(size: str = "6 mm²", **supply: str) -> str:
    runs = [{**run, "size": size} if run["to"] == "adapter" else run for run in RUNS]
    return rig(supply={**TAP, **supply}, runs=runs)


def leads(rig_text: str) -> list[CutRow]:
    return [row for row in papers(rig_text).cuts if row.end.startswith("T1:")]


def test_plus_centre_and_minus_are_cut_and_labelled() -> None:
    """As large as the tap, half a metre assumed and 0.2 m more to cut, numbered behind all other conductors."""
    made = leads(text(equaliser="10 A", equaliser_fuse="15 A"))
    assert [(row.start, row.end, row.size, row.length_m, row.cut_m, row.fuse) for row in made] == [
        ("G2:+", "T1:plus", "6 mm²", 0.5, 0.7, "15 A at the battery"),
        ("G1:+", "T1:centre", "6 mm²", 0.5, 0.7, "15 A at the battery"),
        ("G1:-", "T1:minus", "6 mm²", 0.5, 0.7, ""),
    ]
    assert {(row.start_finish, row.end_finish) for row in made} == {("ring terminal", "ferrule")}
    refs = [row.ref for row in papers(text(equaliser="10 A")).cuts]
    assert len(set(refs)) == len(refs)
    assert leads(text()) == []


def test_the_length_is_listed_as_assumed() -> None:
    """Nobody states it, so the user reads it."""
    built = steps.build(load(text(equaliser="10 A")))
    assert "equaliser_lead_length_m" in {entry.name for entry in built.assumptions}


def test_a_rig_without_a_fuse_says_so_everywhere() -> None:
    """Cut list, order of assembly and check; with one the check is silent and the parts list has two fuses."""
    bare, fused = text(equaliser="10 A"), text(equaliser="10 A", equaliser_fuse="15 A")
    assert [row.fuse for row in leads(bare)] == ["NO FUSE", "NO FUSE", ""]
    found = one(bare, "unfused-supply")
    assert (found.severity, found.where) == ("warning", "-T1 battery equaliser")
    assert "equaliser_fuse" in found.advice
    assert "15 A" in found.advice
    assert findings(fused, "unfused-supply") == []
    fuses = {part.what.split(",")[0]: part for part in papers(fused).parts if part.group == "Fuses"}
    assert {"T1 plus", "T1 centre"} <= set(fuses["fuse 15 A"].refs)


@pytest.mark.parametrize(("supply", "words"), [({"equaliser_fuse": "15 A"}, "fuse 15 A"), ({}, "NO FUSE")])
def test_the_schematic_tells_its_fuses(supply: dict[str, str], words: str) -> None:
    """Its leads are drawn as part of it, so the words under it say what stands in them."""
    (circuit,) = steps.build(load(text(equaliser="10 A", **supply))).circuits
    (scene,) = schematic(circuit, SheetInfo(title="Sample rig", revision="", date="", digest=""))
    found = [group.title for group in groups(scene.children) if "battery equaliser" in group.title]
    assert found == [f"-T1: battery equaliser, {words} in plus and in centre"]


def test_it_is_fitted_at_the_batteries() -> None:
    """A step of its own names the leads; it is not among the converters of the box."""
    made = papers(text(equaliser="10 A"))
    (step,) = [step for step in made.steps if step.title == "Fit the battery equaliser T1"]
    flat = " ".join(step.actions)
    assert all(row.ref in flat for row in made.cuts if row.end.startswith("T1:"))
    assert "the rig states none" in flat
    (connect,) = [step for step in made.steps if step.title == "Connect"]
    assert "Fit both fuses of the equaliser T1." in connect.actions
    (mount,) = [step for step in made.steps if step.title == "Mount the parts"]
    assert "T1" not in " ".join(mount.actions)
    assert [step for step in papers(text()).steps if "equaliser" in step.title] == []


@pytest.mark.parametrize(
    ("size", "fuse", "words"),
    [
        ("6 mm²", "10 A", "carry 7.5 A for long"),
        ("1.5 mm²", "30 A", "through leads that carry"),
        ("6 mm²", "15 A", ""),
    ],
)
def test_its_fuse_is_neither_too_small_nor_too_large(size: str, fuse: str, words: str) -> None:
    """It carries the rating for long (75 % of a fuse), and its leads carry it."""
    found = [f.message for f in findings(text(size, equaliser="10 A", equaliser_fuse=fuse), "unfused-supply")]
    assert [words in message for message in found] == [True] * bool(words)


def test_a_fuse_without_an_equaliser_is_bad_input() -> None:
    """Nothing for it to protect."""
    with pytest.raises(InputError, match="no equaliser for this fuse"):
        load(text(equaliser_fuse="15 A"))


def test_its_leads_are_proved_loose_and_left_out_of_the_shorts_in_words() -> None:
    """Off the battery, the fuse in; the list of shorts says that it has not computed them, and what fuse is stated."""
    bare, fused = text(equaliser="10 A"), text(equaliser="10 A", equaliser_fuse="15 A")
    whys = [row.why for row in papers(fused).continuity if row.other == "T1:plus"]
    assert [why.endswith("ring off the battery, its fuse in") for why in whys] == [True]
    minus = [row.why for row in papers(fused).continuity if row.other == "T1:minus"]
    assert [why.endswith("ring off the battery") for why in minus] == [True]
    words = [" ".join(steps.shorts(load(one_text)).left_out) for one_text in (bare, fused, text())]
    assert words[0].endswith("battery equaliser; no fuse is stated in them.")
    assert words[1].endswith("battery equaliser; fuses of 15 A stated in them.")
    assert words[2] == ""
    assert marks(words[0]) in " ".join(shorts_text(steps.shorts(load(bare))).split())
