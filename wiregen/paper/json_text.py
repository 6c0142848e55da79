"""Papers and records as JSON for other programs: stable keys, units in the keys, numbers as they were computed."""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from pathlib import PurePath
from typing import Any, Final

from wiregen.paper.blocks import Paper

#: Version of what the files hold. It goes up when a key changes its meaning or goes away, not when one is added.
FORMAT: Final = 1
#: Digits behind the point that are kept: far below any meter, so that a text does not hang on the last bit.
_DIGITS: Final = 6


def json_text(data: object) -> str:
    """Return JSON with a final line end; NaN never appears, because it is no JSON.

    A file's name may have a byte that the locale cannot read; UTF-8 has no place for it, a JSON escape has (RFC 8259,
    section 8.2).
    """
    text = json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False) + "\n"
    return text.encode("utf-8", "backslashreplace").decode()


def paper_json(paper: Paper) -> str:
    """Return the record behind a paper, or all it says where there is none, under format number and kind."""
    return data_json(paper.kind, said(paper) if paper.data is None else paper.data)


def data_json(kind: str, data: Mapping[str, Any]) -> str:
    """Return plain data as JSON under format number and kind."""
    return json_text({"format": FORMAT, "kind": kind, **data})


def said(paper: Paper) -> dict[str, Any]:
    """Return all that a paper says as plain data, each block with the name of what it is."""
    return {
        "title": paper.head.title,
        "facts": dict(paper.told),
        "blocks": [{"block": type(block).__name__.lower(), **plain(block)} for block in paper.blocks],
        "closing": paper.closing,
    }


def plain(value: Any) -> Any:  # noqa: ANN401 - any record in, plain data out
    """Return a record as plain data: numbers rounded far below any meter, None for one that is not finite."""
    if is_dataclass(value) and not isinstance(value, type):
        return {one.name: plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(entry) for key, entry in value.items()}
    if isinstance(value, str | int | bool | None):
        return value
    if isinstance(value, float):
        return round(value, _DIGITS) if math.isfinite(value) else None
    if isinstance(value, dt.date | PurePath):
        return str(value)
    if isinstance(value, frozenset | set):
        return sorted(plain(entry) for entry in value)
    if isinstance(value, Iterable):
        return [plain(entry) for entry in value]
    message = f"no plain data for {type(value).__name__}"
    raise TypeError(message)
