"""Types of the values a user writes: a text with a unit, read into a float of the base unit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, PlainValidator, WithJsonSchema

from wiregen.model.logic import Expression
from wiregen.model.logic import parse as parse_logic
from wiregen.quantity import ConductorSize, Dimension, parse, parse_size


def _reader(dimension: Dimension) -> Callable[[Any], float]:
    def read(value: Any) -> float:  # noqa: ANN401 - what the file holds may be anything
        return parse(value, dimension)

    return read


def _schema(*examples: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "examples": list(examples)})


Volts = Annotated[float, BeforeValidator(_reader("voltage")), Field(gt=0, le=60), _schema("12 V", "28.0 V")]
Amps = Annotated[float, BeforeValidator(_reader("current")), Field(gt=0, le=1000), _schema("15 A", "70 mA")]
Ohms = Annotated[float, BeforeValidator(_reader("resistance")), Field(gt=0, le=1e6), _schema("3.3 ohm", "5 mohm")]
Watts = Annotated[float, BeforeValidator(_reader("power")), Field(gt=0, le=10_000), _schema("21 W")]
Metres = Annotated[float, BeforeValidator(_reader("length")), Field(gt=0, le=200), _schema("2.5 m", "20 ft")]
Celsius = Annotated[float, BeforeValidator(_reader("temperature")), Field(ge=-60, le=250), _schema("50 °C", "120 °F")]
Share = Annotated[float, BeforeValidator(_reader("ratio")), Field(gt=0, le=1), _schema("85 %")]


def _size(value: Any) -> ConductorSize:  # noqa: ANN401 - what the file holds may be anything
    return parse_size(value)


def _logic(value: Any) -> Expression:  # noqa: ANN401 - what the file holds may be anything
    if not isinstance(value, str):
        message = f'a text such as "stop xor turn_left" is wanted, not {value!r}'
        raise ValueError(message)
    return parse_logic(value)


Size = Annotated[ConductorSize, PlainValidator(_size), _schema("2.5 mm²", "14 AWG", "14 SAE")]
Logic = Annotated[Expression, PlainValidator(_logic), _schema("tail", "stop xor turn_left", "not (fog or reverse)")]
