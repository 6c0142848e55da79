"""Extremes of supply and temperature at which a circuit is solved."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

SupplyLevel = Literal["low", "running", "charging"]
Warmth = Literal["given", "cold", "hot"]


@dataclass(frozen=True, slots=True)
class Corner:
    """One corner.

    Attributes:
        supply: Which of the battery's voltages holds.
        warmth: ``given``: copper at the temperature of the conductors as built, coils at 20 °C. ``cold``: copper and
            coils at ``cold_c``. ``hot``: copper at its ambient and its own heating, coils at ``coil_hot_c``.
    """

    supply: SupplyLevel
    warmth: Warmth

    @property
    def words(self) -> str:
        """Return the corner in words."""
        supply = {"low": "battery low", "running": "running voltage", "charging": "charging high"}[self.supply]
        return supply if self.warmth == "given" else f"{supply}, {self.warmth}"


#: What chart and readings are made for.
NOMINAL = Corner("running", "given")

#: The corners of a full study.
CORNERS = tuple(Corner(supply, warmth) for supply in ("low", "running", "charging") for warmth in ("cold", "hot"))
