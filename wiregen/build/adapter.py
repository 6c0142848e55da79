"""The adapter: supply, 12 V bus, channels. A channel ends in the terminal its trailer conductors start from."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TypedDict

from wiregen.build.parts import ADAPTER_GROUND, BUS, CHASSIS, REFERENCE, Parts
from wiregen.build.vehicle import VehicleSide
from wiregen.catalogue.defaults import default
from wiregen.model.circuit import (
    Battery,
    Coil,
    Converter,
    Equaliser,
    Gate,
    RelayContact,
    Resistor,
    Suppression,
    parallel_ohm,
)
from wiregen.model.origin import Origin
from wiregen.quantity import show
from wiregen.rig.records import Channel, Supply

#: Highest output a converter with a fixed ratio may have: above any vehicle voltage, so that the ratio rules.
_NO_CLAMP_V = 1000.0


class _Limits(TypedDict):
    """What a converter gives at the most; the fields of ``Converter``."""

    continuous_a: float | None
    peak_a: float | None
    limit_a: float
    foldback: float
    ambient_c: float
    derate_from_c: float
    derate_per_k: float


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
            self._supply(self.adapter.supply)
        return [self._channel(index, channel) for index, channel in enumerate(self.adapter.channel)]

    def _supply(self, supply: Supply) -> None:
        parts, take = self.parts, self.parts.assumed.take
        origin = parts.origin("adapter", "supply")
        if supply.kind == "converter":
            ref = parts.ref("T")
            start = self.vehicle.bring(supply.feed) if supply.feed else None
            if start is None:
                self.missing_feed = supply.feed or ""
                start = f"{ref}:in"
            out = f"{ref}:out" if supply.fuse_a is not None else BUS
            parts.add(
                Converter(
                    ref=ref,
                    a=start,
                    b=out,
                    common=ADAPTER_GROUND,
                    circuit="supply",
                    zone="adapter",
                    title="step-down converter",
                    origin=origin,
                    output_v=take(supply.output_v, "converter_output_v", ref),
                    ratio=1.0,
                    resistance_ohm=take(supply.output_ohm, "converter_output_resistance_ohm", ref),
                    efficiency=take(supply.efficiency, "converter_efficiency", ref),
                    idle_a=take(supply.idle_a, "converter_idle_a", ref),
                    minimum_input_v=take(supply.minimum_input_v, "converter_minimum_input_v", ref),
                    maximum_input_v=take(supply.maximum_input_v, "converter_maximum_input_v", ref),
                    **self._limits(supply, supply.continuous_a, ref),
                )
            )
            if supply.fuse_a is not None:
                parts.fuse(out, supply.fuse_a, "supply", "adapter", origin, b=BUS)
        elif supply.kind == "battery":
            ref = parts.ref("G")
            out = f"{ref}:+" if supply.fuse_a is not None else BUS
            parts.add(
                Battery(
                    ref=ref,
                    a=out,
                    b=ADAPTER_GROUND,
                    circuit="supply",
                    zone="adapter",
                    title="adapter battery",
                    origin=origin,
                    voltage_v=take(supply.output_v, "battery_12v_running_v", ref),
                    resistance_ohm=take(supply.output_ohm, "battery_resistance_ohm", ref),
                    nominal_v=12.0,
                )
            )
            if supply.fuse_a is not None:
                parts.fuse(out, supply.fuse_a, "supply", "adapter", origin, b=BUS)
        else:
            self._centre_tap(supply, origin)

    def _centre_tap(self, supply: Supply, origin: Origin | None) -> None:
        parts = self.parts
        # The plus of the lower battery is the centre of the pair.
        start = "-G1:+"
        if supply.fuse_a is not None:
            start = parts.fuse(start, supply.fuse_a, "supply", "vehicle", origin)
        parts.add(
            parts.runs.conductor(
                "battery-adapter",
                start,
                BUS,
                circuit="supply",
                zone="vehicle",
                title="centre tap of the batteries",
            )
        )
        if supply.equaliser_a is not None:
            self._equaliser(supply, supply.equaliser_a, origin)

    def _equaliser(self, supply: Supply, rating_a: float, origin: Origin | None) -> None:
        take, ref = self.parts.assumed.take, self.parts.ref("T")
        self.parts.add(
            Equaliser(
                ref=ref,
                a=self.vehicle.plus,
                b="-G1:+",
                common=REFERENCE,
                circuit="supply",
                zone="vehicle",
                title="battery equaliser",
                origin=origin,
                output_v=_NO_CLAMP_V,
                ratio=0.5,
                resistance_ohm=take(None, "equaliser_resistance_ohm", ref),
                efficiency=take(supply.efficiency, "equaliser_efficiency", ref),
                idle_a=take(None, "equaliser_idle_a", ref),
                minimum_input_v=take(None, "equaliser_minimum_input_v", ref),
                continuous_a=rating_a,
                limit_a=rating_a,
            )
        )

    def _limits(self, written: Supply | Channel, continuous_a: float | None, ref: str) -> _Limits:
        """Return what a converter gives at the most.

        Its limit is what the user wrote, else a factor on its continuous current, but no less than its peak; without
        either there is none to compute with.
        """
        take = self.parts.assumed.take
        limit_a = written.current_limit_a
        if limit_a is None and continuous_a is not None:
            by_factor_a = continuous_a * default("converter_current_limit_factor").value
            if by_factor_a > (written.peak_a or 0.0):
                take(None, "converter_current_limit_factor", ref)
            limit_a = max(by_factor_a, written.peak_a or 0.0)
        supply = written if isinstance(written, Supply) else self.adapter.supply
        return _Limits(
            continuous_a=continuous_a,
            peak_a=written.peak_a,
            limit_a=limit_a if limit_a is not None else written.peak_a or math.inf,
            foldback=1.0 if limit_a is None else take(written.foldback, "converter_foldback_share", ref),
            ambient_c=take(self.adapter.ambient_c, "ambient_c", ref),
            derate_from_c=take(supply.derate_from_c if supply else None, "converter_derate_from_c", ref),
            derate_per_k=take(supply.derate_per_k if supply else None, "converter_derate_per_k", ref),
        )

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
            start = parts.fuse(BUS, channel.fuse_a, channel.outputs[0], "adapter", origin, channel=name)
        out = f"{ref}:87"
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
                gate=Gate(logic=channel.input, coils=coils),
                rating_a=channel.rating_a or parts.rig.rules.relay_rating_a,
                make_a=channel.make_a,
                device=channel.device,
                resistance_ohm=parts.assumed.take(channel.contact_ohm, key, ref),
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
            start = parts.fuse(BUS, channel.fuse_a, channel.outputs[0], "adapter", origin, channel=name)
        parts.add(
            Converter(
                ref=ref,
                a=start,
                b=f"{ref}:out",
                common=ADAPTER_GROUND,
                circuit=channel.outputs[0],
                zone="adapter",
                title=f"brake controller, told by {', '.join(coil[1:] for coil in coils.values())}",
                origin=origin,
                channel=name,
                output_v=_NO_CLAMP_V,
                ratio=take(channel.gain, "brake_controller_gain", ref),
                resistance_ohm=take(channel.contact_ohm, "solid_state_resistance_ohm", ref),
                efficiency=take(None, "brake_controller_efficiency", ref),
                idle_a=take(None, "brake_controller_idle_a", ref),
                minimum_input_v=take(None, "brake_controller_minimum_input_v", ref),
                gate=Gate(logic=channel.input, coils=coils),
                **self._limits(channel, channel.rating_a, ref),
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
            start = parts.fuse(start, channel.fuse_a, channel.outputs[0], "adapter", origin, channel=name)
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
                **self._limits(channel, channel.rating_a, ref),
            )
        )
        if channel.fuse_a is not None:
            out = parts.fuse(out, channel.fuse_a, channel.outputs[0], "adapter", origin, channel=name)
        return BuiltChannel(name, index, channel.outputs, out, {}, tuple(missing))
