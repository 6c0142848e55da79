"""Judge what was measured against what was expected."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from wiregen.catalogue.defaults import default
from wiregen.errors import InputError, Problem, guess
from wiregen.model.reading import Reading, Span
from wiregen.questions.record.as_built import Entry, Judgement, NumberedReading, Taken, Unit

#: What a meter may be off: a share of the value and a bit beside, from the catalogue, by unit.
_METER: Final[dict[Unit, tuple[str, str]]] = {
    "V": ("meter_volts_share", "meter_volts_offset_v"),
    "A": ("meter_amps_share", "meter_amps_offset_a"),
}


def judge(entries: Iterable[Entry], rows: Iterable[NumberedReading]) -> tuple[Taken, ...]:
    """Return every entry with what was expected and the verdict, in the order of the entries.

    Args:
        entries: What was typed back.
        rows: What the test sheet asks for.

    Raises:
        InputError: Naming every number that the test sheet does not have, and every one typed twice.
    """
    known = {row.ident: row for row in rows}
    problems, seen, taken = [], set[tuple[str, Unit]](), []
    for entry in entries:
        if entry.ident not in known:
            problems.append(Problem(f"{entry.ident!r} is no number of the test sheet{guess(entry.ident, known)}"))
        elif (entry.ident, entry.unit) in seen:
            problems.append(Problem(f"number {entry.ident} is given twice in {entry.unit}"))
        else:
            taken.append(_judged(entry, known[entry.ident]))
        seen.add((entry.ident, entry.unit))
    if problems:
        raise InputError(problems)
    return tuple(taken)


def _judged(entry: Entry, row: NumberedReading) -> Taken:
    reading = row.reading
    span = reading.volts_v if entry.unit == "V" else reading.amps_a
    half = f" ({row.state.half} half of the flash)" if row.state.half else ""
    return Taken(
        ident=entry.ident,
        trailer=row.state.trailer,
        state=row.state.state + half,
        part=reading.part,
        side=reading.side,
        what=reading.what,
        unit=entry.unit,
        value=entry.value,
        lowest=span.lowest,
        highest=span.highest,
        judged=_verdict(entry, reading, span),
    )


def _verdict(entry: Entry, reading: Reading, span: Span) -> Judgement:
    if span.lowest is None or span.highest is None or (reading.floats and entry.unit == "V"):
        return "not judged"
    value, lowest, highest = entry.value, span.lowest, span.highest
    if entry.unit == "A":
        # Which way round the clamp lies is not written down: the size alone is judged, unless zero lies between.
        value = abs(value)
        sizes = sorted((abs(lowest), abs(highest)))
        lowest, highest = (0.0 if span.lowest <= 0 <= span.highest else sizes[0]), sizes[1]
    share, offset = (default(name).value for name in _METER[entry.unit])
    if value < lowest - share * abs(lowest) - offset:
        return "low"
    return "high" if value > highest + share * abs(highest) + offset else "as expected"
