"""Contact networks: how relay contacts are joined so that together they do the logic of a channel.

A network is written over circuits; one relay hears each circuit, and every use of a circuit is one pole of its relay.
It is a tree of ``Make``, ``Break``, ``ChangeOver``, ``Series`` and ``Parallel``. ``wired`` turns the tree into poles
between nodes, as they are wired on the bench: what is drawn, counted and named comes from there.

Terminal numbers are those of ISO 7588 (30 common, 87 make, 87a break), from memory. Change-over contacts in a row, with
two poles in every place between the ends, are the stair-light circuit of house wiring: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final, TypeAlias

if TYPE_CHECKING:
    from wiregen.model.logic import Expression

#: Names of the two ends of a network; the nodes inside are numbered.
IN: Final = "in"
OUT: Final = "out"


@dataclass(frozen=True, slots=True)
class Make:
    """A make contact, 30 and 87: closed while the relay of ``circuit`` is pulled in."""

    circuit: str


@dataclass(frozen=True, slots=True)
class Break:
    """A break contact, 30 and 87a: closed while the relay of ``circuit`` is at rest."""

    circuit: str


@dataclass(frozen=True, slots=True)
class ChangeOver:
    """Change-over contacts in a row, closed while an odd number of the relays is pulled in; an even one if not ``odd``.

    Two: 30 of the first takes the current in, 30 of the second lets it out. With ``odd`` 87 of each goes to 87a of the
    other, else like to like. Each further relay stands between with two poles that hand the two wires on or swap them.
    """

    circuits: tuple[str, ...]
    odd: bool = True


@dataclass(frozen=True, slots=True)
class Series:
    """One behind another: closed while all are. Without members it is a bridge, always closed."""

    members: tuple[Network, ...]


@dataclass(frozen=True, slots=True)
class Parallel:
    """Side by side: closed while any is. Without members it never closes."""

    members: tuple[Network, ...]


Network: TypeAlias = Make | Break | ChangeOver | Series | Parallel

CLOSED: Final = Series(())
OPEN: Final = Parallel(())


@dataclass(frozen=True, slots=True)
class Pole:
    """One pole of a relay as it is wired.

    Attributes:
        circuit: The circuit its relay hears.
        number: Which pole of that relay, from 1.
        common: Node on 30.
        make: Node on 87; empty when it is not used.
        rest: Node on 87a; empty when it is not used.
    """

    circuit: str
    number: int
    common: str
    make: str = ""
    rest: str = ""

    @property
    def terminals(self) -> tuple[tuple[str, str], ...]:
        """Terminal number and node of everything wired."""
        return tuple((n, node) for n, node in (("30", self.common), ("87", self.make), ("87a", self.rest)) if node)


def is_closed(network: Network, pulled: Collection[str]) -> bool:
    """Return whether a network conducts with the relays of the circuits ``pulled`` pulled in."""
    match network:
        case Make(circuit):
            return circuit in pulled
        case Break(circuit):
            return circuit not in pulled
        case ChangeOver(circuits, odd):
            return (sum(circuit in pulled for circuit in circuits) % 2 == 1) is odd
        case Series(members):
            return all(is_closed(member, pulled) for member in members)
        case Parallel(members):
            return any(is_closed(member, pulled) for member in members)


def most_in_series(network: Network) -> int:
    """Return the most closed contacts that a current passes one behind another."""
    match network:
        case Make() | Break():
            return 1
        case ChangeOver(circuits):
            return len(circuits)
        case Series(members):
            return sum(most_in_series(member) for member in members)
        case Parallel(members):
            return max((most_in_series(member) for member in members), default=0)


def wired(network: Network) -> tuple[Pole, ...]:
    """Return the poles of a network with the nodes they lie between, in the order in which they are met."""
    numbers: dict[str, int] = {}
    poles = []
    for pole in _Wiring().between(network, IN, OUT):
        numbers[pole.circuit] = number = numbers.get(pole.circuit, 0) + 1
        poles.append(replace(pole, number=number))
    return tuple(poles)


class _Wiring:
    """Hands out nodes while a network is turned into poles."""

    def __init__(self) -> None:
        self._nodes = 0

    def _node(self) -> str:
        self._nodes += 1
        return str(self._nodes)

    def between(self, network: Network, start: str, end: str) -> Iterator[Pole]:
        """Yield the poles of ``network``; its 30 sides look to ``start``, where the supply is."""
        match network:
            case Make(circuit):
                yield Pole(circuit, 0, start, make=end)
            case Break(circuit):
                yield Pole(circuit, 0, start, rest=end)
            case ChangeOver(circuits, odd):
                yield from self._row(circuits, start, end, odd=odd)
            case Series(members):
                # A bridge has no pole that could join its ends; it stands alone, never inside another network.
                nodes = [start, *(self._node() for _ in members[1:]), end]
                for k, member in enumerate(members):
                    yield from self.between(member, nodes[k], nodes[k + 1])
            case Parallel(members):
                for member in members:
                    yield from self.between(member, start, end)

    def _row(self, circuits: tuple[str, ...], start: str, end: str, *, odd: bool) -> Iterator[Pole]:
        first, *between, last = circuits
        live, other = self._node(), self._node()
        yield Pole(first, 0, start, make=live, rest=other)
        for circuit in between:
            # While it is pulled in each wire goes on as the other one: "live" stays the one of an odd count.
            behind_live, behind_other = self._node(), self._node()
            yield Pole(circuit, 0, live, make=behind_other, rest=behind_live)
            yield Pole(circuit, 0, other, make=behind_live, rest=behind_other)
            live, other = behind_live, behind_other
        yield Pole(last, 0, end, make=other if odd else live, rest=live if odd else other)


def words(network: Network, relays: Mapping[str, str]) -> str:
    """Return a network in words: ``K4 make in series with K5 break``.

    Args:
        network: The network.
        relays: What to call the relay of each circuit.
    """
    match network:
        case Make(circuit):
            return f"{relays[circuit]} make"
        case Break(circuit):
            return f"{relays[circuit]} break"
        case ChangeOver((first, second), odd):
            how = "cross-connected" if odd else "connected like to like"
            return f"{relays[first]} and {relays[second]} change-over, {how}"
        case ChangeOver(circuits, odd):
            count = "an odd number" if odd else "none or an even number"
            row = ", ".join(relays[circuit] for circuit in circuits)
            return f"{row} change-over in a row, closed while {count} of them is pulled in"
        case Series(()):
            return "a bridge, always closed"
        case Parallel(()):
            return "no contact, never closed"
        case Series(members) | Parallel(members):
            joined = " in series with " if isinstance(network, Series) else " in parallel with "
            return joined.join(_bracketed(member, relays) for member in members)


def _bracketed(member: Network, relays: Mapping[str, str]) -> str:
    text = words(member, relays)
    return text if isinstance(member, Make | Break) else f"({text})"


@dataclass(frozen=True, kw_only=True)
class Gate:
    """What closes a relay contact or enables a converter: logic over the coils that hear vehicle circuits.

    Attributes:
        logic: The logic over circuits.
        coils: Ref of the coil that hears each circuit.
        network: Contacts of the relays that do the logic; None for a single circuit, for logic inside an electronic
            device, and where nobody gave one.
    """

    logic: Expression
    coils: Mapping[str, str]
    network: Network | None = None

    def is_open_to(self, pulled: set[str] | frozenset[str]) -> bool:
        """Return whether the gate is on with the coils in ``pulled`` (their refs) pulled in."""
        return self.logic.value(lambda name: self.coils[name] in pulled)

    @cached_property
    def wired(self) -> tuple[Pole, ...]:
        """The poles of the network; none where there is no network."""
        return wired(self.network) if self.network else ()

    @cached_property
    def poles(self) -> dict[str, int]:
        """How many poles of each relay the network takes, by the ref of its coil, in the order they are met."""
        count: dict[str, int] = {}
        for pole in self.wired:
            ref = self.coils[pole.circuit]
            count[ref] = count.get(ref, 0) + 1
        return count

    @property
    def words(self) -> str:
        """The network in words, with the relays that need more than one pole; empty where there is no network."""
        if self.network is None:
            return ""
        text = words(self.network, {circuit: ref.lstrip("-") for circuit, ref in self.coils.items()})
        several = [f"{ref.lstrip('-')} needs {count} poles" for ref, count in self.poles.items() if count > 1]
        return "; ".join((text, *several))

    @cached_property
    def nodes(self) -> dict[str, tuple[str, ...]]:
        """Terminals on each node of the network: ``-K4:87a``, and ``-K5.2:30`` on the second pole of several."""
        found: dict[str, list[str]] = {}
        for pole in self.wired:
            ref = self.coils[pole.circuit]
            name = f"{ref}.{pole.number}" if self.poles[ref] > 1 else ref
            for number, node in pole.terminals:
                found.setdefault(node, []).append(f"{name}:{number}")
        return {node: tuple(terminals) for node, terminals in found.items()}

    def ties(self, start: str, end: str) -> tuple[tuple[str, ...], ...]:
        """Return the groups of terminals that the wires of the network join, with its ends ``start`` and ``end``."""
        if not self.wired:
            return ()
        groups = [(start, *self.nodes[IN])]
        groups += [terminals for node, terminals in self.nodes.items() if node not in (IN, OUT)]
        groups.append((*(terminal for terminal in self.nodes[OUT] if terminal != end), end))
        return tuple(group for group in groups if len(group) > 1)
