"""Every way of the current in every setting of a circuit's contacts, asked of its graph."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from wiregen.circuit.behaviour import Nets, Switchboard
from wiregen.model.circuit import Battery, Circuit, Coil, Converter, Equaliser, Lamp, Load, RelayContact
from wiregen.model.connection import MOST_WAYS, between, directed, single, ways

if TYPE_CHECKING:
    import networkx as nx

#: What current is led to. A battery on the trailer is led to when the vehicle charges it.
Consumer = Lamp | Load | Coil | Battery
_Closed = tuple[bool, ...]
_Known = dict[tuple[str, str, frozenset[tuple[str, str, str]]], tuple[tuple[str, ...], ...]]


def consumers(circuit: Circuit) -> list[Lamp | Load | Battery]:
    """Return the lamps, loads and batteries on the trailer, in building order."""
    charged = [battery for battery in circuit.of(Battery) if battery.zone == "trailer"]
    return [*circuit.of(Lamp), *circuit.of(Load), *charged]


@dataclass(frozen=True, slots=True)
class Route:
    """One way of the current.

    Attributes:
        refs: The parts it passes, its battery among them: the first of a feed, the last of a way back.
        terminals: What it passes between them, from end to end.
        lead: How many parts lie before the first terminal.
    """

    refs: tuple[str, ...]
    terminals: tuple[str, ...]
    lead: int


@dataclass
class Moment:
    """One setting of the switches, with its relays at rest.

    Attributes:
        circuit: The circuit.
        nets: What is live and what is ground.
        opened: Refs of the open switches.
        known: Ways found so far, in all settings of the circuit.
        more: Whether there are more ways between two points than were followed, of those asked for so far.
    """

    circuit: Circuit
    nets: Nets
    opened: frozenset[str]
    known: _Known
    more: bool = field(default=False, init=False)
    _loops: dict[str, tuple[tuple[Route, ...], tuple[Route, ...]]] = field(default_factory=dict, init=False)

    @cached_property
    def _base(self) -> nx.MultiGraph:
        """The graph of all that conducts and is no load."""
        opened = {e.ref for e in self.circuit.of(RelayContact) if not e.gate.is_open_to(self.nets.pulled)}
        loads = {e.ref for e in self.circuit.elements if isinstance(e, Lamp | Load | Coil | Battery)}
        halves = {f"{e.ref}/{half}" for e in self.circuit.of(Converter) for half in ("in", "out")}
        return self.circuit.graph(self.opened | opened | loads | halves)

    @cached_property
    def feed(self) -> nx.MultiGraph:
        """What conducts and is live; a converter that runs leads from its input to its output."""
        graph = self._only(self.nets.live)
        for converter in self.circuit.of(Converter):
            runs = converter.gate is None or converter.gate.is_open_to(self.nets.pulled)
            live = converter.a in graph and converter.b in graph and converter.common in self.nets.ground
            if runs and live and not isinstance(converter, Equaliser):
                graph.add_edge(converter.a, converter.b, key=converter.ref, element=converter)
        return graph

    @cached_property
    def back(self) -> nx.MultiGraph:
        """What conducts and leads to battery minus."""
        return self._only(self.nets.ground)

    def _only(self, terminals: Collection[str]) -> nx.MultiGraph:
        graph = self._base.copy()
        graph.remove_nodes_from([name for name in graph if name not in terminals])
        return graph

    @cached_property
    def _directed(self) -> tuple[nx.MultiDiGraph, nx.MultiDiGraph]:
        return directed(self.feed), directed(self.back)

    def lies(self, consumer: Consumer) -> tuple[str, str] | None:
        """Return the live and the ground end of what is on; None for what is off."""
        for live, ground in ((consumer.a, consumer.b), (consumer.b, consumer.a)):
            if live in self.nets.live and ground in self.nets.ground:
                return (live, ground) if not isinstance(consumer, Battery) or self._sources(consumer) else None
        return None

    def _sources(self, consumer: Consumer) -> list[Battery]:
        """Return the batteries that feed a consumer: those of the vehicle and the adapter, else one on the trailer."""
        from networkx import has_path

        graph = self._directed[0]
        found = [
            battery
            for battery in self.circuit.of(Battery)
            if battery is not consumer
            for end in (consumer.a, consumer.b)
            if battery.a in graph and end in graph and has_path(graph, battery.a, end)
        ]
        own = [battery for battery in found if battery.zone != "trailer"]
        return own or ([] if isinstance(consumer, Battery) else found)

    def loops(self, consumer: Consumer) -> tuple[tuple[Route, ...], tuple[Route, ...]]:
        """Return every way to a consumer from the batteries, and every way from it back; none where it is off."""
        if consumer.ref not in self._loops:
            self._loops[consumer.ref] = self._found(consumer)
        return self._loops[consumer.ref]

    def _found(self, consumer: Consumer) -> tuple[tuple[Route, ...], tuple[Route, ...]]:
        ends = self.lies(consumer)
        if ends is None:
            return (), ()
        feed, back = self._directed
        feeds, backs = dict[Route, None](), dict[Route, None]()
        for battery in self._sources(consumer):
            here = self._ways(feed, battery.a, ends[0])
            there = self._ways(back, ends[1], self._bottom(battery))
            there = there or self._ways(back, ends[1], self.circuit.reference)
            self.more |= MOST_WAYS in (len(here), len(there))
            feeds |= dict.fromkeys(Route((battery.ref, *way), self._along(battery.a, way), 1) for way in here)
            backs |= dict.fromkeys(Route((*way, battery.ref), self._along(ends[1], way), 0) for way in there)
        return tuple(feeds), tuple(backs)

    def _ways(self, graph: nx.MultiDiGraph, start: str, goal: str) -> tuple[tuple[str, ...], ...]:
        """Return the ways in a graph; what another setting had between the same two is not searched again."""
        key = (start, goal, between(graph, start, goal))
        if key not in self.known:
            self.known[key] = ways(key[2], start, goal)
        return self.known[key]

    def _along(self, start: str, way: tuple[str, ...]) -> tuple[str, ...]:
        """Return the terminals that a way passes, its ends among them."""
        passed = [start]
        for part in map(self.circuit.by_ref.__getitem__, way):
            passed.append(part.b if passed[-1] == part.a else part.a)
        return tuple(passed)

    def _bottom(self, battery: Battery) -> str:
        """Return the minus of a battery, of a stack that of the lowest."""
        minus = battery.b
        below = {other.a: other.b for other in self.circuit.of(Battery)}
        while minus in below:
            minus = below.pop(minus)
        return minus

    def no_second(self, consumer: Consumer) -> frozenset[str]:
        """Return the refs of the parts on its ways that have no second way round them, itself among them."""
        ends = self.lies(consumer)
        sources = self._sources(consumer) if ends else []
        if ends is None or len(sources) != 1:
            return frozenset()
        minus = self._bottom(sources[0])
        return single(self.feed, sources[0].a, ends[0]) | single(self.back, ends[1], minus) | {consumer.ref}


class Moments:
    """Every setting of a circuit's switches that the controls can make."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.board = Switchboard(circuit)
        self._made: dict[_Closed, Moment] = {}
        self._known: _Known = {}

    def at(self, closed: _Closed) -> Moment:
        """Return one setting; equal settings are worked out once."""
        if closed not in self._made:
            pairs = zip(self.board.switches, closed, strict=True)
            opened = frozenset(switch.ref for switch, is_closed in pairs if not is_closed)
            self._made[closed] = Moment(self.circuit, self.board.nets(closed), opened, self._known)
        return self._made[closed]

    def __iter__(self) -> Iterator[Moment]:
        return iter(self._made.values())
