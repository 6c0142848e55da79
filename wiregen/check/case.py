"""What the rules look at: every trailer's circuit with its study and behaviour, and the facts of the design."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from wiregen.catalogue.connector import Connector
from wiregen.check.clearing import Clearing, clearings
from wiregen.model.behaviour import Behaviour
from wiregen.model.circuit import Circuit
from wiregen.model.corner import NOMINAL
from wiregen.model.origin import Origin
from wiregen.model.short import ShortStudy
from wiregen.model.study import Array, FaultStudy, Study

#: Values nearer to each other than this are the same: well above the solver's round-off, well below a printed digit.
_SAME = 1e-7


def highest_row(values: Array) -> int:
    """Return the first row with the highest value.

    States come simplest first, and many differ in nothing but round-off: the simplest of them is the one to show.
    """
    return int(np.argmax(values >= values.max() - _SAME))


@dataclass(frozen=True)
class Coupling:
    """One trailer coupled."""

    circuit: Circuit
    study: Study
    """Every state at every corner; only the points that can be trusted."""
    troubles: tuple[tuple[str, str], ...]
    """(words, state and corner in words) of the points that cannot."""
    behaviour: Behaviour
    outlet: str
    """Designation of the trailer's connector, ``-X2`` ..."""
    plug: Connector
    faults: FaultStudy | None = None
    """The same with every single fault, where voltages are highest: at the charging corners."""
    shorts: ShortStudy | None = None
    """Every short circuit in the states that make it live."""

    @cached_property
    def clearings(self) -> tuple[Clearing, ...]:
        """How every short ends that draws current."""
        return clearings(self.shorts) if self.shorts else ()

    @cached_property
    def nominal(self) -> npt.NDArray[np.bool_]:
        """Which rows of the study are at the nominal corner: soft limits are design values for ordinary conditions."""
        return np.array([point.corner == NOMINAL for point in self.study.points], dtype=bool)

    def worst(self, ref: str, *, nominal: bool = False) -> tuple[float, int]:
        """Return the highest current of an element, A, and its row; over all corners, or at the nominal one only.

        It is 0 A where no nominal point could be trusted.
        """
        current = np.abs(self.study.current_a(ref))
        if nominal:
            current = np.where(self.nominal, current, 0.0)
        row = highest_row(current)
        return float(current[row]), row


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
class FlasherFacts:
    """The vehicle's flasher as written."""

    kind: str
    """``electronic``, ``electromechanical`` or ``thermal``."""
    lowest_a: float | None
    """Least load on one side, A; None where the rig does not say."""
    highest_a: float | None
    """Highest load on one side, A; None where the rig does not say."""
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
class FeedFacts:
    """One vehicle feed as written."""

    circuits: tuple[str, ...]
    fuse_a: float | None
    own_load_a: float | None
    """What the vehicle's own lamps on it take, A; None where the rig does not say."""
    origin: Origin | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailerFacts:
    """One trailer as written."""

    nominal_v: float
    """Its nominal voltage, V."""
    width_m: float | None
    length_m: float | None
    region: str
    """Whose list of lamps it is held against: ``us``, ``europe``, ``none`` for no list, empty where unknown."""
    breakaway: bool | None
    """Whether it has a breakaway switch; None where the rig does not say."""
    origin: Origin | None
    brakes_origin: Origin | None
    ties: tuple[tuple[str, ...], ...] = ()
    """Marks of the contacts that are joined inside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleLimits:
    """Limits and factors, from the user or the catalogue, with their source keys."""

    lowest_lamp_share: float
    lowest_lamp_source: str
    lamp_drop_share: float
    lamp_drop_source: str
    fuse_factor: float
    fuse_factor_source: str
    ground_return_ohm: float | None = None
    """Resistance of a ground return that the user calls an error, ohm; None for the usual limits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One rig, ready for checking."""

    couplings: tuple[Coupling, ...]
    channels: tuple[ChannelFacts, ...]
    taps: tuple[TapFacts, ...]
    socket: Connector
    all_pinouts: tuple[tuple[str, Connector], ...]
    """Every known pinout with its name, to tell which shells mate."""
    limits: RuleLimits
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
    flasher: FlasherFacts | None = None
    """The vehicle's flasher; None where the rig does not say."""
    feeds: tuple[FeedFacts, ...] = ()
    trailers: tuple[TrailerFacts, ...] = ()
    switched: tuple[str, ...] = ()
    """Circuits of the socket that a lighting switch with blackout positions feeds, and leaves dead at OFF."""
    bulb_monitor: bool | None = None
    """Whether the vehicle watches its lamps; None where the rig does not say."""
    unstated_sizes: frozenset[str] = frozenset()
    """Designations of the conductors whose size no run states: the usual one of the contact, or a default."""
    assumed_limits: frozenset[str] = frozenset()
    """Converters whose current limit is assumed from their continuous output."""

    def trailer(self, coupling: Coupling) -> TrailerFacts | None:
        """Return what is written about the trailer of a coupling."""
        return next((facts for one, facts in zip(self.couplings, self.trailers, strict=False) if one is coupling), None)

    def region(self, coupling: Coupling) -> str:
        """Return whose rules the trailer of a coupling is held against: ``us``, ``europe`` or an empty text."""
        facts = self.trailer(coupling)
        return facts.region if facts is not None and facts.region != "none" else ""

    @property
    def solved(self) -> tuple[Coupling, ...]:
        """The couplings with at least one trusted operating point: the ones that rules on numbers look at."""
        return tuple(coupling for coupling in self.couplings if coupling.study.points)
