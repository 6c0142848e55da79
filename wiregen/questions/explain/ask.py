"""What there is to know of the rules of the check."""

from __future__ import annotations

from wiregen.check.rules import RULES
from wiregen.errors import InputError, guess
from wiregen.model.rule import RuleInfo


def rules() -> tuple[RuleInfo, ...]:
    """Return what there is to know of every rule of the check, in the order findings are printed."""
    return tuple(rule.info for rule in RULES)


def explain(rule: str) -> RuleInfo:
    """Return what there is to know of one rule.

    Raises:
        InputError: There is no such rule; the message names the nearest.
    """
    known = {info.id: info for info in rules()}
    if rule not in known:
        raise InputError(f"{rule!r} is not a rule{guess(rule, known)} 'wiregen explain' lists them all.")
    return known[rule]
