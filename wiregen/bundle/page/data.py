"""What the page's script reads: every state, packed so that a page with all of them stays small.

Volts are whole hundredths, amps whole thousandths; a missing value is null. Readings that occur in many states stand
once, in ``spans``, and states name them by number.
"""

from __future__ import annotations

import json
from typing import Any

from wiregen.model.live import LivePage, LiveSheets, LiveState
from wiregen.model.reading import Reading, Span
from wiregen.model.state import CONTROLS, Control, Position
from wiregen.paper.outward import fixed, steps

#: First letters of the conditions of a terminal; what a lamp shows in the order the script counts.
CONDITIONS = {"live": "L", "return": "R", "dead": "D", "floating": "F"}
SHOWS = ("dark", "dim", "lit", "bright")


def page_data(page: LivePage) -> dict[str, Any]:
    """Return the page as plain data.

    Keys: ``controls`` (name and values of each control, in the order in which settings are counted: the last one
    fastest), ``trailers`` (each with ``rows``, ``terminals``, ``parts``, ``lamps``, ``spans`` and ``states``).
    """
    controls = [(control.name, _values(control, positions)) for control, positions in controls_of(page)]
    return {"controls": controls, "trailers": [_trailer(one) for one in page.trailers]}


def controls_of(page: LivePage) -> list[tuple[Control, list[Position]]]:
    """Return the controls that do something, each with the positions that do, as ``every_controls`` counts them."""
    used = [(control, [p for p in control.positions if p.signal in page.signals]) for control in CONTROLS]
    return [(control, positions) for control, positions in used if positions]


def _values(control: Control, positions: list[Position]) -> list[str]:
    """Return the values of a control in words, rest first."""
    values = (control.rest, *(position.value for position in positions))
    return [value if isinstance(value, str) else "on" if value else "off" for value in values]


def json_text(page: LivePage) -> str:
    """Return the data as JSON that may stand inside a script element: no character of it can end one."""
    text = json.dumps(page_data(page), ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _trailer(one: LiveSheets) -> dict[str, Any]:
    table = one.table
    circuit = table.circuit
    row = {name: number for number, name in enumerate(circuit.terminals)}
    spans: dict[tuple[Any, ...], int] = {}
    lamps = list(table.states[0].shows)
    return {
        "name": circuit.trailer,
        "rows": [list(pair) for pair in table.rows],
        "terminals": list(circuit.terminals),
        "parts": [[element.ref, row[element.a]] for element in circuit.elements],
        "lamps": lamps,
        "states": [_state(state, lamps, spans, [e.ref for e in circuit.elements]) for state in table.states],
        "spans": [list(span) for span in spans],
    }


def _state(state: LiveState, lamps: list[str], spans: dict[tuple[Any, ...], int], refs: list[str]) -> dict[str, Any]:
    known = [_packed(reading) for reading in state.readings.readings]
    packed: dict[str, Any] = {
        "w": state.state.words,
        "c": "".join(CONDITIONS[condition] for condition in state.conditions),
        "v": [_scaled(value, 100) for value in state.volts_v],
        "a": [_scaled(value, 1000) for value in state.amps_a],
        "on": [number for number, ref in enumerate(refs) if ref in state.working],
        "l": [SHOWS.index(state.shows[lamp]) for lamp in lamps],
        "r": [spans.setdefault(entry, len(spans)) for entry in known],
    }
    if state.trouble:
        packed["t"] = state.trouble
    return packed


def _packed(reading: Reading) -> tuple[Any, ...]:
    return (*_span(reading.volts_v, 100), *_span(reading.amps_a, 1000), int(reading.floats))


def _span(span: Span, scale: int) -> tuple[int | None, ...]:
    return (_scaled(span.nominal, scale), *range_ends(span.lowest, span.highest, scale))


def range_ends(low: float | None, high: float | None, scale: int) -> tuple[int, int] | tuple[None, None]:
    """Return both ends of a range in whole steps, rounded outwards; nothing where a meter shows them alike.

    Args:
        low: Lower end; None where it is not known.
        high: Upper end.
        scale: Steps to a volt or an ampere.
    """
    if low is None or high is None:
        return None, None
    near = {fixed(round(value * scale) / scale, range_digits(value, scale)) for value in (low, high)}
    return (None, None) if len(near) == 1 else (steps(low, scale, up=False), steps(high, scale, up=True))


def range_digits(value: float, scale: int) -> int:
    """Return how many digits behind the point an end is told with: as coarsely as a meter's last digit dances."""
    most = 3 if scale == 1000 else 2
    return 1 if abs(value) >= 10 else min(2, most) if abs(value) >= 1 else most


def _scaled(value: float | None, scale: int) -> int | None:
    return None if value is None else round(value * scale)
