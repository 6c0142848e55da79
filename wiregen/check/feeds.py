"""Where the current of a channel comes from, and the voltage there."""

from __future__ import annotations

import math

import numpy as np

from wiregen.catalogue.devices import KINDS
from wiregen.check.case import Coupling
from wiregen.model.circuit import Battery, Circuit, Converter, Equaliser, Lamp, RelayContact, Resistor
from wiregen.model.study import Array


def source_v(coupling: Coupling, channels: str) -> Array:
    """Return the voltage at the supply of a lamp in every state, V.

    That is the 12 V bus, the channel's own converter, the far end of its dropping resistor, or the vehicle battery. Of
    several channels that reach the same lamp (``K1 + K2``, as the behaviour table names them) it is the highest: any of
    them may be the one that is on.
    """
    return np.asarray(
        np.fmax.reduce([_output_v(coupling, _source(coupling.circuit, name)) for name in channels.split(" + ")])
    )


def low_supply_v(coupling: Coupling, channels: str, rated_v: float) -> float:
    """Return what a lamp can have with the battery low, V.

    That is what a converter makes of it, what the battery has, or, behind a dropping resistor, the rated voltage in
    proportion to the battery's.
    """
    sources = [_source(coupling.circuit, name) for name in channels.split(" + ")]
    return max(_low_v(coupling.circuit, source, rated_v) for source in sources)


def _source(circuit: Circuit, channel: str) -> Battery | Converter | Resistor:
    own = [element for element in circuit.elements if element.channel == channel]
    for element in own:
        if isinstance(element, Converter | Resistor):
            return element
    supply = bus_supply(circuit)
    switched = any(isinstance(element, RelayContact) for element in own)
    return supply if switched and supply is not None else top(circuit)


def _output_v(coupling: Coupling, source: Battery | Converter | Resistor) -> Array:
    study = coupling.study
    if isinstance(source, Resistor):
        return study.voltage_v(source.b)
    if isinstance(source, Converter):
        return study.voltage_v(source.b) - study.voltage_v(source.common)
    return study.voltage_v(source.a) - (0.0 if source.zone == "vehicle" else study.voltage_v(source.b))


def _low_v(circuit: Circuit, source: Battery | Converter | Resistor, rated_v: float = 0.0) -> float:
    if isinstance(source, Resistor):
        running_v = math.fsum(battery.voltage_v for battery in circuit.of(Battery) if battery.zone == "vehicle")
        return rated_v * _low_v(circuit, top(circuit)) / running_v
    if isinstance(source, Converter):
        feed = bus_supply(circuit) if KINDS[source.device].on_bus else None
        return min(source.output_v, source.ratio * _low_v(circuit, feed or top(circuit)))
    stack = [battery for battery in circuit.of(Battery) if battery.zone == "vehicle"]
    below = stack[: stack.index(source) + 1] if source in stack else [source]
    return math.fsum(battery.voltage_v if battery.low_v is None else battery.low_v for battery in below)


def bus_supply(circuit: Circuit) -> Battery | Converter | None:
    """Return what feeds the adapter's 12 V bus: converter, battery of its own, or the lower vehicle battery."""
    for element in circuit.elements:
        if element.zone == "adapter" and isinstance(element, Converter | Battery) and not element.channel:
            return element
    # A centre tap: the lower battery feeds the bus.
    return next((b for b in circuit.of(Battery) if b.b == circuit.reference), None)


def top(circuit: Circuit) -> Battery:
    """Return the vehicle battery whose plus is the vehicle's plus: the last of a stack."""
    return [battery for battery in circuit.of(Battery) if battery.zone == "vehicle"][-1]


def converters(circuit: Circuit) -> list[Converter]:
    """Return the converters of the adapter, without an equaliser."""
    return [converter for converter in circuit.of(Converter) if not isinstance(converter, Equaliser)]


def brake_gain(circuit: Circuit) -> float:
    """Return the share of its supply that a brake controller gives the magnets at the most; 1 without a controller."""
    return min((converter.ratio for converter in converters(circuit) if converter.circuit == "brake"), default=1.0)


def filament_a(coupling: Coupling, channel: str) -> Array:
    """Return the current of all filament lamps that a channel reaches, A, at every row; without a channel of all."""
    feeders = {row.lamp: row.channel.split(" + ") for row in coupling.behaviour.rows}
    total = np.zeros(len(coupling.study.points))
    for lamp in coupling.circuit.of(Lamp):
        if lamp.technology == "filament" and (not channel or channel in feeders.get(lamp.ref, ())):
            total += np.abs(coupling.study.current_a(lamp.ref))
    return total
