"""What was measured is judged against the range, kept dated beside the rig file, and read back as it was written."""

import csv
import datetime as dt
import io
from functools import cache
from pathlib import Path

import pytest

from tests import steps
from tests.command import ROOT, wiregen
from wiregen.errors import InputError
from wiregen.paper.safe_text import display_width
from wiregen.paper.terminal import terminal_text
from wiregen.questions.record.as_built import Entry, NumberedReading, number_in
from wiregen.questions.record.files import read_record
from wiregen.questions.record.paper import asked_text, form_csv, record_toml, records_paper
from wiregen.rig.loaded import LoadedRig

DEMO = ROOT / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"
DAY = dt.date(2026, 5, 4)


@cache
def demo() -> tuple[LoadedRig, tuple[NumberedReading, ...]]:
    """Return the example rig and the rows of its test sheet."""
    loaded = steps.load(DEMO)
    return loaded, steps.sheet_rows(loaded)


def row_of(part: str, state: str, side: str = "adapter") -> NumberedReading:
    """Return one row of the test sheet."""
    return next(
        row
        for row in demo()[1]
        if row.reading.part == part and row.state.state == state and row.reading.side in (side, "")
    )


def judged(value: float, row: NumberedReading, unit: str = "V") -> str:
    """Return the verdict on one value."""
    record = steps.judge(*demo(), [Entry(row.ident, value, unit)], DAY)  # type: ignore[arg-type]
    return record.taken[0].judged


def test_the_question_names_leads_in_words() -> None:
    """A contact is asked for by its mark and its side, a lamp by its two ends, and the ends of the range are told."""
    told = asked_text(row_of("-X2:5", "brake"), "V")
    assert "red lead X2:5 (adapter side), black lead X2:1; should read " in told
    assert "red lead X1:D (adapter side), black lead chassis; " in asked_text(row_of("-X1:D", "brake"), "V")
    assert "red lead E3:1, black lead E3:2; " in asked_text(row_of("-E3", "brake"), "V")
    assert told.rstrip().endswith("V:")


def test_verdicts_stand_around_the_range() -> None:
    """Inside the range and the meter's own error it is as expected; beyond it low or high."""
    row = row_of("-X2:5", "brake")
    span = row.reading.volts_v
    assert span.lowest is not None
    assert span.highest is not None
    assert 12 < span.lowest < span.highest < 14
    for value, wanted in (
        (span.lowest, "as expected"),
        (span.highest, "as expected"),
        (span.lowest - 0.01 * span.lowest - 0.049, "as expected"),
        (span.lowest - 0.01 * span.lowest - 0.051, "low"),
        (span.highest + 0.01 * span.highest + 0.051, "high"),
        (0.0, "low"),
    ):
        assert judged(value, row) == wanted


def test_amps_are_judged_whichever_way_the_clamp_lies() -> None:
    """A clamp turned round shows the same current with a minus."""
    row = row_of("-X2:5", "brake")
    amps = row.reading.amps_a.nominal or 0
    assert amps > 1
    assert [judged(value, row, "A") for value in (amps, -amps, 0.0, 2 * amps)] == ["as expected"] * 2 + ["low", "high"]


def test_every_reading_of_the_nominal_circuit_is_as_expected() -> None:
    """What the tool expects at the running voltage is itself inside every range."""
    loaded, rows = demo()
    entries = [
        Entry(row.ident, row.reading.volts_v.nominal, "V") for row in rows if row.reading.volts_v.nominal is not None
    ]
    record = steps.judge(loaded, rows, entries, DAY)
    assert len(record.taken) == len(entries) > 100
    assert record.amiss == ()


def test_form_goes_out_and_comes_back(tmp_path: Path) -> None:
    """A form filled in by a spreadsheet of any country gives the values, under the numbers of the test sheet."""
    loaded, rows = demo()
    blank = form_csv(rows, loaded.digest)
    lines = list(csv.DictReader(io.StringIO(blank.removeprefix("\ufeff"))))
    assert [line["number"] for line in lines] == [f"S{row.ident}" for row in rows]
    assert all(line["read V"] == line["read A"] == "" for line in lines)
    # A spreadsheet reads neither a formula nor a number in it, and no mark needs an apostrophe.
    assert not any(cell.startswith("'") for line in lines for cell in line.values())
    lines[3]["read V"], lines[5]["read V"], lines[5]["read A"] = "12,6", " 0.02 V", "-1.5"
    for delimiter, mark in ((",", ""), (";", "\ufeff")):
        filled = tmp_path / f"filled{ord(delimiter)}.csv"
        with filled.open("w", encoding="utf-8", newline="") as file:
            file.write(mark)
            writer = csv.DictWriter(file, list(lines[0]), delimiter=delimiter)
            writer.writeheader()
            writer.writerows(lines)
        assert steps.read_form(filled, loaded) == (
            Entry(rows[3].ident, 12.6, "V"),
            Entry(rows[5].ident, 0.02, "V"),
            Entry(rows[5].ident, -1.5, "A"),
        )


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("", "the first line wants the columns"),
        ("number,file code,read V\n1.1,x,2\n", "the columns read A"),
        ("number,file code,read V,read A\n1.1,{digest},twelve,\n", "'twelve' under 'read V' is no number"),
        ("number,file code,read V,read A\n1.1,0123456789ab,12,\n", "for another revision of the rig"),
        ("number,file code,read V,read A\n1.1,{digest},1e9,\n", "'1e9' under 'read V' is no number"),
        ("number,file code,read V,read A\n1.1,{digest},,\n", "nothing is filled in"),
    ],
)
def test_a_form_that_does_not_fit_is_refused(text: str, wanted: str, tmp_path: Path) -> None:
    """With the file, the line and what is wanted."""
    path = tmp_path / "form.csv"
    path.write_text(text.format(digest=demo()[0].digest), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        steps.read_form(path, demo()[0])
    assert wanted in str(caught.value)
    assert str(path) in str(caught.value)


def test_numbers_that_are_none_and_numbers_given_twice_are_refused() -> None:
    """The nearest number is told."""
    loaded, rows = demo()
    for entries, wanted in (
        ([Entry("1.999", 1, "V")], "'1.999' is no number of the test sheet"),
        ([Entry("1.1", 1, "V"), Entry("1.1", 2, "V")], "number 1.1 is given twice in V"),
    ):
        with pytest.raises(InputError) as caught:
            steps.judge(loaded, rows, entries, DAY)
        assert wanted in str(caught.value)


def test_record_reads_back_as_it_was_written(tmp_path: Path) -> None:
    """Every value, word and verdict survives, hostile ones as text."""
    loaded, rows = demo()
    entries = [Entry(row.ident, 12.345, "V") for row in rows[:20]]
    record = steps.judge(loaded, rows, entries, DAY, 'A. "Warden" \\ ]]', "meter\n[[reading]]")
    path = tmp_path / "x.as-built-2026-05-04.toml"
    path.write_text(record_toml(record), encoding="utf-8")
    again = read_record(path)
    assert again.by == record.by
    assert again.meter == "meter [[reading]]"
    assert [(one.ident, one.value, one.judged, one.state) for one in again.taken] == [
        (one.ident, one.value, one.judged, one.state) for one in record.taken
    ]
    for one, was in zip(again.taken, record.taken, strict=True):
        assert one.lowest == pytest.approx(was.lowest, abs=1e-6)
        assert one.highest == pytest.approx(was.highest, abs=1e-6)


def test_the_record_of_a_day_grows_and_never_mixes_revisions() -> None:
    """A value read again replaces the earlier one; one for another revision is refused."""
    loaded, rows = demo()
    first = steps.judge(loaded, rows, [Entry("1.2", 1, "V"), Entry("1.10", 2, "V")], DAY, by="A")
    second = steps.judge(loaded, rows, [Entry("1.2", 3, "V"), Entry("1.1", 4, "V")], DAY)
    both = steps.together(first, second)
    assert [(one.ident, one.value) for one in both.taken] == [("1.1", 4), ("1.2", 3), ("1.10", 2)]
    assert both.by == "A"
    other = steps.load_text(DEMO.read_text("utf-8") + "# changed\n")
    with pytest.raises(InputError) as caught:
        steps.together(first, steps.judge(other, rows, [Entry("1.1", 4, "V")], DAY))
    assert "another revision of the rig" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "value"), [("12.6", 12.6), ("12,6 V", 12.6), ("−0,3", -0.3), ("1.2.3", None), ("nan", None)]
)
def test_numbers_as_people_type_them(text: str, value: float | None) -> None:
    """Comma or point, with its unit or without; not a number is not a reading."""
    assert number_in(text) == value


def test_the_command_asks_judges_keeps_and_lists(tmp_path: Path) -> None:
    """Typed readings are judged, kept beside the rig file, added to on the same day, and listed."""
    (tmp_path / "bus.toml").write_text(DEMO.read_text("utf-8"), encoding="utf-8")
    options = ("--state", "brake", "--trailer", "boat trailer", "--date", "2026-05-04")
    first = wiregen("record", "bus.toml", *options, "--by", "A. Warden", cwd=tmp_path, typed="27.7\nhello\n0,01\nq\n")
    assert first.returncode == 0, first.stderr
    assert "'hello' is no number" in first.stderr
    kept = tmp_path / "bus.as-built-2026-05-04.toml"
    assert len(read_record(kept).taken) == 2
    second = wiregen("record", "bus.toml", *options, cwd=tmp_path, typed="\n\n\n\n\n\n\n0.0\nq\n")
    assert len(read_record(kept).taken) == 3
    assert read_record(kept).by == "A. Warden"
    listed = wiregen("record", "bus.toml", "--list", cwd=tmp_path)
    assert listed.returncode == second.returncode
    assert "A. Warden" in listed.stdout
    assert wiregen("record", "bus.toml", *options, cwd=tmp_path, typed="").returncode == 2
    assert wiregen("record", "bus.toml", "--state", "braking", cwd=tmp_path).returncode == 2
    assert wiregen("record", "bus.toml", "--date", "4 May", cwd=tmp_path, typed="1\n").returncode == 2
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_words_keep_to_the_width() -> None:
    """Every line of the verdicts fits a terminal of 80 columns, and what is amiss stands first."""
    loaded, rows = demo()
    record = steps.judge(loaded, rows, [Entry(row.ident, 5.0, "V") for row in rows], DAY, by="x" * 150)
    text = terminal_text(records_paper([record], record.title, full=False))
    assert max(display_width(line) for line in text.splitlines()) <= 80
    assert sum(line.startswith("! ") for line in text.splitlines()) == len(record.amiss) > 50
    assert (
        text.index(" low, ") < text.index("OUTSIDE") if "OUTSIDE" in text else text.index(" low, ") < text.index("! ")
    )
