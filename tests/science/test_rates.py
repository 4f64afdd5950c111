"""Rates of baits against fits by other programs, exact tables, and trials with known truth.

The coverage study takes half a minute: pytest -m study tests/science/test_rates.py
"""

import csv
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from trapline.errors import InvalidValue
from trapline.science.rates import Interval, RatePosterior, _count_terms, rate_posterior

REFERENCE = Path(__file__).parents[1] / "reference"
MODELS = json.loads((REFERENCE / "count_models.json").read_text(encoding="utf-8"))


def counts(name: str, catch: str, group: str) -> tuple[list[int], list[str]]:
    with (REFERENCE / "counts" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return [int(row[catch]) for row in rows], [row[group] for row in rows]


def distance_in_errors(interval: Interval, fit: dict[str, float], value: str) -> float:
    """Largest distance of median and ends from a likelihood fit, in its standard errors."""
    pairs = [(interval.median, fit[value]), (interval.low, fit["lo"]), (interval.high, fit["hi"])]
    error = np.log(fit["hi"] / fit["lo"]) / (2 * 1.959964)
    return max(abs(np.log(ours / theirs)) / error for ours, theirs in pairs)


def two_baits(first: list[int], second: list[int]) -> RatePosterior:
    n_rows = len(first) + len(second)
    return rate_posterior(first + second, [1.0] * n_rows, [0] * len(first) + [1] * len(second))


# --- against other programs -------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "catch", "group"), [("InsectSprays", "count", "spray"), ("quine", "Days", "Age")]
)
def test_many_counts_agree_with_the_likelihood_fit(name: str, catch: str, group: str) -> None:
    # R 4.2 MASS::glm.nb and emmeans. Median and interval ends of every rate and ratio lie
    # within 0.25 (rates) and 0.15 (ratios) of a standard error: the fit fixes k at its
    # estimate and takes the log likelihood for a parabola, the posterior does neither.
    counted, groups = counts(name, catch, group)
    levels = sorted(set(groups))
    posterior = rate_posterior(counted, [1.0] * len(counted), [levels.index(g) for g in groups])

    for fit in MODELS[name]["rates"]:
        rate = posterior.rates[levels.index(fit["group"])]
        assert distance_in_errors(rate, fit, "rate") < 0.25
    for fit in MODELS[name]["pairwise"]:
        over, under = (levels.index(part) for part in fit["contrast"].split(" / "))
        assert distance_in_errors(posterior.ratio(over, under), fit, "ratio") < 0.15
    theta, error = MODELS[name]["theta"], MODELS[name]["se_theta"]
    assert abs(posterior.spread.median**-2 - theta) < error


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
    posterior = rate_posterior(
        [int(row[4]) for row in rows],
        [float(row[3]) / 24 for row in rows],
        ["ABC".index(row[2]) for row in rows],
    )

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
    rate = rate_posterior([catch], [1.0], [0], rate_sd=1e4, spread_scale=1e-5).rates[0]

    table = MODELS["garwood_0_30"]
    assert rate.low == pytest.approx(table[catch]["lo"], rel=5e-4)
    assert rate.high == pytest.approx(table[catch - 1]["hi"], rel=5e-4)


@pytest.mark.parametrize("catch", [5, 10, 30])
def test_one_trap_says_less_than_the_exact_poisson_interval(catch: int) -> None:
    # One trap cannot show how patchy the catch is, so by default its interval holds the
    # whole of Garwood's (for 5: 1.623486-11.66832), and its median lies inside.
    rate = rate_posterior([catch], [1.0], [0]).rates[0]

    table = MODELS["garwood_0_30"][catch]
    assert rate.low < table["lo"] < rate.median < table["hi"] < rate.high


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
            np.prod([stats.nbinom.pmf(catch, k, k / (k + rates)) for catch in bait], axis=0)
            * stats.norm.pdf(log_rates, centre, 1.5)
            for bait in (first, second)
        ]
        below = integrate.cumulative_simpson(chances[1], x=log_rates, initial=0)
        total += weight * integrate.simpson(chances[0], x=log_rates) * below[-1]
        above += weight * integrate.simpson(chances[0] * below, x=log_rates)

    assert two_baits(first, second).beats[0, 1] == pytest.approx(above / total, abs=1e-6)


@pytest.mark.parametrize("catch", [[0], [1], [2, 0], [1024], [1025, 3], [5000, 1024, 7], [300_000]])
@pytest.mark.parametrize("variance", [1e-10, 0.04, 1.0, 1e4])
def test_tall_counts_are_summed_as_if_one_by_one(catch: list[int], variance: float) -> None:
    # sum over r < y of log(1 + r/k), written out.
    expected = sum(float(np.log1p(variance * np.arange(y)).sum()) for y in catch)

    found = _count_terms(np.array(catch), np.array([variance]))[0]
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-9)


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
}


@pytest.mark.parametrize("name", AWKWARD)
def test_awkward_counts_give_finite_ordered_answers(name: str) -> None:
    catch, bait = AWKWARD[name]
    posterior = rate_posterior(catch, [1.0] * len(catch), bait)

    n_baits = max(bait) + 1
    intervals = [*posterior.rates]
    intervals += [posterior.ratio(a, b) for a in range(n_baits) for b in range(n_baits) if a != b]
    for interval in intervals:
        assert 0 < interval.low < interval.median < interval.high < np.inf
    assert posterior.chance_best.sum() == pytest.approx(1.0)
    assert (posterior.beats >= -1e-9).all()
    assert posterior.beats + posterior.beats.T == pytest.approx(np.ones((n_baits, n_baits)))
    assert posterior.weights.sum() == pytest.approx(1.0)


def test_equal_counts_give_equal_baits_and_a_ratio_of_one() -> None:
    posterior = two_baits([3, 0, 8], [3, 0, 8])

    assert posterior.beats[0, 1] == pytest.approx(0.5)
    assert posterior.chance_best == pytest.approx([0.5, 0.5])
    ratio = posterior.ratio(0, 1)
    assert ratio.median == pytest.approx(1.0)
    assert ratio.low * ratio.high == pytest.approx(1.0)


def test_a_ratio_turned_round_is_its_reciprocal() -> None:
    posterior = two_baits([7, 2, 9, 4], [1, 0, 3, 2])

    there, back = posterior.ratio(0, 1), posterior.ratio(1, 0)
    assert there.median * back.median == pytest.approx(1.0)
    assert there.low * back.high == pytest.approx(1.0)


def chance_of_ratio_above(posterior: RatePosterior, ratio: float) -> float:
    """The same mass summed directly, without the transform that `ratio` uses."""
    grid, step = posterior.log_rates, posterior.log_rates[1] - posterior.log_rates[0]
    chance = 0.0
    for weight, masses in zip(posterior.weights, posterior.masses, strict=True):
        below = np.interp(grid - np.log(ratio), grid + step / 2, np.cumsum(masses[1]), left=0.0)
        chance += weight * float(masses[0] @ below)
    return chance


def test_ratio_intervals_and_chances_come_from_one_distribution() -> None:
    posterior = two_baits([6, 2, 7, 4], [1, 0, 6, 2])

    ratio = posterior.ratio(0, 1)
    assert chance_of_ratio_above(posterior, 1.0) == pytest.approx(posterior.beats[0, 1], abs=2e-3)
    assert chance_of_ratio_above(posterior, ratio.low) == pytest.approx(0.975, abs=2e-3)
    assert chance_of_ratio_above(posterior, ratio.median) == pytest.approx(0.5, abs=2e-3)
    assert chance_of_ratio_above(posterior, ratio.high) == pytest.approx(0.025, abs=2e-3)


def test_doubling_every_exposure_halves_the_rates_and_keeps_the_ratios() -> None:
    catch, bait = [5, 2, 0, 3, 1, 1], [0, 0, 0, 1, 1, 1]
    short = rate_posterior(catch, [1.0] * 6, bait)
    long = rate_posterior(catch, [2.0] * 6, bait)

    assert long.rates[0].median == pytest.approx(short.rates[0].median / 2)
    assert long.ratio(0, 1).high == pytest.approx(short.ratio(0, 1).high)


def test_the_order_of_rows_does_not_matter() -> None:
    catch, exposure, bait = [5, 2, 0, 3, 1, 1], [1.0, 0.9, 1.1, 1.0, 2.0, 1.5], [0, 1, 0, 1, 2, 2]
    there = rate_posterior(catch, exposure, bait)
    back = rate_posterior(catch[::-1], exposure[::-1], bait[::-1])

    assert [r.median for r in back.rates] == pytest.approx([r.median for r in there.rates])
    assert back.beats == pytest.approx(there.beats)


def test_a_patchy_catch_widens_the_interval() -> None:
    even = two_baits([5, 5, 5, 5], [5, 5, 5, 5]).ratio(0, 1)
    patchy = two_baits([20, 0, 0, 0], [20, 0, 0, 0]).ratio(0, 1)

    assert patchy.high > 2 * even.high


def test_more_traps_narrow_the_interval() -> None:
    few = two_baits([4, 6, 5], [4, 6, 5]).ratio(0, 1)
    many = two_baits([4, 6, 5] * 8, [4, 6, 5] * 8).ratio(0, 1)

    assert many.high < few.high


def test_a_control_is_never_best_but_can_be_beaten() -> None:
    posterior = rate_posterior([9, 8, 7, 1, 0, 1], [1.0] * 6, [0, 0, 0, 1, 1, 1], controls=[0])

    assert posterior.chance_best == pytest.approx([0.0, 1.0])
    assert posterior.beats[0, 1] > 0.97


def test_a_control_has_a_prior_of_its_own() -> None:
    # An empty control is believed to catch far less than an empty bait would.
    plain = rate_posterior([9, 8, 7, 0, 0], [1.0] * 5, [0, 0, 0, 1, 1])
    control = rate_posterior([9, 8, 7, 0, 0], [1.0] * 5, [0, 0, 0, 1, 1], controls=[1])

    assert control.rates[1].median < plain.rates[1].median / 3


def test_what_a_control_catches_does_not_move_the_prior_of_the_baits() -> None:
    # With Poisson counts the dispersion links nothing, so only the prior's centre could.
    def rate(control_catch: int) -> Interval:
        catch = [2, 0, 1, control_catch]
        return rate_posterior(
            catch, [1.0] * 4, [0, 0, 1, 2], controls=[2], spread_scale=1e-5
        ).rates[0]

    assert rate(0).median == pytest.approx(rate(50).median, rel=1e-4)


def test_controls_alone_still_have_rates() -> None:
    posterior = rate_posterior([1, 0, 2], [1.0] * 3, [0, 0, 0], controls=[0])

    assert posterior.rates[0].low > 0
    assert posterior.chance_best.tolist() == [0.0]


@pytest.mark.parametrize(
    ("catch", "exposure", "bait", "says"),
    [
        ([-1, 2], [1, 1], [0, 1], "-1 is not a count"),
        ([1.5, 2], [1, 1], [0, 1], "1.5 is not a count"),
        ([float("nan"), 2], [1, 1], [0, 1], "nan is not a count"),
        ([2_000_000, 2], [1, 1], [0, 1], "2e.06 is not a count"),
        ([1, 2], [1, 0], [0, 1], "0 is not an effort"),
        ([1, 2], [1, float("inf")], [0, 1], "inf is not an effort"),
        ([1, 2], [1, 1], [0, 2], "no counted trap"),
        ([1, 2], [1, 1], [0, -1], "no counted trap"),
        ([1, 2], [1, 1, 1], [0, 1], "one length"),
        ([], [], [], "No trap"),
    ],
)
def test_what_cannot_be_counted_is_refused(
    catch: list[float], exposure: list[float], bait: list[int], says: str
) -> None:
    with pytest.raises(InvalidValue, match=says):
        rate_posterior(catch, exposure, bait)


# --- trials with known truth ------------------------------------------------------------


def ratio_holds_truth(
    rng: np.random.Generator, n: int, mean: float, k: float, truth: float
) -> bool:
    means = np.repeat([mean, mean, mean * truth], n)
    catch = rng.negative_binomial(k, k / (k + means))
    posterior = rate_posterior(catch, np.ones(3 * n), np.repeat([0, 1, 2], n))
    ratio = posterior.ratio(2, 0)
    return ratio.low <= truth <= ratio.high


def test_most_intervals_hold_the_truth_in_a_few_seeded_trials() -> None:
    rng = np.random.default_rng(20260801)
    held = [ratio_holds_truth(rng, 3, 5.0, 1.0, 2.0) for _ in range(100)]

    assert sum(held) >= 90


@pytest.mark.study
@pytest.mark.parametrize("n", [2, 3, 6])
@pytest.mark.parametrize("mean", [5.0, 40.0])
@pytest.mark.parametrize("k", [1.0, 4.0, 15.0])
@pytest.mark.parametrize("truth", [1.0, 2.0])
def test_ninety_five_of_a_hundred_intervals_hold_the_truth(
    n: int, mean: float, k: float, truth: float, record_property: Callable[[str, object], None]
) -> None:
    # 250 trials a cell: the error of a share near .95 is .014, so .90 is 3.5 errors below.
    rng = np.random.default_rng([n, int(mean), int(k), int(truth)])
    held = np.mean([ratio_holds_truth(rng, n, mean, k, truth) for _ in range(250)])

    record_property("held", float(held))
    assert held >= 0.90


@pytest.mark.study
@pytest.mark.parametrize("share", [1 / 20, 1 / 50])
def test_the_ratio_to_a_control_holds_the_truth(
    share: float, record_property: Callable[[str, object], None]
) -> None:
    rng = np.random.default_rng(int(1 / share))
    held = 0
    for _ in range(250):
        means = np.repeat([8.0, 8.0, 8.0 * share], 4)
        catch = rng.negative_binomial(4, 4 / (4 + means))
        bait = np.repeat([0, 1, 2], 4)
        ratio = rate_posterior(catch, np.ones(12), bait, controls=[2]).ratio(2, 0)
        held += ratio.low <= share <= ratio.high

    record_property("held", held / 250)
    assert held / 250 >= 0.90
