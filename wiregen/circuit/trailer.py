"""One trailer: its outlet on the adapter, the plug, the cable to the splice, lamps, brakes, ground, hitch."""

from __future__ import annotations

from itertools import pairwise

from wiregen.catalogue.circuits import GROUNDS
from wiregen.catalogue.connector import Connector, PinoutContact
from wiregen.catalogue.defaults import default
from wiregen.circuit.adapter import BuiltChannel
from wiregen.circuit.lamps import HIGHEST_V, lamp_element, system_of
from wiregen.circuit.parts import ADAPTER_GROUND, CHASSIS, Parts
from wiregen.model.circuit import Battery, Load, Path
from wiregen.model.origin import Origin
from wiregen.quantity import show
from wiregen.rig.trailers import LampEntry, Trailer, TrailerBattery

_TIE_OHM = 0.001


def contact_for(plug: Connector, function: str, at: str | None = None) -> PinoutContact | None:
    """Return the contact that a load hangs on: the one named, else the first that carries its circuit."""
    return plug.find(at) if at else next(iter(plug.on(function)), None)


def loaded_contacts(plug: Connector, trailer: Trailer) -> tuple[PinoutContact, ...]:
    """Return the contacts of a trailer's plug on which it has a load, each once."""
    named = [(lamp.function, lamp.at) for lamp in trailer.lamp]
    named += [(circuit, None) for circuit, load in (("brake", trailer.brakes), ("reverse", trailer.lock_out)) if load]
    named += [("charge", trailer.battery.contact)] if trailer.battery else []
    found = (contact_for(plug, function, at) for function, at in named)
    return tuple({entry.mark: entry for entry in found if entry is not None}.values())


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
        self._ground_ends: dict[str, str] | None = None
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
        self._ground_contacts()
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
        self._ground_ends = {**socket, **grounds}
        self._ground_contacts()
        self._consumers()

    def _splice(self, entry: PinoutContact) -> str:
        """Return the splice at the end of the trailer cable for a contact, building contact and cable on first use."""
        if entry.circuit in GROUNDS:
            return self._return(entry)
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

    def _ground_contacts(self) -> None:
        for entry in self.plug.on("ground"):
            self._ground_contact(entry, self.ground)
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

    def _return(self, ground: PinoutContact) -> str:
        """Return where the loads of a ground contact meet on the trailer, building the contact on first use.

        Contacts for the plain ground meet in one point, the lamp ground. The returns of other supplies stay apart.
        """
        if ground.circuit == "ground":
            return self.ground
        if ground.mark not in self._splices:
            self._splices[ground.mark] = f"{self.outlet}:{ground.mark}.s"
            self._ground_contact(ground, self._splices[ground.mark])
        return self._splices[ground.mark]

    def _ground_target(self, mark: str) -> str | None:
        """Return what a ground contact of the outlet is joined to; None where a straight lead finds no equal mark."""
        return ADAPTER_GROUND if self._ground_ends is None else self._ground_ends.get(mark)

    def _ground_contact(self, entry: PinoutContact, start: str) -> None:
        """Build a return from a terminal of the trailer over a contact to the adapter or the vehicle."""
        name = self.trailer.name
        end, plug_end = f"{self.outlet}:{entry.mark}.a", f"{self.outlet}:{entry.mark}.t"
        self.parts.add(
            self.parts.runs.conductor(
                "plug-splice",
                start,
                plug_end,
                circuit=entry.circuit,
                zone="trailer",
                trailer=name,
                contact=entry,
            )
        )
        self.parts.contact(self.outlet, self.plug, entry.mark, plug_end, end, entry.circuit, "trailer")
        target = self._ground_target(entry.mark)
        if target is not None:
            self.parts.add(
                self.parts.runs.conductor(
                    "adapter-trailer",
                    end,
                    target,
                    circuit=entry.circuit,
                    zone="adapter",
                    trailer=name,
                    contact=entry,
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
        if self.trailer.battery:
            self._battery(self.trailer.battery)

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
                    origin=self.parts.origin("trailer", self.index, "bridged"),
                )
            )

    def _contact_for(self, function: str, at: str | None) -> PinoutContact:
        entry = contact_for(self.plug, function, at)
        if entry is None:  # the loader refuses such a rig; a rig made in a program may reach this
            message = f"trailer {self.trailer.name!r}: no contact for {at or function!r} on {self.plug.short}"
            raise LookupError(message)
        return entry

    def _branch(
        self,
        ref: str,
        entry: PinoutContact,
        circuit: str,
        length_m: float | None,
        *,
        back: bool = False,
    ) -> None:
        """Add the wire from the splice to a consumer, or the one from it back to the return of its contact."""
        start, end = self._splice(entry), f"{ref}:1"
        if back:
            own = self.plug.return_of(entry)
            start, end = f"{ref}:2", self._return(own) if own else self.ground
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

    def _battery(self, battery: TrailerBattery) -> None:
        """Build the trailer's own battery between the contact it is charged over and its return."""
        parts, take = self.parts, self.parts.assumed.take
        origin = parts.origin("trailer", self.index, "battery")
        entry, ref = self._contact_for("charge", battery.contact), parts.ref("G")
        self._branch(ref, entry, entry.circuit, battery.branch_m)
        plus = f"{ref}:1"
        if battery.feed == "diode":
            diode = parts.ref("V")
            plus = parts.diode(diode, plus, f"{diode}:2", entry.circuit, "trailer", origin)
        if battery.fuse_a is not None:
            # The fuse stands at the battery, which is what feeds the charge line when the vehicle does not.
            parts.fuse(f"{ref}:+", battery.fuse_a, entry.circuit, "trailer", origin, b=plus)
            plus = f"{ref}:+"
        system, nominal = system_of(self.trailer)
        parts.add(
            Battery(
                ref=ref,
                a=plus,
                b=f"{ref}:2",
                circuit=entry.circuit,
                zone="trailer",
                title="trailer battery" + (f" {show(battery.capacity_ah, 'Ah')}" if battery.capacity_ah else ""),
                origin=origin,
                voltage_v=take(battery.voltage_v, f"battery_{system}_resting_v", ref),
                resistance_ohm=take(battery.resistance_ohm, "trailer_battery_resistance_ohm", ref),
                nominal_v=nominal,
                max_v=HIGHEST_V[nominal],
                capacity_ah=battery.capacity_ah,
            )
        )
        self._branch(ref, entry, entry.circuit, battery.branch_m, back=True)

    def _lamp(self, number: int, lamp: LampEntry) -> None:
        parts = self.parts
        entry = self._contact_for(lamp.function, lamp.at)
        ref = parts.ref("E")
        self._branch(ref, entry, lamp.function, lamp.branch_m)
        origin = parts.origin("trailer", self.index, "lamp", number)
        parts.add(lamp_element(parts.assumed, self.trailer, lamp, ref, origin))
        self._branch(ref, entry, lamp.function, lamp.branch_m, back=True)

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
        _, nominal = system_of(self.trailer)
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
                hot_c=default("magnet_hot_c" if function == "brake" else "relay_coil_hot_c").value,
                resistance_ohm=each_ohm / count,
            )
        )
        self._branch(ref, entry, function, branch_m, back=True)
