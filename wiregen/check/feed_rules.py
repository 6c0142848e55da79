"""Rules on the vehicle's feeds: fuses at the source."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.check.case import Case, Design
from wiregen.check.rule import rule
from wiregen.model.circuit import Contact
from wiregen.model.finding import Finding, Severity
from wiregen.model.rule import RuleInfo

#: Stretches beyond the adapter: what reaches them from a socket contact carries lamps, not coils.
_BEYOND: Final = ("adapter-trailer", "plug-splice", "splice-lamp")


def _words(circuits: Sequence[str]) -> str:
    return ", ".join(CIRCUITS[name].word for name in circuits)


def feeds_trailer(case: Case, circuit: str) -> bool:
    """Tell whether a socket circuit runs on to the trailer over wires, diodes or resistors, with no relay between."""
    contacts = (c for c in case.circuit.of(Contact) if c.connector == "-X1" and c.circuit == circuit)
    return any(w.stretch in _BEYOND for c in contacts for w in case.circuit.reached(c.b, c.a))


@rule(
    RuleInfo(
        id="unfused-feed",
        title="Every wire from the battery has a fuse at its source",
        severity="error for a tap without a fuse; warning for a vehicle circuit without a stated fuse that feeds the "
        "converter or runs on to the trailer; notice for one that feeds relay coils only",
        what="Taps, and the vehicle circuits that the socket uses.",
        why="A wire without a fuse that chafes through on the frame burns. The vehicle mostly has a fuse or breaker, "
        "but nobody has looked yet whether it has, and how large it is.",
        limit="A fuse or breaker at the source.",
        sources=("S13",),
        tighten="State the vehicle's own fuses under [[vehicle.feed]].",
    )
)
def unfused_feed(design: Design) -> Iterator[Finding]:
    """Every wire tapped from the battery has a fuse at its source; the vehicle's own fuses are stated."""
    for tap in design.taps:
        if tap.fuse_a is None:
            yield Finding(
                rule="unfused-feed",
                severity="error",
                where=f"tap {tap.name}",
                message=f"no fuse where {tap.name} leaves the {tap.at}",
                advice="Fit a fuse at the source, no larger than the conductor carries.",
                source="S13",
                origin=tap.origin,
            )
    through = tuple(
        name
        for name in design.unfused_circuits
        if name != design.supply_feed and any(feeds_trailer(case, name) for case in design.cases)
    )
    coils = tuple(name for name in design.unfused_circuits if name != design.supply_feed and name not in through)
    if design.supply_feed in design.unfused_circuits:
        yield _unstated(
            design,
            "warning",
            f"vehicle feed {design.supply_feed}",
            "the converter hangs on this contact, and no vehicle fuse is stated for it",
        )
    if through:
        yield _unstated(
            design,
            "warning",
            "vehicle feeds",
            f"no vehicle fuse is stated for circuits that run on to the trailer: {_words(through)}",
        )
    if coils:
        yield _unstated(design, "notice", "vehicle feeds", f"no vehicle fuse or breaker is stated for: {_words(coils)}")


def _unstated(design: Design, severity: Severity, where: str, message: str) -> Finding:
    is_feed = where != "vehicle feeds"
    return Finding(
        rule="unfused-feed",
        severity=severity,
        where=where,
        message=message,
        advice="Go and look: find the fuse or breaker, read its rating and state it under [[vehicle.feed]]. "
        "Where there is none, fit one at the source.",
        source="S13",
        origin=design.supply_origin if is_feed else design.vehicle_origin,
    )
