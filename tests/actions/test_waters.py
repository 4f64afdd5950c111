"""The shoreline of a water."""

import pytest

from tests.actions.bench import Bench
from trapline.actions.waters import MOST_SHORE_POINTS, set_shoreline
from trapline.model.water import Water

TRIANGLE = ((10.0, 60.0), (10.1, 60.0), (10.0, 60.1))


def shoreline(bench: Bench) -> tuple[tuple[float, float], ...]:
    return bench.snapshot.need(Water, bench.water_id).shoreline


def test_a_shoreline_closes_itself_and_can_be_cleared(bench: Bench) -> None:
    bench.does(set_shoreline, bench.water_id, TRIANGLE)
    assert shoreline(bench) == (*TRIANGLE, TRIANGLE[0])
    bench.does(set_shoreline, bench.water_id, ())
    assert shoreline(bench) == ()


def test_points_that_repeat_are_kept_once(bench: Bench) -> None:
    set_shoreline(bench.project, bench.water_id, [TRIANGLE[0], *TRIANGLE, TRIANGLE[0]])
    assert shoreline(bench) == (*TRIANGLE, TRIANGLE[0])


def test_a_very_long_track_is_thinned_evenly(bench: Bench) -> None:
    n = 3 * MOST_SHORE_POINTS
    track = [(10.0 + k * 1e-6, 60.0 + (k % 7) * 1e-6) for k in range(n)]
    set_shoreline(bench.project, bench.water_id, track)
    assert shoreline(bench) == (*track[::3], track[0])


@pytest.mark.parametrize(
    "points", [TRIANGLE[:2], [TRIANGLE[0]] * 5, [(10.0, 60.0), (10.1, 95.0), (10.0, 60.1)]]
)
def test_what_encloses_no_water_is_refused(bench: Bench, points: list[tuple[float, float]]) -> None:
    set_shoreline(bench.project, bench.water_id, TRIANGLE)
    bench.refuses(set_shoreline, bench.water_id, points)


def test_an_unknown_water_is_refused(bench: Bench) -> None:
    bench.refuses(set_shoreline, "no such water", TRIANGLE)
