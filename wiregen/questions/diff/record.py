"""What changed between two revisions of a rig."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wiregen.model.shown import Shown

Kind = Literal["added", "removed", "changed"]
#: What a change is about, in the order in which changes are told.
Subject = Literal["connector", "contact", "conductor", "fuse", "channel", "supply", "lamp", "vehicle", "finding"]
SUBJECTS: tuple[Subject, ...] = (
    "connector",
    "contact",
    "conductor",
    "fuse",
    "channel",
    "supply",
    "lamp",
    "vehicle",
    "finding",
)


@dataclass(frozen=True, slots=True)
class Detail:
    """One value that changed: what it is, and how it reads before and after; empty where there was none."""

    what: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One thing that was added, removed or changed.

    Attributes:
        subject: What it is.
        kind: What happened to it.
        name: Designation in the newer revision, in the older one where it was removed.
        words: What it is, for people.
        trailer: Trailer it belongs to; empty for all.
        details: Values that changed; for what was added or removed, the values it has or had.
        severity: For a finding, how bad it is now, or was.
    """

    subject: Subject
    kind: Kind
    name: str
    words: str
    trailer: str = ""
    details: tuple[Detail, ...] = ()
    severity: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """What stands on the title block of one of the two."""

    title: str
    revision: str
    date: str
    digest: str
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Differences(Shown):
    """Everything that changed, in the order of ``SUBJECTS``."""

    old: Revision
    new: Revision
    changes: tuple[Difference, ...]
