"""What each lamp does over one flash cycle, and what it should do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wiregen.model.state import Controls

#: A lamp over one flash cycle; which half it is lit in does not matter.
Look = Literal["dark", "steady", "flash"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BehaviourRow:
    """One lamp under one setting of the controls.

    Attributes:
        trailer: Trailer coupled.
        lamp: Reference designation of the lamp.
        function: What the lamp is there for.
        controls: The setting.
        wanted: What practice allows.
        actual: What it does.
        burns: Whether it burns in the lit and in the dark half of the flash; alike where nothing flashes. Which half a
            lamp flashes in is told, not judged: behind ``stop xor turn`` it does so in the dark one while braking.
        channel: The channel that feeds the lamp, or words saying that none does.
    """

    trailer: str
    lamp: str
    function: str
    controls: Controls
    wanted: frozenset[Look]
    actual: Look
    burns: tuple[bool, bool]
    channel: str

    @property
    def fits(self) -> bool:
        """Whether the lamp does what it should."""
        return self.actual in self.wanted


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Something wrong with the connections themselves in one state.

    Attributes:
        kind: ``short`` (plus on ground), ``joined`` (two supplies joined), ``backfeed`` (a vehicle circuit made live by
            another), ``unsettled`` (relays that never come to rest).
        terminals: Where.
        controls: The setting.
        lit: Half of the flash.
        trailer: Trailer coupled.
    """

    kind: Literal["short", "joined", "backfeed", "unsettled"]
    terminals: tuple[str, ...]
    controls: Controls
    lit: bool
    trailer: str


@dataclass(frozen=True, slots=True)
class Behaviour:
    """The behaviour table of one trailer."""

    trailer: str
    rows: tuple[BehaviourRow, ...]
    conflicts: tuple[Conflict, ...]
    live_contacts: dict[Controls, frozenset[str]]
