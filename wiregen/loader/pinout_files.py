"""Find and read pinouts: those that come with wiregen, and a user's own beside the rig file."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

from wiregen.catalogue.circuits import GROUNDS
from wiregen.catalogue.connector import Connector, FieldProofs
from wiregen.catalogue.sources import known_keys
from wiregen.errors import InputError, Problem, guess, nearest
from wiregen.loader.diagnose import clash, mark, validate
from wiregen.loader.reading import TomlDocument, read_toml
from wiregen.loader.toml_places import KeyPath
from wiregen.quantity import parse_size

#: What is wrong, and at which key of the file.
Misfit = tuple[str, KeyPath]


def pinout_folder() -> Path:
    """Return the folder of the pinouts that come with wiregen: inside the package, or beside it in a checkout."""
    inside = Path(__file__).parent.parent / "_pinouts"
    return inside if inside.is_dir() else Path(__file__).parent.parent.parent / "pinouts"


@cache
def built_in_names() -> tuple[str, ...]:
    """Return the names of the pinouts that come with wiregen, sorted."""
    return tuple(sorted(path.stem for path in pinout_folder().glob("*.toml")))


def find_pinout(name: str, beside: Path | None) -> Path | None:
    """Return the file of a pinout: ``name`` is a built-in name, or a file (with or without .toml) beside the rig.

    A user's own file wins over a built-in one only when it is named with its ending or its folder, so that nobody
    replaces a built-in wiring by accident.
    """
    if name in built_in_names():
        return pinout_folder() / f"{name}.toml"
    if beside is None:
        return None
    for candidate in (beside / name, beside / f"{name}.toml", beside / "pinouts" / f"{name}.toml"):
        if candidate.is_file():
            return candidate
    return None


def unknown_pinout(name: str) -> str:
    """Return the message for a name that is no pinout."""
    hint = guess(name, built_in_names())
    return (
        f"{name!r} is neither a built-in pinout nor a file beside the rig file{hint} "
        f"Built in: {', '.join(built_in_names())}"
    )


def read_pinout(path: Path) -> Connector:
    """Read one pinout file; one that comes with wiregen once, a user's own each time, since it may have changed.

    Raises:
        InputError: With every misfit.
    """
    return _built_in(path) if path.parent == pinout_folder() else _read(path)


@cache
def _built_in(path: Path) -> Connector:
    return _read(path)


def _read(path: Path) -> Connector:
    document = read_toml(path)
    connector = validate(document, Connector)
    problems = _doubled(document, connector)
    for check in (_strange_marks, _wrong_returns, _wrong_contacts, _strange_sources):
        problems += [Problem(message, (mark(document, path),)) for message, path in check(connector)]
    if problems:
        raise InputError(problems)
    return connector


def built_in_pinouts() -> tuple[tuple[str, Connector], ...]:
    """Read every built-in pinout; (name, pinout) pairs."""
    return tuple((name, read_pinout(pinout_folder() / f"{name}.toml")) for name in built_in_names())


def _doubled(document: TomlDocument, connector: Connector) -> list[Problem]:
    first: dict[str, int] = {}
    problems = []
    for index, contact in enumerate(connector.contact):
        if contact.mark in first:
            paths = (("contact", index, "mark"), ("contact", first[contact.mark], "mark"))
            problems.append(clash(document, f"contact {contact.mark!r} is written twice", *paths))
        first.setdefault(contact.mark, index)
    return problems


def _strange_marks(connector: Connector) -> Iterator[Misfit]:
    """Yield references to contacts that do not exist."""
    marks = {contact.mark for contact in connector.contact}
    named: list[tuple[tuple[str, ...], KeyPath]] = [(group, ("bridged", n)) for n, group in enumerate(connector.ties)]
    named += [(shared.marks, ("shared_rating", n, "marks")) for n, shared in enumerate(connector.shared_rating)]
    for index, contact in enumerate(connector.contact):
        named.append((contact.return_for, ("contact", index, "return_for")))
        if contact.returns_by is not None:
            named.append(((contact.returns_by,), ("contact", index, "returns_by")))
    for names, path in named:
        for name in names:
            if name not in marks:
                yield f"there is no contact {name!r}{nearest(name, marks)}", path


def _wrong_returns(connector: Connector) -> Iterator[Misfit]:
    """Yield what is wrong with the contacts by which loads return: each load has one, and it is a ground."""
    grounds = {contact.mark for contact in connector.contact if contact.circuit in GROUNDS}
    known = f" Grounds here: {', '.join(sorted(grounds)) or 'none'}"
    for index, contact in enumerate(connector.contact):
        by, path = connector.find(contact.returns_by or ""), ("contact", index, "returns_by")
        if by and by.mark not in grounds:
            yield f"contact {by.mark!r} is no ground, and a load returns by a ground contact.{known}", path
        elif by and contact.mark in grounds:
            yield f"contact {contact.mark!r} is a ground itself: it returns by no other", path
        path = ("contact", index, "return_for")
        if contact.return_for and contact.mark not in grounds:
            yield f"contact {contact.mark!r} is no ground, and a load returns by a ground contact.{known}", path
        for name in contact.return_for:
            load = connector.find(name)
            if load and load.returns_by not in (None, contact.mark):
                yield f"contact {name!r} says that it returns by {load.returns_by!r}", path


def _wrong_contacts(connector: Connector) -> Iterator[Misfit]:
    """Yield contacts to be chosen without choices, and ranges of wire that run the wrong way."""
    for index, contact in enumerate(connector.contact):
        if contact.circuit == "choose" and not contact.choices:
            yield "a contact that is to be chosen needs its choices", ("contact", index, "circuit")
        takes = contact.takes
        if takes and parse_size(takes.smallest).area_mm2 > parse_size(takes.largest).area_mm2:
            message = f"the smallest wire, {takes.smallest}, is thicker than the largest, {takes.largest}"
            yield message, ("contact", index, "takes")


def _strange_sources(connector: Connector) -> Iterator[Misfit]:
    """Yield source keys that are neither built in nor the file's own."""
    cited: list[tuple[tuple[str, ...], KeyPath]] = list(_proofs(connector.proof, ("proof",)))
    for index, contact in enumerate(connector.contact):
        cited += [
            (contact.sources, ("contact", index, "sources")),
            *_proofs(contact.proof, ("contact", index, "proof")),
        ]
    sources = set(known_keys()) | set(connector.source_titles)
    for keys, path in cited:
        for key in keys:
            if key not in sources:
                hint = nearest(key, sources) or "."
                yield f"source {key!r} is not known{hint} Name it under [source_titles] if it is your own", path


def _proofs(proofs: FieldProofs, path: KeyPath) -> Iterator[tuple[tuple[str, ...], KeyPath]]:
    for name, proof in proofs:
        if proof is not None:
            yield proof.sources, (*path, name, "sources")
