import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.science.geodesy import bearing_and_distance, geodesic_distance
from trapline.science.spacing import legs
from trapline.science.survey import (
    MOST_PLACES,
    place_from,
    places_along,
    places_every,
    places_on_bearing,
    string_spacing_m,
)

# Flinders Peak to Buninyong: Geocentric Datum of Australia Technical Manual (ICSM).
FLINDERS = (144.42486788888888, -37.95103341666667)
BUNINYONG = (143.92649552777777, -37.65282113888889)
START, END = (-71.3, 45.6), (-71.299, 45.6005)

everywhere = st.tuples(st.floats(-180.0, 180.0), st.floats(-90.0, 90.0))
moderately = settings(max_examples=100, derandomize=True, deadline=None)


def assert_on_the_line(lon, lat, start, end):
    """Each place is on the geodesic, computed with geographiclib from the first place."""
    line = Geodesic.WGS84.InverseLine(start[1], start[0], end[1], end[0])
    for place_lon, place_lat in zip(lon, lat, strict=True):
        there = line.Position(geodesic_distance(*start, float(place_lon), float(place_lat)))
        assert geodesic_distance(there["lon2"], there["lat2"], place_lon, place_lat) < 1e-5


def test_a_place_is_found_by_bearing_and_distance():
    lon, lat = place_from(*FLINDERS, 306.0 + 52.0 / 60.0 + 5.37 / 3600.0, 54972.271)
    # The manual prints the bearing to 0.01", which is 3 mm at this distance.
    assert geodesic_distance(lon, lat, *BUNINYONG) < 0.003


def test_the_ends_are_among_the_places_along_a_line():
    lon, lat = places_along(*FLINDERS, *BUNINYONG, 7)
    assert (lon[0], lat[0]) == FLINDERS
    assert (lon[-1], lat[-1]) == BUNINYONG
    assert lon.size == lat.size == 7
    assert legs(lon, lat)[1].tolist() == pytest.approx([54972.271 / 6] * 6, abs=5e-4)
    assert_on_the_line(lon, lat, FLINDERS, BUNINYONG)
    two = places_along(*START, *END, 2)
    assert two[0].tolist() == [START[0], END[0]]
    assert two[1].tolist() == [START[1], END[1]]


def test_a_line_across_the_antimeridian_stays_short_and_wrapped():
    lon, lat = places_along(179.9995, -17.0, 180.0005, -17.0, 5)
    assert lon.tolist() == pytest.approx(
        [179.9995, 179.99975, math.copysign(180.0, lon[2]), -179.99975, -179.9995], abs=1e-9
    )
    assert lat.tolist() == pytest.approx([-17.0] * 5, abs=1e-9)


def test_as_many_places_fit_as_the_spacing_allows():
    length_m = geodesic_distance(*START, *END)
    lon, lat = places_every(*START, *END, 20.0)
    assert lon.size == math.floor(length_m / 20.0) + 1 == 5
    assert (lon[0], lat[0]) == START
    assert legs(lon, lat)[1].tolist() == pytest.approx([20.0] * 4, abs=1e-6)
    assert_on_the_line(lon, lat, START, END)
    assert places_every(*START, *END, 1000.0)[0].tolist() == [START[0]]


def test_the_last_place_that_fits_exactly_is_not_lost_to_rounding():
    for n in range(2, 40):
        end = place_from(*START, 33.0, 10.0 * (n - 1))
        assert places_every(*START, *end, 10.0)[0].size == n


def test_a_given_number_of_places_goes_on_beyond_the_end():
    length_m = geodesic_distance(*START, *END)
    lon, lat = places_every(*START, *END, 20.0, 8)
    assert lon.size == 8
    assert geodesic_distance(*START, float(lon[7]), float(lat[7])) > length_m + 40.0
    assert legs(lon, lat)[1].tolist() == pytest.approx([20.0] * 7, abs=1e-6)
    assert_on_the_line(lon, lat, START, END)
    assert places_every(*START, *END, 20.0, 2)[0].size == 2


def test_places_on_a_bearing_start_at_the_first_and_keep_their_spacing():
    lon, lat = places_on_bearing(181.0, 60.0, 90.0, 25.0, 4)
    assert (lon[0], lat[0]) == (-179.0, 60.0)
    for k in range(1, 4):
        known = Geodesic.WGS84.Direct(60.0, 181.0, 90.0, 25.0 * k)
        assert geodesic_distance(lon[k], lat[k], known["lon2"], known["lat2"]) < 1e-6
    assert places_on_bearing(*START, 0.0, 10.0, 1)[1].tolist() == [START[1]]


def test_the_spacing_of_a_string_is_its_length_over_the_gaps():
    assert string_spacing_m(*FLINDERS, *BUNINYONG, 11) == pytest.approx(5497.2271, abs=5e-5)
    lon, lat = places_along(*START, *END, 6)
    assert legs(lon, lat)[1].tolist() == pytest.approx(
        [string_spacing_m(*START, *END, 6)] * 5, abs=1e-6
    )


@moderately
@given(everywhere, st.floats(0.0, 360.0), st.floats(1.0, 5000.0), st.integers(2, 15))
def test_any_line_is_cut_evenly(start, bearing, length_m, n):
    end = place_from(*start, bearing, length_m)
    lon, lat = places_along(*start, *end, n)
    gaps = legs(lon, lat)[1]
    assert gaps.tolist() == pytest.approx([length_m / (n - 1)] * (n - 1), abs=1e-6)
    assert np.abs(lon).max() <= 180.0
    on_bearing = places_on_bearing(*start, bearing, length_m / (n - 1), n)
    assert geodesic_distance(lon, lat, *on_bearing).max() < 1e-5


@pytest.mark.parametrize("n", [1, 0, -3, MOST_PLACES + 1])
def test_a_line_between_two_ends_needs_two_places_or_more(n):
    with pytest.raises(InvalidValue, match=f"{n} places"):
        places_along(*START, *END, n)
    with pytest.raises(InvalidValue, match=f"{n} places"):
        string_spacing_m(*START, *END, n)


@pytest.mark.parametrize("n", [0, -1, MOST_PLACES + 1])
def test_a_number_of_places_must_be_sensible(n):
    with pytest.raises(InvalidValue, match=f"{n} places"):
        places_on_bearing(*START, 0.0, 10.0, n)
    with pytest.raises(InvalidValue, match=f"{n} places"):
        places_every(*START, *END, 10.0, n)


@pytest.mark.parametrize("spacing_m", [0.0, -10.0, math.nan, math.inf])
def test_a_spacing_must_be_a_length(spacing_m):
    with pytest.raises(InvalidValue, match="spacing"):
        places_every(*START, *END, spacing_m)
    with pytest.raises(InvalidValue, match="spacing"):
        places_on_bearing(*START, 0.0, spacing_m, 3)


def test_a_mistyped_spacing_does_not_fill_the_memory():
    with pytest.raises(InvalidValue, match="100001 places"):
        places_every(*FLINDERS, *BUNINYONG, 1e-9)
    with pytest.raises(InvalidValue, match="100001 places"):
        places_every(*FLINDERS, *BUNINYONG, 5e-324)


def test_two_ends_on_one_place_make_no_line():
    with pytest.raises(InvalidValue, match="same place"):
        places_along(*START, *START, 3)
    with pytest.raises(InvalidValue, match="same place"):
        places_every(*START, *START, 10.0, 3)


def test_a_place_or_bearing_that_is_none_is_refused():
    with pytest.raises(InvalidValue, match=r"latitude 91\.0"):
        place_from(0.0, 91.0, 0.0, 1.0)
    with pytest.raises(InvalidValue, match="bearing"):
        places_on_bearing(*START, math.nan, 10.0, 3)
    with pytest.raises(InvalidValue, match="distance"):
        place_from(*START, 0.0, -1.0)
    with pytest.raises(InvalidValue, match="latitude nan"):
        places_every(*START, 0.0, math.nan, 10.0)


def test_the_bearing_is_clockwise_from_north():
    assert place_from(7.0, 45.0, 90.0, 10.0)[0] > 7.0
    assert place_from(7.0, 45.0, 180.0, 10.0)[1] < 45.0
    assert bearing_and_distance(7.0, 45.0, *place_from(7.0, 45.0, 200.0, 10.0)) == pytest.approx(
        (200.0, 10.0), abs=1e-6
    )
