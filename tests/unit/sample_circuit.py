"""A circuit made by hand for drawing tests: every kind of element, nothing read from a file; values are invented."""

import random
from dataclasses import dataclass, field

from wiregen.circuit.contacts import contact_network
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Conductor,
    Contact,
    Converter,
    Element,
    Fuse,
    Gate,
    Lamp,
    Load,
    Path,
    RelayContact,
    Shell,
    Switch,
)
from wiregen.model.contacts import OUT
from wiregen.model.logic import parse
from wiregen.quantity import parse_size

SOCKET_MARKS = ("A", "B", "C", "D", "E", "F", "H", "J", "K", "L", "M", "N")
OUTLET_MARKS = ("1", "2", "3", "4", "5", "6", "7")
COLOURS = ("YE", "BU", "WH", "GN", "BN", "RD", "BK", "VT", "OG", "GY", "WH/BK", "GN/YE")


@dataclass
class Bench:
    """Collects elements and numbers them."""

    elements: list[Element] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)

    def ref(self, letter):
        self.counts[letter] = self.counts.get(letter, 0) + 1
        return f"-{letter}{self.counts[letter]}"

    def add(self, element):
        self.elements.append(element)
        return element

    def wire(self, stretch, a, b, circuit, zone, colour="", size="1.5 mm²"):
        return self.add(
            Conductor(
                ref=self.ref("W"), a=a, b=b, circuit=circuit, zone=zone, stretch=stretch, length_m=2.0,
                size=parse_size(size), temperature_c=20.0, insulation_c=85.0, ambient_c=40.0, colour=colour,
                resistance_ohm=0.01,
            )
        )  # fmt: skip

    def contact(self, connector, mark, a, b, circuit, zone):
        return self.add(
            Contact(
                ref=f"{connector}:{mark}", a=a, b=b, circuit=circuit, zone=zone, connector=connector, mark=mark,
                rating_a=15.0, resistance_ohm=0.005, title=f"{connector} contact {mark}",
            )
        )  # fmt: skip

    def fuse(self, a, b, circuit, zone, rating_a=10.0):
        return self.add(
            Fuse(ref=self.ref("F"), a=a, b=b, circuit=circuit, zone=zone, rating_a=rating_a, resistance_ohm=0.01)
        )

    def coil(self, letter, a, circuit):
        ref = self.ref(letter)
        self.add(
            Coil(ref=ref, a=a, b="-A1:0V", circuit=circuit, zone="adapter", resistance_ohm=300.0, pick_up_v=14.4,
                 drop_out_v=2.4, is_copper=letter == "K", title=f"{ref} hears {circuit}")
        )  # fmt: skip
        return ref


def sample_circuit(seed=None, *, circuits=("tail", "stop", "turn_left", "turn_right", "reverse"), xor=True,
                   brake=True, device="relay", lamps=1, combined=""):  # fmt: skip
    """Return a rig with a 12-contact socket, an adapter with relays and converter, and a 7-contact trailer.

    Args:
        seed: Shuffles contacts and lamps; None keeps them in order.
        circuits: Vehicle circuits in use.
        xor: Whether two relays make a combined signal on contact 2.
        brake: Whether a brake channel is fed from a tap.
        device: Device of the channels.
        lamps: Lamps on each circuit besides the tail lamps.
        combined: Logic of the turn channels, over ``circuits``, instead of the one that ``xor`` gives.
    """
    chance = random.Random(seed)
    live = [m for m in SOCKET_MARKS if m not in ("D", "L")]
    outlets = [m for m in OUTLET_MARKS if m != "1"]
    if seed is not None:
        chance.shuffle(live)
        chance.shuffle(outlets)
    bench = Bench()
    bench.add(Battery(ref="-G1", a="-G1:+", b="-G1:-", circuit="supply", zone="vehicle", voltage_v=28.0,
                      resistance_ohm=0.01, title="battery 28 V"))  # fmt: skip
    bench.add(Path(ref="-XE1", a="chassis", b="-G1:-", circuit="ground", zone="vehicle", resistance_ohm=0.002,
                   title="chassis to battery minus"))  # fmt: skip
    marks = dict(zip(circuits, live, strict=False))
    colours = dict(zip(circuits, COLOURS, strict=False))
    # two of the circuits share one fuse, as on many vehicles
    shared = bench.fuse("-G1:+", "-F1:2", "tail", "vehicle", 15.0)
    for name in circuits:
        start = shared.b
        if name not in ("tail", "reverse"):
            start = bench.fuse("-G1:+", f"-F{bench.counts['F'] + 1}:2", name, "vehicle").b
        ref = bench.ref("S")
        bench.add(Switch(ref=ref, a=start, b=f"{ref}:2", circuit=name, zone="vehicle", live=parse("always"),
                         resistance_ohm=0.01, title=f"{name} switch"))  # fmt: skip
        mark = marks[name]
        bench.wire("battery-socket", f"{ref}:2", f"-X1:{mark}.v", name, "vehicle", colours[name])
        bench.contact("-X1", mark, f"-X1:{mark}.v", f"-X1:{mark}.a", name, "vehicle")
        bench.wire("socket-adapter", f"-X1:{mark}.a", f"-A1:{name}", name, "adapter", colours[name])
    for mark in ("D", "L"):
        bench.wire("socket-adapter", "-A1:0V", f"-X1:{mark}.a", "ground", "adapter", "BK", "4 mm²")
        bench.contact("-X1", mark, f"-X1:{mark}.a", f"-X1:{mark}.v", "ground", "vehicle")
        bench.wire("socket-chassis", f"-X1:{mark}.v", "chassis", "ground", "vehicle", "BK", "4 mm²")
    feed = bench.fuse("-G1:+", f"-F{bench.counts['F'] + 1}:2", "feed", "vehicle", 20.0)
    bench.wire("battery-adapter", feed.b, "-A1:feed", "feed", "vehicle", "RD", "4 mm²")
    bench.add(Converter(ref="-T1", a="-A1:feed", b="-T1:out", common="-A1:0V", circuit="supply", zone="adapter",
                        title="step-down converter", output_v=13.6, ratio=1.0, resistance_ohm=0.02, efficiency=0.9,
                        idle_a=0.05, minimum_input_v=18.0, continuous_a=30.0))  # fmt: skip
    bench.fuse("-T1:out", "-A1:12V", "supply", "adapter", 30.0)
    outs = {}
    for name in circuits:
        logic = combined if name.startswith("turn") else ""
        names = ("stop", name) if xor and name.startswith("turn") and "stop" in circuits else (name,)
        names = parse(logic).names if logic else names
        coils = {n: bench.coil("K" if device == "relay" else "Q", f"-A1:{n}", n) for n in names}
        first = next(iter(coils.values()))
        fused = bench.fuse("-A1:12V", f"-F{bench.counts['F'] + 1}:2", name, "adapter", 7.5)
        gate = _gate(logic or " xor ".join(names), coils, device)
        out = gate.nodes[OUT][0] if gate.wired else f"{first}:87"
        bench.add(RelayContact(ref=f"{first}:30-87", a=fused.b, b=out, circuit=name, zone="adapter", gate=gate,
                               rating_a=20.0, device=device, resistance_ohm=0.01,
                               title=f"{first} contact"))  # fmt: skip
        outs[name] = out
    if brake:
        tap = bench.fuse("-G1:+", f"-F{bench.counts['F'] + 1}:2", "brake_pedal", "vehicle", 5.0)
        ref = bench.ref("S")
        bench.add(Switch(ref=ref, a=tap.b, b=f"{ref}:2", circuit="brake_signal", zone="vehicle", live=parse("brake"),
                         resistance_ohm=0.01))  # fmt: skip
        bench.wire("battery-adapter", f"{ref}:2", "-A1:brake_signal", "brake_signal", "vehicle", "BN/RD", "1 mm²")
        coil = bench.coil("K" if device == "relay" else "Q", "-A1:brake_signal", "brake_signal")
        bench.add(Converter(ref="-A2", a="-A1:12V", b="-A2:out", common="-A1:0V", circuit="brake",
                            zone="adapter", device="brake_controller", title="brake controller",
                            output_v=1000.0, ratio=0.8, resistance_ohm=0.02,
                            efficiency=0.95, idle_a=0.02, minimum_input_v=9.0, continuous_a=20.0,
                            gate=Gate(logic=parse("brake_signal"), coils={"brake_signal": coil})))  # fmt: skip
        outs["brake"] = "-A2:out"
    _trailer(bench, outs, outlets, lamps)
    words = dict.fromkeys(SOCKET_MARKS, "")
    return Circuit(
        title="Sample rig", trailer="Box trailer", elements=tuple(bench.elements), reference="-G1:-", stop_wins=False,
        shells={"-X1": Shell(short="12-contact socket", marks=SOCKET_MARKS, words=words),
                "-X2": Shell(short="7-contact outlet", marks=OUTLET_MARKS, words={})},
    )  # fmt: skip


def _gate(logic, coils, device):
    expression = parse(logic)
    network = contact_network(expression) if device == "relay" and not expression.is_bare else None
    return Gate(logic=expression, coils=coils, network=network)


def _trailer(bench, outs, outlets, lamps):
    ground = "-X2:ground"
    for (name, out), mark in zip(outs.items(), outlets, strict=False):
        colour = COLOURS[OUTLET_MARKS.index(mark)]
        a, t, s = (f"-X2:{mark}.{end}" for end in "ats")
        bench.wire("adapter-trailer", out, a, name, "adapter", colour)
        bench.contact("-X2", mark, a, t, name, "trailer")
        bench.wire("plug-splice", t, s, name, "trailer", colour)
        if name == "brake":
            ref = bench.ref("M")
            _branch(bench, ref, s, ground, name, colour)
            bench.add(Load(ref=ref, a=f"{ref}:1", b=f"{ref}:2", circuit=name, zone="trailer", resistance_ohm=1.6,
                           function="brake", nominal_v=12.0, max_v=16.0, count=2,
                           title="2 × brake magnet"))  # fmt: skip
            continue
        for number in range(3 if name == "tail" else lamps):
            ref = bench.ref("E")
            _branch(bench, ref, s, ground, name, colour)
            watts = 5.0 if name == "tail" else 21.0
            side = ("left", "right", "centre")[number % 3] if name == "tail" else ""
            count = 2 if name in ("stop", "tail") else 1
            title = f"{count} × P{watts:g}W 12 V" if count > 1 else f"P{watts:g}W 12 V"
            bench.add(Lamp(ref=ref, a=f"{ref}:1", b=f"{ref}:2", circuit=name, zone="trailer", count=count,
                           technology="filament", rated_v=12.0, rated_a=watts / 12.0, peak_a=watts / 12.0,
                           nominal_v=12.0, max_v=16.0, function=name, side=side, title=title))  # fmt: skip
    bench.wire("plug-splice", ground, "-X2:1.t", "ground", "trailer", "WH", "2.5 mm²")
    bench.contact("-X2", "1", "-X2:1.t", "-X2:1.a", "ground", "trailer")
    bench.wire("adapter-trailer", "-X2:1.a", "-A1:0V", "ground", "adapter", "WH", "2.5 mm²")
    bench.add(Path(ref="-XE2", a=ground, b="chassis", circuit="ground", zone="trailer", resistance_ohm=0.05,
                   title="unintended path through the hitch"))  # fmt: skip


def _branch(bench, ref, splice, ground, name, colour):
    bench.wire("splice-lamp", splice, f"{ref}:1", name, "trailer", colour, "0.75 mm²")
    bench.wire("splice-lamp", f"{ref}:2", ground, "ground", "trailer", "WH", "0.75 mm²")
