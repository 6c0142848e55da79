"""Write a scene as SVG 1.1: text stays text; groups keep id, class and title; equal scenes give equal bytes.

No style sheet and no script: whatever converts the file later sees plain attributes. The attributes most
primitives share stand on one group at the root and are left out below it.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import Final, TypeVar

from wiregen.draw.scene import Arc, Circle, Group, Item, Line, Pen, Rect, Scene, Text, primitives, safe_id

T = TypeVar("T")

FONT_FAMILY: Final = "Liberation Sans, Arial, Helvetica, sans-serif"
#: A hundredth of a millimetre: finer than any printer.
_DECIMALS: Final = 2
_BLACK: Final = "black"

# Control characters are not allowed in XML 1.0; the bidirectional controls can show a text in another order
# than it is stored, so that a sheet would say one thing and a search another; lone surrogates cannot be
# encoded.
_FORBIDDEN: Final = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufffe\uffff\ud800-\udfff]"
)


@dataclass(frozen=True, slots=True)
class _Common:
    """What most primitives of a scene share; it stands once, at the root."""

    width_mm: float
    cap: str
    size_mm: float


def _common(scene: Scene) -> _Common:
    pens = Counter[float]()
    caps = Counter[str]()
    sizes = Counter[float]()
    for item in primitives(scene.children):
        if isinstance(item, Text):
            sizes[item.size_mm] += 1
        elif item.pen.width_mm > 0:
            pens[item.pen.width_mm] += 1
            caps[item.pen.cap] += 1
    return _Common(_most(pens, Pen().width_mm), _most(caps, Pen().cap), _most(sizes, 2.5))


def _most(counted: Counter[T], default: T) -> T:
    """Return what was counted most often, of equals the one met first."""
    return counted.most_common(1)[0][0] if counted else default


def svg_text(scene: Scene) -> str:
    """Return the SVG document of ``scene`` as text; the same scene gives the same bytes on every run."""
    width, height = _number(scene.width_mm), _number(scene.height_mm)
    labels = safe_id(scene.name, "title") + (f" {safe_id(scene.name, 'desc')}" if scene.description else "")
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" role="img" aria-labelledby="{labels}">',
        f'<title id="{safe_id(scene.name, "title")}">{_escape(scene.title)}</title>',
    ]
    if scene.description:
        lines.append(f'<desc id="{safe_id(scene.name, "desc")}">{_escape(scene.description)}</desc>')
    common = _common(scene)
    lines.append(
        f'<g fill="none" stroke="{_BLACK}" stroke-width="{_number(common.width_mm)}" stroke-linecap="{common.cap}" '
        f'stroke-linejoin="round" font-family="{FONT_FAMILY}" font-size="{_number(common.size_mm)}">'
    )
    for item in scene.children:
        _write(item, lines, common)
    lines += ["</g>", "</svg>", ""]
    return "\n".join(lines)


def _write(item: Item, lines: list[str], common: _Common) -> None:
    match item:
        case Group():
            _write_group(item, lines, common)
        case Text():
            _write_text(item, lines, common)
        case Line(points=points, closed=closed):
            corners = " ".join(f"{_number(x)},{_number(y)}" for x, y in points)
            name = "polygon" if closed else "polyline"
            lines.append(f'<{name} points="{corners}"{_pen(item.pen, common)}{_class(item.css_class)}/>')
        case Rect():
            radius = f' rx="{_number(item.radius)}"' if item.radius else ""
            lines.append(
                f'<rect x="{_number(item.x)}" y="{_number(item.y)}" width="{_number(item.width)}" '
                f'height="{_number(item.height)}"{radius}{_pen(item.pen, common)}{_class(item.css_class)}/>'
            )
        case Circle():
            lines.append(
                f'<circle cx="{_number(item.x)}" cy="{_number(item.y)}" r="{_number(item.radius)}"'
                f"{_pen(item.pen, common)}{_class(item.css_class)}/>"
            )
        case Arc():
            (x0, y0), (x1, y1) = item.at(item.start_deg), item.at(item.end_deg)
            radius = _number(item.radius)
            large = int((item.end_deg - item.start_deg) % 360 > 180)
            lines.append(
                f'<path d="M{_number(x0)},{_number(y0)} A{radius},{radius} 0 {large} 1 '
                f'{_number(x1)},{_number(y1)}"{_pen(item.pen, common)}{_class(item.css_class)}/>'
            )


def _write_group(group: Group, lines: list[str], common: _Common) -> None:
    ident = f' id="{group.id}"' if group.id else ""
    data = "".join(f' data-{name}="{_escape(value)}"' for name, value in group.data)
    lines.append(f"<g{ident}{_class(group.css_class)}{data}>")
    if group.title:
        lines.append(f"<title>{_escape(group.title)}</title>")
    for child in group.children:
        _write(child, lines, common)
    lines.append("</g>")


def _write_text(text: Text, lines: list[str], common: _Common) -> None:
    y = text.baseline
    turn = ""
    if text.turn_deg:
        turn = f' transform="rotate({text.turn_deg} {_number(text.x)} {_number(text.y)})"'
    size = "" if text.size_mm == common.size_mm else f' font-size="{_number(text.size_mm)}"'
    anchor = "" if text.anchor == "start" else f' text-anchor="{text.anchor}"'
    weight = "" if text.weight == "normal" else f' font-weight="{text.weight}"'
    style = ' font-style="italic"' if text.italic else ""
    lines.append(
        f'<text x="{_number(text.x)}" y="{_number(y)}" fill="{_escape(text.colour)}" stroke="none"'
        f"{size}{anchor}{weight}{style}{turn}{_class(text.css_class)}>{_escape(text.text)}</text>"
    )


def _pen(pen: Pen, common: _Common) -> str:
    parts = []
    if pen.fill != "none":
        parts.append(f'fill="{_escape(pen.fill)}"')
    if pen.width_mm <= 0:
        parts.append('stroke="none"')
    else:
        if pen.colour != _BLACK:
            parts.append(f'stroke="{_escape(pen.colour)}"')
        if pen.width_mm != common.width_mm:
            parts.append(f'stroke-width="{_number(pen.width_mm)}"')
        if pen.dash:
            parts.append(f'stroke-dasharray="{" ".join(_number(length) for length in pen.dash)}"')
        if pen.cap != common.cap:
            parts.append(f'stroke-linecap="{pen.cap}"')
    return "".join(f" {part}" for part in parts)


def _class(names: str) -> str:
    return f' class="{_escape(names)}"' if names else ""


def _number(value: float) -> str:
    """Return ``value`` with fixed decimals, trailing zeros cut; never ``-0``."""
    text = f"{value:.{_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _escape(text: str) -> str:
    text = _FORBIDDEN.sub("\N{REPLACEMENT CHARACTER}", text)
    for character, entity in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        text = text.replace(character, entity)
    return text
