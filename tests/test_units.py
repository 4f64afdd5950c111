import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.units import (
    KILOGRAMS,
    METRES,
    METRES_PER_SECOND,
    celsius_from_fahrenheit,
    fahrenheit_from_celsius,
    length_text,
    parse_length,
)

moderately = settings(max_examples=150, derandomize=True, deadline=None)


def test_the_factors_are_those_of_the_standard():
    # NIST Special Publication 811 (2008), appendix B.8, values from memory: foot 3.048 E-01 m,
    # yard 9.144 E-01 m, pound 4.535924 E-01 kg, knot 5.144444 E-01 m/s, kilometre per hour
    # 2.777778 E-01 m/s. Its fathom, 1.828804 E+00 m, is six US survey feet; ours six feet.
    assert METRES["ft"] == 0.3048
    assert METRES["yd"] == 0.9144 == pytest.approx(3 * METRES["ft"], rel=1e-15)
    assert METRES["fathom"] == pytest.approx(6 * METRES["ft"], rel=1e-15)
    assert METRES["fathom"] == pytest.approx(1.828804, rel=3e-6)
    assert (METRES["m"], METRES["km"], METRES["cm"]) == (1.0, 1000.0, 0.01)
    assert KILOGRAMS["lb"] == pytest.approx(0.4535924, abs=5e-8)
    assert (KILOGRAMS["kg"], KILOGRAMS["g"]) == (1.0, 0.001)
    assert METRES_PER_SECOND["kn"] == pytest.approx(0.5144444, abs=5e-8)
    assert METRES_PER_SECOND["km/h"] == pytest.approx(0.2777778, abs=5e-8)
    assert (METRES_PER_SECOND["m/s"], METRES_PER_SECOND["cm/s"]) == (1.0, 0.01)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0), (98.6, 37.0)]
)
def test_known_temperatures_convert_both_ways(fahrenheit, celsius):
    # Fixed points by definition of the Fahrenheit scale (NIST SP 811, appendix B.8).
    assert celsius_from_fahrenheit(fahrenheit) == pytest.approx(celsius, abs=1e-12)
    assert fahrenheit_from_celsius(celsius) == pytest.approx(fahrenheit, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("10m", 10.0),
        ("10", 10.0),
        (" 10 M ", 10.0),
        ("10\u00a0m", 10.0),
        ("33 ft", 10.0584),
        ("11 yd", 10.0584),
        ("2 fathom", 3.6576),
        ("1,5", 1.5),
        ("1.5", 1.5),
        ("0,125 m", 0.125),
        ("12,25", 12.25),
        ("1,2345", 1.2345),
        ("1.500", 1.5),
        (",5 km", 500.0),
        ("5. m", 5.0),
        ("250 cm", 2.5),
        ("1e3 m", 1000.0),
        ("-2 m", -2.0),
        ("+2 m", 2.0),
        ("0", 0.0),
    ],
)
def test_a_typed_length_is_read_in_metres(text, metres):
    assert parse_length(text) == pytest.approx(metres, rel=1e-15, abs=0.0)


def test_a_bare_number_has_the_default_unit_and_a_unit_overrules_it():
    assert parse_length("10", "ft") == pytest.approx(3.048, rel=1e-15)
    assert parse_length("10 m", "ft") == 10.0


@pytest.mark.parametrize(
    "text",
    ["", " ", "m", "ten", "10 rods", "10 m m", "10 m 5", "5 e3", "1.2.3", "1,2,3", "nan", "inf m",
     "-infinity", "--2", "1_0", "٤ m", "10'", "."],
)  # fmt: skip
def test_what_is_not_a_length_is_refused_with_the_text_in_the_message(text):
    with pytest.raises(InvalidValue) as caught:
        parse_length(text)
    assert caught.value.error == f"'{text}' is not a length."
    assert caught.value.what_to_do


@pytest.mark.parametrize("text", ["1,500", "1,000 ft", " -12,345 m", "999,999", "1,500,000"])
def test_a_comma_that_may_part_thousands_is_refused(text):
    with pytest.raises(InvalidValue, match="decimal comma or not"):
        parse_length(text)


@pytest.mark.parametrize("text", ["1e400", "-1e400 m", "1e308 km"])
def test_a_length_that_is_not_finite_is_refused(text):
    with pytest.raises(InvalidValue, match="too large"):
        parse_length(text)


@pytest.mark.parametrize(
    ("metres", "unit", "text"),
    [
        (0.0, "m", "0.00 m"),
        (-0.001, "m", "0.00 m"),
        (-0.5, "m", "-0.50 m"),
        (9.994, "m", "9.99 m"),
        (9.996, "m", "10.0 m"),
        (10.0, "m", "10.0 m"),
        (99.94, "m", "99.9 m"),
        (99.96, "m", "100 m"),
        (-99.96, "m", "-100 m"),
        (1234.4, "m", "1234 m"),
        (3.048, "ft", "10.0 ft"),
        (1.8288, "fathom", "1.00 fathom"),
        (9.144, "yd", "10.0 yd"),
    ],
)
def test_a_length_is_shown_with_as_many_decimals_as_make_sense(metres, unit, text):
    assert length_text(metres, unit) == text


def test_a_length_is_shown_in_metres_unless_asked_otherwise():
    assert length_text(5.3) == "5.30 m"


@pytest.mark.parametrize("metres", [math.nan, math.inf, -math.inf])
def test_a_length_that_is_not_known_is_not_shown_as_a_number(metres):
    with pytest.raises(InvalidValue, match="is not a length"):
        length_text(metres)


@moderately
@given(st.floats(-1e6, 1e6), st.sampled_from(sorted(METRES)))
def test_a_shown_length_is_read_back_to_half_its_last_decimal(metres, unit):
    text = length_text(metres, unit)
    digits = len(text.split()[0].partition(".")[2])
    half = 0.5000001 * 10.0**-digits * METRES[unit]
    assert abs(parse_length(text) - metres) <= half + 1e-9


@moderately
@given(st.floats(-100.0, 200.0))
def test_temperatures_come_back(celsius):
    there = fahrenheit_from_celsius(celsius)
    assert celsius_from_fahrenheit(there) == pytest.approx(celsius, abs=1e-12)
