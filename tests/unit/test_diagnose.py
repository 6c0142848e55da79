"""Reading of files, and the places and words of everything that is wrong in them."""

import datetime as dt
import enum
import os
import subprocess
import sys
from functools import partial
from pathlib import Path
from typing import Annotated, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from wiregen.errors import InputError
from wiregen.load import reading
from wiregen.load.diagnose import clash, mark, origin, validate
from wiregen.load.reading import MAX_BYTES, parse_toml, read_text, read_toml
from wiregen.model.logic import parse as parse_logic
from wiregen.quantity import parse as parse_quantity
from wiregen.rig.values import Amps, Metres, Share


class _Base(BaseModel):
    model_config = ConfigDict(extra="forbid", str_strip_whitespace=True)


def _volts(text):
    parse_quantity(text, "voltage")
    return text


def _logic(text):
    parse_logic(text)
    return text


Volts = Annotated[str, AfterValidator(_volts)]


class Pole(enum.Enum):
    NEGATIVE = "negative"
    POSITIVE = "positive"


class Bulb(_Base):
    kind: Literal["bulb"]
    watts: int = Field(gt=0, le=60)
    bulb: bool = False


class Diode(_Base):
    kind: Literal["diode"]
    drop: Volts = "0.7 V"


class Wire(_Base):
    start: str = Field(alias="from")
    end: str = Field(alias="to")
    length_m: float = Field(alias="length", gt=0)
    colour: Literal["red", "black", "blue"] = "red"
    live: Annotated[str, AfterValidator(_logic)] = "always"


class Box(_Base):
    name: str = ""
    pole: Pole = Pole.NEGATIVE
    voltage: Literal[12, 24] = 12
    supply: Volts | None = None
    mark: str = Field(default="1", min_length=1, max_length=3, pattern="^[a-z0-9]*$", examples=["a1", "b2"])
    closed: bool = False
    date: dt.date | None = None
    load: tuple[Annotated[Bulb | Diode, Field(discriminator="kind")], ...] = ()
    part: Bulb | Diode | None = None
    either: int | tuple[Wire, ...] | None = None
    pair: tuple[int, str] | None = None
    row: tuple[int, ...] = Field(default=(), max_length=2)
    few: tuple[int, ...] = Field(default=(1,), min_length=1)
    by_name: dict[Annotated[str, Field(min_length=2)], Wire] = {}

    @model_validator(mode="after")
    def _not_both(self):
        if self.part and self.load:
            message = "give part or load, not both"
            raise ValueError(message)
        return self


class Sheet(_Base):
    title: str = ""
    box: Box = Box()
    wire: tuple[Wire, ...] = ()


def _problems(text, model=Sheet):
    document = parse_toml(text, "sheet.toml")
    with pytest.raises(InputError) as caught:
        validate(document, model)
    return caught.value.problems


def _one(text):
    """The only problem: message, line, column, length, path."""
    (problem,) = _problems(text)
    (first,) = problem.marks
    return problem.message, (first.line, first.column, first.length), problem.path


WIRE = '[[wire]]\nfrom = "a"\nto = "b"\nlength = 1\n'


@pytest.mark.parametrize(
    ("text", "message", "place", "path"),
    [
        (
            WIRE + "lenght = 2\n",
            "unknown key 'lenght'; did you mean 'length'? Allowed here: from, to, length, colour, live",
            (5, 1, 6),
            "wire.0.lenght",
        ),
        (
            WIRE + "Colour = 'red'",
            "unknown key 'Colour'; did you mean 'colour'? Allowed here",
            (5, 1, 6),
            "wire.0.Colour",
        ),
        (WIRE + "COLOUR = 'red'", "unknown key 'COLOUR'; did you mean 'colour'?", (5, 1, 6), "wire.0.COLOUR"),
        (WIRE + "from-to = 1", "unknown key 'from-to'", (5, 1, 7), "wire.0.from-to"),
        ("[box]\nby-name = 1", "unknown key 'by-name'; did you mean 'by_name'?", (2, 1, 7), "box.by-name"),
        ("[box]\nzzz = 1", "unknown key 'zzz'. Allowed here: name, pole, voltage,", (2, 1, 3), "box.zzz"),
        ("[box.zzz]\na = 1", "unknown key 'zzz'.", (1, 6, 3), "box.zzz"),
        (
            "[box]\ntitle = 'x'",
            "'title'; it belongs to the top of the file, above the first [table].",
            (2, 1, 5),
            "box.title",
        ),
        ("[box]\nbox = {}", "unknown key 'box'; the table stands at the top: [box]", (2, 1, 3), "box.box"),
        (
            '[[wire]]\nfrom = "a"\nlength = 1\n',
            "required key 'to' is missing; wanted here: from, to, length",
            (1, 1, 8),
            "wire.0.to",
        ),
        (
            "[[wire]]\nlength = 1\n",
            "required keys 'from' and 'to' are missing; wanted here: from,",
            (1, 1, 8),
            "wire.0",
        ),
        ("wire = [{from = 'a', to = 'b'}]", "required key 'length' is missing", (1, 9, 22), "wire.0.length"),
        (
            WIRE + "[box.by_name]\nab.from = 'a'\n",
            "required keys 'to' and 'length' are missing",
            (6, 1, 2),
            "box.by_name.ab",
        ),
        (
            "[box]\npole = 'Positive'",
            "'Positive' is not allowed here; did you mean 'positive'? Allowed: negative, positive",
            (2, 8, 10),
            "box.pole",
        ),
        (
            WIRE + "colour = 'bleu'",
            "'bleu' is not allowed here; did you mean 'blue'? Allowed: red, black, blue",
            (5, 10, 6),
            "wire.0.colour",
        ),
        (
            "[box]\nvoltage = '24'",
            "'24' is not allowed here; write 24. Allowed: 12, 24",
            (2, 11, 4),
            "box.voltage",
        ),
        ("[box]\nvoltage = 13", "13 is not allowed here. Allowed: 12, 24", (2, 11, 2), "box.voltage"),
        ("[box]\nvoltage = [12]", "a list is not allowed here. Allowed: 12, 24", (2, 11, 4), "box.voltage"),
        ("title = 3", 'a text is wanted, not a number; write it in quotes: "3"', (1, 9, 1), "title"),
        ("title = true", 'a text is wanted, not true; write it in quotes: "true"', (1, 9, 4), "title"),
        ("title = ['x']", "a text is wanted, not a list", (1, 9, 5), "title"),
        ("title.a = 1", "a text is wanted, not a table", (1, 1, 5), "title"),
        (
            "title = 2024-05-31",
            'a text is wanted, not a date or time; write it in quotes: "2024-05-31"',
            (1, 9, 10),
            "title",
        ),
        (
            WIRE.replace("1", "'5 m'"),
            "a number is wanted, not a text; write it without quotes and without the unit: 5",
            (4, 10, 5),
            "wire.0.length",
        ),
        (WIRE.replace("1", "'long'"), "a number is wanted, not a text", (4, 10, 6), "wire.0.length"),
        (WIRE.replace("1", "-3"), "-3 is too small; more than 0 is wanted", (4, 10, 2), "wire.0.length"),
        (
            "[box]\nload = [{kind = 'bulb', watts = 61}]",
            "61 is too large; at most 60 is wanted",
            (2, 33, 2),
            "box.load.0.watts",
        ),
        (
            "[box]\nload = [{kind = 'bulb', watts = 1.5}]",
            "a whole number is wanted, not 1.5",
            (2, 33, 3),
            "box.load.0.watts",
        ),
        (
            "[box]\nload = [{kind = 'bulb', watts = 6, bulb = 'x'}]",
            "true or false is wanted, not a text",
            (2, 43, 3),
            "box.load.0.bulb",
        ),
        (
            "[box]\nload = [{kind = 'bulp'}]",
            "'bulp' is not allowed here; did you mean 'bulb'? Allowed: bulb, diode",
            (2, 17, 6),
            "box.load.0.kind",
        ),
        (
            "[box]\nload = [{watts = 1}]",
            "required key 'kind' is missing: it says what this table is",
            (2, 9, 11),
            "box.load.0.kind",
        ),
        (
            "[[box.load]]\nkind = 'diode'\ndrop = '1 A'",
            "'A' is a unit of current",
            (3, 8, 5),
            "box.load.0.drop",
        ),
        ("[box]\nload = {kind = 'bulb'}", "a list is wanted, not a table", (2, 8, 15), "box.load"),
        (
            "[wire]\nfrom = 'a'",
            "a list is wanted, not a table; write [[wire]], not [wire]",
            (1, 1, 6),
            "wire",
        ),
        (
            "[[box]]\nname = 'a'",
            "a table is wanted, not a list of tables; write [box], not [[box]]",
            (1, 1, 7),
            "box",
        ),
        (
            "[box]\nrow = 3",
            "a list is wanted, not a number; write it in square brackets: [3]",
            (2, 7, 1),
            "box.row",
        ),
        ("[box]\nrow = [1, 2, 3]", "the list has 3; at most 2 entries are wanted", (2, 7, 9), "box.row"),
        ("[box]\npair = [1]", "entry 2 of the list is missing", (2, 8, 3), "box.pair.1"),
        ("[box]\nparts.by_name = 1", "unknown key 'parts'", (2, 1, 5), "box.parts"),
        ("[box]\nfew = ['x']", "a whole number is wanted, not a text", (2, 8, 3), "box.few.0"),
        ("[box]\nfew = []", "the list is empty; at least 1 entry is wanted", (2, 7, 2), "box.few"),
        (WIRE.replace("1", "nan"), "a number is wanted, not nan", (4, 10, 3), "wire.0.length"),
        ("[box.wire]\na = 1", "the table stands at the top: [[wire]]. Allowed here: name", (1, 6, 4), "box.wire"),
        ("[box]\nmark = ''", "the text is empty; at least 1 character is wanted", (2, 8, 2), "box.mark"),
        ("[box]\nmark = 'abcd'", "the text has 4; at most 3 characters are wanted", (2, 8, 6), "box.mark"),
        (
            "[box]\nmark = 'A'",
            "'A' does not have the form that is wanted here, such as 'a1' and 'b2'",
            (2, 8, 3),
            "box.mark",
        ),
        ("[box]\ndate = 'May'", "a date such as 2024-05-31 is wanted, not a text", (2, 8, 5), "box.date"),
        (
            "[box.by_name]\na = {from = 'a', to = 'b', length = 1}",
            "the key has 1; at least 2 characters are wanted",
            (2, 1, 1),
            "box.by_name.a",
        ),
        ("[box]\nsupply = '12'", "'12' has no unit", (2, 10, 4), "box.supply"),
        (
            "[box]\npart = {kind = 'diode'}\nload = [{kind = 'diode'}]",
            "give part or load, not both",
            (1, 1, 5),
            "box",
        ),
        ("[box]\neither = 'x'", "a whole number or a list is wanted, not a text", (2, 10, 3), "box.either"),
        (
            "[[box.either]]\nfrom = 'a'\nto = 'b'\nlength = 1\nlive = 'a AND b'",
            "'AND' is written in small letters",
            (5, 11, 3),
            "box.either.0.live",
        ),
        (
            "[box.part]\nkind = 'bulb'\nwatts = 0",
            "0 is too small; more than 0 is wanted",
            (3, 9, 1),
            "box.part.watts",
        ),
        ("[box]\npart = 7", "a table is wanted, not a number", (2, 8, 1), "box.part"),
    ],
)
def test_place_and_words(text, message, place, path):
    """Each kind of misfit is one problem with its own place, in words without library terms."""
    found = _one(text)
    assert message in found[0]
    assert found[1:] == (place, path)


@pytest.mark.parametrize(
    ("live", "column", "length"),
    [
        ('"a and && b"', 15, 2),
        ("'a and && b'", 15, 2),
        ('"   a && b"', 14, 2),
        ('"a or"', 13, 1),
        ('"\u00e9"', 9, 1),
        ('"a \\u0026 b"', 8, 12),
        ('"""a & b"""', 8, 11),
        ("5", 8, 1),
    ],
)
def test_caret_inside_an_expression(live, column, length):
    """The caret stands under the offending word; under the whole text where that has escapes or three quotes."""
    _, place, _ = _one(f"{WIRE}live = {live}")
    assert place == (5, column, length)


def test_label_and_key_of_one_name():
    """The tag 'bulb' of an alternative and the key 'bulb' inside it are told apart."""
    _, place, path = _one("[box]\nload = [{kind = 'bulb', watts = 1, bulb = 'x'}]")
    assert (place, path) == ((2, 43, 3), "box.load.0.bulb")


class Feed(_Base):
    fuse_a: Amps | None = Field(default=None, alias="fuse")
    share: Share | None = None
    ties: tuple[Metres, ...] = ()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("fuse = '2000000 mA'", "'2000000 mA' is too large; at most 1000 A is wanted"),
        ("fuse = '1200 A'", "'1200 A' is too large; at most 1000 A is wanted"),
        ("fuse = '0 mA'", "'0 mA' is too small; at least 1e-07 A is wanted"),
        ("share = '120 %'", "'120 %' is too large; at most 100 % is wanted"),
        ("ties = ['1 m', '900 ft']", "'900 ft' is too large; at most 200"),
        ("fuse = 5", "has no unit"),
        ("fuse = true", "true is not a text"),
        ("fuse = 2024-05-31", "2024-05-31 is not a text"),
        ("fuse.a = 1", "a table is not a text"),
    ],
)
def test_limits_have_the_unit(text, message):
    """A limit on a value that is written with a unit is shown in the unit it is held in."""
    (problem,) = _problems(text, Feed)
    assert message in problem.message


class Warm(_Base):
    tint: Literal["amber", "yellow"]
    warm: int = 0


class Cool(_Base):
    tint: Literal["blue", "white"]
    cool: int = 0


class Shade(_Base):
    lamp: Warm | Cool


@pytest.mark.parametrize(
    ("keys", "message"),
    [("warm = 1, tint = 'x'", "Allowed: amber, yellow"), ("tint = 'x', cool = 1", "Allowed: blue, white")],
)
def test_alternatives_without_a_tag(keys, message):
    """Of two kinds of table the one with fewer misfits is taken as meant, and its own words are listed."""
    (problem,) = _problems(f"lamp = {{{keys}}}", Shade)
    assert message in problem.message
    assert problem.path == "lamp.tint"


def test_everything_in_one_run_in_the_order_of_the_file():
    """All misfits come at once, sorted by line, whatever order validation found them in."""
    text = '[[wire]]\nfrom = 1\nto = 2\nlength = "x"\n[box]\nvoltage = 1\nzzz = 1\n[extra]\n'
    problems = _problems(text)
    assert [problem.marks[0].line for problem in problems] == [2, 3, 4, 6, 7, 8]
    assert [problem.path for problem in problems][:2] == ["wire.0.from", "wire.0.to"]


def test_missing_tables_are_named_with_brackets():
    """A missing table at the top is named as it is written."""

    class Whole(_Base):
        box: Box
        wire: tuple[Wire, ...]
        title: str

    (problem,) = _problems("", Whole)
    assert problem.message == "required keys '[box]', '[[wire]]' and 'title' are missing"
    assert (problem.marks[0].line, problem.marks[0].column) == (1, 1)


def test_no_library_terms():
    """No message of a thoroughly wrong file has a term or address of the validation library."""
    text = (
        "title = 1\nbox = {voltage = 1, pole = 2, supply = 3, mark = 4, closed = 5, date = 6, load = 7, part = 8,"
        " either = true, pair = 10, row = 11, by_name = 12, name = 13, x = 14}\nwire = [1, {}, {length = 'x'}]"
    )
    shown = "\n".join(problem.text() for problem in _problems(text)).lower()
    assert len(_problems(text)) == 18
    for term in (
        "pydantic",
        "http",
        "input should",
        "value error",
        "valid ",
        "dictionary",
        "tuple",
        "model",
        "type=",
    ):
        assert term not in shown


def test_text_of_a_problem():
    """A problem prints as file, line, column, the source line and the caret, with a tab as one column."""
    (problem,) = _problems("[box]\r\n\tvoltage\t= 13 # volts\r\n")
    assert problem.text() == (
        "sheet.toml:2:12: 13 is not allowed here. Allowed: 12, 24  [box.voltage]\n"
        "    2 |  voltage = 13 # volts\n"
        "                   ^^"
    )


def test_very_long_lines_are_cut():
    """A long line is shown up to a little behind the place, and not at all when the place is far out."""
    near, far = _problems(f"box = {{voltage = 13, name = '{'x' * 2000}', row = 3}}")
    assert near.marks[0].source_line == f"box = {{voltage = 13, name = '{'x' * 111}"
    assert (far.marks[0].column, far.marks[0].source_line) == (2039, "")


class Anything(BaseModel):
    a: int | list[int] | dict[str, int] = 0
    b: list["Anything"] = []


@given(st.recursive(st.one_of(st.booleans(), st.floats(0, 9), st.sampled_from(["'x'", "''"])), st.lists, max_leaves=5))
def test_any_value_gives_problems_with_places(value):
    """Whatever stands at a key, validation ends well or with problems that all have a place."""
    written = str(value).replace("True", "true").replace("False", "false")
    document = parse_toml(f"[[b]]\na = {written}\nb = {written}\n", "any.toml")
    lines = {2, 3}
    try:
        validate(document, Anything)
    except InputError as error:
        lines = {problem.marks[0].line for problem in error.problems}
    assert lines <= {2, 3}


def test_a_right_file_never_needs_the_finder(monkeypatch):
    """A file without errors is read without looking for places; the first question for an origin starts it, once."""
    calls = []
    monkeypatch.setattr(reading, "find_places", lambda text, find=reading.find_places: calls.append(1) or find(text))
    document = parse_toml(WIRE, "w.toml")
    assert validate(document, Sheet).wire[0].end == "b"
    assert calls == []
    origin(document, ("wire", 0))
    origin(document, ("wire", 0, "to"))
    assert calls == [1]


@pytest.mark.parametrize(
    ("path", "place"),
    [
        (("wire", 0), (1, 1)),
        (("wire",), (1, 1)),
        (("wire", 0, "length"), (4, 1)),
        (("wire", 0, "colour"), (1, 1)),
        (("box",), (5, 1)),
        (("box", "part"), (6, 1)),
        (("box", "load", 1), (7, 21)),
        (("box", "by_name", "ab"), (5, 1)),
    ],
)
def test_origin(path, place):
    """The origin of a record is its header, key or list element, or that of the nearest table above."""
    document = parse_toml(f"{WIRE}[box]\npart.kind = 1\nload = [{{a = 1}},    {{a = 2}}]", "w.toml")
    found = partial(origin, document)(path)
    assert (found.file, found.line, found.column) == ("w.toml", *place)


def test_no_origin_for_what_is_not_written():
    """A table that is not in the file at all has no origin, but a mark still finds the first line."""
    document = parse_toml(WIRE, "w.toml")
    assert origin(document, ("box", "part")) is None
    assert (mark(document, ("box", "part")).line, mark(document, ("box",), "key").line) == (1, 1)


@pytest.mark.parametrize(
    ("live", "word", "place"),
    [
        ('"not a and ab"', "ab", (5, 19, 2)),
        ('"not a and ab"', "a", (5, 13, 1)),
        ('"not a and ab"', "b", (5, 8, 14)),
        ('"""not a\nand ab"""', "ab", (6, 5, 2)),
        ('["a", "ab"]', "ab", (5, 15, 2)),
    ],
)
def test_mark_of_a_word(live, word, place):
    """One word of a value can be marked; the whole value is where the word does not stand in it."""
    found = mark(parse_toml(f"{WIRE}live = {live}", "w.toml"), ("wire", 0, "live"), word=word)
    assert (found.line, found.column, found.length) == place


def test_clash_has_both_places():
    """A clash shows the key or value to change first and what it clashes with after it."""
    document = parse_toml(WIRE + WIRE, "w.toml")
    problem = clash(document, "same ends", ("wire", 1, "to"), ("wire", 0, "to"))
    assert [(m.line, m.column, m.length) for m in problem.marks] == [(7, 6, 3), (3, 6, 3)]
    assert problem.path == "wire.1.to"
    by_key = clash(document, "same ends", ("wire", 1, "to"), ("wire", 0, "to"), on="key")
    assert [(m.line, m.column, m.length) for m in by_key.marks] == [(7, 1, 2), (3, 1, 2)]
    assert problem.text().splitlines()[3] == "w.toml:3:6: and here"


@pytest.mark.parametrize(
    ("text", "message", "places"),
    [
        ("a = lamp", 'a text stands in quotes: "lamp"', [(1, 5, 4)]),
        ("a = True", "'True' is no value; write true or false in small letters", [(1, 5, 4)]),
        ("a =", "a value is wanted here", [(1, 4, 1)]),
        ("a = .5", "a number starts with a digit: 0.5", [(1, 5, 2)]),
        ("a = \u201cx\u201d", "a text stands in straight quotes", [(1, 5, 3)]),
        ("a = 2.5 mm²", 'a value with a unit stands in quotes: "2.5 mm²"', [(1, 9, 3)]),
        ("a = 5%", 'a value with a unit stands in quotes: "5%"', [(1, 6, 1)]),
        ("a = 2,5", "a number has a decimal point, not a comma", [(1, 6, 1)]),
        ("a = 007", "a number does not start with 0", [(1, 6, 2)]),
        ("a = 2024-13-01", "2024-13-01 is no date", [(1, 9, 6)]),
        ("a = 'it's'", "the text ends before this place; one with ' in it", [(1, 9, 2)]),
        ("[a] x = 1", "only a comment with # may follow", [(1, 5, 5)]),
        ("b = 1\na : 1", "'=' is wanted after the key", [(2, 3, 3)]),
        ("= 1", "a key or a [table] is wanted here", [(1, 1, 3)]),
        ("[a\nb = 1", "']' is wanted at the end of the table name", [(1, 3, 1)]),
        ("[[a]\nb = 1", "']]' is wanted at the end of the table name", [(1, 4, 1)]),
        ("a = \u00a05", "a special blank (U+00A0) stands here", [(1, 5, 2)]),
        ("a = 1\rb = 2", "a lone carriage return stands here", [(1, 6, 1)]),
        ("a = \x00", "a control character stands here", [(1, 5, 1)]),
        ("# \x07", "a control character stands here", [(1, 3, 1)]),
        ('a = "C:\\Users"', "a backslash stands for itself only between single quotes", [(1, 10, 5)]),
        ('a = "x\nb = 1', "this text is never closed", [(1, 5, 2)]),
        ("a = 'x\r\nb = 1", "this text is never closed", [(1, 5, 2)]),
        ('a = """x\nb = 1', "this text is never closed", [(1, 5, 4)]),
        ("a = [1, 2\nb = 3", "',' or ']' is wanted; '[' of line 1 is still open", [(2, 1, 5), (1, 5, 1)]),
        ("\n\na = [1,\n", "a value is wanted here; '[' of line 3 is still open", [(3, 8, 1), (3, 5, 1)]),
        ("a = {b = 1\nc = 3", "',' or '}' is wanted; '{' of line 1 is still open", [(1, 11, 1), (1, 5, 1)]),
        ("a = [\n1,\nb = 3", "a value, ',' or ']' is wanted; '[' of line 1 is still open", [(3, 1, 5), (1, 5, 1)]),
        ("a = [\n1,\n[[b]]\nc = 1", "',' or ']' is wanted; '[' of line 1 is still open", [(3, 3, 1), (1, 5, 1)]),
        ("a = [ # x\n[b] # y\nc = 1", "',' or ']' is wanted; '[' of line 1 is still open", [(2, 2, 1), (1, 5, 1)]),
        ("a = [\n1,\nlamp]", 'a text stands in quotes: "lamp"', [(3, 1, 4)]),
        ("a = 1\r\nb = 2\r\na = 3", "'a' is already written at line 1", [(3, 1, 1), (1, 1, 1)]),
        (
            "[t]\n[t]",
            "'t' is already written at line 1; where several are allowed, write [[t]]",
            [(2, 2, 1), (1, 2, 1)],
        ),
        ("a = {b = 1, b = 2}", "'b' is already written at line 1", [(1, 13, 1), (1, 6, 1)]),
        ("a = {}\n[a.b]", "'a' is already written at line 1", [(2, 2, 1), (1, 1, 1)]),
    ],
)
def test_syntax_errors(text, message, places):
    """What is no TOML is said in plain words with its place, and with the other place where two clash."""
    with pytest.raises(InputError) as caught:
        parse_toml(text, "x.toml")
    (problem,) = caught.value.problems
    assert message in problem.message
    assert [(m.line, m.column, m.length) for m in problem.marks] == places


@pytest.mark.parametrize(("text", "message"), [("a = " + "[" * 5000, "too deep"), ("a = " + "9" * 5000, "4300 digits")])
def test_texts_that_exhaust_the_reader(text, message):
    """Deep nesting and endless numbers are refused like any other mistake."""
    with pytest.raises(InputError, match=message):
        parse_toml(text, "x.toml")


@given(st.text("ab=[]{}\"'#.,\\\n\r \t1-:\u00a0é\x00", max_size=40))
def test_any_text_is_read_or_refused(text):
    """No text does anything but read, or fail with one problem that has a place and can be printed."""
    problems = ()
    try:
        parse_toml(text, "x.toml")
    except InputError as error:
        problems = error.problems
    assert all(problem.marks and problem.text().startswith("x.toml:") for problem in problems)
    assert all(1 <= mark.line <= text.count("\n") + 1 for problem in problems for mark in problem.marks)


def test_reads_a_file_as_it_stands(tmp_path):
    """A byte order mark is dropped and line ends are kept, so that places stay true."""
    file = tmp_path / "a.toml"
    file.write_bytes(b"\xef\xbb\xbfa = 1\r\nb = '\xc2\xb2'\r\n")
    document = read_toml(file)
    assert parse_toml("\ufeffa = 1", "x").text == "a = 1"
    assert (document.data, document.text, document.file) == (
        {"a": 1, "b": "²"},
        "a = 1\r\nb = '²'\r\n",
        str(file),
    )


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"x" * (MAX_BYTES + 1), "is larger than 2 MB"),
        (b"\xff\xfea\x00", "is UTF-16 text; save it as UTF-8"),
        (
            b"a = 1\nb = '5 mm\xb2'\n",
            "2:10: not UTF-8 text: byte B2, probably '²' of an older encoding; save the file as UTF-8",
        ),
        (b"a = '\xc2\xb2 \x81'\n", "1:8: not UTF-8 text: byte 81; save"),
    ],
)
def test_contents_that_are_no_text(tmp_path, content, message):
    """Files that are too large or not UTF-8 are refused by name, and the wrong byte has a place."""
    file = tmp_path / "a.toml"
    file.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_text(file)
    assert str(file) in str(caught.value)
    assert message in str(caught.value)


def test_files_that_cannot_be_read(tmp_path):
    """Missing files, directories and impossible names are refused by name, with the nearest name that exists."""
    (tmp_path / "truck.toml").write_text("a = 1")
    for path, message in [
        (tmp_path / "trukc.toml", "there is no file '{}'; did you mean 'truck.toml'?"),
        (tmp_path / "no" / "x.toml", "there is no file '{}'"),
        (tmp_path, "'{}' is a directory, a file is wanted"),
        (tmp_path / "truck.toml" / "x", "'{}' cannot be read: "),
        (tmp_path / ("x" * 5000), "'{}' cannot be read: "),
    ]:
        with pytest.raises(InputError) as caught:
            read_text(path)
        assert message.format(path) in caught.value.problems[0].message
    with pytest.raises(InputError, match="cannot be read: embedded null byte"):
        read_text(Path("a\0b"))


def test_permission_is_named(tmp_path, monkeypatch):
    """The answer of a system that forbids reading becomes a plain message."""
    file = tmp_path / "a.toml"
    file.write_text("a = 1")

    def forbid(*_arguments, **_options):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", forbid)
    with pytest.raises(InputError, match=r"a\.toml' may not be read: permission denied"):
        read_text(file)


def test_imports_stay_light():
    """Loading needs the standard library, the validation library and the modules below, and nothing heavy."""
    code = "import sys, wiregen.load.diagnose, wiregen.load.schema; print(*{m.partition('.')[0] for m in sys.modules})"
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=env)
    heavy = {"numpy", "networkx", "schemdraw", "typer", "rich", "click", "scipy"}
    assert heavy & set(done.stdout.split()) == set()
