"""Finding a fault: the book of all faults of a rig, and what is read off it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from wiregen.catalogue.connector import Connector
    from wiregen.design.design import Design
    from wiregen.model.circuit import Circuit
    from wiregen.model.fault_guide import Coverage, FaultGuide
    from wiregen.questions.faults.diagnosis import FaultBook, FaultCase
    from wiregen.questions.faults.finder import Finder
    from wiregen.questions.faults.mixups import Family

#: What can hurt while somebody looks for a fault by the road; common practice, no source.
CAUTIONS = (
    "Stand where no traffic can hit you, chock the wheels. Do not drive on with dark stop, turn or tail lamps.",
    "You work on a live circuit: rings and watch off, no probe across two contacts. Never fit a larger fuse, "
    "never bridge one: it may burn.",
)
BRAKE_CAUTION = "Trailer brakes that are dead, weak or stuck: do not tow until they are mended and tried."
LAST_WORD = (
    "Worked out from the rig file; how often each fault happens is common practice without a source. Local codes and "
    "qualified people have the last word."
)


def fault_book(design: Design, trailer: str | None = None) -> FaultBook:
    """Work out what every single fault looks like in every setting, with one trailer coupled.

    Args:
        design: The rig.
        trailer: Name of the trailer; may be None where the rig has only one.

    Raises:
        InputError: There is no such trailer, or none is named and there are several.
        SolveError: The circuit cannot be solved at all.
    """
    from wiregen.questions.faults.library import fault_cases

    circuit, pinouts = _coupled(design, trailer)
    return _solved(design, circuit, fault_cases(circuit, pinouts, _families(pinouts)))


def fault_finder(design: Design, trailer: str | None = None) -> Finder:
    """Return what finds the fault of a rig: give it what was seen, and it names suspects and the next check.

    Raises:
        InputError: As ``fault_book``.
        SolveError: As ``fault_book``.
    """
    from wiregen.catalogue.faults import CHECK_KINDS
    from wiregen.questions.faults.checks import Efforts
    from wiregen.questions.faults.finder import Finder

    book = fault_book(design, trailer)
    braked = any(one.function == "brake" for one in book.watched)
    return Finder(
        book,
        Efforts({name: kind.effort for name, kind in CHECK_KINDS.items()}),
        lambda cases: _solved(design, book.circuit, cases),
        title=design.title,
        digest=design.digest,
        cautions=(*CAUTIONS, *((BRAKE_CAUTION,) if braked else ()), LAST_WORD),
    )


def fault_guide(design: Design, trailer: str | None = None) -> tuple[FaultGuide, ...]:
    """Return for each symptom the checks in order, with what they show on this rig: one guide a trailer.

    Raises:
        InputError: There is no such trailer.
        SolveError: As ``fault_book``.
    """
    from wiregen.questions.faults.guide import fault_guide as make

    names = design.trailers if trailer is None else (trailer,)
    return tuple(make(fault_finder(design, name)) for name in names)


def fault_coverage(design: Design, trailer: str | None = None) -> tuple[Coverage, ...]:
    """Tell how well faults can be found: checks, silent faults, the best test point; one report a trailer.

    Raises:
        InputError: There is no such trailer.
        SolveError: As ``fault_book``.
    """
    from wiregen.questions.faults.coverage import coverage

    names = design.trailers if trailer is None else (trailer,)
    return tuple(coverage(fault_finder(design, name)) for name in names)


def _solved(design: Design, circuit: Circuit, cases: Sequence[FaultCase]) -> FaultBook:
    from wiregen.questions.faults.behaviour import fault_book as solve_book
    from wiregen.questions.faults.points import meter_points, watched

    return solve_book(circuit, design.signals, cases, watched(circuit), meter_points(circuit))


def _coupled(design: Design, trailer: str | None) -> tuple[Circuit, Mapping[str, Connector]]:
    """Return the circuit with one trailer and the wirings of its connectors by designation."""
    number = design.trailer_index(trailer)
    pinouts = {"-X1": design.loaded.socket, f"-X{number + 2}": design.loaded.plugs[number]}
    return design.circuits[number], pinouts


def _families(pinouts: Mapping[str, Connector]) -> dict[str, Sequence[Family]]:
    """Return the built-in wirings that mate with each connector, but for its own."""
    from wiregen.loader.pinout_files import built_in_pinouts
    from wiregen.questions.faults.mixups import Family

    return {
        designation: [
            Family(name, other)
            for name, other in built_in_pinouts()
            if other.shell == pinout.shell and other.short != pinout.short
        ]
        for designation, pinout in pinouts.items()
    }
