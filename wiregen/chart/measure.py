"""What to measure before anything is connected: contact, switch position, expected volts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from wiregen.catalogue.circuits import GROUNDS
from wiregen.catalogue.connector import PinoutContact
from wiregen.catalogue.devices import DEVICES, DeviceKind
from wiregen.circuit.build import Built
from wiregen.circuit.switching import ALWAYS, NEVER, Live, Switching, is_part, order
from wiregen.harness.record import Half, Harness
from wiregen.model.chart import MeasureRow
from wiregen.model.circuit import Battery, Converter, Equaliser
from wiregen.model.state import Controls
from wiregen.quantity import show
from wiregen.rig.devices import ConverterSupply
from wiregen.rig.loaded import LoadedRig
from wiregen.rig.records import Tap

NOT_TESTED = "not tested: do not load"
CONTINUITY = "0 V, and continuity (near 0 ohm)"
_OTHER_WIRING = "0 V. If not, STOP: this socket is wired to another standard"
_NOT_CHOSEN = "not chosen in the rig file: write down what you read"
INFERRED = "0 V, inferred: write down what you read"

_HOW = (
    "Ignition on, unless a row says otherwise. Red lead on the contact, black lead on what stands under 'Against'.",
    "A meter alone proves no contact: it reads full voltage through a rotten one, and floating volts on a solid-state "
    "output that is off. Repeat every live row with a filament test lamp of the right voltage: it must burn as bright "
    f"as straight on the supply. No test lamp on a contact marked '{NOT_TESTED}'.",
)
_SWITCH = (
    "The lighting switch is taken to have the positions OFF, STOP LIGHT, SERVICE DRIVE, BLACKOUT MARKER, BLACKOUT "
    "DRIVE and PARK, or others that do the same. With it OFF {marks} may be dead even while a control is worked: that "
    "is inferred from the positions, not verified."
)
_PULSED = (
    "The output of an electric-brake controller rises with its gain setting and may be pulsed: without magnets on it a "
    "meter may show little. Test it with the trailer's magnets or a test lamp."
)


def measure_rows(loaded: LoadedRig, built: Built, harness: Harness) -> Iterator[MeasureRow]:
    """Yield the rows: the vehicle socket first, then taps, then the adapter's outlets with no trailer coupled."""
    measurer = Measurer(loaded, built, harness)
    for place in measurer.places():
        yield from measurer.rows(place)


def switch_notes(loaded: LoadedRig) -> tuple[str, ...]:
    """Return in a sentence at which position of the lighting switch states without lights are computed.

    None for a vehicle whose lighting switch has no say over stop and turn.
    """
    marks = [entry.mark for entry in Switching(loaded).service_contacts()]
    if not marks:
        return ()
    return (
        "Where no lights are named, the lighting switch is taken to stand at STOP LIGHT; with it OFF "
        f"{', '.join(marks)} may be dead even while a control is worked: inferred, not verified.",
    )


def measure_notes(loaded: LoadedRig) -> tuple[str, ...]:
    """Return how to measure, in sentences to stand in front of the rows."""
    notes = list(_HOW)
    service = Switching(loaded).service_contacts()
    if service:
        notes.append(_SWITCH.format(marks=", ".join(entry.mark for entry in service)))
    if any(DEVICES[channel.device].may_pulse for channel in loaded.rig.adapter.channel):
        notes.append(_PULSED)
    return tuple(notes)


@dataclass(frozen=True, slots=True)
class LiveFeed:
    """One thing that can make a contact live: when, and what a meter shows then."""

    live: Live
    volts: str


@dataclass(frozen=True, slots=True)
class MeasurePoint:
    """A place to hold the meter's lead.

    Attributes:
        mark: Contact mark or name of a tap.
        why: What it is.
        feeds: What makes it live; empty for nothing.
        dead: What to expect where nothing makes it live.
        entry: Its row in the pinout; None for a tap.
        live: When anything makes it live.
    """

    mark: str
    why: str
    feeds: tuple[LiveFeed, ...]
    dead: str
    entry: PinoutContact | None = None
    live: Live = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "live", Live.any_of([feed.live for feed in self.feeds]))


@dataclass(frozen=True, slots=True)
class MeasurePlace:
    """A connector, or the taps, with what is measured on it.

    Attributes:
        connector: ``X1`` and its short name, or ``taps``.
        against: What the black lead lies on.
        points: Where to hold the red lead.
        grounds: Ground contacts, which only have to be one with the chassis.
    """

    connector: str
    against: str
    points: tuple[MeasurePoint, ...]
    grounds: tuple[PinoutContact, ...] = ()

    @property
    def name(self) -> str:
        """Designation alone: ``X1``."""
        return self.connector.partition(" ")[0]


class Measurer:
    """Knows what a meter should read anywhere on a rig whose adapter is not coupled to a trailer."""

    def __init__(self, loaded: LoadedRig, built: Built, harness: Harness) -> None:
        self.loaded = loaded
        self.built = built
        self.harness = harness
        self.vehicle = loaded.rig.vehicle
        self.switching = Switching(loaded)

    def vehicle_v(self) -> str:
        """Return the range of the vehicle's voltage in words: batteries tired to batteries charging."""
        batteries = [battery for battery in self.built.circuits[0].of(Battery) if battery.zone == "vehicle"]
        low = math.fsum(battery.voltage_v if battery.low_v is None else battery.low_v for battery in batteries)
        high = math.fsum(
            battery.voltage_v if battery.charging_v is None else battery.charging_v for battery in batteries
        )
        return f"{show(low, 'V')} to {show(high, 'V')}"

    # --- places ---

    def places(self) -> Iterator[MeasurePlace]:
        """Yield the vehicle socket, the taps where there are any, and the outlets of the adapter."""
        yield self._socket()
        if self.vehicle.tap:
            yield MeasurePlace("taps", "chassis", tuple(self._tap_point(tap) for tap in self.vehicle.tap))
        if not self.harness.straight:
            yield from map(self._outlet, self.harness.halves[1:])

    def _socket(self) -> MeasurePlace:
        pinout = self.loaded.socket
        marks = [entry.mark for entry in pinout.lamp_grounds]
        grounds = tuple(c for c in pinout.contact if c.circuit in GROUNDS and c.circuit != "ground_data")
        points = tuple(self._socket_point(entry) for entry in pinout.contact if entry not in grounds)
        return MeasurePlace(f"X1 {pinout.short}", f"X1:{marks[0]}" if marks else "chassis", points, grounds)

    def _socket_point(self, entry: PinoutContact) -> MeasurePoint:
        live = self.switching.circuit(entry.circuit) if entry.circuit not in GROUNDS else NEVER
        if self.switching.has_rule(entry.circuit) and self.switching.simplest(live):
            return MeasurePoint(entry.mark, entry.function, (LiveFeed(live, self.vehicle_v()),), "", entry)
        if entry.circuit == "choose":
            return MeasurePoint(entry.mark, entry.function, (), _NOT_CHOSEN, entry)
        dead = _OTHER_WIRING if entry.circuit == "unused" or self.switching.has_rule(entry.circuit) else NOT_TESTED
        return MeasurePoint(entry.mark, entry.function, (), dead, entry)

    def _tap_point(self, tap: Tap) -> MeasurePoint:
        return MeasurePoint(tap.name, f"tap at the {tap.at}", (LiveFeed(Live.by(tap.live), self.vehicle_v()),), "0 V")

    def _outlet(self, half: Half) -> MeasurePlace:
        cavities = [cavity for cavity in half.cavities if cavity.wires and cavity.entry.circuit in GROUNDS]
        against = next((cavity.point for cavity in cavities if cavity.entry.circuit == "ground"), "chassis")
        points = tuple(self._outlet_point(cavity.entry) for cavity in half.cavities if cavity not in cavities)
        grounds = tuple(cavity.entry for cavity in cavities)
        return MeasurePlace(f"{half.id} {half.pinout.short}", against, points, grounds)

    def _outlet_point(self, entry: PinoutContact) -> MeasurePoint:
        feeds = tuple(
            self._channel_feed(channel.index, channel.name)
            for channel in self.built.channels
            if entry.circuit in channel.outputs
        )
        point = MeasurePoint(entry.mark, entry.function, feeds, "0 V", entry)
        if self.switching.simplest(point.live):
            return point
        return replace(point, why=f"{entry.function}; nothing in the adapter makes it live")

    def _channel_feed(self, index: int, name: str) -> LiveFeed:
        written, supply = self.loaded.rig.adapter.channel[index], self.loaded.rig.adapter.supply
        live = Live.over(written.input, {name: self.switching.offered(name) for name in written.input.names})
        if DEVICES[written.device].on_bus:
            fed = ALWAYS if supply else NEVER
            if isinstance(supply, ConverterSupply):
                fed = self.switching.offered(supply.feed) if supply.feed else NEVER
            live = live.while_fed(fed)
        return LiveFeed(live, self._channel_v(DEVICES[written.device], name))

    def _channel_v(self, device: DeviceKind, channel: str) -> str:
        """Return the open-circuit voltage of a channel in words."""
        own = next((c for c in self.built.circuits[0].of(Converter) if c.channel == channel), None)
        if own is None:
            return f"about {show(self._bus_v(), 'V')}" if device.on_bus else self.vehicle_v()
        if not device.on_bus:
            return f"about {show(own.output_v, 'V')}"
        gain = f"{show(100 * own.ratio, '%')} gain"
        return f"up to about {show(self._bus_v() * own.ratio, 'V')} at {gain}; may show little without magnets"

    def _bus_v(self) -> float:
        """Return the open-circuit voltage of the adapter's own supply, V."""
        circuit = self.built.circuits[0]
        for converter in circuit.of(Converter):
            if not converter.channel and not isinstance(converter, Equaliser):
                return converter.output_v
        battery = next((b for b in circuit.of(Battery) if b.zone == "adapter"), circuit.of(Battery)[0])
        return battery.voltage_v

    # --- rows ---

    def rows(self, place: MeasurePlace) -> Iterator[MeasureRow]:
        """Yield the rows of one place: its grounds, then every point."""
        for entry in place.grounds:
            yield _row(place.connector, _still(entry), "all off", CONTINUITY, "chassis")
        if place.connector == "taps":
            yield from self._tap_rows(place)
        else:
            yield from self._rows(place.connector, place.points, place.against)

    def _tap_rows(self, place: MeasurePlace) -> Iterator[MeasureRow]:
        for point in place.points:
            yield from self._live_rows(place.connector, point, self.switching.tests(point.live), place.against)
            if self.switching.look(point.live, Controls()) == "dark":
                yield _row(place.connector, point, "all off", "0 V", place.against)

    def _rows(self, connector: str, points: Sequence[MeasurePoint], against: str) -> Iterator[MeasureRow]:
        """Yield the rows of one connector.

        Every setting that stands in any row is looked at for every contact, so that a contact without a row for a
        setting, or for a part of it, is known to be dark in it.
        """
        tests = [self.own_tests(point) for point in points]
        used = sorted({controls for own in tests for controls in own}, key=order)
        for point, own in zip(points, tests, strict=True):
            live = point.live
            if not own:
                tested = point.dead != NOT_TESTED
                switch, lead = ("every position", against) if tested else ("–", "–")
                yield _row(connector, point, switch, point.dead, lead)
                continue
            if not self.switching.is_constant(live):
                own = [controls for controls in used if controls in own or self._is_told(live, own, controls)]
            yield from self._live_rows(connector, point, own, against)
            yield from self._switch_off_rows(connector, point, against)
        if used:
            yield self._others(connector, points, against)

    def _is_told(self, live: Live, own: Sequence[Controls], controls: Controls) -> bool:
        """Return whether a setting needs a row: the contact is live in it, and no part of it shows the same."""
        look = self.switching.look(live, controls)
        told = {self.switching.look(live, part) for part in own if is_part(part, controls)}
        return look not in ({"dark"} | told)

    def own_tests(self, point: MeasurePoint) -> list[Controls]:
        """Return the settings to measure a point in."""
        own = self.switching.tests(point.live)
        if own and self.switching.is_service(point.live):
            own.append(self.switching.blackout_test)
        return own

    def _live_rows(
        self, connector: str, point: MeasurePoint, settings: Sequence[Controls], against: str
    ) -> Iterator[MeasureRow]:
        live, switching = point.live, self.switching
        constant = switching.is_constant(live)
        for controls in settings:
            words = switching.words(live, controls)
            if "ignition" not in live.names:
                words = "every position" if constant else words
                yield _row(connector, point, words, self.expected(point, controls, ignition=True), against)
                continue
            front = "" if controls == Controls() else f"{words}, "
            for ignition in (True, False):
                expected = self.expected(point, controls, ignition=ignition)
                yield _row(connector, point, f"{front}ignition {'on' if ignition else 'off'}", expected, against)

    def expected(self, point: MeasurePoint, controls: Controls, *, ignition: bool = True) -> str:
        """Return what a meter should read on a point in one setting."""
        look = self.switching.look(point.live, controls, ignition=ignition)
        if look == "dark":
            return "0 V"
        volts = next(
            feed.volts for feed in point.feeds if self.switching.look(feed.live, controls, ignition=ignition) != "dark"
        )
        return volts if look == "steady" else f"flashes: 0 V and {volts}"

    def _switch_off_rows(self, connector: str, point: MeasurePoint, against: str) -> Iterator[MeasureRow]:
        """Yield what a service contact of the vehicle shows while its lighting switch is off."""
        if not connector.startswith("X1 ") or not self.switching.is_service(point.live):
            return
        off = [controls for controls in self.switching.simplest(point.live) if controls.lighting == "off"]
        if off:
            controls = ", ".join(setting.words for setting in off)
            each = ", one after another" if len(off) > 1 else ""
            yield replace(
                _row(connector, point, f"lighting switch OFF; {controls}{each}", INFERRED, against), unverified=True
            )
        else:
            yield _row(connector, point, "lighting switch OFF", "0 V", against)

    def _others(self, connector: str, points: Sequence[MeasurePoint], against: str) -> MeasureRow:
        """Return the row that says of every contact without a row for a setting that it is dead there."""
        apart = f" ('{NOT_TESTED.split(':')[0]}' ones apart)" if any(p.dead == NOT_TESTED for p in points) else ""
        why = f"contacts without a row for that position or a part of it{apart}; one that is live is wired differently"
        service = Controls(lighting="service")
        lit = [
            point.mark
            for point in points
            if self.switching.is_service(point.live)
            and service in self.switching.settings
            and self.switching.look(point.live, service) == "steady"
        ]
        if lit:
            why += f"; at SERVICE DRIVE {', '.join(lit)} {'is' if len(lit) == 1 else 'are'} live as well"
        return MeasureRow(
            connector=connector,
            contact="others",
            switch="each position above, one after another",
            expected="0 V",
            against=against,
            why=why,
        )


def _still(entry: PinoutContact) -> MeasurePoint:
    """Return a contact that nothing makes live."""
    return MeasurePoint(entry.mark, entry.function, (), "", entry)


def _row(connector: str, point: MeasurePoint, switch: str, expected: str, against: str) -> MeasureRow:
    return MeasureRow(
        connector=connector,
        contact=point.mark,
        switch=switch,
        expected=expected,
        against=against,
        why=point.why,
        support=point.entry.sign if point.entry else "",
        unverified=point.entry is not None and point.entry.is_doubtful,
    )
