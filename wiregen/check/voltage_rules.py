"""Rules on voltages: at lamps, at coils, and points that could not be trusted."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from wiregen.check.behaviour_rules import lamp_words
from wiregen.check.case import Case, Design, highest_row
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Conductor,
    Contact,
    Converter,
    Element,
    Fuse,
    Lamp,
    Load,
    Path,
    RelayContact,
)
from wiregen.model.finding import Finding
from wiregen.model.study import Array
from wiregen.quantity import show

#: A lamp that carries less than this is dark, A.
_LIT_A: Final = 1e-3
#: A lamp with less than this across it is not even fed, V.
_NOTHING_V: Final = 0.1
_TOO_LOW: Final = "Use larger conductors, above all in the ground return, or a shorter run."
_NEVER_ON: Final = (
    "The lamp is not fed at all: compare the relay's pick-up voltage and the converter's minimum input "
    "with what they get."
)


def consumers(case: Case) -> list[Lamp | Load]:
    """Return everything that is there to be fed: lamps first."""
    return [*case.circuit.of(Lamp), *case.circuit.of(Load)]


def source_v(case: Case, channels: str) -> Array:
    """Return the voltage at the supply of a lamp in every state, V.

    That is the 12 V bus, the channel's own converter, or the vehicle battery. Of several channels that reach the same
    lamp (``K1 + K2``, as the behaviour table names them) it is the highest: any of them may be the one that is on.
    """
    return np.asarray(np.fmax.reduce([_channel_source_v(case, name) for name in channels.split(" + ")]))


def _channel_source_v(case: Case, channel: str) -> Array:
    circuit, study = case.circuit, case.study
    for element in circuit.elements:
        if element.channel == channel and isinstance(element, Converter):
            return study.voltage_v(element.b) - study.voltage_v(element.common)
    supply = _bus_supply(circuit)
    switched = any(isinstance(e, RelayContact) and e.channel == channel for e in circuit.elements)
    if switched and isinstance(supply, Converter):
        return study.voltage_v(supply.b) - study.voltage_v(supply.common)
    battery = supply if switched and isinstance(supply, Battery) else _top(circuit)
    return study.voltage_v(battery.a) - (0.0 if battery.zone == "vehicle" else study.voltage_v(battery.b))


def _bus_supply(circuit: Circuit) -> Element | None:
    for element in circuit.elements:
        if element.zone == "adapter" and isinstance(element, Converter | Battery) and not element.channel:
            return element
    # A centre tap: the lower battery feeds the bus.
    return next((b for b in circuit.of(Battery) if b.b == circuit.reference), None)


def _top(circuit: Circuit) -> Battery:
    """Return the vehicle battery whose plus is the vehicle's plus: the last of a stack."""
    return [battery for battery in circuit.of(Battery) if battery.zone == "vehicle"][-1]


def _lit_rows(case: Case, lamp: Element) -> list[int]:
    """Return the rows of the states in which a lamp should be lit and the behaviour table lights it."""
    looks = {row.controls: row for row in case.behaviour.rows if row.lamp == lamp.ref}
    current = np.abs(case.study.current_a(lamp.ref))
    rows: list[int] = []
    dark_halves: list[int] = []
    for index, state in enumerate(case.study.points):
        row = looks.get(state.controls)
        if row is None or row.wanted == frozenset({"dark"}) or row.actual == "dark":
            continue
        is_dark_half = row.actual == "flash" and current[index] < _LIT_A
        (dark_halves if is_dark_half else rows).append(index)
    # A lamp that should flash and carries nothing in any state has no lit half: a coil or a converter does not come in.
    return rows if current.max(initial=0.0) >= _LIT_A else [*rows, *dark_halves]


def lamp_voltage(design: Design) -> Iterator[Finding]:
    """Every lamp that should burn gets enough voltage, and not too much is lost on the way."""
    limits = design.limits
    for case in design.solved:
        for lamp in consumers(case):
            rows = _lit_rows(case, lamp)
            if not rows:
                continue
            rated_v = lamp.rated_v if isinstance(lamp, Lamp) else lamp.nominal_v
            across = case.study.across_v(lamp)[rows]
            lowest = highest_row(-across)
            value, row = float(across[lowest]), rows[lowest]
            floor_v, floor_source = rated_v * limits.lowest_lamp_share, limits.lowest_lamp_source
            reason = f"{limits.lowest_lamp_share:.0%} of {show(rated_v, 'V')}"
            light = ""
            if isinstance(lamp, Lamp) and lamp.technology == "filament" and value > 0:
                light = f"; light {(value / rated_v) ** 3.4:.0%}"
            if isinstance(lamp, Lamp) and lamp.min_v:
                # A regulated lamp holds its light down to the voltage it is made for, and then goes out.
                floor_v, floor_source, reason = lamp.min_v, lamp.source, "the lowest it is made for"
            state = case.study.points[row].words
            common = {
                "rule": "lamp-voltage",
                "where": f"{lamp.ref} {lamp_words(lamp)}",
                "state": state,
                "trailer": case.circuit.trailer,
                "origin": lamp.origin,
            }
            if value < floor_v:
                yield Finding(
                    **common,  # type: ignore[arg-type]
                    severity="error",
                    message=f"gets {show(value, 'V')}, at least {show(floor_v, 'V')} wanted ({reason}){light}",
                    value=value,
                    limit=floor_v,
                    unit="V",
                    margin=(value - floor_v) / floor_v,
                    advice=_TOO_LOW if abs(value) > _NOTHING_V else _NEVER_ON,
                    source=floor_source,
                )
                continue
            channel = next(r.channel for r in case.behaviour.rows if r.lamp == lamp.ref)
            source = float(source_v(case, channel)[row])
            drop, allowed = source - value, rated_v * limits.lamp_drop_share
            if drop > allowed:
                yield Finding(
                    **common,  # type: ignore[arg-type]
                    severity="warning",
                    message=f"loses {show(drop, 'V')} from the supply to the lamp and back, "
                    f"{show(allowed, 'V')} is usual",
                    value=drop,
                    limit=allowed,
                    unit="V",
                    margin=(allowed - drop) / allowed,
                    advice=_TOO_LOW,
                    source=limits.lamp_drop_source,
                )


def over_voltage(design: Design) -> Iterator[Finding]:
    """No lamp or load sees more than it stands, in any state."""
    for case in design.solved:
        for lamp in consumers(case):
            across = np.abs(np.nan_to_num(case.study.across_v(lamp)))
            row = highest_row(across)
            value = float(across[row])
            if value > lamp.max_v:
                yield Finding(
                    rule="over-voltage",
                    severity="error",
                    where=f"{lamp.ref} {lamp_words(lamp)}",
                    message=f"a {lamp.nominal_v:g} V part gets {show(value, 'V')}, "
                    f"{show(lamp.max_v, 'V')} is the most it stands",
                    state=case.study.points[row].words,
                    trailer=case.circuit.trailer,
                    value=value,
                    limit=lamp.max_v,
                    unit="V",
                    margin=(lamp.max_v - value) / lamp.max_v,
                    advice="Bring the signal down with a relay on the 12 V supply; "
                    "never run 24 V through to a 12 V trailer.",
                    source="M-16750",
                    origin=lamp.origin,
                )


def solve_trouble(design: Design) -> Iterator[Finding]:
    """Every state has an operating point that can be trusted, and it agrees with the behaviour table."""
    for case in design.cases:
        # The same words once, at the first state: the simplest one.
        for words, state in dict(reversed(case.troubles)).items():
            yield Finding(
                rule="no-operating-point",
                severity="error",
                where=case.circuit.trailer,
                message=words,
                state=state,
                trailer=case.circuit.trailer,
                advice="The numbers of this state are not to be used; "
                "look for relays or converters that switch each other.",
                source="follows from the computation",
            )


def _reached(circuit: Circuit) -> set[str]:
    """Return the terminals that battery minus reaches over wires, contacts and joints."""
    beside: dict[str, list[str]] = {}
    for element in circuit.elements:
        if isinstance(element, Conductor | Contact | Fuse | Path):
            beside.setdefault(element.a, []).append(element.b)
            beside.setdefault(element.b, []).append(element.a)
    todo, seen = [circuit.reference], {circuit.reference}
    while todo:
        new = [terminal for terminal in beside.get(todo.pop(), ()) if terminal not in seen]
        seen.update(new)
        todo += new
    return seen


def floating_lamp(design: Design) -> Iterator[Finding]:
    """No lamp or load hangs in the air: each has a path to battery minus."""
    for case in design.cases:
        grounded = _reached(case.circuit)
        floats = [lamp for lamp in consumers(case) if lamp.b not in grounded]
        if floats:
            yield Finding(
                rule="no-ground",
                severity="error",
                where=", ".join(lamp.ref for lamp in floats),
                message="no path to battery minus",
                trailer=case.circuit.trailer,
                advice="Connect the trailer's ground contact to the adapter's ground and the vehicle's chassis.",
                source="follows from the connections",
                origin=floats[0].origin,
            )
