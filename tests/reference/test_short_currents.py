"""Short-circuit currents against ngspice, and against V over the sum of resistances worked by hand.

ngspice is given the circuit of the corner with the short as one more piece of metal; it finds the bus that sags and the
converter at its limit by itself. Whether coils and converters may be where the sweep left them is held against its
voltages. The wire examples are worked with resistances of ISO 6722-1 (S8) and fuse resistances of S44.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import pytest

from tests import circuits as by_hand
from tests.conftest import program
from tests.reference.ngspice_batch import solve_many
from tests.reference.swept import LAWS, floating_groups
from tests.rigs import SUPPLY, load, rig
from wiregen.circuit.build import build, vehicle_signals
from wiregen.circuit.shorts import BOLTED_OHM, shorts
from wiregen.model.circuit import Circuit, Coil, Converter, RelayContact, Switch
from wiregen.model.circuit import Path as Metal
from wiregen.model.short import LEAST, MOST, Short, ShortPoint, ShortStudy
from wiregen.questions.netlist.spice import OperatingPoint, netlist_text
from wiregen.solve.full_study import solve_study
from wiregen.solve.shorts import at_short_corner, solve_shorts

DEMOS = Path(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo"
TOLERANCE = 1e-6


def demo(name: str) -> str:
    return (DEMOS / f"{name}.toml").read_text(encoding="utf-8")


def converter(**more: object) -> dict[str, object]:
    return {**SUPPLY, "continuous": "8 A", "fuse": "15 A", **more}


THIN = [
    {"from": "battery", "to": "socket", "length": "8 m", "size": "1 mm²"},
    {"from": "adapter", "to": "trailer", "length": "2 m", "size": "1 mm²"},
    {"from": "trailer", "to": "lamps", "length": "11 m", "size": "0.75 mm²"},
]
RIGS = {
    "bus": (demo("observatory-bus"), 0),
    "lorry": (demo("ringing-lorry"), 0),
    "bad": (demo("bad-example"), 0),
    "folds back": (
        rig(
            "iso-12098",
            "iso-11446",
            channels=[{"input": name, "output": name, "fuse": "5 A"} for name in ("tail_left", "stop", "turn_left")],
            lamps=["tail_left", "stop", "turn_left"],
            supply=converter(current_limit="12 A", foldback="40 %", fed_by="charge"),
            vehicle={"fuse": [{"circuits": ["charge"], "fuse": "10 A"}, {"circuits": ["stop"], "fuse": "10 A"}]},
            runs=THIN,
        ),
        0,
    ),
    "centre tap": (
        rig(
            channels=["tail > tail", "stop_turn_left > stop_turn_left"],
            lamps=["tail", "stop_turn_left"],
            supply={"kind": "centre_tap", "fuse": "20 A", "equaliser": "15 A"},
            vehicle={"fuse": [{"circuits": ["tail", "stop_turn_left"], "fuse": "15 A"}]},
            runs=THIN,
            hitch_resistance="0.4 ohm",
        ),
        0,
    ),
    "step-down": (
        rig(
            "iso-12098",
            "iso-11446",
            channels=[
                {"input": name, "output": name, "device": "step_down", "rating": "5 A", "fuse": "5 A"}
                for name in ("tail_left", "stop")
            ],
            lamps=["tail_left", {"function": "stop", "count": 2}],
            supply=None,
            vehicle={"fuse": [{"circuits": ["tail_left", "stop"], "fuse": "10 A"}]},
            runs=THIN,
        ),
        0,
    ),
}


@dataclass(frozen=True)
class One:
    """A short of a rig as solved, and what ngspice is to solve."""

    rig: str
    at: ShortPoint
    study: ShortStudy
    point: OperatingPoint


@cache
def points() -> tuple[One, ...]:
    return tuple(one for name in RIGS for one in _of(name))


@cache
def chosen() -> tuple[One, ...]:
    """Every ninth point, of each rig and corner some: what ngspice is asked."""
    return points()[::9]


def _of(name: str) -> Iterator[One]:
    text, number = RIGS[name]
    loaded = load(text)
    circuit = build(loaded).circuits[number]
    healthy = solve_study(circuit, vehicle_signals(loaded))
    study = solve_shorts(circuit, healthy, shorts(circuit))
    for at in study.points:
        if not at.trouble:
            yield One(name, at, study, _netlist(circuit, at))


def _netlist(circuit: Circuit, at: ShortPoint) -> OperatingPoint:
    """The circuit of the corner with the short in it, and its contacts as the sweep left them."""
    there = at_short_corner(circuit, at.point.corner)
    touch = Metal(
        ref="-TOUCH",
        a=at.short.terminal,
        b=at.short.ground,
        resistance_ohm=at.short.ohm,
        circuit="ground",
        zone="vehicle",
    )
    there = replace(there, elements=(*there.elements, touch))
    state = at.point.state
    signals = state.controls.signals(lit=state.lit, stop_wins=circuit.stop_wins)
    closed = {switch.ref for switch in there.of(Switch) if switch.live.value(signals)}
    closed |= {contact.ref for contact in there.of(RelayContact) if contact.gate.is_open_to(at.pulled)}
    return OperatingPoint(
        circuit=there,
        words=f"{at.short.words}; {at.point.words}",
        closed=frozenset(closed),
        on=at.on,
        pulled=at.pulled,
        floating=floating_groups(there, closed),
    )


def theirs_a(one: One, volts: dict[str, float]) -> float:
    """ngspice's current of a short, A."""
    number = {name: f"n{row}" for row, name in enumerate(one.point.circuit.terminals)}
    across = volts.get(number[one.at.short.terminal], 0.0) - volts.get(number[one.at.short.ground], 0.0)
    return across / one.at.short.ohm


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, float]]:
    program("ngspice")
    return solve_many([netlist_text(one.point, LAWS) for one in chosen()], tmp_path_factory.mktemp("ngspice"))


@pytest.mark.slow
def test_every_short_draws_the_current_of_ngspice(answers: list[dict[str, float]]) -> None:
    """Shorts on six rigs, least and most, agree to a millionth, or to what a nanovolt across the touch makes."""
    off = []
    for one, volts in zip(chosen(), answers, strict=True):
        error_a = abs(theirs_a(one, volts) - one.at.current_a)
        if not error_a <= TOLERANCE * abs(one.at.current_a) + 1e-9 / one.at.short.ohm:
            off.append((one.rig, one.point.words, one.at.current_a, theirs_a(one, volts)))
    assert off == []


@pytest.mark.slow
def test_coils_and_converters_are_where_the_sag_puts_them(answers: list[dict[str, float]]) -> None:
    """At ngspice's voltages no coil that is in has lost its hold, none that is out pulls; so with converters."""
    wrong: list[tuple[str, str, str]] = []
    for one, answer in zip(chosen(), answers, strict=True):
        circuit = one.point.circuit
        volts = {name: answer.get(f"n{row}", 0.0) for row, name in enumerate(circuit.terminals)}
        for coil in circuit.of(Coil):
            across_v = abs(volts[coil.a] - volts[coil.b])
            held = coil.ref in one.at.pulled
            if not (across_v >= coil.drop_out_v if held else across_v < coil.pick_up_v):
                wrong.append((one.rig, f"{coil.ref} has {across_v} V", one.point.words))
        for item in circuit.of(Converter):
            enough = volts[item.a] - volts[item.common] >= item.minimum_input_v
            is_open = item.gate is None or item.gate.is_open_to(one.at.pulled)
            if (item.ref in one.at.on) != (enough and is_open):
                wrong.append((one.rig, item.ref, one.point.words))
    assert wrong == []


def test_the_shorts_reach_what_they_are_meant_to_reach() -> None:
    """Battery feeds, limited and folded converters, relays that let go, the hitch alone: hundreds of points."""
    every = points()
    assert len(chosen()) > 30
    assert {one.rig for one in chosen()} == set(RIGS)
    assert any(one.at.let_go for one in chosen())
    assert any(flags[one.at.row] for one in chosen() for flags in one.study.limited.values())
    assert len({(one.rig, one.at.short.ref) for one in every}) > 100
    assert {one.rig for one in every} == set(RIGS)
    assert {one.at.point.corner for one in every} == {LEAST, MOST}
    assert sum(one.at.current_a > 100 for one in every) > 50
    assert sum(bool(one.at.let_go) for one in every) > 30
    assert any(one.at.short.through_hitch for one in every)
    limited = {one.rig for one in every if any(flags[one.at.row] for flags in one.study.limited.values())}
    assert limited == set(RIGS)
    folded = [one.at.current_a for one in every if one.rig == "folds back" and one.at.short.ref in ("-F1", "-F2")]
    assert min(folded) < 12


# --- worked by hand ---


def wire_circuit(volts: float, ohms: dict[str, float]) -> Circuit:
    """Battery, and resistances in series to the end of a wire; a lamp hangs there."""
    parts: list[object] = [by_hand.battery(volts, 0.02)]
    at = "plus"
    for ref, ohm in ohms.items():
        parts.append(by_hand.resistor(ref, at, f"{ref}.b", ohm))
        at = f"{ref}.b"
    parts.append(by_hand.filament("-E1", at))
    return by_hand.circuit(*parts)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("volts", "fuse_ohm", "wire_ohm_per_m", "length_m", "expected_a"),
    [
        # 24 / (0.02 + 0.0077 + 10 x 0.0127 + 0.0001): 1.5 mm2 of S8, 12.7 mohm/m, cold 10 A blade fuse 7.70 mohm.
        (24.0, 0.0077, 0.0127, 10.0, 155.0388),
        # 12 / (0.02 + 0.00144 + 20 x 0.0076 + 0.0001): 2.5 mm2, 7.60 mohm/m (S8), 40 A blade fuse 1.44 mohm (S44).
        (12.0, 0.00144, 0.0076, 20.0, 69.1483),
        # 28 / (0.02 + 0.0077 + 6 x 0.0371 + 0.0001): 0.5 mm2, 37.1 mohm/m (S8).
        (28.0, 0.0077, 0.0371, 6.0, 111.8211),
    ],
)
def test_battery_fuse_and_wire_by_hand(
    volts: float, fuse_ohm: float, wire_ohm_per_m: float, length_m: float, expected_a: float
) -> None:
    """I = V / sum of R, where nothing else hangs on the wire than a lamp that the short takes the voltage from."""
    circuit = wire_circuit(volts, {"-F1": fuse_ohm, "-W1": wire_ohm_per_m * length_m})
    short = Short("-W1", "-W1.b", by_hand.GROUND, BOLTED_OHM, "by hand")
    study = solve_shorts(circuit, solve_study(circuit, ()), [short])
    by_formula = volts / (0.02 + fuse_ohm + wire_ohm_per_m * length_m + BOLTED_OHM)
    assert by_formula == pytest.approx(expected_a, rel=1e-6)
    # The lamp takes a little of it: cold, a hundred times less than the touch.
    assert [point.current_a for point in study.points] == pytest.approx([expected_a] * 2, rel=1e-3)
