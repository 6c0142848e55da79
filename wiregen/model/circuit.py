"""The electrical circuit of one rig with one trailer coupled: elements between terminals.

Reference direction: the current of an element is positive from terminal ``a`` to terminal ``b``. ``a`` is the side of
the battery's plus for everything in a feed, and the lamp side for everything in a return. All voltages are against the
minus terminal of the vehicle battery. Every element has a resistance above zero; nothing is ideal.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal, TypeVar

from wiregen.model.contacts import Gate as Gate

if TYPE_CHECKING:
    import networkx as nx

    from wiregen.model.contacts import Network
    from wiregen.model.logic import Expression
    from wiregen.model.origin import Origin
    from wiregen.model.stretch import Stretch
    from wiregen.quantity import ConductorSize

Zone = Literal["vehicle", "adapter", "trailer"]
#: What lies across a coil; empty where nobody says.
Suppression = Literal["", "none", "diode", "resistor"]


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
    ``nominal_v`` is the system it is made for, 0 where nobody says; ``max_v`` is the most its terminals may see, and
    ``capacity_ah`` its 20 h capacity. A battery on the trailer charges while its current is positive.
    """

    voltage_v: float
    resistance_ohm: float
    low_v: float | None = None
    charging_v: float | None = None
    nominal_v: float = 0.0
    max_v: float = math.inf
    capacity_ah: float | None = None


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
    """A fuse; ``resistance_ohm`` is cold. ``breaker`` is the SAE J553 type where it is a circuit breaker."""

    rating_a: float
    breaker: str = ""

    @property
    def kind_word(self) -> str:
        """Return ``fuse`` or ``breaker``, whichever it is."""
        return "breaker" if self.breaker else "fuse"


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
class Resistor(Resistive):
    """A resistor in a feed, to drop voltage; ``power_w`` is what it is rated for, None where nobody says."""

    power_w: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Diode(Element):
    """A blocking diode; ``a`` is the anode.

    Two straight lines: ``leak_ohm`` always, and ``resistance_ohm`` behind ``drop_v`` once it conducts. The leak stands
    for the reverse current; it also gives a terminal behind a diode that blocks a voltage without a numerical crutch.
    """

    drop_v: float
    resistance_ohm: float
    leak_ohm: float
    rating_a: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch(Resistive):
    """A contact that the driver or the flasher works; closed while ``live`` is true."""

    live: Expression


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil(Resistive):
    """A relay coil, or the control input of a solid-state channel; only a coil of copper changes with temperature.

    ``resistance_ohm`` is what a meter shows: the winding with its suppression resistor beside it. A suppression diode
    carries no current while the coil is on, but gives it a polarity.

    Attributes:
        pick_up_v: Voltage at which it pulls in, V.
        drop_out_v: Voltage below which it lets go, V.
        is_copper: Whether it is a winding.
        suppression: What lies across it against its switching spike; empty where nobody says.
        suppression_ohm: Resistance of a suppression resistor, ohm.
    """

    pick_up_v: float
    drop_out_v: float
    is_copper: bool = True
    suppression: Suppression = ""
    suppression_ohm: float = math.inf

    @property
    def winding_ohm(self) -> float:
        """Resistance of the winding alone, ohm."""
        return 1 / (1 / self.resistance_ohm - 1 / self.suppression_ohm)

    def with_winding(self, winding_ohm: float) -> float:
        """Return the resistance across the coil when its winding has ``winding_ohm``, ohm."""
        return parallel_ohm(winding_ohm, self.suppression_ohm)


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayContact(Resistive):
    """Relay contacts or a solid-state switch, closed while the gate is on.

    One element stands for the whole contact network of a channel; ``resistance_ohm`` is that of the most contacts that
    the current passes one behind another.

    Attributes:
        gate: What works it.
        rating_a: Continuous current it is rated for, A; None where nobody says.
        device: What it is, a word of ``wiregen.catalogue.devices``.
        make_a: Most it may close on, A; None where nobody says.
        rated_at: System voltage its rating holds for, ``12 V`` or ``24 V``; empty where nobody says.
        rated_for: Load its rating holds for, ``resistive`` or ``lamp``; empty where nobody says.
    """

    gate: Gate
    rating_a: float | None
    device: str = "relay"
    make_a: float | None = None
    rated_at: str = ""
    rated_for: str = ""

    @property
    def is_relay(self) -> bool:
        """Whether it is a contact that arcs, bounces and welds, and no electronic switch."""
        return self.device == "relay"

    @property
    def kind_word(self) -> str:
        """Return ``relay contact`` or ``solid-state switch``, whichever it is."""
        return "relay contact" if self.is_relay else "solid-state switch"

    @property
    def network(self) -> Network | None:
        """The contacts and how they are joined; None for a single make contact and for a solid-state switch."""
        return self.gate.network

    @property
    def words(self) -> str:
        """The contact network in words; empty where there is none."""
        return self.gate.words

    @property
    def ties(self) -> tuple[tuple[str, ...], ...]:
        """Groups of terminals that the wires of the contact network join, from ``a`` to ``b``; none without one."""
        return self.gate.ties(self.a, self.b)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp(Element):
    """One or more equal lamps in parallel.

    Attributes:
        count: Number of lamps.
        technology: ``filament``, ``led`` (a regulated lamp: constant power above ``cut_off_v``), or ``points``
            (measured: straight lines between ``points``, 0 A at 0 V, the last current held above the last point).
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
        points: Measured voltages, V, rising, each with the current of one lamp, A.
    """

    count: int
    technology: Literal["filament", "led", "points"]
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
    points: tuple[tuple[float, float], ...] = ()
    type_name: str = ""
    source: str = ""
    support: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load(Resistive):
    """A plain resistance of copper that does work: brake magnets, a lock-out solenoid; ``hot_c`` in long use, °C."""

    count: int
    function: str
    nominal_v: float
    max_v: float
    hot_c: float = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Converter(Element):
    """A step-down converter with common minus: ``a`` input plus, ``b`` output plus.

    Output: ``min(output_v, ratio × input)`` behind ``resistance_ohm``, and no more than ``limit_a``, which falls in a
    straight line to ``foldback × limit_a`` at a short; it never takes current back. Input: output power over
    ``efficiency``, plus ``idle_a``. Off below ``minimum_input_v`` or while its gate is shut. ``peak_a`` it gives for a
    short time; above ``derate_from_c`` in its surroundings ``continuous_a`` falls by the share ``derate_per_k`` a
    kelvin. Above ``maximum_input_v`` it is not made to work. ``device`` is what it was made for, a word of
    ``wiregen.catalogue.devices``.
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
    peak_a: float | None = None
    ambient_c: float = 20.0
    derate_from_c: float = math.inf
    derate_per_k: float = 0.0
    maximum_input_v: float = math.inf
    device: str = "converter"


@dataclass(frozen=True, slots=True, kw_only=True)
class Equaliser(Converter):
    """What feeds the lower battery of a pair from both: ``a`` plus of the pair, ``b`` its centre, ``common`` minus.

    It gives at the centre half of the voltage across the pair, up to ``limit_a``; it never takes current back. Its
    three leads are no elements of their own: ``lead_m`` long, of ``lead_size``; ``fuse_a`` is the rating of the fuses
    in plus and centre, None without any.
    """

    device: str = "centre_tap"
    lead_m: float = 0.0
    lead_size: ConductorSize | None = None
    fuse_a: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shell:
    """A connector as it appears in a circuit.

    Attributes:
        short: Short name to print.
        marks: Every contact mark, in the order of the pinout; those without a Contact element are not used.
        words: What each contact does, by mark.
        support: How well that is supported, as the sign printed beside it (``2``, ``1``, ``M``, ``≠``), by mark.
    """

    short: str
    marks: tuple[str, ...]
    words: Mapping[str, str]
    support: Mapping[str, str] = field(default_factory=dict)


def parallel_ohm(first_ohm: float, second_ohm: float) -> float:
    """Return two resistances in parallel, ohm; either may be infinite."""
    return 1 / (1 / first_ohm + 1 / second_ohm) if first_ohm < math.inf or second_ohm < math.inf else math.inf


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
        return self.reached(fuse.b)

    def reached(self, start: str, *barred: str) -> list[Conductor]:
        """Return the conductors that a terminal feeds without a fuse between: up to a fuse, load, coil or supply.

        Args:
            start: Terminal to start from.
            barred: Terminals not to pass.
        """
        found: dict[str, Conductor] = {}
        todo, seen = [start], {start, self.reference, *barred}
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
        """The fuse that protects each conductor, by the conductor's ref.

        A charge line is fed from both ends: its fuse is the adapter's, and that of the trailer's battery only where
        there is no other.
        """
        fuses = sorted(self.of(Fuse), key=lambda fuse: fuse.zone != "trailer")
        return {conductor.ref: fuse for fuse in fuses for conductor in self.behind(fuse)}

    def graph(self, without: Collection[str] = ()) -> nx.MultiGraph:
        """Make the circuit's networkx multigraph: nodes are terminals, edges are elements.

        Each edge stands under its element's ref and carries the ``element``. A converter is two edges, ``ref/in`` from
        its input and ``ref/out`` from its output to its common minus. ``wiregen.model.connection`` asks it questions.

        Args:
            without: Keys of edges to leave out, such as the refs of open switches.
        """
        import networkx as nx

        graph = nx.MultiGraph(title=self.title)
        graph.add_nodes_from(self.terminals)
        for element in self.elements:
            edges = [(element.a, element.b, element.ref)]
            if isinstance(element, Converter):
                edges = [
                    (end, element.common, f"{element.ref}/{way}")
                    for end, way in ((element.a, "in"), (element.b, "out"))
                ]
            graph.add_edges_from((a, b, key, {"element": element}) for a, b, key in edges if key not in without)
        return graph


def ends(element: Element) -> tuple[str, ...]:
    """Return the terminals of an element: two, or three for a converter."""
    if isinstance(element, Converter):
        return element.a, element.b, element.common
    return element.a, element.b
