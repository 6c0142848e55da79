"""What trailers ask of a relay box: the currents of the rig with a box of unlimited supply in place of its adapter."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from wiregen.convert.rewrite import changed, rewrite
from wiregen.design.design import Design
from wiregen.rig.devices import ConverterSupply

if TYPE_CHECKING:
    from wiregen.circuit.adapter import BuiltChannel
    from wiregen.model.behaviour import Behaviour
    from wiregen.model.circuit import Circuit
    from wiregen.model.study import Array, Study
    from wiregen.questions.box.record import ChannelNeed, TrailerNeed
    from wiregen.rig.devices import Channel
    from wiregen.rig.loaded import LoadedRig

#: Below this an output carries nothing, A: a coil's leakage is no load.
_NOTHING_A: Final = 1e-3
_UNLIMITED: Final = dict.fromkeys(("continuous_a", "peak_a", "current_limit_a", "foldback", "fuse_a"))


def needs(loaded: LoadedRig) -> tuple[TrailerNeed, ...]:
    """Return what each trailer of a rig asks of a box.

    Raises:
        InputError: No channel of the rig can be served by a box.
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.convert.ways import WAYS
    from wiregen.errors import InputError

    is_24v = all(trailer.voltage == "24 V" for trailer in loaded.rig.trailer)
    wanted = "24v-lamps" if is_24v else "converter"
    made = rewrite(loaded, next(way for way in WAYS if way.id == wanted))
    if made.why_not:
        raise InputError("; ".join(made.why_not))
    boxed = _unlimited(made.loaded)
    design = Design(boxed)
    found = zip(design.circuits, design.studies, design.behaviour, strict=True)
    return tuple(
        _need(boxed, circuit, solved.trusted(), table, design.built.channels, 24.0 if is_24v else 12.0)
        for circuit, solved, table in found
    )


def _unlimited(loaded: LoadedRig) -> LoadedRig:
    """Return a rig whose supply gives whatever is asked for, so that no current is cut before it is seen."""
    adapter = loaded.rig.adapter
    if not isinstance(adapter.supply, ConverterSupply):
        return loaded
    supply = adapter.supply.model_copy(update=_UNLIMITED)
    return changed(loaded, adapter=adapter.model_copy(update={"supply": supply}))


def _need(
    loaded: LoadedRig,
    circuit: Circuit,
    solved: Study,
    table: Behaviour,
    channels: tuple[BuiltChannel, ...],
    contact_v: float,
) -> TrailerNeed:
    from wiregen.catalogue.defaults import default
    from wiregen.catalogue.relays import INRUSH_FACTORS
    from wiregen.convert.rewrite import is_lamp
    from wiregen.questions.box.record import TrailerNeed

    written = loaded.rig.adapter.channel
    outputs, besides = [], []
    lamps_a, all_a, filaments = _zero(solved), _zero(solved), _zero(solved)
    for built in channels:
        current = _output_a(solved, built.name)
        if not current.max(initial=0.0) > _NOTHING_A:
            continue
        if not is_lamp(written[built.index]):
            all_a = all_a + _asked_a(solved, built.name, current)
            besides.append(_words(written[built.index]))
            continue
        filament = np.minimum(_filament_a(solved, table, built.name), current)
        lamps_a, all_a, filaments = lamps_a + current, all_a + current, filaments + filament
        outputs.append(_channel_need(solved, built, current, filament))
    row = int(np.argmax(all_a)) if len(all_a) else 0
    factor = INRUSH_FACTORS["lamp"] - 1
    return TrailerNeed(
        trailer=circuit.trailer,
        channels=tuple(outputs),
        lamps_a=float(lamps_a.max(initial=0.0)),
        lamps_state=solved.points[int(np.argmax(lamps_a))].words if solved.points else "",
        all_a=float(all_a.max(initial=0.0)),
        state=solved.points[row].words if solved.points else "",
        cold_a=float((all_a + factor * filaments).max(initial=0.0)),
        besides=" and ".join(dict.fromkeys(besides)),
        contact_v=contact_v,
        ambient_c=loaded.rig.adapter.ambient_c or default("ambient_c").value,
    )


def _zero(solved: Study) -> Array:
    return np.zeros(len(solved.points))


def _words(channel: Channel) -> str:
    from wiregen.catalogue.circuits import CIRCUITS

    return " and ".join(CIRCUITS[name].word for name in channel.outputs)


def _channel_need(solved: Study, built: BuiltChannel, current: Array, filament: Array) -> ChannelNeed:
    from wiregen.catalogue.circuits import CIRCUITS
    from wiregen.catalogue.relays import INRUSH_FACTORS
    from wiregen.questions.box.record import ChannelNeed

    row = int(np.argmax(current))
    closing = current + (INRUSH_FACTORS["lamp"] - 1) * filament
    return ChannelNeed(
        channel=built.name,
        feeds=", ".join(CIRCUITS[name].word for name in built.outputs),
        steady_a=float(current[row]),
        state=solved.points[row].words,
        closing_a=float(closing.max()),
    )


def _output_a(solved: Study, channel: str) -> Array:
    """Return what a channel gives to the trailer in every state, A."""
    from wiregen.model.circuit import Conductor

    wires = [w for w in solved.circuit.of(Conductor) if w.channel == channel and w.stretch == "adapter-trailer"]
    return np.asarray(np.sum([np.abs(solved.current_a(wire.ref)) for wire in wires], axis=0) + _zero(solved))


def _asked_a(solved: Study, channel: str, given_a: Array) -> Array:
    """Return what a channel takes from the bus, A: a controller or step-down has a loss of its own."""
    from wiregen.catalogue.devices import KINDS
    from wiregen.model.circuit import Converter

    own = (c for c in solved.circuit.of(Converter) if c.channel == channel and KINDS[c.device].on_bus)
    part = next(own, None)
    return given_a if part is None else np.abs(solved.input_a[part.ref])


def _filament_a(solved: Study, table: Behaviour, channel: str) -> Array:
    from wiregen.model.circuit import Lamp

    feeders = {row.lamp: row.channel.split(" + ") for row in table.rows}
    total = _zero(solved)
    for lamp in solved.circuit.of(Lamp):
        if lamp.technology == "filament" and channel in feeders.get(lamp.ref, ()):
            total = total + np.abs(solved.current_a(lamp.ref))
    return total
