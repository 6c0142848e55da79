"""What a record's annotations say about one place of the data: which keys, which words, which alternatives.

Validation reports a location as a chain of keys, indexes and, between them, labels of union alternatives that
stand nowhere in the file. ``follow`` walks such a chain through the record classes and the data together, so
that labels are told from keys even where a key and a label are the same word.
"""

from __future__ import annotations

import enum
import inspect
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import NoneType, UnionType
from typing import Annotated, Any, Final, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from wiregen.loader.toml_places import KeyPath

#: Stands for a value that is not in the data.
ABSENT: Final = object()

_ROW_LIKE: Final = (list, tuple, set, frozenset)


@dataclass(frozen=True)
class Spot:
    """A place of the data and what is allowed there.

    Attributes:
        path: Keys and indexes from the top of the data; the last one may be a key that is missing.
        value: What stands there, or ``ABSENT``.
        shape: The annotation.
        field: The field it belongs to, with its attribute name; None for the top and for unknown keys.
        name: Attribute name of the field.
        unions: Positions in the location at which the label of a union alternative stood.
        on_key: Whether the key itself is meant, not its value.
        siblings: The alternatives of the union that the shape is one of; empty for none.
    """

    path: KeyPath
    value: Any
    shape: Any
    field: FieldInfo | None = None
    name: str = ""
    unions: tuple[int, ...] = ()
    on_key: bool = False
    siblings: tuple[Any, ...] = ()


def follow(model: type[BaseModel], data: Any, location: tuple[int | str, ...]) -> Spot:  # noqa: ANN401 - any TOML
    """Return the place that a validation location means."""
    spots = [Spot((), data, model)]
    for index, segment in enumerate(location):
        after = [step for spot in spots for step in _steps(spot, segment, index)]
        spots = after or [_blind(spots[0], segment)]
    return spots[0]


def _steps(spot: Spot, segment: int | str, index: int) -> Iterator[Spot]:
    """Give every place that one segment of a location can lead to."""
    if segment == "[key]":
        yield replace(spot, on_key=True)
        return
    members = options(spot.shape)
    if len(members) > 1:
        # The word in which tables differ counts before a word that one of them has in a choice.
        named = [member for member in members if kind_word(member) == segment]
        named = named or [member for member in members if _is_called(member, str(segment))]
        for member in named or members:
            yield replace(spot, shape=member, unions=(*spot.unions, index), siblings=tuple(members))
        return
    shape = members[0]
    kind = get_origin(shape) or shape
    arguments = get_args(shape)
    if models := _models(shape):
        for name, info in models[0].model_fields.items():
            if segment in (name, info.alias, info.validation_alias):
                yield replace(_into(spot, segment, info.annotation), field=info, name=name)
                return
    elif kind in _ROW_LIKE and isinstance(segment, int):
        item = _item(kind, arguments, segment)
        yield replace(_into(spot, segment, item), field=spot.field, name=spot.name)
    elif inspect.isclass(kind) and issubclass(kind, Mapping) and len(arguments) == 2:
        yield replace(_into(spot, segment, arguments[1]), field=spot.field, name=spot.name)


def _into(spot: Spot, segment: int | str, shape: Any) -> Spot:  # noqa: ANN401 - an annotation
    return Spot((*spot.path, segment), _look(spot.value, segment), shape, unions=spot.unions)


def _blind(spot: Spot, segment: int | str) -> Spot:
    """Go by the data alone where the annotations say nothing; stay where the segment is not in the data."""
    after = _into(spot, segment, Any)
    return spot if after.value is ABSENT else after


def _look(value: Any, segment: int | str) -> Any:  # noqa: ANN401 - any TOML
    if isinstance(value, dict):
        return value.get(segment, ABSENT)
    if isinstance(value, list) and isinstance(segment, int) and -1 < segment < len(value):
        return value[segment]
    return ABSENT


def _item(kind: Any, arguments: tuple[Any, ...], index: int) -> Any:  # noqa: ANN401 - annotations
    """Return the annotation of one element of a list or tuple."""
    if kind is tuple and arguments[-1:] != (Ellipsis,):
        return arguments[index] if index < len(arguments) else Any
    return arguments[0] if arguments else Any


def options(shape: Any) -> list[Any]:  # noqa: ANN401 - an annotation
    """Return the alternatives of an annotation; one for anything but a union, and None is not counted."""
    while True:
        if get_origin(shape) is Annotated:
            shape = get_args(shape)[0]
        elif hasattr(shape, "__value__"):
            shape = shape.__value__
        elif getattr(shape, "__pydantic_root_model__", False):
            shape = shape.model_fields["root"].annotation
        elif get_origin(shape) in (Union, UnionType):
            members = [member for member in get_args(shape) if member is not NoneType]
            if len(members) != 1:
                return members
            shape = members[0]
        else:
            return [shape]


def _plain(shape: Any) -> list[Any]:  # noqa: ANN401 - an annotation
    """Return the alternatives with the alternatives of each of them."""
    members = options(shape)
    return members if len(members) == 1 else [inner for member in members for inner in _plain(member)]


def _models(shape: Any) -> list[type[BaseModel]]:  # noqa: ANN401 - an annotation
    return [member for member in _plain(shape) if inspect.isclass(member) and issubclass(member, BaseModel)]


def _is_called(shape: Any, label: str) -> bool:  # noqa: ANN401 - an annotation
    """Whether a union alternative goes by this label: a tag, a class name, or the kind of a simple value."""
    if any(getattr(extra, "tag", None) == label for extra in getattr(shape, "__metadata__", ())):
        return True
    members = options(shape)
    if len(members) > 1:
        return False
    shape = members[0]
    if models := _models(shape):
        tags = (words(Spot((), ABSENT, info.annotation)) for info in models[0].model_fields.values())
        return models[0].__name__ == label or any(label in own for own in tags)
    if get_origin(shape) is Literal:
        return label.startswith("literal[")
    kind = get_origin(shape) or shape
    name = str(getattr(kind, "__name__", ""))
    opening = label.partition("[")[0]
    return name == opening or (bool(name) and opening.startswith("function-") and f", {name}" in label)


def keys(spot: Spot) -> dict[str, FieldInfo]:
    """Return the keys that the table at this place may have, as they are written in a file."""
    fields = [pair for model in _models(spot.shape) for pair in model.model_fields.items()]
    return {str(info.alias or name): info for name, info in fields}


def kind_word(shape: Any) -> str:  # noqa: ANN401 - an annotation
    """Return the word that tells a table from the others that may stand in its place; empty where there is none."""
    fixed = (words(Spot((), ABSENT, info.annotation)) for info in keys(Spot((), ABSENT, shape)).values())
    return next((str(own[0]) for own in fixed if len(own) == 1), "")


def users_of(key: str, table: Spot) -> list[str]:
    """Return the kinds of table that may stand here instead and have a key."""
    return [kind_word(shape) for shape in table.siblings if key in keys(Spot((), ABSENT, shape))]


def required_keys(spot: Spot) -> list[str]:
    """Return the keys that the table at this place must have."""
    return [key for key, info in keys(spot).items() if info.is_required()]


def words(spot: Spot) -> list[Any]:
    """Return the values that a fixed choice at this place allows; empty where any value may stand."""
    found: list[Any] = []
    for shape in _plain(spot.shape):
        if get_origin(shape) is Literal:
            found += [value.value if isinstance(value, enum.Enum) else value for value in get_args(shape)]
        elif inspect.isclass(shape) and issubclass(shape, enum.Enum):
            found += [member.value for member in shape]
    return found


def brackets(info: FieldInfo) -> str:
    """Return the brackets of a field's header in a file: ``[]``, ``[[]]``, or none for plain values."""
    shapes = _plain(info.annotation)
    if any(_models(shape) for shape in shapes):
        return "[]"
    items = [item for shape in shapes if get_origin(shape) in _ROW_LIKE for item in get_args(shape)]
    return "[[]]" if any(_models(item) for item in items if item is not Ellipsis) else ""
