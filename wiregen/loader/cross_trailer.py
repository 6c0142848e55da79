"""Checks of what is on a trailer: contacts for its lamps, brakes and battery, and the data of its lamps."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from wiregen.catalogue.circuits import GROUNDS, LOADABLE
from wiregen.catalogue.connector import Connector
from wiregen.catalogue.lamps import LAMPS
from wiregen.errors import Problem, guess, nearest
from wiregen.loader.checker import Checker
from wiregen.loader.diagnose import clash
from wiregen.loader.toml_places import KeyPath
from wiregen.rig.trailers import LampEntry, Trailer

#: Keys of a lamp's own data -> attributes.
_OWN: Final = {"technology": "technology", "voltage": "voltage_v", "power": "power_w", "points": "points"}


#: Circuits over which a battery on a trailer may be charged.
_CHARGING: Final = ("charge", "ignition")
#: Lamp entries of one trailer that are computed; with every fault of each the work grows with their fourth power.
MOST_LAMPS: Final = 60
#: Least current of a lamp that is a load at all, A.
_LEAST_A: Final = 0.0001
#: A battery above this, V, is a 24 V one.
_SYSTEM_V: Final = 16.0


class TrailerChecker(Checker):
    """Checks the trailers of one rig."""

    def trailer(self, path: KeyPath, trailer: Trailer, plug: Connector) -> Iterator[Problem]:
        """Yield what does not fit between a trailer and its plug."""
        marks = [contact.mark for contact in plug.contact]
        if not any(contact.circuit in GROUNDS for contact in plug.contact):
            yield self.problem(f"{plug.short} has no ground contact", *path, "plug")
        for number, group in enumerate(trailer.ties):
            for name in group:
                if name not in marks:
                    yield self.problem(
                        f"{plug.short} has no contact {name!r}{guess(name, marks)} It has: {', '.join(marks)}",
                        *path,
                        "bridged",
                        number,
                    )
        if trailer.brakes and not plug.on("brake"):
            yield clash(
                self.document,
                f"{plug.short} has no contact for electric brakes{self._unchosen(plug, 'brake')}",
                (*path, "brakes"),
                (*path, "plug"),
            )
        if trailer.lock_out and not plug.on("reverse"):
            yield clash(
                self.document,
                f"{plug.short} has no reverse contact for a lock-out{self._unchosen(plug, 'reverse')}",
                (*path, "lock_out"),
                (*path, "plug"),
            )
        if trailer.battery and trailer.battery.contact is not None:
            yield from self._battery_contact(path, trailer.battery.contact, plug)
        elif trailer.battery and not plug.on("charge"):
            yield clash(
                self.document,
                f"{plug.short} has no contact that charges a battery{self._unchosen(plug, 'charge')}",
                (*path, "battery"),
                (*path, "plug"),
            )

    def _battery_contact(self, path: KeyPath, name: str, plug: Connector) -> Iterator[Problem]:
        fitting = [contact.mark for contact in plug.contact if contact.circuit in _CHARGING]
        if name not in fitting:
            found = plug.find(name)
            what = f"contact {name!r} is {found.circuit!r}" if found else f"{plug.short} has no contact {name!r}"
            hint = f"a battery is charged over {' or '.join(fitting)} here" if fitting else "nothing here charges one"
            yield self.problem(f"{what}: {hint}", *path, "battery", "contact")

    def alone(self, path: KeyPath, trailer: Trailer) -> Iterator[Problem]:
        """Yield what shows without the plug: too many lamps, a battery whose voltage is not the trailer's."""
        if len(trailer.lamp) > MOST_LAMPS:
            yield self.problem(
                f"{len(trailer.lamp)} lamp entries on one trailer; at most {MOST_LAMPS} are computed. "
                "Put lamps of one function and type into one entry with count",
                *path,
                "lamp",
                MOST_LAMPS,
            )
        if trailer.battery is None or trailer.battery.voltage_v is None:
            return
        if (trailer.battery.voltage_v > _SYSTEM_V) != (trailer.voltage == "24 V"):
            message = f"a battery of {trailer.battery.voltage_v:g} V on a {trailer.voltage} trailer"
            yield clash(self.document, message, (*path, "battery", "voltage"), (*path, "voltage"))

    def _unchosen(self, plug: Connector, circuit: str) -> str:
        for contact in plug.contact:
            if circuit in contact.choices and circuit != contact.circuit:
                return f'. Contact {contact.mark} may carry it: say choose = {{ "{contact.mark}" = "{circuit}" }}'
        return ""

    def place(self, path: KeyPath, lamp: LampEntry, plug: Connector) -> Iterator[Problem]:
        """Yield what is wrong with the contact a lamp is on."""
        if lamp.function in LOADABLE and lamp.at is None and not plug.on(lamp.function):
            offered = [c.circuit for c in plug.contact if c.circuit in LOADABLE]
            hint = self._unchosen(plug, lamp.function) or f". It has: {', '.join(dict.fromkeys(offered))}"
            yield clash(
                self.document,
                f"{plug.short} has no contact for {lamp.function!r}{hint}",
                (*path, "function"),
                (path[0], path[1], "plug"),
            )
        if lamp.at is not None and plug.find(lamp.at) is None:
            marks = [contact.mark for contact in plug.contact]
            yield self.problem(
                f"{plug.short} has no contact {lamp.at!r}{guess(lamp.at, marks)} It has: {', '.join(marks)}",
                *path,
                "contact",
            )

    def lamp(self, path: KeyPath, lamp: LampEntry) -> Iterator[Problem]:
        """Yield what is wrong with a lamp wherever it is connected."""
        if lamp.function not in LOADABLE:
            yield self.problem(f"{lamp.function!r} is nothing a lamp is for", *path, "function")
        if lamp.type is not None:
            if lamp.type not in LAMPS:
                yield self.problem(
                    f"{lamp.type!r} is not a lamp type{nearest(lamp.type, LAMPS)}; "
                    "'wiregen pinouts --lamps' lists them",
                    *path,
                    "type",
                )
            extra = [key for key, attribute in _OWN.items() if getattr(lamp, attribute) is not None]
            if extra:
                yield clash(
                    self.document,
                    "a lamp has a type or its own data, not both",
                    (*path, extra[0]),
                    (*path, "type"),
                )
        elif lamp.points is not None:
            yield from self._points(path, lamp, lamp.points)
        elif lamp.technology is None or lamp.voltage_v is None or lamp.power_w is None:
            yield self.problem("a lamp needs a type, or technology, voltage and power, or points", *path)

    def _points(self, path: KeyPath, lamp: LampEntry, points: tuple[tuple[float, float], ...]) -> Iterator[Problem]:
        for key in ("technology", "power"):
            if getattr(lamp, _OWN[key]) is not None:
                message = f"a lamp has points or {key}, not both"
                yield clash(self.document, message, (*path, key), (*path, "points"))
        for number, ((low_v, _), (high_v, _)) in enumerate(pairwise(points)):
            if high_v <= low_v:
                message = f"the voltages of points must rise: {high_v:g} V stands behind {low_v:g} V"
                yield self.problem(message, *path, "points", number + 1)
        if all(amps < _LEAST_A for _, amps in points):
            yield self.problem("a lamp that draws less than 0.1 mA at every point is no load", *path, "points")
