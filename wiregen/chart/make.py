"""The wiring chart: what goes where, taken from the built circuits and the pinouts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from functools import partial

from wiregen.catalogue.circuits import CIRCUITS, GROUPS, circuit_word
from wiregen.catalogue.connector import colour_word, is_doubtful, support_words
from wiregen.catalogue.devices import DEVICES
from wiregen.chart.grid import measure_grids
from wiregen.chart.measure import measure_notes, measure_rows
from wiregen.circuit.build import Built
from wiregen.circuit.parts import ADAPTER_GROUND
from wiregen.harness.record import Cavity, Half, Harness, Wire, WirePoint
from wiregen.harness.relay_wiring import relay_wiring
from wiregen.model.chart import Chart, ConductorRow, PinRow, SheetInfo
from wiregen.model.circuit import Converter
from wiregen.rig.loaded import LoadedRig

_BEFORE = (
    "Measure every contact on the vehicle before you connect anything: vehicles differ from their manuals.",
    "Wire by the letter or number moulded beside the contact, never by position or colour.",
    "Disconnect the batteries. Fit a fuse at the battery in every feed.",
)
_BRAKES = "Brakes: have the work checked by a qualified person. NEVER tow with brakes that have not been tested."
_AFTER = (
    "Test every lamp with the trailer coupled, each time you couple.",
    "This chart is not a check: run 'wiregen check' on the rig file with file code {digest}.",
)

NOT_CONNECTED = "not connected by this adapter"
_NO_EQUAL = "not connected: the vehicle socket has no such mark"
_NO_WIRE = "no wire on the vehicle, by the source"


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


def chart(loaded: LoadedRig, built: Built, harness: Harness) -> Chart:
    """Make the chart of a rig."""
    charter = _Charter(loaded, built, harness)
    return Chart(
        sheet=sheet_info(loaded),
        vehicle=loaded.rig.vehicle.name,
        connectors=charter.connectors(),
        pins=tuple(charter.pins()),
        conductors=tuple(charter.conductors()),
        measures=tuple(measure_rows(loaded, built, harness)),
        notices=charter.notices(),
        cautions=cautions(loaded),
        measure_notes=measure_notes(loaded),
        relays=relay_wiring(built, harness),
        grids=measure_grids(loaded, built, harness),
    )


def cautions(loaded: LoadedRig) -> tuple[str, ...]:
    """Return what can hurt, in the order to read it; brakes only where a trailer has them."""
    rig = loaded.rig
    braked = any(trailer.brakes for trailer in rig.trailer)
    braked |= any("brake" in channel.outputs for channel in rig.adapter.channel)
    after = tuple(text.format(digest=loaded.digest) for text in _AFTER)
    return (*_BEFORE, *((_BRAKES,) if braked else ()), *after)


class _Charter:
    def __init__(self, loaded: LoadedRig, built: Built, harness: Harness) -> None:
        self.loaded = loaded
        self.built = built
        self.rig = loaded.rig
        self.harness = harness
        self.channels = {channel.name: channel for channel in built.channels}

    def connectors(self) -> tuple[tuple[str, str, str], ...]:
        return tuple(
            (half.id, f"{half.pinout.short} ({half.trailer or 'vehicle socket'})", half.pinout.standard)
            for half in self.harness.halves
        )

    def notices(self) -> tuple[str, ...]:
        said = (
            f"{half.id} {half.pinout.short}: {notice}" for half in self.harness.halves for notice in half.pinout.notices
        )
        return tuple(dict.fromkeys(said))

    # --- wires to cut ---

    def conductors(self) -> list[ConductorRow]:
        """Return every wire that is made outside the adapter, by function group."""
        shared = Counter(wire.colour for wire in self.harness.made)
        return [self._conductor(wire, marked=shared[wire.colour] > 1) for wire in self.harness.made]

    def _colour_words(self, code: str, cavities: Iterable[Cavity]) -> str:
        """Return the words of a colour, with its support mark where a pinout proves it less than the function."""
        pinouts = {half.id: half.pinout for half in self.harness.halves}
        said = (one for one in cavities if code and one.entry.colour == code)
        told = (pinouts[one.half].colour_words(one.entry, code) for one in said)
        return next(told, colour_word(code) if code else "")

    def _conductor(self, wire: Wire, *, marked: bool) -> ConductorRow:
        ends = [cavity for point in wire.points if (cavity := self.harness.cavities.get(point.id))]
        vehicle = tuple(cavity.entry for cavity in ends if cavity.point.startswith("X1:"))
        trailer = tuple(cavity.entry for cavity in ends if not cavity.point.startswith("X1:"))
        return ConductorRow(
            ref=wire.id,
            start=wire.a.id,
            end=wire.b.id,
            group=wire.group,
            circuit=circuit_word(wire.circuit),
            colour=wire.colour,
            colour_word=self._colour_words(wire.colour, ends),
            size=wire.size.label if wire.size else "",
            length_m=wire.length_m,
            fuse=wire.fuse,
            channel=wire.channel,
            trailer=wire.trailer,
            support=support_words(vehicle, trailer) if ends else "",
            unverified=is_doubtful(*vehicle, *trailer),
            tag=next((entry.tag for entry in vehicle if entry.tag), ""),
            marking=wire.id if marked else "",
        )

    # --- pin to pin ---

    def pins(self) -> list[PinRow]:
        """Return every cavity, with the way to it along the wires; one without a wire is not connected."""
        vehicle, *outlets = self.harness.halves
        rows = [row for half in outlets for cavity in half.cavities for row in self._outlet_rows(half, cavity)]
        return sorted((*rows, *self._supply_rows(), *self._idle_rows(vehicle)), key=lambda row: GROUPS.index(row.group))

    def _outlet_rows(self, half: Half, cavity: Cavity) -> Iterator[PinRow]:
        for wire in cavity.wires:
            row = partial(self._row, outlet=cavity, wire=wire, trailer=half.trailer)
            if wire.channel:
                written = self.rig.adapter.channel[self.channels[wire.channel].index]
                ends = [end for name in written.input.names for end in self._ends(f"-A1:{name}")]
                sources = [self._source(name) for name in written.input.names]
                logic = "" if written.input.is_bare else written.input.text
                through = f"{wire.channel} ({DEVICES[written.device].word})"
                yield row(ends, sources=sources, channel=through, logic=logic)
            elif self.harness.straight:
                yield row(self._found(wire.points), channel="straight lead", says=self._lead(cavity))
            else:
                yield row(self._ends(ADAPTER_GROUND), channel="ground bar")
        if not cavity.wires:
            yield self._row([], cavity, trailer=half.trailer, says=self._lead(cavity) or NOT_CONNECTED)

    def _lead(self, cavity: Cavity) -> str:
        """Return what to know of a contact of a straight lead: that the vehicle has no such mark, or no wire there."""
        facing = self.harness.cavities.get(f"X1:{cavity.entry.mark}")
        if not self.harness.straight or (facing and facing.entry.circuit != "unused"):
            return ""
        return _NO_WIRE if facing else _NO_EQUAL

    def _found(self, points: Iterable[WirePoint]) -> list[Cavity]:
        """Return the contacts of the vehicle socket among points."""
        return [self.harness.cavities[id_] for id_ in dict.fromkeys(p.id for p in points) if id_.startswith("X1:")]

    def _ends(self, net: str) -> list[Cavity]:
        """Return the contacts of the vehicle socket whose wires bring a net in."""
        return self._found(point for wire in self.harness.sources(net) for point in wire.points)

    def _source(self, name: str) -> tuple[str, str]:
        """Return where a tap or a circuit of the vehicle comes from, and what it is."""
        if name in {tap.name for tap in self.rig.vehicle.tap}:
            return f"tap {name}", name.replace("_", " ")
        return next((end.point for end in self._ends(f"-A1:{name}")), "no contact"), CIRCUITS[name].word

    def _supply_rows(self) -> Iterator[PinRow]:
        """Yield the row of the vehicle contact or tap that feeds the adapter's own supply."""
        feed = self.rig.adapter.fed_by
        if feed is None or self.built.missing_feed is not None:
            return
        converter = next(c for c in self.built.circuits[0].of(Converter) if not c.channel)
        net = f"-A1:{feed}"
        yield self._row(
            self._ends(net),
            wire=next(self.harness.sources(net)),
            sources=[self._source(feed)],
            group_of=feed if feed in CIRCUITS else "charge",
            channel=f"{converter.ref.removeprefix('-')} ({converter.title}, the adapter's supply)",
        )

    def _idle_rows(self, vehicle: Half) -> Iterator[PinRow]:
        """Yield the contacts of the vehicle without a wire, those of a circuit on one row."""
        groups: dict[str, list[Cavity]] = {}
        for cavity in vehicle.cavities:
            if not cavity.wires:
                groups.setdefault(cavity.entry.circuit, []).append(cavity)
        for circuit, cavities in groups.items():
            yield self._row(cavities, says=NOT_CONNECTED if circuit != "unused" else _NO_WIRE)

    def _row(
        self,
        vehicle: Sequence[Cavity],
        outlet: Cavity | None = None,
        wire: Wire | None = None,
        *,
        sources: Sequence[tuple[str, str]] = (),
        group_of: str = "",
        trailer: str = "",
        channel: str = "",
        logic: str = "",
        says: str = "",
    ) -> PinRow:
        """Return the row between contacts of the vehicle and one of a trailer, on whose support it rests.

        Args:
            vehicle: Contacts of the vehicle socket that the way passes.
            outlet: The trailer's contact; None for a row that ends in the adapter.
            wire: Wire at the outlet, else at the vehicle contact; None where nothing is connected.
            sources: Where it comes from and what that is, where taps are among it; else the vehicle contacts.
            group_of: Circuit that says in which group it stands; that of the outlet, else of the vehicle contact.
            trailer: Name of the trailer.
            channel: What the way leads through.
            logic: When it is live, where that is more than one circuit.
            says: What to say first among the notes.
        """
        entries = tuple(cavity.entry for cavity in vehicle)
        end = outlet.entry if outlet else None
        named = sources or [(cavity.point, CIRCUITS[cavity.entry.circuit].word) for cavity in vehicle]
        colour = (wire.colour if wire else "") or end.colour or "" if end else ""
        doubted = [v for v in vehicle if outlet is None or self.harness.straight or is_doubtful(v.entry)]
        notes = [*([says] if says else []), *_notes([*doubted, *([outlet] if outlet else [])])]
        return PinRow(
            group=CIRCUITS[group_of or (end or entries[0]).circuit].group,
            circuit=CIRCUITS[end.circuit].word if end else "",
            vehicle_contact=" + ".join(words for words, _ in named),
            vehicle_circuit=", ".join(dict.fromkeys(words for _, words in named)),
            channel=channel,
            logic=logic,
            fuse=wire.fuse if wire else "",
            trailer=trailer,
            trailer_contact=outlet.point if outlet else "",
            colour=colour,
            colour_word=self._colour_words(colour, [outlet] if outlet else []),
            support=support_words(entries, (end,) if end else ()) if entries or end else "",
            unverified=is_doubtful(*entries, *((end,) if end else ())),
            # Joined to sentences.
            note=" ".join([*(n if n.endswith((".", "!", "?")) else f"{n}." for n in notes[:-1]), *notes[-1:]]),
            tag=" + ".join(dict.fromkeys(entry.tag for entry in entries if entry.tag)),
            wire=wire.id if wire else "",
        )


def _notes(cavities: Sequence[Cavity]) -> tuple[str, ...]:
    """Return the pinouts' own notes on contacts; each with its contact in front, but for one of the last connector."""
    told = [cavity for cavity in cavities if cavity.entry.notes]
    if len({cavity.entry.notes for cavity in told}) == 1 and told[-1].half == cavities[-1].half:
        return (told[-1].entry.notes,)
    return tuple(f"{cavity.point}: {cavity.entry.notes}" for cavity in told)
