"""Values that no part can have are refused by name, before they become numbers that look like results."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

from wiregen.errors import SolveError
from wiregen.model.circuit import Battery, Circuit, Converter, Diode, Element, Lamp, Resistive

#: Resistances outside this range, ohm, are no parts of a harness, and beside them the others would drown in round-off.
LEAST_OHM: Final = 1e-7
MOST_OHM: Final = 1e7


def refuse(circuit: Circuit) -> None:
    """Refuse a circuit that cannot be solved.

    Raises:
        SolveError: A resistance is zero, negative, absurd or no number; a lamp draws nothing or its points do not
            rise; a converter's data are no converter's; a voltage is no number; there is no battery.
    """
    for element in circuit.elements:
        words = _wrong(element)
        if words:
            message = f"{element.ref} {words}"
            raise SolveError(message)
    if not circuit.of(Battery):
        message = "the circuit has no battery"
        raise SolveError(message)


def _wrong(element: Element) -> str:
    """Return what is wrong with an element, or an empty text."""
    if isinstance(element, Resistive | Battery | Converter | Diode) and not _is_part(element.resistance_ohm):
        return _resistance_words(element.resistance_ohm)
    match element:
        case Battery() if not math.isfinite(element.voltage_v):
            return f"has a voltage of {element.voltage_v} V"
        case Lamp():
            return _lamp(element)
        case Converter():
            return _converter(element)
        case Diode() if not (_is_part(element.leak_ohm) and element.drop_v >= 0):
            return f"has a drop of {element.drop_v:g} V and leaks through {element.leak_ohm:g} ohm"
        case _:
            return ""


def _is_part(ohm: float) -> bool:
    return LEAST_OHM <= ohm <= MOST_OHM


def _resistance_words(ohm: float) -> str:
    if not ohm > 0:
        return f"has a resistance of {ohm:g} ohm; it must be above zero"
    return f"has a resistance of {ohm:g} ohm; no part lies outside {LEAST_OHM:g} to {MOST_OHM:g} ohm"


def _lamp(lamp: Lamp) -> str:
    if lamp.count < 1 or not (lamp.rated_v > 0 and lamp.rated_a > 0 and math.isfinite(lamp.rated_a / lamp.rated_v)):
        return f"is {lamp.count} lamps of {lamp.rated_a:g} A at {lamp.rated_v:g} V: that draws nothing"
    if lamp.technology == "filament" and not 0 < lamp.cold_ratio < 1:
        return f"has a cold resistance of {lamp.cold_ratio:g} times the hot one; it must lie between 0 and 1"
    if lamp.technology == "points":
        volts = [0.0, *(v for v, _ in lamp.points)]
        if len(volts) < 2 or any(low >= high for low, high in pairwise(volts)):
            return "has measured points whose voltages do not rise from above 0 V"
        if any(not 0 <= amps < math.inf for _, amps in lamp.points):
            return "has measured points with currents below zero"
    return ""


def _converter(converter: Converter) -> str:
    if not (0 < converter.efficiency <= 1 and converter.ratio > 0 and converter.idle_a >= 0):
        return (
            f"has an efficiency of {converter.efficiency:g}, a ratio of {converter.ratio:g} and takes "
            f"{converter.idle_a:g} A without load: no converter does"
        )
    if not (converter.limit_a > 0 and 0 <= converter.foldback <= 1):
        return f"has a current limit of {converter.limit_a:g} A that folds back to {converter.foldback:g} of it"
    return ""
