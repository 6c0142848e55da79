"""What changed between two revisions: told once, told rightly, and not confused by numbers that only moved."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from tests import steps
from wiregen.chart.paper import chart_paper
from wiregen.model.finding import Finding
from wiregen.paper.safe_text import display_width
from wiregen.paper.terminal import terminal_text
from wiregen.questions.diff.changes import Side, compare
from wiregen.questions.diff.marked import marked
from wiregen.questions.diff.paper import changes_paper
from wiregen.questions.diff.record import Difference, Differences

DEMO = Path(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"
TEXT = DEMO.read_text("utf-8")


def changes_text(changes: Differences, width: int = 80) -> str:
    return terminal_text(changes_paper(changes), width)


@cache
def side(text: str) -> Side:
    """Return a rig text with its chart, its circuits and its report; each is worked out once."""
    loaded = steps.load_text(text)
    built = steps.build(loaded)
    return Side(chart=steps.chart(loaded, built), circuits=built.circuits, report=steps.check(loaded))


def changed(text: str, old: str = TEXT) -> Differences:
    """Return what changed from one rig text to another."""
    return compare(side(old), side(text))


def replaced(*pairs: tuple[str, str]) -> str:
    """Return the demo's rig file with some texts replaced once each."""
    text = TEXT
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def told(changes: Differences, *subjects: str) -> list[tuple[str, str, str, tuple[tuple[str, str, str], ...]]]:
    """Return (kind, name, words, details) of the changes on some subjects."""
    return [
        (one.kind, one.name, one.words, tuple((d.what, d.before, d.after) for d in one.details))
        for one in changes.changes
        if one.subject in subjects
    ]


def test_a_rig_and_itself_differ_in_nothing() -> None:
    """The same file, and the same file with other comments and blank lines, are no change."""
    assert changed(TEXT).changes == ()
    assert changed("# a remark\n\n" + TEXT).changes == ()


def test_a_size_that_changed_is_told_for_each_conductor_of_the_run() -> None:
    """One run of the file, two conductors of the harness."""
    found = changed(
        replaced(('to = "chassis"\nlength = "1 m"\nsize = "12 AWG"', 'to = "chassis"\nlength = "1 m"\nsize = "10 AWG"'))
    )
    assert [entry[3] for entry in told(found, "conductor")] == [(("size", "12 AWG", "10 AWG"),)] * 2
    assert {entry[0] for entry in told(found, "conductor")} == {"changed"}
    assert told(found, "contact", "fuse", "channel", "lamp", "supply") == []


def test_a_channel_put_in_front_renumbers_and_changes_nothing_else() -> None:
    """One more channel shifts the numbers of relays, fuses and conductors behind it; only the new one is told."""
    more = (
        '[[vehicle.tap]]\nname = "rev"\nlive = "reverse"\nsource = "other"\nfuse = "5 A"\n\n'
        '[[adapter.channel]]\ninput = "rev"\noutput = "reverse"\nfuse = "5 A"\nrating = "20 A"\n\n[[adapter.channel]]'
    )
    found = changed(TEXT.replace("[[adapter.channel]]", more, 1))
    assert {one.kind for one in found.changes if one.subject in ("conductor", "fuse", "channel")} == {"added"}
    assert told(found, "lamp", "supply") == []
    assert [entry[1] for entry in told(found, "channel")] == ["-K1", "-K1:30-87"]
    assert [entry[:2] for entry in told(found, "contact")] == [("changed", "tap rev → X2:7")]


def test_fuse_and_lamp_are_told_with_both_values() -> None:
    """Before and after stand beside each other, in the chart's words."""
    found = changed(replaced(('fuse = "10 A"', 'fuse = "7.5 A"'), ('type = "led-tail-12v"', 'type = "led-marker-12v"')))
    assert [entry[3] for entry in told(found, "fuse")] == [(("rating", "10 A", "7.5 A"),)]
    (lamp,) = told(found, "lamp")
    assert lamp[0] == "changed"
    assert ("title", "2 × 12 V LED tail lamp", "2 × 12 V LED marker or clearance lamp") in lamp[3]


def test_the_pipeline_compares_two_rigs() -> None:
    """The Python interface gives the same as the comparison of its parts."""
    other = TEXT.replace("count = 7", "count = 8", 1)
    old, new = steps.load_text(TEXT), steps.load_text(other)
    changes = steps.diff(old, new)
    assert changes == changed(other)
    assert steps.marked_chart(new, changes) == marked(side(other).chart, changes)


def test_forth_and_back_are_mirror_images() -> None:
    """What one direction calls added the other calls removed; changed values swap."""
    other = replaced(('fuse = "10 A"', 'fuse = "7.5 A"'), ("count = 7", "count = 8"))
    mirror = {"added": "removed", "removed": "added", "changed": "changed"}

    def key(one: Difference, *, turned: bool) -> tuple[object, ...]:
        details = tuple((d.what, d.after, d.before) if turned else (d.what, d.before, d.after) for d in one.details)
        return one.subject, mirror[one.kind] if turned else one.kind, one.name, details

    forth = sorted(key(one, turned=False) for one in changed(other).changes)
    back = sorted(key(one, turned=True) for one in changed(TEXT, other).changes)
    assert forth == back
    assert forth


def test_findings_that_came_and_went_are_told() -> None:
    """Too small a fuse raises a finding; taking it back removes it, and the verdict says so."""
    worse = replaced(('fuse = "25 A"', 'fuse = "15 A"'))
    came, went = changed(worse), changed(TEXT, worse)
    assert (came.old.verdict, came.new.verdict) == ("clean", "findings")
    assert ("added", "fuse-load") in [entry[:2] for entry in told(came, "finding")]
    assert ("removed", "fuse-load") in [entry[:2] for entry in told(went, "finding")]
    assert "no errors or warnings; now it finds errors or warnings" in " ".join(changes_text(came).split())


def test_lengths_are_told_in_metres_and_feet() -> None:
    """By hand: 20 ft are 6.096 m, 30 ft 9.144 m; a rig in either units reads its own."""
    run = 'from = "socket"\nto = "adapter"\nlength = "{}"'
    old, new = (replaced((run.format("1.5 m"), run.format(length))) for length in ("20 ft", "30 ft"))
    details = {detail for entry in told(changed(new, old), "conductor") for detail in entry[3]}
    assert details == {("length", "6.1 m / 20 ft", "9.14 m / 30 ft")}


def lamp(message: str, value: float) -> Finding:
    """A finding of the lamp voltage rule, which tells of a loss or of a voltage."""
    return Finding(
        rule="lamp-voltage",
        severity="warning",
        where="-E1",
        message=message,
        advice="",
        source="ASSUMED",
        value=value,
        unit="V",
    )


@pytest.mark.parametrize(
    ("message", "value", "detail"),
    [
        ("loses 1.3 V", 1.3, ("value", "1.24 V", "1.3 V")),
        ("gets 11.8 V", 11.8, ("message", "loses 1.24 V", "gets 11.8 V")),
    ],
)
def test_a_loss_is_not_compared_with_a_voltage(message: str, value: float, detail: tuple[str, str, str]) -> None:
    """Where a rule says something else than before, its words are told; where only the number moved, the number."""
    one, other = side(TEXT), side(TEXT)
    old = replace(one, report=replace(one.report, findings=(lamp("loses 1.24 V", 1.24),)))
    new = replace(other, report=replace(other.report, findings=(lamp(message, value),)))
    assert [entry[3] for entry in told(compare(old, new), "finding")] == [(detail,)]


@pytest.mark.parametrize("width", [60, 80, 100])
def test_text_keeps_to_its_width_and_cleans_words(width: int) -> None:
    """No line is wider than asked for, and a right-to-left mark in a name is not printed."""
    text = changes_text(changed(TEXT.replace('"light trailer"', '"\\u202elight trailer"')), width)
    assert max(display_width(line) for line in text.splitlines()) <= width
    assert "\u202e" not in text


def test_marked_chart_says_on_each_row_what_changed() -> None:
    """The rows of changed conductors and contacts say so, the others do not, and what went stands in front."""
    run = 'from = "socket"\nto = "adapter"\nlength = "{} m"'
    other = replaced(('fuse = "10 A"', 'fuse = "7.5 A"'), (run.format("1.5"), run.format("2")))
    plain = side(other).chart
    chart = marked(plain, changed(other))
    longer = {row.ref for row in plain.conductors if row.length_m == 2 and "X1" in row.start + row.end}
    assert len(longer) == 5
    assert {row.ref: row.change for row in chart.conductors if row.change} == dict.fromkeys(
        longer, "CHANGED: length 1.5 m / 4.92 ft → 2 m / 6.56 ft"
    )
    noted = [row for row, was in zip(chart.pins, plain.pins, strict=True) if row != was]
    assert {row.circuit for row in noted} == {"tail"}
    assert all(row.note.startswith("CHANGED: fuse 10 A → 7.5 A") for row in noted)
    assert chart.cautions[0].startswith("Compared with revision A")
    assert chart.cautions[1:] == plain.cautions
    written = terminal_text(chart_paper(chart), 1000).replace("\N{NO-BREAK SPACE}", " ")
    assert written.count("CHANGED: length 1.5 m / 4.92 ft → 2 m / 6.56 ft") == 5
