"""Rules on short circuits: whether they end before something burns, and which fuse ends them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from wiregen.catalogue.ampacity import OutsideTable
from wiregen.catalogue.defaults import default
from wiregen.catalogue.fuses import largest_rating_a, standard_ratings_a
from wiregen.catalogue.opening import smallest_timed_a, style_of
from wiregen.check.case import Case, Coupling
from wiregen.check.clearing import Clearing, Device, Stress
from wiregen.check.rule import NO_SOURCE, RIG_FILE, rule
from wiregen.check.weakest import size_words
from wiregen.model.circuit import Converter, Element, Fuse
from wiregen.model.finding import SEVERITIES, Finding, Severity
from wiregen.model.rule import RuleInfo
from wiregen.model.short import ShortPoint
from wiregen.quantity import show

_LATEST: Final = default("short_clearing_s")
#: At this multiple of its rating a blade fuse has opened within the practical limit of 5 s (its 200 % line).
_SURE: Final = 2.0
_TIMES: Final = ("S44", "M-8820", "M-J553")
_CARRIES: Final = ("S12", "S14", "S2")
_SHORTS: Final = (
    "Every conductor that is fed touches ground at its far end, and every fuse right behind it, one at a time, in the "
    "states that make it live: the one with the most other load with the battery low, copper as hot as its insulation "
    "allows and aged contacts, the simplest one while charging and cold. Vehicle feeds count where a [[run]] says how "
    "long they are; a trailer's frame is bonded to its ground, and once not, where hitch_resistance is stated."
)
_TIGHTEN: Final = "length, size and insulation of each [[run]]; fuse of each feed, tap, channel and of the supply."


@dataclass(frozen=True, slots=True)
class _Verdict:
    """What is wrong with one short."""

    coupling: Coupling
    clearing: Clearing
    stress: Stress
    severity: Severity
    value: float
    limit: float
    unit: str

    @property
    def margin(self) -> float:
        """Room left, as a share of the limit; below zero."""
        return (self.limit - self.value) / self.limit if self.limit > 0 else -1.0


def _verdicts(case: Case) -> Iterator[_Verdict]:
    """Yield what is wrong with shorts that some device stands before."""
    for coupling in case.solved:
        for clearing in coupling.clearings:
            made = None if clearing.unlimited else _verdict(case, coupling, clearing)
            if made is not None:
                yield made


def _verdict(case: Case, coupling: Coupling, clearing: Clearing) -> _Verdict | None:
    if not clearing.stresses:
        return None
    worst = clearing.stresses[0]
    soft = _is_soft(case, clearing, worst)
    if math.isinf(worst.stands_s):
        return None  # it carries the current for good
    if math.isinf(clearing.max_s):
        if worst.ampacity_a is None:
            return None  # conductor-current names it
        severity: Severity = "warning" if soft else "error"
        return _Verdict(coupling, clearing, worst, severity, worst.current_a, worst.ampacity_a, "A")
    if worst.stands_s < clearing.heat_s:
        severity = "warning" if soft else "error"
        return _Verdict(coupling, clearing, worst, severity, clearing.heat_s, worst.stands_s, "s")
    if clearing.max_s > _LATEST.value:
        return _Verdict(coupling, clearing, worst, "warning", clearing.max_s, _LATEST.value, "s")
    return None


def _is_soft(case: Case, clearing: Clearing, worst: Stress) -> bool:
    """Tell whether a verdict rests on what nobody stated: a size, a current limit, a breaker's curve, a bond."""
    device = clearing.decisive
    return (
        worst.conductor.ref in case.unstated_sizes
        or any(converter.ref in case.assumed_limits for converter in clearing.limited)
        or (device is not None and (bool(device.fuse.breaker) or not device.opening.is_known))
        or clearing.at.short.through_hitch
    )


def _worst(verdicts: Iterable[_Verdict]) -> Iterator[tuple[_Verdict, tuple[str, ...]]]:
    """Yield the worst verdict of each device, and the refs of the other places where a short is no better off."""
    groups: dict[str, list[_Verdict]] = {}
    for verdict in verdicts:
        device = verdict.clearing.decisive
        key = device.fuse.ref if device else verdict.clearing.at.short.ref
        groups.setdefault(key, []).append(verdict)
    for group in groups.values():
        first = min(group, key=lambda v: (SEVERITIES.index(v.severity), v.margin))
        others = dict.fromkeys(v.clearing.at.short.ref for v in group)
        yield first, tuple(ref for ref in others if ref != first.clearing.at.short.ref)


def _likewise(refs: tuple[str, ...]) -> str:
    if not refs:
        return ""
    more = f" and {len(refs) - 3} others" if len(refs) > 4 else ""
    named = refs if len(refs) <= 4 else refs[:3]
    return f"; likewise {', '.join(named)}{more}"


def _message(case: Case, verdict: _Verdict, others: tuple[str, ...], given: str = "") -> str:
    clearing, stress = verdict.clearing, verdict.stress
    device = clearing.decisive
    opens = device.words if device else "nothing opens"
    wire = f"{stress.conductor.ref} ({size_words(case, stress.conductor)})"
    if verdict.unit == "A":
        stands = f"{wire} carries {show(stress.current_a, 'A')}, {show(verdict.limit, 'A')} allowed"
    else:
        stands = f"{wire} stands its {show(stress.current_a, 'A')} for {show(stress.stands_s, 's')}"
    let_go = f" ({', '.join(clearing.at.let_go)} let go)" if clearing.at.let_go else ""
    amps = show(clearing.at.current_a, "A")
    bounds = _bounds(verdict)
    return f"{clearing.at.short.words}: {amps} flow{given}{let_go}; {opens}{bounds}, and {stands}{_likewise(others)}"


def _bounds(verdict: _Verdict) -> str:
    """Return what else is known of the time a short lasts: the value and the limit of the finding, where in seconds."""
    clearing = verdict.clearing
    if clearing.backup is not None:
        return f" (the next one, {clearing.backup.fuse.ref}, opens within {show(clearing.backup.opening.max_s, 's')})"
    if verdict.unit != "s":
        return ""
    if verdict.value == clearing.max_s:
        return f" (no more than {show(verdict.limit, 's')} wanted)" if verdict.limit == _LATEST.value else ""
    return f", letting through the heat of {show(verdict.value, 's')}"


def _finding(verdict: _Verdict, message: str, advice: str, element: Element, source: str) -> Finding:
    return Finding(
        rule="short-clears",
        severity=verdict.severity,
        where=f"{element.ref} {element.title}".strip(),
        message=message,
        state=verdict.clearing.at.point.words,
        trailer=verdict.coupling.circuit.trailer,
        value=verdict.value,
        limit=verdict.limit,
        unit=verdict.unit,
        margin=verdict.margin,
        advice=advice,
        source=source,
        origin=element.origin,
    )


def _source(verdict: _Verdict) -> str:
    device = verdict.clearing.decisive
    keys = [device.opening.source] if device and device.opening.source else []
    return ",".join([*keys, verdict.stress.source if verdict.unit == "A" else _LATEST.source])


@rule(
    RuleInfo(
        id="short-clears",
        cure="sizes",
        harm="fire",
        title="A short circuit at the far end of any conductor ends before a conductor burns",
        severity="error; warning where it ends, but late, and where a size, a fuse's times, a breaker's curve or a "
        "bond is not known",
        what=_SHORTS,
        why="The farther a short is from its fuse, the less it draws. Where that is not enough to open the fuse, the "
        "conductor becomes a heater, and sets fire to what lies beside it.",
        formula="I of the solved circuit; latest opening time from the fuse's time-current lines, each of which also "
        "bounds I² t of every larger current; a conductor stands t = (k S / I)² with k = 226 × "
        "sqrt(ln(1 + (T short - T insulation) / (234.5 + T insulation)))",
        limit=f"What the conductors on its way stand, its return included, and {_LATEST.text}; nothing where all of "
        "them carry the current for good. T short is 160 °C, from 125 °C insulation on 250 °C.",
        sources=(*_TIMES, _LATEST.source, *_CARRIES, "S29", "S13", NO_SOURCE),
        tighten=_TIGHTEN,
    )
)
def short_clears(case: Case) -> Iterator[Finding]:
    """Every short that no converter limits is opened in time, or all conductors on its way carry it for good."""
    found = [v for v in _verdicts(case) if not v.clearing.limited]
    for verdict, others in _worst(v for v in found if v.clearing.decisive and not _cycles(v)):
        device = verdict.clearing.decisive
        if device is None:
            continue
        advice = "Use a larger or shorter conductor, so that more flows, a smaller fuse, or a second fuse on the way."
        if not device.opening.is_known:
            advice = _timeless_advice(device.fuse)
        elif device.fuse.breaker:
            advice = "No faster time of a breaker is known here: read its curve, or fit a fuse in its place."
        message = _message(case, verdict, others)
        yield _finding(verdict, message, advice, device.fuse, _source(verdict))
    yield from _bare(case, found)
    yield from _restless(case)


def _cycles(verdict: _Verdict) -> bool:
    """Tell whether a breaker of type I is all there is: `breaker-type` speaks of it."""
    device = verdict.clearing.decisive
    return device is not None and device.fuse.breaker == "type I"


def _bare(case: Case, found: Iterable[_Verdict]) -> Iterator[Finding]:
    """Yield trailer batteries that feed a short with nothing between; the vehicle's are `unfused-feed`'s matter."""
    seen: set[str] = set()
    for verdict in found:
        battery = verdict.clearing.bare
        if battery is None or battery.zone != "trailer" or battery.ref in seen:
            continue
        seen.add(battery.ref)
        message = _message(case, verdict, ())
        yield _finding(verdict, message, "Fit a fuse at the plus terminal of this battery.", battery, "S13")


def _restless(case: Case) -> Iterator[Finding]:
    """Yield, as one finding, the shorts that make relays or converters come and go: their current is no steady one."""
    found: dict[str, tuple[Coupling, ShortPoint]] = {}
    for coupling in case.solved:
        for point in coupling.shorts.points if coupling.shorts else ():
            if point.trouble:
                found.setdefault(point.short.ref, (coupling, point))
    if not found:
        return
    (ref, (coupling, point)), *others = found.items()
    likewise = _likewise(tuple(other for other, _ in others))
    yield Finding(
        rule="short-clears",
        severity="notice",
        where=ref,
        message=f"{point.short.words}: {point.trouble}; whether a fuse opens is not known{likewise}",
        state=point.point.words,
        trailer=coupling.circuit.trailer,
        advice="Feed what comes and goes from in front of that fuse, or find out why the supply sags so far.",
        source=NO_SOURCE,
        origin=coupling.circuit.by_ref[ref].origin,
    )


@rule(
    RuleInfo(
        id="short-limited",
        cure="fuses",
        harm="fire",
        title="A converter that limits its current can still open the fuse behind it",
        severity="error; warning where the limit is assumed or a fuse's times are not known; notice where no limit is "
        "known",
        what=_SHORTS + " This rule speaks of those that a converter, step-down or brake controller limits.",
        why="A fuse needs about twice its rating to open soon. A converter gives its current limit and no more, for "
        "ever: the fuse stays whole, and the wire it was meant for burns. One that folds back gives less still.",
        formula="current of the fuse at the converter's limit against the fuse's time-current lines",
        limit="The fuse opens in time, as in short-clears, or every conductor on the way carries the limit for good.",
        sources=(*_TIMES, _LATEST.source, *_CARRIES, NO_SOURCE, RIG_FILE),
        tighten="current_limit and foldback of [adapter.supply] or of the channel; fuse of each channel. " + _TIGHTEN,
    )
)
def short_limited(case: Case) -> Iterator[Finding]:
    """Every short behind a current limit is opened in time, or all conductors on its way carry it for good."""
    found = (v for v in _verdicts(case) if v.clearing.limited and v.clearing.decisive and not _cycles(v))
    for verdict, others in _worst(found):
        device, converter = verdict.clearing.decisive, verdict.clearing.limited[0]
        if device is None:
            continue
        assumed = " (assumed)" if converter.ref in case.assumed_limits else ""
        given = f", all that {converter.ref} gives{assumed}"
        yield Finding(
            rule="short-limited",
            severity=verdict.severity,
            where=f"{device.fuse.ref} {device.fuse.title}".strip(),
            message=_message(case, verdict, others, given),
            state=verdict.clearing.at.point.words,
            trailer=verdict.coupling.circuit.trailer,
            value=verdict.value,
            limit=verdict.limit,
            unit=verdict.unit,
            margin=verdict.margin,
            advice=_limited_advice(case, verdict, device, converter),
            source=_source(verdict),
            origin=device.fuse.origin,
        )
    yield from _unknown(case)


def _timeless_advice(fuse: Fuse) -> str:
    """Return what to do about a fuse that no table gives times for."""
    made = standard_ratings_a(style_of(fuse.rating_a))
    if fuse.rating_a not in made:
        near = [*[a for a in made if a < fuse.rating_a][-1:], *[a for a in made if a > fuse.rating_a][:1]]
        return (
            f"No blade fuse of {show(fuse.rating_a, 'A')} is in the table: read what is printed on it. The nearest "
            f"there: {' and '.join(show(a, 'A') for a in near)}. For another kind of fuse read its time-current curve."
        )
    return (
        "Read its time-current curve in the data sheet: no source here gives one. Or fit a fuse of "
        f"{show(smallest_timed_a(), 'A')} or more, as far as the conductors allow it: its opening times are known."
    )


def _limited_advice(case: Case, verdict: _Verdict, device: Device, converter: Converter) -> str:
    """Return how a short behind a limit may end all the same: by a smaller fuse, by the converter, or harmlessly."""
    if not device.opening.is_known:
        return _timeless_advice(device.fuse)
    load_a, _ = verdict.coupling.worst(device.fuse.ref, nominal=True)
    through_a = device.current_a if device.fuse in _behind(verdict.clearing) else 0.0
    try:
        fuse_a = largest_rating_a(through_a / _SURE)
    except OutsideTable:
        fuse_a = 0.0
    if fuse_a and fuse_a * case.limits.fuse_factor >= load_a:
        first = f"Fit a fuse of no more than {show(fuse_a, 'A')}, which opens within {_LATEST.text} there"
    else:
        first = "Use a converter that shuts down on a short and stays off"
    return f"{first}, or conductors that carry {show(converter.limit_a, 'A')} for good: then the short is harmless."


def _behind(clearing: Clearing) -> list[Element]:
    return [device.fuse for device in clearing.chain]


def _unknown(case: Case) -> Iterator[Finding]:
    """Yield converters with fuses behind them whose current limit nobody knows."""
    seen: set[str] = set()
    for coupling in case.solved:
        for clearing in coupling.clearings:
            for converter in clearing.unlimited if clearing.chain else ():
                if converter.ref in seen:
                    continue
                seen.add(converter.ref)
                yield Finding(
                    rule="short-limited",
                    severity="notice",
                    where=f"{converter.ref} {converter.title}".strip(),
                    message="no current limit is given, so whether a short opens the fuses behind it is not known",
                    trailer=coupling.circuit.trailer,
                    advice="Read what it gives into a short in its data sheet, and state current_limit and foldback.",
                    source=NO_SOURCE,
                    origin=converter.origin,
                )
