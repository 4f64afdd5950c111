import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod
from PySide6.QtCore import QRectF

from trapline.drawing.map_view import MapView
from trapline.drawing.scale import grid_step_m, round_down, scale_bar
from trapline.science.geodesy import LocalPlane

scales = st.floats(min_value=0.005, max_value=500.0)


def _is_round(value: float) -> bool:
    digits = value / 10.0 ** math.floor(math.log10(value) + 1e-9)
    return any(abs(digits - step) < 1e-6 for step in (1, 2, 5))


@settings(derandomize=True, max_examples=200)
@given(st.floats(min_value=1e-6, max_value=1e9))
def test_a_length_is_rounded_down_to_1_2_or_5(value):
    found = round_down(value)
    assert _is_round(found)
    assert found <= value * (1 + 1e-8) < found * 2.5 * (1 + 1e-6)


@settings(derandomize=True, max_examples=100)
@given(scales, st.sampled_from(["m", "ft", "yd", "fathom"]))
def test_the_bar_is_round_in_its_unit_and_no_longer_than_asked(metres_per_px, unit):
    from trapline.units import METRES

    bar = scale_bar(metres_per_px, 150.0, unit)
    assert _is_round(bar.length_m / METRES[unit])
    assert 0 < bar.length_px <= 150.0 * (1 + 1e-6)
    assert bar.length_px * metres_per_px == pytest.approx(bar.length_m)


@settings(derandomize=True, max_examples=100)
@given(scales)
def test_grid_lines_stand_apart_as_far_as_asked_but_not_much_farther(metres_per_px):
    step = grid_step_m(metres_per_px, 70.0)
    assert _is_round(step)
    assert 70.0 * (1 - 1e-6) <= step / metres_per_px <= 70.0 * 2.5 * (1 + 1e-6)


@pytest.mark.parametrize(
    ("metres_per_px", "unit", "text"),
    [(0.25, "m", "20 m"), (10.0, "m", "1 km"), (0.005, "m", "50 cm"), (0.25, "ft", "100 ft")],
)
def test_the_bar_says_its_length(metres_per_px, unit, text):
    assert scale_bar(metres_per_px, 150.0, unit).text == text


@pytest.mark.parametrize(("lon_deg", "lat_deg"), [(7.1, 46.2), (179.9999, -17.0), (25.0, 70.0)])
@pytest.mark.parametrize("metres_per_px", [0.05, 0.3, 4.0])
def test_the_bar_measures_what_it_says_on_the_ellipsoid(lon_deg, lat_deg, metres_per_px):
    """Outside check: the geodesic between its two ends by pyproj's Geod on WGS 84."""
    rect = QRectF(0, 0, 1000, 650)
    plane = LocalPlane(lon_deg, lat_deg)
    view = MapView(120.0, -40.0, metres_per_px)
    bar = scale_bar(metres_per_px, 150.0)
    left = plane.to_earth(*view.to_plane(rect, 14.0, 636.0))
    right = plane.to_earth(*view.to_plane(rect, 14.0 + bar.length_px, 636.0))
    _, _, distance_m = Geod(ellps="WGS84").inv(*left, *right)
    assert distance_m == pytest.approx(bar.length_m, rel=1e-6)
