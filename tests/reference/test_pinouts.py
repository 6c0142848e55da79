"""The shipped connector wirings against a second typing of the tables they were taken from.

The tables below were typed from the collected tables a second time, not generated from the files. Columns:
mark, circuit, first colour, second colour, size (mm², or AWG where the standard counts so); ``-`` is none.
Source keys are those of ``wiregen/catalogue/sources.toml``.
"""

import tomllib
from collections import Counter
from pathlib import Path

import pytest

from wiregen.catalogue.connector import SUPPORT_MARKS, Connector, contact_size

ROOT = Path(__file__).parents[2]
PINOUTS = {
    path.stem: Connector.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    for path in sorted((ROOT / "pinouts").glob("*.toml"))
}

# T1 T2 sheets; second colour: T4, commercial cable.
US = """
A blackout_tail BK - -
B stop_turn_left BK YE -
C blackout_tail BK - -
D ground BK WH -
E tail BK - -
F blackout_stop BK - -
H blackout_tail BK - -
J stop_turn_right BK GN -
K unused - - -
L ground BK WH -
M unused - - -
N unused - - -
"""
# N1.
STANAG = """
A blackout_command - - -
B turn_left - - -
C blackout_marker - - -
D ground - - -
E tail - - -
F blackout_stop - - -
H fog - - -
J turn_right - - -
K choose - - -
L ground - - -
M stop - - -
N reverse - - -
"""
# N2 N3; colours N3; second colour: N4, the dolly.
COMMONWEALTH = """
A blackout_marker RD/BN - -
B stop GN/VT RD -
C blackout_marker RD/BN - -
D ground BK WH -
E tail RD/OG BN -
F blackout_stop RD/YE - -
H blackout_marker RD/BN - -
J stop GN/VT - -
K charge VT RD/YE -
L ground BK WH -
M turn_left GN/RD YE -
N turn_right GN/WH GN -
"""
# A3 A5 A6 U1; sizes A3 I4 U1, AWG.
J560 = """
1 ground WH - 8
2 marker BK - 12
3 turn_left YE - 12
4 stop RD - 10
5 turn_right GN - 12
6 tail BN - 12
7 abs_supply BU - 10
"""
# I5 I4.
ISO_1185 = """
1 ground WH - 2.5
2 tail_left BK - 1.5
3 turn_left YE - 1.5
4 stop RD - 1.5
5 turn_right GN - 1.5
6 tail_right BN - 1.5
7 brake_control BU - 1.5
"""
# I5 I15.
ISO_3731 = """
1 ground WH - 2.5
2 unused BK - 1.5
3 reverse YE - 1.5
4 charge RD - 2.5
5 control_return GN - 1.5
6 ignition BN - 2.5
7 fog BU - 1.5
"""
# I2 I3.
ISO_12098 = """
1 turn_left YE - 1.5
2 turn_right GN - 1.5
3 fog BU - 1.5
4 ground WH - 2.5
5 tail_left BK - 1.5
6 tail_right BN - 1.5
7 stop RD - 1.5
8 reverse PK - 1.5
9 charge OG - 2.5
10 wear_sensor GY - 1.5
11 pressure_sensor WH/BK - 1.5
12 axle_lift WH/BU - 1.5
13 ground_data WH/RD - 2.5
14 data_high WH/GN - 1.5
15 data_low WH/BN - 1.5
"""
# I4 I6 I7.
ISO_1724 = """
1 turn_left YE - 1.5
2 fog BU - 1.5
3 ground WH - 2.5
4 turn_right GN - 1.5
5 tail_right BN - 1.5
6 stop RD - 1.5
7 tail_left BK - 1.5
"""
# I8b I9 N2.
ISO_3732 = """
1 reverse YE - 1.5
2 unused BU - 1.5
3 ground_charge WH - 2.5
4 charge GN - 2.5
5 unused BN - 1.5
6 ignition RD - 2.5
7 ground_ignition BK - 2.5
"""
# I7 I8 I8b I9; second colour: I14.
ISO_11446 = """
1 turn_left YE - 1.5
2 fog BU - 1.5
3 ground WH - 2.5
4 turn_right GN - 1.5
5 tail_right BN - 1.5
6 stop RD - 1.5
7 tail_left BK - 1.5
8 reverse PK OG 1.5
9 charge OG BN/BU 2.5
10 ignition GY BN/RD 2.5
11 ground_ignition WH/BK WH/BU 2.5
12 trailer_present - - -
13 ground_charge WH/RD WH/GN 2.5
"""
# A14 A16 A10.
J1239 = """
1 ground WH - -
2 tail BN - -
3 stop_turn_left YE - -
4 stop_turn_right GN - -
"""
# A13 A17 A18.
FLAT_5 = J1239 + "5 choose BU - -\n"
# A11 A12; second colour, where it differs: P13.
ROUND_6 = """
GD ground WH - -
TM tail BN - -
LT stop_turn_left YE - -
RT stop_turn_right GN - -
S choose BU RD -
A choose BK BU -
"""
# P15 P16. No marks were found: the colours stand for them. No document of a standard was seen.
ROUND_4 = """
WH ground WH - -
BN tail BN - -
YE stop_turn_left YE - -
GN stop_turn_right GN - -
"""
# P1 P2. The standard behind it was not seen.
AGRICULTURAL = """
1 ground WH - -
2 choose BK - -
3 turn_left YE - -
4 choose RD - -
5 turn_right GN - -
6 tail BN - -
7 ignition BU - -
"""
# P3 P4 N2 P5 P22: practice of the United Kingdom before September 1998.
UK_12S = """
1 reverse YE - -
2 ignition BU - -
3 ground WH - -
4 charge GN - -
5 unused BN - -
6 ignition RD - -
7 unused BK - -
"""
# P7 I5 P8.
ISO_7638 = """
1 abs_valves RD - 4
2 abs_supply BK - 1.5
3 ground YE - 1.5
4 ground BN - 4
5 abs_fault WH - 1.5
6 data_high WH/GN - 1.5
7 data_low WH/BN - 1.5
"""
# P9; second colour: I11 for 9 and 10, P9's own "or" for 8; 13 and 14: I11.
NEN_6120 = """
1 turn_left YE - 1.5
2 choose BU - 1.5
3 ground WH - 2.5
4 turn_right GN - 1.5
5 tail_right BN - 1.5
6 stop RD - 1.5
7 tail_left BK - 1.5
8 reverse PK RD/BK 1.5
9 charge OG BU 2.5
10 ignition GY BU/WH 2.5
11 unused BK/WH - 1.5
12 trailer_present - - 1.5
13 ground_charge WH/BU - 2.5
14 unused - - 0.75
"""
# I10 I11 P10 P11; 1 to 7 as in the editions since.
ISO_11446_OLD = """
1 turn_left YE - 1.5
2 fog BU - 1.5
3 ground WH - 2.5
4 turn_right GN - 1.5
5 tail_right BN - 1.5
6 stop RD - 1.5
7 tail_left BK - 1.5
8 reverse BK/RD - 1.5
9 charge RD GN 2.5
10 ignition YE - 1.5
11 unused - - -
12 unused - - -
13 ground_charge BN WH 2.5
"""
# A9 A10 I4, AWG; second colour: the moulded cable.
J2863 = """
1 ground WH WH 10
2 brake BU BU 12
3 tail BN GN 14
4 charge BK BK 10
5 stop_turn_left YE RD 14
6 stop_turn_right GN BN 14
7 reverse VT YE 14
"""
# U1 U2 U3.
AS_4177 = """
1 turn_left YE - -
2 reverse BK - -
3 ground WH - -
4 turn_right GN - -
5 brake BU - -
6 stop RD - -
7 tail BN - -
"""
# U1.
AS_4735 = """
1 ground WH - 10
2 marker BK - 4
3 turn_left YE - 4
4 stop RD - 6
5 turn_right GN - 4
6 tail BN - 4
7 choose BU - 6
"""
TABLES = {
    "military-12-us": US,
    "military-12-stanag": STANAG,
    "military-12-commonwealth": COMMONWEALTH,
    "sae-j560": J560,
    "iso-1185": ISO_1185,
    "iso-3731": ISO_3731,
    "iso-12098": ISO_12098,
    "iso-1724": ISO_1724,
    "iso-3732": ISO_3732,
    "iso-11446": ISO_11446,
    "iso-11446-before-2004": ISO_11446_OLD,
    "iso-3732-uk-before-1998": UK_12S,
    "iso-7638": ISO_7638,
    "nen-6120": NEN_6120,
    "agricultural-7": AGRICULTURAL,
    "round-4": ROUND_4,
    "sae-j1239-4": J1239,
    "flat-5": FLAT_5,
    "round-6": ROUND_6,
    "sae-j2863": J2863,
    "as-4177-7": AS_4177,
    "as-4177-7-round": AS_4177,
    "as-4735": AS_4735,
}


def _number(size: str | None) -> str:
    return size.removesuffix(" mm²").removesuffix(" AWG") if size else "-"


def _rows(table: str) -> list[list[str]]:
    return [line.split() for line in table.strip().splitlines()]


def test_every_wiring_has_a_second_typing():
    """The wirings typed below are the files in ``pinouts/``: none is missing, none is untested."""
    assert sorted(PINOUTS) == sorted(TABLES)


@pytest.mark.parametrize("stem", TABLES)
def test_rows_equal_second_typing(stem):
    """Mark, circuit, colours and size of every contact equal the independently typed table."""
    actual = [
        [row.mark, row.circuit, row.colour or "-", row.colour_other or "-", _number(row.size)]
        for row in PINOUTS[stem].contact
    ]
    assert actual == _rows(TABLES[stem])


def test_wire_tags_of_us_vehicle():
    """The wire tags of the US vehicle equal the foldouts (T1)."""
    tags = ", ".join(f"{row.mark} {row.tag}" for row in PINOUTS["military-12-us"].contact if row.tag)
    assert tags == "A 24E, B 22-461C, C 24D, D 90B, E 21D, F 23C, H 24F, J 22-460B, L 90A"


SUPPORT = {
    "military-12-us": "121222121211",
    "military-12-stanag": "111111111111",
    "military-12-commonwealth": "22222≠222222",
    "sae-j560": "2222222",
    "iso-1185": "2222222",
    "iso-3731": "2≠22222",
    "iso-12098": "222222222222222",
    "iso-1724": "2222222",
    "iso-3732": "2≠22≠22",
    "iso-3732-uk-before-1998": "2222≠2≠",
    "iso-11446": "22222222222≠2",
    "iso-11446-before-2004": "2222222222≠22",
    "iso-7638": "2222222",
    "nen-6120": "2≠222222222≠11",
    "agricultural-7": "2≠2≠22≠",
    "round-4": "2222",
    "sae-j1239-4": "2222",
    "flat-5": "2222≠",
    "round-6": "1111≠≠",
    "sae-j2863": "2222222",
    "as-4177-7": "2222222",
    "as-4177-7-round": "2222222",
    "as-4735": "1111111",
}


def test_support_equals_second_typing():
    """How well each row is supported, contact by contact: 2 sources, 1 source, ? no document seen, ≠ they disagree."""
    actual = {stem: "".join(SUPPORT_MARKS[row.support] for row in pinout.contact) for stem, pinout in PINOUTS.items()}
    assert actual == SUPPORT


#: What single fields rest on, contact by contact; a dot where the field is empty. What is not listed rests on what the
#: function rests on. Typed from the collected tables: colours and sizes of one catalogue or cable set are 1, sizes that
#: two tables give are 2, what nobody documented is ?.
FIELD_SUPPORT = {
    "military-12-us": {"colour": "22222222.2..", "colour_other": ".1.1...1.1.."},
    "military-12-commonwealth": {"colour": "111111111111", "colour_other": ".1.11...1111"},
    "sae-j560": {"colour": "2222222", "size": "2112112"},
    "iso-1185": {"colour": "1111111", "size": "1111111"},
    "iso-3731": {"colour": "1≠11111", "size": "???????"},
    "iso-12098": {"colour": "111111111111111", "size": "222222222222222"},
    "iso-1724": {"colour": "2222222", "size": "22≠2222"},
    "iso-3732": {"colour": "1111111", "size": "11≠≠1≠≠", "returns_by": "1..2.2."},
    "iso-3732-uk-before-1998": {"colour": "2222222", "returns_by": "22.2.≠."},
    "iso-11446": {
        "colour": "2222222222≠.≠",
        "colour_other": ".......1111.1",
        "size": "22222222222.2",
        "rating_a": "........111.1",
    },
    "iso-11446-before-2004": {
        "colour": "2222222≠≠≠..≠",
        "colour_other": "........≠...≠",
        "size": "2222222221..≠",
    },
    "iso-7638": {"colour": "2222222", "size": "2222222"},
    "nen-6120": {
        "colour": "22222222≠≠2.1.",
        "colour_other": ".......2≠≠....",
        "size": "2≠≠22222222≠11",
        "returns_by": "22.2222211....",
    },
    "agricultural-7": {"colour": "2222222"},
    "round-4": {"rating_a": "2222"},
    "round-6": {"colour": "1111≠≠", "colour_other": "....11"},
    "flat-5": {"colour": "22221", "rating_a": ".2..."},
    "sae-j1239-4": {"colour": "2222", "rating_a": ".2.."},
    "sae-j2863": {"colour": "222≠22≠", "colour_other": "2222222", "size": "2222222"},
}


@pytest.mark.parametrize("stem", FIELD_SUPPORT)
def test_support_of_fields_equals_second_typing(stem):
    """How well colours, sizes, ratings and returns are supported, field by field."""
    pinout = PINOUTS[stem]
    for field, wanted in FIELD_SUPPORT[stem].items():
        signs = (pinout.proof_of(row, field).sign if field in pinout.fields(row) else "." for row in pinout.contact)
        assert (field, "".join(signs)) == (field, wanted)


def test_fields_that_are_not_listed_rest_on_the_function():
    """No other file says anything of single fields."""
    told = {
        stem: {field for row in (pinout, *pinout.contact) for field, proof in row.proof if proof}
        for stem, pinout in PINOUTS.items()
    }
    assert {stem for stem, fields in told.items() if fields - set(FIELD_SUPPORT.get(stem, ()))} == set()


SETS = {
    # P7; I4 counts 5 x 1.5 + 2 x 4.
    "iso-7638": {"1.5 mm²": 5, "4 mm²": 2},
    "iso-12098": {"2.5 mm²": 3, "1.5 mm²": 12},
    "iso-1185": {"1.5 mm²": 6, "2.5 mm²": 1},
    "iso-3731": {"1.5 mm²": 4, "2.5 mm²": 3},
    # I9; I4 counts one 2.5 mm² fewer, see the notice of the file.
    "iso-3732": {"2.5 mm²": 4, "1.5 mm²": 3},
    "sae-j2863": {"14 AWG": 4, "12 AWG": 1, "10 AWG": 2},
    "sae-j560": {"12 AWG": 4, "10 AWG": 2, "8 AWG": 1},
}


@pytest.mark.parametrize("stem", SETS)
def test_conductor_set(stem):
    """The sizes of the rows add up to the conductor set sold for the connector (I4, I9)."""
    assert dict(Counter(row.size for row in PINOUTS[stem].contact)) == SETS[stem]


def test_conductor_set_of_13_contacts():
    """ISO 11446: 5 x 2.5 + 8 x 1.5 mm² (I4); contact 12 has no size and takes one of the eight."""
    sizes = Counter(row.size for row in PINOUTS["iso-11446"].contact)
    assert dict(sizes) == {"2.5 mm²": 5, "1.5 mm²": 7, None: 1}
    assert PINOUTS["iso-11446"].find("12").size is None


def test_usual_sizes():
    """What is usual where no table was found: A19 beside memory for SAE J1239, memory for the military receptacle."""
    found = {
        stem: (usual.size, usual.ground, "".join(sorted(usual.sources)), SUPPORT_MARKS[usual.support])
        for stem, pinout in PINOUTS.items()
        if (usual := pinout.usual_size)
    }
    assert found == {
        **dict.fromkeys(("flat-5", "sae-j1239-4"), ("16 AWG", "14 AWG", "A19memory", "≠")),
        **{f"military-12-{who}": ("14 AWG", None, "memory", "?") for who in ("commonwealth", "stanag", "us")},
    }
    page = "One page gives 18 AWG and for ground 16 AWG"
    assert [page in PINOUTS[stem].usual_size.note for stem in ("sae-j1239-4", "flat-5")] == [True, True]
    sized = {stem for stem, pinout in PINOUTS.items() if any(row.size for row in pinout.contact)}
    unknown = {"as-4177-7", "as-4177-7-round", "round-6", "round-4", "agricultural-7", "iso-3732-uk-before-1998"}
    assert set(PINOUTS) - sized - set(found) == unknown


def test_as_4735_sizes():
    """AS 4735: 10/4/4/6/4/4/6 mm² for contacts 1 to 7 (U1)."""
    assert [contact_size(row).area_mm2 for row in PINOUTS["as-4735"].contact] == [10, 4, 4, 6, 4, 4, 6]


def test_din_terminals():
    """DIN 72552 terminals equal the tables of ISO 1724 (I4 I6) and ISO 11446 (I7 I8 I9); no other has any."""
    actual = {
        stem: " ".join(row.terminal or "-" for row in pinout.contact)
        for stem, pinout in PINOUTS.items()
        if any(row.terminal for row in pinout.contact)
    }
    assert actual == {
        "iso-1724": "L 54g 31 R 58R 54 58L",
        "iso-11446": "L - 31 R 58R 54 58L - 30 15 31 - 31",
    }


def test_combined_wirings():
    """Stop and turn are combined on the US military and light North American sockets (T1 A9 A10 A12 A16)."""
    combined = [stem for stem, pinout in PINOUTS.items() if pinout.stop_turn == "combined"]
    assert combined == ["flat-5", "military-12-us", "round-4", "round-6", "sae-j1239-4", "sae-j2863"]


def test_military_letters():
    """The military connector has the letters A to N without G and I (T1, N1)."""
    marks = {"".join(row.mark for row in PINOUTS[stem].contact) for stem in PINOUTS if stem.startswith("military")}
    assert marks == {"ABCDEFHJKLMN"}


def test_ties():
    """Contacts joined in the vehicle: A, C, H in the US (T1 T2); three groups in the UK (N2 N3)."""
    assert {stem: pinout.ties for stem, pinout in PINOUTS.items() if pinout.ties} == {
        "military-12-us": (("A", "C", "H"), ("D", "L")),
        "military-12-commonwealth": (("A", "C", "H"), ("B", "J"), ("D", "L")),
    }


def test_split_returns():
    """The loads that return by each ground, where a table splits the returns; typed from the side of the ground.

    ISO 11446 (I8 I8b I9 P24), before 2004 (I10 I11 P10 P11), NEN 6120 (P9 I11), ISO 3732 (I8b I9; 1 by 3: P21), in the
    United Kingdom before 1998 (P3 N2 P5), ISO 7638 (P7 I5), ISO 12098 (I2 I3).
    """
    actual = {}
    for stem, pinout in PINOUTS.items():
        for row in pinout.contact:
            if ground := pinout.return_of(row):
                actual.setdefault(stem, {}).setdefault(ground.mark, []).append(row.mark)
    assert {stem: {ground: " ".join(marks) for ground, marks in split.items()} for stem, split in actual.items()} == {
        "iso-11446": {"3": "1 2 4 5 6 7 8", "11": "10", "13": "9"},
        "iso-11446-before-2004": {"3": "1 2 4 5 6 7 8", "13": "9 10"},
        "nen-6120": {"3": "1 2 4 5 6 7 8", "13": "9 10"},
        "iso-3732": {"3": "1 4", "7": "6"},
        "iso-3732-uk-before-1998": {"3": "1 2 4 6"},
        "iso-7638": {"4": "1", "3": "2"},
        "iso-12098": {"13": "14 15"},
    }
    assert not any(row.return_for for pinout in PINOUTS.values() for row in pinout.contact)


def test_ratings():
    """Contacts with a figure.

    STANAG 4007 (N1), AS 4735 (U1, at 24 V), running lamps of SAE J1239 (A7 A19), ISO 11446 (P24 P28), 4-way round
    (P15 P16).
    """
    rated = {stem: {row.mark: row.rating_a for row in p.contact if row.rating_a} for stem, p in PINOUTS.items()}
    assert {stem: ratings for stem, ratings in rated.items() if ratings} == {
        "military-12-stanag": dict.fromkeys("ABCDEFHJKLMN", 15.0),
        "as-4735": dict.fromkeys("1234567", 20.0),
        "sae-j1239-4": {"2": 7.5},
        "flat-5": {"2": 7.5},
        "iso-11446": dict.fromkeys(("9", "10", "11", "13"), 20.0),
        "round-4": dict.fromkeys(("WH", "BN", "YE", "GN"), 20.0),
    }
    shared = [(stem, s.marks, s.rating_a) for stem, p in PINOUTS.items() for s in p.shared_rating]
    assert shared == [("military-12-stanag", ("D", "L"), 30.0)]


def test_choices():
    """A contact with two conventions is left to the rig and offers exactly the conventions found."""
    offered = {
        f"{stem} {row.mark}": set(row.choices)
        for stem, pinout in PINOUTS.items()
        for row in pinout.contact
        if row.choices or row.circuit == "choose"
    }
    assert [row.mark for row in PINOUTS["iso-1724"].contact if row.circuit == "choose"] == []
    assert offered == {
        "military-12-stanag K": {"charge", "ignition"},
        "flat-5 5": {"reverse", "brake"},
        "round-6 S": {"brake", "charge", "stop"},
        "agricultural-7 2": {"work_lamp", "tail"},
        "agricultural-7 4": {"ignition", "stop"},
        "iso-1724 2": {"fog", "charge"},
        "nen-6120 2": {"fog", "charge"},
        "round-6 A": {"charge", "reverse", "brake"},
        "as-4735 7": {"reverse", "ignition"},
    }


def test_voltages():
    """Nominal voltages: 24 V sockets, 12 V sockets, and those that may be either (N1, N2, U1, P7 P8)."""
    both = [stem for stem, pinout in PINOUTS.items() if len(pinout.voltage_v) == 2]
    only_24 = [stem for stem, pinout in PINOUTS.items() if pinout.voltage_v == (24,)]
    assert both == ["as-4735", "iso-7638", "military-12-commonwealth", "military-12-stanag"]
    assert only_24 == ["iso-1185", "iso-12098", "iso-3731", "military-12-us"]
