"""The wiring chart as plain text: readable on a terminal of 80 columns, in a pipe and in a mail."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

from wiregen.catalogue.connector import SUPPORT_MARKS, SUPPORT_WORDS
from wiregen.model.chart import NO_FUSE, Chart, ConductorRow, MeasureRow, PinRow, RelayRow, tag_words
from wiregen.paper.safe_text import clean, display_width

_GLUE: Final = "\N{NO-BREAK SPACE}"
_UNIT: Final = re.compile(r"(?<=\d) (?=(?:A|V|W|m|ohm|Ω|mΩ|mm²|AWG|SAE)\b)")
_BREAK: Final = re.compile(r"(?<=\+)(?=[A-Z])|(?<=[a-z][/-])(?=[a-z])")
_INDENT: Final = "    "
_GAP: Final = "  "
#: Columns; a longer word is cut where a table would else be wider than the terminal.
_LONGEST: Final = 18
_NARROWEST: Final = 48

#: Headings that every writer uses.
PINS_HEADING: Final = "Pin to pin"
CONDUCTORS_HEADING: Final = "Conductors"
MEASURES_HEADING: Final = "Measure before connecting"
RELAYS_HEADING: Final = "Relay wiring"
NOTICES_HEADING: Final = "Notices"
CAUTIONS_HEADING: Final = "Cautions"
SUPPORT_HEADING: Final = "Support marks"
MEASURE_ADVICE: Final = (
    "Measure every contact below on the real vehicle before a trailer is plugged in. "
    "Find a contact by the mark moulded beside it, never by its position."
)
NOT_VERIFIED: Final = "not verified"

Row = TypeVar("Row", PinRow, ConductorRow)

#: Name of a group, and its rows: cells, and the notes to print below them.
_Group = tuple[str, list[tuple[list[str], list[str]]]]


@dataclass(frozen=True, slots=True)
class _Column:
    """One column of a text table.

    Attributes:
        heading: Word above it.
        right: Whether numbers are set flush right.
        spare: Whether its cells go to a line below the row where the table is too wide; the highest goes first.
    """

    heading: str
    right: bool = False
    spare: int = 0


def terminal_text(chart: Chart, width: int = 80) -> str:
    """Return the chart as plain text.

    Args:
        chart: What to lay out.
        width: Columns of the terminal; no line is wider. Below 48 columns the text is set for 48.

    Returns:
        Text with line ends, no control characters, no colour.
    """
    width = max(width, _NARROWEST)
    lines = [*_head(chart, width)]
    lines += _list(CAUTIONS_HEADING, chart.cautions, width)
    lines += _pin_table(chart, width)
    lines += _support_lines(width)
    lines += _conductor_table(chart, width)
    lines += _list(RELAYS_HEADING, (*chart.relay_notes, *(relay_text(row) for row in chart.relays)), width)
    lines += _list(NOTICES_HEADING, chart.notices, width)
    lines += _measure_table(chart, width)
    return "".join(line.replace(_GLUE, " ").rstrip() + "\n" for line in lines)


def grouped(rows: Iterable[Row]) -> Iterator[tuple[str, list[Row]]]:
    """Yield rows by function group, groups in the order of their first row, rows in their own order."""
    groups: dict[str, list[Row]] = {}
    for row in rows:
        groups.setdefault(row.group, []).append(row)
    yield from groups.items()


def support_legend() -> tuple[tuple[str, str], ...]:
    """Return (mark, meaning) of every support mark."""
    return tuple((mark, SUPPORT_WORDS[key]) for key, mark in SUPPORT_MARKS.items())


def support_note() -> str:
    """Return how several marks in one cell are read."""
    return (
        "Two marks or more, such as 2, 1 / ?: the vehicle contacts in the order of 'From', a slash, the trailer "
        "contact. One mark where all are alike. A mark in brackets behind a colour is that of the colour alone."
    )


def bind_units(text: str) -> str:
    """Return ``text`` cleaned, with a no-break space between every number and its unit."""
    return _UNIT.sub(_GLUE, clean(text))


def marks_text(support: str, unverified: bool) -> str:
    """Return support marks for one cell, with a sign where they are not enough; no line starts with a slash."""
    return (support + ("!" if unverified else "")).replace(" /", f"{_GLUE}/")


def sheet_facts(chart: Chart) -> tuple[tuple[str, str], ...]:
    """Return (word, value) of everything the title block states, leaving out what is empty."""
    sheet = chart.sheet
    facts = (
        ("Vehicle", chart.vehicle),
        ("Revision", sheet.revision),
        ("Date", sheet.date),
        ("Drawn by", sheet.author),
        ("Digest", sheet.digest),
    )
    return tuple((word, value) for word, value in facts if value)


def through(row: PinRow) -> str:
    """Return what lies between the two contacts, channel and fuse; 'not connected' where nothing does."""
    channel = "a plain wire" if row.channel == "wire" else row.channel
    parts = (channel, row.fuse if row.fuse in ("", NO_FUSE) else f"fuse {row.fuse}")
    return ", ".join(part for part in parts if part) or "not connected"


def relay_text(row: RelayRow) -> str:
    """Return how the relays of a channel are wired, in sentences."""
    head = "; ".join(part for part in (row.title, row.about) if part)
    return f"{head}. Join {'; '.join(row.joints)}. {row.note}".rstrip()


def length_text(row: ConductorRow) -> str:
    """Return a length in metres and in feet; the rig file may have used either."""
    return f"{row.length_m:.2f}{_GLUE}m{_GLUE}/ {row.length_ft:.2f}{_GLUE}ft"


def colour_text(code: str, word: str) -> str:
    """Return code and word of a colour, or 'any' where the rig leaves it open."""
    return " ".join(part for part in (code, word) if part) or "any"


def _head(chart: Chart, width: int) -> Iterator[str]:
    yield from wrap(clean(f"Wiring chart: {chart.sheet.title}"), width)
    yield "═" * width
    facts = [f"{word}: {clean(value)}" for word, value in sheet_facts(chart)]
    yield from wrap(" · ".join(facts), width)
    for designation, short, follows in chart.connectors:
        words = f"{clean(designation)}  {clean(short)}" + (f" ({clean(follows)})" if follows else "")
        yield from wrap(words, width, _INDENT)


def _heading(text: str, width: int) -> list[str]:
    return ["", text.upper(), "═" * min(width, len(text))]


def _pin_table(chart: Chart, width: int) -> Iterator[str]:
    columns = (
        _Column("From"),
        _Column("Vehicle has"),
        _Column("To"),
        _Column("Trailer has"),
        _Column("Trailer", spare=1),
        _Column("Colour"),
        _Column("Sup."),
    )
    yield from _heading(PINS_HEADING, width)
    groups = [(group, [(_pin_cells(row), _pin_notes(row)) for row in rows]) for group, rows in grouped(chart.pins)]
    yield from _table(columns, groups, width)


def _pin_cells(row: PinRow) -> list[str]:
    return [
        row.start,
        row.vehicle_circuit or "-",
        row.trailer_contact or "-",
        row.circuit if row.trailer_contact else "-",
        row.trailer or "-",
        colour_text(row.colour, row.colour_word) if row.trailer_contact else "-",
        marks_text(row.support, row.unverified) or "-",
    ]


def _pin_notes(row: PinRow) -> list[str]:
    way = f"via {through(row)}" if row.channel or row.fuse else ""
    first = "; ".join(part for part in (way or _unconnected(row), tag_words(row.tag)) if part)
    notes = [first] if first else []
    if row.logic:
        notes.append(f"live when: {row.logic}")
    if row.unverified:
        notes.append(f"! {NOT_VERIFIED.upper()}: {row.note or 'find the moulded mark and measure.'}")
    elif row.note:
        notes.append(f"note: {row.note}" if way else row.note)
    return notes


def _unconnected(row: PinRow) -> str:
    """Return 'not connected', unless the note says so itself."""
    words = through(row)
    return "" if row.note.startswith(words) else words


def _conductor_table(chart: Chart, width: int) -> Iterator[str]:
    columns = (
        _Column("Ref"),
        _Column("From"),
        _Column("To"),
        _Column("Circuit", spare=3),
        _Column("Colour"),
        _Column("Size", spare=1),
        _Column("m", right=True),
        _Column("ft", right=True, spare=2),
        _Column("Fuse"),
        _Column("Trailer", spare=5),
        _Column("Marking", spare=6),
        _Column("Sup.", spare=4),
    )
    yield from _heading(f"{CONDUCTORS_HEADING} to cut", width)
    groups: list[_Group] = [
        (group, [(_conductor_cells(row), []) for row in rows]) for group, rows in grouped(chart.conductors)
    ]
    yield from _table(columns, groups, width)
    if chart.conductor_notes:
        yield ""
    for note in chart.conductor_notes:
        yield from wrap(note, width, _INDENT)


def _conductor_cells(row: ConductorRow) -> list[str]:
    return [
        row.ref,
        row.start,
        row.end,
        row.circuit,
        colour_text(row.colour, row.colour_word),
        row.size,
        f"{row.length_m:.2f}",
        f"{row.length_ft:.2f}",
        row.fuse.replace(" ", _GLUE) or "-",
        row.trailer or "all",
        row.marking_words or "-",
        marks_text(row.support, row.unverified) or "-",
    ]


def _measure_table(chart: Chart, width: int) -> Iterator[str]:
    columns = (_Column("Contact"), _Column("Against"), _Column("Controls"), _Column("Meter shows"), _Column("Sup."))
    yield from _heading(MEASURES_HEADING, width)
    yield from wrap(MEASURE_ADVICE, width)
    for note in chart.measure_notes:
        yield from wrap(f"* {clean(note)}", width, "  ")
    yield ""
    groups: list[_Group] = [
        (connector, list(_measure_rows(rows))) for connector, rows in measures_by_connector(chart.measures)
    ]
    yield from _table(columns, groups, width)


def _measure_rows(rows: Sequence[MeasureRow]) -> Iterator[tuple[list[str], list[str]]]:
    """Yield cells and notes; what a contact is stands below the last of its rows that follow each other."""
    for row, after in zip(rows, [*rows[1:], None], strict=True):
        cells = [row.contact, row.against, row.switch, row.expected, marks_text(row.support, row.unverified) or "-"]
        again = after is not None and (after.contact, after.why) == (row.contact, row.why)
        yield cells, [] if again else [f"{row.contact}: {row.why}"]


def measures_by_connector(rows: Iterable[MeasureRow]) -> Iterator[tuple[str, list[MeasureRow]]]:
    """Yield measures by connector, in the order of first appearance."""
    groups: dict[str, list[MeasureRow]] = {}
    for row in rows:
        groups.setdefault(row.connector, []).append(row)
    yield from groups.items()


def _support_lines(width: int) -> Iterator[str]:
    yield ""
    legend = "; ".join(f"{mark} = {meaning}" for mark, meaning in support_legend())
    yield from wrap(f"{SUPPORT_HEADING} (Sup.): {legend}. {support_note()} ! = {NOT_VERIFIED}.", width, _INDENT)


def _list(heading: str, texts: Sequence[str], width: int) -> Iterator[str]:
    if texts:
        yield from _heading(heading, width)
    for text in texts:
        yield from wrap(f"* {clean(text)}", width, "  ")


def _table(columns: Sequence[_Column], groups: Sequence[_Group], width: int) -> Iterator[str]:
    """Yield the lines of one table: a heading row, then each group's name, rows and their notes."""
    if not groups:
        yield "None."
        return
    cells = [[bind_units(cell) for cell in row] for _, rows in groups for row, _ in rows]
    kept = _kept(columns, cells, width)
    shown = [columns[i] for i in kept]
    widths = _column_widths(shown, [[row[i] for i in kept] for row in cells], width)
    moved = sorted(set(range(len(columns))) - set(kept))
    yield from _lay(shown, [column.heading for column in shown], widths)
    yield _GAP.join("─" * room for room in widths)
    for index, (group, rows) in enumerate(groups):
        if index:
            yield ""
        yield from wrap(f"[{clean(group)}]", width)
        for row, notes in rows:
            yield from _lay(shown, [bind_units(row[i]) for i in kept], widths)
            below = " · ".join(f"{columns[i].heading.lower()} {row[i]}" for i in moved if row[i] not in ("-", "all"))
            for note in (*((below,) if below else ()), *notes):
                yield from wrap(_INDENT + bind_units(note), width, _INDENT + "  ")


def _kept(columns: Sequence[_Column], cells: Sequence[Sequence[str]], width: int) -> list[int]:
    """Return the columns that stand side by side without a word cut; the spare ones leave in their order."""
    kept = list(range(len(columns)))
    least = [_least([column.heading, *(row[i] for row in cells)]) for i, column in enumerate(columns)]
    for leaving in sorted(kept, key=lambda i: -columns[i].spare):
        if sum(least[i] + len(_GAP) for i in kept) - len(_GAP) <= width or not columns[leaving].spare:
            break
        kept.remove(leaving)
    return kept


def _column_widths(columns: Sequence[_Column], cells: Sequence[Sequence[str]], width: int) -> list[int]:
    """Return the widths of columns: natural where all fits; else the widest column that can wrap gives way first."""
    table = [[column.heading for column in columns], *cells]
    widths = [max(display_width(row[i]) for row in table) for i in range(len(columns))]
    least = [_least([row[i] for row in table]) for i in range(len(columns))]
    room = width - len(_GAP) * (len(columns) - 1)
    for floor in (least, [min(low, 4) for low in least], [1] * len(columns)):
        while sum(widths) > room:
            slack = [have - low for have, low in zip(widths, floor, strict=True)]
            if max(slack) <= 0:
                break
            widest = max(range(len(widths)), key=lambda i: (slack[i] > 0, widths[i], -i))
            widths[widest] -= 1
    return widths


def _least(texts: Sequence[str]) -> int:
    """Return the narrowest width, columns, in which no word is cut, up to a sane limit."""
    return min(max(display_width(piece.strip(" ")) for text in texts for piece in _pieces(text)), _LONGEST)


def _lay(columns: Sequence[_Column], row: Sequence[str], widths: Sequence[int]) -> Iterator[str]:
    wrapped = [wrap(cell, room) for cell, room in zip(row, widths, strict=True)]
    for i in range(max(len(lines) for lines in wrapped)):
        parts = []
        for column, lines, room in zip(columns, wrapped, widths, strict=True):
            text = lines[i] if i < len(lines) else ""
            blank = " " * (room - display_width(text))
            parts.append(blank + text if column.right else text + blank)
        yield _GAP.join(parts)


def wrap(text: str, width: int, indent: str = "") -> list[str]:
    """Return ``text`` as lines of at most ``width`` columns; only a word longer than a line is cut.

    A line may break at a space, after a plus that joins contacts, and after the slash or hyphen between two words.

    Args:
        text: One paragraph; spaces at its start are kept.
        width: Columns.
        indent: Blanks in front of the second and later lines.
    """
    bare = text.lstrip(" ")
    line = " " * (len(text) - len(bare))
    lines: list[str] = []
    empty = True
    for piece in _pieces(bare):
        word = piece.lstrip(" ") if empty else piece
        if not empty and display_width(line + word) > width:
            lines.append(line)
            line, word = indent, word.lstrip(" ")
        while display_width(line + word) > width:
            cut = _cut(word, width - display_width(line))
            lines.append(line + word[:cut])
            line, word = indent, word[cut:]
        line += word
        empty = empty and not word
    return [*lines, line]


def _pieces(text: str) -> list[str]:
    """Return words, each with the space in front of it, that put together again give ``text``."""
    words = text.split(" ")
    spaced = [words[0], *(f" {word}" for word in words[1:])]
    return [piece for word in spaced for piece in _BREAK.split(word)]


def _cut(word: str, room: int) -> int:
    """Return how many characters of ``word`` fit into ``room`` columns, at least one."""
    count = 0
    while count < len(word) and display_width(word[: count + 1]) <= room:
        count += 1
    return max(count, 1)
