"""Every state of a circuit as a picture can show it: what each wire does, what each lamp shows, what a meter reads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wiregen.model.circuit import Circuit
from wiregen.model.fault_guide import FaultGuide
from wiregen.model.reading import StateReadings
from wiregen.model.shown import Shown
from wiregen.model.state import State

#: ``live``: has voltage. ``return``: on the ground side, with current. ``dead``: neither. ``floating``: hangs free.
Condition = Literal["live", "return", "dead", "floating"]
#: What a lamp or load shows: ``bright`` is more than it may get for long.
Show = Literal["dark", "dim", "lit", "bright"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveState:
    """One state at the nominal corner.

    Attributes:
        state: The simplest state that sets the switches so.
        conditions: What each terminal does, in the order of the circuit's terminals.
        volts_v: Voltage of each terminal against the reference, V; None where it floats.
        amps_a: Current of each element from ``a`` to ``b``, A, in the order of the circuit's elements.
        working: Refs of the switches and relay contacts that are closed, the coils that pulled in.
        shows: What each lamp and load shows, by ref.
        readings: What a meter shows, with the range over all corners.
        trouble: Why the point cannot be trusted; empty when it can.
    """

    state: State
    conditions: tuple[Condition, ...]
    volts_v: tuple[float | None, ...]
    amps_a: tuple[float | None, ...]
    working: frozenset[str]
    shows: dict[str, Show]
    readings: StateReadings
    trouble: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveTable:
    """Every state of one circuit.

    Attributes:
        circuit: The circuit.
        states: The states that set the switches differently.
        rows: For each setting of the controls, in the order of ``every_controls``, which state holds in the lit and
            which in the dark half of the flash; equal where nothing flashes.
    """

    circuit: Circuit
    states: tuple[LiveState, ...]
    rows: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveSheets:
    """One trailer's table with its drawings.

    Attributes:
        table: Every state.
        drawings: The sheets that draw its circuit, as SVG documents in millimetres.
        window_mm: Left, top, width and height of the part of each sheet inside its frame and above its title block.
    """

    table: LiveTable
    drawings: tuple[str, ...]
    window_mm: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class LivePage(Shown):
    """A whole rig, ready for a page on which its controls can be worked.

    Attributes:
        title: Title of the rig.
        facts: (word, value) of what a title block says.
        cautions: What stands first.
        signals: Control signals the vehicle reacts to.
        shells: Short name of each connector, by trailer and designation.
        trailers: One entry a trailer.
        guides: How to find a fault, one guide a trailer; none where the page leaves that out.
        notes: What the reader must know of the states, in sentences.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    signals: frozenset[str]
    shells: dict[tuple[str, str], str]
    trailers: tuple[LiveSheets, ...]
    guides: tuple[FaultGuide, ...] = ()
    notes: tuple[str, ...] = ()
