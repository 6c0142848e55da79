"""What a meter shows, and the circuit as a simulator reads it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiregen.design.steps import build

if TYPE_CHECKING:
    from wiregen.circuit.build import Built
    from wiregen.model.circuit import Circuit
    from wiregen.model.reading import ReadingSheet
    from wiregen.rig.loaded import LoadedRig


def readings(loaded: LoadedRig, state: str | None = None, trailer: str | None = None) -> ReadingSheet:
    """Work out what a meter shows at contacts, lamps and supplies.

    Args:
        loaded: The rig.
        state: Controls as a comma list, ``service lights, brake``; every single control in turn, and the setting that
            takes most, when None.
        trailer: Name of a trailer; all of them when None.

    Raises:
        InputError: The state or the trailer is none.
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.chart.measure import switch_notes
    from wiregen.circuit.build import vehicle_signals
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
        notes=switch_notes(loaded),
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
    from wiregen.circuit.build import vehicle_signals
    from wiregen.model.state_words import corner_from, states_from
    from wiregen.questions.netlist.spice import Laws, file_stem, netlist_text, point_of
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
