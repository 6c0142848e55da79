"""What the rules look at, from the rig as written and the circuits made of it; only the couplings come solved."""

from __future__ import annotations

from wiregen.catalogue.circuits import CIRCUITS, GROUNDS
from wiregen.catalogue.defaults import default
from wiregen.catalogue.required_lamps import region_of
from wiregen.check.case import (
    Case,
    ChannelFacts,
    Coupling,
    FeedFacts,
    FlasherFacts,
    RuleLimits,
    TapFacts,
    TrailerFacts,
)
from wiregen.circuit.build import Built
from wiregen.circuit.runs import USUAL_SIZE
from wiregen.circuit.switching import Switching
from wiregen.loader.pinout_files import built_in_pinouts
from wiregen.model.circuit import Contact
from wiregen.rig.loaded import LoadedRig
from wiregen.rig.records import Rules


def case_with(loaded: LoadedRig, built: Built, couplings: tuple[Coupling, ...]) -> Case:
    """Return what the rules look at: solved couplings, with the facts of the rig beside them."""
    rig = loaded.rig
    return Case(
        couplings=couplings,
        channels=channel_facts(loaded, built),
        taps=tap_facts(loaded),
        socket=loaded.socket,
        all_pinouts=built_in_pinouts(),
        limits=limits_of(rig.rules),
        supply_feed=rig.adapter.fed_by,
        supply_feed_live=supply_live(loaded),
        supply_origin=loaded.origin(("adapter", "supply", "fed_by")) or loaded.origin(("adapter", "supply")),
        missing_feed=built.missing_feed,
        vehicle_origin=loaded.origin(("vehicle", "socket")),
        trailer_origins=tuple(loaded.origin(("trailer", index, "plug")) for index in range(len(rig.trailer))),
        unfused_circuits=unfused_circuits(loaded, built),
        flasher=flasher_facts(loaded),
        feeds=feed_facts(loaded),
        trailers=trailer_facts(loaded),
        bulb_monitor=rig.vehicle.bulb_monitor,
        switched=tuple(dict.fromkeys(entry.circuit for entry in Switching(loaded).service_contacts())),
        unstated_sizes=_assumed_for(built, "conductor_area_mm2", USUAL_SIZE),
        assumed_limits=_assumed_for(built, "converter_current_limit_factor"),
    )


def channel_facts(loaded: LoadedRig, built: Built) -> tuple[ChannelFacts, ...]:
    """Return what the rules need to know of every channel."""
    channels = [(made, loaded.rig.adapter.channel[made.index]) for made in built.channels]
    return tuple(
        ChannelFacts(
            name=made.name,
            logic=written.input.text,
            inputs=written.input.names,
            outputs=made.outputs,
            device=written.device,
            missing=made.missing,
            fuse_a=written.fuse_a,
            origin=loaded.origin(("adapter", "channel", made.index)),
        )
        for made, written in channels
    )


def tap_facts(loaded: LoadedRig) -> tuple[TapFacts, ...]:
    """Return what the rig says of every tap."""
    return tuple(
        TapFacts(
            name=tap.name,
            at=tap.at,
            live=tap.live.text,
            fuse_a=tap.fuse_a,
            origin=loaded.origin(("vehicle", "tap", index)),
        )
        for index, tap in enumerate(loaded.rig.vehicle.tap)
    )


def feed_facts(loaded: LoadedRig) -> tuple[FeedFacts, ...]:
    """Return what the rig says of every vehicle feed; loads at the running voltage, A."""
    battery = loaded.rig.vehicle.battery
    running_v = battery.running_v or default(f"battery_{battery.nominal.replace(' V', 'v')}_running_v").value
    return tuple(
        FeedFacts(
            circuits=feed.circuits,
            fuse_a=feed.fuse_a,
            own_load_a=feed.own_load.at_v(running_v) if feed.own_load else None,
            origin=loaded.origin(("vehicle", "fuse", index)),
        )
        for index, feed in enumerate(loaded.rig.vehicle.feed)
    )


def trailer_facts(loaded: LoadedRig) -> tuple[TrailerFacts, ...]:
    """Return what the rig says of every trailer."""
    return tuple(
        TrailerFacts(
            nominal_v=24.0 if trailer.voltage == "24 V" else 12.0,
            width_m=trailer.width_m,
            length_m=trailer.length_m,
            region=loaded.rig.rules.region or region_of(plug.region) or "",
            breakaway=trailer.brakes.breakaway if trailer.brakes else None,
            origin=loaded.origin(("trailer", index)),
            brakes_origin=loaded.origin(("trailer", index, "brakes")),
            ties=trailer.ties,
        )
        for index, (trailer, plug) in enumerate(zip(loaded.rig.trailer, loaded.plugs, strict=True))
    )


def flasher_facts(loaded: LoadedRig) -> FlasherFacts | None:
    """Return what the rig says of the flasher; None where it says nothing."""
    flasher = loaded.rig.vehicle.flasher
    if flasher is None:
        return None
    system = loaded.rig.vehicle.battery.nominal.replace(" V", "v")
    # Labels name lamps in watts; lamps have them at the test voltage.
    test_v = default(f"battery_{system}_running_v").value
    return FlasherFacts(
        kind=flasher.kind,
        lowest_a=flasher.lowest_load.at_v(test_v) if flasher.lowest_load else None,
        highest_a=flasher.highest_load.at_v(test_v) if flasher.highest_load else None,
        origin=loaded.origin(("vehicle", "flasher")),
    )


def supply_live(loaded: LoadedRig) -> str:
    """Return when the converter's feed is live, as an expression; empty where the vehicle does not offer it."""
    feed = loaded.rig.adapter.fed_by
    if feed is None:
        return ""
    for tap in loaded.rig.vehicle.tap:
        if tap.name == feed:
            return tap.live.text
    for habit in loaded.rig.vehicle.habit:
        if habit.circuit == feed:
            return habit.live.text
    return CIRCUITS[feed].live if loaded.socket.on(feed) else ""


def unfused_circuits(loaded: LoadedRig, built: Built) -> tuple[str, ...]:
    """Return the socket circuits in use for which the rig names no fuse."""
    fused = {c for feed in loaded.rig.vehicle.feed if feed.fuse_a is not None for c in feed.circuits}
    used = {
        contact.circuit: None
        for circuit in built.circuits
        for contact in circuit.of(Contact)
        if contact.connector == "-X1" and contact.circuit not in GROUNDS and contact.circuit not in fused
    }
    return tuple(used)


def limits_of(rules: Rules) -> RuleLimits:
    """Return the limits of the check: the user's where there are any, else the catalogue's."""
    lowest, drop, fuse = (default(name) for name in ("lamp_drop_error", "lamp_drop_warn", "fuse_continuous_factor"))
    return RuleLimits(
        lowest_lamp_share=rules.lowest_lamp_voltage or 1 - lowest.value,
        lowest_lamp_source="rig file" if rules.lowest_lamp_voltage else lowest.source,
        lamp_drop_share=rules.lamp_drop_warning or drop.value,
        lamp_drop_source="rig file" if rules.lamp_drop_warning else drop.source,
        fuse_factor=rules.fuse_share or fuse.value,
        fuse_factor_source="rig file" if rules.fuse_share else fuse.source,
        ground_return_ohm=rules.ground_return_ohm,
    )


def _assumed_for(built: Built, *names: str) -> frozenset[str]:
    """Return the designations for which one of these defaults was used."""
    return frozenset(ref for row in built.assumptions if row.name in names for ref in row.where)
