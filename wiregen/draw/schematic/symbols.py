"""Graphic symbols as schemdraw elements, walked into scene primitives.

Whatever schemdraw has in the form of IEC 60617 is taken from it: battery, fuse, resistor, diode, lamp, contacts,
chassis. It has no relay coil without windings, no converter, no change-over contact that rests on one side, no circuit
breaker of the standard's form, no manual operator, and no connector contact that bears its mark: those are put
together here from its parts, or are elements of our own with a word why. The forms are those of IEC 60617 from memory:
the standard itself was not at hand.

A symbol lies around its middle, in millimetres, y upwards; ``place`` puts it on the sheet. Neither the library's layout
nor its writer is used: the first knows no columns, the second gives nothing an id.

Importing this module loads schemdraw; ``schematic`` does so only when a schematic is asked for.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import schemdraw
import schemdraw.elements as elm
from schemdraw.segments import Segment, SegmentArc, SegmentCircle, SegmentPoly
from schemdraw.transform import Transform
from schemdraw.util import Point as Vector

from wiregen.draw.scene import Arc, Circle, Item, Line, Pen, Point

# An element that is asked for its box measures its labels, and how depends on what else is installed; so it
# is set.
schemdraw.use("svg")
schemdraw.svgconfig.text = "text"

#: Line width of symbols, mm.
SYMBOL_MM: Final = 0.35
#: Width and height of what a wire must not run through, mm.
FUSE_MM: Final = (6.0, 2.4)
BREAKER_MM: Final = (6.0, 2.6)
SWITCH_MM: Final = (7.0, 3.9)
COIL_MM: Final = (8.0, 4.8)
MAKE_MM: Final = (8.0, 3.0)
LAMP_MM: Final = (4.8, 4.8)
LOAD_MM: Final = (7.0, 2.8)
RESISTOR_MM: Final = (6.0, 2.0)
FLAT_BATTERY_MM: Final = (3.6, 4.8)
DIODE_MM: Final = (3.6, 3.6)
ELECTRONIC_MM: Final = (11.0, 5.6)
CONVERTER_MM: Final = (12.0, 9.0)
BATTERY_MM: Final = (7.0, 4.0)
CHASSIS_MM: Final = (4.6, 1.7)
#: How far a suppressor hangs under its coil, mm.
SUPPRESSOR_MM: Final = 2.4
#: From the pivot of a contact in a network to where its other side starts, mm; half the way between 87 and 87a.
GAP_MM: Final = 3.3
SPREAD_MM: Final = 2.0
#: How far above the wire the link of a relay meets the blade, mm.
LINK_MM: Final = 2.0


@dataclass(frozen=True, slots=True)
class _Part:
    """One element of the library, or of ours, in a symbol.

    Attributes:
        element: The element.
        at: Where its zero lies, mm from the middle of the symbol, y upwards.
        zoom: Millimetres per unit of the element, across and up.
        turn_deg: By how much it is turned, against the clock.
    """

    element: elm.Element
    at: Point = (0.0, 0.0)
    zoom: Point = (1.0, 1.0)
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Symbol:
    """A symbol around its middle.

    Attributes:
        parts: What it is made of, the hindmost first.
        link: Where the link of a relay meets it, mm from its middle, y upwards.
    """

    parts: tuple[_Part, ...]
    link: Point = (0.0, 0.0)


# --- what the library has ---


def fuse() -> Symbol:
    """Return a fuse: a rectangle with the conductor through it; what the library calls IEC has bars across instead."""
    return _in_line(elm.FuseIEEE(), *FUSE_MM, of=(1.0, 0.5))  # type: ignore[no-untyped-call]


def resistor() -> Symbol:
    """Return a resistor: a rectangle in the line."""
    return _in_line(elm.ResistorIEC(), *RESISTOR_MM, of=(1.0, 0.5))  # type: ignore[no-untyped-call]


def load() -> Symbol:
    """Return a plain load (brake magnet, solenoid): a rectangle in the line."""
    return _in_line(elm.ResistorIEC(), *LOAD_MM, of=(1.0, 0.5))  # type: ignore[no-untyped-call]


def diode() -> Symbol:
    """Return a diode: a triangle that points the way the current may go, against a bar."""
    return _in_line(elm.Diode(), *DIODE_MM, of=_DIODE)  # type: ignore[no-untyped-call]


def lamp() -> Symbol:
    """Return a lamp: a circle with a cross in it; the library's other lamp is a filament."""
    return _in_line(elm.Lamp2(), LAMP_MM[0])  # type: ignore[no-untyped-call]


def flat_battery() -> Symbol:
    """Return a battery of two cells in a row, plus (the long plate) on the left."""
    return _in_line(elm.Battery(), *FLAT_BATTERY_MM, of=_BATTERY)  # type: ignore[no-untyped-call]


def battery_plates() -> Symbol:
    """Return a battery of two cells, plus up."""
    width, height = BATTERY_MM
    zoom = (height / _BATTERY[0], width / _BATTERY[1])
    return Symbol((_Part(elm.Battery(), (0.0, height / 2), zoom, turn_deg=-90.0),))  # type: ignore[no-untyped-call]


def chassis() -> Symbol:
    """Return the chassis sign without its lead; it hangs from its middle."""
    return Symbol((_Part(elm.GroundChassis(lead=False), zoom=(6.5, 6.5)),))  # type: ignore[no-untyped-call]


def make_contact() -> Symbol:
    """Return the make contact of a relay, at rest: open."""
    gap, up = 4.8, 2.9
    link = (-gap / 2 + LINK_MM / up * _TIP[0] * gap, LINK_MM)
    return Symbol(_contact(MAKE_MM[0], gap, up), link=link)


def switch() -> Symbol:
    """Return a switch that a hand or foot works: a make contact, and the operator, which the library has not."""
    gap, up, top = 5.0, 2.8, SWITCH_MM[1] - 0.2
    x, y = (_TIP[0] - 1) / 2 * gap, up / 2
    operator = _Lines([(x, y), (x, y + 0.8)], [(x, top - 0.7), (x, top)], [(x - 1.0, top), (x + 1.0, top)])
    return Symbol((*_contact(SWITCH_MM[0], gap, up), _Part(operator)))


def blade(kind: str, *, rests_up: bool = False, mirrored: bool = False) -> Symbol:
    """Return the moving part of one contact of a network, at rest; its middle is its pivot.

    Args:
        kind: ``make``, ``break``, or ``change-over``.
        rests_up: Change-over: whether 87a, where it rests, lies above 87.
        mirrored: Whether the pivot is on the right.
    """
    if kind != "change-over":
        return Symbol(
            (_Part(elm.Switch(contacts=False, nc=kind == "break"), zoom=(GAP_MM, 3.6 if kind == "break" else 4.8)),)
        )
    # The library's change-over contact stands between its sides; this one lies across the foot of the side it rests on.
    side, up = -1 if mirrored else 1, 1 if rests_up else -1
    lies = [(0.0, 0.0), (1.1 * GAP_MM * side, 1.65 * up)]
    foot = [(GAP_MM * side, SPREAD_MM * up), (GAP_MM * side, 1.1 * up)]
    return Symbol((_Part(_Lines(lies, foot)),))


def breaker() -> Symbol:
    """Return a circuit breaker: a contact with a cross where it opens; the library's is the arc of another standard."""
    gap, reach = 4.4, 0.8
    cross = _Lines([(-reach, -reach), (reach, reach)], [(-reach, reach), (reach, -reach)])
    return Symbol((*_contact(BREAKER_MM[0], gap, 2.5), _Part(cross, (gap / 2, 0.0))))


def off_sheet() -> Symbol:
    """Return the arrow at a net that goes on to another sheet."""
    return Symbol((_Part(elm.Tag(width=3.2, height=2.2), (1.6, 0.0), turn_deg=180.0),))


# --- what is put together from its parts ---


def coil() -> Symbol:
    """Return a relay coil: a rectangle, its terminals on its short sides here; the library's relay shows windings."""
    return Symbol((_box(*COIL_MM),))


def control_input() -> Symbol:
    """Return the control input of an electronic switch: the coil's rectangle with a diode in it."""
    return Symbol((_box(*COIL_MM), _small_diode((COIL_MM[0] / 2 - 1.5, -1.0), 1.4, turn_deg=90.0)))


def electronic_switch() -> Symbol:
    """Return an electronic switch: a make contact in a box, with the sign of a semiconductor."""
    width, height = ELECTRONIC_MM
    sign = _small_diode((width / 2 - 2.2, 2.2), 1.2)
    parts = (_box(width, height, (0.0, height / 2 - 1.6)), *_contact(width, 4.4, 2.2), sign)
    return Symbol(parts, link=(-width / 2, LINK_MM))


def converter() -> Symbol:
    """Return a converter: a box with a diagonal from the output to the input corner."""
    width, height = CONVERTER_MM
    diagonal = _Lines([(-width / 2, -height / 2), (width / 2, height / 2)])
    return Symbol((_box(width, height), _Part(diagonal)))


def suppressor(*, diode: bool) -> Symbol:
    """Return what lies across a coil against its switching spike; its middle is that of the coil.

    Args:
        diode: A diode, its cathode on the left, where the plus is; else a resistor.
    """
    left, foot = COIL_MM[0] / 2 - 0.8, COIL_MM[1] / 2
    level, half = -foot - SUPPRESSOR_MM + 0.7, 0.9
    legs = _Lines([(-left, -foot), (-left, level), (-half, level)], [(half, level), (left, level), (left, -foot)])
    if diode:
        return Symbol((_Part(legs), _small_diode((half, level), 2 * half, turn_deg=180.0)))
    body = elm.ResistorIEC()  # type: ignore[no-untyped-call]
    return Symbol((_Part(legs), _Part(body, (-1.5, level), (3.0, 2.0))))


def pin_contact(half_width: float, radius: float) -> Symbol:
    """Return a mated connector contact: the circle that holds its mark, a lozenge when the mark is long.

    The library's plug and jack are arrow-heads that hold no mark; the mark is what a builder looks for.

    Args:
        half_width: Half the width of the lozenge, mm; the radius for a circle.
        radius: Radius of its ends, mm.
    """
    body = _Lines()
    if half_width <= radius:
        body.segments.append(SegmentCircle((0, 0), radius, fill="white"))
        return Symbol((_Part(body),))
    flat = half_width - radius
    body.segments += [
        Segment([(-flat, radius), (flat, radius)]),
        Segment([(-flat, -radius), (flat, -radius)]),
        SegmentArc((flat, 0), 2 * radius, 2 * radius, theta1=-90, theta2=90),
        SegmentArc((-flat, 0), 2 * radius, 2 * radius, theta1=90, theta2=270),
    ]
    return Symbol((_Part(body),))


# --- parts ---

#: Width and height of the library's diode and battery, and the tip of its open contact from the pivot, in its units.
_DIODE: Final = (0.35, 0.5)
_BATTERY: Final = (0.5625, 0.75)
_TIP: Final = (0.85, 0.45)


class _Lines(elm.Element):
    """Lines that the library has no element for, in millimetres around the middle of the symbol."""

    def __init__(self, *paths: Sequence[Point]) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self.segments += [Segment(path) for path in paths]


def _in_line(element: elm.Element, width: float, height: float | None = None, *, of: Point = (1.0, 1.0)) -> Symbol:
    """Return an element that starts at its left end, around its middle.

    Args:
        element: The element.
        width: Wanted width, mm.
        height: Wanted height, mm; in proportion when left out.
        of: Width and height of the element, in its units.
    """
    across = width / of[0]
    return Symbol((_Part(element, (-width / 2, 0.0), (across, height / of[1] if height else across)),))


def _contact(width: float, gap: float, up: float) -> tuple[_Part, ...]:
    """Return an open contact with its leads: ``gap`` between its sides, its blade ``up`` high, mm."""
    half, edge = width / 2, gap / 2
    leads = _Lines([(-half, 0.0), (-edge, 0.0)], [(edge, 0.0), (half, 0.0)])
    return _Part(elm.Switch(contacts=False), (-edge, 0.0), (gap, up / _TIP[1])), _Part(leads)


def _box(width: float, height: float, middle: Point = (0.0, 0.0)) -> _Part:
    return _Part(elm.Rect((-width / 2, -height / 2), (width / 2, height / 2)), middle)


def _small_diode(at: Point, width: float, *, turn_deg: float = 0.0) -> _Part:
    """Return a diode from its anode at ``at``, as high as it is wide."""
    zoom = (width / _DIODE[0], width / _DIODE[1])
    return _Part(elm.Diode(), at, zoom, turn_deg)  # type: ignore[no-untyped-call]


# --- onto the sheet ---


#: Fill of closed shapes where an element names none: it hides the ends of the wires.
_FILL: Final = "white"


def place(symbol: Symbol, x: float, y: float) -> tuple[Item, ...]:
    """Return the primitives of a symbol with its middle at ``x``, ``y``, mm, y downwards."""
    found: list[Item] = []
    for part in symbol.parts:
        shift = (x + part.at[0], part.at[1] - y)
        transform = Transform(part.turn_deg, shift, zoom=Vector(part.zoom))
        found += (item for segment in part.element.segments for item in _walk(segment, transform))
    return tuple(found)


def _walk(segment: object, transform: Transform) -> Iterator[Item]:
    zoom = transform.zoom[0]
    match segment:
        case Segment():
            pen = _pen(segment.lw, "none")
            for run in _runs(transform.transform_array(segment.path)):
                # A dead end of one point is how the library marks where a lead would start.
                if len(run) > 1:
                    closed = len(run) > 3 and run[0] == run[-1]
                    body = _pen(segment.lw, _FILL) if closed else pen
                    yield Line(tuple(run[:-1] if closed else run), body, closed)
        case SegmentPoly():
            corners = next(_runs(transform.transform_array(segment.verts)))
            yield Line(tuple(corners), _pen(segment.lw, segment.fill or _FILL), segment.closed)
        case SegmentCircle():
            x, y = transform.transform(segment.center)
            fill = {"bg": "white", None: _FILL, True: "black"}.get(segment.fill, segment.fill)
            yield Circle(x, -y, segment.radius * zoom, _pen(segment.lw, str(fill)))
        case SegmentArc():
            x, y = transform.transform(segment.center)
            # Angles turn the other way round once y points down.
            yield Arc(
                x,
                -y,
                segment.width / 2 * zoom,
                -segment.theta2,
                -segment.theta1,
                _pen(segment.lw, "none"),
            )
        case _:
            message = f"a symbol holds a {type(segment).__name__}, which is not drawn"
            raise TypeError(message)


def _pen(width_mm: float | None, fill: str) -> Pen:
    return Pen(width_mm=width_mm or SYMBOL_MM, fill=fill)


def _runs(points: Sequence[tuple[float, float]]) -> Iterator[list[Point]]:
    """Split a path at the library's gaps (not-a-number points) and turn y downwards."""
    run: list[Point] = []
    for x, y in points:
        if math.isnan(x):
            if run:
                yield run
            run = []
        else:
            run.append((x, -y))
    if run:
        yield run
