"""A fault as a change of the circuit's parts, made without anything of ``wiregen.solve``. For tests only."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from wiregen.model.circuit import Circuit, Element, Path, Resistive
from wiregen.model.fault import Fault


@dataclass(frozen=True)
class Faulted:
    """A circuit with a fault, what the fault holds in place, and the part as it was when it was whole."""

    circuit: Circuit
    stuck_on: frozenset[str]
    stuck_off: frozenset[str]
    burning: Mapping[str, float]
    whole: Element | None = None


def with_fault(circuit: Circuit, fault: Fault | None, grounds: Mapping[str, str]) -> Faulted:
    """Return the circuit with parts taken out, changed or added as the fault says."""
    if fault is None:
        return Faulted(circuit, frozenset(), frozenset(), {})
    part, ref = circuit.by_ref[fault.ref], frozenset({fault.ref})
    if fault.kind == "burnt":
        return Faulted(circuit, frozenset(), frozenset(), {fault.ref: 1 - fault.share})
    if fault.kind == "stuck_on":
        return Faulted(circuit, ref, frozenset(), {})
    if fault.kind == "stuck_off":
        return Faulted(circuit, frozenset(), ref, {})
    if fault.kind == "open":
        elements = tuple(e for e in circuit.elements if e is not part)
    elif fault.kind == "resistance":
        assert isinstance(part, Resistive)
        more = replace(part, resistance_ohm=part.resistance_ohm + fault.ohm)
        elements = tuple(more if e is part else e for e in circuit.elements)
    elif fault.kind == "shorted":
        # What is left of the diode has no law of its own any more.
        metal = Path(
            ref=part.ref,
            a=part.a,
            b=part.b,
            resistance_ohm=fault.ohm,
            circuit=part.circuit,
            zone=part.zone,
            title="short",
        )
        elements = tuple(metal if e is part else e for e in circuit.elements)
    else:
        ground = grounds.get(part.zone, circuit.reference)
        wire = Path(
            ref="-SHORT", a=part.b, b=ground, resistance_ohm=fault.ohm, circuit="ground", zone=part.zone, title="short"
        )
        elements = (*circuit.elements, wire)
    return Faulted(replace(circuit, elements=elements), frozenset(), frozenset(), {}, part)
