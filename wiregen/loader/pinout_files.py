"""Find and read pinouts: those that come with wiregen, and a user's own beside the rig file."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from wiregen.catalogue.connector import Connector
from wiregen.catalogue.sources import known_keys
from wiregen.errors import InputError, Problem, guess, nearest
from wiregen.loader.diagnose import clash, mark, validate
from wiregen.loader.reading import TomlDocument, read_toml


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
    problems = [*_doubled(document, connector), *_strangers(document, connector)]
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


def _strangers(document: TomlDocument, connector: Connector) -> list[Problem]:
    """Return references to marks or sources that do not exist."""
    marks = {contact.mark for contact in connector.contact}
    sources = set(known_keys()) | set(connector.source_titles)
    problems = []

    def refuse(message: str, path: tuple[str | int, ...]) -> None:
        problems.append(Problem(message, (mark(document, path),)))

    def check_marks(names: tuple[str, ...], path: tuple[str | int, ...]) -> None:
        for name in names:
            if name not in marks:
                refuse(f"there is no contact {name!r}{nearest(name, marks)}", path)

    for index, group in enumerate(connector.ties):
        check_marks(group, ("bridged", index))
    for index, shared in enumerate(connector.shared_rating):
        check_marks(shared.marks, ("shared_rating", index, "marks"))
    for index, contact in enumerate(connector.contact):
        check_marks(contact.return_for, ("contact", index, "return_for"))
        if contact.circuit == "choose" and not contact.choices:
            refuse("a contact that is to be chosen needs its choices", ("contact", index, "circuit"))
        for key in contact.sources:
            if key not in sources:
                hint = nearest(key, sources)
                refuse(
                    f"source {key!r} is not known{hint or '.'} Name it under [source_titles] if it is your own",
                    ("contact", index, "sources"),
                )
    return problems
