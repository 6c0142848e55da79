"""The conductors to cut: the adapter's own harness, or a straight lead."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import cached_property

from wiregen.catalogue.circuits import CIRCUITS, GROUPS
from wiregen.catalogue.connector import Connector, Contact, colour_word
from wiregen.circuit.assume import Assumed
from wiregen.circuit.build import Built
from wiregen.circuit.parts import ADAPTER_GROUND, CHASSIS
from wiregen.circuit.runs import Runs
from wiregen.model.chart import NO_FUSE, ConductorRow
from wiregen.model.circuit import Battery, Circuit, Conductor, Converter, Equaliser, Fuse
from wiregen.quantity import show
from wiregen.rig.loaded import LoadedRig

#: Conductors that the builder of the adapter makes; the rest is the vehicle's and the trailer's own wiring.
HARNESS = ("socket-adapter", "battery-adapter", "adapter-chassis", "adapter-trailer")
#: Where the fuses in the leads of an equaliser stand; they have no designation of their own.
AT_BATTERY = "at the battery"


def terminal_words(terminal: str) -> str:
    """Return a terminal as a chart prints it: ``-X1:E.a`` is ``X1:E``."""
    name = terminal.removeprefix("-")
    name = name[:-2] if name.endswith((".v", ".a", ".t", ".s")) else name
    return name.replace("_", " ")


def fuse_words(fuse: Fuse) -> str:
    """Return ``F3 10 A``."""
    return f"{fuse.ref.removeprefix('-')} {show(fuse.rating_a, 'A')}"


def support_words(vehicle: tuple[Contact, ...], trailer: tuple[Contact, ...]) -> str:
    """Return the support marks of contacts: one where all are alike, else vehicle, slash, trailer."""
    sides = [[entry.sign for entry in side] for side in (vehicle, trailer)]
    if len({mark for side in sides for mark in side}) == 1:
        return next(mark for side in sides for mark in side)
    return " / ".join(", ".join(side) for side in sides if side)


def is_doubtful(*entries: Contact) -> bool:
    """Return whether of any contact no document was seen, or sources disagree."""
    return any(entry.is_doubtful for entry in entries)


class CutList:
    """Makes the rows, and knows the fuse of each conductor."""

    def __init__(self, loaded: LoadedRig, built: Built) -> None:
        self.loaded = loaded
        self.built = built

    def rows(self) -> list[ConductorRow]:
        """Return every conductor once, by function group."""
        seen: set[str] = set()
        rows = []
        for circuit in self.built.circuits:
            for wire in circuit.of(Conductor):
                if wire.stretch in HARNESS and wire.ref not in seen:
                    seen.add(wire.ref)
                    rows.append(self._row(circuit, wire))
        if self.loaded.rig.adapter.straight:
            rows += self._without_duty(rows)
        rows += self._equaliser_leads()
        shared = Counter(row.colour for row in rows)
        rows = [replace(row, marking=row.ref if shared[row.colour] > 1 else "") for row in rows]
        return sorted(rows, key=lambda row: GROUPS.index(row.group) if row.group in GROUPS else len(GROUPS))

    def fuse_at(self, terminal: str, channel: str = "") -> str:
        """Return the fuse of the harness conductor that ends on a terminal; empty where there is no such conductor.

        Args:
            terminal: Adapter side of a contact, ``-X2:3.a``.
            channel: Channel the conductor belongs to; any when empty.
        """
        found = self._at(terminal, channel)
        return self._fuse(*found) if found else ""

    def colour_at(self, terminal: str, channel: str = "") -> str:
        """Return the colour of that conductor; empty where it has none."""
        found = self._at(terminal, channel)
        return found[1].colour if found else ""

    def _at(self, terminal: str, channel: str) -> tuple[Circuit, Conductor] | None:
        for circuit in self.built.circuits:
            for wire in circuit.of(Conductor):
                if terminal in (wire.a, wire.b) and wire.stretch in HARNESS and channel in ("", wire.channel):
                    return circuit, wire
        return None

    def channel_fuse(self, channel: str) -> str:
        """Return the fuse of a channel, or an empty text."""
        for circuit in self.built.circuits:
            for fuse in circuit.of(Fuse):
                if fuse.channel == channel:
                    return fuse_words(fuse)
        return ""

    def _row(self, circuit: Circuit, wire: Conductor) -> ConductorRow:
        kind = CIRCUITS.get(wire.circuit)
        ends = list(self._ends(wire))
        vehicle = tuple(entry for name, entry in ends if name == "X1")
        trailer = tuple(entry for name, entry in ends if name != "X1")
        words = [self._pinouts[n].colour_words(entry, wire.colour) for n, entry in ends if entry.colour == wire.colour]
        return ConductorRow(
            ref=wire.ref.removeprefix("-"),
            start=terminal_words(wire.a),
            end=terminal_words(wire.b),
            group=kind.group if kind else "Supply",
            circuit=kind.word if kind else wire.circuit.replace("_", " "),
            colour=wire.colour,
            colour_word=words[0] if words else colour_word(wire.colour),
            size=wire.size.label,
            length_m=wire.length_m,
            fuse=self._fuse(circuit, wire),
            channel=wire.channel,
            trailer=circuit.trailer if wire.stretch == "adapter-trailer" else "",
            support=support_words(vehicle, trailer) if vehicle or trailer else "",
            unverified=is_doubtful(*vehicle, *trailer),
            tag=next((entry.tag for entry in vehicle if entry.tag), ""),
        )

    def _ends(self, wire: Conductor) -> Iterator[tuple[str, Contact]]:
        """Yield the contacts that a conductor ends on, each behind the designation of its connector."""
        for terminal in (wire.a, wire.b):
            name, _, mark = terminal_words(terminal).partition(":")
            pinout = self._pinouts.get(name)
            entry = pinout.find(mark) if pinout else None
            if entry is not None:
                yield name, entry

    @cached_property
    def _pinouts(self) -> dict[str, Connector]:
        plugs = {f"X{index + 2}": plug for index, plug in enumerate(self.loaded.plugs)}
        return {"X1": self.loaded.socket, **plugs}

    # --- fuses ---

    def _fuse(self, circuit: Circuit, wire: Conductor) -> str:
        fuse = circuit.fuse_of.get(wire.ref)
        if fuse is not None:
            return fuse_words(fuse)
        if wire.channel and (words := self.channel_fuse(wire.channel)):
            return words
        return NO_FUSE if wire.ref in self._unfused[circuit.trailer] else ""

    @cached_property
    def _unfused(self) -> dict[str, frozenset[str]]:
        return {circuit.trailer: unfused(circuit) for circuit in self.built.circuits}

    # --- equaliser ---

    def _equaliser_leads(self) -> Iterator[ConductorRow]:
        """Yield the three leads of an equaliser, numbered behind all others: the circuit takes them as part of it."""
        count = max((int(number) for number in self._numbers()), default=0)
        for equaliser in self.built.circuits[0].of(Equaliser):
            fuse = NO_FUSE if equaliser.fuse_a is None else f"{show(equaliser.fuse_a, 'A')} {AT_BATTERY}"
            for number, (start, lead, protected) in enumerate(equaliser_ends(equaliser), count + 1):
                yield ConductorRow(
                    ref=f"W{number}",
                    start=start,
                    end=f"{terminal_words(equaliser.ref)}:{lead}",
                    group="Supply",
                    circuit=f"battery equaliser, {lead}",
                    colour="",
                    colour_word="",
                    size=equaliser.lead_size.label if equaliser.lead_size else "",
                    length_m=equaliser.lead_m,
                    fuse=fuse if protected else "",
                    channel="",
                    trailer="",
                    support="",
                    unverified=False,
                    tag="",
                )

    # --- straight lead ---

    def _without_duty(self, rows: list[ConductorRow]) -> Iterator[ConductorRow]:
        """Yield the conductors of a straight lead that the circuit does without: sensors, data, other returns."""
        runs, count = Runs(self.loaded, Assumed()), max((int(number) for number in self._numbers()), default=0)
        for index, circuit in enumerate(self.built.circuits):
            listed = {end for row in rows for end in (row.start, row.end)}
            for entry in self.loaded.plugs[index].contact:
                facing, end = self.loaded.socket.find(entry.mark), f"-X{index + 2}:{entry.mark}.a"
                if facing is None or terminal_words(end) in listed or "unused" in (facing.circuit, entry.circuit):
                    continue
                count += 1
                wire = runs.conductor(
                    "adapter-trailer",
                    f"-X1:{entry.mark}.a",
                    end,
                    circuit=entry.circuit,
                    zone="adapter",
                    trailer=circuit.trailer,
                    contact=entry,
                )
                row = self._row(circuit, replace(wire, ref=f"-W{count}"))
                yield replace(row, fuse=NO_FUSE) if CIRCUITS[facing.circuit].group == "Supply" else row

    def _numbers(self) -> list[str]:
        refs = " ".join(wire.ref for circuit in self.built.circuits for wire in circuit.of(Conductor))
        return re.findall(r"-W(\d+)", refs)


def equaliser_ends(equaliser: Equaliser) -> tuple[tuple[str, str, bool], ...]:
    """Return of each lead of an equaliser where it starts, its name, and whether it wants a fuse."""
    ends = ((equaliser.a, "plus", True), (equaliser.b, "centre", True), (equaliser.common, "minus", False))
    return tuple((terminal_words(terminal), lead, protected) for terminal, lead, protected in ends)


def unfused(circuit: Circuit) -> frozenset[str]:
    """Return the refs of the conductors that a battery or a converter feeds without a fuse between."""
    plus = [battery.a for battery in circuit.of(Battery)] + [converter.b for converter in circuit.of(Converter)]
    return frozenset(wire.ref for start in plus for wire in circuit.reached(start, CHASSIS, ADAPTER_GROUND))
