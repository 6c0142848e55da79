"""How conductors look: a line in the colour of the insulation with a black edge, so that white shows too.

The colour only helps: every conductor is labelled with its reference, the letters of its colour and its
size.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from wiregen.catalogue.connector import split_colour
from wiregen.draw.scene import DASHED, Cap, Item, Line, Pen, Point
from wiregen.paper.colours import SWATCHES

EDGE_MM: Final = 0.8
CORE_MM: Final = 0.5
PLAIN_MM: Final = 0.35
_STRIPE: Final = (1.2, 1.2)
_HAIR_MM: Final = 0.08


def conductor(points: Sequence[Point], colour: str, *, round_ends: bool = False) -> tuple[Item, ...]:
    """Return a conductor along ``points``, lowest layer first.

    Args:
        points: Its corners.
        colour: An IEC 60757 code, or empty where the rig leaves the colour free.
        round_ends: Whether its ends meet others at a corner.
    """
    path = tuple(points)
    cap: Cap = "round" if round_ends else "butt"
    if not colour:
        return (Line(path, Pen(width_mm=CORE_MM, cap=cap), css_class="wire"),)
    base, *stripe = split_colour(colour)
    lines: list[Item] = [Line(path, Pen(width_mm=EDGE_MM, cap=cap), css_class="wire")]
    inner = path if round_ends else _longer(path)
    if base != "BK":
        lines.append(Line(inner, Pen(width_mm=CORE_MM, colour=SWATCHES[base], cap=cap), css_class="core"))
    if stripe:
        paint = SWATCHES[stripe[0]]
        lines.append(Line(inner, Pen(width_mm=CORE_MM, colour=paint, dash=_STRIPE), css_class="core"))
    return tuple(lines)


def _longer(path: tuple[Point, ...]) -> tuple[Point, ...]:
    """Return a level path a hair longer at both ends, so that no dark seam shows where two pieces of a wire meet."""
    (x0, y0), *middle, (x1, y1) = path
    hair = _HAIR_MM if x1 > x0 else -_HAIR_MM
    return ((x0 - hair, y0), *middle, (x1 + hair, y1))


def joint(points: Sequence[Point]) -> tuple[Item, ...]:
    """Return a joint inside a device or between terminals: a thin black line."""
    return (Line(tuple(points), Pen(width_mm=PLAIN_MM, cap="round"), css_class="wire"),)


def link(points: Sequence[Point]) -> tuple[Item, ...]:
    """Return the dashed line between a coil and what it works: no wire."""
    return (Line(tuple(points), Pen(width_mm=0.25, dash=(0.9, 0.6)), css_class="link"),)


def unintended(points: Sequence[Point]) -> tuple[Item, ...]:
    """Return a path that nobody laid, such as the one through the hitch: long dashes."""
    return (Line(tuple(points), Pen(width_mm=PLAIN_MM, dash=DASHED), css_class="wire"),)


def merged(lines: Iterable[tuple[Point, Point]]) -> list[tuple[Point, Point]]:
    """Return the lines of a net with those that continue one another joined; all are level or upright."""
    level: dict[float, list[tuple[float, float]]] = {}
    upright: dict[float, list[tuple[float, float]]] = {}
    for (x0, y0), (x1, y1) in lines:
        if abs(y0 - y1) <= abs(x0 - x1):
            level.setdefault(round(y0, 3), []).append((min(x0, x1), max(x0, x1)))
        else:
            upright.setdefault(round(x0, 3), []).append((min(y0, y1), max(y0, y1)))
    runs = [((a, y), (b, y)) for y in sorted(level) for a, b in _joined(level[y])]
    return runs + [((x, a), (x, b)) for x in sorted(upright) for a, b in _joined(upright[x])]


def _joined(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    joined: list[tuple[float, float]] = []
    for start, end in sorted(spans):
        if end - start < 1e-6:
            continue
        if joined and start <= joined[-1][1] + 1e-3:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return joined
