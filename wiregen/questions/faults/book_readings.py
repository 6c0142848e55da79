"""What readings are expected to tell, for all places and settings at once.

Most faults leave most readings as they are. So readings that are told alike, to a few millivolts, share a row of a
table, and a reading is weighed row by row, not fault by fault.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt

from wiregen.questions.faults.diagnosis import Array, FaultBook

#: Ranges of a reading that are told apart when a check is weighed, V.
_EDGES_V: Final = np.array(
    [-100, -4, -0.6, 0.6, 1.5, 3, 4.5, 6, 7.5, 9, 10, 10.8, 11.6, 12.2, 12.7, 13.2, 13.8, 15, 18, 20.5, 22.5, 24.5,
     26, 27.2, 29, 100.0]
)  # fmt: skip
#: Readings are weighed to this, V.
_FINE_V: Final = 0.005
#: Bits of a key that hold a voltage or its width, and the voltage that counts as nothing there.
_BITS: Final = 20
_LEAST: Final = 1e-12
#: Numbers to work on at once.
_MOST_NUMBERS: Final = 1_000_000


class Readings:
    """The readings of a book that a meter reaches.

    Args:
        book: The book.
        sigma_v: Returns the standard deviation of some points' readings in a setting, V, shape (cases, points).
        wrong: How often a reading is wholly wrong.

    Attributes:
        place: For each case and reading its row in the list below, shape (cases, settings × points reached).
    """

    def __init__(self, book: FaultBook, sigma_v: Callable[[int], Array], wrong: float) -> None:
        self.shape = len(book.settings), len(book.points)
        self.reached = np.array([k for k, point in enumerate(book.points) if point.access != "hidden"], dtype=np.intp)
        settings, points = len(book.settings), len(self.reached)
        self.place = np.empty((len(book.cases), settings * points), dtype=np.int32)
        keys: list[npt.NDArray[np.int64]] = []
        start = 0
        for setting in range(settings):
            volts, wide = book.volts_v[:, setting, self.reached], sigma_v(setting)[:, self.reached]
            key = (np.rint(volts / _FINE_V).astype(np.int64) + (1 << _BITS - 1) << _BITS) + np.rint(
                wide / _FINE_V
            ).astype(np.int64)
            key += np.arange(points, dtype=np.int64) << 2 * _BITS
            found, place = np.unique(key, return_inverse=True)
            self.place[:, setting * points : (setting + 1) * points] = place.reshape(key.shape) + start
            keys.append(found + (setting * points << 2 * _BITS))
            start += len(found)
        every = np.concatenate(keys) if keys else np.zeros(0, dtype=np.int64)
        #: The reading of each row of the list, and where it is told in the table.
        self._reading = (every >> 2 * _BITS).astype(np.intp)
        shared, told = np.unique(every & ((1 << 2 * _BITS) - 1), return_inverse=True)
        self._told = told.reshape(-1)
        mean = ((shared >> _BITS) - (1 << _BITS - 1)) * _FINE_V
        self._table = _ranges(mean, (shared & ((1 << _BITS) - 1)) * _FINE_V, wrong)
        self._entropy = entropy(self._table)

    def gain(self, p: Array) -> Array:
        """Return the information each reading is expected to give, bit, shape (settings, points).

        Args:
            p: How likely each case is; those at nothing are not looked at.
        """
        mass = self._mass(p)
        rows = np.flatnonzero(mass)
        reading = self._reading[rows]
        # Where all cases are told alike, a reading tells nothing.
        count = np.bincount(reading, minlength=self.place.shape[1])
        rows, reading = (one[count[reading] > 1] for one in (rows, reading))
        gain = np.zeros(self.place.shape[1])
        if len(rows):
            first = np.flatnonzero(np.diff(reading, prepend=-1))
            weight, told = mass[rows].astype(np.float32), self._told[rows]
            mixed = np.add.reduceat(weight[:, None] * self._table[told], first, axis=0)
            gain[reading[first]] = entropy(mixed) - np.add.reduceat(weight * self._entropy[told], first)
        out = np.zeros(self.shape)
        out[:, self.reached] = gain.reshape(self.shape[0], -1)
        return out

    def _mass(self, p: Array) -> Array:
        """Return how likely each row of the list is."""
        live = np.flatnonzero(p)
        mass = np.zeros(len(self._told))
        step = max(1, _MOST_NUMBERS // max(1, self.place.shape[1]))
        for start in range(0, len(live), step):
            some = live[start : start + step]
            mass += np.bincount(
                self.place[some].reshape(-1), np.repeat(p[some], self.place.shape[1]), minlength=len(mass)
            )
        return mass


def _ranges(mean_v: Array, sigma_v: Array, wrong: float) -> Array:
    """Return the probability of each range of a reading, shape (rows, ranges)."""
    mean, sigma = mean_v.astype(np.float32)[:, None], sigma_v.astype(np.float32)[:, None]
    # The logistic curve of the same width stands for the normal one: it needs no special function.
    below = 1 / (1 + np.exp(np.clip(-1.702 * (_EDGES_V.astype(np.float32) - mean) / sigma, -60, 60)))
    return np.asarray(np.diff(below, axis=1) * (1 - wrong) + wrong / (len(_EDGES_V) - 1))


def entropy(p: Array) -> Array:
    """Return the entropy of distributions along the last axis, bit."""
    return np.asarray(-(p * np.log2(np.maximum(p, _LEAST))).sum(axis=-1))
