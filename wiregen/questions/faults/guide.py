"""A guide to print: for each symptom the checks in a fixed order, with what each shows on this rig.

Paper cannot ask back, so the order is made once: after each check the next is the one worth most for its effort if the
check showed what it most likely shows. Whatever else it may show stands beside it with the suspects it then leaves.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from wiregen.model.fault_guide import FaultGuide, GuideEntry, GuideStep
from wiregen.questions.faults.checks import DIGITS
from wiregen.questions.faults.diagnosis import Array, Check, Outcome
from wiregen.questions.faults.finder import FOUND, LISTED, Finder, Flags, danger_words
from wiregen.questions.faults.symptom import Saw, Symptom, measured_from, saw_from, saw_text, tried_from

#: A guide is made for what happens at least this often, and a list is no longer than so many checks.
_LEAST_SHARE, _MOST_STEPS = 0.008, 6
_MOST_NAMED: Final = 3
#: Suspects that cover this much of what a check leaves are enough to name.
_ENOUGH: Final = 0.9
#: Two symptoms with so much of their suspects in common are one.
_SAME: Final = 0.85


def fault_guide(finder: Finder) -> FaultGuide:
    """Return the guide of a rig with one trailer."""
    symptoms = sorted(_symptoms_of(finder), key=lambda one: -round(one.share, DIGITS))
    chosen: list[list[_Symptom]] = []
    for one in symptoms:
        home = next((group for group in chosen if _alike(one.p, group[0].p)), None)
        if home is None:
            chosen.append([one])
        else:
            home.append(one)
    return FaultGuide(
        title=finder.title,
        trailer=finder.book.circuit.trailer,
        digest=finder.digest,
        entries=tuple(_entry(finder, group) for group in chosen),
        cautions=finder.cautions,
    )


@dataclass(frozen=True)
class _Symptom:
    """What all lamps show with one control, or what one load does: setting, (watched, look) pairs, its cases."""

    setting: int
    shown: tuple[tuple[int, int], ...]
    share: float
    p: Array


def _symptoms_of(finder: Finder) -> Iterator[_Symptom]:
    book, prior = finder.book, finder.reasoner.prior
    lamps = [row for row, one in enumerate(book.watched) if one.is_lamp]
    groups = [lamps, *([row] for row, one in enumerate(book.watched) if not one.is_lamp)]
    for setting, controls in enumerate(book.settings):
        if controls.weight > 1:
            continue
        for group in groups:
            looks = book.looks[:, setting, group]
            for picture in np.unique(looks, axis=0):
                fits = (looks == picture).all(axis=1)
                share = float(prior[fits].sum())
                if not fits[0] and share >= _LEAST_SHARE:
                    pairs = tuple((row, int(look)) for row, look in zip(group, picture, strict=True))
                    yield _Symptom(setting, pairs, share, np.where(fits, prior, 0.0) / share)


def _alike(first: Array, second: Array) -> bool:
    return float(np.minimum(first, second).sum()) >= _SAME


def _picture(finder: Finder, symptom: _Symptom) -> tuple[str, str]:
    row, lamps = int(np.argmax(symptom.p.round(DIGITS))), [watched for watched, _ in symptom.shown]
    return finder.book.settings[symptom.setting].words, finder.checker.picture(row, symptom.setting, lamps)


def _entry(finder: Finder, group: Sequence[_Symptom]) -> GuideEntry:
    symptom = group[0]
    book, controls = finder.book, finder.book.settings[symptom.setting]
    right = book.looks[0, symptom.setting]
    wrong = [(book.watched[lamp], look) for lamp, look in symptom.shown if look != right[lamp]]
    text = saw_text(controls, [(book.watched[lamp], look) for lamp, look in symptom.shown])
    symptoms: list[Symptom] = list(saw_from(text, book))
    suspects = [one for one in finder.suspects(symptom.p) if one.probability >= LISTED]
    steps: list[GuideStep] = []
    now = symptom.p
    while len(steps) < _MOST_STEPS and finder.leading(now) < FOUND:
        check = finder.checker.next(now, symptoms)
        if check is None:
            break
        step, now, new = _step(finder, check, now)
        steps.append(step)
        symptoms += new
    return GuideEntry(
        symptom=saw_text(controls, wrong),
        controls=controls.words,
        pictures=tuple(_picture(finder, one) for one in group),
        shown=tuple((one.name, one.shows(look)) for one, look in wrong),
        suspects=tuple((one.words, one.probability) for one in suspects[:_MOST_NAMED]),
        steps=tuple(steps),
        left=_named(finder, now),
        danger=_danger(finder, symptom.p),
    )


def _step(finder: Finder, check: Check, p: Array) -> tuple[GuideStep, Array, list[Symptom]]:
    """Return a check, how likely each case is after what it most likely shows, and that as symptoms."""
    first = check.outcomes[0]
    symptoms = _symptoms(finder, check, first)
    fits = _fits(finder, symptoms)
    branches = []
    for outcome in check.outcomes[1:]:
        names = _named(finder, np.where(_fits(finder, _symptoms(finder, check, outcome)), p, 0.0))
        if names:
            branches.append((outcome.words, names))
    step = GuideStep(
        words=check.words,
        access=check.access,
        setting=check.setting,
        target=check.target,
        well=check.healthy,
        expect=first.words,
        branches=tuple(branches),
    )
    after = p * fits
    # What is wanted is a clean split for paper: a case that the outcome does not show is out.
    return step, (after / after.sum() if after.sum() > 0 else p), symptoms


def _fits(finder: Finder, symptoms: Sequence[Symptom]) -> Flags:
    """Return which cases show all of some symptoms; a look exactly so, a reading within its tolerance."""
    looks = finder.book.looks
    fits = [
        looks[:, one.setting, one.watched] == one.look if isinstance(one, Saw) else finder.reasoner.explains(one)
        for one in symptoms
    ]
    return np.asarray(np.all(fits, axis=0))


def _symptoms(finder: Finder, check: Check, outcome: Outcome) -> list[Symptom]:
    """Return an outcome of a check as symptoms."""
    if check.kind == "look":
        return list(saw_from(outcome.symptom, finder.book))
    if check.kind == "meter":
        return [measured_from(outcome.symptom, finder.book)]
    return [tried_from(outcome.symptom, finder.book)]


def _named(finder: Finder, p: Array) -> tuple[str, ...]:
    """Return the suspects that make up most of what is left, in words."""
    total = p.sum()
    if total <= 0:
        return ()
    found, covered = [], 0.0
    for one in finder.suspects(p / total)[:_MOST_NAMED]:
        found.append(one.words)
        covered += one.probability
        if covered >= _ENOUGH:
            return tuple(found)
    return (*found, "others")


def _danger(finder: Finder, p: Array) -> str:
    words = {danger_words(finder.book, int(row)) for row in np.flatnonzero(p > LISTED)}
    return "; ".join(sorted(word for word in words if word))
