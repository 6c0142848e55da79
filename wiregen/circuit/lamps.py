"""Lamps as elements of a circuit: from the catalogue, from their label, or from what was measured on one."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

from wiregen.catalogue.lamps import LampType, find_lamp
from wiregen.circuit.assume import Assumed
from wiregen.model.circuit import Lamp
from wiregen.model.origin import Origin
from wiregen.rig.trailers import LampEntry, Trailer

#: Makers let a 12 V lamp or magnet see a charging vehicle; 16 V is the top of supply code A to C of ISO 16750-2
#: (from memory), 32 V the top of code E and F for 24 V.
HIGHEST_V: Final = {12.0: 16.0, 24.0: 32.0}


def system_of(trailer: Trailer) -> tuple[str, float]:
    """Return the system voltage of a trailer: the word in the names of defaults, and V."""
    return ("24v", 24.0) if trailer.voltage == "24 V" else ("12v", 12.0)


def lamp_element(assumed: Assumed, trailer: Trailer, lamp: LampEntry, ref: str, origin: Origin | None) -> Lamp:
    """Make the element of a lamp entry.

    Args:
        assumed: Hands out defaults.
        trailer: The trailer it is on.
        lamp: What the user wrote.
        ref: Its designation; its terminals are ``ref:1`` and ``ref:2``.
        origin: Where the user wrote it.
    """
    title = f"{lamp.count} × " if lamp.count > 1 else ""
    if lamp.type:
        return _listed(assumed, find_lamp(lamp.type), lamp, ref, title, origin)
    if lamp.points:
        return _measured(assumed, trailer, lamp, lamp.points, ref, title, origin)
    return _labelled(assumed, lamp, ref, title, origin)


def _listed(assumed: Assumed, kind: LampType, lamp: LampEntry, ref: str, title: str, origin: Origin | None) -> Lamp:
    return Lamp(
        ref=ref,
        a=f"{ref}:1",
        b=f"{ref}:2",
        circuit=lamp.function,
        zone="trailer",
        title=title + kind.title,
        origin=origin,
        count=lamp.count,
        technology=kind.technology,
        rated_v=kind.test_v,
        rated_a=kind.current_a,
        peak_a=kind.max_current_a,
        nominal_v=kind.nominal_v,
        max_v=kind.max_v or HIGHEST_V[kind.nominal_v],
        function=lamp.function,
        side=lamp.side or "",
        cold_ratio=assumed.take(None, "filament_cold_ratio", ref) if kind.technology == "filament" else 1.0,
        cut_off_v=kind.cut_off_v or 0.0,
        min_v=kind.min_v or 0.0,
        type_name=kind.id,
        source=kind.source,
        support=kind.support,
    )


def _labelled(assumed: Assumed, lamp: LampEntry, ref: str, title: str, origin: Origin | None) -> Lamp:
    volts, watts = lamp.voltage_v or 0.0, lamp.power_w or 0.0
    nominal = _nominal_v(volts)
    filament = lamp.technology == "filament"
    return Lamp(
        ref=ref,
        a=f"{ref}:1",
        b=f"{ref}:2",
        circuit=lamp.function,
        zone="trailer",
        title=f"{title}{watts:g} W {lamp.technology}",
        origin=origin,
        count=lamp.count,
        technology="filament" if filament else "led",
        rated_v=volts,
        rated_a=watts / volts,
        peak_a=watts / volts,
        nominal_v=nominal,
        max_v=HIGHEST_V[nominal],
        function=lamp.function,
        side=lamp.side or "",
        cold_ratio=assumed.take(None, "filament_cold_ratio", ref) if filament else 1.0,
        cut_off_v=0.0 if filament else assumed.take(None, "led_cut_off_12v_v", ref) * nominal / 12.0,
        type_name="own",
        source="rig file",
        support="one",
    )


def _measured(
    assumed: Assumed,
    trailer: Trailer,
    lamp: LampEntry,
    points: tuple[tuple[float, float], ...],
    ref: str,
    title: str,
    origin: Origin | None,
) -> Lamp:
    """Make a measured lamp; it is rated at the voltage it is made for, as far as the points go."""
    system, nominal = system_of(trailer)
    if lamp.voltage_v is not None:
        nominal = _nominal_v(lamp.voltage_v)
    rated_v = min(assumed.take(lamp.voltage_v, f"battery_{system}_running_v", ref), points[-1][0])
    rated_a = _between(((0.0, 0.0), *points), rated_v)
    if rated_a == 0.0:
        # It draws nothing there: what it draws at its brightest stands for it.
        rated_v, rated_a = max(points, key=lambda point: point[1])
    return Lamp(
        ref=ref,
        a=f"{ref}:1",
        b=f"{ref}:2",
        circuit=lamp.function,
        zone="trailer",
        title=f"{title}lamp measured at {len(points)} points",
        origin=origin,
        count=lamp.count,
        technology="points",
        rated_v=rated_v,
        rated_a=rated_a,
        peak_a=max(amps for _, amps in points),
        nominal_v=nominal,
        max_v=HIGHEST_V[nominal],
        function=lamp.function,
        side=lamp.side or "",
        cold_ratio=1.0,
        points=points,
        type_name="own",
        source="rig file",
        support="one",
    )


def _nominal_v(rated_v: float) -> float:
    """Return the system voltage that a lamp of a rated voltage is made for, V."""
    return 24.0 if rated_v > HIGHEST_V[12.0] else 12.0


def _between(points: tuple[tuple[float, float], ...], volts: float) -> float:
    """Return the current at a voltage on straight lines between points, A."""
    for (low_v, low_a), (high_v, high_a) in pairwise(points):
        if volts <= high_v:
            return low_a + (high_a - low_a) * (volts - low_v) / (high_v - low_v)
    return points[-1][1]
