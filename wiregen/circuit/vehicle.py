"""The vehicle side: battery, feeds, fuses, switches, socket contacts, taps and grounds."""

from __future__ import annotations

from collections.abc import Iterable

from wiregen.catalogue.circuits import CIRCUITS, GROUNDS
from wiregen.catalogue.connector import Connector
from wiregen.circuit.parts import ADAPTER_GROUND, CHASSIS, REFERENCE, SOCKET, Parts
from wiregen.model.circuit import Battery, Path, Switch
from wiregen.model.logic import Expression, parse


class VehicleSide:
    """Builds the vehicle once; the adapter asks it for the circuits it uses."""

    def __init__(self, parts: Parts, *, split_battery: bool) -> None:
        self.parts = parts
        self.vehicle = parts.rig.vehicle
        self.socket: Connector = parts.loaded.socket
        self.plus = "-G1:+"
        self._switched: dict[str, str] = {}
        self._fused: dict[int, str] = {}
        self._brought: dict[str, str] = {}
        parts.shell(SOCKET, self.socket)
        self._battery(split_battery)

    def _battery(self, split: bool) -> None:
        parts, battery = self.parts, self.vehicle.battery
        system, nominal = ("24v", 24.0) if battery.nominal == "24 V" else ("12v", 12.0)
        voltage = parts.assumed.take(battery.running_v, f"battery_{system}_running_v", "-G1")
        low = parts.assumed.take(battery.low_v, f"battery_{system}_low_v", "-G1", most=voltage)
        charging = parts.assumed.take(battery.charging_v, f"battery_{system}_charging_v", "-G1", least=voltage)
        resistance = parts.assumed.take(battery.resistance_ohm, "battery_resistance_ohm", "-G1")
        origin = parts.origin("vehicle", "battery") or parts.origin("vehicle")
        halves = [(parts.ref("G"), "-G1:+", REFERENCE)]
        if split:
            # A centre tap needs the two batteries apart: the lower one feeds the 12 V loads alone.
            halves.append((parts.ref("G"), "-G2:+", "-G1:+"))
            self.plus = "-G2:+"
        for ref, plus, minus in halves:
            parts.add(
                Battery(
                    ref=ref,
                    a=plus,
                    b=minus,
                    circuit="supply",
                    zone="vehicle",
                    voltage_v=voltage / len(halves),
                    resistance_ohm=resistance / len(halves),
                    low_v=low / len(halves),
                    charging_v=charging / len(halves),
                    nominal_v=nominal / len(halves),
                    title=f"battery {voltage / len(halves):g} V",
                    origin=origin,
                )
            )
        parts.add(
            Path(
                ref="-XE1",
                a=CHASSIS,
                b=REFERENCE,
                circuit="ground",
                zone="vehicle",
                resistance_ohm=parts.assumed.take(self.vehicle.chassis_ohm, "chassis_resistance_ohm", "chassis"),
                title="chassis to battery minus",
            )
        )

    def live(self, circuit: str) -> Expression:
        """Return when the vehicle makes a circuit live: the vehicle's own habit, else the usual rule."""
        for habit in self.vehicle.habit:
            if habit.circuit == circuit:
                return habit.live
        return parse(CIRCUITS[circuit].live)

    def contact_of(self, circuit: str) -> str | None:
        """Return the mark of the first contact that carries a circuit, or None when the socket has none."""
        contacts = self.socket.on(circuit)
        return contacts[0].mark if contacts else None

    def bring(self, circuit: str, mark: str | None = None, *, bare: bool = False) -> str | None:
        """Build a circuit out to the adapter's terminal strip and return that terminal.

        Args:
            circuit: Circuit or tap.
            mark: Contact to use; the first that carries the circuit when None.
            bare: Stop at the adapter side of the socket contact, for a straight lead.

        Returns:
            The terminal, or None when the vehicle has neither such a contact nor such a tap.
        """
        for index, tap in enumerate(self.vehicle.tap):
            if tap.name == circuit:
                return self._tap(index)
        mark = mark or self.contact_of(circuit)
        if mark is None:
            return None
        if mark not in self._brought:
            self._brought[mark] = self._bring_contact(circuit, mark, bare=bare)
        return self._brought[mark]

    def _bring_contact(self, circuit: str, mark: str, *, bare: bool) -> str:
        socket_side = self._switch(circuit)
        parts, entry = self.parts, self.socket.find(mark)
        vehicle_end, adapter_end = f"{SOCKET}:{mark}.v", f"{SOCKET}:{mark}.a"
        parts.add(
            parts.runs.conductor(
                "battery-socket", socket_side, vehicle_end, circuit=circuit, zone="vehicle", contact=entry
            )
        )
        parts.contact(SOCKET, self.socket, mark, vehicle_end, adapter_end, circuit, "vehicle")
        if bare:
            return adapter_end
        strip = f"-A1:{circuit}"
        parts.add(
            parts.runs.conductor("socket-adapter", adapter_end, strip, circuit=circuit, zone="adapter", contact=entry)
        )
        return strip

    def _fuse(self, circuit: str) -> str:
        """Return the terminal behind the fuse of a circuit; the battery itself where the rig names none."""
        for index, feed in enumerate(self.vehicle.feed):
            if circuit in feed.circuits and feed.fuse_a is not None:
                if index not in self._fused:
                    origin = self.parts.origin("vehicle", "fuse", index)
                    self._fused[index] = self.parts.fuse(
                        self.plus, feed.fuse_a, circuit, "vehicle", origin, breaker=feed.breaker
                    )
                return self._fused[index]
        return self.plus

    def _switch(self, circuit: str) -> str:
        """Return the terminal behind the switch of a circuit, building fuse and switch on first use."""
        if circuit in self._switched:
            return self._switched[circuit]
        start = self._fuse(circuit)
        self._switched[circuit] = self._gate(start, self.live(circuit), circuit)
        return self._switched[circuit]

    def _gate(self, start: str, live: Expression, circuit: str) -> str:
        """Put the switch that makes a circuit live behind ``start``; nothing when it is always live."""
        if live.text == "always":
            return start
        parts = self.parts
        ref = parts.ref("S")
        word = CIRCUITS[circuit].word if circuit in CIRCUITS else circuit
        parts.add(
            Switch(
                ref=ref,
                a=start,
                b=f"{ref}:2",
                circuit=circuit,
                zone="vehicle",
                live=live,
                resistance_ohm=parts.assumed.take(self.vehicle.switch_ohm, "switch_resistance_ohm", ref),
                title=f"{word} switch",
            )
        )
        return f"{ref}:2"

    def _tap(self, index: int) -> str:
        parts, tap = self.parts, self.vehicle.tap[index]
        strip = f"-A1:{tap.name}"
        if tap.name in self._switched:
            return strip
        self._switched[tap.name] = strip
        origin = parts.origin("vehicle", "tap", index)
        # The fuse of a tap is the builder's own, at the tap: behind the switch where the wire leaves one.
        start = self._gate(self.plus, tap.live, tap.name)
        if tap.fuse_a is not None:
            start = parts.fuse(start, tap.fuse_a, tap.name, "vehicle", origin, breaker=tap.breaker)
        parts.add(
            parts.runs.conductor(
                "battery-adapter",
                start,
                strip,
                circuit=tap.name,
                zone="vehicle",
                title=f"{tap.name.replace('_', ' ')} tap" + ("" if tap.at == "other" else f" at the {tap.at}"),
            )
        )
        return strip

    def grounds(self, also: Iterable[str] = (), *, bare: bool = False) -> list[tuple[str, str]]:
        """Build the ground contacts of the socket; return (mark, adapter-side terminal) pairs.

        Args:
            also: Marks of the contacts by which single loads return; what is no ground of the socket is left out.
            bare: Leave out the conductor to the adapter's ground bar, for a straight lead.
        """
        parts, made = self.parts, []
        own = (entry for mark in also if (entry := self.socket.find(mark)) and entry.circuit in GROUNDS)
        for entry in dict.fromkeys((*self.socket.lamp_grounds, *own)):
            vehicle_end, adapter_end = f"{SOCKET}:{entry.mark}.v", f"{SOCKET}:{entry.mark}.a"
            if not bare:
                parts.add(
                    parts.runs.conductor(
                        "socket-adapter",
                        ADAPTER_GROUND,
                        adapter_end,
                        circuit=entry.circuit,
                        zone="adapter",
                        contact=entry,
                    )
                )
            parts.contact(SOCKET, self.socket, entry.mark, adapter_end, vehicle_end, entry.circuit, "vehicle")
            parts.add(
                parts.runs.conductor(
                    "socket-chassis",
                    vehicle_end,
                    CHASSIS,
                    circuit=entry.circuit,
                    zone="vehicle",
                    contact=entry,
                )
            )
            made.append((entry.mark, adapter_end))
        return made
