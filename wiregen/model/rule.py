"""What a rule of the check looks at and why, for people who want to know before they trust it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleInfo:
    """One rule, explained.

    Attributes:
        id: Word printed with each of its findings.
        title: What holds when it finds nothing.
        severity: ``error``, ``warning`` or ``notice``; where it has several, which stands for what.
        what: What it looks at.
        why: What happens where it is broken.
        formula: How the value is computed; empty for a verdict without a number.
        limit: What is allowed.
        sources: Keys of the sources of the limit, or words where there is none.
        tighten: How a user sets another limit.
    """

    id: str
    title: str
    severity: str
    what: str
    why: str
    formula: str = ""
    limit: str
    sources: tuple[str, ...]
    tighten: str = "Nothing under [rules] changes it."
