"""What the study of a rewritten rig says, as the numbers of one row of the comparison."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiregen.check.case import Case, Coupling
    from wiregen.circuit.build import Built
    from wiregen.model.circuit import Battery, Circuit, Lamp
    from wiregen.model.comparison import LampLight
    from wiregen.model.study import Study


def light_share(lamp: Lamp, across_v: float) -> float | None:
    """Return the light of a lamp as a share of its rated light.

    A filament follows the 3.4th power of its voltage (S35). A regulated LED lamp holds its light down to the lowest
    voltage it is made for and is counted as dark below it. None for a lamp given by measured points.
    """
    from wiregen.catalogue.lamps import light_ratio

    if lamp.technology == "filament":
        return light_ratio(max(0.0, abs(across_v)) / lamp.rated_v)
    if lamp.technology == "led":
        return 1.0 if across_v >= (lamp.min_v or lamp.cut_off_v) else 0.0
    return None


def lights(case: Case) -> tuple[LampLight | None, LampLight | None]:
    """Return the lamp with the least light and the one with the most, of all that should burn, over all corners."""
    from wiregen.check.lamp_rules import lit_rows

    found: list[LampLight] = []
    for coupling in case.solved:
        for lamp in coupling.circuit.of(_lamp_class()):
            rows = lit_rows(coupling, lamp)
            if rows:
                found += _extremes(coupling, lamp, rows)
    known = [light for light in found if light.share is not None]
    if not known:
        return None, None
    return min(known, key=lambda light: light.share or 0.0), max(known, key=lambda light: light.share or 0.0)


def _lamp_class() -> Any:  # noqa: ANN401 - the class itself, imported when it is wanted
    from wiregen.model.circuit import Lamp

    return Lamp


def _extremes(coupling: Coupling, lamp: Lamp, rows: list[int]) -> Iterator[LampLight]:
    across = np.nan_to_num(coupling.study.across_v(lamp))[rows]
    for row in (rows[int(np.argmin(across))], rows[int(np.argmax(across))]):
        yield light_of(coupling.study, lamp, row)


def light_of(study: Study, lamp: Lamp, row: int) -> LampLight:
    """Return the light of a lamp at one row of a study."""
    from wiregen.check.behaviour_rules import lamp_words
    from wiregen.model.comparison import LampLight

    volts = float(np.nan_to_num(study.across_v(lamp))[row])
    return LampLight(
        lamp=f"{lamp.ref} {lamp_words(lamp)}",
        trailer=study.circuit.trailer,
        volts_v=volts,
        share=light_share(lamp, volts),
        state=study.points[row].words,
    )


def brightest(study: Study, lamp: Lamp) -> LampLight:
    """Return the light of a lamp in the state that gives it most."""
    return light_of(study, lamp, int(np.argmax(np.nan_to_num(study.across_v(lamp)))))


def heat(case: Case) -> tuple[float, tuple[tuple[str, float], ...], str]:
    """Return the heat beside lamps, magnets and batteries in the worst state, W; by kind; and the state in words."""
    from wiregen.solve.heat import heat_by_kind_w

    best: tuple[float, tuple[tuple[str, float], ...], str] = (0.0, (), "")
    for coupling in case.solved:
        kinds = heat_by_kind_w(coupling.study)
        total = np.sum(list(kinds.values()), axis=0)
        row = int(np.argmax(total))
        if total[row] > best[0]:
            places = sorted(((kind, float(watts[row])) for kind, watts in kinds.items()), key=lambda p: -p[1])
            best = (float(total[row]), tuple(p for p in places if p[1] >= 0.05), coupling.study.points[row].words)
    return best


def vehicle_batteries(circuit: Circuit) -> list[Battery]:
    """Return the vehicle's batteries, the lower of a pair first."""
    from wiregen.model.circuit import Battery

    return [battery for battery in circuit.of(Battery) if battery.zone == "vehicle"]


def drawn(case: Case) -> tuple[float, str, float, float]:
    """Return the highest current out of the 24 V side, A, its state, that of the centre tap, A, and the imbalance.

    The imbalance is what the lower battery loses more than the upper one, Ah an hour, in the worst state.
    """
    from wiregen.model.circuit import Conductor

    most, state, tap_a, lost = 0.0, "", 0.0, 0.0
    for coupling in case.solved:
        top = vehicle_batteries(coupling.circuit)[-1]
        current = np.abs(coupling.study.current_a(top.ref))
        row = int(np.argmax(current))
        if current[row] > most:
            most, state = float(current[row]), coupling.study.points[row].words
        lost = max(lost, float(coupling.study.imbalance_a().max(initial=0.0)))
        for wire in coupling.circuit.of(Conductor):
            if wire.circuit == "supply" and wire.zone == "vehicle":
                tap_a = max(tap_a, float(np.abs(coupling.study.current_a(wire.ref)).max(initial=0.0)))
    return most, state, tap_a, lost


def flasher_a(case: Case) -> float | None:
    """Return the least current that the turn lamps of one side take from the vehicle, lit half, A; None for none."""
    from wiregen.model.circuit import Switch

    least: float | None = None
    for coupling in case.solved:
        flashing = [switch for switch in coupling.circuit.of(Switch) if "lit" in switch.live.names]
        for row, state in enumerate(coupling.study.states):
            controls = state.controls
            # Of settings that do the same the first stands for all: hazard, where one side alone has a circuit.
            alone = (controls.turn != "none" or controls.hazard) and not controls.brake
            if flashing and coupling.nominal[row] and alone and state.lit and state.flashing:
                total = math.fsum(abs(float(coupling.study.current_a(switch.ref)[row])) for switch in flashing)
                least = total if least is None else min(least, total)
    return least


def parts(built: Built) -> dict[str, int]:
    """Return how many parts of each kind vehicle and adapter have for this; a part of two circuits counts once."""
    from wiregen.catalogue.devices import KINDS
    from wiregen.model.circuit import Coil, Conductor, Converter, Diode, Fuse, RelayContact, Resistor

    unique = {e.ref: e for circuit in built.circuits for e in circuit.elements if e.zone != "trailer"}.values()
    bought = [KINDS[e.device].many for e in unique if isinstance(e, Converter)]
    counted = {
        "relays": sum(isinstance(e, Coil) and e.is_copper for e in unique),
        "solid-state switches": sum(isinstance(e, RelayContact) and not e.is_relay for e in unique),
        **{many: bought.count(many) for many in dict.fromkeys(kind.many for kind in KINDS.values())},
        "resistors": sum(isinstance(e, Resistor) for e in unique),
        "diodes": sum(isinstance(e, Diode) for e in unique),
        "fuses": sum(isinstance(e, Fuse) for e in unique),
        "conductors": sum(isinstance(e, Conductor) for e in unique),
    }
    return {kind: count for kind, count in counted.items() if count}
