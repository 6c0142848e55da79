"""The steps themselves: build a rig's circuits, work out its behaviour, solve it; and the form of a rig file."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiregen.circuit.build import Built
    from wiregen.model.behaviour import Behaviour
    from wiregen.model.short import ShortStudy
    from wiregen.model.study import FaultStudy, Study
    from wiregen.questions.draft.starter import Question
    from wiregen.rig.loaded import LoadedRig


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
        InputError: An answer does not fit or belongs to no question, or a question without a default is open.
    """
    from wiregen.load.pinout_files import built_in_pinouts
    from wiregen.questions.draft.keys import refuse_strangers
    from wiregen.questions.draft.starter import answers_of, questions, rig_text

    pinouts = dict(built_in_pinouts())
    refuse_strangers(given, pinouts)
    if ask is not None:
        for question in questions(given, pinouts):
            given[question.key] = ask(question)
    return rig_text(answers_of(given, pinouts), pinouts)


def answer_keys() -> tuple[Question, ...]:
    """Return every question of a new rig file: its key is what a prepared answer is given under."""
    from wiregen.load.pinout_files import built_in_pinouts
    from wiregen.questions.draft.keys import answer_keys as keys_of

    return keys_of(dict(built_in_pinouts()))


def build(loaded: LoadedRig) -> Built:
    """Build the circuits of a rig: one for each trailer."""
    from wiregen.circuit.build import build as build_circuits

    return build_circuits(loaded)


def behaviour(loaded: LoadedRig, built: Built) -> tuple[Behaviour, ...]:
    """Work out the behaviour table of every trailer."""
    from wiregen.circuit.behaviour import behave
    from wiregen.circuit.build import vehicle_signals

    signals = vehicle_signals(loaded)
    return tuple(behave(circuit, signals) for circuit in built.circuits)


def study(loaded: LoadedRig, built: Built) -> tuple[Study, ...]:
    """Solve every state of every trailer at every corner.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.circuit.build import vehicle_signals
    from wiregen.solve.full_study import solve_study

    signals = vehicle_signals(loaded)
    return tuple(solve_study(circuit, signals) for circuit in built.circuits)


def fault_study(loaded: LoadedRig, built: Built) -> tuple[FaultStudy, ...]:
    """Solve every state of every trailer with every single fault, where voltages are highest: while charging.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.circuit.build import vehicle_signals
    from wiregen.circuit.faults import single_faults
    from wiregen.model.corner import CORNERS
    from wiregen.solve.full_study import solve_faults

    signals = vehicle_signals(loaded)
    charging = [corner for corner in CORNERS if corner.supply == "charging"]
    return tuple(solve_faults(circuit, signals, single_faults(circuit), charging) for circuit in built.circuits)


def short_study(built: Built, studies: Sequence[Study]) -> tuple[ShortStudy, ...]:
    """Solve every short circuit of every trailer in the states that make it live.

    Args:
        built: The circuits.
        studies: Their healthy studies.

    Raises:
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.circuit.shorts import shorts
    from wiregen.solve.shorts import solve_shorts

    pairs = zip(built.circuits, studies, strict=True)
    return tuple(solve_shorts(circuit, healthy, shorts(circuit)) for circuit, healthy in pairs)
