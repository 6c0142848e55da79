"""The verdict on a box as a paper: what fails first, then what to ask the seller, and what passes as a count."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from wiregen.catalogue.defaults import default
from wiregen.paper.blocks import (
    LAST_WORD,
    Block,
    Bullets,
    Cell,
    Column,
    Head,
    Heading,
    Paper,
    Para,
    Row,
    Table,
    grouped,
    table,
)
from wiregen.paper.json_text import plain
from wiregen.paper.words import counted
from wiregen.quantity import show, whole_down, whole_up
from wiregen.questions.box.record import BoxLine, BoxReport, Label, Verdict

_HOW: Final = (
    "Currents are of the rig file's lamps, worst of every setting with the battery low, running and charging, cold and "
    "hot."
)
_CLOSING: Final = f"A label is what a seller says. {LAST_WORD}"
_WORDS: Final[dict[Verdict, str]] = {
    "passes with headroom": "PASS",
    "passes": "TIGHT",
    "not judged": "UNKNOWN",
    "fails": "FAIL",
}
#: What the label does not say, as one asks for it.
_LACKING: Final = {
    "channels": "number of outputs",
    "each": "amps of one output",
    "total": "amps in all",
    "voltage": "voltage",
    "load": "kind of load",
    "duty": "for how long",
    "up_to": "temperature",
}


def box_paper(report: BoxReport, *, full: bool = True) -> Paper:
    """Return the verdict: every line with how it was counted, or what does not pass and a count where not ``full``."""
    blocks: list[Block] = [Para(verdict_text(report), bold=True)]
    blocks += _whole(report) if full else _brief(report)
    blocks += [Heading("Ask the seller"), Bullets(report.questions, numbered=True)]
    blocks += [Heading("Before you buy"), Bullets(report.notes)] if report.notes else []
    return Paper(
        kind="box",
        name="Box",
        head=Head(title=report.title, digest=report.digest),
        facts=(("Label", label_text(report.label)),),
        blocks=tuple(blocks),
        closing=_CLOSING,
        data=box_data(report),
    )


def label_text(label: Label) -> str:
    """Return what the label says, in the order labels say it."""
    parts = []
    if label.channels is not None:
        parts.append(counted(label.channels, "output"))
    for value, unit, word in (
        (label.each_a, "A", "each"),
        (label.total_a, "A", "in all"),
        (label.voltage_v, "V", ""),
        (label.make_a, "A", "make"),
        (label.peak_a, "A", "peak"),
    ):
        if value is not None:
            parts.append(f"{show(value, unit)} {word}".strip())
    parts += [f"{label.load} load"] if label.load else []
    parts += [f"{label.duty} rating"] if label.duty else []
    parts += [f"up to {label.up_to_c:g} °C"] if label.up_to_c is not None else []
    return ", ".join(parts) or "nothing"


def verdict_text(report: BoxReport) -> str:
    """Return the verdict in one or two sentences, with what good answers would change."""
    bad = [line for line in report.lines if line.verdict == report.verdict]
    of = f"{len(bad)} of {counted(len(report.lines), 'check')}"
    if report.verdict == "passes with headroom":
        return f"PASSES: {counted(len(report.lines), 'check')}, with room to spare."
    if report.verdict == "passes":
        return f"PASSES, BUT TIGHT: {of} {'has' if len(bad) == 1 else 'have'} less than {_room():.0%} to spare."
    unsaid = all(line.rests_on for line in bad)
    words = f"FAILS: {of}" if report.verdict == "fails" else f"UNKNOWN: {of}"
    words += f"{', all on what the label does not say' if unsaid else ''}."
    if report.at_best in ("passes", "passes with headroom"):
        return f"{words} Good answers could make it pass: do not buy before you have them."
    if report.at_best == "not judged":
        return f"{words} The label says too little to judge by."
    return f"{words} No answer of the seller makes it pass." if any(line.rests_on for line in report.lines) else words


def _room() -> float:
    return 1 - default("fuse_continuous_factor").value


# --- what matters first ---


def _brief(report: BoxReport) -> Iterator[Block]:
    for verdict in ("fails", "not judged", "passes"):
        lines = [line for line in report.lines if line.verdict == verdict]
        if lines:
            trailers = {line.trailer for line in lines}
            yield Heading(f"{_WORDS[verdict]}, {trailers.pop()}" if len(trailers) == 1 else _WORDS[verdict])
            yield _short_table(lines, several=bool(trailers))
    passed = [line for line in report.lines if line.verdict == "passes with headroom"]
    if passed:
        spare = [line for line in passed if line.margin is not None and line.unit]
        least = min(spare, key=lambda line: line.margin or 0.0, default=None)
        words = f" Least spare: {least.what}, {least.trailer}: {_left(least)}." if least else ""
        yield Para(f"PASS: {counted(len(passed), 'check')}.{words} All of them: box --full.")


def _short_table(lines: Sequence[BoxLine], *, several: bool) -> Table:
    columns = (Column(), Column("needed", right=True), Column("allowed", right=True), Column("the label lacks", 1.0))
    rows = (
        (
            f"{line.what}, {line.trailer}" if several else line.what,
            _amount(line.needed, line),
            _amount(line.allowed, line),
            ", ".join(_LACKING[key] for key in line.rests_on),
        )
        for line in lines
    )
    return table(columns, rows)


# --- all of it ---


def _whole(report: BoxReport) -> Iterator[Block]:
    columns = (
        Column("Verdict"),
        Column("What", 1.6),
        Column("Needed", right=True),
        Column("Allowed", right=True),
        Column("Left", spare=1),
        Column("Because", 2.0, spare=7),
        Column("When", 1.2, spare=8),
        Column("The label does not say", 1.0, spare=9),
    )
    yield Table(columns, grouped((line.trailer, _row(line)) for line in report.lines), "Every check")
    yield Para(_legend())
    if report.room:
        yield Heading("What each output takes more")
        heads = (Column("Trailer"), Column("Output"), Column("More", right=True), Column("That is", 1.0))
        rows = ((room.trailer, room.channel, show(room.spare_a, "A"), _more(room.lamps)) for room in report.room)
        yield table(heads, rows)
    yield Para(_HOW)


def _row(line: BoxLine) -> Row:
    texts = (
        _WORDS[line.verdict],
        line.what,
        _amount(line.needed, line),
        _amount(line.allowed, line),
        _left(line),
        line.because,
        line.state,
        ", ".join(_LACKING[key] for key in line.rests_on),
    )
    return Row(tuple(Cell(text, bold=not k) for k, text in enumerate(texts)), marked=line.verdict == "fails")


def _amount(value: float | None, line: BoxLine) -> str:
    if value is None:
        return "not known"
    return show(value, line.unit) if line.unit else f"{value:g}"


def _left(line: BoxLine) -> str:
    """Return what is left over of what is allowed, rounded down, or by how much it is passed, rounded up."""
    if line.margin is None or not line.unit:
        return ""
    if line.margin >= 0:
        return f"{whole_down(100 * line.margin)} % left"
    if line.margin > -1:
        return f"{whole_up(-100 * line.margin)} % over"
    return f"{1 - line.margin:.1f} times"


def _legend() -> str:
    return (
        f"PASS: at least {_room():.0%} of what is allowed is left. TIGHT: less is left, but it is enough. UNKNOWN: the "
        "label says too little to tell. FAIL: more is needed than is allowed."
    )


def _more(lamps: Sequence[tuple[str, int]]) -> str:
    # What is spare in steady current is no room where the contact already closes on too much.
    if not any(count for _, count in lamps):
        return f"none of these: {', '.join(word for word, _ in lamps)}"
    return ", or ".join(f"{count} × {word}" for word, count in lamps)


def box_data(report: BoxReport) -> dict[str, Any]:
    """Return the verdict as plain data: units in the keys or beside the value."""
    data: dict[str, Any] = plain(report)
    for room in data["room"]:
        room["lamps"] = dict(room["lamps"])
    return data
