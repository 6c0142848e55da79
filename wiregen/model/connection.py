"""Questions of connection, asked of a circuit's graph: what is joined, every way between two points, what a break does.

The graph is that of ``Circuit.graph``, made for one setting of the contacts by leaving out what is open. networkx is
loaded when a question is asked; the check and the chart ask none.
"""

from __future__ import annotations

from itertools import islice, pairwise
from typing import TYPE_CHECKING, Final

from wiregen.model.circuit import Converter, Diode

if TYPE_CHECKING:
    import networkx as nx

#: Ways between two points that are followed; where more than this lie side by side nobody reads them.
MOST_WAYS: Final = 64


def joined(graph: nx.MultiGraph) -> tuple[frozenset[str], ...]:
    """Return the groups of terminals that the edges of a graph join, in the order of their first terminals."""
    import networkx as nx

    return tuple(frozenset(group) for group in nx.connected_components(graph))


def ways(graph: nx.MultiGraph, start: str, goal: str, most: int = MOST_WAYS) -> tuple[tuple[str, ...], ...]:
    """Return every way from one terminal to another that passes no terminal twice, as keys of edges, shortest first.

    A diode, and a converter put in as one edge from its input to its output, is passed forwards only.

    Args:
        graph: The graph.
        start: First terminal.
        goal: Last terminal; from a terminal to itself there is one way, of no edges.
        most: Return no more ways than this.
    """
    import networkx as nx

    if start == goal:
        return ((),)
    if start not in graph or goal not in graph:
        return ()
    one_way = nx.MultiDiGraph()
    for a, b, key, element in graph.edges(keys=True, data="element"):
        if a == b:
            continue
        if isinstance(element, Diode | Converter):
            a, b = (a, b) if a == element.a else (b, a)
        else:
            one_way.add_edge(b, a, key=key)
        one_way.add_edge(a, b, key=key)
    if start not in one_way or goal not in one_way:
        return ()
    # Without what leads nowhere near the goal, the search is as long as its answer.
    leading = nx.ancestors(one_way, goal) & nx.descendants(one_way, start) | {start, goal}
    found = nx.all_simple_edge_paths(one_way.subgraph(leading), start, goal)
    taken = [tuple(key for _, _, key in way) for way in islice(found, most)]
    return tuple(sorted(taken, key=lambda way: (len(way), way)))


def single(graph: nx.MultiGraph, start: str, goal: str) -> frozenset[str]:
    """Return the keys of the edges that every way between two joined terminals passes: the bridges between them."""
    import networkx as nx

    if start not in graph or goal not in graph or not nx.has_path(graph, start, goal):
        return frozenset()
    way = nx.shortest_path(graph, start, goal)
    pairs = {frozenset(pair) for pair in nx.bridges(graph)}
    steps = [(a, b) for a, b in pairwise(way) if frozenset((a, b)) in pairs]
    return frozenset(key for a, b in steps for key in graph[a][b])


def cut_off(graph: nx.MultiGraph, start: str, broken: str) -> frozenset[str]:
    """Return the terminals that a break parts from ``start``.

    Args:
        graph: The graph.
        start: Terminal that stays, such as a pole of the battery.
        broken: Key of the edge that is broken, or the terminal on which everything has come loose.
    """
    import networkx as nx

    whole = nx.node_connected_component(graph, start)
    left = graph.copy()
    left.remove_edges_from([(a, b, key) for a, b, key in graph.edges(keys=True) if broken in (key, a, b)])
    return frozenset(whole - nx.node_connected_component(left, start))
