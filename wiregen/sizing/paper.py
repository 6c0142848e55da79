"""The result of ``wiregen size`` for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from wiregen.model.finding import Finding
from wiregen.paper.cautions import CAUTION
from wiregen.paper.safe_text import clean
from wiregen.paper.words import wrap
from wiregen.quantity import show
from wiregen.sizing.obstacles import Missing, Obstacle
from wiregen.sizing.record import Larger, SizedValue, Sizing

_INDENT = "    "


def size_text(sizing: Sizing, width: int = 80, written: tuple[str, ...] = ()) -> str:
    """Return the result as plain text, no line wider than ``width`` columns.

    Args:
        sizing: What was found out.
        width: Columns of the terminal.
        written: Keys that were written into the rig file.
    """
    lines = [*wrap(f"Sizes for {clean(sizing.title)}  (digest {sizing.digest})", width), ""]
    if sizing.verdict == "nothing":
        lines += wrap('Nothing to choose: no size and no fuse of this rig is "auto".', width)
        return "".join(f"{line}\n" for line in lines)
    lines += [*_verdict(sizing, width), ""]
    for some in _alike(sizing.missing):
        lines += [*_missing(some, width), ""]
    for value in sizing.values:
        lines += [*_value(value, sizing, width), ""]
    if sizing.left:
        lines += wrap("NO SIZE CURES THESE; 'wiregen check' tells what does", width)
        for findings in _by_rule(sizing.left):
            lines += [*_finding(findings[0], width), *_also(findings[1:], width)]
        lines.append("")
    lines += [*_written(sizing, width, written), *wrap(CAUTION, width)]
    return "".join(line.rstrip() + "\n" for line in lines)


def _verdict(sizing: Sizing, width: int) -> Iterator[str]:
    """Yield what came of it: whether the rules are kept, and how near the copper is to the least."""
    if sizing.verdict == "nearest":
        yield from wrap(
            "NO CHOICE KEEPS EVERY RULE. These sizes and fuses come nearest; what stands in the way comes first.", width
        )
    gap = sizing.gap
    if sizing.is_proved:
        how = "Proved: with these fuses no choice of sizes that does as well has less."
    elif gap is not None:
        how = f"Not proved: the least there is may be up to {gap / (1 + gap):.1%} less. --seconds 60 looks longer."
    else:
        how = "Not proved: how much less would do is not known. --seconds 60 looks longer."
    total = f"Copper of these wires: {_kg(sizing.copper_before_kg)} -> {_kg(sizing.copper_after_kg)}."
    yield from wrap(f"{total} {how} Sizes are {sizing.series}; {sizing.checks} choices were checked.", width)


def _alike(missing: Sequence[Missing]) -> list[list[Missing]]:
    """Return what is missing by rule and cause, the one that misses most first."""
    found: dict[tuple[object, ...], list[Missing]] = {}
    for one in sorted(missing, key=lambda one: -(one.share or 0.0)):
        causes = frozenset((cause.words, cause.origin) for cause in one.obstacles)
        found.setdefault((one.finding.rule, causes), []).append(one)
    return list(found.values())


def _by_rule(findings: Sequence[Finding]) -> list[list[Finding]]:
    found: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        found.setdefault((finding.rule, finding.severity), []).append(finding)
    return list(found.values())


def _also(findings: Sequence[Finding], width: int) -> Iterator[str]:
    if findings:
        others = ", ".join(clean(finding.where) for finding in findings)
        yield from wrap(f"{_INDENT}also: {others}", width, _INDENT * 2)


def _missing(some: Sequence[Missing], width: int) -> Iterator[str]:
    worst = some[0]
    yield from _finding(worst.finding, width)
    if worst.share is not None:
        is_low = (worst.finding.value or 0.0) < (worst.finding.limit or 0.0)
        words = f"{_share(worst.share)} {'missing' if is_low else 'over the limit'}"
        yield from wrap(f"{_INDENT}{words}", width, _INDENT * 2)
    yield from _also([one.finding for one in some[1:]], width)
    if worst.obstacles:
        yield f"{_INDENT}in the way:"
    for cause in worst.obstacles:
        yield from wrap(f"{_INDENT * 2}{_obstacle(cause)}", width, _INDENT * 3)
    if not worst.obstacles:
        yield from wrap(f"{_INDENT}do: {clean(worst.finding.advice)}", width, _INDENT * 2)


def _obstacle(cause: Obstacle) -> str:
    if cause.is_chosen:
        size = f"{cause.size}, the largest that may be chosen"
    elif cause.origin is not None:
        size = f"{cause.size}, stated at {clean(str(cause.origin))}"
    else:
        size = f"{cause.size}, assumed: no run states it"
    gain = f": it loses {_share(cause.gain)} of the limit" if cause.gain is not None else ""
    enough = f"; {cause.enough} alone would do" if cause.enough else ""
    if cause.gain is not None and not cause.enough:
        enough = "; no size of it alone would do"
    return f"{cause.words} ({', '.join(cause.refs)}), {size}{gain}{enough}"


def _share(share: float) -> str:
    return f"{share:.0%}" if share >= 0.1 else f"{share:.1%}"


def _value(value: SizedValue, sizing: Sizing, width: int) -> Iterator[str]:
    parts = f" ({', '.join(value.refs)})" if value.kind == "fuse" and value.refs else ""
    yield from wrap(f"{clean(value.words)}{parts}", width, _INDENT)
    if not value.refs:
        yield from wrap(f"{_INDENT}nothing runs there: it is left as it is", width, _INDENT)
        return
    weights = ""
    if value.kind == "size":
        many = "1 wire" if len(value.refs) == 1 else f"{len(value.refs)} wires"
        weights = f"; {many}, {show(value.length_m, 'm')}"
        weights += f"; copper {_kg(value.copper_before_kg)} -> {_kg(value.copper_after_kg)}"
    yield from wrap(f"{_INDENT}{value.before} -> {value.after}{weights}", width, _INDENT * 2)
    if value.bound is not None:
        bound = value.bound
        state = f", {bound.state}" if bound.state else ""
        margin = f": margin {bound.margin:+.1%}" if bound.margin is not None else ""
        yield from wrap(
            f"{_INDENT}bound by {bound.rule}, {clean(bound.where)}{state}{margin} [{bound.source}]", width, _INDENT * 2
        )
        breaks = _broken(bound.margin_smaller)
        yield from wrap(f"{_INDENT}{value.smaller} breaks it{breaks} ({bound.severity})", width, _INDENT * 2)
    elif not value.smaller:
        least = "the smallest whose opening times are known" if value.kind == "fuse" else "the smallest that is chosen"
        yield from wrap(f"{_INDENT}{least}", width, _INDENT * 2)
    elif not value.is_explained:
        yield from wrap(f"{_INDENT}what binds it was not looked at: time was up", width, _INDENT * 2)
    if value.larger is not None:
        yield from wrap(_larger(value.larger, value.kind == "size", sizing), width, _INDENT * 2)


def _broken(margin: float | None) -> str:
    if margin is None:
        return ""
    return f": {1 - margin:.0f} times the limit" if margin < -1 else f" by {-margin:.1%}"


def _larger(larger: Larger, is_size: bool, sizing: Sizing) -> str:
    facts = [f"{_kg(larger.copper_kg - sizing.copper_after_kg)} more copper"] if is_size else []
    if larger.margin is not None:
        facts.append(f"margin about {larger.margin:+.1%}")
    return f"{_INDENT}{larger.label} instead: {', '.join(facts)}" if facts else f"{_INDENT}next larger: {larger.label}"


def _finding(finding: Finding, width: int) -> Iterator[str]:
    yield from wrap(f"{finding.severity.upper()}  {finding.rule}: {clean(finding.where)}", width, _INDENT)
    state = f" ({finding.state})" if finding.state else ""
    yield from wrap(f"{_INDENT}{clean(finding.message)}{state}", width, _INDENT)


def _written(sizing: Sizing, width: int, written: tuple[str, ...]) -> Iterator[str]:
    if written:
        yield from wrap(f"Written into the rig file: {', '.join(written)}.", width)
    elif any(value.after and value.after != value.before for value in sizing.values):
        yield from wrap("Nothing was written; --write puts these values into the rig file.", width)


def _kg(mass_kg: float) -> str:
    return f"{mass_kg:.3f} kg"
