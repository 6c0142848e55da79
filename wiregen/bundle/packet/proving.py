"""Pages of the test sheet: the harness alone, the vehicle and the outlets, each state with the trailer coupled."""

from __future__ import annotations

from typing import Final

from wiregen.bundle.packet.contents import PacketContents
from wiregen.bundle.packet.wiring import cautions
from wiregen.chart.paper import MEASURE_ADVICE, measure_table
from wiregen.model.harness import ContinuityRow
from wiregen.model.reading import Reading, ReadingSheet, Span
from wiregen.paper.blocks import Block, Bullets, Cell, Column, Para, Row, Table, grouped, row
from wiregen.paper.outward import end, fixed
from wiregen.paper.pdf.data import Section
from wiregen.questions.record.as_built import AsBuilt, NumberedReading, Taken, numbered
from wiregen.questions.record.paper import range_words

_READ_MM: Final = 22.0
#: What a common meter tells apart, V and A; common practice, no source.
_TOLD_V: Final = 0.05
_TOLD_A: Final = 0.01
_HALVES: Final = {"": "", "lit": ", lit half of the flash", "dark": ", dark half of the flash"}


def harness_alone(packet: PacketContents) -> Section:
    """Return what the ohmmeter must show before anything is connected."""
    columns = (
        Column("No."),
        Column("One lead on", 1.1),
        Column("Other lead on", 1.1),
        Column("Must read", 1.4),
        Column("Because", 1.6),
        Column("Read, ohm", field_mm=_READ_MM),
        Column("Right", field_mm=12),
    )
    heads = {
        "joined": "Each conductor whole, from end to end",
        "coil": "Not shorted to the ground bar",
        "input": "Not shorted to the ground bar",
        "open": "Not shorted to the ground bar",
    }
    return Section(
        "Test sheet 1: harness alone",
        (
            Para(
                "Nothing mated, no trailer, no battery, every fuse out, relays in their sockets. Hold the leads "
                "together first and take what the meter shows off each reading under 10 ohm. 'Near 0 ohm' and 'open': "
                "limits are common practice, no source."
            ),
            Table(columns, grouped((heads[one.kind], _continuity(one)) for one in packet.papers.continuity), tall=True),
        ),
        short="Test sheet 1",
    )


def _continuity(one: ContinuityRow) -> Row:
    return row((one.ident, one.one, one.other, one.expected, one.why, "", ""), bold=(1, 2, 3))


def vehicle_and_outlets(packet: PacketContents) -> Section:
    """Return what the voltmeter must show on the vehicle and on the outlets, no trailer coupled."""
    chart = packet.chart
    blocks: list[Block] = [
        cautions(packet),
        Para(MEASURE_ADVICE),
        Bullets(chart.measure_notes),
        measure_table(chart, tall=True),
    ]
    return Section("Test sheet 2: vehicle and outlets, nothing coupled", tuple(blocks), short="Test sheet 2")


def coupled(packet: PacketContents) -> list[Section]:
    """Return what the meter must show in each state, a section a trailer."""
    sheet = packet.readings
    rows = numbered(sheet)
    return [
        _trailer(sheet, name, [one for one in rows if one.state.trailer == name], 3 + number)
        for number, name in enumerate(packet.trailers)
    ]


def _trailer(sheet: ReadingSheet, name: str, rows: list[NumberedReading], number: int) -> Section:
    columns = (
        Column("No."),
        Column("Plus lead on", 1),
        Column("Minus lead on", 0.8),
        Column("What it is", 1.8),
        Column("V", right=True),
        Column("from .. to", right=True),
        Column("Read, V", field_mm=18),
        Column("A", right=True),
        Column("from .. to", right=True),
        Column("Read, A", field_mm=18),
    )
    shown = [one for one in rows if one.state.half != "dark" or _differs(one, rows)]
    blocks: list[Block] = [
        Para(
            f"Everything mated, the trailer coupled, engine running. First the value at {sheet.corners[0]}, then the "
            f"lowest and highest over {len(sheet.corners)} corners: battery low to charging, cold to hot, contacts new "
            "to worn; ranges are rounded outwards. Contacts are read on the adapter's side. A dark half shows only "
            "what a meter tells from the lit one. 'Floats': nothing holds it there; the meter shows anything. Amps "
            "count towards the lamp in a feed, and back to the battery in a ground."
        ),
        Para("A reading outside its range: the rig differs from its file, or there is a fault. Stop and find out."),
        *(Para(note) for note in sheet.notes),
    ]
    troubles = tuple(
        f"{state.state}{_HALVES[state.half]}: left out at {corner}, {why}"
        for state in sheet.states
        if state.trailer == name
        for corner, why in state.troubles
    )
    if troubles:
        blocks.append(Bullets(troubles, "Not trusted, and left out of the ranges"))
    blocks.append(Table(columns, grouped((_state_words(one), _proof(one)) for one in shown), tall=True))
    return Section(f"Test sheet {number}: {name} coupled, state by state", tuple(blocks), f"Test sheet {number}")


def _state_words(one: NumberedReading) -> str:
    return f"State {one.ident.split('.')[0]}: {one.state.state}{_HALVES[one.state.half]}"


def _differs(one: NumberedReading, rows: list[NumberedReading]) -> bool:
    """Return whether a meter tells a reading of a dark half from the same one of the lit half in front of it."""
    state, place = one.ident.split(".")
    twin = next((other for other in rows if other.ident == f"{int(state) - 1}.{place}"), None)
    if twin is None or twin.reading.floats != one.reading.floats:
        return True
    now, then = one.reading, twin.reading
    return _apart(now.volts_v, then.volts_v, _TOLD_V) or _apart(now.amps_a, then.amps_a, _TOLD_A)


def _apart(one: Span, other: Span, told: float) -> bool:
    """Return whether two ranges lie further apart than ``told``, or only one of them is known."""
    if one.lowest is None or one.highest is None or other.lowest is None or other.highest is None:
        return (one.lowest is None) != (other.lowest is None)
    return max(one.lowest - other.highest, other.lowest - one.highest) > told


def _cells(reading: Reading) -> tuple[str, str, str, str]:
    volts, amps = reading.volts_v, reading.amps_a
    if volts.lowest is None:
        return "floats" if reading.floats else "?", "", *_amps(amps)
    star = " floats" if reading.floats else ""
    return _number(volts.nominal, 2), _range(volts, 2) + star, *_amps(amps)


def _amps(span: Span) -> tuple[str, str]:
    return _number(span.nominal, 3), _range(span, 3)


def _number(value: float | None, digits: int) -> str:
    """Return a value with fixed digits behind the point; a dash for none."""
    return "–" if value is None else fixed(value, digits)


def _range(span: Span, digits: int) -> str:
    if span.lowest is None or span.highest is None:
        return ""
    return f"{end(span.lowest, digits, up=False)} .. {end(span.highest, digits, up=True)}"


def _proof(one: NumberedReading) -> Row:
    reading = one.reading
    volts, volts_range, amps, amps_range = _cells(reading)
    side = f", {reading.side}" if reading.side and reading.kind != "contact" else ""
    name = reading.part.lstrip("-")
    return Row(
        (
            Cell(one.ident),
            Cell(name if reading.kind == "contact" else f"{name}{side}", bold=True),
            Cell(_lead(reading)),
            Cell(reading.what),
            Cell(volts, bold=True),
            Cell(volts_range),
            Cell(),
            Cell(amps, bold=True),
            Cell(amps_range),
            Cell(),
        )
    )


def _lead(reading: Reading) -> str:
    """Return the minus lead as a mechanic names it: ``X1:D``, ``chassis``."""
    name = reading.against.removeprefix("-")
    return name.rpartition(".")[0] if name.endswith((".v", ".a", ".t", ".s")) else name


def as_built(packet: PacketContents) -> list[Section]:
    """Return what has been measured on the finished rig, a section a day; none where nothing was recorded."""
    return [_record(record, packet.chart.sheet.digest) for record in packet.records]


def _record(record: AsBuilt, digest: str) -> Section:
    columns = (
        Column("No."),
        Column("State", 1.4),
        Column("Trailer", 1),
        Column("Where", 1),
        Column("What it is", 1.6),
        Column("Read", right=True),
        Column("Expected"),
        Column("Verdict"),
    )
    who = ", ".join(
        part
        for part in (f"by {record.by}" if record.by else "", f"with {record.meter}" if record.meter else "")
        if part
    )
    head = f"{len(record.taken)} values read{f' {who}' if who else ''}; {len(record.amiss)} outside their range."
    blocks: list[Block] = [Para(head, bold=bool(record.amiss))]
    if record.digest != digest:
        blocks.append(Para(f"For another revision of the rig file, digest {record.digest}: measure again.", bold=True))
    rows = [("Outside their range", _taken(one)) for one in record.amiss]
    rows += [("The others", _taken(one)) for one in record.taken if one not in record.amiss]
    if rows:
        blocks.append(Table(columns, grouped(rows)))
    return Section(f"As built: readings of {record.date.isoformat()}", tuple(blocks), f"As built {record.date}")


def _taken(one: Taken) -> Row:
    side = f", {one.side}" if one.side else ""
    cells = (
        one.ident,
        one.state,
        one.trailer,
        f"{one.part.lstrip('-')}{side}",
        one.what,
        f"{one.value:g} {one.unit}",
        range_words(one),
        one.judged,
    )
    return row(cells, bold=(3, 5, 7), marked=one.judged in ("low", "high"))
