"""Readings as a paper: what a meter should read in each control setting, contacts first, then lamps and supplies."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from wiregen.model.reading import Reading, ReadingSheet, Span, StateReadings
from wiregen.paper.blocks import CALCULATED, Block, Cell, Column, Head, Heading, Paper, Para, Row, RowGroup, Table, row
from wiregen.paper.outward import end, fixed
from wiregen.paper.words import marks
from wiregen.questions.readings.data import readings_data

_CAUTION = (
    "A reading outside its range: the rig differs from its file, or there is a fault. Measure on the live side with "
    "one hand free; a slipping probe shorts a battery."
)
_FLOATS = "* floats in some conditions: nothing holds it there, and a meter shows anything."


def readings_paper(sheet: ReadingSheet, *, full: bool = True) -> Paper:
    """Return the readings: every place in every setting, or what is live in the heaviest one where not ``full``."""
    blocks: list[Block] = [Para(_how(sheet, full=full)), *(Para(note) for note in sheet.notes)]
    shown: Sequence[StateReadings] = sheet.states
    if not full and len({one.state for one in sheet.states}) > 1:
        shown = _heaviest(sheet)
        blocks += [Heading("Settings"), *(Para(text) for text in _settings(sheet))]
    before: StateReadings | None = None
    for one in shown:
        blocks += _whole(sheet, one) if full else _brief(sheet, one, before)
        before = one
    blocks.append(Para(_CAUTION))
    return Paper(
        kind="readings",
        name="Readings",
        head=Head(title=sheet.title, digest=sheet.digest),
        blocks=tuple(blocks),
        closing=CALCULATED,
        data=readings_data(sheet),
    )


def _how(sheet: ReadingSheet, *, full: bool) -> str:
    side = "" if full else "Contacts are read on the adapter's side. "
    return (
        f"Everything mated, the trailer coupled. First the value at {sheet.corners[0]}, then the lowest and highest "
        f"over {len(sheet.corners)} conditions. {side}Amps count towards the lamp in a feed, back to the battery in a "
        "ground."
    )


def _settings(sheet: ReadingSheet) -> Iterator[str]:
    trailers = dict.fromkeys(one.trailer for one in sheet.states)
    for trailer in trailers:
        states = dict.fromkeys(one.state for one in sheet.states if one.trailer == trailer)
        yield f"{trailer}: {'; '.join(states)}."
    yield 'One of them: readings --state "WORDS". All: readings --full. Below: the one that takes most.'


def _heaviest(sheet: ReadingSheet) -> list[StateReadings]:
    """Return both halves of the setting that takes most from a supply."""

    def taken(one: StateReadings) -> float:
        return max((abs(r.amps_a.highest or 0.0) for r in one.readings if r.kind == "supply"), default=0.0)

    most = max(sheet.states, key=taken)
    return [one for one in sheet.states if (one.trailer, one.state) == (most.trailer, most.state)]


def _title(one: StateReadings) -> str:
    half = f" ({one.half} half of the flash)" if one.half else ""
    return f"{one.state}{half}, {one.trailer}"


def _left_out(one: StateReadings) -> Iterator[Block]:
    yield from (Para(f"Left out at {corner}: {marks(why)}.") for corner, why in one.troubles)


# --- what is live ---


def _brief(sheet: ReadingSheet, one: StateReadings, before: StateReadings | None) -> Iterator[Block]:
    yield Heading(_title(one))
    yield from _left_out(one)
    shown = [reading for reading in one.readings if reading.kind != "contact" or reading.side == "adapter"]
    if before and one.half == "dark" and (before.state, before.trailer, before.half) == (one.state, one.trailer, "lit"):
        told = {(reading.at, reading.against): _texts(reading) for reading in before.readings}
        shown = [reading for reading in shown if told.get((reading.at, reading.against)) != _texts(reading)]
        yield Para("Where it differs from the lit half:")
    live = [reading for reading in shown if not _is_nothing(reading)]
    columns = (
        Column(),
        Column("", 1.0),
        *(Column(head, right=True) for head in ("V", "from..to", "A", "from..to ")),
    )
    yield Table(columns, tuple(_grouped(sheet, one, live, _brief_row)))
    nothing = [_place(reading) for reading in shown if reading not in live]
    if nothing:
        yield Para(f"0 V and 0 A: {', '.join(dict.fromkeys(nothing))}.")
    if any(reading.floats and reading.volts_v.lowest is not None for reading in shown):
        yield Para(_FLOATS)


def _is_nothing(reading: Reading) -> bool:
    """Return whether a meter shows nothing there, whatever the condition."""
    told = _texts(reading)
    return not reading.floats and told[0] == "0.00" and told[1] == "" and told[2] in ("0.000", "–") and told[3] == ""


def _brief_row(reading: Reading) -> Row:
    return row((_place(reading), _what(reading), *_texts(reading)), bold=(0,))


# --- all of it ---


def _whole(sheet: ReadingSheet, one: StateReadings) -> Iterator[Block]:
    yield Heading(_title(one))
    yield from _left_out(one)
    columns = (
        Column("Where"),
        Column("Side"),
        Column("What", 1.0),
        *(Column(head, right=True) for head in ("V", "V min", "V max", "A", "A min", "A max")),
        Column("Black lead on", spare=2),
        Column("Floats", spare=1),
    )
    yield Table(columns, tuple(_grouped(sheet, one, one.readings, _row)), _title(one))


def _row(reading: Reading) -> Row:
    volts, amps = reading.volts_v, reading.amps_a
    return Row(
        (
            Cell(_place(reading), bold=True),
            Cell(reading.side),
            Cell(reading.what),
            *(Cell(text) for text in (*_numbers(volts, 2, "" if reading.floats else "?"), *_numbers(amps, 3, "–"))),
            # At a contact the group says it.
            Cell("" if reading.kind == "contact" else _terminal(reading.against)),
            Cell("floats" if reading.floats else ""),
        )
    )


def _numbers(span: Span, digits: int, unknown: str) -> tuple[str, str, str]:
    return (
        unknown if span.nominal is None else fixed(span.nominal, digits),
        "" if span.lowest is None else end(span.lowest, digits, up=False),
        "" if span.highest is None else end(span.highest, digits, up=True),
    )


# --- both ---


def _grouped(
    sheet: ReadingSheet, one: StateReadings, readings: Sequence[Reading], make: Callable[[Reading], Row]
) -> Iterator[RowGroup]:
    """Yield rows by connector, with what the black lead lies on; then lamps and loads, then supplies."""
    connectors = dict.fromkeys(reading.connector for reading in readings if reading.kind == "contact")
    for connector in connectors:
        here = [reading for reading in readings if reading.kind == "contact" and reading.connector == connector]
        short = sheet.shells.get((one.trailer, connector), "")
        yield RowGroup(f"{marks(connector)} {short}, black lead on {_black(here)}", tuple(make(one) for one in here))
    for name, kinds in (("Lamps and loads", ("lamp", "load")), ("Supplies", ("supply",))):
        found = tuple(make(reading) for reading in readings if reading.kind in kinds)
        if found:
            yield RowGroup(name, found)


def _black(readings: Sequence[Reading]) -> str:
    """Return what the black lead lies on at a connector: its ground contact, the chassis for grounds themselves."""
    names = dict.fromkeys(_terminal(reading.against) for reading in readings)
    on_it = [f"contact {name.partition(':')[2]}" for name in names if ":" in name]
    off_it = [name.replace("chassis", "the chassis") for name in names if ":" not in name]
    return f"{', '.join(on_it)} (grounds: {', '.join(off_it)})" if on_it and off_it else ", ".join((*on_it, *off_it))


def _terminal(name: str) -> str:
    """Return a terminal as a mechanic names it: ``X1:D``, the chassis."""
    bare = marks(name)
    return bare.rpartition(".")[0] if bare.endswith((".v", ".a", ".t", ".s")) else bare


def _place(reading: Reading) -> str:
    side = f", {reading.side}" if reading.side and reading.kind != "contact" else ""
    return f"{marks(reading.part)}{side}"


def _what(reading: Reading) -> str:
    return reading.what.removesuffix(f", {reading.side}")


def _texts(reading: Reading) -> tuple[str, str, str, str]:
    """Return volts and amps as a meter shows them, each with its range; no range where both ends print alike."""
    volts, amps = reading.volts_v, reading.amps_a
    star = "*" if reading.floats else ""
    if volts.lowest is None or volts.highest is None:
        return "floats" if reading.floats else "?", "", *_value(amps, _amp_digits, _amp_digits)
    value, span = _value(volts, lambda _: 2, _volt_digits)
    return value if span else f"{value}{star}", f"{span}{star}" if span else "", *_value(amps, _amp_digits, _amp_digits)


def _value(span: Span, digits: Callable[[float], int], ends: Callable[[float], int]) -> tuple[str, str]:
    """Return a value and its range, rounded outwards; an empty range where value and ends print alike."""
    if span.lowest is None or span.highest is None:
        return "–", ""
    nominal = "?" if span.nominal is None else fixed(span.nominal, digits(span.nominal))
    alike = {fixed(value, ends(value)) for value in (span.lowest, span.highest, span.nominal) if value is not None}
    if span.nominal is not None and len(alike) == 1:
        return nominal, ""
    low = end(span.lowest, ends(span.lowest), up=False)
    return nominal, f"{low}..{end(span.highest, ends(span.highest), up=True)}"


def _volt_digits(value: float) -> int:
    return 1 if abs(value) >= 10 else 2


def _amp_digits(value: float) -> int:
    return 1 if abs(value) >= 10 else 2 if abs(value) >= 1 else 3
