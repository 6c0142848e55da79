"""The behaviour table: what every lamp does under every setting of the controls, before any voltage is computed.

For each state the switches are set, and everything that conducts without being a load (wires, fuses, contacts, closed
switches and relay contacts) joins terminals into nets. A net is live when a supply reaches it, and ground when battery
minus does; a diode passes both on in its one direction. A coil pulls when it lies between a live net and ground; the
relay contacts follow, until nothing changes. A lamp is lit when it lies between a live net and ground.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.model.behaviour import Behaviour, BehaviourRow, Conflict, Look
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Conductor,
    Contact,
    Converter,
    Diode,
    Element,
    Equaliser,
    Fuse,
    Lamp,
    Load,
    Path,
    RelayContact,
    Resistor,
    Switch,
)
from wiregen.model.logic import Expression, parse
from wiregen.model.merge import merged
from wiregen.model.state import Controls, every_controls

_JOINING: Final = (Conductor, Fuse, Contact, Path, Resistor)
#: A supply above this, V, is a 24 V one.
_SYSTEM_V: Final = 16.0
#: A circuit of relays is at rest after a few rounds; one that is not after this many never will be.
_ROUNDS: Final = 32


@dataclass(frozen=True)
class Nets:
    """The nets of one state.

    Attributes:
        live: Terminals that a supply reaches, with the ref of that supply.
        ground: Terminals that battery minus reaches.
        pulled: Refs of the coils that pulled in.
        restless: Refs of the coils that never come to rest.
        shorted: Refs of supplies whose plus meets ground.
        joined: Pairs of supplies of different voltage whose plus terminals meet.
    """

    live: dict[str, str]
    ground: frozenset[str]
    pulled: frozenset[str]
    restless: frozenset[str]
    shorted: tuple[str, ...]
    joined: tuple[tuple[str, str], ...]


class Switchboard:
    """Evaluates one circuit, state by state."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.switches = circuit.of(Switch)
        row = {name: number for number, name in enumerate(circuit.terminals)}
        always = ((row[e.a], row[e.b]) for e in circuit.elements if isinstance(e, _JOINING))
        # What always conducts is joined once; a setting of the contacts then joins only these groups.
        self._group = dict(zip(circuit.terminals, merged(len(row), always), strict=True))
        self._relays = circuit.of(RelayContact)
        self._coils = circuit.of(Coil)
        self._sources = circuit.of(Battery)
        # The lower battery feeds the centre of a pair, whether an equaliser helps it or not.
        self._converters = [c for c in circuit.of(Converter) if not isinstance(c, Equaliser)]
        self._diodes = circuit.of(Diode)
        self._seen: dict[tuple[bool, ...], Nets] = {}

    def closed(self, controls: Controls, *, lit: bool) -> tuple[bool, ...]:
        """Return which switches are closed, in the order of ``switches``."""
        signals = controls.signals(lit=lit, stop_wins=self.circuit.stop_wins)
        return tuple(switch.live.value(signals) for switch in self.switches)

    def nets(self, closed: tuple[bool, ...]) -> Nets:
        """Return the nets for one setting of the switches; equal settings are worked out once."""
        if closed not in self._seen:
            self._seen[closed] = self._settle(closed)
        return self._seen[closed]

    def _settle(self, closed: tuple[bool, ...]) -> Nets:
        pulled: frozenset[str] = frozenset()
        history = [pulled]
        for _ in range(_ROUNDS):
            nets = self._join(closed, pulled)
            if nets.pulled == pulled:
                return nets
            if nets.pulled in history:
                break
            pulled = nets.pulled
            history.append(pulled)
        # What comes next depends on nothing but what is pulled now, so the rounds since its first time repeat for ever.
        cycle = history[history.index(nets.pulled) :] if nets.pulled in history else history
        return replace(nets, restless=frozenset.union(*cycle) - frozenset.intersection(*cycle))

    def _join(self, closed: tuple[bool, ...], pulled: frozenset[str]) -> Nets:
        shut: list[Element] = [switch for switch, is_closed in zip(self.switches, closed, strict=True) if is_closed]
        shut += [contact for contact in self._relays if contact.gate.is_open_to(pulled)]
        group = self._group
        lowest = merged(len(group), ((group[element.a], group[element.b]) for element in shut))
        net = {terminal: lowest[number] for terminal, number in group.items()}
        ground_roots = self._grounds(net)
        plus = self._supplies(net, ground_roots, pulled)
        volts = {ref: voltage_v for ref, _, voltage_v in plus}
        live_roots: dict[int, str] = {}
        shorted, joined = [], []
        for ref, terminal, _ in plus:
            root = net[terminal]
            if root in ground_roots:
                shorted.append(ref)
            elif root in live_roots and self._fight(live_roots[root], ref, volts):
                joined.append((live_roots[root], ref))
            else:
                live_roots.setdefault(root, ref)
        for diode in self._forward(net, live_roots):
            ref, root = live_roots[net[diode.a]], net[diode.b]
            if root not in live_roots:
                live_roots[root] = ref
            elif volts[ref] > volts[live_roots[root]] and self._fight(ref, live_roots[root], volts):
                joined.append((ref, live_roots[root]))
        live = {
            terminal: live_roots[root] for terminal in self.circuit.terminals if (root := net[terminal]) in live_roots
        }
        ground = frozenset(t for t in self.circuit.terminals if net[t] in ground_roots)
        now = frozenset(coil.ref for coil in self._coils if _between(coil, live, ground))
        return Nets(live, ground, now, frozenset(), tuple(shorted), tuple(dict.fromkeys(joined)))

    def _grounds(self, net: Mapping[str, int]) -> set[int]:
        """Return the roots that a current can leave to battery minus: joined to it, or through diodes."""
        found = {net[self.circuit.reference]}
        for _ in self._diodes:
            found |= {net[diode.a] for diode in self._diodes if net[diode.b] in found}
        return found

    def _forward(self, net: Mapping[str, int], live_roots: Collection[int]) -> Iterator[Diode]:
        """Yield the diodes that conduct, in the order the supply reaches them; ``live_roots`` may grow meanwhile."""
        waiting = list(self._diodes)
        progress = True
        while progress:
            progress = False
            for diode in list(waiting):
                if net[diode.a] in live_roots:
                    waiting.remove(diode)
                    progress = True
                    yield diode

    def _fight(self, one: str, other: str, volts: Mapping[str, float]) -> bool:
        """Return whether two supplies must not meet: of different voltage, and not a trailer battery being charged."""
        batteries = (self.circuit.by_ref[one], self.circuit.by_ref[other])
        if any(isinstance(e, Battery) and e.zone == "trailer" for e in batteries):
            return (volts[one] > _SYSTEM_V) != (volts[other] > _SYSTEM_V)
        return volts[one] != volts[other]

    def _supplies(
        self, net: Mapping[str, int], ground_roots: Collection[int], pulled: frozenset[str]
    ) -> list[tuple[str, str, float]]:
        """Return (ref, plus terminal, voltage) of every supply that works: converters follow from what feeds them."""
        plus = []
        for battery in self._sources:
            stacked = next((b for b in self._sources if net[b.a] == net[battery.b]), None)
            if net[battery.b] in ground_roots or stacked is not None:
                voltage = battery.voltage_v + (stacked.voltage_v if stacked else 0.0)
                plus.append((battery.ref, battery.a, voltage))
        waiting = list(self._converters)
        progress = True
        while progress:
            progress = False
            live_roots = {net[terminal] for _, terminal, _ in plus}
            for diode in self._forward(net, live_roots):
                live_roots.add(net[diode.b])
            for converter in list(waiting):
                gate_on = converter.gate is None or converter.gate.is_open_to(pulled)
                if gate_on and net[converter.common] in ground_roots and net[converter.a] in live_roots:
                    plus.append((converter.ref, converter.b, converter.output_v))
                    waiting.remove(converter)
                    progress = True
        return plus


def _between(element: Element, live: Collection[str], ground: Collection[str]) -> bool:
    return (element.a in live and element.b in ground) or (element.b in live and element.a in ground)


def behave(circuit: Circuit, signals: Collection[str]) -> Behaviour:
    """Work out the behaviour table of a circuit.

    Args:
        circuit: The rig with one trailer.
        signals: Control signals the vehicle reacts to; controls that drive none of them stay at rest.
    """
    board = Switchboard(circuit)
    consumers: list[Lamp | Load] = [*circuit.of(Lamp), *circuit.of(Load)]
    feeders = {consumer.ref: feeder_of(circuit, consumer) for consumer in consumers}
    duties = {function: _duty(function) for function in {consumer.function for consumer in consumers}}
    rows: list[BehaviourRow] = []
    conflicts: dict[tuple[str, tuple[str, ...]], Conflict] = {}
    contacts = {}
    for controls in every_controls(signals):
        halves = [board.nets(board.closed(controls, lit=lit)) for lit in (True, False)]
        for lit, nets in zip((True, False), halves, strict=True):
            for conflict in _conflicts(board, nets, controls, lit=lit):
                known = conflicts.get((conflict.kind, conflict.terminals))
                if known is None or conflict.controls.weight < known.controls.weight:
                    conflicts[conflict.kind, conflict.terminals] = conflict
        contacts[controls] = frozenset(
            contact.ref for contact in circuit.of(Contact) if any(contact.b in nets.live for nets in halves)
        )
        for consumer in consumers:
            in_lit, in_dark = (_between(consumer, nets.live, nets.ground) for nets in halves)
            actual: Look = "steady" if in_lit and in_dark else "flash" if in_lit or in_dark else "dark"
            wanted = _wanted(duties[consumer.function], controls, stop_wins=circuit.stop_wins)
            rows.append(
                BehaviourRow(
                    trailer=circuit.trailer,
                    lamp=consumer.ref,
                    function=consumer.function,
                    controls=controls,
                    wanted=wanted,
                    actual=actual,
                    burns=(in_lit, in_dark),
                    channel=feeders[consumer.ref],
                )
            )
    return Behaviour(circuit.trailer, tuple(rows), tuple(conflicts.values()), contacts)


def _duty(function: str) -> dict[Look, Expression]:
    kind = CIRCUITS[function]
    return {"steady": parse(kind.steady), "flash": parse(kind.flash), "dark": parse(kind.dark)}


def _wanted(duty: dict[Look, Expression], controls: Controls, *, stop_wins: bool) -> frozenset[Look]:
    signals = controls.signals(lit=True, stop_wins=stop_wins)
    allowed = {look for look, when in duty.items() if when.value(signals)}
    return frozenset(allowed if allowed - {"dark"} else {"dark"})


def _conflicts(board: Switchboard, nets: Nets, controls: Controls, *, lit: bool) -> Iterable[Conflict]:
    trailer = board.circuit.trailer
    if nets.restless:
        yield Conflict(
            kind="unsettled",
            terminals=tuple(sorted(nets.restless)),
            controls=controls,
            lit=lit,
            trailer=trailer,
        )
    for ref in nets.shorted:
        yield Conflict(kind="short", terminals=(ref,), controls=controls, lit=lit, trailer=trailer)
    for pair in nets.joined:
        yield Conflict(kind="joined", terminals=pair, controls=controls, lit=lit, trailer=trailer)
    closed = board.closed(controls, lit=lit)
    for switch, is_closed in zip(board.switches, closed, strict=True):
        # The far side of an open switch is live only when some other circuit feeds it backwards.
        if not is_closed and switch.b in nets.live:
            yield Conflict(kind="backfeed", terminals=(switch.ref,), controls=controls, lit=lit, trailer=trailer)


def feeder_of(circuit: Circuit, consumer: Element) -> str:
    """Return the name of the channel whose output wire reaches a consumer, or words saying that none does.

    The wire is followed backwards from the consumer through conductors, contacts, fuses and joints.
    """
    step: dict[str, list[Element]] = {}
    for element in circuit.elements:
        if isinstance(element, (*_JOINING, RelayContact, Converter, Diode)):
            step.setdefault(element.b, []).append(element)
    # A joint inside the trailer has no direction: it is followed from its other end too.
    joints: dict[str, list[str]] = {}
    for joint in circuit.of(Path):
        joints.setdefault(joint.a, []).append(joint.b)
    names: dict[str, None] = {}
    todo, seen = [consumer.a], {consumer.a}
    while todo:
        here = todo.pop()
        reached = list(joints.get(here, ()))
        for element in step.get(here, ()):
            if element.channel:
                names[element.channel] = None
            else:
                reached.append(element.a)
        todo += (terminal for terminal in reached if terminal not in seen)
        seen.update(reached)
    if names:
        return " + ".join(names)
    return "straight lead" if any(terminal.startswith("-X1:") for terminal in seen) else "no channel"
