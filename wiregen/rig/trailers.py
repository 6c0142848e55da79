"""What a user may write of a trailer: lamps, brakes, lock-out, battery."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from wiregen.catalogue.connector import CircuitName, Record
from wiregen.rig.auto import FuseAmps
from wiregen.rig.values import AmpHours, AmpsOrNone, Count, Metres, Name, Ohms, RatedVolts, Volts, Watts


class LampEntry(Record):
    """Equal lamps that do the same job."""

    function: CircuitName
    """What the lamps are there for."""
    type: str | None = None
    """Lamp type from 'wiregen pinouts --lamps', e.g. 'p21w-12v' or 'led-stop-12v'."""
    technology: Literal["filament", "led"] | None = None
    """For a lamp that is not in the list: with voltage and power."""
    voltage_v: RatedVolts | None = Field(default=None, alias="voltage")
    """Rated voltage, at which power holds; with points the one it is made for."""
    power_w: Watts | None = Field(default=None, alias="power")
    """Power of one lamp at its rated voltage."""
    points: Annotated[tuple[tuple[Volts, AmpsOrNone], ...], Field(min_length=2)] | None = None
    """What was measured on one lamp: pairs of voltage and current, the voltages rising. Instead of technology and
    power; the current runs straight between the points, from 0 A at 0 V, and is held above the last."""
    count: Count = 1
    """How many of them."""
    side: Literal["left", "right", "both", "centre"] | None = None
    """On which side of the trailer they are."""
    at: str | None = Field(default=None, alias="contact")
    """Contact mark it is really wired to, when that is not the contact of its function."""
    branch_m: Metres | None = Field(default=None, alias="branch")
    """Length of its own wires from the splice at the end of the trailer cable."""


class Brakes(Record):
    """Electric drum-brake magnets."""

    magnets: Annotated[int, Field(ge=1, le=16)]
    """How many magnets, one to a braked wheel."""
    magnet_ohm: Ohms | None = Field(default=None, alias="magnet_resistance")
    """Resistance of one magnet."""
    breakaway: bool | None = None
    """Whether the trailer has a breakaway switch, with a battery of its own or the one of [trailer.battery]. Left out:
    not known."""
    branch_m: Metres | None = Field(default=None, alias="branch")
    """Length of the magnets' own wires from the splice at the end of the trailer cable."""


class LockOut(Record):
    """A lock-out solenoid of overrun brakes, released by the reverse circuit."""

    resistance_ohm: Ohms = Field(alias="resistance")
    """Resistance of its coil."""
    branch_m: Metres | None = Field(default=None, alias="branch")
    """Length of its own wires from the splice at the end of the trailer cable."""


class TrailerBattery(Record):
    """A battery on the trailer, charged over the contact of the permanent supply."""

    voltage_v: Volts | None = Field(default=None, alias="voltage")
    """Its own voltage, without load and before charging."""
    capacity_ah: AmpHours | None = Field(default=None, alias="capacity")
    """Capacity printed on it, 20-hour rate."""
    resistance_ohm: Ohms | None = Field(default=None, alias="resistance")
    """Internal resistance."""
    feed: Literal["direct", "diode"] = Field(default="direct", alias="isolation")
    """What stands between the contact and the battery: nothing, or a blocking diode that lets no current back."""
    fuse_a: FuseAmps | None = Field(default=None, alias="fuse")
    """Fuse at its plus terminal. Left out: no fuse is counted."""
    contact: str | None = None
    """Contact mark it is charged over, where that is not the first one of the permanent supply."""
    branch_m: Metres | None = Field(default=None, alias="branch")
    """Length of its own wires from the splice at the end of the trailer cable."""


class Trailer(Record):
    """One trailer. Each is checked alone: one hitch, one trailer."""

    name: Name
    """What it is called; no two alike."""
    plug: Name
    """Pinout of its plug: a name from 'wiregen pinouts', or a file beside the rig file."""
    voltage: Literal["12 V", "24 V"] = "12 V"
    """Nominal voltage its lamps are made for."""
    width_m: Metres | None = Field(default=None, alias="width")
    """Overall width, for the list of lamps a trailer must have."""
    length_m: Metres | None = Field(default=None, alias="length")
    """Overall length with the drawbar, for the list of lamps a trailer must have."""
    lamp: tuple[LampEntry, ...] = ()
    """Its lamps, one table for equal ones."""
    brakes: Brakes | None = None
    """Its electric brakes. Left out: it has none."""
    lock_out: LockOut | None = None
    """The solenoid that lets it be backed with overrun brakes. Left out: it has none."""
    battery: TrailerBattery | None = None
    """A battery on board that the vehicle charges. Left out: it has none."""
    ties: tuple[tuple[str, ...], ...] = Field(default=(), alias="bridged")
    """Groups of contacts that are joined inside this trailer."""
    choose: dict[str, CircuitName] = Field(default_factory=dict)
    """For contacts the trade wires in several ways: mark = circuit."""
    hitch_ohm: Ohms | None = Field(default=None, alias="hitch_resistance")
    """Resistance of the unintended path through the hitch. Left out: not counted on."""
