"""What a trace tells: the ways through one mark, when it is live, and what goes out when it opens."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wiregen.model.behaviour import Look

#: How a mark serves a load: it ``feeds`` it, ``is`` the load itself, lies on its way ``back``, or ``works`` the relay
#: that switches it.
Serves = Literal["feeds", "is", "back", "works"]
#: What a break does to a load.
Kind = Literal["out", "partly", "on", "other"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One part on a way.

    Attributes:
        mark: ``W12``.
        kind: What it is, in a word: ``wire``, ``fuse``, ``contact`` ...
        size: Cross-section of a wire; else empty.
        colour: IEC 60757 code of a wire; empty where it is left open.
        rating_a: Rating of a fuse, A; else None.
        words: What it is, where its mark does not tell; else empty.
    """

    mark: str
    kind: str
    size: str = ""
    colour: str = ""
    rating_a: float | None = None
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TracedWay:
    """One way of the current.

    Attributes:
        steps: The parts it passes, in the direction of the current.
        settings: Control settings in which it conducts, in words.
        at: How many steps lie before the mark, or before the contact of the relay that the mark works; None where
            neither is on this way.
    """

    steps: tuple[Step, ...]
    settings: tuple[str, ...]
    at: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """A load, or the coil of a relay, that hangs on the mark.

    Attributes:
        mark: ``E3``.
        words: ``left tail lamp (E3)``.
        serves: How the mark serves it.
        relays: Relays between: those that the mark works; none where it is in the load's own circuit.
        feeds: Every way from the battery to it that counts here: through the mark where the mark feeds it; through the
            contact of those relays where it works them; all of them otherwise.
        backs: Every way from it back to the battery; through the mark where the mark is on the way back.
        no_second: Marks of the parts on its ways that have no second way round them while it is on.
    """

    mark: str
    words: str
    serves: Serves
    relays: tuple[str, ...]
    feeds: tuple[TracedWay, ...]
    backs: tuple[TracedWay, ...]
    no_second: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What a break at the mark does to one load.

    Attributes:
        mark: ``E3``.
        words: ``left tail lamp (E3)``.
        kind: ``out``: off wherever it was on. ``partly``: off in some settings. ``on``: on where it was off.
            ``other``: steady where it flashed, or the other way round.
        settings: Control settings in which it differs, in words, the simplest first.
        is_brake: Whether it is the electric brakes of the trailer.
    """

    mark: str
    words: str
    kind: Kind
    settings: tuple[str, ...]
    is_brake: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailerTrace:
    """A trace with one trailer coupled.

    Attributes:
        trailer: Its name.
        is_return: Whether the mark lies on the ground side, where nothing is live.
        live: When the mark is live (on the ground side: carries current back), as a list to be read from the most
            particular line that fits: control setting in words, and over one flash cycle what it is.
        never: Controls with which it is dead whatever the others are; ``live`` leaves them out.
        count: Control settings in which it is not dead.
        settings: How many control settings there are.
        loads: Lamps, loads and the trailer's battery.
        coils: Relay coils and control inputs that it feeds, or whose current it brings back.
        effects: What a break does, the worst first.
        dead: Contacts that no supply reaches any more behind a break, whatever the controls.
        more: Whether there are more ways between two points than were followed.
    """

    trailer: str
    is_return: bool
    live: tuple[tuple[str, Look], ...]
    never: tuple[str, ...]
    count: int
    settings: int
    loads: tuple[Served, ...]
    coils: tuple[Served, ...]
    effects: tuple[Effect, ...]
    dead: tuple[str, ...]
    more: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """A trace of one mark over the trailers.

    Attributes:
        title: Title of the rig.
        digest: File code of the rig.
        mark: The mark as it stands on the papers.
        what: What it is, in words.
        trailers: One entry a trailer on which the mark is.
    """

    title: str
    digest: str
    mark: str
    what: str
    trailers: tuple[TrailerTrace, ...]
