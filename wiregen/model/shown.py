"""Records that show themselves in a notebook.

A record knows nothing of the writers above it; the pipeline hands them in, by class, when it is imported.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

#: How a record of a class is shown, by the class's module and name.
WRITERS: Final[dict[str, Callable[[Any], str]]] = {}


def _written(record: object) -> str | None:
    kind = type(record)
    writer = WRITERS.get(f"{kind.__module__}.{kind.__qualname__}")
    return writer(record) if writer else None


class Shown:
    """Gives a record the method that notebooks look for."""

    __slots__ = ()

    def _repr_html_(self) -> str | None:
        """Return the record as HTML; None where nobody has said how, and the notebook falls back on plain text."""
        return _written(self)


class Drawn:
    """Gives a drawing the method that notebooks look for."""

    __slots__ = ()

    def _repr_svg_(self) -> str | None:
        """Return the drawing as SVG; None where nobody has said how."""
        return _written(self)
