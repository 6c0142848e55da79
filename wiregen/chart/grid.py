"""What a meter should read before anything is coupled, as a grid: a row a control setting, a column a contact.

Every cell is looked up in what the vehicle and the adapter do, none is left to a rule for the rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from wiregen.chart.measure import INFERRED, MeasurePlace, MeasurePoint, Measurer
from wiregen.circuit.build import Built
from wiregen.circuit.switching import order
from wiregen.harness.record import Harness
from wiregen.model.chart import MeasureGrid
from wiregen.model.state import Controls
from wiregen.rig.loaded import LoadedRig

#: One cell of settings that do not all read alike.
SEVERAL: Final = "not the same in each"


@dataclass(frozen=True, slots=True)
class _Setting:
    """A row: its words, and the settings that it stands for, one after another."""

    words: str
    controls: tuple[Controls, ...]
    ignition: bool = True
    switch_off: bool = False


def measure_grids(loaded: LoadedRig, built: Built, harness: Harness) -> tuple[MeasureGrid, ...]:
    """Return the grids: the vehicle socket, the taps, each outlet. Outlets have the same rows."""
    measurer = Measurer(loaded, built, harness)
    places = [*measurer.places()]
    outlets = [place for place in places if place.name not in ("X1", "taps")]
    shared = [point for place in outlets for point in place.points]
    return tuple(_grid(measurer, place, shared if place in outlets else place.points) for place in places)


def _grid(measurer: Measurer, place: MeasurePlace, points: Sequence[MeasurePoint]) -> MeasureGrid:
    settings = [*_settings(measurer, points, is_socket=place.name == "X1")]
    return MeasureGrid(
        connector=place.connector,
        against=place.against,
        contacts=tuple(point.mark for point in place.points),
        rows=tuple((one.words, tuple(_cell(measurer, point, one) for point in place.points)) for one in settings),
        grounds=tuple(entry.mark for entry in place.grounds),
    )


def _settings(measurer: Measurer, points: Sequence[MeasurePoint], *, is_socket: bool) -> Iterator[_Setting]:
    """Yield the rows: at rest, every setting that any of the points is measured in, then what switches it off."""
    used = {controls for point in points for controls in measurer.own_tests(point)} | {Controls()}
    yield from (_Setting(_words(measurer, one), (one,)) for one in sorted(used, key=order))
    keyed = {one for point in points if "ignition" in point.live.names for one in measurer.own_tests(point)}
    for one in sorted(keyed, key=order):
        yield _Setting(f"{_words(measurer, one)}, ignition off", (one,), ignition=False)
    service = [point for point in points if is_socket and measurer.switching.is_service(point.live)]
    off = {one for point in service for one in measurer.switching.simplest(point.live) if one.lighting == "off"}
    if service:
        each = sorted(off, key=order) or [Controls()]
        words = f", then {', '.join(one.words for one in each)}" if off else ""
        yield _Setting(f"switch OFF{words}", tuple(each), switch_off=True)


def _words(measurer: Measurer, controls: Controls) -> str:
    """Return a setting as a driver says it; where there are blackout positions, that of the lighting switch."""
    words = controls.words
    if measurer.switching.has_blackout:
        return words.replace("service lights", "SERVICE DRIVE").replace("blackout", "BLACKOUT")
    return words.replace("service lights", "lights")


def _cell(measurer: Measurer, point: MeasurePoint, setting: _Setting) -> str:
    if not measurer.own_tests(point):
        return point.dead
    if setting.switch_off and measurer.switching.is_service(point.live):
        is_worked = any(one.lighting == "off" for one in measurer.switching.simplest(point.live))
        return INFERRED if is_worked else "0 V"
    told = {measurer.expected(point, one, ignition=setting.ignition) for one in setting.controls}
    return told.pop() if len(told) == 1 else SEVERAL
