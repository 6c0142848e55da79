"""What a check prints: short, the verdict first, findings by cause, and the room that is left."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests import steps
from tests.rigs import load, rig
from tests.steps import check
from wiregen.model.finding import Finding, Headroom
from wiregen.model.origin import Origin
from wiregen.model.report import Report
from wiregen.paper.safe_text import display_width
from wiregen.paper.terminal import terminal_text
from wiregen.paper.words import marks
from wiregen.questions.verdict.paper import report_paper

DEMOS = Path(__file__).parents[2] / "wiregen" / "bundle" / "demo"
LAMPS = (("21 W", 1), ("5 W", 6), ("LED stop", 0))


def text_of(report: Report, *, full: bool = False) -> str:
    return terminal_text(report_paper(report, full=full))


def demo(name: str) -> Report:
    made: Report = check(steps.load(DEMOS / f"{name}.toml"))
    return made


@pytest.mark.parametrize(("name", "most", "verdict"), [
    ("observatory-bus", 45, "CLEAR ON PAPER: 0 errors, 0 warnings, 10 notices."),
    ("bad-example", 90, "DO NOT BUILD YET: 21 errors, 8 warnings, 6 notices."),
])  # fmt: skip
def test_the_examples_stay_short(name: str, most: int, verdict: str) -> None:
    """The verdict is the second line; no line is wider than 80 columns; every rule broken is told of."""
    report = demo(name)
    lines = text_of(report).splitlines()
    assert len(lines) <= most
    assert lines[1] == verdict
    assert max(map(display_width, lines)) <= 80
    told = " ".join(" ".join(lines).split())
    worst = {one.rule: one for one in reversed(report.findings) if one.severity != "notice" or name != "bad-example"}
    assert [one.rule for one in worst.values() if marks(one.where) not in told] == []


def test_the_whole_paper_tells_every_finding_assumption_and_source() -> None:
    """Nothing is left out of it: messages, advice, settings, values."""
    report = demo("bad-example")
    text = " ".join(terminal_text(report_paper(report), 1000).split())
    wanted = {marks(words) for one in report.findings for words in (one.message, one.advice, one.state, one.rule)}
    wanted |= {words for one in report.assumptions for words in (one.text.strip(), one.why)}
    assert [words for words in wanted if words and " ".join(words.split()) not in text] == []
    for row in report.headroom:
        assert f"{row.channel} ringing trailer {row.carried_a:.2f}" in text


def finding(rule: str, severity: str, where: str, line: int) -> Finding:
    return Finding(
        rule=rule, severity=severity, where=where, message="m", advice=f"mend {where}", source="S",  # type: ignore[arg-type]
        origin=Origin("r.toml", line),
    )  # fmt: skip


def test_fire_comes_before_dark_lamps_and_structure_before_lamps() -> None:
    """By severity, then by harm; a lamp that follows from a missing input stands behind it; one rule is one entry."""
    found = (
        finding("lamp-behaviour", "error", "-E1 stop", 5),
        finding("lamp-behaviour", "error", "-E2 tail", 6),
        finding("missing-input", "error", "channel K3", 7),
        finding("conductor-current", "error", "-W1", 8),
        finding("short-limited", "warning", "-F2", 9),
    )
    text = text_of(replace(demo("bad-example"), findings=found))
    places = [text.index(words) for words in ("ERROR  W1", "ERROR  channel K3", "ERROR  E1 stop", "WARNING  F2")]
    assert places == sorted(places)
    assert "E1 stop: m; likewise E2 tail." in text
    assert next(line for line in text.splitlines() if "likewise E2" in line).endswith(" lines 5, 6")
    steps_ = text[text.index("DO THIS FIRST") : text.index("FOUND")]
    assert " 1 W1: mend -W1".replace("-W1", "W1") in steps_
    assert steps_.count("mend ") == 5


@pytest.mark.parametrize(
    ("spare_a", "lamps", "words"),
    [
        (2.63, LAMPS, "1.14 2.63 F2 fuse 5 A 1 × 21 W or 6 × 5 W"),
        (0.1, (("21 W", 0), ("5 W", 0)), "1.14 0.10 F2 fuse 5 A too little for 1 × 21 W or 5 W"),
        (-0.1, LAMPS, "1.14 -0.10 F2 fuse 5 A nothing may be added"),
    ],
)
def test_room_is_told_as_one_kind_of_lamp_or_another(
    spare_a: float, lamps: tuple[tuple[str, int], ...], words: str
) -> None:
    """Kinds that fit stand with 'or', never as a sum; kinds of which none fits are left out."""
    row = Headroom(
        channel="K1", trailer="trailer", carried_a=1.14, spare_a=spare_a, bound_by="-F2 fuse 5 A", lamps=lamps
    )
    report = replace(check(load(rig())), headroom=(row,))
    told = " ".join(terminal_text(report_paper(report), 200).split())
    assert words in told
    assert "LED stop" not in told


@pytest.mark.parametrize(
    ("spare_a", "words"),
    [(5.35, "5.3 A, F2 fuse 5 A"), (7.05, "7 A, F2"), (0.04, "0 A, F2"), (float("inf"), "no known limit")],
)
def test_what_is_spare_is_rounded_down(spare_a: float, words: str) -> None:
    """Never more than there is; what no limit is known of is not told in digits."""
    row = Headroom(channel="K1", trailer="t", carried_a=1.0, spare_a=spare_a, bound_by="-F2 fuse 5 A", lamps=LAMPS)
    assert words in text_of(replace(check(load(rig())), headroom=(row,)))


def test_an_overload_is_rounded_up_and_called_so() -> None:
    """Where nothing is spare, the worst is told."""
    rows = [
        Headroom(channel="K1", trailer="t", carried_a=1.0, spare_a=spare, bound_by="-W24", lamps=LAMPS)
        for spare in (-6.98, -0.02)
    ]
    assert "None: overloaded by 7 A, W24." in text_of(replace(check(load(rig())), headroom=tuple(rows)))
