"""Rules of the check explained, for a terminal and for machines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from wiregen.catalogue.sources import SOURCES
from wiregen.model.rule import Cure, Harm, RuleInfo
from wiregen.paper.words import wrap

_INDENT = "    "
_CURES: Final[dict[Cure, str]] = {
    "sizes": "A thicker wire: 'wiregen size' chooses the size.",
    "fuses": "A fuse of another rating: 'wiregen size' chooses it.",
    "nothing": "No wire size and no fuse rating cures it: another part, another connection or another entry does.",
}
_HARMS: Final[dict[Harm, str]] = {
    "fire": "FIRE: a wire or a contact overheats.",
    "brakes": "DANGER: the trailer brakes may not work.",
    "dark lamp": "A lamp that is out, too dim, or on when it should be off.",
    "part": "A part that is damaged.",
}


def rules_text(rules: Sequence[RuleInfo], width: int = 80) -> str:
    """Return the list of all rules: id, what holds when nothing is found, severity."""
    lines: list[str] = []
    for rule in rules:
        lines += wrap(f"{rule.id:<20}{rule.title}", width, " " * 20)
        lines += wrap(" " * 20 + rule.severity, width, " " * 20)
    lines += [
        "",
        *wrap("'wiregen explain RULE' tells what a rule looks at, why, and where its limit comes from.", width),
    ]
    return "\n".join(lines) + "\n"


def rule_text(rule: RuleInfo, width: int = 80) -> str:
    """Return one rule in full: what, why, harm, formula, limit, severity, cure, how to tighten it, sources."""
    lines = [*wrap(f"{rule.id}: {rule.title}", width), ""]
    parts = (
        ("LOOKS AT", rule.what),
        ("WHY", rule.why),
        ("GUARDS AGAINST", _HARMS[rule.harm]),
        ("FORMULA", rule.formula),
        ("LIMIT", rule.limit),
        ("SEVERITY", rule.severity),
        ("WHAT CURES IT", _CURES[rule.cure]),
        ("YOUR OWN LIMIT", rule.tighten),
    )
    for heading, text in parts:
        if text:
            lines += [heading, *wrap(_INDENT + text, width, _INDENT), ""]
    lines += ["SOURCES OF THE LIMIT", *_sources(rule, width)]
    return "\n".join(lines) + "\n"


def _sources(rule: RuleInfo, width: int) -> Iterator[str]:
    for key in rule.sources:
        entry = SOURCES.get(key)
        text = f"{key}: {entry.title}; {entry.where}; read: {entry.read}" if entry else key
        yield from wrap(_INDENT + text, width, _INDENT * 2)


def rule_data(rule: RuleInfo) -> dict[str, Any]:
    """Return one rule as plain data, its sources with title, place and how much was read; null for mere words."""
    return {
        "id": rule.id,
        "title": rule.title,
        "severity": rule.severity,
        "cure": rule.cure,
        "harm": rule.harm,
        "what": rule.what,
        "why": rule.why,
        "formula": rule.formula,
        "limit": rule.limit,
        "tighten": rule.tighten,
        "sources": [_source_data(key) for key in rule.sources],
    }


def _source_data(key: str) -> dict[str, str | None]:
    entry = SOURCES.get(key)
    if entry is None:
        return {"key": key, "title": None, "where": None, "read": None}
    return {"key": key, "title": entry.title, "where": entry.where, "read": entry.read}
