"""Read a rig file with the pinouts it names, and check what one record alone cannot know."""

from __future__ import annotations

import hashlib
from pathlib import Path

from wiregen.catalogue.connector import Connector
from wiregen.errors import InputError, Problem
from wiregen.loader.cross import cross_check, with_choices
from wiregen.loader.diagnose import mark, origin, validate
from wiregen.loader.pinout_files import find_pinout, read_pinout, unknown_pinout
from wiregen.loader.reading import TomlDocument, parse_toml, read_toml
from wiregen.rig.loaded import LoadedRig, ReadFile
from wiregen.rig.records import Rig


def load_rig(path: Path) -> LoadedRig:
    """Read a rig file.

    Raises:
        InputError: With every misfit in the file, its pinouts, and between them.
    """
    return _load(read_toml(path), path)


def load_rig_text(text: str, beside: Path | None = None, name: str = "rig.toml") -> LoadedRig:
    """Read a rig from text; ``beside`` is the folder in which a user's own pinouts are looked for.

    Raises:
        InputError: As ``load_rig``.
    """
    return _load(parse_toml(text, name), (beside / name) if beside else None)


def _load(document: TomlDocument, path: Path | None) -> LoadedRig:
    rig = validate(document, Rig)
    beside = path.parent if path else None
    problems: list[Problem] = []
    digest = hashlib.sha256(document.text.encode())
    files = {document.file: digest.hexdigest()}

    def pinout(name: str, where: tuple[str | int, ...]) -> Connector | None:
        found = find_pinout(name, beside)
        if found is None:
            problems.append(Problem(unknown_pinout(name), (mark(document, where),), ".".join(map(str, where))))
            return None
        try:
            connector = read_pinout(found)
        except InputError as error:
            problems.extend(error.problems)
            return None
        content = found.read_bytes()
        digest.update(content)
        files[str(found)] = hashlib.sha256(content).hexdigest()
        return connector

    socket = pinout(rig.vehicle.socket, ("vehicle", "socket"))
    plugs = [pinout(trailer.plug, ("trailer", index, "plug")) for index, trailer in enumerate(rig.trailer)]
    chosen_socket = with_choices(document, socket, rig.vehicle.choose, ("vehicle", "choose"), problems)
    chosen_plugs = tuple(
        with_choices(document, plug, trailer.choose, ("trailer", index, "choose"), problems)
        for index, (trailer, plug) in enumerate(zip(rig.trailer, plugs, strict=True))
    )
    problems.extend(cross_check(document, rig, chosen_plugs))
    known_plugs = tuple(plug for plug in chosen_plugs if plug is not None)
    if problems or chosen_socket is None:
        # A pinout that two trailers share is read twice; its problems are told once, behind those of the rig itself.
        raise InputError(sorted(dict.fromkeys(problems), key=lambda problem: _order(document.file, problem)))
    return LoadedRig(
        rig=rig,
        socket=chosen_socket,
        plugs=known_plugs,
        digest=digest.hexdigest()[:12],
        path=path,
        origin=lambda key: origin(document, key),
        files=tuple(ReadFile(*one) for one in files.items()),
    )


def _order(file: str, problem: Problem) -> tuple[bool, str, int, int]:
    """Sort by place, the rig file before its pinouts, what has no place at the end."""
    if not problem.marks:
        return True, "", 0, 0
    place = problem.marks[0]
    return place.file != file, place.file, place.line, place.column
