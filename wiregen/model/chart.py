"""The wiring chart as records: what goes where. Writers (terminal, CSV, Markdown, HTML, SVG) only lay it out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from wiregen.model.shown import Shown
from wiregen.quantity import parse

#: Stands in the fuse column of a conductor that a supply can feed and no fuse protects.
NO_FUSE: Final = "NO FUSE"

#: Two words that no line may part.
_NO_BREAK: Final = "\N{NO-BREAK SPACE}"

_TERMINALS: Final = (
    "Relay terminals as in ISO 7588, from memory: 86 and 85 coil, 30 common, 87 make, 87a break. Go by the diagram on "
    "the relay itself."
)

_FOOT_M: Final = parse("1 ft", "length")


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
        fuse: Fuse that protects the conductor to the trailer contact, ``F3 10 A``; ``NO_FUSE`` where none does and a
            supply can feed it; an empty text for grounds and for what is not connected.
        trailer: Trailer name; empty for vehicle contacts that go nowhere.
        trailer_contact: ``X2:3`` or an empty text.
        colour: IEC 60757 code of the conductor to the trailer contact.
        colour_word: In words; with a support mark of its own in brackets where the pinout says one: ``red (≠)``.
        support: One mark where all contacts of the row are alike, ``2``; else the marks of the vehicle contacts in
            the order of ``vehicle_contact``, a slash, the mark of the trailer contact: ``2, 1 / ?``.
        unverified: Whether any mark is memory or a disagreement.
        note: Anything the reader must know.
        tag: Tag or circuit number that the vehicle's own harness has on the wire, several joined with ``+``.
        wire: Wire at the trailer contact, at the vehicle contact where the row ends in the adapter; empty where
            nothing is connected.
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
    tag: str = ""
    wire: str = ""

    @property
    def start(self) -> str:
        """Where the row starts: the vehicle contact, the adapter that makes the signal, or nothing at all.

        A plus that joins contacts stays on the line of the contact in front of it.
        """
        words = self.vehicle_contact or ("adapter" if self.channel else "–")
        return words.replace(" +", f"{_NO_BREAK}+")

    @property
    def vehicle_words(self) -> str:
        """What the vehicle has there, with the tag on its wire where it has one."""
        return ", ".join(part for part in (self.vehicle_circuit, tag_words(self.tag)) if part)


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
        colour_word: In words; with a support mark of its own in brackets where the pinout says one: ``red (≠)``.
        size: As written, e.g. ``2.5 mm²``.
        length_m: Length, m.
        fuse: Fuse that protects it, e.g. ``F3 10 A``; ``NO_FUSE`` where none does and a supply can feed it; an empty
            text for grounds and returns.
        channel: Channel it belongs to, or an empty text.
        trailer: Trailer it serves, or an empty text for all.
        support: Support mark of the contact it starts or ends on, or an empty text; of both as in ``PinRow``.
        unverified: Whether any of these marks is memory or a disagreement.
        tag: Tag or circuit number of the vehicle's own wire at the contact, or an empty text.
        marking: What to write on both its ends: its number where another conductor has the same colour, else empty.
        change: What changed since an older revision, in words; empty on a chart that is not compared.
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
    unverified: bool = False
    tag: str = ""
    marking: str = ""
    change: str = ""

    @property
    def length_ft(self) -> float:
        """Length, ft."""
        return self.length_m / _FOOT_M

    @property
    def marking_words(self) -> str:
        """What is or should be written on it, in words, behind what changed."""
        return ", ".join(part for part in (self.change, self.marking, tag_words(self.tag)) if part)


def tag_words(tag: str) -> str:
    """Return ``vehicle tag 22-461C``, or an empty text for none."""
    if not tag:
        return ""
    bound = tag.replace(" +", f"{_NO_BREAK}+")
    return f"vehicle tag{'s' if '+' in tag else ''} {bound}"


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayRow:
    """How the relays of one channel are wired.

    Attributes:
        channel: Name of the channel.
        circuit: Words of what it feeds.
        logic: The channel's expression when it is more than one circuit, in words.
        contacts: How its contacts are joined, in words; empty for a single make contact.
        joints: What to join, each ``A1:stop to K3:86`` or ``K4:87 and K5:87 to W15 (X2:3)``.
        note: Anything the reader must know.
    """

    channel: str
    circuit: str
    logic: str
    contacts: str
    joints: tuple[str, ...]
    note: str = ""

    @property
    def title(self) -> str:
        """Channel and what it feeds."""
        return f"{self.channel}, {self.circuit}"

    @property
    def about(self) -> str:
        """When it is live and how its contacts are joined; empty for a single make contact."""
        live = f"live when {self.logic}" if self.logic else ""
        return "; ".join(part for part in (live, self.contacts) if part)

    @property
    def sentences(self) -> str:
        """The same in sentences, with the note."""
        about = f"{self.about[:1].upper()}{self.about[1:]}." if self.about else "One make contact."
        return f"{about} {self.note}".rstrip()


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureRow:
    """One measurement to make before anything is connected.

    Attributes:
        connector: ``X1`` and its short name.
        contact: Mark, or ``others``.
        switch: Position of the controls.
        expected: ``24 V to 28 V``, ``0 V``, ``flashes, 0 V / 24 V``.
        against: Contact the meter's other lead is on.
        why: What the contact is.
        support: Support mark of the contact, or an empty text for a tap and for rows on several contacts.
        unverified: Whether the mark is memory or a disagreement, or the expected reading itself is only inferred.
    """

    connector: str
    contact: str
    switch: str
    expected: str
    against: str
    why: str
    support: str = ""
    unverified: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureGrid:
    """What every contact of a connector should read in every setting, before anything is connected.

    Attributes:
        connector: ``X1`` and its short name, or ``taps``.
        against: What the black lead lies on.
        contacts: Marks, one a column.
        rows: (setting in words, what each contact should read) of every row.
        grounds: Marks of ground contacts: 0 V and near 0 ohm to the chassis.
    """

    connector: str
    against: str
    contacts: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    grounds: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Designation alone: ``X1``."""
        return self.connector.partition(" ")[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart(Shown):
    """The whole chart.

    Attributes:
        sheet: What stands in the title block.
        vehicle: Name of the vehicle.
        connectors: (designation, short name, what it follows) of every connector.
        pins: Pin to pin.
        conductors: What to cut.
        measures: What to measure before anything is connected.
        notices: What the pinouts want the reader to know.
        cautions: What can hurt; printed first.
        measure_notes: How to measure; printed in front of the measure table.
        relays: How the relays of each channel are wired; empty without relays.
        grids: The same as ``measures``, a row a setting and a column a contact.
    """

    sheet: SheetInfo
    vehicle: str
    connectors: tuple[tuple[str, str, str], ...]
    pins: tuple[PinRow, ...]
    conductors: tuple[ConductorRow, ...]
    measures: tuple[MeasureRow, ...]
    notices: tuple[str, ...]
    cautions: tuple[str, ...]
    measure_notes: tuple[str, ...] = ()
    relays: tuple[RelayRow, ...] = ()
    grids: tuple[MeasureGrid, ...] = ()

    @property
    def relay_notes(self) -> tuple[str, ...]:
        """What the terminal numbers of the relays mean; nothing without relays."""
        return (_TERMINALS,) if self.relays else ()

    @property
    def conductor_notes(self) -> tuple[str, ...]:
        """What the fuse and marking columns of the conductors mean, where they say something."""
        notes = []
        if any(row.fuse == NO_FUSE for row in self.conductors):
            notes.append(
                f"{NO_FUSE}: a supply can feed this conductor and no fuse in the rig file protects it. Fit one at the "
                "supply, or state in the rig file the one that is there."
            )
        if any(row.marking for row in self.conductors):
            notes.append(
                "Marking: proposal to write the conductor's number on both its ends, where another has the same colour "
                "or its own is left open."
            )
        if any(row.tag for row in self.conductors):
            notes.append("Vehicle tag: circuit number and tag on the vehicle's own wire at that contact.")
        return tuple(notes)
