"""The verdict on a box for a terminal and for machines."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any, Final

from wiregen.catalogue.defaults import default
from wiregen.paper.safe_text import clean
from wiregen.paper.words import wrap
from wiregen.quantity import show
from wiregen.questions.box.record import BoxLine, BoxReport, Label, Verdict

CAUTION: Final = (
    "Advice only: a label is what a seller says. Currents are of the rig file's lamps, worst of every state with the "
    "battery low, running and charging, cold and hot. Brakes, fuses, batteries and lamps on the road are safety "
    "matters: local codes and licensed people have the last word."
)
_HEADINGS: Final[dict[Verdict, str]] = {
    "passes with headroom": "ROOM",
    "passes": "PASS",
    "not judged": "????",
    "fails": "FAIL",
}


def box_text(report: BoxReport, width: int = 80) -> str:
    """Return the verdict as plain text, no line wider than ``width`` columns."""
    lines = wrap(f"Box against {clean(report.title)}  (digest {report.digest})", width)
    lines += [*wrap(f"Label: {label_text(report.label)}", width, "       "), ""]
    for trailer in dict.fromkeys(line.trailer for line in report.lines):
        lines.append(clean(trailer).upper())
        for line in (line for line in report.lines if line.trailer == trailer):
            lines += _line(line, width)
        lines += _room(report, trailer, width)
        lines.append("")
    lines += [*wrap(_legend(), width), ""]
    lines += ["ASK THE SELLER", *_list(report.questions, width), ""]
    if report.notes:
        lines += ["KNOW", *_list(report.notes, width), ""]
    lines += [*wrap(verdict_text(report), width), *wrap(CAUTION, width)]
    return "".join(line.rstrip() + "\n" for line in lines)


def label_text(label: Label) -> str:
    """Return what the label says, in the order labels say it."""
    parts = []
    if label.channels is not None:
        parts.append(f"{label.channels} output{'' if label.channels == 1 else 's'}")
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


def _line(line: BoxLine, width: int) -> Iterator[str]:
    unit = line.unit
    needed = show(line.needed, unit) if unit else f"{line.needed:g}"
    allowed = "not known" if line.allowed is None else show(line.allowed, unit) if unit else f"{line.allowed:g}"
    words = f"{line.what}: {needed} needed, {allowed} allowed{_margin(line)} ({line.because})"
    yield from wrap(f"  {_HEADINGS[line.verdict]}  {clean(words)}", width, "        ")
    if line.verdict in ("fails", "not judged"):
        if line.state:
            yield from wrap(f"        when: {line.state}", width, "        ")
        if line.rests_on:
            asked = ", ".join(key.replace("_", " ") for key in line.rests_on)
            yield from wrap(f"        rests on what the label does not say: {asked}", width, "        ")


def _margin(line: BoxLine) -> str:
    """Return what is left over of what is allowed, or by how much it is passed."""
    if line.margin is None or not line.unit:
        return ""
    if line.margin >= 0:
        return f", {math.floor(100 * line.margin)}% left"
    if line.margin > -1:
        return f", {math.ceil(-100 * line.margin)}% too much"
    return f", {1 - line.margin:.1f} times what is allowed"


def _legend() -> str:
    room = 1 - default("fuse_continuous_factor").value
    return (
        f"ROOM: at least {room:.0%} of what is allowed is left. PASS: less is left, but it is enough. ????: the label "
        "says too little to tell. FAIL: more is needed than is allowed."
    )


def _room(report: BoxReport, trailer: str, width: int) -> Iterator[str]:
    for room in (room for room in report.room if room.trailer == trailer):
        lamps = ", or ".join(f"{count} × {word}" for word, count in room.lamps)
        words = f"{room.channel} may take {show(room.spare_a, 'A')} more: {lamps}"
        if not any(count for _, count in room.lamps):
            # What is spare in steady current is no room where the contact already closes on too much.
            words = f"{room.channel} takes no more of these: {', '.join(word for word, _ in room.lamps)}"
        yield from wrap(f"  more  {clean(words)}", width, "        ")


def _list(texts: tuple[str, ...], width: int) -> Iterator[str]:
    for text in texts:
        yield from wrap(f"  - {clean(text)}", width, "    ")


def verdict_text(report: BoxReport) -> str:
    """Return the verdict in one sentence, with what good answers would change."""
    worst = sum(line.verdict == report.verdict for line in report.lines)
    of = f" ({worst} of {len(report.lines)} lines)" if report.verdict in ("fails", "not judged") else ""
    words = f"Verdict: {report.verdict}{of}."
    if report.verdict in ("fails", "not judged"):
        if report.at_best in ("passes", "passes with headroom"):
            words += " Good answers to the questions above could make it pass: do not buy before you have them."
        elif report.at_best == "not judged":
            words += " The label says too little to judge by."
        elif any(line.rests_on for line in report.lines):
            words += " No answer to the questions above makes it pass."
    return words


def box_data(report: BoxReport) -> dict[str, Any]:
    """Return the verdict as plain data: units in the keys or beside the value."""
    data = asdict(report)
    for line in data["lines"]:
        for key in ("needed", "allowed", "margin"):
            line[key] = None if line[key] is None else round(line[key], 6)
    for room in data["room"]:
        room["spare_a"] = round(room["spare_a"], 6)
        room["lamps"] = dict(room["lamps"])
    return data
