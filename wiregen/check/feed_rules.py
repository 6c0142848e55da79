"""Rules on the vehicle's feeds: fuses at the source, and what else hangs on them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from wiregen.catalogue.circuits import CIRCUITS, GROUNDS
from wiregen.catalogue.defaults import default
from wiregen.check.case import Case, Coupling, FeedFacts
from wiregen.check.rule import OF_THE_PINOUT, PRACTICE, RIG_FILE, measured, rule
from wiregen.model.circuit import Battery, Conductor, Contact, Fuse
from wiregen.model.finding import Finding, Severity
from wiregen.model.rule import RuleInfo
from wiregen.model.stretch import STRETCHES
from wiregen.quantity import show

_FUSE_SHARE: Final = default("fuse_continuous_factor")
#: A trailer that takes less of a vehicle fuse than this share of it changes nothing for the vehicle's own lamps.
_MATTERS: Final = 0.1
#: The lamp in turn and stop lamps, W.
_LAMP_W: Final = 21.0
#: Stretches beyond the adapter: what reaches them from a socket contact carries lamps, not coils.


def _words(circuits: Sequence[str]) -> str:
    return ", ".join(CIRCUITS[name].word for name in circuits)


def feeds_trailer(coupling: Coupling, circuit: str) -> bool:
    """Tell whether a socket circuit runs on to the trailer over wires, diodes or resistors, with no relay between."""
    contacts = (c for c in coupling.circuit.of(Contact) if c.connector == "-X1" and c.circuit == circuit)
    return any(STRETCHES[w.stretch].of_trailer for c in contacts for w in coupling.circuit.reached(c.b, c.a))


@rule(
    RuleInfo(
        id="unfused-feed",
        cure="nothing",
        harm="fire",
        title="Every wire from the battery has a fuse at its source",
        severity="error for a tap without a fuse; warning for a vehicle circuit without a stated fuse that feeds the "
        "converter or runs on to the trailer; notice for one that feeds relay coils only",
        what="Taps, and the vehicle circuits that the socket uses.",
        why="A wire without a fuse that chafes through on the frame burns. The vehicle mostly has a fuse or breaker, "
        "but nobody has looked yet whether it has, and how large it is.",
        limit="A fuse or breaker at the source.",
        sources=("S13",),
        tighten="State the vehicle's own fuses under [[vehicle.fuse]].",
    )
)
def unfused_feed(case: Case) -> Iterator[Finding]:
    """Every wire tapped from the battery has a fuse at its source; the vehicle's own fuses are stated."""
    for tap in case.taps:
        if tap.fuse_a is None:
            yield Finding(
                rule="unfused-feed",
                severity="error",
                where=f"tap {tap.name}",
                message=f"no fuse where {tap.name} leaves the {tap.at}",
                advice="Fit a fuse at the source, no larger than the conductor carries.",
                source="S13",
                origin=tap.origin,
            )
    through = tuple(
        name
        for name in case.unfused_circuits
        if name != case.supply_feed and any(feeds_trailer(coupling, name) for coupling in case.couplings)
    )
    coils = tuple(name for name in case.unfused_circuits if name != case.supply_feed and name not in through)
    if case.supply_feed in case.unfused_circuits:
        yield _unstated(
            case,
            "warning",
            f"vehicle feed {case.supply_feed}",
            "the converter hangs on this contact, and no vehicle fuse is stated for it",
        )
    if through:
        yield _unstated(
            case,
            "warning",
            "vehicle feeds",
            f"no vehicle fuse is stated for circuits that run on to the trailer: {_words(through)}",
        )
    if coils:
        yield _unstated(case, "notice", "vehicle feeds", f"no vehicle fuse or breaker is stated for: {_words(coils)}")


def _unstated(case: Case, severity: Severity, where: str, message: str) -> Finding:
    is_feed = where != "vehicle feeds"
    return Finding(
        rule="unfused-feed",
        severity=severity,
        where=where,
        message=message,
        advice="Go and look: find the fuse or breaker, read its rating and state it under [[vehicle.fuse]]. "
        "Where there is none, fit one at the source.",
        source="S13",
        origin=case.supply_origin if is_feed else case.vehicle_origin,
    )


def _fuse_of(coupling: Coupling, feed: FeedFacts) -> Fuse | None:
    return next((f for f in coupling.circuit.of(Fuse) if f.zone == "vehicle" and f.origin == feed.origin), None)


@rule(
    RuleInfo(
        id="vehicle-fuse-share",
        cure="nothing",
        harm="dark lamp",
        title="The vehicle's fuses carry the trailer and the vehicle's own lamps together",
        severity="error above the rating; warning above the share a fuse carries for long; notice where own_load is "
        f"not stated and the trailer takes more than {_MATTERS:.0%} of the fuse",
        what="The current of each vehicle fuse under [[vehicle.fuse]] that feeds lamps, plus its own_load.",
        why="The fuse that feeds the trailer socket mostly feeds the vehicle's own lamps too. What is left for the "
        "trailer is the rest, not the whole rating.",
        formula="I trailer + own_load ≤ rating, and for long ≤ share × rating",
        limit=f"The rating of the fuse; {_FUSE_SHARE.value:.0%} of it for long.",
        sources=(PRACTICE, _FUSE_SHARE.source, RIG_FILE),
        tighten="own_load of each [[vehicle.fuse]]; fuse_share under [rules].",
    )
)
def vehicle_fuse_share(case: Case) -> Iterator[Finding]:
    """A vehicle fuse has room for the trailer beside the vehicle's own lamps, or the user is told what is left."""
    for feed in case.feeds:
        rows = [
            (*coupling.worst(fuse.ref), coupling, fuse)
            for coupling in case.solved
            if (fuse := _fuse_of(coupling, feed))
        ]
        if rows and any(CIRCUITS[name].is_light for name in feed.circuits):
            yield from _share(case, feed, *max(rows, key=lambda row: row[0]))


def _share(case: Case, feed: FeedFacts, value: float, row: int, coupling: Coupling, fuse: Fuse) -> Iterator[Finding]:
    for_long = fuse.rating_a * case.limits.fuse_factor
    if value > for_long:
        return  # fuse-load speaks of it
    if feed.own_load_a is None:
        if value > _MATTERS * fuse.rating_a:
            yield Finding(
                rule="vehicle-fuse-share",
                severity="notice",
                where=f"{fuse.ref} {fuse.title}",
                message=f"the trailer takes {show(value, 'A')} of it; the vehicle's own lamps on it may take no more "
                f"than {show(for_long - value, 'A')}",
                state=coupling.study.points[row].words,
                trailer=coupling.circuit.trailer,
                value=value,
                unit="A",
                advice="Add up what the vehicle's own lamps on this fuse take and state it as own_load under its "
                "[[vehicle.fuse]].",
                source=PRACTICE,
                origin=fuse.origin,
            )
        return
    total = value + feed.own_load_a
    if total > for_long:
        is_over = total > fuse.rating_a
        yield measured(
            coupling,
            fuse,
            row,
            rule="vehicle-fuse-share",
            severity="error" if is_over else "warning",
            message=f"the trailer takes {show(value, 'A')} and the vehicle's own lamps {show(feed.own_load_a, 'A')}: "
            f"{show(total, 'A')} together, {show(fuse.rating_a if is_over else for_long, 'A')} allowed",
            value=total,
            limit=fuse.rating_a if is_over else for_long,
            advice="Do not fit a larger fuse to the vehicle's wiring: feed the trailer through relays with a feed of "
            "their own, or use lamps that take less.",
            source=RIG_FILE if is_over else case.limits.fuse_factor_source,
        )


@rule(
    RuleInfo(
        id="shared-ground",
        cure="nothing",
        harm="fire",
        title="Sockets in parallel do not lean on one ground contact",
        severity="notice; error above the rating of the contact",
        what="The ground contact of the vehicle socket, where it is the only one and the adapter has no ground of "
        "its own, with the most that each trailer returns over it, added up over all trailer connectors.",
        why="Only one trailer is computed at a time, but the connectors hang in parallel: with a second lead plugged "
        "in (a lighting board, a carrier, a supplementary connector) both currents return over this one contact.",
        formula="sum over the connectors of the most that each returns",
        limit="The rating of the contact where one is known; else there is none.",
        sources=(PRACTICE, OF_THE_PINOUT, RIG_FILE),
        tighten="own_ground of [adapter].",
    )
)
def shared_ground(case: Case) -> Iterator[Finding]:
    """Behind one ground contact there is one trailer connector only, or the user is told the sum."""
    if len(case.couplings) < 2 or len(case.solved) != len(case.couplings):
        return
    found = [
        (contact, *coupling.worst(contact.ref), coupling)
        for coupling in case.couplings
        if (contact := _only_ground(coupling))
    ]
    if len(found) != len(case.couplings):
        return
    total = math.fsum(value for _, value, _, _ in found)
    contact, _, row, coupling = max(found, key=lambda one: one[1])
    is_over = contact.rating_a is not None and total > contact.rating_a
    parts = " and ".join(f"{show(value, 'A')} from {coupling.circuit.trailer}" for _, value, _, coupling in found)
    yield Finding(
        rule="shared-ground",
        severity="error" if is_over else "notice",
        where=f"{contact.ref} {contact.title}".strip(),
        message=f"the trailer connectors share this one ground contact: {show(total, 'A')} with all of them coupled "
        f"({parts})",
        state=coupling.study.points[row].words,
        value=total,
        limit=contact.rating_a,
        unit="A",
        margin=(contact.rating_a - total) / contact.rating_a if contact.rating_a else None,
        advice="Couple one at a time, or ground the adapter on the chassis with a conductor of its own (own_ground).",
        source=contact.rating_source or PRACTICE,
        origin=case.vehicle_origin,
    )


def _only_ground(coupling: Coupling) -> Contact | None:
    """Return the ground contact of the vehicle socket where everything returns over it alone."""
    if any(c.stretch == "adapter-chassis" for c in coupling.circuit.of(Conductor)):
        return None
    grounds = [c for c in coupling.circuit.of(Contact) if c.connector == "-X1" and c.circuit in GROUNDS]
    return grounds[0] if len(grounds) == 1 else None


#: Circuits whose lamps such a vehicle watches first.
_WATCHED: Final = ("turn_left", "turn_right", "stop", "stop_turn_left", "stop_turn_right")


@rule(
    RuleInfo(
        id="bulb-monitor",
        cure="nothing",
        harm="dark lamp",
        title="A vehicle that watches its lamps sees lamps on its trailer socket",
        severity="notice",
        what="The current of the turn and stop contacts of the vehicle socket, where the rig states "
        "bulb_monitor = true, or says nothing and the socket is a European one with separate stop and turn.",
        why="A vehicle with bulb-failure warning measures the current of each lamp. Behind relay coils, solid-state "
        "inputs or LED lamps it sees next to nothing: it reports lamps as out, flashes fast, or switches the circuit "
        "off, and its test pulses make LED lamps glow.",
        formula="|I| of the contact, highest of all states and corners",
        limit="What one 21 W lamp takes at the running voltage.",
        sources=(PRACTICE,),
        tighten="bulb_monitor of [vehicle]: false where it does not watch them.",
    )
)
def bulb_monitor(case: Case) -> Iterator[Finding]:
    """A vehicle that watches its lamps sees the current of a lamp on turn and stop, or the user is told."""
    if case.bulb_monitor is False:
        return
    if case.bulb_monitor is None and not (
        case.socket.stop_turn == "separate" and case.socket.region.startswith("Europe")
    ):
        return
    for coupling in case.solved:
        battery_v = math.fsum(b.voltage_v for b in coupling.circuit.of(Battery) if b.zone == "vehicle")
        lamp_a = _LAMP_W / battery_v
        watched = [c for c in coupling.circuit.of(Contact) if c.connector == "-X1" and c.circuit in _WATCHED]
        thin = [(coupling.worst(c.ref)[0], c) for c in watched]
        thin = [(amps, c) for amps, c in thin if amps < lamp_a / 2]
        if thin:
            most = max(amps for amps, _ in thin)
            known = "" if case.bulb_monitor else ", if this vehicle watches its lamps"
            yield Finding(
                rule="bulb-monitor",
                severity="notice",
                where=", ".join(c.ref for _, c in thin),
                message=f"the vehicle sees no more than {_small(most)} on {_words([c.circuit for _, c in thin])}, "
                f"where one {_LAMP_W:g} W lamp takes {show(lamp_a, 'A')}: it may report lamps as out{known}",
                advice="Ask whether the vehicle has bulb-failure warning for the trailer socket. If so have it coded "
                "for a trailer with LED lamps, or fit load resistors where their heat does no harm; if not, state "
                "bulb_monitor = false under [vehicle].",
                source=PRACTICE,
                origin=case.vehicle_origin,
            )
            return


def _small(amps: float) -> str:
    return show(amps * 1000, "mA") if amps < 0.1 else show(amps, "A")
