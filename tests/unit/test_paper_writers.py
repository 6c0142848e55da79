"""Papers in every format: the same cells, safe words, the same bytes on every run."""

import base64
import hashlib
import json
import re
import unicodedata
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.papers import TEXTS, pdf_text, read_page, rows_of, said
from tests.unit.papers import bare as flat
from tests.unit.sheet_checks import assert_sheet_is_sound
from wiregen.catalogue.connector import COLOURS
from wiregen.draw.paper_sheet import paper_sheets
from wiregen.paper import blocks
from wiregen.paper.blocks import (
    Bullets,
    Cell,
    Column,
    Facts,
    Head,
    Heading,
    Item,
    Paper,
    Para,
    Row,
    RowGroup,
    Steps,
    Table,
    cells_of,
    row,
)
from wiregen.paper.colours import SWATCHES
from wiregen.paper.csv_text import csv_lines, csv_text
from wiregen.paper.html import html_piece, html_text, swatch
from wiregen.paper.json_text import FORMAT, paper_json
from wiregen.paper.json_text import said as json_said
from wiregen.paper.markdown import markdown_text
from wiregen.paper.pdf.compile import paper_pdf
from wiregen.paper.safe_text import REPLACEMENT, clean, display_width, escape_markdown, guard_csv
from wiregen.paper.terminal import terminal_text
from wiregen.paper.words import wrap

RLO = "\N{RIGHT-TO-LEFT OVERRIDE}"
HOSTILE = f'<script>alert("1")</script> & {RLO}B:1X | =1+1 `x` \x1b[31m\x00\r\n[a](http://b.example) ' + "\ud800"
PATTERN = re.compile(r"[\d.]+")


def paper_of(word: str = "word", *, mark: str = "X1:B") -> Paper:
    """A paper with one block of every kind, ``word`` in every place where somebody's words can stand."""
    columns = (
        Column("Mark"),
        Column("What", 1.0),
        Column("Colour", whole=True, spare=1),
        Column("V", right=True),
        Column("Remarks", 2.0, spare=2),
        Column("Read", field_mm=20),
    )
    cells = (Cell(mark, bold=True), Cell(word), Cell("WH/BK white/black", colour="WH/BK"), Cell("13.60"))
    rows = (
        Row((*cells, Cell(f"first remark {word}"), Cell()), marked=True),
        Row((Cell("X2:3", bold=True), Cell("tail"), Cell("any"), Cell("0.00"), Cell(), Cell())),
    )
    return Paper(
        kind="trial",
        name="Trial",
        head=Head(title=f"A {word}", digest="0123456789ab", revision="B", date="2026-05-04", author=f"Author {word}"),
        facts=(("Vehicle", f"bus {word}"),),
        blocks=(
            Bullets((f"danger {word}", "second danger"), "Cautions", boxed=True),
            Heading("Part one"),
            Para(f"paragraph {word}"),
            Para("bold paragraph", bold=True),
            Bullets(
                (Item(f"cause {word}", lead="ERROR", end="line 45", more=("because of it",)), "plain"), numbered=True
            ),
            Bullets(("listed",), "Title of a list"),
            Facts((("2", f"two sources {word}"), ("a long word in front", "one"))),
            Heading("Part two"),
            Table(columns, (RowGroup("Group A", rows), RowGroup(f"Group {word}", rows[1:])), "A table"),
            Table((Column("Only"),), ()),
            Steps((("first step", ("do this", f"and {word}")),)),
        ),
        closing=blocks.CALCULATED,
    )


# --- all formats


def test_every_format_carries_the_same_cells(tmp_path):
    """Title, facts, headings, words and every cell of every table stand in all seven formats."""
    paper = paper_of()
    wanted = {flat(text) for text in cells_of(paper) if text}
    assert len(wanted) > 40
    for name, text in said(paper, tmp_path).items():
        missing = {one for one in wanted if one not in text}
        # A screen leaves out what is filled in by hand.
        assert missing - ({"read"} if name == "terminal" else set()) == set(), name


@pytest.mark.parametrize("writer", [*TEXTS, paper_json, html_piece])
def test_writers_repeat_byte_for_byte(writer):
    """The same paper gives the same bytes, so that a file can be compared with the last one."""
    assert writer(paper_of()).encode() == writer(paper_of()).encode()


def test_print_repeats_byte_for_byte():
    """The PDF too."""
    assert paper_pdf(paper_of()).data == paper_pdf(paper_of()).data


@pytest.mark.parametrize("writer", [*TEXTS, html_piece])
def test_hostile_words_leave_no_control_or_bidi_character(writer):
    """Escape sequences, NUL, lone surrogates and direction overrides never reach the file."""
    text = writer(paper_of(HOSTILE)).removeprefix("\ufeff")
    text.encode("utf-8")
    bad = [hex(ord(c)) for c in text if unicodedata.category(c) in ("Cc", "Cf", "Cs") and c not in "\r\n"]
    assert bad == []
    assert REPLACEMENT in text


def test_hostile_words_are_printed_as_they_are(tmp_path):
    """Markup of the typesetter and of the web stands on paper as text; nothing turns the line around."""
    word = '#panic("x") $1$ *b* <a> @ref `raw` // c'
    text = pdf_text(paper_pdf(paper_of(word + RLO)).data, tmp_path)
    assert flat(text).count(flat(word)) >= 6
    assert RLO not in text


@pytest.mark.parametrize("word", ["x" * 500, "<script>&</script> " * 30, RLO + "\x00", "", "幅" * 300])
def test_hostile_words_stay_on_the_sheet(word):
    """500-character words, markup and control characters neither overlap nor leave the frame."""
    for scene in paper_sheets(paper_of(word)):
        assert_sheet_is_sound(scene)


@pytest.mark.parametrize("writer", TEXTS)
def test_a_marked_row_is_marked_without_colour(writer):
    """A sign, not a colour, tells the row that must be looked at; the others have none."""
    paper = paper_of()
    text = writer(paper)
    sign = {"terminal_text": "! X1:B", "markdown_text": "**!** ", "html_text": 'class="marked"', "csv_text": ",!,X1:B"}
    assert text.count(sign[writer.__name__]) == 1


@pytest.mark.parametrize("writer", TEXTS)
def test_the_last_word_is_said_once(writer):
    """Who decides stands at the end, once."""
    text = " ".join(writer(paper_of()).split())
    assert text.count(blocks.LAST_WORD) == 1


def test_an_empty_table_says_so():
    """A table without rows is no hole."""
    paper = replace(paper_of(), blocks=(Heading("Part"), Table((Column("a"),), ())))
    for writer in (terminal_text, markdown_text, html_text):
        assert "None." in writer(paper)


# --- terminal


@pytest.mark.parametrize("width", [48, 60, 80, 100, 132])
@pytest.mark.parametrize("word", ["word", "x" * 500, "word " * 100, "幅" * 250, HOSTILE * 5, ""])
def test_terminal_keeps_the_width(word, width):
    """No line is wider than asked, whatever the words."""
    lines = terminal_text(paper_of(word), width).splitlines()
    assert [line for line in lines if display_width(line) > width] == []


@given(st.text(max_size=200), st.integers(min_value=8, max_value=90))
def test_wrapping_loses_nothing(text, width):
    """Whatever is wrapped stays within the width and keeps every character that is no space."""
    words = clean(text)
    lines = wrap(words, width, "  ")
    assert all(display_width(line) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == words.replace(" ", "")


def test_a_heading_stands_in_the_head_of_its_table():
    """Where the first column has no head of its own, a short heading takes its place and saves a line."""
    table = Table((Column(""), Column("from")), (RowGroup("", (row(("W1", "X1:B")), row(("W2", "X1:J")))),))
    lines = terminal_text(replace(paper_of(), blocks=(Heading("Cut list"), table))).splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith("CUT LIST"))
    assert lines[at : at + 3] == ["CUT LIST   from", " W1        X1:B", " W2        X1:J"]


def test_spare_columns_go_below_the_row():
    """What has no room beside the others stands below its row, with its head; a wide terminal keeps it beside."""
    narrow, wide = (terminal_text(paper_of("a remark of many words " * 3), width) for width in (48, 132))
    assert "remarks: first remark" in " ".join(narrow.split())
    assert "colour: any" in narrow
    assert "colour: any" not in wide


def test_the_end_of_an_entry_stands_at_the_right():
    """The line number is flush right, on the last line of the entry or on one of its own."""
    lines = terminal_text(paper_of(), 60).splitlines()
    (line,) = [line for line in lines if "line 45" in line]
    assert (len(line), line.endswith("line 45")) == (60, True)


# --- CSV


def test_csv_is_rectangular_with_crlf():
    """RFC 4180: every record ends with CRLF and has as many fields as the heading."""
    text = csv_text(paper_of())
    rows = rows_of(text)
    assert {len(line) for line in rows} == {len(rows[0])}
    assert text.count("\n") == text.count("\r\n") == len(rows)
    assert rows[0] == ["part", "group", "text", "!", "Mark", "What", "Colour", "V", "Remarks", "Read", "Only"]


def test_csv_opens_by_double_click():
    """More than ASCII is announced by the byte-order mark of UTF-8 (RFC 3629, section 6); plain ASCII needs none."""
    assert csv_lines(("a",), [("Ω",)]).encode().startswith(b"\xef\xbb\xbfa\r\n")
    assert csv_lines(("a",), [("ohm",)]) == "a\r\nohm\r\n"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"])
def test_csv_disarms_formulas(start):
    """A cell that a spreadsheet would run as a formula starts with an apostrophe."""
    for text in (f"{start}1+1", f"  {start}cmd|' /C calc'!A0"):
        (cell,) = rows_of(csv_lines(("a",), [(text,)]))[1]
        assert cell.startswith("'") == (start not in "\t\r\n" or text[0] == start)
        column = rows_of(csv_text(paper_of(mark=text)))
        assert cell in {line[column[0].index("Mark")] for line in column}


def test_csv_leaves_marks_and_numbers_alone():
    """Marks and numbers get no apostrophe; a number below nothing is no formula; no cell holds a no-break space."""
    values = ("X1:E", "W4", "0 V", "2.5\N{NO-BREAK SPACE}mm²", "-0.05", "13.60", 1.5, -0.0, 3, True, None)
    (cells,) = rows_of(csv_lines([str(number) for number in range(len(values))], [values]))[1:]
    assert cells == ["X1:E", "W4", "0 V", "2.5 mm²", "-0.05", "13.60", "1.5", "0", "3", "yes", ""]
    assert guard_csv("X1:E") == "X1:E"


def test_csv_round_trips_quotes_commas_and_lines():
    """Quotes and commas come back from a reader; line ends become spaces."""
    assert rows_of(csv_lines(("a",), [('say "no", twice\nplease',)]))[1] == ['say "no", twice please']


def test_csv_tells_two_columns_of_one_head_apart():
    """A table with the same head twice loses neither column."""
    table = Table((Column("End"), Column("End")), (RowGroup("", (row(("ring", "ferrule")),)),))
    rows = rows_of(csv_text(replace(paper_of(), blocks=(table,))))
    assert rows[0][-2:] == ["End", "End 2"]
    assert ["ring", "ferrule"] in [line[-2:] for line in rows]


# --- JSON


def test_json_tells_its_format_and_its_kind():
    """A program sees first what it reads; the blocks stand in for a record where there is none."""
    told = json.loads(paper_json(paper_of()))
    assert list(told)[:2] == ["format", "kind"]
    assert (told["format"], told["kind"]) == (FORMAT, "trial")
    assert [block["block"] for block in told["blocks"]] == [type(one).__name__.lower() for one in paper_of().blocks]
    assert json.loads(paper_json(replace(paper_of(), data={"a": 1}))) == {"format": FORMAT, "kind": "trial", "a": 1}


# --- Markdown


def test_markdown_tables_are_rectangular():
    """Every table line has as many bars as its heading, even with bars in the words."""
    for word in ("word", "a|b \\| c || d"):
        lines = [line for line in markdown_text(paper_of(word)).splitlines() if line.startswith("|")]
        assert {len(re.findall(r"(?<!\\)(?:\\\\)*\|", line)) for line in lines} == {7}


def test_markdown_escapes_html_and_links():
    """No tag, link, code, mention or formula of the user's survives."""
    text = markdown_text(paper_of(HOSTILE))
    assert "<script" not in text
    assert re.search(r"(?<!\\)\[a(?<!\\)\]\(", text) is None
    assert re.search(r"(?<!\\)`", text) is None
    assert "http://" not in text


@pytest.mark.parametrize(
    ("raw", "escaped"),
    [
        ("a|b", r"a\|b"),
        ("a & <b>", "a &amp; &lt;b&gt;"),
        ("stop_left", r"stop\_left"),
        ("www.x.example", r"www\.x.example"),
    ],
)
def test_markdown_escapes(raw, escaped):
    """What the escapes look like."""
    assert escape_markdown(raw) == escaped


# --- HTML


def test_page_policy_names_the_hash_of_its_style():
    """The policy allows this style sheet and nothing else; a wrong hash would switch the layout off."""
    text = html_text(paper_of())
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', text).group(1)
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL).group(1)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert policy.startswith(f"default-src 'none'; style-src 'sha256-{digest}';")


@pytest.mark.parametrize("word", ["word", HOSTILE])
def test_page_loads_and_runs_nothing(word):
    """No script, no outside address, no inline style, no event attribute, also with hostile words."""
    page = read_page(html_text(paper_of(word)))
    names = {tag for tag, _ in page.tags}
    attributes = {name for _, attrs in page.tags for name in attrs}
    assert names & {"script", "link", "img", "iframe", "object", "form", "a:link"} == set()
    assert {name for name in attributes if name in ("src", "style", "srcset") or name.startswith("on")} == set()
    assert {attrs["href"][:1] for tag, attrs in page.tags if tag == "a"} == {"#"}


@pytest.mark.parametrize("writer", [html_text, html_piece])
def test_page_shows_hostile_words_as_text(writer):
    """The reader sees the words as they were written, as text."""
    page = read_page(writer(paper_of("<script>alert(1)</script> & \"q\" 'r'")))
    assert "<script>alert(1)</script> & \"q\" 'r'" in "".join(page.words)
    assert "script" not in {tag for tag, _ in page.tags}


def test_page_is_accessible():
    """Language, title, one top heading, captions, scopes on heading cells, roles kept, ids once, links that lead."""
    page = read_page(html_text(paper_of()))
    count = [tag for tag, _ in page.tags].count
    assert ("html", {"lang": "en"}) in page.tags
    assert (count("title"), count("h1"), count("main"), count("table"), count("caption")) == (1, 1, 1, 1, 1)
    assert {attrs.get("scope") for tag, attrs in page.tags if tag == "th"} == {"col", "row", "rowgroup"}
    assert all("role" in attrs for tag, attrs in page.tags if tag in ("table", "thead", "tbody", "tr", "th", "td"))
    assert all(attrs["aria-hidden"] == "true" for tag, attrs in page.tags if tag == "svg")
    ids = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    assert {attrs["href"][1:] for tag, attrs in page.tags if tag == "a"} == set(ids)


def test_page_puts_code_and_word_beside_every_swatch():
    """A swatch never stands alone: code and word follow it."""
    text = html_text(paper_of())
    named = len(re.findall(r"</svg> (?:[A-Z]{2})(?:/[A-Z]{2})? [a-z]+(?:/[a-z]+)?<", text))
    assert (text.count('<svg class="swatch"'), named) == (1, 1)


def test_swatches_cover_every_colour_and_show_the_stripe():
    """Each colour of the catalogue has a swatch; a second colour is a stripe on the first."""
    assert set(SWATCHES) == set(COLOURS)
    assert len(set(SWATCHES.values())) == len(COLOURS)
    striped = swatch("WH/BK")
    assert striped.index(SWATCHES["WH"]) < striped.index(SWATCHES["BK"])
    assert swatch("") == ""


def test_blocks_are_plain_data():
    """What a program gets of the blocks survives JSON, cell by cell."""
    data = json_said(paper_of())
    assert json.loads(json.dumps(data)) == data
    table = next(block for block in data["blocks"] if block["block"] == "table")
    assert [cell["text"] for cell in table["groups"][0]["rows"][0]["cells"]][:2] == ["X1:B", "word"]
