"""The workbench of one build: numbering, defaults, conductors, and the elements made so far."""

from __future__ import annotations

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.catalogue.connector import Connector
from wiregen.catalogue.fuses import fuse_types, resistance_ohm
from wiregen.circuit.assume import Assumed
from wiregen.circuit.runs import Runs
from wiregen.model.circuit import Contact, Diode, Element, Fuse, Shell, Zone
from wiregen.model.finding import Assumption
from wiregen.model.origin import Origin
from wiregen.quantity import show
from wiregen.rig.loaded import KeyPath, LoadedRig

REFERENCE = "-G1:-"
CHASSIS = "chassis"
ADAPTER_GROUND = "-A1:0V"
BUS = "-A1:12V"
SOCKET = "-X1"


class Parts:
    """Collects elements; every stage of the build adds its own."""

    def __init__(self, loaded: LoadedRig) -> None:
        self.loaded = loaded
        self.rig = loaded.rig
        self.assumed = Assumed()
        self.runs = Runs(loaded, self.assumed)
        self.elements: list[Element] = []
        self.shells: dict[str, Shell] = {}
        self._counts: dict[str, int] = {}

    def ref(self, letter: str) -> str:
        """Return the next reference designation of a letter class: ``-F1``, ``-F2`` ..."""
        number = self._counts[letter] = self._counts.get(letter, 0) + 1
        return f"-{letter}{number}"

    def add(self, element: Element) -> None:
        """Keep an element."""
        self.elements.append(element)

    def origin(self, *path: str | int) -> Origin | None:
        """Return where a key path was written."""
        key: KeyPath = path
        return self.loaded.origin(key)

    def shell(self, designation: str, pinout: Connector) -> None:
        """Note a connector, for drawings."""
        self.shells[designation] = Shell(
            short=pinout.short,
            marks=tuple(contact.mark for contact in pinout.contact),
            words={contact.mark: CIRCUITS[contact.circuit].word for contact in pinout.contact},
            support={contact.mark: contact.sign for contact in pinout.contact},
        )

    def fuse(
        self,
        a: str,
        rating_a: float,
        circuit: str,
        zone: Zone,
        origin: Origin | None,
        *,
        b: str = "",
        channel: str = "",
        breaker: str | None = None,
    ) -> str:
        """Put a fuse behind ``a``, with the typical cold resistance of its rating, and return its far terminal.

        Args:
            a: Terminal on the supply side.
            rating_a: Rating, A.
            circuit: Circuit or tap it protects.
            zone: Where it is.
            origin: Where the user wrote it.
            b: Far terminal; ``-F1:2`` and so on when left out.
            channel: Channel it belongs to.
            breaker: Its type where it is a circuit breaker; it counts with the resistance of a fuse.
        """
        ref = self.ref("F")
        self._note_fuse(ref, rating_a)
        end = b or f"{ref}:2"
        self.add(
            Fuse(
                ref=ref,
                a=a,
                b=end,
                circuit=circuit,
                zone=zone,
                rating_a=rating_a,
                breaker=breaker or "",
                resistance_ohm=resistance_ohm(rating_a, 0.0),
                title=f"breaker {rating_a:g} A, {breaker}" if breaker else f"fuse {rating_a:g} A",
                origin=origin,
                channel=channel,
            )
        )
        return end

    def diode(
        self,
        ref: str,
        a: str,
        b: str,
        circuit: str,
        zone: Zone,
        origin: Origin | None,
        *,
        drop_v: float | None = None,
        resistance_ohm: float | None = None,
        rating_a: float | None = None,
        channel: str = "",
    ) -> str:
        """Put a blocking diode behind ``a`` and return its far terminal.

        Args:
            ref: Reference designation.
            a: Terminal on the supply side.
            b: Far terminal.
            circuit: Circuit it carries.
            zone: Where it is.
            origin: Where the user wrote it.
            drop_v: Its drop, V, where the user says.
            resistance_ohm: The rise of the drop with the current, ohm, where the user says.
            rating_a: Continuous current it is rated for, A.
            channel: Channel it belongs to.
        """
        take = self.assumed.take
        self.add(
            Diode(
                ref=ref,
                a=a,
                b=b,
                circuit=circuit,
                zone=zone,
                title="blocking diode",
                origin=origin,
                channel=channel,
                drop_v=take(drop_v, "diode_drop_v", ref),
                resistance_ohm=take(resistance_ohm, "diode_resistance_ohm", ref),
                leak_ohm=take(None, "diode_leak_ohm", ref),
                rating_a=rating_a,
            )
        )
        return b

    def _note_fuse(self, ref: str, rating_a: float) -> None:
        ohm = resistance_ohm(rating_a, 0.0)
        known = max((fuse for fuse in fuse_types() if fuse.cold_ohm == ohm), key=lambda fuse: fuse.rating_a)
        entry = Assumption(
            name=f"fuse_{rating_a:g}_a_ohm",
            text=show(ohm, "ohm"),
            why="cold resistance of a blade fuse; one published series",
            source=known.source,
            support=known.support,
        )
        self.assumed.note(entry, ref)

    def contact(
        self, designation: str, pinout: Connector, mark: str, a: str, b: str, circuit: str, zone: Zone
    ) -> Contact:
        """Make a mated pair of contacts and keep it.

        Its rating is the pinout's, else what the user allows, else none.
        """
        entry = pinout.find(mark)
        given = self.rig.rules.contact_rating_a
        rating = entry.rating_a if entry and entry.rating_a else given
        source = ",".join(entry.sources) if entry and entry.rating_a else ("rig file" if given else "")
        made = Contact(
            ref=f"{designation}:{mark}",
            a=a,
            b=b,
            circuit=circuit,
            zone=zone,
            connector=designation,
            mark=mark,
            rating_a=rating,
            rating_source=source,
            resistance_ohm=self.assumed.take(None, "contact_resistance_ohm", designation),
            title=f"{designation} contact {mark}, {CIRCUITS[circuit].word if circuit in CIRCUITS else circuit}",
        )
        self.add(made)
        return made
