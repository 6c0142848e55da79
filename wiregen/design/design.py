"""A rig and what was worked out from it: each stage once, and only when it is asked for.

    rig file ─► load ─► Design ┬─ built ─► behaviour
                               │    └────► studies ─► case ─► findings ─► report
                               ├─ harness ─► chart
                               ├─ readings
                               └─ drawings

Each stage imports what it needs when it is asked for, so that a chart does not pay for a solver.
"""

from __future__ import annotations

from functools import cached_property
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from wiregen.errors import ArgumentError, InputError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiregen.check.case import Case
    from wiregen.circuit.build import Built
    from wiregen.draw.scene import Scene
    from wiregen.draw.sheet import Paper
    from wiregen.harness.record import Harness
    from wiregen.model.behaviour import Behaviour
    from wiregen.model.chart import Chart
    from wiregen.model.circuit import Circuit
    from wiregen.model.finding import Assumption, Finding
    from wiregen.model.reading import ReadingSheet
    from wiregen.model.report import Report
    from wiregen.model.short import ShortStudy
    from wiregen.model.study import FaultStudy, Study
    from wiregen.rig.loaded import LoadedRig, ReadFile
    from wiregen.rig.records import Rig


def load(path: Path | str) -> Design:
    """Read a rig file with the pinouts it names; "auto" stays open, ``wiregen.sizing.sized`` chooses.

    Raises:
        InputError: With every misfit, each with its place.
    """
    from wiregen.loader.rig_file import load_rig

    return Design(load_rig(Path(path)))


def load_text(text: str, *, beside: Path | None = None, name: str = "rig.toml") -> Design:
    """Read a rig from text; ``beside`` is the folder in which a user's own pinouts are looked for.

    Raises:
        InputError: As ``load``.
    """
    from wiregen.loader.rig_file import load_rig_text

    return Design(load_rig_text(text, beside, name))


class Design:
    """A rig and what was worked out from it.

    Every property is worked out once, when it is first asked for, and stays. All but those of the rig itself raise
    ``InputError`` while a size or a fuse is "auto", and those that need voltages ``SolveError`` where a circuit cannot
    be solved at all.

    Args:
        loaded: The rig as it was read.
    """

    def __init__(self, loaded: LoadedRig) -> None:
        self.loaded = loaded

    def __repr__(self) -> str:
        """Return the title and the file code."""
        return f"Design({self.title!r}, {self.digest})"

    # --- the rig itself ---

    @property
    def rig(self) -> Rig:
        """The records of the rig file."""
        return self.loaded.rig

    @property
    def title(self) -> str:
        """The rig's title."""
        return self.rig.title

    @property
    def digest(self) -> str:
        """The file code: twelve hexadecimal digits over the rig file and its pinouts."""
        return self.loaded.digest

    @property
    def files(self) -> tuple[ReadFile, ...]:
        """Every file that was read, with the SHA-256 of its content: the rig file first, then the pinouts it names."""
        return self.loaded.files

    @property
    def trailers(self) -> tuple[str, ...]:
        """Names of the trailers, in the order of the file."""
        return tuple(trailer.name for trailer in self.rig.trailer)

    @cached_property
    def open(self) -> tuple[str, ...]:
        """Key paths of the sizes and fuses that are still "auto", such as ``run.2.size``."""
        from wiregen.rig.auto import slots

        return tuple(".".join(map(str, slot.path)) for slot in slots(self.rig) if slot.is_auto)

    def trailer_index(self, name: str | None) -> int:
        """Return the place of a trailer by its name in any case; None means the only one.

        Raises:
            ArgumentError: There is no such trailer, or none is named and there are several.
        """
        names = self.trailers
        if name is None:
            if len(names) > 1:
                raise ArgumentError("trailer", f"name one: this rig has {', '.join(names)}")
            return 0
        wanted = name.strip().lower()
        found = next((index for index, one in enumerate(names) if one.lower() == wanted), None)
        if found is None:
            raise ArgumentError.unknown("trailer", name, names, "this rig")
        return found

    # --- circuits, behaviour, numbers ---

    @cached_property
    def built(self) -> Built:
        """The circuits, one for each trailer, with what was assumed."""
        from wiregen.circuit.build import build

        if self.open:
            raise InputError(
                f'sizes are still "auto": {", ".join(self.open)}. Choose them first: wiregen.sizing.sized(design), '
                "or 'wiregen size' on the command line"
            )
        return build(self.loaded)

    @property
    def circuits(self) -> tuple[Circuit, ...]:
        """The circuit with each trailer coupled."""
        return self.built.circuits

    @property
    def assumptions(self) -> tuple[Assumption, ...]:
        """Every value that the rig file leaves to the catalogue."""
        return self.built.assumptions

    @cached_property
    def signals(self) -> frozenset[str]:
        """What the vehicle offers: its socket's circuits and its taps."""
        from wiregen.circuit.build import vehicle_signals

        return frozenset(vehicle_signals(self.loaded))

    @cached_property
    def behaviour(self) -> tuple[Behaviour, ...]:
        """The behaviour table of every trailer."""
        from wiregen.circuit.behaviour import behave

        return tuple(behave(circuit, self.signals) for circuit in self.circuits)

    @cached_property
    def studies(self) -> tuple[Study, ...]:
        """Every state of every trailer at every corner, solved."""
        from wiregen.solve.full_study import solve_study

        return tuple(solve_study(circuit, self.signals) for circuit in self.circuits)

    @cached_property
    def fault_studies(self) -> tuple[FaultStudy, ...]:
        """Every state of every trailer with every single fault, where voltages are highest: while charging."""
        from wiregen.circuit.faults import single_faults
        from wiregen.model.corner import CORNERS
        from wiregen.solve.full_study import solve_faults

        charging = [corner for corner in CORNERS if corner.supply == "charging"]
        return tuple(solve_faults(one, self.signals, single_faults(one), charging) for one in self.circuits)

    @cached_property
    def short_studies(self) -> tuple[ShortStudy, ...]:
        """Every short circuit of every trailer in the states that make it live."""
        from wiregen.circuit.shorts import shorts
        from wiregen.solve.shorts import solve_shorts

        pairs = zip(self.circuits, self.studies, strict=True)
        return tuple(solve_shorts(circuit, healthy, shorts(circuit)) for circuit, healthy in pairs)

    def readings(self, state: str | None = None, trailer: str | None = None) -> ReadingSheet:
        """Work out what a meter should read at contacts, lamps and supplies.

        Args:
            state: Controls as a comma list, ``service lights, brake``; every single control in turn, and the setting
                that takes most, when None.
            trailer: Name of a trailer; all of them when None.

        Raises:
            InputError: The state or the trailer is none.
            SolveError: A circuit cannot be solved at all.
        """
        from wiregen.chart.measure import switch_notes
        from wiregen.model.reading import ReadingSheet
        from wiregen.model.state_words import states_from
        from wiregen.solve.readings import READ_CORNERS, read_states

        wanted = None if state is None else states_from(state, self.signals)
        circuits = self.circuits if trailer is None else (self.circuits[self.trailer_index(trailer)],)
        return ReadingSheet(
            title=self.title,
            digest=self.digest,
            corners=tuple(corner.words for corner in READ_CORNERS),
            shells={(c.trailer, name): shell.short for c in circuits for name, shell in c.shells.items()},
            states=tuple(one for circuit in circuits for one in read_states(circuit, self.signals, wanted)),
            notes=switch_notes(self.loaded),
        )

    # --- findings ---

    @cached_property
    def case(self) -> Case:
        """What the rules look at."""
        from dataclasses import replace

        healthy = self.healthy_case
        couplings = zip(healthy.couplings, self.fault_studies, strict=True)
        return replace(healthy, couplings=tuple(replace(one, faults=faults) for one, faults in couplings))

    @cached_property
    def healthy_case(self) -> Case:
        """The same without single faults, which take most of the time."""
        from wiregen.design.gather import healthy_case

        return healthy_case(self)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What every rule found."""
        from wiregen.check.rules import check

        return check(self.case)

    @cached_property
    def report(self) -> Report:
        """The check: findings, behaviour, headroom, assumptions."""
        from wiregen.check.headroom import headroom
        from wiregen.model.report import Report

        couplings = self.case.couplings
        return Report(
            title=self.title,
            digest=self.digest,
            assumptions=self.assumptions,
            behaviour=tuple(row for one in couplings for row in one.behaviour.rows),
            findings=self.findings,
            headroom=headroom(self.case),
            states=sum(len(one.study.points) for one in couplings),
            fault_points=sum(len(one.faults.points) * len(one.faults.faults) for one in couplings if one.faults),
        )

    # --- papers ---

    @cached_property
    def harness(self) -> Harness:
        """What is built: every wire, joint and cavity; the papers are views of it."""
        from wiregen.harness.make import harness

        return harness(self.loaded, self.built)

    @cached_property
    def chart(self) -> Chart:
        """The wiring chart."""
        from wiregen.chart.make import chart

        return chart(self.loaded, self.built, self.harness)

    def drawings(self, paper: Paper = "a4") -> dict[str, Scene]:
        """Draw the schematic of every trailer and the face of every connector; scenes by file stem."""
        from wiregen.chart.make import sheet_info
        from wiregen.draw.face.scenes import face_scenes
        from wiregen.draw.schematic.scenes import schematic

        info = sheet_info(self.loaded)
        scenes: dict[str, Scene] = {}
        for circuit in self.circuits:
            scenes |= _numbered("schematic", circuit.trailer, schematic(circuit, info, paper, self.harness.wires))
        for half in self.harness.halves:
            scenes |= _numbered("face", half.id, face_scenes(half.pinout, info, half=half))
        return scenes

    def _repr_html_(self) -> str:
        """Show a notebook what the rig is and which files it was read from, without solving anything."""
        rows = "".join(f"<tr><td>{escape(one.path)}</td><td>{one.sha256[:12]}</td></tr>" for one in self.files)
        left = f"<p>Still &quot;auto&quot;: {escape(', '.join(self.open))}</p>" if self.open else ""
        return f"<p><b>{escape(self.title)}</b>, file code {self.digest}</p>{left}<table>{rows}</table>"


def _numbered(kind: str, name: str, sheets: Iterable[Scene]) -> dict[str, Scene]:
    """Return sheets by file stem of small letters, digits and hyphens: ``schematic-boat-trailer``, ``-2`` and on."""
    safe = "-".join("".join(c if c.isascii() and c.isalnum() else " " for c in name.lower()).split()) or "unnamed"
    several = list(sheets)
    stem = f"{kind}-{safe[:60]}"
    return {stem + (f"-{n}" if len(several) > 1 else ""): scene for n, scene in enumerate(several, start=1)}
