"""The rule on the ground return that lamps share."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import numpy as np

from wiregen.catalogue.defaults import default
from wiregen.catalogue.lamps import LIGHT_EXPONENT
from wiregen.check.case import Case, Coupling, highest_row
from wiregen.check.feeds import bus_supply
from wiregen.check.rule import RIG_FILE, measured, rule
from wiregen.model.circuit import Battery, Conductor, Converter, Lamp
from wiregen.model.finding import Finding, Severity
from wiregen.model.rule import RuleInfo
from wiregen.model.study import Array
from wiregen.quantity import show

_TARGET: Final = default("ground_return_target_ohm")
_ERROR: Final = default("ground_return_error_ohm")
_WARN_V: Final = default("ground_return_error_v")
#: Lost in the return alone: with as much in the feed, nearly nothing is left of the 15 % that the law allows, V.
_ERROR_V: Final = default("ground_return_most_v")
#: Below this current a resistance cannot be told from the voltage it makes, A.
_LEAST_A: Final = 0.05


def _mohm(ohm: float) -> str:
    return show(ohm * 1000, "mohm")


@rule(
    RuleInfo(
        id="ground-return",
        cure="sizes",
        harm="dark lamp",
        title="The ground return that lamps share has a small resistance",
        severity=f"error above {_mohm(_ERROR.value)} where they lose more than {_ERROR_V.text}, warning from "
        f"{_WARN_V.text}; notice above {_mohm(_TARGET.value)}",
        what="The return from the trailer's ground splice to the minus of what feeds the lamps, with every current in "
        "it, in every state at every corner: aged contacts and warm copper are the worst.",
        why="Stop lamps share a ground with tail lamps: what one loses there all lose, and a bad ground makes lamps "
        "glow with the wrong control. Most faults of trailer lighting are poor grounds.",
        formula="R = (V ground splice - V minus of the supply) / sum of the currents into the splice; light lost = "
        f"1 - (V lamp / (V lamp + V lost))^{LIGHT_EXPONENT:g}",
        limit=f"Target {_mohm(_TARGET.value)}, which no long lead reaches: above it, it is a notice with the figure to "
        f"measure. {_mohm(_ERROR.value)} is ten times that; it is a warning where it matters, that is with the "
        f"{_WARN_V.text} it loses at 10 A, and an error with {_ERROR_V.text}, a tenth of 12 V.",
        sources=(_TARGET.source, _ERROR.source, "S57", RIG_FILE),
        tighten="ground_return: a resistance that is an error whatever it loses.",
    )
)
def ground_return(case: Case) -> Iterator[Finding]:
    """The shared return of a trailer has no more than the target, or is named; it is an error where it loses much."""
    for coupling in case.solved:
        volts, amps = _lost_v(coupling), _return_a(coupling)
        rows = np.flatnonzero((amps > _LEAST_A) & np.isfinite(volts))
        if not len(rows):
            continue
        row = int(rows[highest_row(np.abs(volts[rows]))])
        lost = abs(float(volts[row]))
        ohm = lost / float(amps[row])
        severity: Severity = "notice"
        limit = _TARGET.value
        given = case.limits.ground_return_ohm
        if ohm > (given or _ERROR.value) and (given is not None or lost > _WARN_V.value):
            severity = "error" if given is not None or lost > _ERROR_V.value else "warning"
            limit = given or _ERROR.value
        if ohm > limit:
            source = _TARGET.source if severity == "notice" else f"{_TARGET.source},{_ERROR.source}"
            yield _finding(coupling, row, ohm, lost, limit, severity, RIG_FILE if limit == given else source)


#: What returns comes from the converters when they give at least this share of it: the rest is leaks and round-off.
_ALL: Final = 0.999


def _finding(
    coupling: Coupling, row: int, ohm: float, lost: float, limit: float, severity: Severity, source: str
) -> Finding:
    allowed = f"{_mohm(limit)} {'is the target' if severity == 'notice' else 'allowed'}"
    splice = next(c for c in coupling.circuit.of(Conductor) if c.a == f"{coupling.outlet}:ground")
    found = measured(
        coupling,
        splice,
        row,
        rule="ground-return",
        severity=severity,
        where=f"ground of {coupling.circuit.trailer}",
        message=f"from the trailer's ground splice back there are {_mohm(ohm)}, "
        f"{allowed}; {show(lost, 'V')} are lost there{_dimmed(coupling, row, lost)}",
        value=ohm,
        limit=limit,
        unit="ohm",
        advice="Measure it with these lamps on. A thicker or second ground conductor lowers it; keep ground contacts "
        "and bolts clean.",
        source=source,
    )
    # A target is no limit: how far above it one is says nothing.
    return replace(found, margin=None) if severity == "notice" else found


def _dimmed(coupling: Coupling, row: int, lost: float) -> str:
    """Say which filament lamps the loss dims, and by how much at the most."""
    lit = []
    for lamp in coupling.circuit.of(Lamp):
        volts = float(coupling.study.across_v(lamp)[row])
        if lamp.technology == "filament" and volts > lost:
            lit.append((1 - (volts / (volts + lost)) ** LIGHT_EXPONENT, lamp.ref))
    if not lit:
        return ""
    return f", up to {max(lit)[0]:.0%} of the light of {', '.join(ref for _, ref in lit)}"


def _lost_v(coupling: Coupling) -> Array:
    """Return the voltage from the trailer's ground splice to the minus of what feeds its lamps, V."""
    study, terminal = coupling.study, f"{coupling.outlet}:ground"
    if terminal not in coupling.circuit.terminals:
        return np.full(len(study.points), np.nan)
    supply = bus_supply(coupling.circuit) if coupling.circuit.of(Converter) or _own_battery(coupling) else None
    minus = coupling.circuit.reference
    if isinstance(supply, Converter):
        minus = supply.common
    elif common := _common_of_channels(coupling):
        minus = common
    elif isinstance(supply, Battery):
        minus = supply.b
    return study.voltage_v(terminal) - study.voltage_v(minus)


def _common_of_channels(coupling: Coupling) -> str:
    """Return the minus that the converters of the channels share, where they feed all that returns; else nothing."""
    converters = [converter for converter in coupling.circuit.of(Converter) if converter.channel]
    commons = {converter.common for converter in converters}
    given_a = np.sum([coupling.study.current_a(converter.ref) for converter in converters], axis=0)
    all_of_it = bool(np.all(given_a >= _ALL * _return_a(coupling)))
    return commons.pop() if len(commons) == 1 and all_of_it else ""


def _own_battery(coupling: Coupling) -> bool:
    return any(battery.zone == "adapter" for battery in coupling.circuit.of(Battery))


def _return_a(coupling: Coupling) -> Array:
    """Return the current into the trailer's ground splice, A."""
    total = np.zeros(len(coupling.study.points))
    for wire in coupling.circuit.of(Conductor):
        if wire.stretch == "splice-lamp" and wire.b == f"{coupling.outlet}:ground":
            total += coupling.study.current_a(wire.ref)
    return np.abs(total)
