"""Everything about a first rig file that is worked out before a line of it is written."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from wiregen.catalogue.connector import Connector, PinoutContact
from wiregen.errors import InputError
from wiregen.quantity import parse
from wiregen.questions.draft.answers import Answers, TrailerAnswers, Units
from wiregen.questions.draft.channels import BOX_FEED, Proposal, ProposedChannel, chosen, propose_channels
from wiregen.questions.draft.contacts import size_words, with_sizes
from wiregen.questions.draft.loads import (
    DROP_SHARES,
    TAIL_SHARE,
    ChannelSize,
    ConductorChoice,
    LampLine,
    SupplySize,
    area_mm2,
    circuit_loads_a,
    conductor_for,
    contact_feeds,
    lamp_lines,
    size_channel,
    size_supply,
)

#: Lengths of a first draft, one way, as written in the file; the user measures. They are the defaults in round figures.
LENGTHS: Final[dict[Units, dict[str, str]]] = {
    "metric": {
        "battery": "6 m",
        "chassis": "1 m",
        "socket ground": "0.5 m",
        "adapter lead": "1.5 m",
        "trailer lead": "1.5 m",
        "trailer cable": "6 m",
        "branch": "1 m",
    },
    "us": {
        "battery": "20 ft",
        "chassis": "3 ft",
        "socket ground": "2 ft",
        "adapter lead": "5 ft",
        "trailer lead": "5 ft",
        "trailer cable": "20 ft",
        "branch": "3 ft",
    },
}


@dataclass(frozen=True)
class DraftTrailer:
    """One trailer with what hangs on it.

    Attributes:
        answers: What was asked about it.
        plug: Its plug, choices filled in.
        lines: Its lamps.
        loads_a: Current of every circuit, A.
        sizes: Conductor of every circuit that is fed, and of the ground, in lead and cable; never larger than the
            contact takes.
        tails: The same for the lamps' own wires behind the splice, which end on no contact.
    """

    answers: TrailerAnswers
    plug: Connector
    lines: tuple[LampLine, ...]
    loads_a: Mapping[str, float]
    sizes: Mapping[str, ConductorChoice]
    tails: Mapping[str, ConductorChoice]


@dataclass(frozen=True)
class Draft:
    """A rig, ready to be written.

    Attributes:
        answers: What was asked.
        socket: The vehicle socket, choices filled in.
        proposal: Channels, taps and what is left out.
        trailers: The trailers.
        channels: Every channel with its sizes.
        supply: Sizes of the supply and its feed.
        doubts: On what the sizes of contacts rest, a sentence for each connector that no source gives them for.
    """

    answers: Answers
    socket: Connector
    proposal: Proposal
    trailers: tuple[DraftTrailer, ...]
    channels: tuple[tuple[ProposedChannel, ChannelSize], ...]
    supply: SupplySize
    doubts: tuple[str, ...] = ()

    @property
    def own_ground(self) -> bool:
        """Whether the return current goes to the chassis past the socket."""
        return self.answers.supply == "centre_tap" or self.proposal.feed == BOX_FEED


def make_draft(answers: Answers, pinouts: Mapping[str, Connector]) -> Draft:
    """Work out channels, lamps and sizes for answers that fit.

    Raises:
        InputError: The socket offers nothing for any of the plugs.
        OutsideTable: The lamps and magnets take more than any fuse carries; answers within their limits never do.
    """
    units = answers.units
    socket = with_sizes(chosen(pinouts[answers.socket], dict(answers.socket_choices)), units)
    plugs = [with_sizes(chosen(pinouts[trailer.plug], dict(trailer.choices)), units) for trailer in answers.trailers]
    brakes = any(trailer.magnets for trailer in answers.trailers)
    lines, loads_a = _loads(answers, plugs, propose_channels(socket, plugs, brakes=brakes).fed)
    supply = size_supply(loads_a, answers.continuous_a)
    feed = answers.feed or ("contact" if contact_feeds(socket, supply.feed_a) else "battery")
    proposal = propose_channels(
        socket, plugs, brakes=brakes, feed_from=feed if answers.supply == "converter" else "none"
    )
    if not proposal.channels:
        message = f"nothing of {', '.join(plug.short for plug in plugs)} can be fed from {socket.short}"
        raise InputError(message)
    channels = tuple(
        (channel, size_channel(channel, loads_a, _ends(channel, plugs), units)) for channel in proposal.channels
    )
    trailers = tuple(
        _trailer(answers, entry, channels) for entry in zip(answers.trailers, plugs, lines, loads_a, strict=True)
    )
    ends = [*([answers.socket] if proposal.feed == "charge" else []), *(trailer.plug for trailer in answers.trailers)]
    words = (size_words(pinouts[name], units) for name in dict.fromkeys(ends))
    return Draft(answers, socket, proposal, trailers, channels, supply, tuple(filter(None, words)))


def _trailer(
    answers: Answers,
    entry: tuple[TrailerAnswers, Connector, tuple[LampLine, ...], Mapping[str, float]],
    channels: tuple[tuple[ProposedChannel, ChannelSize], ...],
) -> DraftTrailer:
    trailer, plug, lines, loads_a = entry
    sizes, tails = _sizes(answers, plug, loads_a, channels), _tails(answers, loads_a, channels)
    return DraftTrailer(
        trailer, plug, lines, loads_a, sizes, {name: _within(tails[name], sizes[name]) for name in tails}
    )


def _within(tail: ConductorChoice, cable: ConductorChoice) -> ConductorChoice:
    """Return a lamp's own wire, as the cable it leaves where it would be larger than that."""
    if area_mm2(tail.size) <= area_mm2(cable.size):
        return tail
    return replace(cable, is_held=False)


def _loads(
    answers: Answers, plugs: list[Connector], fed: frozenset[str]
) -> tuple[list[tuple[LampLine, ...]], list[dict[str, float]]]:
    lines = [lamp_lines(trailer, plug, fed) for trailer, plug in zip(answers.trailers, plugs, strict=True)]
    loads_a = [circuit_loads_a(trailer, own) for trailer, own in zip(answers.trailers, lines, strict=True)]
    return lines, loads_a


def _ends(channel: ProposedChannel, plugs: list[Connector]) -> list[PinoutContact]:
    """Return the trailer contacts a channel ends on."""
    return [contact for plug in plugs for name in channel.outputs for contact in plug.on(name)]


def _sizes(
    answers: Answers,
    plug: Connector,
    loads_a: Mapping[str, float],
    channels: tuple[tuple[ProposedChannel, ChannelSize], ...],
) -> dict[str, ConductorChoice]:
    units, drop_share = answers.units, DROP_SHARES[answers.supply]
    lengths = LENGTHS[units]
    shared_m = math.fsum(parse(lengths[name], "length") for name in ("trailer lead", "trailer cable"))
    # The ground carries everything as far as the splice; past it every lamp has a return of its own.
    total_a = math.fsum(loads_a.values())
    sizes = {"ground": conductor_for(units, total_a, total_a, shared_m, drop_share, plug.on("ground"))}
    for channel, size in channels:
        for name in channel.outputs:
            if plug.on(name):
                load_a, share = loads_a.get(name, 0.0), drop_share * (1 - TAIL_SHARE)
                sizes[name] = conductor_for(units, size.fuse_a, load_a, shared_m, share, plug.on(name))
    return sizes


def _tails(
    answers: Answers, loads_a: Mapping[str, float], channels: tuple[tuple[ProposedChannel, ChannelSize], ...]
) -> dict[str, ConductorChoice]:
    """Return the lamps' own wires: each carries the fuse before it, the return the largest load of one circuit."""
    units, drop_share = answers.units, DROP_SHARES[answers.supply] * TAIL_SHARE
    length_m = parse(LENGTHS[units]["branch"], "length")
    most_a = max(loads_a.values(), default=0.0)
    tails = {"ground": conductor_for(units, most_a, most_a, length_m, drop_share)}
    for channel, size in channels:
        for name in channel.outputs:
            if name in loads_a:
                tails[name] = conductor_for(units, size.fuse_a, loads_a[name], length_m, drop_share)
    return tails
