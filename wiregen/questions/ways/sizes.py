"""Size by need what a rewritten rig leaves open: converters, relays, equaliser, resistors, fuses, a new feed.

What the user gave stays. A first study with everything open and ample shows what each part must carry; the smallest
part that carries it is taken, and listed as an assumption.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from wiregen.convert.rewrite import Rewritten, changed
from wiregen.design.design import Design
from wiregen.quantity import whole_up
from wiregen.rig.devices import (
    BrakeControllerChannel,
    CentreTapSupply,
    Channel,
    ConverterSupply,
    RelayChannel,
    ResistorChannel,
    StepDownChannel,
    WithMake,
)
from wiregen.rig.loaded import LoadedRig
from wiregen.rig.records import Run

if TYPE_CHECKING:
    from wiregen.circuit.build import Built
    from wiregen.convert.ways import Way
    from wiregen.model.circuit import Circuit
    from wiregen.model.finding import Assumption
    from wiregen.model.study import Study
    from wiregen.quantity import ConductorSize

#: Of a part that is to be found out: more than anything in a harness takes.
_AMPLE_A: Final = 1000.0
#: Most that a new wire of the centre tap or of a feed may lose, V: half of the usual 5 % of 12 V.
_MOST_LOST_V: Final = 0.3
#: No new fuse of a feed is smaller, A: below it the tables give no energy, and cold lamps open it (no source).
_LEAST_FUSE_A: Final = 5.0
#: A resistor is taken for this many times its heat (common practice, no source).
_RESISTOR_FACTOR: Final = 2.0
_PRACTICE: Final = "common practice, no source"


class _Sized:
    """What was sized so far, for one rig."""

    def __init__(self, loaded: LoadedRig) -> None:
        self.loaded = loaded
        self.assumed: list[Assumption] = []

    def note(self, name: str, text: str, why: str, where: str, source: str = "follows from the computation") -> None:
        from wiregen.model.finding import Assumption

        self.assumed.append(Assumption(name=name, text=text, why=why, source=source, support="derived", where=(where,)))

    def channel(self, index: int, **update: Any) -> None:  # noqa: ANN401 - any field of a channel
        adapter = self.loaded.rig.adapter
        channels = list(adapter.channel)
        channels[index] = channels[index].model_copy(update=update)
        self.loaded = changed(self.loaded, adapter=adapter.model_copy(update={"channel": tuple(channels)}))

    def supply(self, **update: Any) -> None:  # noqa: ANN401 - any field of the supply
        adapter = self.loaded.rig.adapter
        assert adapter.supply is not None
        made = adapter.supply.model_copy(update=update)
        self.loaded = changed(self.loaded, adapter=adapter.model_copy(update={"supply": made}))

    def run(self, circuit: str, size: ConductorSize) -> None:
        runs = tuple(
            run.model_copy(update={"size": size}) if circuit in run.circuits and run.size is None else run
            for run in self.loaded.rig.run
        )
        self.loaded = changed(self.loaded, run=runs)


def sized(made: Rewritten, way: Way) -> tuple[LoadedRig, tuple[Assumption, ...]]:
    """Return a rewritten rig with every open rating filled in, and what was assumed for it."""
    from wiregen.catalogue.conductors import standard_sizes

    work = _Sized(made.loaded)
    supply = made.loaded.rig.adapter.supply
    wires = ["supply"] if isinstance(supply, CentreTapSupply) else []
    if made.feed_added:
        run = Run.model_validate({"from": "battery", "to": "adapter", "circuits": [made.feed_added]})
        work.loaded = changed(work.loaded, run=(*work.loaded.rig.run, run))
        wires.append(made.feed_added)
    _resistors(work)
    if not _is_open(work.loaded, way, wires):
        return work.loaded, tuple(work.assumed)
    # Ample copper and an ample equaliser, so that the currents are those of the finished rig or a little more.
    trial = _Sized(work.loaded)
    for wire in wires:
        trial.run(wire, standard_sizes("mm2")[-1])
    if way.equaliser and isinstance(supply, CentreTapSupply) and supply.equaliser_a is None:
        trial.supply(equaliser_a=_AMPLE_A)
    design = Design(trial.loaded)
    studies = tuple(one.trusted() for one in design.studies)
    _channels(work, design.built, studies)
    _supply(work, way, studies)
    for wire in wires:
        _wire(work, wire, studies)
    return work.loaded, tuple(work.assumed)


def _is_open(loaded: LoadedRig, way: Way, wires: list[str]) -> bool:
    rig = loaded.rig
    supply = rig.adapter.supply
    return (
        bool(wires)
        or any(_is_unrated(loaded, channel) for channel in rig.adapter.channel)
        or (isinstance(supply, ConverterSupply) and supply.continuous_a is None)
    )


def _is_unrated(loaded: LoadedRig, channel: Channel) -> bool:
    if isinstance(channel, ResistorChannel):
        return channel.power_w is None
    if isinstance(channel, WithMake):
        return channel.rating_a is None and loaded.rig.rules.relay_rating_a is None
    return isinstance(channel, StepDownChannel | BrakeControllerChannel) and channel.rating_a is None


def _worst(studies: tuple[Study, ...], of: Callable[[Study], Any]) -> float:
    """Return the highest value over all states and corners of all trailers; 0 where none can be trusted."""
    return max((float(np.nan_to_num(np.abs(of(one))).max(initial=0.0)) for one in studies), default=0.0)


def _whole_a(current_a: float) -> float:
    """Return a rating that carries a current: the next whole ampere."""
    return float(max(1, whole_up(current_a)))


def _derated(circuit: Circuit, ref: str, current_a: float) -> float:
    """Return the printed output a converter needs to give a current in its surroundings, A."""
    from wiregen.model.circuit import Converter

    converter = circuit.by_ref[ref]
    assert isinstance(converter, Converter)
    too_warm_k = max(0.0, converter.ambient_c - converter.derate_from_c) if converter.derate_per_k else 0.0
    return current_a / max(0.05, 1.0 - converter.derate_per_k * too_warm_k)


def _channels(work: _Sized, built: Built, studies: tuple[Study, ...]) -> None:
    from wiregen.model.circuit import Converter, RelayContact, Resistor
    from wiregen.quantity import show

    circuit = built.circuits[0]
    for made in built.channels:
        channel = work.loaded.rig.adapter.channel[made.index]
        part = next(
            (
                e
                for e in circuit.elements
                if e.channel == made.name and isinstance(e, RelayContact | Converter | Resistor)
            ),
            None,
        )
        if part is None or not _is_unrated(work.loaded, channel):
            continue
        carried = _worst(studies, lambda one, ref=part.ref: one.current_a(ref))  # type: ignore[misc]
        if isinstance(part, Resistor):
            heat = carried**2 * part.resistance_ohm
            power = _whole_a(_RESISTOR_FACTOR * heat)
            work.channel(made.index, power_w=power)
            why = f"twice the {show(heat, 'W')} it turns into heat"
            work.note("resistor power", show(power, "W"), why, made.name, _PRACTICE)
        elif isinstance(part, Converter):
            rating = _whole_a(_derated(circuit, part.ref, carried))
            work.channel(made.index, rating_a=rating)
            why = f"gives {show(carried, 'A')} at most, less its derating in warm air"
            work.note("continuous output", show(rating, "A"), why, made.name)
        else:
            rating = _whole_a(carried)
            is_relay = isinstance(channel, RelayChannel)
            work.channel(made.index, rating_a=rating, **({"rated_for": "lamp", "rated_at": "12 V"} if is_relay else {}))
            kind = "lamp load at 12 V" if is_relay else "continuous"
            why = f"its contact carries {show(carried, 'A')} at most"
            work.note("contact rating", f"{show(rating, 'A')} {kind}", why, made.name)


def _supply(work: _Sized, way: Way, studies: tuple[Study, ...]) -> None:
    from wiregen.model.circuit import Conductor, Converter, Equaliser
    from wiregen.quantity import show

    supply = work.loaded.rig.adapter.supply
    if supply is None or not studies:
        return
    circuit = studies[0].circuit
    if isinstance(supply, ConverterSupply) and supply.continuous_a is None:
        ref = next(c.ref for c in circuit.of(Converter) if not c.channel and not isinstance(c, Equaliser))
        taken = _worst(studies, lambda one: one.current_a(ref))
        rating = _whole_a(_derated(circuit, ref, taken))
        work.supply(continuous_a=rating)
        why = f"all channels take {show(taken, 'A')} at most, less its derating in warm air"
        work.note("continuous output", show(rating, "A"), why, "converter")
    if not isinstance(supply, CentreTapSupply):
        return
    tap = next(c.ref for c in circuit.of(Conductor) if c.circuit == "supply" and c.zone == "vehicle")
    rating_a = supply.equaliser_a
    if way.equaliser and rating_a is None:
        taken = _worst(studies, lambda one: one.current_a(tap))
        rating_a = _whole_a(taken)
        work.supply(equaliser_a=rating_a)
        why = f"the tap gives {show(taken, 'A')} at most"
        work.note("equaliser", show(rating_a, "A"), why, "equaliser")
    if way.equaliser and supply.equaliser_fuse_a is None and rating_a is not None:
        fuse = _fuse(rating_a)
        work.supply(equaliser_fuse_a=fuse)
        work.note("equaliser fuse", show(fuse, "A"), "smallest that carries its rating for long", "equaliser", "M-FUSE")
    if supply.fuse_a is None:
        fuse = _fuse(_worst(studies, lambda one: one.current_a(tap)))
        work.supply(fuse_a=fuse)
        work.note(
            "fuse",
            show(fuse, "A"),
            f"smallest that carries the tap's current for long{_floor(fuse)}",
            "centre tap",
            "M-FUSE",
        )


def _fuse(current_a: float) -> float:
    """Return the smallest standard fuse for a current; the largest there is where none is large enough."""
    from wiregen.catalogue.ampacity import OutsideTable
    from wiregen.catalogue.defaults import default
    from wiregen.catalogue.fuses import smallest_rating_a, standard_ratings_a

    try:
        return max(_LEAST_FUSE_A, smallest_rating_a(current_a, default("fuse_continuous_factor").value))
    except OutsideTable:
        return standard_ratings_a()[-1]


def _floor(fuse_a: float) -> str:
    """Return in words that no smaller fuse is taken, where that is what decided."""
    from wiregen.quantity import show

    return f"; none below {show(_LEAST_FUSE_A, 'A')} is taken ({_PRACTICE})" if fuse_a <= _LEAST_FUSE_A else ""


def _wire(work: _Sized, circuit: str, studies: tuple[Study, ...]) -> None:
    """Size a new wire from the batteries: it carries its fuse, and loses little."""
    from wiregen.catalogue.ampacity import OutsideTable, ampacity_a
    from wiregen.catalogue.conductors import resistance_per_m, standard_sizes
    from wiregen.catalogue.defaults import default
    from wiregen.model.circuit import Conductor
    from wiregen.quantity import ConductorSize, show

    wire = next((c for c in studies[0].circuit.of(Conductor) if c.circuit == circuit and c.zone == "vehicle"), None)
    if wire is None:
        return
    carried = _worst(studies, lambda one: one.current_a(wire.ref))
    rig = work.loaded.rig
    if circuit == "supply":
        fuse = (rig.adapter.supply.fuse_a if rig.adapter.supply else None) or _fuse(carried)
    else:
        fuse = _fuse(carried)
        taps = tuple(tap.model_copy(update={"fuse_a": fuse}) if tap.name == circuit else tap for tap in rig.vehicle.tap)
        work.loaded = changed(work.loaded, vehicle=rig.vehicle.model_copy(update={"tap": taps}))
        work.note(
            "fuse",
            show(fuse, "A"),
            f"the new feed carries {show(carried, 'A')} at most{_floor(fuse)}",
            circuit,
            "M-FUSE",
        )
    series = next((run.size.series for run in rig.run if isinstance(run.size, ConductorSize)), "mm2")
    least_mm2 = default("conductor_area_mm2").value
    for size in (one for one in standard_sizes(series) if one.area_mm2 >= least_mm2 * (1 - 1e-9)):
        try:
            allowed = ampacity_a(size, wire.insulation_c, wire.ambient_c, wire.bundle).amps
        except OutsideTable:
            continue
        lost = carried * wire.length_m * resistance_per_m(size, wire.temperature_c).ohm_per_m
        if allowed >= fuse and lost <= _MOST_LOST_V:
            why = f"carries its {show(fuse, 'A')} fuse and loses {show(lost, 'V')} over {show(wire.length_m, 'm')}"
            why += f"; no more than {show(_MOST_LOST_V, 'V')} is taken ({_PRACTICE})"
            work.run(circuit, size)
            work.note(
                "conductor", size.label, why, f"new wire of {'the centre tap' if circuit == 'supply' else circuit}"
            )
            return
    work.note("conductor", "none found", "no size of the tables carries it", circuit)


def _resistors(work: _Sized) -> None:
    """Give every resistor the value that leaves its lamps their rated voltage while all of them burn."""
    from wiregen.catalogue.defaults import default
    from wiregen.quantity import show

    channels = work.loaded.rig.adapter.channel
    if not any(isinstance(channel, ResistorChannel) for channel in channels):
        return
    circuits = Design(work.loaded).circuits
    running_v = work.loaded.rig.vehicle.battery.running_v or default("battery_24v_running_v").value
    for index, channel in enumerate(channels):
        if not isinstance(channel, ResistorChannel):
            continue
        loads = [(_load(circuit, channel), circuit.trailer) for circuit in circuits]
        (current_a, lamp_v), trailer = max(loads, key=lambda pair: pair[0][0])
        if current_a <= 0:
            continue
        ohm = max(1e-3, (running_v - lamp_v) / current_a)
        work.channel(index, resistance_ohm=ohm)
        why = f"takes {show(running_v - lamp_v, 'V')} at the {show(current_a, 'A')} of all its lamps on {trailer}"
        work.note("resistor", show(ohm, "ohm"), why, channel.name or ", ".join(channel.outputs))


def _load(circuit: Circuit, channel: Channel) -> tuple[float, float]:
    """Return the current of all lamps and loads of a channel, A, and the voltage they want, weighed by current, V."""
    from wiregen.model.circuit import Lamp, Load

    parts = [(e.rated_a * e.count, e.rated_v) for e in circuit.of(Lamp) if e.function in channel.outputs]
    parts += [(e.nominal_v / e.resistance_ohm, e.nominal_v) for e in circuit.of(Load) if e.function in channel.outputs]
    total = math.fsum(amps for amps, _ in parts)
    return total, math.fsum(amps * volts for amps, volts in parts) / total if total else 0.0


def worst_trailer(loaded: LoadedRig, index: int) -> str:
    """Return the trailer that a channel's resistor is made for: the one that draws most."""
    channel = loaded.rig.adapter.channel[index]
    circuits = Design(loaded).circuits
    return max(circuits, key=lambda circuit: _load(circuit, channel)[0]).trailer


__all__ = ["sized", "worst_trailer"]
