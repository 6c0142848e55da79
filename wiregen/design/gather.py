"""What the rules look at, gathered from a rig, its circuits and its studies."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiregen.catalogue.defaults import default
from wiregen.chart.measure import switched_circuits
from wiregen.check.case import Case, ChannelFacts, Coupling, FeedFacts, FlasherFacts, Limits, TapFacts, TrailerFacts
from wiregen.check.facts import (
    channel_facts,
    feed_facts,
    flasher_facts,
    supply_live,
    trailer_facts,
    unfused_circuits,
    unstated_sizes,
)
from wiregen.loader.pinout_files import built_in_pinouts

if TYPE_CHECKING:
    from wiregen.design.design import Design
    from wiregen.rig.records import Rules


def healthy_case(design: Design) -> Case:
    """Gather what the rules look at, but for single faults, which take most of the time."""
    loaded, built = design.loaded, design.built
    rig = loaded.rig
    couplings = zip(built.circuits, design.studies, design.behaviour, loaded.plugs, design.short_studies, strict=True)
    flasher = flasher_facts(loaded)
    supply = rig.adapter.supply
    return Case(
        couplings=tuple(
            Coupling(circuit, solved.trusted(), solved.troubles(), table, f"-X{index}", plug, None, shorts)
            for index, (circuit, solved, table, plug, shorts) in enumerate(couplings, start=2)
        ),
        channels=tuple(ChannelFacts(**facts) for facts in channel_facts(loaded, built)),
        taps=tuple(
            TapFacts(
                name=tap.name,
                at=tap.at,
                live=tap.live.text,
                fuse_a=tap.fuse_a,
                origin=loaded.origin(("vehicle", "tap", index)),
            )
            for index, tap in enumerate(rig.vehicle.tap)
        ),
        socket=loaded.socket,
        all_pinouts=built_in_pinouts(),
        limits=_limits(rig.rules),
        supply_feed=supply.feed if supply and supply.kind == "converter" else None,
        supply_feed_live=supply_live(loaded),
        supply_origin=loaded.origin(("adapter", "supply", "feed")) or loaded.origin(("adapter", "supply")),
        missing_feed=built.missing_feed,
        vehicle_origin=loaded.origin(("vehicle", "socket")),
        trailer_origins=tuple(loaded.origin(("trailer", index, "plug")) for index in range(len(rig.trailer))),
        unfused_circuits=unfused_circuits(loaded, built),
        flasher=FlasherFacts(**flasher) if flasher else None,
        feeds=tuple(FeedFacts(**facts) for facts in feed_facts(loaded)),
        trailers=tuple(TrailerFacts(**facts) for facts in trailer_facts(loaded)),
        bulb_monitor=rig.vehicle.bulb_monitor,
        switched=switched_circuits(loaded),
        unstated_sizes=unstated_sizes(built),
        assumed_limits=frozenset(
            ref
            for assumption in built.assumptions
            if assumption.name == "converter_current_limit_factor"
            for ref in assumption.where
        ),
    )


def _limits(rules: Rules) -> Limits:
    """Return the limits of the check: the user's where there are any, else the catalogue's."""
    return Limits(
        lowest_lamp_share=rules.lowest_lamp_voltage or 1 - default("lamp_drop_error").value,
        lowest_lamp_source="rig file" if rules.lowest_lamp_voltage else default("lamp_drop_error").source,
        lamp_drop_share=rules.lamp_drop_warning or default("lamp_drop_warn").value,
        lamp_drop_source="rig file" if rules.lamp_drop_warning else default("lamp_drop_warn").source,
        fuse_factor=rules.fuse_share or default("fuse_continuous_factor").value,
        fuse_factor_source="rig file" if rules.fuse_share else default("fuse_continuous_factor").source,
        ground_return_ohm=rules.ground_return_ohm,
    )
