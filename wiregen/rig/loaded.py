"""A rig file after reading: the records, the pinouts it names, and where everything was written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path as FilePath

from wiregen.catalogue.connector import Connector
from wiregen.model.finding import Assumption
from wiregen.model.origin import Origin
from wiregen.rig.records import Rig

KeyPath = tuple[str | int, ...]


def _nowhere(path: KeyPath) -> Origin | None:
    del path
    return None


@dataclass(frozen=True, slots=True)
class ReadFile:
    """A file that was read: its path as it was named, and the SHA-256 of its content."""

    path: str
    sha256: str


@dataclass(frozen=True)
class LoadedRig:
    """A rig that passed every check on its text.

    Attributes:
        rig: The records.
        socket: Pinout of the vehicle socket, with the rig's choices filled in.
        plugs: Pinout of each trailer's plug, with the trailer's choices filled in.
        digest: Twelve hexadecimal digits over the rig file and the pinouts.
        path: The file, or None for a rig made in a program.
        origin: Gives the place of a key path such as ``("trailer", 0, "lamp", 2)``, or None where it has none.
        files: Every file that was read.
        chosen: What was put in the place of each "auto", to be listed with the assumptions.
    """

    rig: Rig
    socket: Connector
    plugs: tuple[Connector, ...]
    digest: str
    path: FilePath | None = None
    origin: Callable[[KeyPath], Origin | None] = field(default=_nowhere)
    files: tuple[ReadFile, ...] = ()
    chosen: tuple[Assumption, ...] = ()
