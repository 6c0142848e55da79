"""Finding a fault: the book of all faults of a rig, and what is read off it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiregen.design.steps import build

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from wiregen.catalogue.connector import Connector
    from wiregen.model.circuit import Circuit
    from wiregen.model.fault_guide import Coverage, FaultGuide
    from wiregen.questions.faults.diagnosis import FaultBook, FaultCase
    from wiregen.questions.faults.finder import Finder
    from wiregen.questions.faults.mixups import Family
    from wiregen.rig.loaded import LoadedRig

#: What can hurt while somebody looks for a fault by the road; common practice, no source.
CAUTIONS = (
    "Stand where no traffic can hit you, chock the wheels. Do not drive on with dark stop, turn or tail lamps.",
    "You work on a live circuit: rings and watch off, no probe across two contacts. Never fit a larger fuse, "
    "never bridge one: it may burn.",
)
BRAKE_CAUTION = "Trailer brakes that are dead, weak or stuck: do not tow until they are mended and tried."
LAST_WORD = (
    "Worked out from the rig file; how often each fault happens is common practice without a source. Local codes and "
    "licensed people have the last word."
)


def fault_book(loaded: LoadedRig, trailer: str | None = None) -> FaultBook:
    """Work out what every single fault looks like in every setting, with one trailer coupled.

    Args:
        loaded: The rig.
        trailer: Name of the trailer; may be None where the rig has only one.

    Raises:
        InputError: There is no such trailer, or none is named and there are several.
        SolveError: The circuit cannot be solved at all.
    """
    from wiregen.questions.faults.library import fault_cases

    circuit, pinouts = _coupled(loaded, trailer)
    return _solved(loaded, circuit, fault_cases(circuit, pinouts, _families(pinouts)))


def fault_finder(loaded: LoadedRig, trailer: str | None = None) -> Finder:
    """Return what finds the fault of a rig: give it what was seen, and it names suspects and the next check.

    Raises:
        InputError: As ``fault_book``.
        SolveError: As ``fault_book``.
    """
    from wiregen.catalogue.faults import CHECK_KINDS
    from wiregen.questions.faults.checks import Efforts
    from wiregen.questions.faults.finder import Finder

    book = fault_book(loaded, trailer)
    braked = any(one.function == "brake" for one in book.watched)
    return Finder(
        book,
        Efforts({name: kind.effort for name, kind in CHECK_KINDS.items()}),
        lambda cases: _solved(loaded, book.circuit, cases),
        title=loaded.rig.title,
        digest=loaded.digest,
        cautions=(*CAUTIONS, *((BRAKE_CAUTION,) if braked else ()), LAST_WORD),
    )


def fault_guide(loaded: LoadedRig, trailer: str | None = None) -> tuple[FaultGuide, ...]:
    """Return for each symptom the checks in order, with what they show on this rig: one guide a trailer.

    Raises:
        InputError: There is no such trailer.
        SolveError: As ``fault_book``.
    """
    from wiregen.questions.faults.guide import fault_guide as make

    names = trailer_names(loaded) if trailer is None else (trailer,)
    return tuple(make(fault_finder(loaded, name)) for name in names)


def fault_coverage(loaded: LoadedRig, trailer: str | None = None) -> tuple[Coverage, ...]:
    """Tell how well faults can be found: checks, silent faults, the best test point; one report a trailer.

    Raises:
        InputError: There is no such trailer.
        SolveError: As ``fault_book``.
    """
    from wiregen.questions.faults.coverage import coverage

    names = trailer_names(loaded) if trailer is None else (trailer,)
    return tuple(coverage(fault_finder(loaded, name)) for name in names)


def trailer_names(loaded: LoadedRig) -> tuple[str, ...]:
    """Return the names of a rig's trailers."""
    return tuple(trailer.name for trailer in loaded.rig.trailer)


def _solved(loaded: LoadedRig, circuit: Circuit, cases: Sequence[FaultCase]) -> FaultBook:
    from wiregen.circuit.build import vehicle_signals
    from wiregen.questions.faults.behaviour import fault_book as solve_book
    from wiregen.questions.faults.points import meter_points, watched

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
    from wiregen.load.pinout_files import built_in_pinouts
    from wiregen.questions.faults.mixups import Family

    return {
        designation: [
            Family(name, other)
            for name, other in built_in_pinouts()
            if other.shell == pinout.shell and other.short != pinout.short
        ]
        for designation, pinout in pinouts.items()
    }
