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
    from wiregen.check.case import Design, Limits
    from wiregen.draw.scene import Scene
    from wiregen.draw.sheet import Paper
    from wiregen.model.behaviour import Behaviour
    from wiregen.model.chart import Chart
    from wiregen.model.circuit import Circuit
    from wiregen.model.reading import ReadingSheet
    from wiregen.model.report import Report
    from wiregen.model.rule import RuleInfo
    from wiregen.model.study import FaultStudy, Study
    from wiregen.plan.starter import Question
    from wiregen.rig.loaded import LoadedRig
    from wiregen.rig.records import Rules


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
    """Solve every state of every trailer at every corner.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.build.circuit import vehicle_signals
    from wiregen.solve.full_study import solve_study

    signals = vehicle_signals(loaded)
    return tuple(solve_study(circuit, signals) for circuit in built.circuits)


def fault_study(loaded: LoadedRig, built: Built) -> tuple[FaultStudy, ...]:
    """Solve every state of every trailer with every single fault, where voltages are highest: while charging.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.build.circuit import vehicle_signals
    from wiregen.build.faults import single_faults
    from wiregen.model.corner import CORNERS
    from wiregen.solve.full_study import solve_faults

    signals = vehicle_signals(loaded)
    charging = [corner for corner in CORNERS if corner.supply == "charging"]
    return tuple(solve_faults(circuit, signals, single_faults(circuit), charging) for circuit in built.circuits)


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
        fault_points=sum(len(c.faults.points) * len(c.faults.faults) for c in design.cases if c.faults),
    )


def rules() -> tuple[RuleInfo, ...]:
    """Return what there is to know of every rule of the check, in the order findings are printed."""
    from wiregen.check.rules import RULES

    return tuple(rule.info for rule in RULES)


def explain(rule: str) -> RuleInfo:
    """Return what there is to know of one rule.

    Raises:
        InputError: There is no such rule; the message names the nearest.
    """
    from wiregen.errors import InputError, guess

    known = {info.id: info for info in rules()}
    if rule not in known:
        raise InputError(f"{rule!r} is not a rule{guess(rule, known)} 'wiregen explain' lists them all.")
    return known[rule]


def design_of(loaded: LoadedRig, built: Built) -> Design:
    """Gather what the rules look at."""
    from wiregen.build.facts import channel_facts, flasher_facts, supply_live, unfused_circuits
    from wiregen.check.case import Case, ChannelFacts, Design, FlasherFacts, TapFacts
    from wiregen.load.pinout_files import built_in_pinouts

    rig = loaded.rig
    cases = zip(
        built.circuits,
        study(loaded, built),
        behaviour(loaded, built),
        loaded.plugs,
        fault_study(loaded, built),
        strict=True,
    )
    flasher = flasher_facts(loaded)
    supply = rig.adapter.supply
    return Design(
        cases=tuple(
            Case(circuit, solved.trusted(), solved.troubles(), table, f"-X{index + 2}", plug, faults)
            for index, (circuit, solved, table, plug, faults) in enumerate(cases)
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
        limits=_limits(rig.rules),
        supply_feed=supply.feed if supply and supply.kind == "converter" else None,
        supply_feed_live=supply_live(loaded),
        supply_origin=loaded.origin(("adapter", "supply", "feed")) or loaded.origin(("adapter", "supply")),
        missing_feed=built.missing_feed,
        vehicle_origin=loaded.origin(("vehicle", "socket")),
        trailer_origins=tuple(loaded.origin(("trailer", index, "plug")) for index in range(len(rig.trailer))),
        unfused_circuits=unfused_circuits(loaded, built),
        flasher=FlasherFacts(**flasher) if flasher else None,
    )


def _limits(rules: Rules) -> Limits:
    """Return the limits of the check: the user's where there are any, else the catalogue's."""
    from wiregen.catalogue.defaults import default
    from wiregen.check.case import Limits

    return Limits(
        lowest_lamp_share=rules.lowest_lamp_voltage or 1 - default("lamp_drop_error").value,
        lowest_lamp_source="rig file" if rules.lowest_lamp_voltage else default("lamp_drop_error").source,
        lamp_drop_share=rules.lamp_drop_warning or default("lamp_drop_warn").value,
        lamp_drop_source="rig file" if rules.lamp_drop_warning else default("lamp_drop_warn").source,
        fuse_factor=rules.fuse_share or default("fuse_continuous_factor").value,
        fuse_factor_source="rig file" if rules.fuse_share else default("fuse_continuous_factor").source,
        ground_return_ohm=rules.ground_return_ohm,
    )


def readings(loaded: LoadedRig, state: str | None = None, trailer: str | None = None) -> ReadingSheet:
    """Work out what a meter shows at contacts, lamps and supplies.

    Args:
        loaded: The rig.
        state: Controls as a comma list, ``service lights, brake``; every single control in turn when None.
        trailer: Name of a trailer; all of them when None.

    Raises:
        InputError: The state or the trailer is none.
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.build.circuit import vehicle_signals
    from wiregen.model.reading import ReadingSheet
    from wiregen.model.state_words import states_from
    from wiregen.solve.readings import READ_CORNERS, read_states

    signals = vehicle_signals(loaded)
    wanted = None if state is None else states_from(state, signals)
    circuits = _trailers(build(loaded), trailer)
    return ReadingSheet(
        title=loaded.rig.title,
        digest=loaded.digest,
        corners=tuple(corner.words for corner in READ_CORNERS),
        shells={(c.trailer, name): shell.short for c in circuits for name, shell in c.shells.items()},
        states=tuple(one for circuit in circuits for one in read_states(circuit, signals, wanted)),
    )


def netlists(
    loaded: LoadedRig, state: str | None = None, corner: str = "nominal", trailer: str | None = None
) -> tuple[dict[str, str], tuple[str, ...]]:
    """Write operating points as SPICE netlists; texts by file stem, and in words which points are left out and why.

    Args:
        loaded: The rig.
        state: Controls as a comma list; every state that sets the switches differently when None.
        corner: Corner in words, ``battery low, hot``.
        trailer: Name of a trailer; all of them when None.

    Raises:
        InputError: The state, the corner or the trailer is none.
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.build.circuit import vehicle_signals
    from wiregen.model.state_words import corner_from, states_from
    from wiregen.packet.netlist import Laws, file_stem, netlist_text, point_of
    from wiregen.solve import devices
    from wiregen.solve.chosen import every_state, solve_chosen, states_of

    signals, at = vehicle_signals(loaded), corner_from(corner)
    laws = Laws(
        filament_exponent=devices.FILAMENT_EXPONENT,
        led_ramp=devices.LED_RAMP,
        led_bleed_ohm=devices.LED_BLEED_OHM,
        converter_bleed_ohm=devices.CONVERTER_BLEED_OHM,
    )
    texts: dict[str, str] = {}
    left_out: list[str] = []
    for circuit in _trailers(build(loaded), trailer):
        states = every_state(circuit, signals) if state is None else states_of(circuit, *states_from(state, signals))
        chosen = solve_chosen(circuit, signals, states, (at,))
        left_out += [f"{circuit.trailer}, {words}: {why}" for why, words in chosen.study.troubles()]
        for row in (row for row, why in enumerate(chosen.study.trouble) if not why):
            stem = file_stem(circuit.trailer, chosen.study.points[row], texts)
            texts[stem] = netlist_text(point_of(chosen.circuits[0], chosen.study, row), laws)
    return texts, tuple(left_out)


def _trailers(built: Built, name: str | None) -> tuple[Circuit, ...]:
    """Return the circuits of one trailer, by its name in any case, or of all.

    Raises:
        InputError: There is no such trailer.
    """
    from wiregen.errors import InputError, guess

    if name is None:
        return built.circuits
    known = [circuit.trailer for circuit in built.circuits]
    found = tuple(circuit for circuit in built.circuits if circuit.trailer.lower() == name.strip().lower())
    if not found:
        raise InputError(f"--trailer {name!r} is no trailer of this rig{guess(name, known)} It has: {', '.join(known)}")
    return found


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
