"""How conductors look: a line in the colour of the insulation with a black edge, so that white shows too.

The colour only helps: every conductor is labelled with its reference, the letters of its colour and its
size.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from wiregen.catalogue.connector import split_colour
from wiregen.draw.scene import DASHED, Cap, Item, Line, Pen, Point

#: Screen colours of the IEC 60757 letters, chosen to be told apart; the standard gives none.
PAINT: Final = {
    "BK": "#000000",
    "BN": "#8b5a2b",
    "RD": "#d3121a",
    "OG": "#f18a00",
    "YE": "#f4d000",
    "GN": "#1d9a3c",
    "BU": "#2460c8",
    "VT": "#7a3fb3",
    "GY": "#8f959c",
    "WH": "#ffffff",
    "PK": "#f39ab6",
    "TQ": "#33bfc0",
}
EDGE_MM: Final = 0.8
CORE_MM: Final = 0.5
PLAIN_MM: Final = 0.35
_STRIPE: Final = (1.2, 1.2)


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
    if base != "BK":
        lines.append(Line(path, Pen(width_mm=CORE_MM, colour=PAINT[base], cap=cap), css_class="core"))
    if stripe:
        paint = PAINT[stripe[0]]
        lines.append(Line(path, Pen(width_mm=CORE_MM, colour=paint, dash=_STRIPE), css_class="core"))
    return tuple(lines)


def joint(points: Sequence[Point]) -> tuple[Item, ...]:
    """Return a joint inside a device or between terminals: a thin black line."""
    return (Line(tuple(points), Pen(width_mm=PLAIN_MM), css_class="wire"),)


def link(points: Sequence[Point]) -> tuple[Item, ...]:
    """Return the dashed line between a coil and what it works: no wire."""
    return (Line(tuple(points), Pen(width_mm=0.25, dash=(0.9, 0.6)), css_class="link"),)


def unintended(points: Sequence[Point]) -> tuple[Item, ...]:
    """Return a path that nobody laid, such as the one through the hitch: long dashes."""
    return (Line(tuple(points), Pen(width_mm=PLAIN_MM, dash=DASHED), css_class="wire"),)
