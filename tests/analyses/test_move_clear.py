"""Moving a trap clear, held to GeographicLib and to shortest ways worked out by hand."""

import math
import time

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.made_trips import MadeTrip, make_trip
from trapline.analyses.move_clear import MARGIN_M, STEPS_A_GAP, clear_position
from trapline.errors import InvalidValue
from trapline.model.line import Place
from trapline.model.trip import Trip
from trapline.model.water import Water

MIN_M = 10.0


def metres(a: tuple[float, float], b: tuple[float, float]) -> float:
    return float(Geodesic.WGS84.Inverse(a[1], a[0], b[1], b[0])["s12"])


def east_of(lon_deg: float, lat_deg: float, metres_: float, bearing: float = 90.0) -> list[float]:
    there = Geodesic.WGS84.Direct(lat_deg, lon_deg, bearing, metres_)
    return [there["lon2"], there["lat2"]]


def at(*spots: list[float], **trip_values: float | None) -> MadeTrip:
    """Return a trip with traps at these spots."""
    made = make_trip(len(spots))
    places = [
        place.with_(lon_deg=lon, lat_deg=lat)
        for place, (lon, lat) in zip(made.snapshot.places("line"), spots, strict=True)
    ]
    trip = made.snapshot.all(Trip)[0].with_(**trip_values)
    return made.with_rows(trip, *places)


def check_clear(made: MadeTrip, found: tuple[float, float], moved: str) -> None:
    for row in made.sets():
        position = made.snapshot.position(row)
        if row.id != moved and position is not None:
            assert metres(found, position) >= MIN_M


@pytest.mark.parametrize("apart_m", [0.5, 3.0, 7.5, 9.99])
def test_away_from_one_neighbour_the_shortest_way_is_taken(apart_m: float) -> None:
    home = [7.0, 45.0]
    made = at(home, east_of(*home, apart_m, 33.0))
    found = clear_position(made.snapshot, "set-1-1")

    assert found is not None
    check_clear(made, found, "set-1-1")
    before = made.snapshot.position(made.sets()[1])
    assert before is not None
    # The bearings looked along are five degrees apart, the distances a fiftieth of the minimum.
    step_m = MIN_M / STEPS_A_GAP
    shortest_m = MIN_M - apart_m
    half_deg = math.radians(2.5)
    askew_m = -apart_m * math.cos(half_deg) + math.sqrt(
        (MIN_M + MARGIN_M) ** 2 - (apart_m * math.sin(half_deg)) ** 2
    )
    assert shortest_m <= metres(before, found) <= askew_m + step_m + 1e-6


def test_two_traps_on_one_spot_are_parted() -> None:
    made = at([7.0, 45.0], [7.0, 45.0])
    found = clear_position(made.snapshot, "set-1-1")

    assert found is not None
    assert MIN_M <= metres((7.0, 45.0), found) <= MIN_M + MIN_M / STEPS_A_GAP + 1e-6


def test_a_trap_that_is_clear_stays_exactly_where_it_is() -> None:
    made = at([7.0, 45.0], east_of(7.0, 45.0, 10.002))

    assert clear_position(made.snapshot, "set-1-1") == made.snapshot.position(made.sets()[1])


def test_in_a_dense_line_it_goes_aside() -> None:
    made = at(*[east_of(7.0, 45.0, 4.0 * n) for n in range(9)])
    found = clear_position(made.snapshot, "set-1-4")

    assert found is not None
    check_clear(made, found, "set-1-4")
    before = made.snapshot.position(made.sets()[4])
    assert before is not None
    # Between two neighbours 4 m off, straight aside: sqrt(10² − 4²) = 9.17 m.
    assert metres(before, found) == pytest.approx(math.sqrt(84), abs=0.25)


def test_where_all_is_crowded_there_is_no_answer() -> None:
    grid = [
        east_of(*east_of(7.0, 45.0, 9.0 * x), 9.0 * y, 0.0)
        for x in range(-13, 14)
        for y in range(-13, 14)
    ]
    made = at(*grid)

    assert clear_position(made.snapshot, f"set-1-{len(grid) // 2}") is None


@pytest.mark.parametrize("min_gap_m", [None])
def test_without_a_minimum_there_is_nothing_to_clear(min_gap_m: None) -> None:
    made = at([7.0, 45.0], [7.0, 45.0], min_gap_m=min_gap_m)

    assert clear_position(made.snapshot, "set-1-1") is None


def test_without_a_position_there_is_nothing_to_move() -> None:
    made = make_trip(2, has_positions=False)

    assert clear_position(made.snapshot, "set-1-1") is None


def test_traps_without_a_position_do_not_stand_in_the_way() -> None:
    made = at([7.0, 45.0], [7.0, 45.0])
    lost = made.snapshot.need(Place, "place-0").with_(lon_deg=None, lat_deg=None)
    made = made.with_rows(lost)

    assert clear_position(made.snapshot, "set-1-1") == (7.0, 45.0)


def test_a_trap_set_that_is_not_there_is_refused() -> None:
    with pytest.raises(InvalidValue):
        clear_position(make_trip(2).snapshot, "nothing")


def shore(made: MadeTrip, width_m: float, length_m: float = 400.0) -> MadeTrip:
    """Return the trip in a narrow channel that runs east about 7° east, 45° north."""
    corners = [
        east_of(*east_of(7.0, 45.0, length_m / 2, 90.0 if east > 0 else 270.0),
                width_m / 2, 0.0 if north > 0 else 180.0)
        for east, north in ((1, 1), (1, -1), (-1, -1), (-1, 1), (1, 1))
    ]  # fmt: skip
    water = made.snapshot.all(Water)[0].with_(shoreline=tuple(map(tuple, corners)))
    return made.with_rows(water)


def test_a_trap_in_the_water_is_not_moved_ashore() -> None:
    line = [east_of(7.0, 45.0, 4.0 * n) for n in range(-3, 4)]
    free = clear_position(at(*line).snapshot, "set-1-3")
    assert free is not None
    assert metres((7.0, 45.0), free) < 10  # straight aside

    made = shore(at(*line), width_m=6.0)
    found = clear_position(made.snapshot, "set-1-3")
    assert found is not None
    check_clear(made, found, "set-1-3")
    assert abs(metres((found[0], 45.0), found)) <= 3.01
    # Past the last of its neighbours, 12 m off.
    assert 20 <= metres((7.0, 45.0), found) <= 22.5


def test_a_trap_that_stands_ashore_on_the_map_may_go_anywhere() -> None:
    home = east_of(7.0, 45.0, 50.0, 0.0)
    made = shore(at(home, home), width_m=6.0)

    assert clear_position(made.snapshot, "set-1-1") is not None


@settings(derandomize=True, max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 30), st.floats(0, 30)), min_size=2, max_size=8))
def test_whatever_stands_about_the_answer_is_clear(spots: list[tuple[float, float]]) -> None:
    made = at(*[east_of(*east_of(-38.2, 61.3, x), y, 0.0) for x, y in spots])
    found = clear_position(made.snapshot, "set-1-0")

    assert found is not None
    check_clear(made, found, "set-1-0")


def test_the_way_of_the_rays_agrees_with_shapely() -> None:
    from shapely import contains_xy
    from shapely.geometry import Polygon

    from trapline.analyses.move_clear import _inside

    rng = np.random.default_rng(5)
    angles = np.sort(rng.uniform(0, 2 * np.pi, 40))
    radii = rng.uniform(0.2, 1.0, 40)
    ring = np.column_stack([radii * np.cos(angles), radii * np.sin(angles)])
    x, y = rng.uniform(-1, 1, (2, 4000))

    expected = contains_xy(Polygon(ring), x, y)
    assert 500 < expected.sum() < 3500
    assert (_inside(x, y, ring) == expected).all()
    assert (_inside(x, y, np.vstack([ring, ring[:1]])) == expected).all()
    assert not _inside(x, y, ring[:0]).any()


def test_only_traps_within_reach_take_time() -> None:
    made = make_trip(500, gap_deg=0.0001)
    clear_position(made.snapshot, "set-1-1")
    start = time.perf_counter()
    clear_position(made.snapshot, "set-1-250")

    # Measured: 5 ms; with all 500 traps asked at every step 620 ms.
    assert time.perf_counter() - start < 0.2
