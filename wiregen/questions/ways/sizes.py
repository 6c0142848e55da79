"""Size by need what a rewritten rig leaves open: converters, relays, equaliser, resistors, fuses, a new feed.

What the user gave stays. A first study with everything open and ample shows what each part must carry; the smallest
part that carries it is taken, and listed as an assumption. New wires and their fuses are the sizer's to choose.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from wiregen.convert.rewrite import Rewritten, changed
from wiregen.design.design import Design
from wiregen.quantity import whole_up
from wiregen.rig.auto import AUTO_AMPS, AUTO_SIZE
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
from wiregen.sizing.ask import sized as size_open
from wiregen.sizing.choose import Effort

if TYPE_CHECKING:
    from wiregen.circuit.build import Built
    from wiregen.convert.ways import Way
    from wiregen.model.circuit import Circuit
    from wiregen.model.finding import Assumption
    from wiregen.model.study import Study
    from wiregen.quantity import ConductorSize

#: Of a part that is to be found out: more than anything in a harness takes.
_AMPLE_A: Final = 1000.0
#: What the sizer may take for the new wires of one way: there are few of them, and seven ways.
_EFFORT: Final = Effort(checks=6, steps=2000, faults=False)
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
        _leave_open(work, wire)
    final = size_open(Design(work.loaded), _EFFORT).loaded
    return final, (*work.assumed, *map(_of_this_way, final.chosen[len(work.loaded.chosen) :]))


def _of_this_way(chosen: Assumption) -> Assumption:
    """Return what the sizer chose in the words of a way: no file holds this rig, so that no command can tell more."""
    from dataclasses import replace

    name = {"chosen_size": "wire", "chosen_fuse": "fuse"}[chosen.name]
    return replace(chosen, name=name, why=chosen.why.partition(";")[0])


def _leave_open(work: _Sized, circuit: str) -> None:
    """Leave a new wire from the batteries, and the fuse of a new feed, to the sizer."""
    work.run(circuit, AUTO_SIZE)
    vehicle = work.loaded.rig.vehicle
    taps = tuple(
        tap.model_copy(update={"fuse_a": AUTO_AMPS}) if tap.name == circuit and tap.fuse_a is None else tap
        for tap in vehicle.tap
    )
    work.loaded = changed(work.loaded, vehicle=vehicle.model_copy(update={"tap": taps}))


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
        work.supply(fuse_a=AUTO_AMPS)


def _fuse(current_a: float) -> float:
    """Return the smallest standard fuse for a current; the largest there is where none is large enough."""
    from wiregen.catalogue.ampacity import OutsideTable
    from wiregen.catalogue.defaults import default
    from wiregen.catalogue.fuses import smallest_rating_a, standard_ratings_a

    try:
        return smallest_rating_a(current_a, default("fuse_continuous_factor").value)
    except OutsideTable:
        return standard_ratings_a()[-1]


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
