"""Where the heat of a solved circuit is: watts in every part that is not there to be fed."""

from __future__ import annotations

from typing import Final

import numpy as np

from wiregen.catalogue.devices import KINDS
from wiregen.model.circuit import (
    Coil,
    Conductor,
    Contact,
    Converter,
    Diode,
    Element,
    Fuse,
    Path,
    RelayContact,
    Resistor,
    Switch,
)
from wiregen.model.study import Array, Study
from wiregen.solve.devices import CONVERTER_BLEED_OHM

#: Class of a part -> word for it; the first that fits counts. Lamps, loads and batteries are left out.
_KINDS: Final[tuple[tuple[type[Element], str], ...]] = (
    (Resistor, "resistors"),
    (Diode, "diodes"),
    (Coil, "relay coils"),
    (RelayContact, "relay contacts"),
    (Fuse, "fuses"),
    (Switch, "switches"),
    (Contact, "connector contacts"),
    (Path, "chassis"),
    (Conductor, "wires"),
)


def heat_of_w(study: Study, element: Element) -> Array:
    """Return the power one element turns into heat in every state, W; 0 where a terminal of it floats.

    Of a converter it is its input less its output, with the resistance across its output; of everything else voltage
    times current.
    """
    current = study.current_a(element.ref)
    if isinstance(element, Converter):
        v_in = study.voltage_v(element.a) - study.voltage_v(element.common)
        v_out = study.voltage_v(element.b) - study.voltage_v(element.common)
        bleed = v_out**2 / CONVERTER_BLEED_OHM
        return np.asarray(np.nan_to_num(v_in * study.input_a[element.ref] - v_out * current + bleed))
    return np.asarray(np.abs(np.nan_to_num(study.across_v(element) * current)))


def heat_by_kind_w(study: Study) -> dict[str, Array]:
    """Return the heat of every kind of part in every state, W: everything but lamps, loads and batteries."""
    found: dict[str, Array] = {}
    for element in study.circuit.elements:
        kind = next((word for part, word in _KINDS if isinstance(element, part)), None)
        if isinstance(element, Converter):
            kind = KINDS[element.device].many
        if kind is not None:
            found[kind] = found.get(kind, np.zeros(len(study.points))) + heat_of_w(study, element)
    return found
