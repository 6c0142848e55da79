"""Read back what was measured: a form that was filled in, and the dated records beside a rig file."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Final

from wiregen.errors import InputError, Problem
from wiregen.loader.diagnose import validate
from wiregen.loader.reading import parse_toml, read_text
from wiregen.questions.record.as_built import AsBuilt, Entry, Taken, Unit, number_in
from wiregen.questions.record.stored import AsBuiltFile

#: Columns of a form that are read back; the others help whoever measures.
NUMBER, DIGEST = "number", "file code"
READ: Final[dict[str, Unit]] = {"read V": "V", "read A": "A"}


def read_form(path: Path, digest: str) -> tuple[Entry, ...]:
    """Return the values that stand in a filled-in form; cells left blank are not measured.

    Commas or semicolons between cells, points or commas in numbers: spreadsheets of every country will do.

    Args:
        path: The form, CSV.
        digest: Digest of the rig file it must belong to.

    Raises:
        InputError: With every misfit: the file, a missing column, a cell that is no number, another rig's form.
    """
    text = read_text(path)
    lines = text.lstrip("\ufeff").splitlines()
    delimiter = ";" if lines and lines[0].count(";") > lines[0].count(",") else ","
    rows = list(csv.DictReader(lines, delimiter=delimiter))
    heads = set(rows[0]) if rows else set()
    missing = [name for name in (NUMBER, DIGEST, *READ) if name not in heads]
    if missing:
        raise InputError(
            f"{path}: the first line wants the columns {', '.join(missing)}; 'wiregen record RIG --form FILE.csv' "
            "writes a form"
        )
    problems, entries = [], []
    for line, row in enumerate(rows, start=2):
        number = (row[NUMBER] or "").strip().lstrip("'").removeprefix("S")
        for column, unit in READ.items():
            cell = (row[column] or "").strip()
            if not cell:
                continue
            value = number_in(cell)
            if value is None:
                problems.append(Problem(f"{path}:{line}: {cell!r} under {column!r} is no number, such as 12.6"))
            elif (row[DIGEST] or "").strip() != digest:
                problems.append(Problem(f"{path}:{line}: the form is for another revision of the rig; it is {digest}"))
            else:
                entries.append(Entry(number, value, unit))
    if problems:
        raise InputError(problems[:50])
    if not entries:
        raise InputError(f"{path}: nothing is filled in under {' or '.join(map(repr, READ))}")
    return tuple(entries)


def read_record(path: Path) -> AsBuilt:
    """Return one dated record.

    Raises:
        InputError: With every misfit in it.
    """
    made = validate(parse_toml(read_text(path), str(path)), AsBuiltFile)
    return AsBuilt(
        title=made.title,
        digest=made.digest,
        date=made.date,
        by=made.by,
        meter=made.meter,
        taken=tuple(
            Taken(
                ident=one.number,
                trailer=one.trailer,
                state=one.state,
                part=one.part,
                side=one.side,
                what=one.what,
                unit=one.unit,
                value=one.value,
                lowest=one.lowest,
                highest=one.highest,
                judged=one.judged,
            )
            for one in made.reading
        ),
    )


def records_beside(rig: Path) -> tuple[tuple[Path, AsBuilt], ...]:
    """Return every dated record beside a rig file, the oldest first.

    Raises:
        InputError: One of them cannot be read.
    """
    found = sorted(rig.parent.glob(f"{_literal(rig.stem)}.as-built-*.toml"))
    return tuple((path, read_record(path)) for path in found)


def _literal(stem: str) -> str:
    """Return a file's stem with the signs that a pattern would read as wild cards put in brackets."""
    return "".join(f"[{sign}]" if sign in "*?[" else sign for sign in stem)
