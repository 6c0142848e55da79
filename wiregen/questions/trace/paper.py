"""A trace for a terminal and for other programs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from typing import Any, Final

from wiregen.model.behaviour import Look
from wiregen.paper.safe_text import clean
from wiregen.paper.words import wrap
from wiregen.quantity import show
from wiregen.questions.trace.record import Effect, Served, Step, Trace, TracedWay, TrailerTrace

_LABEL: Final = 9
_ARROW: Final = " → "
_LOOKS: Final[dict[Look, str]] = {"steady": "", "flash": " (flashes)", "dark": " (dead)"}
#: Settings that one line names before it counts the others.
_MOST: Final = 8
#: Lines of a whole trace above which the further trailers are told in short.
_LONGEST: Final = 40
#: Steps of a branch that stands in one line with others as short.
_ENDS: Final = 2
#: What holds a token together while lines are broken.
_HELD: Final = "\N{NO-BREAK SPACE}"
_SHORT: Final = ("Break", "DANGER")
_Tokens = tuple[str, ...]


def trace_data(trace: Trace) -> dict[str, Any]:
    """Return a trace as plain data, key for key."""
    return asdict(trace)


def trace_text(trace: Trace, width: int = 80) -> str:
    """Return a trace as plain text, no line wider than ``width`` columns (80 at least).

    Args:
        trace: What to print.
        width: Columns of the terminal.
    """
    width = max(width, 80)
    lines = _text(trace, width, short=False)
    if len(lines) > _LONGEST and len(trace.trailers) > 1:
        lines = _text(trace, width, short=True)
    return "".join(line.replace(_HELD, " ").rstrip() + "\n" for line in lines)


def _text(trace: Trace, width: int, *, short: bool) -> list[str]:
    """Return the lines; ``short`` leaves the ways of all trailers but the first to ``--trailer``."""
    lines = wrap(f"{clean(trace.title)}  (file code {trace.digest})", width)
    lines += wrap(f"{clean(trace.mark)}: {clean(trace.what)}", width)
    first: dict[str, list[str]] = {}
    for one in trace.trailers:
        lines += ["", *wrap(f"WITH {clean(one.trailer)}", width)]
        rows = {label: found for label, found in _rows(trace, one, width) if found}
        same = [label for label, found in rows.items() if first.get(label) == found]
        told = [label for label in rows if label not in same and (not first or not short or label in _SHORT)]
        for label in told:
            lines += [f"{label if not number else '':<{_LABEL}}{line}" for number, line in enumerate(rows[label])]
        if first and short:
            lines += wrap(f"Its ways: wiregen trace RIG {clean(trace.mark)} --trailer '{clean(one.trailer)}'", width)
        elif same:
            lines += wrap(f"{', '.join(same)}: as with {clean(trace.trailers[0].trailer)}.", width)
        first = first or rows
    return [*lines, "Advice only. Local codes and qualified people have the last word."]


def _rows(trace: Trace, one: TrailerTrace, width: int) -> Iterator[tuple[str, list[str]]]:
    """Yield the label and the lines of every paragraph."""
    room = width - _LABEL
    mark = _hold(trace.mark)
    yield "Current" if one.is_return else "Live", wrap(_live(one), room, "  ")
    direct = [served for served in (*one.coils, *one.loads) if served.serves != "works"]
    if one.is_return:
        # Told from the mark outwards, so that what many loads share stands once.
        ways = _unique((_hold(s.mark), *_before(way, mark))[::-1] for s in direct for way in s.backs)
        yield "From", [line.replace("→", "←") for line in _lines(_tree(ways), room)]
        back = _braid(_unique(_after(way, mark) for served in direct for way in served.backs))
    else:
        feeding = [served for served in direct if served.serves != "back"]
        onward = [served for served in feeding if served.serves == "feeds"]
        ways = [way for way in _unique(_before(way, mark) for s in feeding for way in s.feeds) if way[1:]]
        yield "From", _lines(_whole(_braid(ways)), room)
        yield "To", _lines(_tree(_unique(_after(way, mark, s) for s in onward for way in s.feeds)), room)
        for relays in dict.fromkeys(served.relays for served in one.loads if served.serves == "works"):
            worked = [served for served in one.loads if served.relays == relays]
            ways = _unique((*_tokens(way.steps), _hold(s.words)) for s in worked for way in s.feeds)
            yield f"by {'+'.join(relays)}"[: _LABEL - 1], _lines(_tree(ways), room)
        # What relays bring back is told where nothing else is: it ends in the same ground.
        loads = [(_hold(s.mark), _unique(_tokens(way.steps) for way in s.backs)) for s in one.loads or one.coils]
        back = _ground(loads)
    yield "Back", _lines(back[:1], room)
    yield "Ground", _lines(back[1:], room)
    if any(effect.is_brake and effect.kind in ("out", "partly") for effect in one.effects):
        yield "DANGER", wrap(f"If it {_opens(trace)}, the trailer's electric brakes do not work.", room, "  ")
    yield "Break", wrap(_break(trace, one), room, "  ")


# --- what is said ---


def _live(one: TrailerTrace) -> str:
    """Return when it is live: what is always so, or the settings, the simplest first."""
    if one.count == 0:
        return f"never, in any of {one.settings} control settings"
    if {look for _, look in one.live} == {"steady"} and not one.never:
        return "in every control setting"
    told = [f"{_setting(words)}{_LOOKS[look]}" for words, look in one.live if words != "all off" or look != "dark"]
    more = f"; and {len(told) - _MOST} more" if len(told) > _MOST else ""
    never = f"; never with {', '.join(one.never)}" if one.never else ""
    return f"{'; '.join(told[:_MOST])}{more}{never}: {one.count} of {one.settings} control settings"


def _setting(words: str) -> str:
    return words.replace(", ", " + ")


def _opens(trace: Trace) -> str:
    if trace.what.startswith("fuse"):
        return "blows"
    return "burns out" if trace.what.endswith((" lamp", " lamps")) else "opens"


#: What is said of each kind of effect.
_KINDS: Final = {
    "out": "out: {}",
    "on": "ON where it was off: {}",
    "partly": "out at times: {}",
    "other": "changed: {}",
}


def _break(trace: Trace, one: TrailerTrace) -> str:
    """Return what goes out when it opens."""
    by_kind: dict[str, list[Effect]] = {}
    for effect in one.effects:
        by_kind.setdefault(effect.kind, []).append(effect)
    told = [_KINDS[kind].format(", ".join(map(_effect, effects))) for kind, effects in by_kind.items()]
    told = told or ["nothing goes out: there is another way, or no lamp or load hangs on it"]
    if one.dead:
        told.append(f"contacts dead behind it: {', '.join(map(clean, one.dead))}")
    if one.more:
        told.append("not every way was followed: there are very many")
    return f"If it {_opens(trace)}, {'; '.join(told)}."


def _effect(effect: Effect) -> str:
    if effect.kind == "out":
        return clean(effect.words)
    more = f" and {len(effect.settings) - 1} more settings" if len(effect.settings) > 1 else ""
    return f"{clean(effect.words)} with {_setting(effect.settings[0])}{more}"


# --- ways ---


def _hold(text: str) -> str:
    """Return a text that no line break parts."""
    return clean(text).replace(" ", _HELD)


def _token(step: Step) -> str:
    """Return a step in a few signs: ``W9 14 AWG BK``, ``F3 20 A``."""
    rating = show(step.rating_a, "A") if step.rating_a is not None else ""
    if step.kind == "metal":
        return _hold(f"{step.mark} chassis" if "chassis" in step.words else step.words or step.mark)
    return _hold(" ".join(filter(None, (step.mark, step.size, step.colour, rating))))


def _tokens(steps: Iterable[Step]) -> _Tokens:
    return tuple(map(_token, steps))


def _before(way: TracedWay, mark: str) -> _Tokens:
    """Return a way up to the mark; all of it where the mark is its end."""
    return (*_tokens(way.steps[: way.at]), mark) if way.at is not None else _tokens(way.steps)


def _after(way: TracedWay, mark: str, served: Served | None = None) -> _Tokens:
    """Return a way from the mark on, to what it serves."""
    steps = way.steps[way.at or 0 :]
    own = bool(steps) and _hold(steps[0].mark) == mark
    end = (_hold(served.words),) if served else ()
    return (_token(steps[0]) if own else mark, *_tokens(steps[own:]), *end)


def _unique(ways: Iterable[_Tokens]) -> list[_Tokens]:
    return list(dict.fromkeys(ways))


def _shared(ways: Sequence[_Tokens]) -> int:
    """Return how many tokens all ways begin with; no way is used up."""
    count = 0
    while all(len(way) > count + 1 for way in ways) and len({way[count] for way in ways}) == 1:
        count += 1
    return count


def _braid(ways: Sequence[_Tokens]) -> list[str]:
    """Return ways that begin and end alike as lines: what they share once, what differs side by side."""
    if len(ways) < 2:
        return [_ARROW.join(way) for way in ways]
    head = _shared(ways)
    rest = [way[head:] for way in ways]
    tail = _shared([way[::-1] for way in rest])
    lines = [_ARROW.join(ways[0][:head]), f"{len(ways)} ways side by side:"]
    lines += [f"  {_ARROW.join(way[: len(way) - tail])}" for way in rest]
    return [*lines, f"→ {_ARROW.join(ways[0][len(ways[0]) - tail :])}"] if tail else lines


def _whole(lines: Sequence[str]) -> list[str]:
    """Return a braid without the line that its shared beginning leaves empty."""
    return [line for line in lines if line]


def _tree(ways: Sequence[_Tokens], depth: int = 0) -> list[str]:
    """Return ways that begin alike and end apart as lines, each branch under where it leaves."""
    indent = "  " * depth + "→ " * (depth > 0)
    if len(ways) < 2:
        return [indent + _ARROW.join(way) for way in ways]
    head = _shared(ways)
    groups: dict[str, list[_Tokens]] = {}
    for way in ways:
        groups.setdefault(way[head], []).append(way[head:])
    if not head:
        return [line for group in groups.values() for line in _tree(group, depth)]
    # Ends of a step or two stand in one line.
    short = [_ARROW.join(group[0]) for group in groups.values() if len(group) == 1 and len(group[0]) <= _ENDS]
    long = [group for group in groups.values() if len(group) > 1 or len(group[0]) > _ENDS]
    branches = [f"{'  ' * (depth + 1)}→ {'; '.join(short)}"] if short else []
    branches += [line for group in long for line in _tree(group, depth + 1)]
    return [indent + _ARROW.join(ways[0][:head]), *branches]


def _ground(starts: Sequence[tuple[str, Sequence[_Tokens]]]) -> list[str]:
    """Return ways back from several loads: each load's own part and what all share, then the braid."""
    every = [way for _, ways in starts for way in ways]
    if not every:
        return []
    meets = next((token for token in every[0] if all(token in way for way in every)), "")
    parts = [
        _ARROW.join((name, *way))
        for name, ways in starts
        for way in _unique(way[: way.index(meets)] if meets else way for way in ways)
    ]
    shared = _braid(_unique(way[way.index(meets) :] for way in every)) if meets else []
    own = "; ".join(parts)
    if not shared:
        return [own]
    return [f"{own}{'; all' if len(parts) > 1 else ''}{_ARROW}{shared[0]}" if shared[0] else own, *shared[1:]]


def _lines(paragraphs: Iterable[str], room: int) -> list[str]:
    return [line for text in paragraphs for line in wrap(text, room, " " * (len(text) - len(text.lstrip()) + 4))]
