"""Quantiles of masses on a grid and of weighted values."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from trapline.science.intervals import (
    Interval,
    interval_of_many,
    interval_of_masses,
    interval_of_values,
)

SHARES = [0.5, 0.025, 0.975]


def ends(interval: Interval) -> list[float]:
    return [interval.median, interval.low, interval.high]


@pytest.mark.parametrize("shape", [stats.norm(), stats.gumbel_r(0.3, 0.7), stats.t(5)])
def test_masses_on_a_grid_have_the_quantiles_of_their_density(shape: Any) -> None:
    logs = np.linspace(-12, 12, 481)
    found = interval_of_masses(7.0 * shape.pdf(logs), -12.0, 0.05)
    np.testing.assert_allclose(np.log(ends(found)), shape.ppf(SHARES), atol=0.002)


def test_a_coarse_grid_is_nearly_as_good() -> None:
    logs = np.linspace(-6, 6, 37)  # a third of a standard deviation apart
    found = interval_of_masses(stats.norm.pdf(logs), -6.0, 1 / 3)
    np.testing.assert_allclose(np.log(ends(found)), stats.norm.ppf(SHARES), atol=0.01)


def test_all_mass_at_one_point_is_an_interval_of_its_cell_and_the_next_ones() -> None:
    found = interval_of_masses(np.array([0.0, 0.0, 4.0, 0.0, 0.0]), -0.2, 0.1)
    low, median, high = np.log([found.low, found.median, found.high])
    assert -0.15 < low < -0.04
    assert median == pytest.approx(0.0, abs=1e-9)
    assert 0.04 < high < 0.15


Quantiles = Callable[[NDArray[np.float64], NDArray[np.float64]], Interval]


@pytest.mark.parametrize("quantiles", [interval_of_values, interval_of_many])
class TestWeightedValues:
    def test_equal_weights_give_plain_quantiles(self, quantiles: Quantiles) -> None:
        values = stats.norm.ppf((np.arange(9999) + 0.5) / 9999)
        found = quantiles(values[::-1], np.ones(9999))
        np.testing.assert_allclose(ends(found), stats.norm.ppf(SHARES), atol=0.002)

    def test_weights_count_as_repeats(self, quantiles: Quantiles) -> None:
        rng = np.random.default_rng(4)
        values, times = rng.normal(size=4000), rng.integers(1, 6, 4000)
        repeated = quantiles(np.repeat(values, times), np.ones(times.sum()))
        np.testing.assert_allclose(ends(quantiles(values, 0.1 * times)), ends(repeated), atol=0.01)

    def test_weights_reweight(self, quantiles: Quantiles) -> None:
        values = stats.norm.ppf((np.arange(20_000) + 0.5) / 20_000)
        found = quantiles(values, np.exp(0.5 * values))  # normal about .5
        np.testing.assert_allclose(ends(found), 0.5 + stats.norm.ppf(SHARES), atol=0.01)

    def test_what_is_added_and_taken_off_again_leaves_no_trace(self, quantiles: Quantiles) -> None:
        rng = np.random.default_rng(5)
        values, other = rng.normal(size=8000), 3 * rng.normal(size=500)
        both = np.concatenate([values, other, other + 1e-9])
        weights = np.concatenate([np.ones(8000), np.full(500, 2.0), np.full(500, -2.0)])
        plain = quantiles(values, np.ones(8000))
        np.testing.assert_allclose(ends(quantiles(both, weights)), ends(plain), atol=0.02)

    def test_weights_below_nothing_never_turn_an_interval_round(self, quantiles: Quantiles) -> None:
        rng = np.random.default_rng(6)
        for _ in range(300):
            weights = rng.normal(0.3, 1.0, 12)
            if weights.sum() > 0.5:
                found = quantiles(rng.normal(size=12), weights)
                assert found.low <= found.median <= found.high

    def test_one_value_is_all_of_its_interval(self, quantiles: Quantiles) -> None:
        assert ends(quantiles(np.full(6, 2.5), np.ones(6))) == [2.5, 2.5, 2.5]


def test_many_values_give_what_sorting_gives() -> None:
    rng = np.random.default_rng(7)
    values, weights = rng.standard_t(4, 17_000), rng.gamma(2.0, size=17_000)
    cell = np.ptp(values) / 4096
    sorted_ends = ends(interval_of_values(values, weights))
    np.testing.assert_allclose(ends(interval_of_many(values, weights)), sorted_ends, atol=cell)


def test_a_share_that_is_reached_twice_lies_half_way_between() -> None:
    # Even values from 0 to 1; a bump carries the share below .40 up to .60, and down again at
    # .45: half is reached at .40 and, once more, at .50.
    values = np.append(np.linspace(0.0, 1.0, 20_001), [0.4, 0.45])
    weights = np.append(np.full(20_001, 1 / 20_001), [0.2, -0.2])
    found = interval_of_many(values, weights)
    np.testing.assert_allclose(ends(found), [0.45, 0.025, 0.975], atol=0.001)
