"""Everything that may be wrong with a rig, as cases for finding a fault: the whole library over one circuit.

What a single part can do is made from ``wiregen.circuit.faults`` and here; what goes wrong between parts (contacts that
touch, swapped wires, another table of the socket's family, filaments that touch) in ``mixups``.
A new kind of fault is a row in ``catalogue/data/fault_kinds.csv`` and a function here that yields its cases.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Final

from wiregen.catalogue.circuits import GROUNDS
from wiregen.catalogue.connector import Connector
from wiregen.catalogue.lamps import LAMPS
from wiregen.circuit.fault_words import bare, kind_of, part_name, poor_words
from wiregen.circuit.faults import single_faults
from wiregen.circuit.shorts import shorts
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Conductor,
    Contact,
    Converter,
    Diode,
    Element,
    Equaliser,
    Fuse,
    Lamp,
    Path,
    Resistive,
    Switch,
)
from wiregen.model.fault import Fault
from wiregen.questions.faults.diagnosis import Change, FaultCase
from wiregen.questions.faults.mixups import Family, bridged_filaments, families, neighbours, swapped
from wiregen.questions.faults.words import case

#: Added resistance of a poor joint, ohm: from one that dims a lamp a little to one that nearly cuts it off, close
#: enough together that what lies between two sizes looks like one of them (assumed, no source).
POOR_OHM: Final = (0.2, 0.5, 1.0, 2.0, 5.0)
#: A way back over the hitch where the rig states none, ohm: rust and grease, hardly any metal (assumed, no source).
HITCH_OHM: Final = 0.5
#: A converter that gives too little, as a share of its voltage; one that limits too early, as a share of its limit or
#: of its continuous current; a battery that is low, as a share of the lowest one in the rig (all assumed, no source).
LOW_OUTPUT, EARLY_LIMIT, LOW_BATTERY = 0.75, 0.15, 0.8
#: What is left of a converter whose power stage has burnt through, ohm (assumed, no source).
THROUGH_OHM: Final = 0.02


def fault_cases(
    circuit: Circuit, pinouts: Mapping[str, Connector], family: Mapping[str, Sequence[Family]]
) -> tuple[FaultCase, ...]:
    """Return everything that may be wrong with a circuit; the first case is that nothing is.

    Args:
        circuit: The circuit as built.
        pinouts: The wiring of each connector, by designation.
        family: Other wirings that mate with each connector, by designation.
    """
    found: list[FaultCase] = [case("nothing", "nothing", "", "nothing is wrong")]
    for make in (_parts, _wrong_lamps, _converters, _batteries, _flashers, _grounds, _shorts):
        found += make(circuit)
    found += bridged_filaments(circuit)
    found += neighbours(circuit, pinouts)
    found += swapped(circuit)
    found += families(circuit, family)
    return tuple({one.key: one for one in found}.values())


# --- single parts ---


def _parts(circuit: Circuit) -> Iterator[FaultCase]:
    for fault in single_faults(circuit):
        if fault.kind != "resistance":
            yield from _single(circuit, fault)
    for element in circuit.elements:
        if isinstance(element, Conductor | Contact | Fuse | Path):
            yield from (_poor(element, ohm) for ohm in POOR_OHM)


def _single(circuit: Circuit, fault: Fault) -> Iterator[FaultCase]:
    element = circuit.by_ref[fault.ref]
    if isinstance(element, Lamp):
        yield _burnt(element, fault)
    elif fault.kind in ("open", "stuck_off"):
        yield _case_of(element, fault, Change(frozenset({fault.ref})))
    else:
        yield _case_of(element, fault, Change(put=(_bridge(element),)))


def _case_of(element: Element, fault: Fault, change: Change) -> FaultCase:
    action = {"stuck_on": "stuck", "shorted": "through"}.get(fault.kind, "open")
    kind, key = kind_of(element, fault.kind), f"{bare(element.ref)} {action}"
    made = case(key, kind, element.ref, fault.words, change=change, fault=fault)
    # Without its own battery ground the vehicle would not have started.
    return replace(made, weight=made.weight / 10) if _is_battery_ground(element) else made


def _is_battery_ground(element: Element) -> bool:
    return isinstance(element, Path) and element.zone == "vehicle"


def _bridge(element: Element) -> Path:
    """Return the part as a piece of metal that always conducts."""
    ohm = element.resistance_ohm if isinstance(element, Resistive | Diode) else 0.01
    return Path(ref=element.ref, a=element.a, b=element.b, circuit=element.circuit, zone=element.zone,
                resistance_ohm=ohm, title=element.title)  # fmt: skip


def _burnt(lamp: Lamp, fault: Fault) -> FaultCase:
    left = round(lamp.count * (1 - fault.share))
    change = Change(put=(replace(lamp, count=left),)) if left else Change(frozenset({lamp.ref}))
    key, kind = f"{bare(lamp.ref)} {'one ' if left else ''}out", kind_of(lamp, "burnt")
    made = case(key, kind, lamp.ref, fault.words, change=change, fault=fault)
    # Any one of several may be out; that all are out at once is as rare as two more faults.
    return replace(made, weight=made.weight * (lamp.count if left else 1.0 if lamp.count == 1 else 0.05))


def _poor(element: Conductor | Contact | Fuse | Path, ohm: float) -> FaultCase:
    words = poor_words(element, f"{ohm:g}")
    made = case(
        f"{bare(element.ref)} +{ohm:g} ohm",
        kind_of(element, "resistance"),
        element.ref,
        words,
        change=Change(put=(replace(element, resistance_ohm=element.resistance_ohm + ohm),)),
        fault=Fault("resistance", element.ref, words, ohm=ohm),
    )
    share = made.weight / len(POOR_OHM)
    return replace(made, weight=share / 10 if _is_battery_ground(element) else share)


def _wrong_lamps(circuit: Circuit) -> Iterator[FaultCase]:
    """Yield lamps made for the other system voltage: the catalogue's twin, else one of the same power."""
    for lamp in circuit.of(Lamp):
        other_v = 24.0 if lamp.nominal_v == 12.0 else 12.0
        twin = LAMPS.get(lamp.type_name.replace(f"{lamp.nominal_v:g}v", f"{other_v:g}v"))
        factor = other_v / lamp.nominal_v
        if twin is not None and twin.nominal_v == other_v:
            wrong = replace(lamp, rated_v=twin.test_v, rated_a=twin.current_a, nominal_v=other_v,
                            max_v=twin.max_v or lamp.max_v * factor, cut_off_v=twin.cut_off_v or 0.0,
                            min_v=twin.min_v or 0.0)  # fmt: skip
            note = ""
        elif lamp.technology == "points":
            continue
        else:
            wrong = replace(lamp, rated_v=lamp.rated_v * factor, rated_a=lamp.rated_a / factor, nominal_v=other_v,
                            max_v=lamp.max_v * factor, cut_off_v=lamp.cut_off_v * factor,
                            min_v=lamp.min_v * factor)  # fmt: skip
            note = f"computed as one of the same power at {wrong.rated_v:g} V"
        words = f"{part_name(lamp)}: made for {other_v:g} V"
        yield case(
            f"{bare(lamp.ref)} {other_v:g} V", "lamp_voltage", lamp.ref, words, change=Change(put=(wrong,)), note=note
        )


def _converters(circuit: Circuit) -> Iterator[FaultCase]:
    for converter in circuit.of(Converter):
        name = part_name(converter)
        low = replace(converter, output_v=converter.output_v * LOW_OUTPUT, ratio=converter.ratio * LOW_OUTPUT)
        words = f"{name} gives {LOW_OUTPUT:.0%} of its voltage"
        yield case(f"{bare(converter.ref)} low", "converter_low", converter.ref, words, change=Change(put=(low,)))
        if not isinstance(converter, Equaliser):
            through = Path(ref=converter.ref, a=converter.a, b=converter.b, circuit=converter.circuit,
                           zone=converter.zone, resistance_ohm=THROUGH_OHM, title=converter.title)  # fmt: skip
            words = f"{name} passes its input straight on"
            change = Change(put=(through,))
            yield case(f"{bare(converter.ref)} through", "converter_through", converter.ref, words, change=change)
        most = converter.continuous_a or converter.limit_a
        if most < float("inf"):
            limits = replace(converter, limit_a=most * EARLY_LIMIT, foldback=1.0)
            words = f"{name} limits at {most * EARLY_LIMIT:.2g} A"
            yield case(
                f"{bare(converter.ref)} limits", "converter_limits", converter.ref, words, change=Change(put=(limits,))
            )


def _batteries(circuit: Circuit) -> Iterator[FaultCase]:
    batteries = [battery for battery in circuit.of(Battery) if battery.zone == "vehicle"]
    if not batteries:
        return
    low = tuple(replace(b, voltage_v=(b.low_v or b.voltage_v) * LOW_BATTERY) for b in batteries)
    volts = math.fsum(battery.voltage_v for battery in low)
    yield case(
        "battery low", "battery_low", batteries[0].ref, f"batteries low: {volts:.3g} V under load",
        change=Change(put=low),
    )  # fmt: skip


def _flashers(circuit: Circuit) -> Iterator[FaultCase]:
    if any("lit" in switch.live.names for switch in circuit.of(Switch)):
        yield case("flasher lit", "flasher_lit", "", "the flasher is stuck lit: no lamp flashes", flasher="lit")
        yield case("flasher dark", "flasher_dark", "", "the flasher gives nothing", flasher="dark")


def _grounds(circuit: Circuit) -> Iterator[FaultCase]:
    """Yield each of the trailer's ground contacts open, with the way over the hitch that the rig leaves out, or not."""
    hitch = next((path for path in circuit.of(Path) if path.zone == "trailer" and path.b == "chassis"), None)
    frame = next((name for name in circuit.terminals if name.endswith(":ground")), None)
    if frame is None or "chassis" not in circuit.terminals:
        return
    for contact in circuit.of(Contact):
        if contact.circuit not in GROUNDS or contact.zone != "trailer":
            continue
        opened = frozenset({contact.ref})
        if hitch is None:
            way = Path(ref="-XE9", a=frame, b="chassis", circuit="ground", zone="trailer", resistance_ohm=HITCH_OHM,
                       title="way over the hitch")  # fmt: skip
            words, change = f"current returns over the hitch, {HITCH_OHM:g} ohm", Change(opened, (way,))
        else:
            words, change = "no way back over the hitch either", Change(opened | {hitch.ref})
        made = case(
            f"{bare(contact.ref)} open, hitch",
            "ground_open",
            contact.ref,
            f"{part_name(contact)} makes no contact; {words}",
            change=change,
        )
        yield replace(made, weight=made.weight / 2)


def _shorts(circuit: Circuit) -> Iterator[FaultCase]:
    for short in shorts(circuit):
        if short.through_hitch:
            continue
        element = circuit.by_ref[short.ref]
        bar = Path(ref="-SHORT", a=short.terminal, b=short.ground, circuit="ground", zone=element.zone,
                   resistance_ohm=short.ohm, title="short")  # fmt: skip
        where = "right behind it" if isinstance(element, Fuse) else "at its far end"
        yield case(
            f"{bare(short.ref)} short",
            "short_ground",
            short.ref,
            f"{part_name(element)}: touches ground {where}",
            change=Change(put=(bar,)),
            fault=Fault("short", short.ref, "", ohm=short.ohm),
            is_short=True,
        )
