"""How the colour of a wire is shown on screen and paper; beside every swatch stand code and word."""

from __future__ import annotations

from typing import Final

#: Screen and print colours of insulation by IEC 60757 code.
SWATCHES: Final = {
    "BK": "#1a1a1a",
    "BN": "#7b4a1e",
    "RD": "#d0201c",
    "OG": "#f08010",
    "YE": "#f7d510",
    "GN": "#2f9a3c",
    "BU": "#2a62c4",
    "VT": "#7f3fa8",
    "GY": "#8f8f8f",
    "WH": "#ffffff",
    "PK": "#f296bc",
    "TQ": "#2fb8b0",
}


def swatches(code: str) -> list[str]:
    """Return the colours of a code, the stripe's second: none, one, or two for ``WH/BK``."""
    bare = code.replace("/", "")
    parts = (bare[at : at + 2] for at in range(0, len(bare), 2))
    return [SWATCHES[part] for part in parts if part in SWATCHES]
