"""What every rule is made of: a function over the design, what there is to know of it, and how it reports.

A rule is written as a function and turned into a ``Rule`` by the decorator that carries its ``RuleInfo``:

    @rule(RuleInfo(id="fuse-load", ...))
    def fuse_load(case: Case) -> Iterator[Finding]: ...
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from wiregen.check.case import Case, Coupling
from wiregen.model.circuit import Element
from wiregen.model.finding import Finding, Severity
from wiregen.model.rule import RuleInfo

Look = Callable[[Case], Iterable[Finding]]

#: Where a limit comes from when no document gives it; the other words are keys of the list of sources.
FROM_CONNECTIONS = "follows from the connections"
FROM_COMPUTATION = "follows from the computation"
PRACTICE = "common practice, no source"
NO_SOURCE = "no source found"
RIG_FILE = "rig file"
OF_THE_PINOUT = "sources of the pinout"
OF_THE_LAMP = "source of the lamp type"
SOURCE_WORDS = (FROM_CONNECTIONS, FROM_COMPUTATION, PRACTICE, NO_SOURCE, RIG_FILE, OF_THE_PINOUT, OF_THE_LAMP)


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: what it does and what there is to know of it."""

    info: RuleInfo
    look: Look

    def __call__(self, case: Case) -> Iterable[Finding]:
        """Return the findings of this rule."""
        return self.look(case)


def rule(info: RuleInfo) -> Callable[[Look], Rule]:
    """Return a decorator that makes a rule of a function."""

    def made(look: Look) -> Rule:
        return Rule(info, look)

    return made


def measured(
    coupling: Coupling,
    element: Element,
    row: int,
    *,
    rule: str,
    message: str,
    value: float,
    limit: float,
    advice: str,
    source: str,
    unit: str = "A",
    severity: Severity = "error",
    where: str = "",
    at_least: bool = False,
) -> Finding:
    """Return the finding of an element at one row of the study.

    Args:
        coupling: The trailer coupled.
        element: The part.
        row: Row of the study, for the words of state and corner.
        rule: Rule id.
        message: What is wrong, for people.
        value: What was found, in ``unit``.
        limit: What is allowed, in ``unit``.
        advice: What to do.
        source: Source key of the limit.
        unit: Unit of value and limit.
        severity: How bad.
        where: Words for the part; its designation and title when left out.
        at_least: Whether the limit is the lowest allowed value, and not the highest.
    """
    room = value - limit if at_least else limit - value
    return Finding(
        rule=rule,
        severity=severity,
        where=where or f"{element.ref} {element.title}".strip(),
        message=message,
        state=coupling.study.points[row].words,
        trailer=coupling.circuit.trailer,
        value=value,
        limit=limit,
        unit=unit,
        margin=room / limit if limit > 0 else -1.0,
        advice=advice,
        source=source,
        origin=element.origin,
    )
