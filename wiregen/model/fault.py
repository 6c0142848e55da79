"""Faults of single parts, as changes of the circuit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

#: ``open``: no current passes. ``resistance``: so much more resistance in series. ``short``: a terminal lies on ground
#: through a small resistance. ``shorted``: a diode is nothing but a small resistance any more. ``burnt``: lamps of an
#: entry are out. ``exchanged``: another lamp is in its place. ``stuck_on`` and ``stuck_off``: a switch, relay contact
#: or converter that no longer follows.
FaultKind = Literal["open", "resistance", "short", "shorted", "burnt", "exchanged", "stuck_on", "stuck_off"]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with one part.

    Attributes:
        kind: What is wrong.
        ref: Reference designation of the part; for a short, of the part whose terminal ``b`` touches ground.
        words: In words, for people.
        ohm: ``resistance``: added, ohm. ``short``: resistance to ground, ohm. ``shorted``: of what is left, ohm.
        share: ``burnt``: share of the entry's lamps that are out, 0 to 1.
        by: ``exchanged``: ref of the lamp that then takes its place; it stands by in the circuit, between the same
            terminals, and is not there without this fault.
    """

    kind: FaultKind
    ref: str
    words: str
    ohm: float = 0.0
    share: float = 1.0
    by: str = ""
