"""From standard normal coordinates to spreads and the exponent: each prior against scipy's."""

from typing import Any

import numpy as np
import pytest
from scipy import stats

from trapline.science.bait_model import INDEPENDENT, SHRINKING, LiftTable, Priors, lift_table
from trapline.science.hyper_space import HyperSpace, hyper_space
from trapline.science.latent_modes import make_design

Z = np.linspace(-4.0, 4.0, 33)
PRIORS = Priors(
    dispersion_scale=0.7,
    round_sd=0.8,
    place_sd=1.3,
    trip_sd=0.6,
    bait_trip_sd=0.4,
    exponent_mean=0.7,
    exponent_sd=0.25,
    exponent_low=0.1,
    exponent_high=1.1,
    bait_spread=0.9,
    centre=1.25,
)


def trips_table(controls: tuple[int, ...] = ()) -> LiftTable:
    """Three baits on three places, two rounds in each of two trips, unequal soaks."""
    bait = [0, 1, 2, 1, 2, 0, 2, 0, 1, 0, 2, 1]
    return lift_table(
        catch=[3, 5, 0, 2, 7, 1, 4, 9, 2, 6, 0, 3],
        soak_h=[20.0, 24.0, 30.0] * 4,
        bait=bait,
        place=["p", "q", "r"] * 4,
        round_=[1, 1, 1, 2, 2, 2] * 2,
        trip=["May"] * 6 + ["June"] * 6,
        controls=controls,
    )


def space_of(table: LiftTable, priors: Priors) -> HyperSpace:
    return hyper_space(table, make_design(table), priors)


def along(space: HyperSpace, name: str, z: np.ndarray = Z) -> np.ndarray:
    """The values of one hyperparameter as its own coordinate runs, the others at 0."""
    points = np.zeros((len(space.names), z.size))
    points[space.names.index(name)] = z
    return space.values(name, points)


# --- names ----------------------------------------------------------------------------------


def test_a_space_has_the_coordinates_of_what_is_in_the_model() -> None:
    assert sorted(space_of(trips_table(), SHRINKING).names) == [
        "bait by trip", "bait spread", "exponent", "place", "round", "spread", "trip",
    ]  # fmt: skip
    rounds_only = lift_table([3, 5, 1, 2], [24.0] * 4, [0, 1, 0, 1], round_=[1, 1, 2, 2])
    assert space_of(rounds_only, INDEPENDENT).names == ("spread", "round")


def test_one_bait_has_nothing_to_be_like() -> None:
    table = lift_table([3, 5, 1, 2], [24.0] * 4, [0, 1, 0, 1], round_=[1, 1, 2, 2], controls=[1])
    assert "bait spread" not in space_of(table, SHRINKING).names


def test_what_is_not_in_the_model_has_the_value_that_leaves_it_out() -> None:
    table = lift_table([3, 5, 1, 2], [24.0] * 4, [0, 1, 0, 1], round_=[1, 1, 2, 2])
    space = space_of(table, INDEPENDENT)
    z = np.ones((2, 5))
    assert space.values("place", z).tolist() == [0.0] * 5
    assert space.values("exponent", z).tolist() == [1.0] * 5


# --- priors ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "prior"),
    [
        ("spread", stats.halfcauchy(scale=0.7)),
        ("round", stats.halfnorm(scale=0.8)),
        ("place", stats.halfnorm(scale=1.3)),
        ("trip", stats.halfnorm(scale=0.6)),
        ("bait by trip", stats.halfnorm(scale=0.4)),
        ("bait spread", stats.halfnorm(scale=0.9)),
        ("exponent", stats.truncnorm((0.1 - 0.7) / 0.25, (1.1 - 0.7) / 0.25, 0.7, 0.25)),
    ],
)
def test_each_has_its_prior(name: str, prior: Any) -> None:
    # scipy.stats: the chance below a value is that of the coordinate below its own.
    values = along(space_of(trips_table(), PRIORS), name)
    inside = Z > -2.5 if name != "exponent" else np.ones(Z.size, bool)  # spreads have a floor
    np.testing.assert_allclose(prior.cdf(values[inside]), stats.norm.cdf(Z[inside]), rtol=1e-9)
    np.testing.assert_allclose(prior.sf(values[inside]), stats.norm.sf(Z[inside]), rtol=1e-7)
    assert (np.diff(values) >= 0).all()


@pytest.mark.parametrize(
    "name", ["spread", "round", "place", "trip", "bait by trip", "bait spread", "exponent"]
)
def test_the_farthest_coordinates_give_numbers_in_their_range(name: str) -> None:
    values = along(space_of(trips_table(), PRIORS), name, np.array([-40.0, -9.0, 0.0, 9.0, 20.0]))
    assert np.isfinite(values).all()
    assert (values > 0).all()
    assert (np.diff(values) >= 0).all()
    if name == "exponent":
        assert values.max() <= 1.1


# --- precision ------------------------------------------------------------------------------


@pytest.mark.parametrize("controls", [(), (1,)])
@pytest.mark.parametrize("priors", [INDEPENDENT, SHRINKING, PRIORS])
def test_precision_and_determinant_are_those_of_the_covariance_written_out(
    priors: Priors, controls: tuple[int, ...]
) -> None:
    table = trips_table(controls)
    space = space_of(table, priors)
    z = np.random.default_rng(3).normal(size=(len(space.names), 4))
    hypers = space.hypers(z)
    means, sds = table.rate_priors(priors)
    for b in range(4):
        one = z[:, b : b + 1]
        covariance = np.diag(sds**2)
        if priors.bait_spread is not None:
            rivals = np.array(table.rivals)
            spread = space.values("bait spread", one)[0]
            covariance[np.ix_(rivals, rivals)] = priors.rate_sd**2 + np.eye(len(rivals)) * spread**2
        blocks = np.zeros((space.design.n_outer,) * 2)
        blocks[:3, :3] = covariance
        first = 3
        for group in space.design.groups:
            for column in range(first, first + group.n_levels):
                blocks[column, column] = space.values(group.name, one)[0] ** 2
            first += group.n_levels
        np.testing.assert_allclose(hypers.precision[b], np.linalg.inv(blocks), atol=1e-8)
        assert hypers.log_det[b] == pytest.approx(-np.linalg.slogdet(blocks)[1], abs=1e-8)
        assert hypers.inner_sd[b] == space.values(space.design.inner.name, one)[0]
    np.testing.assert_allclose(hypers.centre[:3, 0], means)
    assert (hypers.centre[3:] == 0).all()


def test_some_of_a_batch_are_what_they_were_in_it() -> None:
    space = space_of(trips_table(), SHRINKING)
    z = np.random.default_rng(8).normal(size=(len(space.names), 6))
    index = np.array([4, 1, 1])
    taken, alone = space.hypers(z).take(index), space.hypers(z[:, index])
    for name in ("spread", "exponent", "inner_sd", "precision", "log_det"):
        np.testing.assert_array_equal(getattr(taken, name), getattr(alone, name))
