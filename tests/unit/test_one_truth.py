"""Every paper says the same of every wire and contact: what is printed is read back and held against the cut list."""

import csv
import io
import re
from pathlib import Path

import pytest

from tests import printed
from tests.random_rigs import loaded_rigs
from tests.rigs import load
from wiregen.design.design import Design
from wiregen.questions.netlist.ask import netlists
from wiregen.questions.record.as_built import numbered
from wiregen.questions.record.paper import form_csv

WRITTEN = sorted(Path(__file__).parent.parent.glob("written/*.toml"))
DEMOS = sorted(Path(__file__).parents[2].glob("wiregen/bundle/demo/*.toml"))


def design(path: Path) -> Design:
    """Return the design of a rig; what is "auto" there is set to any value, which no paper cares about."""
    text = path.read_text("utf-8")
    for key, value in (("size", "12 AWG"), ("fuse", "10 A")):
        text = re.sub(rf'^{key} = "auto"', f'{key} = "{value}"', text, flags=re.M)
    return Design(load(text))


@pytest.mark.parametrize("path", [*WRITTEN, *DEMOS], ids=lambda path: path.stem)
def test_the_papers_of_a_rig_agree(path):
    """The examples, and rigs written as users would: the same wires in each paper, with the same facts."""
    assert printed.disagreements(printed.papers(design(path))) == []


@pytest.mark.parametrize("seeds", [range(start, start + 6) for start in range(0, 30, 6)], ids=str)
def test_the_papers_of_random_rigs_agree(seeds):
    """Rigs over the whole grammar, a few of them."""
    for seed, loaded in loaded_rigs(seeds):
        assert (seed, printed.disagreements(printed.papers(Design(loaded)))) == (seed, [])


@pytest.mark.slow
@pytest.mark.parametrize("seeds", [range(start, start + 50) for start in range(100, 620, 50)], ids=str)
def test_the_papers_of_many_random_rigs_agree(seeds):
    """More than 500 of them."""
    found = {seed: printed.disagreements(printed.papers(Design(loaded))) for seed, loaded in loaded_rigs(seeds)}
    assert len(found) > 0.8 * len(seeds)
    assert {seed: told for seed, told in found.items() if told} == {}


# --- what the test itself can see ---


LORRY = next(path for path in WRITTEN if path.stem == "lorry-two-trailers")
TEXTS = printed.papers(design(LORRY))


def renamed(text: str, **names: str) -> str:
    """Return a paper with wires called otherwise."""
    pattern = rf"(?<![\w.])({'|'.join(map(re.escape, names))})(?![\w.])"
    return re.sub(pattern, lambda found: names[found[1]], text)


@pytest.mark.parametrize("name", TEXTS)
def test_a_paper_that_swaps_two_ends_is_seen(name):
    """The wires of two contacts change places in one paper, and in no other."""
    wires = printed.read("cut-list.csv", TEXTS["cut-list.csv"])
    (one,), (other,) = wires.contacts["X1:5"], wires.contacts["X2:2"]
    if name == "splices.csv":
        (one,), other = wires.contacts["A1:stop"], min(wires.contacts["A1:0V"])
    planted = {**TEXTS, name: renamed(TEXTS[name], **{one: other, other: one})}
    assert planted[name] != TEXTS[name]
    assert printed.disagreements(planted) != []


@pytest.mark.parametrize("name", TEXTS)
def test_a_paper_that_drops_a_wire_is_seen(name):
    """One wire is called something else in one paper: there it is missing, and another is too many."""
    wires = printed.read("cut-list.csv", TEXTS["cut-list.csv"])
    (wire,) = wires.contacts["X3:13"] if name != "splices.csv" else (min(wires.contacts["A1:0V"]),)
    planted = {**TEXTS, name: renamed(TEXTS[name], **{wire: "W999"})}
    assert planted[name] != TEXTS[name]
    assert printed.disagreements(planted) != []


def test_the_return_of_the_permanent_supply_is_connected_everywhere():
    """Contact 13 of the van is wired where the trailer has a battery; the chart once said that it is not."""
    told = printed.read("chart.csv", TEXTS["chart.csv"])
    assert told.contacts["X3:13"] == printed.read("cut-list.csv", TEXTS["cut-list.csv"]).contacts["X3:13"] != set()


@pytest.mark.parametrize("stem", ["lorry-two-trailers", "us-truck-two-trailers"])
def test_what_is_measured_and_simulated_is_what_is_wired(stem):
    """The test sheet has a row for every contact that is wired and no other; a netlist gives each wire its size."""
    made = design(next(path for path in WRITTEN if path.stem == stem))
    cut = printed.read("cut-list.csv", printed.papers(made)["cut-list.csv"])
    sheet = csv.DictReader(io.StringIO(form_csv(numbered(made.readings()), made.digest)))
    contacts = {row["part"].lstrip("'-") for row in sheet if row["side"] == "adapter"}
    assert contacts == {contact for contact in cut.contacts if contact.startswith("X")}
    texts, _ = netlists(made, state="all off")
    told = {}
    for comment in (line for text in texts.values() for line in re.sub(r"\n\* {2,}", " ", text).splitlines()):
        if one := re.match(r"\* -?(\w+)  conductor: .* ([\d.]+) m of (.*?), ", comment):
            told[one[1]] = (one[3].replace("mm2", "mm²"), pytest.approx(float(one[2]), rel=0.005))
    assert {wire: (facts["size"], facts["length_m"]) for wire, facts in cut.wires.items()}.items() <= told.items()
