"""The record of one connector wiring, as a file in ``pinouts/`` or beside a rig file states it."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from wiregen.catalogue.circuits import CIRCUITS, unknown_circuit
from wiregen.errors import guess
from wiregen.quantity import ConductorSize, parse_size

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

#: How well a statement is supported, and the mark printed beside it.
SUPPORT_MARKS = {"two": "2", "one": "1", "memory": "M", "disagree": "≠"}
SUPPORT_WORDS = {
    "two": "two independent sources agree",
    "one": "one source",
    "memory": "from memory only, not verified",
    "disagree": "sources disagree, see the note",
}


def support_legend() -> str:
    """Return what the support marks mean, in one sentence."""
    marks = "; ".join(f"{mark} = {SUPPORT_WORDS[key]}" for key, mark in SUPPORT_MARKS.items())
    return f"Marks of proof: {marks}; ! = not verified."


Support = Literal["two", "one", "memory", "disagree"]


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


class Contact(Record):
    """One pin or socket."""

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
    """Circuits found on this contact in the trade, when it is 'choose'; the rig must pick one."""
    return_for: tuple[str, ...] = ()
    """For a ground contact: marks of the contacts it is the return of, where the standard splits the returns."""
    sources: tuple[str, ...] = Field(min_length=1)
    """Keys of the sources."""
    support: Support
    """How well the sources support this row."""
    note: str = ""
    """What else to know about this contact."""
    face: FacePlace | None = None
    """Where it lies on the mating face; absent when not known."""


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


class UsualSize(Record):
    """What conductors its contacts usually have, where no source gives that contact by contact.

    It holds a first draft down; no number of a study rests on it.
    """

    size: SizeText
    """Usual size, the largest where there are several."""
    ground: SizeText | None = None
    """The same on ground contacts, where it is another."""
    sources: tuple[str, ...] = Field(min_length=1)
    """Keys of the sources; 'memory' where there is none."""
    support: Support
    """How well the sources support it."""
    note: str = ""
    """What else to know about it; what the others say where sources disagree."""


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
    face: Face = Face()
    """How the mating face is drawn."""
    contact: tuple[Contact, ...] = Field(min_length=1)
    """The contacts, one table for each, in the order of their marks."""
    source_titles: dict[str, str] = {}
    """For a user's own file: titles of its source keys that are not in the built-in list."""

    def find(self, mark: str) -> Contact | None:
        """Return the contact with this mark, or None."""
        return next((contact for contact in self.contact if contact.mark == mark), None)

    @property
    def lamp_grounds(self) -> tuple[Contact, ...]:
        """Ground contacts for lamps: the plain ones; where the standard has only split returns, those but for data."""
        plain = self.on("ground")
        return plain or tuple(c for c in self.contact if c.circuit in ("ground_charge", "ground_ignition"))

    def on(self, circuit: str) -> tuple[Contact, ...]:
        """Return every contact that carries ``circuit``."""
        return tuple(contact for contact in self.contact if contact.circuit == circuit)


def support_words(vehicle: tuple[Contact, ...], trailer: tuple[Contact, ...]) -> str:
    """Return the support marks of contacts: one where all are alike, else vehicle, slash, trailer."""
    sides = [[SUPPORT_MARKS[entry.support] for entry in side] for side in (vehicle, trailer)]
    if len({mark for side in sides for mark in side}) == 1:
        return next(mark for side in sides for mark in side)
    return " / ".join(", ".join(side) for side in sides if side)


def is_doubtful(*entries: Contact) -> bool:
    """Return whether any contact rests on memory or on sources that disagree."""
    return any(entry.support in ("memory", "disagree") for entry in entries)


def contact_size(contact: Contact) -> ConductorSize | None:
    """Return the usual conductor size of a contact, or None where no source gives one."""
    return parse_size(contact.size) if contact.size else None
