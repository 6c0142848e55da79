"""Rules on voltages that destroy, and on points that cannot be trusted."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wiregen.check.behaviour_rules import lamp_words
from wiregen.check.case import Case, Coupling, highest_row
from wiregen.check.lamp_rules import consumers, other_type
from wiregen.check.rule import FROM_COMPUTATION, FROM_CONNECTIONS, OF_THE_LAMP, measured, rule
from wiregen.model.circuit import Battery, Circuit, Conductor, Contact, Diode, Fuse, Lamp, Load, Path
from wiregen.model.fault import Fault
from wiregen.model.finding import Finding
from wiregen.model.rule import RuleInfo
from wiregen.model.study import FaultStudy
from wiregen.quantity import show

_HIGHEST = "16 V for a 12 V part and 32 V for a 24 V part: the tops of the supply codes for 12 V and 24 V; for an LED "
_HIGHEST_SOURCE = "M-16750"
_LAMP_OUT = "Give each lamp a feed of its own: a relay on the 12 V supply, or a dropping resistor each."
_GROUND_OFF = (
    "Give the current a second way: a ground of the adapter's own beside the socket's, or two ground contacts."
)
_PART_GONE = "Do not let one part alone keep the voltage down: a relay on the 12 V supply, or a second such part."
_APART = "Bring the signal down with a relay on the 12 V supply; never run 24 V through to a 12 V trailer."


def _words(part: Lamp | Load | Battery) -> str:
    return f"{part.ref} {part.title}" if isinstance(part, Battery) else f"{part.ref} {lamp_words(part)}"


@rule(
    RuleInfo(
        id="over-voltage",
        cure="nothing",
        harm="part",
        title="No part on the trailer sees more voltage than it stands",
        severity="error",
        what="The voltage across every lamp, load and trailer battery, in every state at every corner.",
        why="5 % too much halves the life of a filament; 24 V on a 12 V part ends it at once, and may start a fire in "
        "a battery.",
        formula="|V(a) - V(b)| of the solved circuit, highest of all states and corners",
        limit=f"{_HIGHEST}lamp type the top of its working range.",
        sources=(_HIGHEST_SOURCE, OF_THE_LAMP),
    )
)
def over_voltage(case: Case) -> Iterator[Finding]:
    """No lamp, load or trailer battery sees more than it stands, in any state at any corner."""
    for coupling in case.solved:
        batteries = [battery for battery in coupling.circuit.of(Battery) if battery.zone == "trailer"]
        for part in [*consumers(coupling), *batteries]:
            across = np.abs(np.nan_to_num(coupling.study.across_v(part)))
            row = highest_row(across)
            value = float(across[row])
            if value > part.max_v:
                yield measured(
                    coupling,
                    part,
                    row,
                    rule="over-voltage",
                    where=_words(part),
                    message=f"a {part.nominal_v:g} V part gets {show(value, 'V')}, "
                    f"{show(part.max_v, 'V')} is the most it stands",
                    value=value,
                    limit=part.max_v,
                    unit="V",
                    advice=_voltage_advice(case, coupling, part),
                    source=_HIGHEST_SOURCE,
                )


def _voltage_advice(case: Case, coupling: Coupling, part: Lamp | Load | Battery) -> str:
    facts = case.trailer(coupling)
    if facts is None or facts.nominal_v <= part.nominal_v:
        return _APART
    what = f"This is a {part.nominal_v:g} V part on a {facts.nominal_v:g} V trailer"
    if isinstance(part, Lamp):
        return f"{what}: fit the {facts.nominal_v:g} V type{other_type(part, facts.nominal_v)} of this lamp."
    return f"{what}: fit one made for {facts.nominal_v:g} V, or feed it through a converter of its own."


@rule(
    RuleInfo(
        id="fault-over-voltage",
        cure="nothing",
        harm="part",
        title="No single fault puts more voltage on a lamp or load than it stands",
        severity="warning",
        what="The voltage across every lamp and load with every single fault: each conductor, contact, fuse and ground "
        "path open or with too much resistance, each coil or load open, each lamp out, each switch and relay contact "
        "stuck, each converter dead, each diode open or conducting both ways, each battery off but for the only one of "
        "the vehicle; in every state, with the battery charging, cold and hot. A converter that fails "
        "so that its input reaches its output is not among them: its maker must say whether it can.",
        why="A ground that comes off sends the current of one circuit backwards through the lamps of another, and "
        "24 V through 12 V parts.",
        formula="|V(a) - V(b)| of the circuit solved with the fault, highest of all states and faults",
        limit=f"{_HIGHEST}lamp type the top of its working range.",
        sources=(_HIGHEST_SOURCE, OF_THE_LAMP),
    )
)
def fault_over_voltage(case: Case) -> Iterator[Finding]:
    """No single fault puts more on a part than it stands; what is too much without a fault is not said again."""
    for coupling in case.solved:
        for part in consumers(coupling):
            healthy = np.abs(np.nan_to_num(coupling.study.across_v(part))).max()
            if coupling.faults is not None and coupling.faults.across_v.size and healthy <= part.max_v:
                yield from _with_fault(coupling, coupling.faults, part)


def _fault_advice(coupling: Coupling, fault: Fault) -> str:
    if fault.kind == "burnt":
        return _LAMP_OUT
    return _PART_GONE if isinstance(coupling.circuit.by_ref[fault.ref], Battery | Diode) else _GROUND_OFF


def _with_fault(coupling: Coupling, faults: FaultStudy, part: Lamp | Load) -> Iterator[Finding]:
    # What is out or open itself stands at the voltage of its feed and minds it no more.
    is_gone = np.array([f.ref == part.ref and (f.kind == "open" or f.share >= 1) for f in faults.faults], dtype=bool)
    across = np.where(is_gone, 0.0, np.abs(np.nan_to_num(faults.across_v[:, :, faults.consumers.index(part.ref)])))
    row, worst = divmod(highest_row(across.ravel()), len(faults.faults))
    value, fault = float(across[row, worst]), faults.faults[worst]
    if value <= part.max_v:
        return
    count = int((across > part.max_v).any(axis=0).sum())
    more = f" ({count - 1} more faults do the like)" if count > 1 else ""
    yield Finding(
        rule="fault-over-voltage",
        severity="warning",
        where=_words(part),
        message=f"when {fault.words}, this {part.nominal_v:g} V part gets {show(value, 'V')}, "
        f"{show(part.max_v, 'V')} is the most it stands{more}",
        state=faults.points[row].words,
        trailer=coupling.circuit.trailer,
        value=value,
        limit=part.max_v,
        unit="V",
        margin=(part.max_v - value) / part.max_v,
        advice=_fault_advice(coupling, fault),
        source=_HIGHEST_SOURCE,
        origin=part.origin,
    )


@rule(
    RuleInfo(
        id="no-operating-point",
        cure="sizes",
        harm="dark lamp",
        title="Every state has an operating point that can be trusted",
        severity="error",
        what="States at any corner for which relays or converters never come to rest, or the equations have no "
        "solution.",
        why="A converter that pulls its own feed below its minimum input hunts, and a relay that switches its own "
        "supply chatters. No rule uses the numbers of such a state.",
        limit="None.",
        sources=(FROM_COMPUTATION,),
    )
)
def solve_trouble(case: Case) -> Iterator[Finding]:
    """Every state has an operating point that can be trusted, and it agrees with the behaviour table."""
    for coupling in case.couplings:
        # The same words once, at the first state: the simplest one.
        for words, state in dict(reversed(coupling.troubles)).items():
            yield Finding(
                rule="no-operating-point",
                severity="error",
                where=coupling.circuit.trailer,
                message=words,
                state=state,
                trailer=coupling.circuit.trailer,
                advice="The numbers of this state are not to be used; "
                "look for relays or converters that switch each other.",
                source=FROM_COMPUTATION,
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


@rule(
    RuleInfo(
        id="no-ground",
        cure="nothing",
        harm="dark lamp",
        title="No lamp or load hangs in the air",
        severity="error",
        what="Lamps and loads whose return does not reach battery minus over wires, contacts and joints.",
        why="Their current finds its way back through other lamps: all of them glow half, with every control.",
        limit="A path to battery minus.",
        sources=(FROM_CONNECTIONS,),
    )
)
def floating_lamp(case: Case) -> Iterator[Finding]:
    """No lamp or load hangs in the air: each has a path to battery minus."""
    for coupling in case.couplings:
        grounded = _reached(coupling.circuit)
        floats = [lamp for lamp in consumers(coupling) if lamp.b not in grounded]
        if floats:
            yield Finding(
                rule="no-ground",
                severity="error",
                where=", ".join(lamp.ref for lamp in floats),
                message="no path to battery minus",
                trailer=coupling.circuit.trailer,
                advice="Connect the trailer's ground contact to the adapter's ground and the vehicle's chassis.",
                source=FROM_CONNECTIONS,
                origin=floats[0].origin,
            )
