"""What a meter shows at contacts, lamps and supplies: read off a few solved states at all corners.

Everything is mated and the trailer coupled. At a connector the minus lead lies on its own ground contact, on the same
side as the plus lead, as a mechanic holds it; where it has none, on the chassis, else on battery minus. A ground
contact itself is read against the chassis.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

import numpy as np

from wiregen.catalogue.circuits import CIRCUITS, GROUNDS
from wiregen.model.circuit import Battery, Circuit, Contact, Converter, Element, Lamp, Load
from wiregen.model.corner import CORNERS, NOMINAL
from wiregen.model.reading import Half, Reading, ReadingKind, Span, StateReadings
from wiregen.model.state import Controls, State
from wiregen.model.study import Array, Study
from wiregen.solve.chosen import heaviest, single_controls, solve_chosen, states_of

#: What readings range over: the nominal corner first.
READ_CORNERS = (NOMINAL, *CORNERS)

_SIDES = {"v": "vehicle", "a": "adapter", "t": "trailer"}
_CHASSIS, _BUS, _BAR = "chassis", "-A1:12V", "-A1:0V"
#: Values nearer to nothing than this are nothing: below any meter, above the solver's round-off.
_NOTHING = 5e-7


def read_states(
    circuit: Circuit, signals: Collection[str], wanted: tuple[Controls, Collection[bool]] | None
) -> tuple[StateReadings, ...]:
    """Return the readings of a circuit in chosen states, with the range over all corners.

    Args:
        circuit: The circuit as built.
        signals: Control signals the vehicle reacts to.
        wanted: Setting of the controls, with the halves of the flash to show: True lit, False dark. All off, each
            control by itself, and the setting that takes most, when None.

    Raises:
        SolveError: The circuit cannot be solved at all.
    """
    if wanted is not None:
        states = states_of(circuit, *wanted)
    else:
        settings = dict.fromkeys((*single_controls(circuit, signals), *filter(None, (heaviest(circuit, signals),))))
        states = tuple(state for controls in settings for state in states_of(circuit, controls))
    return readings_of(solve_chosen(circuit, signals, states, READ_CORNERS).study, states)


def readings_of(study: Study, states: Sequence[State]) -> tuple[StateReadings, ...]:
    """Return the readings of solved states.

    Args:
        study: All ``states`` at the first corner of ``READ_CORNERS``, then all at the second, and so on.
        states: The states.
    """
    made = []
    for number, state in enumerate(states):
        rows = [number + corner * len(states) for corner in range(len(READ_CORNERS))]
        half: Half = ("lit" if state.lit else "dark") if state.flashing else ""
        made.append(
            StateReadings(
                trailer=study.circuit.trailer,
                state=state.controls.words,
                half=half,
                readings=tuple(_Reader(study, rows).all()),
                troubles=tuple((study.points[r].corner.words, study.trouble[r]) for r in rows if study.trouble[r]),
            )
        )
    return tuple(made)


class _Reader:
    """Reads one state: the rows of a study that hold it, the nominal corner first."""

    def __init__(self, study: Study, rows: Sequence[int]) -> None:
        self.study, self.circuit = study, study.circuit
        self.rows = [row for row in rows if not study.trouble[row]]
        self.nominal = not study.trouble[rows[0]]

    def all(self) -> Iterator[Reading]:
        yield from self._contacts()
        for element in self.circuit.elements:
            if isinstance(element, Lamp | Load):
                yield self._part(element, "lamp" if isinstance(element, Lamp) else "load")
        for element in self.circuit.elements:
            if isinstance(element, Battery):
                # A battery that gives current has a positive reading.
                yield self._part(element, "supply", sign=-1.0)
            elif isinstance(element, Converter):
                yield from self._converter(element)
        if _BUS in self.circuit.terminals:
            yield self._bus()

    def _contacts(self) -> Iterator[Reading]:
        found = self.circuit.of(Contact)
        for designation, shell in self.circuit.shells.items():
            mated = {contact.mark: contact for contact in found if contact.connector == designation}
            grounds = [contact for contact in mated.values() if contact.circuit in GROUNDS]
            grounds.sort(key=lambda contact: contact.circuit != "ground")
            for mark in shell.marks:
                if mark in mated:
                    yield from self._both_sides(mated[mark], grounds)

    def _both_sides(self, contact: Contact, grounds: list[Contact]) -> Iterator[Reading]:
        nearest_first = list(_SIDES.values())
        for end in sorted((contact.a, contact.b), key=lambda name: nearest_first.index(_side(name))):
            side = _side(end)
            yield self._reading(
                contact,
                "contact",
                at=end,
                against=self._minus(side, [] if contact.circuit in GROUNDS else grounds),
                connector=contact.connector,
                mark=contact.mark,
                side=side,
                what=_words(contact),
            )

    def _minus(self, side: str, grounds: list[Contact]) -> str:
        for ground in grounds:
            for end in (ground.a, ground.b):
                if _side(end) == side:
                    return end
        return _CHASSIS if _CHASSIS in self.circuit.terminals else self.circuit.reference

    def _part(self, element: Element, kind: ReadingKind, sign: float = 1.0) -> Reading:
        return self._reading(element, kind, at=element.a, against=element.b, sign=sign, what=_words(element))

    def _converter(self, converter: Converter) -> Iterator[Reading]:
        drawn = self.study.input_a[converter.ref]
        for side, at, amps in (("input", converter.a, drawn), ("output", converter.b, None)):
            yield self._reading(
                converter, "supply", at=at, against=converter.common, side=side, what=_words(converter), amps=amps
            )

    def _bus(self) -> Reading:
        volts = self.study.voltage_v(_BUS) - self.study.voltage_v(_BAR)
        return Reading(
            kind="supply",
            part="-A1",
            what="adapter's 12 V bus",
            at=_BUS,
            against=_BAR,
            volts_v=self._span(volts),
            amps_a=Span(None, None, None),
            floats=self._floats(volts),
        )

    def _reading(
        self,
        element: Element,
        kind: ReadingKind,
        *,
        at: str,
        against: str,
        what: str,
        connector: str = "",
        mark: str = "",
        side: str = "",
        sign: float = 1.0,
        amps: Array | None = None,
    ) -> Reading:
        volts = self.study.voltage_v(at) - self.study.voltage_v(against)
        current = sign * (self.study.current_a(element.ref) if amps is None else amps)
        return Reading(
            kind=kind,
            part=element.ref,
            connector=connector,
            mark=mark,
            side=side,
            what=what,
            at=at,
            against=against,
            volts_v=self._span(volts),
            amps_a=self._span(current),
            floats=self._floats(volts),
        )

    def _floats(self, volts: Array) -> bool:
        return bool(np.isnan(volts[self.rows]).any())

    def _span(self, values: Array) -> Span:
        known = [_settle(float(values[row])) for row in self.rows if not np.isnan(values[row])]
        if not known:
            return Span(None, None, None)
        first = float(values[self.rows[0]]) if self.nominal else np.nan
        return Span(None if np.isnan(first) else _settle(first), min(known), max(known))


def _side(terminal: str) -> str:
    """Return which side of a mated contact a terminal is, by the letter its name ends with."""
    return _SIDES[terminal.rpartition(".")[2]]


def _settle(value: float) -> float:
    return 0.0 if abs(value) < _NOTHING else value


def _words(element: Element) -> str:
    circuit = CIRCUITS[element.circuit].word if element.circuit in CIRCUITS else element.circuit
    return circuit if isinstance(element, Contact) else element.title or circuit
