"""Say in plain words what validation found, which words are allowed, and how to write it instead."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from typing import Any, Final

from pydantic.fields import FieldInfo

from wiregen.errors import nearest
from wiregen.loader.renamed import renamed
from wiregen.loader.shapes import ABSENT, Spot, brackets, keys, kind_word, required_keys, users_of, words
from wiregen.loader.toml_places import dotted

_TEXT: Final = "a text"
_WHOLE: Final = "a whole number"
_NUMBER: Final = "a number"
_TRUTH: Final = "true or false"
_LIST: Final = "a list"
_TABLE: Final = "a table"
_DATE: Final = "a date such as 2024-05-31"
_TIME: Final = "a time such as 07:30:00"

#: Kind of validation error -> the kind of value that is wanted instead.
_WANTED: Final[dict[str, str]] = {
    "string_type": _TEXT,
    "string_sub_type": _TEXT,
    **dict.fromkeys(("int_type", "int_parsing", "int_from_float", "int_parsing_size"), _WHOLE),
    **dict.fromkeys(("float_type", "float_parsing", "decimal_type", "decimal_parsing"), _NUMBER),
    **dict.fromkeys(("bool_type", "bool_parsing"), _TRUTH),
    **dict.fromkeys(("list_type", "tuple_type", "set_type", "frozen_set_type", "iterable_type"), _LIST),
    **dict.fromkeys(("dict_type", "mapping_type", "model_type", "model_attributes_type"), _TABLE),
    **dict.fromkeys(("dataclass_type", "dataclass_exact_type"), _TABLE),
    **dict.fromkeys(("date_type", "date_parsing", "date_from_datetime_parsing"), _DATE),
    **dict.fromkeys(("date_from_datetime_inexact", "datetime_type", "datetime_parsing"), _DATE),
    **dict.fromkeys(("datetime_from_date_parsing", "datetime_object_invalid"), _DATE),
    **dict.fromkeys(("time_type", "time_parsing"), _TIME),
}

#: Kind of range error -> its words and the key of the limit.
_RANGES: Final[dict[str, tuple[str, str]]] = {
    "greater_than": ("is too small; more than {} is wanted", "gt"),
    "greater_than_equal": ("is too small; at least {} is wanted", "ge"),
    "less_than": ("is too large; less than {} is wanted", "lt"),
    "less_than_equal": ("is too large; at most {} is wanted", "le"),
    "multiple_of": ("does not fit; a multiple of {} is wanted", "multiple_of"),
}

#: Ending of an attribute name -> the unit of its number, for fields that are written as a text with a unit.
_UNITS: Final[dict[str, str]] = {
    "v": "V",
    "a": "A",
    "w": "W",
    "ohm": "ohm",
    "m": "m",
    "mm2": "mm²",
    "c": "°C",
    "s": "s",
    "ah": "Ah",
    "kg": "kg",
    "deg": "degrees",
}


#: Pattern of a text -> its words.
_FORMS: Final[dict[str, str]] = {
    "^[a-z][a-z0-9_]*$": "small letters, digits and '_' are wanted, with a letter first",
    "^[A-Za-z][A-Za-z0-9_]*$": "letters, digits and '_' are wanted, with a letter first",
}


def wanted(kind: str) -> str:
    """Return the kind of value that an error of this kind asks for, or an empty string."""
    return _WANTED.get(kind, "")


def near(word: str, allowed: Iterable[str]) -> str:
    """Return ``; did you mean 'x'?`` or an empty string; capitals and joining signs do not count."""
    allowed = list(allowed)
    folded = {_fold(choice): choice for choice in allowed}
    return f"; did you mean {folded[_fold(word)]!r}?" if _fold(word) in folded else nearest(word, allowed)


def _fold(word: str) -> str:
    return re.sub(r"[-_ ]", "", word).casefold()


def listed(names: Sequence[Any]) -> str:
    """Return names joined for people: ``a``, ``a and b``, ``a, b and c``."""
    texts = [f"'{name}'" for name in names]
    return " and ".join([", ".join(texts[:-1]), texts[-1]] if len(texts) > 1 else texts)


def wrong_kind(kinds: Sequence[str], spot: Spot, written: str) -> str:
    """Say that another kind of value is wanted.

    Args:
        kinds: What may stand here, such as ``a text``.
        spot: The place.
        written: The value as it stands in the file, for the hint.
    """
    value = spot.value
    message = f"{' or '.join(dict.fromkeys(kinds))} is wanted, not {_kind(value, written)}"
    return f"{message}{_rewrite(kinds[0], spot, written)}"


def _kind(value: Any, written: str) -> str:  # noqa: ANN401 - any TOML value
    if isinstance(value, bool):
        return written or str(value).lower()
    if isinstance(value, float):
        return written or str(value)
    if isinstance(value, int):
        return "a number"
    if isinstance(value, str):
        return _TEXT
    if isinstance(value, list):
        return "a list of tables" if value and all(isinstance(item, dict) for item in value) else _LIST
    return _TABLE if isinstance(value, dict) else "a date or time"


def _rewrite(kind: str, spot: Spot, written: str) -> str:
    """Return how to write it instead, where that is plain to see."""
    value = spot.value
    name = dotted(tuple(part for part in spot.path if isinstance(part, str)))
    if isinstance(value, str) and kind in (_WHOLE, _NUMBER):
        number = re.match(r"\s*([+-]?\d+(?:\.\d+)?)\s*(.*)", value)
        if number:
            return f"; write it without quotes{' and without the unit' if number[2] else ''}: {number[1]}"
    if isinstance(value, str) and kind == _TRUTH:
        return "; write it without quotes" if value in ("true", "false") else ""
    if kind == _TEXT and not isinstance(value, list | dict) and written:
        return f'; write it in quotes: "{written}"'
    if kind == _LIST and isinstance(value, dict):
        table = spot.field is not None and brackets(spot.field) == "[[]]"
        return f"; write [[{name}]], not [{name}]" if table else ""
    if kind == _LIST and written and "\n" not in written and len(written) < 40:
        return f"; write it in square brackets: [{written}]"
    if kind == _TABLE and isinstance(value, list) and value and isinstance(value[0], dict):
        return f"; write [{name}], not [[{name}]]"
    return ""


def _header(key: str, info: FieldInfo) -> str:
    """Return a key as a file has it at the top: in brackets where it is a table."""
    signs = brackets(info)
    half = len(signs) // 2
    return f"{signs[:half]}{key}{signs[half:]}"


def missing(names: Sequence[str], table: Spot) -> str:
    """Say which required keys are missing, and which keys the table needs."""
    allowed = keys(table)
    shown = [_header(name, allowed[name]) if name in allowed and not table.path else name for name in names]
    verb = "is" if len(names) == 1 else "are"
    message = f"required {'key' if len(names) == 1 else 'keys'} {listed(shown)} {verb} missing"
    needed = required_keys(table)
    return message if needed == list(names) else f"{message}; wanted here: {', '.join(needed)}"


def unknown_key(spot: Spot, table: Spot, top: Spot) -> str:
    """Say that a key is not known in its table, which key was probably meant, and which are allowed."""
    key = str(spot.path[-1])
    if (now := renamed(spot.path)) is not None:
        return f"{key!r} is called {now.new!r} now; 'wiregen upgrade FILE' renames it and keeps your comments"
    if users := users_of(key, table):
        return f"{key} does nothing for {kind_word(table.shape)}; it is for {', '.join(users)}"
    allowed = list(keys(table))
    hint = near(key, allowed)
    if not hint and table.path and key in keys(top):
        header = _header(key, keys(top)[key])
        hint = "; it belongs to the top of the file, above the first [table]"
        if header != key:
            hint = f"; the table stands at the top: {header}"
    end = "" if hint.endswith("?") else "."
    return f"unknown key {key!r}{hint}{end} Allowed here: {', '.join(allowed) or 'no key at all'}"


def not_a_choice(spot: Spot, expected: str) -> str:
    """Say that a word is none of a fixed choice; ``expected`` serves where the choice itself is not known."""
    value, choice = spot.value, words(spot)
    if not choice:
        return f"{value!r} is not allowed here. Allowed: {expected}"
    shown = ", ".join(choice if all(isinstance(c, str) for c in choice) else map(_toml, choice))
    hint = near(value, [c for c in choice if isinstance(c, str)]) if isinstance(value, str) else ""
    if not hint and not isinstance(value, list | dict):
        other = [c for c in choice if str(c) == str(value).strip() and not isinstance(c, type(value))]
        hint = f"; write {_toml(other[0])}" if other else ""
    end = "" if hint.endswith("?") else "."
    return f"{_toml(value)} is not allowed here{hint}{end} Allowed: {shown}"


def _toml(value: Any) -> str:  # noqa: ANN401 - any TOML value
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list | dict):
        return _kind(value, "")
    return f"'{value}'" if isinstance(value, str) else str(value)


def _amount(limit: Any, spot: Spot) -> str:  # noqa: ANN401 - a number or a date
    """Return a limit with the unit of the field, where the file gives a unit too."""
    if not isinstance(limit, int | float):
        return str(limit)
    if not isinstance(spot.value, str):
        return f"{limit:g}"
    if spot.value.strip().endswith("%"):
        return f"{limit * 100:g} %"
    unit = _UNITS.get(spot.name.rpartition("_")[2], "") if "_" in spot.name else ""
    return f"{limit:g} {unit}".strip()


def _too_many(kind: str, context: dict[str, Any], spot: Spot) -> str:
    """Say that a text, list or table is too short or too long."""
    least, most = context.get("min_length"), context.get("max_length")
    if kind.startswith("string_"):
        unit, actual = "character", len(spot.value) if isinstance(spot.value, str) else 0
        thing = "the key" if spot.on_key else "the text"
        if spot.on_key:
            actual = len(str(spot.path[-1]))
    else:
        is_table = isinstance(spot.value, dict)
        thing, unit = ("the table", "key") if is_table else ("the list", "entry")
        actual = len(spot.value) if isinstance(spot.value, list | dict) else 0
    limit = least if least is not None else most
    many = unit if limit == 1 else {"entry": "entries"}.get(unit, f"{unit}s")
    bound = "at least" if least is not None else "at most"
    state = "is empty" if actual == 0 else f"has {actual}"
    return f"{bound} {limit} {many} {'is' if limit == 1 else 'are'} wanted, {thing} {state}"


def _wrong_form(spot: Spot, pattern: str) -> str:
    """Say that a text has not the wanted form, with examples where the field has any."""
    value = spot.path[-1] if spot.on_key else spot.value
    extra = spot.field.json_schema_extra if spot.field else None
    examples = (spot.field.examples if spot.field else None) or (
        extra.get("examples") if isinstance(extra, dict) else None
    )
    if isinstance(examples, list) and examples:
        return f"{value!r} does not have the form that is wanted here, such as {listed(examples)}"
    if pattern in _FORMS:
        return f"{value!r} does not fit here; {_FORMS[pattern]}"
    return f"{value!r} does not have the form that is wanted here: {pattern}"


def sentence(kind: str, context: dict[str, Any], message: str, spot: Spot, written: str) -> str:
    """Say what is wrong with one value.

    Args:
        kind: Kind of the validation error.
        context: Its numbers and words.
        message: Its own message, for kinds that are not known here.
        spot: The place.
        written: The value as it stands in the file.
    """
    if kind in ("value_error", "assertion_error"):
        said = str(context.get("error", "")) or message.partition(", ")[2] or "this value is not allowed here"
        # A message that quotes the value in the notation of the program gets it as it stands in the file.
        own = repr(spot.value)
        return said if isinstance(spot.value, str) else said.replace(own, written or _kind(spot.value, own))
    if kind in _WANTED and spot.value is not ABSENT:
        return wrong_kind([_WANTED[kind]], spot, written)
    if kind in ("literal_error", "enum"):
        return not_a_choice(spot, str(context.get("expected", "")))
    if kind in _RANGES:
        if isinstance(spot.value, float) and math.isnan(spot.value):
            return wrong_kind([_NUMBER], spot, written)
        text, key = _RANGES[kind]
        return f"{written or spot.value} {text.format(_amount(context[key], spot))}"
    if kind in ("string_too_short", "string_too_long", "too_short", "too_long"):
        return _too_many(kind, context, spot)
    if kind == "string_pattern_mismatch":
        return _wrong_form(spot, str(context.get("pattern", "")))
    if kind == "finite_number":
        return f"a finite number is wanted, not {written}"
    if kind == "missing":
        return f"entry {int(spot.path[-1]) + 1} of the list is missing"
    return message.replace("Input should be", "what is wanted here is").replace("Input", "it")
