"""What a user may write of a channel and of the adapter's supply: one record for each device and each kind of supply.

Which keys belong to which device is said by these records alone. What a device means to the stages behind the build
stands in ``wiregen.catalogue.devices``; how its elements are made, in ``wiregen.circuit``.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, TypeAdapter

from wiregen.catalogue.connector import CircuitName, Record
from wiregen.rig.auto import FuseAmps
from wiregen.rig.values import AmpHours, Amps, Celsius, Logic, Ohms, Share, Volts, Watts, Word

#: Kinds of circuit breakers of SAE J553: they close again by themselves, when the supply has been off, or by hand.
Breaker = Annotated[
    Literal["type I", "type II", "type III"] | None,
    Field(
        description="SAE J553 type where the fuse is a circuit breaker: type I closes again by itself, type II when "
        "the supply has\nbeen off, type III by hand."
    ),
]


class WithLimit(Record):
    """What every converter may say of its output beyond the continuous current."""

    peak_a: Amps | None = Field(default=None, alias="peak")
    """Output current it gives for a short time, as its data sheet says."""
    current_limit_a: Amps | None = Field(default=None, alias="current_limit")
    """Output current it does not exceed, whatever the load."""
    foldback: Share | None = None
    """Share of the current limit that flows into a short; 100 % for one that holds its limit."""


# --- channels ---


class ChannelBase(Record):
    """What every converted circuit has."""

    name: Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9_]*$", max_length=12)] | None = None
    """Short name; K1, K2 ... in order when left out."""
    input: Logic
    """What switches it: a vehicle circuit or tap, or logic over several of them."""
    output: CircuitName | tuple[CircuitName, ...]
    """Circuit or circuits it feeds at the trailer connectors."""
    fuse_a: FuseAmps | None = Field(default=None, alias="fuse")
    """Fuse of this channel on the 12 V side."""
    breaker: Breaker = None

    @property
    def outputs(self) -> tuple[str, ...]:
        """The circuits it feeds."""
        return (self.output,) if isinstance(self.output, str) else self.output


class WithCoil(ChannelBase):
    """A channel that a coil, or a control input, switches."""

    rating_a: Amps | None = Field(default=None, alias="rating")
    """Continuous current printed for the contact or the output."""
    contact_ohm: Ohms | None = Field(default=None, alias="contact_resistance")
    """Resistance of the closed contact or switch, or of the output."""
    coil_ohm: Ohms | None = Field(default=None, alias="coil_resistance")
    """Resistance of its coil or control input."""
    pick_up_v: Volts | None = Field(default=None, alias="pick_up")
    """Lowest coil voltage at which it surely closes, as its data sheet says."""
    drop_out_v: Volts | None = Field(default=None, alias="drop_out")
    """Coil voltage at which it lets go again."""


class WithMake(WithCoil):
    """A relay or a solid-state switch."""

    make_a: Amps | None = Field(default=None, alias="inrush")
    """Highest current it may close on, as its data sheet says."""


class RelayChannel(WithMake):
    """A relay: the circuit works its coil, and its contact gives 12 V from the adapter's supply."""

    device: Literal["relay"] = "relay"
    """What stands in the circuit: relay, solid_state, step_down, wire, brake_controller, diode or resistor."""
    rated_at: Literal["12 V", "24 V"] | None = None
    """Voltage its rating holds for. Left out: 12 V, so that it counts half where the contact switches 24 V."""
    rated_for: Literal["resistive", "lamp"] | None = None
    """Load its rating holds for. Left out: taken for resistive, so that cold filaments count ten times."""
    suppression: Literal["diode", "resistor", "none"] | None = None
    """What lies across its coil against the spike when it is switched off. Left out: not known."""
    suppression_ohm: Ohms | None = Field(default=None, alias="suppression_resistance")
    """With suppression = "resistor": its resistance."""


class SolidStateChannel(WithMake):
    """A solid-state switch in place of a relay."""

    device: Literal["solid_state"]
    """A solid-state switch."""


class BrakeControllerChannel(WithLimit, WithCoil):
    """A controller of electric brakes that hears the pedal."""

    device: Literal["brake_controller"]
    """A controller of electric brakes."""
    gain: Share | None = None
    """Highest output as a share of its supply."""


class StepDownChannel(WithLimit, ChannelBase):
    """A step-down converter that the circuit itself feeds."""

    device: Literal["step_down"]
    """A step-down converter in the circuit."""
    rating_a: Amps | None = Field(default=None, alias="rating")
    """Continuous output current printed on it."""
    contact_ohm: Ohms | None = Field(default=None, alias="contact_resistance")
    """Resistance of its output."""
    output_v: Volts | None = Field(default=None, alias="output_voltage")
    """Its own output voltage."""


class WireChannel(ChannelBase):
    """A wire that passes the circuit through as it is."""

    device: Literal["wire"]
    """A wire that passes the vehicle's circuit through as it is."""


class DiodeChannel(ChannelBase):
    """A blocking diode in the circuit."""

    device: Literal["diode"]
    """A blocking diode."""
    rating_a: Amps | None = Field(default=None, alias="rating")
    """Continuous current printed for it."""
    contact_ohm: Ohms | None = Field(default=None, alias="contact_resistance")
    """Its resistance beyond its drop."""
    drop_v: Volts | None = Field(default=None, alias="drop")
    """Voltage it takes while it conducts."""


class ResistorChannel(ChannelBase):
    """A resistor in the circuit, to drop voltage."""

    device: Literal["resistor"]
    """A resistor."""
    resistance_ohm: Ohms = Field(alias="resistance")
    """Its resistance."""
    power_w: Watts | None = Field(default=None, alias="power")
    """The power it is rated for."""


def _relay_where_unsaid(value: Any) -> Any:  # noqa: ANN401 - whatever the file holds
    """Return a channel with its device named: a relay where the file names none."""
    return {"device": "relay", **value} if isinstance(value, dict) else value


Channel = Annotated[
    RelayChannel
    | SolidStateChannel
    | StepDownChannel
    | WireChannel
    | BrakeControllerChannel
    | DiodeChannel
    | ResistorChannel,
    Field(discriminator="device"),
    BeforeValidator(_relay_where_unsaid),
]
_CHANNEL: TypeAdapter[Channel] = TypeAdapter(Channel)


def channel_of(written: dict[str, object]) -> Channel:
    """Return the channel that a table describes, with the keys of a rig file.

    Raises:
        pydantic.ValidationError: The table is none.
    """
    return _CHANNEL.validate_python(written)


# --- the adapter's supply ---


class SupplyBase(Record):
    """What every supply of the adapter's 12 V bus has."""

    derate_from_c: Celsius | None = Field(default=None, alias="derate_from")
    """Ambient temperature above which converters in the adapter give less than their continuous current."""
    derate_per_k: Share | None = Field(default=None, alias="derating")
    """Share of the continuous current that is lost with every kelvin above derate_from."""
    fuse_a: FuseAmps | None = Field(default=None, alias="fuse")
    """Fuse between the supply and the 12 V bus."""
    breaker: Breaker = None


class ConverterSupply(WithLimit, SupplyBase):
    """A step-down converter from 24 V."""

    kind: Literal["converter"]
    """Where the adapter's 12 V comes from: converter, a step-down from 24 V; centre_tap, a tap between the vehicle's
    two batteries; battery, a 12 V battery of its own."""
    feed: Word | None = Field(default=None, alias="fed_by")
    """The tap or vehicle circuit that feeds it."""
    output_v: Volts | None = Field(default=None, alias="output")
    """Output voltage."""
    output_ohm: Ohms | None = Field(default=None, alias="output_resistance")
    """How far its voltage falls with the load: its internal resistance."""
    continuous_a: Amps | None = Field(default=None, alias="continuous")
    """Continuous output current printed on it."""
    efficiency: Share | None = None
    """Output power as a share of input power."""
    idle_a: Amps | None = Field(default=None, alias="idle")
    """Input current without load."""
    minimum_input_v: Volts | None = Field(default=None, alias="minimum_input")
    """Input voltage below which it switches off."""
    maximum_input_v: Volts | None = Field(default=None, alias="maximum_input")
    """Highest input voltage it is made for."""


class CentreTapSupply(SupplyBase):
    """A tap between the vehicle's two batteries."""

    kind: Literal["centre_tap"]
    """A tap between the vehicle's two batteries."""
    equaliser_a: Amps | None = Field(default=None, alias="equaliser")
    """Rating of a battery equaliser that feeds the lower battery from the pair. Left out: there is none."""
    equaliser_fuse_a: FuseAmps | None = Field(default=None, alias="equaliser_fuse")
    """Fuse in the equaliser's plus lead and another like it in its centre lead, at the batteries."""
    efficiency: Share | None = None
    """Output power of the equaliser as a share of its input power."""


class BatterySupply(SupplyBase):
    """A 12 V battery of the adapter's own."""

    kind: Literal["battery"]
    """A 12 V battery of its own."""
    output_v: Volts | None = Field(default=None, alias="output")
    """Its voltage."""
    output_ohm: Ohms | None = Field(default=None, alias="output_resistance")
    """Its internal resistance."""
    capacity_ah: AmpHours | None = Field(default=None, alias="capacity")
    """Capacity printed on it, 20-hour rate."""


Supply = Annotated[ConverterSupply | CentreTapSupply | BatterySupply, Field(discriminator="kind")]
