"""Rules on relays: what their contacts carry and close on, what their coils get, and the flasher in front of them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from wiregen.catalogue.defaults import default
from wiregen.catalogue.relays import switch_rating_needed_a, warm_pick_up_v
from wiregen.check.case import Case, Coupling, highest_row
from wiregen.check.feeds import filament_a
from wiregen.check.rule import NO_SOURCE, RIG_FILE, measured, rule
from wiregen.model.circuit import Coil, RelayContact, Switch
from wiregen.model.corner import Corner
from wiregen.model.finding import Finding
from wiregen.model.rule import RuleInfo
from wiregen.model.state import State
from wiregen.quantity import show, whole_up

_FACTOR_24V: Final = default("relay_contact_24v_factor")
_INRUSH: Final = default("lamp_inrush_factor")
_BOTH: Final = f"{_INRUSH.source},{_FACTOR_24V.source}"
_HOT_C: Final = default("relay_coil_hot_c")
_COLD_C: Final = default("cold_c")
#: Relays and control inputs are stated for a coil at this temperature, °C.
_STATED_C: Final = 20.0
#: Above this a contact switches a 24 V circuit, V: no 12 V system stands more.
_TOP_OF_12V: Final = default("coil_12v_highest_v").value
#: A 12 V relay pulls in below this and a 24 V relay above it, V: 60 to 80 % of the nominal voltage.
_BETWEEN_V: Final = 10.5


def _highest_v(coupling: Coupling, terminal: str) -> float:
    return float(np.nan_to_num(coupling.study.voltage_v(terminal)).max(initial=0.0))


def contact_limit_a(coupling: Coupling, contact: RelayContact) -> float | None:
    """Return what a contact may carry, A: half its rating where that is for 12 V and it switches 24 V."""
    if contact.rating_a is None:
        return None
    for_24v = not contact.is_relay or contact.rated_at == "24 V"
    at_24v = _highest_v(coupling, contact.a) > _TOP_OF_12V
    return contact.rating_a * (_FACTOR_24V.value if at_24v and not for_24v else 1.0)


@rule(
    RuleInfo(
        id="relay-contact",
        cure="nothing",
        harm="part",
        title="No relay contact carries more than its rating",
        severity="error; warning where no rating is given",
        what="The current of every relay contact and solid-state switch, in every state at every corner. Only a relay "
        "counts half at 24 V.",
        why="An overloaded contact welds, and its lamp no longer goes out. A direct current at 24 V draws an arc that "
        "a 12 V contact does not break.",
        formula=f"|I| of the contact; where the contact switches 24 V, limit = {_FACTOR_24V.value:g} × rating at 12 V",
        limit=f"The rating stated in the rig; at 24 V {_FACTOR_24V.value:.0%} of it, unless rated_at says 24 V.",
        sources=(RIG_FILE, _FACTOR_24V.source, NO_SOURCE),
        tighten="rating and rated_at of the channel; relay_rating for all channels that state none.",
    )
)
def relay_contact(case: Case) -> Iterator[Finding]:
    """No relay contact carries more than its rating at any corner, half of it at 24 V; one without rating is named."""
    unrated: dict[str, None] = {}
    for coupling in case.solved:
        for contact in coupling.circuit.of(RelayContact):
            limit = contact_limit_a(coupling, contact)
            if limit is None or contact.rating_a is None:
                unrated[contact.channel] = None
                continue
            value, row = coupling.worst(contact.ref)
            if value > limit:
                at_24v = limit < contact.rating_a
                half = f": its {show(contact.rating_a, 'A')} hold for 12 V, and it switches 24 V" if at_24v else ""
                yield measured(
                    coupling,
                    contact,
                    row,
                    rule="relay-contact",
                    message=f"the contact carries {show(value, 'A')}, {show(limit, 'A')} allowed{half}",
                    value=value,
                    limit=limit,
                    advice="Use a relay with a higher rating, or split the lamps over two channels.",
                    source=_FACTOR_24V.source if at_24v else RIG_FILE,
                )
    if unrated:
        yield Finding(
            rule="relay-contact",
            severity="warning",
            where=", ".join(unrated),
            message="no contact rating is given, so the relay contacts are not checked",
            advice="Read the rating on the relay or the box and state it as rating.",
            source=NO_SOURCE,
        )


@rule(
    RuleInfo(
        id="relay-inrush",
        cure="nothing",
        harm="part",
        title="No relay contact closes on more than it can make",
        severity="error above the make current; warning above a rating that is, or is taken for, a resistive one",
        what="For each relay contact the current at the moment it closes: cold filaments take many times their steady "
        "current; LED lamps, magnets and solenoids are counted once. In every state at every corner.",
        why="A contact that closes on too much welds, and its lamp no longer goes out.",
        formula=f"{_INRUSH.value:g} × steady current of the filament lamps behind the contact + all other current",
        limit="make (the make current of the data sheet). Without it the rating, as a resistive one, and at 24 V "
        f"{_FACTOR_24V.value:.0%} of one for 12 V: lamp ratings halve there too. A rating with rated_for = "
        '"lamp" has the inrush in it and is compared with the steady current by relay-contact.',
        sources=(_INRUSH.source, _FACTOR_24V.source, "S2"),
        tighten='make, rating and rated_for = "lamp" or "resistive" of the channel.',
    )
)
def relay_inrush(case: Case) -> Iterator[Finding]:
    """No relay contact closes on more than it can make; an unknown kind of rating is taken for a resistive one."""
    for coupling in case.solved:
        for contact in coupling.circuit.of(RelayContact):
            limit = contact.make_a or contact_limit_a(coupling, contact)
            is_lamp_rating = contact.rated_for == "lamp"
            if not contact.is_relay or limit is None or (contact.make_a is None and is_lamp_rating):
                continue
            total = np.abs(coupling.study.current_a(contact.ref))
            filaments = np.minimum(filament_a(coupling, contact.channel), total)
            closing = total + (_INRUSH.value - 1) * filaments
            row = highest_row(closing)
            value, lamps_a = float(closing[row]), float(filaments[row])
            if value <= limit:
                continue
            system_v = 24.0 if _highest_v(coupling, contact.a) > _TOP_OF_12V else 12.0
            wanted = switch_rating_needed_a(system_v, "lamp", lamps_a)
            wanted += switch_rating_needed_a(system_v, "resistive", float(total[row]) - lamps_a)
            yield measured(
                coupling,
                contact,
                row,
                rule="relay-inrush",
                severity="error" if contact.make_a else "warning",
                message=f"closes on {show(value, 'A')} ({_INRUSH.value:g} × {show(lamps_a, 'A')} of cold filaments), "
                f"{show(limit, 'A')} allowed{_kind(contact, limit)}",
                value=value,
                limit=limit,
                advice='State make, or rated_for = "lamp" where the label gives a lamp load. Else use a solid-state '
                f"channel, or a relay of {show(whole_up(wanted), 'A')} or more: aircraft practice asks for that (S2).",
                source=_INRUSH.source if limit in (contact.make_a, contact.rating_a) else _BOTH,
            )


def _kind(contact: RelayContact, limit: float) -> str:
    if contact.make_a:
        return ""
    half = ", and half of it at 24 V" if limit != contact.rating_a else ""
    if contact.rated_for == "resistive":
        return f": the rating is a resistive one{half}"
    return f": the rig does not say what the rating is for, so it is taken for a resistive one{half}"


def _pick_up_v(coil: Coil, corner: Corner) -> float:
    """Return the voltage a coil needs at a corner, V; a control input does not change with temperature."""
    coil_c = {"hot": _HOT_C.value, "cold": _COLD_C.value}.get(corner.warmth, _STATED_C)
    return warm_pick_up_v(coil.pick_up_v, coil_c) if coil.is_copper else coil.pick_up_v


def _called_rows(coupling: Coupling, coil: Coil) -> list[int]:
    """Return the rows in which the circuit that a coil hears is live."""
    switches = [switch for switch in coupling.circuit.of(Switch) if switch.circuit == coil.circuit]
    calls: dict[State, bool] = {}
    for state in dict.fromkeys(coupling.study.states):
        signals = state.controls.signals(lit=state.lit, stop_wins=coupling.circuit.stop_wins)
        calls[state] = all(switch.live.value(signals) for switch in switches)
    is_fed = np.isfinite(coupling.study.across_v(coil))
    return [row for row, state in enumerate(coupling.study.states) if calls[state] and is_fed[row]]


@rule(
    RuleInfo(
        id="coil-pick-up",
        cure="sizes",
        harm="dark lamp",
        title="Every relay pulls in when its circuit is live, with the battery low and the coil warm",
        severity="error",
        what="The voltage across each coil, or control input, in every state in which the circuit it hears is live, at "
        "every corner.",
        why="It is the current that pulls, and the copper of a warm coil passes less of it: a relay that pulls in on "
        "the bench stays out on a hot day with a tired battery, and its lamps are dark.",
        formula="V coil = V(a) - V(b) of the solved circuit; pick-up warm = pick-up at 20 °C × (234.5 + T) / 254.5; a "
        "relay that needs 14.4 V at 20 °C needs 18.1 V at 85 °C",
        limit=f"The pick-up voltage with the coil at {_HOT_C.text} at hot corners and {_COLD_C.text} at cold ones.",
        sources=("S2", _HOT_C.source, "M-RELAY"),
        tighten="pick_up of the channel; low of [vehicle.battery].",
    )
)
def coil_pick_up(case: Case) -> Iterator[Finding]:
    """Every coil whose circuit is live pulls in at every corner: battery low and coil warm is the worst."""
    # A coil on a circuit that the vehicle does not offer is missing-input's matter.
    missing = {(channel.name, name) for channel in case.channels for name in channel.missing}
    for coupling in case.solved:
        for coil in coupling.circuit.of(Coil):
            if (coil.channel, coil.circuit) in missing:
                continue
            rows = [row for row in _called_rows(coupling, coil) if coil.ref not in coupling.study.pulled[row]]
            if not rows:
                continue
            across = np.abs(coupling.study.across_v(coil))[rows]
            wanted = np.array([_pick_up_v(coil, coupling.study.points[row].corner) for row in rows])
            worst = highest_row(wanted - across)
            value, limit = float(across[worst]), float(wanted[worst])
            warm = f" ({show(coil.pick_up_v, 'V')} at 20 °C)" if coil.is_copper and limit != coil.pick_up_v else ""
            yield measured(
                coupling,
                coil,
                rows[worst],
                rule="coil-pick-up",
                message=f"gets {show(value, 'V')} and needs {show(limit, 'V')}{warm}: {show(limit - value, 'V')} too "
                "little",
                value=value,
                limit=limit,
                unit="V",
                at_least=True,
                advice="Use a relay with a lower pick-up voltage, or a thicker wire to the coil and its ground.",
                source="S2",
            )


@rule(
    RuleInfo(
        id="coil-over-voltage",
        cure="nothing",
        harm="part",
        title="No relay coil sees more voltage than it is made for",
        severity="error",
        what="The voltage across each relay coil, in every state at every corner: charging is the worst. A relay that "
        f"pulls in below {_BETWEEN_V:g} V is taken for a 12 V relay.",
        why="A coil heats with the square of its voltage; a 12 V relay on a 24 V circuit burns within minutes.",
        formula="|V(a) - V(b)| of the solved circuit",
        limit=f"{_TOP_OF_12V:g} V for a 12 V relay, twice that for a 24 V relay.",
        sources=(default("coil_12v_highest_v").source,),
    )
)
def coil_over_voltage(case: Case) -> Iterator[Finding]:
    """No relay coil sees more than the top of the range it is made for, at any corner."""
    for coupling in case.solved:
        for coil in coupling.circuit.of(Coil):
            if not coil.is_copper:
                continue
            limit = default("coil_24v_highest_v" if coil.pick_up_v > _BETWEEN_V else "coil_12v_highest_v")
            across = np.abs(np.nan_to_num(coupling.study.across_v(coil)))
            row = highest_row(across)
            value = float(across[row])
            if value > limit.value:
                yield measured(
                    coupling,
                    coil,
                    row,
                    rule="coil-over-voltage",
                    message=f"a relay that pulls in at {show(coil.pick_up_v, 'V')} gets {show(value, 'V')}, "
                    f"{limit.text} is the most it is made for",
                    value=value,
                    limit=limit.value,
                    unit="V",
                    advice="Use a relay for the voltage of the vehicle.",
                    source=limit.source,
                )


@rule(
    RuleInfo(
        id="flasher-load",
        cure="nothing",
        harm="dark lamp",
        title="The flasher sees a load it can work with",
        severity="warning",
        what="What the trailer socket's turn circuits draw on one side while the lever is on, at the running voltage, "
        "against the flasher under [vehicle.flasher]. The vehicle's own lamps are not part of the rig and come on top.",
        why="A thermal or electromechanical flasher keeps time by the current of its lamps. Behind relay coils it sees "
        "a hundredth of it: it flashes fast, slow or not at all, or reports a lamp that is out.",
        formula="sum of the currents of the flashing feeds of one side",
        limit="lowest_load and highest_load; without lowest_load a thermal or electromechanical flasher must see more "
        "than relay coils.",
        sources=("S27", "S28", "memory"),
        tighten="kind, lowest_load and highest_load of [vehicle.flasher].",
    )
)
def flasher_load(case: Case) -> Iterator[Finding]:
    """The flasher sees a load it can work with; one that needs current sees more than relay coils."""
    flasher = case.flasher
    if flasher is None:
        return
    for coupling in case.solved:
        loads = _side_loads(coupling)
        if not loads:
            continue
        least, most = min(loads), max(loads)
        needs_current = flasher.kind != "electronic"
        if flasher.lowest_a is not None and least[0] < flasher.lowest_a:
            what = f"it needs {show(flasher.lowest_a, 'A')}: the vehicle's own lamps must bring the rest"
            yield _flasher_finding(case, coupling, least, flasher.lowest_a, what)
        elif flasher.lowest_a is None and needs_current and least[1]:
            what = f"these are relay coils only, and {_a(flasher.kind)} flasher keeps time by the current of lamps"
            yield _flasher_finding(case, coupling, least, None, what)
        if flasher.highest_a is not None and most[0] > flasher.highest_a:
            what = f"it may switch {show(flasher.highest_a, 'A')}, and the vehicle's own lamps come on top"
            yield _flasher_finding(case, coupling, most, flasher.highest_a, what)


def _a(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def _side_loads(coupling: Coupling) -> list[tuple[float, bool, int]]:
    """Return (current, whether only coils draw it, row) of each side at nominal with the lever on and nothing else."""
    flashing = [switch for switch in coupling.circuit.of(Switch) if "lit" in switch.live.names]
    heard = {switch.circuit for switch in flashing}
    coils = [coil for coil in coupling.circuit.of(Coil) if coil.circuit in heard]
    loads = []
    for row, state in enumerate(coupling.study.states):
        controls = state.controls
        alone = controls.turn != "none" and not controls.hazard and not controls.brake
        if coupling.nominal[row] and alone and state.lit and state.flashing:
            total = math.fsum(abs(float(coupling.study.current_a(switch.ref)[row])) for switch in flashing)
            of_coils = math.fsum(abs(float(coupling.study.current_a(coil.ref)[row])) for coil in coils)
            loads.append((total, total <= of_coils * 1.01 + 1e-3, row))
    return loads


def _flasher_finding(
    case: Case, coupling: Coupling, load: tuple[float, bool, int], limit: float | None, what: str
) -> Finding:
    flasher = case.flasher
    assert flasher is not None
    margin = None
    if limit:
        margin = (load[0] - limit) / limit if load[0] < limit else (limit - load[0]) / limit
    return Finding(
        rule="flasher-load",
        severity="warning",
        where=f"{flasher.kind} flasher",
        message=f"the trailer socket gives it {show(load[0], 'A')} on one side; {what}",
        state=coupling.study.points[load[2]].words,
        trailer=coupling.circuit.trailer,
        value=load[0],
        limit=limit,
        unit="A",
        margin=margin,
        advice="Count the vehicle's own lamps in; where it is not enough, fit an electronic flasher that does not need "
        "a load, or a load resistor beside the coils.",
        source="memory",
        origin=flasher.origin,
    )
