"""Readings for a terminal: a table for each state, contacts first, then lamps and supplies."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from wiregen.model.reading import Reading, ReadingSheet, Span, StateReadings
from wiregen.paper.outward import end, fixed
from wiregen.paper.safe_text import clean, display_width
from wiregen.paper.words import wrap

#: Least width of the columns; a minus sign or a star may need more.
_VOLTS, _AMPS = 17, 19
_CAUTION = (
    "Computed from what the rig file says: a reading outside its range means that the rig differs from its file, or "
    "a fault. Measure on the live side with one hand free; a slipping probe shorts a battery."
)
_NOTE = "* floats at some corners: nothing holds it there, and a meter shows what it likes"


def readings_text(sheet: ReadingSheet, width: int = 80) -> str:
    """Return the readings as plain text, no line wider than ``width`` columns (80 at least).

    Args:
        sheet: What to print.
        width: Columns of the terminal.
    """
    width = max(width, 80)
    lines = [*_head(sheet, width)]
    before: StateReadings | None = None
    columns = _Columns.of(sheet, width)
    for one in sheet.states:
        lines += _state(sheet, one, before, columns)
        before = one
    lines += wrap(_CAUTION, width)
    return "".join(line.rstrip() + "\n" for line in lines)


@dataclass(frozen=True, slots=True)
class _Columns:
    """How many columns the whole line has, and how many volts and amps take."""

    width: int
    volts: int
    amps: int

    @classmethod
    def of(cls, sheet: ReadingSheet, width: int) -> _Columns:
        every = [reading for one in sheet.states for reading in one.readings]
        return cls(
            width,
            max([_VOLTS, *(len(_volts(reading)) + 1 for reading in every)]),
            max([_AMPS, *(len(_amps(reading.amps_a)) for reading in every)]),
        )


def _head(sheet: ReadingSheet, width: int) -> Iterator[str]:
    yield from wrap(f"Readings of {clean(sheet.title)}  (digest {sheet.digest})", width)
    yield from wrap(
        f"Everything mated, the trailer coupled. First the value at {sheet.corners[0]}, then the lowest and highest "
        f"over {len(sheet.corners)} corners: battery low to charging, cold to hot, contacts new to worn. The minus "
        "lead lies where 'against' says; on a connector it is the ground contact, on the same side as the plus lead. "
        "Amps count towards the lamp in a feed, and back to the battery in a ground.",
        width,
    )
    for note in sheet.notes:
        yield from wrap(clean(note), width)


def _state(sheet: ReadingSheet, one: StateReadings, before: StateReadings | None, columns: _Columns) -> Iterator[str]:
    width = columns.width
    yield ""
    half = f"  ({one.half} half of the flash)" if one.half else ""
    yield from wrap(f"{one.state.upper()}{half}  with {clean(one.trailer)}", width, "    ")
    for corner, why in one.troubles:
        yield from wrap(f"    left out at {corner}: {why}", width, "      ")
    shown: Sequence[Reading] = one.readings
    if before and one.half == "dark" and (before.state, before.trailer, before.half) == (one.state, one.trailer, "lit"):
        pairs = zip(one.readings, before.readings, strict=True)
        parts = {now.part for now, then in pairs if _differs(now, then)}
        shown = [reading for reading in one.readings if reading.part in parts]
        yield "    Where it differs from the lit half:"
    yield from _contacts(sheet, one.trailer, shown, columns)
    yield from _others([reading for reading in shown if reading.kind in ("lamp", "load")], "LAMPS AND LOADS", columns)
    yield from _others([reading for reading in shown if reading.kind == "supply"], "SUPPLIES", columns)
    if any(reading.floats and reading.volts_v.lowest is not None for reading in shown):
        yield from wrap(f"  {_NOTE}", width, "    ")


def _differs(now: Reading, then: Reading) -> bool:
    """Return whether a meter shows another value: the texts differ that would be printed."""
    return _volts(now) != _volts(then) or _amps(now.amps_a) != _amps(then.amps_a)


def _contacts(sheet: ReadingSheet, trailer: str, readings: Sequence[Reading], columns: _Columns) -> Iterator[str]:
    by_part: dict[str, list[Reading]] = {}
    for reading in readings:
        if reading.kind == "contact":
            by_part.setdefault(reading.part, []).append(reading)
    connector = ""
    name_width = columns.width - 2 - 2 * columns.volts - columns.amps
    for sides in by_part.values():
        first = sides[0]
        if first.connector != connector:
            connector = first.connector
            short = clean(sheet.shells.get((trailer, connector), ""))
            yield from wrap(f"  {connector} {short}, against {_minus_words(by_part, connector)}", columns.width, "    ")
            heads = [f"V {reading.side} side" for reading in sides]
            yield f"  {'contact':<{name_width}}{heads[0]:<{columns.volts}}{heads[-1]:<{columns.volts}}A"
        volts = f"{_volts(first):<{columns.volts}}{_volts(sides[-1]):<{columns.volts}}"
        yield from _row(f"{clean(first.mark)}  {clean(first.what)}", volts + _amps(first.amps_a), name_width)


def _minus_words(by_part: dict[str, list[Reading]], connector: str) -> str:
    """Return what the minus lead lies on at a connector: its ground contact, and the chassis for grounds themselves."""
    names = dict.fromkeys(
        reading.against.rpartition(".")[0] if reading.against.startswith(connector) else reading.against
        for sides in by_part.values()
        for reading in sides
        if reading.connector == connector
    )
    on_it = [f"contact {name.partition(':')[2]}" for name in names if name.startswith(connector)]
    off_it = [name for name in names if not name.startswith(connector)]
    grounds = " (grounds: " + ", ".join(off_it) + ")" if on_it and off_it else ", ".join(off_it)
    return ", ".join(on_it) + grounds


def _others(readings: Sequence[Reading], heading: str, columns: _Columns) -> Iterator[str]:
    if not readings:
        return
    name_width = columns.width - 2 - columns.volts - columns.amps
    yield f"  {heading:<{name_width}}{'V':<{columns.volts}}A"
    for reading in readings:
        side = f", {reading.side}" if reading.side else ""
        name = f"{reading.part}  {clean(reading.what)}{side}"
        yield from _row(name, f"{_volts(reading):<{columns.volts}}{_amps(reading.amps_a)}", name_width)


def _row(name: str, cells: str, name_width: int) -> Iterator[str]:
    """Yield a row; a long name goes on beneath."""
    names = wrap(name, name_width - 1, "   ")
    yield f"  {names[0]}{' ' * (name_width - display_width(names[0]))}{cells}"
    for more in names[1:]:
        yield f"  {more}"


def _volts(reading: Reading) -> str:
    span = reading.volts_v
    if span.lowest is None or span.highest is None:
        return "floats" if reading.floats else "?"
    nominal = "?" if span.nominal is None else fixed(span.nominal, 2)
    return _with_range(nominal, span, _volt_digits) + ("*" if reading.floats else "")


def _amps(span: Span) -> str:
    if span.lowest is None or span.highest is None:
        return "-"
    nominal = "?" if span.nominal is None else fixed(span.nominal, _amp_digits(span.nominal))
    return _with_range(nominal, span, _amp_digits)


def _with_range(nominal: str, span: Span, digits: Callable[[float], int]) -> str:
    """Return a value with its range, rounded outwards; alone where value and ends print alike."""
    if span.lowest is None or span.highest is None:
        return nominal
    alike = {fixed(value, digits(value)) for value in (span.lowest, span.highest, span.nominal) if value is not None}
    if span.nominal is not None and len(alike) == 1:
        return nominal
    low = end(span.lowest, digits(span.lowest), up=False)
    return f"{nominal} {low}..{end(span.highest, digits(span.highest), up=True)}"


def _volt_digits(value: float) -> int:
    return 1 if abs(value) >= 10 else 2


def _amp_digits(value: float) -> int:
    return 1 if abs(value) >= 10 else 2 if abs(value) >= 1 else 3
