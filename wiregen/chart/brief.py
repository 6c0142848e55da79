"""The wiring chart for a terminal: pin to pin and cut list one screen each, what to measure as grids."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from wiregen.chart.paper import CAUTIONS, CUT_LIST, NAME, PINS, colour_cell, sheet_head
from wiregen.model.chart import NO_FUSE, Chart, ConductorRow, MeasureGrid, PinRow, RelayRow
from wiregen.paper.blocks import (
    LAST_WORD,
    Block,
    Bullets,
    Cell,
    Column,
    Facts,
    Heading,
    Paper,
    Para,
    Row,
    Table,
    grouped,
)
from wiregen.paper.words import GLUE

#: Columns of outlets, and of contacts, that stand side by side in one table.
_MOST_OUTLETS: Final = 3
_MOST_CONTACTS: Final = 8
_VOLTS: Final = re.compile(r"\d+(?:\.\d+)?(?= V\b)")
#: Nominal voltages of vehicles, V: the one inside a range stands for it.
_NOMINAL_V: Final = (12.0, 24.0)


def chart_brief(chart: Chart) -> Paper:
    """Return what one wires and measures by; the rest of the chart is counted, and stands in the whole one."""
    return Paper(
        kind="chart",
        name=NAME,
        head=sheet_head(chart.sheet),
        blocks=(
            *([Bullets(chart.cautions, CAUTIONS, boxed=True)] if chart.cautions else []),
            *_pin_blocks(chart),
            Heading(CUT_LIST),
            _cut_list(chart),
            *(Para(note) for note in chart.conductor_notes if note.startswith(NO_FUSE)),
            *_relays(chart),
            *_measure_blocks(chart),
            Para(_left_out(chart)),
        ),
        closing=LAST_WORD,
    )


def _left_out(chart: Chart) -> str:
    notes = f"{len(chart.notices)} notes on the connectors with their sources, " if chart.notices else ""
    return f"chart --full has {notes}fuse and trailer of each wire, remarks on contacts, marks of proof."


def _together(pairs: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    """Return marks by what is said of them, in the order met."""
    found: dict[str, list[str]] = {}
    for mark, said in pairs:
        found.setdefault(said, []).append(mark)
    return found


# --- pin to pin ---


def _pin_blocks(chart: Chart) -> Iterator[Block]:
    yield Heading(PINS)
    yield Facts(tuple((name, short) for name, short, _ in chart.connectors))
    yield from _pin_tables(chart)
    idle = _together((_idle_marks(row), row.circuit or row.vehicle_circuit) for row in chart.pins if not row.channel)
    if idle:
        told = "; ".join(f"{', '.join(marks)} ({said})" for said, marks in idle.items())
        yield Para(f"Not connected: {told}.")
    if any(row.unverified for row in chart.pins):
        yield Para("! = not verified: find the moulded mark and measure. Why: chart --full.")


def _pin_tables(chart: Chart) -> Iterator[Table]:
    """Yield a row for each circuit from the vehicle through the adapter, and a column for outlets wired alike."""
    circuits: dict[tuple[str, str], list[PinRow]] = {}
    for row in chart.pins:
        if row.channel:
            circuits.setdefault((row.start, row.channel), []).append(row)
    outlets = [name for name, _, _ in chart.connectors[1:]]
    alike: dict[tuple[str, ...], list[str]] = {}
    for name in outlets:
        alike.setdefault(tuple(_ends(rows, name) for rows in circuits.values()), []).append(name)
    columns = [(",".join(names), ends) for ends, names in alike.items()]
    for start in range(0, max(1, len(columns)), _MOST_OUTLETS):
        shown = columns[start : start + _MOST_OUTLETS]
        heads = (Column(), Column("X1"), Column("through", 1.0), *(Column(name) for name, _ in shown))
        rows = (
            _circuit(same, [ends[number] for _, ends in shown])
            for number, same in enumerate(circuits.values())
            if not start or any(ends[number] for _, ends in shown)
        )
        yield Table(heads, grouped(("", row) for row in rows))


def _ends(rows: Sequence[PinRow], outlet: str) -> str:
    """Return the contacts of an outlet on one circuit with the colour that goes there."""
    marks = (row.trailer_contact.partition(":") for row in rows)
    return ", ".join(
        f"{mark} {row.colour} {row.colour_word}".strip()
        for row, (name, _, mark) in zip(rows, marks, strict=True)
        if name == outlet
    )


def _circuit(same: Sequence[PinRow], ends: Sequence[str]) -> Row:
    first = same[0]
    start = first.start.replace("X1:", "").replace(f"{GLUE}+ ", ", ")
    tag = f" ({first.tag.replace(' + ', ', ')})" if first.tag else ""
    channel = first.channel.partition(" (")[0]
    through = ", ".join(part for part in (channel, first.fuse.replace(" ", GLUE)) if part)
    words = first.circuit or first.vehicle_circuit
    return Row(
        tuple(Cell(text) for text in (words, f"{start}{tag}", through, *ends)),
        marked=any(row.unverified for row in same),
    )


def _idle_marks(row: PinRow) -> str:
    marks = row.trailer_contact or row.vehicle_contact.replace(" + X1:", ", ")
    return f"{marks} !" if row.unverified else marks


# --- cut list and relays ---


def _cut_list(chart: Chart) -> Table:
    # Fuses stand in the whole chart; that there is none is said here.
    unfused = any(row.fuse == NO_FUSE for row in chart.conductors)
    columns = (
        Column(),
        Column("from"),
        Column("to"),
        Column("circuit", 1.0),
        Column("colour", whole=True),
        Column("size", whole=True),
        Column("m", right=True),
        *([Column("fuse")] if unfused else []),
    )
    return Table(columns, grouped(("", _wire(row, unfused=unfused)) for row in chart.conductors))


def _wire(row: ConductorRow, *, unfused: bool) -> Row:
    cells = (
        *(Cell(row.ref), Cell(row.start), Cell(row.end), Cell(row.circuit), colour_cell(row.colour, row.colour_word)),
        *(Cell(row.size), Cell(f"{row.length_m:.2f}")),
        *([Cell(row.fuse if row.fuse == NO_FUSE else "")] if unfused else []),
    )
    return Row(cells, marked=row.unverified)


def _relays(chart: Chart) -> Iterator[Block]:
    if chart.relays:
        yield Heading("Relays")
        yield from (Para(note) for note in chart.relay_notes)
        yield Bullets(tuple(_relay(row) for row in chart.relays))


def _relay(row: RelayRow) -> str:
    about = f"; {row.about}" if row.about else ""
    return f"{row.title}{about}: {'; '.join(row.joints)}. {row.note}".rstrip()


# --- what to measure ---


def _measure_blocks(chart: Chart) -> Iterator[Block]:
    at_vehicle = [grid for grid in chart.grids if grid.name in ("X1", "taps")]
    outlets = [grid for grid in chart.grids if grid not in at_vehicle]
    if at_vehicle:
        yield Heading("Measure before you connect: vehicle socket X1")
        yield Para("Ignition on, unless a row says otherwise. Red lead on the contact.")
        if any("BLACKOUT" in words for grid in at_vehicle for words, _ in grid.rows):
            yield Para("Where no position is named, the lighting switch stands at STOP LIGHT.")
        for grid in at_vehicle:
            yield from _grid_blocks([(grid.name, grid)])
    if outlets:
        yield Heading("Measure before you couple: outlets of the adapter, no trailer on")
        for beside in _beside(outlets):
            yield from _grid_blocks(beside)
    if chart.grids:
        yield Para(
            "A contact that is live where it should read 0 V is wired differently: STOP. Repeat every live row with a "
            "test lamp: a meter reads full volts through a rotten contact."
        )


def _beside(grids: Sequence[MeasureGrid]) -> Iterator[list[tuple[str, MeasureGrid]]]:
    """Yield (names, grid) together, as long as the contacts fit beside each other; outlets that read alike are one."""
    alike: dict[tuple[object, ...], list[MeasureGrid]] = {}
    for grid in grids:
        alike.setdefault((grid.contacts, grid.rows, grid.grounds), []).append(grid)
    beside: list[tuple[str, MeasureGrid]] = []
    for same in alike.values():
        if beside and sum(len(_columns(grid)) for grid in (*(one for _, one in beside), same[0])) > _MOST_CONTACTS:
            yield beside
            beside = []
        beside.append((", ".join(grid.name for grid in same), same[0]))
    yield beside


def _columns(grid: MeasureGrid) -> dict[tuple[str, ...], list[str]]:
    """Return the marks of contacts by what they read, those that read alike together."""
    found: dict[tuple[str, ...], list[str]] = {}
    for number, mark in enumerate(grid.contacts):
        found.setdefault(tuple(cells[number] for _, cells in grid.rows), []).append(mark)
    return found


def _grid_blocks(grids: Sequence[tuple[str, MeasureGrid]]) -> Iterator[Block]:
    """Yield a table of signs and what they mean; contacts that read the same in every setting are told in a line."""
    alone = len(grids) == 1
    columns = [
        (_marks("" if alone else name, marks), reads) for name, grid in grids for reads, marks in _columns(grid).items()
    ]
    varied = [(marks, reads) for marks, reads in columns if len(set(reads)) > 1]
    signs = _signs(read for _, reads in varied for read in reads)
    black = ", ".join(_black(name, grid) for name, grid in grids)
    place = grids[0][0].replace("taps", "Taps")
    yield Para(f"{place}: black lead on {black}." if alone else f"Black lead on {black}.")
    if varied:
        heads = (Column("setting"), *(Column(marks, right=True) for marks, _ in varied))
        rows = [
            Row((Cell(words), *(Cell(signs[reads[number]]) for _, reads in varied)))
            for number, (words, _) in enumerate(grids[0][1].rows)
        ]
        yield Table(heads, grouped(("", row) for row in rows))
        yield Para("   ".join(f"{sign}{GLUE}={GLUE}{read}" for read, sign in signs.items()))
    for read, marks in _together((marks, reads[0]) for marks, reads in columns if len(set(reads)) == 1).items():
        yield Para(f"{', '.join(marks)} in every setting: {read}.")
    if grounds := [_marks("" if alone else name, grid.grounds) for name, grid in grids if grid.grounds]:
        yield Para(f"{', '.join(grounds)} to the chassis: 0 V, and near 0 ohm.")


def _black(name: str, grid: MeasureGrid) -> str:
    mark = grid.against.partition(":")[2]
    return f"contact {mark}" if mark and "," in name else grid.against if mark else "the chassis"


def _marks(name: str, marks: Sequence[str]) -> str:
    """Return marks behind the designation of their connector."""
    joined = ",".join(mark.replace("_", " ") for mark in marks)
    return f"{name}:{joined}" if name else joined


def _signs(reads: Iterable[str]) -> dict[str, str]:
    """Return a short sign for all that is read: volts as a number, what flashes as ``fl``, nothing as a point."""
    signs: dict[str, str] = {}
    for read in dict.fromkeys(reads):
        sign = _sign(read)
        spare = (letter for letter in "abcdefghijklmnopqrstuvwxyz" if letter not in signs.values())
        signs[read] = sign if sign and sign not in signs.values() else next(spare)
    return signs


def _sign(read: str) -> str:
    """Return the sign that fits best; an empty text for none."""
    if read == "0 V":
        return "."
    if read.startswith("flashes"):
        return "fl"
    if "write down" in read:
        return "?"
    volts = [float(text) for text in _VOLTS.findall(read)]
    if not volts or read.startswith("up to"):
        return ""
    inside = [nominal for nominal in _NOMINAL_V if volts[0] <= nominal <= volts[-1]]
    return f"{(inside or volts)[0]:g}"
