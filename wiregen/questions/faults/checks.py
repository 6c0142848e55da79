"""The next check: which one is worth most for its effort, and how to put it to somebody."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from wiregen.model.circuit import Fuse
from wiregen.questions.faults.diagnosis import Array, Check, Outcome
from wiregen.questions.faults.symptom import Measured, Saw, Symptom, Tried, measured_text, saw_text
from wiregen.questions.faults.weigh import Reasoner

#: A check that is expected to tell less than this is not worth doing, bit.
LEAST_BITS: Final = 0.03
#: ... nor one that tells less than this for each look's worth of effort, bit.
_LEAST_SCORE: Final = 0.008
#: Checks whose worth differs by no more than this share are equal: the first one stands.
_EQUAL: Final = 0.01
#: Chances are compared to so many digits, so that equal ones keep their order whatever way they were summed.
DIGITS: Final = 9
#: A reading while a lamp flashes is harder to take; each further control wants another hand (assumed).
_FLASHING, _MORE_CONTROLS = 1.5, 0.25
#: Cases less likely than this are not asked what they would show.
_LIVE: Final = 1e-3
_MOST_OUTCOMES: Final = 5
#: Readings nearer than this are told as one, V.
_SAME_V: Final = 0.8


@dataclass(frozen=True)
class Efforts:
    """What each kind of check costs, by its key, in looks at the lamps."""

    of: Mapping[str, float]

    def meter(self, access: str, *, is_open: bool) -> float:
        """Return what a reading costs; in an adapter that is open already as much as at a connector."""
        return self.of["connector"] if access == "adapter" and is_open else self.of[access]


@dataclass(frozen=True, slots=True)
class _Bid:
    """One possible check with what it gives and costs."""

    key: str
    gain: float
    effort: float
    setting: int = -1
    point: int = -1
    ref: str = ""

    @property
    def score(self) -> float:
        return self.gain / self.effort

    @property
    def is_worth_it(self) -> bool:
        return self.gain >= LEAST_BITS and self.score >= _LEAST_SCORE


class CheckFinder:
    """Chooses checks.

    Args:
        reasoner: Weighs the cases.
        efforts: What checks cost.
        names: What to call each case, in words.
    """

    def __init__(self, reasoner: Reasoner, efforts: Efforts, names: Sequence[str]) -> None:
        self.reasoner, self.book, self.efforts, self.names = reasoner, reasoner.book, efforts, names
        self.words = [controls.words for controls in self.book.settings]

    def next(self, p: Array, symptoms: Sequence[Symptom], skipped: Collection[str] = ()) -> Check | None:
        """Return the check that is worth most for its effort; None where none is worth it.

        Args:
            p: How likely each case is.
            symptoms: What was seen already.
            skipped: Keys of checks that cannot be done.
        """
        bids = [bid for bid in self._bids(p, symptoms) if bid.key not in skipped and bid.is_worth_it]
        meters = self._meters(p, symptoms, skipped)
        most = max([float(meters.max(initial=0.0)), *(bid.score for bid in bids)])
        # Of equal ones the first stands: looks before bulbs, bulbs before meters, the battery's end before the lamp's.
        best = next((bid for bid in bids if bid.score >= most * (1 - _EQUAL)), None)
        if best is None and most > 0:
            point, setting = divmod(int(np.argmax(meters >= most * (1 - _EQUAL))), len(self.book.settings))
            effort = float(self._effort(symptoms)[point, setting])
            key = f"meter {self.book.points[point].name}, {self.words[setting]}"
            best = _Bid(key, float(meters[point, setting]) * effort, effort, setting=setting, point=point)
        return None if best is None else self.told(best, p)

    def _bids(self, p: Array, symptoms: Sequence[Symptom]) -> Iterator[_Bid]:
        """Yield what may be looked at, then what may be tried."""
        yield from self._looks(p, symptoms)
        tried = {one.ref for one in symptoms if isinstance(one, Tried)}
        for ref in self.reasoner.tries:
            if ref not in tried:
                effort = self.efforts.of[self._try_kind(ref)]
                yield _Bid(f"try {ref}", self.reasoner.gain_of_try(p, ref), effort, ref=ref)

    def _try_kind(self, ref: str) -> str:
        element = self.book.circuit.by_ref[ref]
        if not isinstance(element, Fuse):
            return "bulb"
        return "adapter fuse" if element.zone == "adapter" else "fuse"

    def _looks(self, p: Array, symptoms: Sequence[Symptom]) -> Iterator[_Bid]:
        seen = {(one.setting, one.watched) for one in symptoms if isinstance(one, Saw)}
        lamps = [row for row, one in enumerate(self.book.watched) if one.is_lamp]
        gains = self.reasoner.gain_of_looks(p)
        for setting, controls in enumerate(self.book.settings):
            if all((setting, lamp) in seen for lamp in lamps):
                continue
            effort = self.efforts.of["look"] * (1 + _MORE_CONTROLS * max(0, controls.weight - 1))
            yield _Bid(f"look {self.words[setting]}", float(gains[setting]), effort, setting=setting)

    def _meters(self, p: Array, symptoms: Sequence[Symptom], skipped: Collection[str]) -> Array:
        """Return what each reading gives for its effort, bit, shape (points, settings); 0 where it is not worth it."""
        gains = self.reasoner.gain_of_readings(p).T
        score = gains / self._effort(symptoms)
        score[(gains < LEAST_BITS) | (score < _LEAST_SCORE)] = 0.0
        for one in symptoms:
            if isinstance(one, Measured):
                score[one.point, one.setting] = 0.0
        names = {f"meter {place.name}": point for point, place in enumerate(self.book.points)}
        for key in skipped:
            name, _, words = key.partition(", ")
            if name in names and words in self.words:
                score[names[name], self.words.index(words)] = 0.0
        return np.asarray(score)

    def _effort(self, symptoms: Sequence[Symptom]) -> Array:
        """Return what each reading costs after what was seen, in looks at the lamps, shape (points, settings)."""
        points = self.book.points
        return self._costs[any(points[one.point].access == "adapter" for one in symptoms if isinstance(one, Measured))]

    @cached_property
    def _costs(self) -> tuple[Array, Array]:
        """What each reading costs while the adapter is shut, and once it is open."""
        more = [
            (1 + _MORE_CONTROLS * max(0, controls.weight - 1)) * (_FLASHING if flashing else 1)
            for controls, flashing in zip(self.book.settings, self.book.flashing, strict=True)
        ]
        # Nobody cuts tape open to measure.
        shut, opened = (
            np.array(
                [
                    np.inf if place.access == "hidden" else self.efforts.meter(place.access, is_open=is_open)
                    for place in self.book.points
                ]
            )
            for is_open in (False, True)
        )
        return np.outer(shut, more), np.outer(opened, more)

    # --- in words ---

    def told(self, bid: _Bid, p: Array) -> Check:
        """Return a check with its instruction and what it may show."""
        if bid.ref:
            return self._told_try(bid, p)
        return self._told_meter(bid, p) if bid.point >= 0 else self._told_look(bid, p)

    def look(self, setting: int, p: Array) -> Check:
        """Return a look at all lamps in a setting."""
        return self.told(_Bid(f"look {self.book.settings[setting].words}", 0.0, self.efforts.of["look"], setting), p)

    def _told_look(self, bid: _Bid, p: Array) -> Check:
        book, controls = self.book, self.book.settings[bid.setting]
        lamps = [row for row, one in enumerate(book.watched) if one.is_lamp]
        groups: dict[int, list[int]] = {}
        for row, pattern in enumerate(self.reasoner.patterns[bid.setting]):
            groups.setdefault(int(pattern), []).append(row)
        outcomes = []
        for rows in groups.values():
            mass = float(p[rows].sum())
            if mass > _LIVE:
                seen = [(book.watched[k], int(book.looks[rows[0], bid.setting, k])) for k in lamps]
                words = self.picture(rows[0], bid.setting, lamps)
                outcomes.append(self._outcome(words, saw_text(controls, seen), mass, rows, p))
        return self._check(
            bid, "look", "lamps", f"Switch on: {controls.words}." if controls.weight else "Switch everything off.",
            "", outcomes, self.picture(0, bid.setting, lamps),
        )  # fmt: skip

    def picture(self, row: int, setting: int, lamps: Sequence[int]) -> str:
        """Return what all lamps show with a case, told as what differs from a healthy rig."""
        looks, right = self.book.looks[row, setting], self.book.looks[0, setting]
        wrong: dict[str, list[str]] = {}
        for lamp in lamps:
            if looks[lamp] != right[lamp]:
                one = self.book.watched[lamp]
                wrong.setdefault(one.shows(int(looks[lamp])), []).append(one.name)
        if not wrong:
            on = [(self.book.watched[k], int(right[k])) for k in lamps if right[k]]
            burning = [f"{one.name} {one.shows(look)}" for one, look in on]
            return f"as it should be ({', '.join(burning) or 'all dark'})"
        if len(wrong) == 1 and len(next(iter(wrong.values()))) == len(lamps) > 1:
            return f"all lamps {next(iter(wrong))}"
        return "; ".join(f"{', '.join(names)}: {look}" for look, names in wrong.items())

    def _told_try(self, bid: _Bid, p: Array) -> Check:
        element, name = self.book.circuit.by_ref[bid.ref], bid.ref.lstrip("-")
        did = self.reasoner.outcome(bid.ref)
        is_fuse = isinstance(element, Fuse)
        kind = "fuse" if is_fuse else "bulb"
        says = {1: ("it works again", "helps"), 0: ("no change", "no change"), 2: ("the new one blows too", "blows")}
        outcomes = []
        for code, (words, symptom) in says.items():
            rows = np.flatnonzero(did == code)
            mass = float(p[rows].sum())
            if mass > _LIVE:
                outcomes.append(self._outcome(words, f"{kind} {name}: {symptom}", mass, rows.tolist(), p))
        if isinstance(element, Fuse):
            words = f"Look at fuse {name}, then fit a new one of the same {element.rating_a:g} A."
            access = "adapter" if element.zone == "adapter" else "vehicle"
        else:
            what = next(one for one in self.book.watched if one.ref == bid.ref)
            words = f"Fit a good bulb in {what.name} ({name}). Of several try each."
            access = "lamp"
        return self._check(bid, kind, access, words, bid.ref, outcomes, "no change")

    def _told_meter(self, bid: _Bid, p: Array) -> Check:
        place, controls = self.book.points[bid.point], self.book.settings[bid.setting]
        healthy = float(self.book.volts_v[0, bid.setting, bid.point])
        words = f"Switch on: {controls.words}." if controls.weight else "Switch everything off."
        words += f" Red lead on {place.words}; black lead on {place.minus}."
        if self.book.flashing[bid.setting]:
            words += " Take the highest reading while it flashes."
        outcomes = self._readings(bid, p)
        return self._check(bid, "meter", place.access, words, place.name, outcomes, f"{round(healthy, 1) + 0.0:.1f} V")

    def _readings(self, bid: _Bid, p: Array) -> list[Outcome]:
        """Return the readings to expect: the cases that read alike together."""
        volts = self.book.volts_v[:, bid.setting, bid.point]
        sigma = self.reasoner.sigma_v(bid.setting, bid.point)
        live = np.flatnonzero(p > _LIVE)
        live = live[np.argsort(volts[live], kind="stable")]
        groups: list[list[int]] = []
        for row in live:
            if groups and volts[row] - volts[groups[-1][-1]] < max(_SAME_V, sigma[row]):
                groups[-1].append(int(row))
            else:
                groups.append([int(row)])
        found = []
        for rows in groups:
            low, high = float(volts[rows].min()), float(volts[rows].max())
            middle = float(np.average(volts[rows], weights=p[rows]))
            middle = round(middle, 1) + 0.0
            words = f"about {middle:.1f} V" if high - low < _SAME_V else f"{round(low, 1) + 0.0:.1f} to {high:.1f} V"
            controls = self.book.settings[bid.setting]
            symptom = measured_text(self.book.points[bid.point].name, controls, middle)
            found.append(self._outcome(words, symptom, float(p[rows].sum()), rows, p))
        return found

    def _outcome(self, words: str, symptom: str, mass: float, rows: Sequence[int], p: Array) -> Outcome:
        best = max(rows, key=lambda row: round(float(p[row]), DIGITS))
        clear = p[best] / mass > 0.5 if mass else False
        return Outcome(words=words, symptom=symptom, probability=mass, points_to=self.names[best] if clear else "")

    def _check(
        self, bid: _Bid, kind: str, access: str, words: str, target: str, outcomes: list[Outcome], healthy: str
    ) -> Check:
        outcomes.sort(key=lambda one: -round(one.probability, DIGITS))
        return Check(
            key=bid.key,
            kind=kind,  # type: ignore[arg-type]
            access=access,
            setting=self.book.settings[bid.setting].words if bid.setting >= 0 else "",
            words=words,
            target=target,
            effort=bid.effort,
            gain_bits=bid.gain,
            outcomes=tuple(outcomes[:_MOST_OUTCOMES]),
            healthy=healthy,
        )
