"""Every short circuit of a rig as people and machines read it: what flows, what opens it, when, and what that does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

#: How a short ends. ``in time``: a device opens before any conductor on the way is harmed, and within 5 s. ``carried``:
#: every conductor on the way carries the current for good. ``late``: after more than 5 s, but before harm. ``not
#: known``: a current limit or an opening time is not known, or relays never come to rest. ``no device``: nothing stands
#: before it. ``cycles``: a breaker closes onto it again and again. ``burns``: a conductor is harmed first. ``never``:
#: no device is sure to open, and a conductor is overloaded.
Ends = Literal["in time", "carried", "late", "not known", "no device", "cycles", "burns", "never"]
#: From good to bad.
ENDS: Final[tuple[Ends, ...]] = ("in time", "carried", "late", "not known", "no device", "cycles", "burns", "never")

#: What harms a conductor, for all that is known.
HARMS: Final[frozenset[Ends]] = frozenset({"no device", "cycles", "burns", "never"})


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortRow:
    """One short, over all trailers that share its part.

    Attributes:
        part: Ref of the conductor whose far end touches ground, or of the fuse it is right behind.
        what: In words, for people.
        place: Where, in few words.
        trailer: Trailer of the worse of the two values below; empty where relays never come to rest.
        least_a: What flows at the least, A; None where no state can be trusted.
        most_a: What flows at the most, A.
        ends: How it ends, where it ends worst.
        device: Ref of the device that opens it; empty without any.
        rating_a: Its rating, A.
        opening_known: Whether any table says when that device opens.
        earliest_s: It holds at least so long, s; None where no table says so.
        latest_s: It has opened after so long, s; None where it need not.
        limited_by: Ref of a converter that gives no more than its limit; empty without one.
        unlimited_by: Ref of a converter on the way whose limit nobody knows; empty without one.
        conductor: Ref of the conductor on the way with the least room; empty where there is none.
        conductor_a: Its current, A.
        stands_s: How long it stands that, s; None where it carries it for good.
        state: State and corner of the worst, in words.
    """

    part: str
    what: str
    place: str
    trailer: str
    least_a: float | None
    most_a: float | None
    ends: Ends
    device: str
    rating_a: float | None
    opening_known: bool
    earliest_s: float | None
    latest_s: float | None
    limited_by: str
    unlimited_by: str
    conductor: str
    conductor_a: float | None
    stands_s: float | None
    state: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortSheet:
    """All shorts of a rig, in building order.

    Attributes:
        title: Of the rig.
        digest: Of the rig.
        rows: Each short.
        left_out: What was not computed, in a sentence each.
    """

    title: str
    digest: str
    rows: tuple[ShortRow, ...]
    left_out: tuple[str, ...] = ()

    @property
    def harms(self) -> bool:
        """Whether any short lasts until a conductor is harmed, or for ever with one overloaded."""
        return any(row.ends in HARMS for row in self.rows)
