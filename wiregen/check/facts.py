"""Facts of a rig as written, for rules that need no solving."""

from __future__ import annotations

from typing import TypedDict

from wiregen.catalogue.circuits import CIRCUITS, GROUNDS
from wiregen.catalogue.defaults import default
from wiregen.catalogue.required_lamps import region_of
from wiregen.circuit.build import Built
from wiregen.circuit.runs import USUAL_SIZE
from wiregen.model.circuit import Contact
from wiregen.model.origin import Origin
from wiregen.rig.loaded import LoadedRig


class ChannelRow(TypedDict):
    """The fields of ``wiregen.check.case.ChannelFacts``; the check stage owns the record."""

    name: str
    logic: str
    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    device: str
    missing: tuple[str, ...]
    fuse_a: float | None
    origin: Origin | None
    rated_at: str | None
    rated_for: str | None


class FlasherRow(TypedDict):
    """The vehicle's flasher as written; currents at the test voltage of the system, A, None where not given."""

    kind: str
    lowest_a: float | None
    highest_a: float | None
    origin: Origin | None


class FeedRow(TypedDict):
    """The fields of ``wiregen.check.case.FeedFacts``."""

    circuits: tuple[str, ...]
    fuse_a: float | None
    own_load_a: float | None
    origin: Origin | None


class TrailerRow(TypedDict):
    """The fields of ``wiregen.check.case.TrailerFacts``."""

    nominal_v: float
    width_m: float | None
    length_m: float | None
    region: str
    breakaway: bool | None
    origin: Origin | None
    brakes_origin: Origin | None


def feed_facts(loaded: LoadedRig) -> list[FeedRow]:
    """Return what the rig says of every vehicle feed; loads at the running voltage, A."""
    battery = loaded.rig.vehicle.battery
    running_v = battery.running_v or default(f"battery_{battery.nominal.replace(' V', 'v')}_running_v").value
    return [
        FeedRow(
            circuits=feed.circuits,
            fuse_a=feed.fuse_a,
            own_load_a=feed.own_load.at_v(running_v) if feed.own_load else None,
            origin=loaded.origin(("vehicle", "feed", index)),
        )
        for index, feed in enumerate(loaded.rig.vehicle.feed)
    ]


def trailer_facts(loaded: LoadedRig) -> list[TrailerRow]:
    """Return what the rig says of every trailer."""
    rows: list[TrailerRow] = []
    for index, (trailer, plug) in enumerate(zip(loaded.rig.trailer, loaded.plugs, strict=True)):
        path = ("trailer", index)
        rows.append(
            TrailerRow(
                nominal_v=24.0 if trailer.voltage == "24 V" else 12.0,
                width_m=trailer.width_m,
                length_m=trailer.length_m,
                region=loaded.rig.rules.region or region_of(plug.region) or "",
                breakaway=trailer.brakes.breakaway if trailer.brakes else None,
                origin=loaded.origin(path),
                brakes_origin=loaded.origin((*path, "brakes")),
            )
        )
    return rows


def flasher_facts(loaded: LoadedRig) -> FlasherRow | None:
    """Return what the rig says of the flasher, or None where it says nothing."""
    flasher = loaded.rig.vehicle.flasher
    if flasher is None:
        return None
    system = loaded.rig.vehicle.battery.nominal.replace(" V", "v")
    # Labels name lamps in watts; lamps have them at the test voltage.
    test_v = default(f"battery_{system}_running_v").value
    return FlasherRow(
        kind=flasher.kind,
        lowest_a=flasher.lowest_load.at_v(test_v) if flasher.lowest_load else None,
        highest_a=flasher.highest_load.at_v(test_v) if flasher.highest_load else None,
        origin=loaded.origin(("vehicle", "flasher")),
    )


def channel_facts(loaded: LoadedRig, built: Built) -> list[ChannelRow]:
    """Return what the rules need to know of every channel."""
    rows: list[ChannelRow] = []
    for channel in built.channels:
        written = loaded.rig.adapter.channel[channel.index]
        rows.append(
            ChannelRow(
                name=channel.name,
                logic=written.input.text,
                inputs=written.input.names,
                outputs=channel.outputs,
                device=written.device,
                missing=channel.missing,
                fuse_a=written.fuse_a,
                origin=loaded.origin(("adapter", "channel", channel.index)),
                rated_at=written.rated_at,
                rated_for=written.rated_for,
            )
        )
    return rows


def supply_live(loaded: LoadedRig) -> str:
    """Return when the converter's feed is live, as an expression; empty where the vehicle does not offer it."""
    supply = loaded.rig.adapter.supply
    if supply is None or supply.feed is None:
        return ""
    for tap in loaded.rig.vehicle.tap:
        if tap.name == supply.feed:
            return tap.live.text
    for habit in loaded.rig.vehicle.habit:
        if habit.circuit == supply.feed:
            return habit.live.text
    return CIRCUITS[supply.feed].live if loaded.socket.on(supply.feed) else ""


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


def unstated_sizes(built: Built) -> frozenset[str]:
    """Return the designations of the conductors whose size no run states."""
    return frozenset(
        ref for row in built.assumptions if row.name in ("conductor_area_mm2", USUAL_SIZE) for ref in row.where
    )
