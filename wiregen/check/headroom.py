"""How much more each channel may carry before something on its way reaches its limit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from wiregen.catalogue.ampacity import OutsideTable, ampacity_a
from wiregen.catalogue.defaults import default
from wiregen.catalogue.lamps import find_lamp
from wiregen.check.case import Case, Coupling
from wiregen.check.relay_rules import contact_limit_a
from wiregen.check.supply_rules import continuous_a
from wiregen.model.circuit import Conductor, Contact, Converter, Diode, Element, Fuse, Load, RelayContact, Switch
from wiregen.model.finding import Headroom
from wiregen.model.study import Array
from wiregen.quantity import whole_down

#: Lamps to express spare current in: a bright filament, a dim one, an LED (words, catalogue id).
COMMON_LAMPS: Final = (("21 W", "p21w-12v"), ("5 W", "r5w-12v"), ("LED stop", "led-stop-12v"))


def headroom(case: Case) -> tuple[Headroom, ...]:
    """Return the room of every channel behind every trailer it serves."""
    rows = []
    for coupling in case.solved:
        for channel in case.channels:
            row = _channel(case, coupling, channel.name)
            if row is not None:
                rows.append(row)
    return tuple(rows)


def _limit(case: Case, coupling: Coupling, element: Element) -> Array | float | None:
    """Return the current an element may carry, at every row or at all of them, A; None where nothing is known."""
    if isinstance(element, Fuse):
        # The continuous share is a design value for ordinary conditions; the rating holds at every corner.
        return element.rating_a * np.where(coupling.nominal, case.limits.fuse_factor, 1.0)
    if isinstance(element, RelayContact):
        return contact_limit_a(coupling, element)
    if isinstance(element, Contact | Diode):
        return element.rating_a
    if isinstance(element, Converter):
        return continuous_a(coupling, element)
    if isinstance(element, Conductor):
        try:
            return ampacity_a(element.size, element.insulation_c, element.ambient_c, element.bundle).amps
        except OutsideTable:
            return None
    return None


@dataclass(frozen=True)
class _Step:
    """Something a channel's current passes, and the amps in it for each amp the channel gives, in every state."""

    element: Element
    share: Array


def _way(coupling: Coupling, name: str) -> list[_Step]:
    """Return everything that a channel's current passes: its supply, its own parts, contacts, cable and the return."""
    elements = coupling.circuit.elements
    own = [e for e in elements if e.channel == name and isinstance(e, Fuse | RelayContact | Converter | Conductor)]
    leads = [e for e in own if isinstance(e, Conductor)]
    ends = {e.b for e in leads}
    contacts = [c for c in coupling.circuit.of(Contact) if c.a in ends]
    tails = {c.b for c in contacts}
    cables = [w for w in coupling.circuit.of(Conductor) if w.stretch == "plug-splice" and w.a in tails]
    grounds = [
        e
        for e in elements
        if e.circuit == "ground"
        and e.zone != "vehicle"
        and isinstance(e, Contact | Conductor)
        and not (isinstance(e, Conductor) and e.stretch in ("splice-lamp", "socket-adapter", "adapter-chassis"))
    ]
    one = np.ones(len(coupling.study.points))
    behind = [_Step(element, one) for element in (*leads, *contacts, *cables, *grounds)]
    return [*_supply(coupling, leads[0].a, one), *behind]


def _supply(coupling: Coupling, terminal: str, share: Array) -> list[_Step]:
    """Follow the current back from a terminal to the battery; in front of a converter it is less by the voltages."""
    before: dict[str, Element] = {
        e.b: e for e in coupling.circuit.elements if isinstance(e, Fuse | Contact | Conductor | Switch | RelayContact)
    }
    before.update((converter.b, converter) for converter in coupling.circuit.of(Converter))
    steps = []
    while element := before.pop(terminal, None):
        steps.append(_Step(element, share))
        terminal = element.a
        if isinstance(element, Converter):
            v_in = coupling.study.voltage_v(element.a) - coupling.study.voltage_v(element.common)
            v_out = coupling.study.voltage_v(element.b) - coupling.study.voltage_v(element.common)
            runs = (v_in > 1.0) & (v_out > 1.0)
            share = share * np.where(runs, v_out / (element.efficiency * np.where(runs, v_in, 1.0)), 1.0)
    return steps


def _units(coupling: Coupling, circuits: set[str]) -> list[tuple[str, float]]:
    """Return what spare current is expressed in, with the current of one, A: lamps, or magnets on a brake channel."""
    if circuits != {"brake"}:
        return [(word, find_lamp(lamp).max_current_a) for word, lamp in COMMON_LAMPS]
    loads = [load for load in coupling.circuit.of(Load) if load.function == "brake"]
    each = [coupling.worst(load.ref)[0] / load.count for load in loads]
    usual_a = default("converter_output_v").value / default("brake_magnet_ohm").value
    return [("brake magnet", max(each, default=0.0) or usual_a)]


def _channel(case: Case, coupling: Coupling, name: str) -> Headroom | None:
    own = [e for e in coupling.circuit.elements if e.channel == name and isinstance(e, RelayContact | Converter)]
    wires = [e for e in coupling.circuit.elements if e.channel == name and isinstance(e, Conductor)]
    if not wires:
        return None
    carried = (
        np.abs(coupling.study.current_a(own[0].ref))
        if own
        else np.sum([np.abs(coupling.study.current_a(w.ref)) for w in wires], axis=0)
    )
    # Only states in which the channel is on count: a limit reached while it is off does not bind it.
    on = carried > 1e-3 if (carried > 1e-3).any() else np.ones(len(carried), dtype=bool)
    best = (math.inf, "nothing that is known")
    for step in _way(coupling, name):
        limit, element = _limit(case, coupling, step.element), step.element
        if limit is None:
            continue
        spare = float(((limit - np.abs(coupling.study.current_a(element.ref))) / step.share)[on].min())
        if spare < best[0] - 1e-9:  # of equals, the first
            best = (
                spare,
                f"{element.ref} {element.title or getattr(getattr(element, 'size', None), 'label', '')}".strip(),
            )
    lamps = tuple(
        (word, max(0, whole_down(best[0] / each_a)) if math.isfinite(best[0]) else 0)
        for word, each_a in _units(coupling, {e.circuit for e in wires})
    )
    return Headroom(
        channel=name,
        trailer=coupling.circuit.trailer,
        carried_a=float(np.max(carried)),
        spare_a=best[0],
        bound_by=best[1],
        lamps=lamps,
    )
