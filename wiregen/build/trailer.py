"""One trailer: its outlet on the adapter, the plug, the cable to the splice, lamps, brakes, ground, hitch."""

from __future__ import annotations

from itertools import pairwise

from wiregen.build.adapter import BuiltChannel
from wiregen.build.parts import ADAPTER_GROUND, CHASSIS, Parts
from wiregen.catalogue.circuits import GROUNDS
from wiregen.catalogue.connector import Connector, Contact
from wiregen.catalogue.lamps import find_lamp
from wiregen.model.circuit import Lamp, Load, Path
from wiregen.model.origin import Origin
from wiregen.rig.records import LampEntry, Trailer

_TIE_OHM = 0.001
#: Makers let a 12 V lamp or magnet see a charging vehicle; 16 V is the top of supply code A to C of ISO 16750-2
#: (from memory), 32 V the top of code E and F for 24 V.
HIGHEST_V = {12.0: 16.0, 24.0: 32.0}


class TrailerSide:
    """Builds what belongs to one trailer."""

    def __init__(self, parts: Parts, index: int) -> None:
        self.parts = parts
        self.index = index
        self.trailer: Trailer = parts.rig.trailer[index]
        self.plug: Connector = parts.loaded.plugs[index]
        self.outlet = f"-X{index + 2}"
        self.ground = f"{self.outlet}:ground"
        self._splices: dict[str, str] = {}
        parts.shell(self.outlet, self.plug)

    def build(self, channels: list[BuiltChannel]) -> None:
        """Build outlet, plug, cable and everything on the trailer."""
        for entry in self.plug.contact:
            feeding = [built for built in channels if entry.circuit in built.outputs]
            for built in feeding:
                self.parts.add(
                    self.parts.runs.conductor(
                        "adapter-trailer",
                        built.out,
                        f"{self.outlet}:{entry.mark}.a",
                        circuit=entry.circuit,
                        zone="adapter",
                        trailer=self.trailer.name,
                        contact=entry,
                        channel=built.name,
                    )
                )
            if feeding:
                self._splice(entry)
        self._ground_contacts(straight=False)
        self._consumers()

    def build_straight(self, socket: dict[str, str], grounds: dict[str, str]) -> None:
        """Build the trailer behind a plain lead that joins equal marks.

        Args:
            socket: Adapter-side terminal of each live socket contact, by mark.
            grounds: The same for the ground contacts.
        """
        for entry in self.plug.contact:
            if entry.circuit in GROUNDS:
                continue
            start = socket.get(entry.mark) or grounds.get(entry.mark)
            if start is not None:
                self.parts.add(
                    self.parts.runs.conductor(
                        "adapter-trailer",
                        start,
                        f"{self.outlet}:{entry.mark}.a",
                        circuit=entry.circuit,
                        zone="adapter",
                        trailer=self.trailer.name,
                        contact=entry,
                    )
                )
                self._splice(entry)
        self._ground_contacts(straight=True, socket={**socket, **grounds})
        self._consumers()

    def _splice(self, entry: Contact) -> str:
        """Return the splice at the end of the trailer cable for a contact, building contact and cable on first use."""
        if entry.circuit == "ground":
            return self.ground
        if entry.mark in self._splices:
            return self._splices[entry.mark]
        adapter_end, plug_end = f"{self.outlet}:{entry.mark}.a", f"{self.outlet}:{entry.mark}.t"
        splice = f"{self.outlet}:{entry.mark}.s"
        self._splices[entry.mark] = splice
        name = self.trailer.name
        self.parts.contact(self.outlet, self.plug, entry.mark, adapter_end, plug_end, entry.circuit, "trailer")
        self.parts.add(
            self.parts.runs.conductor(
                "plug-splice",
                plug_end,
                splice,
                circuit=entry.circuit,
                zone="trailer",
                trailer=name,
                contact=entry,
            )
        )
        return splice

    def _ground_contacts(self, *, straight: bool, socket: dict[str, str] | None = None) -> None:
        name = self.trailer.name
        for entry in self.plug.contact:
            # The returns of other supplies stay apart on the trailer; only the lamp ground carries lamps.
            if entry.circuit != "ground":
                continue
            end, plug_end = f"{self.outlet}:{entry.mark}.a", f"{self.outlet}:{entry.mark}.t"
            self.parts.add(
                self.parts.runs.conductor(
                    "plug-splice",
                    self.ground,
                    plug_end,
                    circuit="ground",
                    zone="trailer",
                    trailer=name,
                    contact=entry,
                )
            )
            self.parts.contact(self.outlet, self.plug, entry.mark, plug_end, end, "ground", "trailer")
            target = (socket or {}).get(entry.mark) if straight else ADAPTER_GROUND
            if target is not None:
                self.parts.add(
                    self.parts.runs.conductor(
                        "adapter-trailer",
                        end,
                        target,
                        circuit="ground",
                        zone="adapter",
                        trailer=name,
                        contact=entry,
                    )
                )
        if self.trailer.hitch_ohm is not None:
            self.parts.add(
                Path(
                    ref="-XE2",
                    a=self.ground,
                    b=CHASSIS,
                    circuit="ground",
                    zone="trailer",
                    resistance_ohm=self.trailer.hitch_ohm,
                    title="unintended path through the hitch",
                    origin=self.parts.origin("trailer", self.index),
                )
            )

    def _consumers(self) -> None:
        for group in dict.fromkeys(self.trailer.ties):
            self._tie(tuple(dict.fromkeys(group)))
        for number, lamp in enumerate(self.trailer.lamp):
            self._lamp(number, lamp)
        if self.trailer.brakes:
            brakes = self.trailer.brakes
            ohm = self.parts.assumed.take(brakes.magnet_ohm, "brake_magnet_ohm", "brake magnets")
            origin = self.parts.origin("trailer", self.index, "brakes")
            self._load("brake", brakes.magnets, ohm, brakes.branch_m, "brake magnet", origin)
        if self.trailer.lock_out:
            lock = self.trailer.lock_out
            origin = self.parts.origin("trailer", self.index, "lock_out")
            self._load("reverse", 1, lock.resistance_ohm, lock.branch_m, "overrun-brake lock-out", origin)

    def _tie(self, group: tuple[str, ...]) -> None:
        """Join contacts inside the trailer. Only what the rig says: the pinout's own ties are those of a vehicle."""
        entries = [entry for mark in group if (entry := self.plug.find(mark))]
        ends = dict.fromkeys((self._splice(entry), entry.circuit) for entry in entries)
        for number, ((first, _), (second, circuit)) in enumerate(pairwise(ends), start=1):
            self.parts.add(
                Path(
                    ref=f"{self.outlet}:{'='.join(group)}.{number}",
                    a=first,
                    b=second,
                    circuit=circuit,
                    zone="trailer",
                    resistance_ohm=_TIE_OHM,
                    title=f"joined inside the trailer: {' and '.join(group)}",
                    origin=self.parts.origin("trailer", self.index, "ties"),
                )
            )

    def _contact_for(self, function: str, at: str | None) -> Contact:
        entry = self.plug.find(at) if at else next(iter(self.plug.on(function)), None)
        if entry is None:  # the loader refuses such a rig; a rig made in a program may reach this
            message = f"trailer {self.trailer.name!r}: no contact for {at or function!r} on {self.plug.short}"
            raise LookupError(message)
        return entry

    def _branch(self, ref: str, entry: Contact, circuit: str, length_m: float | None, *, back: bool = False) -> None:
        """Add the wire from the splice to a consumer, or the one from it back to the trailer's ground."""
        start, end = (f"{ref}:2", self.ground) if back else (self._splice(entry), f"{ref}:1")
        self.parts.add(
            self.parts.runs.conductor(
                "splice-lamp",
                start,
                end,
                circuit="ground" if back else circuit,
                zone="trailer",
                trailer=self.trailer.name,
                contact=None if back else entry,
                length_m=length_m,
            )
        )

    def _lamp(self, number: int, lamp: LampEntry) -> None:
        parts = self.parts
        entry = self._contact_for(lamp.function, lamp.at)
        ref = parts.ref("E")
        self._branch(ref, entry, lamp.function, lamp.branch_m)
        origin = parts.origin("trailer", self.index, "lamp", number)
        parts.add(self._lamp_element(ref, lamp, origin))
        self._branch(ref, entry, lamp.function, lamp.branch_m, back=True)

    def _lamp_element(self, ref: str, lamp: LampEntry, origin: Origin | None) -> Lamp:
        take = self.parts.assumed.take
        title = f"{lamp.count} × " if lamp.count > 1 else ""
        if lamp.type:
            kind = find_lamp(lamp.type)
            title += kind.title
            return Lamp(
                ref=ref,
                a=f"{ref}:1",
                b=f"{ref}:2",
                circuit=lamp.function,
                zone="trailer",
                title=title,
                origin=origin,
                count=lamp.count,
                technology=kind.technology,
                rated_v=kind.test_v,
                rated_a=kind.current_a,
                peak_a=kind.max_current_a,
                nominal_v=kind.nominal_v,
                max_v=kind.max_v or HIGHEST_V[kind.nominal_v],
                function=lamp.function,
                side=lamp.side or "",
                cold_ratio=take(None, "filament_cold_ratio", ref) if kind.technology == "filament" else 1.0,
                cut_off_v=kind.cut_off_v or 0.0,
                min_v=kind.min_v or 0.0,
                type_name=kind.id,
                source=kind.source,
                support=kind.support,
            )
        volts, watts = lamp.voltage_v or 0.0, lamp.power_w or 0.0
        nominal = 24.0 if volts > 16.0 else 12.0
        filament = lamp.technology == "filament"
        return Lamp(
            ref=ref,
            a=f"{ref}:1",
            b=f"{ref}:2",
            circuit=lamp.function,
            zone="trailer",
            title=f"{title}{watts:g} W {lamp.technology}",
            origin=origin,
            count=lamp.count,
            technology="filament" if filament else "led",
            rated_v=volts,
            rated_a=watts / volts,
            peak_a=watts / volts,
            nominal_v=nominal,
            max_v=HIGHEST_V[nominal],
            function=lamp.function,
            side=lamp.side or "",
            cold_ratio=take(None, "filament_cold_ratio", ref) if filament else 1.0,
            cut_off_v=0.0 if filament else take(None, "led_cut_off_12v_v", ref) * nominal / 12.0,
            type_name="own",
            source="rig file",
            support="one",
        )

    def _load(
        self,
        function: str,
        count: int,
        each_ohm: float,
        branch_m: float | None,
        word: str,
        origin: Origin | None,
    ) -> None:
        entry = self._contact_for(function, None)
        ref = self.parts.ref("M")
        nominal = 24.0 if self.trailer.voltage == "24 V" else 12.0
        self._branch(ref, entry, function, branch_m)
        self.parts.add(
            Load(
                ref=ref,
                a=f"{ref}:1",
                b=f"{ref}:2",
                circuit=function,
                zone="trailer",
                title=f"{count} × {word}" if count > 1 else word,
                origin=origin,
                count=count,
                function=function,
                nominal_v=nominal,
                max_v=HIGHEST_V[nominal],
                resistance_ohm=each_ohm / count,
            )
        )
        self._branch(ref, entry, function, branch_m, back=True)
