"""What ``wiregen size`` found out: the sizes and fuses chosen, and why each is as it is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from wiregen.model.finding import Finding
from wiregen.sizing.obstacles import Missing

#: ``sized``: the choice keeps every rule that sizes and fuses can keep. ``nearest``: none does, and the choice comes
#: nearest. ``nothing``: there was none to choose.
Verdict = Literal["sized", "nearest", "nothing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """The rule that the next smaller choice breaks.

    Attributes:
        rule: Rule id.
        severity: How bad it would be.
        where: The part.
        state: State and corner in words.
        trailer: Name of the trailer coupled, or an empty text.
        source: Source key of the limit.
        margin: Room left with what was chosen, as a share of the limit; None where it is not known.
        margin_smaller: The same with the next smaller choice: negative.
    """

    rule: str
    severity: str
    where: str
    state: str
    trailer: str
    source: str
    margin: float | None
    margin_smaller: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Larger:
    """The next larger choice.

    Attributes:
        label: Size or rating.
        copper_kg: Copper of all conductors that are chosen with it, kg.
        margin: Room under the rule that binds, about, as a share of the limit; None where it is not known.
    """

    label: str
    copper_kg: float
    margin: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SizedValue:
    """One value that was chosen.

    Attributes:
        path: Key in the rig file, ``run.3.size``.
        place: File and line, or an empty text.
        kind: A conductor size or a fuse rating.
        words: What it is for, in words.
        refs: Conductors it gives their size, or the one fuse.
        length_m: Length of these conductors together, m.
        before: What the rig stated; for "auto" what is assumed without it, in brackets.
        after: What was chosen; empty where nothing will do or nothing uses it.
        copper_before_kg: Copper before, kg.
        copper_after_kg: Copper after, kg.
        bound: What binds it; None at the smallest that is chosen at all, or where it is not known.
        is_explained: Whether there was time to find out what binds it.
        smaller: The next smaller choice; empty at the smallest.
        larger: The next larger choice.
    """

    path: str
    place: str
    kind: Literal["size", "fuse"]
    words: str
    refs: tuple[str, ...]
    length_m: float
    before: str
    after: str
    copper_before_kg: float
    copper_after_kg: float
    bound: Bound | None = None
    is_explained: bool = True
    smaller: str = ""
    larger: Larger | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizing:
    """The result.

    Attributes:
        title: Title of the rig.
        digest: Digest of the rig file and its pinouts.
        series: Series of the sizes: ``mm²``, ``AWG`` or ``SAE``.
        verdict: Whether the choice keeps the rules.
        values: The values, in the order of the rig file.
        missing: Errors that sizes or fuses could cure, but that stand with every choice.
        left: Other errors and warnings that stand with the choice: no size cures them.
        checks: How many choices were checked.
        bound_kg: No choice of sizes that does as well, with these fuses, has less copper, kg.
        is_proved: Whether none has less than this one.
    """

    title: str
    digest: str
    series: str
    verdict: Verdict
    values: tuple[SizedValue, ...]
    missing: tuple[Missing, ...] = ()
    left: tuple[Finding, ...] = ()
    checks: int = 0
    bound_kg: float = 0.0
    is_proved: bool = False

    @property
    def gap(self) -> float | None:
        """By how much the copper may be above the least there is, as a share of that; None where it is not known."""
        if self.is_proved:
            return 0.0
        return self.copper_after_kg / self.bound_kg - 1 if self.bound_kg > 0 else None

    @property
    def copper_before_kg(self) -> float:
        """Copper of all values before, kg."""
        return math.fsum(value.copper_before_kg for value in self.values)

    @property
    def copper_after_kg(self) -> float:
        """Copper of all values after, kg."""
        return math.fsum(value.copper_after_kg for value in self.values)
