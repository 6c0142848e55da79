"""Circuits made at random from a seed: from rig files, and straight from parts in combinations no rig file asks for."""

import random
from collections.abc import Mapping
from dataclasses import dataclass, replace

from tests import circuits as hand
from tests.random_rigs import PLUGS, VEHICLES
from tests.rigs import SUPPLY, load, rig
from wiregen.circuit.build import build, vehicle_signals
from wiregen.circuit.faults import single_faults
from wiregen.model.circuit import Circuit, Converter, Diode, Element, Lamp, Load, Resistive, Resistor
from wiregen.model.fault import Fault

LIVES = ("lights", "brake", "left and lit", "brake and not blackout", "lights or brake", "blackout", "not lights")
SIGNALS = ("lights", "blackout", "brake", "left")
COMMON = {"circuit": "stop", "zone": "trailer"}


@dataclass(frozen=True)
class Seeded:
    """A circuit with the signals its switches hear, its faults, and its ground terminals."""

    circuit: Circuit
    signals: frozenset[str]
    faults: tuple[Fault, ...]
    grounds: Mapping[str, str]


def seeded(seed: int) -> Seeded:
    """Return the circuit of a seed: even ones from a rig file, odd ones from parts."""
    rng = random.Random(seed)
    return _from_rig(rng) if seed % 2 == 0 else _from_parts(rng)


def _with_shorts(rng: random.Random, circuit: Circuit) -> tuple[Fault, ...]:
    resistive = [e for e in circuit.elements if isinstance(e, Resistive) and e.b != circuit.reference]
    shorts = [
        Fault("short", e.ref, f"{e.b} touches ground", ohm=rng.choice((0.01, 0.1, 2.0)))
        for e in rng.sample(resistive, min(6, len(resistive)))
    ]
    return (*single_faults(circuit), *shorts)


# --- from a rig file ---


def _from_rig(rng: random.Random) -> Seeded:
    loaded = load(rig_text(rng))
    circuit = build(loaded).circuits[0]
    elements = tuple(_limited(rng, e) if isinstance(e, Converter) else e for e in circuit.elements)
    circuit = replace(circuit, elements=elements)
    grounds = rng.choice(({}, {"vehicle": "chassis", "adapter": "-A1:0V", "trailer": "-X2:ground"}))
    grounds = {zone: name for zone, name in grounds.items() if name in circuit.terminals}
    return Seeded(circuit, vehicle_signals(loaded), _with_shorts(rng, circuit), grounds)


def _limited(rng: random.Random, converter: Converter) -> Converter:
    if rng.random() < 0.4:
        return converter
    return replace(converter, limit_a=rng.uniform(1, 20), foldback=rng.choice((1.0, 0.5, 0.2)))


def rig_text(rng: random.Random) -> str:
    """Return a rig file: relays, solid state, step-downs and wires; filament and LED lamps; every kind of supply."""
    socket, plug = rng.choice(sorted(VEHICLES)), rng.choice(sorted(PLUGS))
    inputs, outputs = VEHICLES[socket], PLUGS[plug]
    channels = []
    for _ in range(rng.randint(1, 5)):
        device = rng.choice(("relay", "relay", "solid_state", "step_down", "wire"))
        joint = rng.choice(("", " and ", " or ", " xor ", " and not ")) if device in ("relay", "solid_state") else ""
        logic = f"{rng.choice(inputs)}{joint}{rng.choice(inputs)}" if joint else rng.choice(inputs)
        more = rng.choice(({}, {"fuse": "5 A"})) | ({} if device == "wire" else {"rating": "20 A"})
        channels.append({"input": logic, "output": rng.sample(outputs, rng.randint(1, 2)), "device": device} | more)
    lamps = [
        {"function": rng.choice(outputs), "count": rng.randint(1, 4)} | rng.choice(({}, {}, {"type": "led-stop-12v"}))
        for _ in range(rng.randint(1, 5))
    ]
    return rig(
        socket,
        plug,
        channels=channels,
        lamps=lamps,
        supply=rng.choice((SUPPLY, SUPPLY, {"kind": "battery"}, {"kind": "centre_tap", "fuse": "20 A"})),
        pedal=True,
        adapter={"own_ground": rng.random() < 0.5},
        **rng.choice(({}, {"hitch_resistance": "0.5 ohm"})),
    )


# --- from parts ---


class _Bench:
    """Puts parts together: feeds behind switches, a 12 V bus, channels, lamps on a shared ground."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.parts: list[Element] = []
        self.numbers = 0

    def ref(self, letter: str) -> str:
        self.numbers += 1
        return f"-{letter}{self.numbers}"

    def wire(self, a: str, b: str, low: float = 0.002, high: float = 0.5) -> None:
        self.parts.append(hand.resistor(self.ref("W"), a, b, self.rng.uniform(low, high)))

    def build(self) -> Circuit:
        rng = self.rng
        self.wire("chassis", hand.GROUND, 0.001, 0.02)
        self.wire("bar", "chassis", 0.002, 0.1)
        self.wire("lamps", "bar", 0.005, 0.3)
        if rng.random() < 0.4:
            self.wire("lamps", "chassis", 0.1, 2.0)  # through the hitch
        self.batteries()
        feeds = [self.feed(number) for number in range(rng.randint(2, 4))]
        bus = self.supply(feeds)
        outlets = [self.channel(rng.choice(feeds), bus, number) for number in range(rng.randint(1, 5))]
        for outlet in outlets:
            for _ in range(rng.randint(1, 2)):
                self.consumer(outlet)
        if len(outlets) > 1 and rng.random() < 0.3:
            self.diode(*rng.sample(outlets, 2))
        return hand.circuit(*self.parts)

    def batteries(self) -> None:
        rng = self.rng
        self.pair = rng.random() < 0.3
        if self.pair:
            self.parts.append(hand.battery(rng.uniform(11, 15), rng.uniform(0.005, 0.05), a="centre"))
            upper = hand.battery(rng.uniform(11, 15), rng.uniform(0.005, 0.05), ref="-G2", a="plus", b="centre")
            self.parts.append(upper)
        else:
            self.parts.append(hand.battery(rng.uniform(20, 30), rng.uniform(0.005, 0.05)))

    def feed(self, number: int) -> str:
        rng, strip = self.rng, f"feed{number}"
        if rng.random() < 0.8:
            self.parts.append(hand.switch(self.ref("S"), "plus", f"{strip}.s", rng.choice(LIVES)))
        else:
            self.wire("plus", f"{strip}.s")
        self.wire(f"{strip}.s", strip, 0.01, 0.3)
        return strip

    def supply(self, feeds: list[str]) -> str:
        rng = self.rng
        kind = "pair" if self.pair else rng.choice(("converter", "converter", "battery"))
        if kind == "converter":
            start = rng.choice((*feeds, "plus"))
            made = self.converter(start, "supply", minimum=rng.choice((8, 18, 21)))
            self.parts.append(replace(made, ratio=rng.choice((1.0, 1.0, 0.5))))
        elif kind == "battery":
            self.parts.append(hand.battery(rng.uniform(11, 14), 0.02, ref="-G3", a="supply", b="bar"))
        else:
            self.wire("centre", "supply", 0.002, 0.05)
            if rng.random() < 0.5:
                equaliser = self.converter("plus", "centre", minimum=10)
                self.parts.append(replace(equaliser, ratio=0.5, output_v=1000.0, common=hand.GROUND))
        self.wire("supply", "bus", 0.001, 0.02)
        return "bus"

    def converter(self, a: str, b: str, minimum: float) -> Converter:
        rng = self.rng
        made = hand.converter(
            self.ref("T"), a, b, output=rng.uniform(11, 14.5), ohm=rng.uniform(0.005, 0.1), minimum=minimum,
            efficiency=rng.uniform(0.7, 0.97), idle=rng.choice((0.0, 0.02, 0.2)),
        )  # fmt: skip
        return _limited(rng, replace(made, common=rng.choice(("bar", hand.GROUND))))

    def channel(self, feed: str, bus: str, number: int) -> str:
        rng, out, end = self.rng, f"out{number}", f"outlet{number}"
        device = rng.choice(("relay", "relay", "solid", "step_down", "wire", "diode", "resistor"))
        if device in ("relay", "solid"):
            self.relay(device, feed, bus, out)
        elif device == "step_down":
            self.parts.append(self.converter(feed, out, minimum=rng.choice((6, 15))))
        elif device == "wire":
            self.wire(feed, out, 0.005, 0.05)
        elif device == "diode":
            self.diode(feed, out)
        else:
            ohm = rng.uniform(1, 10)
            self.parts.append(Resistor(ref=self.ref("R"), a=feed, b=out, resistance_ohm=ohm, power_w=50.0, **COMMON))
        self.wire(out, end, 0.01, 0.4)
        return end

    def relay(self, device: str, feed: str, bus: str, out: str) -> None:
        rng = self.rng
        ohm = rng.uniform(200, 500) if device == "relay" else 10_000.0
        made = hand.coil(self.ref("K"), feed, "bar", ohm=ohm, pick_up=rng.choice((8, 14, 16)))
        coils, logic = {"x": made.ref}, rng.choice(("x", "x", "not x"))
        self.parts.append(made)
        if rng.random() < 0.4:
            # A second coil on the 12 V side of another channel, or on the bus: relays that work relays.
            second = hand.coil(self.ref("K"), rng.choice(("bus", "outlet0", feed)), "bar", ohm=100, pick_up=7)
            self.parts.append(replace(second, drop_out_v=1.5))
            coils["y"], logic = second.ref, rng.choice(("x and y", "x or y", "x xor y", "x and not y"))
        contact = hand.relay(self.ref("KC"), rng.choice((bus, bus, feed)), out, logic, coils)
        self.parts.append(replace(contact, device="relay" if device == "relay" else "solid_state"))

    def diode(self, a: str, b: str) -> None:
        drop = self.rng.choice((0.4, 0.7, 1.0))
        self.parts.append(Diode(ref=self.ref("V"), a=a, b=b, drop_v=drop, resistance_ohm=0.01, leak_ohm=1e6, **COMMON))

    def consumer(self, outlet: str) -> None:
        rng = self.rng
        plus, minus = f"{outlet}.{self.numbers}a", f"{outlet}.{self.numbers}b"
        self.wire(outlet, plus, 0.005, 0.2)
        self.wire(minus, "lamps", 0.005, 0.2)
        kind = rng.choice(("filament", "filament", "led", "points", "load"))
        if kind == "load":
            ohm = rng.uniform(0.5, 20)
            self.parts.append(
                Load(ref=self.ref("M"), a=plus, b=minus, count=2, function="brake", nominal_v=12, max_v=16,
                     resistance_ohm=ohm, **COMMON)
            )  # fmt: skip
            return
        self.parts.append(self.lamp(kind, plus, minus))

    def lamp(self, kind: str, a: str, b: str) -> Lamp:
        rng, count = self.rng, self.rng.randint(1, 4)
        if kind == "led":
            volts = rng.choice((12, 24))
            return replace(
                hand.led(self.ref("E"), a, b, volts=volts, watts=rng.uniform(1, 8), cut_off=volts * 0.6), count=count
            )
        volts = rng.choice((13.5, 13.5, 28))
        made = hand.filament(self.ref("E"), a, b, volts=volts, amps=rng.uniform(0.2, 2.2), count=count)
        if kind == "filament":
            return made
        points = (
            (6.0, 0.0),
            (9.0, rng.uniform(0.05, 0.2)),
            (13.5, rng.uniform(0.2, 0.4)),
            (24.0, rng.uniform(0.1, 0.5)),
        )
        return replace(made, technology="points", points=points)


def _from_parts(rng: random.Random) -> Seeded:
    circuit = _Bench(rng).build()
    grounds = rng.choice(({}, {"trailer": "lamps"}, {"trailer": "chassis", "vehicle": "chassis"}))
    return Seeded(circuit, frozenset(SIGNALS), _with_shorts(rng, circuit), grounds)
