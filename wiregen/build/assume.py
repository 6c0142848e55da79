"""Values the user did not give: taken from the catalogue, and remembered so that they can be listed."""

from __future__ import annotations

from wiregen.catalogue.defaults import default
from wiregen.model.finding import Assumption
from wiregen.quantity import show


class Assumed:
    """Hands out defaults and keeps what was used where."""

    def __init__(self) -> None:
        self._used: dict[str, dict[str, None]] = {}

    def take(self, given: float | None, key: str, where: str) -> float:
        """Return ``given`` when there is one, else the default ``key``, noting that ``where`` rests on it."""
        if given is not None:
            return given
        self._used.setdefault(key, {})[where] = None
        return default(key).value

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
        return tuple(rows)
