"""Circuits made by hand for tests of the solver, solved, and whether the currents at every terminal balance."""

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from tests.plain_solver import solve
from wiregen.model.circuit import Battery, Circuit, Coil, Converter, Element, Gate, Lamp, Path, RelayContact, Switch
from wiregen.model.logic import parse
from wiregen.model.study import Study
from wiregen.solve.devices import CONVERTER_BLEED_OHM

#: Terminal that all voltages are against.
GROUND = "0"
#: So cold that the filament law is the handbook's pure power law at every voltage of a test.
PURE_POWER_LAW = 1e-6
_COMMON = {"circuit": "stop", "zone": "trailer"}


def circuit(*elements: Element) -> Circuit:
    return Circuit(title="by hand", trailer="none", elements=elements, reference=GROUND, stop_wins=False)


def battery(voltage_v: float, ohm: float = 1e-4, *, ref: str = "-G1", a: str = "plus", b: str = GROUND) -> Battery:
    return Battery(ref=ref, a=a, b=b, voltage_v=voltage_v, resistance_ohm=ohm, circuit="supply", zone="vehicle")


def resistor(ref: str, a: str, b: str, ohm: float) -> Path:
    return Path(ref=ref, a=a, b=b, resistance_ohm=ohm, **_COMMON)


def switch(ref: str, a: str, b: str, live: str, ohm: float = 0.01) -> Switch:
    return Switch(ref=ref, a=a, b=b, live=parse(live), resistance_ohm=ohm, **_COMMON)


def coil(ref: str, a: str, b: str = GROUND, *, ohm: float = 350, pick_up: float = 16, drop_out: float = 2.4) -> Coil:
    return Coil(ref=ref, a=a, b=b, resistance_ohm=ohm, pick_up_v=pick_up, drop_out_v=drop_out, **_COMMON)


def relay(ref: str, a: str, b: str, logic: str, coils: dict[str, str], ohm: float = 0.01) -> RelayContact:
    gate = Gate(logic=parse(logic), coils=coils)
    return RelayContact(ref=ref, a=a, b=b, gate=gate, rating_a=None, resistance_ohm=ohm, **_COMMON)


def filament(
    ref: str,
    a: str,
    b: str = GROUND,
    *,
    volts: float = 13.5,
    amps: float = 25 / 13.5,
    count: int = 1,
    cold_ratio: float = 0.1,
) -> Lamp:
    return Lamp(
        ref=ref,
        a=a,
        b=b,
        count=count,
        technology="filament",
        rated_v=volts,
        rated_a=amps,
        peak_a=amps,
        nominal_v=24 if volts > 16 else 12,
        max_v=32 if volts > 16 else 16,
        function="stop",
        cold_ratio=cold_ratio,
        **_COMMON,
    )


def led(ref: str, a: str, b: str = GROUND, *, volts: float = 12, watts: float = 6, cut_off: float = 7) -> Lamp:
    made = filament(ref, a, b, volts=volts, amps=watts / volts)
    return replace(made, technology="led", cut_off_v=cut_off)


def converter(
    ref: str,
    a: str,
    b: str,
    *,
    output: float = 13.6,
    ratio: float = 1.0,
    ohm: float = 0.01,
    efficiency: float = 0.88,
    idle: float = 0.02,
    minimum: float = 18,
    gate: Gate | None = None,
) -> Converter:
    return Converter(
        ref=ref,
        a=a,
        b=b,
        common=GROUND,
        output_v=output,
        ratio=ratio,
        resistance_ohm=ohm,
        efficiency=efficiency,
        idle_a=idle,
        minimum_input_v=minimum,
        continuous_a=None,
        gate=gate,
        **_COMMON,
    )


#: The fast solver stops at a nanovolt; across the 10 milliohm of a converter's output that is a tenth of a microampere.
BALANCE_A = 2e-7


def run(made: Circuit, signals: Collection[str] = ()) -> Study:
    return solve(made, signals)


def settled(made: Circuit) -> Study:
    one = run(made)
    assert one.trouble == ("",)
    return one


def balance_a(one: Study) -> np.ndarray:
    """Sum of the currents that leave each terminal, shape (states, terminals), A."""
    index = {name: column for column, name in enumerate(one.circuit.terminals)}
    total = np.zeros(one.voltages_v.shape)
    for element in one.circuit.elements:
        current = one.current_a(element.ref)
        if not isinstance(element, Converter):
            total[:, index[element.a]] += current
            total[:, index[element.b]] -= current
            continue
        bleed = np.nan_to_num(one.voltage_v(element.b) - one.voltage_v(element.common)) / CONVERTER_BLEED_OHM
        drawn = one.input_a[element.ref]
        total[:, index[element.a]] += drawn
        total[:, index[element.b]] += bleed - current
        total[:, index[element.common]] += current - drawn - bleed
    return total


def assert_balanced(one: Study) -> None:
    good = [row for row, words in enumerate(one.trouble) if not words]
    assert np.abs(balance_a(one)[good]).max(initial=0.0) < BALANCE_A * max(1.0, np.abs(one.currents_a).max() / 50)
