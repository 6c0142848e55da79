"""Rules on the voltage at lamps and loads: enough where they burn, none where they must be dark."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.catalogue.defaults import default
from wiregen.catalogue.lamps import LAMPS, LIGHT_EXPONENT
from wiregen.check.behaviour_rules import lamp_words
from wiregen.check.case import Case, Coupling, highest_row
from wiregen.check.feeds import brake_gain, bus_supply, low_supply_v, source_v
from wiregen.check.rule import FROM_COMPUTATION, OF_THE_LAMP, measured, rule
from wiregen.model.circuit import Battery, Lamp, Load
from wiregen.model.finding import Finding
from wiregen.model.rule import RuleInfo
from wiregen.model.study import Array
from wiregen.quantity import show

#: A lamp that carries less than this is dark, A.
_LIT_A: Final = 1e-3
#: A lamp with less than this across it is not even fed, V.
_NOTHING_V: Final = 0.1
#: Between the voltages of a 12 V system and those of a 24 V one, V.
_BETWEEN_V: Final = 18.0
_TOO_LOW: Final = "Use larger conductors, above all in the ground return, or a shorter run."
_LOST: Final = (
    "Use larger conductors, above all in the ground return, a shorter run, or LED lamps. Where the contact takes no "
    "larger conductor, let a thicker cable start at a splice right behind it."
)
_NEVER_ON: Final = (
    "The lamp is not fed at all: compare the relay's pick-up voltage and the converter's minimum input "
    "with what they get."
)
_FLOOR = default("lamp_drop_error")
_USUAL = default("lamp_drop_warn")
_GLOW = default("glow_v")


def consumers(coupling: Coupling) -> list[Lamp | Load]:
    """Return everything that is there to be fed: lamps first."""
    return [*coupling.circuit.of(Lamp), *coupling.circuit.of(Load)]


def rated_v(part: Lamp | Load) -> float:
    """Return the voltage a part is rated at, V."""
    return part.rated_v if isinstance(part, Lamp) else part.nominal_v


def lit_rows(coupling: Coupling, lamp: Lamp | Load) -> list[int]:
    """Return the rows in which a lamp should be lit and the behaviour table lights it."""
    looks = {row.controls: row for row in coupling.behaviour.rows if row.lamp == lamp.ref}
    is_lit = np.abs(coupling.study.current_a(lamp.ref)) >= _LIT_A
    # A lamp that should flash and carries nothing in any state of a corner has no lit half there: a coil or a
    # converter does not come in.
    alive = {point.corner for point, lit in zip(coupling.study.points, is_lit, strict=True) if lit}
    rows = []
    for index, point in enumerate(coupling.study.points):
        row = looks.get(point.controls)
        if row is None or row.wanted == frozenset({"dark"}) or row.actual == "dark":
            continue
        is_dark_half = row.actual == "flash" and not is_lit[index]
        if not (is_dark_half and point.corner in alive):
            rows.append(index)
    return rows


def other_type(lamp: Lamp, nominal_v: float) -> str:
    """Return the id of the same lamp for another voltage with its brackets; empty where the catalogue has none."""
    name = lamp.type_name.replace(f"-{lamp.nominal_v:g}v", f"-{nominal_v:g}v")
    return f" ({name})" if name in LAMPS and name != lamp.type_name else ""


def _low_advice(lamp: Lamp | Load, across_v: float) -> str:
    if abs(across_v) <= _NOTHING_V:
        return _NEVER_ON
    if isinstance(lamp, Lamp) and lamp.nominal_v > _BETWEEN_V > abs(across_v):
        return f"This is a {lamp.nominal_v:g} V lamp on 12 V: fit the 12 V type{other_type(lamp, 12.0)} of it."
    return _TOO_LOW


def _charge_advice(coupling: Coupling, lamp: Lamp | Load) -> str:
    """Return what a battery in the adapter may do about it: it is taken to rest, and a charged one gives more."""
    supply = bus_supply(coupling.circuit)
    if not isinstance(supply, Battery) or supply.zone != "adapter" or supply.voltage_v >= rated_v(lamp):
        return ""
    return (
        f" The adapter's battery is taken to rest at {show(supply.voltage_v, 'V')}: with a charger that keeps up with "
        "the lamps measure its voltage under load and state it as output of [adapter.supply]."
    )


def light_share(lamp: Lamp | Load, across_v: float) -> float | None:
    """Return the light of a filament lamp as a share of its rated light; None for anything else."""
    if not isinstance(lamp, Lamp) or lamp.technology != "filament" or across_v <= 0:
        return None
    return float((across_v / lamp.rated_v) ** LIGHT_EXPONENT)


def _light_words(lamp: Lamp | Load, across_v: float) -> str:
    share = light_share(lamp, across_v)
    return "" if share is None else f"; light {share:.0%}"


def _floor(case: Case, coupling: Coupling, lamp: Lamp | Load, channel: str, rows: list[int]) -> tuple[Array, str, str]:
    """Return the lowest voltage wanted in each of ``rows``, V, the source of the limit, and the limit in words."""
    if isinstance(lamp, Lamp) and lamp.min_v:
        # A regulated lamp holds its light down to the voltage it is made for, and then goes out.
        return np.full(len(rows), lamp.min_v), lamp.source, "the lowest it is made for"
    wanted_v = rated_v(lamp) * (brake_gain(coupling.circuit) if lamp.function == "brake" else 1.0)
    low_v = min(wanted_v, low_supply_v(coupling, channel, wanted_v))
    reference = np.array([low_v if coupling.study.points[row].corner.supply == "low" else wanted_v for row in rows])
    share = case.limits.lowest_lamp_share
    return reference * share, case.limits.lowest_lamp_source, f"{share:.0%} of {{reference}}"


@rule(
    RuleInfo(
        id="lamp-voltage",
        cure="sizes",
        harm="dark lamp",
        title="Every lamp that should burn gets enough voltage, and little is lost on the way",
        severity=f"error below {1 - _FLOOR.value:.0%} of the rated voltage; warning where more than "
        f"{_USUAL.value:.0%} is lost on the way",
        what="The voltage across each lamp and load in every state in which it should burn. The error is looked for at "
        "every corner, cold and hot, battery low and charging; the loss on the way is a design value for ordinary "
        "conditions and is looked for at the running voltage only, where a lamp has less than its rated voltage.",
        why=f"Light falls with the {LIGHT_EXPONENT:g}th power of the voltage: 5 % less voltage is 16 % less light, 15 "
        "% less is 42 %. An LED lamp holds its light down to the lowest voltage it is made for and then goes out.",
        formula=f"V lamp = V(a) - V(b) of the solved circuit; light = (V lamp / V rated)^{LIGHT_EXPONENT:g}; "
        "loss = V supply - V lamp",
        limit=f"At least {1 - _FLOOR.value:.0%} of the rated voltage; for an LED lamp its lowest working voltage. The "
        "law this is taken from asks for it with the engine running: with the battery low the share is counted from "
        "what the battery has, where no converter holds the voltage. Magnets behind a controller: of rated voltage "
        f"times gain. Loss: at most {_USUAL.value:.0%} of the rated voltage.",
        sources=(_FLOOR.source, _USUAL.source, "S35", OF_THE_LAMP),
        tighten="lowest_lamp_voltage (a share of the rated voltage) and lamp_drop_warning.",
    )
)
def lamp_voltage(case: Case) -> Iterator[Finding]:
    """Every lamp that should burn gets enough voltage, and not too much is lost on the way.

    The lowest voltage is a hard limit and holds at every corner; the usual drop is a design value for ordinary
    conditions and holds at the nominal corner.
    """
    for coupling in case.solved:
        for lamp in consumers(coupling):
            rows = lit_rows(coupling, lamp)
            if rows:
                yield from _too_low(case, coupling, lamp, rows) or _drop(case, coupling, lamp, rows)


def _channel(coupling: Coupling, lamp: Lamp | Load) -> str:
    return next(row.channel for row in coupling.behaviour.rows if row.lamp == lamp.ref)


def _too_low(case: Case, coupling: Coupling, lamp: Lamp | Load, rows: list[int]) -> list[Finding]:
    floors, source, reason = _floor(case, coupling, lamp, _channel(coupling, lamp), rows)
    across = coupling.study.across_v(lamp)[rows]
    worst = highest_row((floors - across) / floors)
    value, floor_v = float(across[worst]), float(floors[worst])
    if value >= floor_v:
        return []
    reason = reason.format(reference=show(floor_v / case.limits.lowest_lamp_share, "V"))
    return [
        measured(
            coupling,
            lamp,
            rows[worst],
            rule="lamp-voltage",
            where=f"{lamp.ref} {lamp_words(lamp)}",
            message=f"gets {show(value, 'V')}, at least {show(floor_v, 'V')} wanted ({reason})"
            f"{_light_words(lamp, value)}",
            value=value,
            limit=floor_v,
            unit="V",
            at_least=True,
            advice=_low_advice(lamp, value) + _charge_advice(coupling, lamp),
            source=source,
        )
    ]


def _noun(part: Lamp | Load) -> str:
    """Return what a part is called in a sentence: not everything that is fed is a lamp."""
    if isinstance(part, Lamp):
        return "the lamp"
    return "the magnets" if part.function == "brake" else "the load"


def _is_bright(lamp: Lamp | Load, across_v: float) -> bool:
    """Tell whether a lamp has its rated voltage or more: what is lost on the way is none of its light."""
    return isinstance(lamp, Lamp) and across_v >= lamp.rated_v


def _drop(case: Case, coupling: Coupling, lamp: Lamp | Load, rows: list[int]) -> list[Finding]:
    rows = [
        row for row in rows if coupling.nominal[row] and not _is_bright(lamp, float(coupling.study.across_v(lamp)[row]))
    ]
    if not rows:
        return []
    across = coupling.study.across_v(lamp)[rows]
    drops = source_v(coupling, _channel(coupling, lamp))[rows] - across
    worst = highest_row(drops)
    drop, allowed = float(drops[worst]), rated_v(lamp) * case.limits.lamp_drop_share
    if drop <= allowed:
        return []
    return [
        measured(
            coupling,
            lamp,
            rows[worst],
            rule="lamp-voltage",
            severity="warning",
            where=f"{lamp.ref} {lamp_words(lamp)}",
            message=f"loses {show(drop, 'V')} from the supply to {_noun(lamp)} and back, {show(allowed, 'V')} is usual"
            f"{_light_words(lamp, float(across[worst]))}",
            value=drop,
            limit=allowed,
            unit="V",
            advice=_LOST,
            source=case.limits.lamp_drop_source,
        )
    ]


@rule(
    RuleInfo(
        id="beyond-points",
        cure="nothing",
        harm="part",
        title="No lamp sees more voltage than it was measured at",
        severity="warning",
        what="Lamps given by measured points, in every state at every corner.",
        why="Above the last point its current is held, which is a guess: a lamp on resistors takes more.",
        formula="V lamp = V(a) - V(b) of the solved circuit",
        limit="The voltage of the last point.",
        sources=(FROM_COMPUTATION,),
        tighten="Measure one more point above the highest voltage of your rig.",
    )
)
def beyond_points(case: Case) -> Iterator[Finding]:
    """No lamp given by measured points sees more voltage than the last of them."""
    for coupling in case.solved:
        for lamp in coupling.circuit.of(Lamp):
            if not lamp.points:
                continue
            across = np.nan_to_num(coupling.study.across_v(lamp))
            row = highest_row(across)
            value, last_v = float(across[row]), lamp.points[-1][0]
            if value > last_v:
                yield measured(
                    coupling,
                    lamp,
                    row,
                    rule="beyond-points",
                    severity="warning",
                    where=f"{lamp.ref} {lamp_words(lamp)}",
                    message=f"gets {show(value, 'V')}, but its measured points end at {show(last_v, 'V')}; "
                    "its current is held at that of the last point",
                    value=value,
                    limit=last_v,
                    unit="V",
                    advice="Measure the lamp at this voltage too and add the point.",
                    source=FROM_COMPUTATION,
                )


@rule(
    RuleInfo(
        id="dark-voltage",
        cure="sizes",
        harm="dark lamp",
        title="A lamp that must be dark gets no voltage that could make it glow",
        severity="error for a service lamp in blackout; warning in other states",
        what="The voltage across each lamp in every state in which it must be dark and no switch or relay feeds it, at "
        "every corner. The behaviour table proves separation in logic; this proves it in volts.",
        why="Currents that share a ground lift it, and leakage through diodes, drivers and bleed resistors feeds lamps "
        "backwards. A few milliamps make an LED lamp glow, and in blackout any glow can be seen from afar.",
        formula="V lamp = V(a) - V(b) of the solved circuit; an LED lamp does not light in reverse",
        limit=f"{_GLOW.text}: {_GLOW.why}.",
        sources=(_GLOW.source,),
    )
)
def dark_voltage(case: Case) -> Iterator[Finding]:
    """A lamp that must be dark, and is so by the switches, gets less voltage than makes an LED glow."""
    for coupling in case.solved:
        dark = {
            (row.lamp, row.controls)
            for row in coupling.behaviour.rows
            if row.wanted == frozenset({"dark"}) and row.actual == "dark"
        }
        for lamp in coupling.circuit.of(Lamp):
            if CIRCUITS[lamp.function].is_light:
                rows = [r for r, p in enumerate(coupling.study.points) if (lamp.ref, p.controls) in dark]
                yield from _glow(coupling, lamp, rows)


def _glow(coupling: Coupling, lamp: Lamp, rows: list[int]) -> Iterator[Finding]:
    across = np.nan_to_num(coupling.study.across_v(lamp))
    forward = np.abs(across) if lamp.technology == "filament" else across
    blackout = [row for row in rows if coupling.study.points[row].controls.lighting == "blackout"]
    for some, is_blackout in ((blackout, True), (rows, False)):
        if not some:
            continue
        row = some[highest_row(forward[some])]
        value = float(forward[row])
        if value > _GLOW.value:
            yield measured(
                coupling,
                lamp,
                row,
                rule="dark-voltage",
                severity="error" if is_blackout else "warning",
                where=f"{lamp.ref} {lamp_words(lamp)}",
                message=f"must be dark and still gets {show(value, 'V')}; from about {_GLOW.text} an LED may glow",
                value=value,
                limit=_GLOW.value,
                unit="V",
                advice="Find the path: a shared ground that is too thin, a diode's leakage, or a bleed. "
                "Give the lamp a return of its own, or a resistor across it.",
                source=_GLOW.source,
            )
            return
