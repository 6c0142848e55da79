"""A fault guide as lists that refer to each other: what the packet prints and the page walks through.

Symptoms that lead to the same last checks share them: the later list says where it goes on, so that nothing stands
twice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, TypeAlias

from wiregen.model.fault_guide import FaultGuide, GuideEntry, GuideStep
from wiregen.questions.faults.paper import PLACES

#: The rest of a list: its checks, the list that each of their branches leads to, the suspects at the end.
_End: TypeAlias = tuple[tuple[GuideStep, ...], tuple[tuple[int | None, ...], ...], tuple[str, ...]]

#: A shorter end of a list is written out again: turning the page costs more than reading it.
_SHARED_FROM: Final = 2

#: Places that a check's own words do not name.
_UNSAID: Final = ("vehicle", "adapter")

HOW: Final = (
    "For one fault at a time. Find what you see, go to its list, do its checks in their order: each names what it "
    "may show on this rig and what then is to be suspected, the likeliest first. If it shows something else, no "
    "likely single fault does that: read it again, then think of two faults at once."
)
AFTER: Final = (
    "Prove a suspect before you replace it: measure on both its ends, or fit a part that is known to be good. "
    "Then test every lamp and the brakes."
)


@dataclass(frozen=True, slots=True)
class GuidePlace:
    """One check of one list, both counted from 1."""

    number: int
    check: int = 1


@dataclass(frozen=True, slots=True)
class ShownSetting:
    """One thing that a check may show.

    Attributes:
        words: What it shows.
        to: Where it goes on; None when only suspects are left.
        suspects: In words, the likeliest first; empty when it goes on.
    """

    words: str
    to: GuidePlace | None
    suspects: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ListedCheck:
    """One check of a list.

    Attributes:
        words: Where, and what to do.
        in_order: What a meter shows on a rig in order; empty for a check without a meter.
        shown: What it may show, the likeliest first.
    """

    words: str
    in_order: str
    shown: tuple[ShownSetting, ...]


@dataclass(frozen=True, slots=True)
class FaultList:
    """One symptom's list.

    Attributes:
        number: Counted from 1.
        symptom: In words.
        danger: What else may be wrong that can hurt; empty for nothing.
        checks: Those that no earlier list has.
        then: Where the list goes on; None where it ends.
        left: Suspects at its end.
    """

    number: int
    symptom: str
    danger: str
    checks: tuple[ListedCheck, ...]
    then: GuidePlace | None
    left: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GuideLists:
    """The lists of one trailer.

    Attributes:
        trailer: Its name.
        cautions: What can hurt.
        seen: For each setting of the controls what may be seen in it, with the number of its list.
        lists: The lists.
    """

    trailer: str
    cautions: tuple[str, ...]
    seen: tuple[tuple[str, tuple[tuple[str, int], ...]], ...]
    lists: tuple[FaultList, ...]


def guide_lists(guide: FaultGuide, most: int | None = None) -> GuideLists:
    """Return a guide as lists.

    Args:
        guide: The guide.
        most: Keep only so many lists, those of the likeliest symptoms.
    """
    entries = guide.entries[:most]
    numbers = {picture: number for number, entry in enumerate(entries, start=1) for picture in entry.pictures}
    ends: dict[_End, GuidePlace] = {}
    lists = []
    for number, entry in enumerate(entries, start=1):
        tails = _ends(number, entry, numbers)
        lists.append(_list(number, entry, tails, ends))
        for check, tail in enumerate(tails, start=1):
            ends.setdefault(tail, GuidePlace(number, check))
    seen: dict[str, list[tuple[str, int]]] = {}
    for (setting, picture), number in numbers.items():
        seen.setdefault(setting, []).append((picture, number))
    return GuideLists(
        trailer=guide.trailer,
        cautions=guide.cautions,
        seen=tuple((setting, tuple(rows)) for setting, rows in seen.items()),
        lists=tuple(lists),
    )


def _ends(number: int, entry: GuideEntry, numbers: dict[tuple[str, str], int]) -> list[_End]:
    """Return the rest of a list from each of its checks on: checks, where their answers lead, suspects."""
    leads = tuple(tuple(_other(number, step, words, numbers) for words, _ in step.branches) for step in entry.steps)
    return [(entry.steps[check:], leads[check:], entry.left) for check in range(len(entry.steps))]


def _other(number: int, step: GuideStep, words: str, numbers: dict[tuple[str, str], int]) -> int | None:
    """Return the list of what a look at the lamps shows; None where there is none, or only the one being read."""
    other = numbers.get((step.setting, words)) if step.access == "lamps" else None
    return None if other == number else other


def _list(number: int, entry: GuideEntry, tails: list[_End], ends: dict[_End, GuidePlace]) -> FaultList:
    own, then = len(entry.steps), None
    for check, tail in enumerate(tails):
        if tail in ends and len(entry.steps) - check >= min(_SHARED_FROM, len(entry.steps)):
            own, then = check, ends[tail]
            break
    leads = tails[0][1] if tails else ()
    return FaultList(
        number=number,
        symptom=entry.symptom,
        # A word that two faults have in common is said once.
        danger="; ".join(dict.fromkeys(entry.danger.split("; "))),
        checks=tuple(
            ListedCheck(
                words=_words(step),
                in_order=step.well if step.access != "lamps" and step.setting else "",
                shown=_shown(step, leads[at - 1], GuidePlace(number, at + 1) if at < own else then, entry.left),
            )
            for at, step in enumerate(entry.steps[:own], start=1)
        ),
        then=then,
        left=entry.left,
    )


def _words(step: GuideStep) -> str:
    place = PLACES[step.access].capitalize()
    if step.access == "lamps":
        return f"{step.words} {place}."
    return f"{place}: {step.words}" if step.access in _UNSAID else step.words


def _shown(
    step: GuideStep, leads: tuple[int | None, ...], after: GuidePlace | None, left: tuple[str, ...]
) -> tuple[ShownSetting, ...]:
    found = [ShownSetting(step.expect, after, () if after else left)] if step.expect else []
    for (words, suspects), other in zip(step.branches, leads, strict=True):
        found.append(ShownSetting(words, GuidePlace(other)) if other else ShownSetting(words, None, suspects))
    return tuple(found) if step.access == "lamps" else tuple(_joined(found))


def _joined(found: list[ShownSetting]) -> Iterator[ShownSetting]:
    """Yield what a check may show, readings that mean the same as one."""
    same: dict[tuple[GuidePlace | None, tuple[str, ...]], list[str]] = {}
    for one in found:
        same.setdefault((one.to, one.suspects), []).append(one.words)
    for (to, suspects), words in same.items():
        yield ShownSetting(" or ".join(words), to, suspects)
