"""Points of a sweep as operating points for the netlist writer, with a fault worked into the parts. For tests only."""

import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import networkx as nx
import numpy as np

from tests.reference.faulted import Faulted, with_fault
from tests.reference.seeded import Seeded
from wiregen.model.circuit import Circuit, Coil, Converter, Lamp, Load, RelayContact, Switch
from wiregen.model.corner import Corner
from wiregen.questions.netlist.spice import Laws, OperatingPoint
from wiregen.solve import devices
from wiregen.solve.corners import at_corner
from wiregen.solve.states import distinct_settings
from wiregen.solve.sweep import Points, Sweep

LAWS = Laws(
    filament_exponent=devices.FILAMENT_EXPONENT,
    led_ramp=devices.LED_RAMP,
    led_bleed_ohm=devices.LED_BLEED_OHM,
    converter_bleed_ohm=devices.CONVERTER_BLEED_OHM,
)


@dataclass(frozen=True)
class Swept:
    """One point of a sweep.

    Attributes:
        made: The circuit with its fault.
        point: What to write; its floating terminals are found here by networkx, not by the solver.
        ours_v: Voltages of the sweep, V, by terminal; those that float by its own account are missing.
        fault: Kind of the fault, or an empty text.
        consumers_v: Voltage across each lamp and load as the fault study reports it, V, by ref.
        cut_off: Converters that the sweep runs although the fault parts their input from their common minus.
        trouble: The solver's own doubts.
    """

    made: Faulted
    point: OperatingPoint
    ours_v: dict[str, float]
    fault: str
    consumers_v: dict[str, float]
    cut_off: frozenset[str]
    trouble: str


def sweep_points(
    one: Seeded, corners: Sequence[Corner], rng: random.Random, settings: int, faults: int, healthy: int, faulty: int
) -> Iterator[Swept]:
    """Sweep some settings with some faults at some corners, and yield so many of the points with and without fault."""
    every = distinct_settings(one.circuit, one.signals)
    some = rng.sample(every, min(settings, len(every)))
    wrong = rng.sample(one.faults, min(faults, len(one.faults)))
    sweep = Sweep([at_corner(one.circuit, corner) for corner in corners], some, wrong, dict(one.grounds))
    sound = sweep.healthy()
    for points, count in ((sound, healthy), (sweep.faulty(sound), faulty)):
        rows = np.array(sorted(rng.sample(range(len(points.state)), min(count, len(points.state)))), dtype=np.intp)
        volts = sweep.terminal_v(points, rows)
        consumers = consumers_v(sweep, points)[rows]
        for row, voltages, across in zip(rows, volts, consumers, strict=True):
            yield _swept(sweep, points, int(row), voltages, across, corners, one)


def consumers_v(sweep: Sweep, points: Points) -> np.ndarray:
    """Return voltages across lamps, then loads, V, shape (points, consumers)."""
    lamps = points.port_v[: len(sweep.circuit.of(Lamp))].T
    return np.concatenate([lamps, points.watched_v[len(sweep.circuit.of(Coil)) :].T], axis=1)


def _swept(
    sweep: Sweep,
    points: Points,
    row: int,
    voltages: np.ndarray,
    across: np.ndarray,
    corners: Sequence[Corner],
    one: Seeded,
) -> Swept:
    fault = sweep.faults[points.fault[row]] if points.fault[row] >= 0 else None
    setting, corner = sweep.settings[points.state[row]], int(points.corner[row])
    made = with_fault(sweep.circuits[corner], fault, one.grounds)
    circuit = made.circuit
    pulled = frozenset(c.ref for c, is_in in zip(one.circuit.of(Coil), points.pulled[row], strict=True) if is_in)
    closed = {s.ref for s, is_on in zip(circuit.of(Switch), setting.closed, strict=True) if is_on}
    closed |= {contact.ref for contact in circuit.of(RelayContact) if contact.gate.is_open_to(pulled)}
    closed = (closed | made.stuck_on) - made.stuck_off
    on = {c.ref for c, is_on in zip(circuit.of(Converter), points.on[row], strict=True) if is_on} - made.stuck_off
    known = zip(one.circuit.terminals, map(float, voltages), strict=True)
    ours = {name: value for name, value in known if not math.isnan(value)}
    floating = floating_groups(circuit, closed, made.burning)
    adrift = {name for group in floating for name in group}
    group_of = {name: number for number, group in enumerate(floating) for name in group}
    parted = {c.ref for c in circuit.of(Converter) if group_of.get(c.a) != group_of.get(c.common)}
    cut_off = frozenset(on & parted)
    words = f"{setting.state.words}; {corners[corner].words}; {fault.words if fault else 'no fault'}"
    return Swept(
        made=made,
        point=OperatingPoint(
            circuit=circuit,
            words=words,
            closed=frozenset(closed),
            on=frozenset(on - cut_off),
            pulled=pulled,
            floating=floating,
            volts={name: value for name, value in ours.items() if name not in adrift},
            burning=made.burning,
        ),
        ours_v=ours,
        fault=fault.kind if fault else "",
        consumers_v=dict(zip((e.ref for e in (*one.circuit.of(Lamp), *one.circuit.of(Load))), across, strict=True)),
        cut_off=cut_off,
        trouble=points.trouble.get(row, ""),
    )


def floating_groups(
    circuit: Circuit, closed: set[str], burning: dict[str, float] | None = None
) -> tuple[tuple[str, ...], ...]:
    """Return the groups of terminals that nothing joins to the reference, by networkx."""
    graph = nx.Graph()
    graph.add_nodes_from(circuit.terminals)
    for element in circuit.elements:
        if isinstance(element, Switch | RelayContact) and element.ref not in closed:
            continue
        if isinstance(element, Lamp) and (burning or {}).get(element.ref, 1.0) == 0.0:
            continue
        # The input of a converter takes current, but no voltage comes from it.
        graph.add_edge(*((element.b, element.common) if isinstance(element, Converter) else (element.a, element.b)))
    return tuple(tuple(sorted(group)) for group in nx.connected_components(graph) if circuit.reference not in group)
