"""Judge what is printed on a relay or adapter box; what is not printed counts at its worst."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from wiregen.catalogue.defaults import default
from wiregen.catalogue.lamps import LampType
from wiregen.catalogue.relays import CONTACT_FACTOR_24V, INRUSH_FACTORS
from wiregen.quantity import show, whole_down
from wiregen.questions.box.record import VERDICTS, BoxLine, BoxReport, ChannelNeed, Label, Room, TrailerNeed, Verdict

#: From this share of room on, a box passes with headroom: what a fuse is left in long use, too (M-FUSE).
HEADROOM: Final = 1.0 - default("fuse_continuous_factor").value
#: A short-time current over the continuous one, where only the former is printed (S56).
_PEAK_FACTOR: Final = default("converter_current_limit_factor")
_DERATE_FROM: Final = default("converter_derate_from_c")
_DERATE: Final = default("converter_derate_per_k")
_INRUSH: Final = INRUSH_FACTORS["lamp"]

_ASK: Final[dict[str, str]] = {
    "channels": "How many outputs does it have? (Not judged without.)",
    "each": "How many amps does one output carry? (Counted as the sum over the number of outputs.)",
    "total": "How many amps do all outputs carry together? (Counted as no more than one output alone.)",
    "voltage": "At which voltage do the amps hold? (Counted as 12 V: a contact for 12 V carries half at 24 V.)",
    "load": "Do the amps hold for lamps? (Counted as plain amps: a cold lamp takes ten times its current.)",
    "duty": f"May they flow for long? (Counted as short-time: {_PEAK_FACTOR.value:g} times as much.)",
    "up_to": f"Up to which temperature? (Counted as falling {100 * _DERATE.value:g} % a degree above "
    f"{_DERATE_FROM.text}.)",
}
_NOT_PRINTED: Final = (
    "Does it survive a short on the 12 V side, and recover by itself?",
    "If its converter fails, can 24 V reach the outputs?",
    "Which fuses does it want, in front and behind?",
)


@dataclass(frozen=True, slots=True)
class Allowed:
    """What a label allows one trailer, with how that follows from it."""

    each_a: float | None
    each_because: str
    each_rests: tuple[str, ...]
    closing_a: float | None
    closing_because: str
    closing_rests: tuple[str, ...]
    total_a: float | None
    total_because: str
    total_rests: tuple[str, ...]


def missing(label: Label) -> tuple[str, ...]:
    """Return what the label does not say, of the things that are asked for."""
    given = {
        "channels": label.channels,
        "each": label.each_a,
        "total": label.total_a,
        "voltage": label.voltage_v,
        "load": label.load,
        "duty": label.duty,
        "up_to": label.up_to_c,
    }
    return tuple(key for key, value in given.items() if value is None)


def judge(
    title: str, digest: str, label: Label, needs: Sequence[TrailerNeed], common: Sequence[tuple[str, LampType]]
) -> BoxReport:
    """Return the verdict on a box.

    Args:
        title: Title of the rig.
        digest: Digest of the rig file and its pinouts.
        label: What is printed on the box.
        needs: What each trailer asks of it.
        common: Lamps to express what is left in, with words.
    """
    lines = tuple(line for need in needs for line in _lines(label, need))
    best = tuple(line for need in needs for line in _lines(_at_best(label, need), need))
    asked = missing(label)
    questions = [_ASK[key] for key in asked if key != "voltage" or any(need.contact_v > 16 for need in needs)]
    return BoxReport(
        title=title,
        digest=digest,
        label=label,
        verdict=_worst(lines),
        at_best=_worst(best),
        lines=lines,
        room=tuple(room for need in needs for room in _room(label, need, common)),
        questions=(*questions, *_NOT_PRINTED),
        notes=tuple(_notes(label, needs)),
    )


def _worst(lines: Sequence[BoxLine]) -> Verdict:
    # That no output is to spare takes no headroom from those that are in use.
    counted = [line.verdict for line in lines if line.unit or line.verdict != "passes"]
    return max(counted, key=VERDICTS.index, default="not judged")


def _at_best(label: Label, need: TrailerNeed) -> Label:
    """Return the label with the best answer to everything it does not say."""
    each = label.each_a if label.each_a is not None else label.total_a
    count = label.channels or len(need.channels)
    total = label.total_a if label.total_a is not None or each is None else each * count
    return replace(
        label,
        channels=count,
        each_a=each,
        total_a=total,
        voltage_v=label.voltage_v or 24.0,
        load=label.load or "lamp",
        duty=label.duty or "continuous",
        up_to_c=need.ambient_c if label.up_to_c is None else label.up_to_c,
    )


def allowed(label: Label, need: TrailerNeed) -> Allowed:
    """Return what a label allows behind one trailer; what it does not say counts at its worst."""
    each, each_words, each_rests = _each(label)
    duty, duty_words, duty_rests = _duty(label)
    factor, factor_words, factor_rests = _voltage(label, need)
    closing, closing_words, closing_rests = _closing(label, each)
    total, total_words, total_rests = _total(label, each)
    warm, warm_words, warm_rests = _warm(label, need)
    return Allowed(
        each_a=None if each is None else each * duty * factor,
        each_because=_joined(each_words, duty_words, factor_words),
        each_rests=(*each_rests, *duty_rests, *factor_rests),
        closing_a=None if closing is None else closing * factor,
        closing_because=_joined(closing_words, factor_words),
        closing_rests=(*closing_rests, *factor_rests),
        total_a=None if total is None else total * duty * warm,
        total_because=_joined(total_words, duty_words, warm_words),
        total_rests=(*total_rests, *duty_rests, *warm_rests),
    )


def _joined(*words: str) -> str:
    return ", ".join(word for word in words if word)


def _each(label: Label) -> tuple[float | None, str, tuple[str, ...]]:
    if label.each_a is not None:
        return label.each_a, f"{show(label.each_a, 'A')} printed", ()
    if label.total_a is not None and label.channels:
        each = label.total_a / label.channels
        return each, f"{show(label.total_a, 'A')} over {label.channels} outputs", ("each",)
    return None, "the label does not say", ("each",)


def _total(label: Label, each_a: float | None) -> tuple[float | None, str, tuple[str, ...]]:
    if label.total_a is not None:
        return label.total_a, f"{show(label.total_a, 'A')} printed", ()
    if each_a is not None:
        return each_a, f"counted as {show(each_a, 'A')}, one output alone", ("total",)
    return None, "the label does not say", ("total",)


def _duty(label: Label) -> tuple[float, str, tuple[str, ...]]:
    if label.duty == "continuous":
        return 1.0, "", ()
    share = 1.0 / _PEAK_FACTOR.value
    rests = () if label.duty else ("duty",)
    return share, f"a short-time rating, {share:.0%} for long [{_PEAK_FACTOR.source}]", rests


def _voltage(label: Label, need: TrailerNeed) -> tuple[float, str, tuple[str, ...]]:
    """A rating for 12 V counts half where 24 V are switched; one for 24 V never counts more at 12 V."""
    if need.contact_v <= 16 or label.voltage_v == 24:
        return 1.0, "", ()
    return CONTACT_FACTOR_24V, "half of it at 24 V [S41]", () if label.voltage_v else ("voltage",)


def _closing(label: Label, each_a: float | None) -> tuple[float | None, str, tuple[str, ...]]:
    """Return what a contact may close on; None where the rating for lamps has the inrush in it."""
    if label.make_a is not None:
        return label.make_a, f"{show(label.make_a, 'A')} make current printed", ()
    if label.load == "lamp" or each_a is None:
        return None, "", ()
    rests = () if label.load else ("load",)
    return each_a, f"{show(each_a, 'A')} as a resistive rating", (*rests, *(() if label.each_a else ("each",)))


def _warm(label: Label, need: TrailerNeed) -> tuple[float, str, tuple[str, ...]]:
    up_to = _DERATE_FROM.value if label.up_to_c is None else label.up_to_c
    over_k = max(0.0, need.ambient_c - up_to)
    if not over_k:
        return 1.0, "", ()
    share = max(0.0, 1.0 - _DERATE.value * over_k)
    rests = ("up_to",) if label.up_to_c is None else ()
    return share, f"{share:.0%} of it at {need.ambient_c:g} °C [{_DERATE.source}]", rests


def _lines(label: Label, need: TrailerNeed) -> Iterator[BoxLine]:
    limits = allowed(label, need)
    yield _count(label, need)
    for one in need.channels:
        yield _line(
            need, f"{one.channel} ({one.feeds}), steady", one.steady_a, limits.each_a, limits.each_because,
            limits.each_rests, one.state,
        )  # fmt: skip
        if limits.closing_a is not None:
            yield _line(
                need, f"{one.channel} ({one.feeds}), cold lamps", one.closing_a, limits.closing_a,
                limits.closing_because, limits.closing_rests, "",
            )  # fmt: skip
    total = (limits.total_a, limits.total_because, limits.total_rests)
    yield _line(need, "all outputs together", need.lamps_a, *total, need.lamps_state)
    if need.besides:
        yield _line(need, f"all outputs and {need.besides} together", need.all_a, *total, need.state)


def _count(label: Label, need: TrailerNeed) -> BoxLine:
    wanted = len(need.channels)
    if label.channels is None:
        return BoxLine(
            trailer=need.trailer, what="outputs", needed=wanted, allowed=None, unit="", margin=None,
            verdict="not judged", because="the label does not say", rests_on=("channels",),
        )  # fmt: skip
    return BoxLine(
        trailer=need.trailer,
        what="outputs",
        needed=wanted,
        allowed=label.channels,
        unit="",
        margin=(label.channels - wanted) / label.channels,
        verdict="passes with headroom"
        if label.channels > wanted
        else "passes"
        if label.channels == wanted
        else "fails",
        because=f"{label.channels} printed",
    )


def _line(
    need: TrailerNeed,
    what: str,
    needed: float,
    limit: float | None,
    because: str,
    rests: tuple[str, ...],
    state: str,
) -> BoxLine:
    margin = None if limit is None or limit <= 0 else (limit - needed) / limit
    verdict: Verdict = "not judged"
    if limit is not None:
        share = -1.0 if margin is None else margin
        verdict = "fails" if share < 0 else "passes with headroom" if share >= HEADROOM else "passes"
    return BoxLine(
        trailer=need.trailer, what=what, needed=needed, allowed=limit, unit="A", margin=margin, verdict=verdict,
        because=because, state=state, rests_on=tuple(dict.fromkeys(rests)),
    )  # fmt: skip


def _room(label: Label, need: TrailerNeed, common: Sequence[tuple[str, LampType]]) -> Iterator[Room]:
    limits = allowed(label, need)
    if limits.each_a is None or limits.total_a is None:
        return
    for one in need.channels:
        spare = max(0.0, min(limits.each_a - one.steady_a, limits.total_a - need.all_a))
        lamps = tuple((word, _more(lamp, one, limits, spare)) for word, lamp in common)
        yield Room(trailer=need.trailer, channel=one.channel, spare_a=spare, lamps=lamps)


def most_a(lamp: LampType) -> float:
    """Return the most a lamp draws, A: a regulated LED lamp takes more the less voltage it gets, down to its lowest."""
    return lamp.max_current_a * (lamp.test_v / lamp.min_v if lamp.min_v else 1.0)


def _more(lamp: LampType, one: ChannelNeed, limits: Allowed, spare_a: float) -> int:
    """Return how many more lamps of a kind an output takes: by its steady current, the sum, and what it closes on."""
    count = whole_down(spare_a / most_a(lamp))
    if limits.closing_a is not None:
        each = most_a(lamp) * (_INRUSH if lamp.technology == "filament" else 1.0)
        count = min(count, whole_down((limits.closing_a - one.closing_a) / each))
    return max(0, count)


def _notes(label: Label, needs: Sequence[TrailerNeed]) -> Iterator[str]:
    for need in needs:
        if need.besides:
            yield (
                f"{need.trailer}: {need.besides} are in this. With a 12 V supply of their own the box does not carry "
                f"them: all outputs then take {show(need.lamps_a, 'A')}."
            )
        peak = label.peak_a
        if peak is not None and need.cold_a > peak:
            yield (
                f"{need.trailer}: cold lamps draw {show(need.cold_a, 'A')} for a few milliseconds, and "
                f"{show(peak, 'A')} are printed as peak: ask whether it limits its current and recovers, or shuts down."
            )
    if label.load == "lamp" and label.make_a is None:
        yield "A rating for lamps has the inrush of cold filaments in it: closing is not judged apart."
