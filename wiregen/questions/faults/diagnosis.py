"""Finding a fault: what may be wrong, what each fault looks like everywhere, and what to check next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from wiregen.model.circuit import Circuit, Element
from wiregen.model.fault import Fault
from wiregen.model.state import Controls

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]
#: What a meter shows, V: no meter has more digits.
Reads = npt.NDArray[np.float32]

#: What a lamp shows over one flash cycle; their places are the codes in ``FaultBook.looks``. ``some dark``: of several
#: equal lamps some burn.
LOOKS: Final = ("dark", "dim", "lit", "bright", "flashes", "flashes dim", "some dark")
#: The same for a load, which gives no light.
WORKS: Final = ("dead", "weak", "on", "too strong", "on and off", "weak and off", "some dead")
DARK, DIM, LIT, BRIGHT, FLASHES, FLASHES_DIM, SOME = range(len(LOOKS))

#: Where a meter reaches: at a connector, at a lamp, at the vehicle's batteries and fuses, in the adapter; ``hidden``
#: under tape, where nobody measures without cutting something open.
Access = Literal["connector", "lamp", "vehicle", "adapter", "hidden"]


@dataclass(frozen=True, slots=True)
class Change:
    """A circuit with something wrong, as a change of its elements.

    Attributes:
        drop: Refs of elements that are gone.
        put: Elements that take the place of the one with the same ref, or are added.
    """

    drop: frozenset[str] = frozenset()
    put: tuple[Element, ...] = ()

    def of(self, circuit: Circuit) -> Circuit:
        """Return the circuit so changed."""
        new = {element.ref: element for element in self.put}
        kept = [new.pop(e.ref, e) for e in circuit.elements if e.ref not in self.drop]
        return replace(circuit, elements=(*kept, *(e for e in new.values() if e.ref not in self.drop)))

    def also(self, other: Change) -> Change:
        """Return both changes together; what one drops stays dropped."""
        return Change(self.drop | other.drop, (*self.put, *other.put))


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultCase:
    """One thing that may be wrong.

    Attributes:
        key: Short and stable, such as ``open W7``.
        kind: Key of ``wiregen.catalogue.faults.FAULT_KINDS``.
        part: Reference designation it is about; empty for the whole vehicle.
        words: In words, for people.
        cure: What to do about it.
        weight: How likely it is against the others, before anything was seen.
        change: The circuit with it.
        fault: The same as a change of one part, where it is one.
        is_short: Whether a fuse may open on it.
        flasher: The half of the flash a failed flasher is stuck in, or empty.
        note: What else to know.
    """

    key: str
    kind: str
    part: str
    words: str
    cure: str
    weight: float
    change: Change = field(default_factory=Change)
    fault: Fault | None = None
    is_short: bool = False
    flasher: Literal["", "lit", "dark"] = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Opened:
    """What a short does before a fuse has opened.

    Attributes:
        fuse: Ref of the fuse that opens; empty where none does.
        current_a: Current through it before, A; of a short that opens none, the most through any fuse.
        times: That current over the fuse's rating.
        state: In which state, in words.
    """

    fuse: str
    current_a: float
    times: float
    state: str


@dataclass(frozen=True, slots=True)
class MeterPoint:
    """One place for the two leads.

    Attributes:
        name: Short name, as the user types it: ``X2:5 adapter``.
        words: In words.
        at: Terminal of the red lead.
        against: Terminal of the black lead.
        minus: The black lead's place in words.
        access: How it is reached.
    """

    name: str
    words: str
    at: str
    against: str
    minus: str
    access: Access


@dataclass(frozen=True, slots=True)
class Watched:
    """A lamp, or a load that works or does not.

    Attributes:
        ref: Its designation.
        name: Short name for people, unique in the book: ``left stop and turn``.
        function: Its function.
        title: What it is.
        count: How many equal ones.
        is_lamp: Whether it gives light; a load is known only by what it does.
        is_bulb: Whether a bulb can be changed.
        words: Every word that names it, for reading what a user types.
    """

    ref: str
    name: str
    function: str
    title: str
    count: int
    is_lamp: bool
    is_bulb: bool
    words: frozenset[str]

    def shows(self, look: int) -> str:
        """Return a code of ``LOOKS`` in words that fit a lamp or a load."""
        return (LOOKS if self.is_lamp else WORKS)[look]


@dataclass(frozen=True)
class FaultBook:
    """What every fault looks like in every setting of the controls, for one trailer.

    Attributes:
        circuit: The circuit as built.
        cases: What may be wrong; the first is nothing.
        settings: Settings of the controls.
        flashing: For each setting, whether the flasher runs in it.
        watched: Lamps and loads.
        looks: Code of ``LOOKS``, shape (cases, settings, watched).
        points: Places for a meter.
        volts_v: What it shows, V, shape (cases, settings, points); while the flasher runs, the highest.
        spread: Share by which each reading moves with battery, temperature and age, shape (settings, points).
        over_v: Highest voltage across each lamp or load over what it stands, shape (cases, watched); above 1 is danger.
        opened: What a short does before its fuse opens, by case.
        trouble: For each case, why some state of it cannot be trusted; empty when all can.
    """

    circuit: Circuit
    cases: tuple[FaultCase, ...]
    settings: tuple[Controls, ...]
    flashing: tuple[bool, ...]
    watched: tuple[Watched, ...]
    looks: Codes
    points: tuple[MeterPoint, ...]
    volts_v: Reads
    spread: Array
    over_v: Array
    opened: Mapping[int, Opened]
    trouble: tuple[str, ...]


CheckKind = Literal["look", "meter", "bulb", "fuse"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One thing a check may show.

    Attributes:
        words: In words.
        symptom: What to note when it shows, as a user would type it; empty where a reading is to be typed.
        probability: How likely it is to show.
        points_to: The most likely suspect when it shows, in words; empty where none stands out.
    """

    words: str
    symptom: str
    probability: float
    points_to: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One thing to look at, to try or to measure.

    Attributes:
        key: Unique key.
        kind: What sort of check it is.
        access: Where it is done.
        setting: The controls in words; empty where they do not matter.
        words: What to do, in words.
        target: Name of the meter point, or designation of the bulb or fuse; empty for a look.
        effort: What it costs, in looks at the lamps.
        gain_bits: Information it is expected to give, bit.
        outcomes: What it may show, the likely first; of a reading, the values to expect.
        healthy: What it shows when nothing is wrong, in words.
    """

    key: str
    kind: CheckKind
    access: str
    setting: str
    words: str
    target: str
    effort: float
    gain_bits: float
    outcomes: tuple[Outcome, ...]
    healthy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """One part that may be at fault, all sizes of the same fault together.

    Attributes:
        keys: Keys of its cases, the most likely first.
        part: Reference designation; empty for the whole vehicle.
        kind: Key of the kind of fault.
        words: In words.
        cure: What to do about it.
        probability: How likely it is after what was seen.
        danger: What else it does that can hurt; empty for nothing.
        note: What else to know.
        story: Of a short, which fuse it opens; empty for others.
    """

    keys: tuple[str, ...]
    part: str
    kind: str
    words: str
    cure: str
    probability: float
    danger: str = ""
    note: str = ""
    story: str = ""


#: ``ask``: there is a check worth doing. ``found``: one suspect is left. ``alike``: no check tells the rest apart.
#: ``unexplained``: no single fault shows all that was seen.
Verdict = Literal["ask", "found", "alike", "unexplained"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """What follows from what was seen.

    Attributes:
        title: Title of the rig.
        trailer: The trailer coupled.
        digest: Digest of the rig file.
        symptoms: What was seen, tried and measured, in words.
        verdict: Where the search stands.
        suspects: The likely ones, most likely first.
        rest: Probability of all others together.
        check: What to do next; None where nothing is worth it.
        alike: Groups of suspects, by their place, that no check can tell apart.
        against: What was seen that the first suspect does not explain.
        pairs: Two faults together that explain all, with their probability among pairs, where no single one does.
        cautions: What can hurt.
    """

    title: str
    trailer: str
    digest: str
    symptoms: tuple[str, ...]
    verdict: Verdict
    suspects: tuple[Suspect, ...]
    rest: float
    check: Check | None
    alike: tuple[tuple[int, ...], ...]
    against: tuple[str, ...]
    pairs: tuple[tuple[str, str, float], ...]
    cautions: tuple[str, ...]
