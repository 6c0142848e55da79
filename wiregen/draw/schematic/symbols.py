"""Graphic symbols as schemdraw elements, walked into scene primitives.

Every symbol is an element class of schemdraw: the library's own where its shape is the one of IEC 60617
(fuse, switch, chassis), a class of ours where it is not (relay coil, make contact, crossed-circle lamp,
connector contact, converter, battery, electronic switch). Ours are drawn in millimetres, y upwards, around
their own middle. The shapes are those of IEC 60617 from memory: the standard itself was not at hand.
Neither the library's layout nor its writer is used: the first knows no columns, the second gives nothing an
id.

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

from wiregen.draw.scene import Arc, Circle, Item, Line, Pen, Point

# An element that is asked for its box measures its labels, and how depends on what else is installed; so it
# is set.
schemdraw.use("svg")
schemdraw.svgconfig.text = "text"

#: Line width of symbols, mm.
SYMBOL_MM: Final = 0.35
#: Width and height of what a wire must not run through, mm.
FUSE_MM: Final = (6.0, 2.4)
SWITCH_MM: Final = (7.0, 3.2)
COIL_MM: Final = (8.0, 4.8)
MAKE_MM: Final = (8.0, 3.0)
LAMP_MM: Final = (4.8, 4.8)
LOAD_MM: Final = (7.0, 2.8)
RESISTOR_MM: Final = (6.0, 2.0)
FLAT_BATTERY_MM: Final = (3.6, 4.8)
#: How far a suppressor hangs under its coil, mm.
SUPPRESSOR_MM: Final = 2.4
DIODE_MM: Final = (3.6, 3.6)
ELECTRONIC_MM: Final = (11.0, 5.6)
CONVERTER_MM: Final = (12.0, 9.0)
BATTERY_MM: Final = (7.0, 4.0)
CHASSIS_MM: Final = (4.6, 1.7)
CHASSIS_ZOOM: Final = 6.5
#: From the pivot of a contact in a network to where its other side starts, mm; half the way between 87 and 87a.
GAP_MM: Final = 3.3
SPREAD_MM: Final = 2.0
#: How far above the wire the link of a relay meets the blade, mm.
LINK_MM: Final = 2.0


@dataclass(frozen=True, slots=True)
class _Look:
    """Line width and fill of what a symbol is made of."""

    width_mm: float = SYMBOL_MM
    fill: str = "none"


class _Symbol(elm.Element):
    """Base of our own elements, so that the library's missing annotations are met in one place."""

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]


class Coil(_Symbol):  # type: ignore[no-untyped-call]
    """Relay coil, IEC 60617: a rectangle; the terminals are on its short sides here."""

    def __init__(self) -> None:
        super().__init__()
        self.segments.append(_box(*COIL_MM))


class ControlInput(_Symbol):  # type: ignore[no-untyped-call]
    """Control input of an electronic switch: the coil's rectangle with a diode in it."""

    def __init__(self) -> None:
        super().__init__()
        half = COIL_MM[0] / 2
        self.segments.append(_box(*COIL_MM))
        self.segments.append(Segment([(half - 2.2, -1.0), (half - 0.8, -1.0), (half - 1.5, 0.4), (half - 2.2, -1.0)]))
        self.segments.append(Segment([(half - 2.2, 0.4), (half - 0.8, 0.4)]))


class MakeContact(_Symbol):  # type: ignore[no-untyped-call]
    """Make contact of a relay, IEC 60617, at rest: open."""

    def __init__(self) -> None:
        super().__init__()
        half = MAKE_MM[0] / 2
        self.segments += [
            Segment([(-half, 0), (-half + 1.6, 0), (half - 2.2, 2.9)]),
            Segment([(half - 1.6, 0), (half, 0)]),
        ]
        self.anchors["link"] = (-half + 1.6 + LINK_MM / 2.9 * (2 * half - 3.8), LINK_MM)


class Blade(_Symbol):  # type: ignore[no-untyped-call]
    """The moving part of one contact of a network, IEC 60617, at rest; zero is its pivot.

    Args:
        kind: ``make``, ``break``, or ``change-over``.
        rests_up: Change-over: whether 87a, where it rests, lies above 87.
        mirrored: Whether the pivot is on the right.
    """

    def __init__(self, kind: str, *, rests_up: bool = False, mirrored: bool = False) -> None:
        super().__init__()
        side = -1 if mirrored else 1
        if kind == "make":
            self.segments.append(Segment([(0, 0), (0.9 * GAP_MM * side, 2.2)]))
            return
        # The blade lies across the foot of the side it rests on.
        level, foot, tip = (0.0, 1.9, 1.6) if kind == "break" else (SPREAD_MM, 1.1, 1.5)
        up = 1 if kind == "break" or rests_up else -1
        self.segments += [
            Segment([(0, 0), (1.1 * GAP_MM * side, 1.1 * tip * up)]),
            Segment([(GAP_MM * side, level * up), (GAP_MM * side, foot * up)]),
        ]


class ElectronicSwitch(_Symbol):  # type: ignore[no-untyped-call]
    """Electronic switch: a make contact in a box, with the sign of a semiconductor."""

    def __init__(self) -> None:
        super().__init__()
        width, height = ELECTRONIC_MM
        half = width / 2
        self.segments += [
            SegmentPoly([(-half, -1.6), (half, -1.6), (half, height - 1.6), (-half, height - 1.6)]),
            Segment([(-half, 0), (-2.4, 0), (1.2, 2.2)]),
            Segment([(2.0, 0), (half, 0)]),
            Segment([(half - 2.2, 1.5), (half - 1.0, 2.2), (half - 2.2, 2.9), (half - 2.2, 1.5)]),
            Segment([(half - 1.0, 1.5), (half - 1.0, 2.9)]),
        ]
        self.anchors["link"] = (-half, LINK_MM)


class Lamp(_Symbol):  # type: ignore[no-untyped-call]
    """Lamp, IEC 60617: a circle with a cross in it."""

    def __init__(self) -> None:
        super().__init__()
        radius = LAMP_MM[0] / 2
        reach = radius / math.sqrt(2)
        self.segments += [
            SegmentCircle((0, 0), radius),
            Segment([(-reach, -reach), (reach, reach)]),
            Segment([(-reach, reach), (reach, -reach)]),
        ]


class Load(_Symbol):  # type: ignore[no-untyped-call]
    """A plain load (brake magnet, solenoid), IEC 60617: a rectangle in the line."""

    def __init__(self) -> None:
        super().__init__()
        self.segments.append(_box(*LOAD_MM))


class Diode(_Symbol):  # type: ignore[no-untyped-call]
    """Diode, IEC 60617: a triangle that points the way the current may go, against a bar."""

    def __init__(self) -> None:
        super().__init__()
        half, reach = DIODE_MM[0] / 2, DIODE_MM[1] / 2
        self.segments += [
            Segment([(-half, 0), (half, 0)]),
            SegmentPoly([(-half, -reach), (half, 0), (-half, reach)]),
            Segment([(half, -reach), (half, reach)]),
        ]


class Resistor(_Symbol):  # type: ignore[no-untyped-call]
    """Resistor, IEC 60617: a rectangle in the line."""

    def __init__(self) -> None:
        super().__init__()
        self.segments.append(_box(*RESISTOR_MM))


class Suppressor(_Symbol):  # type: ignore[no-untyped-call]
    """What lies across a coil against its switching spike; zero is the middle of the coil.

    Args:
        diode: A diode, its cathode on the left, where the plus is; else a resistor.
    """

    def __init__(self, *, diode: bool) -> None:
        super().__init__()
        left, foot = COIL_MM[0] / 2 - 0.8, COIL_MM[1] / 2
        level, half = -foot - SUPPRESSOR_MM + 0.7, 0.9
        self.segments += [
            Segment([(-left, -foot), (-left, level), (-half, level)]),
            Segment([(half, level), (left, level), (left, -foot)]),
        ]
        if diode:
            self.segments += [
                SegmentPoly([(half, level + 0.7), (-half, level), (half, level - 0.7)]),
                Segment([(-half, level + 0.7), (-half, level - 0.7)]),
            ]
        else:
            end, edge = half + 0.6, (level - 0.5, level + 0.5)
            self.segments.append(SegmentPoly([(-end, edge[0]), (end, edge[0]), (end, edge[1]), (-end, edge[1])]))


class FlatBattery(_Symbol):  # type: ignore[no-untyped-call]
    """Battery in a row, plus on the left."""

    def __init__(self) -> None:
        super().__init__()
        width, height = FLAT_BATTERY_MM
        for index in range(4):
            x = -width / 2 + index * width / 3
            half = height / 2 if index % 2 == 0 else height / 4
            self.segments.append(Segment([(x, -half), (x, half)], lw=SYMBOL_MM if index % 2 == 0 else 2.4 * SYMBOL_MM))


class Converter(_Symbol):  # type: ignore[no-untyped-call]
    """Converter, IEC 60617: a box with a diagonal from the output to the input corner."""

    def __init__(self) -> None:
        super().__init__()
        width, height = CONVERTER_MM
        self.segments.append(_box(width, height))
        self.segments.append(Segment([(-width / 2, -height / 2), (width / 2, height / 2)]))


class BatteryPlates(_Symbol):  # type: ignore[no-untyped-call]
    """Battery, IEC 60617: two cells, plus up; its middle is the middle of the plates."""

    def __init__(self) -> None:
        super().__init__()
        wide, narrow = BATTERY_MM[0] / 2, BATTERY_MM[0] / 4
        top = BATTERY_MM[1] / 2
        for index in range(4):
            half = wide if index % 2 == 0 else narrow
            y = top - index * BATTERY_MM[1] / 3
            self.segments.append(Segment([(-half, y), (half, y)], lw=SYMBOL_MM if index % 2 == 0 else 2.4 * SYMBOL_MM))


class PinContact(_Symbol):  # type: ignore[no-untyped-call]
    """A mated connector contact: the circle that holds its mark, a lozenge when the mark is long.

    Args:
        half_width: Half the width of the lozenge, mm; the radius for a circle.
        radius: Radius of its ends, mm.
    """

    def __init__(self, half_width: float, radius: float) -> None:
        super().__init__()
        if half_width <= radius:
            self.segments.append(SegmentCircle((0, 0), radius, fill="white"))
            return
        flat = half_width - radius
        self.segments += [
            Segment([(-flat, radius), (flat, radius)]),
            Segment([(-flat, -radius), (flat, -radius)]),
            SegmentArc((flat, 0), 2 * radius, 2 * radius, theta1=-90, theta2=90),
            SegmentArc((-flat, 0), 2 * radius, 2 * radius, theta1=90, theta2=270),
        ]


class OffSheet(_Symbol):  # type: ignore[no-untyped-call]
    """The arrow at a net that goes on to another sheet."""

    def __init__(self) -> None:
        super().__init__()
        self.segments.append(SegmentPoly([(-1.6, 1.1), (0.4, 1.1), (1.6, 0), (0.4, -1.1), (-1.6, -1.1)]))


def fuse() -> elm.Element:
    """Return a fuse: a rectangle with the conductor through it, zero at its left end."""
    return elm.FuseIEEE()  # type: ignore[no-untyped-call]


def switch() -> elm.Element:
    """Return the library's open switch: zero at its left end, one unit long."""
    return elm.Switch()


def chassis() -> elm.Element:
    """Return the library's chassis sign, without its lead; it hangs from zero."""
    return elm.GroundChassis(lead=False)  # type: ignore[no-untyped-call]


def place(
    element: elm.Element,
    x: float,
    y: float,
    *,
    zoom: float = 1.0,
    width_mm: float = SYMBOL_MM,
    fill: str = "white",
) -> tuple[Item, ...]:
    """Return the primitives of ``element`` with its zero at ``x``, ``y``.

    Args:
        element: Any schemdraw element made of lines, polygons, circles and arcs.
        x: Position, mm.
        y: Position, mm, downwards.
        zoom: Millimetres per unit of the element.
        width_mm: Line width where the element names none, mm.
        fill: Fill of closed shapes where the element names none; white hides the ends of the wires.
    """
    transform = Transform(0, (x, -y), zoom=zoom)
    look = _Look(width_mm, fill)
    return tuple(item for segment in element.segments for item in _walk(segment, transform, look))


def anchor(element: elm.Element, name: str, x: float, y: float) -> Point:
    """Return where an anchor of a placed element lies, mm, y downwards."""
    dx, dy = element.anchors[name]
    return x + dx, y - dy


def _box(width: float, height: float) -> SegmentPoly:
    x, y = width / 2, height / 2
    return SegmentPoly([(-x, -y), (x, -y), (x, y), (-x, y)])


def _walk(segment: object, transform: Transform, look: _Look) -> Iterator[Item]:
    zoom = transform.zoom[0]
    match segment:
        case Segment():
            pen = _pen(segment.lw, "none", look)
            for run in _runs(transform.transform_array(segment.path)):
                # A dead end of one point is how the library marks where a lead would start.
                if len(run) > 1:
                    closed = len(run) > 3 and run[0] == run[-1]
                    body = _pen(segment.lw, look.fill, look) if closed else pen
                    yield Line(tuple(run[:-1] if closed else run), body, closed)
        case SegmentPoly():
            corners = next(_runs(transform.transform_array(segment.verts)))
            yield Line(tuple(corners), _pen(segment.lw, segment.fill or look.fill, look), segment.closed)
        case SegmentCircle():
            x, y = transform.transform(segment.center)
            fill = {"bg": "white", None: look.fill, True: "black"}.get(segment.fill, segment.fill)
            yield Circle(x, -y, segment.radius * zoom, _pen(segment.lw, str(fill), look))
        case SegmentArc():
            x, y = transform.transform(segment.center)
            # Angles turn the other way round once y points down.
            yield Arc(
                x,
                -y,
                segment.width / 2 * zoom,
                -segment.theta2,
                -segment.theta1,
                _pen(segment.lw, "none", look),
            )
        case _:
            message = f"a symbol holds a {type(segment).__name__}, which is not drawn"
            raise TypeError(message)


def _pen(width_mm: float | None, fill: str, look: _Look) -> Pen:
    return Pen(width_mm=width_mm or look.width_mm, fill=fill)


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
