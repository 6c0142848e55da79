"""Read and print values with their units.

Inside the program every number is a float in the unit its name ends with (``length_m``, ``area_mm2``,
``drop_v``). Text such as ``'2.5 mm²'``, ``'14 AWG'``, ``'20 ft'`` or ``'85 °C'`` is turned into such a float
here and nowhere else. A bare number is refused: a value without a unit is the classic mistake on a wiring
sheet. Whether a value makes sense (a negative length, a fuse of 900 A) is for the record that holds it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final, Literal

from wiregen.errors import QuantityError, nearest

Dimension = Literal[
    "voltage",
    "current",
    "power",
    "resistance",
    "length",
    "temperature",
    "time",
    "charge",
    "rate",
    "ratio",
    "mass",
]

#: unit text -> (factor, offset): value in the base unit = number * factor + offset. The first entry is the
#: base unit. One foot is 0.3048 m and one pound 0.45359237 kg exactly (international yard and pound, 1959).
_UNITS: Final[dict[Dimension, dict[str, tuple[float, float]]]] = {
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

#: What a value is called in a message, and how one is written.
_WORDS: Final[dict[Dimension, tuple[str, str]]] = {
    "voltage": ("voltage", "12 V"),
    "current": ("current", "1.8 A"),
    "power": ("power", "21 W"),
    "resistance": ("resistance", "0.05 ohm"),
    "length": ("length", "2.5 m"),
    "temperature": ("temperature", "60 °C"),
    "time": ("time", "30 s"),
    "charge": ("charge", "100 Ah"),
    "rate": ("rate", "90 per min"),
    "ratio": ("share", "5 %"),
    "mass": ("mass", "750 kg"),
}

_AREA_UNITS: Final = ("mm²", "mm2", "mm^2")
_SIZE_EXAMPLES: Final = '"2.5 mm²", "14 AWG" or "14 SAE"'

#: Spellings people try that are not read, folded to lower case, and the unit each one means. They are refused
#: all the same: one way to write a unit keeps rig files searchable.
_SPELLINGS: Final[dict[str, str]] = {
    **dict.fromkeys(("volt", "volts", "vdc", "v dc"), "V"),
    **dict.fromkeys(("amp", "amps", "ampere", "amperes", "adc"), "A"),
    **dict.fromkeys(("watt", "watts"), "W"),
    **dict.fromkeys(("ohms", "r"), "ohm"),
    **dict.fromkeys(("milliohm", "milliohms"), "mohm"),
    **dict.fromkeys(("metre", "metres", "meter", "meters", "mtr"), "m"),
    **dict.fromkeys(("foot", "feet", "'", "′"), "ft"),
    **dict.fromkeys(("inch", "inches", '"', "″"), "in"),
    **dict.fromkeys(("c", "deg c", "° c", "celsius", "deg"), "°C"),
    **dict.fromkeys(("f", "deg f", "° f", "fahrenheit"), "°F"),
    **dict.fromkeys(("sec", "secs", "second", "seconds"), "s"),
    **dict.fromkeys(("minute", "minutes", "mins"), "min"),
    **dict.fromkeys(("hour", "hours", "hr", "hrs"), "h"),
    **dict.fromkeys(("a h", "a·h", "amp hours", "amp-hours", "ampere hours"), "Ah"),
    **dict.fromkeys(("per minute", "1/min", "fpm", "flashes per min", "flashes/min"), "per min"),
    **dict.fromkeys(("percent", "per cent", "pct"), "%"),
    **dict.fromkeys(("kilo", "kilogram", "kilograms", "kgs"), "kg"),
    **dict.fromkeys(("lbs", "pound", "pounds"), "lb"),
    **dict.fromkeys(("tonne", "tonnes", "ton", "tons"), "t"),
}

#: Look-alike characters: Greek mu, ohm sign, masculine ordinal, one-character degree units, true minus.
_LOOK_ALIKES: Final = str.maketrans(
    {"\u03bc": "\u00b5", "\u2126": "\u03a9", "\u00ba": "°", "\u2103": "°C", "\u2109": "°F", "\u2212": "-"}
)
_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")

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
        series: ``mm2`` metric, ``AWG`` American wire gauge, ``SAE`` the vehicle-cable sizes, which are 5-12 %
            smaller than the AWG of the same number.
        label: The text to print, e.g. ``2.5 mm²`` or ``14 AWG``.
    """

    area_mm2: float
    series: Series
    label: str


def _split(text: str, wanted: str) -> tuple[float, str]:
    """Split ``'2.5 mm²'`` into number and unit text; refuse everything else with a reason.

    Args:
        text: What the user wrote.
        wanted: The clause that says what is wanted, for the message.
    """
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        message = f"{text!r} has no unit; {wanted}"
        raise QuantityError(message)
    if not isinstance(text, str):
        message = f"{text!r} is not a text; {wanted}"
        raise QuantityError(message)
    plain = text.translate(_LOOK_ALIKES).strip()
    if re.match(r"[+-]?[0-9.]*,[0-9]", plain):
        message = f"use a decimal point and no other mark in the number: {text!r}; {wanted}"
        raise QuantityError(message)
    match = _NUMBER.match(plain)
    if match is None:
        message = f"{text!r} does not start with a number; {wanted}"
        raise QuantityError(message)
    number = float(match.group())
    if not math.isfinite(number):
        message = f"{text!r} is too large a number; {wanted}"
        raise QuantityError(message)
    return number, plain[match.end() :].strip()


def _meant(unit: str, units: dict[str, tuple[float, float]]) -> str:
    """Return ``; did you mean 'V'?`` or an empty string."""
    folded = {name.lower(): name for name in units}
    if unit.lower() in folded:
        return f"; did you mean {folded[unit.lower()]!r}?"
    if (spelling := _SPELLINGS.get(unit.lower())) in units:
        return f"; did you mean {spelling!r}?"
    return nearest(unit, units)


def _unit_of(unit: str) -> str | None:
    """Return the word of the dimension ``unit`` belongs to, or None for no unit at all."""
    if unit in _AREA_UNITS or unit.upper() in ("AWG", "SAE"):
        return "conductor size"
    return next((_WORDS[dimension][0] for dimension, table in _UNITS.items() if unit in table), None)


def parse(text: str, dimension: Dimension) -> float:
    """Return the value of ``text`` in the base unit of ``dimension``.

    Base units: V, A, W, ohm, m, °C, s, Ah, 1/min, kg; a ratio is a plain fraction and is written in per cent.

    Raises:
        QuantityError: The text has no number, no unit, or a unit of another dimension; the message says which
            units are allowed and, where one is near, which was probably meant.
    """
    units = _UNITS[dimension]
    word, example = _WORDS[dimension]
    allowed = ", ".join(units)
    wanted = f'a {word} is wanted, such as "{example}" ({allowed})'
    number, unit = _split(text, wanted)
    if unit in units:
        factor, offset = units[unit]
        value = number * factor + offset
        if not math.isfinite(value):
            message = f"{text!r} is too large a number; {wanted}"
            raise QuantityError(message)
        return value
    if not unit:
        message = f"{text!r} has no unit; {wanted}"
        raise QuantityError(message)
    if other := _unit_of(unit):
        message = f"{unit!r} is a unit of {other}; {wanted}"
        raise QuantityError(message)
    if hint := _meant(unit, units):
        message = f"unknown unit {unit!r}{hint} A {word} is wanted ({allowed})"
        raise QuantityError(message)
    if re.search(r"[0-9]", unit):
        message = f"{text!r} is more than one number and one unit; {wanted}"
        raise QuantityError(message)
    message = f"unknown unit {unit!r}; {wanted}"
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
        QuantityError: The text is none of these, or the size is outside 0.1 to 500 mm², 4/0 to 30 AWG, or the
            SAE list.
    """
    wanted = f"a conductor size is wanted: {_SIZE_EXAMPLES}"
    if isinstance(text, str):
        if match := re.fullmatch(r"\s*([0-9/]+)\s*(AWG|SAE)\s*", text, re.IGNORECASE):
            return _gauge_size(match.group(1), match.group(2).upper(), text)
        if match := re.fullmatch(r"\s*(AWG|SAE)\s*#?\s*([0-9/]+)\s*", text, re.IGNORECASE):
            message = f'{text!r}: write the number first, "{match.group(2)} {match.group(1).upper()}"'
            raise QuantityError(message)
    number, unit = _split(text, wanted)
    if unit in _AREA_UNITS:
        if not 0.1 <= number <= 500:
            message = f"{text!r} is outside 0.1 to 500 mm²"
            raise QuantityError(message)
        return ConductorSize(number, "mm2", f"{number:g} mm²")
    raise QuantityError(_not_a_size(text, unit, wanted))


def _not_a_size(text: str, unit: str, wanted: str) -> str:
    """Return why a number with this unit is no conductor size."""
    if not unit:
        return f"{text!r} has no unit; {wanted}"
    if unit.upper() in ("AWG", "SAE"):
        return f"{text!r} is not a whole gauge number from 4/0 to 30; {wanted}"
    if unit in _UNITS["length"]:
        return f"{unit!r} is a unit of length; did you mean 'mm²'? A size is an area: {_SIZE_EXAMPLES}"
    if other := _unit_of(unit):
        return f"{unit!r} is a unit of {other}; {wanted}"
    if unit.lower() in ("ga", "ga.", "gauge"):
        return f"unknown unit {unit!r}; did you mean 'AWG' or 'SAE' (they differ)? Write {_SIZE_EXAMPLES}"
    if unit.lower() in ("sq mm", "sqmm", "mm sq", "qmm", "sq.mm", "sq. mm"):
        return f"unknown unit {unit!r}; did you mean 'mm²'? Write {_SIZE_EXAMPLES}"
    return f"{text!r} is not a conductor size; write {_SIZE_EXAMPLES}"


def _gauge_size(number: str, series: str, text: str) -> ConductorSize:
    """Return the size of a gauge number, or refuse it with the numbers that exist."""
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


def whole_up(value: float) -> int:
    """Return the next whole number at or above a value; a last binary digit is no reason to move a whole step."""
    return math.ceil(round(value, 6))


def whole_down(value: float) -> int:
    """Return the next whole number at or below a value; a last binary digit is no reason to move a whole step."""
    return math.floor(round(value, 6))
