"""What the lamps of a first draft take, and the fuses and conductors that follow.

The lamps are the ones the law asks of such a trailer, in the types of its region; the user corrects them. Sizes follow
from few rules, so that the draft checks without an error:

* a channel's fuse is the next standard rating of which the load is at most the continuous share, 5 A at least: smaller
  ones drop too much and open at the inrush;
* a conductor carries at least the fuse before it, by ampacity at the default insulation and ambient, and loses no more
  than its share of 12 V at full load, the ground as much again: with fuse, relay and contacts that stays below the 5 %
  that are usual;
* the converter gives all lamps and magnets together what they take where it sits, in air warmer than its rating holds
  for; magnets that are cold take a sixth more, which that leaves room for;
* its feed carries what the converter draws at full output from a low battery.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

from wiregen.catalogue.ampacity import ampacity_a
from wiregen.catalogue.conductors import resistance_per_m
from wiregen.catalogue.connector import Connector, PinoutContact
from wiregen.catalogue.defaults import default
from wiregen.catalogue.fuses import largest_rating_a, smallest_rating_a
from wiregen.catalogue.lamps import find_lamp
from wiregen.catalogue.relays import contact_resistances
from wiregen.quantity import ConductorSize, parse, parse_size
from wiregen.questions.draft.answers import LampTechnology, SupplyKind, TrailerAnswers, Units
from wiregen.questions.draft.channels import ProposedChannel

NOMINAL_V: Final = 12.0
SMALLEST_FUSE_A: Final = 5.0
#: Share of 12 V that a trailer conductor may lose one way. A centre tap has a long way of its own to lose in.
DROP_SHARES: Final[dict[SupplyKind, float]] = {"converter": 0.018, "battery": 0.018, "centre_tap": 0.012}

#: Sizes in every shop, smallest first.
SIZES: Final[dict[Units, tuple[str, ...]]] = {
    "metric": tuple(f"{area} mm²" for area in ("1.5", "2.5", "4", "6", "10", "16", "25", "35")),
    "us": tuple(f"{gauge} AWG" for gauge in (16, 14, 12, 10, 8, 6, 4, 2)),
}
#: Ratings in which converters, relays and brake controllers are sold, A.
RATINGS_A: Final = (10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0)
RELAY_A: Final = 20.0
#: Share of what a conductor may lose on the way to a lamp that the lamp's own wires may.
TAIL_SHARE: Final = 0.4
#: Insulation of a conductor whose contact takes no larger one: the usual class of cross-linked vehicle wire (S9).
BETTER_INSULATION: Final = "105 °C"

#: Filament lamps by job: (UN R37 type, US trade number). One with two filaments is two jobs.
_FILAMENTS: Final[dict[str, tuple[str, str]]] = {
    "tail": ("r5w-12v", "1157-dim"),
    "marker": ("w5w-12v", "194"),
    "licence": ("c5w-12v", "67"),
    "stop": ("p21w-12v", "1157-bright"),
    "turn": ("py21w-12v", "1156"),
    "stop_turn": ("p21w-12v", "1157-bright"),
    "reverse": ("p21w-12v", "1156"),
    "fog": ("p21w-12v", "1156"),
}
_LEDS: Final = {
    "tail": "led-tail-12v",
    "marker": "led-marker-12v",
    "licence": "led-licence-12v",
    "stop": "led-stop-12v",
    "turn": "led-turn-12v",
    "stop_turn": "led-stop-12v",
}
#: No table here has LED reverse and fog lamps: the upper end for LED stop lamps is taken (M-LED).
LED_OTHER_W: Final = 6.0
_SMALL: Final = ("marker", "licence")


@dataclass(frozen=True, slots=True)
class LampLine:
    """Equal lamps on one circuit.

    Attributes:
        function: The circuit.
        job: What they are: ``tail``, ``licence``, ``marker``, ``stop`` ...
        type: Lamp type; empty for an LED lamp that no table has.
        count: How many.
        side: ``left``, ``right``, ``both`` or ``centre``.
        each_a: Current of one to size by, A.
    """

    function: str
    job: str
    type: str
    count: int
    side: str
    each_a: float


@dataclass(frozen=True, slots=True)
class ChannelSize:
    """Fuse and rating of one channel.

    Attributes:
        load_a: Largest load behind it with any trailer, A.
        fuse_a: Its fuse, A.
        rating_a: What its contact or output must carry, A.
    """

    load_a: float
    fuse_a: float
    rating_a: float


@dataclass(frozen=True, slots=True)
class SupplySize:
    """The 12 V supply and its feed.

    Attributes:
        load_a: All lamps and magnets of the hungriest trailer, A.
        continuous_a: Continuous output, A.
        fuse_a: Fuse between supply and 12 V bus, A.
        feed_a: What a converter draws at full output from a low battery, A.
        feed_fuse_a: Fuse of the feed, A.
    """

    load_a: float
    continuous_a: float
    fuse_a: float
    feed_a: float
    feed_fuse_a: float


def lamp_lines(trailer: TrailerAnswers, plug: Connector, fed: frozenset[str]) -> tuple[LampLine, ...]:
    """Return the lamps such a trailer has on the circuits that are fed.

    Args:
        trailer: The trailer.
        plug: Its plug, choices filled in.
        fed: Circuits that some channel feeds; a lamp on another one could never burn and is not listed.
    """
    draft = _Lamps(trailer.lamps, is_us_practice(plug))
    split = not plug.on("tail") and bool(plug.on("tail_left"))
    if split:
        draft.add("tail_left", "tail", 1, "left")
        draft.add("tail_right", "tail", 1, "right")
    else:
        draft.add("tail", "tail", 2, "both")
    # On a split plug the licence lamp hangs on one side only: a bridge would join the two circuits.
    draft.add("tail_right" if split else "tail", "licence", 1, "centre")
    _markers(draft, plug, split=split, wide=trailer.wide)
    draft.add("stop", "stop", 2, "both")
    for side in ("left", "right"):
        draft.add(f"turn_{side}", "turn", 1, side)
        draft.add(f"stop_turn_{side}", "stop_turn", 1, side)
    draft.add("reverse", "reverse", 1, "centre")
    draft.add("fog", "fog", 1, "left")
    return tuple(line for line in draft.lines if plug.on(line.function) and line.function in fed)


def is_us_practice(plug: Connector) -> bool:
    """Return whether the trailer behind a plug is lit by US rules and lamps."""
    return plug.region.startswith(("North America", "US"))


def marker_count(plug: Connector, *, wide: bool) -> int:
    """Return how many marker lamps the law asks for.

    US: two side markers on each side; from 80 in also two clearance lamps at each end and three identification lamps
    (S25, a digest of 49 CFR 393.11). Elsewhere: above 2.1 m two end-outline lamps at each end (UN R48, from memory).
    """
    if is_us_practice(plug):
        return 11 if wide else 4
    return 4 if wide else 0


def _markers(draft: _Lamps, plug: Connector, *, split: bool, wide: bool) -> None:
    count = marker_count(plug, wide=wide)
    if plug.on("marker"):
        draft.add("marker", "marker", count, "both")
    elif split:
        draft.add("tail_left", "marker", count - count // 2, "left")
        draft.add("tail_right", "marker", count // 2, "right")
    else:
        draft.add("tail", "marker", count, "both")


class _Lamps:
    """Collects the lamps of one trailer in its technology."""

    def __init__(self, technology: LampTechnology, us_practice: bool) -> None:
        self.technology = technology
        self.us_practice = us_practice
        self.lines: list[LampLine] = []

    def add(self, function: str, job: str, count: int, side: str) -> None:
        """Add lamps; none when the count is 0."""
        if not count:
            return
        led = self.technology == "led" or (self.technology == "mixed" and job in _SMALL)
        if led and job not in _LEDS:
            self.lines.append(LampLine(function, job, "", count, side, LED_OTHER_W / NOMINAL_V))
            return
        name = _LEDS[job] if led else _FILAMENTS[job][self.us_practice]
        self.lines.append(LampLine(function, job, name, count, side, find_lamp(name).max_current_a))


def circuit_loads_a(trailer: TrailerAnswers, lines: Sequence[LampLine]) -> dict[str, float]:
    """Return the current of every circuit of one trailer, A, with the brake magnets."""
    loads: dict[str, float] = {}
    for line in lines:
        loads[line.function] = loads.get(line.function, 0.0) + line.count * line.each_a
    if trailer.magnets:
        loads["brake"] = trailer.magnets * default("converter_output_v").value / default("brake_magnet_ohm").value
    return loads


def next_rating_a(wanted_a: float) -> float:
    """Return the smallest rating sold that is not below ``wanted_a``, A; the largest there is where none is."""
    return next((rating for rating in RATINGS_A if rating >= wanted_a), RATINGS_A[-1])


def fuse_for_a(load_a: float) -> float:
    """Return the fuse for a continuous load, A.

    Raises:
        OutsideTable: No fuse is large enough.
    """
    factor = default("fuse_continuous_factor").value
    return max(SMALLEST_FUSE_A, smallest_rating_a(load_a, factor))


def size_channel(
    channel: ProposedChannel,
    loads_a: Sequence[Mapping[str, float]],
    contacts: Sequence[PinoutContact] = (),
    units: Units = "metric",
) -> ChannelSize:
    """Return fuse and rating of a channel.

    Args:
        channel: The channel.
        loads_a: Circuit loads of every trailer, A.
        contacts: Trailer contacts it ends on: the largest conductor one of them takes must carry the fuse.
        units: Metric sizes or gauge numbers.
    """
    load_a = max(math.fsum(loads.get(name, 0.0) for name in channel.outputs) for loads in loads_a)
    fuse_a = fuse_for_a(load_a)
    most_a = min((most_fuse_a(contact, units) for contact in contacts), default=math.inf)
    if most_a < fuse_a and largest_rating_a(most_a) >= load_a:
        fuse_a = largest_rating_a(most_a)  # it runs warmer than usual, and the check says so
    smallest_a = 0.0 if channel.device == "brake_controller" else RELAY_A
    return ChannelSize(load_a, fuse_a, next_rating_a(max(fuse_a, smallest_a)))


def size_supply(loads_a: Sequence[Mapping[str, float]], continuous_a: float | None) -> SupplySize:
    """Return the sizes of the supply.

    Args:
        loads_a: Circuit loads of every trailer, A; one trailer is coupled at a time.
        continuous_a: Continuous output the user stated, A.

    Raises:
        OutsideTable: No fuse is large enough.
    """
    load_a = max(math.fsum(loads.values()) for loads in loads_a)
    output_a = continuous_a or next_rating_a(load_a / warm_share())
    feed_a = converter_input_a(output_a)
    return SupplySize(load_a, output_a, fuse_for_a(load_a), feed_a, fuse_for_a(feed_a))


def warm_share() -> float:
    """Return the share of its continuous output that a converter gives at the default ambient."""
    too_warm_k = default("ambient_c").value - default("converter_derate_from_c").value
    return 1 - default("converter_derate_per_k").value * max(0.0, too_warm_k)


def converter_input_a(output_a: float) -> float:
    """Return what a converter draws from a low 24 V battery, A: output power over efficiency and voltage."""
    output_v, low_v = default("converter_output_v").value, default("battery_24v_low_v").value
    return output_a * output_v / (default("converter_efficiency").value * low_v)


def contact_feeds(socket: Connector, feed_a: float) -> bool:
    """Return whether the socket's permanent contact can feed a converter that draws ``feed_a``.

    Where no source rates the contact, the rating known for a 24 V trailer connector (ISO 12098, S62) is taken. The
    largest conductor the contact takes must carry the fuse as well.
    """
    planning_a = min(row.rating_a for row in contact_resistances() if row.source == "S62" and row.rating_a)
    return any(
        feed_a <= (contact.rating_a or planning_a) and fuse_for_a(feed_a) <= most_fuse_a(contact, "metric")
        for contact in socket.on("charge")
    )


@dataclass(frozen=True, slots=True)
class ConductorChoice:
    """A conductor of the draft.

    Attributes:
        size: Its size, as written in a rig file.
        insulation: Temperature class to write; empty for the default.
        is_held: Whether the contact takes no larger one, although a larger one is asked for.
    """

    size: str
    insulation: str = ""
    is_held: bool = False


def conductor_for(
    units: Units,
    carries_a: float,
    load_a: float = 0.0,
    length_m: float = 0.0,
    drop_share: float = 1.0,
    contacts: Sequence[PinoutContact] = (),
) -> ConductorChoice:
    """Return the smallest size that is enough, never above what the contacts it ends on take.

    Where the contacts hold it down, the better insulation is written if the usual one does not carry the current.

    Args:
        units: Metric sizes or gauge numbers.
        carries_a: Current it must stand for ever: the fuse before it, A.
        load_a: Current it carries, for the voltage drop, A.
        length_m: Length one way, m.
        drop_share: Share of 12 V that may be lost.
        contacts: Contacts it ends on; one without a usual size takes any.
    """
    fitting = sizes_for(units, contacts)
    for label in fitting:
        drop_v = load_a * length_m * _ohm_per_m(label)
        if _carries_a(label) >= carries_a and drop_v <= NOMINAL_V * drop_share:
            return ConductorChoice(label)
    is_warm = _carries_a(fitting[-1]) < carries_a
    return ConductorChoice(
        fitting[-1], BETTER_INSULATION if is_warm else "", is_held=area_mm2(fitting[-1]) < area_mm2(SIZES[units][-1])
    )


def sizes_for(units: Units, contacts: Sequence[PinoutContact]) -> tuple[str, ...]:
    """Return the sizes of a series, and the contact's own, that no contact is too small for; the smallest at least."""
    own = [contact.size for contact in contacts if contact.size]
    if not own:
        return SIZES[units]
    most = min(own, key=area_mm2)
    fitting = tuple(label for label in SIZES[units] if area_mm2(label) <= area_mm2(most))
    if not fitting or area_mm2(fitting[-1]) < area_mm2(most):
        fitting = (*fitting, most)  # what is sold for that connector, in its own units
    return fitting


def area_mm2(label: str) -> float:
    """Return the area of a size as written in a rig file, mm²."""
    return _size(label).area_mm2


def most_fuse_a(contact: PinoutContact, units: Units) -> float:
    """Return what the largest conductor a contact takes carries with the better insulation, A."""
    better_c = parse(BETTER_INSULATION, "temperature")
    return _carries_a(sizes_for(units, (contact,))[-1], better_c)


@cache
def _size(label: str) -> ConductorSize:
    return parse_size(label)


@cache
def _carries_a(label: str, insulation_c: float | None = None) -> float:
    if insulation_c is None:
        insulation_c = default("insulation_c").value
    return ampacity_a(_size(label), insulation_c, default("ambient_c").value, 1).amps


@cache
def _ohm_per_m(label: str) -> float:
    return resistance_per_m(_size(label), default("copper_temperature_c").value).ohm_per_m
