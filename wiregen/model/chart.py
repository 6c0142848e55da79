"""The wiring chart as records: what goes where. Writers (terminal, CSV, Markdown, HTML, SVG) only lay it out."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetInfo:
    """What stands in the title block of every sheet.

    Attributes:
        title: Title of the rig.
        revision: As the user wrote it, or an empty text.
        date: ISO date from the rig file, or an empty text; never today's date, so that files repeat byte for byte.
        digest: Short digest of the rig file and the pinouts it uses.
        author: Who drew it, or an empty text.
    """

    title: str
    revision: str
    date: str
    digest: str
    author: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PinRow:
    """One circuit from the vehicle contact through the adapter to the trailer contact.

    Attributes:
        group: Function group, in printing order.
        circuit: Words of the function at the trailer end (at the vehicle end where nothing goes on).
        vehicle_contact: ``X1:E``, several joined with ``+``, or the name of a tap; empty where the adapter makes it.
        vehicle_circuit: What the vehicle has there, in words.
        channel: ``K1`` and what it is, or ``wire``; empty for a contact that is not used.
        logic: The channel's expression when it is more than one circuit.
        fuse: ``F3 10 A`` or an empty text.
        trailer: Trailer name; empty for vehicle contacts that go nowhere.
        trailer_contact: ``X2:3`` or an empty text.
        colour: IEC 60757 code of the conductor to the trailer contact.
        colour_word: In words.
        support: Marks for both contacts, e.g. ``2/2``, ``1/2``, ``M/2``.
        unverified: Whether either mark is memory or a disagreement.
        note: Anything the reader must know.
    """

    group: str
    circuit: str
    vehicle_contact: str
    vehicle_circuit: str
    channel: str
    logic: str
    fuse: str
    trailer: str
    trailer_contact: str
    colour: str
    colour_word: str
    support: str
    unverified: bool
    note: str = ""

    @property
    def start(self) -> str:
        """Where the row starts: the vehicle contact, the adapter that makes the signal, or nothing at all."""
        return self.vehicle_contact or ("adapter" if self.channel else "–")


@dataclass(frozen=True, slots=True, kw_only=True)
class ConductorRow:
    """One conductor to cut.

    Attributes:
        ref: ``W4``.
        start: ``X1:E``.
        end: ``K1:86``.
        group: Function group.
        circuit: Words of the function.
        colour: IEC 60757 code, empty when the rig leaves it free.
        colour_word: In words.
        size: As written, e.g. ``2.5 mm²``.
        length_m: Length, m.
        fuse: Fuse that protects it, e.g. ``F3 10 A``, or an empty text.
        channel: Channel it belongs to, or an empty text.
        trailer: Trailer it serves, or an empty text for all.
        support: Support mark of the contact it starts or ends on, or an empty text.
    """

    ref: str
    start: str
    end: str
    group: str
    circuit: str
    colour: str
    colour_word: str
    size: str
    length_m: float
    fuse: str
    channel: str
    trailer: str
    support: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureRow:
    """One measurement to make before anything is connected.

    Attributes:
        connector: ``X1`` and its short name.
        contact: Mark.
        switch: Position of the controls.
        expected: ``24 V to 28 V``, ``0 V``, ``flashes, 0 V / 24 V``.
        against: Contact the meter's other lead is on.
        why: What the contact is.
    """

    connector: str
    contact: str
    switch: str
    expected: str
    against: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """The whole chart."""

    sheet: SheetInfo
    vehicle: str
    connectors: tuple[tuple[str, str, str], ...]
    """(designation, short name, what it follows) of every connector."""
    pins: tuple[PinRow, ...]
    conductors: tuple[ConductorRow, ...]
    measures: tuple[MeasureRow, ...]
    notices: tuple[str, ...]
    cautions: tuple[str, ...]
