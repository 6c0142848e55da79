"""Finding a fault, for a terminal: short and plain, for somebody who stands beside the road."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from wiregen.paper.safe_text import clean
from wiregen.paper.words import wrap
from wiregen.questions.faults.diagnosis import Check, Diagnosis, Suspect

PLACES = {
    "lamps": "look at the lamps",
    "lamp": "at the lamp",
    "connector": "at a connector",
    "vehicle": "on the vehicle",
    "adapter": "inside the adapter",
}


def diagnosis_text(found: Diagnosis, width: int = 80, *, head: bool = True) -> str:
    """Return a diagnosis: what was seen, suspects, the next check.

    Args:
        found: The diagnosis.
        width: Columns of the terminal.
        head: Whether title and cautions stand in front.
    """
    lines: list[str] = []
    if head:
        lines += head_lines(found.title, found.trailer, found.cautions, width)
        lines += _seen(found.symptoms, width)
    if not found.symptoms:
        lines += ["", "Nothing is seen yet. Begin with a look."]
        lines += check_lines(found.check, width) if found.check else []
        return "".join(line.rstrip() + "\n" for line in lines)
    lines += ["", "SUSPECTS"]
    dangers = list(dict.fromkeys(suspect.danger for suspect in found.suspects if suspect.danger))
    for suspect in found.suspects:
        lines += _suspect(suspect, dangers, width)
    if found.rest >= 0.005:
        lines += wrap(f"{_percent(found.rest)}  something else", width, " " * 8)
    for danger in dangers:
        lines += wrap(f"  ! With a suspect marked {'*' * (dangers.index(danger) + 1)}: {clean(danger)}.", width, "    ")
    lines += _verdict(found, width)
    if found.check:
        lines += check_lines(found.check, width)
    return "".join(line.rstrip() + "\n" for line in lines)


def head_lines(title: str, trailer: str, cautions: Sequence[str], width: int) -> Iterator[str]:
    """Yield title and cautions."""
    yield from wrap(f"FIND THE FAULT  {clean(title)}, with {clean(trailer)}", width)
    for caution in cautions:
        yield from wrap(f"  ! {caution}", width, "    ")


def _seen(symptoms: Sequence[str], width: int) -> Iterator[str]:
    if symptoms:
        yield ""
        yield "SEEN"
    by_head: dict[str, list[str]] = {}
    for text in symptoms:
        head, colon, tail = text.partition(": ")
        by_head.setdefault(f"{head}: " if colon else text, []).append(tail)
    for head, tails in by_head.items():
        yield from wrap(f"  {clean(head)}{', '.join(clean(tail) for tail in tails)}", width, "    ")


def _suspect(suspect: Suspect, dangers: Sequence[str], width: int) -> Iterator[str]:
    mark = " " + "*" * (dangers.index(suspect.danger) + 1) if suspect.danger else ""
    yield from wrap(f"{_percent(suspect.probability)}  {clean(suspect.words)}{mark}", width, " " * 8)
    for text in (suspect.story, suspect.note):
        if text:
            yield from wrap(f"        {clean(text)}", width, " " * 10)


def _percent(share: float) -> str:
    if share < 0.005:
        return "   <1 %"
    return f"  {min(share, 0.99):>3.0%}".replace("%", " %")


def _verdict(found: Diagnosis, width: int) -> Iterator[str]:
    first = found.suspects[0]
    if found.verdict != "ask" or found.against:
        yield ""
    if found.verdict == "unexplained":
        yield from wrap("No single fault shows all of this. Either one of these was a mistake:", width)
        yield from (line for text in found.against for line in wrap(f"  {clean(text)}", width, "    "))
        yield from _pairs(found, width)
    elif found.pairs:
        yield ""
        yield "Two faults at once that show all of this too, with their share of such pairs:"
        yield from _listed_pairs(found, width)
    if found.verdict != "unexplained" and found.against:
        yield from wrap(f"The first suspect does not show: {'; '.join(map(clean, found.against))}", width, "  ")
    if found.verdict == "found":
        yield from wrap(f"FOUND, as far as this can be known: {clean(first.words)}.", width, "  ")
        yield from wrap(
            f"  {clean(first.cure)[:1].upper()}{clean(first.cure)[1:]}. Then try every lamp again.", width, "  "
        )
    elif found.verdict == "alike":
        yield from wrap("No check here can tell the rest apart: look at them one after the other.", width)
        yield from _alike(found, width)


def _pairs(found: Diagnosis, width: int) -> Iterator[str]:
    if not found.pairs:
        yield from wrap("or there is more than one fault; no pair of single faults shows it all either.", width)
        return
    yield "or two faults at once:"
    yield from _listed_pairs(found, width)


def _listed_pairs(found: Diagnosis, width: int) -> Iterator[str]:
    for first, second, share in found.pairs:
        yield from wrap(f"{_percent(share)}  {clean(first)}, and {clean(second)}", width, " " * 8)


def _alike(found: Diagnosis, width: int) -> Iterator[str]:
    for group in found.alike:
        yield from wrap(
            "  Alike in every check: " + "; ".join(clean(found.suspects[k].words) for k in group), width, "    "
        )
    for suspect in found.suspects[:3]:
        yield from wrap(f"  {clean(suspect.words)}: {clean(suspect.cure)}", width, "    ")


def check_lines(check: Check, width: int) -> Iterator[str]:
    """Yield the next check with what it may show.

    Args:
        check: The check.
        width: Columns of the terminal.
    """
    yield ""
    yield f"NEXT CHECK ({PLACES[check.access]})"
    yield from wrap(f"  {clean(check.words)}", width, "  ")
    if check.kind in ("look", "meter"):
        yield from wrap(f"  All well: {clean(check.healthy)}.", width, "  ")
    pick = check.kind != "meter"
    for number, outcome in enumerate(check.outcomes, start=1):
        mark = f"{number:>3}" if pick else "   "
        yield from wrap(f"{mark}{_percent(outcome.probability)}  {clean(outcome.words)}", width, " " * 11)
        if outcome.points_to:
            yield from wrap(f"           -> {clean(outcome.points_to)}", width, " " * 14)
