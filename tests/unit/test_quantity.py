"""Values with units: what is read, what is refused, and whether the refusal says what to write."""

import doctest
import math
import re
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

import wiregen.quantity as quantity_module
from wiregen.errors import QuantityError
from wiregen.quantity import (
    SAE_AREA_MM2,
    Dimension,
    awg_area_mm2,
    awg_diameter_mm,
    parse,
    parse_size,
    show,
    whole_down,
    whole_up,
)

#: Every unit a user may write: text, dimension, value in the base unit, worked by hand.
UNITS = [
    ("12 V", "voltage", 12.0),
    ("250 mV", "voltage", 0.25),
    ("0.5 kV", "voltage", 500.0),
    ("1.85 A", "current", 1.85),
    ("70 mA", "current", 0.07),
    ("500 µA", "current", 0.0005),
    ("500 uA", "current", 0.0005),
    ("21 W", "power", 21.0),
    ("500 mW", "power", 0.5),
    ("1.2 kW", "power", 1200.0),
    ("3.3 ohm", "resistance", 3.3),
    ("3.3 Ω", "resistance", 3.3),
    ("5 mohm", "resistance", 0.005),
    ("5 mΩ", "resistance", 0.005),
    ("1 kohm", "resistance", 1000.0),
    ("1 kΩ", "resistance", 1000.0),
    ("2.5 m", "length", 2.5),
    ("40 cm", "length", 0.4),
    ("750 mm", "length", 0.75),
    ("20 ft", "length", 6.096),
    ("10 in", "length", 0.254),
    ("85 °C", "temperature", 85.0),
    ("85 degC", "temperature", 85.0),
    ("212 °F", "temperature", 100.0),
    ("-40 degF", "temperature", -40.0),
    ("30 s", "time", 30.0),
    ("15 ms", "time", 0.015),
    ("15 min", "time", 900.0),
    ("2 h", "time", 7200.0),
    ("100 Ah", "charge", 100.0),
    ("2500 mAh", "charge", 2.5),
    ("90 per min", "rate", 90.0),
    ("90/min", "rate", 90.0),
    ("5 %", "ratio", 0.05),
    ("750 kg", "mass", 750.0),
    ("3.5 t", "mass", 3500.0),
    ("1000 lb", "mass", 453.59237),
]


@pytest.mark.parametrize(("text", "dimension", "expected"), UNITS)
def test_reads_every_unit(text: str, dimension: Dimension, expected: float):
    """Every allowed unit is read into the base unit."""
    assert parse(text, dimension) == pytest.approx(expected, rel=1e-12)


def test_the_table_above_names_every_unit():
    """No unit was added to the reader without a worked value here."""
    written = {(dimension, re.sub(r"^[-0-9.]+ ?", "", text)) for text, dimension, _ in UNITS}
    known = {(dimension, unit) for dimension, table in quantity_module._UNITS.items() for unit in table}
    assert written == known


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("5 \u03bcA", "current", 5e-6),
        ("5 \u00b5A", "current", 5e-6),
        ("10 \u2126", "resistance", 10.0),
        ("10 \u03a9", "resistance", 10.0),
        ("10 m\u2126", "resistance", 0.01),
        ("10 k\u2126", "resistance", 1e4),
        ("85 \u00b0C", "temperature", 85.0),
        ("85 \u00baC", "temperature", 85.0),
        ("85 \u2103", "temperature", 85.0),
        ("212 \u2109", "temperature", 100.0),
        ("\u22123 m", "length", -3.0),
        ("12\u00a0V", "voltage", 12.0),
        ("12\u202fV", "voltage", 12.0),
    ],
)
def test_look_alike_characters_read_the_same(text: str, dimension: Dimension, expected: float):
    """The two micro signs, the two ohm signs, degree look-alikes, true minus and hard spaces are all read."""
    assert parse(text, dimension) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("12V", 12.0),
        ("  12 V  ", 12.0),
        ("+12 V", 12.0),
        (".5 V", 0.5),
        ("5. V", 5.0),
        ("1.2e1 V", 12.0),
        ("-3 V", -3.0),
    ],
)
def test_ways_to_write_a_number(text: str, expected: float):
    """Spaces, signs and exponents are free; a negative value is read, its range is the record's affair."""
    assert parse(text, "voltage") == pytest.approx(expected)


@pytest.mark.parametrize(
    ("value", "dimension", "message"),
    [
        ("12", "voltage", "'12' has no unit; a voltage is wanted, such as \"12 V\" (V, mV, kV)"),
        (12, "voltage", '12 has no unit; a voltage is wanted, such as "12 V" (V, mV, kV)'),
        (1.5, "mass", '1.5 has no unit; a mass is wanted, such as "750 kg" (kg, t, lb)'),
        (True, "mass", 'True is not a text; a mass is wanted, such as "750 kg" (kg, t, lb)'),
        (None, "mass", 'None is not a text; a mass is wanted, such as "750 kg" (kg, t, lb)'),
        ("12 A", "voltage", "'A' is a unit of current; a voltage is wanted, such as \"12 V\" (V, mV, kV)"),
        (
            "90 per min",
            "time",
            "'per min' is a unit of rate; a time is wanted, such as \"30 s\" (s, ms, min, h)",
        ),
        ("5 %", "time", "'%' is a unit of share; a time is wanted, such as \"30 s\" (s, ms, min, h)"),
        ("12 v", "voltage", "unknown unit 'v'; did you mean 'V'? A voltage is wanted (V, mV, kV)"),
        ("12 volts", "voltage", "unknown unit 'volts'; did you mean 'V'? A voltage is wanted (V, mV, kV)"),
        ("12 bar", "voltage", "unknown unit 'bar'; a voltage is wanted, such as \"12 V\" (V, mV, kV)"),
        (
            "2.5 mm²",
            "length",
            "'mm²' is a unit of conductor size; a length is wanted, such as \"2.5 m\" (m, cm, mm, ft, in)",
        ),
        (
            "5 ft 6 in",
            "length",
            "'5 ft 6 in' is more than one number and one unit; a length is wanted, such as \"2.5 m\""
            " (m, cm, mm, ft, in)",
        ),
        (
            "nan A",
            "current",
            "'nan A' does not start with a number; a current is wanted, such as \"1.8 A\" (A, mA, µA, uA)",
        ),
        (
            "1e999 A",
            "current",
            "'1e999 A' is too large a number; a current is wanted, such as \"1.8 A\" (A, mA, µA, uA)",
        ),
        (
            "1e308 kV",
            "voltage",
            "'1e308 kV' is too large a number; a voltage is wanted, such as \"12 V\" (V, mV, kV)",
        ),
    ],
)
def test_refusals_say_what_to_write(value: object, dimension: Dimension, message: str):
    """The whole sentence of each kind of refusal: what is wrong, what is wanted, which units are allowed."""
    with pytest.raises(QuantityError) as caught:
        parse(value, dimension)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("text", "dimension", "unit"),
    [
        ("2 amps", "current", "A"),
        ("2 ma", "current", "mA"),
        ("2 ah", "charge", "Ah"),
        ("2 Feet", "length", "ft"),
        ("2 '", "length", "ft"),
        ('2 "', "length", "in"),
        ("2 metres", "length", "m"),
        ("2 M", "length", "m"),
        ("85 C", "temperature", "°C"),
        ("85 F", "temperature", "°F"),
        ("85 deg C", "temperature", "°C"),
        ("5 percent", "ratio", "%"),
        ("5 KW", "power", "kW"),
        ("5 ohms", "resistance", "ohm"),
        ("5 secs", "time", "s"),
        ("5 lbs", "mass", "lb"),
        ("90 per minute", "rate", "per min"),
        ("12 V DC", "voltage", "V"),
    ],
)
def test_near_misses_name_the_unit_meant(text: str, dimension: Dimension, unit: str):
    """A common misspelling is refused with the unit that was meant."""
    with pytest.raises(QuantityError, match=re.escape(f"did you mean {unit!r}? A ")):
        parse(text, dimension)


@pytest.mark.parametrize("text", ["2,5 m", "1,000 m", "1.000,5 m", ",5 m", "-2,5 m"])
def test_a_comma_is_refused(text: str):
    """A comma may be a decimal or a thousands mark, so neither is guessed."""
    with pytest.raises(QuantityError, match="use a decimal point"):
        parse(text, "length")


@pytest.mark.parametrize(
    "text", ["", "   ", "V", "abc", "inf V", "-inf V", "NaN V", "--3 V", "1/2 V", "1 000 V", "0x10 V"]
)
def test_nonsense_is_refused(text: str):
    """What is no number with one unit is refused, never half read."""
    with pytest.raises(QuantityError, match="a voltage is wanted"):
        parse(text, "voltage")


def test_long_texts_do_not_hang():
    """A hostile value of half a megabyte of blanks is refused at once."""
    with pytest.raises(QuantityError):
        parse("1" + " " * 500_000 + "x", "voltage")


@given(st.text(max_size=30), st.sampled_from(list(quantity_module._UNITS)))
def test_any_text_is_read_or_refused(text: str, dimension: Dimension):
    """Whatever is written, the answer is a finite number or a QuantityError that says what is wanted."""
    refusal, value = "", 0.0
    try:
        value = parse(text, dimension)
    except QuantityError as error:
        refusal = str(error)
    assert math.isfinite(value)
    assert (quantity_module._WORDS[dimension][0] in refusal) == bool(refusal)


@given(
    st.floats(min_value=-1e6, max_value=1e6, allow_nan=False),
    st.sampled_from([(d, u) for d, table in quantity_module._UNITS.items() for u in table]),
)
def test_reading_inverts_writing(number: float, place: tuple[Dimension, str]):
    """A number written with any unit comes back times that unit's factor plus its offset."""
    dimension, unit = place
    factor, offset = quantity_module._UNITS[dimension][unit]
    assert parse(f"{number!r} {unit}", dimension) == number * factor + offset


@given(st.sampled_from([(d, u) for d, table in quantity_module._UNITS.items() for u in table]), st.data())
def test_a_unit_of_another_dimension_is_never_read(place: tuple[Dimension, str], data: st.DataObject):
    """No unit is valid for two dimensions."""
    dimension, unit = place
    other = data.draw(st.sampled_from([d for d in quantity_module._UNITS if d != dimension]))
    with pytest.raises(QuantityError, match=re.escape(f"{unit!r} is a unit of")):
        parse(f"1 {unit}", other)


@pytest.mark.parametrize(
    ("text", "area_mm2", "series", "label"),
    [
        ("2.5 mm²", 2.5, "mm2", "2.5 mm²"),
        ("2.5mm2", 2.5, "mm2", "2.5 mm²"),
        ("0.50 mm^2", 0.5, "mm2", "0.5 mm²"),
        ("35 mm²", 35.0, "mm2", "35 mm²"),
        ("14 AWG", 2.0809, "AWG", "14 AWG"),
        (" 14awg ", 2.0809, "AWG", "14 AWG"),
        ("2/0 AWG", 67.4309, "AWG", "2/0 AWG"),
        ("00 AWG", 67.4309, "AWG", "2/0 AWG"),
        ("0 AWG", 53.4751, "AWG", "1/0 AWG"),
        ("4/0 AWG", 107.2193, "AWG", "4/0 AWG"),
        ("14 SAE", 1.876, "SAE", "14 SAE"),
        ("0 SAE", 50.15, "SAE", "1/0 SAE"),
        ("1/0 sae", 50.15, "SAE", "1/0 SAE"),
    ],
)
def test_reads_sizes(text: str, area_mm2: float, series: str, label: str):
    """Metric, American and vehicle-cable sizes with the areas of the tables (S1 for AWG, S10 for SAE)."""
    size = parse_size(text)
    assert (size.series, size.label) == (series, label)
    assert size.area_mm2 == pytest.approx(area_mm2, abs=6e-5)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("0/0 AWG", "'0/0 AWG' is not a gauge from 4/0 to 30 AWG"),
        ("5/0 AWG", "'5/0 AWG' is not a gauge from 4/0 to 30 AWG"),
        ("00000 AWG", "'00000 AWG' is not a gauge from 4/0 to 30 AWG"),
        ("31 AWG", "'31 AWG' is not a gauge from 4/0 to 30 AWG"),
        ("AWG 14", "'AWG 14': write the number first, \"14 AWG\""),
        ("sae #16", "'sae #16': write the number first, \"16 SAE\""),
        ("13 SAE", f"'13 SAE' is not an SAE size; known: {', '.join(SAE_AREA_MM2)}"),
        ("600 mm²", "'600 mm²' is outside 0.1 to 500 mm²"),
        ("0 mm²", "'0 mm²' is outside 0.1 to 500 mm²"),
        (
            "2.5 mm",
            '\'mm\' is a unit of length; did you mean \'mm²\'? A size is an area: "2.5 mm²", "14 AWG" or "14 SAE"',
        ),
        (
            "2.5 AWG",
            "'2.5 AWG' is not a whole gauge number from 4/0 to 30; a conductor size is wanted:"
            ' "2.5 mm²", "14 AWG" or "14 SAE"',
        ),
        ("14", '\'14\' has no unit; a conductor size is wanted: "2.5 mm²", "14 AWG" or "14 SAE"'),
        (14, '14 has no unit; a conductor size is wanted: "2.5 mm²", "14 AWG" or "14 SAE"'),
        (
            "14 ga",
            "unknown unit 'ga'; did you mean 'AWG' or 'SAE' (they differ)? Write \"2.5 mm²\", \"14 AWG\" or \"14 SAE\"",
        ),
        (
            "2.5 sqmm",
            'unknown unit \'sqmm\'; did you mean \'mm²\'? Write "2.5 mm²", "14 AWG" or "14 SAE"',
        ),
        ("12 V", '\'V\' is a unit of voltage; a conductor size is wanted: "2.5 mm²", "14 AWG" or "14 SAE"'),
        ("14 x", '\'14 x\' is not a conductor size; write "2.5 mm²", "14 AWG" or "14 SAE"'),
    ],
)
def test_size_refusals_say_what_to_write(text: object, message: str):
    """The whole sentence of each kind of refused size."""
    with pytest.raises(QuantityError) as caught:
        parse_size(text)
    assert str(caught.value) == message


@given(st.text(alphabet="0123456789/. AWGSEamw²^-,", max_size=12))
def test_any_size_text_is_read_or_refused(text: str):
    """Whatever is written, the answer is a positive area or a QuantityError."""
    try:
        size = parse_size(text)
    except QuantityError:
        return
    assert 0.04 < size.area_mm2 <= 500


@given(st.integers(min_value=-3, max_value=30))
def test_labels_read_back(gauge: int):
    """The label of an AWG size is itself a size and gives the same area."""
    text = f"{gauge} AWG" if gauge > 0 else f"{1 - gauge}/0 AWG"
    size = parse_size(text)
    assert parse_size(size.label) == size
    assert size.area_mm2 == awg_area_mm2(gauge)


def test_awg_runs_down_by_the_same_factor():
    """ASTM B258: 39 equal steps lead from 0.46 in (4/0) to 0.005 in (36), so six steps make 2.005."""
    assert awg_diameter_mm(-3) == pytest.approx(11.684, rel=1e-9)
    assert awg_diameter_mm(36) == pytest.approx(0.127, rel=1e-9)
    assert awg_diameter_mm(10) / awg_diameter_mm(16) == pytest.approx(2.0050, abs=5e-5)


@pytest.mark.parametrize("number", list(SAE_AREA_MM2))
def test_sae_is_smaller_than_awg(number: str):
    """A vehicle-cable conductor has less copper than the AWG of its number (S10), except size 20 (S9)."""
    if number == "20":
        assert parse_size("20 SAE").area_mm2 / parse_size("20 AWG").area_mm2 == pytest.approx(1.041, abs=1e-3)
        return
    assert 0.87 <= parse_size(f"{number} SAE").area_mm2 / parse_size(f"{number} AWG").area_mm2 <= 0.95


@pytest.mark.parametrize(
    ("value", "unit", "significant", "expected"),
    [
        (0.0123, "V", 3, "0.0123 V"),
        (12.345, "A", 3, "12.3 A"),
        (1234.0, "W", 3, "1234 W"),
        (0.0, "V", 3, "0 V"),
        (-0.0, "V", 3, "0 V"),
        (1e-12, "A", 3, "0 A"),
        (-1.5, "V", 3, "-1.5 V"),
        (9.999, "V", 3, "10 V"),
        (0.09996, "V", 3, "0.1 V"),
        (100.0, "m", 3, "100 m"),
        (5.392, "V", 4, "5.392 V"),
        (math.nan, "V", 3, "-- V"),
        (math.inf, "A", 3, "-- A"),
    ],
)
def test_show(value: float, unit: str, significant: int, expected: str):
    """Three significant digits, no exponent, no trailing zeros, and two dashes where there is no value."""
    assert show(value, unit, significant) == expected


@given(st.floats(min_value=1e-8, max_value=1e9), st.sampled_from([1, -1]))
def test_shown_values_read_back(value: float, sign: int):
    """What is printed can be read back to within half a unit of the third digit, and holds no exponent."""
    text = show(sign * value, "V")
    assert "e" not in text
    assert parse(text, "voltage") == pytest.approx(sign * value, rel=5.01e-3)


def test_the_examples_in_the_docstrings_hold():
    """Docstring examples are run."""
    assert doctest.testmod(quantity_module).failed == 0
    assert doctest.testmod(quantity_module).attempted > 0


@given(st.decimals(-10_000, 10_000, allow_nan=False, places=4), st.sampled_from([1, 10, 1000]))
def test_whole_steps_are_those_of_decimal_arithmetic(exact: Decimal, scale: int):
    """Up is never below and down never above what decimal arithmetic gives, whatever the binary digits do."""
    value = float(exact) * scale
    assert whole_up(value) == int((exact * scale).to_integral_value(ROUND_CEILING))
    assert whole_down(value) == int((exact * scale).to_integral_value(ROUND_FLOOR))
