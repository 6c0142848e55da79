"""Places of keys, values and headers in a TOML text."""

import importlib
import re
import string
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wiregen.loader.toml_places import dotted, find_places, survey

_LETTERS = "abXZ09 _-#=[]{},.'\"\\éß°²→😀\t"
_BLANK = st.sampled_from(["", " ", "\t", "  "])
_GAP = st.sampled_from(["", " ", "\n", "\n\t", " # note ] } \" '\n", "\n\n"])


def _escaped(letter):
    return f"\\U{ord(letter):08X}" if ord(letter) > 0xFFFF else f"\\u{ord(letter):04x}"


@st.composite
def _quoted(draw, content):
    """``content`` as a basic string, some of its letters escaped."""
    plain = [f"\\{letter}" if letter in '"\\' else letter for letter in content]
    some = [draw(st.integers(0, 9)) == 0 for _ in content]
    triples = zip(content, plain, some, strict=True)
    written = (_escaped(letter) if escape else same for letter, same, escape in triples)
    return f'"{"".join(written)}"'


_BASIC = st.text(_LETTERS, max_size=8).flatmap(_quoted)
_LITERAL = st.text(_LETTERS.replace("'", ""), max_size=8).map("'{}'".format)
_PIECES = ["a", "\n", '"', '""', '\\"', "#", " = ", "[x]", "\\\n   ", "'''", "\\\\", "\\u00e9", "😀", "}"]
_MULTI_BASIC = st.lists(st.sampled_from(_PIECES), max_size=9).map(
    lambda parts: '"""' + re.sub('"{3,}', '""', "".join(parts)) + '"""'
)
_MULTI_LITERAL = st.lists(st.sampled_from(["a", "\n", "'", "''", "#", '"""', "\\", "]"]), max_size=9).map(
    lambda parts: "'''" + re.sub("'{3,}", "''", "".join(parts)) + "'''"
)
_PLAIN = st.sampled_from(
    """0;-17;+5;1_000;0xDEAD_beef;0o17;0b1;3.14;-0.5e-3;1e6;6.02_2E+23;inf;-inf;nan;+nan;true;false;
    1979-05-27;1979-05-27T07:32:00Z;1979-05-27t00:32:00.5-07:00;07:32:00;07:32:00.999999;
    1979-05-27 07:32:00;1979-05-27 07:32:00+01:00""".replace("\n    ", "").split(";")
)
_SCALAR = st.one_of(_PLAIN, _BASIC, _LITERAL, _MULTI_BASIC, _MULTI_LITERAL)


def _key(name):
    """Strategy of the ways to write one key part."""
    forms = [_quoted(name)]
    if "'" not in name:
        forms.append(st.just(f"'{name}'"))
    if name and set(name) <= set(f"{string.ascii_letters}{string.digits}_-"):
        forms.append(st.just(name))
    return st.one_of(forms)


_NAME = st.one_of(st.sampled_from("abcdefgh"), st.text("ab1-_ .é\"'\\#]=", max_size=4))
_NAMES = st.lists(_NAME, unique=True, max_size=5)


@st.composite
def _array(draw, inner):
    items = draw(st.lists(inner, max_size=4))
    text = "".join(f"{draw(_GAP)}{item}{draw(_GAP)}," for item in items)
    if items and draw(st.booleans()):
        text = text[:-1]
    return f"[{text}{draw(_GAP)}]"


@st.composite
def _pairs(draw, inner, names):
    """Lines ``key = value``; some keys are dotted, and some of these share their first part."""
    pairs = []
    for name in names:
        leaves = draw(st.sampled_from([(), (), ("x",), ("x", "y z")]))
        for leaf in leaves or (None,):
            key = draw(_key(name))
            if leaf is not None:
                key = f"{key}{draw(_BLANK)}.{draw(_BLANK)}{draw(_key(leaf))}"
            pairs.append(f"{key}{draw(_BLANK)}={draw(_BLANK)}{draw(inner)}")
    return pairs


@st.composite
def _inline(draw, inner):
    pairs = draw(_pairs(inner, draw(_NAMES)))
    return "{" + ",".join(f"{draw(_BLANK)}{pair}{draw(_BLANK)}" for pair in pairs) + draw(_BLANK) + "}"


_VALUE = st.recursive(_SCALAR, lambda inner: st.one_of(_array(inner), _inline(inner)), max_leaves=6)


@st.composite
def _section(draw, header, depth):
    """The lines of a table and of those below it; ``header`` holds the written key parts."""
    names = draw(_NAMES)
    cut = draw(st.integers(0, len(names))) if depth < 3 else len(names)
    own = draw(_pairs(_VALUE, names[:cut]))
    lines = [f"{draw(_BLANK)}{line}{draw(st.sampled_from(['', ' # x = 1', ' ']))}" for line in own]
    below = []
    for name in names[cut:]:
        key = [*header, draw(_key(name))]
        written = f"{draw(_BLANK)}.{draw(_BLANK)}".join(key)
        if draw(st.booleans()):
            for _ in range(draw(st.integers(1, 3))):
                below += [f"[[{written}]] # [[x]]", *draw(_section(key, depth + 1))]
        else:
            head = f"{draw(_BLANK)}[{draw(_BLANK)}{written}{draw(_BLANK)}]"
            inside = draw(_section(key, depth + 1))
            first = next((i for i, line in enumerate(inside) if line.lstrip().startswith("[")), len(inside))
            # A table may follow the tables below it, and may be left out when it has no keys of its own.
            if first < len(inside) and draw(st.booleans()):
                below += [*inside[first:], *([head, *inside[:first]] if first else [])]
            else:
                below += [head, *inside]
    return [*lines, *below]


@st.composite
def _documents(draw):
    text = "\n".join(draw(_section([], 0))) + draw(st.sampled_from(["", "\n", "\n# end", "\n\n"]))
    text = text.replace("\n", draw(st.sampled_from(["\n", "\r\n"])))
    return draw(st.sampled_from(["", "# first\n", "\n \n"])) + text


def _walk(node, path=()):
    yield path, node
    if isinstance(node, dict):
        for key, value in node.items():
            yield from _walk(value, (*path, key))
    elif isinstance(node, list):
        for index, value in enumerate(node):
            yield from _walk(value, (*path, index))


def _read_key(written):
    return next(iter(tomllib.loads(f"{written} = 0")))


def _check(text):
    """Compare every place of ``text`` with what tomllib reads there; return how many leaves were compared."""
    places = find_places(text)
    lines = text.split("\n")
    nodes = dict(_walk(tomllib.loads(text)))
    leaves = 0
    assert set(places.values) <= set(nodes)
    assert set(places.keys) <= set(nodes)
    for path, node in nodes.items():
        spans = {"key": places.key(path), "value": places.value(path), "header": places.header(path)}
        if not isinstance(node, dict | list):
            leaves += 1
            assert spans["value"] is not None, path
        elif path:
            assert any(spans.values()), path
        if span := spans["value"]:
            again = tomllib.loads(f"x = {text[span.start : span.end]}")["x"]
            assert repr(again) == repr(node), path
        if path and isinstance(path[-1], str):
            assert spans["key"] is not None, path
            assert _read_key(text[spans["key"].start : spans["key"].end]) == path[-1]
        if span := spans["header"]:
            assert text[span.start] == "["
            assert text[span.end - 1] == "]"
        for span in filter(None, spans.values()):
            # No letter of these documents is a combining one, so columns count characters.
            assert sum(len(line) + 1 for line in lines[: span.line - 1]) + span.column - 1 == span.start
            rest = lines[span.line - 1].rstrip("\r")[span.column - 1 :]
            assert span.length == max(1, min(span.end - span.start, len(rest)))
    return leaves


@settings(max_examples=100, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(_documents())
def test_every_place_reads_back(text):
    """In any document the text at the place of a value, read alone, is that value; keys likewise."""
    _check(text)


def test_places_in_the_test_data_of_cpython():
    """The same for the valid files of CPython's own test data (Lib/test/test_tomllib/data/valid)."""
    package = pytest.importorskip("test.test_tomllib")
    files = sorted((Path(package.__file__).parent / "data" / "valid").rglob("*.toml"))
    assert len(files) > 5
    assert sum(_check(file.read_bytes().decode()) for file in files) > 12


_TEXT = """\
# comment
title = "x" # after
"quoted key" . 'b' = 1
[ vehicle . battery ]
\tlow = "22 V"
[[trailer]]
name = 'a'
[[trailer]]
name = 'b'
lamp = [ {type = "p21w", at.side = "left"},
         {type = "r5w"}, # second
]
  [[trailer.lamp2]]
  note = \"\"\"one
two\"\"\"
[trailer.brakes]
date = 2024-05-31 07:00:00 # date
"""


@pytest.mark.parametrize("text", [_TEXT, _TEXT.replace("\n", "\r\n"), "\ufeff" + _TEXT])
@pytest.mark.parametrize(
    ("what", "path", "line", "column", "length"),
    [
        ("key", ("title",), 2, 1, 5),
        ("value", ("title",), 2, 9, 3),
        ("key", ("quoted key",), 3, 1, 12),
        ("key", ("quoted key", "b"), 3, 16, 3),
        ("value", ("quoted key", "b"), 3, 22, 1),
        ("header", ("vehicle",), 4, 1, 21),
        ("header", ("vehicle", "battery"), 4, 1, 21),
        ("key", ("vehicle",), 4, 3, 7),
        ("key", ("vehicle", "battery"), 4, 13, 7),
        ("key", ("vehicle", "battery", "low"), 5, 2, 3),
        ("value", ("vehicle", "battery", "low"), 5, 8, 6),
        ("header", ("trailer",), 6, 1, 11),
        ("header", ("trailer", 0), 6, 1, 11),
        ("header", ("trailer", 1), 8, 1, 11),
        ("value", ("trailer", 1, "name"), 9, 8, 3),
        ("value", ("trailer", 1, "lamp"), 10, 8, 36),
        ("value", ("trailer", 1, "lamp", 0), 10, 10, 33),
        ("value", ("trailer", 1, "lamp", 0, "at", "side"), 10, 36, 6),
        ("key", ("trailer", 1, "lamp", 0, "at", "side"), 10, 29, 4),
        ("value", ("trailer", 1, "lamp", 1, "type"), 11, 18, 5),
        ("header", ("trailer", 1, "lamp2", 0), 13, 3, 17),
        ("value", ("trailer", 1, "lamp2", 0, "note"), 14, 10, 6),
        ("header", ("trailer", 1, "brakes"), 16, 1, 16),
        ("value", ("trailer", 1, "brakes", "date"), 17, 8, 19),
    ],
)
def test_lines_and_columns(text, what, path, line, column, length):
    """Lines and columns are those an editor shows, with either line end and with a byte order mark."""
    span = getattr(find_places(text), what)(path)
    assert (span.line, span.column, span.length) == (line, column, length)


@pytest.mark.parametrize("path", [("titel",), ("trailer", 2), ("trailer", 0, "lamp"), ("title", 0), ()])
def test_unknown_paths_have_no_place(path):
    """A path that is not in the text has neither key nor value nor header."""
    places = find_places(_TEXT)
    assert (places.key(path), places.value(path), places.header(path)) == (None, None, None)


def test_marks_on_letters_take_no_column():
    """A letter with a combining accent is one character for the reader, as is one beyond the first 65536."""
    places = find_places('n = "e\u0301😀²", m = 1'.replace(", m", "\nm"))
    assert places.value(("n",)).length == 5
    inline = find_places('n = {a = "e\u0301😀", b = 1}')
    assert inline.value(("n", "b")).column == 20
    joined = find_places('n = {a = "\u200d\ufeff", b = 1}')
    assert joined.value(("n", "b")).column == 18


def test_an_explicit_table_wins_over_an_implied_one():
    """[a.b] before [a]: the header of a is its own, not the one that implied it."""
    places = find_places("[a.b]\nx = 1\n[a]\ny = 2\n")
    assert places.header(("a",)).line == 3
    assert places.key(("a",)).line == 3
    assert places.header(("a", "b")).line == 1


def test_braces_over_several_lines():
    """TOML 1.1 allows line ends, comments and a last comma inside braces."""
    places = find_places("a = {\n  b = 1, # one\n  c = 2,\n}\n")
    assert places.value(("a", "c")).line == 3


@pytest.mark.parametrize("opening", ["[", "{a="])
def test_no_nesting_is_too_deep(opening):
    """Places are found however deep values lie inside one another, deeper than tomllib reads."""
    depth = 2000
    closing = {"[": "]", "{a=": "}"}[opening]
    found = find_places(f"x = {opening * depth}1{closing * depth}")
    path = max(found.values, key=len)
    assert len(found.values) == depth + 1
    assert found.value(path).start == 4 + len(opening) * depth
    assert found.value(("x",)).end == 5 + (len(opening) + 1) * depth


def test_shown_line_moves_no_cursor():
    """A line for printing has one character a column and no control characters."""
    lines = find_places("\ufeff\ta = 1\r\n").lines
    assert lines.shown(1) == " a = 1"
    assert survey("a = \x1b[31m").places.lines.shown(1) == "a = \ufffd[31m"


def test_dotted():
    """A path is written with dots, with quotes round keys that need them."""
    assert dotted(("trailer", 0, "two words", "a.b", "é")) == 'trailer.0."two words"."a.b"."é"'


@pytest.mark.parametrize(
    ("text", "opened"),
    [
        ("a = [1, [2", (4, 8)),
        ('a = {b = "x', (4, 9)),
        ("a = '''x\n", (4,)),
        ("a = [1, 2]", ()),
        ("a = {b = [1], c = 2", (4,)),
    ],
)
def test_what_is_still_open(text, opened):
    """In a text that ends too early the open brackets and quotes are known."""
    assert survey(text).opened == opened


@pytest.mark.parametrize(
    ("text", "path", "second", "first"),
    [
        ("a = 1\nb = 2\na = 3", ("a",), 3, 1),
        ("[a]\n[b]\n[a]", ("a",), 3, 1),
        ("a = 1\n[a]", ("a",), 2, 1),
        ("[[a]]\n[a]", ("a",), 2, 1),
        ("[a]\n[[a]]", ("a",), 2, 1),
        ("[a.b]\n[[a]]", ("a",), 2, 1),
        ("a = [{}]\n[[a]]", ("a",), 2, 1),
        ("a = {}\na.b = 1", ("a",), 2, 1),
        ("a = {}\n[a.b]", ("a",), 2, 1),
        ("[a]\nb.c = 1\n[a.b]", ("a", "b"), 3, 2),
        ("[a.b]\n[a]\nb.c = 1", ("a", "b"), 3, 1),
        ("a = [\n{b = 1,\n b = 2}]", ("a", 0, "b"), 3, 2),
        ("[[a]]\nb = 1\n[[a]]\nb = 1\nb = 2", ("a", 1, "b"), 5, 4),
    ],
)
def test_repeats(text, path, second, first):
    """Of a key or table that may not be written again both places are found; tomllib refuses it."""
    with pytest.raises(tomllib.TOMLDecodeError):
        tomllib.loads(text)
    (found,) = survey(text).repeats
    assert (found[0], found[1].line, found[2].line) == (path, second, first)


@settings(max_examples=80, deadline=None)
@given(_documents(), st.data())
def test_a_damaged_text_is_surveyed_without_an_accident(text, data):
    """Whatever is cut out of a document, the survey ends and every place it gives lies in the text."""
    start = data.draw(st.integers(0, len(text)))
    damaged = text[:start] + text[start + data.draw(st.integers(0, 5)) :]
    found = survey(damaged)
    ranges = [*found.places.keys.values(), *found.places.values.values(), *found.places.headers.values()]
    assert all(0 <= start < end <= len(damaged) for start, end in ranges)


def test_accepted_documents_have_no_repeats():
    """The check for repeats is quiet on the shipped pinouts."""
    root = Path(importlib.import_module("wiregen").__file__).parents[1]
    texts = [file.read_text(encoding="utf-8") for file in sorted((root / "pinouts").glob("*.toml"))]
    assert len(texts) > 10
    assert [survey(text).repeats for text in texts] == [()] * len(texts)
    assert all(_check(text) > 30 for text in texts)
