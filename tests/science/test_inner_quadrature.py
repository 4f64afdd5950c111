"""Each level of the larger factor against sums over fine grids."""

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import minimize_scalar

from trapline.science.bait_model import INDEPENDENT, LiftTable, lift_table
from trapline.science.hyper_space import HyperSpace, hyper_space
from trapline.science.inner_quadrature import (
    inner_modes,
    integrate_inner,
    lognormal_of,
)
from trapline.science.latent_modes import Hypers, Modes, find_modes, make_design

Array = np.ndarray


def places_table(catch: list[int]) -> LiftTable:
    """Two baits on five places over three rounds."""
    return lift_table(
        catch=catch,
        soak_h=[24.0] * 14 + [20.0],
        bait=[(i + r) % 2 for r in range(3) for i in range(5)],
        place=list(range(5)) * 3,
        round_=[r for r in range(3) for _ in range(5)],
    )


CATCHES = {
    "plain": [4, 0, 9, 2, 1, 7, 3, 12, 0, 2, 5, 1, 6, 0, 3],
    "none": [0] * 15,
    "two places full": [900, 0, 0, 350, 0] * 3,
    "under-dispersed": [5] * 15,
    "one a million": [1_000_000] + [3] * 14,
}


def solved(catch: list[int], z: list[float]) -> tuple[HyperSpace, Hypers, Modes]:
    table = places_table(catch)
    space = hyper_space(table, make_design(table), INDEPENDENT)
    hypers = space.hypers(np.array(z)[:, None])
    start = (hypers.centre, np.zeros((5, 1)))
    return space, hypers, find_modes(space.design, hypers, start, close=1e-9)


def by_sums(space: HyperSpace, hypers: Hypers, outer: Array) -> tuple[Array, Array, Array]:
    """Log integral, and mean and variance of e^effect, of each place; all constants in.

    Sums over 2,001 points, dense about the top and out to 12 prior standard deviations.
    """
    table = space.table
    k, sd = hypers.spread[0] ** -2, hypers.inner_sd[0]
    logs = table.log_effort + table.log_fraction + outer[table.bait] + outer[2:5][table.round_]
    found = []
    for place in range(5):
        rows = table.place == place

        def log_integrand(effects: Array, rows: Array = rows) -> Array:
            m = np.exp(logs[rows, None] + effects)
            fit = stats.nbinom.logpmf(table.catch[rows, None], k, k / (k + m)).sum(axis=0)
            return np.asarray(fit + stats.norm.logpdf(effects, 0, sd))

        search = minimize_scalar(lambda x: -log_integrand(np.array([x]))[0], (-sd, sd), tol=1e-9)
        top = float(search.x)
        near = log_integrand(top + np.array([-1e-3, 0.0, 1e-3]))
        width = 1e-3 / np.sqrt(2 * near[1] - near[0] - near[2])
        t = np.linspace(-1.0, 1.0, 2001) * np.arcsinh(12 * sd / width)
        away, step = width * np.sinh(t), width * np.cosh(t)
        heights = np.exp(log_integrand(top + away) - near[1]) * step
        m0, m1, m2 = (np.trapezoid(heights * np.exp(p * away), t) for p in (0, 1, 2))
        mean = m1 / m0 * np.exp(top)
        found.append((np.log(m0) + near[1], mean, m2 / m0 * np.exp(2 * top) - mean**2))
    integrals, means, variances = np.array(found).T
    return integrals, means, variances


@pytest.mark.parametrize("z", [[0.0, 0.0, 0.0], [1.0, 1.5, 0.5], [-1.5, -1.0, 1.0]])
@pytest.mark.parametrize("name", ["plain", "none", "two places full", "under-dispersed"])
def test_the_integral_is_that_over_a_fine_grid(name: str, z: list[float]) -> None:
    space, hypers, modes = solved(CATCHES[name], z)
    # At the mode, and a standard deviation or so from it.
    turn = np.linalg.inv(modes.chol[0]).T
    steps = np.random.default_rng(2).normal(size=(space.design.n_outer, 4))
    steps[:, 0] = 0.0
    outer = modes.outer + turn @ steps
    ours = integrate_inner(space.design, hypers, modes, outer)
    theirs, means, sds = [], [], []
    for s in range(4):
        log_integrals, mean, variance = by_sums(space, hypers, outer[:, s])
        theirs.append(log_integrals.sum())
        means.append(mean.mean())
        sds.append(np.sqrt(variance.sum()) / 5)
    # Up to the terms of counts alone, which are the same for each draw of a node.
    np.testing.assert_allclose(
        ours.log_likelihood - ours.log_likelihood[0], np.array(theirs) - theirs[0], atol=0.02
    )
    ours_mean = np.exp(ours.log_mean + ours.log_sd**2 / 2)
    ours_sd = ours_mean * np.sqrt(np.expm1(ours.log_sd**2))
    # With spreads of 1.8 and 1.5, e^effect has a tail that five points do not reach the end of.
    is_wild = z[0] == 1.0
    np.testing.assert_allclose(ours_mean, means, rtol=0.1 if is_wild else 0.01)
    np.testing.assert_allclose(ours_sd, sds, rtol=0.5 if is_wild else 0.06)


def test_between_nodes_only_the_terms_of_counts_are_missing() -> None:
    logs, terms, ours = [], [], []
    for z in ([0.0, 0.0, 0.0], [1.0, 1.0, 0.5]):
        space, hypers, modes = solved(CATCHES["plain"], z)
        logs.append(by_sums(space, hypers, modes.outer[:, 0])[0].sum())
        terms.append(modes.count_terms[0])
        found = integrate_inner(space.design, hypers, modes, modes.outer)
        ours.append(found.log_likelihood[0])
    assert ours[1] + terms[1] - ours[0] - terms[0] == pytest.approx(logs[1] - logs[0], abs=0.02)


def test_draws_of_several_nodes_are_what_they_are_one_by_one() -> None:
    table = places_table(CATCHES["plain"])
    space = hyper_space(table, make_design(table), INDEPENDENT)
    hypers = space.hypers(np.random.default_rng(5).normal(size=(3, 60)))
    start = (hypers.centre, np.zeros((5, 1)))
    modes = find_modes(space.design, hypers, start)
    outer = np.repeat(modes.outer, 3, axis=1)
    outer = outer + 0.3 * np.random.default_rng(6).normal(size=outer.shape)
    together = integrate_inner(space.design, hypers, modes, outer)
    for node in (0, 41, 59):
        one = np.array([node])
        part = outer[:, 3 * node : 3 * node + 3]
        alone = integrate_inner(space.design, hypers.take(one), modes.take(one), part)
        for name in ("log_likelihood", "log_mean", "log_sd"):
            np.testing.assert_allclose(
                getattr(together, name)[3 * node : 3 * node + 3], getattr(alone, name), rtol=1e-12
            )


def test_weights_of_levels_multiply_their_effects() -> None:
    space, hypers, modes = solved(CATCHES["plain"], [0.0, 0.5, 0.0])
    plain = integrate_inner(space.design, hypers, modes, modes.outer)
    doubled = integrate_inner(
        space.design, hypers, modes, modes.outer, np.full((5, 1), np.log(2.0))
    )
    np.testing.assert_allclose(doubled.log_mean - plain.log_mean, np.log(2.0), atol=1e-12)
    np.testing.assert_allclose(doubled.log_sd, plain.log_sd, atol=1e-12)
    only = np.log(np.array([[5.0, 1e-9, 1e-9, 1e-9, 1e-9]]).T)
    one = integrate_inner(space.design, hypers, modes, modes.outer, only)
    assert one.log_mean[0] == pytest.approx(modes.inner[0, 0], abs=0.3)


def test_modes_of_levels_fall_as_the_outer_columns_rise() -> None:
    space, hypers, modes = solved(CATCHES["plain"], [0.0, 0.5, 0.0])
    # The mode of each place given outer columns, by Newton's method with those held fast.
    step = np.full((space.design.n_outer, 1), 1e-4)
    middle, sd = inner_modes(modes, modes.outer + step)
    table, k = space.table, hypers.spread[0] ** -2
    weight = hypers.inner_sd[0] ** -2
    outer = (modes.outer + step)[:, 0]
    for place in range(5):
        rows = table.place == place
        logs = (table.log_effort + outer[table.bait] + outer[2:5][table.round_])[rows]
        effect = 0.0
        for _ in range(50):
            m = np.exp(logs + effect)
            slope = ((table.catch[rows] - m) / (1 + m / k)).sum() - effect * weight
            bend = (m * (1 + table.catch[rows] / k) / (1 + m / k) ** 2).sum() + weight
            effect += slope / bend
        assert middle[place, 0] == pytest.approx(effect, abs=1e-6)
        assert sd[place, 0] == pytest.approx(bend**-0.5, rel=1e-3)


def test_a_million_animals_overflow_nothing() -> None:
    space, hypers, modes = solved(CATCHES["one a million"], [-6.0, 6.0, 6.0])
    found = integrate_inner(space.design, hypers, modes, modes.outer)
    assert np.isfinite(found.log_likelihood).all()
    assert np.isfinite(found.log_mean).all()


def test_a_lognormal_has_the_moments_it_was_made_of() -> None:
    log_mean, log_sd = lognormal_of(np.array([3.0]), np.array([0.7]))
    shape = stats.lognorm(s=log_sd[0], scale=np.exp(log_mean[0]))
    assert shape.mean() == pytest.approx(3.0)
    assert shape.var() == pytest.approx(0.7)
