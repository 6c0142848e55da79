"""Rules on where the 12 V comes from: converters, step-downs, controllers, the centre tap."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import numpy.typing as npt

from wiregen.catalogue.defaults import default
from wiregen.check.case import Case, Coupling, highest_row
from wiregen.check.feeds import converters, filament_a
from wiregen.check.rule import NO_SOURCE, RIG_FILE, measured, rule
from wiregen.model.circuit import Battery, Conductor, Converter, Equaliser
from wiregen.model.finding import Finding
from wiregen.model.rule import RuleInfo
from wiregen.model.study import Array
from wiregen.quantity import show, whole_down

_INRUSH: Final = default("lamp_inrush_factor")
_DERATE_FROM: Final = default("converter_derate_from_c")
_DERATE: Final = default("converter_derate_per_k")
#: A converter whose input has less than this is not fed at all, V: rules on the feed have it.
_NOT_FED_V: Final = 1.0
#: A converter this near to its limit, as a share of it, is at its limit.
_AT_LIMIT: Final = 1e-6
#: Of capacity at the 20-hour rate.
_RATE: Final = "M-BATTERY"
#: What a time is told for where no capacity is stated, Ah.
_PER_AH: Final = 10.0


def _what(converter: Converter) -> str:
    return f"channel {converter.channel} gives" if converter.channel else "all channels together take"


def _derating(converter: Converter) -> float:
    """Return the share of its continuous output that a converter gives in its surroundings."""
    too_warm_k = max(0.0, converter.ambient_c - converter.derate_from_c) if converter.derate_per_k else 0.0
    return max(0.0, 1.0 - converter.derate_per_k * too_warm_k)


def continuous_a(coupling: Coupling, converter: Converter) -> Array | None:
    """Return what a converter may give for long at every row, A: less at hot corners; None where nobody says."""
    if converter.continuous_a is None:
        return None
    is_hot = np.array([point.corner.warmth == "hot" for point in coupling.study.points], dtype=bool)
    return converter.continuous_a * np.where(is_hot, _derating(converter), 1.0)


@rule(
    RuleInfo(
        id="supply-continuous",
        cure="nothing",
        harm="dark lamp",
        title="Every converter, step-down and controller stays within its continuous output",
        severity="error; warning where no continuous output is given",
        what="The output current of the supply, which is the sum of all its channels, and of every channel with a "
        "converter of its own, in every state at every corner; at hot corners against what is left at its ambient.",
        why="An overloaded converter switches off, and all lamps go dark together. The printed output holds for cool "
        "air, not for a closed box under a vehicle.",
        formula="limit = continuous × (1 - derating × (ambient - derate_from)) at hot corners, continuous at the "
        "others",
        limit=f"The continuous output stated in the rig; above {_DERATE_FROM.text} less by {_DERATE.value:.1%} a "
        "kelvin, unless the rig states its own.",
        sources=(RIG_FILE, _DERATE.source, NO_SOURCE),
        tighten="continuous, derate_from and derating of [adapter.supply]; ambient of [adapter]; channel rating.",
    )
)
def supply_continuous(case: Case) -> Iterator[Finding]:
    """The sum of all channels stays within the continuous output, hot too; so does each channel with a converter."""
    unrated: dict[str, Converter] = {}
    for coupling in case.solved:
        for converter in converters(coupling.circuit):
            limits = continuous_a(coupling, converter)
            if limits is None or converter.continuous_a is None:
                unrated[converter.ref] = converter
                continue
            current = np.abs(coupling.study.current_a(converter.ref))
            row = highest_row(current / np.maximum(limits, 1e-6))
            value, limit = float(current[row]), float(limits[row])
            if value > limit:
                hot = limit < converter.continuous_a
                share = f"{_derating(converter):.0%} of {show(converter.continuous_a, 'A')}"
                warm = f" ({share}, at {converter.ambient_c:g} °C)"
                yield measured(
                    coupling,
                    converter,
                    row,
                    rule="supply-continuous",
                    message=f"{_what(converter)} {show(value, 'A')}, {show(limit, 'A')} allowed{warm if hot else ''}",
                    value=value,
                    limit=limit,
                    advice="Use a larger converter, a cooler place, or lamps that take less."
                    if hot
                    else "Use a larger converter, or lamps that take less.",
                    source=_DERATE.source if hot else RIG_FILE,
                )
    for converter in unrated.values():
        yield Finding(
            rule="supply-continuous",
            severity="warning",
            where=f"{converter.ref} {converter.title}",
            message="no continuous output current is given, so the sum of the channels is not checked",
            advice="Read the continuous (not the peak) output on the label and state it.",
            source=NO_SOURCE,
            origin=converter.origin,
        )


@rule(
    RuleInfo(
        id="supply-limit",
        cure="nothing",
        harm="dark lamp",
        title="No converter runs at its current limit",
        severity="error",
        what="The output current of every converter against its current limit, in every state at every corner.",
        why="At its limit a converter lets its voltage fall: every lamp on the bus dims together, and one that folds "
        "back does not come up again before the load is taken off.",
        formula="limit = current_limit × (foldback + (1 - foldback) × V out / V set)",
        limit="current_limit of the rig; else the larger of peak and "
        f"{default('converter_current_limit_factor').value:g} × continuous.",
        sources=(RIG_FILE, default("converter_current_limit_factor").source),
        tighten="current_limit, peak and foldback of [adapter.supply] or of the channel.",
    )
)
def supply_limit(case: Case) -> Iterator[Finding]:
    """No converter reaches its current limit in any state at any corner."""
    for coupling in case.solved:
        for converter in converters(coupling.circuit):
            current = coupling.study.current_a(converter.ref)
            v_in, v_out = _input_v(coupling, converter), _output_v(coupling, converter)
            set_v = np.minimum(converter.output_v, converter.ratio * v_in)
            share = np.clip(v_out / np.maximum(set_v, 1e-3), 0.0, 1.0)
            limit = min(converter.limit_a, 1e9) * (converter.foldback + (1 - converter.foldback) * share)
            rows = np.flatnonzero((current >= limit * (1 - _AT_LIMIT)) & (current > 0))
            if not len(rows):
                continue
            row = int(rows[highest_row(-v_out[rows])])
            yield measured(
                coupling,
                converter,
                row,
                rule="supply-limit",
                message=f"reaches its current limit of {show(float(limit[row]), 'A')}: its output falls to "
                f"{show(float(v_out[row]), 'V')}",
                value=float(current[row]),
                limit=float(limit[row]),
                advice="Use a larger converter, or lamps that take less.",
                source=RIG_FILE,
            )


def _input_v(coupling: Coupling, converter: Converter) -> Array:
    return np.nan_to_num(coupling.study.voltage_v(converter.a) - coupling.study.voltage_v(converter.common))


def _output_v(coupling: Coupling, converter: Converter) -> Array:
    return np.nan_to_num(coupling.study.voltage_v(converter.b) - coupling.study.voltage_v(converter.common))


@rule(
    RuleInfo(
        id="supply-inrush",
        cure="nothing",
        harm="dark lamp",
        title="The converter can feed all its filament lamps when they are cold",
        severity="notice",
        what="What all filament lamps behind a converter ask for when they come on together, cold, against its current "
        "limit; in every state at every corner.",
        why="A converter that limits its current brings the lamps up slowly; one that shuts down instead leaves them "
        "dark. Which it does stands in its data sheet, not in the rig.",
        formula=f"I + {_INRUSH.value - 1:g} × current of the filament lamps",
        limit="The current limit, as in supply-limit.",
        sources=(_INRUSH.source, default("converter_current_limit_factor").source),
        tighten="current_limit and peak of [adapter.supply] or of the channel.",
    )
)
def supply_inrush(case: Case) -> Iterator[Finding]:
    """The cold filaments behind a converter ask for no more than its current limit, or the user is told."""
    for coupling in case.solved:
        for converter in converters(coupling.circuit):
            if not np.isfinite(converter.limit_a):
                continue
            total = np.abs(coupling.study.current_a(converter.ref))
            asked = total + (_INRUSH.value - 1) * np.minimum(filament_a(coupling, converter.channel), total)
            row = highest_row(asked)
            value = float(asked[row])
            if value > converter.limit_a:
                yield measured(
                    coupling,
                    converter,
                    row,
                    rule="supply-inrush",
                    severity="notice",
                    message=f"cold, its lamps ask for {show(value, 'A')} for some milliseconds, and it gives "
                    f"{show(converter.limit_a, 'A')}",
                    value=value,
                    limit=converter.limit_a,
                    advice="Ask the maker whether it limits its current and recovers by itself, or shuts down; try it "
                    "with all lamps before you rely on it.",
                    source=_INRUSH.source,
                )


@rule(
    RuleInfo(
        id="supply-input",
        cure="sizes",
        harm="dark lamp",
        title="Every converter that is fed gets an input voltage it works at",
        severity="error",
        what="The input voltage of every converter whose feed is live, in every state at every corner: the battery low "
        "is the worst at one end, charging at the other.",
        why="Below its minimum a converter switches off, and every lamp behind it is dark; above its maximum it is "
        "destroyed.",
        formula="V in = V(input) - V(common) of the solved circuit",
        limit="minimum_input and maximum_input of the rig; else "
        f"{default('converter_minimum_input_v').text} and {default('converter_maximum_input_v').text}.",
        sources=(RIG_FILE, default("converter_minimum_input_v").source),
        tighten="minimum_input and maximum_input of [adapter.supply]; low and charging of [vehicle.battery].",
    )
)
def supply_input(case: Case) -> Iterator[Finding]:
    """Every converter that is fed and asked for gets no less than its minimum input and no more than its maximum."""
    for coupling in case.solved:
        for converter in converters(coupling.circuit):
            v_in = _input_v(coupling, converter)
            gate = converter.gate
            asked = np.array([gate is None or gate.is_open_to(pulled) for pulled in coupling.study.pulled], dtype=bool)
            yield from _too_little(coupling, converter, v_in, np.flatnonzero(asked & (v_in > _NOT_FED_V)))
            row = highest_row(v_in)
            value = float(v_in[row])
            if value > converter.maximum_input_v:
                yield measured(
                    coupling,
                    converter,
                    row,
                    rule="supply-input",
                    message=f"gets {show(value, 'V')} in, {show(converter.maximum_input_v, 'V')} is the most it works "
                    "at",
                    value=value,
                    limit=converter.maximum_input_v,
                    unit="V",
                    advice="Use a converter for the vehicle's voltage with its charging and surges.",
                    source=RIG_FILE,
                )


def _too_little(coupling: Coupling, converter: Converter, v_in: Array, rows: npt.NDArray[np.intp]) -> Iterator[Finding]:
    if not len(rows):
        return
    row = int(rows[highest_row(-v_in[rows])])
    value = float(v_in[row])
    if value < converter.minimum_input_v:
        yield measured(
            coupling,
            converter,
            row,
            rule="supply-input",
            message=f"gets {show(value, 'V')} in and needs {show(converter.minimum_input_v, 'V')}: it is off",
            value=value,
            limit=converter.minimum_input_v,
            unit="V",
            at_least=True,
            advice="Use a thicker feed, or a converter that works down to a lower voltage.",
            source=RIG_FILE,
        )


@rule(
    RuleInfo(
        id="centre-tap",
        cure="nothing",
        harm="part",
        title="What a centre tap takes is made good by an equaliser",
        severity="warning",
        what="The current out of the centre of the battery pair at the running voltage, in its worst state, against "
        "the rating of the equaliser.",
        why="The tap empties the lower battery alone; the alternator then overcharges the upper one and undercharges "
        "the lower. Repeated, it kills the weaker one.",
        formula="imbalance in Ah per hour = I lower - I upper; an equaliser gives I to the tap and takes "
        "I / (2 × efficiency) from the pair",
        limit="The rating of the equaliser; 0 A without one.",
        sources=("S55",),
        tighten="equaliser of [adapter.supply].",
    )
)
def centre_tap(case: Case) -> Iterator[Finding]:
    """The current of a centre tap at nominal is within the rating of the equaliser, which without one is nothing."""
    for coupling in case.solved:
        tap = next((c for c in coupling.circuit.of(Conductor) if c.circuit == "supply" and c.zone == "vehicle"), None)
        if tap is None:
            continue
        equaliser = next(iter(coupling.circuit.of(Equaliser)), None)
        limit = (equaliser.continuous_a or 0.0) if equaliser else 0.0
        value, row = coupling.worst(tap.ref, nominal=True)
        if value <= max(limit, 1e-3):
            continue
        lost_ah = float(coupling.study.imbalance_a()[row])
        have = f"the equaliser makes good {show(limit, 'A')}" if equaliser else "no equaliser makes it good"
        yield measured(
            coupling,
            equaliser or tap,
            row,
            rule="centre-tap",
            severity="warning",
            message=f"the tap takes {show(value, 'A')} and {have}: the lower battery loses {show(lost_ah, 'Ah')} an "
            "hour more than the upper",
            value=value,
            limit=limit,
            advice="Fit an equaliser rated for the tap's current, or a step-down converter on the pair.",
            source="S55",
        )


@rule(
    RuleInfo(
        id="battery-charge",
        cure="nothing",
        harm="dark lamp",
        title="A battery of the adapter's own is charged",
        severity="notice",
        what="The battery that feeds the adapter's 12 V bus, and the most it gives at its resting voltage: a rig file "
        "has no charger, so nothing in it charges this battery.",
        why="It feeds every lamp and is empty after some hours; then the trailer is dark, and an empty battery freezes "
        "and dies. The vehicle's alternator must not charge it directly: it gives twice its voltage.",
        formula="hours = capacity / I of the solved circuit, rounded down",
        limit="None. The printed capacity is that at a twentieth of it in amps, new and warm; at more it gives less.",
        sources=(_RATE,),
        tighten="capacity of [adapter.supply].",
    )
)
def battery_charge(case: Case) -> Iterator[Finding]:
    """Nothing in a rig charges a battery in the adapter: how long it lasts at the most."""
    worst: tuple[float, Coupling, Battery, int] | None = None
    for coupling in case.solved:
        for battery in coupling.circuit.of(Battery):
            if battery.zone == "adapter":
                amps, row = coupling.worst(battery.ref, nominal=True)
                if worst is None or amps > worst[0]:
                    worst = amps, coupling, battery, row
    if worst is None:
        return
    amps, coupling, battery, row = worst
    yield Finding(
        rule="battery-charge",
        severity="notice",
        where=f"{battery.ref} {battery.title}",
        message=f"nothing in this file charges it{_lasts(battery, amps)}",
        state=coupling.study.points[row].words,
        trailer=coupling.circuit.trailer,
        advice="Charge it with a charger made for the vehicle's voltage in and 12 V out, or after each trip; never "
        "straight from 24 V. Measure its voltage before each trip; with a charger on it state what it then has as "
        "output.",
        source=_RATE,
        origin=battery.origin,
    )


def _lasts(battery: Battery, amps: float) -> str:
    if amps <= 0:
        return ""
    stated = battery.capacity_ah
    hours = (stated or _PER_AH) / amps
    time = f"{whole_down(hours * 10) / 10:g} h" if hours >= 1 else f"{whole_down(hours * 60)} min"
    if stated:
        return f"; its {show(stated, 'Ah')} last {time} at the most at {show(amps, 'A')}"
    return f"; at {show(amps, 'A')} every {show(_PER_AH, 'Ah')} of its capacity last {time} at the most"
