"""From what was seen to how likely each fault is, and which check tells most for its effort.

Bayes' rule over the cases of a fault book. An observation may be wrong: a look with a small probability, more where dim
must be told from lit; a reading within the meter's tolerance and what battery, temperature and age move, and wholly
wrong now and then. A fault whose size is not known (a resistance, a voltage too low) blurs its readings between what
was computed and what a healthy rig shows. The next check is the one with most expected information for its effort:
I = H(outcome) − H(outcome | case), in bits.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from wiregen.model.circuit import Fuse
from wiregen.questions.faults.book_readings import Readings, entropy
from wiregen.questions.faults.diagnosis import (
    BRIGHT,
    DARK,
    DIM,
    FLASHES,
    FLASHES_DIM,
    LIT,
    LOOKS,
    SOME,
    Array,
    FaultBook,
)
from wiregen.questions.faults.symptom import Saw, Symptom, Tried

Numbers = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]

#: What a meter is off by, V; how often a reading is wholly wrong (wrong contact, slipped lead), and the range it then
#: may lie in, V (all assumed, no source).
METER_V, WRONG_READING, ANYWHERE_V = 0.1, 0.02, 30.0
#: How often a look is wrong, of each other word (assumed); pairs of words that are easily mixed up.
WRONG_LOOK: Final = 0.004
_MIXED: Final = {
    (DIM, LIT): 0.05, (DIM, DARK): 0.03, (LIT, BRIGHT): 0.05, (FLASHES, FLASHES_DIM): 0.05, (FLASHES_DIM, DARK): 0.03,
    (SOME, LIT): 0.02, (SOME, DIM): 0.04, (FLASHES, LIT): 0.01,
}  # fmt: skip
#: How often a bulb or fuse that was tried is misjudged (assumed).
WRONG_TRY: Final = 0.02
#: A fault of unknown size moves a reading by this share of what it takes away (assumed); this often it is so small that
#: a lamp looks as it should (assumed).
_UNSIZED_SHARE, _UNSIZED_LOOK = 0.25, 0.2
_UNSIZED: Final = ("_resistance", "_low", "_limits", "lamp_voltage")
_LEAST: Final = 1e-12
#: Cases that make up no more than this share together are not asked what a reading would tell of them.
_UNHEARD: Final = 1e-3
#: A look is no mistake when it is told at least this often.
_MIXED_UP: Final = 0.03
#: Two readings are told apart when they differ by so many standard deviations.
APART: Final = 3.0
#: Numbers to work on at once.
_MOST_NUMBERS: Final = 1_000_000


def _confusion() -> Array:
    table = np.full((len(LOOKS), len(LOOKS)), WRONG_LOOK)
    for (first, second), share in _MIXED.items():
        table[first, second] = table[second, first] = share
    np.fill_diagonal(table, 0.0)
    np.fill_diagonal(table, 1 - table.sum(axis=1))
    return table


class Reasoner:
    """Weighs the cases of one book.

    Args:
        book: What every fault looks like.

    Attributes:
        prior: Probability of each case before anything was seen.
    """

    def __init__(self, book: FaultBook) -> None:
        self.book = book
        weight = np.array([case.weight for case in book.cases])
        self.prior = weight / weight.sum()
        self.unsized = np.array([case.kind.endswith(_UNSIZED) for case in book.cases])
        self._seen = _confusion()

    def sigma_v(self, setting: int, points: int | slice | Flags = slice(None)) -> Array:
        """Return the standard deviation of readings in a setting, V, shape (cases, points), or (cases,) of one."""
        volts = self.book.volts_v[:, setting, points]
        unsized = self.unsized if volts.ndim == 1 else self.unsized[:, None]
        blur = np.where(unsized, _UNSIZED_SHARE * np.abs(volts - volts[0]), 0.0)
        return np.asarray(np.sqrt(METER_V**2 + (self.book.spread[setting, points] * volts) ** 2 + blur**2))

    # --- Bayes' rule ---

    def likelihood(self, symptom: Symptom) -> Array:
        """Return how likely each case is to show a symptom, up to a factor that all cases share."""
        if isinstance(symptom, Saw):
            return self._says(symptom.setting, symptom.watched, symptom.look)
        if isinstance(symptom, Tried):
            right = self.outcome(symptom.ref) == _DID[symptom.did]
            return np.asarray(np.where(right, 1 - WRONG_TRY, WRONG_TRY / 2))
        mean = self.book.volts_v[:, symptom.setting, symptom.point]
        sigma = self.sigma_v(symptom.setting, symptom.point)
        bell = np.exp(-0.5 * ((symptom.volts_v - mean) / sigma) ** 2) / (sigma * np.sqrt(2 * np.pi))
        return np.asarray((1 - WRONG_READING) * bell + WRONG_READING / ANYWHERE_V)

    def _says(self, setting: int, watched: int, look: int) -> Array:
        """Return how likely each case is to be told as a look."""
        true = self.book.looks[:, setting, watched]
        said = self._seen[:, look]
        return np.asarray(
            np.where(self.unsized, (1 - _UNSIZED_LOOK) * said[true] + _UNSIZED_LOOK * said[true[0]], said[true])
        )

    def posterior(self, symptoms: Sequence[Symptom]) -> Array:
        """Return how likely each case is after what was seen."""
        return chances(self.after(np.log(self.prior), symptoms))

    def after(self, log: Array, symptoms: Sequence[Symptom]) -> Array:
        """Return the logarithm of how likely each case is, up to a term that all share, after more was seen."""
        for symptom in symptoms:
            log = log + np.log(self.likelihood(symptom))
        return log

    def explains(self, symptom: Symptom) -> Flags:
        """Return which cases show a symptom without a mistake of the observer."""
        if isinstance(symptom, Saw):
            return np.asarray(self._says(symptom.setting, symptom.watched, symptom.look) >= _MIXED_UP)
        if isinstance(symptom, Tried):
            return np.asarray(self.outcome(symptom.ref) == _DID[symptom.did])
        mean = self.book.volts_v[:, symptom.setting, symptom.point]
        off = np.abs(symptom.volts_v - mean) / self.sigma_v(symptom.setting, symptom.point)
        return np.asarray(off <= APART)

    # --- what a new bulb or fuse would do ---

    def outcome(self, ref: str) -> Numbers:
        """Return what a new bulb or fuse does with each case: 0 no change, 1 helps, 2 blows."""
        if ref not in self._outcomes:
            fuse = isinstance(self.book.circuit.by_ref[ref], Fuse)
            self._outcomes[ref] = np.array(
                [
                    self._fuse_does(row, ref) if fuse else self._bulb_does(row, ref)
                    for row in range(len(self.book.cases))
                ]
            )
        return self._outcomes[ref]

    @cached_property
    def _outcomes(self) -> dict[str, Numbers]:
        return {}

    def _fuse_does(self, row: int, ref: str) -> int:
        case, opened = self.book.cases[row], self.book.opened.get(row)
        if opened is not None and opened.fuse == ref:
            return _DID["blows"]
        return _DID["helps"] if case.kind == "fuse_open" and case.part == ref else _DID["no change"]

    def _bulb_does(self, row: int, ref: str) -> int:
        case = self.book.cases[row]
        in_bulb = case.kind in ("lamp_out", "lamp_voltage", "filament_bridge")
        here = case.part == ref or any(getattr(e, "a", "") == f"{ref}:1" for e in case.change.put)
        return _DID["helps"] if in_bulb and here else _DID["no change"]

    # --- what tells cases apart ---

    @cached_property
    def patterns(self) -> tuple[Numbers, ...]:
        """For each setting, the number of each case's picture: what all lamps together show."""
        lamps = [row for row, one in enumerate(self.book.watched) if one.is_lamp]
        return tuple(
            np.unique(self.book.looks[:, setting, lamps], axis=0, return_inverse=True)[1].reshape(-1).astype(np.intp)
            for setting in range(len(self.book.settings))
        )

    @cached_property
    def readings(self) -> Readings:
        """What a meter may show."""
        return Readings(self.book, self.sigma_v, WRONG_READING)

    def gain_of_readings(self, p: Array) -> Array:
        """Return the information each reading is expected to give, bit, shape (settings, points)."""
        rising = np.sort(p)
        # The least likely cases that make up so little together are not asked.
        least = rising[min(int(np.searchsorted(np.cumsum(rising), _UNHEARD)), len(p) - 1)]
        return self.readings.gain(np.where(p >= least, p, 0.0))

    def gain_of_looks(self, p: Array) -> Array:
        """Return the information a look at all lamps is expected to give in each setting, bit."""
        found = []
        for kind, said, own in self.pictures:
            mass = np.bincount(kind, weights=p, minlength=len(own))
            found.append(float(entropy(mass @ said) - mass @ own))
        return np.array(found)

    @cached_property
    def pictures(self) -> tuple[tuple[Numbers, Array, Array], ...]:
        """For each setting what all lamps together may be told as.

        The kind of each case; how likely each kind is told as each picture, shape (kinds, pictures); its entropy, bit.
        """
        lamps = [row for row, one in enumerate(self.book.watched) if one.is_lamp]
        found = []
        for setting, pattern in enumerate(self.patterns):
            first = np.unique(pattern, return_index=True)[1]
            _, rows, kind = np.unique(2 * pattern + self.unsized, return_index=True, return_inverse=True)
            said = np.ones((len(rows), len(first)))
            for lamp in lamps:
                looks = self.book.looks[first, setting, lamp]
                every = np.stack([self._says(setting, lamp, look)[rows] for look in range(len(LOOKS))], axis=1)
                said *= every[:, looks]
            said /= said.sum(axis=1, keepdims=True)
            found.append((kind.reshape(-1).astype(np.intp), said, entropy(said)))
        return tuple(found)

    def gain_of_try(self, p: Array, ref: str) -> float:
        """Return the information a new bulb or fuse is expected to give, bit."""
        return self._gain_of_groups(p, self.outcome(ref), WRONG_TRY)

    @staticmethod
    def _gain_of_groups(p: Array, group: Numbers, wrong: float) -> float:
        mass = np.bincount(group, weights=p)
        mass = mass[mass > _LEAST]
        if len(mass) < 2:
            return 0.0
        said = mass * (1 - wrong) + (1 - mass) * wrong / (len(mass) - 1)
        noise = np.array([1 - wrong, *[wrong / (len(mass) - 1)] * (len(mass) - 1)])
        return float(entropy(said) - entropy(noise))

    def apart(self, rows: Sequence[int], access: Mapping[int, bool] | None = None) -> Flags:
        """Return which of some cases a look, a try or a reading can tell apart, shape (rows, rows).

        Args:
            rows: The cases.
            access: For each point whether a meter reaches it; hidden ones are not reached when None.
        """
        chosen = np.asarray(rows, dtype=np.intp)
        found = np.zeros((len(chosen), len(chosen)), dtype=bool)
        for pattern in (*self.patterns, *(self.outcome(ref) for ref in self.tries)):
            found |= pattern[chosen][:, None] != pattern[chosen][None]
        # Only the pairs that are together so far, each once: most are not.
        first, second = np.nonzero(np.triu(~found, 1))
        reached = np.array(
            [access[k] if access is not None else point.access != "hidden" for k, point in enumerate(self.book.points)],
            dtype=bool,
        )
        for setting in range(len(self.book.settings)):
            split = self.split(setting, reached, chosen[first], chosen[second])
            found[first[split], second[split]] = found[second[split], first[split]] = True
            first, second = first[~split], second[~split]
        return found

    def split(self, setting: int, points: Flags, first: Numbers, second: Numbers) -> Flags:
        """Return which pairs of cases a reading at any of some points tells apart in a setting, shape (pairs,)."""
        volts, square = self.book.volts_v[:, setting, points], self.sigma_v(setting, points) ** 2
        found = np.zeros(len(first), dtype=bool)
        size = max(1, _MOST_NUMBERS // max(1, volts.shape[1]))
        for start in range(0, len(first), size):
            one, other = first[start : start + size], second[start : start + size]
            off = (volts[one] - volts[other]) ** 2 > APART**2 * (square[one] + square[other])
            found[start : start + size] = off.any(axis=1)
        return found

    @cached_property
    def tries(self) -> tuple[str, ...]:
        """Designations of the bulbs and fuses that can be changed."""
        bulbs = [one.ref for one in self.book.watched if one.is_bulb]
        return (*bulbs, *(fuse.ref for fuse in self.book.circuit.of(Fuse)))


def chances(log: Array) -> Array:
    """Return probabilities from their logarithms, which may all be off by the same term."""
    weight = np.exp(log - log.max())
    return np.asarray(weight / weight.sum())


TRIED_CODES: Final = ("no change", "helps", "blows")
_DID: Final = {did: code for code, did in enumerate(TRIED_CODES)}
