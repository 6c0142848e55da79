"""The record of one connector wiring, as a file in ``pinouts/`` or beside a rig file states it."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from wiregen.catalogue.circuits import CIRCUITS, RETURN_CIRCUITS, unknown_circuit
from wiregen.errors import guess
from wiregen.quantity import ConductorSize, parse_size, show

#: IEC 60757 codes and the words to print beside them.
COLOURS = {
    "BK": "black",
    "BN": "brown",
    "RD": "red",
    "OG": "orange",
    "YE": "yellow",
    "GN": "green",
    "BU": "blue",
    "VT": "violet",
    "GY": "grey",
    "WH": "white",
    "PK": "pink",
    "TQ": "turquoise",
}

Support = Literal["two", "one", "memory", "disagree"]

#: How well a statement is supported, best first, and the mark printed beside it.
SUPPORT_MARKS: Final[dict[Support, str]] = {"two": "2", "one": "1", "disagree": "≠", "memory": "?"}
SUPPORT_WORDS: Final[dict[Support, str]] = {
    "two": "two independent sources agree",
    "one": "one source",
    "disagree": "sources disagree, see the note",
    "memory": "no document seen",
}
#: What nobody may rely on before it is measured.
DOUBTFUL: Final[frozenset[str]] = frozenset({"memory", "disagree"})


def support_legend() -> str:
    """Return what the support marks mean, in two sentences."""
    marks = "; ".join(f"{mark} = {SUPPORT_WORDS[key]}" for key, mark in SUPPORT_MARKS.items())
    return f"Marks of proof: {marks}; ! = not verified. A mark in brackets is that of one field alone."


def split_colour(code: str) -> tuple[str, ...]:
    """Return the IEC 60757 codes of a colour: one, or two for a striped conductor (``WHBK`` or ``WH/BK``)."""
    bare = code.replace("/", "")
    return tuple(bare[i : i + 2] for i in range(0, len(bare), 2))


def colour_word(code: str) -> str:
    """Return the words of a colour code: ``WH/BK`` is ``white/black``."""
    return "/".join(COLOURS[part] for part in split_colour(code))


def _check_colour(code: str) -> str:
    parts = split_colour(code)
    if not 1 <= len(parts) <= 2 or any(part not in COLOURS for part in parts):
        message = f"{code!r} is not an IEC 60757 colour{guess(code, COLOURS)} Allowed: {', '.join(COLOURS)}"
        message += ", or two of them with a slash for a striped conductor"
        raise ValueError(message)
    return "/".join(parts)


def _check_circuit(name: str) -> str:
    if name not in CIRCUITS:
        raise ValueError(unknown_circuit(name))
    return name


def _check_size(text: str) -> str:
    parse_size(text)
    return text


ColourCode = Annotated[
    str,
    AfterValidator(_check_colour),
    Field(json_schema_extra={"examples": ["BN", "WH/BK"]}),
]
CircuitName = Annotated[str, AfterValidator(_check_circuit), Field(json_schema_extra={"enum": list(CIRCUITS)})]
SizeText = Annotated[
    str,
    AfterValidator(_check_size),
    Field(json_schema_extra={"examples": ["2.5 mm²", "14 AWG", "14 SAE"]}),
]


class Record(BaseModel):
    """Base of every record that a user may write: unknown keys are errors, nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True, str_strip_whitespace=True)


#: The format of rig files and pinout files that this version writes, and the newest it can read.
FORMAT: Final = 2
Format = Annotated[int, Field(ge=1, le=FORMAT)]


class FacePlace(Record):
    """Where a contact lies on the mating face of the vehicle socket, seen from behind the vehicle."""

    angle_deg: float = Field(default=0.0, ge=0, lt=360)
    """Clockwise from 12 o'clock, degrees."""
    radius: float = Field(default=0.0, ge=0, le=1)
    """Distance from the centre; 1 is the outer contact circle."""
    x: float | None = Field(default=None, ge=-1, le=1)
    """For contacts in a row: position across, -1 left to 1 right; used instead of the angle."""
    y: float | None = Field(default=None, ge=-1, le=1)
    """For contacts in a row: position up, -1 bottom to 1 top."""


class Proof(Record):
    """What a statement rests on."""

    sources: tuple[str, ...] = Field(min_length=1)
    """Keys of the sources; 'memory' where no document was seen."""
    support: Support
    """How well the sources support it."""
    note: str = ""
    """What else to know; what the others say where sources disagree."""

    @property
    def sign(self) -> str:
        """The support mark to print beside it: ``2``, ``1``, ``?`` or ``≠``."""
        return SUPPORT_MARKS[self.support]

    @property
    def is_doubtful(self) -> bool:
        """Whether no document was seen or sources disagree: measure it first."""
        return self.support in DOUBTFUL


class FieldProofs(Record):
    """What single fields of a contact rest on, where that is not what its function rests on."""

    colour: Proof | None = None
    """Of the usual colour."""
    colour_other: Proof | None = None
    """Of the colour in the second code."""
    size: Proof | None = None
    """Of the usual size."""
    takes: Proof | None = None
    """Of the sizes that its terminal takes."""
    rating_a: Proof | None = None
    """Of its highest continuous current."""
    returns_by: Proof | None = None
    """Of the ground contact by which its load returns."""


#: The fields of a contact that may have a proof of their own.
ProvedField = Literal["colour", "colour_other", "size", "takes", "rating_a", "returns_by"]
#: What to print in front of them.
FIELD_WORDS: Final[dict[ProvedField, str]] = {
    "colour": "colour",
    "colour_other": "other colour",
    "size": "size",
    "takes": "takes",
    "rating_a": "rating",
    "returns_by": "returns by",
}


class SizeRange(Record):
    """The sizes of wire that a terminal takes."""

    smallest: SizeText
    """Thinnest wire."""
    largest: SizeText
    """Thickest wire."""

    @property
    def words(self) -> str:
        """``1 to 2.5 mm²``, ``16 to 10 AWG``."""
        low, high = parse_size(self.smallest).label, parse_size(self.largest).label
        number, unit = low.rsplit(" ", 1)
        return f"{number if high.endswith(f' {unit}') else low} to {high}"


class PinoutContact(Proof):
    """One pin or socket, and what its function rests on."""

    mark: str = Field(min_length=1, max_length=8)
    """The letter or number moulded beside the contact."""
    circuit: CircuitName = "unused"
    """The circuit on this contact; 'unused' when nothing is connected, 'choose' when the rig must say."""
    function: str = Field(max_length=120)
    """What it does, in words, as the source puts it."""
    colour: ColourCode | None = None
    """Usual conductor colour, IEC 60757."""
    colour_other: ColourCode | None = None
    """Colour in the second colour code in use for this connector."""
    size: SizeText | None = None
    """Usual conductor size."""
    takes: SizeRange | None = None
    """Sizes of wire that its terminal takes, where a source gives them; the usual size is 'size'."""
    rating_a: float | None = Field(default=None, gt=0, le=500)
    """Highest continuous current of the contact, A, where a source gives it."""
    terminal: str = ""
    """DIN 72552 terminal number, where the standard uses one."""
    tag: str = ""
    """Wire tag or number the vehicle's own harness uses."""
    choices: tuple[CircuitName, ...] = ()
    """Circuits found on this contact in the trade: the rig may pick another one, and must when it is 'choose'."""
    returns_by: str | None = None
    """Mark of the ground contact by which its load returns, where the standard splits the returns."""
    return_for: tuple[str, ...] = ()
    """The same said on the ground contact: marks of the contacts that return by it."""
    support: Support
    """How well the sources support its function, and each other field that 'proof' does not name."""
    proof: FieldProofs = FieldProofs()
    """What a colour, size, rating or return rests on where it is not what the function rests on."""
    face: FacePlace | None = None
    """Where it lies on the mating face; absent when not known."""

    @property
    def notes(self) -> str:
        """What else to know about the contact and about its single fields, as sentences."""
        told = (self.note, *(proof.note for _, proof in self.proof if proof))
        return " ".join(note if note.endswith(".") else f"{note}." for note in told if note)


class Face(Record):
    """The drawing of the mating face."""

    shape: Literal["round", "row", "two_rows"] = "round"
    """How the contacts lie."""
    verified: bool = False
    """True only when somebody has held the drawing against the real part or a dimensioned standard."""
    keyway_deg: float | None = Field(default=None, ge=0, lt=360)
    """Clock position of the key or locating notch, degrees clockwise from 12 o'clock; absent when not known."""
    sources: tuple[str, ...] = ()
    """Keys of the sources of the drawing."""
    note: str = ""
    """What is known of the positions, and what is not."""


class SharedRating(Record):
    """A current limit that several contacts share."""

    marks: tuple[str, ...] = Field(min_length=2)
    """Marks of the contacts."""
    rating_a: float = Field(gt=0, le=1000)
    """Highest sum of their currents, A."""
    sources: tuple[str, ...] = Field(min_length=1)
    """Keys of the sources."""


class UsualSize(Proof):
    """What conductors its contacts usually have, where no source gives that contact by contact.

    It holds a first draft down; no number of a study rests on it.
    """

    size: SizeText
    """Usual size, the largest where there are several."""
    ground: SizeText | None = None
    """The same on ground contacts, where it is another."""


class Connector(Record):
    """One wiring of one connector: a file."""

    format: Format = FORMAT
    """Format of this file; 'wiregen upgrade' brings an older one up to today's."""
    title: str = Field(max_length=90)
    """Name of the connector and of this wiring, without makers."""
    short: str = Field(max_length=28)
    """Short name for drawings and tables."""
    standard: str = ""
    """Standard or manual it follows, with edition where known."""
    shell: str
    """Wirings with the same shell mate mechanically: that is why a wrong one can be plugged in."""
    voltage_v: tuple[Literal[12, 24], ...] = Field(min_length=1)
    """Nominal voltages this wiring is used at, V."""
    stop_turn: Literal["combined", "separate"]
    """Whether brake and turn signals share a conductor on each side."""
    region: str = ""
    """Where it is in use."""
    notices: tuple[str, ...] = ()
    """What a user must know before relying on this wiring."""
    colour_code: str = ""
    """What the first colour column is, when there are two."""
    colour_code_other: str = ""
    """What the second colour column is."""
    ties: tuple[tuple[str, ...], ...] = Field(default=(), alias="bridged")
    """Groups of contacts joined together inside the vehicle; what a trailer joins is said in the rig."""
    shared_rating: tuple[SharedRating, ...] = ()
    """Current limits that several contacts share."""
    usual_size: UsualSize | None = None
    """What conductors its contacts usually have, where no source gives that contact by contact."""
    proof: FieldProofs = FieldProofs()
    """What the colours, sizes, ratings or returns of all its contacts rest on, but where a contact has its own."""
    face: Face = Face()
    """How the mating face is drawn."""
    contact: tuple[PinoutContact, ...] = Field(min_length=1)
    """The contacts, one table for each, in the order of their marks."""
    source_titles: dict[str, str] = {}
    """For a user's own file: titles of its source keys that are not in the built-in list."""

    def find(self, mark: str) -> PinoutContact | None:
        """Return the contact with this mark, or None."""
        return next((contact for contact in self.contact if contact.mark == mark), None)

    def proof_of(self, contact: PinoutContact, name: ProvedField) -> Proof:
        """Return what a field of a contact rests on: its own proof, else the connector's, else that of its function."""
        told: Proof | None = getattr(contact.proof, name) or getattr(self.proof, name)
        return told or contact

    @property
    def field_notes(self) -> dict[ProvedField, str]:
        """What to know about a field of all contacts, by field."""
        told: dict[ProvedField, Proof | None] = {field: getattr(self.proof, field) for field in FIELD_WORDS}
        return {field: proof.note for field, proof in told.items() if proof and proof.note}

    def fields(self, contact: PinoutContact) -> dict[ProvedField, str]:
        """Return the words of the fields that a contact has: ``{"colour": "RD red", "size": "2.5 mm²"}``."""
        ground = self.return_of(contact)
        words: dict[ProvedField, str] = {
            "colour": f"{contact.colour} {colour_word(contact.colour)}" if contact.colour else "",
            "colour_other": f"{contact.colour_other} {colour_word(contact.colour_other)}"
            if contact.colour_other
            else "",
            "size": contact.size or "",
            "takes": contact.takes.words if contact.takes else "",
            "rating_a": show(contact.rating_a, "A") if contact.rating_a else "",
            "returns_by": ground.mark if ground else "",
        }
        return {name: text for name, text in words.items() if text}

    def own_sign(self, contact: PinoutContact, name: ProvedField) -> str:
        """Return the support mark of a field that is known worse than the function; else an empty text."""
        proof, order = self.proof_of(contact, name), list(SUPPORT_MARKS)
        return proof.sign if order.index(proof.support) > order.index(contact.support) else ""

    def colour_words(self, contact: PinoutContact, code: str) -> str:
        """Return the words of a colour that a conductor on a contact has.

        Where the pinout says it and it has a support mark of its own, the mark stands behind: ``red (≠)``.
        """
        sign = self.own_sign(contact, "colour") if code == contact.colour else ""
        return f"{colour_word(code)} ({sign})" if sign else colour_word(code)

    def return_of(self, contact: PinoutContact) -> PinoutContact | None:
        """Return the ground contact that a contact's load has for itself, or None where the sources name none.

        It is the one that the contact or the ground names, else the ground that is there for the contact's circuit.
        """
        if contact.returns_by is not None:
            return self.find(contact.returns_by)
        named = [ground for ground in self.contact if contact.mark in ground.return_for]
        return next(iter((*named, *self.on(RETURN_CIRCUITS.get(contact.circuit, "")))), None)

    @property
    def lamp_grounds(self) -> tuple[PinoutContact, ...]:
        """Ground contacts for lamps: the plain ones; where the standard has only split returns, those but for data."""
        plain = self.on("ground")
        return plain or tuple(c for c in self.contact if c.circuit in ("ground_charge", "ground_ignition"))

    def on(self, circuit: str) -> tuple[PinoutContact, ...]:
        """Return every contact that carries ``circuit``."""
        return tuple(contact for contact in self.contact if contact.circuit == circuit)


def support_words(vehicle: tuple[PinoutContact, ...], trailer: tuple[PinoutContact, ...]) -> str:
    """Return the support marks of contacts: one where all are alike, else vehicle, slash, trailer."""
    sides = [[entry.sign for entry in side] for side in (vehicle, trailer)]
    if len({mark for side in sides for mark in side}) == 1:
        return next(mark for side in sides for mark in side)
    return " / ".join(", ".join(side) for side in sides if side)


def is_doubtful(*entries: PinoutContact) -> bool:
    """Return whether of any contact no document was seen, or sources disagree."""
    return any(entry.is_doubtful for entry in entries)


def contact_size(contact: PinoutContact) -> ConductorSize | None:
    """Return the usual conductor size of a contact, or None where no source gives one."""
    return parse_size(contact.size) if contact.size else None
