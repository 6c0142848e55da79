"""Traces one mark through one circuit: its ways, when it is live, and what goes out when it opens."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Final

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.model.behaviour import Look
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Contact,
    Converter,
    Element,
    Lamp,
    Load,
    RelayContact,
)
from wiregen.model.connection import cut_off
from wiregen.model.state import Controls, every_controls
from wiregen.questions.trace.marks import TraceTarget, load_words, mark_of, step_of
from wiregen.questions.trace.record import Effect, Kind, Served, Serves, TracedWay, TrailerTrace
from wiregen.questions.trace.ways import Consumer, Moment, Moments, Route, consumers

if TYPE_CHECKING:
    import networkx as nx

_HALVES: Final = (True, False)
_KINDS: Final[tuple[Kind, ...]] = ("out", "on", "partly", "other")


def trace_one(
    circuit: Circuit, signals: Collection[str], target: TraceTarget, wires: Mapping[str, str]
) -> TrailerTrace:
    """Trace a target through the circuit of one trailer.

    Args:
        circuit: The circuit.
        signals: Control signals the vehicle reacts to.
        target: What to trace.
        wires: Ids of the wires by the refs of their elements.
    """
    return _Tracer(circuit, signals, target, wires).trace()


@dataclass
class _Routes:
    """The ways to and from a consumer, each with the settings in which it conducts."""

    consumer: Consumer
    feeds: dict[Route, dict[Controls, None]] = field(default_factory=dict)
    backs: dict[Route, dict[Controls, None]] = field(default_factory=dict)
    first: Moment | None = None


class _Tracer:
    def __init__(
        self, circuit: Circuit, signals: Collection[str], target: TraceTarget, wires: Mapping[str, str]
    ) -> None:
        self.circuit, self.target, self.wires = circuit, target, wires
        self.moments = Moments(circuit)
        self.settings = tuple(every_controls(signals))
        self.routes = [_Routes(consumer) for consumer in (*consumers(circuit), *circuit.of(Coil))]
        for controls in self.settings:
            for moment in self._halves(controls):
                for one in self.routes:
                    feeds, backs = moment.loops(one.consumer)
                    one.first = one.first or (moment if feeds else None)
                    for found, table in ((feeds, one.feeds), (backs, one.backs)):
                        for route in found:
                            table.setdefault(route, {})[controls] = None

    def _halves(self, controls: Controls, moments: Moments | None = None) -> tuple[Moment, Moment]:
        """Return what the circuit is in the lit and in the dark half of the flash."""
        moments = moments or self.moments
        lit, dark = (moments.at(moments.board.closed(controls, lit=half)) for half in _HALVES)
        return lit, dark

    def trace(self) -> TrailerTrace:
        is_return = self._is_return()
        looks = {controls: self._look(controls, is_return=is_return) for controls in self.settings}
        never = tuple(_never(looks))
        direct = [(one, made) for one in self.routes if (made := self._direct(one)) is not None]
        coils = [made for one, made in direct if isinstance(one.consumer, Coil)]
        loads = [made for one, made in direct if not isinstance(one.consumer, Coil)]
        worked = self._worked({one.consumer.ref for one, _ in direct})
        left = {controls: look for controls, look in looks.items() if not any(_fits(one, controls) for one in never)}
        return TrailerTrace(
            trailer=self.circuit.trailer,
            is_return=is_return,
            live=tuple((controls.words, look) for controls, look in listed(left)),
            never=tuple(controls.words for controls in never),
            count=sum(look != "dark" for look in looks.values()),
            settings=len(looks),
            loads=(*loads, *worked),
            coils=tuple(coils),
            effects=tuple(self._effects()),
            dead=() if is_return else tuple(self._dead()),
            more=any(moment.more for moment in self.moments),
        )

    # --- ways ---

    def _place(self, route: Route) -> int | None:
        """Return how many parts a way passes before the target; None where it does not pass it."""
        if self.target.terminal in route.terminals:
            return route.terminals.index(self.target.terminal) + route.lead
        return next((number for number, ref in enumerate(route.refs) if ref in self.target.refs), None)

    def _direct(self, one: _Routes) -> Served | None:
        """Return how the target serves a consumer itself; None where it does not."""
        feeds = {route: when for route, when in one.feeds.items() if self._place(route) is not None}
        backs = {route: when for route, when in one.backs.items() if self._place(route) is not None}
        if one.consumer.ref in self.target.refs:
            return self._served(one, "is", one.feeds, one.backs)
        if feeds:
            return self._served(one, "feeds", feeds, one.backs)
        return self._served(one, "back", one.feeds, backs) if backs else None

    def _worked(self, direct: Collection[str]) -> Iterator[Served]:
        """Yield the loads that hang on the contacts that the relays among ``direct`` work."""
        gated: dict[str, list[str]] = {}
        for element in self.circuit.elements:
            gate = element.gate if isinstance(element, RelayContact | Converter) else None
            for ref in gate.coils.values() if gate else ():
                if ref in direct:
                    gated.setdefault(element.ref, []).append(mark_of(ref, self.wires))
        for one in self.routes:
            if isinstance(one.consumer, Coil) or one.consumer.ref in direct:
                continue
            feeds = {route: when for route, when in one.feeds.items() if not gated.keys().isdisjoint(route.refs)}
            relays = dict.fromkeys(mark for route in feeds for ref in route.refs for mark in gated.get(ref, ()))
            if feeds:
                yield self._served(one, "works", feeds, one.backs, tuple(relays), gated)

    def _served(
        self,
        one: _Routes,
        serves: Serves,
        feeds: Mapping[Route, Iterable[Controls]],
        backs: Mapping[Route, Iterable[Controls]],
        relays: tuple[str, ...] = (),
        gated: Collection[str] = (),
    ) -> Served:
        alone = one.first.no_second(one.consumer) if one.first else frozenset()
        order = [element.ref for element in self.circuit.elements if element.ref in alone]
        return Served(
            mark=mark_of(one.consumer.ref, self.wires),
            words=load_words(one.consumer),
            serves=serves,
            relays=relays,
            feeds=tuple(self._way(route, when, gated) for route, when in feeds.items()),
            backs=tuple(self._way(route, when) for route, when in backs.items()),
            no_second=tuple(mark_of(ref, self.wires) for ref in order),
        )

    def _way(self, route: Route, when: Iterable[Controls], gated: Collection[str] = ()) -> TracedWay:
        steps = tuple(step_of(self.circuit.by_ref[ref], self.wires) for ref in route.refs)
        worked = next((number for number, ref in enumerate(route.refs) if ref in gated), None)
        at = worked if gated else self._place(route)
        return TracedWay(steps=steps, settings=tuple(controls.words for controls in when), at=at)

    # --- live ---

    def _ends(self) -> list[tuple[str, ...]]:
        """Return the terminals of each element of the target, or the terminal itself."""
        if self.target.terminal:
            return [(self.target.terminal,)]
        return [(e.a, e.b) for ref in sorted(self.target.refs) if (e := self.circuit.by_ref[ref])]

    def _is_return(self) -> bool:
        moments = list(self.moments)
        live = any(end in moment.nets.live for moment in moments for ends in self._ends() for end in ends)
        return not live and any(end in m.nets.ground for m in moments for ends in self._ends() for end in ends)

    def _look(self, controls: Controls, *, is_return: bool) -> Look:
        lit, dark = (self._is_active(moment, is_return=is_return) for moment in self._halves(controls))
        return "steady" if lit and dark else "flash" if lit or dark else "dark"

    def _is_active(self, moment: Moment, *, is_return: bool) -> bool:
        if is_return:
            loops = (moment.loops(one.consumer)[1] for one in self.routes)
            return any(self._place(route) is not None for backs in loops for route in backs)
        elements = [self.circuit.by_ref[ref] for ref in self.target.refs]
        if any(isinstance(element, Lamp | Load | Coil) for element in elements):
            return any(isinstance(e, Lamp | Load | Coil) and moment.lies(e) is not None for e in elements)
        return any(all(end in moment.nets.live for end in ends) for ends in self._live_ends(elements))

    def _live_ends(self, elements: Sequence[Element]) -> list[tuple[str, ...]]:
        if any(isinstance(element, Battery) for element in elements):
            return [(element.a,) for element in elements]
        return self._ends()

    # --- breaks ---

    def _effects(self) -> list[Effect]:
        """Return what the break changes, load by load: the worst first."""
        broken = Moments(self.target.broken(self.circuit))
        after = {element.ref: element for element in consumers(broken.circuit)}
        found = []
        for one in consumers(self.circuit):
            changed: dict[Controls, tuple[tuple[bool, ...], tuple[bool, ...]]] = {}
            lit = 0
            for controls in self.settings:
                was = tuple(moment.lies(one) is not None for moment in self._halves(controls))
                left = after.get(one.ref)
                now = tuple(left is not None and m.lies(left) is not None for m in self._halves(controls, broken))
                lit += any(was)
                if was != now:
                    changed[controls] = was, now
            if changed:
                found.append(self._effect(one, changed, lit))
        return sorted(found, key=lambda effect: _KINDS.index(effect.kind))

    def _effect(
        self,
        one: Lamp | Load | Battery,
        changed: Mapping[Controls, tuple[tuple[bool, ...], tuple[bool, ...]]],
        lit: int,
    ) -> Effect:
        gone = [controls for controls, (was, now) in changed.items() if any(was) and not any(now)]
        come = [controls for controls, (was, now) in changed.items() if not any(was) and any(now)]
        # A lamp that comes on where it should be off is told before one that is off at times.
        kind: Kind = (
            "out" if len(gone) == lit and not come and gone else "on" if come else "partly" if gone else "other"
        )
        told = come or gone or list(changed)
        words = tuple(controls.words for controls in sorted(told, key=lambda controls: controls.weight))
        return Effect(
            mark=mark_of(one.ref, self.wires), words=load_words(one), kind=kind, settings=words, is_brake=_is_brake(one)
        )

    def _dead(self) -> Iterator[str]:
        """Yield the contacts that no supply reaches behind a break, were every switch and relay closed."""
        whole, start = _reachable(self.circuit)
        broken = [self.target.terminal] if self.target.terminal else sorted(self.target.refs)
        lost = {
            terminal
            for one in broken
            if one in self.circuit.by_ref or one in whole
            for terminal in cut_off(whole, start, one)
        }
        for contact in self.circuit.of(Contact):
            if contact.b in lost:
                yield mark_of(contact.ref, self.wires)


def _is_brake(element: Element) -> bool:
    return isinstance(element, Load) and CIRCUITS[element.function].word == "electric brakes"


def _reachable(circuit: Circuit) -> tuple[nx.MultiGraph, str]:
    """Return the graph of all that can ever be live, and a node that is joined to the plus of every own supply."""
    closed = {e.ref for e in circuit.elements if isinstance(e, Lamp | Load | Coil | Battery)}
    closed |= {f"{e.ref}/{half}" for e in circuit.of(Converter) for half in ("in", "out")}
    graph = circuit.graph(closed)
    for converter in circuit.of(Converter):
        graph.add_edge(converter.a, converter.b, key=converter.ref)
    for battery in circuit.of(Battery):
        if battery.zone != "trailer":
            graph.add_edge("", battery.a, key=battery.ref)
    return graph, ""


def _never(looks: Mapping[Controls, Look]) -> Iterator[Controls]:
    """Yield the single controls with which all is dark, of a table in which not all is."""
    if all(look == "dark" for look in looks.values()):
        return
    for part in looks:
        if part.weight == 1 and all(look == "dark" for controls, look in looks.items() if _fits(part, controls)):
            yield part


def listed(looks: Mapping[Controls, Look]) -> list[tuple[Controls, Look]]:
    """Return the shortest list, found by going from simple to particular, from which every setting can be read.

    ``read`` does so: the most particular entry that fits a setting tells what holds in it.
    """
    found: list[tuple[Controls, Look]] = []
    for controls in sorted(looks, key=lambda one: one.weight):
        if read(found, controls) != looks[controls]:
            found.append((controls, looks[controls]))
    return found


def read(entries: Sequence[tuple[Controls, Look]], controls: Controls) -> Look | None:
    """Return what a list says of a setting; None where no entry fits it, or its most particular ones disagree."""
    fitting = [(one.weight, look) for one, look in entries if _fits(one, controls)]
    most = max((weight for weight, _ in fitting), default=0)
    told = {look for weight, look in fitting if weight == most}
    return told.pop() if len(told) == 1 else None


def _fits(part: Controls, whole: Controls) -> bool:
    """Return whether everything that one setting has away from rest is so in the other."""
    rest = Controls()
    names = (one.name for one in fields(Controls))
    return all(getattr(part, name) in (getattr(rest, name), getattr(whole, name)) for name in names)
