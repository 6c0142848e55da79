"""Pinouts and lamp types for a terminal."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from string import ascii_uppercase
from typing import Final

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.catalogue.connector import (
    DOUBTFUL,
    FIELD_WORDS,
    SUPPORT_MARKS,
    SUPPORT_WORDS,
    Connector,
    PinoutContact,
    Proof,
    Support,
    UsualSize,
)
from wiregen.catalogue.lamps import LampType
from wiregen.catalogue.sources import SOURCES
from wiregen.paper.safe_text import clean
from wiregen.paper.words import wrap
from wiregen.quantity import show

#: Source keys in the text of a note: ``[A11 P13]``.
_CITED: Final = re.compile(r"\[([A-Z]\d+b?(?: [A-Z]\d+b?)*)\]")
_LIST_HEAD: Final = ("name", "V", "contacts", "stop/turn", "shell", "proof")


def list_text(pinouts: Sequence[tuple[str, Connector]], width: int = 80) -> str:
    """Return the list of pinouts, a line each, those with the most contacts in doubt first.

    A line has the name, the voltages, the contacts, how stop and turn are wired, a letter for a shell that several
    wirings share, and how well the functions are proved.
    """
    shells = Counter(connector.shell for _, connector in pinouts)
    letters = dict(zip((shell for shell, count in shells.items() if count > 1), ascii_uppercase, strict=False))
    rows = [
        (
            name,
            "/".join(str(v) for v in connector.voltage_v),
            str(len(connector.contact)),
            connector.stop_turn,
            letters.get(connector.shell, ""),
            support_summary(connector),
        )
        for name, connector in sorted(pinouts, key=lambda row: -_doubts(row[1]))
    ]
    doubtful = sum(bool(_doubts(connector)) for _, connector in pinouts)
    widths = [max(map(len, column)) for column in zip(_LIST_HEAD, *rows, strict=True)][:-1]
    lines = wrap(f"{len(rows)} wirings, {doubtful} of them with contacts that are NOT VERIFIED (first).", width)
    for row in (_LIST_HEAD, *rows):
        cells = "  ".join(text.ljust(wide) for text, wide in zip(row, widths, strict=False))
        lines += wrap(f"{cells}  {row[-1]}", width, " " * (sum(widths) + 2 * len(widths)))
    lines += wrap(f"Proof of the functions: {_legend(SUPPORT_MARKS)}; 7×2: seven contacts with mark 2.", width, "  ")
    lines += wrap("Shell: wirings with the same letter mate, and a wrong one does harm. Label both ends.", width, "  ")
    lines += wrap("'wiregen pinouts NAME' shows one whole. Measure every contact before you connect anything.", width)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _doubts(connector: Connector) -> int:
    return sum(contact.is_doubtful for contact in connector.contact)


def support_summary(connector: Connector) -> str:
    """Return how many contacts of a wiring have which support mark, and which of them are not verified.

    ``9×2, 1×1; ≠ 12`` is nine contacts with two sources, one with one, and contact 12 in dispute.
    """
    signs = [contact.sign for contact in connector.contact]
    counts = [f"{signs.count(sign)}×{sign}" for sign in _signs(doubtful=False) if sign in signs]
    told = [", ".join(counts)] if counts else []
    doubts = {sign: [row.mark for row in connector.contact if row.sign == sign] for sign in _signs(doubtful=True)}
    told += [f"{sign} {', '.join(marks)}" for sign, marks in doubts.items() if marks]
    return "; ".join(told)


def _signs(*, doubtful: bool) -> list[str]:
    return [sign for word, sign in SUPPORT_MARKS.items() if (word in DOUBTFUL) == doubtful]


def _legend(used: Iterable[Support]) -> str:
    return ", ".join(f"{SUPPORT_MARKS[word]} {SUPPORT_WORDS[word]}" for word in used)


def mating(connector: Connector, pinouts: Sequence[tuple[str, Connector]]) -> list[str]:
    """Return the names of the other pinouts whose shell mates with this one."""
    return [name for name, other in pinouts if other.shell == connector.shell and other.title != connector.title]


def show_text(name: str, connector: Connector, pinouts: Sequence[tuple[str, Connector]], width: int = 80) -> str:
    """Return one pinout in full: contacts with the support of every field, notes, face, sources; no word said twice."""
    volts = "/".join(str(v) for v in connector.voltage_v)
    lines = [*wrap(clean(connector.title), width), f"name {name}, {volts} V, stop and turn {connector.stop_turn}"]
    if connector.standard:
        lines += wrap(f"follows: {clean(connector.standard)}", width, "  ")
    if mates := mating(connector, pinouts):
        others = [f"{mate} ({'/'.join(str(v) for v in dict(pinouts)[mate].voltage_v)} V)" for mate in mates]
        lines += wrap(f"MATES WITH: {', '.join(others)}. Label both ends.", width, "  ")
    lines += wrap(f"proof of the functions: {support_summary(connector)}", width, "  ")
    lines.append("")
    for contact in connector.contact:
        lines += _contact(connector, contact, width)
    if connector.usual_size:
        lines += wrap(_usual(connector.usual_size), width, "    ")
    lines += _shared_notes(connector, width)
    lines.append("")
    for word, texts in (("NOTES", connector.notices), ("FACE", (_face(connector),))):
        lines.append(word)
        for text in texts:
            lines += wrap(f"* {clean(text)}", width, "  ")
        lines.append("")
    proofs = list(_proofs(connector))
    lines += _sources(connector, proofs, width)
    used = dict.fromkeys(proof.support for proof in proofs)
    lines += wrap(f"Marks in brackets: {_legend(used)}. ! NOT VERIFIED: measure it first.", width, "  ")
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _proofs(connector: Connector) -> Iterator[Proof]:
    """Yield what every statement of a pinout rests on."""
    for contact in connector.contact:
        yield contact
        yield from (connector.proof_of(contact, field) for field in connector.fields(contact))
    if connector.usual_size:
        yield connector.usual_size


def _contact(connector: Connector, contact: PinoutContact, width: int) -> Iterator[str]:
    word, function = CIRCUITS[contact.circuit].word, clean(contact.function)
    what = function if function.lower().startswith(word.lower()) else f"{word}: {function}"
    yield from wrap(f"{contact.mark:<4}{what} {_bracket(contact, sources=True)}", width, "    ")
    if facts := list(_facts(connector, contact)):
        yield from wrap(f"    {'; '.join(facts)}", width, "    ")
    if contact.notes:
        yield from wrap(f"    {clean(contact.notes)}", width, "    ")


def _facts(connector: Connector, contact: PinoutContact) -> Iterator[str]:
    """Yield the fields of a contact, each with its support mark, and its sources where they are its own."""
    for field, words in connector.fields(contact).items():
        proof = connector.proof_of(contact, field)
        bare = field in ("colour", "size")  # they need no word in front
        yield f"{words if bare else f'{FIELD_WORDS[field]} {words}'} {_bracket(proof, sources=proof is not contact)}"
    if contact.terminal:
        yield f"terminal {contact.terminal}"
    if contact.tag:
        yield f"tag {clean(contact.tag)}"
    if contact.choices:
        yield f"{'choose one' if contact.circuit == 'choose' else 'found as'}: {', '.join(contact.choices)}"


def _bracket(proof: Proof, *, sources: bool) -> str:
    """Return ``[2 I7 I8]``, and a warning behind it where nobody has verified it."""
    keys = f" {' '.join(proof.sources)}" if sources and proof.sources != ("memory",) else ""
    return f"[{proof.sign}{keys}{' ! NOT VERIFIED' if proof.is_doubtful else ''}]"


def _shared_notes(connector: Connector, width: int) -> Iterator[str]:
    for field, note in connector.field_notes.items():
        yield from wrap(f"{FIELD_WORDS[field]}: {clean(note)}", width, "    ")


def _usual(usual: UsualSize) -> str:
    ground = f", on ground {usual.ground}" if usual.ground else ""
    return clean(f"Usual conductors: {usual.size}{ground} {_bracket(usual, sources=True)}. {usual.note}")


def _face(connector: Connector) -> str:
    known = "verified" if connector.face.verified else "NOT verified: find the mark moulded beside each contact"
    return f"Layout {known}. {connector.face.note}".strip()


def _sources(connector: Connector, proofs: Sequence[Proof], width: int) -> Iterator[str]:
    yield "SOURCES"
    keys = dict.fromkeys(key for proof in proofs for key in proof.sources)
    keys |= dict.fromkeys((*connector.face.sources, *(key for one in connector.shared_rating for key in one.sources)))
    notes = (proof.note for proof in (*proofs, *(one for _, one in connector.proof if one)))
    cited = _CITED.findall(" ".join((*connector.notices, connector.face.note, *notes)))
    keys |= dict.fromkeys(key for group in cited for key in group.split() if key in SOURCES)
    for key in keys:
        found = SOURCES.get(key)
        title = connector.source_titles.get(key) or (f"{found.title}; {found.where}" if found else "")
        yield from wrap(f"  {key}: {clean(title)}", width, "      ")
    yield ""


def lamps_text(lamps: Sequence[LampType], width: int = 80) -> str:
    """Return the list of lamp types with their data and how well they are known."""
    lines = ["name                    rated at          at most   support"]
    for lamp in lamps:
        rated = f"{show(lamp.current_a, 'A')} at {show(lamp.test_v, 'V')}"
        lines += wrap(
            f"{lamp.id:<24}{rated:<18}{show(lamp.max_current_a, 'A'):<10}{lamp.support} [{lamp.source}]",
            width,
            " " * 24,
        )
    return "\n".join(lines) + "\n"
