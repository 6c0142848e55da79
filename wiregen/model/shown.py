"""Records that show themselves in a notebook.

A record knows nothing of the writers above it; the pipeline hands them in, by class, when it is imported.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

#: How a record of a class is shown, as HTML.
WRITERS: Final[dict[type, Callable[[Any], str]]] = {}


class Shown:
    """Gives a record the method that notebooks look for."""

    __slots__ = ()

    def _repr_html_(self) -> str | None:
        """Return the record as HTML; None where nobody has said how, and the notebook falls back on plain text."""
        writer = WRITERS.get(type(self))
        return writer(self) if writer else None
