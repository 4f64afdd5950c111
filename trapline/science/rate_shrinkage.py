"""Log rates of baits that are taken to be like each other until they show otherwise.

The rivals' log rates are normal about a mean of their own with an unknown spread. Given
both, and the dispersion and exponent, the baits are independent again: the nodes are
multiplied by values of that spread (Gauss-Legendre in asinh, where it matters) and of
that mean (evenly spaced, which converges fast on a bell). A spread smaller than the steps
of the grid of log rates has a grid of its own, fine enough for it.
"""

from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from trapline.science.bait_model import LiftTable, Priors
from trapline.science.rate_grids import Groups, even_grid, even_likelihood
from trapline.science.rate_mixtures import Mixture
from trapline.science.rate_nodes import Nodes, gauss_legendre
from trapline.science.rate_region import Region

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_STEPS_PER_WIDTH: Final = 2.0
_SPREADS_TRIED: Final = 40
_N_SPREADS: Final = 8
_WIDEST: Final = 6.0  # of the spread, in scales of its half-normal prior
_DROP: Final = 10.0  # log evidence of a spread this far below its peak is left off
_MEAN_STEP: Final = 0.9  # between means, in their standard deviations
_MEAN_REACH: Final = 6.0  # the same, from the middle
_STEPS_PER_SPREAD: Final = 1.2
_FINEST_GRID: Final = 1024
_NOTHING: Final = 1e-4  # a node with less than this share of the largest weight is left off
_TINY: Final = 1e-300


class _Level(NamedTuple):
    """One value of the rivals' spread, and where their mean then is."""

    spread: float
    log_weight: float
    mean: float
    mean_sd: float


class _Grid(NamedTuple):
    """Likelihoods on a grid, each divided by its peak, and the logs of what was divided by."""

    first: float
    step: float
    values: Floats
    logs: Floats

    @property
    def points(self) -> Floats:
        return self.first + self.step * np.arange(float(self.values.shape[2]))


class Shrinking(NamedTuple):
    """All that the posterior is made of; `scale` is that of the rivals' spread."""

    table: LiftTable
    groups: Groups
    priors: Priors
    scale: float
    region: Region
    nodes: Nodes


def shrunk_parts(model: Shrinking) -> tuple[Mixture, ...]:
    """Return the posterior of the log rates, one mixture a value of the rivals' spread."""
    step = model.region.width / _STEPS_PER_WIDTH
    main = _likelihood(model, *even_grid(model.region.rate, step))
    levels = _levels(model, main)
    grids, means, evidence = [], [], []
    for level in levels:
        is_fine = level.spread < _STEPS_PER_SPREAD * main.step
        grid = _fine_grid(model, level) if is_fine else main
        reach = _MEAN_REACH * level.mean_sd
        mean = level.mean + np.arange(-reach, reach, _MEAN_STEP * level.mean_sd)
        grids.append(grid)
        means.append(mean)
        evidence.append(_evidence(model, grid, level, mean))
    highest = max(float(values.max()) for values in evidence)
    parts = []
    for level, grid, mean, values in zip(levels, grids, means, evidence, strict=True):
        weights = np.exp(values - highest)
        node, at = np.nonzero(weights > _NOTHING)
        if node.size:
            masses = _masses(model.table, grid, level, mean[at], node)
            parts.append(Mixture(grid.first, grid.step, masses, weights[node, at], node))
    total = sum(float(part.weights.sum()) for part in parts)
    return tuple(replace(part, weights=part.weights / total) for part in parts)


def _likelihood(model: Shrinking, first: float, step: float, size: int) -> _Grid:
    """Return the rivals' likelihoods and the controls' posterior densities on a grid."""
    table, nodes = model.table, model.nodes
    density = even_likelihood(model.groups, nodes.variance, nodes.exponent, first, step, size)
    centres, sds = table.rate_priors(model.priors)
    points = first + step * np.arange(size)
    for bait in table.controls:
        density[:, bait] -= (points - centres[bait]) ** 2 / (2 * sds[bait] ** 2)
    peaks = density.max(axis=2)
    values = np.exp(density - peaks[:, :, None])
    logs = peaks
    for bait in table.controls:
        total = values[:, bait].sum(axis=1)
        values[:, bait] /= total[:, None]
        logs[:, bait] += np.log(total * step)
    return _Grid(first, step, values, logs)


def _levels(model: Shrinking, main: _Grid) -> list[_Level]:
    """Return the values of the rivals' spread that matter, from the likeliest node alone."""
    unit, scale, priors = model.region.width, model.scale, model.priors
    rivals, centre = model.table.rivals, model.table.centre(priors)
    best = int(np.argmax(model.nodes.log_weight + main.logs.sum(axis=1)))
    size = main.values.shape[2]
    lags = main.step * np.arange(-(size - 1), size)
    prior = -((main.points - centre) ** 2) / (2 * priors.rate_sd**2)
    smooth = np.fft.rfft(main.values[best, rivals], 4 * size, axis=1)

    def looked_at(places: Floats) -> tuple[Floats, Floats, Floats]:
        """Log evidence of each spread, and mean and standard deviation of the mean there."""
        spreads = unit * np.sinh(places)
        bells = np.exp(-((lags / spreads[:, None]) ** 2) / 2)
        bells /= bells.sum(axis=1, keepdims=True)
        product = np.fft.rfft(bells, 4 * size, axis=1)[:, None] * smooth
        spread_out = np.fft.irfft(product, 4 * size, axis=2)[:, :, size - 1 : 2 * size - 1]
        density = np.log(np.maximum(spread_out, _TINY)).sum(axis=1) + prior
        peaks = density.max(axis=1)
        masses = np.exp(density - peaks[:, None])
        total = masses.sum(axis=1)
        mean = masses @ main.points / total
        variance = (masses * (main.points - mean[:, None]) ** 2).sum(axis=1) / total
        # The half-normal prior, and d spread / d place.
        weight = -((spreads / scale) ** 2) / 2 + np.log(np.cosh(places))
        return peaks + np.log(total) + weight, mean, np.sqrt(variance)

    low, high = 0.0, float(np.arcsinh(_WIDEST * scale / unit))
    cell = (high - low) / _SPREADS_TRIED
    tried = low + cell * (np.arange(float(_SPREADS_TRIED)) + 0.5)
    evidence = looked_at(tried)[0]
    kept = np.flatnonzero(evidence > evidence.max() - _DROP)
    ends = max(low, tried[kept[0]] - 1.5 * cell), min(high, tried[kept[-1]] + 1.5 * cell)
    points, weights = gauss_legendre(_N_SPREADS)
    places = ends[0] + (ends[1] - ends[0]) * (points + 1) / 2
    _, means, mean_sds = looked_at(places)
    spreads = unit * np.sinh(places)
    log_weights = np.log(weights * np.cosh(places)) - (spreads / scale) ** 2 / 2
    return [_Level(*(float(v) for v in row))
            for row in zip(spreads, log_weights, means, mean_sds, strict=True)]  # fmt: skip


def _fine_grid(model: Shrinking, level: _Level) -> _Grid:
    """Return the likelihood on a grid fine enough for a small spread."""
    low, high = model.region.rate
    if not model.table.controls:
        reach = _MEAN_REACH * (level.mean_sd + level.spread)
        low, high = max(low, level.mean - reach), min(high, level.mean + reach)
    step = max(level.spread / _STEPS_PER_SPREAD, (high - low) / (_FINEST_GRID - 1))
    return _likelihood(model, *even_grid((low, high), step))


def _bells(grid: _Grid, level: _Level, mean: Floats) -> Floats:
    """Return the prior mass of a rival's log rate on the grid at each mean, shape (M, G)."""
    spread = max(level.spread, grid.step)
    bells: Floats = np.exp(-(((grid.points - mean[:, None]) / spread) ** 2) / 2)
    bells *= grid.step / (spread * np.sqrt(2 * np.pi))
    return bells


def _evidence(model: Shrinking, grid: _Grid, level: _Level, mean: Floats) -> Floats:
    """Return the log evidence of each node and mean, shape (N, M)."""
    table, priors = model.table, model.priors
    rivals = table.rivals
    bells = _bells(grid, level, mean)
    sums = np.einsum("njg,mg->njm", grid.values[:, rivals], bells, optimize=True)
    prior = -((mean - table.centre(priors)) ** 2) / (2 * priors.rate_sd**2)
    weight = level.log_weight + np.log(level.mean_sd)  # evenly spaced in their own units
    logs = grid.logs.sum(axis=1)[:, None] + np.log(np.maximum(sums, _TINY)).sum(axis=1)
    total: Floats = logs + prior + weight + model.nodes.log_weight[:, None]
    return total


def _masses(table: LiftTable, grid: _Grid, level: _Level, mean: Floats, node: Ints) -> Floats:
    """Return each bait's masses at n pairs of node and mean, shape (n, J, G)."""
    masses: Floats = grid.values[node]
    masses[:, table.rivals] *= _bells(grid, level, mean)[:, None]
    masses /= masses.sum(axis=2, keepdims=True)
    return masses
