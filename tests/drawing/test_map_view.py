import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtCore import QMarginsF, QPointF, QRectF

from trapline.drawing.map_view import (
    COARSEST_M_PER_PX,
    FINEST_M_PER_PX,
    LONE_SPAN_M,
    MapView,
    fitted,
)

RECT = QRectF(30, 20, 800, 600)
metres = st.floats(-1e5, 1e5)
pixels = st.floats(-2000, 2000)
views = st.builds(MapView, metres, metres, st.floats(0.01, 100))


def test_north_is_up_and_east_is_right():
    view = MapView(0.0, 0.0, 2.0)
    assert view.to_px(RECT, 0.0, 0.0) == (430.0, 320.0)
    assert view.to_px(RECT, 20.0, 0.0) == (440.0, 320.0)
    assert view.to_px(RECT, 0.0, 20.0) == (430.0, 310.0)


@settings(derandomize=True, max_examples=100)
@given(views, pixels, pixels)
def test_from_pixels_to_metres_and_back(view, x, y):
    there = view.to_plane(RECT, x, y)
    # A part in 10^13 of 10^5 m at 0.01 m a pixel.
    assert view.to_px(RECT, *there) == pytest.approx((x, y), abs=1e-5)


@settings(derandomize=True, max_examples=100)
@given(views, metres, metres)
def test_the_transform_of_paths_agrees_with_the_places(view, east_m, north_m):
    spot = view.transform(RECT).map(QPointF(east_m, -north_m))
    assert (spot.x(), spot.y()) == pytest.approx(view.to_px(RECT, east_m, north_m), abs=1e-4)


@settings(derandomize=True, max_examples=100)
@given(views, st.floats(0.2, 5.0), st.floats(30, 830), st.floats(20, 620))
def test_zooming_keeps_what_is_under_the_cursor(view, factor, x, y):
    before = view.to_plane(RECT, x, y)
    after = view.zoomed(factor, RECT, QPointF(x, y))
    assert after.to_plane(RECT, x, y) == pytest.approx(before, abs=1e-6)
    wanted = max(view.metres_per_px / factor, FINEST_M_PER_PX)
    assert after.metres_per_px == pytest.approx(wanted)


def test_zooming_stops_at_both_ends():
    middle = RECT.center()
    assert MapView().zoomed(1e9, RECT, middle).metres_per_px == FINEST_M_PER_PX
    assert MapView().zoomed(1e-9, RECT, middle).metres_per_px == COARSEST_M_PER_PX


def test_panning_moves_the_picture_with_the_hand():
    view = MapView(5.0, 6.0, 0.5)
    x, y = view.to_px(RECT, 1.0, 2.0)
    assert view.panned(30.0, -12.0).to_px(RECT, 1.0, 2.0) == pytest.approx((x + 30, y - 12))


@settings(derandomize=True, max_examples=60)
@given(metres, metres, st.floats(0.5, 5000), st.floats(0.5, 5000))
def test_what_is_fitted_lies_inside_the_inset(west, south, wide, high):
    inset = QMarginsF(100, 40, 20, 80)
    view = fitted((west, south, west + wide, south + high), RECT, inset)
    corners = np.array([west, west + wide]), np.array([south, south + high])
    x, y = view.to_px(RECT, *corners)
    inner = RECT.marginsRemoved(inset).adjusted(-1e-3, -1e-3, 1e-3, 1e-3)
    assert all(inner.contains(QPointF(a, b)) for a, b in zip(x, y, strict=True))


def test_one_place_and_no_place_get_a_sensible_view():
    nothing = QMarginsF(0, 0, 0, 0)
    alone = fitted((7.0, 8.0, 7.0, 8.0), RECT, nothing)
    assert alone == MapView(7.0, 8.0, LONE_SPAN_M / 800)
    assert fitted(None, RECT, nothing).metres_per_px == LONE_SPAN_M / 800


def test_the_window_is_what_the_rectangle_shows():
    assert MapView(100.0, 50.0, 0.5).window(RECT) == (-100.0, -100.0, 300.0, 200.0)
