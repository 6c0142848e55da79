"""Checks between records: names used twice, references to nothing, contacts that do not exist."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from wiregen.catalogue.circuits import CIRCUITS, LOADABLE
from wiregen.catalogue.connector import Connector
from wiregen.catalogue.defaults import default
from wiregen.catalogue.devices import DEVICES, plain_word
from wiregen.catalogue.fuses import fuse_types
from wiregen.errors import Problem, guess, nearest
from wiregen.loader.cross_trailer import TrailerChecker
from wiregen.loader.diagnose import clash, mark
from wiregen.loader.reading import TomlDocument
from wiregen.loader.toml_places import KeyPath
from wiregen.model.stretch import RUNS, STRETCHES
from wiregen.rig.devices import (
    CentreTapSupply,
    Channel,
    ConverterSupply,
    RelayChannel,
    Supply,
    WithCoil,
    WithLimit,
)
from wiregen.rig.records import Feed, Rig, Run, Tap
from wiregen.rig.trailers import TrailerBattery

#: Channels that are computed.
MOST_CHANNELS: Final = 40
#: Lamp entries that are computed on all trailers together.
MOST_LAMPS_IN_ALL: Final = 400
#: Words with a meaning of their own where the name of a tap may stand.
_TAKEN: Final = ("supply", "always", "never", "not", "and", "or", "xor")


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
    yield from checker.electrics()
    yield from checker.fuses()
    yield from checker.adapter()
    yield from checker.supply()
    yield from checker.lamps_in_all()
    trailers: list[tuple[str | None, KeyPath]] = [(t.name, ("trailer", i, "name")) for i, t in enumerate(rig.trailer)]
    yield from checker.twice(trailers, "trailer")
    for index, (trailer, plug) in enumerate(zip(rig.trailer, plugs, strict=True)):
        path: KeyPath = ("trailer", index)
        if plug is not None:
            yield from checker.trailer(path, trailer, plug)
        yield from checker.alone(path, trailer)
        for number, lamp in enumerate(trailer.lamp):
            yield from checker.lamp((*path, "lamp", number), lamp)
            if plug is not None:
                yield from checker.place((*path, "lamp", number), lamp, plug)
    for index, run in enumerate(rig.run):
        yield from checker.run(index, run)


class _Checker(TrailerChecker):
    """All checks of one rig."""

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
            (circuit, ("vehicle", "fuse", i, "circuits", k))
            for i, feed in enumerate(vehicle.feed)
            for k, circuit in enumerate(feed.circuits)
        ]
        yield from self.twice(feeds, "feed of circuit")
        for index, feed in enumerate(vehicle.feed):
            if feed.own_load is not None and feed.fuse_a is None:
                yield self.problem("it says nothing without the fuse it hangs on", "vehicle", "fuse", index, "own_load")
        habits = [(habit.circuit, ("vehicle", "exception", i, "circuit")) for i, habit in enumerate(vehicle.habit)]
        yield from self.twice(habits, "habit of circuit")
        for index, tap in enumerate(vehicle.tap):
            yield from self.signals(tap.live.names, ("vehicle", "tap", index, "live"))
        for index, habit in enumerate(vehicle.habit):
            yield from self.signals(habit.live.names, ("vehicle", "exception", index, "live"))

    def electrics(self) -> Iterator[Problem]:
        """Yield voltages of the battery and loads of the flasher that do not rise as they must."""
        vehicle = self.rig.vehicle
        yield from self.ordered(("vehicle", "battery"), vehicle.battery, ("low_v", "running_v", "charging_v"))
        flasher = vehicle.flasher
        if flasher is None or flasher.lowest_load is None or flasher.highest_load is None:
            return
        system = vehicle.battery.nominal.replace(" V", "v")
        test_v = default(f"battery_{system}_running_v").value
        if flasher.highest_load.at_v(test_v) < flasher.lowest_load.at_v(test_v):
            path = ("vehicle", "flasher")
            message = "highest_load must not be less than lowest_load"
            yield clash(self.document, message, (*path, "highest_load"), (*path, "lowest_load"))

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
        if len(adapter.channel) > MOST_CHANNELS:
            message = f"{len(adapter.channel)} channels; at most {MOST_CHANNELS} are computed"
            yield self.problem(message, "adapter", "channel", MOST_CHANNELS)
        channels = [(c.name, ("adapter", "channel", i, "name")) for i, c in enumerate(adapter.channel)]
        yield from self.twice(channels, "channel")
        for index, channel in enumerate(adapter.channel):
            yield from self.channel(("adapter", "channel", index), channel)

    def channel(self, path: KeyPath, channel: Channel) -> Iterator[Problem]:
        yield from self.inputs(channel.input.names, (*path, "input"))
        if not channel.input.names:
            yield self.problem("a channel must listen to at least one circuit", *path, "input")
        kind = DEVICES[channel.device]
        if not kind.does_logic and not channel.input.is_bare:
            yield self.problem(
                f"a {plain_word(channel.device)} passes one circuit on; logic needs a relay or solid_state",
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
        if kind.on_bus and self.rig.adapter.supply is None:
            yield self.problem(f"this channel ({channel.device}) needs the adapter's 12 V: add [adapter.supply]", *path)
        if isinstance(channel, WithCoil) and (channel.drop_out_v or 0.0) >= (channel.pick_up_v or math.inf):
            yield self.problem("drop_out must be below pick_up", *path, "drop_out")
        if isinstance(channel, RelayChannel) and channel.suppression_ohm and channel.suppression != "resistor":
            yield self.problem('it says nothing without suppression = "resistor"', *path, "suppression_resistance")
        if isinstance(channel, WithLimit):
            yield from self.limits(path, channel, channel.rating_a, ("rating_a", "peak_a", "current_limit_a"))

    def limits(
        self, path: KeyPath, entry: WithLimit, continuous_a: float | None, rising: tuple[str, ...]
    ) -> Iterator[Problem]:
        """Yield what does not fit among the currents of a converter."""
        yield from self.ordered(path, entry, rising)
        if entry.foldback is not None and continuous_a is None and entry.current_limit_a is None:
            yield self.problem("a share of what? Give current_limit too", *path, "foldback")

    def supply(self) -> Iterator[Problem]:
        supply, path = self.rig.adapter.supply, ("adapter", "supply")
        if isinstance(supply, ConverterSupply):
            if supply.feed is not None:
                yield from self.inputs((supply.feed,), (*path, "fed_by"))
            yield from self.ordered(path, supply, ("minimum_input_v", "maximum_input_v"))
            yield from self.limits(path, supply, supply.continuous_a, ("continuous_a", "peak_a", "current_limit_a"))
        elif isinstance(supply, CentreTapSupply):
            yield from self.centre_tap(path, supply)

    def centre_tap(self, path: KeyPath, supply: CentreTapSupply) -> Iterator[Problem]:
        battery, wanted = self.rig.vehicle.battery, "a centre tap wants two 12 V batteries in series"
        if battery.nominal == "12 V":
            where = ("vehicle", "battery", "nominal")
            yield clash(self.document, f"{wanted}: a 24 V vehicle", (*path, "kind"), where)
        if battery.pair is False:
            yield clash(self.document, wanted, (*path, "kind"), ("vehicle", "battery", "pair"))
        if supply.equaliser_a is not None:
            return
        if supply.efficiency is not None:
            yield self.problem("a centre tap without an equaliser has no efficiency", *path, "efficiency", on_key=True)
        if supply.equaliser_fuse_a is not None:
            message = "there is no equaliser for this fuse: state its rating as equaliser"
            yield self.problem(message, *path, "equaliser_fuse", on_key=True)

    def fuses(self) -> Iterator[Problem]:
        """Yield the fuses that are smaller than any the table has, and the breakers without a rating."""
        least_a = min(fuse.rating_a for fuse in fuse_types() if fuse.cold_ohm is not None)
        vehicle, adapter = self.rig.vehicle, self.rig.adapter
        owners: list[tuple[KeyPath, Feed | Tap | Channel | Supply | TrailerBattery | None]] = [
            *((("vehicle", "fuse", i), feed) for i, feed in enumerate(vehicle.feed)),
            *((("vehicle", "tap", i), tap) for i, tap in enumerate(vehicle.tap)),
            *((("adapter", "channel", i), channel) for i, channel in enumerate(adapter.channel)),
            (("adapter", "supply"), adapter.supply),
            *((("trailer", i, "battery"), trailer.battery) for i, trailer in enumerate(self.rig.trailer)),
        ]
        for path, owner in owners:
            if owner is None:
                continue
            if owner.fuse_a is not None and owner.fuse_a < least_a:
                message = f"no fuse of {owner.fuse_a:g} A is known here; the smallest is {least_a:g} A"
                yield self.problem(message, *path, "fuse")
            if owner.fuse_a is None and not isinstance(owner, TrailerBattery) and owner.breaker is not None:
                yield self.problem("a breaker of how many amps? Give its rating as fuse", *path, "breaker")

    def lamps_in_all(self) -> Iterator[Problem]:
        """Yield that all trailers together have more lamps than are computed."""
        count = sum(len(trailer.lamp) for trailer in self.rig.trailer)
        if len(self.rig.trailer) > 1 and count > MOST_LAMPS_IN_ALL:
            yield self.problem(
                f"{count} lamp entries on {len(self.rig.trailer)} trailers; at most {MOST_LAMPS_IN_ALL} are computed "
                "at once. Put lamps of one function and type into one entry with count, or trailers into several files",
                "trailer",
            )

    def run(self, index: int, run: Run) -> Iterator[Problem]:
        path: KeyPath = ("run", index)
        stretch = RUNS.get((run.start, run.end))
        if stretch is None:
            allowed = "; ".join(f"{a} to {b}" for a, b in RUNS)
            yield self.problem(f"no conductor runs from {run.start} to {run.end}. Allowed: {allowed}", *path, "to")
        trailers = [trailer.name for trailer in self.rig.trailer]
        if run.trailer is not None and run.trailer not in trailers:
            yield self.problem(
                f"there is no trailer {run.trailer!r}{guess(run.trailer, trailers)} There are: {', '.join(trailers)}",
                *path,
                "trailer",
            )
        if run.trailer is not None and stretch is not None and not STRETCHES[stretch].of_trailer:
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
