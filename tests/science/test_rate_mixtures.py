"""Chances and intervals of masses on grids against normal distributions in closed form."""

import math

import numpy as np
import pytest

from trapline.science.rate_mixtures import Mixture, chance_below, interval_of_grids

FIRST, STEP, SIZE = -12.0, 0.1, 241
MEANS = np.array([[0.0, 0.7, -0.4], [0.5, 0.2, 1.0]])  # of three baits at two nodes
SDS = np.array([[0.3, 0.5, 0.9], [0.4, 0.8, 0.3]])
WEIGHTS = np.array([0.3, 0.7])


def normal_cdf(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2))


def normal_mixture() -> Mixture:
    points = FIRST + STEP * np.arange(SIZE)
    masses = np.exp(-(((points - MEANS[:, :, None]) / SDS[:, :, None]) ** 2) / 2)
    masses /= masses.sum(axis=2, keepdims=True)
    return Mixture(FIRST, STEP, masses, WEIGHTS, np.arange(2))


def test_one_normal_beats_another_as_their_difference_says() -> None:
    beats = normal_mixture().beats()

    for over, under in ((0, 1), (1, 0), (0, 2), (2, 1)):
        z = (MEANS[:, over] - MEANS[:, under]) / np.hypot(SDS[:, over], SDS[:, under])
        expected = WEIGHTS @ [normal_cdf(v) for v in z]
        assert beats[over, under] == pytest.approx(expected, abs=1e-5)


def test_the_best_of_three_normals_is_found_as_by_drawing_them() -> None:
    rng = np.random.default_rng(20261125)
    node = (rng.random(1_000_000) > 0.3).astype(int)
    draws = rng.normal(MEANS[node], SDS[node])
    expected = np.bincount(draws.argmax(axis=1), minlength=3) / draws.shape[0]

    # A share of a million draws has a standard error of at most .0005.
    assert normal_mixture().best([0, 1, 2]) == pytest.approx(expected, abs=0.002)


def test_the_best_of_some_leaves_the_others_out() -> None:
    mixture = normal_mixture()

    pair = mixture.best([2, 0])
    assert pair == pytest.approx([mixture.beats()[2, 0], mixture.beats()[0, 2]], abs=1e-6)


def test_a_ratio_has_the_distribution_of_the_difference() -> None:
    masses, first = normal_mixture().ratio_masses(1, 2)

    assert masses.sum() == pytest.approx(1.0)
    points = np.array([-2.0, 0.0, 0.33, 1.5])
    expected = [
        WEIGHTS @ [normal_cdf(v) for v in (x - MEANS[:, 1] + MEANS[:, 2]) /
                   np.hypot(SDS[:, 1], SDS[:, 2])]
        for x in points
    ]  # fmt: skip
    assert chance_below(masses, first, STEP, points) == pytest.approx(expected, abs=1e-5)


def test_draws_have_the_distribution_they_are_drawn_from() -> None:
    shares = np.tile(((np.arange(4000) + 0.5) / 4000)[:, None], 3)
    drawn = normal_mixture().drawn(np.ones(4000, dtype=np.int64), shares)

    assert drawn.mean(axis=0) == pytest.approx(MEANS[1], abs=1e-3)
    # A cell of the grid is drawn from evenly: its width adds step^2 / 12 to the variance.
    assert drawn.std(axis=0) == pytest.approx(np.sqrt(SDS[1] ** 2 + STEP**2 / 12), rel=2e-3)


def test_two_grids_of_one_distribution_give_its_interval() -> None:
    # Half of the mass on a coarse grid, half on a fine one; both standard normal.
    grids = []
    for step, size in ((0.5, 33), (0.03, 401)):
        points = -8.0 + step * np.arange(size) if size == 33 else -6.0 + step * np.arange(size)
        masses = np.exp(-(points**2) / 2)
        grids.append((masses / masses.sum() / 2, float(points[0]), step))

    found = interval_of_grids(grids)
    assert np.log([found.median, found.low, found.high]) == pytest.approx(
        [0.0, -1.959964, 1.959964], abs=2e-3
    )


def test_nothing_lies_below_the_grid_and_all_of_it_above() -> None:
    masses = np.array([0.25, 0.5, 0.25])

    assert chance_below(masses, 0.0, 1.0, np.array([-1e6, 1.0, 1e6])) == pytest.approx([0, 0.5, 1])
