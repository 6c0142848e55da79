"""The lamps a trailer must have, in outline, by region, width and length: ``data/required_lamps.toml``.

It is a list to see that a lamp is forgotten. It says nothing of colours, places and reflectors, and leaves out what
depends on age, mass and kind of trailer: local codes have the last word.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

from wiregen.catalogue.sources import toml_table

Region = Literal["us", "europe"]
#: Regions with the words to print and the law that stands behind the list.
REGIONS: Final[dict[Region, str]] = {
    "us": "49 CFR 393.11 and 571.108 in outline",
    "europe": "UN R48 in outline",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RequiredLamp:
    """One kind of lamp.

    Attributes:
        region: ``us`` or ``europe``.
        words: What it is.
        count: How many.
        circuits: Circuits a lamp of this kind hangs on.
        from_width_m: Width at which it is asked for, m; 0 for every width.
        above_width_m: Width above which it is asked for, m; 0 for every width.
        from_length_m: Length at which it is asked for, m; 0 for every length.
        above_length_m: Length above which it is asked for, m; 0 for every length.
        only: A condition that no rig states; empty where there is none.
        source: Source key.
        support: How well supported.
    """

    region: Region
    words: str
    count: int
    circuits: tuple[str, ...]
    from_width_m: float = 0.0
    above_width_m: float = 0.0
    from_length_m: float = 0.0
    above_length_m: float = 0.0
    only: str = ""
    source: str
    support: str

    @property
    def needs_size(self) -> bool:
        """Whether width or length decide about it."""
        return any((self.from_width_m, self.above_width_m, self.from_length_m, self.above_length_m))

    def is_asked(self, width_m: float | None, length_m: float | None) -> bool:
        """Tell whether a trailer of this width and length, m, must have it; one of unknown size only what all must."""
        if self.only:
            return False
        wide, long = width_m or 0.0, length_m or 0.0
        return (
            wide >= self.from_width_m
            and (not self.above_width_m or wide > self.above_width_m)
            and long >= self.from_length_m
            and (not self.above_length_m or long > self.above_length_m)
        )


@cache
def required_lamps() -> tuple[RequiredLamp, ...]:
    """Return every row, in the order of the file."""
    rows = toml_table("required_lamps").values()
    return tuple(RequiredLamp(**{**row, "circuits": tuple(row["circuits"])}) for row in rows)


def region_of(words: str) -> Region | None:
    """Return the list that fits the region of a pinout; None where none does."""
    if words.startswith(("North America", "US")):
        return "us"
    return "europe" if words.startswith("Europe") else None
