"""Wiring charts, schematics and checks for towing 12 V trailers with a 24 V vehicle.

``load`` reads a rig file into a ``Design``; the modules ``wiregen.questions.*.ask`` answer what people ask of one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wiregen.design.design import Design, load, load_text

__version__ = "0.1.0"
__all__ = ["Design", "__version__", "load", "load_text"]


def __getattr__(name: str) -> Any:  # noqa: ANN401 - what the names above are
    """Hand out the interface on demand, so that ``--help`` does not pay for it."""
    if name in ("Design", "load", "load_text"):
        from wiregen.bundle import notebook  # noqa: F401 - tells records how to show themselves
        from wiregen.design import design

        return getattr(design, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
