"""Which channels a vehicle socket and some trailer plugs need: the logic between two wirings, without any number.

    stop and turn     combined to combined, separate to separate: one channel each
                      separate to combined: ``stop xor turn_left``, so that a turning lamp flashes while braking
                      combined to separate: ``stop_turn_left xor pedal`` takes stop out again; it needs the pedal
                      signal from a tap at the brake switch, and, on a vehicle with blackout lighting, the blackout
                      circuit, because a brake switch is live in blackout too
    tail              common to split: one channel with two outputs; split to common: ``tail_left or tail_right``
    marker            from the vehicle's marker circuit, else from tail; a channel of its own, so that a short on a
                      marker lamp leaves the tail lamps burning
    reverse, fog      only where the vehicle has them; else left out, with the tap that would serve
    blackout          only where both ends carry the same circuit
    brake             a brake controller on the vehicle's stop circuits, or on the pedal tap
    supplies          never proposed: a trailer battery or an anti-lock unit wants more than a relay

Plugs of several trailers share channels: a channel feeds every plug that has a contact for its output.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from wiregen.catalogue.circuits import CIRCUITS, LOADABLE
from wiregen.catalogue.connector import Connector

FeedFrom = Literal["contact", "battery", "none"]

PEDAL: Final = "pedal"
BOX_FEED: Final = "box_feed"
TAILS: Final = ("tail", "tail_left", "tail_right")
_SPLIT_TAIL: Final = "tail_left or tail_right"

#: Where each lamp circuit may come from, best first: an input, which holds when the socket has every name in it.
_TAIL_SOURCES: Final[dict[str, tuple[str, ...]]] = {
    "tail": ("tail", _SPLIT_TAIL, "marker"),
    "tail_left": ("tail_left", "tail", "marker"),
    "tail_right": ("tail_right", "tail", "marker"),
    "marker": ("marker", "tail", _SPLIT_TAIL),
}

#: Why a supply on a trailer contact is left to the user.
_SUPPLIES: Final[dict[str, str]] = {
    "charge": (
        "A battery on the trailer wants a charger made for 24 V in and its own kind of battery out. "
        "Never run the vehicle's 24 V through: it destroys the battery and what hangs on it, and may start a fire."
    ),
    "ignition": "Nothing here needs it. If something on the trailer does, feed it 12 V through a fuse of its own.",
    "abs_supply": (
        "Anti-lock brakes are a safety matter: ask the maker of the unit what it must be fed with and how its "
        "warning lamp works before you tow with this contact dead."
    ),
}


@dataclass(frozen=True, slots=True)
class ProposedTap:
    """A wire to run from the vehicle to the adapter beside the socket.

    Attributes:
        name: Name of the tap.
        live: When it is live, over the control signals.
        at: Where it is tapped, in the words of a rig file.
        why: Why it is needed, for people.
    """

    name: str
    live: str
    at: str
    why: str


@dataclass(frozen=True, slots=True)
class ProposedChannel:
    """One channel.

    Attributes:
        input: Logic over vehicle circuits and taps.
        outputs: Circuits it feeds at the trailer connectors.
        device: ``relay`` or ``brake_controller``.
        why: Why the input is what it is; empty where it is simply the same circuit.
        name: Name to give it; empty to let wiregen number it.
    """

    input: str
    outputs: tuple[str, ...]
    device: Literal["relay", "brake_controller"] = "relay"
    why: str = ""
    name: str = ""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A circuit that a trailer plug has and no channel feeds.

    Attributes:
        circuit: The circuit.
        why: Why, and what to do, for people.
        tap: The tap that would serve, where one would.
        input: Input of the channel that would then feed it.
    """

    circuit: str
    why: str
    tap: ProposedTap | None = None
    input: str = ""


@dataclass(frozen=True, slots=True)
class Proposal:
    """What the adapter is to hold.

    Attributes:
        channels: Channels, in the order of the chart.
        taps: Taps they and the converter need.
        left_out: Circuits of the plugs that are not fed, with the reason.
        unused: Circuits the vehicle offers and no channel uses.
        feed: Tap or vehicle circuit for the converter; empty where it needs none.
    """

    channels: tuple[ProposedChannel, ...]
    taps: tuple[ProposedTap, ...]
    left_out: tuple[LeftOut, ...]
    unused: tuple[str, ...]
    feed: str

    @property
    def fed(self) -> frozenset[str]:
        """Every circuit that some channel feeds."""
        return frozenset(name for channel in self.channels for name in channel.outputs)


def chosen(connector: Connector, choices: Mapping[str, str]) -> Connector:
    """Return the connector with the circuits of its 'choose' contacts filled in; other marks are left alone."""
    contacts = tuple(
        contact.model_copy(update={"circuit": choices[contact.mark]})
        if contact.mark in choices and contact.circuit == "choose"
        else contact
        for contact in connector.contact
    )
    return connector.model_copy(update={"contact": contacts})


def blackout_circuit(socket: Connector) -> str | None:
    """Return a circuit of the socket that is live in blackout and only then; None on a vehicle without one."""
    return next((c.circuit for c in socket.contact if CIRCUITS[c.circuit].live == "blackout"), None)


def propose_channels(
    socket: Connector,
    plugs: Sequence[Connector],
    *,
    brakes: bool = True,
    feed_from: FeedFrom | None = None,
) -> Proposal:
    """Propose the channels between a vehicle socket and the plugs of one or more trailers.

    Args:
        socket: The vehicle socket, its choices filled in.
        plugs: The trailers' plugs, their choices filled in.
        brakes: Whether any trailer has electric brakes; a brake contact alone gets no controller then.
        feed_from: Where the converter is fed from: the socket's permanent contact, a tap at the battery, or nowhere
            (no converter). Left out: the contact where the socket has one, else the tap.

    Returns:
        The proposal. It is the same whatever the order of the plugs.
    """
    planner = _Planner(socket)
    wanted = [name for name in LOADABLE if any(plug.on(name) for plug in plugs)]
    channels: list[ProposedChannel] = []
    left_out: list[LeftOut] = []
    for circuit in wanted:
        if circuit == "brake" and not brakes:
            left_out.append(LeftOut(circuit, "No trailer here has electric brakes, so there is no brake controller."))
            continue
        channel = planner.channel(circuit)
        if channel is None:
            left_out.append(planner.left_out(circuit))
        else:
            _join(channels, channel)
    feed = _feed(socket, feed_from)
    inputs = " ".join(channel.input for channel in channels).replace("(", " ").split()
    taps = [tap for tap in (planner.pedal,) if PEDAL in inputs]
    if feed == BOX_FEED:
        taps.append(
            ProposedTap(
                BOX_FEED, "always", "battery", "the converter's feed: straight from the battery, with a fuse of its own"
            )
        )
    unused = (
        contact.circuit
        for contact in socket.contact
        if contact.circuit in LOADABLE and contact.circuit not in inputs and contact.circuit != feed
    )
    return Proposal(tuple(channels), tuple(taps), tuple(left_out), tuple(dict.fromkeys(unused)), feed)


def _feed(socket: Connector, feed_from: FeedFrom | None) -> str:
    if feed_from == "none":
        return ""
    if feed_from == "battery" or not socket.on("charge"):
        return BOX_FEED
    return "charge"


def _join(channels: list[ProposedChannel], new: ProposedChannel) -> None:
    """Add a channel; where a tail channel with the same input is there already, widen that one."""
    for index, known in enumerate(channels):
        if known.input == new.input and set(known.outputs) <= set(TAILS) and set(new.outputs) <= set(TAILS):
            channels[index] = ProposedChannel(
                known.input, (*known.outputs, *new.outputs), known.device, known.why or new.why
            )
            return
    channels.append(new)


class _Planner:
    """Finds the input of one trailer circuit on one vehicle socket."""

    def __init__(self, socket: Connector) -> None:
        self.socket = socket
        self.blackout = blackout_circuit(socket)
        self.pedal = ProposedTap(
            PEDAL, "brake", "brake switch", "no contact of the socket tells the pedal alone: this wire does"
        )

    def _has(self, *names: str) -> bool:
        return all(self.socket.on(name) for name in names)

    def _service_only(self, logic: str) -> str:
        """Keep an input from being true in blackout."""
        if self.blackout is None:
            return logic
        bracketed = f"({logic})" if " " in logic else logic
        return f"{bracketed} and not {self.blackout}"

    def channel(self, circuit: str) -> ProposedChannel | None:
        """Return the channel that feeds ``circuit``, or None where the vehicle offers nothing for it."""
        if circuit in _TAIL_SOURCES:
            return self._tail(circuit)
        if circuit in _SUPPLIES:
            return None
        if circuit == "brake":
            return self._brake()
        if self._has(circuit):
            return ProposedChannel(circuit, (circuit,))
        found = next(self._converted(circuit), None)
        return ProposedChannel(found[0], (circuit,), why=found[1]) if found else None

    def _tail(self, circuit: str) -> ProposedChannel | None:
        for source in _TAIL_SOURCES[circuit]:
            if self._has(*source.split(" or ")):
                words = "one vehicle circuit for both sides" if source == "tail" else ""
                if source == _SPLIT_TAIL:
                    words = "either side of the vehicle lights it, so that one blown fuse leaves it burning"
                if circuit == "marker" and source != "marker":
                    words = "the vehicle has no marker circuit: marker lamps burn with the tail lamps"
                return ProposedChannel(source, (circuit,), why="" if source == circuit else words)
        return None

    def _converted(self, circuit: str) -> Iterator[tuple[str, str]]:
        """Yield (input, reason) where stop and turn are combined on one side only."""
        side = circuit.rsplit("_", 1)[-1]
        if circuit.startswith("stop_turn_") and self._has("stop", f"turn_{side}"):
            why = "stop and turn share this lamp: it burns for the pedal and flashes for the turn"
            yield f"stop xor turn_{side}", why
        if circuit == "stop" and self.socket.stop_turn == "combined":
            why = "stop comes from the pedal" + (", and stays dark in blackout" if self.blackout else "")
            yield self._service_only(PEDAL), why
        if circuit.startswith("turn_") and self._has(f"stop_turn_{side}"):
            why = "the vehicle puts stop and turn on one wire: the pedal signal takes stop out again"
            yield self._service_only(f"stop_turn_{side} xor {PEDAL}"), why

    def _brake(self) -> ProposedChannel | None:
        if self.socket.stop_turn == "combined":
            logic, why = PEDAL, "the controller listens to the brake switch"
        elif self._has("stop", "blackout_stop"):
            logic, why = "stop or blackout_stop", "the trailer must brake in blackout too"
        elif self._has("stop"):
            logic, why = "stop", "the controller listens to the stop circuit"
        else:
            return None
        return ProposedChannel(logic, ("brake",), "brake_controller", why, "brakes")

    def left_out(self, circuit: str) -> LeftOut:
        """Return why nothing feeds ``circuit`` and which tap would."""
        if circuit in _SUPPLIES:
            return LeftOut(circuit, _SUPPLIES[circuit])
        word = CIRCUITS[circuit].word
        missing = f"The vehicle socket has no contact for {word}."
        if circuit == "reverse":
            tap = ProposedTap("reverse_tap", "reverse", "other", "on the wire to the vehicle's own reverse lamp")
            return LeftOut(
                circuit, f"{missing} A tap at its own reverse lamp would serve.", tap, self._service_only(tap.name)
            )
        if circuit == "fog":
            tap = ProposedTap(
                "fog_tap", "fog and lights", "lighting switch", "on the wire to the vehicle's own rear fog lamp"
            )
            return LeftOut(circuit, f"{missing} A tap at its own rear fog lamp would serve.", tap, tap.name)
        if CIRCUITS[circuit].group == "Blackout":
            return LeftOut(circuit, f"{missing} If the trailer has such lamps, they stay dark.")
        return LeftOut(circuit, f"{missing} Find out where the vehicle has it, and tap it there.")
