"""Evenly spread points, and the t distributions that are drawn by them."""

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad
from scipy.special import gammaln

from trapline.science.even_draws import N_DEGREES, sobol_points, t_draws


def split_t_density(x: np.ndarray, reach: np.ndarray) -> np.ndarray:
    """Density of x, shape (d, n), whose sides reach down and up as far as `reach` (d, 2) says."""
    d = x.shape[0]
    scaled = np.where(x < 0, x / reach[:, :1], x / reach[:, 1:])
    logs = gammaln((8 + d) / 2) - gammaln(4) - d / 2 * np.log(8 * np.pi)
    logs = logs - (8 + d) / 2 * np.log1p((scaled**2).sum(axis=0) / 8)
    return np.exp(logs) * np.prod(2 / reach.sum(axis=1))


# --- points ---------------------------------------------------------------------------------


def test_a_later_stretch_of_points_goes_on_where_the_earlier_ended() -> None:
    whole = sobol_points(5, 0, 64)
    for first, last in ((0, 1), (0, 7), (1, 2), (7, 48), (48, 64)):
        np.testing.assert_array_equal(whole[first:last], sobol_points(5, first, last))


@pytest.mark.parametrize("n_dims", [1, 4, 40, 300])
def test_points_lie_inside_and_fill_each_coordinate_evenly(n_dims: int) -> None:
    points = sobol_points(n_dims, 0, 256)
    assert points.shape == (256, n_dims)
    assert points.min() > 0.0
    assert points.max() < 1.0
    # One point in each 256th of the circle, wherever that was turned to.
    gaps = np.diff(np.sort(points, axis=0), axis=0)
    np.testing.assert_allclose(gaps, 1 / 256, atol=1e-9)


def test_coordinates_are_not_copies_of_each_other() -> None:
    points = sobol_points(12, 0, 1024)
    correlation = np.corrcoef(points.T) - np.eye(12)
    assert np.abs(correlation).max() < 0.1


# --- draws ----------------------------------------------------------------------------------


@pytest.mark.parametrize("d", [1, 3, 9])
def test_log_densities_are_those_of_a_t_distribution(d: int) -> None:
    draws, logs = t_draws(sobol_points(d + 1, 0, 64).T)
    theirs = stats.multivariate_t(np.zeros(d), np.eye(d), df=8).logpdf(draws.T)
    np.testing.assert_allclose(logs - logs[0], theirs - theirs[0], atol=1e-10)


def test_draws_are_spread_as_a_t_distribution_is() -> None:
    draws, _ = t_draws(sobol_points(4, 0, 4096).T)
    for one in draws:
        ours = np.quantile(one, [0.025, 0.25, 0.5, 0.75, 0.975])
        np.testing.assert_allclose(ours, stats.t(8).ppf([0.025, 0.25, 0.5, 0.75, 0.975]), atol=0.03)
    # Variance of a t distribution: df / (df - 2); the coordinates share their length.
    np.testing.assert_allclose(np.cov(draws), np.eye(3) * N_DEGREES / (N_DEGREES - 2), atol=0.06)


def test_a_split_t_has_each_side_as_long_as_it_reaches() -> None:
    reach = np.array([[0.5, 2.0], [1.0, 1.0], [3.0, 1.0]])
    draws, _ = t_draws(sobol_points(4, 0, 4096).T, reach)
    for one, (down, up) in zip(draws, reach, strict=True):
        assert (one < 0).mean() == pytest.approx(down / (down + up), abs=0.002)
        half = stats.t(8).ppf(0.75)
        assert np.median(-one[one < 0]) == pytest.approx(down * half, rel=0.02)
        assert np.median(one[one > 0]) == pytest.approx(up * half, rel=0.02)


def test_the_density_of_a_split_t_integrates_to_one_along_a_line() -> None:
    reach = np.array([[0.6, 2.3]])
    total, _ = quad(lambda x: split_t_density(np.array([[x]]), reach)[0], -np.inf, np.inf)
    assert total == pytest.approx(1.0, abs=1e-7)


@pytest.mark.parametrize(
    "reach", [[[0.6, 2.3]], [[0.6, 2.3], [1.5, 0.7]], [[1.0, 1.0], [2.0, 0.5], [0.8, 0.8]]]
)
def test_weights_over_its_density_turn_a_split_t_into_another_distribution(
    reach: list[list[float]],
) -> None:
    sides = np.array(reach)
    draws, logs = t_draws(sobol_points(len(reach) + 1, 0, 16_384).T, sides)
    density = split_t_density(draws, sides)
    # Log densities are those of the formula but for one constant.
    np.testing.assert_allclose(np.ptp(np.log(density) - logs), 0.0, atol=1e-9)
    target = stats.multivariate_normal(np.full(len(reach), 0.2), 0.3 * np.eye(len(reach)))
    weights = target.pdf(draws.T).reshape(-1) / density
    assert weights.mean() == pytest.approx(1.0, abs=0.01)
    np.testing.assert_allclose((weights * draws).mean(axis=1), 0.2, atol=0.01)
    np.testing.assert_allclose((weights * (draws - 0.2) ** 2).mean(axis=1), 0.3, atol=0.01)
