"""A realistic chart for the tests of the writers, and the same chart with hostile words in every cell.

A bird observatory runs a 24 V 4x4 bus with a 12-contact socket. It tows a boat trailer (7-way blade, electric
brakes) and a light trailer for hides and nets (4-way flat). The values are made up for the tests; the
contacts follow the 12-contact, 7-way and 4-way files in ``pinouts/``.
"""

from dataclasses import fields, replace

from wiregen.catalogue.connector import colour_word
from wiregen.model.chart import Chart, ConductorRow, MeasureRow, PinRow, RelayRow, SheetInfo

BOAT = "Boat trailer"
LIGHT = "Hide and net trailer"
SOCKET = "X1 12-contact socket"


# group | circuit | vehicle contact | vehicle has | channel | fuse | trailer | contact | colour | support
PINS = """
Tail and marker | tail | X1:E | LAMPS | K1 relay | F1 10 A | BOAT | X2:3 | GN | 2
Tail and marker | tail | X1:E | LAMPS | K1 relay | F1 10 A | LIGHT | X3:2 | BN | 2
Stop and turn | left stop and turn | X1:B | left stop and turn | K2 STEP | F2 7.5 A | BOAT | X2:5 | RD | 2
Stop and turn | left stop and turn | X1:B | left stop and turn | K2 STEP | F2 7.5 A | LIGHT | X3:3 | YE | 2
Stop and turn | right stop and turn | X1:J | RIGHT | K3 STEP | F3 7.5 A | BOAT | X2:6 | BN | 2
Stop and turn | right stop and turn | X1:J | RIGHT | K3 STEP | F3 7.5 A | LIGHT | X3:4 | GN | 2
Brakes | electric brakes | X1:B + X1:J | BOTH | K4 CTRL | F4 20 A | BOAT | X2:2 | BU | 2
Supply | permanent supply | | | T1 step-down converter | F5 15 A | BOAT | X2:4 | BK | 2
Blackout | blackout tail | X1:A + X1:C + X1:H | blackout tail and marker | | | | | | 1
Ground | ground | X1:D + X1:L | ground | wire | | BOAT | X2:1 | WH | 2
Ground | ground | X1:D + X1:L | ground | wire | | LIGHT | X3:1 | WH/BK | 2, 2 / ?
"""
NOTES = {
    0: "Second colour code of the 7-way: green is tail here, not right turn.",
    6: "The pedal is recognised only while both sides are lit together.",
    8: "Live in blackout only; not connected in the adapter.",
    10: "Stripe colour no document seen; find the ground by the exposed pin.",
}
TAGS = {0: "21D", 1: "21D", 8: "24E + 24D + 24F"}
LOGIC = {6: "stop_turn_left and stop_turn_right and not hazard_switch"}

# ref | start | end | group | circuit | colour | size | length, m | fuse | channel | trailer | support
CONDUCTORS = """
W1 | X1:E | K1:86 | Tail and marker | tail | BN | 1.5 mm² | 0.6 | | K1 | | 2
W2 | K1:87 | X2:3 | Tail and marker | tail | GN | 2.5 mm² | 3.2 | F1 10 A | K1 | BOAT | 2
W3 | K1:87 | X3:2 | Tail and marker | tail | BN | 1.5 mm² | 3.2 | F1 10 A | K1 | LIGHT | 2
W4 | X1:B | K2:in | Stop and turn | left stop and turn | YE | 1.5 mm² | 0.6 | | K2 | | 2
W5 | K2:out | X2:5 | Stop and turn | left stop and turn | RD | 2.5 mm² | 3.2 | F2 7.5 A | K2 | BOAT | 2
W6 | K2:out | X3:3 | Stop and turn | left stop and turn | YE | 16 AWG | 3.2 | F2 7.5 A | K2 | LIGHT | 2
W7 | X1:J | K3:in | Stop and turn | right stop and turn | GN | 1.5 mm² | 0.6 | | K3 | | 2
W8 | K3:out | X2:6 | Stop and turn | right stop and turn | BN | 2.5 mm² | 3.2 | F3 7.5 A | K3 | BOAT | 2
W9 | K3:out | X3:4 | Stop and turn | right stop and turn | GN | 16 AWG | 3.2 | F3 7.5 A | K3 | LIGHT | 2
W10 | X1:B | K4:1 | Brakes | left stop and turn | YE | 0.75 mm² | 0.8 | | K4 | BOAT | 2
W11 | X1:J | K4:2 | Brakes | right stop and turn | GN | 0.75 mm² | 0.8 | | K4 | BOAT | 2
W12 | K4:out | X2:2 | Brakes | electric brakes | BU | 4 mm² | 3.4 | F4 20 A | K4 | BOAT | 2
W13 | T1:12V | X2:4 | Supply | permanent supply | BK | 4 mm² | 3.4 | F5 15 A | | BOAT | 2
W14 | G1:+ | T1:24V | Supply | permanent supply | RD | 6 mm² | 4.75 | NO FUSE | | |
W15 | T1:12V | K1:30 | Supply | 12 V bus | RD/WH | 4 mm² | 0.3 | F1 10 A | K1 | |
W16 | T1:12V | K4:30 | Supply | 12 V bus | RD/WH | 4 mm² | 0.3 | F4 20 A | K4 | |
W17 | T1:0V | X1:D | Ground | ground | WH | 6 mm² | 0.6 | | | | 2
W18 | T1:0V | X1:L | Ground | ground | WH | 6 mm² | 0.6 | | | | 2
W19 | T1:0V | X2:1 | Ground | ground | WH | 6 mm² | 3.2 | | | BOAT | 2
W20 | T1:0V | X3:1 | Ground | ground | WH/BK | 2.5 mm² | 3.2 | | | LIGHT | ?
W21 | K1:85 | T1:0V | Ground | relay coil return | | 0.75 mm² | 0.3 | | K1 | |
W22 | K4:0V | T1:0V | Ground | brake controller return | | 2.5 mm² | 0.3 | | K4 | |
"""
SHORT = {
    "LAMPS": "service tail, side marker and clearance lamps",
    "RIGHT": "right stop and turn",
    "BOTH": "left and right stop and turn",
    "STEP": "solid-state step-down",
    "CTRL": "brake controller",
    "BOAT": BOAT,
    "LIGHT": LIGHT,
}


def _rows(table):
    """The cells of a table above, abbreviations written out."""
    for line in table.strip().splitlines():
        for short, words in SHORT.items():
            line = line.replace(short, words)
        yield [cell.strip() for cell in line.split("|")]


def _word(colour):
    return colour_word(colour) if colour else ""


def _pins():
    names = (
        *("group", "circuit", "vehicle_contact", "vehicle_circuit", "channel", "fuse", "trailer"),
        *("trailer_contact", "colour", "support"),
    )
    pins = []
    for index, cells in enumerate(_rows(PINS)):
        row = dict(zip(names, cells, strict=True))
        row |= {"colour_word": _word(row["colour"]), "unverified": "?" in row["support"]}
        more = {"logic": LOGIC.get(index, ""), "note": NOTES.get(index, ""), "tag": TAGS.get(index, "")}
        pins.append(PinRow(**row, **more))
    return tuple(pins)


def _conductors():
    names = (
        *("ref", "start", "end", "group", "circuit", "colour", "size", "length_m"),
        *("fuse", "channel", "trailer", "support"),
    )
    conductors = []
    for cells in _rows(CONDUCTORS):
        row = dict(zip(names, cells, strict=True))
        row |= {"colour_word": _word(row["colour"]), "length_m": float(row["length_m"])}
        tagged = {"tag": "21D", "marking": "W1"} if row["ref"] == "W1" else {}
        conductors.append(ConductorRow(**row, **tagged, unverified="?" in row["support"]))
    return tuple(conductors)


def _measures():
    boat = "X2 7-way blade"
    rows = (
        (SOCKET, "D", "everything off", "0 ohm to the frame (below 0.2 ohm)", "frame", "ground"),
        (SOCKET, "L", "everything off", "0 ohm to the frame (below 0.2 ohm)", "frame", "ground"),
        (SOCKET, "E", "service lights on", "24 V to 28 V", "D", "service tail"),
        (SOCKET, "B", "left turn", "flashes, 0 V / 24 V to 28 V", "D", "left stop and turn"),
        (SOCKET, "J", "right turn", "flashes, 0 V / 24 V to 28 V", "D", "right stop and turn"),
        (SOCKET, "B", "brake pedal", "24 V to 28 V", "D", "left stop and turn"),
        (SOCKET, "A", "service lights on", "0 V", "D", "blackout tail; live in blackout only"),
        (SOCKET, "E", "blackout", "0 V", "D", "service tail must be dark in blackout"),
        (boat, "3", "service lights on", "12.0 V to 13.8 V", "1", "tail, after the adapter"),
        (boat, "2", "brake pedal, manual lever at half", "3 V to 9 V", "1", "electric brakes"),
        (boat, "4", "everything off", "12.0 V to 13.8 V", "1", "permanent supply"),
        ("X3 4-way flat", "2", "service lights on", "12.0 V to 13.8 V", "1", "tail, after the adapter"),
    )
    names = [field.name for field in fields(MeasureRow)][:6]
    made = [MeasureRow(**dict(zip(names, row, strict=True)), support="2") for row in rows]
    # The contact from memory is marked in the measure table too.
    return (*made[:-1], replace(made[-1], support="?", unverified=True))


def sample_chart():
    """Eleven pin rows over two trailers, 22 conductors, 12 measures."""
    return Chart(
        sheet=SheetInfo(
            title="Observatory bus with boat and hide trailers",
            revision="B",
            date="2025-03-14",
            digest="7f3a9c21",
            author="Ringing station workshop",
        ),
        vehicle="24 V 4x4 bus of the bird observatory",
        connectors=(
            ("X1", "12-contact socket", "military vehicle practice, read from manual foldouts"),
            ("X2", "7-way blade", "SAE J2863"),
            ("X3", "4-way flat", "SAE J1239"),
        ),
        pins=_pins(),
        conductors=_conductors(),
        measures=_measures(),
        notices=(
            "Twelve-contact sockets exist with at least four wirings that all mate. Measure first.",
            "Moulded 7-way cable has two colour codes: go by function and contact, not by colour.",
        ),
        cautions=(
            "Electric brakes: have the brake circuit checked by a qualified person before the first trip.",
            "A 24 V contact wired straight to the trailer destroys every 12 V lamp at once.",
            "Fuse every supply at the source. This chart advises; local rules decide.",
        ),
        relays=(
            RelayRow(
                channel="K1",
                circuit="tail",
                logic="",
                contacts="",
                joints=("A1:tail to K1:86", "A1:0V to K1:85", "A1:12V through F1 10 A to K1:30", "K1:87 to W16 (X2:3)"),
            ),
            RelayRow(
                channel="K2",
                circuit="stop",
                logic="stop and turn left or fog and not stop",
                contacts="(K2 make in series with K3 make) in parallel with (K4 make in series with K2 break)",
                joints=("K2.1:87 to K3:30", "K3:87 and K2.2:87a to W17 (X2:6)"),
                note="K2.1 is the first pole of K2, K2.2 the second.",
            ),
        ),
        measure_notes=("A test lamp proves a contact; a meter alone does not.",),
    )


def _with_text(record, text):
    """The record with every text field that is free for the user replaced by ``text``."""
    fixed = {"colour", "group", "support"}
    changes = {
        field.name: text
        for field in fields(record)
        if isinstance(getattr(record, field.name), str) and field.name not in fixed
    }
    return replace(record, **changes)


def hostile_chart(text):
    """The sample chart with ``text`` in every place a rig file or a pinout can put words."""
    chart = sample_chart()
    return replace(
        chart,
        sheet=_with_text(chart.sheet, text),
        vehicle=text,
        connectors=((text, text, text),),
        pins=tuple(_with_text(row, text) for row in chart.pins),
        conductors=tuple(_with_text(row, text) for row in chart.conductors),
        measures=tuple(_with_text(row, text) for row in chart.measures),
        relays=tuple(replace(_with_text(row, text), joints=(text, text)) for row in chart.relays),
        notices=(text,),
        cautions=(text,),
    )
