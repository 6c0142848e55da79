"""What is to be chosen, and what each choice weighs: slots with their options, and the conductors they govern."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from wiregen.catalogue.ampacity import OutsideTable, ampacity_a
from wiregen.catalogue.conductors import COPPER_KG_PER_M_MM2
from wiregen.quantity import ConductorSize

#: For each slot the number of the option taken, in the order of the slots.
Choice = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SizedWire:
    """A conductor whose size is to be chosen.

    Attributes:
        ref: Its designation.
        slot: Number of the slot that gives its size.
        length_m: Length, m.
        insulation_c: Temperature its insulation stands, °C.
        ambient_c: Temperature of the air around it, °C.
        bundle: Loaded conductors that lie together.
    """

    ref: str
    slot: int
    length_m: float
    insulation_c: float
    ambient_c: float
    bundle: int

    def allowed_a(self, size: ConductorSize) -> float | None:
        """Return what it may carry in a size, A; None where no table has it."""
        try:
            return ampacity_a(size, self.insulation_c, self.ambient_c, self.bundle).amps
        except OutsideTable:
            return None


@dataclass(frozen=True, slots=True)
class ChoiceSlot:
    """One value to choose.

    Attributes:
        kind: A conductor size or a fuse rating.
        options: What it may be, smallest first: sizes, or ratings in A.
        refs: The conductors it gives a size, or the one fuse.
    """

    kind: Literal["size", "fuse"]
    options: tuple[ConductorSize, ...] | tuple[float, ...]
    refs: tuple[str, ...]

    def size(self, number: int) -> ConductorSize:
        """Return an option of a conductor."""
        option = self.options[number]
        assert isinstance(option, ConductorSize)
        return option

    def rating_a(self, number: int) -> float:
        """Return an option of a fuse, A."""
        option = self.options[number]
        assert not isinstance(option, ConductorSize)
        return option

    def first_rating(self, least_a: float) -> int:
        """Return the first option of a fuse that is not below a rating, A; the last where none is so large."""
        last = len(self.options) - 1
        return next((n for n in range(last) if self.rating_a(n) >= least_a), last)


@dataclass(frozen=True, slots=True)
class Guard:
    """A fuse and a conductor behind it, of which at least one is to be chosen.

    Attributes:
        fuse: Designation of the fuse.
        fuse_slot: Its slot; None where its rating stands.
        rating_a: Its rating where it stands, A.
        wire: The conductor, where it is to be chosen.
        allowed_a: What the conductor carries where its size stands, A.
    """

    fuse: str
    fuse_slot: int | None = None
    rating_a: float = 0.0
    wire: SizedWire | None = None
    allowed_a: float = 0.0


@dataclass(frozen=True)
class SizingProblem:
    """Everything to choose in one rig.

    Attributes:
        slots: What is to be chosen.
        wires: Conductors to be sized, each once.
        guards: Fuses and conductors that must fit each other.
        fuse_share: Share of its rating that a fuse may carry for long.
    """

    slots: tuple[ChoiceSlot, ...]
    wires: tuple[SizedWire, ...]
    guards: tuple[Guard, ...]
    fuse_share: float

    @cached_property
    def costs(self) -> tuple[tuple[float, ...], ...]:
        """Copper of every option of every slot, kg; none for fuses."""
        metres = [math.fsum(wire.length_m for wire in self.wires if wire.slot == n) for n in range(len(self.slots))]
        return tuple(
            tuple(copper_kg(metres[number], slot.size(option)) for option in range(len(slot.options)))
            if slot.kind == "size"
            else (0.0,) * len(slot.options)
            for number, slot in enumerate(self.slots)
        )

    @cached_property
    def by_ref(self) -> Mapping[str, SizedWire]:
        """Conductors to be sized, by designation."""
        return {wire.ref: wire for wire in self.wires}

    @cached_property
    def sizes(self) -> tuple[int, ...]:
        """Numbers of the slots that are conductors."""
        return tuple(number for number, slot in enumerate(self.slots) if slot.kind == "size")

    @cached_property
    def fuses(self) -> Mapping[str, int]:
        """Slot of every fuse to be chosen, by its designation."""
        return {ref: n for n, slot in enumerate(self.slots) if slot.kind == "fuse" for ref in slot.refs}

    def copper_kg(self, choice: Choice) -> float:
        """Return the copper of all conductors that are chosen, kg."""
        return math.fsum(self.costs[number][choice[number]] for number in self.sizes)

    def largest(self, choice: Choice) -> Choice:
        """Return a choice with every conductor at its largest."""
        return tuple(len(slot.options) - 1 if slot.kind == "size" else choice[n] for n, slot in enumerate(self.slots))

    def smallest(self, choice: Choice) -> Choice:
        """Return a choice with every conductor at its smallest."""
        return tuple(0 if slot.kind == "size" else choice[n] for n, slot in enumerate(self.slots))


def copper_kg(length_m: float, size: ConductorSize) -> float:
    """Return the copper of a conductor, kg: its area times its length; the lay of the strands is left out."""
    return length_m * size.area_mm2 * COPPER_KG_PER_M_MM2
