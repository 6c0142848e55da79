"""What follows from what was seen: suspects by part, what cannot be told apart, and pairs where one is not enough."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from functools import cached_property
from itertools import combinations
from typing import Final

import numpy as np
import numpy.typing as npt

from wiregen.questions.faults.checks import DIGITS, CheckFinder, Efforts
from wiregen.questions.faults.diagnosis import Array, Diagnosis, FaultBook, FaultCase, Suspect, Verdict
from wiregen.questions.faults.symptom import Symptom
from wiregen.questions.faults.weigh import Numbers, Reasoner

Flags = npt.NDArray[np.bool_]

#: A suspect this likely is called found; one less likely than the second is not listed.
FOUND, LISTED = 0.9, 0.02
_MOST_LISTED: Final = 8
#: Kinds whose sizes are one suspect.
_SIZED: Final = "_resistance"
#: Pairs are made of so many single faults at the most.
_MOST_IN_PAIRS: Final = 16
_MOST_PAIRS: Final = 60
_PAIRS_TOLD: Final = 5


class Finder:
    """Finds the fault of one rig with one trailer.

    Args:
        book: What every single fault looks like.
        efforts: What checks cost.
        solve: Solves further cases in the same settings; the first is that nothing is wrong.
        title: Title of the rig.
        digest: Digest of the rig file.
        cautions: What can hurt.
    """

    def __init__(
        self,
        book: FaultBook,
        efforts: Efforts,
        solve: Callable[[Sequence[FaultCase]], FaultBook],
        *,
        title: str = "",
        digest: str = "",
        cautions: tuple[str, ...] = (),
    ) -> None:
        self.book, self.solve = book, solve
        self.title, self.digest, self.cautions = title, digest, cautions
        self.reasoner = Reasoner(book)
        self.checker = CheckFinder(self.reasoner, efforts, [case.words for case in book.cases])

    def diagnose(self, symptoms: Sequence[Symptom], skipped: Collection[str] = (), *, pairs: bool = False) -> Diagnosis:
        """Return what follows from some symptoms.

        Args:
            symptoms: What was seen, measured and tried.
            skipped: Keys of checks that cannot be done.
            pairs: Whether to look for two faults at once even where a single one explains all.
        """
        p = self.reasoner.posterior(symptoms)
        suspects = self.suspects(p)
        check = self.checker.next(p, symptoms, skipped) if suspects[0].probability < FOUND else None
        listed = tuple(one for one in suspects if one.probability >= LISTED) or tuple(suspects[:1])
        explained = self.explained(symptoms)
        lonely = len(symptoms) > 1 and not explained.all(axis=0).any()
        verdict: Verdict = "ask" if check else "found" if listed[0].probability >= FOUND else "alike"
        top = self._row(listed[0])
        return Diagnosis(
            title=self.title,
            trailer=self.book.circuit.trailer,
            digest=self.digest,
            symptoms=tuple(one.text for one in symptoms),
            verdict="unexplained" if lonely else verdict,
            suspects=listed,
            rest=max(0.0, 1 - math.fsum(one.probability for one in listed)),
            check=check,
            alike=self.alike(listed) if check is None else (),
            against=tuple(one.text for one, fits in zip(symptoms, explained, strict=True) if not fits[top]),
            pairs=self.pairs(symptoms, explained) if lonely or (pairs and symptoms) else (),
            cautions=self.cautions,
        )

    def explained(self, symptoms: Sequence[Symptom]) -> Flags:
        """Return which cases show each symptom without a mistake, shape (symptoms, cases)."""
        rows = [self.reasoner.explains(one) for one in symptoms]
        return np.array(rows, dtype=bool).reshape(len(symptoms), len(self.book.cases))

    def suspects(self, p: Array, most: int = _MOST_LISTED) -> list[Suspect]:
        """Return the likeliest suspects, most likely first; all sizes of one poor joint are one suspect."""
        mass = np.bincount(self.group, weights=p)
        order = np.argsort(-mass.round(DIGITS), kind="stable")[:most]
        return [self._suspect(np.flatnonzero(self.group == number), p) for number in order]

    @cached_property
    def group(self) -> Numbers:
        """For each case the number of the suspect it belongs to."""
        names: dict[tuple[str, str], int] = {}
        found = []
        for case in self.book.cases:
            name = case.part if case.kind.endswith(_SIZED) else case.key
            found.append(names.setdefault((name, case.kind), len(names)))
        return np.array(found, dtype=np.intp)

    def leading(self, p: Array) -> float:
        """Return how likely the first suspect is."""
        return float(np.bincount(self.group, weights=p).max())

    def _suspect(self, rows: Numbers, p: Array) -> Suspect:
        rows = rows[np.argsort(-p[rows].round(DIGITS), kind="stable")]
        case = self.book.cases[rows[0]]
        return Suspect(
            keys=tuple(self.book.cases[row].key for row in rows),
            part=case.part,
            kind=case.kind,
            words=case.words,
            cure=case.cure,
            probability=float(p[rows].sum()),
            danger=danger_words(self.book, int(rows[0])),
            note=case.note,
            story=story_words(self.book, int(rows[0])),
        )

    def _row(self, suspect: Suspect) -> int:
        return next(row for row, case in enumerate(self.book.cases) if case.key == suspect.keys[0])

    def alike(self, suspects: Sequence[Suspect]) -> tuple[tuple[int, ...], ...]:
        """Return the groups of suspects, by their place, that no check can tell apart."""
        apart = self.reasoner.apart([self._row(one) for one in suspects])
        groups: list[list[int]] = []
        for place in range(len(suspects)):
            home = next((group for group in groups if not apart[group[0], place]), None)
            if home is None:
                groups.append([place])
            else:
                home.append(place)
        return tuple(tuple(group) for group in groups if len(group) > 1)

    # --- two faults ---

    def pairs(self, symptoms: Sequence[Symptom], explained: Flags) -> tuple[tuple[str, str, float], ...]:
        """Return pairs of faults that together show all symptoms, the likely first, with their share among such pairs.

        A pair is worth solving where each symptom is shown by one of the two alone.
        """
        wrong = explained[~explained[:, 0]]
        if not len(wrong):
            return ()
        rank = wrong.sum(axis=0) + np.log10(self.reasoner.prior)
        # Where one alone is enough, another is beside the point.
        some = wrong.any(axis=0) & ~wrong.all(axis=0)
        useful = sorted(np.flatnonzero(some), key=lambda row: -rank[row])
        # Every symptom keeps its own best suspects, so that a rare one is not crowded out.
        chosen = dict.fromkeys(int(row) for row in useful[: _MOST_IN_PAIRS // 2])
        for shown in wrong:
            own = sorted(np.flatnonzero(shown & some), key=lambda row: -self.reasoner.prior[row])
            chosen.update(dict.fromkeys(int(row) for row in own[: _MOST_IN_PAIRS // max(2, len(wrong))]))
        couples = [
            (a, b)
            for a, b in combinations(chosen, 2)
            if (wrong[:, a] | wrong[:, b]).all() and self.book.cases[a].part != self.book.cases[b].part
        ]
        couples.sort(key=lambda pair: -self.reasoner.prior[pair[0]] * self.reasoner.prior[pair[1]])
        couples = couples[:_MOST_PAIRS]
        if not couples:
            return ()
        both = [_both(self.book.cases[a], self.book.cases[b]) for a, b in couples]
        solved = Reasoner(self.solve([self.book.cases[0], *both]))
        table = np.array([solved.explains(one) for one in symptoms], dtype=bool)
        fits: Flags = table.all(axis=0) & (np.arange(table.shape[1]) > 0)
        if not fits.any():
            return ()
        likely: Array = np.where(fits, solved.posterior(symptoms), 0.0)
        weight: Array = np.asarray(likely / likely.sum())
        order = np.argsort(-weight.round(DIGITS), kind="stable")[:_PAIRS_TOLD]
        cases = self.book.cases
        return tuple(
            (cases[couples[row - 1][0]].words, cases[couples[row - 1][1]].words, float(weight[row]))
            for row in order
            if weight[row] > LISTED
        )


def _both(first: FaultCase, second: FaultCase) -> FaultCase:
    return replace(
        first,
        key=f"{first.key} and {second.key}",
        kind=first.kind if first.kind.endswith(_SIZED) else second.kind,
        words=f"{first.words}, and {second.words}",
        weight=first.weight * second.weight,
        change=first.change.also(second.change),
        fault=None,
        is_short=first.is_short or second.is_short,
        flasher=first.flasher or second.flasher,
    )


def danger_words(book: FaultBook, row: int) -> str:
    """Return what a case does that can hurt: too much voltage, a short that no fuse ends, brakes that are lost."""
    words = []
    over = [book.watched[k].name for k in np.flatnonzero(book.over_v[row] > 1.0) if book.over_v[0, k] <= 1.0]
    if over:
        words.append(f"too much voltage at {', '.join(over)}")
    if book.cases[row].kind == "short_ground" and row in book.opened and not book.opened[row].fuse:
        words.append("no fuse opens: the wire may burn")
    loads = [k for k, one in enumerate(book.watched) if one.function == "brake"]
    if any((book.looks[row, :, k] < book.looks[0, :, k]).any() for k in loads):
        words.append("the trailer does not brake as it should")
    if any((book.looks[row, :, k] > book.looks[0, :, k]).any() for k in loads):
        words.append("the trailer brakes by itself")
    return "; ".join(words)


def story_words(book: FaultBook, row: int) -> str:
    """Return what a short does to its fuse, in words; empty for other faults."""
    opened = book.opened.get(row)
    if opened is None or not opened.fuse:
        return ""
    fuse = opened.fuse.lstrip("-")
    amps = f"{opened.current_a:.0f} A, {opened.times:.1f} times its rating"
    return f"fuse {fuse} opens ({opened.state}: {amps})"
