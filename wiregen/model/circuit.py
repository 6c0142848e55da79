"""The electrical circuit of one rig with one trailer coupled: elements between terminals.

Reference direction: the current of an element is positive from terminal ``a`` to terminal ``b``. ``a`` is the side of
the battery's plus for everything in a feed, and the lamp side for everything in a return. All voltages are against the
minus terminal of the vehicle battery. Every element has a resistance above zero; nothing is ideal.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal, TypeVar

if TYPE_CHECKING:
    import networkx as nx

    from wiregen.model.logic import Expression
    from wiregen.model.origin import Origin
    from wiregen.quantity import ConductorSize

Zone = Literal["vehicle", "adapter", "trailer"]
#: Which stretch of the rig a conductor runs over; these are also the words of ``[[run]]`` in a rig file.
Stretch = Literal[
    "battery-socket",
    "socket-chassis",
    "battery-adapter",
    "adapter-chassis",
    "socket-adapter",
    "inside",
    "adapter-trailer",
    "plug-splice",
    "splice-lamp",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """Anything with two ends.

    Attributes:
        ref: Reference designation after IEC 81346-2, unique in the circuit.
        a: First terminal.
        b: Second terminal.
        circuit: The lighting function it carries (``wiregen.catalogue.circuits``), or the name of a tap.
        zone: Where it is.
        title: Words for people.
        origin: Where the user wrote it, when they did.
        channel: Name of the adapter channel it belongs to, or an empty text.
    """

    ref: str
    a: str
    b: str
    circuit: str
    zone: Zone
    title: str = ""
    origin: Origin | None = None
    channel: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery(Element):
    """A voltage behind a resistance; ``a`` is plus, ``b`` is minus.

    ``voltage_v`` is the running voltage; ``low_v`` and ``charging_v`` are its extremes, equal to it where not known.
    """

    voltage_v: float
    resistance_ohm: float
    low_v: float | None = None
    charging_v: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistive(Element):
    """Base of everything that is one fixed resistance while it conducts."""

    resistance_ohm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Conductor(Resistive):
    """A wire. ``resistance_ohm`` is at ``temperature_c``."""

    stretch: Stretch
    length_m: float
    size: ConductorSize
    temperature_c: float
    insulation_c: float
    ambient_c: float
    bundle: int = 1
    colour: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuse(Resistive):
    """A fuse; ``resistance_ohm`` is cold."""

    rating_a: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact(Resistive):
    """A mated pair of connector contacts."""

    connector: str
    mark: str
    rating_a: float | None
    rating_source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Path(Resistive):
    """A metal path that is no wire: chassis, frame, hitch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch(Resistive):
    """A contact that the driver or the flasher works; closed while ``live`` is true."""

    live: Expression


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil(Resistive):
    """A relay coil, or the control input of a solid-state channel; only a coil of copper changes with temperature."""

    pick_up_v: float
    drop_out_v: float
    is_copper: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """What closes a relay contact or enables a converter: logic over the coils that hear vehicle circuits."""

    logic: Expression
    coils: Mapping[str, str]

    def is_open_to(self, pulled: set[str] | frozenset[str]) -> bool:
        """Return whether the gate is on with the coils in ``pulled`` (their refs) pulled in."""
        return self.logic.value(lambda name: self.coils[name] in pulled)


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayContact(Resistive):
    """A relay contact or solid-state switch, closed while its gate is on."""

    gate: Gate
    rating_a: float | None
    device: str = "relay"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp(Element):
    """One or more equal lamps in parallel.

    Attributes:
        count: Number of lamps.
        technology: ``filament``, or ``led`` (a regulated lamp: constant power above ``cut_off_v``).
        rated_v: Voltage at which ``rated_a`` flows, V.
        rated_a: Current of one lamp at ``rated_v``, A.
        peak_a: Highest current of one lamp that the standard allows, A, for sizing.
        cold_ratio: Filament: cold resistance over hot resistance.
        cut_off_v: LED: voltage below which it draws nothing, V.
        min_v: LED: lowest voltage it is made for, V; 0 where none is known.
        max_v: Highest continuous voltage, V.
        function: What the lamp is there for; its duty follows from it.
        side: left, right, both, centre or an empty text.
        nominal_v: Nominal system voltage the lamp is made for, V.
    """

    count: int
    technology: Literal["filament", "led"]
    rated_v: float
    rated_a: float
    peak_a: float
    nominal_v: float
    max_v: float
    function: str
    side: str = ""
    cold_ratio: float = 0.1
    cut_off_v: float = 0.0
    min_v: float = 0.0
    type_name: str = ""
    source: str = ""
    support: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load(Resistive):
    """A plain resistance that does work: brake magnets, a lock-out solenoid."""

    count: int
    function: str
    nominal_v: float
    max_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Converter(Element):
    """A step-down converter with common minus: ``a`` input plus, ``b`` output plus.

    Output: ``min(output_v, ratio × input)`` behind ``resistance_ohm``, and no more than ``limit_a``, which falls in a
    straight line to ``foldback × limit_a`` at a short; it never takes current back. Input: output power over
    ``efficiency``, plus ``idle_a``. Off below ``minimum_input_v`` or while its gate is shut.
    """

    common: str
    output_v: float
    ratio: float
    resistance_ohm: float
    efficiency: float
    idle_a: float
    minimum_input_v: float
    continuous_a: float | None
    limit_a: float = math.inf
    foldback: float = 1.0
    gate: Gate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shell:
    """A connector as it appears in a circuit.

    Attributes:
        short: Short name to print.
        marks: Every contact mark, in the order of the pinout; those without a Contact element are not used.
        words: What each contact does, by mark.
    """

    short: str
    marks: tuple[str, ...]
    words: Mapping[str, str]


E = TypeVar("E", bound=Element)


@dataclass(frozen=True)
class Circuit:
    """All elements of one rig with one trailer coupled.

    Attributes:
        title: Title of the rig.
        trailer: Name of the coupled trailer.
        elements: In building order: battery to lamp.
        reference: Terminal all voltages are against.
        stop_wins: Vehicle habit, see ``wiregen.model.state``.
        shells: The connectors by their designation, ``-X1`` first.
    """

    title: str
    trailer: str
    elements: tuple[Element, ...]
    reference: str
    stop_wins: bool
    shells: Mapping[str, Shell] = field(default_factory=dict)

    @cached_property
    def by_ref(self) -> dict[str, Element]:
        """Every element by its reference designation."""
        return {element.ref: element for element in self.elements}

    @cached_property
    def terminals(self) -> tuple[str, ...]:
        """Every terminal, the reference first, in building order."""
        seen = {self.reference: None}
        for element in self.elements:
            for terminal in ends(element):
                seen[terminal] = None
        return tuple(seen)

    def of(self, kind: type[E]) -> list[E]:
        """Return the elements of one class, in building order."""
        return [element for element in self.elements if isinstance(element, kind)]

    def behind(self, fuse: Fuse) -> list[Conductor]:
        """Return the conductors a fuse protects: those behind it up to the next fuse, load, coil or supply."""
        found: dict[str, Conductor] = {}
        todo, seen = [fuse.b], {fuse.b, self.reference}
        while todo:
            for element in self._passing.get(todo.pop(), ()):
                if isinstance(element, Conductor):
                    found[element.ref] = element
                for end in (element.a, element.b):
                    if end not in seen:
                        seen.add(end)
                        todo.append(end)
        return list(found.values())

    @cached_property
    def _passing(self) -> dict[str, list[Element]]:
        """Elements that pass a fault current on, by terminal."""
        touching: dict[str, list[Element]] = {}
        for element in self.elements:
            if not isinstance(element, Battery | Coil | Converter | Fuse | Lamp | Load):
                touching.setdefault(element.a, []).append(element)
                touching.setdefault(element.b, []).append(element)
        return touching

    @cached_property
    def fuse_of(self) -> dict[str, Fuse]:
        """The fuse that protects each conductor, by the conductor's ref."""
        return {conductor.ref: fuse for fuse in self.of(Fuse) for conductor in self.behind(fuse)}

    @cached_property
    def graph(self) -> nx.MultiGraph:
        """The circuit as a networkx multigraph: nodes are terminals, each edge carries its ``element`` under its ref.

        A converter is two edges: input to common and output to common.
        """
        import networkx as nx

        graph = nx.MultiGraph(title=self.title)
        graph.add_nodes_from(self.terminals)
        for element in self.elements:
            if isinstance(element, Converter):
                graph.add_edge(element.a, element.common, key=f"{element.ref}/in", element=element)
                graph.add_edge(element.b, element.common, key=f"{element.ref}/out", element=element)
            else:
                graph.add_edge(element.a, element.b, key=element.ref, element=element)
        return graph


def ends(element: Element) -> tuple[str, ...]:
    """Return the terminals of an element: two, or three for a converter."""
    if isinstance(element, Converter):
        return element.a, element.b, element.common
    return element.a, element.b
