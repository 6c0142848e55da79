"""The adapter: grounds and channels. A channel ends in the terminal its trailer conductors start from."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from wiregen.circuit.contacts import contact_network
from wiregen.circuit.parts import ADAPTER_GROUND, BUS, CHASSIS, Parts
from wiregen.circuit.supply import NO_CLAMP_V, SupplySide, converter_limits
from wiregen.circuit.vehicle import VehicleSide
from wiregen.model.circuit import Coil, Converter, RelayContact, Resistor, Suppression, parallel_ohm
from wiregen.model.contacts import OUT, Gate, Network, most_in_series
from wiregen.model.origin import Origin
from wiregen.quantity import show
from wiregen.rig.records import Channel


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
        self.vehicle.grounds()
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

    def _channel(self, index: int, channel: Channel) -> BuiltChannel:
        if channel.device in ("relay", "solid_state"):
            return self._switched(index, channel)
        if channel.device == "brake_controller":
            return self._controller(index, channel)
        if channel.device == "step_down":
            return self._step_down(index, channel)
        return self._direct(index, channel)

    def _input(self, name: str, missing: list[str]) -> str:
        terminal = self.vehicle.bring(name)
        if terminal is None:
            missing.append(name)
        return terminal or f"-A1:{name}"

    def _coils(
        self, channel: Channel, origin: Origin | None, letter: str, missing: list[str], name: str | None = None
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
            suppression: Suppression = channel.suppression or ""
            across_ohm = math.inf
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

    def _switched(self, index: int, channel: Channel) -> BuiltChannel:
        parts, missing = self.parts, list[str]()
        origin = parts.origin("adapter", "channel", index)
        letter = "K" if channel.device == "relay" else "Q"
        coils = self._coils(channel, origin, letter, missing)
        ref = next(iter(coils.values()))
        name = channel.name or ref[1:]
        start = BUS
        if channel.fuse_a is not None:
            start = parts.fuse(
                BUS, channel.fuse_a, channel.outputs[0], "adapter", origin, channel=name, breaker=channel.breaker
            )
        gate = Gate(logic=channel.input, coils=coils, network=_network(channel) if letter == "K" else None)
        # The wires of a contact network may leave it at another terminal than 87 of its first relay.
        out = gate.nodes[OUT][0] if gate.wired else f"{ref}:87"
        key = "relay_contact_resistance_ohm" if channel.device == "relay" else "solid_state_resistance_ohm"
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
                resistance_ohm=parts.assumed.take(channel.contact_ohm, key, ref) * _in_series(gate),
            )
        )
        return BuiltChannel(name, index, channel.outputs, out, coils, tuple(missing))

    def _controller(self, index: int, channel: Channel) -> BuiltChannel:
        parts, missing, take = self.parts, list[str](), self.parts.assumed.take
        origin = parts.origin("adapter", "channel", index)
        # A brake controller for 12 V trailers is a 12 V device: a 24 V signal reaches it through a relay.
        letter = "K" if parts.rig.vehicle.battery.nominal == "24 V" else "Q"
        ref = parts.ref("A")
        name = channel.name or ref[1:]
        coils = self._coils(channel, origin, letter, missing, name)
        start = BUS
        if channel.fuse_a is not None:
            start = parts.fuse(
                BUS, channel.fuse_a, channel.outputs[0], "adapter", origin, channel=name, breaker=channel.breaker
            )
        parts.add(
            Converter(
                ref=ref,
                a=start,
                b=f"{ref}:out",
                common=ADAPTER_GROUND,
                circuit=channel.outputs[0],
                zone="adapter",
                title="brake controller",
                origin=origin,
                channel=name,
                output_v=NO_CLAMP_V,
                ratio=take(channel.gain, "brake_controller_gain", ref),
                resistance_ohm=take(channel.contact_ohm, "solid_state_resistance_ohm", ref),
                efficiency=take(None, "brake_controller_efficiency", ref),
                idle_a=take(None, "brake_controller_idle_a", ref),
                minimum_input_v=take(None, "brake_controller_minimum_input_v", ref),
                gate=Gate(logic=channel.input, coils=coils, network=_network(channel) if letter == "K" else None),
                **converter_limits(parts, channel, channel.rating_a, ref),
            )
        )
        return BuiltChannel(name, index, channel.outputs, f"{ref}:out", coils, tuple(missing))

    def _direct(self, index: int, channel: Channel) -> BuiltChannel:
        """A wire, bare or with a diode or a resistor in it."""
        parts, missing = self.parts, list[str]()
        origin = parts.origin("adapter", "channel", index)
        start = self._input(channel.input.names[0], missing)
        ref = {"diode": lambda: parts.ref("V"), "resistor": lambda: parts.ref("R")}.get(channel.device, lambda: "")()
        name = channel.name or ref[1:] or f"wire{index + 1}"
        if channel.fuse_a is not None:
            start = parts.fuse(
                start, channel.fuse_a, channel.outputs[0], "adapter", origin, channel=name, breaker=channel.breaker
            )
        if channel.device == "diode":
            start = parts.diode(
                ref, start, f"{ref}:2", channel.outputs[0], "adapter", origin,
                drop_v=channel.drop_v, resistance_ohm=channel.contact_ohm, rating_a=channel.rating_a, channel=name,
            )  # fmt: skip
        elif channel.device == "resistor":
            ohm = channel.resistance_ohm or math.inf  # the loader refuses a resistor without a resistance
            parts.add(
                Resistor(
                    ref=ref,
                    a=start,
                    b=f"{ref}:2",
                    circuit=channel.outputs[0],
                    zone="adapter",
                    title=f"dropping resistor {show(ohm, 'ohm')}",
                    origin=origin,
                    channel=name,
                    resistance_ohm=ohm,
                    power_w=channel.power_w,
                )
            )
            start = f"{ref}:2"
        return BuiltChannel(name, index, channel.outputs, start, {}, tuple(missing))

    def _step_down(self, index: int, channel: Channel) -> BuiltChannel:
        """A converter that takes its power from the vehicle circuit itself."""
        parts, missing, take = self.parts, list[str](), self.parts.assumed.take
        origin = parts.origin("adapter", "channel", index)
        start = self._input(channel.input.names[0], missing)
        ref = parts.ref("T")
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
                title="step-down",
                origin=origin,
                channel=name,
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
        if channel.fuse_a is not None:
            out = parts.fuse(
                out, channel.fuse_a, channel.outputs[0], "adapter", origin, channel=name, breaker=channel.breaker
            )
        return BuiltChannel(name, index, channel.outputs, out, {}, tuple(missing))


def _network(channel: Channel) -> Network | None:
    """Return the contacts of the relays that do a channel's logic; None where one make contact is enough."""
    return None if channel.input.is_bare else contact_network(channel.input)


def _in_series(gate: Gate) -> int:
    """Return how many contacts the current of a channel passes one behind another, at the most."""
    return max(1, most_in_series(gate.network)) if gate.network else 1
