"""Rules that read the design as written: feeds, inputs, outlets, how well the pin data are known."""

from __future__ import annotations

from collections.abc import Iterator

from wiregen.catalogue.circuits import CIRCUITS, GROUNDS
from wiregen.catalogue.connector import SUPPORT_WORDS, Connector
from wiregen.check.case import Case, Coupling
from wiregen.check.rule import FROM_CONNECTIONS, OF_THE_PINOUT, PRACTICE, rule
from wiregen.model.circuit import Conductor, Contact, Lamp
from wiregen.model.finding import Finding
from wiregen.model.logic import parse
from wiregen.model.rule import RuleInfo
from wiregen.model.state import every_controls


@rule(
    RuleInfo(
        id="missing-input",
        cure="nothing",
        harm="dark lamp",
        title="Every channel listens to something the vehicle has",
        severity="error",
        what="The inputs of each channel against the contacts of the vehicle socket and the taps.",
        why="A coil on a contact that does not exist never pulls in.",
        limit="Each input is a contact of the socket or a tap.",
        sources=(OF_THE_PINOUT,),
    )
)
def missing_input(case: Case) -> Iterator[Finding]:
    """Every channel listens to something the vehicle has."""
    for channel in case.channels:
        for name in channel.missing:
            word = CIRCUITS[name].word if name in CIRCUITS else name
            yield Finding(
                rule="missing-input",
                severity="error",
                where=f"channel {channel.name}",
                message=f"the vehicle socket ({case.socket.short}) has no contact for {word}",
                advice=_instead(case, name),
                source=",".join(case.socket.contact[0].sources),
                origin=channel.origin,
            )


def _instead(case: Case, name: str) -> str:
    if name in ("stop", "brake") and case.socket.stop_turn == "combined":
        return (
            "On this socket stop is combined with turn on each side: "
            "take the pedal signal from a tap at the brake switch. Where the tap stays live in blackout, "
            'lamps need "pedal and not blackout_tail".'
        )
    if name in ("charge", "ignition"):
        return "This socket offers no permanent feed: run a feed with its own fuse from the battery, as a tap."
    offered = sorted({c.circuit for c in case.socket.contact if CIRCUITS[c.circuit].live != "never"})
    return f"Offered are: {', '.join(offered)}. Otherwise add a tap."


@rule(
    RuleInfo(
        id="supply-feed",
        cure="nothing",
        harm="dark lamp",
        title="The converter hangs on a feed that is always live",
        severity="error",
        what="When the converter's feed is live, over every setting of the controls.",
        why="A converter on a lamp circuit is dead while that lamp is off, and every channel with it; lamp circuits "
        "are also too thin for it.",
        limit="Live in every state.",
        sources=(PRACTICE, OF_THE_PINOUT),
        tighten="State under [[vehicle.exception]] when the circuit is live on your vehicle.",
    )
)
def supply_feed(case: Case) -> Iterator[Finding]:
    """The converter hangs on a feed that is live whenever a lamp may have to burn."""
    if case.missing_feed is not None:
        yield Finding(
            rule="supply-feed",
            severity="error",
            where="adapter supply",
            message=f"the converter's feed {case.missing_feed or '(none given)'!r} is not offered by the vehicle",
            advice=_instead(case, "charge"),
            source=",".join(case.socket.contact[0].sources),
            origin=case.supply_origin,
        )
        return
    if case.supply_feed is None or not case.supply_feed_live:
        return
    live = parse(case.supply_feed_live)
    dead = [
        controls
        for controls in every_controls(live.names)
        if not live.value(controls.signals(lit=False, stop_wins=False))
    ]
    if dead:
        yield Finding(
            rule="supply-feed",
            severity="error",
            where="adapter supply",
            message=f"the converter is fed from {case.supply_feed!r}, a lamp circuit that is not always live",
            state=min(dead, key=lambda controls: controls.weight).words,
            advice="Feed the converter from the battery through a fuse of its own; "
            "a lamp circuit is too thin and goes dead.",
            source=PRACTICE,
            origin=case.supply_origin,
        )


@rule(
    RuleInfo(
        id="no-outlet",
        cure="nothing",
        harm="dark lamp",
        title="Every channel ends on a contact of some trailer",
        severity="warning",
        what="The outputs of each channel against the contacts of all trailer plugs.",
        why="A channel that ends nowhere is a mistake in the file or a part too many.",
        limit="At least one plug has the contact.",
        sources=(PRACTICE,),
    )
)
def no_outlet(case: Case) -> Iterator[Finding]:
    """Every channel ends on a contact of some trailer."""
    offered = {contact.circuit for coupling in case.couplings for contact in coupling.plug.contact}
    for channel in case.channels:
        for name in channel.outputs:
            if name not in offered:
                yield Finding(
                    rule="no-outlet",
                    severity="warning",
                    where=f"channel {channel.name}",
                    message=f"no trailer connector has a contact for {CIRCUITS[name].word}",
                    advice="Correct the output, or leave the channel out.",
                    source=PRACTICE,
                    origin=channel.origin,
                )


def _grounded(case: Case, coupling: Coupling) -> set[str]:
    """Return the marks of a trailer's ground contacts that the adapter joins, or the trailer to one that it joins."""
    wires = [wire for wire in coupling.circuit.of(Conductor) if wire.stretch == "adapter-trailer"]
    ends = {end for wire in wires for end in (wire.a, wire.b)}
    grounds = [contact.mark for contact in coupling.plug.contact if contact.circuit in GROUNDS]
    found = {mark for mark in grounds if f"{coupling.outlet}:{mark}.a" in ends}
    facts = case.trailer(coupling)
    for group in facts.ties if facts else ():
        if found & set(group):
            found |= set(group) & set(grounds)
    return found


@rule(
    RuleInfo(
        id="open-return",
        cure="nothing",
        harm="dark lamp",
        title="Every load has the return that its contact is there with",
        severity="error",
        what="The contacts by which single loads of a trailer return, as its pinout names them, against what they are "
        "joined to.",
        why="A refrigerator or a battery that returns by a contact of its own is dead behind a socket that has nothing "
        "there, or its current takes the hitch and the thin return of the lamps.",
        limit="Each is joined to ground.",
        sources=(FROM_CONNECTIONS, OF_THE_PINOUT),
        tighten="Measure the contact of the vehicle socket against chassis; state the wiring that the socket has.",
    )
)
def open_return(case: Case) -> Iterator[Finding]:
    """Every load of a trailer has the return of its own contact."""
    for coupling, origin in zip(case.couplings, case.trailer_origins, strict=True):
        grounded = _grounded(case, coupling)
        built = {contact.mark for contact in coupling.circuit.of(Contact) if contact.connector == coupling.outlet}
        for entry in coupling.plug.contact:
            ground = coupling.plug.return_of(entry)
            if ground is None or not {entry.mark, ground.mark} <= built or ground.mark in grounded:
                continue
            yield Finding(
                rule="open-return",
                severity="error",
                where=f"{coupling.outlet}:{ground.mark}",
                trailer=coupling.circuit.trailer,
                message=f"{CIRCUITS[entry.circuit].word} on contact {entry.mark} returns by contact {ground.mark}, and "
                f"the vehicle socket ({case.socket.short}) has no ground there: it has no way back",
                advice="Wire this contact of the vehicle socket to ground, or the trailer as the socket is wired. "
                "Never join it to the return of the lamps.",
                source=",".join(coupling.plug.proof_of(entry, "returns_by").sources),
                origin=origin,
            )


@rule(
    RuleInfo(
        id="joined-returns",
        cure="nothing",
        harm="fire",
        title="The returns of a connector stay apart on the trailer",
        severity="warning",
        what="Contacts that the rig joins inside a trailer, where the pinout gives single loads returns of their own.",
        why="Joined, the current of a refrigerator or a battery takes the thin return of the lamps too, and an open "
        "return is not noticed.",
        limit="No two returns are joined.",
        sources=(OF_THE_PINOUT,),
    )
)
def joined_returns(case: Case) -> Iterator[Finding]:
    """No trailer joins returns that its connector keeps apart."""
    for coupling, origin in zip(case.couplings, case.trailer_origins, strict=True):
        own = {ground.mark: entry for entry in coupling.plug.contact if (ground := coupling.plug.return_of(entry))}
        facts = case.trailer(coupling)
        for group in facts.ties if facts else ():
            marks = [mark for mark in dict.fromkeys(group) if mark in own]
            if len(marks) > 1:
                yield Finding(
                    rule="joined-returns",
                    severity="warning",
                    where=", ".join(f"{coupling.outlet}:{mark}" for mark in marks),
                    trailer=coupling.circuit.trailer,
                    message=f"the trailer joins contacts {' and '.join(marks)}, which are returns of different loads",
                    advice="Part them: each load returns by the contact that its connector has for it.",
                    source=",".join(coupling.plug.proof_of(own[marks[-1]], "returns_by").sources),
                    origin=origin,
                )


@rule(
    RuleInfo(
        id="unverified-contact",
        cure="nothing",
        harm="part",
        title="The function of every contact in use is known from a source",
        severity="notice",
        what="Contacts in use for whose function no document was seen, or on which sources disagree.",
        why="A wrong pin table puts 24 V where nobody expects it. Measure such a contact first.",
        limit="At least one source that was read.",
        sources=(OF_THE_PINOUT,),
    )
)
def unverified_contact(case: Case) -> Iterator[Finding]:
    """Contacts in use whose function nobody proved, or that is disputed, are named."""
    seen: set[tuple[str, str]] = set()
    for coupling in case.couplings:
        for designation, pinout in (("-X1", case.socket), (coupling.outlet, coupling.plug)):
            for contact in coupling.circuit.of(Contact):
                if contact.connector != designation or (designation, contact.mark) in seen:
                    continue
                seen.add((designation, contact.mark))
                entry = pinout.find(contact.mark)
                if entry is None or not entry.is_doubtful:
                    continue
                yield Finding(
                    rule="unverified-contact",
                    severity="notice",
                    where=contact.ref,
                    message=f"{pinout.short} contact {entry.mark}, {entry.function}: {SUPPORT_WORDS[entry.support]}",
                    trailer="" if designation == "-X1" else coupling.circuit.trailer,
                    advice=entry.note or "Measure it before you connect anything.",
                    source=",".join(entry.sources),
                    origin=case.vehicle_origin if designation == "-X1" else None,
                )


@rule(
    RuleInfo(
        id="lamp-data",
        cure="nothing",
        harm="dark lamp",
        title="The current of every lamp type is known from a source",
        severity="notice",
        what="Lamp types whose data are from memory.",
        why="Every current and voltage of the check rests on them.",
        limit="A source that was read, or the user's own data.",
        sources=("memory",),
        tighten="State technology, voltage and power of the lamp, or measured points, in place of its type.",
    )
)
def lamp_data(case: Case) -> Iterator[Finding]:
    """Lamp types whose current is from memory are named, because every number rests on them."""
    types: dict[str, list[str]] = {}
    for coupling in case.couplings:
        for lamp in coupling.circuit.of(Lamp):
            if lamp.support == "memory":
                types.setdefault(lamp.type_name, []).append(lamp.ref)
    if types:
        yield Finding(
            rule="lamp-data",
            severity="notice",
            where=", ".join(ref for refs in types.values() for ref in refs),
            message=f"the currents of these lamp types are from memory, not verified: {', '.join(types)}",
            advice="Measure one lamp, or read its label, and state voltage and power in the rig file.",
            source="memory",
        )


@rule(
    RuleInfo(
        id="shared-shell",
        cure="nothing",
        harm="part",
        title="No other wiring fits the same shell",
        severity="notice",
        what="Every known wiring whose connector mates with the vehicle socket or a trailer plug.",
        why="What fits will one day be plugged in: other functions on the contacts, or 24 V on a 12 V trailer.",
        limit="None that is known.",
        sources=(OF_THE_PINOUT,),
    )
)
def shared_shell(case: Case) -> Iterator[Finding]:
    """A connector that mates with another wiring or another voltage is named."""
    places = [("-X1 vehicle socket", case.socket, case.vehicle_origin)]
    places += [
        (f"{coupling.outlet} {coupling.circuit.trailer}", coupling.plug, origin)
        for coupling, origin in zip(case.couplings, case.trailer_origins, strict=True)
    ]
    for where, pinout, origin in places:
        others = [other for _, other in case.all_pinouts if other.shell == pinout.shell and other.title != pinout.title]
        if others:
            yield Finding(
                rule="shared-shell",
                severity="notice",
                where=where,
                message=f"{pinout.short} mates with {_named(others)}",
                advice=_shell_advice(pinout, others),
                source=",".join(pinout.contact[0].sources),
                origin=origin,
            )


def _named(others: list[Connector]) -> str:
    return "; ".join(f"{other.short} ({'/'.join(str(v) for v in other.voltage_v)} V)" for other in others)


def _shell_advice(pinout: Connector, others: list[Connector]) -> str:
    volts = set(pinout.voltage_v).union(*(other.voltage_v for other in others))
    if len(volts) > 1:
        return "24 V and 12 V wirings share this shell: label both ends with the voltage and the wiring."
    return "Other functions on the same contacts: label both ends with the wiring."


@rule(
    RuleInfo(
        id="switch-off",
        cure="nothing",
        harm="dark lamp",
        title="A lighting switch that leaves stop and turn dead at OFF fools no channel that listens to the pedal too",
        severity="notice",
        what="Channels for turn lamps that take a combined stop and turn circuit of the socket together with a tap, on "
        "a vehicle whose lighting switch has blackout positions.",
        why="With the switch OFF those circuits are believed to be dead while the pedal's wire is live: the logic then "
        "takes braking for turning, and both turn lamps burn.",
        limit="None; that the circuits are dead at OFF is inferred from the positions of the switch, not verified.",
        sources=(FROM_CONNECTIONS,),
        tighten="Take the pedal's signal from behind the lighting switch, or add a circuit that is dead at OFF to the "
        "channel's input with 'and'.",
    )
)
def switch_off(case: Case) -> Iterator[Finding]:
    """No turn lamp burns because the socket is dead and the pedal is not."""
    taps = {tap.name: tap for tap in case.taps}
    for channel in case.channels:
        dead = [name for name in channel.inputs if name in case.switched]
        pedals = [name for name in channel.inputs if name in taps and "brake" in parse(taps[name].live).names]
        if not dead or not pedals or not {"turn_left", "turn_right"} & set(channel.outputs):
            continue
        if parse(channel.logic).value(frozenset(pedals).__contains__):
            words = ", ".join(CIRCUITS[name].word for name in dead)
            yield Finding(
                rule="switch-off",
                severity="notice",
                where=f"channel {channel.name}",
                message=f"with the lighting switch OFF, {words} may be dead while {', '.join(pedals)} is live: braking "
                "then lights a turn lamp (inferred, not verified)",
                advice="Brake with the switch OFF and look at the contact. If it is dead, take the pedal's signal from "
                "behind the lighting switch, or drive with the switch at STOP LIGHT or SERVICE DRIVE only.",
                source=FROM_CONNECTIONS,
                origin=channel.origin,
            )
