"""Rules on electric brakes, the breakaway battery and its charge line."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from wiregen.catalogue.defaults import default
from wiregen.catalogue.relays import Drum, brake_current
from wiregen.catalogue.sources import OutsideTable
from wiregen.check.case import Case, Coupling, TrailerFacts, highest_row
from wiregen.check.feeds import brake_gain
from wiregen.check.lamp_rules import lit_rows
from wiregen.check.rule import NO_SOURCE, PRACTICE, measured, rule
from wiregen.model.circuit import Battery, Conductor, Contact, Load
from wiregen.model.finding import Finding
from wiregen.model.rule import RuleInfo
from wiregen.quantity import show

_MINUTES: Final = default("breakaway_min")
_SHARE: Final = default("breakaway_capacity_share")
_BACKFEED: Final = default("backfeed_a")
_LINE: Final = default("ground_conductor_area_mm2")
#: Between the magnets of 7 in drums (3.8 to 4.0 ohm) and those of 10 and 12 in drums (3.2 to 3.5 ohm), ohm (S48).
_DRUM_OHM: Final = 3.65
#: Upper end of the voltages of the table of magnet currents, V (S48).
_TABLE_V: Final = 13.0
_TABLE_SOURCE: Final = "S48"


def _brakes(coupling: Coupling) -> list[Load]:
    return [load for load in coupling.circuit.of(Load) if load.function == "brake"]


def _table(load: Load) -> tuple[Drum, float, float]:
    """Return drum, least and highest current of one magnet, A: least at 9 to 10.5 V, highest at 12 to 13 V (S48)."""
    drum: Drum = "10 and 12 in" if load.resistance_ohm * load.count < _DRUM_OHM else "7 in"
    try:
        low, high = brake_current(load.count, 9.0, drum), brake_current(load.count, 12.0, drum)
        count = load.count
    except OutsideTable:
        low, high, count = brake_current(2, 9.0, drum), brake_current(2, 12.0, drum), 2
    return drum, low.low_a / count, high.high_a / count


@rule(
    RuleInfo(
        id="brake-magnets",
        cure="sizes",
        harm="brakes",
        title="Every brake magnet draws what its kind draws",
        severity="warning",
        what="The current of one magnet at full application, at the running voltage, at the gain of the controller.",
        why="Too little current is a trailer that does not brake; too much means magnets that are partly shorted, or a "
        "voltage they are not made for. A magnet is a resistance: less voltage, less current.",
        formula="I = V / R at the magnet; V = gain × supply - loss on the way",
        limit="Highest: the table's value for 12 to 13 V, above 13 V in proportion. Least: the table's value for 9 to "
        "10.5 V, times gain. Drums are told by the resistance of one magnet: below 3.65 ohm 10 and 12 in, else 7 in.",
        sources=(_TABLE_SOURCE,),
        tighten="magnet_resistance of [trailer.brakes]; gain of the controller's channel.",
    )
)
def brake_magnets(case: Case) -> Iterator[Finding]:
    """Each magnet draws at full application, at nominal, between the least and the highest of a table of magnets."""
    for coupling in case.solved:
        for load in _brakes(coupling):
            rows = [row for row in lit_rows(coupling, load) if coupling.nominal[row]]
            if not rows:
                continue
            drum, least, most = _table(load)
            gain = brake_gain(coupling.circuit)
            each = np.abs(coupling.study.current_a(load.ref))[rows] / load.count
            volts = np.abs(coupling.study.across_v(load))[rows]
            high, low = highest_row(each), highest_row(-each)
            most *= max(1.0, float(volts[high]) / _TABLE_V)
            at_gain = f" at a gain of {gain:.0%}" if gain < 1 else ""
            if each[high] > most:
                yield measured(
                    coupling,
                    load,
                    rows[high],
                    rule="brake-magnets",
                    severity="warning",
                    message=f"each magnet draws {show(float(each[high]), 'A')} at "
                    f"{show(float(volts[high]), 'V')}{at_gain}; magnets of {drum} drums draw at most {show(most, 'A')}",
                    value=float(each[high]),
                    limit=most,
                    advice="Measure the resistance of one magnet: below 3.2 ohm it is partly shorted.",
                    source=_TABLE_SOURCE,
                )
            elif each[low] < least * gain:
                yield measured(
                    coupling,
                    load,
                    rows[low],
                    rule="brake-magnets",
                    severity="warning",
                    message=f"each magnet draws {show(float(each[low]), 'A')} at "
                    f"{show(float(volts[low]), 'V')}{at_gain}; at least {show(least * gain, 'A')} wanted: the brakes "
                    "are weak",
                    value=float(each[low]),
                    limit=least * gain,
                    at_least=True,
                    advice="Use thicker conductors to the magnets and back.",
                    source=_TABLE_SOURCE,
                )


def _charge_conductors(coupling: Coupling, battery: Battery) -> list[Conductor]:
    """Return the conductors that charge a trailer's battery: of its circuit, without the branches of other loads."""
    return [
        wire
        for wire in coupling.circuit.of(Conductor)
        if wire.circuit == battery.circuit
        and wire.zone != "vehicle"
        and (wire.stretch != "splice-lamp" or wire.b.startswith(f"{battery.ref}:"))
    ]


def _battery(coupling: Coupling) -> Battery | None:
    return next((battery for battery in coupling.circuit.of(Battery) if battery.zone == "trailer"), None)


_PULL: Final = (
    "Pull the breakaway pin with the trailer standing, and feel whether the brakes hold. Where and from which weight a "
    "breakaway switch is asked for, your local code says (United States: 49 CFR 393.43 and state law)."
)


@rule(
    RuleInfo(
        id="breakaway",
        cure="nothing",
        harm="brakes",
        title="A trailer that breaks away brakes by itself, for as long as the law asks",
        severity="error where the battery is too small; warning where there is no breakaway switch; notice where "
        "nothing is stated",
        what="Whether a trailer with electric brakes has a breakaway switch, and its battery against the current of "
        "all magnets at its voltage.",
        why="When the trailer breaks away, this battery alone stops it and holds it.",
        formula=f"minutes = 60 × {_SHARE.value:g} × capacity / I; I = V battery / (R magnets at 20 °C + R battery). A "
        f"small lead battery gives about {_SHARE.value:.0%} of its 20 h capacity in 15 minutes",
        limit=f"{_MINUTES.text}.",
        sources=(_MINUTES.source, _SHARE.source, "S65", NO_SOURCE),
        tighten="breakaway of [trailer.brakes]; capacity of [trailer.battery].",
    )
)
def breakaway(case: Case) -> Iterator[Finding]:
    """A trailer with electric brakes has a breakaway switch, and a battery that feeds all magnets for 15 minutes."""
    for coupling in case.couplings:
        facts = case.trailer(coupling)
        if _brakes(coupling) and facts is not None:
            yield from _no_breakaway(coupling, facts)
        battery, loads = _battery(coupling), _brakes(coupling)
        if battery is None or not loads:
            continue
        magnets_ohm = 1 / math.fsum(1 / load.resistance_ohm for load in loads)
        amps = battery.voltage_v / (magnets_ohm + battery.resistance_ohm)
        wanted_ah = amps * _MINUTES.value / 60 / _SHARE.value
        if battery.capacity_ah is None:
            yield Finding(
                rule="breakaway",
                severity="notice",
                where=f"{battery.ref} {battery.title}",
                message=f"its capacity is not stated, so the breakaway time is not checked; the magnets take "
                f"{show(amps, 'A')}, which asks for {show(wanted_ah, 'Ah')}",
                trailer=coupling.circuit.trailer,
                advice="Read the capacity on the battery and state it.",
                source=NO_SOURCE,
                origin=battery.origin,
            )
            continue
        minutes = 60 * _SHARE.value * battery.capacity_ah / amps
        if minutes < _MINUTES.value:
            yield Finding(
                rule="breakaway",
                severity="error",
                where=f"{battery.ref} {battery.title}",
                message=f"it holds the magnets ({show(amps, 'A')}) for {show(minutes, 'min')}, "
                f"{_MINUTES.text} wanted: that takes {show(wanted_ah, 'Ah')}",
                trailer=coupling.circuit.trailer,
                value=minutes,
                limit=_MINUTES.value,
                unit="min",
                margin=(minutes - _MINUTES.value) / _MINUTES.value,
                advice="Fit a larger battery, and test the breakaway switch with the trailer standing.",
                source=_MINUTES.source,
                origin=battery.origin,
            )


def _no_breakaway(coupling: Coupling, facts: TrailerFacts) -> Iterator[Finding]:
    if facts.breakaway or (facts.breakaway is None and _battery(coupling) is not None):
        return
    is_known = facts.breakaway is False
    yield Finding(
        rule="breakaway",
        severity="warning" if is_known else "notice",
        where=f"brakes of {coupling.circuit.trailer}",
        message="electric brakes without a breakaway switch: a trailer that comes off rolls on unbraked"
        if is_known
        else "the file states neither a breakaway switch nor a battery for these electric brakes",
        trailer=coupling.circuit.trailer,
        advice=("Fit one with a battery. " if is_known else "Look for them and state breakaway = true or false. ")
        + _PULL,
        source=f"{_MINUTES.source},S65",
        origin=facts.brakes_origin,
    )


@rule(
    RuleInfo(
        id="charge-line",
        cure="sizes",
        harm="brakes",
        title="The trailer battery is charged, over a conductor of the usual size",
        severity="warning where it is never charged; notice where a conductor is thin",
        what="The current of the trailer battery at the running voltage, and the conductors of the charge circuit.",
        why="A breakaway battery that is never charged is empty on the day it is needed.",
        formula="I battery, positive while it charges",
        limit=f"More than 0 A in some state; conductors of at least {_LINE.text}, as recommended for the supply "
        "contacts of a 13-contact connector (practice in the US is 10 to 12 AWG, from memory).",
        sources=(PRACTICE, _LINE.source),
        tighten='size of the [[run]] with circuits = ["charge"].',
    )
)
def charge_line(case: Case) -> Iterator[Finding]:
    """A trailer battery is charged in some state at nominal, over conductors of the usual size."""
    for coupling in case.solved:
        battery = _battery(coupling)
        if battery is None:
            continue
        current = np.where(coupling.nominal, coupling.study.current_a(battery.ref), -np.inf)
        row = highest_row(current)
        value = float(current[row])
        if np.isfinite(value) and value <= 1e-3:
            yield measured(
                coupling,
                battery,
                row,
                rule="charge-line",
                severity="warning",
                message="no state of the vehicle charges it",
                value=value,
                limit=0.0,
                at_least=True,
                advice="Feed its contact with 12 V that is above the battery's own, from a charger or converter made "
                "for that.",
                source=PRACTICE,
            )
        thin = min(_charge_conductors(coupling, battery), key=lambda line: line.size.area_mm2, default=None)
        if thin is not None and thin.size.area_mm2 < _LINE.value:
            yield Finding(
                rule="charge-line",
                severity="notice",
                where=f"{thin.ref} {thin.size.label}",
                message=f"the charge line is thinner than {_LINE.text}",
                trailer=coupling.circuit.trailer,
                value=thin.size.area_mm2,
                limit=_LINE.value,
                unit="mm²",
                margin=(thin.size.area_mm2 - _LINE.value) / _LINE.value,
                advice="A thin line charges slowly and gets warm while the battery is empty.",
                source=_LINE.source,
                origin=thin.origin,
            )


@rule(
    RuleInfo(
        id="trailer-backfeed",
        cure="nothing",
        harm="brakes",
        title="The trailer battery does not feed the vehicle",
        severity="error",
        what="The current of the trailer's supply contact in every state at every corner: with the engine off the "
        "vehicle's battery is the lower one.",
        why="Parked, the vehicle empties the battery that must hold the trailer's brakes, and its circuits are live "
        "with the key out.",
        formula="I of the contact, counted from the trailer to the adapter",
        limit=f"{_BACKFEED.text}: {_BACKFEED.why}.",
        sources=(_BACKFEED.source,),
        tighten='isolation = "diode" of [trailer.battery]; low of [vehicle.battery].',
    )
)
def trailer_backfeed(case: Case) -> Iterator[Finding]:
    """No current flows from the trailer battery into adapter or vehicle, in any state at any corner."""
    for coupling in case.solved:
        battery = _battery(coupling)
        if battery is None:
            continue
        of = (coupling.outlet, battery.circuit)
        contacts = [c for c in coupling.circuit.of(Contact) if (c.connector, c.circuit) == of]
        if not contacts:
            continue
        back = np.zeros(len(coupling.study.points))
        for contact in contacts:
            back -= coupling.study.current_a(contact.ref)
        row = highest_row(back)
        value = float(back[row])
        if value > _BACKFEED.value:
            yield measured(
                coupling,
                battery,
                row,
                rule="trailer-backfeed",
                message=f"feeds {show(value, 'A')} back into the vehicle, {_BACKFEED.text} allowed",
                value=value,
                limit=_BACKFEED.value,
                advice="Put a relay that is on only while the engine runs, or a blocking diode, in the charge line.",
                source=_BACKFEED.source,
            )
