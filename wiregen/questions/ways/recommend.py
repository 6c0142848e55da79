"""What the numbers of several ways speak for: a sieve of criteria, each passed on with its numbers.

The order is that of harm: errors first, then what the trailer becomes for its other towing vehicles, batteries that
drift apart, dim lamps, warnings, heat, parts. Ways that differ less than a step can tell are kept together, and a way
that loses by little is named.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from wiregen.model.comparison import Recommendation, WayResult

#: Two ways closer than this are alike: light as a share of its rated light, heat as a share of the lower one.
LIGHT_ALIKE: Final = 0.10
HEAT_ALIKE: Final = 0.10
#: Less imbalance than this share of the tap's current is none: how well an equaliser follows is not known so well.
NO_IMBALANCE: Final = 0.05
#: A way that loses a step by less than this many times what is alike is a close call.
_CLOSE: Final = 2.0

CAUTIONS: Final = (
    "The numbers hold for the ratings assumed: check those before you buy.",
    "A converter that fails so that its input reaches its output puts 24 V on its lamps: ask its maker whether it can.",
)


@dataclass(frozen=True, slots=True)
class Criterion:
    """One criterion of the sieve.

    Attributes:
        words: What is compared, for people.
        value: Its number; lower is better.
        alike: How much more than the best still counts as the best, from the best.
        show: The number in words.
    """

    words: str
    value: Callable[[WayResult], float]
    alike: Callable[[float], float]
    show: Callable[[WayResult], str]


#: What is told of ways that tie.
_LEVEL: Final = ("light of the worst lamp", "heat", "parts")


def _nothing(best: float) -> float:
    del best
    return 0.0


def _times(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def light(way: WayResult) -> float:
    """Return the least light of a way as a share; 1 where none is known, so that nothing is held against it."""
    return way.lowest.share if way.lowest is not None and way.lowest.share is not None else 1.0


STEPS: Final[tuple[Criterion, ...]] = (
    Criterion("errors", lambda w: w.count("error"), _nothing, lambda w: str(w.count("error"))),
    Criterion(
        "trailer keeps its voltage",
        lambda w: 0.0 if w.keeps_voltage else 1.0,
        _nothing,
        lambda w: "yes" if w.keeps_voltage else "no",
    ),
    Criterion(
        "battery imbalance",
        lambda w: w.imbalance_ah_per_h if w.imbalance_ah_per_h > NO_IMBALANCE * w.tap_a else 0.0,
        _nothing,
        lambda w: f"{w.imbalance_ah_per_h:.1f} Ah/h",
    ),
    Criterion(
        "light of the worst lamp",
        lambda w: 1.0 - min(light(w), 1.0),
        lambda best: LIGHT_ALIKE,
        lambda w: f"{light(w):.0%}",
    ),
    Criterion("warnings", lambda w: w.count("warning"), _nothing, lambda w: str(w.count("warning"))),
    Criterion("heat", lambda w: w.heat_w, lambda best: HEAT_ALIKE * best, lambda w: f"{w.heat_w:.0f} W"),
    Criterion("parts", lambda w: float(w.part_count), _nothing, lambda w: str(w.part_count)),
)


def recommend(ways: Sequence[WayResult]) -> Recommendation:
    """Return what the numbers speak for, with the reasons."""
    left = [way for way in ways if way.fit == "fits"]
    if not left:
        return Recommendation(
            ways=(),
            words="None of these ways can be taken on this rig.",
            reasons=tuple(f"{way.short}: {'; '.join(way.why_not)}" for way in ways),
            close_calls=(),
            cautions=CAUTIONS,
        )
    reasons, close = [], []
    for step in STEPS:
        if len(left) == 1:
            break
        best = min(step.value(way) for way in left)
        room = step.alike(best)
        kept = [way for way in left if step.value(way) <= best + room + 1e-9]
        lost = [way for way in left if way not in kept]
        if not lost:
            continue
        reasons.append(_reason(step, kept, lost))
        if room > 0:
            near = [way for way in lost if step.value(way) <= best + _CLOSE * room]
            close += [f"{way.short}: {step.words} {step.show(way)} against {step.show(kept[0])}" for way in near]
        left = kept
    reasons += [*_level(left), *_by_plug_alone(ways, left), *_of_the_rig(ways)]
    is_clean = left[0].count("error") == 0
    return Recommendation(
        ways=tuple(way.id for way in left) if is_clean else (),
        words=_words(left),
        reasons=tuple(reasons) or ("It is the only way that this rig can take.",),
        close_calls=tuple(close),
        cautions=(*_cautions(left), *CAUTIONS),
    )


def _reason(step: Criterion, kept: Sequence[WayResult], lost: Sequence[WayResult]) -> str:
    """Return what the best ways have in one step, and by how much the others are worse."""
    shown = dict.fromkeys(step.show(way) for way in kept)
    better = next(iter(shown)) if len(shown) == 1 else ", ".join(f"{way.short} {step.show(way)}" for way in kept)
    worse = ", ".join(f"{way.short} {step.show(way)}" for way in lost)
    return f"{step.words[0].upper()}{step.words[1:]}: {better}; worse: {worse}."


def _level(left: Sequence[WayResult]) -> list[str]:
    """Return the numbers of ways that tie."""
    if len(left) < 2:
        return []
    rows = (", ".join(f"{step.words} {step.show(way)}" for step in STEPS if step.words in _LEVEL) for way in left)
    return ["Equal: " + "; ".join(f"{way.short}: {row}" for way, row in zip(left, rows, strict=True)) + "."]


def _by_plug_alone(ways: Sequence[WayResult], left: Sequence[WayResult]) -> list[str]:
    """Return the ways whose only errors are that a connector for 12 V would carry 24 V."""
    names = [
        way.short
        for way in ways
        if way not in left and [rule for rule, _ in way.rules("error")] == ["connector-voltage"]
    ]
    if not names:
        return []
    return [f"{' and '.join(names)}: no error but 24 V on a connector for 12 V; another connector would clear it."]


def _of_the_rig(ways: Sequence[WayResult]) -> list[str]:
    """Return the errors that every way has: they are the rig's and not the way's."""
    found = [dict(way.rules("error")) for way in ways if way.fit == "fits"]
    shared = [rule for rule in found[0] if all(rule in rules for rules in found)]
    return [f"In every way: {', '.join(shared)}. These are the rig's own; mend them first."] if shared else []


def _words(left: Sequence[WayResult]) -> str:
    errors = left[0].count("error")
    names = " or ".join(way.title for way in left)
    tie = " (equal on everything computed)" if len(left) > 1 else ""
    if errors:
        return (
            f"NONE RECOMMENDED: every way has errors on this rig. The fewest: {names} ({_times(errors, 'error')})"
            f"{tie}. Mend those, and compare again."
        )
    return f"RECOMMENDED: {names}{tie}."


def _cautions(left: Sequence[WayResult]) -> list[str]:
    found = []
    for way in left:
        if way.tap_a:
            found.append(
                f"{way.short}: the lower battery feeds the trailer, so both must be fused at their terminals, "
                "and the joint between them must be one that can be reached."
            )
        if way.changes:
            unknown = sum(change.count for change in way.changes if not change.new)
            more = f"; {unknown} of them have no successor in the catalogue" if unknown else ""
            found.append(f"{way.short}: {sum(c.count for c in way.changes)} lamps are changed{more}.")
        if way.assumptions:
            found.append(f"{way.short}: {_times(len(way.assumptions), 'rating')} sized by need, not read on a part.")
    return found
