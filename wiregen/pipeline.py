"""The order of work, in one page. Also the Python interface.

``load``, ``build``, ``study``, ``check``, ``chart`` and ``draw`` are for programs and notebooks.

    rig file ─► load ─► build ─► study ─► check ─► report
                          ├─► chart ─► text, CSV, Markdown, HTML, SVG
                          └─► draw ─► schematic, connector faces

Each step imports what it needs when it is called, so that a chart does not pay for a solver.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiregen.build.circuit import Built
    from wiregen.check.case import Design
    from wiregen.draw.scene import Scene
    from wiregen.draw.sheet import Paper
    from wiregen.model.behaviour import Behaviour
    from wiregen.model.chart import Chart
    from wiregen.model.report import Report
    from wiregen.model.study import Study
    from wiregen.plan.starter import Question
    from wiregen.rig.loaded import LoadedRig


def load(path: Path | str) -> LoadedRig:
    """Read a rig file with the pinouts it names.

    Raises:
        InputError: With every misfit, each with its place.
    """
    from wiregen.load.rig_file import load_rig

    return load_rig(Path(path))


def load_text(text: str, *, beside: Path | None = None, name: str = "rig.toml") -> LoadedRig:
    """Read a rig from text; ``beside`` is the folder in which a user's own pinouts are looked for.

    Raises:
        InputError: As ``load``.
    """
    from wiregen.load.rig_file import load_rig_text

    return load_rig_text(text, beside, name)


def schema(*, pinout: bool = False) -> str:
    """Return the JSON Schema of a rig file, or of a pinout file."""
    from wiregen.load.schema import schema_text

    if pinout:
        from wiregen.catalogue.connector import Connector

        return schema_text(Connector)
    from wiregen.rig.records import Rig

    return schema_text(Rig)


def new_rig(given: dict[str, str], ask: Callable[[Question], str] | None) -> str:
    """Return the text of a new rig file.

    Args:
        given: Answers by key, as a person would type them; filled up with what is asked.
        ask: Asks one question and returns the typed text; None takes the default of every open question.

    Raises:
        InputError: An answer does not fit, or a question without a default is open.
    """
    from wiregen.load.pinout_files import built_in_pinouts
    from wiregen.plan.starter import answers_of, questions, rig_text

    pinouts = dict(built_in_pinouts())
    if ask is not None:
        for question in questions(given, pinouts):
            given[question.key] = ask(question)
    return rig_text(answers_of(given, pinouts), pinouts)


def build(loaded: LoadedRig) -> Built:
    """Build the circuits of a rig: one for each trailer."""
    from wiregen.build.circuit import build as build_circuits

    return build_circuits(loaded)


def chart(loaded: LoadedRig, built: Built | None = None) -> Chart:
    """Make the wiring chart."""
    from wiregen.build.chart import chart as make_chart

    return make_chart(loaded, built or build(loaded))


def behaviour(loaded: LoadedRig, built: Built) -> tuple[Behaviour, ...]:
    """Work out the behaviour table of every trailer."""
    from wiregen.build.behaviour import behave
    from wiregen.build.circuit import vehicle_signals

    signals = vehicle_signals(loaded)
    return tuple(behave(circuit, signals) for circuit in built.circuits)


def study(loaded: LoadedRig, built: Built) -> tuple[Study, ...]:
    """Solve every state of every trailer.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.build.circuit import vehicle_signals
    from wiregen.solve.operating_point import solve

    signals = vehicle_signals(loaded)
    return tuple(solve(circuit, signals) for circuit in built.circuits)


def check(loaded: LoadedRig) -> Report:
    """Check a rig: behaviour first, then currents and voltages.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.check.headroom import headroom
    from wiregen.check.rules import check as run_rules
    from wiregen.model.report import Report

    built = build(loaded)
    design = design_of(loaded, built)
    return Report(
        title=loaded.rig.title,
        digest=loaded.digest,
        assumptions=built.assumptions,
        behaviour=tuple(row for case in design.cases for row in case.behaviour.rows),
        findings=run_rules(design),
        headroom=headroom(design),
        states=sum(len(case.study.points) for case in design.cases),
    )


def design_of(loaded: LoadedRig, built: Built) -> Design:
    """Gather what the rules look at."""
    from wiregen.build.facts import channel_facts, supply_live, unfused_circuits
    from wiregen.catalogue.defaults import default
    from wiregen.check.case import Case, ChannelFacts, Design, Limits, TapFacts
    from wiregen.load.pinout_files import built_in_pinouts

    rig = loaded.rig
    cases = zip(built.circuits, study(loaded, built), behaviour(loaded, built), loaded.plugs, strict=True)
    rules = rig.rules
    supply = rig.adapter.supply
    return Design(
        cases=tuple(
            Case(circuit, solved.trusted(), solved.troubles(), table, f"-X{index + 2}", plug)
            for index, (circuit, solved, table, plug) in enumerate(cases)
        ),
        channels=tuple(ChannelFacts(**facts) for facts in channel_facts(loaded, built)),
        taps=tuple(
            TapFacts(
                name=tap.name,
                at=tap.at,
                live=tap.live.text,
                fuse_a=tap.fuse_a,
                origin=loaded.origin(("vehicle", "tap", index)),
            )
            for index, tap in enumerate(rig.vehicle.tap)
        ),
        socket=loaded.socket,
        all_pinouts=built_in_pinouts(),
        limits=Limits(
            lowest_lamp_share=rules.lowest_lamp_voltage or 1 - default("lamp_drop_error").value,
            lowest_lamp_source="rig file" if rules.lowest_lamp_voltage else default("lamp_drop_error").source,
            lamp_drop_share=rules.lamp_drop_warning or default("lamp_drop_warn").value,
            lamp_drop_source="rig file" if rules.lamp_drop_warning else default("lamp_drop_warn").source,
            fuse_factor=default("fuse_continuous_factor").value,
            fuse_factor_source=default("fuse_continuous_factor").source,
        ),
        supply_feed=supply.feed if supply and supply.kind == "converter" else None,
        supply_feed_live=supply_live(loaded),
        supply_origin=loaded.origin(("adapter", "supply", "feed")) or loaded.origin(("adapter", "supply")),
        missing_feed=built.missing_feed,
        vehicle_origin=loaded.origin(("vehicle", "socket")),
        trailer_origins=tuple(loaded.origin(("trailer", index, "plug")) for index in range(len(rig.trailer))),
        unfused_circuits=unfused_circuits(loaded, built),
    )


def draw(loaded: LoadedRig, built: Built | None = None, paper: Paper = "a4") -> dict[str, Scene]:
    """Draw the schematic of every trailer and the face of every connector; scenes by file stem."""
    from wiregen.build.chart import sheet_info
    from wiregen.draw.face import face_scenes
    from wiregen.draw.schematic import schematic

    built = built or build(loaded)
    info = sheet_info(loaded)
    scenes: dict[str, Scene] = {}
    for circuit in built.circuits:
        sheets = schematic(circuit, info, paper)
        for number, scene in enumerate(sheets, start=1):
            scenes[_stem("schematic", circuit.trailer, number, len(sheets))] = scene
    pinouts = [("X1", loaded.socket)] + [(f"X{index + 2}", plug) for index, plug in enumerate(loaded.plugs)]
    for designation, pinout in pinouts:
        sheets = face_scenes(pinout, info)
        for number, scene in enumerate(sheets, start=1):
            scenes[_stem("face", designation, number, len(sheets))] = scene
    return scenes


def chart_scenes(made: Chart, paper: Paper = "a4") -> list[Scene]:
    """Lay the chart out on sheets."""
    from wiregen.draw.chart_sheet import chart_sheets

    return chart_sheets(made, paper)


def _stem(kind: str, name: str, number: int, count: int) -> str:
    """Return a file stem of small letters, digits and hyphens: ``schematic-boat-trailer``, ``-2`` on a second sheet."""
    safe = "-".join("".join(c if c.isascii() and c.isalnum() else " " for c in name.lower()).split()) or "unnamed"
    return f"{kind}-{safe[:60]}" + (f"-{number}" if count > 1 else "")
