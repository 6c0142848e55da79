"""What a lamp shows to somebody who stands behind it, from the voltage across it in both halves of the flash.

A filament is compared with the same lamp at its best when nothing is wrong: that is what people do. A lamp made for
another voltage is compared so too. LED lamps are dark below their cut-off, dim below their lowest working voltage.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from wiregen.catalogue.lamps import LIGHT_EXPONENT
from wiregen.model.circuit import Circuit, Lamp, Load
from wiregen.questions.faults.diagnosis import (
    BRIGHT,
    DARK,
    DIM,
    FLASHES,
    FLASHES_DIM,
    LIT,
    SOME,
    Array,
    Change,
    Codes,
    Watched,
)
from wiregen.solve.live import DARK_BELOW, DIM_BELOW, LIVE_FROM_V

#: A lamp is told as too bright from this many times its usual light on (assumed: a fifth more voltage).
BRIGHT_FROM: Final = 1.8
#: A load is told as dead below this share of its usual voltage, as weak below the second (assumed).
DEAD_BELOW, WEAK_BELOW = 0.3, 0.85


@dataclass(frozen=True)
class Lights:
    """What lamps and loads need to know of themselves, shape (cases, watched) where a fault may change it.

    Attributes:
        rated_v: Rated voltage, V.
        max_v: Highest voltage it stands, V.
        min_v: LED: lowest working voltage, V.
        dark_v: LED: voltage below which it is dark, V.
        left: How many lamps of the entry are left.
        count: How many there are, shape (watched,).
        is_filament: Which are filaments, shape (watched,).
        is_load: Which are loads, shape (watched,).
        best_v: Highest voltage when nothing is wrong, V, shape (watched,).
    """

    rated_v: Array
    max_v: Array
    min_v: Array
    dark_v: Array
    left: Array
    count: Array
    is_filament: Array
    is_load: Array
    best_v: Array

    @classmethod
    def of(cls, circuit: Circuit, changes: Sequence[Change], watched: Sequence[Watched], best_v: Array) -> Lights:
        """Collect them for every case."""
        parts = [circuit.by_ref[one.ref] for one in watched]
        rows = []
        for change in changes:
            new = {element.ref: element for element in change.put}
            rows.append([_numbers(new.get(p.ref, p), gone=p.ref in change.drop) for p in parts])
        table = np.array(rows, dtype=float).reshape(len(changes), len(parts), 5)
        return cls(
            rated_v=table[:, :, 0],
            max_v=table[:, :, 1],
            min_v=table[:, :, 2],
            dark_v=table[:, :, 3],
            left=table[:, :, 4],
            count=np.array([one.count for one in watched]),
            is_filament=np.array([isinstance(p, Lamp) and p.technology == "filament" for p in parts]),
            is_load=np.array([isinstance(p, Load) for p in parts]),
            best_v=np.where(best_v > LIVE_FROM_V, best_v, table[0, :, 0]),
        )

    def over(self, across: Array, factor: float) -> Array:
        """Return the highest voltage over what is stood, shape (cases, watched), ``factor`` above the solved ones."""
        return np.asarray(np.abs(np.nan_to_num(across)).max(axis=1) * factor / self.max_v)


def _numbers(part: object, *, gone: bool) -> tuple[float, ...]:
    if isinstance(part, Lamp):
        dark_v = max(part.cut_off_v, LIVE_FROM_V)
        return part.rated_v, part.max_v, part.min_v, dark_v, 0.0 if gone else part.count
    assert isinstance(part, Load)
    return part.nominal_v, part.max_v, 0.0, 0.0, 0.0 if gone else part.count


def looks_of(lights: Lights, across: Array, twins: Array) -> Codes:
    """Return the code of what is seen, shape (cases, settings, watched).

    Args:
        lights: What the lamps are.
        across: Voltage across each, V, shape (cases, states, watched), both halves of each setting side by side; NaN
            for one that is gone.
        twins: The same of a lamp that a fault has taken out of its entry, NaN where there is none.
    """
    main, twin = _shows(lights, across), _shows(lights, twins)
    gone = np.isnan(across) | (lights.left[:, None, :] == 0)
    main = np.where(gone, DARK, main)
    some = (lights.left < lights.count)[:, None, :] & ~gone & (main >= LIT) & np.isnan(twins)
    has_twin = ~np.isnan(twins)
    mixed = has_twin & ~gone & ((main >= LIT) != (twin >= LIT))
    both = np.where(has_twin, np.maximum(main, twin), main)
    code = np.where(some | mixed, SOME, both)
    return _cycle(code)


def _shows(lights: Lights, across: Array) -> Codes:
    volts = np.abs(np.nan_to_num(across))
    rated, best = lights.rated_v[:, None, :], lights.best_v
    light = (volts / rated) ** LIGHT_EXPONENT
    usual = (best / lights.rated_v[0]) ** LIGHT_EXPONENT
    filament = np.select(
        [light < DARK_BELOW, light / usual < DIM_BELOW, light / usual > BRIGHT_FROM], [DARK, DIM, BRIGHT], LIT
    )
    led = np.select([volts < lights.dark_v[:, None, :], volts < lights.min_v[:, None, :]], [DARK, DIM], LIT)
    load = np.select([volts < DEAD_BELOW * best, volts < WEAK_BELOW * best], [DARK, DIM], LIT)
    code = np.where(lights.is_load, load, np.where(lights.is_filament, filament, led))
    return np.asarray(np.where(volts > lights.max_v[:, None, :], BRIGHT, code), dtype=np.int8)


def _cycle(code: Codes | Array) -> Codes:
    """Return what is seen over a flash cycle from what is shown in its two halves."""
    # A trailer without lamps has an empty last axis, from which no other length can be inferred.
    halves = code.reshape(code.shape[0], code.shape[1] // 2, 2, code.shape[2])
    first, second = halves[:, :, 0], halves[:, :, 1]
    high = np.maximum(first, second)
    low = np.minimum(first, second)
    # One that only brightens and fades while it stays lit is told as flashing too: it is what the eye catches.
    moving = np.where(high == SOME, SOME, np.where(high >= LIT, FLASHES, FLASHES_DIM))
    return np.asarray(np.where(first == second, first, np.where((low >= LIT) & (high < SOME), high, moving)), np.int8)


def fold(reads: Array) -> Array:
    """Return the highest reading of the two halves of each setting, with its sign, shape (settings, points)."""
    halves = reads.reshape(reads.shape[0] // 2, 2, reads.shape[1])
    return np.asarray(np.where(np.abs(halves[:, 0]) >= np.abs(halves[:, 1]), halves[:, 0], halves[:, 1]))
