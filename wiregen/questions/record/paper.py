"""The blank form for readings, the dated record as TOML, and its verdicts as a paper."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any, Final

from wiregen.model.reading import Reading, Span
from wiregen.paper.blocks import Block, Column, Head, Heading, Paper, Para, Row, Table, grouped, row
from wiregen.paper.csv_text import csv_lines
from wiregen.paper.outward import end
from wiregen.paper.safe_text import clean
from wiregen.paper.words import marks
from wiregen.questions.record.as_built import AsBuilt, NumberedReading, Taken, Unit

_HEADS: Final = (
    *("number", "trailer", "state", "half", "part", "side", "what", "red lead", "black lead"),
    *("V from", "V to", "read V", "A from", "A to", "read A", "file code"),
)
_WORDS: Final = ("trailer", "state", "part", "side", "what", "unit")
_JUDGEMENTS: Final = ("as expected", "low", "high", "not judged")
_HEADING: Final = (
    "# What was measured on the finished rig. Written by 'wiregen record'; a record is not corrected afterwards:\n"
    "# measure again and record that."
)


def form_csv(rows: Sequence[NumberedReading], digest: str) -> str:
    """Return a blank form: a row a reading with its range, ``read V`` and ``read A`` to be filled in.

    The number has a letter in front: a spreadsheet would make 3.1 of 3.10.
    """
    return csv_lines(_HEADS, (_form_row(row, digest) for row in rows))


def _form_row(row: NumberedReading, digest: str) -> tuple[str, ...]:
    reading, state = row.reading, row.state
    about = (marks(reading.part), reading.side, reading.what, marks(reading.at), marks(reading.against))
    volts = ("floats", "") if reading.floats else _ends(reading.volts_v, 2)
    words = (f"S{row.ident}", state.trailer, state.state, state.half, *about)
    return (*words, *volts, "", *_ends(reading.amps_a, 3), "", digest)


def _ends(span: Span, digits: int) -> tuple[str, str]:
    """Return both ends as the test sheet of the packet prints them."""
    low, high = span.lowest, span.highest
    return (
        "" if low is None else end(low, digits, up=False),
        "" if high is None else end(high, digits, up=True),
    )


def asked_text(row: NumberedReading, unit: Unit) -> str:
    """Return the question for one reading, on the terminal."""
    reading = row.reading
    span = reading.volts_v if unit == "V" else reading.amps_a
    ends = _ends(span, 2 if unit == "V" else 3)
    expected = "nothing holds it" if reading.floats and unit == "V" else f"should read {ends[0]} to {ends[1]} {unit}"
    leads = _leads(reading) if unit == "V" else marks(reading.part)
    return clean(f"  {row.ident}  {reading.what}: {leads}; {expected}: ")


def _leads(reading: Reading) -> str:
    """Return where both leads lie; at a contact its side in words, on which the black lead lies too."""
    if reading.kind != "contact":
        return f"red lead {marks(reading.at)}, black lead {marks(reading.against)}"
    black = marks(reading.against.rpartition(".")[0] or reading.against)
    return f"red lead {marks(reading.part)} ({reading.side} side), black lead {black}"


def record_toml(record: AsBuilt) -> str:
    """Return a record as TOML."""
    lines = [_HEADING, ""]
    lines += [f"{name} = {_text(getattr(record, name))}" for name in ("title", "digest")]
    lines.append(f"date = {record.date.isoformat()}")
    lines += [f"{name} = {_text(getattr(record, name))}" for name in ("by", "meter")]
    for one in record.taken:
        lines += ["", "[[reading]]", f"number = {_text(one.ident)}"]
        lines += [
            f"{name} = {_text(getattr(one, name))}" for name in ("trailer", "state", "part", "side", "what", "unit")
        ]
        lines.append(f"value = {one.value!r}")
        ends = (("lowest", one.lowest), ("highest", one.highest))
        lines += [f"{name} = {round(value, 6)!r}" for name, value in ends if value is not None]
        lines.append(f"judged = {_text(one.judged)}")
    return "\n".join(lines) + "\n"


def _text(text: str) -> str:
    """Return a TOML basic string: JSON's escapes are among TOML's."""
    return json.dumps(clean(text), ensure_ascii=False)


def records_paper(records: Sequence[AsBuilt], title: str, *, full: bool = True) -> Paper:
    """Return what was measured, day by day: what is outside its range first, every reading where ``full``."""
    blocks: list[Block] = []
    for record in records:
        blocks += _day(record, full=full)
    return Paper(
        kind="record",
        name="Test record",
        head=Head(title=title, digest=records[-1].digest if records else ""),
        blocks=tuple(blocks) or (Para("Nothing has been recorded yet."),),
        data={"records": [record_data(record) for record in records]},
    )


def _day(record: AsBuilt, *, full: bool) -> Iterator[Block]:
    yield Heading(record.date.isoformat())
    yield Para(_summary(record), bold=bool(record.amiss))
    who = [f"by {record.by}" if record.by else "", f"with {record.meter}" if record.meter else ""]
    known = ", ".join(part for part in who if part)
    yield Para(f"Measured{f' {known}' if known else ''}; judged by the rig file with file code {record.digest}.")
    if record.amiss:
        yield _taken_table(record.amiss, "Outside their range")
    others = [one for one in record.taken if one not in record.amiss]
    if others and full:
        yield _taken_table(others, "The others")


def _taken_table(taken: Sequence[Taken], group: str) -> Table:
    columns = (
        Column("No."),
        Column("Verdict"),
        Column("Where"),
        Column("What it is", 1.4),
        Column("Read", right=True),
        Column("Should read"),
        Column("Setting", 1.2, spare=2),
        Column("Trailer", 0.8, spare=1),
    )
    return Table(columns, grouped((group, _taken(one)) for one in taken))


def _taken(one: Taken) -> Row:
    where = f"{marks(one.part)}{f', {one.side}' if one.side else ''}"
    read = f"{one.value:g} {one.unit}"
    cells = (one.ident, one.judged.upper(), where, one.what, read, range_words(one), one.state, one.trailer)
    return row(cells, bold=(1, 2, 4), marked=one.judged in ("low", "high"))


def range_words(one: Taken) -> str:
    """Return the expected range in words."""
    if one.lowest is None or one.highest is None:
        return "nothing certain"
    low, high = (f"{value:.3g}" for value in (one.lowest, one.highest))
    return f"{low} {one.unit}" if low == high else f"{low} to {high} {one.unit}"


def _summary(record: AsBuilt) -> str:
    counts = {
        word: sum(one.judged == word for one in record.taken) for word in ("low", "high", "as expected", "not judged")
    }
    told = ", ".join(f"{count} {word}" for word, count in counts.items() if count)
    end = (
        "Something differs from the rig file, or there is a fault: find out which before the trailer goes on the road."
        if record.amiss
        else "What was measured fits the rig file; what was not measured is not proved."
    )
    return f"{told or 'Nothing read'}. {end}"


def record_data(record: AsBuilt) -> dict[str, Any]:
    """Return a record as plain data for JSON."""
    return {
        "title": record.title,
        "digest": record.digest,
        "date": record.date.isoformat(),
        "by": record.by,
        "meter": record.meter,
        "amiss": len(record.amiss),
        "readings": [
            {
                "number": one.ident,
                "trailer": one.trailer,
                "state": one.state,
                "part": one.part,
                "side": one.side,
                "what": one.what,
                "unit": one.unit,
                "value": one.value,
                "lowest": one.lowest,
                "highest": one.highest,
                "judged": one.judged,
            }
            for one in record.taken
        ],
    }
