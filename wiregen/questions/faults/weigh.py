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
from wiregen.plan.diagnose_readings import Readings, entropy
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
#: A case less likely than this is not asked what a reading would tell of it.
_UNHEARD: Final = 1e-5
#: A look is no mistake when it is told at least this often.
_MIXED_UP: Final = 0.03
#: Two readings are told apart when they differ by so many standard deviations.
APART: Final = 3.0


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
        sigma_v: Standard deviation of each reading, V, shape (cases, settings, points).
    """

    def __init__(self, book: FaultBook) -> None:
        self.book = book
        weight = np.array([case.weight for case in book.cases])
        self.prior = weight / weight.sum()
        self.unsized = np.array([case.kind.endswith(_UNSIZED) for case in book.cases])
        off = np.abs(book.volts_v - book.volts_v[0])
        blur = np.where(self.unsized[:, None, None], _UNSIZED_SHARE * off, 0.0)
        self.sigma_v = np.sqrt(METER_V**2 + (book.spread * book.volts_v) ** 2 + blur**2)
        self._seen = _confusion()

    # --- Bayes' rule ---

    def likelihood(self, symptom: Symptom) -> Array:
        """Return how likely each case is to show a symptom, up to a factor that all cases share."""
        if isinstance(symptom, Saw):
            return np.asarray(self._says(symptom.setting, symptom.watched)[:, symptom.look])
        if isinstance(symptom, Tried):
            right = self.outcome(symptom.ref) == _DID[symptom.did]
            return np.asarray(np.where(right, 1 - WRONG_TRY, WRONG_TRY / 2))
        mean = self.book.volts_v[:, symptom.setting, symptom.point]
        sigma = self.sigma_v[:, symptom.setting, symptom.point]
        bell = np.exp(-0.5 * ((symptom.volts_v - mean) / sigma) ** 2) / (sigma * np.sqrt(2 * np.pi))
        return np.asarray((1 - WRONG_READING) * bell + WRONG_READING / ANYWHERE_V)

    def _says(self, setting: int, watched: int) -> Array:
        """Return how likely each case is to be told as each look, shape (cases, looks)."""
        true = self.book.looks[:, setting, watched]
        said = self._seen[true]
        small = np.where(self.unsized, _UNSIZED_LOOK, 0.0)[:, None]
        return np.asarray((1 - small) * said + small * self._seen[true[0]])

    def posterior(self, symptoms: Sequence[Symptom]) -> Array:
        """Return how likely each case is after what was seen."""
        log = np.log(self.prior)
        for symptom in symptoms:
            log = log + np.log(self.likelihood(symptom))
        weight = np.exp(log - log.max())
        return np.asarray(weight / weight.sum())

    def explains(self, symptom: Symptom) -> Flags:
        """Return which cases show a symptom without a mistake of the observer."""
        if isinstance(symptom, Saw):
            says = self._says(symptom.setting, symptom.watched)
            return np.asarray(says[:, symptom.look] >= _MIXED_UP)
        if isinstance(symptom, Tried):
            return np.asarray(self.outcome(symptom.ref) == _DID[symptom.did])
        mean = self.book.volts_v[:, symptom.setting, symptom.point]
        off = np.abs(symptom.volts_v - mean) / self.sigma_v[:, symptom.setting, symptom.point]
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
        return Readings(self.book, lambda setting: self.sigma_v[:, setting], WRONG_READING)

    def gain_of_readings(self, p: Array) -> Array:
        """Return the information each reading is expected to give, bit, shape (settings, points)."""
        return self.readings.gain(np.where(p > _UNHEARD, p, 0.0))

    def gain_of_looks(self, p: Array) -> Array:
        """Return the information a look at all lamps is expected to give in each setting, bit."""
        return np.array([float(entropy(p @ said) - p @ own) for said, own in self.pictures])

    @cached_property
    def pictures(self) -> tuple[tuple[Array, Array], ...]:
        """For each setting, how likely each case is to be told as each picture, (cases, pictures), and its entropy."""
        lamps = [row for row, one in enumerate(self.book.watched) if one.is_lamp]
        found = []
        for setting, pattern in enumerate(self.patterns):
            first = np.unique(pattern, return_index=True)[1]
            said = np.ones((len(pattern), len(first)))
            for lamp in lamps:
                said *= self._says(setting, lamp)[:, self.book.looks[first, setting, lamp]]
            said /= said.sum(axis=1, keepdims=True)
            found.append((said, entropy(said)))
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
        book, chosen = self.book, np.asarray(rows, dtype=np.intp)
        reached = [access[k] if access is not None else point.access != "hidden" for k, point in enumerate(book.points)]
        volts = book.volts_v[chosen][:, :, reached].reshape(len(chosen), -1)
        sigma = self.sigma_v[chosen][:, :, reached].reshape(len(chosen), -1)
        found = np.zeros((len(chosen), len(chosen)), dtype=bool)
        for row in range(len(chosen)):
            off = np.abs(volts - volts[row]) > APART * np.hypot(sigma, sigma[row])
            found[row] = off.any(axis=1)
        for pattern in (*self.patterns, *(self.outcome(ref) for ref in self.tries)):
            found |= pattern[chosen][:, None] != pattern[chosen][None]
        return found

    @cached_property
    def tries(self) -> tuple[str, ...]:
        """Designations of the bulbs and fuses that can be changed."""
        bulbs = [one.ref for one in self.book.watched if one.is_bulb]
        return (*bulbs, *(fuse.ref for fuse in self.book.circuit.of(Fuse)))


_DID: Final = {"no change": 0, "helps": 1, "blows": 2}
