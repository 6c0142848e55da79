"""How wide a text is, from a shipped table of advance widths, so that nothing on a sheet overlaps.

``advance_widths.csv`` holds, for each character, the wider of two open sans-serif faces with the metrics most
readers have (Liberation Sans 1.07.4, which is metric-compatible with the common Helvetica-like faces, and
DejaVu Sans 2.37), in thousandths of the font size, rounded up; read from the ``hmtx`` tables of both files. A
text therefore never comes out wider than said here in either face. Characters outside the table count as one
full font size.
"""

from __future__ import annotations

import csv
import io
import re
from functools import cache
from importlib import resources
from typing import Final, Literal

from wiregen.paper.words import GLUE, tied

#: What no shortening may take away: a contact, part or conductor designation such as ``X1:E``, ``-K3`` or
#: ``W12``.
_DESIGNATION: Final = re.compile(r"[-+=(]*[A-Z]{1,2}\d+(?::[\w-]+)?[),.;]*|\S+:\S+")
_WIDEST: Final = 1000
ELLIPSIS: Final = "…"


@cache
def _table() -> dict[str, tuple[int, int]]:
    text = resources.files("wiregen.draw").joinpath("advance_widths.csv").read_text(encoding="ascii")
    rows = csv.DictReader(io.StringIO(text))
    return {chr(int(row["code"], 16)): (int(row["regular"]), int(row["bold"])) for row in rows}


def text_width_mm(text: str, size_mm: float, weight: Literal["normal", "bold"] = "normal") -> float:
    """Return the width of ``text`` at font size ``size_mm``, mm; never less than a reader will see."""
    table = _table()
    column = 1 if weight == "bold" else 0
    wide = (_WIDEST, _WIDEST)
    return sum(table.get(character, wide)[column] for character in text) * size_mm / 1000


def fit(text: str, width_mm: float, size_mm: float, weight: Literal["normal", "bold"] = "normal") -> str:
    """Return ``text``, shortened with an ellipsis when it is wider than ``width_mm``. For free text only.

    Words go from the end first. Designations and contact marks (``-K3``, ``X1:E``) always stay: where they
    alone are wider than ``width_mm`` the result is too wide, because a lost contact mark is worse than an
    ugly line.
    """
    if text_width_mm(text, size_mm, weight) <= width_mm:
        return text
    words = text.split()
    kept = [True] * len(words)
    for index in range(len(words) - 1, -1, -1):
        if _DESIGNATION.fullmatch(words[index]):
            continue
        kept[index] = False
        shorter = _joined(words, kept)
        if text_width_mm(shorter, size_mm, weight) <= width_mm:
            return _with_letters_of(words, kept, index, width_mm, size_mm, weight)
    return _joined(words, kept)


def _joined(words: list[str], kept: list[bool]) -> str:
    pieces: list[str] = []
    for word, keep in zip(words, kept, strict=True):
        if keep:
            pieces.append(word)
        elif not pieces or pieces[-1] != ELLIPSIS:
            pieces.append(ELLIPSIS)
    return " ".join(pieces)


def _with_letters_of(
    words: list[str],
    kept: list[bool],
    index: int,
    width_mm: float,
    size_mm: float,
    weight: Literal["normal", "bold"],
) -> str:
    """Put back as many letters of the last dropped word as fit: ``left st…`` says more than ``left …``."""
    for length in range(len(words[index]) - 1, 1, -1):
        tried = [*words]
        tried[index] = words[index][:length] + ELLIPSIS
        flags = [*kept]
        flags[index] = True
        text = _joined(tried, flags).replace(f"{ELLIPSIS} {ELLIPSIS}", ELLIPSIS)
        if text_width_mm(text, size_mm, weight) <= width_mm:
            return text
    return _joined(words, kept)


def wrap(text: str, width_mm: float, size_mm: float, weight: Literal["normal", "bold"] = "normal") -> tuple[str, ...]:
    """Return ``text`` in lines up to ``width_mm`` wide, broken between words; a longer word stands alone.

    A number stays with its unit: ``12 V`` and ``2 × P21W`` are one word here.
    """
    lines: list[str] = []
    for word in tied(" ".join(text.split())).split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_mm(longer, size_mm, weight) <= width_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(line.replace(GLUE, " ") for line in lines)
