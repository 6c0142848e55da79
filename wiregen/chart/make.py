"""The wiring chart: what goes where, taken from the built circuits and the pinouts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from wiregen.catalogue.circuits import CIRCUITS, GROUPS
from wiregen.catalogue.connector import Connector, Contact
from wiregen.chart.measure import measure_notes, measure_rows
from wiregen.circuit.adapter import BuiltChannel
from wiregen.circuit.build import Built
from wiregen.harness.cut_list import CutList, is_doubtful, support_words
from wiregen.harness.relay_wiring import relay_wiring
from wiregen.model.chart import Chart, PinRow, SheetInfo
from wiregen.model.circuit import Contact as MatedContact
from wiregen.model.circuit import Converter
from wiregen.rig.loaded import LoadedRig

_BEFORE = (
    "Vehicles differ from their manuals and have been rewired: measure every contact before you connect anything.",
    "Wire by the letter or number moulded beside the contact, never by its position in a picture.",
    "Disconnect the batteries before you work on a feed. Fit a fuse at the battery in every feed.",
)
_BRAKES = (
    "Electric brakes, breakaway switch and brake controller: have the work checked by a qualified person. "
    "Never tow with a brake circuit that has not been tested."
)
_AFTER = (
    "Test every lamp, with the trailer coupled, before the first trip and each time you couple.",
    "This chart is not a check: run 'wiregen check' on the rig file; digest {digest}.",
    "This chart is advice. Local codes and qualified people have the last word; no compliance is claimed.",
)

NOT_CONNECTED = "not connected by this adapter"
_NO_EQUAL = "not connected: the vehicle socket has no such mark"
_NO_WIRE = "no wire on the vehicle, by the source"
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


def chart(loaded: LoadedRig, built: Built) -> Chart:
    """Make the chart of a rig."""
    charter = _Charter(loaded, built)
    return Chart(
        sheet=sheet_info(loaded),
        vehicle=loaded.rig.vehicle.name,
        connectors=charter.connectors(),
        pins=tuple(charter.pins()),
        conductors=tuple(charter.cut_list.rows()),
        measures=tuple(measure_rows(loaded, built)),
        notices=charter.notices(),
        cautions=cautions(loaded),
        measure_notes=measure_notes(loaded),
        relays=relay_wiring(built),
    )


def cautions(loaded: LoadedRig) -> tuple[str, ...]:
    """Return what can hurt, in the order to read it; brakes only where a trailer has them."""
    rig = loaded.rig
    braked = any(trailer.brakes for trailer in rig.trailer)
    braked |= any("brake" in channel.outputs for channel in rig.adapter.channel)
    after = tuple(text.format(digest=loaded.digest) for text in _AFTER)
    return (*_BEFORE, *((_BRAKES,) if braked else ()), *after)


class _Charter:
    def __init__(self, loaded: LoadedRig, built: Built) -> None:
        self.loaded = loaded
        self.built = built
        self.rig = loaded.rig
        self.cut_list = CutList(loaded, built)
        self.used = {
            contact.mark
            for circuit in built.circuits
            for contact in circuit.of(MatedContact)
            if contact.connector == "-X1"
        }
        if loaded.rig.adapter.straight:
            # A plain lead joins every equal mark, also those for which there is nothing to compute.
            self.used |= {entry.mark for plug in loaded.plugs for entry in plug.contact}

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
        rows += self._supply_rows()
        rows += self._unused_vehicle()
        yield from sorted(rows, key=lambda row: GROUPS.index(row.group) if row.group in GROUPS else len(GROUPS))

    def _adapter_rows(self) -> Iterator[PinRow]:
        for (outlet, plug), trailer in zip(self._plugs(), self.rig.trailer, strict=True):
            for entry in plug.contact:
                feeding = [channel for channel in self.built.channels if entry.circuit in channel.outputs]
                for channel in feeding:
                    yield self._channel_row(channel, outlet, plug, entry, trailer.name)
                if entry.circuit == "ground":
                    yield self._ground_row(outlet, plug, entry, trailer.name)
                elif not feeding:
                    yield self._unfed_row(outlet, plug, entry, trailer.name)

    def _named(self, name: str) -> tuple[str, str, Contact | None]:
        """Return where a tap or a circuit of the vehicle comes from, what it is, and its contact where it has one."""
        if name in {tap.name for tap in self.rig.vehicle.tap}:
            return f"tap {name}", name.replace("_", " "), None
        entry = next(iter(self.loaded.socket.on(name)), None)
        return f"X1:{entry.mark}" if entry else "no contact", CIRCUITS[name].word, entry

    def _colour(self, outlet: str, plug: Connector, entry: Contact, channel: str = "") -> tuple[str, str]:
        """Return code and words of the colour of the harness conductor on a contact of an outlet."""
        code = self.cut_list.colour_at(f"-{outlet}:{entry.mark}.a", channel) or entry.colour or ""
        return code, plug.colour_words(entry, code)

    def _channel_row(self, channel: BuiltChannel, outlet: str, plug: Connector, entry: Contact, trailer: str) -> PinRow:
        written = self.rig.adapter.channel[channel.index]
        named = [self._named(name) for name in written.input.names]
        ends = tuple(contact for _, _, contact in named if contact is not None)
        return _pin_row(
            entry.circuit,
            ends,
            entry,
            vehicle_contact=" + ".join(words for words, _, _ in named),
            vehicle_circuit=", ".join(words for _, words, _ in named),
            channel=f"{channel.name} ({_DEVICES[written.device]})",
            logic="" if written.input.is_bare else written.input.text,
            fuse=self.cut_list.fuse_at(f"-{outlet}:{entry.mark}.a", channel.name),
            trailer=trailer,
            outlet=outlet,
            colour=self._colour(outlet, plug, entry, channel.name),
            notes=_notes([*(("X1", contact) for contact in ends if is_doubtful(contact)), ("", entry)], outlet),
        )

    def _ground_row(self, outlet: str, plug: Connector, entry: Contact, trailer: str) -> PinRow:
        grounds = self.loaded.socket.lamp_grounds
        return _pin_row(
            "ground",
            grounds,
            entry,
            vehicle_contact=" + ".join(f"X1:{contact.mark}" for contact in grounds),
            vehicle_circuit=CIRCUITS["ground"].word,
            channel="ground bar",
            trailer=trailer,
            outlet=outlet,
            colour=self._colour(outlet, plug, entry),
            notes=_notes([*(("X1", contact) for contact in grounds if is_doubtful(contact)), ("", entry)], outlet),
        )

    def _unfed_row(self, outlet: str, plug: Connector, entry: Contact, trailer: str) -> PinRow:
        return _pin_row(
            entry.circuit,
            (),
            entry,
            trailer=trailer,
            outlet=outlet,
            colour=(entry.colour or "", plug.colour_words(entry, entry.colour or "")),
            notes=(NOT_CONNECTED, *_notes([("", entry)], outlet)),
        )

    def _straight_rows(self) -> Iterator[PinRow]:
        for (outlet, plug), trailer in zip(self._plugs(), self.rig.trailer, strict=True):
            for entry in plug.contact:
                facing = self.loaded.socket.find(entry.mark)
                joined = facing is not None
                end = f"-{outlet}:{entry.mark}.a"
                both = [("X1", facing)] if facing else []
                lead = _NO_EQUAL if facing is None else _NO_WIRE if facing.circuit == "unused" else ""
                yield _pin_row(
                    entry.circuit,
                    (facing,) if facing else (),
                    entry,
                    vehicle_contact=f"X1:{facing.mark}" if facing else "",
                    vehicle_circuit=CIRCUITS[facing.circuit].word if facing else "",
                    channel="straight lead" if joined else "",
                    fuse=self.cut_list.fuse_at(end) if joined else "",
                    trailer=trailer.name,
                    outlet=outlet,
                    colour=self._colour(outlet, plug, entry),
                    notes=(*((lead,) if lead else ()), *_notes([*both, (outlet, entry)], outlet)),
                )

    def _supply_rows(self) -> Iterator[PinRow]:
        """Yield the row of the vehicle contact or tap that feeds the adapter's own supply."""
        supply = self.rig.adapter.supply
        if supply is None or supply.feed is None or self.built.missing_feed is not None:
            return
        words, circuit, entry = self._named(supply.feed)
        converter = next(c for c in self.built.circuits[0].of(Converter) if not c.channel)
        yield _pin_row(
            supply.feed if supply.feed in CIRCUITS else "charge",
            (entry,) if entry else (),
            None,
            vehicle_contact=words,
            vehicle_circuit=circuit,
            channel=f"{converter.ref.removeprefix('-')} ({converter.title}, the adapter's supply)",
            fuse=self.cut_list.fuse_at(f"-A1:{supply.feed}"),
            notes=_notes([("", entry)] if entry else [], "X1"),
        )

    def _unused_vehicle(self) -> list[PinRow]:
        groups: dict[str, list[Contact]] = {}
        for entry in self.loaded.socket.contact:
            if entry.mark not in self.used:
                groups.setdefault(entry.circuit, []).append(entry)
        return [
            _pin_row(
                circuit,
                tuple(entries),
                None,
                vehicle_contact=" + ".join(f"X1:{entry.mark}" for entry in entries),
                vehicle_circuit=CIRCUITS[circuit].word,
                notes=(
                    NOT_CONNECTED if circuit != "unused" else _NO_WIRE,
                    *_notes([("X1" if len(entries) > 1 else "", entry) for entry in entries], "X1"),
                ),
            )
            for circuit, entries in groups.items()
        ]


def _notes(ends: Iterable[tuple[str, Contact]], outlet: str) -> tuple[str, ...]:
    """Return the pinouts' own notes on contacts.

    Args:
        ends: Contacts with the connector to name in front, an empty text where the row leaves no doubt.
        outlet: Connector to name after all where notes of two connectors meet.
    """
    told = [(name, entry) for name, entry in ends if entry.notes]
    if len({entry.notes for _, entry in told}) == 1 and told[-1][0] in ("", outlet):
        return (told[-1][1].notes,)
    return tuple(f"{name or outlet}:{entry.mark}: {entry.notes}" for name, entry in told)


def _pin_row(
    group_of: str,
    vehicle: tuple[Contact, ...],
    trailer_end: Contact | None,
    *,
    vehicle_contact: str = "",
    vehicle_circuit: str = "",
    channel: str = "",
    logic: str = "",
    fuse: str = "",
    trailer: str = "",
    outlet: str = "",
    colour: tuple[str, str] = ("", ""),
    notes: tuple[str, ...] = (),
) -> PinRow:
    """Make a row of the circuit ``group_of`` between vehicle contacts and a trailer contact, on whose support it rests.

    Notes are joined to sentences.
    """
    ends = (*vehicle, *((trailer_end,) if trailer_end else ()))
    tags = " + ".join(dict.fromkeys(entry.tag for entry in vehicle if entry.tag))
    return PinRow(
        group=CIRCUITS[group_of].group,
        circuit=CIRCUITS[trailer_end.circuit].word if trailer_end else "",
        vehicle_contact=vehicle_contact,
        vehicle_circuit=vehicle_circuit,
        channel=channel,
        logic=logic,
        fuse=fuse,
        trailer=trailer,
        trailer_contact=f"{outlet}:{trailer_end.mark}" if trailer_end else "",
        colour=colour[0],
        colour_word=colour[1],
        support=support_words(vehicle, (trailer_end,) if trailer_end else ()) if ends else "",
        unverified=is_doubtful(*ends),
        note=" ".join(note if note.endswith((".", "!", "?")) else f"{note}." for note in notes[:-1])
        + (" " if len(notes) > 1 else "")
        + (notes[-1] if notes else ""),
        tag=tags,
    )
