"""Finding a fault: the book of all faults of a rig."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiregen.pipeline.steps import build

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from wiregen.build.fault_mixups import Family
    from wiregen.catalogue.connector import Connector
    from wiregen.model.circuit import Circuit
    from wiregen.model.diagnosis import FaultBook
    from wiregen.rig.loaded import LoadedRig


def fault_book(loaded: LoadedRig, trailer: str | None = None) -> FaultBook:
    """Work out what every single fault looks like in every setting, with one trailer coupled.

    Args:
        loaded: The rig.
        trailer: Name of the trailer; may be None where the rig has only one.

    Raises:
        InputError: There is no such trailer, or none is named and there are several.
        SolveError: The circuit cannot be solved at all.
    """
    from wiregen.build.circuit import vehicle_signals
    from wiregen.build.fault_library import fault_cases
    from wiregen.build.fault_points import meter_points, watched
    from wiregen.solve.fault_behaviour import fault_book as solve_book

    circuit, pinouts = _coupled(loaded, trailer)
    cases = fault_cases(circuit, pinouts, _families(pinouts))
    return solve_book(circuit, vehicle_signals(loaded), cases, watched(circuit), meter_points(circuit))


def _coupled(loaded: LoadedRig, trailer: str | None) -> tuple[Circuit, Mapping[str, Connector]]:
    """Return the circuit with one trailer and the wirings of its connectors by designation."""
    from wiregen.errors import InputError, guess

    built = build(loaded)
    names = [circuit.trailer for circuit in built.circuits]
    if trailer is None and len(names) > 1:
        raise InputError(f"--trailer is needed: this rig has {', '.join(names)}")
    wanted = (trailer or names[0]).strip().lower()
    number = next((n for n, name in enumerate(names) if name.lower() == wanted), None)
    if number is None:
        words = f"--trailer {trailer!r} is no trailer of this rig{guess(wanted, names)} It has: {', '.join(names)}"
        raise InputError(words)
    return built.circuits[number], {"-X1": loaded.socket, f"-X{number + 2}": loaded.plugs[number]}


def _families(pinouts: Mapping[str, Connector]) -> dict[str, Sequence[Family]]:
    """Return the built-in wirings that mate with each connector, but for its own."""
    from wiregen.build.fault_mixups import Family
    from wiregen.load.pinout_files import built_in_pinouts

    return {
        designation: [
            Family(name, other)
            for name, other in built_in_pinouts()
            if other.shell == pinout.shell and other.short != pinout.short
        ]
        for designation, pinout in pinouts.items()
    }
