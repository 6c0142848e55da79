"""What to measure before anything is connected: contact, switch position, expected volts."""

from __future__ import annotations

from collections.abc import Iterator

from wiregen.build.circuit import Built, vehicle_signals
from wiregen.catalogue.circuits import CIRCUITS, GROUNDS
from wiregen.catalogue.connector import Connector
from wiregen.catalogue.defaults import default
from wiregen.model.chart import MeasureRow
from wiregen.model.circuit import Battery, Converter, Equaliser
from wiregen.model.logic import Expression, parse
from wiregen.model.state import Controls, every_controls
from wiregen.quantity import show
from wiregen.rig.loaded import LoadedRig

#: A contact is measured in this many positions at the most; the simplest say enough.
_POSITIONS = 3


def measure_rows(loaded: LoadedRig, built: Built) -> Iterator[MeasureRow]:
    """Yield the rows: the vehicle socket first, then taps, then the adapter's outlets with no trailer coupled."""
    measurer = _Measurer(loaded, built)
    yield from measurer.socket()
    yield from measurer.taps()
    if not loaded.rig.adapter.straight:
        for index in range(len(loaded.rig.trailer)):
            yield from measurer.outlet(index)


class _Measurer:
    def __init__(self, loaded: LoadedRig, built: Built) -> None:
        self.loaded = loaded
        self.built = built
        self.vehicle = loaded.rig.vehicle
        self.controls = sorted(every_controls(vehicle_signals(loaded)), key=lambda c: c.weight)
        self.habits = {habit.circuit: habit.live for habit in self.vehicle.habit}

    def live(self, circuit: str) -> Expression:
        """Return when a vehicle circuit is live."""
        return self.habits.get(circuit) or parse(CIRCUITS[circuit].live)

    def look(self, live: Expression, controls: Controls) -> str:
        halves = [
            live.value(controls.signals(lit=lit, stop_wins=self.vehicle.braking_holds_hazard_steady))
            for lit in (True, False)
        ]
        return "steady" if all(halves) else "flash" if any(halves) else "dark"

    def positions(self, live: Expression) -> list[tuple[Controls, str]]:
        """Return the simplest settings in which an expression is live or flashes, a few of them."""
        found: list[tuple[Controls, str]] = []
        for controls in self.controls:
            look = self.look(live, controls)
            if look == "dark" or len(found) == _POSITIONS:
                continue
            if found and controls.weight > found[0][0].weight:
                break
            found.append((controls, look))
        return found

    def vehicle_v(self) -> str:
        """Return the range of the vehicle's voltage in words."""
        battery = self.vehicle.battery
        system = battery.nominal.replace(" V", "v")
        low = battery.low_v if battery.low_v is not None else default(f"battery_{system}_low_v").value
        high = battery.running_v if battery.running_v is not None else default(f"battery_{system}_running_v").value
        return f"{show(low, 'V')} to {show(high, 'V')}"

    def socket(self) -> Iterator[MeasureRow]:
        pinout = self.loaded.socket
        connector = f"X1 {pinout.short}"
        grounds = [entry.mark for entry in pinout.lamp_grounds]
        against = f"X1:{grounds[0]}" if grounds else "chassis"
        for entry in pinout.contact:
            if entry.circuit in GROUNDS:
                yield MeasureRow(
                    connector=connector,
                    contact=entry.mark,
                    switch="all off",
                    expected="0 V, and continuity (near 0 ohm)",
                    against="chassis",
                    why=entry.function,
                )
                continue
            positions = self.positions(self.live(entry.circuit))
            if not positions:
                yield MeasureRow(
                    connector=connector,
                    contact=entry.mark,
                    switch="every position",
                    expected="0 V; if not, stop: this is another wiring",
                    against=against,
                    why=entry.function,
                )
            for controls, look in positions:
                yield MeasureRow(
                    connector=connector,
                    contact=entry.mark,
                    switch=controls.words,
                    expected=_expected(look, self.vehicle_v()),
                    against=against,
                    why=entry.function,
                )
        yield MeasureRow(
            connector=connector,
            contact="all others",
            switch="each of the above",
            expected="0 V",
            against=against,
            why="nothing else may become live",
        )

    def taps(self) -> Iterator[MeasureRow]:
        for tap in self.vehicle.tap:
            for controls, look in self.positions(tap.live)[:1]:
                yield MeasureRow(
                    connector="taps",
                    contact=tap.name,
                    switch=controls.words,
                    expected=_expected(look, self.vehicle_v()),
                    against="chassis",
                    why=f"tap at the {tap.at}",
                )

    def outlet(self, index: int) -> Iterator[MeasureRow]:
        pinout: Connector = self.loaded.plugs[index]
        name = f"X{index + 2}"
        ground = next((entry.mark for entry in pinout.contact if entry.circuit == "ground"), "")
        for entry in pinout.contact:
            feeding = [channel for channel in self.built.channels if entry.circuit in channel.outputs]
            for channel in feeding:
                written = self.loaded.rig.adapter.channel[channel.index]
                for controls, look in self.positions_of(written.input):
                    yield MeasureRow(
                        connector=f"{name} {pinout.short}",
                        contact=entry.mark,
                        switch=controls.words,
                        expected=_expected(look, self.bus_v(written.device, channel.name)),
                        against=f"{name}:{ground}" if ground else "chassis",
                        why=entry.function,
                    )

    def positions_of(self, logic: Expression) -> list[tuple[Controls, str]]:
        """Return the simplest settings in which a channel is on."""
        lives = {}
        for name in logic.names:
            tap = next((tap for tap in self.vehicle.tap if tap.name == name), None)
            offered = tap is not None or bool(self.loaded.socket.on(name))
            lives[name] = tap.live if tap else self.live(name) if offered else parse("never")
        found: list[tuple[Controls, str]] = []
        for controls in self.controls:
            halves = []
            for lit in (True, False):
                signals = controls.signals(lit=lit, stop_wins=self.vehicle.braking_holds_hazard_steady)
                halves.append(logic.value({name: live.value(signals) for name, live in lives.items()}))
            if any(halves):
                if found and controls.weight > found[0][0].weight:
                    break
                found.append((controls, "steady" if all(halves) else "flash"))
        return found[:_POSITIONS]

    def bus_v(self, device: str, channel: str) -> str:
        """Return the open-circuit voltage of a channel in words."""
        if device in ("wire", "diode", "resistor"):
            return self.vehicle_v()
        circuit = self.built.circuits[0]
        for converter in circuit.of(Converter):
            if converter.channel == channel and device == "step_down":
                return f"about {show(converter.output_v, 'V')}"
        for converter in circuit.of(Converter):
            if not converter.channel and not isinstance(converter, Equaliser):
                share = " at full gain" if device == "brake_controller" else ""
                return f"about {show(converter.output_v, 'V')}{share}"
        battery = next((b for b in circuit.of(Battery) if b.zone == "adapter"), circuit.of(Battery)[0])
        return f"about {show(battery.voltage_v, 'V')}"


def _expected(look: str, volts: str) -> str:
    return volts if look == "steady" else f"flashes: 0 V and {volts}"
