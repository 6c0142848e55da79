"""Every stage as a function of a rig, so that a test says what it asks for in one word.

A rig may be given as it was read (``LoadedRig``) or as a ``Design``; circuits that a test has changed go in beside it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from wiregen.bundle import notebook  # noqa: F401 - tells records how to show themselves
from wiregen.bundle.packet import ask as _packets
from wiregen.bundle.page.ask import live_page as _live_page
from wiregen.chart.paper import chart_paper
from wiregen.check.case import Case
from wiregen.circuit.build import Built
from wiregen.circuit.shorts import shorts as short_places
from wiregen.design import design as designs
from wiregen.design.design import Design
from wiregen.draw.paper_sheet import paper_sheets
from wiregen.loader.schema import pinout_schema, rig_schema
from wiregen.questions.box.ask import box as _box
from wiregen.questions.diff.ask import diff as _diff
from wiregen.questions.diff.ask import marked_chart as _marked_chart
from wiregen.questions.draft.ask import answer_keys, new_rig
from wiregen.questions.explain.ask import explain, rules
from wiregen.questions.faults import ask as _faults
from wiregen.questions.netlist.ask import netlists as _netlists
from wiregen.questions.record import ask as _record
from wiregen.questions.record.ask import record_path, records, rows_of, together
from wiregen.questions.shorts.ask import shorts as _shorts
from wiregen.questions.ways import ask as _ways
from wiregen.questions.workshop.ask import harness as _harness
from wiregen.rig.loaded import LoadedRig
from wiregen.sizing import ask as _sizing
from wiregen.solve.shorts import solve_shorts

__all__ = ["answer_keys", "explain", "new_rig", "record_path", "records", "rows_of", "rules", "together"]

AnyRig = LoadedRig | Design


def design_of(rig: AnyRig, built: Built | None = None) -> Design:
    """Return the design of a rig, with circuits of the test's own in it where there are any."""
    design = rig if isinstance(rig, Design) else Design(rig)
    if built is not None:
        design.__dict__["built"] = built
    return design


def load(path: Path | str) -> LoadedRig:
    return _sizing.sized(designs.load(path)).loaded


def load_text(text: str, *, beside: Path | None = None, name: str = "rig.toml") -> LoadedRig:
    return _sizing.sized(designs.load_text(text, beside=beside, name=name)).loaded


def read(path: Path | str) -> LoadedRig:
    return designs.load(path).loaded


def schema(*, pinout: bool = False) -> str:
    return pinout_schema() if pinout else rig_schema()


def build(rig: AnyRig) -> Built:
    return design_of(rig).built


def behaviour(rig: AnyRig, built: Built | None = None) -> Any:
    return design_of(rig, built).behaviour


def study(rig: AnyRig, built: Built | None = None) -> Any:
    return design_of(rig, built).studies


def fault_study(rig: AnyRig, built: Built | None = None) -> Any:
    return design_of(rig, built).fault_studies


def short_study(built: Built, studies: Any) -> Any:
    return tuple(solve_shorts(c, healthy, short_places(c)) for c, healthy in zip(built.circuits, studies, strict=True))


def case_of(rig: AnyRig, built: Built | None = None, *, faults: bool = True) -> Case:
    design = design_of(rig, built)
    return design.case if faults else design.healthy_case


def check(rig: AnyRig) -> Any:
    return design_of(rig).report


def chart(rig: AnyRig, built: Built | None = None) -> Any:
    return design_of(rig, built).chart


def chart_scenes(made: Any, paper: Any = "a4") -> Any:
    return paper_sheets(chart_paper(made), paper)


def draw(rig: AnyRig, built: Built | None = None, paper: Any = "a4") -> Any:
    return design_of(rig, built).drawings(paper)


def readings(rig: AnyRig, state: str | None = None, trailer: str | None = None) -> Any:
    return design_of(rig).readings(state, trailer)


def harness(rig: AnyRig, built: Built | None = None) -> Any:
    return _harness(design_of(rig, built))


def live_page(rig: AnyRig, built: Built | None = None, guides: Any = ()) -> Any:
    return _live_page(design_of(rig, built), guides)


def packet(rig: AnyRig, paper: Any = "a4") -> Any:
    return _packets.packet(design_of(rig), paper)


def contents(rig: AnyRig, paper: Any = "a4", *, guide: bool = True) -> Any:
    return _packets.contents(design_of(rig), paper, guide=guide)


def shorts(rig: AnyRig) -> Any:
    return _shorts(design_of(rig))


def netlists(rig: AnyRig, *args: Any, **named: Any) -> Any:
    return _netlists(design_of(rig), *args, **named)


def compare(rig: AnyRig, trailer: str | None = None) -> Any:
    return _ways.compare(design_of(rig), trailer)


def comparison_scene(rig: AnyRig, made: Any, paper: Any = "a4") -> Any:
    return _ways.comparison_scene(design_of(rig), made, paper)


def box(rig: AnyRig, label: Any, trailer: str | None = None) -> Any:
    return _box(design_of(rig), label, trailer)


def diff(old: AnyRig, new: AnyRig) -> Any:
    return _diff(design_of(old), design_of(new))


def marked_chart(new: AnyRig, changes: Any) -> Any:
    return _marked_chart(design_of(new), changes)


def size(rig: AnyRig, **named: Any) -> Any:
    return _sizing.size(design_of(rig), **named)


def sized(rig: AnyRig) -> Any:
    return _sizing.sized(design_of(rig)).loaded


def write_sizes(path: Path, before: bytes, rig: AnyRig, sizing: Any) -> Any:
    return _sizing.write_sizes(path, before, design_of(rig), sizing)


def fault_book(rig: AnyRig, trailer: str | None = None) -> Any:
    return _faults.fault_book(design_of(rig), trailer)


def fault_finder(rig: AnyRig, trailer: str | None = None) -> Any:
    return _faults.fault_finder(design_of(rig), trailer)


def fault_guide(rig: AnyRig, trailer: str | None = None) -> Any:
    return _faults.fault_guide(design_of(rig), trailer)


def fault_coverage(rig: AnyRig, trailer: str | None = None) -> Any:
    return _faults.fault_coverage(design_of(rig), trailer)


def trailer_names(rig: AnyRig) -> tuple[str, ...]:
    return design_of(rig).trailers


def sheet_rows(rig: AnyRig) -> Any:
    return _record.sheet_rows(design_of(rig))


def judge(rig: AnyRig, *args: Any, **named: Any) -> Any:
    return _record.judge(design_of(rig), *args, **named)


def read_form(path: Path, rig: AnyRig) -> Any:
    return _record.read_form(path, design_of(rig))
