"""Baits that are shrunk together, against closed forms, a dense grid and drawn baits."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from trapline.science.bait_model import INDEPENDENT, SHRINKING, Priors, lift_table
from trapline.science.exact_rates import ExactPosterior, exact_posterior

Floats = NDArray[np.float64]


def posterior_of(
    catch: list[int], bait: list[int], controls: tuple[int, ...] = (), priors: Priors = SHRINKING
) -> ExactPosterior:
    return exact_posterior(lift_table(catch, [24.0] * len(catch), bait, controls=controls), priors)


@pytest.mark.parametrize(("first", "second"), [(400, 400), (420, 380), (450, 380), (600, 300)])
def test_two_well_known_baits_agree_with_the_normal_formula(first: int, second: int) -> None:
    # With k without bound a catch y leaves a log rate normal about log y, sd 1/sqrt(y).
    # Given the spread t the difference of two is normal, and so is their mean; only t is
    # then integrated, by Simpson's rule.
    from scipy import integrate

    priors = Priors(bait_spread=1.0, dispersion_scale=1e-6)
    gap, noise = math.log(first / second), 1 / first + 1 / second
    middle = (math.log(first) + math.log(second)) / 2
    centre = math.log((first + second + 0.5) / 2)
    # Dense near 0, where little decides.
    spread = np.linspace(0.0, math.sqrt(6.0), 4001) ** 2
    of_gap, of_middle = 2 * spread**2 + noise, 1.5**2 + spread**2 / 2 + noise / 4
    density = np.exp(-(gap**2) / of_gap / 2 - (middle - centre) ** 2 / of_middle / 2)
    density *= np.exp(-(spread**2) / 2) / np.sqrt(of_gap * of_middle)
    share = 2 * spread**2 / of_gap
    z = gap * share / np.sqrt(np.maximum(share * noise, 1e-300))
    above = np.array([0.5 * math.erfc(-value / math.sqrt(2)) for value in z])
    expected = integrate.simpson(density * above, x=spread) / integrate.simpson(density, x=spread)

    posterior = posterior_of([first, second], [0, 1], priors=priors)
    assert posterior.best[0] == pytest.approx(expected, abs=0.003)
    assert posterior.beats[0, 1] == pytest.approx(expected, abs=0.003)


def dense_best(catch: list[list[int]], scale: float) -> Floats:
    """Chances of being best by even sums over all five unknowns, log rates on a fine grid."""
    from scipy import stats

    counts = [np.array(rows) for rows in catch]
    centre = np.log((sum(rows.sum() for rows in counts) + 0.5) / sum(rows.size for rows in counts))
    log_rates = np.linspace(centre - 8, centre + 5, 651)
    means = np.linspace(centre - 4, centre + 3, 36)
    shares = (np.arange(16) + 0.5) / 16
    k = stats.halfcauchy.ppf(shares, scale=0.5)[:, None, None] ** -2
    likelihoods = [
        np.prod(stats.nbinom.pmf(rows[:, None], k, k / (k + np.exp(log_rates))), axis=1)
        for rows in counts
    ]
    of_mean = stats.norm.pdf(means, centre, 1.5)
    total, best = 0.0, np.zeros(len(counts))
    # Midpoints of the probability scale of the spread's own prior.
    for spread in stats.halfnorm.ppf((np.arange(20) + 0.5) / 20, scale=scale):
        bells = np.exp(-(((log_rates - means[:, None]) / spread) ** 2) / 2) / spread
        reached = [np.cumsum(one[:, None] * bells, axis=2) for one in likelihoods]
        sums = [one[:, :, -1] for one in reached]
        total += float((np.prod(sums, axis=0) * of_mean).sum())
        halves = [r - one[:, None] * bells / 2 for r, one in zip(reached, likelihoods, strict=True)]
        for bait, one in enumerate(likelihoods):
            others = np.prod(halves[:bait] + halves[bait + 1 :], axis=0)
            masses = one[:, None] * bells
            best[bait] += float(((masses * others).sum(axis=2) * of_mean).sum())
    return best / total


@pytest.mark.parametrize(
    "catch", [[[4, 0, 7], [1, 2, 0], [3, 3]], [[0, 0], [9, 2], [0, 1, 0]], [[12, 15], [14, 11]]]
)
def test_the_best_of_few_counts_agrees_with_a_dense_grid(catch: list[list[int]]) -> None:
    flat = [count for rows in catch for count in rows]
    bait = [index for index, rows in enumerate(catch) for _ in rows]

    found = posterior_of(flat, bait).best
    assert found == pytest.approx(dense_best(catch, 1.0), abs=0.003)


def test_the_best_agrees_with_baits_drawn_from_the_prior() -> None:
    # Importance sampling, unequal soaks, from the prior but with the baits' mean and the
    # spread drawn nearer to where the counts are; the seed is fixed.
    from scipy import special

    rng = np.random.default_rng(20261125)
    catch, bait = np.array([3, 1, 0, 4, 6, 5]), np.array([0, 0, 1, 1, 2, 2])
    days = np.array([0.5, 1.0, 1.0, 2.5, 0.5, 1.0])
    n = 1_000_000
    centre = np.log(19.5 / (days**0.8).sum())
    k = np.abs(0.5 * rng.standard_cauchy(n)) ** -2
    exponent = rng.normal(0.8, 0.3, n)
    z, spread = rng.standard_normal(n), np.abs(0.8 * rng.standard_normal(n))
    rates = (centre + 0.7 * z)[:, None] + spread[:, None] * rng.standard_normal((n, 3))
    logs = np.where((exponent > 0) & (exponent < 1.2), 0.0, -np.inf)
    logs += z**2 / 2 * (1 - (0.7 / 1.5) ** 2) + spread**2 / 2 * (0.8**-2 - 1)
    for count, index, day in zip(catch, bait, days, strict=True):
        mean = np.exp(rates[:, index]) * day**exponent
        logs += special.gammaln(count + k) - special.gammaln(k)
        logs += count * np.log(mean / (k + mean)) - k * np.log1p(mean / k)
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    expected = np.bincount(rates.argmax(axis=1), weights)
    errors = [np.sqrt((weights**2 * ((rates.argmax(axis=1) == j) - expected[j]) ** 2).sum())
              for j in range(3)]  # fmt: skip
    assert max(errors) < 0.003

    found = exact_posterior(lift_table(catch, 24 * days, bait), SHRINKING).best
    assert found == pytest.approx(expected, abs=3 * max(errors))


def test_shrinking_brings_chances_together_and_ratios_nearer_to_one() -> None:
    catch, bait = [9, 14, 4, 6, 3, 2], [0, 0, 1, 1, 2, 2]
    alone, together = (posterior_of(catch, bait, priors=p) for p in (INDEPENDENT, SHRINKING))

    assert 1 / 3 < together.best[0] < alone.best[0]
    assert 1 < together.ratio(0, 2).median < alone.ratio(0, 2).median


def test_a_small_scale_makes_all_baits_alike() -> None:
    catch, bait = [9, 14, 4, 6, 3, 2], [0, 0, 1, 1, 2, 2]
    tight = posterior_of(catch, bait, priors=Priors(bait_spread=0.003))

    assert tight.best == pytest.approx([1 / 3] * 3, abs=0.01)
    assert tight.ratio(0, 2).high < 1.05


def test_a_control_takes_no_part_in_the_shrinking() -> None:
    # With Poisson counts and a fixed centre nothing links a control to the others.
    priors = Priors(bait_spread=1.0, dispersion_scale=1e-6, centre=1.5)
    few, many = (
        posterior_of([9, 14, 4, 6, y, y], [0, 0, 1, 1, 2, 2], (2,), priors) for y in (0, 30)
    )

    assert few.best == pytest.approx(many.best, abs=1e-3)
    assert few.best[2] == 0.0
    alone = Priors(dispersion_scale=1e-6, centre=1.5)
    control = posterior_of([9, 14, 4, 6, 3, 1], [0, 0, 1, 1, 2, 2], (2,), alone).rates[2]
    beside = posterior_of([9, 14, 4, 6, 3, 1], [0, 0, 1, 1, 2, 2], (2,), priors).rates[2]
    assert beside.median == pytest.approx(control.median, rel=0.01)
    assert beside.high == pytest.approx(control.high, rel=0.01)


def test_a_single_rival_is_the_best() -> None:
    posterior = posterior_of([2, 5, 0], [0, 0, 1], controls=(1,))

    assert posterior.best.tolist() == [1.0, 0.0]
