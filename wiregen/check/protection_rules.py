"""Rules on what is not there: a fuse behind a supply, a supply with the key out, the right voltage on a connector."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from wiregen.catalogue.ampacity import ampacity_a
from wiregen.catalogue.defaults import default
from wiregen.catalogue.fuses import largest_rating_a, smallest_rating_a
from wiregen.catalogue.sources import OutsideTable
from wiregen.check.case import Case, Coupling
from wiregen.check.rule import OF_THE_PINOUT, PRACTICE, rule
from wiregen.check.weakest import size_words, weakest
from wiregen.model.circuit import Battery, Conductor, Contact, Converter, Element, Equaliser, Fuse
from wiregen.model.finding import Finding
from wiregen.model.logic import parse
from wiregen.model.rule import RuleInfo
from wiregen.model.stretch import STRETCHES
from wiregen.quantity import show

#: Above this a connector for 12 V has 24 V on it: the top of the 12 V supply codes of ISO 16750-2 (memory), V.
_HIGHEST_12_V: Final = 16.0
_LIMIT_FACTOR: Final = default("converter_current_limit_factor")
_FUSE_SHARE: Final = default("fuse_continuous_factor")
_ASSUMED_LIMIT: Final = f" (assumed: {_LIMIT_FACTOR.value:g} × its continuous output)"


@rule(
    RuleInfo(
        id="unfused-supply",
        cure="sizes",
        harm="fire",
        title="Every supply of the adapter has a fuse in front of the conductors it feeds",
        severity="error; warning where only an assumed current limit or an assumed size makes it so, and for "
        "the leads of an equaliser",
        what="The conductors that a battery, a centre tap or a converter feeds without a fuse between; the plus "
        "and the centre lead of an equaliser, whose size is taken to be the tap's.",
        why="A battery gives hundreds of amperes into a chafed wire. A converter gives its current limit for as long "
        "as the short lasts: more than a thin conductor carries, and often too little to open a fuse further on.",
        formula="battery: a fuse at the source; converter: current limit ≤ ampacity of the thinnest conductor behind",
        limit="The ampacity of that conductor, as in conductor-current. A converter that limits itself to that needs "
        f"no fuse. Without current_limit {_LIMIT_FACTOR.value:g} × continuous is taken.",
        sources=("S13", "S2", _LIMIT_FACTOR.source),
        tighten="fuse, equaliser_fuse and current_limit of [adapter.supply]; fuse of each [[adapter.channel]].",
    )
)
def unfused_supply(case: Case) -> Iterator[Finding]:
    """No conductor of the adapter hangs on a battery without a fuse, or on a converter that may overload it."""
    for coupling in case.couplings:
        for element in coupling.circuit.elements:
            if isinstance(element, Battery) and element.zone != "trailer":
                named = _named_elsewhere(case, coupling)
                laid = [wire for wire in _laid(coupling, element.a) if wire.ref not in named]
                if laid:
                    yield _unfused_battery(coupling, element, laid)
            elif isinstance(element, Converter) and not isinstance(element, Equaliser):
                yield from _unfused_converter(case, coupling, element)
            elif isinstance(element, Equaliser):
                yield from _equaliser(case, coupling, element)


def _equaliser(case: Case, coupling: Coupling, equaliser: Equaliser) -> Iterator[Finding]:
    """Yield what is wrong with the fuses in the plus and centre leads of an equaliser."""
    carries_a, rating_a, fuse_a = _leads_carry_a(coupling, equaliser), equaliser.continuous_a or 0.0, equaliser.fuse_a
    factor = case.limits.fuse_factor
    advice = (
        f"Fit a fuse in both, at the batteries, and state it as equaliser_fuse: {_equaliser_fuse(rating_a, factor)}."
    )
    if fuse_a is None:
        message = "its plus and its centre lead hang on the batteries without a fuse"
    elif fuse_a * factor < rating_a:
        message = f"its fuses of {show(fuse_a, 'A')} carry {show(fuse_a * factor, 'A')} for long, and it gives "
        message += show(rating_a, "A")
    elif carries_a is not None and fuse_a > carries_a:
        message = f"its fuses let {show(fuse_a, 'A')} through leads that carry {show(carries_a, 'A')}"
        advice = "Use a smaller fuse, or larger leads: they are taken to be as large as the tap."
    else:
        return
    yield Finding(
        rule="unfused-supply",
        severity="warning",
        where=f"{equaliser.ref} {equaliser.title}",
        message=message,
        trailer=coupling.circuit.trailer,
        advice=advice,
        source="S13",
        origin=equaliser.origin,
    )


def _leads_carry_a(coupling: Coupling, equaliser: Equaliser) -> float | None:
    """Return what an equaliser's leads carry, A, being as large as the tap; None where no table has it."""
    tap = next((w for w in coupling.circuit.of(Conductor) if w.circuit == "supply" and w.zone == "vehicle"), None)
    if tap is None or equaliser.lead_size is None:
        return None
    try:
        return ampacity_a(equaliser.lead_size, tap.insulation_c, tap.ambient_c, tap.bundle).amps
    except OutsideTable:
        return None


def _equaliser_fuse(rating_a: float, factor: float) -> str:
    try:
        return f"{show(smallest_rating_a(rating_a, factor), 'A')} carry its {show(rating_a, 'A')}"
    except OutsideTable:
        return f"no fuse of the table carries its {show(rating_a, 'A')}"


def _laid(coupling: Coupling, terminal: str) -> list[Conductor]:
    """Return the conductors that a terminal feeds; the vehicle's own wiring is the matter of ``unfused-feed``."""
    return [wire for wire in coupling.circuit.reached(terminal) if STRETCHES[wire.stretch].owner != "vehicle"]


def _named_elsewhere(case: Case, coupling: Coupling) -> set[str]:
    """Return the refs of the wires of which `unfused-feed` speaks already.

    They are taps without a fuse and all that they feed, and all that a socket contact feeds whose circuit has no known
    fuse: a straight lead carries it on under the name of the trailer's contact.
    """
    taps = {tap.name for tap in case.taps}
    named: set[str] = set()
    for tap in (wire for wire in coupling.circuit.of(Conductor) if wire.circuit in taps):
        named |= {tap.ref, *(wire.ref for wire in coupling.circuit.reached(tap.b, tap.a))}
    for contact in coupling.circuit.of(Contact):
        if contact.connector == "-X1" and contact.circuit in case.unfused_circuits:
            named |= {wire.ref for wire in coupling.circuit.reached(contact.b, contact.a)}
    return named


def _unfused_battery(coupling: Coupling, battery: Element, wires: list[Conductor]) -> Finding:
    names = ", ".join(dict.fromkeys(wire.ref for wire in wires))
    return Finding(
        rule="unfused-supply",
        severity="error",
        where=f"{battery.ref} {battery.title}",
        message=f"feeds {names} without a fuse",
        trailer=coupling.circuit.trailer,
        advice="Fit a fuse at the source, no larger than the thinnest conductor behind it carries.",
        source="S13",
        origin=wires[0].origin or battery.origin,
    )


def _unfused_converter(case: Case, coupling: Coupling, converter: Converter) -> Iterator[Finding]:
    laid = _laid(coupling, converter.b)
    fuse_ahead = _fuse_ahead(coupling, converter)
    most_a = min(converter.limit_a, fuse_ahead)
    # A conductor whose size somebody wrote down says more than one whose size is assumed.
    for some in ([wire for wire in laid if wire.ref not in case.unstated_sizes], laid):
        thinnest = weakest(some)
        if thinnest is not None and most_a > thinnest.amps:
            break
    else:
        return
    limit_a, wire = thinnest.amps, thinnest.conductor
    is_assumed = wire.ref in case.unstated_sizes or min(_stated_a(converter), fuse_ahead) <= limit_a
    if math.isfinite(most_a):
        gives = f"may drive {show(most_a, 'A')}{_ASSUMED_LIMIT if _is_assumed(converter, most_a) else ''} into"
    else:
        gives = "states no current limit and feeds"
    yield Finding(
        rule="unfused-supply",
        severity="warning" if is_assumed else "error",
        where=f"{converter.ref} {converter.title}",
        message=f"{gives} {wire.ref} ({size_words(case, wire)}) with no fuse between; it carries {show(limit_a, 'A')}",
        trailer=coupling.circuit.trailer,
        value=most_a if math.isfinite(most_a) else None,
        limit=limit_a,
        unit="A",
        margin=(limit_a - most_a) / limit_a if math.isfinite(most_a) and limit_a > 0 else None,
        advice=_fuse_advice(coupling, converter, limit_a),
        source=f"S13,{thinnest.source}",
        origin=wire.origin or converter.origin,
    )


def _fuse_advice(coupling: Coupling, converter: Converter, limit_a: float) -> str:
    """Return which fuse fits between an output and a conductor that carries ``limit_a``, A, where one does."""
    load_a = coupling.worst(converter.ref, nominal=True)[0] if coupling.study.points else 0.0
    try:
        fuse_a = largest_rating_a(limit_a)
    except OutsideTable:
        fuse_a = 0.0
    if fuse_a * _FUSE_SHARE.value >= load_a and fuse_a:
        return (
            f"Fit a fuse of no more than {show(fuse_a, 'A')} between this output and that conductor, or use a larger "
            "conductor."
        )
    return "Use a larger conductor there, and fit a fuse between this output and it that is no larger than it carries."


def _stated_a(converter: Converter) -> float:
    """Return what a converter can drive by what the rig states, A: infinite where it states nothing."""
    if _is_assumed(converter, converter.limit_a):
        return max(converter.continuous_a or 0.0, converter.peak_a or 0.0)
    return converter.limit_a


def _is_assumed(converter: Converter, most_a: float) -> bool:
    """Tell whether the most it gives is the usual factor on its continuous output, which no rig states."""
    return converter.continuous_a is not None and math.isclose(most_a, converter.continuous_a * _LIMIT_FACTOR.value)


def _fuse_ahead(coupling: Coupling, converter: Converter) -> float:
    """Return the rating of the fuse in front of a converter inside the adapter, A; infinite where there is none."""
    if not converter.channel:
        return math.inf  # its fuse guards the 24 V side
    return min((fuse.rating_a for fuse in coupling.circuit.of(Fuse) if fuse.b == converter.a), default=math.inf)


@rule(
    RuleInfo(
        id="supply-ignition",
        cure="nothing",
        harm="dark lamp",
        title="The adapter's supply does not go dead with the ignition",
        severity="warning",
        what="Whether the converter's feed needs the ignition.",
        why="Position lamps and hazard lights must burn with the key out; with a feed behind the ignition the trailer "
        "is dark then.",
        limit="Live with the ignition off.",
        sources=(PRACTICE,),
        tighten="Feed the converter from a permanent contact or a tap at the battery.",
    )
)
def supply_ignition(case: Case) -> Iterator[Finding]:
    """The converter runs with the ignition off."""
    if case.supply_feed is None or not case.supply_feed_live:
        return
    live = parse(case.supply_feed_live)
    if "ignition" in live.names:
        yield Finding(
            rule="supply-ignition",
            severity="warning",
            where="adapter supply",
            message=f"the feed {case.supply_feed!r} is live with the ignition only: "
            "with the key out the trailer has neither position lamps nor hazard lights",
            advice="Feed the converter from a permanent contact, or from the battery through a fuse of its own.",
            source=PRACTICE,
            origin=case.supply_origin,
        )


@rule(
    RuleInfo(
        id="connector-voltage",
        cure="nothing",
        harm="part",
        title="A connector for 12 V never has 24 V on it, and a vehicle's voltage fits its socket's wiring",
        severity="error on an outlet; warning for a socket whose standard is not for the vehicle's voltage",
        what="The voltage of every outlet contact in every state and corner, against the voltages of its wiring.",
        why="The next trailer on that plug may hold ordinary 12 V lamps: 24 V destroys them, and 12 V and 24 V wirings "
        "that share a shell cannot be told apart by their look.",
        limit=f"{_HIGHEST_12_V:g} V on a connector whose wiring is for 12 V only.",
        sources=("M-16750", OF_THE_PINOUT),
        tighten="Use a connector whose wiring is for 24 V, or bring the signal down.",
    )
)
def connector_voltage(case: Case) -> Iterator[Finding]:
    """No contact of a 12 V connector carries 24 V in any state."""
    nominal_v = math.fsum(b.nominal_v for b in case.couplings[0].circuit.of(Battery) if b.zone == "vehicle")
    if nominal_v and round(nominal_v) not in case.socket.voltage_v:
        volts = "/".join(str(v) for v in case.socket.voltage_v)
        yield Finding(
            rule="connector-voltage",
            severity="warning",
            where="-X1 vehicle socket",
            message=f"{case.socket.short} is a wiring for {volts} V, the vehicle has {show(nominal_v, 'V')}",
            advice="Find out which wiring the socket really has; a plug for the other voltage may fit it.",
            source=",".join(case.socket.contact[0].sources),
            origin=case.vehicle_origin,
        )
    for coupling, origin in zip(case.couplings, case.trailer_origins, strict=True):
        if not coupling.study.points or max(coupling.plug.voltage_v) > 12:
            continue
        worst: tuple[float, int, Contact] | None = None
        outlet = [contact for contact in coupling.circuit.of(Contact) if contact.connector == coupling.outlet]
        ground = next((contact.a for contact in outlet if contact.circuit == "ground"), coupling.circuit.reference)
        for contact in outlet:
            # Against its own ground, as a lamp sees it: an adapter that has lost its ground hangs at any voltage.
            volts_v = np.nan_to_num(coupling.study.voltage_v(contact.a) - coupling.study.voltage_v(ground))
            row = int(np.argmax(volts_v))
            if worst is None or volts_v[row] > worst[0]:
                worst = (float(volts_v[row]), row, contact)
        if worst is None or worst[0] <= _HIGHEST_12_V:
            continue
        value, row, contact = worst
        yield Finding(
            rule="connector-voltage",
            severity="error",
            where=contact.ref,
            message=f"{show(value, 'V')} on a connector for 12 V ({coupling.plug.short})",
            state=coupling.study.points[row].words,
            trailer=coupling.circuit.trailer,
            value=value,
            limit=_HIGHEST_12_V,
            unit="V",
            margin=(_HIGHEST_12_V - value) / _HIGHEST_12_V,
            advice="Bring the signal down to 12 V, or fit a connector whose wiring is for 24 V.",
            source="M-16750",
            origin=origin,
        )
