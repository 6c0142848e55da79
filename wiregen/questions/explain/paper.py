"""Rules of the check explained, as papers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from wiregen.catalogue.sources import SOURCES
from wiregen.model.rule import Cure, Harm, RuleInfo
from wiregen.paper.blocks import Bullets, Column, Facts, Head, Heading, Paper, Para, table

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


def rules_paper(rules: Sequence[RuleInfo]) -> Paper:
    """Return the list of all rules: id, what holds when nothing is found, severity."""
    columns = (Column("Rule"), Column("Holds when nothing is found", 2.0), Column("Severity", 1.0))
    return Paper(
        kind="rules",
        name="Rules",
        head=Head(title="the check"),
        blocks=(
            table(columns, ((rule.id, rule.title, rule.severity) for rule in rules), "Every rule of the check"),
            Para("'wiregen explain RULE' tells what a rule looks at, why, and where its limit comes from."),
        ),
        data={"rules": [rule_data(one) for one in rules]},
    )


def rule_paper(rule: RuleInfo) -> Paper:
    """Return one rule in full: what, why, harm, formula, limit, severity, cure, how to tighten it, sources."""
    parts = (
        ("Looks at", rule.what),
        ("Why", rule.why),
        ("Guards against", _HARMS[rule.harm]),
        ("Formula", rule.formula),
        ("Limit", rule.limit),
        ("Severity", rule.severity),
        ("What cures it", _CURES[rule.cure]),
        ("Your own limit", rule.tighten),
    )
    return Paper(
        kind="rule",
        name=rule.id,
        head=Head(title=rule.title),
        blocks=(
            Facts(tuple((word, text) for word, text in parts if text)),
            Heading("Sources of the limit"),
            Bullets(tuple(_sources(rule))),
        ),
        data=rule_data(rule),
    )


def _sources(rule: RuleInfo) -> Iterator[str]:
    for key in rule.sources:
        entry = SOURCES.get(key)
        yield f"{key}: {entry.title}; {entry.where}; read: {entry.read}" if entry else key


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
