"""Pinouts and lamp types for a terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.catalogue.connector import SUPPORT_MARKS, SUPPORT_WORDS, Connector, Support, UsualSize, colour_word
from wiregen.catalogue.lamps import LampType
from wiregen.catalogue.sources import SOURCES
from wiregen.paper.safe_text import clean
from wiregen.paper.words import wrap
from wiregen.quantity import show

_NAME_WIDTH: Final = 26
_WELL: Final[dict[Support, str]] = {"two": "two sources", "one": "one source"}
_DOUBTFUL: Final[dict[Support, str]] = {"disagree": "sources disagree", "memory": "from memory"}


def list_text(pinouts: Sequence[tuple[str, Connector]], width: int = 80) -> str:
    """Return the list of pinouts: name, title, voltage, how stop and turn are wired, how well it is supported."""
    lines: list[str] = []
    indent = " " * _NAME_WIDTH
    for name, connector in pinouts:
        volts = "/".join(str(v) for v in connector.voltage_v)
        lines += wrap(f"{name:<{_NAME_WIDTH - 2}}  {clean(connector.title)}", width, indent)
        facts = f"{volts} V, {len(connector.contact)} contacts, stop and turn {connector.stop_turn}"
        if mates := mating(connector, pinouts):
            facts += f"; mates with {', '.join(mates)}"
        lines += wrap(indent + facts, width, indent)
        lines += wrap(indent + support_summary(connector), width, indent)
    return "\n".join(lines) + "\n"


def support_summary(connector: Connector) -> str:
    """Return how many contacts of a wiring rest on what, and which of them are not verified."""
    counts = Counter(contact.support for contact in connector.contact)
    told = [f"{words} for {counts[key]}" for key, words in _WELL.items() if counts[key]]
    summary = f"support: {', '.join(told) or 'none'} of {len(connector.contact)} contacts"
    for key, words in _DOUBTFUL.items():
        marks = [contact.mark for contact in connector.contact if contact.support == key]
        summary += f"; ! NOT VERIFIED, {words}: {', '.join(marks)}" if marks else ""
    return summary


def mating(connector: Connector, pinouts: Sequence[tuple[str, Connector]]) -> list[str]:
    """Return the names of the other pinouts whose shell mates with this one."""
    return [name for name, other in pinouts if other.shell == connector.shell and other.title != connector.title]


def show_text(name: str, connector: Connector, pinouts: Sequence[tuple[str, Connector]], width: int = 80) -> str:
    """Return one pinout in full: contacts with source and support, notices, face, sources; no word said twice."""
    volts = "/".join(str(v) for v in connector.voltage_v)
    lines = [*wrap(clean(connector.title), width), f"name {name}, {volts} V, stop and turn {connector.stop_turn}"]
    if connector.standard:
        lines += wrap(f"follows: {clean(connector.standard)}", width, "  ")
    if mates := mating(connector, pinouts):
        others = [f"{mate} ({'/'.join(str(v) for v in dict(pinouts)[mate].voltage_v)} V)" for mate in mates]
        lines += wrap(f"MATES WITH: {', '.join(others)}. Label both ends.", width, "  ")
    lines += wrap(support_summary(connector), width, "  ")
    lines.append("")
    for contact in connector.contact:
        lines += _contact(connector, contact.mark, width)
    if connector.usual_size:
        lines += wrap(_usual(connector.usual_size), width, "    ")
    lines.append("")
    for word, texts in (("NOTICES", connector.notices), ("FACE", (_face(connector),))):
        lines.append(word)
        for text in texts:
            lines += wrap(f"* {clean(text)}", width, "  ")
        lines.append("")
    lines += _sources(connector, width)
    used = dict.fromkeys(contact.support for contact in connector.contact)
    used |= {connector.usual_size.support: None} if connector.usual_size else {}
    lines += wrap("Marks: " + "; ".join(f"{SUPPORT_MARKS[s]} {SUPPORT_WORDS[s]}" for s in used), width, "  ")
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _contact(connector: Connector, mark: str, width: int) -> Iterator[str]:
    contact = connector.find(mark)
    if contact is None:
        return
    sign = SUPPORT_MARKS[contact.support]
    word, function = CIRCUITS[contact.circuit].word, clean(contact.function)
    what = function if function.lower().startswith(word.lower()) else f"{word}: {function}"
    yield from wrap(f"{contact.mark:<4}{what}", width, "    ")
    doubt = " ! NOT VERIFIED" if contact.support in ("memory", "disagree") else ""
    facts = [f"support {sign}{doubt}", f"sources {', '.join(contact.sources)}"]
    if contact.colour:
        other = f" or {contact.colour_other} {colour_word(contact.colour_other)}" if contact.colour_other else ""
        facts.append(f"{contact.colour} {colour_word(contact.colour)}{other}")
    if contact.size:
        facts.append(contact.size)
    if contact.rating_a:
        facts.append(show(contact.rating_a, "A"))
    if contact.terminal:
        facts.append(f"terminal {contact.terminal}")
    if contact.tag:
        facts.append(f"tag {clean(contact.tag)}")
    if contact.choices:
        facts.append(f"choose one: {', '.join(contact.choices)}")
    yield from wrap(f"    {'; '.join(facts)}", width, "    ")
    if contact.note:
        yield from wrap(f"    {clean(contact.note)}", width, "    ")


def _usual(usual: UsualSize) -> str:
    ground = f", on ground {usual.ground}" if usual.ground else ""
    doubt = ", ! NOT VERIFIED" if usual.support in ("memory", "disagree") else ""
    support = f"{SUPPORT_MARKS[usual.support]} {', '.join(usual.sources)}"
    return clean(f"Usual conductors{doubt}: {usual.size}{ground} ({support}). {usual.note}")


def _face(connector: Connector) -> str:
    known = "verified" if connector.face.verified else "NOT verified: find the mark moulded beside each contact"
    return f"Layout {known}. {connector.face.note}".strip()


def _sources(connector: Connector, width: int) -> Iterator[str]:
    yield "SOURCES"
    usual = connector.usual_size.sources if connector.usual_size else ()
    keys = dict.fromkeys((*(key for contact in connector.contact for key in contact.sources), *usual))
    for key in keys:
        title = connector.source_titles.get(key) or (SOURCES[key].title if key in SOURCES else "")
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
