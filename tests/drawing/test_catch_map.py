"""The catch on the map."""

import numpy as np
from PySide6.QtWidgets import QApplication

from tests.made_trips import make_trip
from trapline.analyses.place_catch import catch_per_place
from trapline.drawing.catch_map import BEST_FACTOR, COUNTED, LEAST_FACTOR, NOT_COUNTED, catch_map
from trapline.model.line import Place
from trapline.model.water import Water


def test_the_area_of_a_mark_grows_with_the_rate(qapp: QApplication) -> None:
    made = make_trip(4).lifted([8, 4, 0, None])
    content = catch_map(made.snapshot, catch_per_place(made.snapshot, made.round_ids))
    factor = dict(zip(content.ids, content.size_factors.tolist(), strict=True))
    places = made.place_ids
    assert factor[places[0]] == BEST_FACTOR
    assert factor[places[1]] == BEST_FACTOR / 2
    assert factor[places[2]] == LEAST_FACTOR


def test_a_place_without_a_count_has_another_shape_and_no_number(qapp: QApplication) -> None:
    made = make_trip(2).lifted([3, None])
    content = catch_map(made.snapshot, catch_per_place(made.snapshot, made.round_ids))
    at = {place: row for row, place in enumerate(content.ids)}
    assert content.style(at[made.place_ids[0]]) == COUNTED
    assert content.style(at[made.place_ids[1]]) == NOT_COUNTED
    assert COUNTED.mark != NOT_COUNTED.mark
    assert content.labels[at[made.place_ids[0]]] == "P1: 3.0"
    assert content.labels[at[made.place_ids[1]]] == "P2"


def test_no_catch_at_all_divides_by_nothing(qapp: QApplication) -> None:
    made = make_trip(2).lifted([0, 0])
    content = catch_map(made.snapshot, catch_per_place(made.snapshot, made.round_ids))
    assert np.isfinite(content.size_factors).all()


def test_places_without_a_position_are_shown_in_order_and_shores_are_drawn(
    qapp: QApplication,
) -> None:
    made = make_trip(3).lifted([1, 2, 3])
    place = made.snapshot.need(Place, made.place_ids[1])
    water = made.snapshot.need(Water, "water")
    ring = ((6.999, 44.999), (7.01, 44.999), (7.01, 45.01), (6.999, 45.01))
    made = made.with_rows(place.with_(lon_deg=None, lat_deg=None), water.with_(shoreline=ring))
    content = catch_map(made.snapshot, catch_per_place(made.snapshot, made.round_ids))
    assert [spot.label for spot in content.unplaced] == ["P2: 2.0"]
    assert len(content.ids) == 2
    assert len(content.shorelines) == 1


def test_the_legend_holds_only_what_is_on_the_map(qapp: QApplication) -> None:
    made = make_trip(2).lifted([3, 4])
    content = catch_map(made.snapshot, catch_per_place(made.snapshot, made.round_ids))
    assert content.styles == (COUNTED,)
