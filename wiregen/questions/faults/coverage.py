"""How well faults can be found: how many checks each takes, which stay silent, and which test point would help most."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from wiregen.model.fault_guide import Coverage, Found, TestPoint
from wiregen.questions.faults.diagnosis import Array, Check
from wiregen.questions.faults.finder import FOUND, Finder, danger_words
from wiregen.questions.faults.symptom import Measured, Saw, Symptom, Tried
from wiregen.questions.faults.weigh import APART, TRIED_CODES, chances

_MOST_CHECKS: Final = 40
_MOST_POINTS: Final = 5


def coverage(finder: Finder) -> Coverage:
    """Search for every fault as if nobody ever made a mistake, and count."""
    book, prior = finder.book, finder.reasoner.prior
    off = book.looks != book.looks[0]
    lamps = np.array([one.is_lamp for one in book.watched], dtype=bool)
    seen, felt = off[:, :, lamps].any(axis=(1, 2)), off[:, :, ~lamps].any(axis=(1, 2))
    rows = range(1, len(book.cases))
    found = _Walk(finder).found([row for row in rows if seen[row]])
    weight = np.array([prior[row] for row in rows if seen[row]])
    weight = weight / weight.sum() if len(weight) else weight
    return Coverage(
        title=finder.title,
        trailer=book.circuit.trailer,
        digest=finder.digest,
        silent=_by_danger([_unseen(finder, row) for row in rows if not seen[row] and not felt[row]]),
        unseen=_by_danger([_unseen(finder, row) for row in rows if not seen[row] and felt[row]]),
        found=tuple(found),
        mean_checks=math.fsum(w * one.checks for w, one in zip(weight, found, strict=True)),
        worst=max(found, key=lambda one: (one.checks, one.effort), default=None),
        mean_effort=math.fsum(w * one.effort for w, one in zip(weight, found, strict=True)),
        points=test_points(finder),
    )


def _by_danger(found: list[Found]) -> tuple[Found, ...]:
    return tuple(sorted(found, key=lambda one: not one.danger))


def _unseen(finder: Finder, row: int) -> Found:
    case = finder.book.cases[row]
    danger = danger_words(finder.book, row)
    return Found(key=case.key, words=case.words, kind=case.kind, checks=0, effort=0.0, left=0, danger=danger)


@dataclass(frozen=True)
class _Stop:
    """Where a way through the checks stands: the faults that show all of this so far.

    Attributes:
        rows: The faults.
        symptoms: What was seen.
        log: Logarithm of how likely each case is.
        checks: Checks so far.
        effort: What they cost, in looks at the lamps.
    """

    rows: Sequence[int]
    symptoms: tuple[Symptom, ...]
    log: Array
    checks: int = 0
    effort: float = 0.0


class _Walk:
    """Walks through the checks for all faults at once; those that show the same share the way."""

    def __init__(self, finder: Finder) -> None:
        self.finder, self.book = finder, finder.book
        self.settings = [controls.words for controls in self.book.settings]
        self.points = [point.name for point in self.book.points]
        self.lamps = [k for k, one in enumerate(self.book.watched) if one.is_lamp]

    def found(self, rows: Sequence[int]) -> list[Found]:
        """Return how each fault is found."""
        done: dict[int, Found] = {}
        start = _Stop(rows, (), np.log(self.finder.reasoner.prior))
        todo = self._parted(start, self._complaint, 0.0)
        while todo:
            stop = todo.pop()
            p = chances(stop.log)
            check = None
            if stop.checks < _MOST_CHECKS and self.finder.leading(p) < FOUND:
                check = self.finder.checker.next(p, stop.symptoms)
            if check is None:
                done |= {row: self._found(row, stop, p) for row in stop.rows}
            else:
                todo += self._parted(stop, partial(self._shows, check), check.effort)
        return [done[row] for row in rows]

    def _parted(self, stop: _Stop, shows: Callable[[int], tuple[Symptom, ...]], effort: float) -> list[_Stop]:
        """Return where the faults of a stop go on, by what each of them shows."""
        by_shown: dict[tuple[Symptom, ...], list[int]] = {}
        for row in stop.rows:
            by_shown.setdefault(shows(row), []).append(row)
        checks = stop.checks + 1 if stop.symptoms else 0
        return [
            _Stop(rows, stop.symptoms + new, self.finder.reasoner.after(stop.log, new), checks, stop.effort + effort)
            for new, rows in by_shown.items()
        ]

    def _found(self, row: int, stop: _Stop, p: Array) -> Found:
        case = self.book.cases[row]
        mass = np.bincount(self.finder.group, weights=p)
        return Found(
            key=case.key, words=case.words, kind=case.kind, checks=stop.checks, effort=stop.effort,
            left=int((mass >= mass.max() / 4).sum()), danger=danger_words(self.book, row),
        )  # fmt: skip

    def _complaint(self, row: int) -> tuple[Symptom, ...]:
        """Return the first thing that is seen: every lamp in the first setting in which one is wrong."""
        looks = self.book.looks[:, :, self.lamps]
        return self._look(row, int(np.argmax((looks[row] != looks[0]).any(axis=1))))

    def _look(self, row: int, setting: int) -> tuple[Symptom, ...]:
        return tuple(Saw(setting, lamp, int(self.book.looks[row, setting, lamp]), "") for lamp in self.lamps)

    def _shows(self, check: Check, row: int) -> tuple[Symptom, ...]:
        if check.kind in ("bulb", "fuse"):
            did = TRIED_CODES[int(self.finder.reasoner.outcome(check.target)[row])]
            return (Tried(check.target, did, ""),)
        setting = self.settings.index(check.setting)
        if check.kind == "look":
            return self._look(row, setting)
        point = self.points.index(check.target)
        return (Measured(setting, point, round(float(self.book.volts_v[row, setting, point]), 1), ""),)


def test_points(finder: Finder) -> tuple[TestPoint, ...]:
    """Return the places that would split most faults if a meter reached them, the best first.

    Counted over pairs of faults that show the same lamps, each pair by the weight of both: what share of the pairs that
    looks, bulbs, fuses and all readings outside the adapter leave together does one more place tell apart?
    """
    book, reasoner = finder.book, finder.reasoner
    noticed = np.flatnonzero((book.looks != book.looks[0]).any(axis=(1, 2)))
    if not len(noticed):
        return ()
    outside = {k: point.access not in ("hidden", "adapter") for k, point in enumerate(book.points)}
    together = ~reasoner.apart(noticed.tolist(), outside)
    np.fill_diagonal(together, False)
    weight = np.outer(reasoner.prior[noticed], reasoner.prior[noticed])
    same_part = np.array([book.cases[row].part + book.cases[row].kind for row in noticed])
    together &= same_part[:, None] != same_part[None]
    # Only the pairs that are together, each once: most are not, and all of them times all settings take minutes.
    first, second = np.nonzero(np.triu(together))
    pair_weight = weight[first, second]
    total = float(pair_weight.sum())
    if total <= 0:
        return ()
    found = []
    settings = range(len(book.settings))
    for k, point in enumerate(book.points):
        if outside[k]:
            continue
        volts = book.volts_v[noticed, :, k]
        square = np.stack([reasoner.sigma_v(setting, k)[noticed] for setting in settings], axis=1) ** 2
        off = (volts[first] - volts[second]) ** 2 > APART**2 * (square[first] + square[second])
        split = float(pair_weight[off.any(axis=1)].sum()) / total
        if split > 0.001:
            found.append(TestPoint(terminal=point.at, words=point.words, where=point.access, splits=split))
    found.sort(key=lambda one: -one.splits)
    return tuple(found[:_MOST_POINTS])
