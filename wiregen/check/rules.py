"""Every rule, in one place and in the order findings are printed. To add a rule, write a function and list it here.

A rule takes the ``Case`` and yields findings with its own id. It never stops another rule, and raises nothing for a
bad design.
"""

from __future__ import annotations

from typing import Final

from wiregen.check import (
    behaviour_rules,
    brake_rules,
    current_rules,
    feed_rules,
    fuse_rules,
    ground_rules,
    lamp_list_rules,
    lamp_rules,
    protection_rules,
    relay_rules,
    short_rules,
    structure_rules,
    supply_rules,
    voltage_rules,
)
from wiregen.check.case import Case
from wiregen.check.rule import Rule
from wiregen.check.together import together
from wiregen.model.finding import SEVERITIES, Finding

RULES: Final[tuple[Rule, ...]] = (
    behaviour_rules.lamp_behaviour,
    behaviour_rules.never_lit,
    behaviour_rules.short,
    behaviour_rules.joined,
    behaviour_rules.backfeed,
    behaviour_rules.unsettled,
    structure_rules.missing_input,
    structure_rules.supply_feed,
    feed_rules.unfused_feed,
    protection_rules.unfused_supply,
    protection_rules.supply_ignition,
    protection_rules.connector_voltage,
    structure_rules.no_outlet,
    structure_rules.open_return,
    structure_rules.joined_returns,
    voltage_rules.floating_lamp,
    voltage_rules.solve_trouble,
    voltage_rules.over_voltage,
    voltage_rules.fault_over_voltage,
    lamp_rules.lamp_voltage,
    lamp_rules.beyond_points,
    lamp_rules.dark_voltage,
    ground_rules.ground_return,
    relay_rules.coil_pick_up,
    relay_rules.coil_over_voltage,
    relay_rules.relay_contact,
    relay_rules.relay_inrush,
    relay_rules.flasher_load,
    supply_rules.supply_input,
    supply_rules.supply_continuous,
    supply_rules.supply_limit,
    supply_rules.supply_inrush,
    supply_rules.centre_tap,
    supply_rules.battery_charge,
    brake_rules.brake_magnets,
    brake_rules.breakaway,
    brake_rules.charge_line,
    brake_rules.trailer_backfeed,
    current_rules.contact_current,
    current_rules.conductor_current,
    current_rules.fuse_load,
    current_rules.fuse_conductor,
    short_rules.short_clears,
    short_rules.short_limited,
    fuse_rules.fuse_order,
    fuse_rules.fuse_inrush,
    fuse_rules.fuse_breaking,
    fuse_rules.breaker_type,
    current_rules.part_rating,
    current_rules.contact_unrated,
    feed_rules.vehicle_fuse_share,
    feed_rules.shared_ground,
    feed_rules.bulb_monitor,
    lamp_list_rules.required,
    structure_rules.switch_off,
    structure_rules.unverified_contact,
    structure_rules.lamp_data,
    structure_rules.shared_shell,
)


def check(case: Case) -> tuple[Finding, ...]:
    """Return the findings for people: as ``single_findings``, with those of one cause told as one."""
    return together(single_findings(case))


def single_findings(case: Case) -> tuple[Finding, ...]:
    """Return every finding, errors first, then warnings, then notices; the same finding behind two trailers once."""
    found: dict[tuple[object, ...], Finding] = {}
    for rule in RULES:
        for finding in rule(case):
            key = (finding.rule, finding.severity, finding.where, finding.message, finding.state)
            found.setdefault(key, finding)
    return tuple(sorted(found.values(), key=lambda finding: SEVERITIES.index(finding.severity)))
