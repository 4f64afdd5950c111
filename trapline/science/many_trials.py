"""The verdict on many trials of one plan at once: chances that each bait beats each other.

What `bait_posterior` finds out about one table, here by Laplace's approximation on a few
nodes of the hyperparameters about each trial's own mode, and without any draws: good enough
to count in how many simulated trials a winner is named, and some hundred times as fast.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.special import expit, gammaln, ndtr

from trapline.science.bait_model import INDEPENDENT, Floats, Ints, LiftTable, Priors
from trapline.science.hyper_space import HyperSpace, hyper_space
from trapline.science.latent_modes import LEAST_SPREAD, Modes, find_modes, make_design

_SPREAD_NODES: Final = 16
_GRID: Final = 64
_REACH: Final = 6.0  # of the grid of log rates, in standard deviations
_MODE_STEPS: Final = 20
_FIRST_STEP: Final = 0.6  # between the points that each trial's curvature is measured from
_FARTHEST: Final = 2.0  # move towards a trial's mode, in such steps
_LEAST_BEND: Final = 0.7  # of the prior's own curvature
_STARS: Final = 2
_CLOSE: Final = 0.02  # steps of Newton's method that end it
_CHUNK: Final = 32  # trials at a time: their rows stay in the processor's cache
_TAIL: Final = 0.025


@dataclass(frozen=True, eq=False)
class Judged:
    """What the model says of T trials of J baits; what is mixed are H normal distributions.

    Attributes
    ----------
    beats : ndarray, shape (T, J, J)
        ``beats[t, a, b]``: chance that bait a's rate is above bait b's; .5 on the diagonal.
    weights : ndarray, shape (T, H)
        Of the nodes; they add up to 1.
    differences, variances : ndarray, shape (T, H, J, J)
        Mean and variance of the log of rate a over rate b.
    """

    beats: Floats
    weights: Floats
    differences: Floats
    variances: Floats

    def winners(self, winner_chance: float) -> Ints:
        """Return the bait that beats each other with a chance at least; -1 for none, (T,)."""
        own = np.eye(self.beats.shape[1], dtype=bool)
        weakest = np.where(own, np.inf, self.beats).min(axis=2)
        best = weakest.argmax(axis=1)
        return np.where(weakest.max(axis=1) >= winner_chance, best, -1)

    def interval_factors(self) -> Floats:
        """Return high over low of the 95 % interval of the leader to its runner-up, (T,)."""
        trials = np.arange(self.beats.shape[0])
        own = np.eye(self.beats.shape[1], dtype=bool)
        weakest = np.where(own, np.inf, self.beats)
        leader = weakest.min(axis=2).argmax(axis=1)
        other = weakest[trials, leader].argmin(axis=1)
        middle = self.differences[trials, :, leader, other]
        sd = np.sqrt(self.variances[trials, :, leader, other])
        low, high = (_quantiles(self.weights, middle, sd, p) for p in (_TAIL, 1 - _TAIL))
        return np.asarray(np.exp(high - low))


def judge_trials(table: LiftTable, catch: Ints, priors: Priors = INDEPENDENT) -> Judged:
    """Return what the model says of many trials that were fished to one plan.

    Parameters
    ----------
    table : LiftTable
        The plan: rows of equal soaks, all counted, none of them a control; its own catch
        counts for nothing.
    catch : ndarray of int, shape (n, T)
        Animals in the order of the table's rows, trial by trial.
    priors : Priors
        Of rates and spreads.

    Notes
    -----
    One round is integrated on grids. Else Laplace's approximation at the 15 points of a rule
    of degree 5 about each trial's mode, weighed by what is known there.

    References
    ----------
    Rue, Martino and Chopin (2009), J. R. Stat. Soc. B 71, 319-392, section 6.5; the rule:
    Stroud (1971), Approximate Calculation of Multiple Integrals, E_n^{r^2} (from memory).

    Examples
    --------
    >>> from trapline.science.winner_power import planned_table
    >>> table = planned_table(n_baits=2, traps=[2], rotates=False)
    >>> judged = judge_trials(table, np.array([[5, 40], [8, 44], [4, 1], [6, 2]]))
    >>> judged.winners(0.975).tolist()
    [-1, 0]
    """
    judge = _by_laplace if table.is_repeated else _by_grids
    parts = [
        judge(table, catch[:, begin : begin + _CHUNK].astype(np.float64), priors)
        for begin in range(0, catch.shape[1], _CHUNK)
    ]
    return Judged(
        np.concatenate([part.beats for part in parts]),
        np.concatenate([part.weights for part in parts]),
        np.concatenate([part.differences for part in parts]),
        np.concatenate([part.variances for part in parts]),
    )


def _centres(counts: Floats, priors: Priors) -> Floats:
    """Return the log rate about which the baits' priors stand in each trial, shape (T,)."""
    if priors.centre is not None:
        return np.full(counts.shape[1], priors.centre)
    return np.asarray(np.log((counts.sum(axis=0) + 0.5) / counts.shape[0]))


def _by_grids(table: LiftTable, counts: Floats, priors: Priors) -> Judged:
    """Judge trials of one round: the baits are independent given the spread.

    Arrays are by trial, node of the spread, bait, and point of the grid.
    """
    points, weights = np.polynomial.legendre.leggauss(_SPREAD_NODES)
    spread = priors.dispersion_scale * np.tan(np.pi / 4 * (points + 1))
    k = np.maximum(spread, LEAST_SPREAD) ** -2.0
    totals = [counts[table.bait == bait].sum(axis=0) for bait in range(table.n_baits)]
    rates = _Rates(
        totals=np.stack(totals, axis=1)[:, None, :, None],
        n_rows=np.bincount(table.bait)[:, None],
        k=k[:, None, None],
        centre=_centres(counts, priors)[:, None, None, None],
        sd=priors.rate_sd,
    )
    first, step = rates.grids()
    beta = first + step * np.arange(_GRID)
    logs = rates.log_density(beta)
    peak = logs.max(axis=3, keepdims=True)
    mass = np.exp(logs - peak)
    total = mass.sum(axis=3, keepdims=True)
    mass /= total
    terms = gammaln(counts[:, :, None] + k) - gammaln(k) - counts[:, :, None] * np.log(k)
    evidence = (peak + np.log(total * step)).sum(axis=(2, 3)) + np.log(weights)
    middle = (mass * beta).sum(axis=3)
    square = (mass * (beta - middle[..., None]) ** 2).sum(axis=3)
    return _judged(
        evidence + terms.sum(axis=0),
        _chances_above(beta, mass, first, step),
        middle[..., :, None] - middle[..., None, :],
        square[..., :, None] + square[..., None, :],
    )


@dataclass(frozen=True, eq=False)
class _Rates:
    """What is known of log rates in one round, for arrays (trial, node, bait, point)."""

    totals: Floats
    n_rows: Ints
    k: Floats
    centre: Floats
    sd: float

    def log_density(self, beta: Floats) -> Floats:
        """Return the log density of log rates, up to what depends on the counts alone."""
        powers = self.totals + self.n_rows * self.k
        fit = self.totals * beta - powers * np.logaddexp(0.0, beta - np.log(self.k))
        return np.asarray(fit - (beta - self.centre) ** 2 / (2 * self.sd**2))

    def grids(self) -> tuple[Floats, Floats]:
        """Return the first point and the step of a grid that holds each density."""
        powers = self.totals + self.n_rows * self.k
        mode = np.log((self.totals + 0.5) / self.n_rows) + 0.0 * powers
        for _ in range(_MODE_STEPS):
            share = expit(mode - np.log(self.k))
            bend = powers * share * (1 - share) + self.sd**-2.0
            slope = self.totals - powers * share - (mode - self.centre) / self.sd**2
            mode = mode + np.clip(slope / bend, -2.0, 2.0)
        width, top = bend**-0.5, self.log_density(mode)
        # Each side by its own fall: a bait that caught nothing has a long lower tail.
        down, up = (
            2 * width / np.sqrt(2 * np.maximum(top - self.log_density(mode + side * width), 0.5))
            for side in (-2.0, 2.0)
        )
        first = mode - _REACH * down
        return first, (mode + _REACH * up - first) / (_GRID - 1)


def _chances_above(beta: Floats, mass: Floats, first: Floats, step: Floats) -> Floats:
    """Return the chance that bait a's log rate is above bait b's, (trial, node, a, b)."""
    n_baits = mass.shape[2]
    reached = np.concatenate([np.zeros_like(first), np.cumsum(mass, axis=3)], axis=3)
    above = np.full((*mass.shape[:3], n_baits), 0.5)
    for a in range(n_baits):
        for b in range(a):
            # Cells of b end half a step beyond its points; in them chance rises evenly.
            at = (beta[:, :, a] - first[:, :, b]) / step[:, :, b] + 0.5
            at = np.clip(at, 0.0, _GRID - 1e-9)
            cell = at.astype(np.int64)
            low = np.take_along_axis(reached[:, :, b], cell, axis=2)
            rise = np.take_along_axis(mass[:, :, b], cell, axis=2)
            above[:, :, a, b] = (mass[:, :, a] * (low + (at - cell) * rise)).sum(axis=2)
            above[:, :, b, a] = 1.0 - above[:, :, a, b]
    return above


def _by_laplace(table: LiftTable, counts: Floats, priors: Priors) -> Judged:
    """Judge trials over rounds: Laplace's approximation about each trial's own mode."""
    design = make_design(table)
    space = hyper_space(table, design, priors)
    centre = np.zeros((design.n_outer, counts.shape[1]))
    centre[: table.n_baits] = _centres(counts, priors)
    trials = _Trials(space, counts[design.order], centre)
    n, n_trials = len(space.names), counts.shape[1]
    middle = np.zeros((n_trials, n))
    scale = np.tile(_FIRST_STEP * np.eye(n), (n_trials, 1, 1))
    start = (centre, np.zeros((design.inner.n_levels, n_trials)))
    star = _star(n)
    for _ in range(_STARS):
        logs, modes = trials.at(middle, scale, star, start)
        start = (modes.outer[:, :n_trials], modes.inner[:, :n_trials])
        middle, scale = _moved(middle, scale, *_fitted(logs, n))
    points, weights = _rule(n)
    logs, modes = trials.at(middle, scale, points, start)
    logs += (np.log(weights) + (points**2).sum(axis=1) / 2)[:, None]
    n_nodes, n_baits = points.shape[0], table.n_baits
    means = modes.outer[:n_baits].T.reshape(n_nodes, n_trials, n_baits).transpose(1, 0, 2)
    columns = np.broadcast_to(np.eye(design.n_outer)[:, :n_baits], (*modes.chol.shape[:2], n_baits))
    half = np.linalg.solve(modes.chol, columns)
    cov = (half.transpose(0, 2, 1) @ half).reshape(n_nodes, n_trials, n_baits, n_baits)
    own = np.diagonal(cov, axis1=2, axis2=3)
    variance = (own[..., :, None] + own[..., None, :] - 2 * cov).transpose(1, 0, 2, 3)
    difference = means[..., :, None] - means[..., None, :]
    sd = np.sqrt(np.maximum(variance, 1e-12))
    return _judged(logs.T, ndtr(difference / sd), difference, variance)


@dataclass(frozen=True, eq=False)
class _Trials:
    """T trials: counts (n, T) in the order of the design, prior centres (D, T)."""

    space: HyperSpace
    counts: Floats
    centre: Floats

    def at(
        self, middle: Floats, scale: Floats, points: Floats, start: tuple[Floats, Floats]
    ) -> tuple[Floats, Modes]:
        """Return log densities (M, T) and modes, M points of each trial, the first of all first.

        Parameters: middle (T, d), scale (T, d, d), points (M, d) about the middle, start
        (D, T) and (P, T).
        """
        z = middle + (scale @ points.T).transpose(2, 0, 1)
        z = z.reshape(-1, middle.shape[1]).T
        n_points = points.shape[0]
        hypers = replace(self.space.hypers(z), centre=np.tile(self.centre, (1, n_points)))
        counts = np.tile(self.counts, (1, n_points))
        modes = find_modes(self.space.design, hypers, start, counts, close=_CLOSE)
        logs = modes.log_evidence - (z**2).sum(axis=0) / 2
        return logs.reshape(n_points, -1), modes


def _judged(evidence: Floats, above: Floats, difference: Floats, variance: Floats) -> Judged:
    """Mix the nodes of each trial, shapes (T, H), by their log evidence."""
    weights = np.exp(evidence - evidence.max(axis=1, keepdims=True))
    weights /= weights.sum(axis=1, keepdims=True)
    beats = np.einsum("th,thab->tab", weights, above)
    beats = (beats - beats.transpose(0, 2, 1) + 1) / 2
    return Judged(np.clip(beats, 0.0, 1.0), weights, difference, variance)


def _star(n: int) -> Floats:
    """Return the middle, two points along each axis, and one for each pair, shape (M, n)."""
    one = np.eye(n)
    points = [np.zeros(n)]
    for i in range(n):
        points += [one[i], -one[i]]
    points += [one[i] + one[j] for i in range(n) for j in range(i)]
    return np.array(points)


def _fitted(logs: Floats, n: int) -> tuple[Floats, Floats]:
    """Return slope (T, n) and negative curvature (T, n, n) in the middle of a star (M, T)."""
    up, down = logs[1 : 2 * n + 1 : 2], logs[2 : 2 * n + 1 : 2]
    slope = ((up - down) / 2).T
    bend = np.zeros((logs.shape[1], n, n))
    at = 2 * n + 1
    for i in range(n):
        bend[:, i, i] = -(up[i] + down[i] - 2 * logs[0])
        for j in range(i):
            bend[:, i, j] = bend[:, j, i] = -(logs[at] - up[i] - up[j] + logs[0])
            at += 1
    return slope, bend


def _moved(middle: Floats, scale: Floats, slope: Floats, bend: Floats) -> tuple[Floats, Floats]:
    """Return each trial's mode (T, d) and scale (T, d, d) by Newton's method."""
    # The prior's own curvature is 1; a valley beside it is none of this mode.
    least = _LEAST_BEND * scale.transpose(0, 2, 1) @ scale
    sizes, turns = np.linalg.eigh(bend - least)
    bend = (turns * np.maximum(sizes, 0.0)[:, None, :]) @ turns.transpose(0, 2, 1) + least
    move = np.linalg.solve(bend, slope[..., None])
    move /= np.maximum(1.0, np.abs(move).max(axis=1, keepdims=True) / _FARTHEST)
    sizes, turns = np.linalg.eigh(bend)
    factor = np.clip(1.0 / np.sqrt(sizes), 0.25, 4.0)
    return middle + (scale @ move)[..., 0], scale @ (turns * factor[:, None, :])


def _rule(n: int) -> tuple[Floats, Floats]:
    """Return points (M, n) and weights (M,) that average a cubic surface over a normal.

    The middle, and points on a sphere of radius sqrt(n + 2): along the axes and the diagonals.
    """
    radius = np.sqrt(n + 2.0)
    axes = np.concatenate([np.eye(n), -np.eye(n)])
    signs = (np.arange(2**n)[:, None] >> np.arange(n)) % 2 * 2.0 - 1.0
    corners = signs / np.sqrt(n)
    on_axes, on_corners = {1: (0.5, 0.0), 2: (1 / 8, 1 / 8), 3: (1 / 15, 3 / 40)}[n]
    outside = n / (n + 2.0)
    weights = [2 / (n + 2.0), *[outside * on_axes] * (2 * n), *[outside * on_corners] * 2**n]
    points = np.concatenate([np.zeros((1, n)), radius * axes, radius * corners])
    kept = np.array(weights) > 0
    return points[kept], np.array(weights)[kept]


def _quantiles(weights: Floats, middle: Floats, sd: Floats, chance: float) -> Floats:
    """Return a quantile of each mixture of normals, shapes (T, H) to (T,), by halving."""
    low, high = (middle - 9 * sd).min(axis=1), (middle + 9 * sd).max(axis=1)
    for _ in range(40):
        half = (low + high) / 2
        is_below = (weights * ndtr((half[:, None] - middle) / sd)).sum(axis=1) < chance
        low, high = np.where(is_below, half, low), np.where(is_below, high, half)
    return np.asarray((low + high) / 2)
