"""Write one solved state as a SPICE netlist and let ngspice solve it again. For tests only.

Nothing of ``wiregen.solve`` is used but the formulas in words: the filament and LED laws, the converter's output behind
its resistance, its limit and its input power are typed here a second time, as behavioural sources.
"""

import math
import os
import re
import shutil
import subprocess
from pathlib import Path

from wiregen.model.circuit import Battery, Circuit, Converter, Element, Lamp, RelayContact, Resistive, Switch, ends

#: Assumed in wiregen.solve.devices: bleed of a dark LED lamp, and of a converter's output, ohm.
LED_BLEED_OHM = 100_000
CONVERTER_BLEED_OHM = 10_000


def is_installed() -> bool:
    return shutil.which("ngspice") is not None


class Netlist:
    """One circuit with its switches, relay contacts and converters set.

    Args:
        circuit: The circuit.
        closed: Refs of the switches and relay contacts that are closed.
        on: Refs of the converters that run.
        floating: Terminals without a path to the reference; parts that hang only on them are left out.
    """

    def __init__(self, circuit: Circuit, closed: set[str], on: set[str], floating: set[str]) -> None:
        self.circuit = circuit
        self.closed = closed
        self.on = on
        self.node = {
            name: "0" if name == circuit.reference else f"n{index}"
            for index, name in enumerate(circuit.terminals)
            if name not in floating
        }
        self.lines: list[str] = []
        for number, element in enumerate(circuit.elements, start=1):
            self._element(number, element)

    def text(self) -> str:
        """Return the netlist with an operating-point analysis and every node printed."""
        wanted = [f"print v({node})" for node in self.node.values() if node != "0"]
        return "\n".join(
            [
                self.circuit.title,
                *self.lines,
                ".options reltol=1e-9 abstol=1e-12 vntol=1e-9 itl1=2000",
                ".control",
                "set numdgt=15",
                "op",
                *wanted,
                "quit 0",
                ".endc",
                ".end",
                "",
            ]
        )

    def _element(self, number: int, element: Element) -> None:
        if isinstance(element, Switch | RelayContact) and element.ref not in self.closed:
            return
        if isinstance(element, Converter):
            self._converter(number, element)
            return
        if any(end not in self.node for end in ends(element)):
            return
        a, b = self.node[element.a], self.node[element.b]
        if isinstance(element, Battery):
            self.lines.append(f"V{number} {a} m{number} DC {element.voltage_v!r}")
            self.lines.append(f"R{number} m{number} {b} {element.resistance_ohm!r}")
        elif isinstance(element, Lamp):
            law = _filament(element, a, b) if element.technology == "filament" else _led(element, a, b)
            self.lines.append(f"B{number} {a} {b} I = {law}")
        else:
            assert isinstance(element, Resistive)
            self.lines.append(f"R{number} {a} {b} {element.resistance_ohm!r}")

    def _converter(self, number: int, element: Converter) -> None:
        if element.b not in self.node or element.common not in self.node:
            return
        b, common = self.node[element.b], self.node[element.common]
        self.lines.append(f"R{number} {b} {common} {CONVERTER_BLEED_OHM}")
        if element.ref not in self.on:
            return
        v_in, v_out = f"V({self.node[element.a]},{common})", f"V({b},{common})"
        inside = f"min({element.output_v!r}, {element.ratio!r}*{v_in})"
        out = f"({inside} - {v_out})/{element.resistance_ohm!r}"
        if math.isfinite(element.limit_a):
            share = f"max(0, min(1, {v_out}/{inside}))"
            fold = element.foldback
            out = f"min({out}, {element.limit_a!r}*({fold!r} + {1 - fold!r}*{share}))"
        out = f"max(0, {out})"
        self.lines.append(f"Bo{number} {common} {b} I = {out}")
        drawn = f"{v_out}*({out})/({element.efficiency!r}*max({v_in}, 1e-3)) + {element.idle_a!r}"
        self.lines.append(f"Bi{number} {self.node[element.a]} {common} I = {drawn}")


def _filament(lamp: Lamp, a: str, b: str) -> str:
    """I = V/R_hot * ((x² + c)/(1 + c))^-0.225 with c such that the cold resistance is cold_ratio of the hot one."""
    share = lamp.cold_ratio ** (1 / 0.225)
    c = share / (1 - share)
    volts = f"V({a},{b})"
    siemens = lamp.count * lamp.rated_a / lamp.rated_v
    return f"{siemens!r}*{volts}*exp(-0.225*ln((({volts}/{lamp.rated_v!r})^2 + {c!r})/{1 + c!r}))"


def _led(lamp: Lamp, a: str, b: str) -> str:
    """Constant power above the cut-off, a straight line from nothing over the 10 % below it, and the bleed."""
    power_w = lamp.count * lamp.rated_a * lamp.rated_v
    full = lamp.cut_off_v
    start = 0.9 * full
    slope = power_w / full / (full - start)
    volts = f"V({a},{b})"
    ramp = f"({volts} > {start!r} ? ({volts} - {start!r})*{slope!r} : 0)"
    return f"({volts} >= {full!r} ? {power_w!r}/max({volts}, {full!r}) : {ramp}) + {volts}/{LED_BLEED_OHM}"


def solve(netlist: Netlist, folder: Path) -> dict[str, float]:
    """Run ngspice and return the voltage of every terminal that does not float, V."""
    path = folder / "point.cir"
    path.write_text(netlist.text(), encoding="ascii", errors="replace")
    # A home of its own: without any it stops, and a user's start-up file must not change what it prints.
    environment = {**os.environ, "HOME": str(folder)}
    done = subprocess.run(
        ["ngspice", "-b", str(path)], capture_output=True, text=True, timeout=60, check=False, env=environment
    )
    printed = {
        name: float(value) for name, value in re.findall(r"^v\((n\d+)\) = (\S+)$", done.stdout, flags=re.MULTILINE)
    }
    missing = [node for node in netlist.node.values() if node != "0" and node not in printed]
    assert not missing, f"ngspice gave no voltage for {missing}:\n{done.stdout}\n{done.stderr}"
    return {name: printed.get(node, 0.0) for name, node in netlist.node.items()}
