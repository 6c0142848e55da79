"""Which way to convert, and which box: rigs rewritten, sized, studied and checked as any other rig."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wiregen.check.case import Case
    from wiregen.convert.rewrite import Rewritten
    from wiregen.convert.ways import Way
    from wiregen.design.design import Design
    from wiregen.draw.scene import Scene
    from wiregen.draw.sheet import Paper
    from wiregen.model.comparison import Comparison, LampLight, ResistorRow, WayResult
    from wiregen.model.study import Study
    from wiregen.rig.loaded import LoadedRig


def compare(design: Design, trailer: str | None = None) -> Comparison:
    """Convert a rig in every way there is, and put what comes of it side by side.

    Args:
        design: The rig.
        trailer: Name of a trailer; all of them when None.

    Raises:
        InputError: The vehicle is no 24 V one, or the trailer is none.
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.convert.rewrite import chosen_trailer
    from wiregen.convert.ways import WAYS
    from wiregen.errors import InputError
    from wiregen.questions.ways.compare import compare as compare_ways

    if design.rig.vehicle.battery.nominal != "24 V":
        raise InputError("the vehicle of this rig has 12 V: there is nothing to convert, and nothing to compare")
    chosen = chosen_trailer(design, trailer)
    return compare_ways(
        design.title,
        design.digest,
        tuple(one.name for one in chosen.rig.trailer),
        WAYS,
        lambda way: way_result(chosen, way),
        _questions(chosen),
    )


def _questions(loaded: LoadedRig) -> tuple[str, ...]:
    """Return what the rig does not say and what would change the table."""
    vehicle = loaded.rig.vehicle
    asked = []
    if vehicle.battery.pair is None:
        asked.append(
            "Are the 24 V two 12 V batteries with a joint one can reach? Taken so; say pair under [vehicle.battery]."
        )
    if vehicle.flasher is None:
        asked.append(
            "Which flasher has the vehicle? Say [vehicle.flasher] with its lowest load, and the check compares."
        )
    if vehicle.bulb_monitor is None:
        asked.append("Does the vehicle watch for a lamp that is out? Say bulb_monitor under [vehicle].")
    return tuple(asked)


def way_result(loaded: LoadedRig, way: Way) -> WayResult:
    """Convert a rig in one way, check it, and return what came of it."""
    from wiregen.convert.rewrite import rewrite
    from wiregen.design.design import Design
    from wiregen.model.comparison import WayResult
    from wiregen.questions.ways import numbers as way_numbers
    from wiregen.questions.ways.sizes import sized

    made = rewrite(loaded, way)
    if made.why_not:
        return WayResult(
            id=way.id,
            title=way.title,
            short=way.short,
            fit="no",
            why_not=made.why_not,
            stays_12v=way.stays_12v,
            trailer_words=_trailer_words(made, way),
            other_words=way.other_words,
            changes=made.changes,
        )
    final, assumed = sized(made, way)
    design = Design(final)
    case = design.case
    lowest, highest = way_numbers.lights(case)
    heat_w, places, heat_state = way_numbers.heat(case)
    from_24v_a, state, tap_a, lost = way_numbers.drawn(case)
    resistors = _resistors(final, case) if way.device == "resistor" else ()
    return WayResult(
        id=way.id,
        title=way.title,
        short=way.short,
        is_present=_is_present(loaded, made, way),
        findings=design.findings,
        states=sum(len(coupling.study.points) for coupling in case.couplings),
        untrusted=sum(len(coupling.troubles) for coupling in case.couplings),
        lowest=lowest,
        highest=highest,
        heat_w=heat_w,
        heat_places=places,
        heat_state=heat_state,
        from_24v_a=from_24v_a,
        from_24v_state=state,
        tap_a=tap_a,
        imbalance_ah_per_h=lost,
        parts=way_numbers.parts(design.built),
        stays_12v=way.stays_12v,
        keeps_voltage=way.lamps == "wide range" or not made.changes,
        trailer_words=_trailer_words(made, way),
        other_words=way.other_words,
        brake_words=_brake_words(final),
        changes=made.changes,
        behind_12v=_behind_12v(made, way),
        resistors=resistors,
        notes=(*made.notes, *_notes(final, case, way)),
        assumptions=assumed,
    )


def _is_present(loaded: LoadedRig, made: Rewritten, way: Way) -> bool:
    """Return whether the rig file is this way already."""
    from wiregen.rig.devices import CentreTapSupply

    supply = loaded.rig.adapter.supply
    has_equaliser = isinstance(supply, CentreTapSupply) and supply.equaliser_a is not None
    return made.loaded.rig == loaded.rig and (has_equaliser or not way.equaliser)


def _trailer_words(made: Rewritten, way: Way) -> str:
    """Return what a way does to the trailer, as it is today."""
    if way.lamps == "12 V" and made.changes:
        return "Becomes a 12 V trailer: its lamps for 24 V are changed."
    if way.lamps != "12 V" and not made.changes:
        return "Nothing on it changes: its lamps work at 24 V already."
    return way.trailer_words


def _brake_words(loaded: LoadedRig) -> str:
    """Return what feeds the electric brakes; empty where no trailer has any."""
    from wiregen.catalogue.devices import DEVICES, SUPPLIES

    if not any(trailer.brakes for trailer in loaded.rig.trailer):
        return ""
    supply = loaded.rig.adapter.supply
    channels = [channel for channel in loaded.rig.adapter.channel if "brake" in channel.outputs]
    if not channels:
        return "Nothing feeds the electric brakes: a 12 V brake controller on a 12 V supply is missing."
    channel = channels[0]
    device = DEVICES[channel.device]
    if not device.on_bus:
        where = f"A {device.word} on {channel.input.text}"
        return f"{where} feeds the electric brakes, at full force whenever it is live."
    bus = SUPPLIES[supply.kind].word if supply else "nothing"
    return f"A 12 V {device.word} on {bus} feeds the electric brakes: magnets want 12 V in every way."


def _notes(loaded: LoadedRig, case: Case, way: Way) -> tuple[str, ...]:
    """Return what the flasher sees, and which lamps have no light that follows from their voltage."""
    from wiregen.catalogue.lamps import find_lamp
    from wiregen.model.circuit import Lamp
    from wiregen.quantity import show
    from wiregen.questions.ways.numbers import flasher_a

    notes = []
    taken = flasher_a(case)
    if taken is not None:
        usual = find_lamp("p21w-24v")
        words = f"One side's turn lamps take {show(taken, 'A')} from the vehicle"
        if taken < usual.current_a:
            words += f"; one {usual.title} takes {show(usual.current_a, 'A')}. {_watchers(loaded)}"
        notes.append(f"{words}.")
    if any(lamp.technology == "points" for coupling in case.solved for lamp in coupling.circuit.of(Lamp)):
        notes.append("The light of lamps given by measured points does not follow from their voltage: not counted.")
    if way.device == "resistor":
        notes.append(
            "Why not: a resistor fits one load at one voltage. Charging, a tired battery, another trailer and every "
            "lamp that is out change what the others get."
        )
        if any(lamp.technology == "led" for coupling in case.solved for lamp in coupling.circuit.of(Lamp)):
            notes.append(
                "An LED lamp that holds its power takes more current the less voltage it gets: behind a resistor it "
                "may hang below the voltage it is made for when switched on. The numbers show one such state of two."
            )
    return tuple(notes)


def _watchers(loaded: LoadedRig) -> str:
    """Return what in the vehicle takes a small turn current for a lamp that is out."""
    watches = loaded.rig.vehicle.bulb_monitor
    if watches:
        return "This vehicle watches its lamps and will report one that is out"
    return "A flasher" + ("" if watches is False else " or a lamp monitor") + " that waits for that sees a lamp out"


def _nominal_studies(loaded: LoadedRig) -> tuple[Study, ...]:
    """Solve every state at the nominal corner, without faults."""
    from wiregen.design.design import Design
    from wiregen.model.corner import NOMINAL
    from wiregen.solve.full_study import solve_study

    design = Design(loaded)
    return tuple(solve_study(circuit, design.signals, (NOMINAL,)).trusted() for circuit in design.circuits)


def _behind_12v(made: Rewritten, way: Way) -> tuple[LampLight, ...]:
    """Return what changed lamps do behind a 12 V vehicle, each in the state that gives it most."""
    from wiregen.convert.rewrite import behind_12v
    from wiregen.model.circuit import Lamp
    from wiregen.questions.ways.numbers import brightest

    if way.lamps == "12 V":
        return ()
    return tuple(
        brightest(study, lamp)
        for study in _nominal_studies(behind_12v(made))
        if study.points
        for lamp in study.circuit.of(Lamp)
    )


def _resistors(loaded: LoadedRig, case: Case) -> tuple[ResistorRow, ...]:
    """Return every resistor with what its lamps get together, and what one gets that is left alone."""
    import numpy as np

    from wiregen.convert.rewrite import one_lamp_each
    from wiregen.model.circuit import Lamp, Resistor
    from wiregen.model.comparison import ResistorRow
    from wiregen.questions.ways.sizes import worst_trailer
    from wiregen.rig.devices import ResistorChannel
    from wiregen.solve.heat import heat_of_w

    alone = {study.circuit.trailer: study for study in _nominal_studies(one_lamp_each(loaded)) if study.points}
    rows = []
    channels = [channel for channel in enumerate(loaded.rig.adapter.channel) if isinstance(channel[1], ResistorChannel)]
    for index, channel in channels:
        name = worst_trailer(loaded, index)
        coupling = next((coupling for coupling in case.solved if coupling.circuit.trailer == name), None)
        if coupling is None or name not in alone:
            continue
        fed = {row.lamp: row.channel for row in coupling.behaviour.rows}
        lamps = [lamp for lamp in coupling.circuit.of(Lamp) if lamp.function in channel.outputs and fed.get(lamp.ref)]
        part = next(
            (e for e in coupling.circuit.of(Resistor) if lamps and e.channel in fed[lamps[0].ref].split(" + ")), None
        )
        last = next((lamp for lamp in alone[name].circuit.of(Lamp) if lamp.function in channel.outputs), None)
        if part is None or last is None:
            continue
        nominal = np.flatnonzero(coupling.nominal)
        together = min(float(np.nan_to_num(coupling.study.across_v(lamp))[nominal].max()) for lamp in lamps)
        rows.append(
            ResistorRow(
                channel=part.channel,
                trailer=name,
                resistance_ohm=part.resistance_ohm,
                heat_w=float(heat_of_w(coupling.study, part).max()),
                lamps=sum(lamp.count for lamp in lamps),
                together_v=together,
                alone_v=brightest_v(alone[name], last),
                rated_v=last.rated_v,
            )
        )
    return tuple(rows)


def brightest_v(study: Study, lamp: object) -> float:
    """Return the highest voltage across a lamp in any state of a study, V."""
    import numpy as np

    from wiregen.model.circuit import Lamp

    assert isinstance(lamp, Lamp)
    return float(np.nan_to_num(study.across_v(lamp)).max())


def comparison_scene(design: Design, made: Comparison, paper: Paper = "a4") -> Scene:
    """Lay a comparison out on one sheet."""
    from wiregen.chart.make import sheet_info
    from wiregen.questions.ways.sheet import comparison_sheet

    return comparison_sheet(made, sheet_info(design.loaded), paper)
