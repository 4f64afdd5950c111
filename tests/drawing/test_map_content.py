import numpy as np
import pytest

from trapline.drawing.map_content import MapContent, MarkStyle
from trapline.errors import InvalidValue


def test_an_empty_map_is_a_map():
    content = MapContent()
    assert content.extent() is None
    assert content.row("x") is None
    assert content.place_id("") is None


def test_columns_of_unlike_length_are_refused():
    with pytest.raises(InvalidValue, match="2 places"):
        MapContent(ids=("a", "b"), labels=("A",))


def test_a_place_is_found_by_its_own_id_and_by_that_of_its_trap_set(lake):
    assert lake.row("place-3") == lake.row("set-3") == 3
    assert lake.place_id("set-3") == "place-3"
    assert lake.place_id("loose-set-1") == lake.place_id("loose-1") == "loose-1"
    assert lake.place_id("nobody") is None


def test_places_without_a_trap_set_are_not_found_by_an_empty_id(lake_with):
    content = lake_with(set_ids=("",) * 12)
    assert content.row("") is None


def test_the_extent_holds_the_plumes_and_leaves_out_what_is_not_known(lake_with):
    content = lake_with()
    west, _, east, _ = content.extent()
    # The first and the last trap reach 22 m farther out than they stand.
    assert west == pytest.approx(min(content.east_m.min(), content.plume_boxes[:, 0].min()))
    assert east == pytest.approx(content.east_m[-1] + 22.0, abs=0.5)
    lost = content.east_m.copy()
    lost[0] = np.nan
    assert np.isfinite(lake_with(east_m=lost, plumes=()).extent()).all()


def test_a_lake_without_places_is_shown_by_its_shore(lake_with):
    none = np.empty(0)
    content = lake_with(ids=(), set_ids=(), labels=(), east_m=none, north_m=none,
                        style_of=none.astype(np.intp), plumes=(), gaps=(), links=())  # fmt: skip
    assert content.extent() == pytest.approx((-175.0, -100.0, 175.0, 100.0), abs=0.5)


def test_the_nearest_is_measured_by_the_geodesic_and_stakes_do_not_count(lake):
    other, distance_m = lake.nearest(4)
    assert other == 5
    # On the plane sqrt(7² + 3²); the geodesic agrees to a micrometre this near the anchor.
    assert distance_m == pytest.approx(np.hypot(7.0, 3.0), abs=1e-5)
    stake = MapContent(
        ids=("a", "b"), labels=("A", "B"), east_m=np.array([0.0, 1.0]), north_m=np.zeros(2),
        styles=(MarkStyle(), MarkStyle(state="stake")), style_of=np.array([0, 1]),
    )  # fmt: skip
    assert stake.nearest(0) is None
