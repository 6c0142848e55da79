"""How the relays of the adapter are wired, terminal by terminal, in words for the chart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.circuit.adapter import BuiltChannel
from wiregen.circuit.build import Built
from wiregen.circuit.parts import BUS
from wiregen.harness.cut_list import HARNESS, fuse_words, terminal_words
from wiregen.model.chart import RelayRow
from wiregen.model.circuit import Circuit, Coil, Conductor, Converter, Fuse, RelayContact
from wiregen.model.contacts import Gate


def relay_wiring(built: Built) -> tuple[RelayRow, ...]:
    """Return which terminals to join for each channel with relays; nothing where there is no relay."""
    return tuple(row for channel in built.channels for row in _channel(built, channel))


def _channel(built: Built, channel: BuiltChannel) -> Iterator[RelayRow]:
    circuit = built.circuits[0]
    coils = [coil for coil in circuit.of(Coil) if coil.ref in channel.coils.values() and coil.is_copper]
    if not coils:
        return
    element, gate = _worked(circuit, channel)
    feed = _feed(circuit, element.a)
    joined = [f"{terminal_words(coil.a)} to {terminal_words(coil.ref)}:86" for coil in coils]
    joined.append(f"{terminal_words(coils[0].b)} to {_listed(f'{terminal_words(coil.ref)}:85' for coil in coils)}")
    if isinstance(element, Converter):
        signal = f"the brake signal input of {terminal_words(element.ref)}"
        # The same point as in the joints of the harness; the controller's fuse may be more than a signal lead carries.
        ends = (f"{feed}, on a lead as large as that fuse asks for or with a fuse of its own,", signal)
    else:
        ends = (feed, _outlets(built, channel))
    joined += list(_contacts(gate, coils[0].ref, *ends))
    bare = gate.logic.is_bare
    contacts = gate.words or ("" if bare else "more contacts than are given here: better an electronic switch")
    several = [terminal_words(ref) for ref, count in gate.poles.items() if count > 1]
    yield RelayRow(
        channel=channel.name,
        circuit=", ".join(CIRCUITS[name].word for name in channel.outputs),
        logic="" if bare else gate.logic.text.replace("_", " "),
        contacts=contacts,
        joints=tuple(joined),
        note=f"{several[0]}.1 is the first pole of {several[0]}, {several[0]}.2 the second." if several else "",
    )


def _worked(circuit: Circuit, channel: BuiltChannel) -> tuple[RelayContact | Converter, Gate]:
    """Return what the coils of a channel work, and its gate."""
    wanted = {*channel.coils.values()}
    worked: list[RelayContact | Converter] = [*circuit.of(RelayContact), *circuit.of(Converter)]
    for element in worked:
        if element.gate is not None and {*element.gate.coils.values()} == wanted:
            return element, element.gate
    message = f"channel {channel.name} has coils that work nothing"
    raise LookupError(message)


def _feed(circuit: Circuit, terminal: str) -> str:
    """Return where the 12 V of a channel comes from."""
    fuse = next((fuse for fuse in circuit.of(Fuse) if fuse.b == terminal and fuse.a == BUS), None)
    return f"{terminal_words(BUS)} through {fuse_words(fuse)}" if fuse else terminal_words(terminal)


def _outlets(built: Built, channel: BuiltChannel) -> str:
    """Return the conductors that start at the end of a channel."""
    wires = (
        f"{terminal_words(wire.ref)} ({terminal_words(wire.b)})"
        for circuit in built.circuits
        for wire in circuit.of(Conductor)
        if wire.a == channel.out and wire.stretch in HARNESS
    )
    return _listed(dict.fromkeys(wires))


def _contacts(gate: Gate, first: str, start: str, end: str) -> Iterator[str]:
    """Yield the joints of the contacts between ``start`` and ``end``, either of which may be nothing."""
    if gate.network is None and gate.logic.is_bare:
        relay = terminal_words(first)
        yield f"{start} to {relay}:30"
        yield from (f"{relay}:87 to {end}" for _ in range(bool(end)))
        return
    for group in gate.ties(start, end):
        names = [name if name in (start, end) else terminal_words(name) for name in group if name]
        if end and names[-1] == end:
            yield f"{_listed(names[:-1])} to {end}"
        elif len(names) > 1:
            yield f"{names[0]} to {_listed(names[1:])}"


def _listed(names: Iterable[str]) -> str:
    """Return ``a, b and c``."""
    *front, last = [*names] or [""]
    return f"{', '.join(front)} and {last}" if front else last
