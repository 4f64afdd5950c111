"""Exact rates of baits against fits by other programs, other integrations and closed forms."""

import csv
import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from trapline.science.bait_model import INDEPENDENT, SHRINKING, Priors, lift_table
from trapline.science.exact_rates import ExactPosterior, exact_posterior
from trapline.science.intervals import Interval

REFERENCE = Path(__file__).parents[1] / "reference"
MODELS = json.loads((REFERENCE / "count_models.json").read_text(encoding="utf-8"))

Floats = NDArray[np.float64]


def posterior_of(
    catch: Sequence[int],
    bait: Sequence[int],
    soak_h: Sequence[float] | None = None,
    controls: Sequence[int] = (),
    priors: Priors = INDEPENDENT,
) -> ExactPosterior:
    hours = [24.0] * len(catch) if soak_h is None else soak_h
    return exact_posterior(lift_table(catch, hours, bait, controls=controls), priors)


def two_baits(first: list[int], second: list[int]) -> ExactPosterior:
    return posterior_of(first + second, [0] * len(first) + [1] * len(second))


def distance_in_errors(interval: Interval, fit: dict[str, float], value: str) -> float:
    """Largest distance of median and ends from a likelihood fit, in its standard errors."""
    pairs = [(interval.median, fit[value]), (interval.low, fit["lo"]), (interval.high, fit["hi"])]
    error = np.log(fit["hi"] / fit["lo"]) / (2 * 1.959964)
    return max(float(abs(np.log(ours / theirs)) / error) for ours, theirs in pairs)


# --- against other programs -------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "catch", "group"), [("InsectSprays", "count", "spray"), ("quine", "Days", "Age")]
)
def test_many_counts_agree_with_the_likelihood_fit(name: str, catch: str, group: str) -> None:
    # R 4.2 MASS::glm.nb and emmeans. Median and interval ends of every rate and ratio lie
    # within 0.25 (rates) and 0.15 (ratios) of a standard error: the fit fixes k at its
    # estimate and takes the log likelihood for a parabola, the posterior does neither.
    with (REFERENCE / "counts" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    levels = sorted({row[group] for row in rows})
    posterior = posterior_of(
        [int(row[catch]) for row in rows], [levels.index(row[group]) for row in rows]
    )

    for fit in MODELS[name]["rates"]:
        rate = posterior.rates[levels.index(fit["group"])]
        assert distance_in_errors(rate, fit, "rate") < 0.25
    for fit in MODELS[name]["pairwise"]:
        over, under = (levels.index(part) for part in fit["contrast"].split(" / "))
        assert distance_in_errors(posterior.ratio(over, under), fit, "ratio") < 0.15
    theta, error = MODELS[name]["theta"], MODELS[name]["se_theta"]
    assert abs(posterior.spreads.dispersion_k.median - theta) < error


# 27 invented lifts over three rounds; trap, round, bait, hours, catch.
THREE_ROUNDS = """\
1,1,A,22.0,5;2,1,B,22.1,2;3,1,C,22.3,1;4,1,A,22.5,9;5,1,B,22.6,0;6,1,C,22.8,3;7,1,A,23.0,2;
8,1,B,23.1,4;9,1,C,23.3,0;1,2,B,25.0,3;2,2,C,25.2,2;3,2,A,25.3,4;4,2,B,25.5,7;5,2,C,25.6,1;
6,2,A,25.8,6;7,2,B,26.0,1;8,2,C,26.2,2;9,2,A,26.3,3;1,3,C,19.0,2;2,3,A,19.2,6;3,3,B,19.3,0;
4,3,C,19.5,3;5,3,A,19.6,2;6,3,B,19.8,5;7,3,C,20.0,0;8,3,A,20.1,8;9,3,B,20.3,1"""


def test_soaks_enter_as_exposure_as_in_a_fit_with_an_offset() -> None:
    # Computed independently with R MASS::glm.nb, offset log(soak/24), intervals by Wald.
    # Nine traps a bait: within 0.15 of a standard error.
    rows = [row.split(",") for row in THREE_ROUNDS.replace("\n", "").split(";")]
    table = lift_table(
        [int(row[4]) for row in rows],
        [float(row[3]) for row in rows],
        ["ABC".index(row[2]) for row in rows],
        soak="linear",
    )
    posterior = exact_posterior(table)

    medians = [rate.median for rate in posterior.rates]
    assert medians == pytest.approx([5.3440, 2.6989, 1.6525], rel=0.05)
    for bait, ratio, low, high in ((1, 0.50503, 0.27864, 0.91538), (2, 0.30922, 0.15696, 0.60916)):
        fit = {"ratio": ratio, "lo": low, "hi": high}
        assert distance_in_errors(posterior.ratio(bait, 0), fit, "ratio") < 0.15


def test_a_worked_ratio_lies_between_the_usual_intervals() -> None:
    # Sample ratio 2.2; 95 % delta 1.21691-3.97728 and Fieller 1.24233-4.52119, computed
    # independently with scipy. Eight traps a bait: each end within 10 % of one of them.
    ratio = two_baits([5, 3, 8, 6, 4, 7, 2, 9], [2, 4, 3, 1, 5, 2, 3, 0]).ratio(0, 1)

    assert ratio.median == pytest.approx(2.2, rel=0.05)
    assert ratio.low == pytest.approx(1.21691, rel=0.1)
    assert ratio.high == pytest.approx(3.97728, rel=0.1)


@pytest.mark.parametrize("catch", range(1, 31))
def test_the_poisson_limit_is_the_exact_table(catch: int) -> None:
    # Garwood (1936). With k without bound and a flat prior of the log rate the posterior
    # is gamma(catch): its lower end is the table's lower limit for this catch and its upper
    # end the table's upper limit for one animal less.
    priors = Priors(rate_sd=1e4, dispersion_scale=1e-5)
    rate = posterior_of([catch], [0], priors=priors).rates[0]

    table = MODELS["garwood_0_30"]
    assert rate.low == pytest.approx(table[catch]["lo"], rel=5e-4)
    assert rate.high == pytest.approx(table[catch - 1]["hi"], rel=5e-4)


@pytest.mark.parametrize("catch", [5, 10, 30])
def test_one_trap_says_less_than_the_exact_poisson_interval(catch: int) -> None:
    # One trap cannot show how patchy the catch is, so by default its interval holds the
    # whole of Garwood's (for 5: 1.623486-11.66832), and its median lies inside.
    rate = posterior_of([catch], [0]).rates[0]

    table = MODELS["garwood_0_30"][catch]
    assert rate.low < table["lo"] < rate.median < table["hi"] < rate.high


# --- against other integrations ---------------------------------------------------------


def test_the_grids_agree_with_finer_integration_by_scipy() -> None:
    # The same model written a second time, with scipy's distributions and Simpson's rule.
    from scipy import integrate, stats

    first, second = [4, 0, 7], [1, 2, 0]
    centre = np.log((sum(first + second) + 0.5) / 6)
    log_rates = np.linspace(centre - 10, centre + 10, 3001)
    rates = np.exp(log_rates)
    total, above = 0.0, 0.0
    for point, weight in zip(*np.polynomial.legendre.leggauss(120), strict=True):
        k = stats.halfcauchy.ppf((point + 1) / 2, scale=0.5) ** -2
        chances = [
            np.prod(stats.nbinom.pmf(np.array(bait)[:, None], k, k / (k + rates)), axis=0)
            * stats.norm.pdf(log_rates, centre, 1.5)
            for bait in (first, second)
        ]
        below = integrate.cumulative_simpson(chances[1], x=log_rates, initial=0)
        total += weight * integrate.simpson(chances[0], x=log_rates) * below[-1]
        above += weight * integrate.simpson(chances[0] * below, x=log_rates)

    assert two_baits(first, second).beats[0, 1] == pytest.approx(above / total, abs=1e-6)


@pytest.mark.parametrize(
    ("catch", "reach"),
    [
        ([[2, 9, 14], [0, 3, 3]], 9.0),
        # Near Poisson: the exponent is known well or badly as the spread is small or large.
        ([[18, 47, 100], [12, 22, 60]], 2.0),
    ],
)
def test_the_exponent_is_integrated_as_by_simpsons_rule(
    catch: list[list[int]], reach: float
) -> None:
    # Written a second time: midpoints of the spread's prior, Simpson's rule over the exponent
    # and over each log rate, scipy's negative binomial; soaks of 12 h to 3 days.
    from scipy import integrate, stats

    days = [np.array([0.5, 1.5, 3.0]), np.array([0.5, 1.0, 3.0])]
    centre = np.log((np.sum(catch) + 0.5) / sum((d**0.8).sum() for d in days))
    log_rates = np.linspace(centre - reach, centre + reach, 221)
    exponents = np.linspace(0.0, 1.2, 51)
    k = stats.halfcauchy.ppf((np.arange(60) + 0.5) / 60, scale=0.5)[:, None, None] ** -2
    chances, belows = [], []
    for counts, soaks in zip(catch, days, strict=True):
        chance = np.broadcast_to(stats.norm.pdf(log_rates, centre, 1.5), (60, 51, 221)).copy()
        for count, soak in zip(counts, soaks, strict=True):
            means = soak ** exponents[:, None] * np.exp(log_rates)
            chance *= stats.nbinom.pmf(count, k, k / (k + means))
        chances.append(chance)
        belows.append(integrate.cumulative_simpson(chance, x=log_rates, initial=0))
    prior = stats.norm.pdf(exponents, 0.8, 0.3)
    of_exponent = (belows[0][:, :, -1] * belows[1][:, :, -1]).sum(axis=0) * prior
    above = integrate.simpson(chances[0] * belows[1], x=log_rates).sum(axis=0) * prior
    reached = integrate.cumulative_simpson(of_exponent, x=exponents, initial=0)

    hours = [24 * float(d) for soaks in days for d in soaks]
    posterior = posterior_of(catch[0] + catch[1], [0] * 3 + [1] * 3, hours)
    expected = integrate.simpson(above, x=exponents) / reached[-1]
    assert posterior.beats[0, 1] == pytest.approx(expected, abs=2e-4)
    found = posterior.spreads.exponent
    assert found is not None
    for share, value in ((0.5, found.median), (0.025, found.low), (0.975, found.high)):
        assert value == pytest.approx(np.interp(share, reached / reached[-1], exponents), abs=2e-3)


def likelihood_fit(catch: Floats, design: Floats) -> tuple[Floats, Floats]:
    """Negative binomial maximum likelihood: estimates and covariance, k estimated too."""
    from scipy import optimize, stats

    def coefficients(k: float) -> tuple[Floats, Floats, float]:
        # Iteratively re-weighted least squares, McCullagh & Nelder (1989).
        beta = np.linalg.lstsq(design, np.log(catch + 0.5), rcond=None)[0]
        for _ in range(30):
            means = np.exp(design @ beta)
            weights = means / (1 + means / k)
            information = design.T @ (design * weights[:, None])
            step = np.linalg.solve(information, design.T @ (weights * (catch - means) / means))
            beta = beta + step
        means = np.exp(design @ beta)
        fit = float(np.sum(stats.nbinom.logpmf(catch, k, k / (k + means))))
        return np.asarray(beta), np.asarray(np.linalg.inv(information)), fit

    best = optimize.minimize_scalar(
        lambda log_k: -coefficients(np.exp(log_k))[2], bounds=(-2, 3), method="bounded"
    )
    beta, covariance, _ = coefficients(float(np.exp(best.x)))
    return beta, covariance


def test_with_many_rows_ratios_and_exponent_are_those_of_maximum_likelihood() -> None:
    # 1,500 rows with a true exponent of 0.7; priors of sd 1.5 and 0.3 against standard
    # errors below .07: medians and ends within 0.15 of a standard error.
    rng = np.random.default_rng(20261124)
    bait = np.repeat([0, 1, 2], 500)
    hours = rng.uniform(6, 96, bait.size).round(1)
    means = np.array([3.0, 4.5, 2.0])[bait] * (hours / 24) ** 0.7
    catch = rng.negative_binomial(1.5, 1.5 / (1.5 + means))
    design = np.column_stack([bait == 0, bait == 1, bait == 2, np.log(hours / 24)]).astype(float)
    beta, covariance = likelihood_fit(catch.astype(float), design)

    posterior = posterior_of(catch.tolist(), bait.tolist(), hours.tolist())
    for over, under in ((1, 0), (2, 0), (1, 2)):
        contrast = np.zeros(4)
        contrast[[over, under]] = 1, -1
        error = np.sqrt(contrast @ covariance @ contrast)
        middle = contrast @ beta
        fit = {
            name: float(np.exp(middle + z * error))
            for name, z in (("ratio", 0.0), ("lo", -1.959964), ("hi", 1.959964))
        }
        assert distance_in_errors(posterior.ratio(over, under), fit, "ratio") < 0.15
    found = posterior.spreads.exponent
    assert found is not None
    assert abs(found.median - beta[3]) < 0.15 * np.sqrt(covariance[3, 3])
    assert found.high - found.low == pytest.approx(3.919928 * np.sqrt(covariance[3, 3]), rel=0.1)


# --- what must hold whatever the counts -------------------------------------------------

AWKWARD = {
    "all zero": ([0] * 6, [0, 0, 1, 1, 2, 2]),
    "one trap": ([3], [0]),
    "one empty trap": ([0], [0]),
    "five thousand": ([5000, 0, 1, 0, 2, 0], [0, 0, 1, 1, 2, 2]),
    "a million": ([1_000_000, 3, 0], [0, 1, 1]),
    "one bait empty": ([4, 6, 5, 0, 0, 0], [0, 0, 0, 1, 1, 1]),
    "less than Poisson scatter": ([3] * 12, [0, 1] * 6),
    "very uneven numbers": ([2] * 40 + [9], [0] * 40 + [1]),
    "twelve baits": (list(range(24)), list(range(12)) * 2),
    "thousands of rows": ([0, 1, 1, 4] * 600, [0, 1, 2, 1] * 600),
    "thousands of empty rows": ([0] * 2400, [0, 1, 2, 1] * 600),
}


@pytest.mark.parametrize("priors", [INDEPENDENT, SHRINKING], ids=["independent", "shrinking"])
@pytest.mark.parametrize("soaks", ["equal", "unequal"])
@pytest.mark.parametrize("name", AWKWARD)
def test_awkward_counts_give_finite_ordered_answers(name: str, soaks: str, priors: Priors) -> None:
    catch, bait = AWKWARD[name]
    # Unequal ones from 1 h to 9 days; few different ones where there are many rows.
    hours = [24.0] * len(catch)
    if soaks == "unequal":
        hours = np.resize(np.geomspace(1.0, 216.0, 7), len(catch)).tolist()
    posterior = posterior_of(catch, bait, hours, priors=priors)

    n_baits = max(bait) + 1
    spreads = posterior.spreads
    intervals = [*posterior.rates, spreads.spread, spreads.dispersion_k]
    intervals += [posterior.ratio(a, (a + 1) % n_baits) for a in range(n_baits) if n_baits > 1]
    if len(catch) > 1 and soaks == "unequal":
        assert spreads.exponent is not None
        intervals.append(spreads.exponent)
    for interval in intervals:
        assert 0 <= interval.low < interval.median < interval.high < np.inf
    assert posterior.best.sum() == pytest.approx(1.0)
    assert ((posterior.beats >= 0) & (posterior.beats <= 1)).all()
    assert posterior.beats + posterior.beats.T == pytest.approx(np.ones((n_baits, n_baits)))
    assert (np.diag(posterior.beats) == 0.5).all()
    assert posterior.effective_share is None
    draws = posterior.draws(20)
    assert draws.row_logs.shape == (20, len(catch))
    assert np.isfinite(draws.row_logs).all()


@pytest.mark.parametrize("priors", [INDEPENDENT, SHRINKING], ids=["independent", "shrinking"])
def test_every_order_of_rows_gives_the_same_digits(priors: Priors) -> None:
    rng = np.random.default_rng(5)
    catch, bait = rng.poisson(4, 18), np.repeat([0, 1, 2], 6)
    hours = rng.choice([12.0, 24.0, 40.0], 18)
    order = rng.permutation(18)
    there = posterior_of(catch.tolist(), bait.tolist(), hours.tolist(), priors=priors)
    back = posterior_of(
        catch[order].tolist(), bait[order].tolist(), hours[order].tolist(), priors=priors
    )

    assert there.rates == back.rates
    assert there.spreads == back.spreads
    assert there.best.tolist() == back.best.tolist()
    assert there.beats.tolist() == back.beats.tolist()
    assert there.ratio(2, 0) == back.ratio(2, 0)
    assert there.draws(9).row_logs.tolist() == back.draws(9).row_logs.tolist()


def test_equal_counts_give_equal_baits_and_a_ratio_of_one() -> None:
    posterior = two_baits([3, 0, 8], [3, 0, 8])

    assert posterior.beats[0, 1] == pytest.approx(0.5)
    assert posterior.best == pytest.approx([0.5, 0.5])
    ratio = posterior.ratio(0, 1)
    assert ratio.median == pytest.approx(1.0)
    assert ratio.low * ratio.high == pytest.approx(1.0)


def test_a_ratio_turned_round_is_its_reciprocal() -> None:
    posterior = two_baits([7, 2, 9, 4], [1, 0, 3, 2])

    there, back = posterior.ratio(0, 1), posterior.ratio(1, 0)
    assert there.median * back.median == pytest.approx(1.0)
    assert there.low * back.high == pytest.approx(1.0)


@pytest.mark.parametrize("priors", [INDEPENDENT, SHRINKING], ids=["independent", "shrinking"])
def test_ratios_chances_and_factors_come_from_one_distribution(priors: Priors) -> None:
    posterior = posterior_of([6, 2, 7, 4, 1, 0, 6, 2], [0] * 4 + [1] * 4, priors=priors)

    ratio = posterior.ratio(0, 1)
    assert posterior.beats_by(0, 1, 1.0) == pytest.approx(posterior.beats[0, 1], abs=1e-4)
    assert posterior.beats_by(0, 1, ratio.low) == pytest.approx(0.975, abs=1e-3)
    assert posterior.beats_by(0, 1, ratio.median) == pytest.approx(0.5, abs=1e-3)
    assert posterior.beats_by(0, 1, ratio.high) == pytest.approx(0.025, abs=1e-3)
    assert posterior.beats_by(0, 1, 1e-9) == pytest.approx(1.0)
    assert posterior.beats_by(0, 1, 1e9) == pytest.approx(0.0, abs=1e-9)
    assert posterior.best[0] == pytest.approx(posterior.beats[0, 1], abs=1e-6)


@pytest.mark.parametrize("priors", [INDEPENDENT, SHRINKING], ids=["independent", "shrinking"])
def test_draws_are_of_the_posterior_they_come_from(priors: Priors) -> None:
    # A fixed even set of 4,000: chances within .02, medians of logs within .03.
    hours = [12.0, 24.0, 48.0, 24.0, 12.0, 24.0, 48.0, 36.0]
    posterior = posterior_of([3, 2, 9, 4, 1, 0, 4, 2], [0] * 4 + [1] * 4, hours, priors=priors)
    draws = posterior.draws(4000)

    above = draws.log_rates[:, 0] > draws.log_rates[:, 1]
    assert above.mean() == pytest.approx(posterior.beats[0, 1], abs=0.02)
    for bait in (0, 1):
        median = np.log(posterior.rates[bait].median)
        assert np.median(draws.log_rates[:, bait]) == pytest.approx(median, abs=0.03)
    exponent = posterior.spreads.exponent
    assert exponent is not None
    assert np.median(draws.exponent) == pytest.approx(exponent.median, abs=0.1)
    assert np.median(draws.spread) == pytest.approx(posterior.spreads.spread.median, rel=0.2)
    table = posterior.table
    rows = draws.log_rates[:, table.bait] + draws.exponent[:, None] * table.log_effort
    assert draws.row_logs == pytest.approx(rows)
    assert (draws.round_sd == 0).all()
    assert (posterior.draws(4000).row_logs == draws.row_logs).all()


def test_doubling_every_soak_halves_linear_rates_and_keeps_the_ratios() -> None:
    catch, bait = [5, 2, 0, 3, 1, 1], [0, 0, 0, 1, 1, 1]
    short, long = (exact_posterior(lift_table(catch, [h] * 6, bait)) for h in (24.0, 48.0))

    assert long.rates[0].median == pytest.approx(short.rates[0].median / 2)
    assert long.ratio(0, 1).high == pytest.approx(short.ratio(0, 1).high)


def test_half_of_a_catch_counted_is_twice_the_rate() -> None:
    whole = lift_table([4, 6, 2], [24.0] * 3, [0, 0, 0])
    half = lift_table([4, 6, 2], [24.0] * 3, [0, 0, 0], fraction=[0.5] * 3)

    medians = [exact_posterior(table).rates[0].median for table in (whole, half)]
    assert medians[1] == pytest.approx(2 * medians[0])


def test_a_patchy_catch_widens_the_interval() -> None:
    even = two_baits([5, 5, 5, 5], [5, 5, 5, 5]).ratio(0, 1)
    patchy = two_baits([20, 0, 0, 0], [20, 0, 0, 0]).ratio(0, 1)

    assert patchy.high > 2 * even.high


def test_more_traps_narrow_the_interval() -> None:
    few = two_baits([4, 6, 5], [4, 6, 5]).ratio(0, 1)
    many = two_baits([4, 6, 5] * 8, [4, 6, 5] * 8).ratio(0, 1)

    assert many.high < few.high


# --- priors and controls ----------------------------------------------------------------


def test_a_control_is_never_best_but_can_be_beaten() -> None:
    posterior = posterior_of([9, 8, 7, 1, 0, 1], [0, 0, 0, 1, 1, 1], controls=[0])

    assert posterior.best == pytest.approx([0.0, 1.0])
    assert posterior.beats[0, 1] > 0.97


def test_a_control_has_a_prior_of_its_own() -> None:
    # An empty control is believed to catch far less than an empty bait would.
    plain = posterior_of([9, 8, 7, 0, 0], [0, 0, 0, 1, 1])
    control = posterior_of([9, 8, 7, 0, 0], [0, 0, 0, 1, 1], controls=[1])

    assert control.rates[1].median < plain.rates[1].median / 3


def test_what_a_control_catches_does_not_move_the_prior_of_the_baits() -> None:
    # With Poisson counts the dispersion links nothing, so only the prior's centre could.
    def rate(control_catch: int) -> Interval:
        catch = [2, 0, 1, control_catch]
        priors = Priors(dispersion_scale=1e-5)
        return posterior_of(catch, [0, 0, 1, 2], controls=[2], priors=priors).rates[0]

    assert rate(0).median == pytest.approx(rate(50).median, rel=1e-3)


@pytest.mark.parametrize("priors", [INDEPENDENT, SHRINKING], ids=["independent", "shrinking"])
def test_controls_alone_still_have_rates(priors: Priors) -> None:
    posterior = posterior_of([1, 0, 2], [0, 0, 0], controls=[0], priors=priors)

    assert posterior.rates[0].low > 0
    assert posterior.best.tolist() == [0.0]


def test_a_fixed_centre_draws_an_empty_bait_towards_it() -> None:
    rates = [
        posterior_of([0, 0], [0, 0], priors=Priors(centre=centre)).rates[0].median
        for centre in (-3.0, -1.0, 1.0)
    ]

    assert rates[0] < rates[1] / 2 < rates[2] / 4


def test_priors_that_say_more_are_listened_to() -> None:
    catch, bait, hours = [9, 2, 14, 1], [0, 0, 1, 1], [12.0, 24.0, 48.0, 72.0]

    def found(**fields: float) -> ExactPosterior:
        return posterior_of(catch, bait, hours, priors=replace(INDEPENDENT, **fields))

    assert found(rate_sd=0.01).ratio(0, 1).high < 1.05
    assert found(dispersion_scale=5.0).spreads.spread.median > 1.1 * found().spreads.spread.median
    exponent = found(exponent_mean=0.4, exponent_sd=0.02).spreads.exponent
    assert exponent is not None
    assert exponent.median == pytest.approx(0.4, abs=0.02)
    narrow = found(exponent_low=0.9, exponent_high=1.0).spreads.exponent
    assert narrow is not None
    assert 0.9 <= narrow.low < narrow.high <= 1.0


# --- trials with known truth ------------------------------------------------------------


def test_most_intervals_hold_the_truth_in_a_few_seeded_trials() -> None:
    rng = np.random.default_rng(20260801)
    held = 0
    for _ in range(200):
        catch = rng.negative_binomial(1.0, 1.0 / (1.0 + np.repeat([5.0, 5.0, 10.0], 3)))
        ratio = posterior_of(catch.tolist(), [0, 0, 0, 1, 1, 1, 2, 2, 2]).ratio(2, 0)
        held += ratio.low <= 2.0 <= ratio.high

    assert held >= 180
