"""Equally weighted draws from the model of the baits, with the mean of every row."""

import numpy as np
from scipy.special import ndtri

from trapline.science.bait_model import Floats
from trapline.science.hyper_proposal import Proposal
from trapline.science.hyper_space import HyperSpace
from trapline.science.importance import PER_NODE_PLAIN, Corrected, Sample, normal, turned
from trapline.science.inner_quadrature import inner_modes, integrate_inner
from trapline.science.latent_modes import (
    LEAST_SPREAD,
    Design,
    Hypers,
    Modes,
    find_modes,
    outer_log_prior,
    recentred,
)
from trapline.science.posterior import Draws

_CHUNK_CELLS = 65_536  # rows times draws at a time
_TRIES = 8  # of each inner level, from which one is chosen
_WIDER = 1.3  # than Laplace's approximation
_CLOSE = 1e-3


def equal_draws(
    space: HyperSpace, proposal: Proposal, sample: Sample, found: Corrected, n: int
) -> Draws:
    """Return n equally weighted draws, the same ones every time.

    Parameters
    ----------
    space, proposal, sample, found
        The model, and what was drawn from it.
    n : int
        1 or more.

    Notes
    -----
    Plain draws are chosen by what the cubic makes them weigh, then once more by what the model
    says instead; the levels of the inner factor, independent by then, each out of eight.

    References
    ----------
    Sampling, importance resampling: Rubin (1987), J. Am. Stat. Assoc. 82, 543-546 (from memory).
    """
    rng = np.random.default_rng(0)
    design = space.design
    chosen = _spread_out(found.plain_weights, n)
    size = max(1, _CHUNK_CELLS // design.order.size)
    outer, inner = np.empty((design.n_outer, n)), np.empty((design.inner.n_levels, n))
    log_weights = np.empty(n)
    for first in range(0, n, size):
        part = slice(first, min(first + size, n))
        at = chosen[part]
        hypers = space.hypers(sample.z[:, at // PER_NODE_PLAIN])
        start = proposal.start_at(sample.z[:, at // PER_NODE_PLAIN])
        modes = recentred(design, hypers, find_modes(design, hypers, start, close=_CLOSE))
        steps = sample.plain_steps[:, at]
        turn = np.asarray(np.linalg.inv(modes.chol), dtype=np.float64).transpose(0, 2, 1)
        outer[:, part] = modes.outer + turned(turn, steps)
        likelihood = integrate_inner(design, hypers, modes, outer[:, part]).log_likelihood
        likelihood += outer_log_prior(hypers, outer[:, part]) + modes.count_terms
        log_dets = np.log(np.diagonal(modes.chol, axis1=1, axis2=2)).sum(axis=1)
        laplace = modes.log_evidence + log_dets - (steps**2).sum(axis=0) / 2
        log_weights[part] = likelihood - laplace - found.plain_fit[at]
        inner[:, part] = _inner_draws(design, hypers, modes, outer[:, part], rng)
    kept = _spread_out(normal(log_weights), n)
    outer, inner, z = outer[:, kept], inner[:, kept], sample.z[:, chosen[kept] // PER_NODE_PLAIN]
    exponent = space.values("exponent", z)
    logs = exponent * design.log_effort + design.log_fraction + design.columns @ outer
    rows = np.empty((n, logs.shape[0]))
    rows[:, design.order] = (logs + inner[design.inner.levels]).T
    return Draws(
        log_rates=outer[: space.table.n_baits].T,
        spread=space.values("spread", z),
        exponent=exponent,
        round_sd=space.values("round", z),
        place_sd=space.values("place", z),
        trip_sd=space.values("trip", z),
        bait_trip_sd=space.values("bait by trip", z),
        row_logs=rows,
    )


def _spread_out(weights: Floats, n: int) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Return n indices, each as often as its weight says, to the nearest below or above."""
    reached = np.cumsum(weights)
    found = np.searchsorted(reached, (np.arange(n) + 0.5) / n * reached[-1])
    return np.asarray(np.minimum(found, weights.size - 1))


def _inner_draws(
    design: Design, hypers: Hypers, modes: Modes, outer: Floats, rng: np.random.Generator
) -> Floats:
    """Return a draw of each inner level given the outer columns, shape (P, S)."""
    middle, sd = inner_modes(modes, outer)
    variance = np.maximum(hypers.spread, LEAST_SPREAD) ** 2
    logs = hypers.exponent * design.log_effort + design.log_fraction + design.columns @ outer
    counts = design.level_sums @ design.catch
    powers = design.catch + 1.0 / variance
    # One try in each eighth of the approximation, so that a tail is never left out.
    shares = (np.arange(_TRIES)[:, None, None] + rng.random((_TRIES, *middle.shape))) / _TRIES
    points = ndtri(shares.clip(1e-12, 1 - 1e-12))
    tries = middle + _WIDER * sd * points
    fits = np.empty_like(tries)
    for fit, effect in zip(fits, tries, strict=True):
        wide = np.log1p(variance * np.exp(np.minimum(logs + effect[design.inner.levels], 300.0)))
        fit[:] = counts * effect - design.level_sums @ (powers * wide)
    fits += points**2 / 2 - tries**2 / (2 * hypers.inner_sd**2)
    reached = np.cumsum(np.exp(fits - fits.max(axis=0)), axis=0)
    pick = (reached < rng.random(middle.shape) * reached[-1]).sum(axis=0)
    return np.asarray(np.take_along_axis(tries, pick[None], axis=0)[0])
