"""What the driver does: every setting of the controls, with both halves of the flash."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Final, Literal

Lighting = Literal["off", "service", "blackout"]
Turn = Literal["none", "left", "right"]

#: Signals of ``wiregen.catalogue.circuits`` that a lighting switch, a lever or a pedal drives.
_LIGHTING: Final = {"lights": "service", "blackout": "blackout"}


@dataclass(frozen=True, slots=True)
class Controls:
    """One setting of all controls."""

    lighting: Lighting = "off"
    brake: bool = False
    turn: Turn = "none"
    hazard: bool = False
    reverse: bool = False
    fog: bool = False

    def signals(self, *, lit: bool, stop_wins: bool) -> dict[str, bool]:
        """Return the truth of every signal that circuit expressions may read.

        Args:
            lit: Whether the flasher is in its lit half.
            stop_wins: Vehicle habit: braking holds combined lamps steady while the hazard lights run.
        """
        return {
            "lights": self.lighting == "service",
            "blackout": self.lighting == "blackout",
            "brake": self.brake,
            "left": self.turn == "left",
            "right": self.turn == "right",
            "hazard": self.hazard,
            "reverse": self.reverse,
            "fog": self.fog,
            "ignition": True,
            "lit": lit,
            "stop_wins": stop_wins,
        }

    @property
    def weight(self) -> int:
        """How many controls are away from rest; the simplest of several states is the one to show."""
        return sum((self.lighting != "off", self.brake, self.turn != "none", self.hazard, self.reverse, self.fog))

    @property
    def words(self) -> str:
        """Return the setting in words: ``service lights, brake, left turn``."""
        parts = []
        if self.lighting != "off":
            parts.append("service lights" if self.lighting == "service" else "blackout")
        if self.brake:
            parts.append("brake")
        if self.turn != "none":
            parts.append(f"{self.turn} turn")
        if self.hazard:
            parts.append("hazard")
        if self.reverse:
            parts.append("reverse")
        if self.fog:
            parts.append("rear fog")
        return ", ".join(parts) or "all off"


@dataclass(frozen=True, slots=True)
class State:
    """A setting of the controls in one half of the flash; ``lit`` is true where nothing flashes."""

    controls: Controls
    lit: bool = True
    flashing: bool = False

    @property
    def words(self) -> str:
        """Return the state in words, with the half of the flash where it matters."""
        if not self.flashing:
            return self.controls.words
        return f"{self.controls.words} ({'lit' if self.lit else 'dark'} half of the flash)"


def every_controls(signals: Collection[str]) -> Iterator[Controls]:
    """Yield every setting of the controls that drive one of ``signals``; the others stay at rest.

    The order is fixed: simplest first within each control.
    """
    lightings: list[Lighting] = ["off"]
    lightings += [word for signal, word in _LIGHTING.items() if signal in signals]  # type: ignore[misc]
    turns: list[Turn] = ["none", "left", "right"] if {"left", "right"} & set(signals) else ["none"]

    def switch(name: str) -> tuple[bool, ...]:
        return (False, True) if name in signals else (False,)

    for lighting in lightings:
        for brake in switch("brake"):
            for turn in turns:
                for hazard in switch("hazard"):
                    for reverse in switch("reverse"):
                        for fog in switch("fog"):
                            yield Controls(lighting, brake, turn, hazard, reverse, fog)
