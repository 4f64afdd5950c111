"""Quantiles of spread and exponent from the weights of a few nodes, against closed forms."""

import numpy as np
import pytest

from trapline.science.bait_model import INDEPENDENT, lift_table
from trapline.science.rate_grids import grouped
from trapline.science.rate_nodes import Nodes, nodes_of
from trapline.science.rate_region import find_region


def some_nodes() -> Nodes:
    table = lift_table([4, 0, 7, 1, 2, 0], [24.0, 12.0, 60.0] * 2, [0, 0, 0, 1, 1, 1])
    groups = grouped(table)
    region = find_region(table, groups, INDEPENDENT, *table.rate_priors(INDEPENDENT))
    return nodes_of(table, groups, INDEPENDENT, region, (24, 8))


def test_nodes_of_equal_posterior_density_give_an_even_distribution() -> None:
    nodes = some_nodes()
    gauss = np.polynomial.legendre.leggauss
    low, high = nodes.share

    weights = np.outer(gauss(24)[1], gauss(8)[1]).ravel()
    expected = [low + (high - low) * share for share in (0.5, 0.025, 0.975)]
    assert nodes.share_quantiles(weights) == pytest.approx(expected, abs=1e-3)


def test_the_quantiles_of_a_bell_are_those_of_a_bell() -> None:
    nodes = some_nodes()
    gauss = np.polynomial.legendre.leggauss
    quadrature = np.outer(gauss(24)[1], gauss(8)[1]) * (nodes.high - nodes.low)[:, None]
    bells = np.exp(-(((nodes.shares - 0.5) / 0.1) ** 2) / 2)[:, None]
    bells = bells * np.exp(-(((nodes.exponent.reshape(24, 8) - 0.6) / 0.12) ** 2) / 2)
    weights = (quadrature * bells).ravel()

    z = np.array([0.0, -1.959964, 1.959964])
    assert nodes.share_quantiles(weights) == pytest.approx(0.5 + 0.1 * z, abs=1e-3)
    assert nodes.exponent_quantiles(weights) == pytest.approx(0.6 + 0.12 * z, abs=3e-3)


def test_the_exponent_stays_within_its_prior() -> None:
    nodes = some_nodes()

    assert nodes.exponent.min() >= INDEPENDENT.exponent_low
    assert nodes.exponent.max() <= INDEPENDENT.exponent_high
    assert (nodes.low < nodes.high).all()


def test_many_rows_leave_a_narrow_region() -> None:
    rng = np.random.default_rng(3)
    hours = rng.uniform(12, 72, 3000)
    means = 5.0 * (hours / 24) ** 0.7
    table = lift_table(rng.negative_binomial(2, 2 / (2 + means)), hours, [0, 1, 2] * 1000)
    groups = grouped(table)
    region = find_region(table, groups, INDEPENDENT, *table.rate_priors(INDEPENDENT))

    share = 2 / np.pi * np.arctan(np.sqrt(1 / 2) / INDEPENDENT.dispersion_scale)
    assert region.share[0] < share < region.share[1]
    assert region.share[1] - region.share[0] < 0.1
    assert region.exponent_low.max() < 0.7 < region.exponent_high.min()
    assert (region.exponent_high - region.exponent_low).max() < 0.6
    assert region.rate[0] < np.log(5.0) < region.rate[1]
    assert region.rate[1] - region.rate[0] < 1.0
