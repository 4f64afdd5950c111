import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import ncx2

from trapline.errors import InvalidValue
from trapline.science import overlap
from trapline.science.attraction import lens_area


def test_words_follow_from_the_share():
    shares = [0, 1e-6, 0.0999, 0.1, 1]
    assert [overlap.overlap_word(part) for part in shares] == [
        "clear", "may overlap", "may overlap", "overlaps", "overlaps",
    ]  # fmt: skip


def test_a_tenth_is_shared_where_the_reach_is_a_quarter_more_than_touching():
    touching, assumed = 4.0, 5.0
    share = float(lens_area(assumed, assumed, 2 * touching)) / (math.pi * assumed**2)
    assert share == pytest.approx(overlap.CERTAIN_SHARE, abs=0.005)


def test_words_follow_from_the_chance():
    chances = [0, 0.0499, 0.05, 0.4999, 0.5, 1]
    assert [overlap.chance_word(chance) for chance in chances] == [
        "clear", "clear", "may overlap", "may overlap", "overlaps", "overlaps",
    ]  # fmt: skip


@pytest.mark.parametrize("wrong", [math.nan, -0.1, 1.1])
def test_no_word_is_given_for_a_share_that_cannot_be(wrong):
    for word in (overlap.overlap_word, overlap.chance_word):
        with pytest.raises(InvalidValue, match="between 0 and 1"):
            word(wrong)


@pytest.mark.parametrize(("distance", "limit", "chance"), [(5.3, 1.5, 0.0284), (12, 10, 0.2514)])
def test_chances_equal_those_computed_independently(distance, limit, chance):
    # Computed independently with scipy's noncentral χ²; 3 m along each axis for both traps.
    sigma = overlap.separation_sigma(3, 3)
    assert sigma == pytest.approx(4.243, abs=5.1e-4)
    assert overlap.chance_closer_than(distance, limit, sigma) == pytest.approx(chance, abs=5.1e-5)


def test_two_fixes_a_metre_and_a_half_apart_read_five_and_a_half_on_average():
    # Computed independently with scipy; the mean is the integral of 1 - P(closer).
    limits, step = np.linspace(0, 40, 4001, retstep=True)
    further = [1 - overlap.chance_closer_than(1.5, limit, math.sqrt(18)) for limit in limits]
    assert step * (sum(further) - 0.5) == pytest.approx(5.5, abs=0.05)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.floats(0, 1e4), st.floats(0, 1e4), st.floats(0.01, 50))
def test_a_chance_is_that_of_the_noncentral_distribution(distance, limit, sigma):
    found = overlap.chance_closer_than(distance, limit, sigma)
    assert 0 <= found <= 1
    if distance < 1e5 * sigma and limit < 1e5 * sigma:
        exact = ncx2.cdf((limit / sigma) ** 2, 2, (distance / sigma) ** 2)
        assert found == pytest.approx(float(exact), abs=1e-7)
    assert overlap.chance_closer_than(distance, limit + sigma, sigma) >= found - 1e-12


def test_a_chance_agrees_with_draws():
    rng = np.random.default_rng(20260801)
    east, north = rng.normal([[7.0], [0.0]], 3.0, (2, 200_000))
    drawn = float(np.mean(np.hypot(east, north) < 6))
    assert overlap.chance_closer_than(7, 6, 3) == pytest.approx(drawn, abs=0.004)


def test_traps_at_one_place_follow_the_closed_form():
    # With no distance the length is Rayleigh's: 1 - exp(-m² / 2 s²).
    assert overlap.chance_closer_than(0, 2, 3) == pytest.approx(1 - math.exp(-4 / 18))


def test_exact_positions_leave_no_doubt_and_tiny_errors_give_a_number():
    assert overlap.chance_closer_than(9.99, 10, 0) == 1
    assert overlap.chance_closer_than(10, 10, 0) == 0
    assert overlap.chance_closer_than(1e6, 1e6, 1e-3) == pytest.approx(0.5, abs=1e-6)
    assert overlap.chance_closer_than(1e6, 1e6 + 1e-3, 1e-3) == pytest.approx(0.8413, abs=1e-4)


def test_errors_that_go_together_cancel_in_the_separation():
    assert overlap.separation_sigma(3, 3, 1) == 0
    assert overlap.separation_sigma(3, 4, 0) == 5
    assert overlap.separation_sigma(3, 4, -1) == 7
    for wrong in (1.01, -1.01, math.nan):
        with pytest.raises(InvalidValue, match="correlation"):
            overlap.separation_sigma(3, 3, wrong)
    for wrong in (-1.0, math.nan, math.inf):
        with pytest.raises(InvalidValue, match="sigma_m"):
            overlap.chance_closer_than(1, 1, wrong)
        with pytest.raises(InvalidValue, match="distance_m"):
            overlap.chance_closer_than(wrong, 1, 1)


def pairs_within(n, lag):
    """Pairs of a line in which each plume meets those up to `lag` places on."""
    pairs = [(i, j) for i in range(n) for j in range(i + 1, min(n, i + lag + 1))]
    return [pair[0] for pair in pairs], [pair[1] for pair in pairs]


def test_a_dense_line_whose_ends_miss_each_other_is_a_choice_test():
    # 8 traps at 1.5 m, reach 5 m: all but the ends, 10.5 m apart, meet.
    assert overlap.all_meet(8, *pairs_within(8, 6))


def test_a_long_chain_that_touches_only_its_neighbours_is_not_a_choice_test():
    assert not overlap.all_meet(40, *pairs_within(40, 1))
    assert not overlap.all_meet(5, *pairs_within(5, 1))
    assert not overlap.all_meet(4, *pairs_within(4, 1))
    assert overlap.all_meet(3, *pairs_within(3, 1))


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(2, 25), st.data())
def test_one_gap_between_neighbours_is_enough_to_refuse(n, data):
    gap = data.draw(st.integers(0, n - 2))
    pairs = [pair for pair in zip(*pairs_within(n, n), strict=True) if pair != (gap, gap + 1)]
    assert overlap.all_meet(n, *pairs_within(n, n))
    assert not overlap.all_meet(n, [a for a, _ in pairs], [b for _, b in pairs])


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(2, 20), st.integers(1, 20))
def test_order_and_repeats_of_pairs_change_nothing(n, lag):
    first, second = pairs_within(n, lag)
    n_pairs = len(first)
    expected = n_pairs >= n * (n - 1) / 4
    assert overlap.all_meet(n, first, second) == expected
    assert overlap.all_meet(n, second[::-1], first[::-1]) == expected
    assert overlap.all_meet(n, first + second, second + first) == expected


def test_fewer_than_two_plumes_leave_no_choice():
    assert not overlap.all_meet(0, [], [])
    assert not overlap.all_meet(1, [], [])
    assert not overlap.all_meet(2, [], [])
    assert overlap.all_meet(2, np.array([1]), np.array([0]))


@pytest.mark.parametrize(
    ("first", "second"),
    [([0], [3]), ([-1], [1]), ([1], [1]), ([0, 1], [2]), ([0.0], [1.0]), ([[0]], [[1]])],
)
def test_pairs_that_cannot_be_are_refused(first, second):
    with pytest.raises(InvalidValue):
        overlap.all_meet(3, first, second)
