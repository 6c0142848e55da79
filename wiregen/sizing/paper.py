"""The result of ``wiregen size`` for a terminal."""

from __future__ import annotations

from collections.abc import Iterator

from wiregen.model.finding import Finding
from wiregen.paper.cautions import CAUTION
from wiregen.paper.safe_text import clean
from wiregen.paper.words import wrap
from wiregen.quantity import show
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
    for value in sizing.values:
        lines += [*_value(value, sizing, width), ""]
    if sizing.unmet:
        lines += [*_unmet(sizing, width), ""]
    if sizing.left and sizing.verdict == "sized":
        lines += wrap("NO SIZE CURES THESE; 'wiregen check' tells what does", width)
        for finding in sizing.left:
            lines += _finding(finding, width)
        lines.append("")
    lines += [*_total(sizing, width, written), *wrap(CAUTION, width)]
    return "".join(line.rstrip() + "\n" for line in lines)


def _value(value: SizedValue, sizing: Sizing, width: int) -> Iterator[str]:
    parts = f" ({', '.join(value.refs)})" if value.kind == "fuse" and value.refs else ""
    yield from wrap(f"{clean(value.words)}{parts}", width, _INDENT)
    if not value.refs:
        yield from wrap(f"{_INDENT}nothing runs there: it is left as it is", width, _INDENT)
        return
    after = value.after or "no choice will do"
    weights = ""
    if value.kind == "size":
        many = "1 conductor" if len(value.refs) == 1 else f"{len(value.refs)} conductors"
        weights = f"; {many}, {show(value.length_m, 'm')}"
        if value.after:
            weights += f"; copper {_kg(value.copper_before_kg)} -> {_kg(value.copper_after_kg)}"
    yield from wrap(f"{_INDENT}{value.before} -> {after}{weights}", width, _INDENT * 2)
    if not value.after:
        return
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


def _unmet(sizing: Sizing, width: int) -> Iterator[str]:
    yield from wrap(
        f"NO CHOICE KEEPS EVERY RULE. With the largest sizes of the {sizing.series} series there still stand:", width
    )
    for finding in sizing.unmet:
        yield from _finding(finding, width)
        yield from wrap(f"{_INDENT}do: {clean(finding.advice)}", width, _INDENT)


def _finding(finding: Finding, width: int) -> Iterator[str]:
    yield from wrap(f"{finding.severity.upper()}  {finding.rule}: {clean(finding.where)}", width, _INDENT)
    state = f" ({finding.state})" if finding.state else ""
    yield from wrap(f"{_INDENT}{clean(finding.message)}{state}", width, _INDENT)


def _total(sizing: Sizing, width: int, written: tuple[str, ...]) -> Iterator[str]:
    if sizing.verdict == "sized":
        total = f"Copper of these conductors: {_kg(sizing.copper_before_kg)} -> {_kg(sizing.copper_after_kg)}"
        yield from wrap(f"{total}. Sizes are {sizing.series}; {sizing.checks} choices were checked in full.", width)
        if written:
            yield from wrap(f"Written into the rig file: {', '.join(written)}.", width)
        elif any(value.after and value.after != value.before for value in sizing.values):
            yield from wrap("Nothing was written; --write puts these values into the rig file.", width)
    else:
        yield from wrap("Nothing was chosen and nothing was written.", width)


def _kg(mass_kg: float) -> str:
    return f"{mass_kg:.3f} kg"
