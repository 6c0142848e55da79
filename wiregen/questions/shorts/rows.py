"""Every short of a design as one row: its least and its most, and how it ends where it ends worst."""

from __future__ import annotations

import math
from typing import Final

from wiregen.catalogue.defaults import default
from wiregen.check.case import Case, Coupling
from wiregen.check.clearing import Clearing
from wiregen.model.circuit import Equaliser
from wiregen.model.short import Short, ShortPoint
from wiregen.quantity import show
from wiregen.questions.shorts.record import ENDS, Ends, ShortRow

_LATEST: Final = default("short_clearing_s")
_Key = tuple[str, bool]


def short_rows(case: Case) -> tuple[ShortRow, ...]:
    """Return every short that is live in some state, in building order.

    Parts of vehicle and adapter stand once, with the least and the most behind any trailer.
    """
    points: dict[_Key, list[tuple[Coupling, ShortPoint]]] = {}
    ends: dict[_Key, list[tuple[Coupling, Clearing]]] = {}
    for coupling in case.solved:
        for point in coupling.shorts.points if coupling.shorts else ():
            points.setdefault(_key(point.short), []).append((coupling, point))
        for clearing in coupling.clearings:
            ends.setdefault(_key(clearing.at.short), []).append((coupling, clearing))
    return tuple(_row(found, ends.get(key, [])) for key, found in points.items())


def left_out(case: Case) -> tuple[str, ...]:
    """Return, in a sentence each, what of the harness no short is computed of."""
    found = {}
    for coupling in case.couplings:
        for equaliser in coupling.circuit.of(Equaliser):
            fuse = "no fuse is stated" if equaliser.fuse_a is None else f"fuses of {show(equaliser.fuse_a, 'A')} stated"
            found[equaliser.ref] = f"Not computed: the leads of {equaliser.ref}, {equaliser.title}; {fuse} in them."
    return tuple(found.values())


def _key(short: Short) -> _Key:
    return short.ref, short.through_hitch


def _row(points: list[tuple[Coupling, ShortPoint]], ends: list[tuple[Coupling, Clearing]]) -> ShortRow:
    amps = [point.current_a for _, point in points if not point.trouble]
    restless = next((entry for entry in points if entry[1].trouble), None)
    worst = max(ends, key=lambda entry: (ENDS.index(how_it_ends(entry[1])), _weight(entry[1])), default=None)
    if worst is None or (restless is not None and ENDS.index(how_it_ends(worst[1])) < ENDS.index("not known")):
        coupling, point = restless or points[0]
        return _blank(coupling, point, amps)
    coupling, clearing = worst
    device = clearing.decisive
    stress = clearing.stresses[0] if clearing.stresses else None
    return ShortRow(
        part=clearing.at.short.ref,
        what=clearing.at.short.words,
        place=clearing.at.short.place,
        trailer=coupling.circuit.trailer,
        least_a=min(amps, default=None),
        most_a=max(amps, default=None),
        ends=how_it_ends(clearing),
        device=device.fuse.ref if device else "",
        rating_a=device.fuse.rating_a if device else None,
        opening_known=device is None or device.opening.is_known,
        earliest_s=_finite(device.opening.min_s) if device and device.opening.is_known else None,
        latest_s=_finite(clearing.max_s),
        limited_by=clearing.limited[0].ref if clearing.limited else "",
        unlimited_by=clearing.unlimited[0].ref if clearing.unlimited else "",
        conductor=stress.conductor.ref if stress else "",
        conductor_a=stress.current_a if stress else None,
        stands_s=_finite(stress.stands_s) if stress else None,
        state=clearing.at.point.words,
    )


def _blank(coupling: Coupling, point: ShortPoint, amps: list[float]) -> ShortRow:
    """Return the row of a short that nothing feeds, or of one that never comes to rest."""
    return ShortRow(
        part=point.short.ref,
        what=point.short.words,
        place=point.short.place,
        trailer=coupling.circuit.trailer,
        least_a=min(amps, default=None),
        most_a=max(amps, default=None),
        ends="not known" if point.trouble else "carried",
        device="",
        rating_a=None,
        opening_known=True,
        earliest_s=None,
        latest_s=None,
        limited_by="",
        unlimited_by="",
        conductor="",
        conductor_a=None,
        stands_s=None,
        state=point.point.words,
    )


def _weight(clearing: Clearing) -> float:
    """Return what makes one of two shorts that end alike the worse one: the longer time, then the least current."""
    return clearing.max_s if math.isfinite(clearing.max_s) else 1e9 - clearing.at.current_a


def _finite(seconds: float) -> float | None:
    return seconds if math.isfinite(seconds) else None


def how_it_ends(clearing: Clearing) -> Ends:
    """Return in a word how a short ends."""
    overloaded = [stress for stress in clearing.stresses if math.isfinite(stress.stands_s)]
    if clearing.unlimited:
        return "not known"
    if not overloaded and (math.isinf(clearing.max_s) or clearing.max_s > _LATEST.value):
        return "carried"
    if clearing.decisive is not None and not clearing.decisive.opening.is_known:
        return "not known"
    if clearing.decisive is None:
        return "no device"
    if math.isinf(clearing.max_s):
        return "cycles" if clearing.decisive.fuse.breaker == "type I" else "never"
    if any(stress.stands_s < clearing.heat_s for stress in overloaded):
        return "burns"
    return "late" if clearing.max_s > _LATEST.value else "in time"
