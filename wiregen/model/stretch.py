"""The stretches of a rig on which conductors run: what a [[run]] calls each, whose it is, and how it is said."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Stretch = Literal[
    "battery-socket",
    "socket-chassis",
    "battery-adapter",
    "adapter-chassis",
    "socket-adapter",
    "inside",
    "adapter-trailer",
    "plug-splice",
    "splice-lamp",
]


@dataclass(frozen=True, slots=True)
class StretchKind:
    """One stretch.

    Attributes:
        start: Where it begins, as ``from`` of a [[run]]; empty where none can be written.
        end: Where it ends, as ``to``.
        owner: Whose conductors they are: there in the vehicle or the trailer, or made with the adapter.
        short: Words for a list: ``battery to socket``.
        words: Words for a sentence: ``from the battery to the socket``.
        length: Default that stands for a length nobody states.
    """

    start: str
    end: str
    owner: Literal["vehicle", "adapter", "trailer"]
    short: str
    words: str
    length: str

    @property
    def of_trailer(self) -> bool:
        """Whether each trailer has its own; the others serve every trailer."""
        return self.end in ("trailer", "lamps")


def _between(start: str, end: str, owner: Literal["vehicle", "adapter"], length: str) -> StretchKind:
    return StretchKind(start, end, owner, f"{start} to {end}", f"from the {start} to the {end}", length)


#: Every stretch, from the battery to the lamps.
STRETCHES: Final[dict[Stretch, StretchKind]] = {
    "battery-socket": _between("battery", "socket", "vehicle", "vehicle_feed_length_m"),
    "socket-chassis": _between("socket", "chassis", "vehicle", "socket_ground_length_m"),
    "battery-adapter": _between("battery", "adapter", "adapter", "tap_length_m"),
    "adapter-chassis": _between("adapter", "chassis", "adapter", "own_ground_length_m"),
    "socket-adapter": _between("socket", "adapter", "adapter", "adapter_lead_length_m"),
    "inside": StretchKind("", "", "adapter", "inside the adapter", "inside the adapter", ""),
    "adapter-trailer": StretchKind(
        "adapter",
        "trailer",
        "adapter",
        "adapter to trailer connector",
        "from the adapter to the trailer connector",
        "trailer_lead_length_m",
    ),
    "plug-splice": StretchKind(
        "trailer", "lamps", "trailer", "trailer cable", "from the plug to the splice", "trailer_cable_length_m"
    ),
    "splice-lamp": StretchKind(
        "splice", "lamps", "trailer", "splice to lamp", "from the splice to the lamp", "lamp_branch_length_m"
    ),
}

#: (from, to) that a [[run]] may name -> stretch.
RUNS: Final = {(kind.start, kind.end): name for name, kind in STRETCHES.items() if kind.start}
