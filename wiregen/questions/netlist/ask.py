"""The circuit as a simulator reads it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wiregen.design.design import Design


def netlists(
    design: Design, state: str | None = None, corner: str = "nominal", trailer: str | None = None
) -> tuple[dict[str, str], tuple[str, ...]]:
    """Write operating points as SPICE netlists; texts by file stem, and in words which points are left out and why.

    Args:
        design: The rig.
        state: Controls as a comma list; every state that sets the switches differently when None.
        corner: Corner in words, ``battery low, hot``.
        trailer: Name of a trailer; all of them when None.

    Raises:
        InputError: The state, the corner or the trailer is none.
        SolveError: A circuit cannot be solved at all.
    """
    from wiregen.model.state_words import corner_from, states_from
    from wiregen.questions.netlist.spice import Laws, file_stem, netlist_text, point_of
    from wiregen.solve import devices
    from wiregen.solve.chosen import every_state, solve_chosen, states_of

    signals, at = design.signals, corner_from(corner)
    laws = Laws(
        filament_exponent=devices.FILAMENT_EXPONENT,
        led_ramp=devices.LED_RAMP,
        led_bleed_ohm=devices.LED_BLEED_OHM,
        converter_bleed_ohm=devices.CONVERTER_BLEED_OHM,
    )
    texts: dict[str, str] = {}
    left_out: list[str] = []
    circuits = design.circuits if trailer is None else (design.circuits[design.trailer_index(trailer)],)
    for circuit in circuits:
        states = every_state(circuit, signals) if state is None else states_of(circuit, *states_from(state, signals))
        chosen = solve_chosen(circuit, signals, states, (at,))
        left_out += [f"{circuit.trailer}, {words}: {why}" for why, words in chosen.study.troubles()]
        for row in (row for row, why in enumerate(chosen.study.trouble) if not why):
            stem = file_stem(circuit.trailer, chosen.study.points[row], texts)
            texts[stem] = netlist_text(point_of(chosen.circuits[0], chosen.study, row), laws)
    return texts, tuple(left_out)
