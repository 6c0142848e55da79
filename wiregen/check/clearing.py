"""What opens a short circuit, after how long, and what the conductors on its way must stand until then.

The current is followed back from the short, against its direction, to the sources. Of devices in series the fastest
counts; of two feeders side by side the slower one, since the short lasts until both are off. What a lamp or a coil lets
through is no feeder. In front of a converter the devices carry its input current, and count with that.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from wiregen.catalogue.ampacity import OutsideTable, ampacity_a
from wiregen.catalogue.defaults import default
from wiregen.catalogue.opening import Opening, breaker_opening, fuse_opening, withstand_a2s
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Conductor,
    Contact,
    Converter,
    Diode,
    Element,
    Equaliser,
    Fuse,
    Path,
    RelayContact,
    Resistor,
    Switch,
)
from wiregen.model.short import ShortPoint, ShortStudy
from wiregen.quantity import show

#: A branch that carries less of the current into a terminal than this share feeds nothing worth following.
_BRANCH: Final = 0.05
#: A conductor that carries less of the current of a short than this share is not on its way.
_ON_THE_WAY: Final = 0.2
#: A short that draws less than this is fed by nothing, A.
_NOTHING_A: Final = 0.1
_PASSES: Final = (Conductor, Fuse, Contact, Path, Resistor, Diode, Switch, RelayContact, Converter, Battery)
_LATEST: Final = default("short_clearing_s")
_NEVER: Final = Opening(math.inf, math.inf, math.inf, True, "S29", "seen")


@dataclass(frozen=True, slots=True)
class Device:
    """A fuse or breaker with the current of a short in it.

    Attributes:
        fuse: The part.
        current_a: Its current, A.
        opening: When it opens for good; a breaker of type I never does.
    """

    fuse: Fuse
    current_a: float
    opening: Opening

    @property
    def words(self) -> str:
        """When it opens, for people."""
        what = self.fuse.kind_word
        if self.fuse.breaker == "type I":
            return "the breaker opens and closes again and again"
        if not self.opening.is_known:
            return f"no opening time is known for {self.fuse.ref}, a {what} of {self.fuse.rating_a:g} A"
        if math.isinf(self.opening.max_s):
            return f"the {what} may never open"
        return f"the {what} opens within {show(self.opening.max_s, 's')}"


@dataclass(frozen=True, slots=True)
class Stress:
    """What a short does to one conductor on its way.

    Attributes:
        conductor: The conductor.
        current_a: Its current, A.
        ampacity_a: What it carries for good, A; None where no table has it.
        stands_s: How long it stands the current, s; infinite where it carries it for good.
        source: Source key of the ampacity.
    """

    conductor: Conductor
    current_a: float
    ampacity_a: float | None
    stands_s: float
    source: str


@dataclass(frozen=True, slots=True)
class Clearing:
    """How one short ends.

    Attributes:
        study: The study it was solved in.
        at: The short in its state at its corner.
        chain: Devices on the way that carries most, the nearest to the short first.
        decisive: The device whose opening ends the short; the nearest one where none is sure to open, None without any.
        max_s: Latest time after which it has ended, s; infinite where no device must open.
        heat_s: Time for which its current heats at the most, s.
        backup: Device farther from the short that opens for certain, where the times of ``decisive`` are not known;
            None without any.
        limited: Converters on the way that give no more than their limit.
        unlimited: Converters on the way whose limit nobody knows.
        bare: A source that feeds it with no device between; None when there is none.
        stresses: Conductors on the way, the one with the least room first.
    """

    study: ShortStudy
    at: ShortPoint
    chain: tuple[Device, ...]
    decisive: Device | None
    max_s: float
    heat_s: float
    backup: Device | None
    limited: tuple[Converter, ...]
    unlimited: tuple[Converter, ...]
    bare: Battery | None
    stresses: tuple[Stress, ...]


@dataclass(frozen=True, slots=True)
class _Way:
    """What lies between a terminal and its sources; ``unknown`` is the nearest device whose opening nobody knows."""

    max_s: float
    heat_s: float
    decisive: Device | None = None
    unknown: Device | None = None
    limited: tuple[Converter, ...] = ()
    unlimited: tuple[Converter, ...] = ()
    bare: Battery | None = None


def clearings(study: ShortStudy) -> tuple[Clearing, ...]:
    """Return how every short of a study ends that draws current and can be trusted."""
    tracer = _Tracer(study)
    return tuple(made for point in study.points if not point.trouble and (made := tracer.clearing(point)) is not None)


class _Tracer:
    def __init__(self, study: ShortStudy) -> None:
        self.study, self.circuit = study, study.circuit
        self.touching = _touching(study.circuit)
        self.column = {element.ref: number for number, element in enumerate(study.circuit.elements)}
        self.rating = {wire.ref: _rating(wire) for wire in study.circuit.of(Conductor)}

    def clearing(self, at: ShortPoint) -> Clearing | None:
        """Return how a short ends; None where next to nothing feeds it."""
        if at.current_a < _NOTHING_A:
            return None
        way = self._way(at, at.short.terminal, at.current_a, frozenset())
        if way is None:
            return None
        stresses, backup = self._stresses(at, way.heat_s), None
        if way.unknown is not None and way.decisive is not way.unknown and not _is_sure(way, stresses):
            # What is farther away opens late at the latest; whether the nearer one is any faster nobody knows.
            backup = way.decisive if math.isfinite(way.max_s) else None
            way = replace(way, max_s=math.inf, heat_s=math.inf, decisive=way.unknown)
            stresses = self._stresses(at, way.heat_s)
        return Clearing(
            study=self.study,
            at=at,
            chain=tuple(self._chain(at)),
            decisive=way.decisive,
            max_s=way.max_s,
            heat_s=way.heat_s,
            backup=backup,
            limited=way.limited,
            unlimited=way.unlimited,
            bare=way.bare,
            stresses=stresses,
        )

    def _feeders(self, at: ShortPoint, terminal: str, current_a: float) -> list[tuple[float, Element, str]]:
        """Return (current, element, far terminal) of what feeds a terminal, the strongest first."""
        found = []
        for element in self.touching.get(terminal, ()):
            through_a = self._through_a(at, element)
            if isinstance(element, Converter):
                into_a = through_a if element.b == terminal else 0.0
            else:
                into_a = through_a if element.b == terminal else -through_a
            if into_a >= _BRANCH * current_a:
                found.append((into_a, element, element.a if element.b == terminal else element.b))
        return sorted(found, key=lambda feeder: -feeder[0])

    def _through_a(self, at: ShortPoint, element: Element) -> float:
        return float(self.study.currents_a[at.row, self.column[element.ref]])

    def _way(self, at: ShortPoint, terminal: str, current_a: float, seen: frozenset[str]) -> _Way | None:
        """Return what lies in front of a terminal; None where nothing feeds it."""
        ways = [
            way
            for into_a, element, far in self._feeders(at, terminal, current_a)
            if far not in seen and (way := self._through(at, element, far, into_a, seen | {terminal})) is not None
        ]
        if not ways:
            return None
        slowest = max(ways, key=lambda way: (way.max_s, way.heat_s, way.unknown is None))
        return _Way(
            max_s=slowest.max_s,
            heat_s=max(way.heat_s for way in ways),
            decisive=slowest.decisive,
            unknown=slowest.unknown,
            limited=slowest.limited,
            unlimited=tuple({c.ref: c for way in ways for c in way.unlimited}.values()),
            bare=next((way.bare for way in ways if way.bare is not None), None),
        )

    def _through(self, at: ShortPoint, element: Element, far: str, into_a: float, seen: frozenset[str]) -> _Way | None:
        if isinstance(element, Battery):
            return _Way(math.inf, math.inf, bare=element)
        if isinstance(element, Converter):
            return self._through_converter(at, element, seen)
        way = self._way(at, far, into_a, seen)
        if way is None or not isinstance(element, Fuse):
            return way
        device = _device(element, into_a)
        mine = (device.opening.max_s, device.opening.heat_s)
        # Where none is sure to open, the one next to the short is the one to change.
        is_mine = mine <= (way.max_s, way.heat_s) or math.isinf(way.max_s)
        return _Way(
            max_s=min(mine[0], way.max_s),
            heat_s=min(mine[1], way.heat_s),
            decisive=device if is_mine or way.decisive is None else way.decisive,
            unknown=way.unknown if device.opening.is_known else device,
            limited=way.limited,
            unlimited=way.unlimited,
            bare=None,
        )

    def _through_converter(self, at: ShortPoint, converter: Converter, seen: frozenset[str]) -> _Way | None:
        input_a = float(self.study.input_a[converter.ref][at.row])
        way = self._way(at, converter.a, input_a, seen) if input_a > 0 else None
        way = way or _Way(math.inf, math.inf)
        # An equaliser helps a battery that gives far more than it.
        is_limited = bool(self.study.limited[converter.ref][at.row]) and not isinstance(converter, Equaliser)
        is_known = math.isfinite(converter.limit_a)
        return _Way(
            max_s=way.max_s,
            heat_s=way.heat_s,
            # A fuse in front of a converter is not the one that a short behind it is meant to open, but for its own.
            decisive=way.decisive if math.isfinite(way.max_s) or _is_own(converter, way.decisive) else None,
            unknown=way.unknown if _is_own(converter, way.unknown) else None,
            limited=(converter, *way.limited) if is_limited and is_known else way.limited,
            unlimited=way.unlimited if is_known else (converter, *way.unlimited),
            bare=None,
        )

    def _chain(self, at: ShortPoint) -> Iterator[Device]:
        """Yield the devices on the way that carries most, from the short back, up to a converter or a battery."""
        terminal, current_a = at.short.terminal, at.current_a
        seen: set[str] = set()
        while terminal not in seen:
            seen.add(terminal)
            feeders = self._feeders(at, terminal, current_a)
            if not feeders or isinstance(feeders[0][1], Battery | Converter):
                return
            current_a, element, terminal = feeders[0]
            if isinstance(element, Fuse):
                yield _device(element, current_a)

    def _stresses(self, at: ShortPoint, heat_s: float) -> tuple[Stress, ...]:
        found = []
        for wire in self.circuit.of(Conductor):
            current_a = abs(self._through_a(at, wire))
            if current_a >= _ON_THE_WAY * at.current_a:
                carries_a, stands_a2s, source = self.rating[wire.ref]
                carries = carries_a is not None and current_a <= carries_a
                stands_s = math.inf if carries else stands_a2s / current_a**2
                found.append(Stress(wire, current_a, carries_a, stands_s, source))
        return tuple(sorted(found, key=lambda stress: (_room(stress, heat_s), -_overload(stress))))


def _is_sure(way: _Way, stresses: tuple[Stress, ...]) -> bool:
    """Tell whether a short ends soon and does no harm, whatever a device of unknown times does."""
    return way.max_s <= _LATEST.value and all(stress.stands_s >= way.heat_s for stress in stresses)


def _is_own(converter: Converter, device: Device | None) -> bool:
    return device is not None and bool(converter.channel) and device.fuse.channel == converter.channel


def _room(stress: Stress, heat_s: float) -> float:
    """Return how much longer a conductor stands a current than it lasts, as a ratio."""
    if math.isinf(stress.stands_s):
        return math.inf
    return 0.0 if math.isinf(heat_s) else stress.stands_s / heat_s


def _overload(stress: Stress) -> float:
    return stress.current_a / stress.ampacity_a if stress.ampacity_a else math.inf


def _rating(wire: Conductor) -> tuple[float | None, float, str]:
    """Return what a conductor carries for good, A, what it stands for seconds, A²s, and the source of the first."""
    try:
        stands = withstand_a2s(wire.size, wire.insulation_c)
    except OutsideTable:
        stands = 0.0
    try:
        allowed = ampacity_a(wire.size, wire.insulation_c, wire.ambient_c, wire.bundle)
    except OutsideTable:
        return None, stands, ""
    return allowed.amps, stands, allowed.source


def _device(fuse: Fuse, current_a: float) -> Device:
    try:
        if fuse.breaker == "type I":
            opening = _NEVER
        elif fuse.breaker:
            opening = breaker_opening(fuse.rating_a, current_a)
        else:
            opening = fuse_opening(fuse.rating_a, current_a)
    except OutsideTable:
        opening = Opening(0.0, math.inf, math.inf, False, "", "")
    return Device(fuse, current_a, opening)


def _touching(circuit: Circuit) -> dict[str, list[Element]]:
    found: dict[str, list[Element]] = {}
    for element in circuit.elements:
        if isinstance(element, _PASSES):
            found.setdefault(element.a, []).append(element)
            found.setdefault(element.b, []).append(element)
    return found
