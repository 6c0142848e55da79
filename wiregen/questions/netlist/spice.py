"""One solved operating point as a SPICE netlist that ngspice runs as it is and that gives the same numbers.

Node voltages are against battery minus, node 0. Lamps and converters are behavioural current sources (B) with the
formulas of ``wiregen.solve.devices``; a battery is a voltage source behind a resistor. Contacts of switches and relays,
and converters, are as they came to rest: closed is a resistor, open is left out, and a comment says so. Terminals
without a path to battery minus, and parts that hang on nothing else, are left out and named.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from textwrap import wrap
from typing import Final

from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Conductor,
    Contact,
    Converter,
    Diode,
    Element,
    Fuse,
    Lamp,
    RelayContact,
    Resistive,
    Switch,
    ends,
)
from wiregen.model.corner import NOMINAL
from wiregen.model.stretch import STRETCHES
from wiregen.model.study import Point, Study
from wiregen.paper.safe_text import clean
from wiregen.quantity import show

#: Tight enough that both programs agree to a microvolt; the last digits of a meter are a thousand times coarser.
_OPTIONS: Final = ".options reltol=1e-9 abstol=1e-12 vntol=1e-9 itl1=2000"
_WIDTH: Final = 100
_SIDES: Final = {
    "v": "vehicle side",
    "a": "adapter side",
    "t": "trailer side",
    "s": "splice at the end of the trailer's cable",
}
_ASCII: Final = str.maketrans({"×": "x", "°": "deg ", "²": "2", "Ω": "ohm", "µ": "u", "–": "-", "’": "'", "ß": "ss"})


@dataclass(frozen=True, slots=True)
class Laws:
    """Constants of the element laws, which the solver owns.

    Attributes:
        filament_exponent: Exponent of the filament law, see ``wiregen.solve.devices``.
        led_ramp: Share of the cut-off voltage over which an LED driver comes in.
        led_bleed_ohm: Resistance of a dark LED lamp, ohm.
        converter_bleed_ohm: Resistance across a converter's output, ohm.
    """

    filament_exponent: float
    led_ramp: float
    led_bleed_ohm: float
    converter_bleed_ohm: float


@dataclass(frozen=True)
class OperatingPoint:
    """One point with everything that switches as it came to rest.

    Attributes:
        circuit: The circuit as it is at the point's corner.
        words: State and corner in words.
        closed: Refs of the switches and relay contacts that are closed.
        on: Refs of the converters that run.
        pulled: Refs of the coils that pulled in.
        floating: Groups of terminals without a path to the reference.
        volts: Voltage of each terminal that does not float, V, for the comments.
        burning: Share of an entry's lamps that burn, by ref; 1 where it is missing.
    """

    circuit: Circuit
    words: str
    closed: frozenset[str]
    on: frozenset[str]
    pulled: frozenset[str]
    floating: tuple[tuple[str, ...], ...] = ()
    volts: Mapping[str, float] = field(default_factory=dict)
    burning: Mapping[str, float] = field(default_factory=dict)


def point_of(circuit: Circuit, study: Study, row: int) -> OperatingPoint:
    """Return a row of a study as an operating point.

    Args:
        circuit: The circuit as it is at the row's corner; the study holds it as built.
        study: The study.
        row: Row of the study.
    """
    state, pulled = study.states[row], study.pulled[row]
    signals = state.controls.signals(lit=state.lit, stop_wins=circuit.stop_wins)
    closed = {switch.ref for switch in circuit.of(Switch) if switch.live.value(signals)}
    closed |= {contact.ref for contact in circuit.of(RelayContact) if contact.gate.is_open_to(pulled)}
    voltages = zip(circuit.terminals, map(float, study.voltages_v[row]), strict=True)
    return OperatingPoint(
        circuit=circuit,
        words=f"{state.words}; {study.points[row].corner.words}",
        closed=frozenset(closed),
        # A converter that runs always draws: at least what its own bleed takes.
        on=frozenset(c.ref for c in circuit.of(Converter) if study.input_a[c.ref][row] != 0.0),
        pulled=pulled,
        floating=study.floating[row],
        volts={name: value for name, value in voltages if not math.isnan(value)},
    )


def file_stem(trailer: str, point: Point, taken: Collection[str]) -> str:
    """Return a file name without ending that no other has: ``boat-trailer-service-lights-left-turn-lit``."""
    half = ("lit" if point.state.lit else "dark") if point.state.flashing else ""
    corner = "" if point.corner == NOMINAL else point.corner.words
    words = (trailer[:40], point.controls.words, half, corner)
    stem = _safe("-".join(word for word in words if word).lower(), "-").strip("-")
    same = next(number for number in range(1, len(taken) + 2) if _numbered(stem, number) not in taken)
    return _numbered(stem, same)


def _numbered(stem: str, number: int) -> str:
    return stem if number == 1 else f"{stem}-{number}"


def netlist_text(point: OperatingPoint, laws: Laws) -> str:
    """Return an operating point as a netlist, ASCII, ready for ``ngspice -b``.

    Args:
        point: The point.
        laws: Constants of the element laws.
    """
    return _Writer(point, laws).text()


class _Writer:
    def __init__(self, point: OperatingPoint, laws: Laws) -> None:
        self.point = point
        self.laws = laws
        self.circuit = point.circuit
        adrift = {name for group in point.floating for name in group}
        self.node = {
            name: "0" if name == self.circuit.reference else f"n{number}"
            for number, name in enumerate(self.circuit.terminals)
            if name not in adrift
        }
        self.touching: dict[str, list[str]] = {}
        for element in self.circuit.elements:
            for end in dict.fromkeys(ends(element)):
                self.touching.setdefault(end, []).append(element.ref)

    def text(self) -> str:
        nodes = [node for node in self.node.values() if node != "0"]
        lines = [
            *self._head(),
            "*",
            *self._terminals(),
            "*",
            *_comment("ELEMENTS"),
            *(line for number, e in enumerate(self.circuit.elements, start=1) for line in self._element(number, e)),
            "*",
            *self._starts(),
            _OPTIONS,
            ".op",
            ".control",
            "run",
            "set numdgt=15",
            *(f"print v({node})" for node in nodes),
            "quit 0",
            ".endc",
            ".end",
        ]
        return "".join(f"{line}\n" for line in lines)

    def _head(self) -> Iterator[str]:
        yield f"* wiregen netlist: {_ascii(self.circuit.title)}"
        yield from _comment(f"trailer: {self.circuit.trailer}")
        yield from _comment(f"state: {self.point.words}")
        yield from _comment(
            "Run it with: ngspice -b FILE. Volts are against battery minus (node 0). Contacts, coils and converters "
            "stand as they came to rest in this state; they do not move when something is changed here."
        )

    def _terminals(self) -> Iterator[str]:
        yield from _comment("TERMINALS: node, terminal, volts as wiregen solved them, what meets there")
        for name, node in self.node.items():
            volts = f"{self.point.volts[name]:.9f} V" if name in self.point.volts else "-"
            yield from _comment(f"{node:<5} {name:<20} {volts:>15}  {self._meaning(name)}", indent=" " * 45)
        for group in self.point.floating:
            yield from _comment(f"floating, no path to battery minus, left out: {', '.join(group)}", indent="  ")

    def _starts(self) -> Iterator[str]:
        """Yield where Newton's method starts; from nothing ngspice takes a detour around converters."""
        known = [(node, self.point.volts[name]) for name, node in self.node.items() if name in self.point.volts]
        if known:
            yield from _comment("Where the search starts, to a millivolt; it holds nothing there.")
        for node, volts in known:
            if node != "0":
                yield f".nodeset v({node})={volts:.3f}"

    def _meaning(self, terminal: str) -> str:
        connector, _, place = terminal.partition(":")
        shell = self.circuit.shells.get(connector)
        mark, _, side = place.rpartition(".")
        words = ""
        if terminal == self.circuit.reference:
            words = "battery minus; "
        elif shell is not None and mark in shell.words and side in _SIDES:
            words = f"contact {mark}, {shell.words[mark]}, {_SIDES[side]}; "
        return f"{words}{' '.join(self.touching.get(terminal, []))}"

    def _element(self, number: int, element: Element) -> Iterator[str]:
        absent = self._absence(element)
        yield from _comment(f"{_words(element, self.point)}{absent}", indent="    ")
        name = f"{number}{_safe(element.ref)}"
        if isinstance(element, Converter):
            yield from self._converter(name, element)
            return
        if absent:
            return
        a, b = self.node[element.a], self.node[element.b]
        if isinstance(element, Battery):
            yield f"V{name} {a} m{number} DC {_number(element.voltage_v)}"
            yield f"R{name} m{number} {b} {_number(element.resistance_ohm)}"
        elif isinstance(element, Lamp):
            law = {"filament": self._filament, "led": self._led, "points": self._measured}[element.technology](
                element, a, b
            )
            share = self.point.burning.get(element.ref, 1.0)
            yield f"B{name} {a} {b} I = {law if share == 1.0 else f'{_number(share)}*({law})'}"
        elif isinstance(element, Diode):
            yield f"R{name} {a} {b} {_number(element.leak_ohm)}"
            beyond = f"max(0, V({a},{b}) - {_number(element.drop_v)})"
            yield f"B{name} {a} {b} I = {beyond}/{_number(element.resistance_ohm)}"
        elif isinstance(element, Resistive):
            yield f"R{name} {a} {b} {_number(element.resistance_ohm)}"

    def _absence(self, element: Element) -> str:
        """Return why an element is not in the netlist, as the end of its comment; empty when it is."""
        if isinstance(element, Converter):
            if element.common not in self.node or element.b not in self.node:
                return ": left out, it floats"
            return "" if element.ref in self.point.on else ": off, only its bleed is left"
        if isinstance(element, Switch | RelayContact) and element.ref not in self.point.closed:
            return ": open in this state, left out"
        if isinstance(element, Lamp) and self.point.burning.get(element.ref, 1.0) == 0.0:
            return ": burnt, left out"
        return ": left out, it floats" if any(end not in self.node for end in ends(element)) else ""

    def _converter(self, name: str, element: Converter) -> Iterator[str]:
        if element.common not in self.node or element.b not in self.node:
            return
        b, common = self.node[element.b], self.node[element.common]
        yield f"R{name} {b} {common} {_number(self.laws.converter_bleed_ohm)}"
        if element.ref not in self.point.on:
            return
        a = self.node[element.a]
        v_in, v_out = f"V({a},{common})", f"V({b},{common})"
        inside = f"min({_number(element.output_v)}, {_number(element.ratio)}*{v_in})"
        given = f"({inside} - {v_out})/{_number(element.resistance_ohm)}"
        if math.isfinite(element.limit_a):
            share = f"max(0, min(1, {v_out}/max({inside}, 1e-3)))"
            fold = f"({_number(element.foldback)} + {_number(1 - element.foldback)}*{share})"
            given = f"min({given}, {_number(element.limit_a)}*{fold})"
        given = f"max(0, {given})"
        drawn = f"{v_out}*{given}/({_number(element.efficiency)}*max({v_in}, 1e-3))"
        yield f"Bout{name} {common} {b} I = {given}"
        yield f"Bin{name} {a} {common} I = {drawn} + {_number(element.idle_a)}"

    def _filament(self, lamp: Lamp, a: str, b: str) -> str:
        exponent = self.laws.filament_exponent
        cold = lamp.cold_ratio ** (1 / exponent)
        constant = cold / (1 - cold)
        volts, siemens = f"V({a},{b})", lamp.rated_a * lamp.count / lamp.rated_v
        base = f"({volts}*{volts}/{_number(lamp.rated_v**2)} + {_number(constant)})/{_number(1 + constant)}"
        return f"{_number(siemens)}*{volts}*exp({_number(-exponent)}*ln({base}))"

    def _led(self, lamp: Lamp, a: str, b: str) -> str:
        full = max(lamp.cut_off_v, 1e-3)
        start = full * (1 - self.laws.led_ramp)
        volts, power_w = f"V({a},{b})", lamp.rated_v * lamp.rated_a * lamp.count
        slope = power_w / full / (full - start)
        steady = f"{_number(power_w)}/max({volts}, {_number(full)})"
        rising = f"({volts} > {_number(start)} ? ({volts} - {_number(start)})*{_number(slope)} : 0)"
        return f"({volts} >= {_number(full)} ? {steady} : {rising}) + {volts}/{_number(self.laws.led_bleed_ohm)}"

    def _measured(self, lamp: Lamp, a: str, b: str) -> str:
        """Return the sum of what each straight line has gained; the bleed is part of what was measured."""
        volts, bleed_ohm = f"V({a},{b})", self.laws.led_bleed_ohm
        own = [(0.0, 0.0), *((v, max(lamp.count * amps - v / bleed_ohm, 0.0)) for v, amps in lamp.points)]
        gains = [
            f"{_number((high_a - low_a) / (high_v - low_v))}"
            f"*max(0, min({_number(high_v - low_v)}, {volts} - {_number(low_v)}))"
            for (low_v, low_a), (high_v, high_a) in pairwise(own)
        ]
        return " + ".join([*gains, f"{volts}/{_number(bleed_ohm)}"])


def _number(value: float) -> str:
    """Return a number with every digit it has."""
    return repr(float(value))


def _words(element: Element, point: OperatingPoint) -> str:
    """Return what an element is, for its comment."""
    kind = element.kind_word if isinstance(element, RelayContact) else type(element).__name__.lower()
    facts = [element.circuit, element.title]
    if isinstance(element, Conductor):
        facts += [
            STRETCHES[element.stretch].short,
            f"{show(element.length_m, 'm')} of {element.size.label}",
            f"{element.temperature_c:.0f} deg C",
        ]
    elif isinstance(element, Fuse):
        facts = [element.circuit, f"{element.rating_a:g} A"]
    elif isinstance(element, Contact):
        facts = [element.circuit]
    elif isinstance(element, Coil):
        pulls = "pulled in" if element.ref in point.pulled else "at rest"
        facts += [f"pick-up {element.pick_up_v:.2f} V", pulls]
    elif isinstance(element, Diode):
        facts += [f"{element.drop_v:g} V drop"]
    elif isinstance(element, Lamp):
        facts += [f"{element.count} x {element.rated_a:g} A at {element.rated_v:g} V"]
    elif isinstance(element, Switch | RelayContact) and element.ref in point.closed:
        facts += ["closed"]
    return f"{element.ref}  {kind}: {', '.join(fact for fact in facts if fact)}, {' to '.join(ends(element)[:2])}"


def _comment(text: str, indent: str = "") -> list[str]:
    """Return text as comment lines; a user's words cannot leave the comment."""
    lines = wrap(_ascii(text), _WIDTH - 2, subsequent_indent=indent, break_on_hyphens=False, replace_whitespace=True)
    return [f"* {line}" for line in lines]


def _ascii(text: str) -> str:
    plain = unicodedata.normalize("NFKD", clean(text).translate(_ASCII))
    return (
        "".join(character for character in plain if not unicodedata.combining(character))
        .encode("ascii", "replace")
        .decode("ascii")
    )


def _safe(text: str, instead: str = "_") -> str:
    return re.sub("[^A-Za-z0-9]+", instead, text)
