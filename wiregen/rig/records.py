"""What a user may write in a rig file: strict records, one class a table.

A key of the file has no unit (the value carries it); the attribute it becomes ends in the unit it was turned into.
Everything that is None when left out gets a default from the catalogue, and every default used is listed.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from wiregen.catalogue.connector import CircuitName, ColourCode, Record
from wiregen.rig.auto import FuseAmps, SizeOrAuto
from wiregen.rig.trailers import Trailer
from wiregen.rig.values import (
    AmpHours,
    Amps,
    Celsius,
    Live,
    Logic,
    Metres,
    Name,
    Ohms,
    Share,
    Size,
    Volts,
    Watts,
    WattsOrAmps,
    Word,
)

#: Kinds of circuit breakers of SAE J553: they close again by themselves, when the supply has been off, or by hand.
Breaker = Literal["type I", "type II", "type III"]


class Battery(Record):
    """The vehicle's batteries as one source."""

    nominal: Literal["24 V", "12 V"] = "24 V"
    """Nominal system voltage."""
    low_v: Volts | None = Field(default=None, alias="low")
    """Voltage with the engine off and the batteries tired."""
    running_v: Volts | None = Field(default=None, alias="running")
    """Voltage with the engine running: the one the chart and the first checks use."""
    charging_v: Volts | None = Field(default=None, alias="charging")
    """Highest voltage while charging: batteries full, engine fast."""
    resistance_ohm: Ohms | None = Field(default=None, alias="resistance")
    """Internal resistance with the cables to the distribution point."""
    pair: bool | None = None
    """24 V: whether they are two 12 V batteries in series with a joint one can reach, so that it can be tapped."""


class Feed(Record):
    """How some of the vehicle's circuits are protected."""

    circuits: tuple[CircuitName, ...] = Field(min_length=1)
    """Circuits behind this fuse."""
    fuse_a: Amps | None = Field(default=None, alias="fuse")
    """Rating of the fuse or breaker. Left out: no fuse is counted, and the check says so."""
    breaker: Breaker | None = None
    """SAE J553 type where the fuse is a circuit breaker: type I closes again by itself, type II when the supply has
    been off, type III by hand."""
    own_load: WattsOrAmps | None = None
    """What the vehicle's own lamps and devices on this fuse take together. Left out: not known."""


class Habit(Record):
    """A circuit that this vehicle makes live at other times than usual."""

    circuit: CircuitName
    """The circuit it is about."""
    live: Live
    """When it is live, over the signals lights, blackout, brake, left, right, hazard, reverse, fog, ignition, lit (the
    flasher is in its lit half) and stop_wins (always true or never: what braking_holds_hazard_steady of the vehicle
    says)."""


class Tap(Record):
    """A wire from the vehicle to the adapter that does not pass through the trailer socket."""

    name: Word
    """Name to use in [adapter]."""
    live: Live
    """When it is live: 'always' for a feed from the battery, 'brake' for the brake switch."""
    fuse_a: FuseAmps | None = Field(default=None, alias="fuse")
    """Fuse at the source."""
    breaker: Breaker | None = None
    """SAE J553 type where the fuse is a circuit breaker: type I closes again by itself, type II when the supply has
    been off, type III by hand."""
    at: Literal["brake switch", "battery", "ignition", "lighting switch", "other"] = "other"
    """Where it is tapped."""


class Flasher(Record):
    """The unit that makes the turn lamps of the vehicle flash; it watches what they take."""

    kind: Literal["electronic", "electromechanical", "thermal"]
    """How it keeps time. A thermal or electromechanical one needs the current of its lamps to run."""
    lowest_load: WattsOrAmps | None = None
    """Least load on one side at which it flashes as it should, as its label or data sheet says."""
    highest_load: WattsOrAmps | None = None
    """Most it may switch."""


class Vehicle(Record):
    """The towing vehicle."""

    name: Name
    """What it is called on the sheets."""
    socket: Name
    """Pinout of the trailer socket: a name from 'wiregen pinouts', or a file beside the rig file."""
    ground: Literal["negative", "positive"] = "negative"
    """Which battery pole the chassis is on."""
    braking_holds_hazard_steady: bool = False
    """Whether pressing the pedal stops the hazard flashing on combined stop and turn lamps."""
    battery: Battery = Battery()
    """Its batteries."""
    flasher: Flasher | None = None
    """Its flasher unit. Left out: not known."""
    bulb_monitor: bool | None = None
    """Whether the vehicle watches the current of its lamps and reports one that is out. Left out: not known."""
    feed: tuple[Feed, ...] = ()
    """Its own fuses, one table for each."""
    habit: tuple[Habit, ...] = ()
    """Circuits that it makes live at other times than usual, one table for each."""
    tap: tuple[Tap, ...] = ()
    """Wires from the vehicle to the adapter beside the socket, one table for each."""
    choose: dict[str, CircuitName] = Field(default_factory=dict)
    """For contacts the trade wires in several ways: mark = circuit."""
    switch_ohm: Ohms | None = Field(default=None, alias="switch_resistance")
    """Resistance of a control contact."""
    chassis_ohm: Ohms | None = Field(default=None, alias="chassis_resistance")
    """Resistance from the battery's minus to the chassis where the socket is grounded."""


class Supply(Record):
    """Where the adapter's 12 V comes from."""

    kind: Literal["converter", "centre_tap", "battery"]
    """A step-down converter from 24 V, a tap between the vehicle's two batteries, or a 12 V battery of its own."""
    feed: Word | None = None
    """Converter: the tap or vehicle circuit that feeds it."""
    output_v: Volts | None = Field(default=None, alias="output")
    """Output voltage, or voltage of the tap or battery."""
    output_ohm: Ohms | None = Field(default=None, alias="output_resistance")
    """How far its voltage falls with the load: its internal resistance."""
    continuous_a: Amps | None = Field(default=None, alias="continuous")
    """Continuous output current printed on the converter."""
    peak_a: Amps | None = Field(default=None, alias="peak")
    """Output current it gives for a short time, as its data sheet says."""
    current_limit_a: Amps | None = Field(default=None, alias="current_limit")
    """Output current it does not exceed, whatever the load."""
    foldback: Share | None = None
    """Share of the current limit that flows into a short; 100 % for one that holds its limit."""
    efficiency: Share | None = None
    """Output power as a share of input power."""
    idle_a: Amps | None = Field(default=None, alias="idle")
    """Input current without load."""
    minimum_input_v: Volts | None = Field(default=None, alias="minimum_input")
    """Input voltage below which it switches off."""
    maximum_input_v: Volts | None = Field(default=None, alias="maximum_input")
    """Highest input voltage it is made for."""
    derate_from_c: Celsius | None = Field(default=None, alias="derate_from")
    """Ambient temperature above which it gives less than its continuous current."""
    derate_per_k: Share | None = Field(default=None, alias="derating")
    """Share of the continuous current that is lost with every kelvin above derate_from."""
    equaliser_a: Amps | None = Field(default=None, alias="equaliser")
    """Centre tap: rating of a battery equaliser that feeds the lower battery from the pair. Left out: there is none."""
    equaliser_fuse_a: FuseAmps | None = Field(default=None, alias="equaliser_fuse")
    """Equaliser: fuse in its plus lead and another like it in its centre lead, at the batteries."""
    capacity_ah: AmpHours | None = Field(default=None, alias="capacity")
    """Battery: capacity printed on it, 20-hour rate."""
    fuse_a: FuseAmps | None = Field(default=None, alias="fuse")
    """Fuse between the supply and the 12 V bus."""
    breaker: Breaker | None = None
    """SAE J553 type where the fuse is a circuit breaker: type I closes again by itself, type II when the supply has
    been off, type III by hand."""


Device = Literal["relay", "solid_state", "step_down", "wire", "brake_controller", "diode", "resistor"]


class Channel(Record):
    """One converted circuit."""

    name: Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9_]*$", max_length=12)] | None = None
    """Short name; K1, K2 ... in order when left out."""
    input: Logic
    """What switches it: a vehicle circuit or tap, or logic over several of them."""
    output: CircuitName | tuple[CircuitName, ...]
    """Circuit or circuits it feeds at the trailer connectors."""
    device: Device = "relay"
    """What stands in the circuit; a wire passes the 24 V circuit through as it is."""
    fuse_a: FuseAmps | None = Field(default=None, alias="fuse")
    """Fuse of this channel on the 12 V side."""
    breaker: Breaker | None = None
    """SAE J553 type where the fuse is a circuit breaker: type I closes again by itself, type II when the supply has
    been off, type III by hand."""
    rating_a: Amps | None = Field(default=None, alias="rating")
    """Continuous current printed for the contact or the output."""
    rated_at: Literal["12 V", "24 V"] | None = None
    """Relay: voltage its rating holds for. Left out: 12 V, so that it counts half where the contact switches 24 V."""
    rated_for: Literal["resistive", "lamp"] | None = None
    """Relay: load its rating holds for. Left out: taken for resistive, so that cold filaments count ten times."""
    make_a: Amps | None = Field(default=None, alias="make")
    """Relay or solid state: highest current it may close on, as its data sheet says."""
    peak_a: Amps | None = Field(default=None, alias="peak")
    """Step-down or brake controller: output current for a short time."""
    current_limit_a: Amps | None = Field(default=None, alias="current_limit")
    """Step-down or brake controller: output current it does not exceed."""
    foldback: Share | None = None
    """Step-down or brake controller: share of the current limit that flows into a short."""
    contact_ohm: Ohms | None = Field(default=None, alias="contact_resistance")
    """Resistance of the closed contact or switch, of the output, or of a diode beyond its drop."""
    coil_ohm: Ohms | None = Field(default=None, alias="coil_resistance")
    """Relay: resistance of its coil."""
    pick_up_v: Volts | None = Field(default=None, alias="pick_up")
    """Relay: lowest coil voltage at which it surely closes, as its data sheet says."""
    drop_out_v: Volts | None = Field(default=None, alias="drop_out")
    """Relay: coil voltage at which it lets go again."""
    output_v: Volts | None = Field(default=None, alias="output_voltage")
    """Step-down: its own output voltage."""
    gain: Share | None = None
    """Brake controller: highest output as a share of its supply."""
    suppression: Literal["diode", "resistor", "none"] | None = None
    """Relay: what lies across its coil against the spike when it is switched off. Left out: not known."""
    suppression_ohm: Ohms | None = Field(default=None, alias="suppression_resistance")
    """Relay with suppression = "resistor": its resistance."""
    drop_v: Volts | None = Field(default=None, alias="drop")
    """Diode: voltage it takes while it conducts."""
    resistance_ohm: Ohms | None = Field(default=None, alias="resistance")
    """Resistor: its resistance."""
    power_w: Watts | None = Field(default=None, alias="power")
    """Resistor: the power it is rated for."""

    @property
    def outputs(self) -> tuple[str, ...]:
        """The circuits it feeds."""
        return (self.output,) if isinstance(self.output, str) else self.output


class Adapter(Record):
    """Everything between the vehicle socket and the trailer connectors."""

    name: Name = "adapter"
    """What it is called on the sheets."""
    location: str = Field(default="", max_length=80)
    """Where it is mounted, in words."""
    ambient_c: Celsius | None = Field(default=None, alias="ambient")
    """Temperature of the air where it sits; converters give less above their derate_from."""
    straight: bool = False
    """True for a plain lead that joins equal marks: no supply, no channels."""
    own_ground: bool = False
    """Whether a conductor of its own grounds the adapter on the chassis, beside the socket's ground contacts."""
    supply: Supply | None = None
    """Where its 12 V comes from. Left out: it has no 12 V of its own."""
    channel: tuple[Channel, ...] = ()
    """The converted circuits, one table for each."""


Place = Literal["battery", "socket", "chassis", "adapter", "trailer", "splice", "lamps"]


class Run(Record):
    """A stretch of conductors, for all circuits on it or for some."""

    start: Place = Field(alias="from")
    """Where it begins. The pairs: battery to socket or adapter, socket to adapter or chassis, adapter to chassis or
    trailer, trailer to lamps, splice to lamps."""
    end: Place = Field(alias="to")
    """Where it ends; see from."""
    trailer: Name | None = None
    """Only for this trailer."""
    circuits: tuple[str, ...] = ()
    """Only for these circuits or taps; without it, for every conductor on the stretch."""
    length_m: Metres | None = Field(default=None, alias="length")
    """Length one way, as the wire lies."""
    size: SizeOrAuto | None = None
    """Cross-section; "auto" has it chosen: the least copper that keeps every rule of the check."""
    largest: Size | None = None
    """With size = "auto": the largest conductor that contacts and cable glands take."""
    colour: ColourCode | None = None
    """Colour by IEC 60757. Left out: the usual one of the contact."""
    insulation_c: Celsius | None = Field(default=None, alias="insulation")
    """Temperature class of the insulation."""
    ambient_c: Celsius | None = Field(default=None, alias="ambient")
    """Temperature of the air along it."""
    bundle: Annotated[int, Field(ge=1, le=200)] | None = None
    """Loaded conductors that lie in one bundle or sheath."""


class Rules(Record):
    """Limits that the user tightens."""

    lowest_lamp_voltage: Share | None = None
    """Lowest voltage at a lamp as a share of its rated voltage: below it, an error."""
    lamp_drop_warning: Share | None = None
    """Voltage lost on the way to a lamp as a share of the supply: above it, a warning."""
    contact_rating_a: Amps | None = Field(default=None, alias="contact_rating")
    """Current to allow per contact where no source gives a rating."""
    relay_rating_a: Amps | None = Field(default=None, alias="relay_rating")
    """Current to allow per relay contact where the channel states no rating."""
    fuse_share: Share | None = None
    """Share of its rating that a fuse may carry for long: above it, a warning."""
    ground_return_ohm: Ohms | None = Field(default=None, alias="ground_return")
    """Resistance of the ground return that lamps share: above it, an error."""
    region: Literal["us", "europe", "none"] | None = None
    """Whose list of lamps a trailer is held against. Left out: that of the trailer's plug; none: no list at all."""


class Rig(Record):
    """A rig file."""

    title: Name
    """Title of the job, printed on every sheet."""
    revision: str = Field(default="", max_length=12)
    """Letter or number of this revision; printed in the title block."""
    date: dt.date | None = None
    """Date of this revision; printed in the title block."""
    author: str = Field(default="", max_length=60)
    """Who drew it up; printed in the title block."""
    vehicle: Vehicle
    """The towing vehicle: its trailer socket, batteries, fuses and habits."""
    adapter: Adapter = Adapter()
    """What stands between the vehicle socket and the trailer connectors."""
    trailer: tuple[Trailer, ...] = Field(min_length=1, max_length=100)
    """The trailers that are towed, one at a time; one table for each."""
    run: tuple[Run, ...] = ()
    """The conductors: one table for each stretch, or for some circuits of it."""
    rules: Rules = Rules()
    """Limits of the check that are to be tighter, or are not known otherwise."""
