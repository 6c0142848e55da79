"""The ways to bring a trailer's circuits down to its lamps' voltage, one record each.

A new way is one record in ``WAYS``: what feeds the 12 V bus, what stands in each lamp circuit, which lamps are on the
trailer. ``wiregen.convert.rewrite`` turns a rig into that way, and the numbers come from the same study and check as
every other rig.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

BusSupply = Literal["converter", "centre_tap", "as needed"]
LampDevice = Literal["switch", "step_down", "wire", "resistor"]
LampChoice = Literal["12 V", "24 V", "wide range"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way to convert.

    Attributes:
        id: Short word, stable for programs.
        title: Words for people.
        short: Words for a column or a bar, at most 24 letters.
        supply: What feeds the adapter's 12 V bus. ``as needed``: a converter, and only for what stays at 12 V.
        equaliser: Centre tap: whether an equaliser feeds the lower battery.
        device: What stands in each lamp circuit.
        lamps: Which lamps are on the trailer.
        trailer_words: What it does to the trailer.
        other_words: What it does to other towing vehicles.
    """

    id: str
    title: str
    short: str
    supply: BusSupply
    device: LampDevice
    lamps: LampChoice
    trailer_words: str
    other_words: str
    equaliser: bool = False

    @property
    def stays_12v(self) -> bool:
        """Whether a 12 V vehicle can tow the trailer without any change on it."""
        return self.lamps != "24 V"

    @property
    def needs_pair(self) -> bool:
        """Whether it wants two 12 V batteries in series with a joint one can reach."""
        return self.supply == "centre_tap"

    @property
    def passes_one(self) -> bool:
        """Whether a lamp circuit passes one vehicle circuit on, so that no logic can be done in it."""
        return self.device != "switch"


_SAME: Final = "Stays a 12 V trailer, nothing on it changes."
_ANY_12V: Final = "Any 12 V vehicle tows it as before."

WAYS: Final[tuple[Way, ...]] = (
    Way(
        id="converter",
        title="Relay box on a step-down converter",
        short="Box on a converter",
        supply="converter",
        device="switch",
        lamps="12 V",
        trailer_words=_SAME,
        other_words=_ANY_12V,
    ),
    Way(
        id="centre-tap",
        title="Relay box on the batteries' centre tap, no equaliser",
        short="Centre tap",
        supply="centre_tap",
        device="switch",
        lamps="12 V",
        trailer_words=_SAME,
        other_words=_ANY_12V,
    ),
    Way(
        id="centre-tap-equaliser",
        title="Relay box on the batteries' centre tap, with an equaliser",
        short="Centre tap + equaliser",
        supply="centre_tap",
        equaliser=True,
        device="switch",
        lamps="12 V",
        trailer_words=_SAME,
        other_words=_ANY_12V,
    ),
    Way(
        id="step-down",
        title="Solid-state step-down in each lamp circuit",
        short="Step-down per circuit",
        supply="as needed",
        device="step_down",
        lamps="12 V",
        trailer_words=_SAME,
        other_words=_ANY_12V,
    ),
    Way(
        id="24v-lamps",
        title="24 V lamps on the trailer, straight through",
        short="24 V lamps",
        supply="as needed",
        device="wire",
        lamps="24 V",
        trailer_words="Becomes a 24 V trailer: every lamp is changed and its plug carries 24 V.",
        other_words="No 12 V vehicle lights it any more; a 12 V trailer put on this socket by mistake gets 24 V.",
    ),
    Way(
        id="wide-range",
        title="LED lamps for 12 V and 24 V on the trailer, straight through",
        short="Wide-range LED lamps",
        supply="as needed",
        device="wire",
        lamps="wide range",
        trailer_words="Every lamp is changed to one that works at 12 V and at 24 V.",
        other_words="12 V and 24 V vehicles tow it; any other 12 V trailer put on this socket gets 24 V.",
    ),
    Way(
        id="resistors",
        title="A series resistor in each lamp circuit",
        short="Series resistors",
        supply="as needed",
        device="resistor",
        lamps="12 V",
        trailer_words="Stays a 12 V trailer, but only this one, and only while every lamp burns.",
        other_words="Any 12 V vehicle tows it as before; behind this vehicle no other trailer may be coupled.",
    ),
)
