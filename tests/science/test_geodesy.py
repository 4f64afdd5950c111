import csv
import json
import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod, Proj, Transformer

from trapline.errors import InvalidValue
from trapline.science import geodesy
from trapline.science.geodesy import (
    LocalPlane,
    bearing_and_distance,
    centre_of,
    destination,
    earth_centred,
    geodesic_distance,
    valid_positions,
    wrapped_longitude,
)

# Sources of the files: tests/reference/geodesy/SOURCES.md.
REFERENCE = Path(__file__).parent.parent / "reference" / "geodesy"
LINES = json.loads((REFERENCE / "published_lines.json").read_text())
KARNEY = LINES["karney_testcases_wgs84"]["rows"]
# Bessel 1841 and International 1924 (Hayford), as Vincenty (1975) states them.
ELLIPSOIDS = {
    "bessel": {"a": 6377397.155, "rf": 299.1528128},
    "international": {"a": 6378388.0, "rf": 297.0},
}

longitudes = st.floats(-180.0, 180.0)
latitudes = st.floats(-90.0, 90.0)
moderately = settings(max_examples=150, derandomize=True, deadline=None)


def angle_between(a_deg, b_deg):
    return abs(math.remainder(a_deg - b_deg, 360.0))


@pytest.mark.parametrize("row", KARNEY)
def test_karney_lines_have_their_length_and_bearing(row):
    # Sample of Karney's GeodTest.dat, as in geographiclib's own tests.
    bearing, distance = bearing_and_distance(row["lon1"], row["lat1"], row["lon2"], row["lat2"])
    assert distance == pytest.approx(row["s12"], abs=1e-6)
    assert angle_between(bearing, row["azi1"]) < 1e-10
    assert 0.0 <= bearing < 360.0


@pytest.mark.parametrize("row", KARNEY)
def test_karney_lines_lead_to_their_end(row):
    lon, lat = destination(row["lon1"], row["lat1"], row["azi1"], row["s12"])
    assert lat == pytest.approx(row["lat2"], abs=1e-11)
    assert angle_between(lon, row["lon2"]) < 1e-11
    assert -180.0 <= lon <= 180.0


@pytest.mark.parametrize("row", LINES["geographiclib_inverse"]["rows"])
def test_hard_lines_of_geographiclib_have_their_length(row):
    # GeographicLib tests/CMakeLists.txt, GeodSolve: nearly antipodal, nearly coincident, lon 539.
    lat, lon, to_lat, to_lon = row["args"]
    printed_digits = len(str(row["published_s"]).partition(".")[2])
    tolerance = 0.51 * 10.0**-printed_digits
    assert geodesic_distance(lon, lat, to_lon, to_lat) == pytest.approx(
        row["published_s"], abs=tolerance
    )


@pytest.mark.parametrize("line", LINES["vincenty1975_table2"]["lines"])
def test_vincenty_table_ii_is_met_on_its_ellipsoids(line, monkeypatch):
    # Vincenty (1975), Survey Review XXIII(176), table II; lengths are printed to 1 mm, and his
    # formulas are good to about that. Bearings to 1e-5", except line d (1e-3" with our figures).
    geod = Geod(**ELLIPSOIDS[line["ellipsoid"]])
    monkeypatch.setattr(geodesy, "wgs84", lambda: geod)
    published = line["published"]
    bearing, distance = bearing_and_distance(0.0, line["lat1"], line["dlon"], line["lat2"])
    assert distance == pytest.approx(published["s"], abs=1e-3)
    assert angle_between(bearing, published["az1"]) < 2e-3 / 3600
    back, _ = bearing_and_distance(line["dlon"], line["lat2"], 0.0, line["lat1"])
    assert angle_between(back, published["az2"] + 180.0) < 2e-3 / 3600


def test_flinders_peak_to_buninyong_is_as_in_the_gda_manual():
    # Geocentric Datum of Australia Technical Manual (ICSM): printed to 1 mm and 0.01".
    example = LINES["flinders_buninyong"]
    lat, lon = example["points_lat_lon"]["Flinders Peak"]
    to_lat, to_lon = example["points_lat_lon"]["Buninyong"]
    bearing, distance = bearing_and_distance(lon, lat, to_lon, to_lat)
    assert distance == pytest.approx(example["published"]["distance_m"], abs=5e-4)
    assert bearing == pytest.approx(example["published"]["az1"], abs=0.006 / 3600)
    back, _ = bearing_and_distance(to_lon, to_lat, lon, lat)
    assert back == pytest.approx(example["published"]["reverse_az"], abs=0.006 / 3600)


def test_short_baselines_are_right_to_a_micrometre():
    with (REFERENCE / "short_baselines.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) > 500
    lat1, lon1, lat2, lon2, azimuth = (
        np.array([float(row[name]) for row in rows])
        for name in ("lat1", "lon1", "lat2", "lon2", "azi1")
    )
    bearing, distance = bearing_and_distance(lon1, lat1, lon2, lat2)
    for method in ("s_python", "s_geodsolve_exact", "s_ecef_mp"):
        known = np.array([float(row[method]) for row in rows])
        assert np.abs(distance - known).max() < 1e-6
    assert np.abs(np.remainder(bearing - azimuth + 180.0, 360.0) - 180.0).max() < 2e-6
    chord = np.linalg.norm(earth_centred(lon1, lat1) - earth_centred(lon2, lat2), axis=1)
    assert (chord <= distance + 1e-8).all()
    assert np.abs(chord - distance).max() < 1e-7


def test_one_thousandth_of_a_degree_at_60_north_has_two_lengths():
    # Computed independently with geographiclib: 111.4123 m north-south, 55.8000 m east-west.
    assert geodesic_distance(5.0, 60.0, 5.0, 60.001) == pytest.approx(111.4123, abs=5e-5)
    assert geodesic_distance(5.0, 60.0, 5.001, 60.0) == pytest.approx(55.8000, abs=5e-5)


@moderately
@given(longitudes, latitudes, longitudes, latitudes)
def test_any_line_is_as_long_both_ways_and_as_geographiclib_says(lon, lat, to_lon, to_lat):
    distance = geodesic_distance(lon, lat, to_lon, to_lat)
    assert distance == pytest.approx(geodesic_distance(to_lon, to_lat, lon, lat), abs=1e-7)
    assert distance == pytest.approx(
        Geodesic.WGS84.Inverse(lat, lon, to_lat, to_lon)["s12"], abs=1e-6
    )
    ends = earth_centred([lon, to_lon], [lat, to_lat])
    assert np.linalg.norm(ends[0] - ends[1]) <= distance + 1e-6


@moderately
@given(st.tuples(longitudes, latitudes), st.tuples(longitudes, latitudes), st.data())
def test_a_detour_is_never_shorter(start, end, data):
    stop = data.draw(st.tuples(longitudes, latitudes))
    direct = geodesic_distance(*start, *end)
    assert geodesic_distance(*start, *stop) + geodesic_distance(*stop, *end) >= direct - 1e-6


@moderately
@given(longitudes, latitudes, st.floats(0.0, 359.999), st.floats(0.0, 100_000.0))
def test_going_somewhere_and_measuring_gives_the_distance_back(lon, lat, bearing, distance):
    there = destination(lon, lat, bearing, distance)
    assert -180.0 <= there[0] <= 180.0
    measured_bearing, measured = bearing_and_distance(lon, lat, *there)
    assert measured == pytest.approx(distance, abs=1e-6)
    if distance > 1.0 and abs(lat) < 89.0:
        assert angle_between(measured_bearing, bearing) < 1e-5


def test_a_longitude_past_180_is_the_same_place_and_comes_back_wrapped():
    assert geodesic_distance(359.0, 10.0, -1.0, 10.0) == pytest.approx(0.0, abs=1e-9)
    assert destination(179.9999, 0.0, 90.0, 100.0)[0] == pytest.approx(-179.999201685, abs=1e-8)
    assert destination(541.0, 0.0, 0.0, 0.0)[0] == pytest.approx(-179.0, abs=1e-12)
    assert wrapped_longitude([0.0, 180.0, -180.0, 190.0, -190.0, 540.5]).tolist() == [
        0.0, 180.0, -180.0, -170.0, 170.0, -179.5,
    ]  # fmt: skip


def test_the_bearing_to_the_same_place_is_0_and_none_is_360():
    for lat in (-90.0, -45.0, 0.0, 45.0, 90.0):
        assert bearing_and_distance(7.0, lat, 7.0, lat) == (0.0, 0.0)
    # West of north by less than a double can tell from 360.
    assert bearing_and_distance(0.0, 0.0, -1e-15, 45.0)[0] == 0.0
    assert bearing_and_distance(0.0, 0.0, -1.0, 0.0)[0] == 270.0


def test_scalars_give_floats_and_arrays_give_arrays():
    assert type(geodesic_distance(0.0, 0.0, 1.0, 0.0)) is float
    assert [type(x) for x in bearing_and_distance(0.0, 0.0, 1.0, 0.0)] == [float, float]
    assert [type(x) for x in destination(0.0, 0.0, 1.0, 0.0)] == [float, float]
    assert geodesic_distance([0.0, 1.0], [0.0, 0.0], 1.0, 0.0).shape == (2,)
    assert geodesic_distance(1.0, 0.0, [0.0, 1.0], [0.0, 0.0])[1] == 0.0
    assert geodesic_distance([], [], [], []).shape == (0,)
    assert destination(0.0, 0.0, 90.0, [0.0, 10.0])[0].shape == (2,)


def test_earth_centred_axes_point_where_they_should():
    # WGS 84: a = 6378137 m, b = 6356752.314245 m (NIMA TR8350.2, table 3.3).
    xyz = earth_centred([0.0, 90.0, 0.0, 33.0], [0.0, 0.0, 90.0, -90.0])
    known = [[6378137.0, 0, 0], [0, 6378137.0, 0], [0, 0, 6356752.314245], [0, 0, -6356752.314245]]
    assert np.abs(xyz - np.array(known)).max() < 1e-6


def test_earth_centred_agrees_with_proj():
    lon, lat = np.array([7.1, -120.3, 179.9, 541.0]), np.array([45.2, -33.3, 70.7, 1.0])
    proj = Transformer.from_pipeline(
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad "
        "+step +proj=cart +ellps=WGS84"
    )
    known = np.column_stack(proj.transform(lon, lat, np.zeros(4)))
    assert np.abs(earth_centred(lon, lat) - known).max() < 1e-7


@pytest.mark.parametrize(
    ("lon", "lat", "where", "value"),
    [
        ([0.0, 0.0, 0.0], [0.0, 10.0, 90.0000001], "index 2", "90.0000001"),
        ([0.0, 0.0], [-91.0, -92.0], "index 0", "-91.0"),
        ([0.0, 0.0], [0.0, math.nan], "index 1", "latitude nan"),
        ([0.0, 0.0], [0.0, -math.inf], "index 1", "latitude -inf"),
        ([0.0, math.nan], [0.0, 0.0], "index 1", "longitude nan"),
        ([math.inf, 0.0], [0.0, 0.0], "index 0", "longitude inf"),
        (0.0, 100.0, "", "latitude 100.0"),
    ],
)
def test_a_place_that_is_not_on_earth_is_refused_by_its_index(lon, lat, where, value):
    for call in (
        lambda: valid_positions(lon, lat),
        lambda: geodesic_distance(lon, lat, 0.0, 0.0),
        lambda: geodesic_distance(0.0, 0.0, lon, lat),
        lambda: bearing_and_distance(lon, lat, 0.0, 0.0),
        lambda: destination(lon, lat, 0.0, 1.0),
        lambda: earth_centred(lon, lat),
        lambda: centre_of(lon, lat),
        lambda: LocalPlane(0.0, 0.0).to_plane(lon, lat),
    ):
        with pytest.raises(InvalidValue) as caught:
            call()
        assert caught.value.where == where
        assert value in caught.value.error


def test_swapped_longitude_and_latitude_are_refused_where_they_can_be_seen():
    with pytest.raises(InvalidValue, match="swapped"):
        geodesic_distance(lat_deg=144.4, lon_deg=-37.9, to_lat_deg=143.9, to_lon_deg=-37.6)


@pytest.mark.parametrize(
    ("bearing", "distance", "noun"),
    [
        (math.nan, 1.0, "bearing"),
        (math.inf, 1.0, "bearing"),
        (0.0, -0.001, "distance"),
        (0.0, math.nan, "distance"),
        (0.0, math.inf, "distance"),
    ],
)
def test_a_destination_needs_a_finite_bearing_and_a_length(bearing, distance, noun):
    with pytest.raises(InvalidValue, match=noun):
        destination(0.0, 0.0, bearing, distance)
    with pytest.raises(InvalidValue, match="index 1"):
        destination(0.0, 0.0, [0.0, bearing], [0.0, distance])


@pytest.mark.parametrize(
    ("lon", "lat", "centre"),
    [
        ([7.0, 7.2], [45.0, 45.0], (7.1, 45.0)),
        ([179.0, -179.0], [10.0, 10.0], (180.0, 10.0)),
        ([179.0, -177.0], [0.0, 0.0], (-179.0, 0.0)),
        ([7.0], [-45.0], (7.0, -45.0)),
        ([3.0, 3.0], [-2.0, 6.0], (3.0, 2.0)),
        ([20.0, 200.0], [5.0, -5.0], (20.0, 5.0)),
    ],
)
def test_the_centre_is_in_the_middle_across_the_antimeridian_too(lon, lat, centre):
    found = centre_of(lon, lat)
    assert angle_between(found[0], centre[0]) < 1e-9
    # Two places on one parallel have their middle a little poleward of it.
    assert found[1] == pytest.approx(centre[1], abs=0.01)


@pytest.mark.parametrize("pole", [90.0, -90.0])
def test_places_round_a_pole_have_their_centre_at_it(pole):
    found = centre_of([0.0, 90.0, 180.0, -90.0], [pole * (1 - 1e-5)] * 4)
    assert found[1] == pytest.approx(pole, abs=1e-9)


def test_no_places_have_no_centre():
    with pytest.raises(InvalidValue, match="no places"):
        centre_of([], [])


@pytest.mark.parametrize(
    ("lon", "lat"),
    [(7.0, 45.0), (180.0, 0.0), (-179.9999, -70.0), (0.0, 90.0), (33.0, -90.0), (10.0, 89.9999)],
)
def test_the_plane_agrees_with_the_projection_of_proj(lon, lat):
    rng = np.random.default_rng(3)
    lons, lats = destination(lon, lat, rng.uniform(0, 360, 200), rng.uniform(0, 20_000, 200))
    east, north = LocalPlane(lon, lat).to_plane(lons, lats)
    proj_east, proj_north = Proj(proj="aeqd", lon_0=lon, lat_0=lat, ellps="WGS84")(lons, lats)
    assert np.abs(east - proj_east).max() < 1e-6
    assert np.abs(north - proj_north).max() < 1e-6
    back_lon, back_lat = LocalPlane(lon, lat).to_earth(east, north)
    assert geodesic_distance(back_lon, back_lat, lons, lats).max() < 1e-6


def test_east_is_first_and_north_second_on_the_plane():
    plane = LocalPlane(7.0, 60.0)
    # Computed independently with geographiclib: 0.001 degrees at 60 N.
    assert plane.to_plane(7.001, 60.0)[0] == pytest.approx(55.8000, abs=5e-5)
    assert plane.to_plane(7.0, 60.001)[1] == pytest.approx(111.4123, abs=5e-5)
    lon, lat = plane.to_earth(0.0, -111.4123)
    assert (lon, lat) == pytest.approx((7.0, 59.999), abs=1e-9)
    assert plane.to_earth(0.0, 0.0) == (7.0, 60.0)
    assert [type(x) for x in plane.to_plane(7.0, 60.0)] == [float, float]


def test_the_plane_is_off_by_as_little_as_it_says():
    lon, lat = LocalPlane(7.0, 45.0).to_earth([1e4, 1e4, 1e5, 1e5], [-50.0, 50.0, -50.0, 50.0])
    across = geodesic_distance(lon[::2], lat[::2], lon[1::2], lat[1::2])
    assert (100.0 / across - 1.0).tolist() == pytest.approx([0.41e-6, 41e-6], rel=0.01)


@pytest.mark.parametrize(("lon", "lat"), [(0.0, 90.1), (math.nan, 0.0)])
def test_a_plane_needs_a_centre_on_earth(lon, lat):
    with pytest.raises(InvalidValue):
        LocalPlane(lon, lat)


def test_a_point_of_the_plane_must_be_finite():
    with pytest.raises(InvalidValue):
        LocalPlane(0.0, 0.0).to_earth(math.nan, 0.0)
    with pytest.raises(InvalidValue, match="index 1"):
        LocalPlane(0.0, 0.0).to_earth([0.0, 1.0], [0.0, math.inf])


def test_nothing_heavy_is_imported_before_it_is_used():
    code = (
        "import sys; from trapline.science import coordinates, geodesy, spacing, survey; "
        "geodesy.LocalPlane(0.0, 0.0); "
        "print(sorted({'pyproj', 'scipy'} & set(sys.modules)))"
    )
    printed = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=REFERENCE.parents[2]
    )
    assert (printed.stdout.strip(), printed.stderr) == ("[]", "")
