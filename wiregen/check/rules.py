"""Every rule, in one place and in the order findings are printed. To add a rule, write a function and list it here.

A rule takes the ``Design`` and yields findings. It never stops another rule, and raises nothing for a bad design.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from wiregen.check import behaviour_rules, current_rules, structure_rules, voltage_rules
from wiregen.check.case import Design
from wiregen.model.finding import SEVERITIES, Finding

Rule = Callable[[Design], Iterable[Finding]]

RULES: Final[tuple[Rule, ...]] = (
    behaviour_rules.lamp_behaviour,
    behaviour_rules.never_lit,
    behaviour_rules.conflicts,
    structure_rules.missing_input,
    structure_rules.supply_feed,
    structure_rules.unfused_feed,
    structure_rules.no_outlet,
    voltage_rules.floating_lamp,
    voltage_rules.solve_trouble,
    voltage_rules.over_voltage,
    voltage_rules.lamp_voltage,
    current_rules.relay_contact,
    current_rules.supply_continuous,
    current_rules.contact_current,
    current_rules.conductor_current,
    current_rules.fuse_load,
    current_rules.fuse_conductor,
    current_rules.contact_unrated,
    structure_rules.unverified_contact,
    structure_rules.lamp_data,
    structure_rules.shared_shell,
)


def check(design: Design) -> tuple[Finding, ...]:
    """Return every finding, errors first, then warnings, then notices; the same finding behind two trailers once."""
    found: dict[tuple[object, ...], Finding] = {}
    for rule in RULES:
        for finding in rule(design):
            key = (finding.rule, finding.severity, finding.where, finding.message, finding.state)
            found.setdefault(key, finding)
    return tuple(sorted(found.values(), key=lambda finding: SEVERITIES.index(finding.severity)))
