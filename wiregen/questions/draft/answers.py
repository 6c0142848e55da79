"""What the user told ``wiregen new``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from wiregen.catalogue.connector import Connector

Units = Literal["metric", "us"]
SupplyKind = Literal["converter", "centre_tap", "battery"]
LampTechnology = Literal["filament", "led", "mixed"]
Feed = Literal["contact", "battery"]
Choices = tuple[tuple[str, str], ...]

#: Longest names and place a rig file takes, in characters.
LONGEST_NAME: Final = 60
LONGEST_PLACE: Final = 80
#: Four axles. More magnets than these want a hand that knows what it does.
MOST_MAGNETS: Final = 8
MOST_TRAILERS: Final = 8
#: Converters of more output want a feed fuse that no table here has.
MOST_CONTINUOUS_A: Final = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailerAnswers:
    """One trailer.

    Attributes:
        name: Its name.
        plug: Pinout of its plug.
        lamps: Filament lamps, LED lamps, or LED for the small ones only.
        wide: Whether it is wider than 2.1 m (in US practice 80 in or wider), which asks for more marker lamps.
        magnets: Electric brake magnets; 0 for none.
        choices: (mark, circuit) for the contacts that the trade wires in several ways.
    """

    name: str
    plug: str
    lamps: LampTechnology = "led"
    wide: bool = False
    magnets: int = 0
    choices: Choices = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """Everything that was asked.

    Whether the vehicle has blackout lighting is not asked: its pinout says so.

    Attributes:
        title: Title of the rig.
        vehicle_name: Name of the vehicle.
        socket: Pinout of its trailer socket.
        trailers: The trailers, one at least.
        socket_choices: (mark, circuit) for the socket's contacts that the trade wires in several ways.
        stop_wins: Combined sockets: whether the pedal holds the lamps steady while the hazard lights run.
        supply: Where the 12 V comes from.
        continuous_a: Continuous output of the converter, A; None for the size that the lamps ask for.
        feed: Where the converter is fed from; None for the socket's permanent contact where it can carry it, else
            the battery.
        feed_fuse_a: Rating of the vehicle's fuse behind that contact, A; None where nobody has looked yet.
        location: Where the adapter is mounted.
        units: Units to write sizes and lengths in.
    """

    title: str
    vehicle_name: str
    socket: str
    trailers: tuple[TrailerAnswers, ...]
    socket_choices: Choices = ()
    stop_wins: bool = False
    supply: SupplyKind = "converter"
    continuous_a: float | None = None
    feed: Feed | None = None
    feed_fuse_a: float | None = None
    location: str = ""
    units: Units = "metric"


def is_vehicle_socket(pinout: Connector) -> bool:
    """Return whether a pinout can be the 24 V socket that the trailer's lights hang on."""
    return 24 in pinout.voltage_v and _has_lights(pinout)


def is_trailer_plug(pinout: Connector) -> bool:
    """Return whether a pinout can be the plug that carries a 12 V trailer's lights."""
    return 12 in pinout.voltage_v and _has_lights(pinout)


def _has_lights(pinout: Connector) -> bool:
    # Supplementary connectors carry reverse, fog and supplies only: they come beside another one.
    return bool(pinout.on("ground") and (pinout.on("stop") or pinout.on("stop_turn_left")))
