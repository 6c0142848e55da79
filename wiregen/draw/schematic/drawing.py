"""One drawing of a schematic: places the pieces, routes the nets, and gives the primitives of everything."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Final

from wiregen.catalogue.circuits import circuit_word
from wiregen.draw.scene import Box, Circle, Group, Item, Pen, Point, safe_id
from wiregen.draw.schematic import wires
from wiregen.draw.schematic.batteries import plates, plates_x, vehicle_poles
from wiregen.draw.schematic.columns import Sides, columns, is_hitch, sides
from wiregen.draw.schematic.decor import HEADER_MM, LAST_RANK, arrows, connector_label, free_contacts, shells, zones
from wiregen.draw.schematic.layout import Placed, layout
from wiregen.draw.schematic.pieces import piece_of
from wiregen.draw.schematic.route import LEFT, RIGHT, Routed, route
from wiregen.draw.schematic.shop import (
    Lettering,
    Piece,
    Shop,
    Stroke,
    doubtful,
    draws_contacts,
    is_foot,
    link_nets,
    relay_coils,
)
from wiregen.draw.schematic.terminals import terminal_names
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Conductor,
    Contact,
    Element,
    Lamp,
    Load,
    RelayContact,
    ends,
)

_TRACK_MM: Final = 1.7
_EDGE_MM: Final = 1.3
_STRAIGHT_MM: Final = 0.8
_DOT_MM: Final = 0.65
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
        beyond: For a connector whose other side is on another sheet, the words that say so.
        prefix: Start of every id, so that the sheets of one schematic can stand in one page.
        order: ``order`` of a drawing of the same elements at another size, to save looking for it again.
    """

    def __init__(
        self,
        circuit: Circuit,
        elements: Sequence[Element],
        size_mm: float,
        *,
        exits: Mapping[str, str] | None = None,
        beyond: Mapping[str, str] | None = None,
        prefix: str = "",
        order: Sequence[str] = (),
    ) -> None:
        self.circuit = circuit
        self.elements = elements
        self.text = Lettering(size_mm)
        self.exits = exits or {}
        self.beyond = beyond or {}
        self.prefix = prefix
        self._known_order = tuple(order)
        self.hitch = frozenset(e.ref for e in circuit.elements if is_hitch(e, circuit))
        self.side: Mapping[str, Sides] = sides(circuit)
        self.batteries = [e for e in elements if isinstance(e, Battery) and e.zone == "vehicle"]
        self.links = link_nets(elements)
        # The coils of a network whose contacts are drawn one by one have no link to it.
        self._pulls = [
            (element.ref, *element.gate.coils.values())
            for element in elements
            if isinstance(element, RelayContact) and draws_contacts(element.gate)
        ]
        self.link_nets = frozenset(net for nets in self.links.values() for net in nets)
        self._ending: dict[str, list[Element]] = {}
        for element in circuit.elements:
            for terminal in ends(element):
                self._ending.setdefault(terminal, []).append(element)
        self.poles = vehicle_poles(self.batteries, self.text, stretched=True)
        self.pieces = self._pieces()
        self._laid_out: Placed | None = None

    @property
    def description(self) -> str:
        """What the drawing shows, in words."""
        lamps = [e for e in self.elements if isinstance(e, Lamp | Load)]
        contacts = sum(isinstance(e, Contact) for e in self.elements)
        fed = ", ".join(dict.fromkeys(circuit_word(e.circuit) for e in lamps))
        return (
            f"Circuit diagram of {self.circuit.title} with {self.circuit.trailer or 'its trailer'}: "
            f"{contacts} connector contacts, {len(lamps)} lamps and loads" + (f" on {fed}." if fed else ".")
        )

    # -- what is drawn ----------------------------------------------------------------------------------------------

    def _pieces(self) -> list[Piece]:
        drawn = [element for element in self.elements if element not in self.batteries]
        column = columns(drawn, self.side, frozenset(self.poles.spots), self.hitch)
        if not self.batteries:
            column = {ref: place - 1 for ref, place in column.items()}
        shop = Shop(
            side=self.side,
            column=column,
            text=self.text,
            links=self.links,
            hitch=self.hitch,
            relays=relay_coils(self.circuit.elements),
            doubtful=doubtful(self.circuit),
            poles=frozenset(t for e in self.circuit.of(Battery) if e.zone == "vehicle" for t in (e.a, e.b)),
        )
        pieces = [*self.poles.pieces]
        pieces += [piece_of(shop, element, self._rank(index, element)) for index, element in enumerate(drawn)]
        first = {e.connector: column[e.ref] for e in reversed(drawn) if isinstance(e, Contact)}
        free = [free_contacts(self.circuit, name, place, self.text) for name, place in first.items()]
        pieces += [piece for piece in free if piece is not None]
        pieces += arrows(self.exits, pieces, self.text)
        lowest = min((piece.part.column for piece in pieces), default=0)
        self._battery_column = -lowest
        return [replace(p, part=replace(p.part, column=p.part.column - lowest)) for p in pieces]

    def _rank(self, index: int, element: Element) -> float:
        # The hitch goes under the grounds, the grounds under every feed.
        if element.ref in self.hitch:
            return LAST_RANK / 2
        return index + (LAST_RANK / 4 if is_foot(element) else 0.0)

    # -- where it goes ----------------------------------------------------------------------------------------------

    def may_fit(self, room: Box) -> bool:
        """Return whether the columns alone leave a chance to fit into ``room``; quick, before anything is placed."""
        heights: dict[int, float] = {}
        for piece in self.pieces:
            heights[piece.part.column] = heights.get(piece.part.column, 0.0) + piece.part.up + piece.part.down
        tallest = max(heights.values(), default=0.0)
        return math.fsum(self._widths.values()) <= room.width and tallest + HEADER_MM <= room.height

    def fits(self, room: Box) -> bool:
        """Return whether the drawing fits into ``room`` at its size of lettering."""
        return self.may_fit(room) and self._tight.height + HEADER_MM <= room.height and self._width <= room.width

    @property
    def _tight(self) -> Placed:
        """The heights with the narrowest gaps, worked out when first asked for."""
        if self._laid_out is None:
            self._laid_out = self._lay_out()
            if self._is_upside_down(self._laid_out):
                self.poles = vehicle_poles(self.batteries, self.text, stretched=False)
                self.pieces = self._pieces()
                self._laid_out = self._lay_out()
        return self._laid_out

    def _lay_out(self) -> Placed:
        parts = [piece.part for piece in self.pieces]
        return layout(parts, links=self.link_nets, pulls=self._pulls, order=self._known_order)

    def _is_upside_down(self, placed: Placed) -> bool:
        """Return whether the rows came out so that the minus of a stretched battery lies above its plus."""
        y = {terminal: placed.y[key] + dy for terminal, (key, dy) in self.poles.spots.items()}
        return any(y[battery.a] > y[battery.b] for battery in self.batteries)

    @property
    def order(self) -> tuple[str, ...]:
        """The order of the rows as far as it is known, for a drawing of the same elements at another size."""
        return self._laid_out.order if self._laid_out else self._known_order

    @cached_property
    def _widths(self) -> dict[int, float]:
        widths: dict[int, float] = {}
        for piece in self.pieces:
            widths[piece.part.column] = max(widths.get(piece.part.column, 0.0), piece.part.width)
        return widths

    @property
    def _width(self) -> float:
        return math.fsum(self._widths.values()) + math.fsum(
            _channel_mm(r.tracks) for r in self._routes(self._tight).values()
        )

    def _routes(self, placed: Placed) -> dict[int, Routed]:
        return {channel: route(placed.taps.get(channel, ())) for channel in range(max(self._widths) + 1)}

    def _across(self, routes: Mapping[int, Routed], room: Box) -> _Across:
        need = {channel: _channel_mm(routed.tracks) for channel, routed in routes.items()}
        spare = max(0.0, room.width - math.fsum(self._widths.values()) - math.fsum(need.values()))
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
        fill_mm = room.height - HEADER_MM
        placed = layout(parts, links=self.link_nets, pulls=self._pulls, fill_mm=fill_mm, order=self._tight.order)
        routes = self._routes(placed)
        across = self._across(routes, room)
        top = room.y0 + HEADER_MM
        runs = self._runs(placed, routes, across, top)
        dots: dict[str, list[Point]] = {}
        for channel, routed in routes.items():
            for net, track, y in routed.dots:
                dots.setdefault(net, []).append((across.x(channel, track), top + y))

        def stroke(points: Sequence[Point], net: str) -> tuple[Item, ...]:
            runs.setdefault(net, []).extend((start, end, self._look(net)) for start, end in pairwise(points))
            if len(self._ending.get(net, ())) > 1 or net in self.link_nets:
                return ()
            # Nothing else is on this terminal: an open end.
            x, y = next((p for p in points if p[0] in edges), points[0])
            return (Circle(x, y, _DOT_MM, Pen(fill="white"), css_class="open"),)

        drawn = []
        for piece in self.pieces:
            x0, x1 = edges = across.column[piece.part.column]
            drawn.append(self._group(piece, piece.draw(x0, x1, top + placed.y[piece.part.key], stroke)))
        for battery in self.batteries:
            (plus, up), (minus, down) = self.poles.spots[battery.a], self.poles.spots[battery.b]
            heights = (top + placed.y[plus] + up, top + placed.y[minus] + down)
            edges = across.column[self._battery_column]
            piece = Piece(self.poles.pieces[0].part, _nothing, battery, battery.title)
            drawn.append(self._group(piece, plates(battery, self.text, edges[1], heights, stroke)))
            if any(other.a == battery.b for other in self.batteries):
                dots.setdefault(battery.b, []).append((plates_x(edges[1]), heights[1]))
        blocks = self._blocks(across, placed, top)
        items = (
            *self._zones(blocks, across, room, top + placed.height),
            *shells(blocks, self.circuit, self.prefix),
            *(self._net(net, runs[net], dots.get(net, [])) for net in sorted(runs)),
            *drawn,
        )
        return (*items, *terminal_names(items, self.circuit, self.side, room, self.exits))

    def _zones(self, blocks: Mapping[str, Box], across: _Across, room: Box, foot: float) -> list[Item]:
        zone_of = [
            (math.fsum(across.column[piece.part.column]) / 2, piece.element.zone)
            for piece in self.pieces
            if piece.element is not None and not isinstance(piece.element, Contact)
        ]
        labels = {name: connector_label(name, self.circuit, self.beyond.get(name, "")) for name in blocks}
        return zones(blocks, zone_of, labels, self.circuit, room, foot, self.text.size_mm)

    def _blocks(self, across: _Across, placed: Placed, top: float) -> dict[str, Box]:
        """Return the room of each connector's contacts, mm."""
        found: dict[str, Box] = {}
        for name in dict.fromkeys(piece.part.block for piece in self.pieces if piece.part.block):
            parts = [piece.part for piece in self.pieces if piece.part.block == name]
            middle = math.fsum(across.column[parts[0].column]) / 2
            half = max(part.width for part in parts) / 2 - 0.6
            high = min(top + placed.y[part.key] - part.up for part in parts)
            low = max(top + placed.y[part.key] + part.down for part in parts)
            found[name] = Box(middle - half, high, middle + half, low)
        return found

    def _group(self, piece: Piece, children: tuple[Item, ...]) -> Group:
        element = piece.element
        if element is None:
            return Group(css_class="note", children=children)
        kind = type(element).__name__.lower()
        title = piece.title if piece.title.startswith(element.ref) else f"{element.ref}: {piece.title}".rstrip(": ")
        return Group(
            id=self.prefix + safe_id("part", element.ref),
            css_class=f"part {kind}",
            title=title,
            data=(("ref", element.ref), ("circuit", element.circuit)),
            children=children,
        )

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
            for run in wires.merged(looks[look]):
                for depth, item in enumerate(_LOOKS[look.split(":")[0]](run, look.partition(":")[2])):
                    if depth == len(layers):
                        layers.append([])
                    layers[depth].append(item)
        link = net in self.link_nets
        if not link:
            layers.append([Circle(x, y, _DOT_MM, Pen(width_mm=0, fill="black"), css_class="dot") for x, y in dots])
        return Group(
            id=self.prefix + safe_id("net", net),
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


#: How wires are drawn, by the first word of their look; the second argument is the colour.
_LOOKS: Final[dict[str, Callable[[Sequence[Point], str], tuple[Item, ...]]]] = {
    "conductor": lambda points, colour: wires.conductor(points, colour, round_ends=True),
    "joint": lambda points, _: wires.joint(points),
    "link": lambda points, _: wires.link(points),
    "unintended": lambda points, _: wires.unintended(points),
}


def _channel_mm(tracks: int) -> float:
    return _STRAIGHT_MM if tracks == 0 else 2 * _EDGE_MM + (tracks - 1) * _TRACK_MM


def _nothing(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
    del x0, x1, y, stroke
    return ()
