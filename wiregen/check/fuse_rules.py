"""Rules on fuses and breakers: which opens first, cold lamps, breaking capacity, breakers that close by themselves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from wiregen.catalogue.defaults import default
from wiregen.catalogue.opening import melting_a2s
from wiregen.check.case import Case, Coupling, highest_row
from wiregen.check.clearing import Clearing, Device
from wiregen.check.rule import NO_SOURCE, PRACTICE, rule
from wiregen.model.circuit import Circuit, Coil, Converter, Element, Fuse, Lamp, Load
from wiregen.model.finding import Finding
from wiregen.model.rule import RuleInfo
from wiregen.model.short import MOST
from wiregen.model.study import Array
from wiregen.quantity import show

_ORDER: Final = default("fuse_order_factor")
_PULSE: Final = default("fuse_pulse_share")
_BREAKING: Final = default("fuse_breaking_a")
_RATIO: Final = default("inrush_ratio")
#: Time constant of filaments by the voltage they are made for, s.
_FILAMENT_S: Final = {12: default("inrush_time_s"), 24: default("inrush_time_24v_s")}
#: Up to this share of its rating a fuse holds for 100 h: it does not open first.
_HOLDS: Final = 1.1
_TIMES: Final = ("S44", "M-8820", "M-J553")


@rule(
    RuleInfo(
        id="fuse-order",
        cure="fuses",
        harm="dark lamp",
        title="Of fuses in series the one nearest to a short opens first",
        severity="warning; notice where a breaker is one of them, whose times at large currents are not known",
        what="Every pair of fuses that carry the current of the same short, in all shorts of short-clears.",
        why="Where the fuse in front opens first, more goes dark than the fault: with a trailer's short all channels, "
        "or the lamps of the vehicle itself.",
        formula="latest opening time of the near fuse ≤ earliest of the one in front; where the lines overlap, typical "
        "melting energies: I²t in front ≥ factor × I²t of the near one",
        limit=f"A factor of {_ORDER.value:g}, where the times alone do not tell; a fuse in front that carries no more "
        f"than {_HOLDS:.0%} of its rating does not open.",
        sources=(*_TIMES, "M-FUSE", _ORDER.source, "S29", NO_SOURCE),
        tighten="fuse of each feed, tap, channel and of the supply.",
    )
)
def fuse_order(case: Case) -> Iterator[Finding]:
    """The nearest of all fuses on the way of a short opens before those in front of it."""
    worst: dict[tuple[str, str], tuple[float, Coupling, Clearing, Device, Device]] = {}
    for coupling in case.solved:
        for clearing in coupling.clearings:
            near = clearing.chain[0] if clearing.chain else None
            for front in clearing.chain[1:] if near else ():
                if near is None or not _may_lose(near, front):
                    continue
                key, room = (near.fuse.ref, front.fuse.ref), _energy_room(near, front) or 0.0
                if key not in worst or room < worst[key][0]:
                    worst[key] = (room, coupling, clearing, near, front)
    for room, coupling, clearing, near, front in worst.values():
        is_known = not near.fuse.breaker and not front.fuse.breaker and room > 0
        typical = f", and its melting energy is {room:.2g} times that of {near.fuse.ref}" if is_known else ""
        yield Finding(
            rule="fuse-order",
            severity="notice" if near.fuse.breaker or front.fuse.breaker else "warning",
            where=f"{near.fuse.ref} {near.fuse.title}".strip(),
            message=f"{clearing.at.short.words}: {show(clearing.at.current_a, 'A')} flow; {near.words}, while "
            f"{front.fuse.ref} ({front.fuse.title}) in front may open {_earliest(front)}{typical}",
            state=clearing.at.point.words,
            trailer=coupling.circuit.trailer,
            value=room if is_known else None,
            limit=_ORDER.value if is_known else None,
            margin=(room - _ORDER.value) / _ORDER.value if is_known else None,
            advice=f"Use a smaller fuse for {near.fuse.circuit.replace('_', ' ')}, or a larger one in front if its "
            "conductors allow it.",
            source=f"M-FUSE,{_ORDER.source}" if is_known else NO_SOURCE,
            origin=near.fuse.origin,
        )


def _earliest(device: Device) -> str:
    least_s = device.opening.min_s
    return f"after {show(least_s, 's')}" if least_s > 0 else "at once"


def _may_lose(near: Device, front: Device) -> bool:
    """Tell whether the device in front may open first."""
    if front.current_a <= _HOLDS * front.fuse.rating_a or front.fuse.breaker == "type I":
        return False
    if near.opening.is_known and near.opening.max_s <= front.opening.min_s:
        return False
    room = _energy_room(near, front)
    return room is None or room < _ORDER.value


def _energy_room(near: Device, front: Device) -> float | None:
    """Return how much longer the device in front melts than the near one, as a ratio; None where it is not known."""
    if near.fuse.breaker or front.fuse.breaker:
        return None
    near_a2s, front_a2s = melting_a2s(near.fuse.rating_a), melting_a2s(front.fuse.rating_a)
    if near_a2s is None or front_a2s is None:
        return None
    return front_a2s / front.current_a**2 * near.current_a**2 / near_a2s


@rule(
    RuleInfo(
        id="fuse-inrush",
        cure="fuses",
        harm="dark lamp",
        title="Cold filament lamps do not wear a fuse out",
        severity="warning",
        what="What the filament lamps behind each fuse let through each time they come on together, in the state in "
        "which they take most, against the melting energy of the fuse.",
        why="A cold filament takes ten times its current for some milliseconds. A fuse that is melted a little each "
        "time opens one night for no reason that anybody can find.",
        formula="I²t = I² × ((k - 1)² τ / 2 + 2 (k - 1) τ), k = "
        f"{_RATIO.value:g}, τ = {_FILAMENT_S[12].text} for 12 V and {_FILAMENT_S[24].text} for 24 V lamps. A limit of "
        "current stretches the inrush and leaves its I²t as it is: what heats a filament from one resistance to the "
        "next is I² R dt.",
        limit=f"{_PULSE.value:.0%} of the typical melting energy, which a fuse stands a hundred thousand times.",
        sources=(_PULSE.source, "M-FUSE", "S44", _RATIO.source, _FILAMENT_S[24].source),
        tighten="fuse of each feed, tap, channel and of the supply.",
    )
)
def fuse_inrush(case: Case) -> Iterator[Finding]:
    """The inrush of the filament lamps behind every fuse is a small share of its melting energy."""
    done: set[str] = set()
    for coupling in case.solved:
        for fuse in coupling.circuit.of(Fuse):
            melting = melting_a2s(fuse.rating_a, toward="lower")
            if fuse.breaker or melting is None or fuse.ref in done:
                continue
            through = _inrush_a2s(coupling, fuse)
            row = highest_row(through)
            value, limit = float(through[row]), _PULSE.value * melting
            if value <= limit:
                continue
            done.add(fuse.ref)
            yield Finding(
                rule="fuse-inrush",
                severity="warning",
                where=f"{fuse.ref} {fuse.title}".strip(),
                message=f"the cold lamps behind it let {show(value, 'A²s')} through each time they come on; it stands "
                f"{show(limit, 'A²s')} for long and melts at {show(melting, 'A²s')}",
                state=coupling.study.points[row].words,
                trailer=coupling.circuit.trailer,
                value=value,
                limit=limit,
                unit="A²s",
                margin=(limit - value) / limit,
                advice="Use the next larger fuse if the conductors allow it, or split the lamps over two.",
                source=f"{_PULSE.source},M-FUSE",
                origin=fuse.origin,
            )


def _inrush_a2s(coupling: Coupling, fuse: Fuse) -> Array:
    """Return what the filament lamps behind a fuse let through when they come on together, A²s, at every row."""
    through_a = np.abs(coupling.study.current_a(fuse.ref))
    lamps = _lamps_behind(coupling.circuit, fuse)
    lamps_a = np.zeros(len(through_a))
    seconds = 0.0
    for lamp in lamps:
        lamps_a = lamps_a + np.abs(coupling.study.current_a(lamp.ref))
        seconds = max(seconds, _FILAMENT_S[24 if lamp.nominal_v > 16 else 12].value)
    more = _RATIO.value - 1
    return np.asarray(np.minimum(lamps_a, through_a) ** 2 * (more**2 * seconds / 2 + 2 * more * seconds))


def _lamps_behind(circuit: Circuit, fuse: Fuse) -> list[Lamp]:
    """Return the filament lamps that a fuse feeds, along the direction of the feeds and not through converters."""
    starting: dict[str, list[Element]] = {}
    for element in circuit.elements:
        starting.setdefault(element.a, []).append(element)
    found: dict[str, Lamp] = {}
    todo, seen = [fuse.b], {fuse.b, circuit.reference}
    while todo:
        for element in starting.get(todo.pop(), ()):
            if isinstance(element, Lamp):
                if element.technology == "filament":
                    found[element.ref] = element
            elif not isinstance(element, Converter | Coil | Load) and element.b not in seen:
                seen.add(element.b)
                todo.append(element.b)
    return list(found.values())


@rule(
    RuleInfo(
        id="fuse-breaking",
        cure="nothing",
        harm="fire",
        title="No short draws more than a fuse can break",
        severity="notice",
        what="A short right behind every fuse while charging and cold, in the simplest state that makes it live.",
        why="Beyond its breaking capacity a fuse may not open the current it melts for: the arc goes on in its body.",
        formula="I of the solved circuit; it hangs on the battery's resistance, which is mostly assumed",
        limit=f"{_BREAKING.text}, the breaking capacity of ISO 8820-3.",
        sources=(_BREAKING.source,),
        tighten="resistance of [vehicle.battery]: measure it with its cables.",
    )
)
def fuse_breaking(case: Case) -> Iterator[Finding]:
    """No fuse is asked to break more than its breaking capacity; all that are come in one finding."""
    worst: dict[str, tuple[float, Coupling, Fuse, str]] = {}
    for coupling in case.solved:
        for point in coupling.shorts.at(MOST) if coupling.shorts else ():
            fuse = coupling.circuit.by_ref[point.short.ref]
            if not isinstance(fuse, Fuse) or fuse.breaker or coupling.shorts is None:
                continue
            amps = abs(coupling.shorts.current_a(point, fuse.ref))
            if amps > max(_BREAKING.value, worst.get(fuse.ref, (0.0,))[0]):
                worst[fuse.ref] = (amps, coupling, fuse, point.point.words)
    if not worst:
        return
    amps, coupling, fuse, words = max(worst.values(), key=lambda entry: entry[0])
    others = [ref for ref in worst if ref != fuse.ref]
    yield Finding(
        rule="fuse-breaking",
        severity="notice",
        where=f"{fuse.ref} {fuse.title}".strip(),
        message=f"a short right behind it draws {show(amps, 'A')}, and it can break {_BREAKING.text}"
        + (f"; likewise {', '.join(others)}" if others else ""),
        state=words,
        trailer=coupling.circuit.trailer,
        value=amps,
        limit=_BREAKING.value,
        unit="A",
        margin=(_BREAKING.value - amps) / _BREAKING.value,
        advice="Measure the resistance of the battery with its cables and state it; a main fuse for more, close to the "
        "battery, takes over beyond.",
        source=_BREAKING.source,
        origin=fuse.origin,
    )


@rule(
    RuleInfo(
        id="breaker-type",
        cure="nothing",
        harm="fire",
        title="No breaker closes by itself onto a fault",
        severity="warning for type I; notice for type II",
        what="The breakers that the rig states, by their type of SAE J553, and the shorts behind them.",
        why="A breaker of type I closes again when it has cooled: lamps come and go, which looks like a loose contact, "
        "and a short is switched on again and again until something else burns. It needs a fuse as a back-up. Type II "
        "stays open while there is voltage, and closes onto the fault at the next switching on.",
        limit="Type III, which somebody must close by hand, or a fuse.",
        sources=("S29", PRACTICE),
        tighten="breaker of each feed, tap, channel and of the supply.",
    )
)
def breaker_type(case: Case) -> Iterator[Finding]:
    """Every breaker stays open until somebody closes it."""
    seen: set[str] = set()
    for coupling in case.couplings:
        for fuse in coupling.circuit.of(Fuse):
            if fuse.breaker not in ("type I", "type II") or fuse.ref in seen:
                continue
            seen.add(fuse.ref)
            closes = fuse.breaker == "type I"
            short = _largest(coupling, fuse) if coupling.study.points else None
            onto = f": onto {show(short.at.current_a, 'A')} where {short.at.short.words}" if short else ""
            yield Finding(
                rule="breaker-type",
                severity="warning" if closes else "notice",
                where=f"{fuse.ref} {fuse.title}".strip(),
                message=f"closes again by itself as soon as it has cooled{onto}; what it feeds comes and goes"
                if closes
                else f"closes again when the supply has been off{onto}",
                state=short.at.point.words if short else "",
                trailer=coupling.circuit.trailer,
                advice="Use a breaker of type III or a fuse; a breaker that is there stays with a fuse as a back-up, "
                "and is never bridged.",
                source="S29",
                origin=fuse.origin,
            )


def _largest(coupling: Coupling, fuse: Fuse) -> Clearing | None:
    """Return the short with the largest current at the end of a conductor behind a breaker; None without one."""
    found = [
        clearing
        for clearing in coupling.clearings
        if any(device.fuse.ref == fuse.ref for device in clearing.chain) and clearing.at.short.ref != fuse.ref
    ]
    return max(found, key=lambda clearing: clearing.at.current_a, default=None)
