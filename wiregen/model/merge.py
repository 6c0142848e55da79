"""Groups of what is joined: a union-find for the paths where seconds count.

The solver and the behaviour table ask thousands of times which terminals a setting of the contacts joins, and only
that; ``wiregen.model.connection`` answers every other question of connection with networkx, which costs a tenth of a
second to import.
"""

from __future__ import annotations

from collections.abc import Iterable


def merged(count: int, pairs: Iterable[tuple[int, int]]) -> list[int]:
    """Return for each of the members 0 to ``count`` - 1 the lowest member it is joined to by ``pairs``."""
    parent = list(range(count))

    def root(member: int) -> int:
        while parent[member] != member:
            parent[member] = member = parent[parent[member]]
        return member

    for a, b in pairs:
        first, second = root(a), root(b)
        parent[max(first, second)] = min(first, second)
    return [root(member) for member in range(count)]
