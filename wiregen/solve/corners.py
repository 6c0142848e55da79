"""A circuit at a corner: voltages of the batteries, resistances at the temperature copper, coils and fuses have there.

Copper follows R(T) = R(20 °C) · (234.5 + T) / 254.5 (S2). A hot conductor is at its ambient plus its own heating,
T = Ta + (Tins − Ta) · (I / I_ampacity)², the square law of the rise (facts S2 names it as the physical one). A relay's
pick-up and drop-out voltages rise with the resistance of its winding, because it is the current that pulls; a resistor
across it stays what it is. A fuse at a hot corner has the resistance of its worst current
(``wiregen.catalogue.fuses.resistance_ohm``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from wiregen.catalogue.conductors import copper_factor
from wiregen.catalogue.defaults import default
from wiregen.model.circuit import Battery, Circuit, Coil, Conductor, Contact, Element, Fuse, Load
from wiregen.model.corner import Corner

#: Resistances of coils and magnets are stated at this temperature, °C.
_STATED_C = 20.0


@dataclass(frozen=True)
class Heating:
    """What their own current makes of parts at hot corners.

    Attributes:
        conductor_c: Temperature of each conductor by ref, °C; its ambient where it is missing.
        fuse_ohm: Resistance of each fuse by ref, ohm; the cold one where it is missing.
    """

    conductor_c: Mapping[str, float] = field(default_factory=dict)
    fuse_ohm: Mapping[str, float] = field(default_factory=dict)


#: Nothing is known of the currents.
UNLOADED = Heating()


def at_corner(circuit: Circuit, corner: Corner, heating: Heating = UNLOADED) -> Circuit:
    """Return the circuit as it is at a corner.

    Args:
        circuit: The circuit as built.
        corner: The corner.
        heating: What their own current makes of parts, for hot corners.
    """
    return replace(circuit, elements=tuple(_at(element, corner, heating) for element in circuit.elements))


def _at(element: Element, corner: Corner, heating: Heating) -> Element:
    if isinstance(element, Battery):
        return replace(element, voltage_v=_supply_v(element, corner))
    if corner.warmth == "given":
        return element
    hot = corner.warmth == "hot"
    if isinstance(element, Conductor):
        now = heating.conductor_c.get(element.ref, element.ambient_c) if hot else default("cold_c").value
        factor = copper_factor(now, element.temperature_c)
        return replace(element, resistance_ohm=element.resistance_ohm * factor, temperature_c=now)
    if isinstance(element, Coil) and element.is_copper:
        factor = copper_factor(default("relay_coil_hot_c").value if hot else default("cold_c").value, _STATED_C)
        return replace(
            element,
            resistance_ohm=element.with_winding(element.winding_ohm * factor),
            pick_up_v=element.pick_up_v * factor,
            drop_out_v=element.drop_out_v * factor,
        )
    if isinstance(element, Load):
        factor = copper_factor(element.hot_c if hot else default("cold_c").value, _STATED_C)
        return replace(element, resistance_ohm=element.resistance_ohm * factor)
    if isinstance(element, Fuse) and hot:
        return replace(element, resistance_ohm=heating.fuse_ohm.get(element.ref, element.resistance_ohm))
    if isinstance(element, Contact) and hot:
        # Contacts age in the same years in which everything else gets warm: the hot corner is the worn one.
        aged = max(element.resistance_ohm, default("contact_resistance_aged_ohm").value)
        return replace(element, resistance_ohm=aged)
    return element


def _supply_v(battery: Battery, corner: Corner) -> float:
    if corner.supply == "low" and battery.low_v is not None:
        return battery.low_v
    if corner.supply == "charging" and battery.charging_v is not None:
        return battery.charging_v
    return battery.voltage_v
