"""The blank form for readings, the dated record as TOML, and its verdicts in words."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Sequence
from typing import Any, Final

from wiregen.model.reading import Reading, Span
from wiregen.paper.outward import end
from wiregen.paper.safe_text import clean, guard_csv
from wiregen.paper.words import wrap
from wiregen.questions.record.as_built import AsBuilt, NumberedReading, Taken, Unit

_HEADS: Final = (
    *("number", "trailer", "state", "half", "part", "side", "what", "plus lead", "minus lead"),
    *("V from", "V to", "read V", "A from", "A to", "read A", "rig digest"),
)
_WORDS: Final = ("trailer", "state", "part", "side", "what", "unit")
_JUDGEMENTS: Final = ("as expected", "low", "high", "not judged")
_HEADING: Final = (
    "# What was measured on the finished rig. Written by 'wiregen record'; a record is not corrected afterwards:\n"
    "# measure again and record that."
)


def form_csv(rows: Sequence[NumberedReading], digest: str) -> str:
    r"""Return a blank form: a row a reading with its range, ``read V`` and ``read A`` to be filled in.

    RFC 4180, ``\r\n`` line ends, to be written as UTF-8.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_HEADS)
    for row in rows:
        reading, state = row.reading, row.state
        about = (reading.part, reading.side, reading.what, reading.at, reading.against)
        words = (state.trailer, state.state, state.half, *about)
        volts = ("floats", "") if reading.floats else _ends(reading.volts_v, 2)
        # The apostrophe keeps a spreadsheet from turning 3.10 into 3.1 or a date.
        cells = (f"'{row.ident}", *(guard_csv(word) for word in words))
        writer.writerow((*cells, *volts, "", *_ends(reading.amps_a, 3), "", digest))
    return out.getvalue()


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
    expected = "nothing holds it" if reading.floats and unit == "V" else f"{ends[0]} to {ends[1]} {unit}"
    leads = _leads(reading) if unit == "V" else reading.part
    return clean(f"  {row.ident}  {reading.what}: {leads}, {expected}: ")


def _leads(reading: Reading) -> str:
    """Return where both leads lie; at a contact its side in words, on which the minus lead lies too."""
    if reading.kind != "contact":
        return f"{reading.at} against {reading.against}"
    minus = reading.against.rpartition(".")[0] or reading.against
    return f"{reading.part} ({reading.side} side) against {minus}"


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


def record_text(record: AsBuilt, width: int = 80) -> str:
    """Return the verdicts of a record in words: what is amiss first, then how many are as expected."""
    lines = list(wrap(f"Readings of {clean(record.title)}, {record.date} (digest {record.digest})", width))
    facts = [f"by {record.by}" if record.by else "", f"with {record.meter}" if record.meter else ""]
    lines += wrap(clean(", ".join(fact for fact in facts if fact)), width) if any(facts) else []
    for one in record.amiss:
        lines += ["", *_amiss(one, width)]
    lines += ["", *wrap(_summary(record), width)]
    return "".join(line.rstrip() + "\n" for line in lines)


def _amiss(one: Taken, width: int) -> Iterator[str]:
    side = f", {one.side} side" if one.side else ""
    yield from wrap(clean(f"{one.judged.upper():<5}{one.ident} {one.part}{side}: {one.what}"), width, "     ")
    yield from wrap(f"     read {one.value:g} {one.unit}; expected {range_words(one)}", width, "     ")
    yield from wrap(clean(f"     when: {one.state}; trailer: {one.trailer}"), width, "     ")


def range_words(one: Taken) -> str:
    """Return the expected range in words."""
    if one.lowest is None or one.highest is None:
        return "nothing certain"
    low, high = (f"{value:.3g}" for value in (one.lowest, one.highest))
    return f"{low} {one.unit}" if low == high else f"{low} to {high} {one.unit}"


def _summary(record: AsBuilt) -> str:
    counts = {
        word: sum(one.judged == word for one in record.taken) for word in ("as expected", "low", "high", "not judged")
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
