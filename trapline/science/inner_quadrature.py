"""The larger repeated factor (places, or rounds) integrated level by level.

Given baits and the smaller factor its levels are independent, so each is a one-dimensional
integral: Gauss-Hermite quadrature about the mode that Laplace's approximation expects.
"""

from dataclasses import dataclass

import numpy as np

from trapline.science.bait_model import Floats
from trapline.science.latent_modes import LEAST_SPREAD, Design, Hypers, Modes

_N_NODES = 5
_CHUNK = 128  # draws at a time: their rows stay in the processor's cache
_LARGEST_LOG = 300.0


@dataclass(frozen=True, eq=False)
class InnerIntegral:
    """What is left of the inner factor once it is integrated, for S draws.

    Attributes
    ----------
    log_likelihood : ndarray, shape (S,)
        Of the rows, the inner factor integrated; without the terms of counts alone.
    log_mean, log_sd : ndarray, shape (S,)
        Log of the mean over its levels of e^effect (each times its weight): a normal with
        the first two moments of the mean.
    """

    log_likelihood: Floats
    log_mean: Floats
    log_sd: Floats


def integrate_inner(
    design: Design,
    hypers: Hypers,
    modes: Modes,
    outer: Floats,
    level_logs: Floats | None = None,
) -> InnerIntegral:
    """Return the likelihood of draws of the outer columns, and the mean inner effect.

    Parameters
    ----------
    design, hypers, modes
        The rows, the H hyperparameter nodes, and Laplace's approximation at each.
    outer : ndarray, shape (D, S)
        The draws: S / H of the first node, then those of the next.
    level_logs : ndarray, shape (P, S), optional
        Log weight of each inner level in the mean: the effect of its trip.

    References
    ----------
    Liu and Pierce (1994), A note on Gauss-Hermite quadrature, Biometrika 81, 624-629.
    """
    n = outer.shape[1]
    per_node = n // hypers.spread.size
    node = np.arange(n) // per_node
    middle, sd = inner_modes(modes, outer)
    likelihood, first, second = np.empty(n), np.empty(n), np.empty(n)
    for begin in range(0, n, _CHUNK):
        part = slice(begin, min(begin + _CHUNK, n))
        found = _integrate(
            design,
            hypers.take(node[part]),
            outer[:, part],
            middle[:, part],
            sd[:, part],
            None if level_logs is None else level_logs[:, part],
        )
        likelihood[part], first[part], second[part] = found
    return InnerIntegral(likelihood, *lognormal_of(first, second))


def lognormal_of(mean: Floats, variance: Floats) -> tuple[Floats, Floats]:
    """Return log mean and log standard deviation of the lognormal with a mean and variance."""
    log_variance = np.log1p(np.maximum(variance / mean**2, 0.0))
    return np.log(mean) - log_variance / 2, np.sqrt(log_variance)


def inner_modes(modes: Modes, outer: Floats) -> tuple[Floats, Floats]:
    """Return expected mode and standard deviation of each inner level, shape (P, S).

    The draws (D, S) are S / H of the first node, then those of the next.
    """
    n_nodes, n_levels, n_outer = modes.response.shape
    per_node = outer.shape[1] // n_nodes
    away = outer.T.reshape(n_nodes, per_node, n_outer) - modes.outer.T[:, None, :]
    fall = (modes.response @ away.transpose(0, 2, 1)).transpose(1, 0, 2)
    middle = np.repeat(modes.inner, per_node, axis=1) - fall.reshape(n_levels, -1)
    return middle, np.repeat(1.0 / np.sqrt(modes.inner_precision), per_node, axis=1)


def _integrate(
    design: Design,
    hypers: Hypers,
    outer: Floats,
    middle: Floats,
    sd: Floats,
    level_logs: Floats | None,
) -> tuple[Floats, Floats, Floats]:
    """Return log likelihood, and mean and variance of the mean effect, of a chunk of draws."""
    variance = np.maximum(hypers.spread, LEAST_SPREAD) ** 2
    logs = hypers.exponent * design.log_effort + design.log_fraction + design.columns @ outer
    counts = design.catch
    scaled = variance * np.exp(np.minimum(logs, _LARGEST_LOG))
    powers = counts + 1.0 / variance
    level_counts = design.level_sums @ counts
    points, weights = np.polynomial.hermite.hermgauss(_N_NODES)
    n_levels, n = design.inner.n_levels, outer.shape[1]
    terms, effects = np.empty((_N_NODES, n_levels, n)), np.empty((_N_NODES, n_levels, n))
    for q, (point, weight) in enumerate(zip(points, weights, strict=True)):
        effect = middle + np.sqrt(2.0) * sd * point
        # log(1 + x) is three times as fast as log1p(x); the spread has a floor, and so has x.
        wide = np.exp(effect)[design.inner.levels]
        wide *= scaled
        wide += 1.0
        np.log(wide, out=wide)
        wide *= powers
        fit = level_counts * effect - design.level_sums @ wide
        fit -= effect**2 / (2 * hypers.inner_sd**2)
        terms[q] = fit + (point**2 + np.log(weight))
        effects[q] = effect
    peak = terms.max(axis=0)
    shares = np.exp(terms - peak)
    total = shares.sum(axis=0)
    rows = (counts * logs).sum(axis=0)
    likelihood = rows + (peak + np.log(total) + np.log(sd)).sum(axis=0)
    likelihood -= n_levels * np.log(hypers.inner_sd)
    shares /= total
    grown = np.exp(effects)
    first = (shares * grown).sum(axis=0)
    second = np.maximum((shares * grown**2).sum(axis=0) - first**2, 0.0)
    scale = np.full_like(first, 1.0 / n_levels)
    if level_logs is not None:
        scale = np.exp(level_logs) / n_levels
    return likelihood, (scale * first).sum(axis=0), (scale**2 * second).sum(axis=0)
