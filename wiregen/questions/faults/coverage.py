"""How well faults can be found: how many checks each takes, which stay silent, and which test point would help most."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from wiregen.model.fault_guide import Coverage, Found, TestPoint
from wiregen.questions.faults.diagnosis import Check
from wiregen.questions.faults.finder import FOUND, Finder, danger_words
from wiregen.questions.faults.symptom import Measured, Saw, Symptom, Tried
from wiregen.questions.faults.weigh import APART

_MOST_CHECKS: Final = 40
_MOST_POINTS: Final = 5


def coverage(finder: Finder) -> Coverage:
    """Search for every fault as if nobody ever made a mistake, and count."""
    book, prior = finder.book, finder.reasoner.prior
    off = book.looks != book.looks[0]
    lamps = np.array([one.is_lamp for one in book.watched], dtype=bool)
    seen, felt = off[:, :, lamps].any(axis=(1, 2)), off[:, :, ~lamps].any(axis=(1, 2))
    walk = _Walk(finder)
    rows = range(1, len(book.cases))
    found = [walk.found(row) for row in rows if seen[row]]
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


class _Walk:
    """Walks through the checks for one fault after the other; faults that look alike so far share the way."""

    def __init__(self, finder: Finder) -> None:
        self.finder, self.book = finder, finder.book
        self.known: dict[tuple[str, ...], tuple[Check | None, bool]] = {}

    def found(self, row: int) -> Found:
        """Return how a fault is found."""
        symptoms = self._complaint(row)
        way = [repr(symptoms)]
        checks, effort = 0, 0.0
        while checks < _MOST_CHECKS:
            check = self._next(tuple(way), symptoms)
            if check is None:
                break
            new = self._shows(row, check)
            symptoms += new
            way.append(repr(new))
            checks, effort = checks + 1, effort + check.effort
        case = self.book.cases[row]
        p = self.finder.reasoner.posterior(symptoms)
        mass = np.bincount(self.finder.group, weights=p)
        left = int((mass >= mass.max() / 4).sum())
        return Found(
            key=case.key, words=case.words, kind=case.kind, checks=checks, effort=effort, left=left,
            danger=danger_words(self.book, row),
        )  # fmt: skip

    def _next(self, way: tuple[str, ...], symptoms: Sequence[Symptom]) -> Check | None:
        if way not in self.known:
            p = self.finder.reasoner.posterior(symptoms)
            done = self.finder.leading(p) >= FOUND
            self.known[way] = (None if done else self.finder.checker.next(p, symptoms), done)
        return self.known[way][0]

    def _complaint(self, row: int) -> list[Symptom]:
        """Return the first thing that is seen: every lamp in the first setting in which one is wrong."""
        lamps = [k for k, one in enumerate(self.book.watched) if one.is_lamp]
        looks = self.book.looks
        setting = next(s for s in range(len(self.book.settings)) if (looks[row, s, lamps] != looks[0, s, lamps]).any())
        return [Saw(setting, k, int(looks[row, setting, k]), "") for k in lamps]

    def _shows(self, row: int, check: Check) -> list[Symptom]:
        book, reasoner = self.book, self.finder.reasoner
        if check.kind in ("bulb", "fuse"):
            return [Tried(check.target, ("no change", "helps", "blows")[int(reasoner.outcome(check.target)[row])], "")]
        setting = next(s for s, controls in enumerate(book.settings) if controls.words == check.setting)
        if check.kind == "look":
            lamps = [k for k, one in enumerate(book.watched) if one.is_lamp]
            return [Saw(setting, k, int(book.looks[row, setting, k]), "") for k in lamps]
        point = next(k for k, one in enumerate(book.points) if one.name == check.target)
        return [Measured(setting, point, round(float(book.volts_v[row, setting, point]), 1), "")]


def test_points(finder: Finder) -> tuple[TestPoint, ...]:
    """Return the places that would split most faults if a meter reached them, the best first.

    Counted over pairs of faults that show the same lamps, each pair by the weight of both: what share of the pairs that
    looks, bulbs, fuses and all readings outside the box leave together does one more place tell apart?
    """
    book, reasoner = finder.book, finder.reasoner
    noticed = np.flatnonzero((book.looks != book.looks[0]).any(axis=(1, 2)))
    if not len(noticed):
        return ()
    outside = {k: point.access not in ("hidden", "box") for k, point in enumerate(book.points)}
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
    for k, point in enumerate(book.points):
        if outside[k]:
            continue
        volts, sigma = book.volts_v[noticed][:, :, k], reasoner.sigma_v[noticed][:, :, k]
        off = np.abs(volts[first] - volts[second]) > APART * np.hypot(sigma[first], sigma[second])
        split = float(pair_weight[off.any(axis=1)].sum()) / total
        if split > 0.001:
            found.append(TestPoint(terminal=point.at, words=point.words, where=point.access, splits=split))
    found.sort(key=lambda one: -one.splits)
    return tuple(found[:_MOST_POINTS])
