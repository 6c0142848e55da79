"""Values the user did not give: taken from the catalogue, and remembered so that they can be listed."""

from __future__ import annotations

from dataclasses import replace

from wiregen.catalogue.defaults import default
from wiregen.model.finding import Assumption
from wiregen.quantity import show


class Assumed:
    """Hands out defaults and keeps what was used where."""

    def __init__(self) -> None:
        self._used: dict[str, dict[str, None]] = {}
        self._notes: dict[str, tuple[Assumption, dict[str, None]]] = {}

    def take(
        self, given: float | None, key: str, where: str, *, least: float | None = None, most: float | None = None
    ) -> float:
        """Return ``given`` when there is one, else the default ``key``, noting that ``where`` rests on it.

        Args:
            given: What the user wrote.
            key: Default to take without it.
            where: What rests on it.
            least: A default below this gives way to it: another value the user wrote says more.
            most: The same for a default above this.
        """
        if given is not None:
            return given
        value = default(key).value
        if least is not None and value < least:
            return least
        if most is not None and value > most:
            return most
        self._used.setdefault(key, {})[where] = None
        return value

    def note(self, entry: Assumption, where: str) -> None:
        """Remember a value of the catalogue that is no default but rests on a source all the same."""
        self._notes.setdefault(entry.name, (entry, {}))[1][where] = None

    def listed(self) -> tuple[Assumption, ...]:
        """Return every default that was used, in order of first use."""
        rows = []
        for key, where in self._used.items():
            entry = default(key)
            rows.append(
                Assumption(
                    name=key,
                    text=show(entry.value, entry.unit),
                    why=entry.why,
                    source=entry.source,
                    support=entry.support,
                    where=tuple(where),
                )
            )
        rows += [replace(entry, where=tuple(where)) for entry, where in self._notes.values()]
        return tuple(rows)
