"""How much more each channel may carry before something on its way reaches its limit."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from wiregen.catalogue.ampacity import OutsideTable, ampacity_a
from wiregen.catalogue.lamps import find_lamp
from wiregen.check.case import Case, Design
from wiregen.model.circuit import Conductor, Contact, Converter, Element, Fuse, RelayContact
from wiregen.model.finding import Headroom

#: Lamps to express spare current in: a bright filament, a dim one, an LED (words, catalogue id).
COMMON_LAMPS: Final = (("21 W", "p21w-12v"), ("5 W", "r5w-12v"), ("LED stop", "led-stop-12v"))


def headroom(design: Design) -> tuple[Headroom, ...]:
    """Return the room of every channel behind every trailer it serves."""
    rows = []
    for case in design.solved:
        for channel in design.channels:
            row = _channel(design, case, channel.name)
            if row is not None:
                rows.append(row)
    return tuple(rows)


def _limit(design: Design, element: Element) -> float | None:
    """Return the current an element may carry, A; None where nothing is known."""
    if isinstance(element, Fuse):
        return element.rating_a * design.limits.fuse_factor
    if isinstance(element, RelayContact | Contact):
        return element.rating_a
    if isinstance(element, Converter):
        return element.continuous_a
    if isinstance(element, Conductor):
        try:
            return ampacity_a(element.size, element.insulation_c, element.ambient_c, element.bundle).amps
        except OutsideTable:
            return None
    return None


def _way(case: Case, name: str) -> list[Element]:
    """Return every element that a channel's load current passes: its own, its contacts, its cable, shared supply."""
    own = [
        e
        for e in case.circuit.elements
        if e.channel == name and isinstance(e, Fuse | RelayContact | Converter | Conductor)
    ]
    ends = {e.b for e in own if isinstance(e, Conductor)}
    contacts = [c for c in case.circuit.of(Contact) if c.a in ends]
    tails = {c.b for c in contacts}
    cables = [w for w in case.circuit.of(Conductor) if w.stretch == "plug-splice" and w.a in tails]
    supply = [
        e for e in case.circuit.elements if not e.channel and e.circuit == "supply" and isinstance(e, Fuse | Converter)
    ]
    grounds = [
        e
        for e in case.circuit.elements
        if e.circuit == "ground"
        and e.zone != "vehicle"
        and isinstance(e, Contact | Conductor)
        and not (isinstance(e, Conductor) and e.stretch in ("splice-lamp", "socket-adapter", "adapter-chassis"))
    ]
    return [*own, *contacts, *cables, *supply, *grounds]


def _channel(design: Design, case: Case, name: str) -> Headroom | None:
    own = [e for e in case.circuit.elements if e.channel == name and isinstance(e, RelayContact | Converter)]
    wires = [e for e in case.circuit.elements if e.channel == name and isinstance(e, Conductor)]
    if not wires:
        return None
    carried = (
        np.abs(case.study.current_a(own[0].ref))
        if own
        else np.sum([np.abs(case.study.current_a(w.ref)) for w in wires], axis=0)
    )
    on = carried > 1e-3
    best = (math.inf, "nothing that is known")
    for element in _way(case, name):
        limit = _limit(design, element)
        if limit is None:
            continue
        current = np.abs(case.study.current_a(element.ref))
        # Only states in which the channel is on count: a limit reached while it is off does not bind it.
        most = float(current[on].max()) if on.any() else float(current.max())
        if limit - most < best[0]:
            best = (
                limit - most,
                f"{element.ref} {element.title or getattr(getattr(element, 'size', None), 'label', '')}".strip(),
            )
    lamps = tuple(
        (word, max(0, math.floor(best[0] / find_lamp(lamp).max_current_a))) if math.isfinite(best[0]) else (word, 0)
        for word, lamp in COMMON_LAMPS
    )
    return Headroom(
        channel=name,
        trailer=case.circuit.trailer,
        carried_a=float(np.max(carried)),
        spare_a=best[0],
        bound_by=best[1],
        lamps=lamps,
    )
