"""One drawing of a schematic: places the pieces, routes the nets, and gives the primitives of everything."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Final

from wiregen.draw import symbols, wires
from wiregen.draw.columns import Sides, columns, is_hitch, sides
from wiregen.draw.layout import Part, Placed, Port, layout
from wiregen.draw.pieces import Draw, Lettering, Piece, Pieces, Stroke, battery_label, is_foot
from wiregen.draw.route import LEFT, RIGHT, Routed, route
from wiregen.draw.scene import CHAIN, Anchor, Box, Circle, Group, Item, Line, Pen, Point, Rect, Text, safe_id
from wiregen.draw.text_width import fit, wrap
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Conductor,
    Contact,
    Converter,
    Element,
    Lamp,
    Load,
    RelayContact,
    ends,
)
from wiregen.quantity import show

_TRACK_MM: Final = 1.7
_EDGE_MM: Final = 1.3
_STRAIGHT_MM: Final = 0.8
_DOT_MM: Final = 0.65
_HEADER_MM: Final = 10.5
_OUTLINE_MM: Final = 1.0
_FIRST: Final = "first"
_LAST_RANK: Final = 1e6
#: How much of the room to spare a channel or a conductor may take, mm.
_MOST_SPARE_MM: Final = 6.0


@dataclass(frozen=True, slots=True)
class _Across:
    """Left and right edges of columns and of the channels right of them, mm, and where the tracks stand."""

    column: Mapping[int, tuple[float, float]]
    channel: Mapping[int, tuple[float, float]]
    tracks: Mapping[int, int]

    def x(self, channel: int, position: int) -> float:
        """Return where an edge or a track of a channel lies."""
        left, right = self.channel[channel]
        if position == LEFT:
            return left
        if position == RIGHT:
            return right
        middle = (left + right) / 2
        return middle + (position - (self.tracks[channel] - 1) / 2) * _TRACK_MM


class Drawing:
    """A part of a circuit, or all of it, at one size of lettering.

    Args:
        circuit: The whole circuit.
        elements: What this drawing shows of it.
        size_mm: Font size, mm.
        exits: Terminals that go on to other sheets, and the text of the arrow there.
        order: ``order`` of a drawing of the same elements at another size, to save looking for it again.
    """

    def __init__(
        self,
        circuit: Circuit,
        elements: Sequence[Element],
        size_mm: float,
        exits: Mapping[str, str] | None = None,
        order: Sequence[int] = (),
    ) -> None:
        self.circuit = circuit
        self.elements = elements
        self.text = Lettering(size_mm)
        self._known_order = tuple(order)
        self.exits = dict(exits or {})
        self.hitch = frozenset(e.ref for e in circuit.elements if is_hitch(e, circuit))
        self.side: Mapping[str, Sides] = sides(circuit)
        self.batteries = [e for e in elements if isinstance(e, Battery) and e.zone == "vehicle"]
        self.links = _links(elements)
        self.pieces = self._pieces()
        self._ending: dict[str, list[Element]] = {}
        for element in circuit.elements:
            for terminal in ends(element):
                self._ending.setdefault(terminal, []).append(element)
        self.link_nets = frozenset(net for nets in self.links.values() for net in nets)

    @property
    def description(self) -> str:
        """What the drawing shows, in words."""
        lamps = [e for e in self.elements if isinstance(e, Lamp | Load)]
        contacts = sum(isinstance(e, Contact) for e in self.elements)
        fed = ", ".join(dict.fromkeys(e.circuit.replace("_", " ") for e in lamps))
        return (
            f"Circuit diagram of {self.circuit.title} with {self.circuit.trailer or 'its trailer'}: "
            f"{contacts} connector contacts, {len(lamps)} lamps and loads" + (f" on {fed}." if fed else ".")
        )

    # -- what is drawn ----------------------------------------------------------------------------------------------

    def _pieces(self) -> list[Piece]:
        poles = [terminal for battery in self.batteries for terminal in (battery.a, battery.b)]
        drawn = [element for element in self.elements if element not in self.batteries]
        column = columns(drawn, self.side, frozenset(poles), self.hitch)
        if not poles:
            column = {ref: place - 1 for ref, place in column.items()}
        maker = Pieces(self.side, column, self.text, self.links, self.hitch, _coil_devices(self.elements), poles)
        pieces = [self._pole(terminal, poles) for terminal in dict.fromkeys(poles)]
        pieces += [maker.of(element, self._rank(index, element)) for index, element in enumerate(drawn)]
        pieces += self._unused(column)
        pieces += self._arrows(pieces)
        return pieces

    def _rank(self, index: int, element: Element) -> float:
        # The hitch goes under the grounds, the grounds under every feed.
        if element.ref in self.hitch:
            return _LAST_RANK / 2
        return index + (_LAST_RANK / 4 if is_foot(element) else 0.0)

    def _pole(self, terminal: str, poles: Sequence[str]) -> Piece:
        """Return the place where a battery pole leaves column 0; the plates come between two poles."""
        high = all(terminal != battery.b for battery in self.batteries)
        low = all(terminal != battery.a for battery in self.batteries)
        reach = symbols.BATTERY_MM[1] / 2 + 3.0
        label = max(
            self.text.width(text, "bold") for battery in self.batteries for text in self._battery_lines(battery)
        )
        part = Part(
            key=f"pole:{terminal}",
            column=0,
            width=symbols.BATTERY_MM[0] + 1.5 + label + 1.0,
            up=1.0 if high else reach,
            down=1.0 if low else reach,
            ports=(Port(terminal, right=True),),
            foot=low,
            rank=-1.0 if high else _LAST_RANK / 3 if low else 0.0,
        )

        def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
            return stroke([(self._battery_x(x0, x1), y), (x1, y)], terminal)

        return Piece(part, draw, None, "")

    @staticmethod
    def _battery_x(x0: float, x1: float) -> float:
        del x0
        return x1 - symbols.BATTERY_MM[0] / 2 - 1.0

    @staticmethod
    def _battery_lines(battery: Battery) -> tuple[str, str]:
        return battery.ref.lstrip("-"), show(battery.voltage_v, "V")

    def _unused(self, column: Mapping[str, int]) -> list[Piece]:
        """Return, for each connector on the sheet, the list of the contacts that nothing is on."""
        pieces = []
        for connector, contacts in self._contacts().items():
            shell = self.circuit.shells.get(connector)
            used = {c.mark for c in self.circuit.of(Contact) if c.connector == connector}
            free = [mark for mark in (shell.marks if shell else ()) if mark not in used]
            if not free:
                continue
            lines = wrap(", ".join(free) + " not used", 3.8 * self.text.size_mm, self.text.size_mm)
            width = max(self.text.width(line) for line in lines)
            part = Part(
                key=f"unused:{connector}",
                column=column[contacts[0].ref],
                width=width + 2.6,
                up=0.5,
                down=self.text.below(len(lines)) + _OUTLINE_MM,
                ports=(),
                rank=_LAST_RANK,
                block=connector,
            )
            pieces.append(Piece(part, _lines_drawer(self.text, lines), None, ""))
        return pieces

    def _arrows(self, pieces: Sequence[Piece]) -> list[Piece]:
        """Return an arrow for each terminal that goes on elsewhere, beside the outermost port that has it."""
        made = []
        for terminal, words in self.exits.items():
            spots = [(p.part.column, port) for p in pieces for port in p.part.ports if port.net == terminal]
            if not spots:
                continue
            right = sum(port.right for _, port in spots) * 2 >= len(spots)
            columns_of = [c for c, port in spots if port.right == right] or [c for c, _ in spots]
            column = max(columns_of) + 1 if right else min(columns_of) - 1
            made.append(_arrow(self.text, terminal, words, column, right))
        lowest = min([0, *(piece.part.column for piece in made)])
        if lowest < 0:
            message = "an arrow would stand left of the first column"
            raise ValueError(message)
        return made

    def _contacts(self) -> dict[str, list[Contact]]:
        found: dict[str, list[Contact]] = {}
        for element in self.elements:
            if isinstance(element, Contact):
                found.setdefault(element.connector, []).append(element)
        return found

    # -- where it goes ----------------------------------------------------------------------------------------------

    def fits(self, room: Box) -> bool:
        """Return whether the drawing fits into ``room`` at its size of lettering."""
        if sum(self._widths.values()) > room.width:
            return False
        return self._tight.height + _HEADER_MM <= room.height and self._width <= room.width

    @cached_property
    def _tight(self) -> Placed:
        return layout([piece.part for piece in self.pieces], links=self.link_nets, order=self._known_order)

    @property
    def order(self) -> tuple[int, ...]:
        """The order of the rows, for a drawing of the same elements at another size."""
        return self._tight.order

    @cached_property
    def _widths(self) -> dict[int, float]:
        widths: dict[int, float] = {}
        for piece in self.pieces:
            widths[piece.part.column] = max(widths.get(piece.part.column, 0.0), piece.part.width)
        return widths

    @property
    def _width(self) -> float:
        return sum(self._widths.values()) + sum(_channel_mm(r.tracks) for r in self._routes(self._tight).values())

    def _routes(self, placed: Placed) -> dict[int, Routed]:
        return {channel: route(placed.taps.get(channel, ())) for channel in range(max(self._widths) + 1)}

    def _across(self, routes: Mapping[int, Routed], room: Box) -> _Across:
        need = {channel: _channel_mm(routed.tracks) for channel, routed in routes.items()}
        spare = max(0.0, room.width - sum(self._widths.values()) - sum(need.values()))
        wires_in = {piece.part.column for piece in self.pieces if isinstance(piece.element, Conductor)}
        share = min(_MOST_SPARE_MM, spare / (len(need) + len(wires_in) or 1))
        x = room.x0 + (spare - share * (len(need) + len(wires_in))) / 2
        column, channel = {}, {}
        for place in sorted(self._widths):
            width = self._widths[place] + (share if place in wires_in else 0.0)
            column[place] = (x, x + width)
            x += width
            if place in need:
                channel[place] = (x, x + need[place] + share)
                x += need[place] + share
        return _Across(column, channel, {c: r.tracks for c, r in routes.items()})

    # -- primitives -------------------------------------------------------------------------------------------------

    def items(self, room: Box) -> tuple[Item, ...]:
        """Return everything drawn, inside ``room``."""
        parts = [piece.part for piece in self.pieces]
        placed = layout(parts, links=self.link_nets, fill_mm=room.height - _HEADER_MM, order=self._tight.order)
        routes = self._routes(placed)
        across = self._across(routes, room)
        top = room.y0 + _HEADER_MM
        runs = self._runs(placed, routes, across, top)
        dots: dict[str, list[Point]] = {}
        for channel, routed in routes.items():
            for net, track, y in routed.dots:
                dots.setdefault(net, []).append((across.x(channel, track), top + y))

        def stroke(points: Sequence[Point], net: str) -> tuple[Item, ...]:
            runs.setdefault(net, []).extend((start, end, self._look(net)) for start, end in pairwise(points))
            return ()

        drawn = []
        for piece in self.pieces:
            x0, x1 = across.column[piece.part.column]
            drawn.append(self._group(piece, piece.draw(x0, x1, top + placed.y[piece.part.key], stroke)))
        drawn += [self._battery(battery, across, placed, top, stroke) for battery in self.batteries]
        return (
            *self._zones(across, placed, room),
            *(self._net(net, runs[net], dots.get(net, [])) for net in sorted(runs)),
            *self._outlines(across, placed, top),
            *drawn,
        )

    def _group(self, piece: Piece, children: tuple[Item, ...]) -> Group:
        element = piece.element
        if element is None:
            return Group(css_class="note", children=children)
        kind = type(element).__name__.lower()
        data = (("ref", element.ref), ("circuit", element.circuit))
        return Group(
            id=safe_id("part", element.ref),
            css_class=f"part {kind}",
            title=f"{element.ref}: {piece.title}"
            if piece.title and not piece.title.startswith(element.ref)
            else piece.title,
            data=data,
            children=children,
        )

    def _battery(self, battery: Battery, across: _Across, placed: Placed, top: float, stroke: Stroke) -> Group:
        x = self._battery_x(*across.column[0])
        plus, minus = (top + placed.y[f"pole:{terminal}"] for terminal in (battery.a, battery.b))
        middle = (plus + minus) / 2
        half = symbols.BATTERY_MM[1] / 2
        stroke([(x, plus), (x, middle - half)], battery.a)
        stroke([(x, middle + half), (x, minus)], battery.b)
        label = battery_label(
            self.text, x - symbols.BATTERY_MM[0] / 2 - 0.8, middle, self._battery_lines(battery), "end"
        )
        sign = Text(x=x + 1.0, y=middle - half - 0.9, text="+", size_mm=self.text.size_mm)
        part = Part(key=battery.ref, column=0, width=0, up=0, down=0, ports=())
        piece = Piece(part, lambda *_: (), battery, battery.title)
        return self._group(piece, (*symbols.place(symbols.BatteryPlates(), x, middle), *label, sign))

    def _runs(
        self, placed: Placed, routes: Mapping[int, Routed], across: _Across, top: float
    ) -> dict[str, list[tuple[Point, Point, str]]]:
        """Return the straight pieces of every net outside its parts, each with its look."""
        runs: dict[str, list[tuple[Point, Point, str]]] = {}
        ends = self._conductor_ends(placed)
        for channel, routed in routes.items():
            for wire in routed.wires:
                start, end = ((across.x(channel, place), top + y) for place, y in (wire.start, wire.end))
                look = self._look(wire.net)
                for place, y in (wire.start, wire.end):
                    # A conductor keeps its colour up to the junction.
                    if place in (LEFT, RIGHT):
                        look = ends.get((wire.net, channel, place == LEFT, round(y, 2)), look)
                runs.setdefault(wire.net, []).append((start, end, look))
        for net, column, y in placed.lanes:
            x0, x1 = across.column[column]
            runs.setdefault(net, []).append(((x0, top + y), (x1, top + y), self._look(net)))
        return runs

    def _conductor_ends(self, placed: Placed) -> dict[tuple[str, int, bool, float], str]:
        """Return the look of each conductor by net, channel, side and height of its end."""
        ends = {}
        for piece in self.pieces:
            if isinstance(piece.element, Conductor):
                for port in piece.part.ports:
                    channel = piece.part.column if port.right else piece.part.column - 1
                    height = round(placed.y[piece.part.key] + port.dy, 2)
                    ends[port.net, channel, port.right, height] = f"conductor:{piece.element.colour}"
        return ends

    def _net(self, net: str, runs: list[tuple[Point, Point, str]], dots: list[Point]) -> Group:
        looks: dict[str, list[tuple[Point, Point]]] = {}
        for start, end, look in runs:
            looks.setdefault(look, []).append((start, end))
        layers: list[list[Item]] = []
        for look in sorted(looks, reverse=True):
            for run in _merged(looks[look]):
                for depth, item in enumerate(_LOOKS[look.split(":")[0]](run, look.partition(":")[2])):
                    if depth == len(layers):
                        layers.append([])
                    layers[depth].append(item)
        link = net in self.link_nets
        if not link:
            layers.append([Circle(x, y, _DOT_MM, Pen(width_mm=0, fill="black"), css_class="dot") for x, y in dots])
        return Group(
            id=safe_id("net", net),
            css_class="link" if link else "net",
            title="" if link else net,
            data=() if link else (("net", net),),
            children=tuple(item for layer in layers for item in layer),
        )

    def _look(self, net: str) -> str:
        """Return how a net looks: ``joint``, ``link``, ``unintended``, or ``conductor:`` and a colour."""
        if net in self.link_nets:
            return "link"
        ending = self._ending.get(net, [])
        conductors = [e for e in ending if isinstance(e, Conductor)]
        if any(e.ref in self.hitch for e in ending) and len(ending) == 2 and not conductors:
            return "unintended"
        others = len(ending) - len(conductors)
        if len({e.colour for e in conductors}) == 1 and others <= (1 if len(ending) == 2 else 0):
            return f"conductor:{conductors[0].colour}"
        return "joint"

    def _outlines(self, across: _Across, placed: Placed, top: float) -> list[Item]:
        """Return the shell of each connector around its contacts."""
        made: list[Item] = []
        for connector, contacts in self._contacts().items():
            block = [piece.part for piece in self.pieces if piece.part.block == connector]
            x0, x1 = across.column[block[0].column]
            inner = max(part.width for part in block)
            middle = (x0 + x1) / 2
            y0 = min(top + placed.y[part.key] - part.up for part in block)
            y1 = max(top + placed.y[part.key] + part.down for part in block)
            pen = Pen(width_mm=0.5)
            shell = Rect(middle - inner / 2 + 0.6, y0, inner - 1.2, y1 - y0, pen, radius=2.0, css_class="outline")
            title = f"{connector}: {len(contacts)} contacts in use"
            made.append(
                Group(id=safe_id("connector", connector), css_class="connector", title=title, children=(shell,))
            )
        return made

    def _zones(self, across: _Across, placed: Placed, room: Box) -> list[Item]:
        """Return zone titles, connector names and the lines between zones."""
        names = list(self._contacts())
        centre = {name: self._block_middle(name, across) for name in names}
        names.sort(key=lambda name: centre[name])
        edges = [room.x0, *(centre[name] for name in names), room.x1]
        size = self.text.size_mm + 0.5
        items: list[Item] = []
        for x0, x1 in pairwise(edges):
            title = self._zone_title(x0, x1, across)
            shown = fit(title, x1 - x0 - 4, size, "bold")
            items.append(
                Text(x=(x0 + x1) / 2, y=room.y0 + 3.2, text=shown, size_mm=size, anchor="middle", weight="bold")
            )
        foot = room.y0 + _HEADER_MM
        end = max(room.y0 + _HEADER_MM + placed.height, foot)
        for name in names:
            x = centre[name]
            shell = self.circuit.shells.get(name)
            parts = [piece.part for piece in self.pieces if piece.part.block == name]
            high = min(foot + placed.y[part.key] - part.up for part in parts)
            low = max(foot + placed.y[part.key] + part.down for part in parts)
            label = f"{name.lstrip('-')} {shell.short}" if shell and shell.short else name.lstrip("-")
            items.append(Line(((x, room.y0), (x, room.y0 + 4.4)), _ZONE_PEN, css_class="zone"))
            items.append(
                Text(x=x, y=room.y0 + 7.6, text=label, size_mm=self.text.size_mm, anchor="middle", weight="bold")
            )
            if high > foot - 1.5:
                items.append(Line(((x, room.y0 + 8.6), (x, high)), _ZONE_PEN, css_class="zone"))
            if end > low:
                items.append(Line(((x, low), (x, end)), _ZONE_PEN, css_class="zone"))
        return items

    def _block_middle(self, connector: str, across: _Across) -> float:
        column = next(piece.part.column for piece in self.pieces if piece.part.block == connector)
        x0, x1 = across.column[column]
        return (x0 + x1) / 2

    def _zone_title(self, x0: float, x1: float, across: _Across) -> str:
        inside = [
            piece.element.zone
            for piece in self.pieces
            if piece.element is not None
            and not isinstance(piece.element, Contact)
            and x0 <= sum(across.column[piece.part.column]) / 2 <= x1
        ]
        zone = max(sorted(set(inside)), key=inside.count, default="adapter")
        if zone == "adapter":
            return "Adapter"
        if zone == "vehicle":
            volts = sum(battery.voltage_v for battery in self.circuit.of(Battery) if battery.zone == "vehicle")
            return f"{24 if volts > 18 else 12} V vehicle"
        loads = [e.nominal_v for e in self.circuit.elements if isinstance(e, Lamp | Load)]
        volts_word = f"{loads[0]:g} V " if len(set(loads)) == 1 else ""
        return f"{volts_word}trailer"


#: How wires are drawn, by the first word of their look; the second argument is the colour.
_LOOKS: Final[dict[str, Callable[[Sequence[Point], str], tuple[Item, ...]]]] = {
    "conductor": lambda points, colour: wires.conductor(points, colour, round_ends=True),
    "joint": lambda points, _: wires.joint(points),
    "link": lambda points, _: wires.link(points),
    "unintended": lambda points, _: wires.unintended(points),
}
_ZONE_PEN: Final = Pen(width_mm=0.25, colour="#555", dash=CHAIN)


def _channel_mm(tracks: int) -> float:
    return _STRAIGHT_MM if tracks == 0 else 2 * _EDGE_MM + (tracks - 1) * _TRACK_MM


def _links(elements: Iterable[Element]) -> dict[str, list[str]]:
    """Return the link nets of each coil and of each thing coils work, by ref."""
    links: dict[str, list[str]] = {}
    present = {element.ref for element in elements}
    for element in elements:
        gate = element.gate if isinstance(element, RelayContact | Converter) else None
        coils = [ref for ref in gate.coils.values() if ref in present] if gate else []
        if coils:
            net = f"link:{element.ref}"
            for ref in (element.ref, *coils):
                links.setdefault(ref, []).append(net)
    return links


def _coil_devices(elements: Iterable[Element]) -> dict[str, str]:
    """Return what each coil belongs to: ``relay`` or something else."""
    devices: dict[str, str] = {}
    for element in elements:
        if isinstance(element, RelayContact):
            devices |= dict.fromkeys(element.gate.coils.values(), element.device)
        elif isinstance(element, Converter) and element.gate:
            devices |= dict.fromkeys(element.gate.coils.values(), "converter")
    return devices


def _lines_drawer(text: Lettering, lines: Sequence[str]) -> Draw:
    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        del stroke
        return tuple(text.under((x0 + x1) / 2, y - 0.4, line, line=k) for k, line in enumerate(lines))

    return draw


def _arrow(text: Lettering, terminal: str, words: str, column: int, right: bool) -> Piece:
    width = text.width(words) + 5.0
    part = Part(
        key=f"exit:{terminal}",
        column=column,
        width=width,
        up=text.cap,
        down=text.cap,
        ports=(Port(terminal, right=not right),),
        rank=_LAST_RANK / 8,
    )

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        tip = x0 + 2.6 if right else x1 - 2.6
        edge, inner = (x0, tip - 1.6) if right else (x1, tip + 1.6)
        anchor: Anchor = "start" if right else "end"
        shift = 2.2 if right else -2.2
        return (
            *stroke([(edge, y), (inner, y)], terminal),
            *symbols.place(symbols.OffSheet(), tip, y),
            Text(x=tip + shift, y=y, text=words, size_mm=text.size_mm, anchor=anchor, vertical="middle"),
        )

    return Piece(part, draw, None, words)


def _merged(lines: Iterable[tuple[Point, Point]]) -> list[tuple[Point, Point]]:
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
