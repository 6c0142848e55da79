"""Findings of one cause told as one: the worst in full, the others named beside it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from wiregen.model.finding import Finding


def together(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings with those of one cause told as one, each at the place of the first.

    Conductors of one run that carry too much share its size; lamps that lose too much in one state share the way.
    """
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        groups.setdefault(_cause(finding), []).append(finding)
    return tuple(_one(group) for group in groups.values())


def _cause(finding: Finding) -> tuple[object, ...]:
    """Return what findings of one cause have in common; the finding itself where it stands alone."""
    common = (finding.rule, finding.severity, finding.trailer)
    if finding.rule == "conductor-current" and finding.origin is not None:
        return (*common, finding.origin, finding.limit)
    if finding.rule == "lamp-voltage" and finding.severity == "warning":
        return (*common, finding.state)
    return (finding,)


def _one(group: list[Finding]) -> Finding:
    # Where nothing is measured, the first is as good as any.
    worst = min(group, key=lambda one: 0.0 if one.margin is None else one.margin)
    others = ", ".join(dict.fromkeys(one.where.split()[0] for one in group if one is not worst))
    return replace(worst, message=f"{worst.message}; likewise {others}") if others else worst
