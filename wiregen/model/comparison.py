"""The same vehicle and trailers under each way to convert, side by side."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from wiregen.model.finding import Assumption, Finding

#: ``fits``: computed. ``no``: this rig cannot be converted so, see ``why_not``.
Fit = Literal["fits", "no"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LampLight:
    """The light of one lamp at one operating point.

    Attributes:
        lamp: Designation and words.
        trailer: Trailer it is on.
        volts_v: Voltage across it, V.
        share: Light as a share of its rated light; 0 for an LED lamp below the voltage it is made for, None where the
            light does not follow from the voltage (lamps given by measured points).
        state: Controls and corner in words.
    """

    lamp: str
    trailer: str
    volts_v: float
    share: float | None
    state: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LampChange:
    """A lamp entry that a way replaces.

    Attributes:
        trailer: Trailer it is on.
        function: What the lamps are there for.
        count: How many lamps.
        old: Lamp type, or its data in words.
        new: Lamp type to fit; empty where the catalogue has none.
        note: What to look at before it is bought.
    """

    trailer: str
    function: str
    count: int
    old: str
    new: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ResistorRow:
    """A dropping resistor in front of lamps.

    Attributes:
        channel: Channel name.
        trailer: Trailer it is made for.
        resistance_ohm: Its resistance, ohm.
        heat_w: Heat in it at the worst state and corner, W.
        lamps: Lamps behind it.
        together_v: Lowest voltage across one of them while all burn, running voltage, V.
        alone_v: Voltage across one of them when it is the only one left, running voltage, V.
        rated_v: Voltage it is rated at, V.
    """

    channel: str
    trailer: str
    resistance_ohm: float
    heat_w: float
    lamps: int
    together_v: float
    alone_v: float
    rated_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WayResult:
    """What came of one way.

    Attributes:
        id: Short word, stable for programs.
        title: Words for people.
        short: Words for a column or a bar.
        fit: Whether this rig can be converted so.
        why_not: Reasons where it cannot.
        is_present: Whether the rig file is this way already.
        findings: Findings of the check, errors first.
        states: How many operating points were solved.
        untrusted: How many of them could not be trusted; no number rests on those.
        lowest: Lamp with the least light of all that should burn, over all states and corners.
        highest: Lamp with the most voltage for its rating.
        heat_w: Heat in box and wires (not in lamps, magnets and batteries) in the worst state, W.
        heat_places: The same by kind of part, W, the most first.
        heat_state: That state in words.
        from_24v_a: Highest current out of the 24 V side, A.
        from_24v_state: That state in words.
        tap_a: Highest current out of the centre tap, A.
        imbalance_ah_per_h: What the lower battery loses more than the upper, Ah an hour, in the worst state.
        parts: Number of parts by kind, those of the trailers left out.
        stays_12v: Whether the trailer can still be towed by a 12 V vehicle as it is.
        keeps_voltage: Whether the vehicles that tow the trailer today still can.
        trailer_words: What it does to the trailer.
        other_words: What it does to other towing vehicles.
        brake_words: What feeds the electric brakes; empty without them.
        changes: Lamps to change.
        behind_12v: What the changed lamps do behind a 12 V vehicle.
        resistors: The dropping resistors.
        notes: What else to know, computed.
        assumptions: Ratings that were sized by need because the rig does not give them.
    """

    id: str
    title: str
    short: str
    fit: Fit = "fits"
    why_not: tuple[str, ...] = ()
    is_present: bool = False
    findings: tuple[Finding, ...] = ()
    states: int = 0
    untrusted: int = 0
    lowest: LampLight | None = None
    highest: LampLight | None = None
    heat_w: float = 0.0
    heat_places: tuple[tuple[str, float], ...] = ()
    heat_state: str = ""
    from_24v_a: float = 0.0
    from_24v_state: str = ""
    tap_a: float = 0.0
    imbalance_ah_per_h: float = 0.0
    parts: dict[str, int] = field(default_factory=dict)
    stays_12v: bool = True
    keeps_voltage: bool = True
    trailer_words: str = ""
    other_words: str = ""
    brake_words: str = ""
    changes: tuple[LampChange, ...] = ()
    behind_12v: tuple[LampLight, ...] = ()
    resistors: tuple[ResistorRow, ...] = ()
    notes: tuple[str, ...] = ()
    assumptions: tuple[Assumption, ...] = ()

    def count(self, severity: str) -> int:
        """Return how many findings have this severity."""
        return sum(finding.severity == severity for finding in self.findings)

    def rules(self, severity: str) -> tuple[tuple[str, int], ...]:
        """Return (rule id, how often) of the findings of a severity, in the order of the check."""
        counted: dict[str, int] = {}
        for finding in self.findings:
            if finding.severity == severity:
                counted[finding.rule] = counted.get(finding.rule, 0) + 1
        return tuple(counted.items())

    @property
    def part_count(self) -> int:
        """Number of parts of all kinds."""
        return sum(self.parts.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Recommendation:
    """Which way the numbers speak for.

    Attributes:
        ways: Ids of the recommended ways: one, several when they tie, none when no way fits or is free of errors.
        words: The verdict in one sentence.
        reasons: What decided, step by step, with the numbers.
        close_calls: Ways that lost by little, with the numbers.
        cautions: What to mind before following it.
    """

    ways: tuple[str, ...]
    words: str
    reasons: tuple[str, ...]
    close_calls: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Everything ``compare`` found out.

    Attributes:
        title: Title of the rig.
        digest: Digest of the rig file and its pinouts.
        trailers: Names of the trailers compared.
        ways: One for each way to convert, in the order of the catalogue of ways.
        recommendation: What the numbers speak for.
        questions: What the rig does not say and what would change the table.
    """

    title: str
    digest: str
    trailers: tuple[str, ...]
    ways: tuple[WayResult, ...]
    recommendation: Recommendation
    questions: tuple[str, ...] = ()
