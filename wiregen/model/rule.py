"""What a rule of the check looks at and why, for people who want to know before they trust it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

#: What of a wiring cures a broken rule: larger wires, fuses of another rating, or neither of the two.
Cure = Literal["sizes", "fuses", "nothing"]
#: What a broken rule leads to at the worst, the most dangerous first.
Harm = Literal["fire", "brakes", "dark lamp", "part"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleInfo:
    """One rule, explained.

    Attributes:
        id: Word printed with each of its findings.
        cure: What of sizes and fuses cures it; ``nothing`` where it takes another part or another connection.
        harm: What it guards against: ``fire``, trailer ``brakes`` that fail, a ``dark lamp`` (or one that lights when
            it must not), a ``part`` that is damaged.
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
    cure: Cure
    harm: Harm
    title: str
    severity: str
    what: str
    why: str
    formula: str = ""
    limit: str
    sources: tuple[str, ...]
    tighten: str = "Nothing under [rules] changes it."
