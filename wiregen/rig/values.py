"""Types of the values a user writes: a text with a unit, read into a float of the base unit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, Final

from pydantic import BeforeValidator, Field, PlainValidator, WithJsonSchema

from wiregen.errors import QuantityError
from wiregen.model.logic import Expression
from wiregen.model.logic import parse as parse_logic
from wiregen.quantity import ConductorSize, Dimension, parse, parse_size


def _reader(dimension: Dimension) -> Callable[[Any], float]:
    def read(value: Any) -> float:  # noqa: ANN401 - what the file holds may be anything
        return parse(value, dimension)

    return read


def _schema(*examples: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "examples": list(examples)})


# Nothing in a harness has less than a millivolt, a microohm or a millimetre, and no lamp or converter less than a
# milliwatt or a tenth of a microampere; beside such a part all others drown in round-off.
Volts = Annotated[float, BeforeValidator(_reader("voltage")), Field(ge=0.001, le=60), _schema("12 V", "28.0 V")]
RatedVolts = Annotated[float, BeforeValidator(_reader("voltage")), Field(ge=1, le=60), _schema("12 V", "24 V")]
Amps = Annotated[float, BeforeValidator(_reader("current")), Field(ge=1e-7, le=1000), _schema("15 A", "70 mA")]
Ohms = Annotated[float, BeforeValidator(_reader("resistance")), Field(ge=1e-6, le=1e6), _schema("3.3 ohm", "5 mohm")]
Watts = Annotated[float, BeforeValidator(_reader("power")), Field(ge=0.001, le=10_000), _schema("21 W")]
AmpsOrNone = Annotated[float, BeforeValidator(_reader("current")), Field(ge=0, le=1000), _schema("0.21 A", "0 A")]
AmpHours = Annotated[float, BeforeValidator(_reader("charge")), Field(ge=0.001, le=1000), _schema("7 Ah", "100 Ah")]
Metres = Annotated[float, BeforeValidator(_reader("length")), Field(ge=0.001, le=200), _schema("2.5 m", "20 ft")]
Celsius = Annotated[float, BeforeValidator(_reader("temperature")), Field(ge=-60, le=250), _schema("50 °C", "120 °F")]
Share = Annotated[float, BeforeValidator(_reader("ratio")), Field(ge=0.0001, le=1), _schema("85 %")]


_MOST_W: Final = 10_000
_MOST_A: Final = 1000


@dataclass(frozen=True, slots=True)
class Demand:
    """A load as a label gives it: in watts or in amps, the other is None."""

    power_w: float | None = None
    current_a: float | None = None

    def at_v(self, voltage_v: float) -> float:
        """Return the current it means at a voltage, A."""
        return self.current_a if self.current_a is not None else (self.power_w or 0.0) / voltage_v


def _demand(value: Any) -> Demand:  # noqa: ANN401 - what the file holds may be anything
    try:
        made = Demand(power_w=parse(value, "power"))
    except QuantityError:
        try:
            made = Demand(current_a=parse(value, "current"))
        except QuantityError as reason:
            message = f'a power or a current is wanted, such as "42 W" or "3.5 A": {reason}'
            raise QuantityError(message) from None
    if not made.at_v(1.0) > 0:
        message = f"{value} is too small; more than nothing is wanted"
        raise ValueError(message)
    if (made.power_w or 0.0) > _MOST_W or (made.current_a or 0.0) > _MOST_A:
        message = f"{value} is too large; at most {_MOST_W:g} W or {_MOST_A:g} A is wanted"
        raise ValueError(message)
    return made


def _size(value: Any) -> ConductorSize:  # noqa: ANN401 - what the file holds may be anything
    return parse_size(value)


def _logic(value: Any) -> Expression:  # noqa: ANN401 - what the file holds may be anything
    if not isinstance(value, str):
        message = f'a text such as "stop xor turn_left" is wanted, not {value!r}'
        raise ValueError(message)
    return parse_logic(value)


Size = Annotated[ConductorSize, PlainValidator(_size), _schema("2.5 mm²", "14 AWG", "14 SAE")]
Logic = Annotated[Expression, PlainValidator(_logic), _schema("tail", "stop xor turn_left", "not (fog or reverse)")]
#: When a wire is live: the same grammar over the controls, not over circuits.
Live = Annotated[Expression, PlainValidator(_logic), _schema("brake", "always", "(left or hazard) and lit")]
WattsOrAmps = Annotated[Demand, PlainValidator(_demand), _schema("42 W", "3.5 A")]

#: Texts and numbers without a unit.
Name = Annotated[str, Field(min_length=1, max_length=60)]
Word = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
Count = Annotated[int, Field(ge=1, le=10_000)]
