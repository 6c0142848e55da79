"""A comparison in words: cells and sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from wiregen.model.comparison import LampLight, ResistorRow, WayResult
from wiregen.quantity import show

WHAT_COLUMNS_MEAN: Final = (
    "Light: of the lamp with the least and of the one with the most, as a share of its rated light, over every setting "
    "with the battery low, running and charging, cold and hot; an LED lamp below the voltage it is made for counts as "
    "off. Heat: in box and wires, in the worst setting. 24 V A: highest current out of the 24 V side, with what an "
    "equaliser takes. Tap A: highest current in the wire from the centre tap. An equaliser makes that good out of the "
    "24 V side, where it is counted already: do not add the two. Ah/h: imbalance, what the lower battery loses more "
    "than the upper in the worst setting, as long as that lasts. Parts: of vehicle and adapter, without the trailers'. "
    "Err. and Warn.: errors and warnings of the same check as 'wiregen check'."
)


def light_text(light: LampLight | None) -> str:
    """Return a light as a whole per cent; a dash where none is known."""
    return "–" if light is None or light.share is None else f"{light.share:.0%}"


def light_range(way: WayResult) -> str:
    """Return the least and the most light, ``74–116%``."""
    if way.lowest is None or way.highest is None or way.lowest.share is None or way.highest.share is None:
        return "–"
    return f"{100 * way.lowest.share:.0f}–{way.highest.share:.0%}"


def _amps(value: float) -> str:
    return f"{value:.0f}" if value >= 100 else f"{value:.1f}"


def mark(way: WayResult, recommended: Sequence[str]) -> str:
    """Return ``>`` for a recommended way, ``*`` for the way the rig file is."""
    return (">" if way.id in recommended else "") + ("*" if way.is_present else "")


def rules_text(way: WayResult, severity: str) -> str:
    """Return the rules that found something: ``lamp-voltage ×4, centre-tap``."""
    return ", ".join(rule + (f" ×{count}" if count > 1 else "") for rule, count in way.rules(severity))


def parts_text(way: WayResult) -> str:
    """Return the parts by kind."""
    return ", ".join(f"{count} {kind if count != 1 else kind.removesuffix('s')}" for kind, count in way.parts.items())


def heat_text(way: WayResult) -> str:
    """Return the heat by kind of part, the most first."""
    return ", ".join(f"{kind} {show(watts, 'W', 2)}" for kind, watts in way.heat_places[:4])


def lamp_sentence(light: LampLight) -> str:
    """Return where and when a lamp has the light it has."""
    share = light_text(light)
    return f"{share} at {show(light.volts_v, 'V')}: {light.lamp}, {light.trailer}; {light.state}"


def behind_sentences(way: WayResult) -> Iterator[str]:
    """Yield what the changed lamps do behind a 12 V vehicle, lamps that do alike together."""
    grouped: dict[str, list[str]] = {}
    for light in way.behind_12v:
        what = "light not known" if light.share is None else f"{light.share:.0%} light"
        dark = ", below the voltage it is made for" if light.share == 0 else ""
        grouped.setdefault(f"{what} at {show(light.volts_v, 'V')}{dark}", []).append(light.lamp)
    for what, lamps in grouped.items():
        yield f"{what}: {'; '.join(lamps)}"


def resistor_sentence(row: ResistorRow) -> str:
    """Return a resistor with its heat and what its lamps get."""
    together = f"{show(row.together_v, 'V')} on {'its lamp' if row.lamps == 1 else f'{row.lamps} lamps together'}"
    alone = "" if row.lamps == 1 else f", {show(row.alone_v, 'V')} on one left alone (rated {show(row.rated_v, 'V')})"
    return f"{row.channel}: {show(row.resistance_ohm, 'ohm')}, {show(row.heat_w, 'W')} of heat; {together}{alone}"


def facts(way: WayResult) -> Iterator[tuple[str, str]]:
    """Yield (word, sentence) of everything there is to say of a way, in the order to read it."""
    if way.fit == "no":
        for reason in way.why_not:
            yield "not here", reason
        return
    for severity in ("error", "warning"):
        if way.count(severity):
            yield f"{severity}s", rules_text(way, severity)
    if way.untrusted:
        yield "not solved", f"{way.untrusted} of {way.states + way.untrusted} operating points"
    if way.lowest is not None:
        yield "least light", lamp_sentence(way.lowest)
    yield "heat", f"{show(way.heat_w, 'W', 2)} ({heat_text(way)}); {way.heat_state}"
    yield "parts", parts_text(way)
    yield from _others(way)
    for row in way.resistors:
        yield "resistor", resistor_sentence(row)
    for note in way.notes:
        yield "note", note
    for change in way.changes:
        new = change.new or "no equivalent in the catalogue"
        note = f" ({change.note})" if change.note else ""
        yield "change", f"{change.trailer}: {change.count} × {change.old} ({change.function}) to {new}{note}"
    for entry in way.assumptions:
        yield "assumed", f"{entry.name} {entry.text} for {', '.join(entry.where)}: {entry.why} [{entry.source}]"


def _others(way: WayResult) -> Iterator[tuple[str, str]]:
    """Yield what a way does to brakes, trailer and other towing vehicles."""
    if way.brake_words:
        yield "brakes", way.brake_words
    yield "trailer", way.trailer_words
    yield "others", way.other_words
    for words in behind_sentences(way):
        yield "12 V car", words


def numbers(way: WayResult) -> tuple[str, ...]:
    """Return what every table tells of a way: errors, warnings, light, heat, current, imbalance, parts."""
    return (
        str(way.count("error")),
        str(way.count("warning")),
        light_range(way),
        f"{way.heat_w:.0f}",
        _amps(way.from_24v_a),
        _amps(way.tap_a) if way.tap_a else "",
        f"{way.imbalance_ah_per_h:.1f}",
        str(way.part_count),
    )
