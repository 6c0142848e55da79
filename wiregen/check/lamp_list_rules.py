"""The rule on lamps that a trailer must have and the rig does not list."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from wiregen.catalogue.required_lamps import REGIONS, RequiredLamp, required_lamps
from wiregen.check.case import Case, Coupling, TrailerFacts
from wiregen.check.rule import rule
from wiregen.model.circuit import Lamp
from wiregen.model.finding import Finding
from wiregen.model.rule import RuleInfo

_SOURCES: Final = tuple(dict.fromkeys(row.source for row in required_lamps()))
_ADVICE: Final = (
    "List what is fitted; one lamp may do two jobs. Places, colours and reflectors are not in this file. Check your "
    "local code: it has the last word."
)


@rule(
    RuleInfo(
        id="required-lamps",
        cure="nothing",
        harm="dark lamp",
        title="The lamps that every such trailer must have are listed",
        severity="notice",
        what="The lamps of each trailer, counted by the circuits they hang on, against a list in outline: that of the "
        "rig's region, else of the plug's; where that is not known either, what both lists ask for.",
        why="A lamp that nobody listed is not checked, and mostly it is missing on the trailer too.",
        formula="lamps on the circuits ≥ lamps asked for on them",
        limit="United States: 49 CFR 393.11 and 571.108 in outline, by width (80 in) and length (30 ft). Europe: UN "
        "R48 in outline, by width (1.6 m, 2.1 m) and length (6 m), much of it from memory. Without width and length "
        "only what every trailer must have. Reflectors and their like are not counted: they have no wire.",
        sources=_SOURCES,
        tighten="region under [rules]: us, europe or none; width and length of [[trailer]].",
    )
)
def required(case: Case) -> Iterator[Finding]:
    """Every trailer lists as many lamps as the outline of its region asks for, or what is missing is named."""
    for coupling in case.couplings:
        facts = case.trailer(coupling)
        if facts is None or facts.region == "none":
            continue
        wanted = [row for row in _rows(facts) if row.is_asked(facts.width_m, facts.length_m)]
        groups: dict[tuple[str, ...], list[RequiredLamp]] = {}
        for row in wanted:
            groups.setdefault(_group(row, wanted), []).append(row)
        lacking = [words for circuits, rows in groups.items() if (words := _lacking(coupling, circuits, rows))]
        if lacking:
            yield _finding(coupling, facts, lacking, wanted)


def _rows(facts: TrailerFacts) -> list[RequiredLamp]:
    if facts.region:
        return [row for row in required_lamps() if row.region == facts.region]
    # What both lists ask of every trailer, on the same circuits.
    every = [row for row in required_lamps() if not row.needs_size and not row.only]
    others = [(row.circuits, row.count) for row in every if row.region == "europe"]
    return [row for row in every if row.region == "us" and (row.circuits, row.count) in others]


def _group(row: RequiredLamp, rows: Sequence[RequiredLamp]) -> tuple[str, ...]:
    """Return the circuits that a kind of lamp shares with others: their lamps can only be counted together."""
    return max((other.circuits for other in rows if set(row.circuits) <= set(other.circuits)), key=len)


def _lacking(coupling: Coupling, circuits: tuple[str, ...], rows: list[RequiredLamp]) -> str:
    """Return in words what is missing of the lamps that share some circuits; empty where there are enough."""
    have = sum(lamp.count for lamp in coupling.circuit.of(Lamp) if lamp.function in circuits)
    need = sum(row.count for row in rows)
    if have >= need:
        return ""
    names = ", ".join(f"{row.count} × {row.words}" if row.count > 1 else row.words for row in rows)
    return names if not have else f"{need - have} of these {need}: {names}"


def _finding(coupling: Coupling, facts: TrailerFacts, lacking: list[str], wanted: list[RequiredLamp]) -> Finding:
    law = _law(facts.region)
    unsized = facts.width_m is None or facts.length_m is None
    size = " State width and length: wide and long trailers need more." if unsized and facts.region else ""
    told = ", ".join(f"{row.words} ({row.only})" for row in _rows(facts) if row.only)
    more = f" Where it applies also: {told}." if told and "reverse" not in _functions(coupling) else ""
    return Finding(
        rule="required-lamps",
        severity="notice",
        where=coupling.circuit.trailer,
        message=f"not listed: {'; '.join(lacking)} ({law})",
        trailer=coupling.circuit.trailer,
        advice=f"{_ADVICE}{size}{more}",
        source=",".join(dict.fromkeys(row.source for row in wanted)),
        origin=facts.origin,
    )


def _functions(coupling: Coupling) -> set[str]:
    return {lamp.function for lamp in coupling.circuit.of(Lamp)}


def _law(region: str) -> str:
    known: dict[str, str] = {str(name): words for name, words in REGIONS.items()}
    return known.get(region, "what both the US and the European outline ask for")
