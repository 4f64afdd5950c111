"""The likelihood on grids against scipy's negative binomial and against sums written out."""

import numpy as np
import pytest

from trapline.science.bait_model import LiftTable, lift_table
from trapline.science.rate_grids import (
    count_terms,
    even_grid,
    even_likelihood,
    grouped,
    log_likelihood,
)


def uneven_table() -> LiftTable:
    return lift_table(
        [4, 0, 7, 1, 2, 0, 9, 4],
        [24.0, 12.0, 60.0, 24.0, 24.0, 12.0, 60.0, 24.0],
        [0, 0, 0, 1, 1, 1, 2, 0],
        fraction=[1.0, 1.0, 0.5, 1.0, 1.0, 1.0, 0.5, 1.0],
    )


@pytest.mark.parametrize("catch", [[0], [1], [2, 0], [1024], [1025, 3], [5000, 1024, 7], [300_000]])
@pytest.mark.parametrize("variance", [1e-10, 0.04, 1.0, 1e4])
def test_tall_counts_are_summed_as_if_one_by_one(catch: list[int], variance: float) -> None:
    # sum over r < y of log(1 + r/k), written out.
    expected = sum(float(np.log1p(variance * np.arange(y)).sum()) for y in catch)

    table = lift_table(catch, [24.0] * len(catch), [0] * len(catch))
    found = count_terms(grouped(table), np.array([variance]))[0]
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_the_likelihood_is_that_of_a_negative_binomial() -> None:
    # scipy's; differences between log rates and nodes, since constants are left out.
    from scipy import stats

    table = uneven_table()
    groups = grouped(table)
    variance, exponent = np.array([0.05, 0.9, 4.0]), np.array([0.3, 0.8, 1.1])
    points = np.array([-2.0, 0.5, 1.5])
    found = log_likelihood(groups, variance, exponent, points)
    constants = count_terms(groups, variance) + exponent * groups.effort_catch

    for bait in range(3):
        rows = table.bait == bait
        expected = np.empty((3, 3))
        for node in range(3):
            exposure = np.exp(table.log_exposure(exponent[node]))[rows]
            means, k = exposure * np.exp(points)[:, None], 1 / variance[node]
            logs = stats.nbinom.logpmf(table.catch[rows], k, k / (k + means))
            expected[node] = logs.sum(axis=1)
        assert found[:, bait] - found[:, bait, :1] == pytest.approx(expected - expected[:, :1])
    total = np.array([
        stats.nbinom.logpmf(
            table.catch, 1 / v, 1 / (1 + v * np.exp(table.log_exposure(e) + 0.5))
        ).sum()
        for v, e in zip(variance, exponent, strict=True)
    ])  # fmt: skip
    ours = found[:, :, 1].sum(axis=1) + constants
    assert ours - ours[0] == pytest.approx(total - total[0])


def test_rows_of_one_bait_and_exposure_are_taken_together() -> None:
    groups = grouped(uneven_table())

    assert groups.bait.tolist() == [0, 0, 0, 1, 1, 2]
    assert sorted(groups.catch[:3]) == [0, 7, 8]
    assert groups.rows.sum() == 8
    assert groups.totals.tolist() == [15, 3, 9]


@pytest.mark.parametrize("half", [0.05, 1.0, 4.0, 12.0])
def test_a_polynomial_carries_the_likelihood_to_the_grid(half: float) -> None:
    rng = np.random.default_rng(7)
    table = lift_table(rng.poisson(30, 80), rng.uniform(12, 60, 80), [0, 1] * 40)
    groups = grouped(table)
    variance, exponent = np.array([1e-8, 0.3, 50.0]), np.array([0.5, 0.8, 1.0])
    low, step, size = even_grid((3.0 - half, 3.0 + half), half / 100)

    found = even_likelihood(groups, variance, exponent, low, step, size)
    expected = log_likelihood(groups, variance, exponent, low + step * np.arange(float(size)))
    assert found == pytest.approx(expected, abs=1e-6, rel=1e-9)


def test_a_grid_covers_its_ends_with_steps_no_larger_than_asked() -> None:
    low, step, size = even_grid((-1.0, 2.0), 0.04)

    assert low == -1.0
    assert step <= 0.04
    assert low + step * (size - 1) == pytest.approx(2.0)
    assert even_grid((0.0, 1.0), 1e-9)[2] == 8192
