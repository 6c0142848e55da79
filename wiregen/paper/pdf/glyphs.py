"""Which characters the shipped fonts can print, read from the fonts themselves.

A tagged PDF may hold no character without a glyph, and a reader must not see an empty box where a word stood. What the
fonts have not is printed as its code, ``[U+4E2D]``.
"""

from __future__ import annotations

import struct
from functools import cache
from importlib import resources
from typing import Final

from wiregen.paper.safe_text import REPLACEMENT
from wiregen.paper.words import bind_units, breakable

FONT_FILES: Final = ("LiberationSans-Regular.ttf", "LiberationSans-Bold.ttf")
FONT_FAMILY: Final = "Liberation Sans"
#: A longer word gets places where a line may break.
_LONGEST_WORD: Final = 18
_ZERO_WIDTH_SPACE: Final = "\u200b"


@cache
def covered() -> frozenset[int]:
    """Return the code points that every shipped font has."""
    folder = resources.files("wiregen.paper.pdf").joinpath("fonts")
    found = [_code_points(folder.joinpath(name).read_bytes()) for name in FONT_FILES]
    return frozenset.intersection(*found)


def _code_points(font: bytes) -> frozenset[int]:
    """Return the code points of a TrueType font: those of its ``cmap`` subtables of format 4."""
    (count,) = struct.unpack(">H", font[4:6])
    records = (struct.unpack(">4sLLL", font[12 + 16 * k : 28 + 16 * k]) for k in range(count))
    start = next(offset for tag, _, offset, _ in records if tag == b"cmap")
    (subtables,) = struct.unpack(">H", font[start + 2 : start + 4])
    points: set[int] = set()
    for number in range(subtables):
        at = start + 4 + 8 * number
        platform, _, offset = struct.unpack(">HHL", font[at : at + 8])
        if platform in (0, 3):
            points |= _format_4(font, start + offset)
    return frozenset(points)


def _format_4(font: bytes, at: int) -> set[int]:
    kind, _, _, doubled = struct.unpack(">HHHH", font[at : at + 8])
    if kind != 4:
        return set()
    segments = doubled // 2
    ends = struct.unpack(f">{segments}H", font[at + 14 : at + 14 + doubled])
    starts_at = at + 16 + doubled
    starts = struct.unpack(f">{segments}H", font[starts_at : starts_at + doubled])
    deltas = struct.unpack(f">{segments}H", font[starts_at + doubled : starts_at + 2 * doubled])
    offsets_at = starts_at + 2 * doubled
    offsets = struct.unpack(f">{segments}H", font[offsets_at : offsets_at + doubled])
    points: set[int] = set()
    for k, (first, last, delta, offset) in enumerate(zip(starts, ends, deltas, offsets, strict=True)):
        for code in range(first, min(last, 0xFFFE) + 1):
            glyph = code
            if offset:
                place = offsets_at + 2 * k + offset + 2 * (code - first)
                (glyph,) = struct.unpack(">H", font[place : place + 2])
                if not glyph:
                    continue
            if (glyph + delta) & 0xFFFF:
                points.add(code)
    return points


def printable(text: str) -> str:
    """Return ``text`` with every character that no font has replaced by its code."""
    known = covered()
    if all(ord(character) in known or character in "\n\t" for character in text):
        return text
    return "".join(_shown(character, known) for character in text)


def _shown(character: str, known: frozenset[int]) -> str:
    if ord(character) in known or character in "\n\t":
        return character
    return "[?]" if character == REPLACEMENT else f"[U+{ord(character):04X}]"


def words(text: str) -> str:
    """Return ``text`` ready for a paragraph or a cell: clean, printable, units bound, long words breakable."""
    return breakable(printable(bind_units(text)), _LONGEST_WORD, _ZERO_WIDTH_SPACE)
