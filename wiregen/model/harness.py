"""What a harness shop needs beside the chart: cut list, splices, labels, parts, order of assembly, what to prove."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from wiregen.model.finding import Assumption
from wiregen.quantity import parse

#: Sign of a fact of the trade for which no source was found.
PRACTICE: Final = "common practice, no source"
_FOOT_M: Final = parse("1 ft", "length")

Continuity = Literal["joined", "coil", "input", "open"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRow:
    """One conductor of the harness, ready to cut.

    Attributes:
        ref: ``W4``.
        start: Terminal of one end, ``X1:E``.
        end: Terminal of the other end, ``K1:86``.
        circuit: Words of the function.
        colour: IEC 60757 code, empty when the rig leaves it free.
        colour_word: In words, as in the chart.
        size: As written, ``2.5 mm²``.
        length_m: Length between the ends as the rig states it, m.
        cut_m: Length to cut, with the allowance, rounded up, m.
        start_finish: What is put on the first end.
        end_finish: What is put on the second end.
        fuse: Fuse that protects it, as in the chart.
        trailer: Trailer it serves, or an empty text for all.
    """

    ref: str
    start: str
    end: str
    circuit: str
    colour: str
    colour_word: str
    size: str
    length_m: float
    cut_m: float
    start_finish: str
    end_finish: str
    fuse: str
    trailer: str

    @property
    def length_ft(self) -> float:
        """Length between the ends, ft."""
        return self.length_m / _FOOT_M

    @property
    def cut_ft(self) -> float:
        """Length to cut, ft."""
        return self.cut_m / _FOOT_M


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """Terminals that are one electrical point: a splice, a bar, or a joint inside the adapter.

    Attributes:
        name: ``SP1`` of a splice, ``A1:0V`` of a bar, the terminal's own name otherwise.
        kind: ``splice``, ``bar``, ``joint`` inside the adapter, or ``trailer`` for one in the trailer's own wiring.
        at: Where it is, in words.
        joins: What is joined, conductors first.
        sizes: Sizes of the conductors joined, largest first, each once.
        how: How it is made, in words.
    """

    name: str
    kind: Literal["splice", "bar", "joint", "trailer"]
    at: str
    joins: tuple[str, ...]
    sizes: tuple[str, ...]
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WireLabel:
    """The label of one end of a conductor.

    Attributes:
        ref: ``W4``.
        here: Terminal at this end.
        there: Terminal at the other end.
        size: Size of the conductor, to choose the tube by.
        circuit: Words of the function.
    """

    ref: str
    here: str
    there: str
    size: str
    circuit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """One line of the parts list.

    Attributes:
        group: ``Connectors``, ``Conversion``, ``Fuses``, ``Conductors``, ``Terminals and sundries``.
        what: What to buy, by its properties; never a maker.
        quantity: How many, or how many ``unit``.
        unit: Empty for pieces, ``m`` for conductors.
        refs: Where it goes.
        note: What else to know.
    """

    group: str
    what: str
    quantity: float
    unit: str
    refs: tuple[str, ...]
    note: str = ""

    @property
    def quantity_ft(self) -> float | None:
        """Quantity in feet, where the unit is metres."""
        return self.quantity / _FOOT_M if self.unit == "m" else None


@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyStep:
    """One step of the work: a title, and what to do, sentence by sentence."""

    title: str
    actions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ContinuityRow:
    """One reading with the ohmmeter on the finished harness: nothing mated, nothing connected, every fuse out.

    Attributes:
        ident: Short name of the row, ``C3``; a record refers to it.
        one: First lead.
        other: Second lead.
        kind: What must be found.
        expected: In words, with the value where there is one.
        lowest_ohm: Below this it is wrong, ohm; None where there is no lower bound.
        highest_ohm: Above this it is wrong, ohm; None where there is no upper bound.
        why: What lies between.
    """

    ident: str
    one: str
    other: str
    kind: Continuity
    expected: str
    lowest_ohm: float | None
    highest_ohm: float | None
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """Conductors of the harness that run together from one place to another.

    Attributes:
        name: ``B1``.
        start: Where it leaves, ``X1`` and words.
        end: Where it arrives.
        side: Side of the adapter on which it is drawn.
        refs: Conductors in it.
        sizes: (how many, size), largest first.
        shortest_m: Shortest conductor, m.
        longest_m: Longest conductor, m.
        made: Whether it belongs to the harness; False for the trailer's own cable, drawn for orientation.
        note: Words beside the far end.
    """

    name: str
    start: str
    end: str
    side: Literal["vehicle", "trailer"]
    refs: tuple[str, ...]
    sizes: tuple[tuple[int, str], ...]
    shortest_m: float
    longest_m: float
    made: bool = True
    note: str = ""

    @property
    def shortest_ft(self) -> float:
        """Shortest conductor, ft."""
        return self.shortest_m / _FOOT_M

    @property
    def longest_ft(self) -> float:
        """Longest conductor, ft."""
        return self.longest_m / _FOOT_M


@dataclass(frozen=True, slots=True, kw_only=True)
class HarnessPlan:
    """The layout of the harness: branches around the adapter.

    Attributes:
        centre: Name of the adapter; an empty text for a straight lead.
        place: Where it sits, as the user wrote it.
        branches: Vehicle side first, then each trailer with its own cable behind.
    """

    centre: str
    place: str
    branches: tuple[Branch, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A contact whose data nobody has verified.

    Attributes:
        contact: ``X1:E``.
        connector: Short name of the connector.
        function: What it is said to do.
        support: How well supported, in words.
        sources: Source keys.
        note: What the pinout says about it.
        used: Whether the harness connects it.
    """

    contact: str
    connector: str
    function: str
    support: str
    sources: tuple[str, ...]
    note: str
    used: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HarnessPapers:
    """Everything the shop needs.

    Attributes:
        plan: Layout.
        cuts: Cut list.
        nodes: Splices, bars and joints.
        labels: Two for each conductor.
        parts: Parts list.
        steps: Order of assembly.
        continuity: What to prove with the ohmmeter before anything is connected.
        doubts: Contacts that are not verified.
        faces: (designation, short name, whether its layout is verified) of each connector.
        assumptions: What the papers add to the assumptions of the check.
        sources: Source keys of every contact.
    """

    plan: HarnessPlan
    cuts: tuple[CutRow, ...]
    nodes: tuple[Node, ...]
    labels: tuple[WireLabel, ...]
    parts: tuple[PartRow, ...]
    steps: tuple[AssemblyStep, ...]
    continuity: tuple[ContinuityRow, ...]
    doubts: tuple[Doubt, ...]
    faces: tuple[tuple[str, str, bool], ...]
    assumptions: tuple[Assumption, ...]
    sources: tuple[str, ...]
