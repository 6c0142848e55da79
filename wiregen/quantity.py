"""Read and print values with their units.

Inside the program every number is a float in the unit its name ends with (``length_m``, ``area_mm2``, ``drop_v``).
Text such as ``'2.5 mm²'``, ``'14 AWG'``, ``'20 ft'`` or ``'85 °C'`` is turned into such a float here and nowhere else.
A bare number is refused: a value without a unit is the classic mistake on a wiring sheet.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final, Literal

from wiregen.errors import QuantityError, nearest

Dimension = Literal[
    "voltage", "current", "power", "resistance", "length", "temperature", "time", "charge", "rate", "ratio", "mass"
]

#: unit text -> (factor, offset): value in the base unit = number * factor + offset. The first entry is the base unit.
_UNITS: Final[dict[str, dict[str, tuple[float, float]]]] = {
    "voltage": {"V": (1.0, 0.0), "mV": (1e-3, 0.0), "kV": (1e3, 0.0)},
    "current": {"A": (1.0, 0.0), "mA": (1e-3, 0.0), "µA": (1e-6, 0.0), "uA": (1e-6, 0.0)},
    "power": {"W": (1.0, 0.0), "mW": (1e-3, 0.0), "kW": (1e3, 0.0)},
    "resistance": {
        "ohm": (1.0, 0.0),
        "Ω": (1.0, 0.0),
        "mohm": (1e-3, 0.0),
        "mΩ": (1e-3, 0.0),
        "kohm": (1e3, 0.0),
        "kΩ": (1e3, 0.0),
    },
    "length": {
        "m": (1.0, 0.0),
        "cm": (0.01, 0.0),
        "mm": (0.001, 0.0),
        "ft": (0.3048, 0.0),
        "in": (0.0254, 0.0),
    },
    "temperature": {"°C": (1.0, 0.0), "degC": (1.0, 0.0), "°F": (5 / 9, -160 / 9), "degF": (5 / 9, -160 / 9)},
    "time": {"s": (1.0, 0.0), "ms": (1e-3, 0.0), "min": (60.0, 0.0), "h": (3600.0, 0.0)},
    "charge": {"Ah": (1.0, 0.0), "mAh": (1e-3, 0.0)},
    "rate": {"per min": (1.0, 0.0), "/min": (1.0, 0.0)},
    "ratio": {"%": (0.01, 0.0)},
    "mass": {"kg": (1.0, 0.0), "t": (1000.0, 0.0), "lb": (0.45359237, 0.0)},
}

_WORDS: Final[dict[str, str]] = {
    "voltage": "voltage",
    "current": "current",
    "power": "power",
    "resistance": "resistance",
    "length": "length",
    "temperature": "temperature",
    "time": "time",
    "charge": "charge",
    "rate": "rate",
    "ratio": "share",
    "mass": "mass",
}

_NUMBER: Final = re.compile(r"\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*")
_LETTER_MU: Final = str.maketrans({"μ": "µ", "º": "°", "Ω": "Ω"})

#: Wires are sold by number in two series whose areas differ; see ``ConductorSize``.
Series = Literal["mm2", "AWG", "SAE"]

#: SAE J1128 / J1127 conductor areas by number, mm²: circular mils of the SAE column times 5.067075e-4
#: (source key S10, read from a marine wire catalogue page; size 20 is the 19-strand build of S9).
SAE_AREA_MM2: Final[dict[str, float]] = {
    "20": 0.539,
    "18": 0.779,
    "16": 1.184,
    "14": 1.876,
    "12": 2.956,
    "10": 4.734,
    "8": 7.504,
    "6": 12.43,
    "4": 18.93,
    "2": 31.64,
    "1": 39.42,
    "1/0": 50.15,
}


@dataclass(frozen=True, slots=True)
class ConductorSize:
    """A conductor cross-section as the user wrote it.

    Attributes:
        area_mm2: Copper area, mm².
        series: ``mm2`` metric, ``AWG`` American wire gauge, ``SAE`` the vehicle-cable sizes, which are 5-12 % smaller
            than the AWG of the same number.
        label: The text to print, e.g. ``2.5 mm²`` or ``14 AWG``.
    """

    area_mm2: float
    series: Series
    label: str


def _split(text: str) -> tuple[float, str]:
    """Split ``'2.5 mm²'`` into number and unit text; refuse everything else with a reason."""
    if not isinstance(text, str):
        message = f'a text with a number and a unit is wanted, such as "12 V", not {text!r}'
        raise QuantityError(message)
    text = text.translate(_LETTER_MU)
    if re.match(r"\s*[+-]?\d+,\d", text):
        message = f"use a decimal point, not a comma: {text!r}"
        raise QuantityError(message)
    match = _NUMBER.fullmatch(text)
    if match is None:
        message = f"{text!r} does not start with a number"
        raise QuantityError(message)
    number = float(match.group(1))
    if not math.isfinite(number):
        message = f"{text!r} is not a finite number"
        raise QuantityError(message)
    return number, match.group(2)


def parse(text: str, dimension: Dimension) -> float:
    """Return the value of ``text`` in the base unit of ``dimension``.

    Base units: V, A, W, ohm, m, °C, s, Ah, 1/min, kg; a ratio is a plain fraction and is written in per cent.

    Raises:
        QuantityError: The text has no number, no unit, or a unit of another dimension; the message says which units
            are allowed.
    """
    number, unit = _split(text)
    units = _UNITS[dimension]
    if unit in units:
        factor, offset = units[unit]
        return number * factor + offset
    allowed = ", ".join(units)
    if not unit:
        message = f"{text!r} has no unit; a {_WORDS[dimension]} is wanted ({allowed})"
        raise QuantityError(message)
    for other, table in _UNITS.items():
        if unit in table:
            message = f"{unit!r} is a unit of {_WORDS[other]}, a {_WORDS[dimension]} is wanted ({allowed})"
            raise QuantityError(message)
    folded = {name.lower(): name for name in units}
    hint = f"; did you mean {folded[unit.lower()]!r}?" if unit.lower() in folded else nearest(unit, units)
    message = f"unknown unit {unit!r}{hint} A {_WORDS[dimension]} is wanted ({allowed})"
    raise QuantityError(message)


def awg_diameter_mm(gauge: int) -> float:
    """Return the solid diameter of an AWG number, mm; 0, -1, -2, -3 stand for 1/0, 2/0, 3/0, 4/0.

    d = 0.127 mm × 92^((36 − n)/39), ASTM B258.
    """
    return float(0.127 * 92.0 ** ((36 - gauge) / 39))


def awg_area_mm2(gauge: int) -> float:
    """Return the copper area of an AWG number, mm² (solid; stranded wire of the gauge has the same area)."""
    return math.pi / 4 * awg_diameter_mm(gauge) ** 2


def _gauge_number(text: str) -> int | None:
    """Return 14 for '14', -1 for '2/0' or '00'; None when it is no gauge between 4/0 and 30."""
    if match := re.fullmatch(r"([1-4])/0", text):
        return 1 - int(match.group(1))
    if re.fullmatch(r"0{1,4}", text):
        return 1 - len(text)
    if re.fullmatch(r"[1-9]\d?", text) and int(text) <= 30:
        return int(text)
    return None


def parse_size(text: str) -> ConductorSize:
    """Return the conductor size of ``'2.5 mm²'``, ``'2.5 mm2'``, ``'14 AWG'``, ``'2/0 AWG'`` or ``'14 SAE'``.

    Raises:
        QuantityError: The text is none of these, or the size is outside 0.1 to 500 mm², 4/0 to 30 AWG, or the SAE list.
    """
    if not isinstance(text, str):
        message = f'a conductor size is wanted, such as "2.5 mm²" or "14 AWG", not {text!r}'
        raise QuantityError(message)
    if match := re.fullmatch(r"\s*([0-9/]+)\s*(AWG|SAE)\s*", text, re.IGNORECASE):
        return _gauge_size(match.group(1), match.group(2).upper(), text)
    number, unit = _split(text)
    if unit in ("mm²", "mm2", "mm^2"):
        if not 0.1 <= number <= 500:
            message = f"{text!r} is outside 0.1 to 500 mm²"
            raise QuantityError(message)
        return ConductorSize(number, "mm2", f"{number:g} mm²")
    hint = " A length unit stands there; an area is wanted." if unit in _UNITS["length"] else ""
    message = f"{text!r} is not a conductor size.{hint} Write \"2.5 mm²\", \"14 AWG\" or \"14 SAE\""
    raise QuantityError(message)


def _gauge_size(number: str, series: str, text: str) -> ConductorSize:
    if series == "SAE":
        number = {"0": "1/0"}.get(number, number)
        if number not in SAE_AREA_MM2:
            message = f"{text!r} is not an SAE size; known: {', '.join(SAE_AREA_MM2)}"
            raise QuantityError(message)
        return ConductorSize(SAE_AREA_MM2[number], "SAE", f"{number} SAE")
    gauge = _gauge_number(number)
    if gauge is None:
        message = f"{text!r} is not a gauge from 4/0 to 30 AWG"
        raise QuantityError(message)
    label = f"{gauge} AWG" if gauge > 0 else f"{1 - gauge}/0 AWG"
    return ConductorSize(awg_area_mm2(gauge), "AWG", label)


def show(value: float, unit: str, significant: int = 3) -> str:
    """Return ``value`` with its unit for people: three significant digits, no exponent, ``--`` for no value.

    >>> show(0.0123, "V"), show(12.345, "A"), show(1234.0, "W")
    ('0.0123 V', '12.3 A', '1234 W')
    """
    if not math.isfinite(value):
        return f"-- {unit}"
    if value == 0 or abs(value) < 1e-9:
        return f"0 {unit}"
    digits = max(0, significant - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text} {unit}"
