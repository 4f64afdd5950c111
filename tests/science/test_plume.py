import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import affinity

from trapline.errors import InvalidValue
from trapline.science.attraction import lens_area
from trapline.science.overlap import all_meet
from trapline.science.plume import meeting_plumes, plume_outline, plume_polygons
from trapline.science.scent import in_plume, plume_area, plume_max_half_width

reaches = st.floats(0.5, 200)
speeds = st.floats(0.01, 1.0)
mixings = st.floats(2e-4, 2e-2)
bearings = st.floats(0, 360)


def in_current(down, side, towards, *, still=5.0, mixing=2e-3, speed=0.05):
    return plume_outline(
        still, down, side, mixing_m2_s=mixing, current_m_s=speed, current_to_deg=towards
    )


def circle(reach):
    return plume_outline(reach, 1.0, 1.0, mixing_m2_s=2e-3)


def east_and_north(bearing_deg, distance):
    """A point by sine and cosine of a bearing, as a compass is read."""
    angle = math.radians(bearing_deg)
    return distance * math.sin(angle), distance * math.cos(angle)


def reach_towards(shape, bearing_deg):
    """How far the outline goes in a direction."""
    return float(np.max(shapely.get_coordinates(shape) @ east_and_north(bearing_deg, 1.0)))


@settings(max_examples=40, deadline=None, derandomize=True)
@given(reaches, reaches, reaches, mixings)
def test_still_water_gives_a_circle_of_the_still_reach_alone(still, down, side, mixing):
    shape = plume_outline(still, down, side, mixing_m2_s=mixing)
    assert shape.area == pytest.approx(math.pi * still**2, rel=1e-12, abs=0)
    radii = np.hypot(*shapely.get_coordinates(shape).T)
    assert radii.tolist() == pytest.approx([still] * 49, rel=2e-3, abs=0)
    assert shape.contains(shapely.Point(0, 0))
    slack = plume_outline(
        still, down, side, mixing_m2_s=mixing, current_m_s=0.0, current_to_deg=70.0
    )
    assert slack.equals(shape)


@pytest.mark.parametrize(
    ("towards", "east", "north"), [(0, 0, 1), (90, 1, 0), (180, 0, -1), (270, -1, 0)]
)
def test_scent_goes_where_the_water_flows_towards(towards, east, north):
    shape = in_current(20, 1, towards)
    assert shape.contains(shapely.Point(15 * east, 15 * north))
    for other in (90, 180, 270):
        turned_east, turned_north = east_and_north(towards + other, 3)
        assert not shape.contains(shapely.Point(turned_east, turned_north))
    assert shape.centroid.x == pytest.approx(east * math.hypot(*shape.centroid.coords[0]), abs=1e-9)
    assert shape.centroid.y * north + shape.centroid.x * east > 4


def test_a_plume_towards_30_degrees_lies_north_of_northeast():
    # Fails when east and north, or clockwise and counter-clockwise, change places.
    shape = in_current(20, 1, 30)
    assert shape.contains(shapely.Point(7.5, 12.99))
    assert not shape.contains(shapely.Point(12.99, 7.5))
    assert not shape.contains(shapely.Point(-7.5, 12.99))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(reaches, reaches, bearings, mixings, speeds)
def test_an_outline_holds_the_trap_and_reaches_as_far_as_assumed(
    down, side, towards, mixing, speed
):
    shape = in_current(down, side, towards, mixing=mixing, speed=speed)
    assert shape.is_valid
    assert shape.geom_type == "Polygon"
    assert shape.contains(shapely.Point(0, 0))
    assert reach_towards(shape, towards) == pytest.approx(max(down, side), rel=5e-3, abs=0)
    assert reach_towards(shape, towards + 180) == pytest.approx(side, rel=5e-3, abs=0)
    assert reach_towards(shape, towards) >= down * (1 - 1e-12)
    sideways = reach_towards(shape, towards + 90)
    widest = min(plume_max_half_width(down, speed, mixing), down / 2)
    assert sideways == pytest.approx(max(side, widest), rel=1e-2, abs=0)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(reaches, st.floats(0.1, 10), bearings, st.floats(-720, 720))
def test_turning_the_current_turns_the_outline(down, side, towards, turn):
    turned = in_current(down, side, towards + turn)
    # affinity turns counter-clockwise, a compass clockwise.
    expected = affinity.rotate(in_current(down, side, towards), -turn, origin=(0, 0))
    assert shapely.hausdorff_distance(turned, expected) < 1e-9 * (down + side)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(reaches, bearings, mixings, speeds)
def test_without_a_reach_sideways_the_area_is_that_of_the_formula(down, towards, mixing, speed):
    assume(plume_max_half_width(down, speed, mixing) < down / 2)
    shape = in_current(down, 0, towards, mixing=mixing, speed=speed)
    assert shape.area == pytest.approx(plume_area(down, speed, mixing), rel=1e-9, abs=0)
    assert reach_towards(shape, towards) == pytest.approx(down, rel=1e-12, abs=0)
    assert shape.covers(shapely.Point(0, 0))


@settings(max_examples=30, deadline=None, derandomize=True)
@given(st.floats(5, 100), st.floats(0.1, 3), bearings)
def test_the_area_with_a_disc_lies_between_the_larger_and_the_sum(down, side, towards):
    contour, disc = plume_area(down, 0.05, 2e-3), math.pi * side**2
    area = in_current(down, side, towards).area
    assert max(contour, disc) * (1 - 1e-9) <= area <= (contour + disc) * (1 + 1e-9)
    # Half of the disc lies up-current, where the contour is not.
    assert area >= contour + disc / 2 - 1e-9


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.floats(5, 100), mixings, speeds, st.integers(0, 2**32 - 1))
def test_points_inside_the_formula_are_inside_the_outline(down, mixing, speed, seed):
    assume(plume_max_half_width(down, speed, mixing) < down / 2)
    widest = plume_max_half_width(down, speed, mixing)
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(-0.1, 1.1, 400) * down, rng.uniform(-1.2, 1.2, 400) * widest
    shape = in_current(down, 0, 90, mixing=mixing, speed=speed)  # towards east: x is east
    inside = shapely.contains_xy(shape, x, y)
    # Nearer to the edge than this the chords of the outline may disagree with the curve.
    is_off_edge = shapely.distance(shapely.points(x, y), shape.exterior) > 0.05 * widest
    agrees = inside == in_plume(x, y, down, speed, mixing)
    assert np.count_nonzero(is_off_edge) > 300
    assert np.all(agrees[is_off_edge])


def test_a_current_too_weak_for_the_formula_never_makes_a_plume_wider_than_long():
    shape = in_current(20, 1, 0, speed=1e-6, mixing=1e-2)
    west, south, east, north = shape.bounds
    assert (east - west) == pytest.approx(20, rel=1e-2, abs=0)
    assert (north, -south) == (pytest.approx(20), pytest.approx(1, rel=2e-3, abs=0))


def test_the_three_reaches_are_never_converted_into_one_another():
    assert in_current(20, 2, 45, still=1).equals(in_current(20, 2, 45, still=100))
    assert plume_outline(5, 1, 1, mixing_m2_s=1e-3).equals(
        plume_outline(5, 90, 20, mixing_m2_s=1e-2)
    )
    only_sideways = in_current(0, 3, 45)
    assert only_sideways.area == pytest.approx(9 * math.pi)


def test_no_bait_has_no_plume():
    assert plume_outline(0, 0, 0, mixing_m2_s=2e-3).is_empty
    assert in_current(0, 0, 90).is_empty
    placed = plume_polygons([0, 1], [0, 0], [plume_outline(0, 0, 0, mixing_m2_s=2e-3), circle(5)])
    assert [shape.is_empty for shape in placed] == [True, False]
    assert meeting_plumes(placed).first.size == 0


@pytest.mark.parametrize("wrong", [-1.0, math.nan, math.inf])
def test_numbers_that_cannot_be_are_refused_by_name(wrong):
    good = {"still_reach_m": 5, "down_reach_m": 20, "side_reach_m": 2, "mixing_m2_s": 2e-3,
            "current_m_s": 0.05, "current_to_deg": 90}  # fmt: skip
    for name in good:
        if name == "current_to_deg" and wrong == -1.0:
            continue
        with pytest.raises(InvalidValue) as caught:
            plume_outline(**{**good, name: wrong})
        assert caught.value.where == name
    with pytest.raises(InvalidValue, match="more than 0"):
        plume_outline(**{**good, "mixing_m2_s": 0})
    with pytest.raises(InvalidValue, match="no direction"):
        plume_outline(**{**good, "current_to_deg": None})


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.lists(st.tuples(st.floats(-500, 500), st.floats(-500, 500)), min_size=1, max_size=8))
def test_outlines_are_set_about_their_traps(places):
    outlines = [in_current(20, 2, 40 * k) if k % 2 else circle(3 + k) for k in range(len(places))]
    east, north = [place[0] for place in places], [place[1] for place in places]
    placed = plume_polygons(east, north, outlines)
    for shape, outline, place in zip(placed, outlines, places, strict=True):
        moved = affinity.translate(outline, *place)
        assert shapely.hausdorff_distance(shape, moved) < 1e-9
    assert outlines[0].equals(circle(3)), "the outline itself must not move"


def test_places_that_do_not_match_or_are_unknown_are_refused():
    with pytest.raises(InvalidValue, match="do not match"):
        plume_polygons([0, 1], [0, 1], [circle(5)])
    with pytest.raises(InvalidValue) as caught:
        plume_polygons([0, math.nan], [0, 1], [circle(5)] * 2)
    assert caught.value.where == "east_m, number 2"
    assert plume_polygons([], [], []).size == 0


@settings(max_examples=50, deadline=None, derandomize=True)
@given(st.floats(1, 50), st.floats(1, 50), st.floats(0, 0.97), bearings)
def test_two_circles_share_the_lens_of_the_formula(first, second, apart, bearing):
    distance = apart * (first + second)
    east, north = east_and_north(bearing, distance)
    found = meeting_plumes(plume_polygons([0, east], [0, north], [circle(first), circle(second)]))
    lens = float(lens_area(first, second, distance))
    assume(lens > 2e-3 * first * second)
    assert found.shared_area_m2.tolist() == pytest.approx([lens], abs=4e-3 * first * second)
    assert (found.first.tolist(), found.second.tolist()) == ([0], [1])


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.floats(1, 50), st.floats(0.2, 5), st.one_of(bearings, st.sampled_from([0, 7.5, 90])))
def test_circles_that_only_touch_do_not_meet_in_any_direction(first, ratio, bearing):
    east, north = east_and_north(bearing, first * (1 + ratio))
    shapes = plume_polygons([0, east], [0, north], [circle(first), circle(first * ratio)])
    assert meeting_plumes(shapes).first.size == 0
    nearer = [shapes[0], affinity.translate(shapes[1], -0.02 * east, -0.02 * north)]
    assert meeting_plumes(nearer).first.size == 1


def test_shapes_that_share_an_edge_do_not_meet():
    assert meeting_plumes([shapely.box(0, 0, 1, 1), shapely.box(1, 0, 2, 1)]).first.size == 0
    assert meeting_plumes([shapely.box(0, 0, 1, 1), shapely.box(0.9, 0, 2, 1)]).first.size == 1


def test_a_small_plume_inside_a_large_one_meets_it():
    found = meeting_plumes(plume_polygons([0, 3], [0, 3], [circle(50), circle(1)]))
    assert found.shared_area_m2.tolist() == pytest.approx([math.pi])


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.integers(0, 12), st.integers(0, 2**32 - 1))
def test_every_pair_is_found_once_as_by_trying_all(n, seed):
    rng = np.random.default_rng(seed)
    outlines = [in_current(rng.uniform(2, 25), rng.uniform(0, 3), 70) for _ in range(n)]
    shapes = plume_polygons(rng.uniform(0, 30, n), rng.uniform(0, 30, n), outlines)
    found = meeting_plumes(shapes)
    expected = {}
    for i in range(n):
        for j in range(i + 1, n):
            shared = shapes[i].intersection(shapes[j]).area
            if shared > 1e-4 * math.sqrt(shapes[i].area * shapes[j].area):
                expected[i, j] = shared
    pairs = list(zip(found.first.tolist(), found.second.tolist(), strict=True))
    assert pairs == sorted(expected)
    assert found.shared_area_m2.tolist() == pytest.approx([expected[pair] for pair in pairs])


def test_a_line_across_the_current_stays_clear_and_one_along_it_overlaps():
    # 20 m down-current, 1.5 m sideways, traps at 5 m; the water flows north.
    outlines = [in_current(20, 1.5, 0)] * 6
    places = np.arange(6) * 5.0
    across = meeting_plumes(plume_polygons(places, np.zeros(6), outlines))
    along = meeting_plumes(plume_polygons(np.zeros(6), places, outlines))
    assert across.first.size == 0
    assert along.first.size == 14  # all but the pair of the ends, 25 m apart


def test_only_a_dense_round_is_a_choice_test():
    def is_choice(n, spacing):
        shapes = plume_polygons(np.arange(n) * spacing, np.zeros(n), [circle(5)] * n)
        found = meeting_plumes(shapes)
        return all_meet(n, found.first, found.second)

    assert is_choice(8, 1.5)
    assert not is_choice(40, 9.5)
    assert not is_choice(8, 10.0)
