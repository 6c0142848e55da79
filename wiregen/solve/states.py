"""Which states need solving: those that set the switches differently."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from wiregen.model.circuit import Circuit, Switch
from wiregen.model.state import State, every_controls


@dataclass(frozen=True, slots=True)
class Setting:
    """One distinct setting of all switches.

    Attributes:
        closed: For each switch of the circuit, whether it is closed.
        state: The simplest state that sets the switches so.
        alike: How many states do.
    """

    closed: tuple[bool, ...]
    state: State
    alike: int


def distinct_settings(circuit: Circuit, signals: Collection[str]) -> tuple[Setting, ...]:
    """Return every distinct setting of the switches, simplest state first.

    Args:
        circuit: The circuit.
        signals: Control signals the vehicle reacts to.
    """
    switches = circuit.of(Switch)
    found: dict[tuple[bool, ...], Setting] = {}
    for controls in every_controls(signals):
        halves = []
        for lit in (True, False):
            values = controls.signals(lit=lit, stop_wins=circuit.stop_wins)
            halves.append(tuple(switch.live.value(values) for switch in switches))
        flashing = halves[0] != halves[1]
        for lit, closed in zip((True, False) if flashing else (True,), halves, strict=False):
            state = State(controls, lit=lit, flashing=flashing)
            known = found.get(closed)
            if known is None:
                found[closed] = Setting(closed, state, 1)
            else:
                simplest = state if state.controls.weight < known.state.controls.weight else known.state
                found[closed] = Setting(closed, simplest, known.alike + 1)
    return tuple(sorted(found.values(), key=lambda setting: setting.state.controls.weight))
