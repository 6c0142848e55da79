"""Checks between records: names used twice, references to nothing, contacts that do not exist."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from wiregen.catalogue.circuits import CIRCUITS, GROUNDS, LOADABLE, SIGNALS
from wiregen.catalogue.connector import Connector, Record
from wiregen.catalogue.fuses import fuse_types
from wiregen.catalogue.lamps import LAMPS
from wiregen.errors import Problem, guess, nearest
from wiregen.load.diagnose import clash, mark
from wiregen.load.reading import TomlDocument
from wiregen.load.toml_places import KeyPath
from wiregen.rig.records import Channel, LampEntry, Rig, Run, Trailer

#: (from, to) pairs that a [[run]] may name; ``wiregen.build.runs`` gives each its meaning.
RUNS = (
    ("battery", "socket"),
    ("socket", "chassis"),
    ("battery", "adapter"),
    ("adapter", "chassis"),
    ("socket", "adapter"),
    ("adapter", "trailer"),
    ("trailer", "lamps"),
)
#: Those of them that belong to one trailer.
_OF_A_TRAILER: Final = RUNS[-2:]
#: Words with a meaning of their own where the name of a tap may stand.
_TAKEN: Final = ("supply", "always", "never", "not", "and", "or", "xor")
#: Attribute of a channel -> the devices that use it.
_DEVICES_OF: Final = {
    "contact_ohm": ("relay", "solid_state", "brake_controller", "step_down"),
    "coil_ohm": ("relay", "solid_state", "brake_controller"),
    "pick_up_v": ("relay", "solid_state", "brake_controller"),
    "drop_out_v": ("relay", "solid_state", "brake_controller"),
    "output_v": ("step_down",),
    "gain": ("brake_controller",),
}
#: Attribute of the supply -> the kinds that use it.
_KINDS_OF: Final = {
    "feed": ("converter",),
    "output_v": ("converter", "battery"),
    "output_ohm": ("converter", "battery"),
    "continuous_a": ("converter",),
    "efficiency": ("converter",),
    "idle_a": ("converter",),
    "minimum_input_v": ("converter",),
}


def with_choices(
    document: TomlDocument,
    connector: Connector | None,
    choose: dict[str, str],
    path: KeyPath,
    problems: list[Problem],
) -> Connector | None:
    """Return the connector, where it is known, with the rig's choices filled in; misfits go to ``problems``."""
    if connector is None or not choose:
        return connector
    contacts = list(connector.contact)
    marks = {contact.mark: index for index, contact in enumerate(contacts)}
    for name, circuit in choose.items():
        where = (*path, name)
        if name not in marks:
            message = f"{connector.short} has no contact {name!r}{guess(name, marks)} It has: {', '.join(marks)}"
            problems.append(Problem(message, (mark(document, where, "key"),), ".".join(map(str, where))))
            continue
        contact = contacts[marks[name]]
        if contact.choices and circuit not in contact.choices:
            allowed = ", ".join(contact.choices)
            message = f"contact {name!r} is found as {allowed} in the trade, not as {circuit!r}"
            problems.append(Problem(message, (mark(document, where),), ".".join(map(str, where))))
            continue
        if not contact.choices and circuit != contact.circuit:
            message = (
                f"contact {name!r} is {contact.circuit!r} in this pinout; only contacts marked 'choose' are chosen"
            )
            problems.append(Problem(message, (mark(document, where, "key"),), ".".join(map(str, where))))
            continue
        contacts[marks[name]] = contact.model_copy(update={"circuit": circuit})
    return connector.model_copy(update={"contact": tuple(contacts)})


def cross_check(document: TomlDocument, rig: Rig, plugs: tuple[Connector | None, ...]) -> Iterator[Problem]:
    """Yield every problem between the records of a rig; without its plug, of a trailer only what shows without it."""
    checker = _Checker(document, rig)
    yield from checker.vehicle()
    yield from checker.fuses()
    yield from checker.adapter()
    yield from checker.supply()
    trailers: list[tuple[str | None, KeyPath]] = [(t.name, ("trailer", i, "name")) for i, t in enumerate(rig.trailer)]
    yield from checker.twice(trailers, "trailer")
    for index, (trailer, plug) in enumerate(zip(rig.trailer, plugs, strict=True)):
        path: KeyPath = ("trailer", index)
        if plug is not None:
            yield from checker.trailer(path, trailer, plug)
        for number, lamp in enumerate(trailer.lamp):
            yield from checker.lamp((*path, "lamp", number), lamp)
            if plug is not None:
                yield from checker.place((*path, "lamp", number), lamp, plug)
    for index, run in enumerate(rig.run):
        yield from checker.run(index, run)


class _Checker:
    def __init__(self, document: TomlDocument, rig: Rig) -> None:
        self.document = document
        self.rig = rig
        self.taps = {tap.name for tap in rig.vehicle.tap}

    def problem(self, message: str, *path: str | int, on_key: bool = False, word: str = "") -> Problem:
        place = mark(self.document, path, "key" if on_key else "value", word=word)
        return Problem(message, (place,), ".".join(map(str, path)))

    def twice(self, names: Iterable[tuple[str | None, KeyPath]], word: str) -> Iterator[Problem]:
        first: dict[str, KeyPath] = {}
        for name, path in names:
            if name is None:
                continue
            if name in first:
                yield clash(self.document, f"{word} {name!r} is used twice", path, first[name])
            first.setdefault(name, path)

    def vehicle(self) -> Iterator[Problem]:
        vehicle = self.rig.vehicle
        if vehicle.ground == "positive":
            yield self.problem(
                "positive-ground vehicles are not computed here: every check assumes battery minus on the chassis",
                "vehicle",
                "ground",
            )
        taps = [(tap.name, ("vehicle", "tap", i, "name")) for i, tap in enumerate(vehicle.tap)]
        yield from self.twice(taps, "tap")
        for name, path in taps:
            if name in CIRCUITS:
                yield self.problem(f"a tap may not have the name of a circuit ({name!r}): choose another", *path)
            if name in _TAKEN:
                yield self.problem(f"{name!r} means something else here: choose another name for the tap", *path)
        feeds = [
            (circuit, ("vehicle", "feed", i, "circuits", k))
            for i, feed in enumerate(vehicle.feed)
            for k, circuit in enumerate(feed.circuits)
        ]
        yield from self.twice(feeds, "feed of circuit")
        habits = [(habit.circuit, ("vehicle", "habit", i, "circuit")) for i, habit in enumerate(vehicle.habit)]
        yield from self.twice(habits, "habit of circuit")
        for index, tap in enumerate(vehicle.tap):
            yield from self.signals(tap.live.names, ("vehicle", "tap", index, "live"))
        for index, habit in enumerate(vehicle.habit):
            yield from self.signals(habit.live.names, ("vehicle", "habit", index, "live"))

    def signals(self, names: tuple[str, ...], path: KeyPath) -> Iterator[Problem]:
        for name in names:
            if name not in SIGNALS:
                yield self.problem(
                    f"{name!r} is not a control signal{guess(name, SIGNALS)} Allowed: {', '.join(SIGNALS)}",
                    *path,
                    word=name,
                )

    def inputs(self, names: tuple[str, ...], path: KeyPath) -> Iterator[Problem]:
        usable = [n for n, kind in CIRCUITS.items() if kind.live != "never"]
        for name in names:
            if name not in usable and name not in self.taps:
                known = [*usable, *self.taps]
                yield self.problem(
                    f"{name!r} is neither a vehicle circuit nor a tap{guess(name, known)} "
                    f"Circuits: {', '.join(usable)}. Taps: {', '.join(sorted(self.taps)) or 'none'}",
                    *path,
                    word=name,
                )

    def adapter(self) -> Iterator[Problem]:
        adapter = self.rig.adapter
        if adapter.straight and (adapter.channel or adapter.supply):
            key = "channel" if adapter.channel else "supply"
            yield clash(
                self.document,
                "a straight lead has neither supply nor channels",
                ("adapter", key),
                ("adapter", "straight"),
            )
        if not adapter.straight and not adapter.channel:
            yield self.problem("the adapter needs at least one [[adapter.channel]], or straight = true", "adapter")
        channels = [(c.name, ("adapter", "channel", i, "name")) for i, c in enumerate(adapter.channel)]
        yield from self.twice(channels, "channel")
        for index, channel in enumerate(adapter.channel):
            yield from self.channel(("adapter", "channel", index), channel)

    def channel(self, path: KeyPath, channel: Channel) -> Iterator[Problem]:
        yield from self.inputs(channel.input.names, (*path, "input"))
        if not channel.input.names:
            yield self.problem("a channel must listen to at least one circuit", *path, "input")
        if channel.device in ("wire", "step_down") and not channel.input.is_bare:
            yield self.problem(
                f"a {channel.device.replace('_', '-')} passes one circuit on; logic needs a relay or solid_state",
                *path,
                "input",
            )
        for name in channel.outputs:
            if name not in LOADABLE:
                yield self.problem(
                    f"{name!r} is nothing a channel feeds{guess(name, LOADABLE)} Allowed: {', '.join(LOADABLE)}",
                    *path,
                    "output",
                    word=name,
                )
        if channel.device in ("relay", "solid_state", "brake_controller") and self.rig.adapter.supply is None:
            yield self.problem(f"this channel ({channel.device}) needs the adapter's 12 V: add [adapter.supply]", *path)
        if channel.pick_up_v and channel.drop_out_v and channel.drop_out_v >= channel.pick_up_v:
            yield self.problem("drop_out must be below pick_up", *path, "drop_out")
        yield from self.unused(path, channel, channel.device, _DEVICES_OF)

    def supply(self) -> Iterator[Problem]:
        supply, path = self.rig.adapter.supply, ("adapter", "supply")
        if supply is None:
            return
        if supply.feed is not None:
            yield from self.inputs((supply.feed,), (*path, "feed"))
        if supply.kind == "centre_tap" and self.rig.vehicle.battery.nominal == "12 V":
            yield clash(
                self.document,
                "a centre tap wants two 12 V batteries in series: a 24 V vehicle",
                (*path, "kind"),
                ("vehicle", "battery", "nominal"),
            )
        yield from self.unused(path, supply, supply.kind, _KINDS_OF)

    def unused(self, path: KeyPath, entry: Record, kind: str, users: dict[str, tuple[str, ...]]) -> Iterator[Problem]:
        """Yield the keys that this kind of device or supply has no use for: what they say would be lost in silence."""
        for attribute, kinds in users.items():
            if kind not in kinds and getattr(entry, attribute) is not None:
                key = type(entry).model_fields[attribute].alias or attribute
                message = f"{key} does nothing for {kind}; it is for {', '.join(kinds)}"
                yield self.problem(message, *path, key, on_key=True)

    def fuses(self) -> Iterator[Problem]:
        """Yield the fuses that are smaller than any the table has."""
        least_a = min(fuse.rating_a for fuse in fuse_types() if fuse.cold_ohm is not None)
        vehicle, adapter = self.rig.vehicle, self.rig.adapter
        fused: list[tuple[KeyPath, float | None]] = [
            *((("vehicle", "feed", i), feed.fuse_a) for i, feed in enumerate(vehicle.feed)),
            *((("vehicle", "tap", i), tap.fuse_a) for i, tap in enumerate(vehicle.tap)),
            *((("adapter", "channel", i), channel.fuse_a) for i, channel in enumerate(adapter.channel)),
            (("adapter", "supply"), adapter.supply.fuse_a if adapter.supply else None),
        ]
        for path, fuse_a in fused:
            if fuse_a is not None and fuse_a < least_a:
                message = f"no fuse of {fuse_a:g} A is known here; the smallest is {least_a:g} A"
                yield self.problem(message, *path, "fuse")

    def trailer(self, path: KeyPath, trailer: Trailer, plug: Connector) -> Iterator[Problem]:
        marks = [contact.mark for contact in plug.contact]
        if not any(contact.circuit in GROUNDS for contact in plug.contact):
            yield self.problem(f"{plug.short} has no ground contact", *path, "plug")
        for number, group in enumerate(trailer.ties):
            for name in group:
                if name not in marks:
                    yield self.problem(
                        f"{plug.short} has no contact {name!r}{guess(name, marks)} It has: {', '.join(marks)}",
                        *path,
                        "ties",
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

    def _unchosen(self, plug: Connector, circuit: str) -> str:
        for contact in plug.contact:
            if contact.circuit == "choose" and circuit in contact.choices:
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
                "at",
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
            extra = [key for key in ("technology", "voltage", "power") if getattr(lamp, _FIELD[key]) is not None]
            if extra:
                yield clash(
                    self.document,
                    "a lamp has a type or its own data, not both",
                    (*path, extra[0]),
                    (*path, "type"),
                )
        elif lamp.technology is None or lamp.voltage_v is None or lamp.power_w is None:
            yield self.problem("a lamp needs a type, or technology, voltage and power", *path)

    def run(self, index: int, run: Run) -> Iterator[Problem]:
        path: KeyPath = ("run", index)
        if (run.start, run.end) not in RUNS:
            allowed = "; ".join(f"{a} to {b}" for a, b in RUNS)
            yield self.problem(f"no conductor runs from {run.start} to {run.end}. Allowed: {allowed}", *path, "to")
        trailers = [trailer.name for trailer in self.rig.trailer]
        if run.trailer is not None and run.trailer not in trailers:
            yield self.problem(
                f"there is no trailer {run.trailer!r}{guess(run.trailer, trailers)} There are: {', '.join(trailers)}",
                *path,
                "trailer",
            )
        if run.trailer is not None and (run.start, run.end) in RUNS and (run.start, run.end) not in _OF_A_TRAILER:
            message = f"conductors from {run.start} to {run.end} serve every trailer: leave 'trailer' out"
            yield self.problem(message, *path, "trailer", on_key=True)
        known = [*CIRCUITS, *self.taps, "supply"]
        for number, name in enumerate(run.circuits):
            if name not in known:
                yield self.problem(
                    f"{name!r} is neither a circuit nor a tap{nearest(name, known)}",
                    *path,
                    "circuits",
                    number,
                )


_FIELD = {"technology": "technology", "voltage": "voltage_v", "power": "power_w"}
