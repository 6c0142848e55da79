"""The wiring chart: what goes where, taken from the built circuits and the pinouts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from wiregen.build.adapter import BuiltChannel
from wiregen.build.circuit import Built
from wiregen.build.measure import measure_rows
from wiregen.catalogue.circuits import CIRCUITS, GROUNDS, GROUPS
from wiregen.catalogue.connector import SUPPORT_MARKS, Connector, Contact, colour_word
from wiregen.model.chart import Chart, ConductorRow, PinRow, SheetInfo
from wiregen.model.circuit import Circuit, Conductor, Fuse
from wiregen.model.circuit import Contact as MatedContact
from wiregen.quantity import show
from wiregen.rig.loaded import LoadedRig

CAUTIONS = (
    "Vehicles differ from their manuals and have been rewired: measure every contact before you connect anything.",
    "Wire by the letter or number moulded beside the contact, never by its position in a picture.",
    "Disconnect the batteries before you work on a feed. Every feed from a battery has a fuse at the battery.",
    "Electric brakes, breakaway switch and brake controller: have the work checked by a qualified person. "
    "Never tow with a brake circuit that has not been tested.",
    "Test every lamp, with the trailer coupled, before the first trip and each time you couple.",
    "This chart is advice. Local codes and qualified people have the last word; no compliance is claimed.",
)

#: Conductors that the builder of the adapter makes; the rest is the vehicle's and the trailer's own wiring.
HARNESS = ("socket-adapter", "battery-adapter", "adapter-chassis", "adapter-trailer")
_DEVICES = {
    "relay": "relay",
    "solid_state": "solid-state switch",
    "step_down": "step-down",
    "wire": "wire",
    "brake_controller": "brake controller",
    "diode": "blocking diode",
    "resistor": "dropping resistor",
}


def sheet_info(loaded: LoadedRig) -> SheetInfo:
    """Return what stands in the title blocks of a rig's sheets."""
    rig = loaded.rig
    return SheetInfo(
        title=rig.title,
        revision=rig.revision,
        date=rig.date.isoformat() if rig.date else "",
        digest=loaded.digest,
        author=rig.author,
    )


def terminal_words(terminal: str) -> str:
    """Return a terminal as a chart prints it: ``-X1:E.a`` is ``X1:E``."""
    name = terminal.removeprefix("-")
    name = name[:-2] if name.endswith((".v", ".a", ".t", ".s")) else name
    return name.replace("_", " ")


def chart(loaded: LoadedRig, built: Built) -> Chart:
    """Make the chart of a rig."""
    charter = _Charter(loaded, built)
    return Chart(
        sheet=sheet_info(loaded),
        vehicle=loaded.rig.vehicle.name,
        connectors=charter.connectors(),
        pins=tuple(charter.pins()),
        conductors=tuple(charter.conductors()),
        measures=tuple(measure_rows(loaded, built)),
        notices=charter.notices(),
        cautions=CAUTIONS,
    )


class _Charter:
    def __init__(self, loaded: LoadedRig, built: Built) -> None:
        self.loaded = loaded
        self.built = built
        self.rig = loaded.rig
        self.used = {
            contact.mark
            for circuit in built.circuits
            for contact in circuit.of(MatedContact)
            if contact.connector == "-X1"
        }

    def connectors(self) -> tuple[tuple[str, str, str], ...]:
        rows = [("X1", f"{self.loaded.socket.short} (vehicle socket)", self.loaded.socket.standard)]
        rows += [
            (f"X{index + 2}", f"{plug.short} ({trailer.name})", plug.standard)
            for index, (trailer, plug) in enumerate(zip(self.rig.trailer, self.loaded.plugs, strict=True))
        ]
        return tuple(rows)

    def notices(self) -> tuple[str, ...]:
        seen: dict[str, None] = {}
        for designation, pinout in (("X1", self.loaded.socket), *self._plugs()):
            for notice in pinout.notices:
                seen[f"{designation} {pinout.short}: {notice}"] = None
        return tuple(seen)

    def _plugs(self) -> list[tuple[str, Connector]]:
        return [(f"X{index + 2}", plug) for index, plug in enumerate(self.loaded.plugs)]

    # --- pin to pin ---

    def pins(self) -> Iterator[PinRow]:
        rows = list(self._straight_rows() if self.rig.adapter.straight else self._adapter_rows())
        rows += self._unused_vehicle()
        yield from sorted(rows, key=lambda row: GROUPS.index(row.group) if row.group in GROUPS else len(GROUPS))

    def _adapter_rows(self) -> Iterator[PinRow]:
        for (outlet, plug), trailer in zip(self._plugs(), self.rig.trailer, strict=True):
            for entry in plug.contact:
                if entry.circuit in GROUNDS:
                    yield self._ground_row(outlet, entry, trailer.name)
                    continue
                feeding = [channel for channel in self.built.channels if entry.circuit in channel.outputs]
                if not feeding:
                    yield self._unfed_row(outlet, entry, trailer.name)
                for channel in feeding:
                    yield self._channel_row(channel, outlet, entry, trailer.name)

    def _channel_row(self, channel: BuiltChannel, outlet: str, entry: Contact, trailer: str) -> PinRow:
        written = self.rig.adapter.channel[channel.index]
        taps = {tap.name for tap in self.rig.vehicle.tap}
        contacts, words, ends = [], [], []
        for name in written.input.names:
            socket_contact = next(iter(self.loaded.socket.on(name)), None)
            if name in taps:
                contacts.append(f"tap {name}")
                words.append(name.replace("_", " "))
            elif socket_contact is not None:
                contacts.append(f"X1:{socket_contact.mark}")
                words.append(CIRCUITS[name].word)
                ends.append(socket_contact)
            else:
                contacts.append("no contact")
                words.append(CIRCUITS[name].word)
        return _pin_row(
            entry.circuit,
            (*ends, entry),
            circuit=CIRCUITS[entry.circuit].word,
            vehicle_contact=" + ".join(contacts),
            vehicle_circuit=", ".join(words),
            channel=f"{channel.name} ({_DEVICES[written.device]})",
            logic="" if written.input.is_bare else written.input.text,
            fuse=self._channel_fuse(channel.name),
            trailer=trailer,
            trailer_contact=f"{outlet}:{entry.mark}",
            colour=self._to_contact(channel.name, outlet, entry) or entry.colour or "",
            note=entry.note,
        )

    def _to_contact(self, channel: str, outlet: str, entry: Contact) -> str:
        end = f"-{outlet}:{entry.mark}.a"
        for circuit in self.built.circuits:
            for wire in circuit.of(Conductor):
                if wire.b == end and wire.channel == channel:
                    return wire.colour
        return ""

    def _channel_fuse(self, channel: str) -> str:
        for circuit in self.built.circuits:
            for fuse in circuit.of(Fuse):
                if fuse.channel == channel:
                    return fuse_words(fuse)
        return ""

    def _ground_row(self, outlet: str, entry: Contact, trailer: str) -> PinRow:
        if entry.circuit != "ground":
            return self._unfed_row(outlet, entry, trailer)
        grounds = self.loaded.socket.lamp_grounds
        return _pin_row(
            "ground",
            (*grounds, entry),
            circuit=CIRCUITS["ground"].word,
            vehicle_contact=" + ".join(f"X1:{contact.mark}" for contact in grounds),
            vehicle_circuit=CIRCUITS["ground"].word,
            channel="ground bar",
            trailer=trailer,
            trailer_contact=f"{outlet}:{entry.mark}",
            colour=entry.colour or "",
            note=entry.note,
        )

    def _unfed_row(self, outlet: str, entry: Contact, trailer: str) -> PinRow:
        return _pin_row(
            entry.circuit,
            (entry,),
            circuit=CIRCUITS[entry.circuit].word,
            trailer=trailer,
            trailer_contact=f"{outlet}:{entry.mark}",
            colour=entry.colour or "",
            note="not connected by this adapter",
        )

    def _straight_rows(self) -> Iterator[PinRow]:
        for (outlet, plug), trailer in zip(self._plugs(), self.rig.trailer, strict=True):
            for entry in plug.contact:
                facing = self.loaded.socket.find(entry.mark)
                yield _pin_row(
                    entry.circuit,
                    (facing, entry) if facing else (entry,),
                    circuit=CIRCUITS[entry.circuit].word,
                    vehicle_contact=f"X1:{facing.mark}" if facing else "",
                    vehicle_circuit=CIRCUITS[facing.circuit].word if facing else "",
                    channel="straight lead",
                    trailer=trailer.name,
                    trailer_contact=f"{outlet}:{entry.mark}",
                    colour=entry.colour or "",
                )

    def _unused_vehicle(self) -> list[PinRow]:
        groups: dict[str, list[Contact]] = {}
        for entry in self.loaded.socket.contact:
            if entry.mark not in self.used:
                groups.setdefault(entry.circuit, []).append(entry)
        return [
            _pin_row(
                circuit,
                entries,
                vehicle_contact=" + ".join(f"X1:{entry.mark}" for entry in entries),
                vehicle_circuit=CIRCUITS[circuit].word,
                note="not connected by this adapter"
                if circuit != "unused"
                else "no wire on the vehicle, by the source",
            )
            for circuit, entries in groups.items()
        ]

    # --- conductors ---

    def conductors(self) -> Iterator[ConductorRow]:
        seen: set[str] = set()
        rows = []
        for circuit in self.built.circuits:
            for wire in circuit.of(Conductor):
                if wire.stretch in HARNESS and wire.ref not in seen:
                    seen.add(wire.ref)
                    rows.append(self._conductor(circuit, wire))
        yield from sorted(rows, key=lambda row: GROUPS.index(row.group) if row.group in GROUPS else 99)

    def _conductor(self, circuit: Circuit, wire: Conductor) -> ConductorRow:
        fuse = circuit.fuse_of.get(wire.ref)
        fused = fuse_words(fuse) if fuse else self._channel_fuse(wire.channel) if wire.channel else ""
        kind = CIRCUITS.get(wire.circuit)
        return ConductorRow(
            ref=wire.ref.removeprefix("-"),
            start=terminal_words(wire.a),
            end=terminal_words(wire.b),
            group=kind.group if kind else "Supply",
            circuit=kind.word if kind else wire.circuit.replace("_", " "),
            size=wire.size.label,
            length_m=wire.length_m,
            fuse=fused,
            channel=wire.channel,
            trailer=circuit.trailer if wire.stretch == "adapter-trailer" else "",
            support=self._contact_support(wire),
            colour=wire.colour,
            colour_word=colour_word(wire.colour) if wire.colour else "",
        )

    def _contact_support(self, wire: Conductor) -> str:
        for terminal in (wire.a, wire.b):
            name, _, mark = terminal_words(terminal).partition(":")
            pinout = dict([("X1", self.loaded.socket), *self._plugs()]).get(name)
            entry = pinout.find(mark) if pinout else None
            if entry is not None:
                return SUPPORT_MARKS[entry.support]
        return ""


def fuse_words(fuse: Fuse) -> str:
    """Return ``F3 10 A``."""
    return f"{fuse.ref.removeprefix('-')} {show(fuse.rating_a, 'A')}"


def _pin_row(
    group_of: str,
    ends: Sequence[Contact],
    *,
    circuit: str = "",
    vehicle_contact: str = "",
    vehicle_circuit: str = "",
    channel: str = "",
    logic: str = "",
    fuse: str = "",
    trailer: str = "",
    trailer_contact: str = "",
    colour: str = "",
    note: str = "",
) -> PinRow:
    """Make a row of the circuit ``group_of``; ``ends`` are the contacts whose support it rests on."""
    marks = [SUPPORT_MARKS[entry.support] for entry in ends]
    return PinRow(
        group=CIRCUITS[group_of].group,
        circuit=circuit,
        vehicle_contact=vehicle_contact,
        vehicle_circuit=vehicle_circuit,
        channel=channel,
        logic=logic,
        fuse=fuse,
        trailer=trailer,
        trailer_contact=trailer_contact,
        colour=colour,
        colour_word=colour_word(colour) if colour else "",
        support=marks[0] if len(set(marks)) == 1 else "/".join(marks),
        unverified=any(entry.support in ("memory", "disagree") for entry in ends),
        note=note,
    )
