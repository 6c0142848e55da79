"""What stands in a record of readings, ``<rig>.as-built-<date>.toml``: strict, as everything that is read."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from wiregen.catalogue.connector import Record

Text = Annotated[str, Field(max_length=200)]


class ReadingEntry(Record):
    """One value that was read."""

    number: Annotated[str, Field(pattern=r"^\d+\.\d+$", max_length=20)]
    trailer: Text
    state: Text
    part: Text
    side: Text = ""
    what: Text = ""
    unit: Literal["V", "A"]
    value: Annotated[float, Field(ge=-10_000, le=10_000)]
    lowest: float | None = None
    highest: float | None = None
    judged: Literal["as expected", "low", "high", "not judged"]


class AsBuiltFile(Record):
    """A day's readings."""

    title: Text
    digest: Annotated[str, Field(pattern=r"^[0-9a-f]{12}$")]
    date: dt.date
    by: Text = ""
    meter: Text = ""
    reading: Annotated[list[ReadingEntry], Field(max_length=20_000, default_factory=list)]
