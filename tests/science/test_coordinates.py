import json
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.science.coordinates import (
    degrees_text,
    parse_degrees,
    parse_position,
    position_text,
)

# Sources: tests/reference/geodesy/SOURCES.md.
TEXTS = json.loads(
    (Path(__file__).parent.parent / "reference" / "geodesy" / "coordinate_texts.json").read_text(
        encoding="utf-8"
    )
)
# The texts that are plain decimal degrees.
DECIMAL_TAGS = {
    "dd", "dd tab", "dd whitespace", "NBSP", "null island", "semicolon", "slash",
    "ring above U+02DA", "decimal comma and comma+space separator",
    "decimal comma, space separated",
}  # fmt: skip
READ = [case for case in TEXTS if case["tag"] in DECIMAL_TAGS]
NOT_READ = [case for case in TEXTS if case["tag"] not in DECIMAL_TAGS]
moderately = settings(max_examples=200, derandomize=True, deadline=None)


def test_every_way_of_plain_decimal_degrees_is_among_the_cases():
    assert {case["tag"] for case in READ} == DECIMAL_TAGS
    assert all(case["expect"] == "ok" for case in READ)


@pytest.mark.parametrize("case", READ, ids=lambda case: ascii(case["text"]))
def test_decimal_degrees_are_read(case):
    assert parse_position(case["text"]) == (case["lon"], case["lat"])


@pytest.mark.parametrize("case", NOT_READ, ids=lambda case: ascii(case["text"]))
def test_what_is_not_plain_decimal_degrees_is_refused_and_never_misread(case):
    with pytest.raises(InvalidValue) as caught:
        parse_position(case["text"])
    assert caught.value.what_to_do


@pytest.mark.parametrize(
    ("text", "axis", "degrees"),
    [
        ("45.458853", "lat", 45.458853),
        ("45,458853", "lat", 45.458853),
        ("-73.570139", "lon", -73.570139),
        ("\u221273.570139", "lon", -73.570139),
        ("+7.5", "lon", 7.5),
        ("73.570139W", "lon", -73.570139),
        ("W 73.570139", "lon", -73.570139),
        ("w73,570139°", "lon", -73.570139),
        ("33.85° S", "lat", -33.85),
        ("33.85º s", "lat", -33.85),
        ("N 60", "lat", 60.0),
        ("151.2 E", "lon", 151.2),
        ("  45.5  ", "lat", 45.5),
        ("\u00a045.5\u00a0°", "lat", 45.5),
        ("45.", "lat", 45.0),
        (".5", "lat", 0.5),
        ("-.5", "lat", -0.5),
        ("007", "lon", 7.0),
        ("90", "lat", 90.0),
        ("-180", "lon", -180.0),
        ("180.0", "lon", 180.0),
    ],
)
def test_one_number_is_read(text, axis, degrees):
    assert parse_degrees(text, axis) == degrees


@pytest.mark.parametrize("text", ["0 S", "-0", "-0.0", "S0"])
def test_zero_has_no_sign(text):
    assert math.copysign(1.0, parse_degrees(text, "lat")) == 1.0


@pytest.mark.parametrize(
    ("text", "axis", "says"),
    [
        ("", "lat", "The latitude is empty"),
        ("   ", "lon", "The longitude is empty"),
        ("-45 N", "lat", "twice"),
        ("-45 S", "lat", "twice"),
        ("+45 S", "lat", "twice"),
        ("N 45 N", "lat", "twice"),
        ("45 E", "lat", "A latitude is N or S"),
        ("S 45", "lon", "A longitude is E or W"),
        ("90.0000001", "lat", "outside -90 to 90"),
        ("-180.0000001", "lon", "outside -180 to 180"),
        ("9" * 400, "lon", "outside -180 to 180"),
        ("nan", "lat", "not a latitude in decimal degrees"),
        ("inf", "lon", "not a longitude in decimal degrees"),
        ("-Infinity", "lon", "not a longitude in decimal degrees"),
        ("1e1", "lat", "not a latitude in decimal degrees"),
        ("4_5", "lat", "not a latitude in decimal degrees"),
        ("٤٥", "lat", "not a latitude in decimal degrees"),
        ("--45", "lat", "not a latitude in decimal degrees"),
        ("45.1.2", "lat", "not a latitude in decimal degrees"),
        ("45,1,2", "lat", "not a latitude in decimal degrees"),
        ("45 27.5", "lat", "not a latitude in decimal degrees"),
        ("45 O", "lon", "not a longitude in decimal degrees"),
        ("45, 73", "lat", "not a latitude in decimal degrees"),
        (".", "lat", "not a latitude in decimal degrees"),
        ("45° 27.5", "lat", "in degrees and minutes, not in decimal degrees"),
        ("45°27.5'N", "lat", "in degrees and minutes, not in decimal degrees"),
        ("45°27′31.87″N", "lat", "in degrees and minutes, not in decimal degrees"),
        ("45:27:31", "lat", "in degrees and minutes, not in decimal degrees"),
        ("52d07m22.8s", "lat", "in degrees and minutes, not in decimal degrees"),
    ],
)
def test_one_number_that_cannot_be_is_refused_in_words(text, axis, says):
    with pytest.raises(InvalidValue) as caught:
        parse_degrees(text, axis)
    assert says in str(caught.value)
    assert caught.value.where == {"lat": "latitude", "lon": "longitude"}[axis]
    assert caught.value.what_to_do


def test_a_refused_number_is_named_and_the_way_out_is_decimal_degrees():
    with pytest.raises(InvalidValue) as caught:
        parse_degrees("45°27.5'N", "lat")
    assert caught.value.error == "'45°27.5'N' is in degrees and minutes, not in decimal degrees."
    assert caught.value.what_to_do == "Write decimal degrees, for example 45.123456."


def test_a_long_text_is_cut_in_the_message():
    with pytest.raises(InvalidValue) as caught:
        parse_degrees("x" * 10_000, "lat")
    assert len(caught.value.error) < 120


@pytest.mark.parametrize(
    ("text", "lon", "lat"),
    [
        ("45.5,-73.5", -73.5, 45.5),
        ("73.5, 145.5", 145.5, 73.5),
        ("45.5,73.5", 73.5, 45.5),
        ("45,-73", -73.0, 45.0),
        ("45, 73", 73.0, 45.0),
        ("45 73", 73.0, 45.0),
        ("45,1 73,2", 73.2, 45.1),
        ("45,1, 73,2", 73.2, 45.1),
        ("45,1; 73,2", 73.2, 45.1),
        ("45,1/73,2", 73.2, 45.1),
        ("-45,1\n-73,2", -73.2, -45.1),
        ("N 45.5 W 73.5", -73.5, 45.5),
        ("N45.5, W73.5", -73.5, 45.5),
        ("45.5 N 73.5 W", -73.5, 45.5),
        ("45.5N,73.5W", -73.5, 45.5),
        ("W 73.5 N 45.5", -73.5, 45.5),
        ("73.5 W, 45.5 N", -73.5, 45.5),
        ("73.5W; 45.5", -73.5, 45.5),
        ("73.5, 45.5 S", 73.5, -45.5),
        ("45.5 S, 73.5", 73.5, -45.5),
        ("45.5S 73.5", 73.5, -45.5),
        ("45.5° 73.5°", 73.5, 45.5),
        ("45.5° , 73.5", 73.5, 45.5),
        ("45.5° S 173.5° E", 173.5, -45.5),
    ],
)
def test_a_pasted_position_is_read_latitude_first_unless_letters_say_otherwise(text, lon, lat):
    assert parse_position(text) == (lon, lat)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "The position is empty"),
        ("52,1,4,5", "may be a decimal comma"),
        ("52,4", "may be a decimal comma"),
        ("-33,151", "may be a decimal comma"),
        ("45,458853", "may be a decimal comma"),
        ("52.1 4,5", "may be a decimal comma"),
        ("52,1,4 5", "may be a decimal comma"),
        ("45.5,7,5", "may be a decimal comma"),
        ("45°27,5' 7°30,1'", "in degrees and minutes"),
        ("45.5 N 7.5", "can be read in two ways"),
        ("45.5 S 7.5", "can be read in two ways"),
        ("45° 27.5", "in degrees and minutes"),
        ("N 45° 27.5", "in degrees and minutes"),
        ("45.5N 46.5N", "A longitude is E or W"),
        ("7.5E, 8.5E", "A latitude is N or S"),
        ("-45.5 S, 7.5", "twice"),
        ("N 45.5 N, 7.5", "not a position"),
        ("145.5, 73.5", "'145.5' is outside -90 to 90"),
        ("45.5, 190", "'190' is outside -180 to 180"),
        ("nan, 7", "not a position"),
        ("45.5, inf", "not a position"),
        ("45.5; 7.5; 3", "not a position"),
        ("45.5, 7.5, 3", "not a position"),
        ("45.5 7.5 3", "not a position"),
        ("45.5", "not a position"),
    ],
)
def test_a_pasted_position_with_no_meaning_or_two_is_refused(text, says):
    with pytest.raises(InvalidValue) as caught:
        parse_position(text)
    assert says in str(caught.value)
    assert caught.value.what_to_do


def test_latitude_and_longitude_are_written_in_the_order_they_are_read():
    assert position_text(-73.570139, 45.458853) == "45.458853, -73.570139"
    assert parse_position(position_text(-73.570139, 45.458853)) == (-73.570139, 45.458853)
    assert position_text(-73.570139, 45.458853, 2) == "45.46, -73.57"


@pytest.mark.parametrize(
    ("degrees", "digits", "text"),
    [
        (7.0, 6, "7.000000"),
        (-0.0000001, 6, "0.000000"),
        (-0.0, 6, "0.000000"),
        (-0.0000006, 6, "-0.000001"),
        (179.9999999, 6, "180.000000"),
        (45.0, 0, "45"),
        (1e-5, 6, "0.000010"),
    ],
)
def test_degrees_are_written_with_fixed_decimals_and_no_minus_zero(degrees, digits, text):
    assert degrees_text(degrees, digits) == text


@pytest.mark.parametrize("degrees", [math.nan, math.inf, -math.inf])
def test_degrees_that_are_not_finite_are_not_written(degrees):
    with pytest.raises(InvalidValue):
        degrees_text(degrees)
    with pytest.raises(InvalidValue):
        position_text(degrees, 0.0)
    with pytest.raises(InvalidValue):
        position_text(0.0, degrees)


millionths = st.tuples(
    st.integers(-180_000_000, 180_000_000), st.integers(-90_000_000, 90_000_000)
).map(lambda pair: (pair[0] / 1e6, pair[1] / 1e6))


@moderately
@given(millionths)
def test_what_is_written_with_six_decimals_is_read_back_exactly(position):
    lon, lat = position
    text = position_text(lon, lat)
    assert parse_position(text) == (lon, lat)
    assert parse_position(text.replace(", ", " ")) == (lon, lat)
    assert parse_position(text.replace(".", ",")) == (lon, lat)
    assert parse_degrees(degrees_text(lat), "lat") == lat
    assert parse_degrees(degrees_text(lon).replace(".", ","), "lon") == lon


@moderately
@given(millionths)
def test_a_letter_for_the_hemisphere_means_the_same_as_the_sign(position):
    lon, lat = position
    north = f"{degrees_text(abs(lat))}° {'S' if lat < 0 else 'N'}"
    east = f"{'W' if lon < 0 else 'E'}{degrees_text(abs(lon))}"
    assert parse_position(f"{north}, {east}") == (lon, lat)
    assert parse_position(f"{east} {north}") == (lon, lat)


@moderately
@given(st.floats(-180.0, 180.0), st.floats(-90.0, 90.0), st.integers(1, 15))
def test_writing_loses_no_more_than_half_the_last_decimal(lon, lat, digits):
    read_lon, read_lat = parse_position(position_text(lon, lat, digits))
    assert abs(read_lon - lon) <= 0.5000001 * 10.0**-digits + 1e-13
    assert abs(read_lat - lat) <= 0.5000001 * 10.0**-digits + 1e-13


def read_or_refused(text):
    try:
        return parse_position(text)
    except InvalidValue as refusal:
        return refusal


@moderately
@given(st.text(alphabet="0123456789.,;/ °'\"NSEWnsew-+\u2212\tdmx", max_size=25))
def test_any_text_is_a_place_on_earth_or_a_refusal(text):
    result = read_or_refused(text)
    if isinstance(result, InvalidValue):
        assert result.what_to_do
    else:
        assert abs(result[0]) <= 180.0
        assert abs(result[1]) <= 90.0
