"""Trials of finding a fault: a true fault, an observer who errs now and then, and two ways to choose the next check.

``ours``: the check worth most for its effort. ``manual``: a fixed order as manuals have it: look at every lamp with
each control, try the bulb of a lamp that is wrong, then the fuses, then measure from the source to the lamp. Both draw
the same conclusions from what they see (the same posterior, the same moment to stop): only the order differs.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np

from tests import steps
from wiregen.model.circuit import Fuse
from wiregen.questions.faults.diagnosis import LOOKS, Change, FaultBook
from wiregen.questions.faults.finder import FOUND, Finder
from wiregen.questions.faults.symptom import Measured, Saw, Symptom, Tried
from wiregen.questions.faults.weigh import APART, METER_V, Reasoner

BUS = Path(__file__).parent.parent / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"


@cache
def demo_finder(trailer: str) -> Finder:
    """The demo with one of its trailers, worked out once for all tests."""
    return steps.fault_finder(steps.load(BUS), trailer)


#: A look is wrong, and a reading too, this often.
WRONG = 0.01
MOST_CHECKS = 40
#: Half-way between the sizes of the library, in proportion, ohm.
OFF_SIZE_OHM = (0.7, 1.4, 3.2)


@dataclass(frozen=True)
class Trial:
    """How one search went.

    Attributes:
        case: Row of the true fault.
        checks: Checks done after the complaint.
        effort: What they cost, in looks at the lamps.
        rank: Place of the true fault among the suspects at the end, from 1.
    """

    case: int
    checks: int
    effort: float
    rank: int


class Observer:
    """Sees what a case shows, with the tolerance of a meter and a mistake now and then.

    Args:
        book: The book that holds what is true.
        row: The true fault in it.
        seed: Seed of the mistakes.
        wrong: How often a look or a reading is wrong.
        case: Row in the searcher's book, where that is another one.
    """

    def __init__(self, book: FaultBook, row: int, seed: int, wrong: float = WRONG, case: int | None = None) -> None:
        self.book, self.row, self.wrong = book, row, wrong
        self.case = row if case is None else case
        self.random = random.Random(seed)
        # One rig, one day: battery, temperature and age move every reading of a kind the same way.
        self.day = self.random.gauss(0, 1)

    def look(self, setting: int) -> list[Symptom]:
        lamps = [row for row, one in enumerate(self.book.watched) if one.is_lamp]
        return [Saw(setting, lamp, self._seen(setting, lamp), "") for lamp in lamps]

    def _seen(self, setting: int, lamp: int) -> int:
        true = int(self.book.looks[self.row, setting, lamp])
        return self.random.randrange(len(LOOKS)) if self.random.random() < self.wrong else true

    def measure(self, setting: int, point: int) -> Measured:
        volts = float(self.book.volts_v[self.row, setting, point])
        if self.random.random() < self.wrong:
            volts = self.random.uniform(0, 28)
        else:
            moved = 1 + self.book.spread[setting, point] * max(-2.0, min(2.0, self.day))
            volts = volts * moved + self.random.gauss(0, METER_V / 2)
        return Measured(setting, point, round(volts, 1), "")

    def attempt(self, reasoner: Reasoner, ref: str) -> Tried:
        return Tried(ref, ("no change", "helps", "blows")[int(reasoner.outcome(ref)[self.case])], "")

    def complaint(self) -> list[Symptom]:
        """What makes somebody look for a fault: the first setting, simplest first, in which a lamp is wrong."""
        for setting in range(len(self.book.settings)):
            if (self.book.looks[self.row, setting] != self.book.looks[0, setting]).any():
                wrong = np.flatnonzero(self.book.looks[self.row, setting] != self.book.looks[0, setting])
                return [Saw(setting, int(row), int(self.book.looks[self.row, setting, row]), "") for row in wrong]
        return []


def ours(finder: Finder, observer: Observer) -> Trial:
    """Search with the check worth most for its effort."""
    book, reasoner = finder.book, finder.reasoner
    symptoms: list[Symptom] = list(observer.complaint())
    checks, effort = 0, 0.0
    while checks < MOST_CHECKS:
        p = reasoner.posterior(symptoms)
        if finder.leading(p) >= FOUND:
            break
        check = finder.checker.next(p, symptoms)
        if check is None:
            break
        settings = [controls.words for controls in book.settings]
        if check.kind == "look":
            symptoms += observer.look(settings.index(check.setting))
        elif check.kind == "meter":
            point = next(row for row, one in enumerate(book.points) if one.name == check.target)
            symptoms.append(observer.measure(settings.index(check.setting), point))
        else:
            symptoms.append(observer.attempt(reasoner, check.target))
        checks, effort = checks + 1, effort + check.effort
    return Trial(observer.case, checks, effort, rank(finder, symptoms, observer.case))


def manual(finder: Finder, observer: Observer) -> Trial:
    """Search in the fixed order of a manual, source to lamp."""
    reasoner = finder.reasoner
    symptoms: list[Symptom] = list(observer.complaint())
    checks, effort, box = 0, 0.0, False
    for kind, setting, point, ref in manual_order(finder, symptoms):
        if checks >= MOST_CHECKS or finder.leading(reasoner.posterior(symptoms)) >= FOUND:
            break
        if kind == "look":
            symptoms += observer.look(setting)
            effort += finder.checker.efforts.of["look"]
        elif kind == "meter":
            access = finder.book.points[point].access
            effort += finder.checker.efforts.meter(access, is_open=box)
            box = box or access == "adapter"
            symptoms.append(observer.measure(setting, point))
        else:
            symptoms.append(observer.attempt(reasoner, ref))
            effort += finder.checker.efforts.of[finder.checker._try_kind(ref)]
        checks += 1
    return Trial(observer.case, checks, effort, rank(finder, symptoms, observer.case))


def manual_order(finder: Finder, symptoms: Sequence[Symptom]) -> Iterator[tuple[str, int, int, str]]:
    """Yield the checks of a manual: looks, bulbs, fuses, then the meter from the source to the lamp."""
    book = finder.book
    singles = [row for row, controls in enumerate(book.settings) if controls.weight <= 1]
    for setting in singles:
        yield "look", setting, -1, ""
    wrong = [one for one in symptoms if isinstance(one, Saw)]
    for one in wrong:
        if book.watched[one.watched].is_bulb:
            yield "bulb", -1, -1, book.watched[one.watched].ref
    setting = wrong[0].setting if wrong else singles[-1]
    way = source_to_lamp(finder, wrong[0].watched if wrong else 0)
    for fuse in book.circuit.of(Fuse):
        if fuse.a in way or fuse.b in way:
            yield "fuse", -1, -1, fuse.ref
    for point in sorted(
        (row for row, one in enumerate(book.points) if one.at in way and one.access != "hidden"),
        key=lambda row: way.index(book.points[row].at),
    ):
        yield "meter", setting, point, ""


def source_to_lamp(finder: Finder, watched: int) -> list[str]:
    """Return the terminals on the way from the battery through the lamp back to the battery."""
    import networkx as nx

    book = finder.book
    graph = nx.Graph(book.circuit.graph())
    part = book.circuit.by_ref[book.watched[watched].ref]
    feed = graph.copy()
    feed.remove_nodes_from([book.circuit.reference, part.b])
    coils = [e for e in book.circuit.elements if e.circuit == part.circuit and type(e).__name__ == "Coil"]
    start = book.circuit.elements[0].a
    way: list[str] = []
    for goal in (*(coil.a for coil in coils), part.a):
        if goal in feed and nx.has_path(feed, start, goal):
            way += [name for name in nx.shortest_path(feed, start, goal) if name not in way]
    way += [name for name in nx.shortest_path(graph, part.b, book.circuit.reference) if name not in way]
    return way


def rank(finder: Finder, symptoms: Sequence[Symptom], case: int) -> int:
    """Return the place of a case among the suspects; what no check can tell from it does not count against it."""
    p = finder.reasoner.posterior(symptoms)
    mass = np.bincount(finder.group, weights=p)
    same = alike_to(finder, case)
    before = np.flatnonzero(mass > mass[finder.group[case]])
    return 1 + sum(1 for number in before if not same & set(map(int, np.flatnonzero(finder.group == number))))


_ALIKE: dict[tuple[int, int], frozenset[int]] = {}


def alike_to(finder: Finder, case: int) -> frozenset[int]:
    """Return the cases that no look, try or reading tells from one."""
    if (id(finder), case) not in _ALIKE:
        book, reasoner = finder.book, finder.reasoner
        reached = [point.access != "hidden" for point in book.points]
        volts = book.volts_v[:, :, reached]
        sigma = np.stack([reasoner.sigma_v(s, np.array(reached)) for s in range(len(book.settings))], axis=1)
        same = (np.abs(volts - volts[case]) <= APART * np.hypot(sigma, sigma[case])).all(axis=(1, 2))
        for pattern in (*reasoner.patterns, *(reasoner.outcome(ref) for ref in reasoner.tries)):
            same &= pattern == pattern[case]
        _ALIKE[id(finder), case] = frozenset(map(int, np.flatnonzero(same)))
    return _ALIKE[id(finder), case]


def drawn(finder: Finder, count: int, seed: int) -> list[int]:
    """Draw faults that somebody notices, as often as they happen."""
    book = finder.book
    noticed = (book.looks != book.looks[0]).any(axis=(1, 2))
    weight = np.where(noticed, finder.reasoner.prior, 0.0)
    return random.Random(seed).choices(range(len(book.cases)), weight.tolist(), k=count)


def off_size(finder: Finder) -> list[tuple[FaultBook, int, int]]:
    """Return poor joints of sizes the library does not have: (book, row, a case of the same joint) of each seen."""
    book = finder.book
    cases, near = [book.cases[0]], [0]
    for row, case in enumerate(book.cases):
        if case.key.endswith(" +1 ohm") and case.fault is not None:
            part = book.circuit.by_ref[case.part]
            for ohm in OFF_SIZE_OHM:
                poor = replace(part, resistance_ohm=part.resistance_ohm + ohm)
                fault = replace(case.fault, ohm=ohm)
                cases.append(replace(case, key=f"{case.key} {ohm}", fault=fault, change=Change(put=(poor,))))
                near.append(row)
    made = finder.solve(cases)
    lamps = [row for row, one in enumerate(book.watched) if one.is_lamp]
    seen = (made.looks[:, :, lamps] != made.looks[0][:, lamps]).any(axis=(1, 2))
    return [(made, row, near[row]) for row in range(1, len(cases)) if seen[row]]
