"""Names of the adapter's terminals, where the drawing leaves room for them.

The cut list says ``A1:tail``; here it stands at the end of the lead. Names come last and give way to all else: each
takes the free place nearest to its terminal, measured against all that is drawn, or is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from wiregen.draw.scene import (
    DESCENT,
    SMALLEST_TEXT_MM,
    Box,
    Group,
    Item,
    Line,
    Point,
    Text,
    around,
    box_of,
    groups,
    primitives,
)
from wiregen.draw.schematic.columns import Sides
from wiregen.draw.schematic.shop import designation
from wiregen.draw.text_width import text_width_mm, wrap
from wiregen.model.circuit import Circuit, Conductor

_ADAPTER: Final = "-A1:"
#: Ground bar and 12 V bus: named first.
_BARS: Final = ("-A1:0V", "-A1:12V")
_SIZE_MM: Final = SMALLEST_TEXT_MM
_LINE_MM: Final = 1.15 * _SIZE_MM
#: From the middle of a wire to a name beside it, and from a name to anything else, mm.
_OFF_MM: Final = 0.75
_CLEAR_MM: Final = 0.25
#: How far from the end of its lead a name may stand, mm.
_REACH_MM: Final = 22.0
_STEP_MM: Final = 0.5


@dataclass(frozen=True, slots=True)
class _Terminal:
    """A terminal to name: where it is, and the wires beside which its name may stand."""

    name: str
    spot: Point
    wires: tuple[Box, ...]
    reach_mm: float


def terminal_names(
    items: Sequence[Item], circuit: Circuit, side: Mapping[str, Sides], room: Box, named: Iterable[str]
) -> tuple[Text, ...]:
    """Return the names of the adapter's terminals.

    Args:
        items: All that is drawn.
        circuit: The circuit.
        side: Sides of every element by ref.
        room: Where the drawing may go.
        named: Terminals that have a name on the drawing already.
    """
    taken = list(_taken(items))
    made: list[Text] = []
    for terminal in _terminals(items, circuit, side, frozenset(named)):
        near = Box(*terminal.spot, *terminal.spot).grown(terminal.reach_mm + 20.0)
        blocks = [box for box in taken if box.overlaps(near, 0.0)]
        for texts in _places(terminal):
            box = around(texts)
            if room.holds(box) and not any(box.grown(_CLEAR_MM).overlaps(other, 0.0) for other in blocks):
                made += texts
                taken.append(box)
                break
    return tuple(made)


def _taken(items: Sequence[Item]) -> Iterator[Box]:
    """Yield the room of everything drawn: whole symbols and outlines, and each wire and text by itself."""
    for item in primitives(items):
        if isinstance(item, Line):
            for start, end in zip(item.points, item.points[1:] + item.points[: int(item.closed)], strict=False):
                # A level or upright line has no inside; as wide as it is drawn it has.
                yield box_of(Line((start, end))).grown(item.pen.width_mm / 2)
        else:
            yield box_of(item)
    for group in groups(items):
        body = [
            i for i in group.children if not isinstance(i, Text | Group) and i.css_class not in ("wire", "link", "core")
        ]
        if "part" in group.css_class.split() and body:
            yield around(body)


def _terminals(
    items: Sequence[Item], circuit: Circuit, side: Mapping[str, Sides], named: frozenset[str]
) -> Iterator[_Terminal]:
    drawn = {dict(group.data).get("ref", ""): group for group in groups(items) if group.data}
    nets = {dict(group.data).get("net", ""): group for group in groups(items) if group.data}
    names = [net for net in nets if net.startswith(_ADAPTER) and net not in named]
    for net in sorted(names, key=lambda name: (name not in _BARS, name)):
        wires = [box_of(i) for i in nets[net].children if isinstance(i, Line) and i.css_class == "wire"]
        if net in _BARS:
            # A bus that nothing takes anything from has no line to write its name on.
            if wires:
                longest = max(wires, key=lambda box: (box.height, box.width))
                yield _Terminal(net, (longest.x0, longest.y0), tuple(wires), 1000.0)
            continue
        for lead in circuit.of(Conductor):
            if lead.ref in drawn and net in (lead.a, lead.b):
                line = around(i for i in drawn[lead.ref].children if isinstance(i, Line))
                spot = (line.x0 if side[lead.ref].left == net else line.x1, line.y0)
                level = [box for box in wires if box.height < 1e-6 and abs(box.y0 - line.y0) < 0.1]
                yield _Terminal(net, spot, (Box(line.x0, line.y0, line.x1, line.y0), *level), _REACH_MM)


def _places(terminal: _Terminal) -> Iterator[tuple[Text, ...]]:
    """Yield the places for a name, the nearest first; in two lines only where one has no room, upright at the last."""
    name = designation(terminal.name).replace("_", " ")
    words = wrap(name, 0.62 * text_width_mm(name, _SIZE_MM), _SIZE_MM)
    x, y = terminal.spot
    for lines, upright in (((name,), False), *(((words, False),) if len(words) == 2 else ()), ((name,), True)):
        found: list[tuple[float, tuple[Text, ...]]] = []
        for wire in terminal.wires:
            for texts in _beside(wire, lines, upright=upright):
                box = around(texts)
                far = abs((box.x0 + box.x1) / 2 - x) + abs((box.y0 + box.y1) / 2 - y)
                if far <= terminal.reach_mm:
                    found.append((far, texts))
        yield from (texts for _, texts in sorted(found, key=lambda place: place[0]))


def _beside(wire: Box, lines: Sequence[str], *, upright: bool) -> Iterator[tuple[Text, ...]]:
    """Yield the places along a wire, above and below a level one, right and left of an upright one."""
    width = max(text_width_mm(line, _SIZE_MM) for line in lines)
    low = _OFF_MM + DESCENT * _SIZE_MM
    high = _OFF_MM + 0.73 * _SIZE_MM
    tall = (len(lines) - 1) * _LINE_MM
    if wire.height < 1e-6:
        if upright:
            return
        for x in _steps(wire.x0, wire.x1 - width):
            yield _texts(x, wire.y0 - low - tall, lines)
            yield _texts(x, wire.y0 + high, lines)
    elif upright:
        for y in _steps(wire.y0 + width, wire.y1):
            yield (_text(wire.x0 + high, y, lines[0], 270),)
            yield (_text(wire.x0 - low, y, lines[0], 270),)
    else:
        for y in _steps(wire.y0 + high, wire.y1 - low - tall):
            yield _texts(wire.x0 + _OFF_MM, y, lines)
            yield _texts(wire.x0 - _OFF_MM - width, y, lines)


def _steps(start: float, end: float) -> Iterator[float]:
    count = int((end - start) / _STEP_MM)
    yield from (start + k * _STEP_MM for k in range(count + 1) if end >= start)


def _texts(x: float, y: float, lines: Sequence[str]) -> tuple[Text, ...]:
    return tuple(_text(x, y + k * _LINE_MM, line, 0) for k, line in enumerate(lines))


def _text(x: float, y: float, text: str, turn_deg: int) -> Text:
    return Text(x=x, y=y, text=text, size_mm=_SIZE_MM, turn_deg=turn_deg, colour="#333", css_class="terminal")
