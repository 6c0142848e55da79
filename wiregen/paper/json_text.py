"""JSON for other programs."""

from __future__ import annotations

import json


def json_text(data: object) -> str:
    """Return JSON with a final line end; NaN never appears, because it is no JSON."""
    return json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False) + "\n"
