"""What is printed on a relay or adapter box, and the verdict on it against a trailer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Load = Literal["resistive", "lamp"]
Duty = Literal["continuous", "peak"]
Verdict = Literal["passes with headroom", "passes", "not judged", "fails"]

#: From best to worst.
VERDICTS: tuple[Verdict, ...] = ("passes with headroom", "passes", "not judged", "fails")


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What a label says; None where it says nothing.

    Attributes:
        channels: Number of outputs.
        each_a: Current of one output, A.
        total_a: Current of all outputs together, A.
        voltage_v: Voltage the currents hold for, 12 or 24 V.
        load: Kind of load they hold for.
        duty: Whether they may flow for long, or for a short time only.
        make_a: Highest current a contact may close on, A.
        peak_a: Current of all outputs for a short time, A.
        up_to_c: Temperature of the air up to which the currents hold, °C.
    """

    channels: int | None = None
    each_a: float | None = None
    total_a: float | None = None
    voltage_v: float | None = None
    load: Load | None = None
    duty: Duty | None = None
    make_a: float | None = None
    peak_a: float | None = None
    up_to_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelNeed:
    """What one output has to carry.

    Attributes:
        channel: Name of the adapter's channel.
        feeds: The circuits it feeds, in words.
        steady_a: Highest current over all states and corners, A.
        state: That state in words.
        closing_a: Highest current at the moment it closes, cold filaments counted ten times, A.
    """

    channel: str
    feeds: str
    steady_a: float
    state: str
    closing_a: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailerNeed:
    """What one trailer asks of a box.

    Attributes:
        trailer: Its name.
        channels: The outputs in use.
        lamps_a: Highest sum of their currents, A.
        lamps_state: That state in words.
        all_a: The same with everything else on the box's 12 V, such as electric brakes, A.
        state: The state of ``all_a`` in words.
        cold_a: What everything asks for when all filaments are cold, A.
        besides: What else hangs on the box's 12 V, in words; empty for nothing.
        contact_v: Nominal voltage that its contacts switch, V.
        ambient_c: Temperature of the air around the box, °C.
    """

    trailer: str
    channels: tuple[ChannelNeed, ...]
    lamps_a: float
    lamps_state: str
    all_a: float
    state: str
    cold_a: float
    besides: str
    contact_v: float
    ambient_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxLine:
    """One comparison of a need with the label.

    Attributes:
        trailer: Trailer coupled.
        what: What is compared, in words.
        needed: What is needed, in ``unit``.
        allowed: What the label allows; None where it does not say enough.
        unit: Unit of both; empty for a count.
        margin: Room left as a share of what is allowed; negative when it is passed, None where nothing is known.
        verdict: What comes of it.
        because: How ``allowed`` follows from the label.
        state: State of the controls, in words.
        rests_on: Questions whose answers it rests on.
    """

    trailer: str
    what: str
    needed: float
    allowed: float | None
    unit: str
    margin: float | None
    verdict: Verdict
    because: str
    state: str = ""
    rests_on: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """How much more one output may take.

    Attributes:
        trailer: Trailer coupled.
        channel: Name of the channel.
        spare_a: Room for steady current, A; not below 0.
        lamps: How many more lamps of a few common kinds that is, inrush and the sum counted.
    """

    trailer: str
    channel: str
    spare_a: float
    lamps: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxReport:
    """The verdict on a box.

    Attributes:
        title: Title of the rig.
        digest: Digest of the rig file and its pinouts.
        label: What the label says.
        verdict: The worst of all lines.
        at_best: The verdict if every open question had its best answer.
        lines: Every comparison.
        room: What each output may take more.
        questions: What to ask the seller: what the label does not say, and what was assumed instead.
        notes: What else to know.
    """

    title: str
    digest: str
    label: Label
    verdict: Verdict
    at_best: Verdict
    lines: tuple[BoxLine, ...]
    room: tuple[Room, ...]
    questions: tuple[str, ...]
    notes: tuple[str, ...]
