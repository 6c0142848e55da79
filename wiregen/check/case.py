"""What the rules look at: every trailer's circuit with its study and behaviour, and the facts of the design."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wiregen.catalogue.connector import Connector
from wiregen.model.behaviour import Behaviour
from wiregen.model.circuit import Circuit
from wiregen.model.origin import Origin
from wiregen.model.study import Array, Study

#: Values nearer to each other than this are the same: well above the solver's round-off, well below a printed digit.
_SAME = 1e-7


def highest_row(values: Array) -> int:
    """Return the first row with the highest value.

    States come simplest first, and many differ in nothing but round-off: the simplest of them is the one to show.
    """
    return int(np.argmax(values >= values.max() - _SAME))


@dataclass(frozen=True, slots=True)
class Case:
    """One trailer coupled."""

    circuit: Circuit
    study: Study
    """Only the states whose operating point can be trusted."""
    troubles: tuple[tuple[str, str], ...]
    """(words, state in words) of the states that cannot."""
    behaviour: Behaviour
    outlet: str
    """Designation of the trailer's connector, ``-X2`` ..."""
    plug: Connector


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelFacts:
    """One channel as written, for rules that need no solving."""

    name: str
    logic: str
    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    device: str
    missing: tuple[str, ...]
    fuse_a: float | None
    origin: Origin | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TapFacts:
    """One tap as written."""

    name: str
    at: str
    live: str
    fuse_a: float | None
    origin: Origin | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Limits and factors, from the user or the catalogue, with their source keys."""

    lowest_lamp_share: float
    lowest_lamp_source: str
    lamp_drop_share: float
    lamp_drop_source: str
    fuse_factor: float
    fuse_factor_source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """One rig, ready for checking."""

    cases: tuple[Case, ...]
    channels: tuple[ChannelFacts, ...]
    taps: tuple[TapFacts, ...]
    socket: Connector
    all_pinouts: tuple[tuple[str, Connector], ...]
    """Every known pinout with its name, to tell which shells mate."""
    limits: Limits
    supply_feed: str | None
    """Tap or circuit that feeds the supply, where it is a converter."""
    supply_feed_live: str
    """When that feed is live, as an expression; empty when the vehicle does not offer it."""
    supply_origin: Origin | None
    missing_feed: str | None
    vehicle_origin: Origin | None
    trailer_origins: tuple[Origin | None, ...]
    unfused_circuits: tuple[str, ...]
    """Socket circuits in use for which the rig names no fuse."""

    @property
    def solved(self) -> tuple[Case, ...]:
        """The cases with at least one trusted operating point: the ones that rules on numbers look at."""
        return tuple(case for case in self.cases if case.study.points)
