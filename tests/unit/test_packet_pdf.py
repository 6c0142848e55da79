"""The PDF of the packet: pages, text, tags, the same bytes, hostile words, numbers equal to the readings."""

import datetime as dt
import json
import os
import re
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from tests import steps
from tests.conftest import program
from tests.problems import OWN
from tests.rigs import dump, load, rig, trailer
from tests.steps import contents, packet
from wiregen.bundle.packet import faults
from wiregen.bundle.packet.ask import Packet
from wiregen.bundle.packet.contents import PacketContents
from wiregen.bundle.packet.document import sections
from wiregen.bundle.packet.proving import as_built
from wiregen.draw.scene import SMALLEST_TEXT_MM
from wiregen.errors import WiregenError
from wiregen.model.fault_guide import FaultGuide, GuideEntry, GuideStep
from wiregen.paper.blocks import Cell, Column, Head, Para, Row, RowGroup, Table
from wiregen.paper.outward import end as outward
from wiregen.paper.pdf import glyphs
from wiregen.paper.pdf.compile import compile_pdf
from wiregen.paper.pdf.data import Section
from wiregen.questions.faults.guide_lists import GuidePlace, guide_lists
from wiregen.questions.record.as_built import Entry, numbered
from wiregen.questions.record.paper import record_toml

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "wiregen" / "bundle" / "demo"
RIGS = (("observatory-bus", "a4"), ("ringing-lorry", "letter"))
INFO = Head(title="a title", revision="A", date="2026-05-04", digest="0123456789ab", author="somebody")

GUIDE = FaultGuide(title="a title", trailer="a trailer", digest="0123456789ab", entries=(), cautions=())

#: Words that would do harm where they are not text.
MARKUP = "#panic(1) $x$ *b* <script>alert(1)</script> & \\ [[a]]"
TURNED = "X1:\u202eB\u202c"
FAR = "שלום 中文 \u0661"
FORMULA = '=HYPERLINK("http://x")'
AWAY = "../../../etc/passwd"


def made(name: str, paper: str = "a4") -> Packet:
    """The packet of an example, made once."""
    return _made(name, paper)


@cache
def _made(name: str, paper: str) -> Packet:
    return packet(steps.load(DEMO / f"{name}.toml"), "letter" if paper == "letter" else "a4")


@cache
def held(name: str) -> PacketContents:
    """What the packet of an example prints, without the fault guide, made once."""
    return contents(steps.load(DEMO / f"{name}.toml"), guide=False)


@pytest.fixture(scope="module")
def hostile_packet(tmp_path_factory: pytest.TempPathFactory) -> Packet:
    """A packet in which every free text is hostile."""
    return hostile(tmp_path_factory.mktemp("hostile"))


def text_of(data: bytes, tmp_path: Path, *options: str) -> str:
    """The text of a PDF, with ordinary spaces, and words that were given places to break whole again."""
    path = tmp_path / "packet.pdf"
    path.write_bytes(data)
    text = subprocess.run(
        [program("pdftotext"), *options, str(path), "-"], capture_output=True, encoding="utf-8", check=True
    ).stdout
    return text.replace("\u00a0", " ").replace("\u200b", "")


@pytest.mark.parametrize(("name", "paper"), RIGS)
def test_pages_are_counted_and_tagged(name, paper, tmp_path):
    """The number of pages that the list of contents and every title block state is the real one; the PDF is tagged."""
    done = made(name, paper)
    path = tmp_path / "packet.pdf"
    path.write_bytes(done.files["packet.pdf"])
    told = subprocess.run([program("pdfinfo"), str(path)], capture_output=True, encoding="utf-8", check=True).stdout

    facts = dict(line.split(":", 1) for line in told.splitlines() if ":" in line)
    assert int(facts["Pages"]) == done.listing["pages"]
    assert facts["Tagged"].strip() == "yes"
    assert ("841.89 x 595.276" if paper == "a4" else "792 x 612") in facts["Page size"]
    text = text_of(done.files["packet.pdf"], tmp_path)
    pages = done.listing["pages"]
    assert re.findall(rf"(\d+) of {pages}\n", text) == [str(page) for page in range(1, pages + 1)]


def test_the_pdf_claims_the_standard_it_was_made_to():
    """The metadata name PDF/UA-1 (ISO 14289-1, part 1), and the file names its language."""
    data = made("observatory-bus").files["packet.pdf"]
    assert b"<pdfuaid:part>1</pdfuaid:part>" in data or b'pdfuaid:part="1"' in data
    assert b"/Lang(en" in data.replace(b"/Lang (", b"/Lang(")


@pytest.mark.parametrize(("name", "paper"), RIGS)
def test_every_contact_and_conductor_can_be_found(name, paper, tmp_path):
    """Text search finds every contact of every connector and every conductor of the harness."""
    loaded = steps.load(DEMO / f"{name}.toml")
    text = text_of(made(name, paper).files["packet.pdf"], tmp_path)

    words = set(re.findall(r"[\w:]+", text))
    refs = {row.ref for row in steps.chart(loaded).conductors}
    assert refs - words == set()
    used = {end for row in steps.chart(loaded).conductors for end in (row.start, row.end) if end.startswith("X")}
    assert used - words == set()
    pinouts = [loaded.socket, *loaded.plugs]
    assert {entry.mark for pinout in pinouts for entry in pinout.contact} - words == set()


def test_the_test_sheet_prints_the_readings(tmp_path):
    """Every value on the test sheet is that of the readings, to the digits printed, and its range holds theirs."""
    loaded = steps.load(DEMO / "observatory-bus.toml")
    sheet = steps.readings(loaded)
    text = text_of(made("observatory-bus").files["packet.pdf"], tmp_path, "-layout")
    rows = {one.ident: one.reading for one in numbered(sheet)}

    printed = re.findall(r"^ *(\d+\.\d+) +(\S+) .*? (-?\d+\.\d\d) +(-?[\d.]+) \.\. (-?[\d.]+) ", text, re.MULTILINE)
    assert len(printed) > 200
    for ident, part, volts, low, high in printed:
        reading = rows[ident]
        assert reading.part.lstrip("-") == part.rstrip(",")
        assert reading.volts_v.nominal == pytest.approx(float(volts), abs=0.0051)
        assert float(low) - 1e-9 <= reading.volts_v.lowest + 1e-6
        assert reading.volts_v.highest - 1e-6 <= float(high) + 1e-9


def test_ranges_are_rounded_outwards():
    """No value of a range lies outside what is printed; a value on the last digit stays."""
    assert outward(1.234, 2, up=False) == "1.23"
    assert outward(1.234, 2, up=True) == "1.24"
    assert outward(13.6, 2, up=True) == "13.60"
    assert outward(0.1 + 0.2, 1, up=True) == "0.3"
    assert outward(-0.004, 2, up=True) == "0.00"
    assert outward(-0.004, 2, up=False) == "-0.01"


def test_the_order_of_the_packet():
    """Cover, chart, drawings, shop, test sheets, what it rests on."""
    titles = [section.title for section in sections(replace(held("observatory-bus"), guides=(GUIDE,)))]
    wanted = [
        "Cover", "Pin-to-pin chart", "Schematic", "Connector X1", "Harness layout", "Cut list", "Splice list",
        "Wire labels", "Parts list", "Order of assembly", "Test sheet 1", "Test sheet 2", "Test sheet 3", "Fault guide",
        "Assumptions", "Sources", "Unverified contacts", "Findings",
    ]  # fmt: skip
    places = [next(k for k, title in enumerate(titles) if title.startswith(word)) for word in wanted]
    assert places == sorted(places)


def test_drawings_are_lettered_large_enough():
    """No text of any drawing of the packet is smaller than 2 mm on paper: the sheets are printed at their own size."""
    for drawing in held("observatory-bus").drawings:
        for svg in drawing.bare:
            assert 'width="297mm"' in svg
            assert min(map(float, re.findall(r'font-size="([\d.]+)"', svg))) >= SMALLEST_TEXT_MM


@pytest.mark.slow
def test_same_bytes_for_every_hash_seed(tmp_path):
    """Two processes with different hash seeds, started in different folders, write the same bytes."""
    sums = []
    for seed in ("1", "2718"):
        folder = tmp_path / seed
        folder.mkdir()
        (folder / "my.toml").write_text((DEMO / "ringing-lorry.toml").read_text("utf-8"), "utf-8")
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONHASHSEED": seed}
        subprocess.run(
            [sys.executable, "-m", "wiregen", "packet", "my.toml", "--out", "out"],
            cwd=folder, env=environment, check=True, capture_output=True,
        )  # fmt: skip
        sums.append({path.relative_to(folder).as_posix(): path.read_bytes() for path in (folder / "out").rglob("*.*")})
    assert sums[0] == sums[1]
    assert "out/packet.pdf" in sums[0]


# --- words that must stay words ---


def hostile(tmp_path: Path) -> Packet:
    """A packet in which every free text is hostile."""
    long = "W" * 500
    own = {
        **OWN,
        "short": FORMULA,
        "standard": f"{MARKUP} {long}",
        "notices": [long, f"{MARKUP} {TURNED}", "word " * 900],
        "contact": [{**entry, "function": MARKUP, "note": long} for entry in OWN["contact"]],
    }
    (tmp_path / "boathouse.toml").write_text(dump(own), "utf-8")
    text = rig(
        vehicle={"name": f"{TURNED} bus"},
        adapter={"name": FAR, "location": AWAY},
        trailers=[
            trailer("boathouse", ["tail"], name=MARKUP[:60]),
            trailer("boathouse", ["tail"], name=FORMULA),
            trailer("boathouse", ["tail"], name=AWAY),
        ],
    )
    text = text.replace('title = "test rig"', f"title = '{MARKUP[:60]}'\nauthor = \"{'A' * 60}\"\nrevision = '#{{}}$'")
    return packet(load(text, tmp_path))


def test_hostile_words_are_printed_as_they_are(hostile_packet, tmp_path):
    """Markup, tags and formulas stand on paper letter by letter; what no font has stands there as its code."""
    done = hostile_packet
    text = text_of(done.files["packet.pdf"], tmp_path)

    flat = re.sub(r"\s+", " ", text)
    assert MARKUP[:44] in flat
    assert FORMULA in flat.replace(" ", "")
    # Where left-to-right and right-to-left meet, the reader of the PDF turns the first bracket.
    assert "U+4E2D][U+6587]" in flat.replace(" ", "")
    assert "\u202e" not in text
    assert "X1:[?]B[?]" in flat
    assert "W" * 500 in re.sub(r"\s", "", text)
    assert all(word not in done.files["packet.pdf"] for word in (b"/JavaScript", b"/Launch", b"/URI"))


def test_hostile_words_do_not_name_files(hostile_packet):
    """No name of a file has anything of what the user wrote, and none leads out of the folder."""
    names = list(hostile_packet.files)
    assert [name for name in names if not re.fullmatch(r"([a-z]+/)?[a-z0-9-]+\.[a-z]+", name)] == []


def test_hostile_words_are_no_formulas(hostile_packet):
    """No cell of any CSV file begins as a formula does, beyond numbers."""
    import csv
    import io

    for name, data in hostile_packet.files.items():
        if name.endswith(".csv"):
            cells = [cell for line in csv.reader(io.StringIO(data.decode())) for cell in line]
            wrong = [cell for cell in cells if cell.lstrip()[:1] in ("=", "+", "@", "-") and not _is_number(cell)]
            assert (name, wrong) == (name, [])


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def test_hostile_words_do_not_run_in_drawings_and_pages(hostile_packet):
    """No drawing and no page of the folder has a script element or an event handler made of the user's words."""
    for name, data in hostile_packet.files.items():
        if name.endswith((".svg", ".html")):
            assert (name, b"<script>alert" in data) == (name, False)


# --- fonts ---


def test_a_missing_font_is_an_error(monkeypatch):
    """A family that is not shipped is refused; the PDF is never set in another face."""
    monkeypatch.setattr("wiregen.paper.pdf.compile.FONT_FAMILY", "Some Face Nobody Has")
    with pytest.raises(WiregenError, match="the PDF cannot be made"):
        compile_pdf(INFO, [Section("One", (Para("words"),))])


def test_coverage_is_read_from_the_fonts():
    """Letters and signs that the packet uses are covered; scripts the fonts do not have are known to be missing."""
    known = glyphs.covered()
    assert {character for character in "aZ09ÄéΩ≤≥≠×²½·–—…°µ±•→←\u00a0\u200b" if ord(character) not in known} == set()
    assert {ord(character) for character in "中\u0627✓"} & known == set()


def test_what_is_said_to_be_covered_can_be_printed():
    """A tagged PDF with every character that is said to be covered compiles; one more character would be refused."""
    letters = [chr(code) for code in sorted(glyphs.covered()) if glyphs.words(chr(code)) == chr(code)]
    sample = tuple(Para(" ".join(letters[start : start + 200])) for start in range(0, len(letters), 200))
    assert compile_pdf(INFO, [Section("All", sample)]).pages >= 1


def test_long_words_get_places_to_break():
    """A word wider than a column can be broken without a hyphen that is not in it; short ones stay as they are."""
    assert glyphs.words("X1:E") == "X1:E"
    assert glyphs.words("a" * 30).replace("\u200b", "") == "a" * 30
    assert max(map(len, glyphs.words("a" * 300).split("\u200b"))) < 19


def test_a_cell_longer_than_a_page_is_parted(tmp_path):
    """A cell of several pages goes on; nothing of it is lost."""
    table = Table((Column("one"), Column("two", 1.0)), (RowGroup("", (Row((Cell("a"), Cell("word " * 4000))),)),))
    done = compile_pdf(INFO, [Section("Long", (table,))])
    assert done.pages > 1
    assert len(re.findall(r"\bword\b", text_of(done.data, tmp_path))) == 4000


def test_listing_names_every_file():
    """The list of contents has every file with its size, and what the packet is of."""
    done = made("observatory-bus")
    listing = json.loads(done.files["packet.json"])
    assert {entry["name"]: entry["bytes"] for entry in listing["files"]} == {
        name: len(data) for name, data in done.files.items() if name != "packet.json"
    }
    assert (listing["verdict"], listing["paper"]) == ("clean", "a4")


def test_every_record_says_its_format_and_its_kind():
    """A program sees first what it reads, in each file of data; nothing of a table has a mark with an apostrophe."""
    files = made("observatory-bus").files
    kinds = {name: json.loads(data) for name, data in files.items() if name.startswith("data/")}
    assert {one["kind"] for one in kinds.values()} == {
        "chart", "check", "readings", "harness", "fault-guide", "record"
    }  # fmt: skip
    assert {one["format"] for one in kinds.values()} == {1}
    tables = [data.decode() for name, data in files.items() if name.endswith(".csv")]
    assert [line for text in tables for line in text.splitlines() if re.search(r"(^|,)'-", line)] == []


# --- fault guide ---


def plain(text: str) -> str:
    """A text without any white space: a line of a page may end anywhere."""
    return re.sub(r"\s+", "", text)


@pytest.mark.parametrize(("name", "paper"), RIGS)
def test_the_fault_guide_prints_every_record(name, paper, tmp_path):
    """Each symptom, check, reading and suspect of the guide stands in the PDF, in the words of its record."""
    guides = json.loads(made(name, paper).files["data/fault-guide.json"])["guides"]
    text = plain(text_of(made(name, paper).files["packet.pdf"], tmp_path))
    assert [guide["trailer"] for guide in guides] == list(held(name).trailers)
    said = set()
    for entry in (entry for guide in guides for entry in guide["entries"]):
        assert entry["steps"] or entry["left"]
        said |= {entry["symptom"], *entry["left"], *(picture for _, picture in entry["pictures"])}
        for step in entry["steps"]:
            branches = [(shows, *suspects) for shows, suspects in step["branches"]]
            # A step's words are parted from its neighbour's by a column's end at most, never inside.
            said |= {step["words"], step["expect"], *(shows for shows, *_ in branches)}
    assert len(said) > 100
    assert [one for one in said if plain(one) not in text] == []


@pytest.mark.parametrize(("name", "paper"), RIGS)
def test_the_fault_guide_is_short(name, paper, tmp_path):
    """No trailer's guide takes more than eight pages."""
    text = text_of(made(name, paper).files["packet.pdf"], tmp_path)
    pages = [re.search(r"Fault guide: (.+)\n", page) for page in text.split("\f")]
    counts = Counter(found[1] for found in pages[1:] if found)
    assert set(counts) == set(held(name).trailers)
    assert max(counts.values()) <= 8


def step_of(words: str, expect: str, *branches: tuple[str, tuple[str, ...]], access: str = "connector") -> GuideStep:
    """A check with what it may show."""
    return GuideStep(
        words=words, access=access, setting="brake", target="X2:5 box", well="13.2 V", expect=expect, branches=branches
    )


def entry_of(symptom: str, picture: str, steps: tuple[GuideStep, ...], *left: str, danger: str = "") -> GuideEntry:
    """A symptom with its checks."""
    return GuideEntry(
        symptom=symptom, controls="brake", pictures=(("brake", picture),), shown=(), suspects=(), steps=steps,
        left=left, danger=danger,
    )  # fmt: skip


TAIL = (step_of("Measure A.", "about 0.0 V", ("about 13 V", ("wire W1",))), step_of("Measure B.", "0.1 V"))
LOOK = step_of("Switch on: brake.", "stop: dark", ("stop: dim", ("wire W9",)), ("odd", ("wire W8",)), access="lamps")
ENTRIES = (
    entry_of("brake: stop dark", "stop: dark", TAIL, "wire W2", "others", danger="no brakes; no brakes"),
    entry_of("brake: tail dark", "tail: dark", (LOOK, *TAIL), "wire W2", "others"),
    entry_of("brake: stop dim", "stop: dim", TAIL, "wire W3"),
    entry_of("brake: one dark", "one: dark", (), "wire W4"),
)


def test_lists_share_their_ends_and_lead_to_each_other():
    """A list goes on in an earlier one with the same checks and the same suspects; a look leads to its own list."""
    made_lists = guide_lists(replace(GUIDE, entries=ENTRIES))
    first, second, third, fourth = made_lists.lists
    assert (first.then, second.then, third.then, fourth.then) == (None, GuidePlace(1), None, None)
    assert [len(one.checks) for one in made_lists.lists] == [2, 1, 2, 0]
    assert [(one.words, one.to, one.suspects) for one in second.checks[0].shown] == [
        ("stop: dark", GuidePlace(1), ()), ("stop: dim", GuidePlace(3), ()), ("odd", None, ("wire W8",)),
    ]  # fmt: skip
    assert [(one.to, one.suspects) for one in first.checks[0].shown] == [(GuidePlace(1, 2), ()), (None, ("wire W1",))]
    assert [(one.to, one.suspects) for one in first.checks[1].shown] == [(None, ("wire W2", "others"))]
    assert (first.danger, fourth.left) == ("no brakes", ("wire W4",))
    assert made_lists.seen == (("brake", (("stop: dark", 1), ("tail: dark", 2), ("stop: dim", 3), ("one: dark", 4))),)
    assert first.checks[0].in_order == "13.2 V"
    assert second.checks[0].words == "Switch on: brake. Look at the lamps."


def test_fewer_lists_lead_to_none_that_is_missing():
    """Cut to the likeliest symptoms, a look that led to a list left out names the suspects instead."""
    kept = guide_lists(replace(GUIDE, entries=ENTRIES), most=2)
    assert [(one.to, one.suspects) for one in kept.lists[1].checks[0].shown][1] == (None, ("wire W9",))
    assert len(kept.lists) == 2


def test_hostile_words_of_a_guide_are_printed_as_they_are(tmp_path):
    """Markup in a symptom, a check or a suspect stands on paper; a check of a thousand words still fits."""
    steps = (step_of(MARKUP, FORMULA, (TURNED, (MARKUP, "word " * 1000))),)
    guide = replace(GUIDE, entries=(entry_of(MARKUP, MARKUP, steps, FAR, danger=MARKUP),), cautions=(MARKUP,))
    found = faults.guides(replace(held("observatory-bus"), guides=(guide,)))
    text = text_of(compile_pdf(INFO, found).data, tmp_path)
    assert plain(text).count(plain(MARKUP[:44])) >= 5
    assert plain(FORMULA) in plain(text)
    assert text.count("word") == 1000
    assert "\u202e" not in text


# --- what was measured ---


def test_the_record_beside_the_rig_is_printed(tmp_path):
    """A day's readings stand in the packet with their verdicts, those outside their range first; two are not lost."""
    path = tmp_path / "my.toml"
    path.write_text(rig(), "utf-8")
    loaded = steps.load(path)
    rows = steps.sheet_rows(loaded)
    battery = next(row for row in rows if row.reading.part == "-G1")
    entries = [Entry(battery.ident, 12.5, "V"), Entry(rows[0].ident, 0.0, "V")]
    record = steps.judge(loaded, rows, entries, dt.date(2026, 5, 6), "A. Warden", "a meter")
    steps.record_path(path, record.date).write_text(record_toml(record), "utf-8")

    (section,) = as_built(contents(loaded, guide=False))
    table = section.data()["blocks"][-1]
    assert section.title == "As built: readings of 2026-05-06"
    assert section.data()["blocks"][0]["text"].replace("\u00a0", " ") == (
        "2 values read by A. Warden, with a meter; 1 outside their range."
    )
    assert [group["name"] for group in table["groups"]] == ["Outside their range", "The others"]
    low = [cell["text"].replace("\u00a0", " ") for cell in table["groups"][0]["rows"][0]["cells"]]
    assert (low[0], low[3], low[5], low[7]) == (battery.ident, "G1", "12.5 V", "low")


def test_a_record_of_another_revision_says_so(tmp_path):
    """Readings that were judged by an older rig file are printed with its digest and the words to measure again."""
    path = tmp_path / "my.toml"
    path.write_text(rig(), "utf-8")
    loaded = steps.load(path)
    record = steps.judge(loaded, steps.sheet_rows(loaded), [], dt.date(2026, 5, 6))
    steps.record_path(path, record.date).write_text(record_toml(replace(record, digest="0" * 12)), "utf-8")

    (section,) = as_built(contents(loaded, guide=False))
    assert "digest 000000000000: measure again" in section.data()["blocks"][1]["text"]
