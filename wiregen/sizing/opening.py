"""The first step: read a rig file, and choose what it leaves open."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from wiregen.sizing.ask import sized

if TYPE_CHECKING:
    from wiregen.rig.loaded import LoadedRig


def load(path: Path | str) -> LoadedRig:
    """Read a rig file with the pinouts it names; a value is chosen for each "auto" and listed with the assumptions.

    Raises:
        InputError: With every misfit, each with its place; or no value for an "auto" keeps the rules.
    """
    return sized(read(path))


def read(path: Path | str) -> LoadedRig:
    """Read a rig file as it is, with "auto" in the places where it stands: ``size`` wants it so.

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

    return sized(load_rig_text(text, beside, name))
