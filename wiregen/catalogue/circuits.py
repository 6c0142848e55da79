"""The circuits of vehicle and trailer lighting: what makes each live, and what a lamp on it must do.

Controls appear in the expressions as the signals that ``wiregen.model.state`` says they drive (``lights`` is service
lighting), beside ``ignition`` and ``lit`` (the lit half of the flash). The habit ``stop_wins`` is true for vehicles on
which braking holds the combined lamps steady while the hazard lights run.

Duties are what practice and the lamp regulations ask in outline (UN R48 and 49 CFR 571.108, read through the digests
listed under S24, S25, S60): position lamps burn with the lighting switch, stop lamps with the pedal, turn lamps flash.
A lamp's duty is a set, because practice allows more than one answer for braking with the hazard lights on.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from wiregen.errors import guess
from wiregen.model.state import DRIVEN


@dataclass(frozen=True, slots=True)
class CircuitKind:
    """One lighting function.

    Attributes:
        name: Word used in rig files.
        word: Words to print.
        group: Group in the chart.
        live: Expression over controls: when the vehicle puts supply on it.
        steady: Expression: a lamp on it may burn steadily.
        flash: Expression: a lamp on it may flash. Where neither holds it must be dark.
        dark: Expression: a lamp on it may be dark although one of the two holds.
        is_light: Whether a lamp on it is seen by other drivers.
    """

    name: str
    word: str
    group: str
    live: str = "never"
    steady: str = "never"
    flash: str = "never"
    dark: str = "never"
    is_light: bool = True


_LEFT = "not blackout and (left or hazard)"
_RIGHT = "not blackout and (right or hazard)"
_TURN = "lit and not blackout and ({side} or hazard)"
# A vehicle on which braking holds the combined lamps steady cannot tell a trailer that the hazard lights run.
_TURN_LOST = "stop_wins and hazard and brake"


def _combined(side: str) -> str:
    return (
        f"not blackout and ((brake and ((hazard and stop_wins) or (not hazard and not {side})))"
        f" or (lit and ({side} or hazard)))"
    )


def _combined_steady(side: str) -> str:
    return f"not blackout and brake and (hazard or not {side})"


_ROWS: Final = (
    CircuitKind("tail", "tail", "Tail and marker", "lights", "lights"),
    CircuitKind("tail_left", "left tail", "Tail and marker", "lights", "lights"),
    CircuitKind("tail_right", "right tail", "Tail and marker", "lights", "lights"),
    CircuitKind("marker", "clearance and side marker", "Tail and marker", "lights", "lights"),
    CircuitKind("stop", "stop", "Stop", "brake and not blackout", "brake and not blackout"),
    CircuitKind("turn_left", "left turn", "Turn", _TURN.format(side="left"), flash=_LEFT, dark=_TURN_LOST),
    CircuitKind("turn_right", "right turn", "Turn", _TURN.format(side="right"), flash=_RIGHT, dark=_TURN_LOST),
    CircuitKind(
        "stop_turn_left",
        "left stop and turn",
        "Stop and turn",
        _combined("left"),
        _combined_steady("left"),
        _LEFT,
    ),
    CircuitKind(
        "stop_turn_right",
        "right stop and turn",
        "Stop and turn",
        _combined("right"),
        _combined_steady("right"),
        _RIGHT,
    ),
    CircuitKind("reverse", "reverse", "Reverse", "reverse and not blackout", "reverse and not blackout"),
    CircuitKind("fog", "rear fog", "Rear fog", "fog and lights", "fog and lights"),
    CircuitKind("work_lamp", "work lamps", "Work lamps", is_light=False),
    CircuitKind("brake", "electric brakes", "Brakes", "brake", "brake", is_light=False),
    CircuitKind("charge", "permanent supply", "Supply", "always", "always", dark="always", is_light=False),
    CircuitKind("ignition", "ignition-switched supply", "Supply", "ignition", "always", dark="always", is_light=False),
    CircuitKind("blackout_command", "blackout command", "Blackout", "blackout", "blackout", is_light=False),
    CircuitKind("blackout_tail", "blackout tail", "Blackout", "blackout", "blackout"),
    CircuitKind("blackout_marker", "blackout marker (convoy)", "Blackout", "blackout", "blackout"),
    CircuitKind("blackout_stop", "blackout stop", "Blackout", "blackout and brake", "blackout and brake"),
    CircuitKind("ground", "ground", "Ground", is_light=False),
    CircuitKind("ground_ignition", "ground of the ignition-switched supply", "Ground", is_light=False),
    CircuitKind("ground_charge", "ground of the permanent supply", "Ground", is_light=False),
    CircuitKind("ground_data", "ground of the data contacts", "Ground", is_light=False),
    CircuitKind("abs_supply", "anti-lock supply", "Supply", "ignition", "always", dark="always", is_light=False),
    CircuitKind("abs_valves", "anti-lock valve supply", "Supply", "always", is_light=False),
    CircuitKind("brake_control", "retarder or service-brake control", "Control and data", is_light=False),
    CircuitKind("winch", "winch supply", "Supply", is_light=False),
    CircuitKind("trailer_present", "trailer-present contact", "Control and data", is_light=False),
    CircuitKind("wear_sensor", "brake-lining wear sensor", "Control and data", is_light=False),
    CircuitKind("pressure_sensor", "spring-brake pressure indication", "Control and data", is_light=False),
    CircuitKind("axle_lift", "axle lift", "Control and data", is_light=False),
    CircuitKind("data_high", "data, high", "Control and data", is_light=False),
    CircuitKind("data_low", "data, low", "Control and data", is_light=False),
    CircuitKind("control_return", "control by earth", "Control and data", is_light=False),
    CircuitKind("abs_fault", "anti-lock fault indication", "Control and data", is_light=False),
    CircuitKind("choose", "to be chosen", "Not assigned", is_light=False),
    CircuitKind("unused", "not used", "Not assigned", is_light=False),
)

#: Every circuit by name.
CIRCUITS: Final[dict[str, CircuitKind]] = {row.name: row for row in _ROWS}

#: Chart groups in printing order.
GROUPS: Final = tuple(dict.fromkeys(row.group for row in _ROWS))

GROUNDS: Final = frozenset(name for name, row in CIRCUITS.items() if row.group == "Ground")

#: Circuit -> the ground that is there for it alone, where a connector has one.
RETURN_CIRCUITS: Final = {
    "charge": "ground_charge",
    "ignition": "ground_ignition",
    "data_high": "ground_data",
    "data_low": "ground_data",
}

#: Signals that circuit expressions may read.
SIGNALS: Final = (*DRIVEN, "ignition", "lit", "stop_wins")

#: Circuits a lamp or load may hang on.
LOADABLE: Final = tuple(name for name, row in CIRCUITS.items() if row.steady != "never" or row.flash != "never")


def circuit_word(name: str) -> str:
    """Return the word to print for a circuit or a tap."""
    return CIRCUITS[name].word if name in CIRCUITS else name.replace("_", " ")


def unknown_circuit(name: str) -> str:
    """Return the message for a word that is no circuit."""
    return f"{name!r} is not a circuit{guess(name, CIRCUITS)} Allowed: {', '.join(CIRCUITS)}"
