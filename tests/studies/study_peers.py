"""What others would do with the same counts: means, Poisson, quasi-Poisson, NB GLM, t test.

All for one-way tables of equal numbers of traps, many trials at once. "Names a winner" means
for each test: the bait with the highest estimate differs from *each* other bait at two-sided
5 %, without correction for the number of pairs. The mean of counts always names the highest,
unless two share it.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import special, stats

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

METHODS: Final = ("mean", "poisson", "quasi", "nb", "t")
WINNER_MEANS: Final = {
    "our": "beats each rival with a chance of at least .975",
    "mean": "the highest mean of the counts, unless two share it",
    "poisson": "highest mean; likelihood ratio test of two Poisson totals, p < .05 against each",
    "quasi": "highest mean; quasi-Poisson, t at N - J degrees of freedom, p < .05 against each",
    "nb": "highest mean; negative binomial maximum likelihood, Wald, p < .05 against each",
    "t": "highest mean of log(count + 1/2); Student's two-sample t test, p < .05 against each",
}
_Z: Final = float(stats.norm.ppf(0.975))
_LOG_K_MOST: Final = 12.0  # beyond it the fit is Poisson


@dataclass(frozen=True)
class Peer:
    """What one method says of T trials: index of its winner or -1; log ratio of bait 2 to 1."""

    winner: NDArray[np.int64]
    low: Floats
    high: Floats

    @property
    def width(self) -> Floats:
        return self.high - self.low


def peers(catch: NDArray[np.int64]) -> dict[str, Peer]:
    """Return what each method says of trials; `catch` has shape (T trials, J baits, n traps)."""
    counts = catch.astype(np.float64)
    return {
        "mean": _by_mean(counts),
        "poisson": _poisson(counts),
        "quasi": _quasi(counts),
        "nb": _nb(counts),
        "t": _t(counts),
    }


def _winner(estimate: Floats, is_apart: Flags) -> NDArray[np.int64]:
    """Return the bait with the highest estimate where it is apart from each other bait."""
    top = estimate.argmax(axis=1)
    rows = np.arange(len(top))
    apart = is_apart[rows, top].copy()
    apart[rows, top] = True
    alone = (estimate == estimate.max(axis=1, keepdims=True)).sum(axis=1) == 1
    return np.where(apart.all(axis=1) & alone, top, -1)


def _wald(estimate: Floats, variance: Floats, quantile: Floats | float) -> Peer:
    """Return the method of normal or t intervals for differences of log rates."""
    difference = estimate[:, :, None] - estimate[:, None, :]
    reach = np.broadcast_to(quantile, estimate.shape[:1])[:, None, None] * np.sqrt(
        variance[:, :, None] + variance[:, None, :]
    )
    # A bait without catch has log rate -inf and no standard error: nothing is named.
    known = np.isfinite(difference) & np.isfinite(reach)
    is_apart = known & (np.abs(np.where(known, difference, 0.0)) > np.where(known, reach, 0.0))
    low = np.where(known, difference - reach, -np.inf)[:, 1, 0]
    high = np.where(known, difference + reach, np.inf)[:, 1, 0]
    return Peer(_winner(estimate, is_apart), low, high)


def _by_mean(counts: Floats) -> Peer:
    total = counts.sum(axis=2)
    everywhere = np.ones((*total.shape, total.shape[1]), dtype=bool)
    nowhere = np.full(len(total), np.nan)
    return Peer(_winner(total, everywhere), nowhere, nowhere)


def _poisson(counts: Floats) -> Peer:
    """Likelihood ratio test of two totals; the interval is Wald's."""
    total = counts.sum(axis=2)
    with np.errstate(divide="ignore", invalid="ignore"):
        wald = _wald(np.log(total), 1 / total, _Z)
    a, b = total[:, :, None], total[:, None, :]
    half = (a + b) / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        deviance = 2 * (special.xlogy(a, a / half) + special.xlogy(b, b / half))
    return Peer(_winner(total, np.nan_to_num(deviance) > _Z**2), wald.low, wald.high)


def _quasi(counts: Floats) -> Peer:
    """Poisson variances times Pearson's chi-square over its df, and Student's t."""
    _, baits, traps = counts.shape
    mean = counts.mean(axis=2, keepdims=True)
    df = baits * (traps - 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        pearson = np.where(mean > 0, (counts - mean) ** 2 / mean, 0.0).sum(axis=(1, 2))
        total = counts.sum(axis=2)
        variance = np.where(total > 0, (pearson / df)[:, None] / total, np.inf)
        return _wald(np.log(total), variance, float(stats.t.ppf(0.975, df)))


def _nb(counts: Floats) -> Peer:
    """Negative binomial fit by maximum likelihood, Wald intervals (Lawless 1987)."""
    mean = counts.mean(axis=2)
    size = nb_size(counts)[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = (1 / mean + 1 / size) / counts.shape[2]
        return _wald(np.log(mean), variance, _Z)


def nb_size(counts: Floats) -> Floats:
    """Return the maximum likelihood k of each trial, shape (T,); inf where it has no end.

    In a one-way table of equal traps the likelihood's means are the sample means whatever k
    is, so that k alone is left: the root of its score, found by bisection on log k.
    """
    mean = np.broadcast_to(counts.mean(axis=2, keepdims=True), counts.shape)

    def score(log_k: Floats) -> Floats:
        k = np.exp(log_k)[:, None, None]
        terms = special.digamma(counts + k) - special.digamma(k) - np.log1p(mean / k)
        total: Floats = (terms + (mean - counts) / (k + mean)).sum(axis=(1, 2))
        return total

    low = np.full(len(counts), -12.0)
    high = np.full(len(counts), _LOG_K_MOST)
    endless = score(high) >= 0
    for _ in range(45):
        middle = (low + high) / 2
        up = score(middle) > 0
        low, high = np.where(up, middle, low), np.where(up, high, middle)
    size: Floats = np.where(endless, np.inf, np.exp((low + high) / 2))
    return size


def _t(counts: Floats) -> Peer:
    """Student's two-sample t test on log(count + 1/2), pair by pair with its own spread."""
    logs = np.log(counts + 0.5)
    traps = counts.shape[2]
    estimate = logs.mean(axis=2)
    # Half the pooled variance of a pair is the mean of the two: each brings its own over n.
    variance = logs.var(axis=2, ddof=1) / traps
    return _wald(estimate, variance, float(stats.t.ppf(0.975, 2 * traps - 2)))
