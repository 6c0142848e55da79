"""Blocks that only the packet prints: its cover, and the fault guide in columns. ``paper.typ`` lays them out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from wiregen.paper.pdf.glyphs import words
from wiregen.questions.faults.guide_lists import AFTER, HOW, FaultList, GuideLists, GuidePlace

#: A check of a guide whose suspects take more letters may be parted between columns.
_LONG_CHECK: Final = 1500


@dataclass(frozen=True, slots=True)
class Cover:
    """The first page.

    Attributes:
        title: Title of the job.
        facts: Pairs of a word and a value.
        verdict: The verdict in a few words, in large letters.
        verdict_more: What it rests on.
        cautions: What can hurt.
        signatures: Who signs for what.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    verdict: str
    verdict_more: str
    cautions: tuple[str, ...]
    signatures: tuple[str, ...]

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "kind": "cover",
            "title": words(self.title),
            "facts": [[words(name), words(value)] for name, value in self.facts],
            "verdict": words(self.verdict),
            "verdict_more": words(self.verdict_more),
            "cautions": [words(caution) for caution in self.cautions],
            "signatures": [words(name) for name in self.signatures],
        }


@dataclass(frozen=True, slots=True)
class Guide:
    """A fault guide in columns: cautions, what may be seen, the lists; ``key`` tells its lists from another's."""

    lists: GuideLists
    key: str

    def data(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "kind": "guide",
            "key": self.key,
            "how": words(HOW),
            "after": words(AFTER),
            "cautions": [words(caution) for caution in self.lists.cautions],
            "seen": [
                {"setting": words(setting), "rows": [[words(picture), number] for picture, number in rows]}
                for setting, rows in self.lists.seen
            ],
            "lists": [_list_data(one) for one in self.lists.lists],
        }


def _list_data(one: FaultList) -> dict[str, Any]:
    return {
        "number": one.number,
        "symptom": words(one.symptom),
        "danger": words(one.danger),
        "checks": [
            {
                "words": words(check.words),
                "in_order": words(check.in_order),
                "shown": [
                    {
                        "words": words(shown.words),
                        "to": _place_data(shown.to),
                        "here": shown.to is not None and shown.to == GuidePlace(one.number, at + 1),
                        "suspects": words("; ".join(shown.suspects)),
                    }
                    for shown in check.shown
                ],
                "long": sum(len(suspect) for shown in check.shown for suspect in shown.suspects) > _LONG_CHECK,
            }
            for at, check in enumerate(one.checks, start=1)
        ],
        # What is left stands with the last check; only a list without any has to say it itself.
        "then": _place_data(one.then) if not one.checks else None,
        "left": words("; ".join(one.left)) if not one.checks and not one.then else "",
    }


def _place_data(place: GuidePlace | None) -> list[int] | None:
    return [place.number, place.check] if place else None
