"""Verdicts and what they rest on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wiregen.model.origin import Origin

#: ``error``: do not build it so. ``warning``: look again. ``notice``: know it.
Severity = Literal["error", "warning", "notice"]
SEVERITIES: tuple[Severity, ...] = ("error", "warning", "notice")


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One rule's verdict at its worst state.

    Attributes:
        rule: Rule id.
        severity: How bad.
        where: Reference designation or place, with words.
        message: What is wrong, for people.
        state: The state in words, or an empty text where none applies.
        trailer: Name of the trailer coupled, or an empty text where it holds for all.
        value: What was found, in ``unit``; None for a verdict without a number.
        limit: What is allowed, in ``unit``.
        unit: Unit of both.
        margin: Room left as a share of the limit; negative when the limit is passed.
        advice: What to do.
        source: Key of the source of the limit.
        origin: The line in the rig file to change.
    """

    rule: str
    severity: Severity
    where: str
    message: str
    advice: str
    source: str
    state: str = ""
    trailer: str = ""
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    margin: float | None = None
    origin: Origin | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """A value the user did not give, with where it was taken from.

    Attributes:
        name: Key of the default.
        text: Value with its unit.
        why: Why this value.
        source: Source key.
        support: How well supported.
        where: The parts it was used for.
    """

    name: str
    text: str
    why: str
    source: str
    support: str
    where: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Headroom:
    """How much more current one channel may carry before the first limit.

    Attributes:
        channel: Channel name.
        carried_a: Highest current in any state, A.
        spare_a: Room left, A; negative when already over.
        bound_by: What sets the limit.
        lamps: How many more lamps of a few common kinds that is.
    """

    channel: str
    trailer: str
    carried_a: float
    spare_a: float
    bound_by: str
    lamps: tuple[tuple[str, int], ...]
