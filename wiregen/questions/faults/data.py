"""Finding a fault, as plain data for machines."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from wiregen.questions.faults.diagnosis import Diagnosis


def diagnosis_data(found: Diagnosis) -> dict[str, Any]:
    """Return a diagnosis as plain data; probabilities from 0 to 1, efforts in looks at the lamps, gains in bit."""
    data = asdict(found)
    data["pairs"] = [{"first": a, "second": b, "share": share} for a, b, share in found.pairs]
    return data
