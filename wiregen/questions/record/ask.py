"""What was measured on the finished rig: a form to fill in, the verdicts, and the records beside the rig file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from wiregen.design.design import Design
    from wiregen.questions.record.as_built import AsBuilt, Entry, NumberedReading


def sheet_rows(design: Design) -> tuple[NumberedReading, ...]:
    """Return the readings that the test sheet asks for, with their numbers.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.questions.record.as_built import numbered

    return numbered(design.readings())


def rows_of(
    rows: Sequence[NumberedReading], state: str | None = None, trailer: str | None = None
) -> tuple[NumberedReading, ...]:
    """Return the rows of one state, of one trailer, or both.

    Raises:
        InputError: The test sheet has no such state or trailer.
    """
    from wiregen.errors import ArgumentError

    for field, wanted, known in (
        ("state", state, [row.state.state for row in rows]),
        ("trailer", trailer, [row.state.trailer for row in rows]),
    ):
        if wanted is not None and wanted.strip().lower() not in {name.lower() for name in known}:
            raise ArgumentError.unknown(field, wanted, known, "the test sheet")

    def fits(wanted: str | None, name: str) -> bool:
        return wanted is None or wanted.strip().lower() == name.lower()

    return tuple(row for row in rows if fits(state, row.state.state) and fits(trailer, row.state.trailer))


def judge(
    design: Design,
    rows: Sequence[NumberedReading],
    entries: Sequence[Entry],
    date: dt.date,
    by: str = "",
    meter: str = "",
) -> AsBuilt:
    """Return the day's record: every value with its range and verdict.

    Args:
        design: The rig.
        rows: What the test sheet asks for.
        entries: What was read.
        date: The day.
        by: Who measured.
        meter: With what.

    Raises:
        InputError: An entry's number is not on the test sheet, or given twice.
    """
    from wiregen.questions.record.as_built import AsBuilt
    from wiregen.questions.record.judge import judge as judged

    return AsBuilt(title=design.title, digest=design.digest, date=date, by=by, meter=meter, taken=judged(entries, rows))


def read_form(path: Path, design: Design) -> tuple[Entry, ...]:
    """Return the values of a filled-in form.

    Raises:
        InputError: With every misfit.
    """
    from wiregen.questions.record.files import read_form as read

    return read(path, design.digest)


def records(rig: Path) -> tuple[tuple[Path, AsBuilt], ...]:
    """Return the dated records beside a rig file, the oldest first.

    Raises:
        InputError: One of them cannot be read.
    """
    from wiregen.questions.record.files import records_beside

    return records_beside(rig)


def record_path(rig: Path, date: dt.date) -> Path:
    """Return where the record of a day is kept: beside the rig file."""
    return rig.with_name(f"{rig.stem}.as-built-{date.isoformat()}.toml")


def together(earlier: AsBuilt | None, later: AsBuilt) -> AsBuilt:
    """Return two records of one day as one: of a value read twice, the later one counts.

    Raises:
        InputError: The rig file has changed in between.
    """
    from dataclasses import replace

    from wiregen.errors import InputError

    if earlier is None:
        return later
    if earlier.digest != later.digest:
        raise InputError(
            f"the record of {later.date} is for another revision of the rig ({earlier.digest}, now {later.digest}): "
            "record what you measure now under another --date"
        )
    again = {(one.ident, one.unit) for one in later.taken}
    kept = [one for one in earlier.taken if (one.ident, one.unit) not in again]
    taken = sorted((*kept, *later.taken), key=lambda one: ([int(part) for part in one.ident.split(".")], one.unit))
    return replace(later, by=later.by or earlier.by, meter=later.meter or earlier.meter, taken=tuple(taken))
