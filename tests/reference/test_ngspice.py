"""Operating points against ngspice: every node of every point agrees to a microvolt.

ngspice is an independent program with its own Newton iteration. It is given what ``wiregen netlist`` exports, without
the hint where to start: the switches that the state closes, and the contacts and converters the solver says are on;
whether they may be on at the voltages ngspice finds is then checked too, so that the solver's relay iteration is held
against it as well. ``tests.reference.test_netlist`` holds the exporter against a netlist typed by hand.
"""

from dataclasses import replace
from pathlib import Path

import pytest

from tests import circuits as by_hand
from tests.plain_solver import solve as solve_here
from tests.reference.ngspice_batch import solve_many
from tests.reference.swept import LAWS
from tests.rigs import SUPPLY, load, rig, straight, trailer
from tests.steps import build
from wiregen.circuit.build import vehicle_signals
from wiregen.model.circuit import Circuit, Coil, Converter, Lamp, Switch
from wiregen.model.state import Controls
from wiregen.model.study import Study
from wiregen.questions.netlist.spice import OperatingPoint, netlist_text, point_of

TOLERANCE_V = 1e-6
DEMOS = Path(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo"


def demo(name: str) -> str:
    return (DEMOS / f"{name}.toml").read_text(encoding="utf-8")


CENTRE_TAP = rig(
    channels=[f"{name} > {name}" for name in ("tail", "stop_turn_left", "stop_turn_right")],
    lamps=["tail", "stop_turn_left", "stop_turn_right"],
    supply={"kind": "centre_tap", "fuse": "20 A"},
    runs=[],
)
STEP_DOWN = rig(
    "iso-12098",
    "iso-11446",
    channels=[
        {"input": name, "output": name, "device": "step_down", "rating": "5 A"}
        for name in ("tail_left", "tail_right", "stop", "turn_left")
    ],
    lamps=[{"function": "tail_left", "count": 3}, "tail_right", {"function": "stop", "count": 2}, "turn_left"],
    supply=None,
    runs=[],
)
ADAPTER_BATTERY = rig(
    "iso-1185",
    "sae-j1239-4",
    channels=[
        "tail_left or tail_right > tail | solid_state",
        "stop xor turn_left > stop_turn_left",
        "stop xor turn_right > stop_turn_right",
    ],
    lamps=["tail", "stop_turn_left 1157-bright", {"function": "stop_turn_right", "type": "led-stop-12v", "count": 2}],
    supply={"kind": "battery", "output": "12.6 V", "fuse": "15 A"},
    runs=[],
)
CROSS = straight(
    "military-12-us", "military-12-stanag", ["tail", "turn_left", "fog", "blackout_marker", "blackout_stop"], runs=[]
)
TIED = straight(
    "military-12-us",
    "military-12-commonwealth",
    [{"function": "stop", "contact": "B"}, {"function": "stop", "contact": "J", "type": "led-stop-24v"}, "tail"],
    bridged=[["B", "J"]],
    hitch_resistance="0.4 ohm",
    runs=[],
)
SHORT = rig("iso-1185", "sae-j2863", channels=["tail_left > tail"], bridged=[["3", "1"]])
#: 90 m of thin wire: the LED lamps end up on the slope below their cut-off voltage.
BROWN_OUT = rig(
    channels=["tail > tail"],
    lamps=[{"function": "tail", "type": "led-tail-12v", "count": 30}],
    runs=[{"from": "trailer", "to": "lamps", "length": "90 m", "size": "0.75 mm²"}],
)
TWO_CHANNELS = rig(
    "iso-12098",
    trailers=[
        trailer("as-4177-7", ["tail", "stop"], brakes={"magnets": 2}, lock_out={"resistance": "9 ohm"}),
    ],
    channels=[
        "tail_left > tail",
        "tail_right > tail",
        {"input": "stop", "output": "stop", "device": "step_down"},
        {"input": "stop", "output": "brake", "device": "brake_controller", "gain": "60 %"},
        {"input": "reverse", "output": "reverse", "device": "wire", "fuse": "5 A"},
    ],
    supply={**SUPPLY, "fed_by": "charge", "fuse": "25 A"},
    runs=[],
)

LIT = {
    "lights": Controls(lighting="service"),
    "brake": Controls(brake=True),
    "lights brake": Controls(lighting="service", brake=True),
    "lights brake left": Controls(lighting="service", brake=True, turn="left"),
    "everything": Controls(lighting="service", brake=True, hazard=True, reverse=True, fog=True),
}
POINTS = {
    "bus, boat trailer, all off": (demo("observatory-bus"), 0, Controls(), True),
    "bus, boat trailer, braking": (demo("observatory-bus"), 0, LIT["lights brake"], True),
    "bus, boat trailer, braking and turning, lit": (demo("observatory-bus"), 0, LIT["lights brake left"], True),
    "bus, boat trailer, braking and turning, dark": (demo("observatory-bus"), 0, LIT["lights brake left"], False),
    "bus, light trailer with LED lamps": (demo("observatory-bus"), 1, LIT["lights brake"], True),
    "lorry, everything on, lit half": (demo("ringing-lorry"), 0, LIT["everything"], True),
    "lorry, everything on, dark half": (demo("ringing-lorry"), 0, LIT["everything"], False),
    "bad example, braking": (demo("bad-example"), 0, LIT["lights brake"], True),
    "centre tap, braking": (CENTRE_TAP, 0, LIT["lights brake"], True),
    "centre tap, left turn": (CENTRE_TAP, 0, Controls(turn="left"), True),
    "step-down per circuit": (STEP_DOWN, 0, LIT["lights brake left"], True),
    "adapter battery, braking and turning, dark half": (ADAPTER_BATTERY, 0, LIT["lights brake left"], False),
    "straight lead, blackout and brake": (CROSS, 0, Controls(lighting="blackout", brake=True), True),
    "straight lead, tied contacts and hitch": (TIED, 0, LIT["lights brake left"], True),
    "short in the trailer": (SHORT, 0, LIT["lights"], True),
    "LED lamps on their slope": (BROWN_OUT, 0, LIT["lights"], True),
    "two channels, controller, wire": (TWO_CHANNELS, 0, LIT["everything"], True),
}


def row_of(circuit: Circuit, study: Study, controls: Controls, *, lit: bool) -> int:
    """Row of the study that sets the switches as these controls do."""

    def closed(one: Controls, half: bool) -> tuple[bool, ...]:
        signals = one.signals(lit=half, stop_wins=circuit.stop_wins)
        return tuple(switch.live.value(signals) for switch in circuit.of(Switch))

    wanted = closed(controls, lit)
    return next(i for i, state in enumerate(study.states) if closed(state.controls, state.lit) == wanted)


def solve(point: OperatingPoint, folder: Path) -> dict[str, float]:
    """Return ngspice's voltage of every terminal that does not float, V; its search starts from nothing."""
    (theirs,) = solve_many([netlist_text(replace(point, volts={}), LAWS)], folder)
    adrift = {name for group in point.floating for name in group}
    number = {name: f"n{row}" for row, name in enumerate(point.circuit.terminals)}
    named = {name: theirs[number[name]] for name in point.circuit.terminals[1:] if name not in adrift}
    return {point.circuit.reference: 0.0, **named}


def solved(name: str) -> tuple[Circuit, Study, int]:
    text, number, controls, lit = POINTS[name]
    loaded = load(text)
    circuit = build(loaded).circuits[number]
    study = solve_here(circuit, vehicle_signals(loaded))
    return circuit, study, row_of(circuit, study, controls, lit=lit)


@pytest.mark.parametrize("name", POINTS)
def test_every_node_agrees_with_ngspice(name, tmp_path):
    """Every terminal has ngspice's voltage to 1e-6 V; coils and converters are where those voltages put them."""
    circuit, study, row = solved(name)
    assert study.trouble[row] == ""
    made = point_of(circuit, study, row)
    theirs = solve(made, tmp_path)
    ours = {terminal: float(study.voltage_v(terminal)[row]) for terminal in theirs}
    assert ours == pytest.approx(theirs, rel=0, abs=TOLERANCE_V)
    for coil in circuit.of(Coil):
        across = abs(theirs[coil.a] - theirs[coil.b]) if coil.a in theirs and coil.b in theirs else 0.0
        assert (coil.ref in study.pulled[row]) == (across >= coil.pick_up_v), coil.ref
    for converter in circuit.of(Converter):
        v_in = theirs.get(converter.a, 0.0) - theirs[converter.common]
        gate = converter.gate is None or converter.gate.is_open_to(study.pulled[row])
        assert (converter.ref in made.on) == (gate and v_in >= converter.minimum_input_v), converter.ref


@pytest.mark.parametrize("load_ohm", [10.0, 2.0, 0.5, 0.01])
@pytest.mark.parametrize("foldback", [1.0, 0.4])
def test_a_converter_at_its_current_limit_agrees_with_ngspice(load_ohm, foldback, tmp_path):
    """From a light load to a short a converter limited to 5 A has ngspice's voltages, folded back or not."""
    made = by_hand.circuit(
        by_hand.battery(28, 0.02),
        by_hand.resistor("-W1", "plus", "in", 0.05),
        replace(by_hand.converter("-T1", "in", "out"), limit_a=5.0, foldback=foldback),
        by_hand.resistor("-W2", "out", "lamp", 0.05),
        by_hand.resistor("-R1", "lamp", by_hand.GROUND, load_ohm),
        by_hand.filament("-E1", "lamp"),
    )
    study = solve_here(made, [])
    assert study.trouble == ("",)
    theirs = solve(point_of(made, study, 0), tmp_path)
    ours = {terminal: float(study.voltage_v(terminal)[0]) for terminal in theirs}
    assert ours == pytest.approx(theirs, rel=0, abs=TOLERANCE_V)
    assert (study.current_a("-T1")[0] < 5.0 - 1e-9) == (load_ohm == 10.0 or foldback < 1.0)


def test_the_points_reach_what_they_are_meant_to_reach():
    """The brown-out point has its LED lamps on their slope, the short is one, the dark half has its relays in."""
    circuit, study, row = solved("LED lamps on their slope")
    (lamp,) = circuit.of(Lamp)
    assert 0.9 * lamp.cut_off_v < study.across_v(lamp)[row] < lamp.cut_off_v
    circuit, study, row = solved("short in the trailer")
    assert study.current_a("-T1")[row] > 40
    circuit, study, row = solved("adapter battery, braking and turning, dark half")
    assert study.pulled[row] >= {"-K1", "-K3"}
