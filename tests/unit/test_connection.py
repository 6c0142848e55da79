"""Questions of connection, held against search by hand: every subset, every order, every break tried one by one."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterable
from itertools import combinations, pairwise, permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.circuits import GROUND, battery, circuit, converter, filament, resistor, switch
from tests.command import ROOT
from tests.random_rigs import random_rigs
from tests.rigs import load
from wiregen.circuit.build import build
from wiregen.model.circuit import Diode, Element, RelayContact, Switch, ends
from wiregen.model.connection import cut_off, joined, single, ways
from wiregen.model.merge import merged
from wiregen.solve.islands import Islands

NAMES = "abcde"


def diode(ref: str, a: str, b: str) -> Diode:
    return Diode(ref=ref, a=a, b=b, circuit="stop", zone="trailer", drop_v=0.7, resistance_ohm=0.01, leak_ohm=1e6)


@st.composite
def networks(draw: st.DrawFn) -> list[Element]:
    """Up to seven resistors and diodes between five terminals, side by side too."""
    pairs = draw(st.lists(st.tuples(st.sampled_from(NAMES), st.sampled_from(NAMES)), min_size=1, max_size=7))
    kinds = draw(st.lists(st.booleans(), min_size=len(pairs), max_size=len(pairs)))
    return [
        diode(f"-V{number}", a, b) if is_diode else resistor(f"-R{number}", a, b, 1.0)
        for number, ((a, b), is_diode) in enumerate(zip(pairs, kinds, strict=True))
    ]


def spread(edges: Iterable[tuple[str, str]], start: str) -> set[str]:
    """Terminals that edges join to one, found by going round until nothing is new."""
    found, before = {start}, set[str]()
    while found != before:
        before = set(found)
        for a, b in edges:
            if a in found or b in found:
                found |= {a, b}
    return found


def every_way(elements: list[Element], start: str, goal: str) -> set[tuple[str, ...]]:
    """Every way, found by trying every order of every choice of elements, and every direction that each allows."""
    if start == goal:
        return {()}
    found = set()
    for count in range(1, len(elements) + 1):
        for chosen in permutations(elements, count):
            directions = [((e.a, e.b),) if isinstance(e, Diode) else ((e.a, e.b), (e.b, e.a)) for e in chosen]
            for steps in product(*directions):
                met = [steps[0][0], *(b for _, b in steps)]
                hangs = all(one[1] == other[0] for one, other in pairwise(steps))
                if hangs and (met[0], met[-1]) == (start, goal) and len(set(met)) == len(met):
                    found.add(tuple(e.ref for e in chosen))
    return found


@settings(deadline=None)
@given(networks())
def test_joined_is_what_going_round_finds(elements):
    """Two terminals are in one group exactly when edges lead from one to the other; union-find says the same."""
    made = circuit(*elements)
    edges = [(e.a, e.b) for e in elements]
    groups = joined(made.graph())
    assert sorted(name for group in groups for name in group) == sorted(made.terminals)
    for group in groups:
        assert all(spread(edges, name) == group for name in group)
    row = {name: number for number, name in enumerate(made.terminals)}
    lowest = merged(len(row), [(row[a], row[b]) for a, b in edges])
    assert lowest == [min(row[other] for other in spread(edges, name)) for name in made.terminals]


@settings(deadline=None)
@given(networks().filter(lambda elements: len(elements) <= 5), st.sampled_from(NAMES), st.sampled_from(NAMES))
def test_ways_are_all_ways_there_are(elements, start, goal):
    """Every order of every choice of elements that leads from one terminal to the other is a way, and no other is."""
    found = ways(circuit(*elements).graph(), start, goal)
    assert len(found) == len(set(found))
    assert set(found) == every_way(elements, start, goal)


@settings(deadline=None)
@given(networks(), st.sampled_from(NAMES))
def test_a_break_cuts_off_what_no_other_edge_joins(elements, start):
    """Without the edge, or with everything on a terminal loose, what is no longer reached is cut off."""
    made = circuit(*elements)
    if start not in made.terminals:
        return
    edges = [(e.a, e.b) for e in elements]
    whole = spread(edges, start)
    for number, element in enumerate(elements):
        left = edges[:number] + edges[number + 1 :]
        assert cut_off(made.graph(), start, element.ref) == whole - spread(left, start)
    for terminal in made.terminals:
        left = [edge for edge in edges if terminal not in edge]
        assert cut_off(made.graph(), start, terminal) == whole - spread(left, start)


@settings(deadline=None)
@given(networks(), st.sampled_from(NAMES), st.sampled_from(NAMES))
def test_single_parts_are_those_whose_break_parts_the_two(elements, start, goal):
    """A part has no second beside it exactly when its break alone parts the two terminals."""
    edges = {e.ref: (e.a, e.b) for e in elements}
    found = single(circuit(*elements).graph(), start, goal)
    whole = goal in spread(edges.values(), start) and start in circuit(*elements).terminals
    broken = {
        ref for ref in edges if goal not in spread([edge for other, edge in edges.items() if other != ref], start)
    }
    assert found == (broken if whole else set())


def test_two_grounds_side_by_side():
    """A ring and a socket contact lead back: two ways, and only what both share is without a second."""
    made = circuit(
        battery(24, a="plus", b=GROUND),
        resistor("-W1", "lamp", "bar", 0.1),
        resistor("-W2", "bar", GROUND, 0.1),
        resistor("-W3", "bar", "-X1:B", 0.1),
        resistor("-W4", "-X1:B", GROUND, 0.1),
    )
    graph = made.graph({"-G1"})
    assert ways(graph, "lamp", GROUND) == (("-W1", "-W2"), ("-W1", "-W3", "-W4"))
    assert single(graph, "lamp", GROUND) == {"-W1"}
    assert cut_off(graph, GROUND, "-W2") == set()
    assert cut_off(graph, GROUND, "-W3") == set()
    assert cut_off(graph, GROUND, "bar") == {"bar", "lamp"}
    assert ways(graph, "lamp", "nowhere") == ()


def test_more_ways_than_asked_for_are_left_out():
    """Six pairs of wires in a row are 64 ways."""
    wires = [resistor(f"-W{n}{side}", f"t{n}", f"t{n + 1}", 1.0) for n in range(6) for side in "ab"]
    graph = circuit(*wires).graph()
    assert len(ways(graph, "t0", "t6")) == 64
    assert len(ways(graph, "t0", "t6", most=5)) == 5


def test_an_element_is_an_edge_under_its_ref():
    """Edges carry their elements; a converter is two, to its common minus; what is left out is left out."""
    made = circuit(
        battery(24), converter("-T1", "plus", "bus"), filament("-E1", "bus"), switch("-S1", "bus", "c", "brake")
    )
    graph = made.graph()
    assert {key: {a, b} for a, b, key in graph.edges(keys=True)} == {
        "-G1": {"plus", GROUND},
        "-T1/in": {"plus", GROUND},
        "-T1/out": {"bus", GROUND},
        "-E1": {"bus", GROUND},
        "-S1": {"bus", "c"},
    }
    assert all(made.by_ref[key.partition("/")[0]] is e for _, _, key, e in graph.edges(keys=True, data="element"))
    assert {key: {a, b} for a, b, key in made.graph({"-S1", "-T1/in"}).edges(keys=True)} == {
        "-G1": {"plus", GROUND},
        "-T1/out": {"bus", GROUND},
        "-E1": {"bus", GROUND},
    }
    assert set(graph) == {name for element in made.elements for name in ends(element)}


def test_a_break_leaves_the_circuit_as_it_is():
    """A question changes nothing: the graph that was asked still has every edge."""
    graph = circuit(resistor("-W1", "a", "b", 1.0), resistor("-W2", "b", "c", 1.0)).graph()
    assert cut_off(graph, "a", "-W1") == {"b", "c"}
    assert graph.number_of_edges() == 2


@settings(deadline=None)
@given(random_rigs())
def test_solver_and_graph_name_the_same_islands(text):
    """What the solver calls adrift is what the graph does not join to the reference, whatever is closed."""
    for one in build(load(text)).circuits:
        contacts = [*one.of(Switch), *one.of(RelayContact)]
        islands = Islands(one)
        inputs = {key for _, _, key in one.graph().edges(keys=True) if key.endswith("/in")}
        closings = [
            {e.ref for e in some} for count in (0, 1, 2, len(contacts)) for some in combinations(contacts, count)
        ]
        for closed in closings[:40]:
            opened = {e.ref for e in contacts} - closed
            pieces = joined(one.graph(opened | inputs))
            adrift = sorted(tuple(sorted(piece)) for piece in pieces if one.reference not in piece)
            assert islands.named([e.ref in closed for e in contacts]) == tuple(adrift)


@pytest.mark.parametrize("command", [("--help",), ("chart", "RIG"), ("check", "RIG")])
def test_commands_that_ask_no_such_question_load_no_networkx(command):
    """networkx costs a tenth of a second; the chart, the check and the help do without."""
    rig = ROOT / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"
    arguments = [str(rig) if word == "RIG" else word for word in command]
    code = (
        "import atexit, sys\n"
        "from wiregen.cli import main\n"
        f"sys.argv = ['wiregen', *{arguments!r}]\n"
        "atexit.register(lambda: sys.stderr.write(f\"networkx: {'networkx' in sys.modules}\"))\n"
        "main()\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stderr == "networkx: False"
