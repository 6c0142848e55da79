"""Turn a rig into one way to convert, record by record; what has no value yet is sized in ``way_sizes``."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from wiregen.catalogue.devices import DEVICES, plain_word
from wiregen.rig.devices import (
    CentreTapSupply,
    Channel,
    ConverterSupply,
    StepDownChannel,
    Supply,
    WireChannel,
    channel_of,
)
from wiregen.rig.loaded import LoadedRig
from wiregen.rig.records import Rig, Run, Tap, VehicleBattery
from wiregen.rig.trailers import LampEntry, Trailer

if TYPE_CHECKING:
    from wiregen.convert.ways import LampChoice, Way
    from wiregen.design.design import Design
    from wiregen.model.comparison import LampChange

#: Inputs that one of several circuits can stand for: they are live together.
_ANY_OF: Final = re.compile(r"\w+(?: or \w+)+")
#: Attributes of a centre tap that an equaliser has.
_OF_AN_EQUALISER: Final = ("equaliser_a", "equaliser_fuse_a", "efficiency")
#: Above this a lamp, V, is one for 24 V.
_TOP_OF_12V: Final = 16.0


@dataclass(frozen=True)
class Rewritten:
    """A rig turned into one way.

    Attributes:
        loaded: The rig; ratings that nobody gave are still open.
        changes: Lamps that were changed.
        notes: What else was done.
        why_not: Why the rig cannot be converted so; empty where it can.
        feed_added: Name of a tap that was added to feed the supply; empty for none.
    """

    loaded: LoadedRig
    changes: tuple[LampChange, ...] = ()
    notes: tuple[str, ...] = ()
    why_not: tuple[str, ...] = ()
    feed_added: str = ""


def changed(loaded: LoadedRig, **update: Any) -> LoadedRig:  # noqa: ANN401 - any field of a rig
    """Return a rig with other records; places in the rig file no longer hold for it."""
    return replace(loaded, rig=loaded.rig.model_copy(update=update), origin=lambda _: None)


def chosen_trailer(design: Design, name: str | None) -> LoadedRig:
    """Return a rig with one trailer only, or with all of them when ``name`` is None.

    Raises:
        ArgumentError: There is no such trailer.
    """
    return design.loaded if name is None else only_trailer(design.loaded, design.trailer_index(name))


def only_trailer(loaded: LoadedRig, index: int) -> LoadedRig:
    """Return a rig with one of its trailers."""
    return replace(changed(loaded, trailer=(loaded.rig.trailer[index],)), plugs=(loaded.plugs[index],))


def rewrite(loaded: LoadedRig, way: Way) -> Rewritten:
    """Return a rig as it would be under a way, ratings left open that nobody gave."""
    notes: list[str] = []
    channels, why_not = [], []
    if way.needs_pair and loaded.rig.vehicle.battery.pair is False:
        why_not.append("the rig file says that the battery is one block of 24 V: it has no centre to tap")
    for name, channel in _named(_channels(loaded)):
        made = _converted(loaded, way, name, channel, notes)
        if made is None:
            logic = f"{name} ({channel.input.text} > {', '.join(channel.outputs)})"
            why = f"and a {plain_word(way.device)} passes one on: that needs relays"
            why_not.append(f"{logic} does logic over several circuits, {why}")
        else:
            channels.append(made)
    if not channels and not why_not:
        why_not.append("the vehicle socket and the trailer plugs share no circuit")
    trailers, changes = _trailers(loaded.rig, way.lamps)
    notes += _at_24v(loaded.rig, channels)
    supply, taps, added = _supply(loaded, way, channels)
    adapter = loaded.rig.adapter.model_copy(update={"straight": False, "supply": supply, "channel": tuple(channels)})
    made_rig = changed(
        loaded,
        adapter=adapter,
        trailer=trailers,
        vehicle=loaded.rig.vehicle.model_copy(update={"tap": taps}),
        run=(*loaded.rig.run, *_runs(loaded.rig, supply)),
    )
    return Rewritten(made_rig, tuple(changes), tuple(dict.fromkeys(notes)), tuple(why_not), added)


def behind_12v(made: Rewritten) -> LoadedRig:
    """Return a rewritten rig behind a 12 V vehicle with the same wires: its lamp circuits straight through, no more."""
    rig = made.loaded.rig
    lamps = tuple(channel for channel in rig.adapter.channel if isinstance(channel, WireChannel))
    adapter = rig.adapter.model_copy(update={"supply": None, "channel": lamps})
    battery = VehicleBattery(nominal="12 V")
    return changed(
        made.loaded, adapter=adapter, vehicle=rig.vehicle.model_copy(update={"battery": battery, "flasher": None})
    )


def one_lamp_each(loaded: LoadedRig) -> LoadedRig:
    """Return a rig on whose trailers each circuit has one lamp left."""
    trailers = []
    for trailer in loaded.rig.trailer:
        kept: dict[str, LampEntry] = {}
        for lamp in trailer.lamp:
            kept.setdefault(lamp.function, lamp.model_copy(update={"count": 1}))
        trailers.append(trailer.model_copy(update={"lamp": tuple(kept.values())}))
    return changed(loaded, trailer=tuple(trailers))


def _channels(loaded: LoadedRig) -> tuple[Channel, ...]:
    """Return the channels of the adapter; of a straight lead one wire for each circuit that both ends have."""
    from wiregen.catalogue.circuits import LOADABLE
    from wiregen.circuit.trailer import loaded_contacts

    if not loaded.rig.adapter.straight:
        return loaded.rig.adapter.channel
    trailers = zip(loaded.rig.trailer, loaded.plugs, strict=True)
    wanted = {entry.circuit for trailer, plug in trailers for entry in loaded_contacts(plug, trailer)}
    shared = dict.fromkeys(e.circuit for e in loaded.socket.contact if e.circuit in wanted and e.circuit in LOADABLE)
    return tuple(channel_of({"input": name, "output": name, "device": "wire"}) for name in shared)


def _at_24v(rig: Rig, channels: list[Channel]) -> Iterator[str]:
    """Yield what is no lamp and gets 24 V with them: the solenoid on the reverse circuit."""
    through = any(isinstance(channel, WireChannel) and "reverse" in channel.outputs for channel in channels)
    for trailer in rig.trailer:
        if through and trailer.lock_out is not None and trailer.voltage == "12 V":
            yield f"{trailer.name}: the lock-out solenoid on the reverse circuit gets 24 V; it must be changed too."


def _named(channels: tuple[Channel, ...]) -> Iterator[tuple[str, Channel]]:
    for number, channel in enumerate(channels, start=1):
        yield channel.name or f"channel {number}", channel


def is_lamp(channel: Channel) -> bool:
    """Return whether a channel feeds lamps and nothing else."""
    from wiregen.catalogue.circuits import CIRCUITS

    return all(CIRCUITS[name].is_light for name in channel.outputs)


def is_on_bus(channel: Channel) -> bool:
    """Return whether a channel works on the adapter's 12 V bus."""
    return DEVICES[channel.device].on_bus


def _converted(loaded: LoadedRig, way: Way, name: str, channel: Channel, notes: list[str]) -> Channel | None:
    """Return a channel as it is under a way; None where it needs logic that the way cannot do."""
    if not is_lamp(channel):
        # Brakes and permanent supplies stay at 12 V under every way; bare wires would carry 24 V there.
        keeps = is_on_bus(channel) or isinstance(channel, StepDownChannel)
        return channel if keeps else _as(channel, "step_down", channel.input.text)
    if way.device == "switch":
        return channel if is_on_bus(channel) else _as(channel, "relay", channel.input.text)
    single = _one_input(loaded, channel)
    if single is None:
        return None
    if single != channel.input.text:
        notes.append(f"{name} is fed from {single} alone, of {channel.input.text}.")
    is_kept = way.device == "step_down" and isinstance(channel, StepDownChannel)
    return channel if is_kept else _as(channel, way.device, single)


def _as(channel: Channel, device: str, logic: str) -> Channel:
    """Return a channel with another device; nothing of its old device's data is kept but the fuse."""
    # A resistor cannot be without a resistance; sizing puts the right one in.
    data = {"resistance": "1 ohm"} if device == "resistor" else {}
    made = channel_of({"name": channel.name, "input": logic, "output": channel.output, "device": device, **data})
    return made.model_copy(update={"fuse_a": channel.fuse_a})


def _one_input(loaded: LoadedRig, channel: Channel) -> str | None:
    """Return the one circuit that can stand for a channel's logic; None where it takes relays to do it."""
    if channel.input.is_bare:
        return channel.input.text
    if not _ANY_OF.fullmatch(channel.input.text):
        return None
    offered = {tap.name for tap in loaded.rig.vehicle.tap} | {entry.circuit for entry in loaded.socket.contact}
    return next((name for name in channel.input.names if name in offered), None)


def _supply(loaded: LoadedRig, way: Way, channels: list[Channel]) -> tuple[Supply | None, tuple[Tap, ...], str]:
    """Return the supply under a way, the vehicle's taps with a new feed where one is needed, and that feed's name."""
    present, taps = loaded.rig.adapter.supply, loaded.rig.vehicle.tap
    if not any(is_on_bus(channel) for channel in channels):
        return None, taps, ""
    if way.supply == "centre_tap":
        made = present if isinstance(present, CentreTapSupply) else CentreTapSupply(kind="centre_tap")
        update: dict[str, Any] = {} if way.equaliser else dict.fromkeys(_OF_AN_EQUALISER)
        if made is not present and present is not None:
            update["fuse_a"] = present.fuse_a
        return made.model_copy(update=update), taps, ""
    if isinstance(present, ConverterSupply) or (present is not None and way.supply == "as needed"):
        return present, taps, ""
    feed, taps, added = _feed(loaded, taps)
    return ConverterSupply(kind="converter", fed_by=feed), taps, added


def _feed(loaded: LoadedRig, taps: tuple[Tap, ...]) -> tuple[str, tuple[Tap, ...], str]:
    """Return what may feed a converter: a tap that is always live, the permanent contact, else a new tap."""
    always = [tap for tap in taps if tap.live.text == "always"]
    if always:
        return max(always, key=lambda tap: tap.fuse_a or 0.0).name, taps, ""
    if loaded.socket.on("charge"):
        return "charge", taps, ""
    name = next(n for n in ("box_feed", "box_feed_2", "box_feed_3") if n not in {tap.name for tap in taps})
    return name, (*taps, Tap.model_validate({"name": name, "live": "always", "source": "battery"})), name


def _runs(rig: Rig, supply: Supply | None) -> list[Run]:
    """Return a run for the centre tap as long as the feed of the present supply, size open, where the rig has none."""
    if not isinstance(supply, CentreTapSupply):
        return []
    to_adapter = [run for run in rig.run if (run.start, run.end) == ("battery", "adapter")]
    if any("supply" in run.circuits or not run.circuits for run in to_adapter):
        return []
    like = next((run for run in to_adapter if rig.adapter.fed_by in run.circuits), None)
    like = like or next(iter(to_adapter), None) or Run.model_validate({"from": "battery", "to": "adapter"})
    return [like.model_copy(update={"circuits": ("supply",), "size": None})]


def _trailers(rig: Rig, choice: LampChoice) -> tuple[tuple[Trailer, ...], list[LampChange]]:
    trailers, changes = [], []
    for trailer in rig.trailer:
        lamps = []
        for lamp in trailer.lamp:
            made, change = _lamp(trailer, lamp, choice)
            lamps.append(made)
            changes += [change] if change else []
        update: dict[str, Any] = {"lamp": tuple(lamps)}
        if choice != "24 V" and trailer.voltage == "24 V":
            update["voltage"] = "12 V"
            if trailer.battery is not None:
                update["battery"] = trailer.battery.model_copy(update={"voltage_v": None})
        trailers.append(trailer.model_copy(update=update))
    return tuple(trailers), changes


def _lamp(trailer: Trailer, lamp: LampEntry, choice: LampChoice) -> tuple[LampEntry, LampChange | None]:
    """Return a lamp entry as it is with another choice of lamps, and what is to be changed; None where nothing is."""
    from wiregen.convert.lamps import for_system, for_wide
    from wiregen.model.comparison import LampChange

    old = lamp.type or _data_words(lamp)
    if choice == "wide range":
        found = for_wide(lamp.type, lamp.function)
    elif lamp.type is not None:
        found = for_system(lamp.type, choice)
    else:
        return _own(trailer, lamp, choice, old)
    if found.id == lamp.type:
        return lamp, None
    change = LampChange(
        trailer=trailer.name, function=lamp.function, count=lamp.count, old=old, new=found.id or "", note=found.note
    )
    cleared = {"technology": None, "voltage_v": None, "power_w": None, "points": None}
    return (lamp.model_copy(update={"type": found.id, **cleared}) if found.id else lamp), change


def _own(trailer: Trailer, lamp: LampEntry, choice: LampChoice, old: str) -> tuple[LampEntry, LampChange | None]:
    """Change a lamp given by its own data: twice the voltage, or half of it, at the same power."""
    from wiregen.model.comparison import LampChange

    change = LampChange(trailer=trailer.name, function=lamp.function, count=lamp.count, old=old, new="")
    if lamp.points is not None or lamp.voltage_v is None:
        is_24 = trailer.voltage == "24 V" if lamp.voltage_v is None else lamp.voltage_v > _TOP_OF_12V
        if is_24 == (choice == "24 V"):
            return lamp, None
        return lamp, replace(change, note="measured lamp: what another one draws is not known; measure it too")
    if (lamp.voltage_v > _TOP_OF_12V) == (choice == "24 V"):
        return lamp, None
    made = lamp.model_copy(update={"voltage_v": lamp.voltage_v * (2.0 if choice == "24 V" else 0.5)})
    return made, replace(change, new=_data_words(made), note="the same power at the other voltage is assumed")


def _data_words(lamp: LampEntry) -> str:
    if lamp.points is not None:
        return f"lamp measured at {len(lamp.points)} points"
    return f"{lamp.technology} {lamp.voltage_v:g} V {lamp.power_w:g} W"
