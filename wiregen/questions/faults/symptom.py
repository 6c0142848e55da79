"""What somebody saw, measured or tried, and how it is written: one line of plain words each.

brake: left stop dark, tail dim
X2:5 adapter, brake 0.0 V
bulb E3: helps
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

from wiregen.errors import InputError, guess
from wiregen.model.state import Controls
from wiregen.model.state_words import states_from
from wiregen.questions.faults.diagnosis import (
    BRIGHT,
    DARK,
    DIM,
    FLASHES,
    FLASHES_DIM,
    LIT,
    LOOKS,
    SOME,
    FaultBook,
    Watched,
)

#: Every way to say what a lamp shows; the longest that fits the end of a phrase counts.
_LOOK_WORDS: Final = {
    "dark": DARK, "off": DARK, "out": DARK, "dead": DARK, "nothing": DARK,
    "dim": DIM, "weak": DIM, "faint": DIM, "glows": DIM, "glow": DIM,
    "lit": LIT, "on": LIT, "steady": LIT, "works": LIT, "work": LIT, "lights": LIT, "lights up": LIT,
    "bright": BRIGHT, "too bright": BRIGHT, "too strong": BRIGHT,
    "flashes": FLASHES, "flash": FLASHES, "flashing": FLASHES, "blinks": FLASHES, "blinking": FLASHES,
    "flashes dim": FLASHES_DIM, "flashes weakly": FLASHES_DIM, "flash dim": FLASHES_DIM, "blinks dim": FLASHES_DIM,
    "on and off": FLASHES, "weak and off": FLASHES_DIM,
    "some dark": SOME, "some dead": SOME, "one dark": SOME, "one out": SOME, "some out": SOME,
}  # fmt: skip
_RIGHT: Final = ("as it should be", "as it should", "as usual", "normal", "ok", "right", "fine", "good")
_UNKNOWN: Final = ("unknown", "not seen", "?")
#: Words in front of a lamp's name that say that only some of it are meant.
_SOME_OF: Final = ("one of the ", "some of the ", "one of ", "some of ", "one ", "some ")
_EVERY: Final = ("all", "everything", "rest", "all lamps", "every lamp")
_FILLERS: Final = frozenset({"lamp", "lamps", "light", "lights", "the", "is", "are", "and", "trailer"})
_VOLTS: Final = re.compile(r"(?P<value>[-+]?\d+(?:[.,]\d+)?)\s*[vV](?:olts?)?\s*$")
#: What a bulb or a fuse that was tried may do.
TRIED: Final = ("helps", "no change", "blows")
_TRIED_WORDS: Final = {
    "helps": "helps", "works": "helps", "fixed": "helps", "ok": "helps",
    "no change": "no change", "no help": "no change", "same": "no change", "nothing": "no change",
    "blows": "blows", "blows again": "blows", "blew": "blows",
}  # fmt: skip
_MOST_V: Final = 100.0


@dataclass(frozen=True, slots=True)
class Saw:
    """What one lamp or load showed.

    Attributes:
        setting: Row of the setting in the book.
        watched: Row of the lamp.
        look: Code of ``LOOKS``.
        text: As it is written.
    """

    setting: int
    watched: int
    look: int
    text: str


@dataclass(frozen=True, slots=True)
class Measured:
    """What a meter showed: rows of the setting and of the point in the book, V, and as it is written."""

    setting: int
    point: int
    volts_v: float
    text: str


@dataclass(frozen=True, slots=True)
class Tried:
    """What a new bulb or fuse did: its designation, one of ``TRIED``, and as it is written."""

    ref: str
    did: str
    text: str


Symptom: TypeAlias = Saw | Measured | Tried


def saw_text(controls: Controls, seen: Sequence[tuple[Watched, int]]) -> str:
    """Return how a look is written, for (lamp or load, code of its look) pairs."""
    return f"{controls.words}: " + ", ".join(f"{one.name} {one.shows(look)}" for one, look in seen)


def saw_from(text: str, book: FaultBook) -> tuple[Saw, ...]:
    """Read ``brake: left stop dark, tail dim``; a lamp that is ``unknown`` is left out.

    Raises:
        InputError: The controls, a lamp or what it shows is not known.
    """
    head, colon, tail = text.partition(":")
    if not colon:
        raise InputError(f"{text!r}: write the controls, a colon, and what the lamps show: 'brake: left stop dark'")
    setting = _setting(head, book)
    found: dict[int, Saw] = {}
    for phrase in (part.strip() for part in re.split(r"[,;]", tail) if part.strip()):
        for lamp, look in _looked(phrase, book, setting, set(found)):
            written = saw_text(book.settings[setting], [(book.watched[lamp], look)])
            found[lamp] = Saw(setting, lamp, look, written)
    return tuple(found.values())


def _looked(phrase: str, book: FaultBook, setting: int, told: set[int]) -> Iterator[tuple[int, int]]:
    words = " ".join(phrase.lower().split())
    look, name = _ending(words, (*_LOOK_WORDS, *_RIGHT, *_UNKNOWN))
    if not look:
        allowed = f"{', '.join(LOOKS)}, as it should, unknown"
        raise InputError(
            f"{phrase!r} does not say what the lamp shows{guess(words.split()[-1], _LOOK_WORDS)} Allowed: {allowed}"
        )
    if look in _UNKNOWN:
        return
    some = next((word for word in _SOME_OF if name.startswith(word)), "")
    if some and _LOOK_WORDS.get(look) == DARK:
        look, name = "some dark", name.removeprefix(some)
    for lamp in _lamps(name, phrase, book, told):
        yield lamp, int(book.looks[0, setting, lamp]) if look in _RIGHT else _LOOK_WORDS[look]


def _ending(words: str, known: Iterable[str]) -> tuple[str, str]:
    """Return the longest known phrase that ends ``words``, and what stands before it."""
    fits = [word for word in known if words == word or words.endswith(f" {word}")]
    found = max(fits, key=len, default="")
    return found, words[: len(words) - len(found)].strip()


def _lamps(name: str, phrase: str, book: FaultBook, told: set[int]) -> list[int]:
    if name in _EVERY:
        return [row for row, one in enumerate(book.watched) if one.is_lamp and row not in told]
    wanted = {word for word in name.split() if word not in _FILLERS}
    exact = [row for row, one in enumerate(book.watched) if one.name.lower() == name]
    found = exact or [row for row, one in enumerate(book.watched) if wanted and wanted <= one.words]
    if not found:
        names = [one.name for one in book.watched]
        raise InputError(f"{phrase!r}: no such lamp{guess(name, names)} The trailer has: {', '.join(names)}")
    return found


def _setting(text: str, book: FaultBook) -> int:
    try:
        controls, _ = states_from(text, _signals(book))
    except InputError as error:
        raise InputError(str(error).replace("--state ", "").replace("--state: ", "")) from None
    if controls not in book.settings:
        known = "; ".join(one.words for one in book.settings)
        raise InputError(f"{text.strip()!r} is not worked out. Settings are: {known}")
    return book.settings.index(controls)


def _signals(book: FaultBook) -> set[str]:
    """Return the control signals the settings use, so that a word for another control is refused."""
    signals: set[str] = set()
    for controls in book.settings:
        signals |= {name for name, on in controls.signals(lit=True, stop_wins=False).items() if on}
    return signals


def measured_text(name: str, controls: Controls, volts_v: float) -> str:
    """Return how a reading is written."""
    return f"{name}, {controls.words} {volts_v:.1f} V"


def measured_from(text: str, book: FaultBook) -> Measured:
    """Read ``X2:5 adapter, brake 0.0 V``; without a side the one nearest to the vehicle counts.

    Raises:
        InputError: The place, the controls or the reading is not known.
    """
    found = _VOLTS.search(text)
    if found is None:
        raise InputError(f"{text!r}: the reading is missing: 'X2:5 brake 0.0 V'")
    volts = float(found["value"].replace(",", "."))
    if abs(volts) > _MOST_V:
        raise InputError(f"{text!r}: no more than {_MOST_V:g} V can be read in such a circuit")
    words = " ".join(text[: found.start()].replace(",", " , ").split())
    point, rest = _point(words, book)
    setting = _setting(rest.strip(" ,") or "all off", book)
    written = measured_text(book.points[point].name, book.settings[setting], volts)
    return Measured(setting, point, volts, written)


def _point(words: str, book: FaultBook) -> tuple[int, str]:
    names = {point.name.lower(): row for row, point in reversed(list(enumerate(book.points)))}
    for name, row in list(names.items()):
        if ":" in name:
            first = name.partition(" ")[0]
            names[first] = min(row, names.get(first, row))
    # Many say box.
    low = re.sub(r"\bbox\b", "adapter", words.lower().lstrip("-"))
    fits = [name for name in names if low == name or low.startswith((f"{name} ", f"{name},"))]
    if not fits:
        known = [point.name for point in book.points if point.access != "hidden"]
        raise InputError(f"{words!r}: no such place{guess(low.split(' ')[0], names)} Places are: {', '.join(known)}")
    name = max(fits, key=len)
    return names[name], low[len(name) :]


def tried_from(text: str, book: FaultBook) -> Tried:
    """Read ``bulb E3: helps``, ``fuse F5: blows``, ``fuse F5: no change``.

    Raises:
        InputError: The part or what it did is not known.
    """
    what, colon, did = text.partition(":")
    outcome = _TRIED_WORDS.get(" ".join(did.lower().split()), "")
    if not colon or not outcome:
        raise InputError(f"{text!r}: write the part and what it did: 'bulb E3: helps'. Allowed: {', '.join(TRIED)}")
    words = what.split()
    ref = f"-{words[-1].lstrip('-').upper()}" if words else ""
    element = book.circuit.by_ref.get(ref)
    if element is None or type(element).__name__ not in ("Fuse", "Lamp"):
        parts = [e.ref.lstrip("-") for e in book.circuit.elements if type(e).__name__ in ("Fuse", "Lamp")]
        raise InputError(f"{text!r}: no such bulb or fuse. The rig has: {', '.join(parts)}")
    kind = "fuse" if type(element).__name__ == "Fuse" else "bulb"
    return Tried(ref, outcome, f"{kind} {ref.lstrip('-')}: {outcome}")


def lamp_names(watched: Iterable[Watched]) -> str:
    """Return the names of lamps and loads, to show what may be typed."""
    return ", ".join(one.name for one in watched)
