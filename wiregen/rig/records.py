"""What a user may write in a rig file: strict records, one class a table.

A key of the file has no unit (the value carries it); the attribute it becomes ends in the unit it was turned into.
Everything that is None when left out gets a default from the catalogue, and every default used is listed.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from wiregen.catalogue.connector import FORMAT, CircuitName, ColourCode, Format, Record
from wiregen.model.state import DRIVEN
from wiregen.model.stretch import RUNS
from wiregen.rig.auto import FuseAmps, SizeOrAuto
from wiregen.rig.devices import Breaker, Channel, ConverterSupply, Supply
from wiregen.rig.trailers import Trailer
from wiregen.rig.values import (
    Amps,
    Celsius,
    Live,
    Metres,
    Name,
    Ohms,
    Share,
    Size,
    Volts,
    WattsOrAmps,
    Word,
)


class VehicleBattery(Record):
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
    breaker: Breaker = None
    own_load: WattsOrAmps | None = None
    """What the vehicle's own lamps and devices on this fuse take together. Left out: not known."""


class Habit(Record):
    """A circuit that this vehicle makes live at other times than usual."""

    circuit: CircuitName
    """The circuit it is about."""
    live: Live = Field(
        description=f"When it is live, over the signals {', '.join(DRIVEN)}, ignition, lit (the flasher is in its lit "
        "half) and stop_wins (always true or never: what braking_holds_hazard_steady of the vehicle says)."
    )


class Tap(Record):
    """A wire from the vehicle to the adapter that does not pass through the trailer socket."""

    name: Word
    """Name to use in [adapter]."""
    live: Live
    """When it is live: 'always' for a feed from the battery, 'brake' for the brake switch."""
    fuse_a: FuseAmps | None = Field(default=None, alias="fuse")
    """Fuse at the source."""
    breaker: Breaker = None
    at: Literal["brake switch", "battery", "ignition", "lighting switch", "other"] = Field(
        default="other", alias="source"
    )
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
    battery: VehicleBattery = VehicleBattery()
    """Its batteries."""
    flasher: Flasher | None = None
    """Its flasher unit. Left out: not known."""
    bulb_monitor: bool | None = None
    """Whether the vehicle watches the current of its lamps and reports one that is out. Left out: not known."""
    feed: tuple[Feed, ...] = Field(default=(), alias="fuse")
    """Its own fuses, one table for each."""
    habit: tuple[Habit, ...] = Field(default=(), alias="exception")
    """Circuits that it makes live at other times than usual, one table for each."""
    tap: tuple[Tap, ...] = ()
    """Wires from the vehicle to the adapter beside the socket, one table for each."""
    choose: dict[str, CircuitName] = Field(default_factory=dict)
    """For contacts the trade wires in several ways: mark = circuit."""
    switch_ohm: Ohms | None = Field(default=None, alias="switch_resistance")
    """Resistance of a control contact."""
    chassis_ohm: Ohms | None = Field(default=None, alias="chassis_resistance")
    """Resistance from the battery's minus to the chassis where the socket is grounded."""


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

    @property
    def fed_by(self) -> str | None:
        """The tap or vehicle circuit that feeds the supply, where it is a converter and the rig says."""
        return self.supply.feed if isinstance(self.supply, ConverterSupply) else None


Place = Literal["battery", "socket", "chassis", "adapter", "trailer", "splice", "lamps"]


class Run(Record):
    """A stretch of conductors, for all circuits on it or for some."""

    start: Place = Field(
        alias="from", description=f"Where it begins. The pairs: {', '.join(f'{a} to {b}' for a, b in RUNS)}."
    )
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

    format: Format = FORMAT
    """Format of this file; 'wiregen upgrade' brings an older one up to today's."""
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
