"""Turn what validation finds into problems with a place: every one in one run, in the order of the file."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final, Literal, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from wiregen.errors import InputError, LogicError, Mark, Problem
from wiregen.loader import wording
from wiregen.loader.reading import TomlDocument
from wiregen.loader.shapes import Spot, follow, kind_word, options
from wiregen.loader.toml_places import KeyPath, TextSpan, dotted
from wiregen.model.origin import Origin

On = Literal["key", "value"]
#: Misfits that are put into words; a file with more is no rig file gone wrong, but another file.
_MOST: Final = 1000
RecordT = TypeVar("RecordT", bound=BaseModel)


@dataclass(frozen=True)
class _Found:
    """One validation error, its place, and what may stand there instead where several kinds may."""

    raw: ErrorDetails
    spot: Spot
    kinds: tuple[str, ...] = ()


def validate(document: TomlDocument, model: type[RecordT]) -> RecordT:
    """Return the record that the document describes.

    Raises:
        InputError: With every misfit, sorted by line.
    """
    try:
        return model.model_validate(document.data)
    except ValidationError as error:
        raws = error.errors(include_url=False, include_input=False)
        found = [_Found(raw, follow(model, document.data, raw["loc"])) for raw in raws[:_MOST]]
    problems = _problems(document, model, found)
    if len(raws) > _MOST:
        problems.append(Problem(f"{document.file}: {len(raws) - _MOST} more misfits were not looked at"))
    raise InputError(problems)


def mark(document: TomlDocument, path: KeyPath, on: On = "value", *, word: str = "") -> Mark:
    """Return the place of a key or value as a mark.

    The value of a table with a header of its own is that header. For a path that is not written it is the
    place of the nearest table above, and at last the first line.

    Args:
        document: The file.
        path: Keys and indexes from the top of the file.
        on: Which of the two to mark.
        word: Mark the first place of this word in the value, where it stands there.
    """
    value = document.places.value(path)
    if word and on == "value" and value:
        found = re.compile(rf"(?<!\w){re.escape(word)}(?!\w)").search(document.text, value.start, value.end)
        if found:
            return document.mark(document.places.lines.span(*found.span()))
    return document.mark(_span(document, path, on))


def origin(document: TomlDocument, path: KeyPath) -> Origin | None:
    """Return where the record at ``path`` was written: its header, its key, or the list element itself.

    Where ``path`` itself is not written, that of the nearest table above; None where nothing of it is.
    """
    for length in range(len(path), 0, -1):
        if span := _at(document, path[:length], ("header", "key", "value")):
            return Origin(document.file, span.line, span.column)
    return None


def clash(document: TomlDocument, message: str, *paths: KeyPath, on: On = "value") -> Problem:
    """Return a problem with several places: the first is the one to change, it clashes with the others."""
    marks = tuple(mark(document, path, on) for path in paths)
    return Problem(message, marks, dotted(paths[0]) if paths else "")


def _at(document: TomlDocument, path: KeyPath, order: tuple[str, ...]) -> TextSpan | None:
    places = document.places
    look = {"header": places.header, "key": places.key, "value": places.value}
    return next((span for name in order if (span := look[name](path))), None)


def _span(document: TomlDocument, path: KeyPath, on: On) -> TextSpan:
    order = ("key", "header", "value") if on == "key" else ("value", "header", "key")
    if found := _at(document, path, order):
        return found
    for length in range(len(path) - 1, 0, -1):
        if found := _at(document, path[:length], ("header", "value", "key")):
            return found
    return document.places.lines.span(0, 0)


def _problems(document: TomlDocument, model: type[BaseModel], found: list[_Found]) -> list[Problem]:
    problems: list[Problem] = []
    absent: dict[KeyPath, list[_Found]] = defaultdict(list)
    for each in _settled(found):
        if _is_echo(each):
            continue
        if each.raw["type"] == "missing" and isinstance(each.spot.path[-1], str):
            absent[each.spot.path[:-1]].append(each)
        else:
            problems.append(_problem(document, model, each))
    problems += (_missing(document, model, path, group) for path, group in absent.items())
    return sorted(problems, key=lambda problem: (problem.marks[0].line, problem.marks[0].column))


def _settled(found: list[_Found]) -> list[_Found]:
    """Keep one alternative of every union.

    Validation reports a value that fits no alternative once for each of them. Its writer meant one: an
    alternative that takes this kind of value, and of several the one with the fewest misfits. Where no
    alternative takes the kind of value, one message names all kinds.
    """
    groups: dict[KeyPath, dict[int | str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for index, each in enumerate(found):
        for at in each.spot.unions:
            location = each.raw["loc"]
            groups[location[:at]][location[at]].append(index)
    alive = dict(enumerate(found))
    for prefix in sorted(groups, key=len):
        labels = {
            label: kept
            for label, indexes in groups[prefix].items()
            if (kept := [index for index in indexes if index in alive])
        }
        if len(labels) < 2:
            continue
        fitting = [kept for kept in labels.values() if not _is_wrong_kind(alive[kept[0]], len(prefix))]
        best = min(fitting, key=len) if fitting else next(iter(labels.values()))
        if not fitting:
            kinds = tuple(wording.wanted(alive[kept[0]].raw["type"]) for kept in labels.values())
            alive[best[0]] = _Found(alive[best[0]].raw, alive[best[0]].spot, kinds)
        for kept in labels.values():
            for index in kept if kept is not best else ():
                del alive[index]
    return list(alive.values())


def _is_echo(found: _Found) -> bool:
    """Whether a list is called too short only because wrong entries, reported on their own, do not count."""
    least = found.raw.get("ctx", {}).get("min_length", 0)
    value = found.spot.value
    return found.raw["type"] == "too_short" and isinstance(value, list | dict) and len(value) >= least


def _is_wrong_kind(found: _Found, prefix: int) -> bool:
    """Whether the value at a union could not be this alternative at all."""
    return len(found.raw["loc"]) == prefix + 1 and bool(wording.wanted(found.raw["type"]))


def _problem(document: TomlDocument, model: type[BaseModel], found: _Found) -> Problem:
    raw, spot = found.raw, found.spot
    kind, context = raw["type"], raw.get("ctx", {})
    path = dotted(spot.path)
    if kind == "extra_forbidden":
        table = follow(model, document.data, raw["loc"][:-1])
        message = wording.unknown_key(spot, table, follow(model, document.data, ()))
        return Problem(message, (mark(document, spot.path, "key"),), path)
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        return _wrong_tag(document, spot, kind, context)
    span = _span(document, spot.path, "key" if spot.on_key else "value")
    value = document.places.value(spot.path)
    written = document.text[value.start : value.end] if value else ""
    if found.kinds:
        message = wording.wrong_kind(found.kinds, spot, written)
    else:
        message = wording.sentence(kind, context, raw["msg"], spot, written)
    if isinstance(error := context.get("error"), LogicError) and value:
        blanks = len(spot.value) - len(spot.value.lstrip()) if isinstance(spot.value, str) else 0
        start = blanks + error.column
        span = _inside(document, value, spot.value, start, start + error.length)
    return Problem(message, (document.mark(span),), path)


def _inside(document: TomlDocument, value: TextSpan, text: Any, start: int, end: int) -> TextSpan:  # noqa: ANN401
    """Return a stretch of a text, or the whole value where that is no text or not written as it reads."""
    written = document.text[value.start : value.end]
    if not isinstance(text, str) or written[1:-1] != text or written.startswith(('"""', "'''")):
        return value
    opening = value.start + 1
    return document.places.lines.span(opening + start, min(opening + end, value.end))


def _missing(document: TomlDocument, model: type[BaseModel], path: KeyPath, found: list[_Found]) -> Problem:
    names = [str(each.spot.path[-1]) for each in found]
    table = follow(model, document.data, found[0].raw["loc"][:-1])
    where = (*path, names[0]) if len(names) == 1 else path
    span = _span(document, (*path, names[0]), "value")
    return Problem(wording.missing(names, table), (document.mark(span),), dotted(where))


def _wrong_tag(document: TomlDocument, spot: Spot, kind: str, context: dict[str, Any]) -> Problem:
    """Return the problem of a table whose kind is not known or not given."""
    key = str(context.get("discriminator", "")).strip("'")
    path = (*spot.path, key)
    if kind == "union_tag_not_found":
        kinds = ", ".join(kind_word(shape) for shape in options(spot.shape))
        message = f"required key {key!r} is missing: it says what this table is. Allowed: {kinds}"
        return Problem(message, (mark(document, spot.path),), dotted(path))
    allowed = list(_quoted(str(context.get("expected_tags", ""))))
    tag = str(context.get("tag", ""))
    hint = wording.near(tag, allowed)
    message = f"{tag!r} is not allowed here{hint or '.'} Allowed: {', '.join(allowed)}"
    return Problem(message, (mark(document, path),), dotted(path))


def _quoted(text: str) -> Iterator[str]:
    """Give the words between single quotes."""
    return iter(text.split("'")[1::2])
