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


def directed(graph: nx.MultiGraph) -> nx.MultiDiGraph:
    """Return a graph in which every edge is passed both ways, a diode and a converter from ``a`` to ``b`` only."""
    import networkx as nx

    one_way = nx.MultiDiGraph()
    one_way.add_nodes_from(graph)
    for a, b, key, element in graph.edges(keys=True, data="element"):
        if not isinstance(element, Diode | Converter) or a == element.a:
            one_way.add_edge(a, b, key=key)
        if not isinstance(element, Diode | Converter) or b == element.a:
            one_way.add_edge(b, a, key=key)
    return one_way


def between(graph: nx.MultiDiGraph, start: str, goal: str) -> frozenset[tuple[str, str, str]]:
    """Return the edges on walks from one terminal to another, with their keys: what the ways between them hang on."""
    import networkx as nx

    if start not in graph or goal not in graph:
        return frozenset()
    leading = (nx.ancestors(graph, goal) | {goal}) & (nx.descendants(graph, start) | {start})
    return frozenset((a, b, key) for a, b, key in graph.edges(leading, keys=True) if b in leading)


def ways(
    graph: nx.MultiGraph | frozenset[tuple[str, str, str]], start: str, goal: str, most: int = MOST_WAYS
) -> tuple[tuple[str, ...], ...]:
    """Return every way from one terminal to another that passes no terminal twice, as keys of edges, shortest first.

    Args:
        graph: The graph, or what ``directed`` makes of it, or the edges that ``between`` finds in that.
        start: First terminal.
        goal: Last terminal; from a terminal to itself there is one way, of no edges.
        most: Return no more ways than this.
    """
    import networkx as nx

    if start == goal:
        return ((),)
    if not isinstance(graph, frozenset):
        graph = between(graph if graph.is_directed() else directed(graph), start, goal)
    # Without what leads nowhere near the goal, the search is as long as its answer.
    leading = nx.MultiDiGraph()
    leading.add_edges_from((a, b, key, {}) for a, b, key in sorted(graph))
    if start not in leading or goal not in leading:
        return ()
    found = nx.all_simple_edge_paths(leading, start, goal)
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
