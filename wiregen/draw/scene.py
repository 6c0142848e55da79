"""Scenes: frozen drawing primitives in millimetres, y downwards, that writers turn into a file.

A drawing module only makes these; it never writes markup. Colour is decoration: what a line means is in its
width and dash, and in the text beside it, so that a sheet from a black-and-white printer says the same.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal, TypeAlias

from wiregen.draw.text_width import text_width_mm
from wiregen.model.shown import Drawn

Point: TypeAlias = tuple[float, float]
Anchor = Literal["start", "middle", "end"]
VerticalAnchor = Literal["baseline", "middle"]
Weight = Literal["normal", "bold"]
Cap = Literal["butt", "round"]

SOLID: Final[tuple[float, ...]] = ()
DASHED: Final = (1.6, 0.9)
DOTTED: Final = (0.35, 0.75)
CHAIN: Final = (3.2, 0.8, 0.6, 0.8)

#: Smallest font size that any sheet may use, mm.
SMALLEST_TEXT_MM: Final = 2.0
#: Share of the font size by which capitals rise over the baseline, and by which tails hang below it.
CAP_HEIGHT: Final = 0.73
DESCENT: Final = 0.22


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle, mm: left, top, right, bottom."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        """Width, mm."""
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        """Height, mm."""
        return self.y1 - self.y0

    def grown(self, by_mm: float) -> Box:
        """Return the box with ``by_mm`` more on every side."""
        return Box(self.x0 - by_mm, self.y0 - by_mm, self.x1 + by_mm, self.y1 + by_mm)

    def overlaps(self, other: Box, tolerance_mm: float = 0.01) -> bool:
        """Return whether the insides of both boxes meet by more than ``tolerance_mm``."""
        return (
            min(self.x1, other.x1) - max(self.x0, other.x0) > tolerance_mm
            and min(self.y1, other.y1) - max(self.y0, other.y0) > tolerance_mm
        )

    def holds(self, other: Box, tolerance_mm: float = 0.01) -> bool:
        """Return whether ``other`` lies inside, give or take ``tolerance_mm``."""
        return (
            other.x0 >= self.x0 - tolerance_mm
            and other.y0 >= self.y0 - tolerance_mm
            and other.x1 <= self.x1 + tolerance_mm
            and other.y1 <= self.y1 + tolerance_mm
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """How an outline is drawn.

    Attributes:
        width_mm: Line width, mm; 0 for no line.
        colour: Any SVG colour.
        dash: Lengths of dashes and gaps, mm; empty for a solid line.
        fill: Any SVG colour, or ``none``.
        cap: Ends of the line.
    """

    width_mm: float = 0.25
    colour: str = "black"
    dash: tuple[float, ...] = SOLID
    fill: str = "none"
    cap: Cap = "butt"


THIN: Final = Pen()
THICK: Final = Pen(width_mm=0.5)


@dataclass(frozen=True, slots=True)
class Line:
    """A line or polyline; ``closed`` makes it a polygon."""

    points: tuple[Point, ...]
    pen: Pen = THIN
    closed: bool = False
    css_class: str = ""


@dataclass(frozen=True, slots=True)
class Rect:
    """An upright rectangle; ``radius`` rounds its corners, mm."""

    x: float
    y: float
    width: float
    height: float
    pen: Pen = THIN
    radius: float = 0.0
    css_class: str = ""


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle."""

    x: float
    y: float
    radius: float
    pen: Pen = THIN
    css_class: str = ""


@dataclass(frozen=True, slots=True)
class Arc:
    """Part of a circle, from one angle clockwise to another, degrees; 0 is to the right, 90 is down."""

    x: float
    y: float
    radius: float
    start_deg: float
    end_deg: float
    pen: Pen = THIN
    css_class: str = ""

    def at(self, angle_deg: float) -> Point:
        """Return the point of the circle at an angle, mm."""
        angle = math.radians(angle_deg)
        return self.x + self.radius * math.cos(angle), self.y + self.radius * math.sin(angle)


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """One line of text.

    Attributes:
        x: Position of the anchor, mm.
        y: Position of the baseline, or of half the height of capitals when ``vertical`` is ``middle``, mm.
        text: What is written; any characters.
        size_mm: Font size, mm.
        anchor: Which part of the text lies on ``x``.
        vertical: Which part of the text lies on ``y``.
        weight: ``normal`` or ``bold``.
        italic: Slanted.
        colour: Any SVG colour.
        turn_deg: Clockwise turn about the anchor, degrees; 0, 90 or 270.
        css_class: Class for pages.
    """

    x: float
    y: float
    text: str
    size_mm: float = 2.5
    anchor: Anchor = "start"
    vertical: VerticalAnchor = "baseline"
    weight: Weight = "normal"
    italic: bool = False
    colour: str = "black"
    turn_deg: int = 0
    css_class: str = ""

    @property
    def baseline(self) -> float:
        """Position of the baseline of the text before it is turned, mm."""
        return self.y + (CAP_HEIGHT / 2 * self.size_mm if self.vertical == "middle" else 0.0)

    @property
    def box(self) -> Box:
        """The room the text takes in the widest of the faces it may be shown in, mm."""
        width = text_width_mm(self.text, self.size_mm, self.weight)
        left = {"start": 0.0, "middle": -width / 2, "end": -width}[self.anchor]
        top = self.baseline - self.y - CAP_HEIGHT * self.size_mm
        bottom = self.baseline - self.y + DESCENT * self.size_mm
        corners = {
            0: (left, top, left + width, bottom),
            90: (-bottom, left, -top, left + width),
            270: (top, -left - width, bottom, -left),
        }[self.turn_deg]
        x0, y0, x1, y1 = corners
        return Box(self.x + x0, self.y + y0, self.x + x1, self.y + y1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Primitives that belong together.

    Attributes:
        id: Unique in the file; empty for none. Use ``safe_id``.
        css_class: Class for pages; several with spaces between.
        title: Shown as a tip and read aloud; empty for none.
        data: Pairs of a name and a value, written as ``data-name="value"``.
        children: What is inside.
    """

    id: str = ""
    css_class: str = ""
    title: str = ""
    data: tuple[tuple[str, str], ...] = ()
    children: tuple[Item, ...] = ()


Primitive: TypeAlias = Line | Rect | Circle | Arc | Text
Item: TypeAlias = Primitive | Group


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene(Drawn):
    """One picture or sheet.

    Attributes:
        name: Short name, unique in a set of pictures; it starts the ids of the root's title and description.
        width_mm: Width, mm.
        height_mm: Height, mm.
        title: Title for people and screen readers.
        description: What the picture shows, in words.
        children: What is drawn, in order.
    """

    name: str
    width_mm: float
    height_mm: float
    title: str
    description: str = ""
    children: tuple[Item, ...] = ()


def safe_id(*parts: str) -> str:
    """Return an XML id made of ``parts``: letters and digits stay, all else becomes its hexadecimal code.

    Different parts never give the same id.

    >>> safe_id("net", "-X1:E.v")
    'net-_2dX1_3aE_2ev'
    """
    return "-".join(re.sub(r"[^A-Za-z0-9]", lambda m: f"_{ord(m.group()):x}", part) for part in parts)


def primitives(items: Iterable[Item]) -> Iterator[Primitive]:
    """Yield every primitive in ``items``, those inside groups too, in drawing order."""
    for item in items:
        if isinstance(item, Group):
            yield from primitives(item.children)
        else:
            yield item


def groups(items: Iterable[Item]) -> Iterator[Group]:
    """Yield every group in ``items``, outer ones before inner ones."""
    for item in items:
        if isinstance(item, Group):
            yield item
            yield from groups(item.children)


def box_of(primitive: Primitive) -> Box:
    """Return the smallest box around a primitive, its line width left out, mm."""
    match primitive:
        case Text():
            return primitive.box
        case Rect(x=x, y=y, width=width, height=height):
            return Box(x, y, x + width, y + height)
        case Circle(x=x, y=y, radius=radius) | Arc(x=x, y=y, radius=radius):
            return Box(x - radius, y - radius, x + radius, y + radius)
        case Line(points=points):
            xs, ys = [p[0] for p in points], [p[1] for p in points]
            return Box(min(xs), min(ys), max(xs), max(ys))


def around(items: Iterable[Item]) -> Box:
    """Return the smallest box around all ``items``, mm.

    Raises:
        ValueError: There is nothing in ``items``.
    """
    boxes = [box_of(primitive) for primitive in primitives(items)]
    return Box(min(b.x0 for b in boxes), min(b.y0 for b in boxes), max(b.x1 for b in boxes), max(b.y1 for b in boxes))


def moved(item: Item, dx_mm: float, dy_mm: float) -> Item:
    """Return ``item`` shifted right by ``dx_mm`` and down by ``dy_mm``."""
    match item:
        case Group():
            return replace(item, children=tuple(moved(child, dx_mm, dy_mm) for child in item.children))
        case Line():
            return replace(item, points=tuple((x + dx_mm, y + dy_mm) for x, y in item.points))
        case _:
            return replace(item, x=item.x + dx_mm, y=item.y + dy_mm)
