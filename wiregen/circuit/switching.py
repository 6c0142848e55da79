"""When a contact is live, as far as a meter and a person at the controls can tell."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from wiregen.catalogue.circuits import CIRCUITS, GROUNDS
from wiregen.catalogue.connector import PinoutContact
from wiregen.circuit.build import vehicle_signals
from wiregen.model.logic import Expression, parse
from wiregen.model.state import DRIVEN, Controls, every_controls
from wiregen.rig.loaded import LoadedRig

Look = Literal["dark", "steady", "flash"]

_STOP: Final = "lighting switch at STOP LIGHT"
_STOP_OR_SERVICE: Final = "lighting switch at STOP LIGHT or SERVICE DRIVE"
_SERVICE: Final = "lighting switch at SERVICE DRIVE"
_BLACKOUT: Final = "lighting switch at BLACKOUT MARKER or DRIVE"


@dataclass(frozen=True, slots=True)
class Live:
    """What makes a contact live.

    Attributes:
        names: Control signals it depends on.
        test: Returns whether it is live, from the truth of every signal.
    """

    names: frozenset[str]
    test: Callable[[Mapping[str, bool]], bool]

    @classmethod
    def by(cls, expression: Expression) -> Live:
        """Return what an expression over control signals makes live."""
        return cls(frozenset(expression.names), expression.value)

    @classmethod
    def over(cls, logic: Expression, lives: Mapping[str, Live]) -> Live:
        """Return what logic over vehicle circuits makes live; ``lives`` says when each of them is."""
        return cls(
            frozenset().union(*(lives[name].names for name in logic.names)),
            lambda signals: logic.value(lambda name: lives[name].test(signals)),
        )

    def while_fed(self, feed: Live) -> Live:
        """Return the same, but only while ``feed`` is live too."""
        return Live(self.names | feed.names, lambda signals: feed.test(signals) and self.test(signals))

    @classmethod
    def any_of(cls, lives: Sequence[Live]) -> Live:
        """Return what is live while any of ``lives`` is."""
        names = frozenset[str]().union(*(live.names for live in lives))
        return cls(names, lambda signals: any(live.test(signals) for live in lives))


NEVER: Final = Live.by(parse("never"))
ALWAYS: Final = Live.by(parse("always"))


class Switching:
    """Everything a driver can set on one vehicle, and what it does to a contact.

    Attributes:
        settings: Every setting of the controls, the simplest first.
        has_blackout: Whether the vehicle has a lighting switch with blackout positions.
    """

    def __init__(self, loaded: LoadedRig) -> None:
        self._loaded = loaded
        self._stop_wins = loaded.rig.vehicle.braking_holds_hazard_steady
        self._habits = {habit.circuit: habit.live for habit in loaded.rig.vehicle.habit}
        signals = vehicle_signals(loaded)
        self.settings = sorted(every_controls(signals), key=order)
        self.has_blackout = "blackout" in signals
        self.blackout_test = Controls(lighting="blackout", brake="brake" in signals)
        self._seen: dict[tuple[Live, Controls, bool], Look] = {}

    def circuit(self, name: str) -> Live:
        """Return when the vehicle makes a circuit of its socket live: its own habit, else the usual rule."""
        return Live.by(self._habits.get(name) or parse(CIRCUITS[name].live))

    def has_rule(self, name: str) -> bool:
        """Return whether anything is known about when a circuit is live."""
        return name in self._habits or CIRCUITS[name].live != "never"

    def offered(self, name: str) -> Live:
        """Return when a tap or a circuit of the socket is live; never where the vehicle has neither."""
        for tap in self._loaded.rig.vehicle.tap:
            if tap.name == name:
                return Live.by(tap.live)
        return self.circuit(name) if self._loaded.socket.on(name) else NEVER

    def look(self, live: Live, controls: Controls, *, ignition: bool = True) -> Look:
        """Return what a contact does over one cycle of the flasher."""
        key = live, controls, ignition
        if key not in self._seen:
            halves = [
                live.test(controls.signals(lit=lit, stop_wins=self._stop_wins) | {"ignition": ignition})
                for lit in (True, False)
            ]
            self._seen[key] = "steady" if all(halves) else "flash" if any(halves) else "dark"
        return self._seen[key]

    def is_constant(self, live: Live) -> bool:
        """Return whether it is live whatever the driver does, the ignition apart."""
        return all(self.look(live, controls) == "steady" for controls in self.settings)

    def simplest(self, live: Live) -> list[Controls]:
        """Return the settings in which it is live and would not be with fewer controls moved."""
        found: list[Controls] = []
        for controls in self.settings:
            if self.look(live, controls) != "dark" and not any(is_part(kept, controls) for kept in found):
                found.append(controls)
        return found

    def tests(self, live: Live) -> list[Controls]:
        """Return the settings to measure it in: the simplest, and those in which stop and turn meet on one wire."""
        found = self.simplest(live)
        if found and "brake" in live.names and live.names & {"left", "right", "hazard"}:
            at_rest = Controls(lighting=found[0].lighting, brake=True)
            meeting = (replace(at_rest, turn="left"), replace(at_rest, turn="right"), replace(at_rest, hazard=True))
            found += [controls for controls in meeting if controls in self.settings and controls not in found]
        return found

    def is_service(self, live: Live) -> bool:
        """Return whether it is a service circuit: live in some setting without blackout, dark in every one with it."""
        looks = {(controls.lighting == "blackout", self.look(live, controls) != "dark") for controls in self.settings}
        return self.has_blackout and (False, True) in looks and (True, True) not in looks

    def service_contacts(self) -> list[PinoutContact]:
        """Return the socket's contacts that a lighting switch with blackout positions feeds, and leaves dead at OFF."""
        lit = [entry for entry in self._loaded.socket.contact if entry.circuit not in GROUNDS]
        return [entry for entry in lit if self.is_service(self.circuit(entry.circuit))]

    def words(self, live: Live, controls: Controls) -> str:
        """Return a setting in words, with the position of a lighting switch that has blackout positions."""
        if not self.has_blackout:
            return controls.words
        others = replace(controls, lighting="off")
        parts = [others.words] if others.weight else []
        if controls.lighting != "off":
            parts.insert(0, _SERVICE if controls.lighting == "service" else _BLACKOUT)
        elif parts and "blackout" in live.names:
            alike = self.look(live, controls) == self.look(live, replace(controls, lighting="service"))
            parts.insert(0, _STOP_OR_SERVICE if alike else _STOP)
        return ", ".join(parts) or "all off"


def is_part(fewer: Controls, more: Controls) -> bool:
    """Return whether every control that ``fewer`` moves is moved alike in ``more``."""
    return fewer.moved <= more.moved


def order(controls: Controls) -> tuple[int, Iterable[int]]:
    """Return the key that sorts settings: few controls before many, then as a person goes through them."""
    return controls.weight, tuple(sorted(map(DRIVEN.index, controls.moved)))
