"""Equally weighted draws: each one fits together, and all together are the posterior."""

from functools import cache

import numpy as np
import pytest
from scipy import stats

from trapline.science.bait_model import INDEPENDENT, LiftTable, Priors, lift_table
from trapline.science.drawn_rates import DrawnPosterior, drawn_posterior

Array = np.ndarray


@cache
def made(case: str) -> tuple[LiftTable, DrawnPosterior]:
    rng = np.random.default_rng(61)
    catch = rng.negative_binomial(1.5, 0.25, 24).tolist()
    if case == "an empty bait":
        catch = [0 if (i + i // 6) % 3 == 1 else c for i, c in enumerate(catch)]
    table = lift_table(
        catch=catch,
        soak_h=[24.0] * 24 if case != "unequal soaks" else [6.0, 24.0, 60.0] * 8,
        bait=[(i + r) % 3 for r in range(4) for i in range(6)],
        fraction=[0.5] + [1.0] * 23,
        place=list(range(6)) * 4,
        round_=[r for r in range(4) for _ in range(6)],
    )
    return table, drawn_posterior(table)


CASES = ["plain", "an empty bait", "unequal soaks"]


@pytest.mark.parametrize("case", CASES)
def test_rows_of_one_place_and_round_differ_by_bait_and_effort_only(case: str) -> None:
    table, posterior = made(case)
    draws = posterior.draws(300)
    exposure = draws.exponent[:, None] * table.log_effort + table.log_fraction
    effect = draws.row_logs - exposure - draws.log_rates[:, table.bait]
    # A full rotation: the effect is one of the place plus one of the round.
    grid = np.empty((300, 6, 4))
    grid[:, table.place, table.round_] = effect
    crossed = grid - grid.mean(axis=1, keepdims=True) - grid.mean(axis=2, keepdims=True)
    np.testing.assert_allclose(crossed + grid.mean(axis=(1, 2))[:, None, None], 0.0, atol=1e-9)
    assert grid.std() > 0.1


@pytest.mark.parametrize("case", CASES)
def test_draws_have_the_intervals_of_the_posterior(case: str) -> None:
    _, posterior = made(case)
    draws = posterior.draws(3000)
    for a, b in ((0, 1), (0, 2), (1, 2)):
        ratio = posterior.ratio(a, b)
        ours = np.log([ratio.low, ratio.median, ratio.high])
        theirs = np.quantile(draws.log_rates[:, a] - draws.log_rates[:, b], [0.025, 0.5, 0.975])
        sd = (ours[2] - ours[0]) / 3.92
        np.testing.assert_allclose(theirs, ours, atol=0.15 * sd)
        above = (draws.log_rates[:, a] > draws.log_rates[:, b]).mean()
        assert above == pytest.approx(posterior.beats[a, b], abs=0.025)


@pytest.mark.parametrize("case", CASES)
def test_few_draws_are_alike(case: str) -> None:
    draws = made(case)[1].draws(400)
    assert np.unique(draws.log_rates[:, 0]).size > 250


@pytest.mark.parametrize("n", [1, 7])
def test_as_many_are_drawn_as_asked_for(n: int) -> None:
    draws = made("plain")[1].draws(n)
    assert {values.shape[0] for values in vars(draws).values()} == {n}


def test_the_effect_of_an_empty_place_is_drawn_from_its_own_skew_density() -> None:
    # One bait, two places, nothing at one of them: given spreads and rate the effect of the
    # empty place has a long tail below, which a normal about its mode has not.
    table = lift_table(
        catch=[0, 0, 0, 0, 9, 14, 11, 8], soak_h=[24.0] * 8, bait=[0] * 8,
        place=[0] * 4 + [1] * 4, round_=list(range(8)),
    )  # fmt: skip
    tight = Priors(rate_sd=0.01, centre=1.0, dispersion_scale=0.05, place_sd=1.5)
    draws = drawn_posterior(table, tight).draws(4000)
    empty = (draws.row_logs - draws.log_rates)[:, 0]
    # Given each draw's own spreads: average the exact means and deviations over the draws.
    grid = np.linspace(-9, 6, 1501)
    means, squares = [], []
    for spread, sd, rate in zip(
        draws.spread[::8], draws.place_sd[::8], draws.log_rates[::8, 0], strict=True
    ):
        k = spread**-2
        logs = 4 * stats.nbinom.logpmf(0, k, k / (k + np.exp(rate + grid)))
        logs = logs + stats.norm.logpdf(grid, 0, sd)
        density = np.exp(logs - logs.max())
        density /= density.sum()
        means.append(density @ grid)
        squares.append(density @ grid**2)
    mean = np.mean(means)
    assert empty.mean() == pytest.approx(mean, abs=0.08)
    assert empty.std() == pytest.approx(np.sqrt(np.mean(squares) - mean**2), rel=0.08)
    assert stats.skew(empty) < -0.2


def test_means_of_rows_are_near_what_was_caught() -> None:
    table, posterior = made("plain")
    draws = posterior.draws(2000)
    expected = np.exp(draws.row_logs).mean(axis=0)
    # Over all rows the model fits the total; single rows are drawn towards each other.
    assert expected.sum() == pytest.approx(table.catch.sum(), rel=0.2)
    assert np.corrcoef(expected, table.catch)[0, 1] > 0.5
    assert INDEPENDENT.round_sd == 1.0
