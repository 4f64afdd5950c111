import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.science.attraction import end_to_interior_ratio, lens_area, line_area

radii = st.floats(0.1, 500)

# Computed independently with scipy; radius, spacing, lens, lens / circle, ten circles,
# area per trap / circle.
LINES = [
    (10, 5, 215.2109, 0.685038, 1204.6944, 0.383466),
    (10, 10, 122.8370, 0.391002, 2036.0599, 0.648098),
    (10, 15, 45.3312, 0.144294, 2733.6121, 0.870136),
    (10, 20, 0.0, 0.0, 3141.5927, 1.0),
    (11, 15, 77.8723, 0.204856, 3100.4765, 0.815630),
]


def round_disc(east_m, radius_m):
    return shapely.Point(east_m, 0).buffer(radius_m, quad_segs=1024)


@pytest.mark.parametrize(("radius", "spacing", "lens", "share", "ten", "each"), LINES)
def test_shared_and_total_areas_equal_those_computed_independently(
    radius, spacing, lens, share, ten, each
):
    circle = math.pi * radius**2
    shared = float(lens_area(radius, radius, spacing))
    assert shared == pytest.approx(lens, abs=5.1e-5)
    assert shared / circle == pytest.approx(share, abs=5.1e-7)
    assert line_area(radius, spacing, 10) == pytest.approx(ten, abs=5.1e-5)
    assert line_area(radius, spacing, 10) / (10 * circle) == pytest.approx(each, abs=5.1e-7)


def test_unequal_circles_share_what_was_computed_independently():
    # Computed independently with numpy: radii 10 and 6, 12 apart.
    assert float(lens_area(10, 6, 12)) == pytest.approx(27.708517, abs=5.1e-7)


@pytest.mark.parametrize(
    ("spacing", "ratio"), [(10, 1.3210), (12, 1.1991), (15, 1.0843), (18, 1.0194)]
)
def test_end_traps_draw_more_by_the_ratio_computed_independently(spacing, ratio):
    # Computed independently with numpy, radius 10.
    assert end_to_interior_ratio(10, spacing) == pytest.approx(ratio, abs=5.1e-5)


def test_apart_end_traps_draw_as_much_as_interior_ones():
    assert end_to_interior_ratio(5, 10) == 1.0


def test_sharing_in_two_is_refused_where_three_circles_meet():
    with pytest.raises(InvalidValue, match="less than the radius"):
        end_to_interior_ratio(10, 9.9)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(radii, radii, st.floats(0, 1200))
def test_a_lens_is_the_intersection_of_two_discs(first, second, distance):
    polygons = shapely.intersection(round_disc(0, first), round_disc(distance, second)).area
    smaller = math.pi * min(first, second) ** 2
    found = float(lens_area(first, second, distance))
    assert found == pytest.approx(polygons, abs=2e-5 * max(first, second) ** 2)
    assert 0 <= found <= smaller * (1 + 1e-12)
    assert found == float(lens_area(second, first, distance))


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.floats(1, 50), st.floats(0.05, 3), st.integers(1, 9))
def test_a_line_covers_the_union_of_its_discs_however_close(radius, spacing_in_radii, n):
    spacing = radius * spacing_in_radii
    union = shapely.union_all([round_disc(k * spacing, radius) for k in range(n)])
    assert line_area(radius, spacing, n) == pytest.approx(union.area, rel=5e-6, abs=0)


def test_a_circle_inside_another_is_shared_whole_and_touching_circles_share_nothing():
    found = lens_area([10, 10, 10, 0, 3], [4, 4, 10, 5, 3], [6, 14, 20, 1, 0])
    assert found.tolist() == pytest.approx([16 * math.pi, 0, 0, 0, 9 * math.pi])


def test_almost_touching_circles_give_a_number():
    for distance in np.nextafter(15.3, [0, 20]):
        assert 0 <= float(lens_area(10.2, 5.1, distance)) < 1e-6
        assert 0 <= float(lens_area(0.1, 0.2, np.nextafter(0.1, 1))) <= 0.01 * math.pi * 1.0001


@pytest.mark.parametrize("wrong", [-1.0, math.nan, math.inf])
def test_a_distance_that_cannot_be_is_refused_with_its_place(wrong):
    with pytest.raises(InvalidValue) as caught:
        lens_area(5, 5, [1.0, wrong])
    assert caught.value.where == "distance_m, number 2"
    with pytest.raises(InvalidValue, match="radius_m"):
        line_area(wrong, 1, 2)


@pytest.mark.parametrize("n", [0, -3, 2.5])
def test_a_line_without_a_whole_number_of_traps_is_refused(n):
    with pytest.raises(InvalidValue, match="n_traps"):
        line_area(5, 5, n)
