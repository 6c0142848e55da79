"""What may stand in a channel and what may feed the adapter's 12 V bus: what each kind means to every stage.

The keys of each kind are a record of ``wiregen.rig.devices``; its elements are made in ``wiregen.circuit.adapter`` or
``wiregen.circuit.supply``. All else that differs from kind to kind stands here: an element made for a channel or a
supply names its kind, and stages ask this table and never the name.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceKind:
    """One kind of device or supply.

    Attributes:
        word: What it is called in a table.
        letter: Letter class of its designation after IEC 81346-2; empty for a wire.
        on_bus: Whether it works on the adapter's 12 V bus, so that the adapter needs a supply.
        does_logic: Whether it can follow several circuits; any other passes one circuit on.
        may_pulse: Whether its output may be pulsed, so that a meter shows little of it without its load.
        part: What to buy, ``{output}`` standing for its voltage; empty where that is said by its elements.
        many: Heading under which such parts are counted; empty where that is said by their elements.
    """

    word: str
    letter: str = ""
    on_bus: bool = False
    does_logic: bool = False
    may_pulse: bool = False
    part: str = ""
    many: str = ""

    @property
    def has_voltage(self) -> bool:
        """Whether it gives a voltage of its own, whatever feeds it."""
        return "{output}" in self.part


_STEP_DOWN: Final = "step-down converter, common minus, to {output}"

#: What may stand in a channel, by the word of a rig file.
DEVICES: Final[dict[str, DeviceKind]] = {
    "relay": DeviceKind(word="relay", letter="K", on_bus=True, does_logic=True),
    "solid_state": DeviceKind(word="solid-state switch", letter="Q", on_bus=True, does_logic=True),
    "step_down": DeviceKind(word="step-down", letter="T", part=_STEP_DOWN, many="converters"),
    "wire": DeviceKind(word="wire"),
    "brake_controller": DeviceKind(
        word="brake controller",
        letter="A",
        on_bus=True,
        does_logic=True,
        may_pulse=True,
        part="electric-brake controller for 12 V magnets",
        many="brake controllers",
    ),
    "diode": DeviceKind(word="blocking diode", letter="V"),
    "resistor": DeviceKind(word="dropping resistor", letter="R"),
}

#: What may feed the adapter's 12 V bus, by the word of a rig file. A centre tap has a part where it has an equaliser.
SUPPLIES: Final[dict[str, DeviceKind]] = {
    "converter": DeviceKind(word="a converter", letter="T", part=_STEP_DOWN, many="converters"),
    "centre_tap": DeviceKind(word="the batteries' centre tap", letter="T", part="battery equaliser", many="equalisers"),
    "battery": DeviceKind(word="the adapter's own 12 V battery", letter="G"),
}

#: Both, for elements, which name what they were made for.
KINDS: Final = DEVICES | SUPPLIES


def plain_word(device: str) -> str:
    """Return the word of a rig file as people write it: ``step-down``."""
    return device.replace("_", "-")
