"""Which conductor runs where: picks the ``[[run]]`` that fits a stretch and a circuit, and fills what it leaves out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, TypeVar

from wiregen.catalogue.conductors import resistance_per_m
from wiregen.catalogue.connector import PinoutContact, contact_size
from wiregen.circuit.assume import Assumed
from wiregen.model.circuit import Conductor, Zone
from wiregen.model.finding import Assumption
from wiregen.model.origin import Origin
from wiregen.model.stretch import RUNS, STRETCHES, Stretch
from wiregen.quantity import ConductorSize, parse_size
from wiregen.rig.loaded import LoadedRig
from wiregen.rig.records import Run

T = TypeVar("T")

#: Name under which sizes that come from the pinout are listed as assumed.
USUAL_SIZE: Final = "usual_conductor_size"
_BY_CONTACT: Final = Assumption(
    name=USUAL_SIZE,
    text="as in the pinout",
    why="no run states a size: the usual one for the contact it ends on; look at the real conductor",
    source="sources of the pinout",
    support="assumed",
)


@dataclass(frozen=True, slots=True)
class _Chosen:
    """The run of one conductor after merging; None where nothing was written."""

    length_m: float | None
    size: ConductorSize | None
    colour: str
    insulation_c: float | None
    ambient_c: float | None
    bundle: int | None
    origin: Origin | None


class Runs:
    """Makes conductors from the rig's ``[[run]]`` tables; the most particular run wins, key by key."""

    def __init__(self, loaded: LoadedRig, assumed: Assumed) -> None:
        self._assumed = assumed
        self._runs = [
            (run, RUNS[run.start, run.end], loaded.origin(("run", index))) for index, run in enumerate(loaded.rig.run)
        ]
        self._count = 0

    def conductor(
        self,
        stretch: Stretch,
        a: str,
        b: str,
        *,
        circuit: str,
        zone: Zone,
        trailer: str = "",
        contact: PinoutContact | None = None,
        length_m: float | None = None,
        title: str = "",
        channel: str = "",
    ) -> Conductor:
        """Return the next conductor, numbered ``-W1``, ``-W2`` ...

        Args:
            stretch: Where it runs.
            a: First terminal.
            b: Second terminal.
            circuit: Circuit or tap it carries; picks the run.
            zone: Zone it is drawn in.
            trailer: Trailer it belongs to, if any; picks the run.
            contact: Contact it lies on: gives size and colour when no run does.
            length_m: Length from elsewhere in the rig, m; wins over the run.
            title: Words for people.
            channel: Channel it belongs to.
        """
        self._count += 1
        ref = f"-W{self._count}"
        chosen = self._choose(stretch, circuit, trailer)
        size = chosen.size or (contact_size(contact) if contact else None)
        take = self._assumed.take
        if chosen.size is None and size is not None:
            self._assumed.note(_BY_CONTACT, ref)
        if size is None:
            area = take(None, "conductor_area_mm2", ref)
            size = parse_size(f"{area:g} mm²")
        length = take(length_m if length_m is not None else chosen.length_m, STRETCHES[stretch].length, ref)
        temperature_c = take(None, "copper_temperature_c", "all conductors")
        return Conductor(
            ref=ref,
            a=a,
            b=b,
            circuit=circuit,
            zone=zone,
            title=title,
            channel=channel,
            origin=chosen.origin,
            stretch=stretch,
            length_m=length,
            size=size,
            temperature_c=temperature_c,
            insulation_c=take(chosen.insulation_c, "insulation_c", ref),
            ambient_c=take(chosen.ambient_c, "ambient_c", ref),
            bundle=int(take(chosen.bundle, "unstated_bundle_conductors", ref)),
            colour=chosen.colour or (contact.colour if contact and contact.colour else ""),
            resistance_ohm=length * resistance_per_m(size, temperature_c).ohm_per_m,
        )

    def _choose(self, stretch: Stretch, circuit: str, trailer: str) -> _Chosen:
        fitting = self._fitting(stretch, circuit, trailer)
        runs = [run for run, _ in fitting]
        length_m = _first(runs, lambda run: run.length_m)
        if stretch == "splice-lamp":
            # The lamps' own wires are as the cable they leave, but for their length, where no run speaks of them.
            fitting += self._fitting("plug-splice", circuit, trailer)
            runs = [run for run, _ in fitting]
        return _Chosen(
            length_m=length_m,
            size=_first(runs, lambda run: run.size),
            colour=_first(runs, lambda run: run.colour) or "",
            insulation_c=_first(runs, lambda run: run.insulation_c),
            ambient_c=_first(runs, lambda run: run.ambient_c),
            bundle=_first(runs, lambda run: run.bundle),
            origin=fitting[0][1] if fitting else None,
        )

    def _fitting(self, stretch: Stretch, circuit: str, trailer: str) -> list[tuple[Run, Origin | None]]:
        fitting = [
            (run, origin)
            for run, where, origin in self._runs
            if where == stretch
            and (run.trailer is None or run.trailer == trailer)
            and (not run.circuits or circuit in run.circuits)
        ]
        # The most particular first: named circuits beat a named trailer, a later run beats an earlier one.
        fitting.reverse()
        fitting.sort(key=lambda pair: (bool(pair[0].circuits), pair[0].trailer is not None), reverse=True)
        return fitting


def _first(runs: list[Run], get: Callable[[Run], T | None]) -> T | None:
    return next((value for run in runs if (value := get(run)) is not None), None)
