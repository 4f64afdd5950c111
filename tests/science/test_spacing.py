import csv
import math
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.science import spacing
from trapline.science.geodesy import (
    bearing_and_distance,
    destination,
    earth_centred,
    geodesic_distance,
)
from trapline.science.spacing import (
    all_distances,
    distances_from,
    legs,
    most_pairs,
    nearest_neighbours,
    pairs_closer_than,
)

# Sources of the files: tests/reference/layouts/SOURCES.md.
LAYOUTS = Path(__file__).parent.parent / "reference" / "layouts"
# Centres of scattered layouts: where longitudes and grids are difficult, and where they are not.
CENTRES = {
    "north pole": (0.0, 90.0),
    "south pole": (77.0, -90.0),
    "near the pole": (10.0, 89.9995),
    "antimeridian": (180.0, -17.0),
    "antimeridian on the equator": (-180.0, 0.0),
    "edge of a zone": (6.0, 62.0),
    "middle latitude": (-71.3, 45.6),
}
moderately = settings(max_examples=100, derandomize=True, deadline=None)


@pytest.fixture(params=["scan", "tree"])
def way(request, monkeypatch):
    """Both ways of finding candidates, whatever the number of places."""
    monkeypatch.setattr(spacing, "SCAN_LIMIT", 10**9 if request.param == "scan" else 0)
    return request.param


def read(name):
    with (LAYOUTS / f"{name}.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def scattered(centre, n, radius_m, seed=1):
    rng = np.random.default_rng(seed)
    distance = radius_m * np.sqrt(rng.random(n))
    return destination(*CENTRES[centre], rng.uniform(0.0, 360.0, n), distance)


def brute_force(lon, lat):
    """Every distance by geographiclib, {(first, second): metres}."""
    return {
        (i, j): Geodesic.WGS84.Inverse(lat[i], lon[i], lat[j], lon[j])["s12"]
        for i, j in combinations(range(len(lon)), 2)
    }


@pytest.mark.usefixtures("way")
@pytest.mark.parametrize("name", ["equator_50", "lat45_500", "south46_500"])
def test_the_pairs_of_a_known_layout_are_all_found_and_none_added(name):
    places = read(f"{name}_traps")
    ids = [int(place["id"]) for place in places]
    known = {
        (int(row["id1"]), int(row["id2"])): float(row["distance_m"])
        for row in read(f"{name}_pairs_lt10m")
    }
    pairs = pairs_closer_than(
        [float(place["lon"]) for place in places], [float(place["lat"]) for place in places], 10.0
    )
    found = {
        (ids[i], ids[j]): d
        for i, j, d in zip(pairs.first, pairs.second, pairs.distance_m, strict=True)
    }
    assert len(pairs) == len(known) >= 49
    assert found.keys() == known.keys()
    assert max(abs(found[pair] - known[pair]) for pair in known) < 1e-6


@pytest.mark.usefixtures("way")
@pytest.mark.parametrize("centre", CENTRES)
def test_pairs_and_neighbours_are_those_of_brute_force_anywhere_on_earth(centre):
    lon, lat = scattered(centre, 60, 60.0)
    known = brute_force(lon, lat)
    close = {pair: distance for pair, distance in known.items() if distance < 12.0}
    assert len(close) > 20
    pairs = pairs_closer_than(lon, lat, 12.0)
    assert set(zip(pairs.first.tolist(), pairs.second.tolist(), strict=True)) == close.keys()
    for i, j, distance in zip(pairs.first, pairs.second, pairs.distance_m, strict=True):
        assert distance == pytest.approx(close[int(i), int(j)], abs=1e-6)

    matrix = all_distances(lon, lat)
    assert all(matrix[j, i] == pytest.approx(d, abs=1e-6) for (i, j), d in known.items())
    assert (matrix == matrix.T).all()
    assert (np.diag(matrix) == 0.0).all()

    index, distance_m = nearest_neighbours(lon, lat)
    np.fill_diagonal(matrix, np.inf)
    assert index.tolist() == matrix.argmin(axis=1).tolist()
    assert np.abs(distance_m - matrix.min(axis=1)).max() < 1e-6

    np.fill_diagonal(matrix, 0.0)
    rows, from_first = distances_from(float(lon[0]), float(lat[0]), lon, lat, 25.0)
    inside = np.flatnonzero(matrix[0] < 25.0)
    assert rows.tolist() == inside[np.argsort(matrix[0][inside])].tolist()
    assert np.abs(from_first - matrix[0][rows]).max() < 1e-6


def test_many_places_are_found_by_the_tree_as_by_the_scan(monkeypatch):
    lon, lat = scattered("middle latitude", 2500, 500.0)
    assert lon.size > spacing.SCAN_LIMIT
    with monkeypatch.context() as patch:
        for scan in ("_pairs_by_scan", "_squared_chords"):
            patch.delattr(spacing, scan)
        by_tree, near_by_tree = pairs_closer_than(lon, lat, 10.0), nearest_neighbours(lon, lat)
    monkeypatch.setattr(spacing, "SCAN_LIMIT", lon.size)
    by_scan, near_by_scan = pairs_closer_than(lon, lat, 10.0), nearest_neighbours(lon, lat)
    assert len(by_tree) > 1000
    assert (by_tree.first == by_scan.first).all()
    assert (by_tree.second == by_scan.second).all()
    assert (by_tree.distance_m == by_scan.distance_m).all()
    assert (near_by_tree[0] == near_by_scan[0]).all()
    assert (near_by_tree[1] == near_by_scan[1]).all()


@pytest.mark.usefixtures("way")
def test_the_nearest_along_the_earth_beats_the_nearest_through_it():
    # Going north from the equator bends more than going along it: shorter through, longer along.
    lon, lat = [0.0, 60.0, 0.0], [0.0, 0.0, 60.235]
    index, distance_m = nearest_neighbours(lon, lat)
    xyz = earth_centred(lon, lat)
    through = np.linalg.norm(xyz[1:] - xyz[0], axis=1)
    along = geodesic_distance(0.0, 0.0, lon[1:], lat[1:])
    assert through.argmin() != along.argmin()
    assert index[0] == 1 + along.argmin()
    assert distance_m[0] == along.min()


@pytest.mark.usefixtures("way")
def test_the_limit_itself_is_not_closer():
    lon, lat = [7.0, 7.0001], [45.0, 45.0]
    distance = geodesic_distance(lon[0], lat[0], lon[1], lat[1])
    assert len(pairs_closer_than(lon, lat, distance)) == 0
    assert len(pairs_closer_than(lon, lat, math.nextafter(distance, math.inf))) == 1
    assert distances_from(lon[0], lat[0], lon[1:], lat[1:], distance)[0].size == 0
    wider = math.nextafter(distance, math.inf)
    assert distances_from(lon[0], lat[0], lon[1:], lat[1:], wider)[0].tolist() == [0]


@pytest.mark.usefixtures("way")
def test_places_on_one_spot_are_pairs_at_0_m_in_order_of_rows():
    lon, lat = [7.0, 8.0, 7.0, 7.0], [45.0, 45.0, 45.0, 45.0]
    pairs = pairs_closer_than(lon, lat, 1.0)
    assert list(zip(pairs.first, pairs.second, strict=True)) == [(0, 2), (0, 3), (2, 3)]
    assert pairs.distance_m.tolist() == [0.0, 0.0, 0.0]
    assert len(pairs_closer_than(lon, lat, 0.0)) == 0
    index, distance_m = nearest_neighbours(lon, lat)
    assert distance_m[[0, 2, 3]].tolist() == [0.0, 0.0, 0.0]
    assert all(index[i] != i and index[i] in (0, 2, 3) for i in (0, 2, 3))
    assert distances_from(7.0, 45.0, lon, lat, 1.0)[0].tolist() == [0, 2, 3]


@pytest.mark.usefixtures("way")
def test_a_heap_of_places_on_one_spot_is_not_compared_pair_by_pair(monkeypatch):
    monkeypatch.delattr(spacing, "_rivals")
    index, distance_m = nearest_neighbours(np.full(500, 7.0), np.full(500, 45.0))
    assert (index != np.arange(500)).all()
    assert (distance_m == 0.0).all()


@pytest.mark.usefixtures("way")
def test_pairs_come_closest_first():
    lon, lat = scattered("antimeridian", 100, 100.0)
    pairs = pairs_closer_than(lon, lat, 20.0)
    keys = list(zip(pairs.distance_m, pairs.first, pairs.second, strict=True))
    assert len(keys) > 50
    assert keys == sorted(keys)
    assert (pairs.first < pairs.second).all()


@pytest.mark.usefixtures("way")
def test_one_place_or_none_has_no_pairs_and_no_neighbour():
    for n in (0, 1):
        lon, lat = np.full(n, 7.0), np.full(n, 45.0)
        assert len(pairs_closer_than(lon, lat, 1e6)) == 0
        assert all_distances(lon, lat).shape == (n, n)
        index, distance_m = nearest_neighbours(lon, lat)
        assert index.tolist() == [-1] * n
        assert np.isnan(distance_m).tolist() == [True] * n
        assert [part.shape for part in legs(lon, lat)] == [(0,), (0,)]
    assert distances_from(7.0, 45.0, [], [], 1e6)[0].size == 0


@pytest.mark.parametrize("call", [all_distances, legs, nearest_neighbours])
def test_a_missing_place_is_refused_by_its_index(call):
    with pytest.raises(InvalidValue, match="index 1"):
        call([7.0, 7.0, 7.0], [45.0, math.nan, 45.0])


def test_a_missing_place_or_limit_is_refused_in_a_search():
    with pytest.raises(InvalidValue, match="index 1"):
        pairs_closer_than([7.0, math.nan], [45.0, 45.0], 10.0)
    with pytest.raises(InvalidValue, match="index 1"):
        distances_from(7.0, 45.0, [7.0, 7.0], [45.0, 95.0], 10.0)
    with pytest.raises(InvalidValue, match="latitude nan"):
        distances_from(7.0, math.nan, [7.0, 7.0], [45.0, 45.0], 10.0)
    for limit in (-1.0, math.nan, math.inf):
        with pytest.raises(InvalidValue, match="not a length"):
            pairs_closer_than([7.0, 7.0], [45.0, 45.0], limit)
        with pytest.raises(InvalidValue, match="not a length"):
            distances_from(7.0, 45.0, [7.0], [45.0], limit)


def test_a_limit_wider_than_the_earth_finds_every_pair():
    lon, lat = [0.0, 180.0, 90.0, 10.0], [90.0, -90.0, 0.0, 20.0]
    assert len(pairs_closer_than(lon, lat, 3e7)) == 6
    assert distances_from(0.0, 90.0, lon, lat, 3e7)[0].tolist() == [0, 3, 2, 1]


def test_legs_follow_the_line():
    # Flinders Peak, Buninyong and back: Geocentric Datum of Australia Technical Manual (ICSM).
    lon = [144.42486788888888, 143.92649552777777, 144.42486788888888]
    lat = [-37.95103341666667, -37.65282113888889, -37.95103341666667]
    bearing, distance = legs(lon, lat)
    assert distance.tolist() == pytest.approx([54972.271, 54972.271], abs=5e-4)
    assert bearing.tolist() == pytest.approx([306.868158, 127.173631], abs=2e-6)


@st.composite
def layouts(draw):
    """Some places within a few hundred metres, or on one spot, anywhere on earth."""
    lon, lat = draw(
        st.one_of(
            st.tuples(st.floats(-180.0, 180.0), st.floats(-90.0, 90.0)),
            st.sampled_from(sorted(CENTRES.values())),
        )
    )
    steps = draw(
        st.lists(st.tuples(st.floats(0.0, 360.0), st.floats(0.0, 300.0)), min_size=2, max_size=12)
    )
    lons, lats = destination(lon, lat, [s[0] for s in steps], [s[1] for s in steps])
    return lons, lats, draw(st.floats(0.0, 400.0))


@moderately
@given(layouts())
def test_whatever_the_layout_the_pairs_are_those_of_the_matrix(layout):
    lon, lat, limit = layout
    matrix = all_distances(lon, lat)
    known = sorted(
        (matrix[i, j], i, j)
        for i, j in combinations(range(lon.size), 2)
        if geodesic_distance(lon[i], lat[i], lon[j], lat[j]) < limit
    )
    pairs = pairs_closer_than(lon, lat, limit)
    assert list(zip(pairs.distance_m, pairs.first, pairs.second, strict=True)) == known
    index, distance_m = nearest_neighbours(lon, lat)
    for i in range(lon.size):
        others = np.delete(matrix[i], i)
        # A distance may differ by a rounding with the direction it is measured in.
        assert distance_m[i] == pytest.approx(others.min(), abs=1e-8)
        assert index[i] != i
        assert matrix[i, index[i]] == pytest.approx(others.min(), abs=1e-8)
        rows, distances = distances_from(lon[i], lat[i], lon, lat, limit)
        assert rows.tolist() == [j for _, j in sorted(zip(distances, rows, strict=True))]
        assert set(rows) >= set(np.flatnonzero(matrix[i] < limit - 1e-8))
        assert set(rows) <= set(np.flatnonzero(matrix[i] < limit + 1e-8))
    assert (
        bearing_and_distance(lon[:-1], lat[:-1], lon[1:], lat[1:])[1] == legs(lon, lat)[1]
    ).all()


@moderately
@given(layouts())
def test_the_order_of_the_rows_changes_no_pair(layout):
    lon, lat, limit = layout
    pairs, turned = (
        pairs_closer_than(lon, lat, limit),
        pairs_closer_than(lon[::-1], lat[::-1], limit),
    )
    last = lon.size - 1
    there = {(int(i), int(j)) for i, j in zip(pairs.first, pairs.second, strict=True)}
    back = {
        (last - int(j), last - int(i)) for i, j in zip(turned.first, turned.second, strict=True)
    }
    on_the_edge = np.abs(all_distances(lon, lat) - limit) < 1e-8
    assert all(on_the_edge[i, j] for i, j in there ^ back)


@pytest.mark.parametrize("n", [0, 1, 2, 30, spacing.SCAN_LIMIT + 40])
@pytest.mark.parametrize("limit_m", [0.0, 5.0, 60.0])
def test_the_number_of_pairs_is_never_told_too_small(n: int, limit_m: float) -> None:
    rng = np.random.default_rng(n)
    lon_deg, lat_deg = 7.0 + rng.random(n) * 0.01, 45.0 + rng.random(n) * 0.01
    pairs = len(pairs_closer_than(lon_deg, lat_deg, limit_m))
    most = most_pairs(lon_deg, lat_deg, limit_m)
    assert pairs <= most <= n * (n - 1) // 2
    if n > spacing.SCAN_LIMIT:  # where it is needed it is close
        assert most <= pairs + 2
