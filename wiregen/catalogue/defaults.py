"""The values taken when the user gives none: each with its reason and source, since every one used is listed.

A name ends in its unit (``contact_resistance_ohm``); a name without one is a plain ratio. The table is
``data/defaults.toml``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from wiregen.catalogue.sources import LazyTable, toml_table
from wiregen.quantity import show


@dataclass(frozen=True, slots=True)
class Default:
    """One default.

    Attributes:
        name: Key, ending in its unit.
        value: The value, in ``unit``.
        unit: Unit to print; empty for a plain ratio.
        why: Why this value.
        source: Source key.
        support: How well supported.
    """

    name: str
    value: float
    unit: str
    why: str
    source: str
    support: str

    @property
    def text(self) -> str:
        """Value with its unit, for people."""
        return show(self.value, self.unit).strip()


def _load() -> dict[str, Default]:
    return {
        name: Default(name, float(entry["value"]), entry["unit"], entry["why"], entry["source"], entry["support"])
        for name, entry in toml_table("defaults").items()
    }


#: Every default by name.
DEFAULTS: Final = LazyTable("a default", _load)


def default(name: str) -> Default:
    """Return the default ``name``.

    Raises:
        UnknownEntryError: There is none; the message names the nearest one.
    """
    return DEFAULTS.find(name)
