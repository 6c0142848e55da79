"""The adapter: grounds and channels. A channel ends in the terminal its trailer conductors start from."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from wiregen.catalogue.devices import DEVICES
from wiregen.circuit.contacts import contact_network
from wiregen.circuit.parts import ADAPTER_GROUND, BUS, CHASSIS, Parts
from wiregen.circuit.supply import NO_CLAMP_V, SupplySide, converter_limits
from wiregen.circuit.vehicle import VehicleSide
from wiregen.model.circuit import Coil, Converter, RelayContact, Resistor, Suppression, parallel_ohm
from wiregen.model.contacts import OUT, Gate, most_in_series
from wiregen.model.origin import Origin
from wiregen.quantity import show
from wiregen.rig.devices import (
    BrakeControllerChannel,
    Channel,
    DiodeChannel,
    RelayChannel,
    ResistorChannel,
    SolidStateChannel,
    StepDownChannel,
    WireChannel,
    WithCoil,
)


@dataclass(frozen=True, slots=True)
class BuiltChannel:
    """A channel after the build.

    Attributes:
        name: Its name, given or numbered.
        index: Place in the rig file.
        outputs: Circuits it feeds.
        out: Terminal its trailer conductors start from.
        coils: Coil refs by the circuit they hear.
        missing: Inputs that the vehicle does not offer.
    """

    name: str
    index: int
    outputs: tuple[str, ...]
    out: str
    coils: dict[str, str] = field(default_factory=dict)
    missing: tuple[str, ...] = ()


class AdapterSide:
    """Builds supply and channels."""

    def __init__(self, parts: Parts, vehicle: VehicleSide) -> None:
        self.parts = parts
        self.vehicle = vehicle
        self.adapter = parts.rig.adapter
        self.missing_feed: str | None = None
        parts.ref("A")  # the box itself is -A1; a brake controller in it gets the next number

    def build(self) -> list[BuiltChannel]:
        """Build grounds, supply and channels in the order of the rig file."""
        parts = self.parts
        self.vehicle.grounds(self._own_returns())
        if self.adapter.own_ground:
            parts.add(
                parts.runs.conductor(
                    "adapter-chassis",
                    ADAPTER_GROUND,
                    CHASSIS,
                    circuit="ground",
                    zone="adapter",
                    title="own ground",
                )
            )
        if self.adapter.supply:
            self.missing_feed = SupplySide(parts, self.vehicle).build(self.adapter.supply)
        return [self._channel(index, channel) for index, channel in enumerate(self.adapter.channel)]

    def _own_returns(self) -> Iterator[str]:
        """Yield the marks of the socket's contacts by which the feeds that the adapter uses return."""
        names = [name for channel in self.adapter.channel for name in channel.input.names]
        names += [self.adapter.fed_by] if self.adapter.fed_by else []
        taps = {tap.name for tap in self.parts.rig.vehicle.tap}
        for name in names:
            entry = None if name in taps else next(iter(self.vehicle.socket.on(name)), None)
            ground = self.vehicle.socket.return_of(entry) if entry else None
            if ground is not None:
                yield ground.mark

    def _channel(self, index: int, channel: Channel) -> BuiltChannel:
        match channel:
            case RelayChannel() | SolidStateChannel():
                return self._switched(index, channel)
            case BrakeControllerChannel():
                return self._controller(index, channel)
            case StepDownChannel():
                return self._step_down(index, channel)
            case DiodeChannel():
                return self._diode(index, channel)
            case ResistorChannel():
                return self._resistor(index, channel)
            case WireChannel():
                return self._wire(index, channel)

    def _ref(self, channel: Channel) -> str:
        return self.parts.ref(DEVICES[channel.device].letter)

    def _fused(self, index: int, channel: Channel, name: str, start: str) -> str:
        """Return the terminal behind a channel's fuse; ``start`` itself where it has none."""
        if channel.fuse_a is None:
            return start
        origin = self.parts.origin("adapter", "channel", index)
        return self.parts.fuse(
            start, channel.fuse_a, channel.outputs[0], "adapter", origin, channel=name, breaker=channel.breaker
        )

    def _input(self, name: str, missing: list[str]) -> str:
        terminal = self.vehicle.bring(name)
        if terminal is None:
            missing.append(name)
        return terminal or f"-A1:{name}"

    def _coils(
        self, channel: WithCoil, origin: Origin | None, letter: str, missing: list[str], name: str | None = None
    ) -> dict[str, str]:
        """Make one coil (or control input) for each circuit the logic reads.

        Args:
            channel: The channel as written.
            origin: Where it was written.
            letter: Letter class of the coils' designations: K for relays, Q for solid-state inputs.
            missing: Takes the inputs that the vehicle does not offer.
            name: Name of the channel; that of its first coil when None.
        """
        take = self.parts.assumed.take
        coils: dict[str, str] = {}
        system = self.parts.rig.vehicle.battery.nominal.replace(" V", "v")
        kind = f"{'relay_coil' if letter == 'K' else 'control_input'}_{system}"
        for circuit in channel.input.names:
            ref = self.parts.ref(letter)
            coils[circuit] = ref
            # An unnamed channel has the name of its first relay.
            label = name or channel.name or next(iter(coils.values()))[1:]
            suppression: Suppression = ""
            across_ohm = math.inf
            if isinstance(channel, RelayChannel):
                suppression = channel.suppression or ""
                if suppression == "resistor":
                    across_ohm = take(channel.suppression_ohm, f"suppression_{system}_ohm", ref)
            self.parts.add(
                Coil(
                    ref=ref,
                    a=self._input(circuit, missing),
                    b=ADAPTER_GROUND,
                    circuit=circuit,
                    zone="adapter",
                    title=f"{channel.name or ref[1:]} hears {circuit}",
                    origin=origin,
                    channel=label,
                    resistance_ohm=parallel_ohm(take(channel.coil_ohm, f"{kind}_ohm", ref), across_ohm),
                    suppression=suppression,
                    suppression_ohm=across_ohm,
                    pick_up_v=take(channel.pick_up_v, f"{kind}_pick_up_v", ref),
                    is_copper=letter == "K",
                    drop_out_v=take(channel.drop_out_v, f"{kind}_drop_out_v", ref),
                )
            )
        return coils

    def _switched(self, index: int, channel: RelayChannel | SolidStateChannel) -> BuiltChannel:
        parts, missing = self.parts, list[str]()
        origin = parts.origin("adapter", "channel", index)
        letter = DEVICES[channel.device].letter
        coils = self._coils(channel, origin, letter, missing)
        ref = next(iter(coils.values()))
        name = channel.name or ref[1:]
        start = self._fused(index, channel, name, BUS)
        gate = _gate(channel, coils, letter)
        # The wires of a contact network may leave it at another terminal than 87 of its first relay.
        out = gate.nodes[OUT][0] if gate.wired else f"{ref}:87"
        relay = channel if isinstance(channel, RelayChannel) else None
        key = "relay_contact_resistance_ohm" if relay else "solid_state_resistance_ohm"
        parts.add(
            RelayContact(
                ref=f"{ref}:30-87",
                a=start,
                b=out,
                circuit=channel.outputs[0],
                zone="adapter",
                title=f"{name} contact",
                origin=origin,
                channel=name,
                gate=gate,
                rating_a=channel.rating_a or parts.rig.rules.relay_rating_a,
                make_a=channel.make_a,
                device=channel.device,
                rated_at=(relay and relay.rated_at) or "",
                rated_for=(relay and relay.rated_for) or "",
                resistance_ohm=parts.assumed.take(channel.contact_ohm, key, ref) * _in_series(gate),
            )
        )
        return BuiltChannel(name, index, channel.outputs, out, coils, tuple(missing))

    def _controller(self, index: int, channel: BrakeControllerChannel) -> BuiltChannel:
        parts, missing, take = self.parts, list[str](), self.parts.assumed.take
        origin = parts.origin("adapter", "channel", index)
        # A brake controller for 12 V trailers is a 12 V device: a 24 V signal reaches it through a relay.
        letter = DEVICES["relay" if parts.rig.vehicle.battery.nominal == "24 V" else "solid_state"].letter
        ref = self._ref(channel)
        name = channel.name or ref[1:]
        coils = self._coils(channel, origin, letter, missing, name)
        out = f"{ref}:out"
        parts.add(
            Converter(
                ref=ref,
                a=self._fused(index, channel, name, BUS),
                b=out,
                common=ADAPTER_GROUND,
                circuit=channel.outputs[0],
                zone="adapter",
                title=DEVICES[channel.device].word,
                origin=origin,
                channel=name,
                device=channel.device,
                output_v=NO_CLAMP_V,
                ratio=take(channel.gain, "brake_controller_gain", ref),
                resistance_ohm=take(channel.contact_ohm, "solid_state_resistance_ohm", ref),
                efficiency=take(None, "brake_controller_efficiency", ref),
                idle_a=take(None, "brake_controller_idle_a", ref),
                minimum_input_v=take(None, "brake_controller_minimum_input_v", ref),
                gate=_gate(channel, coils, letter),
                **converter_limits(parts, channel, channel.rating_a, ref),
            )
        )
        return BuiltChannel(name, index, channel.outputs, out, coils, tuple(missing))

    def _wire(self, index: int, channel: WireChannel) -> BuiltChannel:
        missing = list[str]()
        name = channel.name or f"wire{index + 1}"
        end = self._fused(index, channel, name, self._input(channel.input.names[0], missing))
        return BuiltChannel(name, index, channel.outputs, end, {}, tuple(missing))

    def _diode(self, index: int, channel: DiodeChannel) -> BuiltChannel:
        parts, missing = self.parts, list[str]()
        start, ref = self._input(channel.input.names[0], missing), self._ref(channel)
        name = channel.name or ref[1:]
        end = parts.diode(
            ref, self._fused(index, channel, name, start), f"{ref}:2", channel.outputs[0], "adapter",
            parts.origin("adapter", "channel", index), drop_v=channel.drop_v, resistance_ohm=channel.contact_ohm,
            rating_a=channel.rating_a, channel=name,
        )  # fmt: skip
        return BuiltChannel(name, index, channel.outputs, end, {}, tuple(missing))

    def _resistor(self, index: int, channel: ResistorChannel) -> BuiltChannel:
        missing = list[str]()
        start, ref = self._input(channel.input.names[0], missing), self._ref(channel)
        name = channel.name or ref[1:]
        self.parts.add(
            Resistor(
                ref=ref,
                a=self._fused(index, channel, name, start),
                b=f"{ref}:2",
                circuit=channel.outputs[0],
                zone="adapter",
                title=f"{DEVICES[channel.device].word} {show(channel.resistance_ohm, 'ohm')}",
                origin=self.parts.origin("adapter", "channel", index),
                channel=name,
                resistance_ohm=channel.resistance_ohm,
                power_w=channel.power_w,
            )
        )
        return BuiltChannel(name, index, channel.outputs, f"{ref}:2", {}, tuple(missing))

    def _step_down(self, index: int, channel: StepDownChannel) -> BuiltChannel:
        """A converter that takes its power from the vehicle circuit itself."""
        parts, missing, take = self.parts, list[str](), self.parts.assumed.take
        start, ref = self._input(channel.input.names[0], missing), self._ref(channel)
        name = channel.name or ref[1:]
        out = f"{ref}:out"
        parts.add(
            Converter(
                ref=ref,
                a=start,
                b=out,
                common=ADAPTER_GROUND,
                circuit=channel.outputs[0],
                zone="adapter",
                title=DEVICES[channel.device].word,
                origin=parts.origin("adapter", "channel", index),
                channel=name,
                device=channel.device,
                output_v=take(channel.output_v, "converter_output_v", ref),
                ratio=1.0,
                resistance_ohm=take(channel.contact_ohm, "converter_output_resistance_ohm", ref),
                efficiency=take(None, "converter_efficiency", ref),
                idle_a=take(None, "converter_idle_a", ref),
                minimum_input_v=take(None, "converter_minimum_input_v", ref),
                maximum_input_v=take(None, "converter_maximum_input_v", ref),
                **converter_limits(parts, channel, channel.rating_a, ref),
            )
        )
        end = self._fused(index, channel, name, out)
        return BuiltChannel(name, index, channel.outputs, end, {}, tuple(missing))


def _gate(channel: WithCoil, coils: dict[str, str], letter: str) -> Gate:
    """Return the gate of a channel; relays do its logic with contacts, one make contact being enough for one input."""
    is_network = letter == DEVICES["relay"].letter and not channel.input.is_bare
    return Gate(logic=channel.input, coils=coils, network=contact_network(channel.input) if is_network else None)


def _in_series(gate: Gate) -> int:
    """Return how many contacts the current of a channel passes one behind another, at the most."""
    return max(1, most_in_series(gate.network)) if gate.network else 1
