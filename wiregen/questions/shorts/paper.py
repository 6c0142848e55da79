"""Short circuits for a terminal and for machines."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any, Final

from wiregen.paper.safe_text import clean
from wiregen.paper.words import wrap
from wiregen.quantity import show
from wiregen.questions.shorts.record import ShortRow, ShortSheet

_CAUTION: Final = (
    "Advice only. Opening times are those of standards and data sheets, mostly from memory below 30 A; a fuse of "
    "another make may differ. Never test a short on purpose."
)
_CELLS: Final = 38
_DIGITS: Final = 6


def shorts_text(sheet: ShortSheet, width: int = 80) -> str:
    """Return the shorts as plain text, no line wider than ``width`` columns (80 at least).

    Args:
        sheet: What to print.
        width: Columns of the terminal.
    """
    width = max(width, 80)
    lines = [*_head(sheet, width), ""]
    name_width = width - 2 - _CELLS
    lines.append(f"  {'touches ground':<{name_width}}{'A least':>8}{'A most':>9}  {'opened by':<11}{'latest':>8}")
    for row in sheet.rows:
        lines += _row(row, name_width, width)
    for sentence in sheet.left_out:
        lines += ["", *wrap(clean(sentence), width)]
    lines += ["", *wrap(_CAUTION, width)]
    return "".join(line.rstrip() + "\n" for line in lines)


def _head(sheet: ShortSheet, width: int) -> Iterator[str]:
    yield from wrap(f"Short circuits of {clean(sheet.title)}  (digest {sheet.digest})", width)
    yield from wrap(
        "Every conductor that is fed touches ground at its far end, and every fuse right behind it, one at a time: at "
        "the least with the battery low, copper hot and contacts aged, at the most while charging, cold and new. "
        "'latest' is when the fuse has opened for certain.",
        width,
    )


def _row(row: ShortRow, name_width: int, width: int) -> Iterator[str]:
    names = wrap(clean(row.place), name_width - 1, "  ")
    none = "unknown" if row.ends == "not known" else "nothing"
    device = f"{row.device} {row.rating_a:g} A" if row.rating_a is not None else none
    latest = show(row.latest_s, "s") if row.latest_s is not None else _never(row)
    cells = f"{_amps(row.least_a):>8}{_amps(row.most_a):>9}  {device:<11}{latest:>8}"
    yield f"  {names[0]:<{name_width}}{cells}"
    for more in names[1:]:
        yield f"  {more}"
    note = _note(row)
    if note:
        yield from wrap(f"    {note}", width, "      ")


def _never(row: ShortRow) -> str:
    """Return what stands in place of a latest time."""
    if not row.device:
        return "-"
    return "never?" if row.opening_known else "unknown"


def _amps(value: float | None) -> str:
    """Return a current for its column; what leaks through an open contact is too little to be told in digits."""
    if value is None:
        return "-"
    return "<0.001" if 0 < value < 0.001 else show(value, "A").removesuffix(" A")


def _note(row: ShortRow) -> str:
    """Return what else there is to say of a short that does not simply end in time."""
    if row.ends == "in time":
        return ""
    if row.ends == "carried":
        what = f"all that {row.limited_by} gives" if row.limited_by else "this"
        unknown = "" if row.opening_known else f"; no opening time is known for {row.device}, {row.rating_a:g} A"
        return f"harmless: every conductor on the way carries {what} for good{unknown}" if row.conductor else ""
    if row.ends == "not known":
        return f"NOT KNOWN: {_missing(row)}"
    limited = f", all that {row.limited_by} gives" if row.limited_by else ""
    stands = f" and stands it for {show(row.stands_s, 's')}" if row.stands_s is not None else ""
    carries = f"{row.conductor} has {show(row.conductor_a or 0.0, 'A')} in it{stands}{limited}"
    word = {"late": "LATE", "burns": "BURNS", "never": "MAY NEVER OPEN", "no device": "NO FUSE", "cycles": "CYCLES"}[
        row.ends
    ]
    return f"{word}: {carries}"


def _missing(row: ShortRow) -> str:
    """Return what is missing to tell how a short ends."""
    if row.unlimited_by:
        return f"no current limit of {row.unlimited_by} is given"
    if not row.opening_known:
        return f"no opening time is known for {row.device}, {row.rating_a:g} A"
    return "what comes and goes with the voltage never comes to rest"


def shorts_data(sheet: ShortSheet) -> dict[str, Any]:
    """Return the shorts as plain data: amps in ``*_a``, seconds in ``*_s``, null where there is none."""
    return {
        "title": sheet.title,
        "digest": sheet.digest,
        "shorts": [
            {name: round(value, _DIGITS) if isinstance(value, float) else value for name, value in asdict(row).items()}
            for row in sheet.rows
        ],
        "left_out": list(sheet.left_out),
    }
