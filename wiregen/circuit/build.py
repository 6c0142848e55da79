"""From a loaded rig to circuits: one for each trailer, vehicle and adapter numbered alike in all of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from wiregen.catalogue.circuits import CIRCUITS, GROUNDS
from wiregen.circuit.adapter import AdapterSide, BuiltChannel
from wiregen.circuit.parts import REFERENCE, SOCKET, Parts
from wiregen.circuit.trailer import TrailerSide, loaded_contacts
from wiregen.circuit.vehicle import VehicleSide
from wiregen.errors import InputError
from wiregen.model.circuit import Circuit
from wiregen.model.finding import Assumption
from wiregen.rig.auto import slots
from wiregen.rig.devices import CentreTapSupply
from wiregen.rig.loaded import LoadedRig


@dataclass(frozen=True)
class Built:
    """Everything the later stages need of a rig.

    Attributes:
        circuits: One for each trailer, in the order of the rig file.
        channels: The adapter's channels.
        assumptions: Defaults that were used.
        missing_feed: Name of a supply feed that the vehicle does not offer; None when all is well.
    """

    circuits: tuple[Circuit, ...]
    channels: tuple[BuiltChannel, ...]
    assumptions: tuple[Assumption, ...]
    missing_feed: str | None


def build(loaded: LoadedRig) -> Built:
    """Build the circuits of a rig.

    Raises:
        InputError: A size or a fuse rating is still "auto".
    """
    _refuse_auto(loaded)
    parts = Parts(loaded)
    supply = loaded.rig.adapter.supply
    vehicle = VehicleSide(parts, split_battery=isinstance(supply, CentreTapSupply))
    channels: list[BuiltChannel] = []
    missing_feed = None
    straight = loaded.rig.adapter.straight
    if straight:
        socket, grounds = _straight(vehicle, own_returns(loaded))
    else:
        adapter = AdapterSide(parts, vehicle)
        channels = adapter.build()
        missing_feed = adapter.missing_feed
    shared = tuple(parts.elements)
    circuits = []
    for index, trailer in enumerate(loaded.rig.trailer):
        parts.elements = []
        side = TrailerSide(parts, index)
        if straight:
            side.build_straight(socket, grounds)
        else:
            side.build(channels)
        circuits.append(
            Circuit(
                title=loaded.rig.title,
                trailer=trailer.name,
                elements=shared + tuple(parts.elements),
                reference=REFERENCE,
                stop_wins=loaded.rig.vehicle.braking_holds_hazard_steady,
                shells={SOCKET: parts.shells[SOCKET], side.outlet: parts.shells[side.outlet]},
            )
        )
    return Built(tuple(circuits), tuple(channels), (*loaded.chosen, *parts.assumed.listed()), missing_feed)


def _refuse_auto(loaded: LoadedRig) -> None:
    left = [slot.path for slot in slots(loaded.rig) if slot.is_auto]
    if left:
        places = [
            f"{'.'.join(map(str, path))}{f' ({place})' if (place := loaded.origin(path)) else ''}" for path in left
        ]
        raise InputError(f'a value is still "auto" and must be chosen first: {", ".join(places)}')


def own_returns(loaded: LoadedRig) -> list[str]:
    """Return the marks of the contacts by which single loads of the trailers return, and not by the lamp ground."""
    grounds = (
        plug.return_of(entry)
        for plug, trailer in zip(loaded.plugs, loaded.rig.trailer, strict=True)
        for entry in loaded_contacts(plug, trailer)
    )
    return [ground.mark for ground in grounds if ground and ground.circuit != "ground"]


def _straight(vehicle: VehicleSide, returns: Iterable[str]) -> tuple[dict[str, str], dict[str, str]]:
    """Bring every contact of the socket out, for a lead that joins equal marks."""
    socket = {}
    for entry in vehicle.socket.contact:
        if entry.circuit in GROUNDS or CIRCUITS[entry.circuit].live == "never":
            continue
        end = vehicle.bring(entry.circuit, entry.mark, bare=True)
        if end is not None:
            socket[entry.mark] = end
    return socket, dict(vehicle.grounds(returns, bare=True))


def vehicle_signals(loaded: LoadedRig) -> frozenset[str]:
    """Return the control signals that anything on the vehicle's socket or taps reacts to."""
    from wiregen.model.logic import parse

    names: set[str] = set()
    habits = {habit.circuit: habit.live for habit in loaded.rig.vehicle.habit}
    for entry in loaded.socket.contact:
        live = habits.get(entry.circuit) or parse(CIRCUITS[entry.circuit].live)
        names.update(live.names)
    declared = {name for habit in loaded.rig.vehicle.habit for name in habit.live.names}
    declared |= {name for tap in loaded.rig.vehicle.tap for name in tap.live.names}
    has_blackout = any(CIRCUITS[entry.circuit].group == "Blackout" for entry in loaded.socket.contact)
    if not has_blackout and "blackout" not in declared:
        # The usual rule of stop and turn names blackout, but this vehicle has no such switch.
        names.discard("blackout")
    return frozenset(names | declared)
