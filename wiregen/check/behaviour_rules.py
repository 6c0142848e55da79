"""Rules on the behaviour table: what lamps do against what they must do, and connections that fight."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.catalogue.devices import DEVICES
from wiregen.check.case import Case, ChannelFacts, Coupling
from wiregen.check.rule import FROM_CONNECTIONS, rule
from wiregen.model.behaviour import BehaviourRow, Conflict
from wiregen.model.circuit import Element, Lamp
from wiregen.model.finding import Finding
from wiregen.model.logic import parse
from wiregen.model.rule import RuleInfo

_LOOK_ORDER = ("dark", "steady", "flash")
#: Where the duty of a lamp stands, by the region of the rig.
_DUTY_SOURCES = {"us": "S24,S25", "europe": "S60"}


@rule(
    RuleInfo(
        id="lamp-behaviour",
        cure="nothing",
        harm="dark lamp",
        title="Every lamp does what it must under every setting of the controls",
        severity="error",
        what="The behaviour table: each lamp and load, dark, steady or flashing over one flash cycle, against its "
        "duty.",
        why="Swapped sides, stop and turn on one wire, a wrong contact or a lamp that burns in blackout tell other "
        "drivers something false, and no voltage shows it.",
        limit="The duty of the lamp's circuit; where practice allows several answers, one of them.",
        sources=("S24", "S25", "S60"),
        tighten="State under [[vehicle.exception]] when a vehicle circuit is live, and braking_holds_hazard_steady, as "
        "your vehicle does it.",
    )
)
def lamp_behaviour(case: Case) -> Iterator[Finding]:
    """Every lamp does what it must under every setting of the controls."""
    for coupling in case.couplings:
        groups: dict[tuple[str, frozenset[str], str], list[BehaviourRow]] = {}
        for row in coupling.behaviour.rows:
            if not row.fits:
                groups.setdefault((row.lamp, frozenset(row.wanted), row.actual), []).append(row)
        # What one cure mends is one finding: the simplest setting is told in full, the others beside it.
        told: dict[tuple[str, str], list[Finding]] = {}
        for rows in sorted(groups.values(), key=lambda own: min(row.controls.weight for row in own)):
            found = _behaviour_finding(case, coupling, rows)
            told.setdefault((found.where, found.advice), []).append(found)
        for first, *others in told.values():
            also = "".join(f"; also {_short(one)}" for one in others)
            yield replace(first, message=f"{first.message}{also}")


def _short(finding: Finding) -> str:
    """Return what is wanted and found, and when, without the lamp and its channel."""
    return f"{finding.message.split(': ', 1)[1].rsplit('; fed by ', 1)[0]} ({finding.state})"


@rule(
    RuleInfo(
        id="never-lit",
        cure="nothing",
        harm="dark lamp",
        title="Every lamp and load has a control, or a permanent feed, that makes it live",
        severity="warning",
        what="Lamps and loads that are dark, and may be dark, under every setting of the controls: also those on the "
        "permanent supply, which a vehicle need not have, where nothing feeds its contact.",
        why="The vehicle has no such signal on its socket or taps, or nothing leads it on, so what hangs on it will "
        "never work behind it.",
        limit="At least one setting of the controls that makes it live.",
        sources=(FROM_CONNECTIONS,),
    )
)
def never_lit(case: Case) -> Iterator[Finding]:
    """Every lamp and load is live under some control; one that is dead under all, and may be so, is named."""
    for coupling in case.couplings:
        rows: dict[str, list[BehaviourRow]] = {}
        for row in coupling.behaviour.rows:
            rows.setdefault(row.lamp, []).append(row)
        for ref, own in rows.items():
            if any(row.actual != "dark" or not row.fits for row in own):
                continue
            element = coupling.circuit.by_ref[ref]
            is_asked = any(row.wanted != frozenset({"dark"}) for row in own)
            yield Finding(
                rule="never-lit",
                severity="warning",
                where=f"{ref} {lamp_words(element)}",
                message=f"{CIRCUITS[own[0].function].word}: {_why_never(own[0], is_asked=is_asked)}",
                trailer=coupling.circuit.trailer,
                advice=_FEED_IT if is_asked else _TAKE_IT,
                source=FROM_CONNECTIONS,
                origin=element.origin,
            )


_TAKE_IT = "Take the signal from a tap, or know that this lamp does not work behind this vehicle."
_FEED_IT = (
    "Add a channel that feeds this contact, fused, from a supply that is always live; or know that what hangs on it "
    "does not work behind this vehicle."
)


def _why_never(row: BehaviourRow, *, is_asked: bool) -> str:
    """Return why a lamp or load is dead for ever."""
    if not is_asked:
        return "nothing on the vehicle's socket or taps asks for it, so it stays dark for ever"
    if row.channel == "no channel":
        return "no channel feeds its contact, so it is dead under every control"
    return f"what feeds it ({row.channel}) is never live, so it is dead under every control"


def _behaviour_finding(case: Case, coupling: Coupling, rows: list[BehaviourRow]) -> Finding:
    row = min(rows, key=lambda one: one.controls.weight)
    element = coupling.circuit.by_ref[row.lamp]
    wanted = " or ".join(look for look in _LOOK_ORDER if look in row.wanted)
    others = len(rows) - 1
    more = f" (and under {others} more setting{'s' if others > 1 else ''})" if others else ""
    channel = next((one for one in case.channels if one.name == row.channel), None)
    fed = f"channel {row.channel} (input: {channel.logic})" if channel else row.channel
    return Finding(
        rule="lamp-behaviour",
        severity="error",
        where=f"{row.lamp} {lamp_words(element)}",
        message=f"{CIRCUITS[row.function].word}: {wanted} wanted, {row.actual} found{more}; fed by {fed}",
        state=row.controls.words,
        trailer=coupling.circuit.trailer,
        advice=_advice(case, row, channel),
        source=_DUTY_SOURCES.get(case.region(coupling), "S24,S60"),
        origin=(channel.origin if channel else None) or element.origin,
    )


def _advice(case: Case, row: BehaviourRow, channel: ChannelFacts | None) -> str:
    if channel is not None and channel.missing:
        return f"The vehicle socket has no contact for {', '.join(channel.missing)}: take the signal from a tap."
    if row.actual == "dark" and case.supply_feed_live and case.supply_feed:
        live = parse(case.supply_feed_live)
        if not live.value(row.controls.signals(lit=False, stop_wins=False)):
            return f"The adapter's supply is dead here, because its feed {case.supply_feed!r} is."
    if row.function == "brake":
        return _brake_advice(row)
    if row.controls.lighting == "blackout" and row.actual != "dark":
        return "This lamp must stay dark in blackout: feed it from a service circuit only."
    if row.channel == "no channel":
        return "No channel feeds this contact: add one, or correct the contact the lamp is on."
    is_wire = row.channel == "straight lead" or (channel is not None and not DEVICES[channel.device].does_logic)
    cannot = "A straight wire cannot do this: it takes an adapter with relays. " if is_wire else ""
    if row.function.startswith("turn_") and row.actual == "steady" and case.socket.stop_turn == "combined":
        return (
            f"{cannot}The vehicle puts stop and turn on one wire: take stop out again with a stop tap, "
            f'for example input = "stop_{row.function} xor pedal", and with "and not blackout_tail" where the vehicle '
            "has blackout and the tap stays live in it."
        )
    if row.function.startswith("stop_turn_") and row.controls.brake and case.socket.stop_turn == "separate":
        side = row.function.removeprefix("stop_turn_")
        return f'{cannot}Stop and turn must share this lamp: try input = "stop xor turn_{side}".'
    if row.actual != "dark" and row.wanted == frozenset({"dark"}):
        return _wrong_control(row, channel)
    if is_wire:
        return "The contact that this wire comes from is not live here: find the one that is, or tap the signal."
    return "Follow the channel from the vehicle contact to this lamp and correct the circuit that differs."


def _wrong_control(row: BehaviourRow, channel: ChannelFacts | None) -> str:
    if row.channel == "straight lead":
        return (
            "The wire joins this lamp to a contact that carries something else: equal marks are not equal circuits in "
            "these two wirings. Move it to the right contact, or use an adapter with a channel for each circuit."
        )
    if channel is not None and not DEVICES[channel.device].does_logic:
        word = CIRCUITS[row.function].word
        return (
            f"This channel passes {channel.logic!r} on as it is: give it the vehicle's {word} circuit, or a tap on it, "
            "as input."
        )
    return "It lights with the wrong control: look for swapped sides or a wrong contact."


def _brake_advice(row: BehaviourRow) -> str:
    """Return what to do about electric brakes: they are no lamp."""
    if row.channel == "no channel":
        return "Nothing feeds the magnets: add a brake controller that hears the pedal, and have the brakes checked."
    if row.actual == "dark":
        return (
            "The magnets get no current while the pedal is pressed: the brake controller must hear the brake switch, "
            "in blackout too. Do not tow it so."
        )
    return (
        "The magnets are fed without the pedal, or not steadily: the brakes drag or pulse with the lamps. The brake "
        "controller must hear the brake switch alone, through a tap of its own."
    )


def lamp_words(element: Element) -> str:
    """Return what a lamp or load is, in words."""
    side = element.side if isinstance(element, Lamp) and element.side != "both" else ""
    word = CIRCUITS[element.circuit].word
    if not side or side in word:
        return f"{word} ({element.title})"
    if "left" in word or "right" in word:
        # A plate lamp in the middle hangs on the circuit of one side.
        return f"on {word}, {'at the centre' if side == 'centre' else f'on the {side}'} ({element.title})"
    return f"{word} {side} ({element.title})"


_CONFLICT_WORDS = {
    "short": (
        "plus of {0} lies straight on ground",
        "Find the joint between plus and ground and take it out.",
    ),
    "joined": (
        "{0} and {1} of different voltage are joined",
        "Keep the 24 V and 12 V sides apart; only a relay contact or a converter may stand between them.",
    ),
    "backfeed": (
        "{0} is open, yet the circuit behind it is live: another circuit feeds it backwards",
        "Separate the joined contacts, or feed each from a relay of its own.",
    ),
    "unsettled": (
        "relays {all} never come to rest: each switches the other's supply",
        "Feed the coils from circuits that do not hang on their own contacts.",
    ),
}


def _conflicts(case: Case, kind: str) -> Iterator[Finding]:
    for coupling in case.couplings:
        for conflict in coupling.behaviour.conflicts:
            if conflict.kind == kind:
                yield _conflict_finding(coupling, conflict)


@rule(
    RuleInfo(
        id="short",
        cure="nothing",
        harm="fire",
        title="No plus lies straight on ground",
        severity="error",
        what="Supplies whose plus meets battery minus over wires, contacts, joints and closed relays, in any state.",
        why="A short blows the fuse or, where there is none, burns the harness.",
        limit="None.",
        sources=(FROM_CONNECTIONS,),
    )
)
def short(case: Case) -> Iterator[Finding]:
    """No plus lies straight on ground."""
    return _conflicts(case, "short")


@rule(
    RuleInfo(
        id="joined",
        cure="nothing",
        harm="fire",
        title="No two supplies of different voltage are joined",
        severity="error",
        what="Supplies whose plus terminals meet over wires, contacts, joints and closed relays, in any state.",
        why="The higher one drives an unlimited current into the lower: 24 V on a 12 V bus destroys all that hangs on "
        "it.",
        limit="None.",
        sources=(FROM_CONNECTIONS,),
    )
)
def joined(case: Case) -> Iterator[Finding]:
    """No two supplies of different voltage are joined."""
    return _conflicts(case, "joined")


@rule(
    RuleInfo(
        id="backfeed",
        cure="nothing",
        harm="dark lamp",
        title="No vehicle circuit is fed backwards by another",
        severity="error",
        what="Vehicle circuits whose switch is open and which are live all the same, in any state.",
        why="The vehicle's own lamps on that circuit light with the wrong control, and its fuse carries a load it was "
        "not chosen for.",
        limit="None.",
        sources=(FROM_CONNECTIONS,),
    )
)
def backfeed(case: Case) -> Iterator[Finding]:
    """No vehicle circuit is fed backwards by another."""
    return _conflicts(case, "backfeed")


@rule(
    RuleInfo(
        id="unsettled",
        cure="nothing",
        harm="part",
        title="Relays come to rest in every state",
        severity="error",
        what="Relays whose coils hang on contacts that they themselves switch.",
        why="They chatter, and their contacts burn.",
        limit="None.",
        sources=(FROM_CONNECTIONS,),
    )
)
def unsettled(case: Case) -> Iterator[Finding]:
    """Relays come to rest in every state."""
    return _conflicts(case, "unsettled")


def _conflict_finding(coupling: Coupling, conflict: Conflict) -> Finding:
    words, advice = _CONFLICT_WORDS[conflict.kind]
    elements = [coupling.circuit.by_ref.get(name) for name in conflict.terminals]
    names = [
        f"{name} ({e.title})" if e and e.title else name for name, e in zip(conflict.terminals, elements, strict=True)
    ]
    return Finding(
        rule=conflict.kind,
        severity="error",
        where=", ".join(conflict.terminals),
        message=words.format(*names, all=", ".join(names)),
        state=conflict.controls.words,
        trailer=conflict.trailer,
        advice=advice,
        source=FROM_CONNECTIONS,
        origin=next((e.origin for e in elements if e and e.origin), None),
    )
