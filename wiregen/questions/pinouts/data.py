"""A pinout as JSON for other programs."""

from __future__ import annotations

from typing import Any

from wiregen.catalogue.connector import Connector


def pinout_data(name: str, connector: Connector) -> dict[str, Any]:
    """Return a pinout as plain data."""
    return {"name": name, **connector.model_dump(mode="json")}
