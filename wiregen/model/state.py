"""What the driver operates: the one table of controls, and every setting of them with both halves of the flash.

The fields of ``Controls`` are that table. Each says what a control is called, where it can stand, what a setting with
it is called and may be asked for by, and which signal of ``wiregen.catalogue.circuits`` each position makes true. All
else reads it: signals, words, states to solve, settings to search, to measure and to show. A new control is a field
here, and a circuit there that its signal makes live.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, fields
from itertools import product
from typing import Any, Final, Literal

Lighting = Literal["off", "service", "blackout"]
Turn = Literal["none", "left", "right"]


@dataclass(frozen=True, slots=True)
class Position:
    """A place away from rest in which a control can stand.

    Attributes:
        value: What stands in ``Controls`` then.
        signal: The signal that it makes true.
        words: What a setting with it is called: ``left turn``.
        also: Other words by which it may be asked for.
        label: What it is called beside the name of its control.
    """

    value: str | bool
    signal: str
    words: str
    also: tuple[str, ...] = ()
    label: str = "On"


@dataclass(frozen=True, slots=True)
class Control:
    """One control.

    Attributes:
        name: Its field in ``Controls``.
        label: What it is called.
        rest: What stands in ``Controls`` while it is at rest.
        rest_label: What rest is called beside its name.
        positions: Where else it can stand.
    """

    name: str
    label: str
    rest: str | bool
    rest_label: str
    positions: tuple[Position, ...]

    def used(self, signals: Collection[str]) -> tuple[str | bool, ...]:
        """Return where it can stand on a vehicle that reacts to ``signals``: at rest, and what drives one of them."""
        return (self.rest, *(position.value for position in self.positions if position.signal in signals))


def _said(label: str, *positions: Position, rest_label: str = "Off") -> dict[str, Any]:
    """Return what the field of a control says of it."""
    return {"label": label, "rest_label": rest_label, "positions": positions}


@dataclass(frozen=True, slots=True)
class Controls:
    """One setting of all controls."""

    lighting: Lighting = field(
        default="off",
        metadata=_said(
            "Lighting switch",
            Position("service", "lights", "service lights", ("lights", "service"), "Service lights"),
            Position("blackout", "blackout", "blackout", ("blackout lights",), "Blackout"),
            rest_label="No lights",
        ),
    )
    brake: bool = field(default=False, metadata=_said("Brake", Position(True, "brake", "brake")))
    turn: Turn = field(
        default="none",
        metadata=_said(
            "Turn lever",
            Position("left", "left", "left turn", ("turn left", "left"), "Left"),
            Position("right", "right", "right turn", ("turn right", "right"), "Right"),
            rest_label="None",
        ),
    )
    hazard: bool = field(default=False, metadata=_said("Hazard", Position(True, "hazard", "hazard")))
    reverse: bool = field(default=False, metadata=_said("Reverse", Position(True, "reverse", "reverse")))
    fog: bool = field(default=False, metadata=_said("Rear fog", Position(True, "fog", "rear fog", ("fog",))))

    def signals(self, *, lit: bool, stop_wins: bool) -> dict[str, bool]:
        """Return the truth of every signal that circuit expressions may read.

        Args:
            lit: Whether the flasher is in its lit half.
            stop_wins: Vehicle habit: braking holds combined lamps steady while the hazard lights run.
        """
        moved = self.moved
        driven = {signal: signal in moved for signal in DRIVEN}
        return {**driven, "ignition": True, "lit": lit, "stop_wins": stop_wins}

    @property
    def moved(self) -> frozenset[str]:
        """The signals of the controls that are away from rest."""
        return frozenset(position.signal for position in self._positions)

    @property
    def _positions(self) -> tuple[Position, ...]:
        return tuple(one for name, one in _POSITIONS if getattr(self, name) == one.value)

    @property
    def weight(self) -> int:
        """How many controls are away from rest; the simplest of several states is the one to show."""
        return len(self._positions)

    @property
    def words(self) -> str:
        """Return the setting in words: ``service lights, brake, left turn``."""
        return ", ".join(position.words for position in self._positions) or "all off"


#: Every control, in the order in which a person goes through them.
CONTROLS: Final = tuple(
    Control(name=one.name, rest=getattr(Controls(), one.name), **one.metadata) for one in fields(Controls)
)
_POSITIONS: Final = tuple((control.name, position) for control in CONTROLS for position in control.positions)
#: The signals that controls drive, in their order.
DRIVEN: Final = tuple(position.signal for _, position in _POSITIONS)


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

    The order is fixed: simplest first within each control, the last control fastest.
    """
    for values in product(*(control.used(signals) for control in CONTROLS)):
        yield Controls(*values)  # type: ignore[arg-type]
