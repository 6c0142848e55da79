"""How the relays of the adapter are wired, terminal by terminal, in words for the chart."""

from __future__ import annotations

from collections.abc import Iterator

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.circuit.build import Built
from wiregen.harness.record import Harness, Wire
from wiregen.model.chart import RelayRow
from wiregen.model.circuit import Coil, Converter, RelayContact
from wiregen.model.contacts import Gate


def relay_wiring(built: Built, harness: Harness) -> tuple[RelayRow, ...]:
    """Return which terminals to join for each channel with relays; nothing where there is no relay."""
    return tuple(_row(built, harness, channel.name) for channel in built.channels if _relays(harness, channel.name))


def _relays(harness: Harness, channel: str) -> frozenset[str]:
    """Return the relays that hear for a channel."""
    coils = (element for part in harness.parts for element in part.elements if isinstance(element, Coil))
    return frozenset(coil.ref.removeprefix("-") for coil in coils if coil.is_copper and coil.channel == channel)


def _row(built: Built, harness: Harness, name: str) -> RelayRow:
    channel = next(channel for channel in built.channels if channel.name == name)
    gate, relays = _gate(built, {*channel.coils.values()}), _relays(harness, name)
    bare = gate.logic.is_bare
    contacts = gate.words or ("" if bare else "more contacts than are given here: better an electronic switch")
    several = [ref.removeprefix("-") for ref, count in gate.poles.items() if count > 1]
    return RelayRow(
        channel=name,
        circuit=", ".join(CIRCUITS[circuit].word for circuit in channel.outputs),
        logic="" if bare else gate.logic.text.replace("_", " "),
        contacts=contacts,
        joints=tuple(_joints(harness, relays)),
        note=f"{several[0]}.1 is the first pole of {several[0]}, {several[0]}.2 the second." if several else "",
    )


def _gate(built: Built, coils: set[str]) -> Gate:
    """Return the gate that coils work."""
    circuit = built.circuits[0]
    gates = (*(one.gate for one in circuit.of(RelayContact)), *(one.gate for one in circuit.of(Converter)))
    return next(gate for gate in gates if gate and {*gate.coils.values()} == coils)


def _joints(harness: Harness, relays: frozenset[str]) -> Iterator[str]:
    """Yield the leads on the terminals of relays, feeds first, and the wires that start on one."""
    wires = [wire for wire in harness.wires if any(_relay(point.part) in relays for point in wire.points)]
    for wire in sorted(wires, key=_order):
        if wire.stretch == "inside":
            fuse = f" ({wire.fuse})" if wire.fuse else ""
            yield f"{wire.a.id} to {wire.b.id}{fuse}"
        else:
            yield f"{wire.a.id} to {wire.id} ({wire.b.id})"


def _relay(part: str) -> str:
    """Return the relay that a pole belongs to: ``K5`` of ``K5.2``."""
    return part.partition(".")[0]


def _order(wire: Wire) -> int:
    """Return coils first, then contacts, then what goes on to the outlets."""
    if wire.stretch != "inside":
        return 3
    return 0 if wire.b.mark == "86" else 1 if wire.b.mark == "85" else 2
