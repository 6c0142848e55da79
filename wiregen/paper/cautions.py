"""What stands beside every answer."""

from __future__ import annotations

CAUTION = (
    "Advice only: it computes from what the rig file says. Vehicles differ from their manuals. Brakes, fuses, "
    "batteries and lamps on the road are safety matters: local codes and qualified people have the last word."
)
