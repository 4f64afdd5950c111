"""Catch rates of baits: the exact posterior of a negative binomial model, without sampling.

Counts are negative binomial with mean rate times exposure and variance mean + mean^2/k,
one k for all baits. Given k the baits are independent, so each bait's log rate is
integrated on a grid of its own, and then k is integrated on a grid. Nothing is drawn: the
same table gives the same numbers. Round and place are not in this model.

Grids. Log rates: evenly spaced sums, a quarter of the narrowest standard deviation apart,
out to 1.5e-8 of the peak density. Dispersion: 32 Gauss-Legendre nodes in the prior's own
probability scale, over the range that holds all but exp(-12) of its peak. Where one grid
would need more than 6,000 steps (one bait known to 0.3 %, another not at all) the steps
are wider and the well-known bait's interval comes out a little too wide.
"""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trapline.errors import InvalidValue
from trapline.science.bounds import positive

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Priors. Common practice for weak priors on few groups, no source; the shares of intervals
# that hold the truth under them are measured in tests/science/test_rates.py.
RATE_SD = 1.5  # of a bait's log rate about the trip's mean
CONTROL_CENTRE = -1.5  # a trap without bait is expected to catch less than the mean
CONTROL_SD = 2.5
SPREAD_SCALE = 0.5  # half-Cauchy scale of 1/sqrt(k)

MAX_COUNT = 1_000_000  # more animals than this in one trap is a slip of the pen
_N_SPREADS = 32  # Gauss-Legendre nodes for the dispersion
_DROP = 18.0  # a log density this far below its peak is left off: exp(-18) = 1.5e-8
_STEPS_PER_SD = 4.0  # grid steps in the narrowest standard deviation
_MAX_GRID = 6000
_LISTED = 1024  # ranks summed one by one


@dataclass(frozen=True)
class Interval:
    """A posterior median with its equal-tailed 95 % interval; no unit of its own."""

    median: float
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class RatePosterior:
    """What the counts say about each bait's rate, in animals per unit of exposure.

    Attributes
    ----------
    rates : tuple of Interval, length J
        Animals per unit of exposure, in the order of the bait indices.
    chance_best : ndarray, shape (J,)
        Chance that the bait's rate is the highest among baits that are no controls;
        adds up to 1. Always 0 for a control.
    beats : ndarray, shape (J, J)
        ``beats[a, b]`` is the chance that bait a's rate is above bait b's; controls
        included; the diagonal is 0.5.
    spread : Interval
        1/sqrt(k), the coefficient of variation of the rate from trap to trap.
    log_rates : ndarray, shape (G,)
        The common, evenly spaced grid of log rates.
    weights : ndarray, shape (K,)
        Posterior weight of each dispersion node.
    masses : ndarray, shape (K, J, G)
        Posterior mass on the grid, given the dispersion node.
    """

    rates: tuple[Interval, ...]
    chance_best: Floats
    beats: Floats
    spread: Interval
    log_rates: Floats
    weights: Floats
    masses: Floats

    def ratio(self, bait: int, reference: int) -> Interval:
        """Rate of `bait` divided by the rate of `reference`; both share the dispersion."""
        n_grid = self.log_rates.size
        length = 1 << (2 * n_grid - 1).bit_length()
        over = np.fft.rfft(self.masses[:, bait], length, axis=1)
        under = np.fft.rfft(self.masses[:, reference], length, axis=1)
        product = np.einsum("k,kf,kf->f", self.weights, over, under.conj())
        circular = np.fft.irfft(product, length)
        masses = np.concatenate([circular[-(n_grid - 1) :], circular[:n_grid]])
        step = self.log_rates[1] - self.log_rates[0]
        return _interval(np.clip(masses, 0.0, None), -(n_grid - 1) * step, step)


@dataclass(frozen=True)
class _Table:
    catch: Ints
    exposure: Floats
    bait: Ints
    n_baits: int
    starts: Ints  # first row of each bait; rows are sorted by bait


def rate_posterior(
    catch: ArrayLike,
    exposure: ArrayLike,
    bait: ArrayLike,
    *,
    controls: Collection[int] = (),
    rate_sd: float = RATE_SD,
    spread_scale: float = SPREAD_SCALE,
) -> RatePosterior:
    """Posterior of each bait's catch rate, in animals per unit of exposure.

    Priors: half-Cauchy(`spread_scale`) on 1/sqrt(k); normal on each log rate, about the
    mean (total catch + 1/2) / total exposure of the baits that are no controls; for a
    control 1.5 lower and with standard deviation 2.5 (never narrower than `rate_sd`).

    Parameters
    ----------
    catch : array_like of int, shape (n,)
        Animals in each trap, 0 to 1,000,000.
    exposure : array_like of float, shape (n,)
        Effort of each trap, above 0; with soak/24 h times the fraction counted the rates
        are per 24 h.
    bait : array_like of int, shape (n,)
        Bait of each trap, 0 to J-1, each at least once.
    controls : collection of int
        The baits that are no bait at all.
    rate_sd : float
        Prior standard deviation of a log rate, above 0.
    spread_scale : float
        Scale of the prior of 1/sqrt(k), above 0; near 0 the counts are Poisson.

    Raises
    ------
    InvalidValue
        Nothing counted, unequal lengths, a count that is negative, fractional or too
        large, an exposure that is not above 0, a bait index without a row.

    References
    ----------
    Lawless (1987), Negative binomial and mixed Poisson regression, Can. J. Statist. 15,
    209-225 (likelihood as a sum over r < y; from memory).
    Gelman (2006), Prior distributions for variance parameters in hierarchical models,
    Bayesian Analysis 1, 515-534 (half-Cauchy on a standard deviation).

    Examples
    --------
    >>> posterior = rate_posterior([5, 3, 8, 6, 2, 4, 3, 1], [1.0] * 8, [0] * 4 + [1] * 4)
    >>> ratio = posterior.ratio(0, 1)
    >>> print(f"{ratio.median:.2f} ({ratio.low:.2f} to {ratio.high:.2f})")
    2.17 (0.95 to 5.15)
    """
    table = _table(catch, exposure, bait)
    control_set = frozenset(controls)
    centres, sds = _priors(table, control_set, positive(rate_sd, "rate_sd"))
    nodes, node_logs = _spread_nodes(table, centres, sds, positive(spread_scale, "spread_scale"))
    log_rates, masses, evidence = _integrate(table, nodes**2, centres, sds)
    weights = np.exp(node_logs + evidence - (node_logs + evidence).max())
    return _summary(nodes, weights / weights.sum(), log_rates, masses, control_set)


def _integrate(
    table: _Table, variances: Floats, centres: Floats, sds: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return the grid, each bait's posterior mass on it, and each dispersion's log evidence."""
    modes, widths = _modes(table, variances, centres, sds)
    log_rates, windows = _grid(table, variances, centres, sds, modes, widths)
    masses = np.zeros((variances.size, table.n_baits, log_rates.size))
    evidence = _count_terms(table.catch, variances)
    for j, window in enumerate(windows):
        log_density = _log_density(table, j, log_rates[window], variances, centres[j], sds[j])
        peak = log_density.max(axis=1)
        density = np.exp(log_density - peak[:, None])
        total = density.sum(axis=1)
        masses[:, j, window] = density / total[:, None]
        evidence += peak + np.log(total)
    return log_rates, masses, evidence


def _summary(
    nodes: Floats, weights: Floats, log_rates: Floats, masses: Floats, controls: frozenset[int]
) -> RatePosterior:
    """Return the intervals and chances that the masses hold."""
    mixed = np.einsum("k,kjg->jg", weights, masses)
    step = float(log_rates[1] - log_rates[0])
    rates = tuple(_interval(row, log_rates[0], step) for row in mixed)
    # Mass below each point: the trapezoid rule and its next (Euler-Maclaurin) term.
    slopes = np.asarray(np.gradient(masses, axis=2))
    below = np.cumsum(masses, axis=2) - masses / 2 - slopes / 12
    beats = np.einsum("k,kag,kbg->ab", weights, masses, below, optimize=True)
    best = _chance_best(masses, below, weights, controls)
    spread = _weighted_interval(nodes, weights)
    return RatePosterior(rates, best, beats, spread, log_rates, weights, masses)


def _table(catch: ArrayLike, exposure: ArrayLike, bait: ArrayLike) -> _Table:
    """Return the rows sorted by bait, or say which one cannot be."""
    counts = np.asarray(catch, dtype=np.float64)
    exposures = np.asarray(exposure, dtype=np.float64)
    baits = np.asarray(bait, dtype=np.int64)
    if not counts.shape == exposures.shape == baits.shape or counts.ndim != 1:
        raise InvalidValue("Catch, exposure and bait are not lists of one length.", "catch")
    if counts.size == 0:
        raise InvalidValue("No trap was counted.", "catch", "Enter the catch of one trap.")
    bad = ~((counts >= 0) & (counts <= MAX_COUNT) & (counts == np.floor(counts)))
    if bad.any():
        index = int(np.argmax(bad))
        raise InvalidValue(f"{counts[index]:g} is not a count of animals.", f"catch[{index}]")
    bad = ~((exposures > 0) & np.isfinite(exposures))
    if bad.any():
        index = int(np.argmax(bad))
        raise InvalidValue(f"{exposures[index]:g} is not an effort.", f"exposure[{index}]")
    n_baits = int(baits.max()) + 1
    if baits.min() < 0 or np.unique(baits).size != n_baits:
        raise InvalidValue("A bait has no counted trap.", "bait", "Leave that bait out.")
    order = np.argsort(baits, kind="stable")
    starts = np.searchsorted(baits[order], np.arange(n_baits))
    return _Table(counts[order].astype(np.int64), exposures[order], baits[order], n_baits, starts)


def _priors(table: _Table, controls: frozenset[int], rate_sd: float) -> tuple[Floats, Floats]:
    """Return the centre and standard deviation of each bait's log rate."""
    is_control = np.array([j in controls for j in range(table.n_baits)])
    rows = ~is_control[table.bait]
    if not rows.any():
        rows[:] = True
    mean = (table.catch[rows].sum() + 0.5) / table.exposure[rows].sum()
    centres = np.log(mean) + np.where(is_control, CONTROL_CENTRE, 0.0)
    return centres, np.where(is_control, max(CONTROL_SD, rate_sd), rate_sd)


def _count_terms(catch: Ints, variances: Floats) -> Floats:
    """Return the part of the log likelihood that only the dispersion changes, shape (K,).

    lgamma(y + k) - lgamma(k) - y log k = sum over r < y of log(1 + r/k), which stays
    exact as k grows without bound.
    """
    reached = catch.size - np.cumsum(np.bincount(np.minimum(catch, _LISTED)))[1:-1]
    ranks = np.arange(1, reached.size + 1)  # and how many rows have a count above each
    total = np.array([reached @ np.log1p(variance * ranks) for variance in variances])
    tall = catch[catch > _LISTED]
    if tall.size:
        # Euler-Maclaurin from there on; its next term is below 1e-11.
        scale = variances[:, None]
        ends = np.stack([tall, np.full_like(tall, _LISTED)])[:, None, :]
        logs = np.log1p(scale * ends)
        parts = (ends + 1 / scale) * logs - ends - logs / 2 + scale / (1 + scale * ends) / 12
        total += (parts[0] - parts[1]).sum(axis=1)
    return total


def _log_density(
    table: _Table, bait: int, log_rates: Floats, variances: Floats, centre: float, sd: float
) -> Floats:
    """Return one bait's log posterior on a grid, shape (K, G), without `_count_terms`."""
    rows = table.bait == bait
    catch = table.catch[rows]
    exposures, group = np.unique(table.exposure[rows], return_inverse=True)
    catches = np.bincount(group, weights=catch)
    n_rows = np.bincount(group)
    means = exposures[:, None] * np.exp(log_rates)
    prior = catch.sum() * log_rates - (log_rates - centre) ** 2 / (2 * sd**2) - np.log(sd)
    result = np.empty((variances.size, log_rates.size))
    for index, variance in enumerate(variances):
        result[index] = prior - (catches + n_rows / variance) @ np.log1p(variance * means)
    return result


def _modes(table: _Table, variances: Floats, centres: Floats, sds: Floats) -> tuple[Floats, Floats]:
    """Return the peak of each log rate and its standard deviation there, shape (K, J).

    The log density is concave with curvature at least 1/sd^2, so Newton's method with
    bounded steps always arrives.
    """
    start = np.add.reduceat(table.catch, table.starts) + 0.5
    start = np.log(start / np.add.reduceat(table.exposure, table.starts))
    modes = np.tile(start, (variances.size, 1))
    widths = np.empty_like(modes)
    scale = variances[:, None]
    for _ in range(60):
        means = table.exposure * np.exp(modes[:, table.bait])
        shrink = 1.0 / (1.0 + scale * means)
        slope = np.add.reduceat((table.catch - means) * shrink, table.starts, axis=1)
        slope -= (modes - centres) / sds**2
        bend = means * (1.0 + scale * table.catch) * shrink**2
        curvature = np.add.reduceat(bend, table.starts, axis=1) + 1.0 / sds**2
        widths = 1.0 / np.sqrt(curvature)
        step = np.clip(slope / curvature, -2.0, 2.0)
        modes = modes + step
        if np.abs(step).max() < 1e-6:
            break
    return modes, widths


def _peaks(
    table: _Table, variances: Floats, centres: Floats, sds: Floats, log_rates: Floats
) -> Floats:
    """Return each bait's log density at one log rate per dispersion, shape (K, J)."""
    scale = variances[:, None]
    logs = np.log1p(scale * table.exposure * np.exp(log_rates[:, table.bait]))
    fit = table.catch * log_rates[:, table.bait] - (table.catch + 1.0 / scale) * logs
    total = np.add.reduceat(fit, table.starts, axis=1)
    density: Floats = total - (log_rates - centres) ** 2 / (2 * sds**2) - np.log(sds)
    return density


def _spread_nodes(
    table: _Table, centres: Floats, sds: Floats, scale: float
) -> tuple[Floats, Floats]:
    """Return the nodes of 1/sqrt(k) and the log of their integration weights, shape (K,).

    In u = (2/pi) atan(spread/scale) the half-Cauchy prior is even on 0..1. Laplace's
    approximation finds the part of 0..1 that matters; what is exact comes later.
    """
    low, high = 0.0, 1.0
    for _ in range(6):
        share = low + (high - low) * (np.arange(40) + 0.5) / 40
        variances = (scale * np.tan(np.pi / 2 * share)) ** 2
        modes, widths = _modes(table, variances, centres, sds)
        logs = _peaks(table, variances, centres, sds, modes) + np.log(widths)
        evidence = logs.sum(axis=1) + _count_terms(table.catch, variances)
        kept = np.flatnonzero(evidence > evidence.max() - 12.0)
        cell = (high - low) / 40
        low, high = max(low, share[kept[0]] - 1.5 * cell), min(high, share[kept[-1]] + 1.5 * cell)
        if kept.size > 8:
            break
    points, weights = np.polynomial.legendre.leggauss(_N_SPREADS)
    share = low + (high - low) * (points + 1) / 2
    return scale * np.tan(np.pi / 2 * share), np.log(weights)


def _grid(
    table: _Table, variances: Floats, centres: Floats, sds: Floats, modes: Floats, widths: Floats
) -> tuple[Floats, list[slice]]:
    """Return the common grid of log rates and the part of it that each bait needs."""
    peaks = _peaks(table, variances, centres, sds, modes)
    ends = []
    for sign in (-1.0, 1.0):
        reach = 6.0 * widths
        for _ in range(40):
            # 6.1 prior standard deviations always suffice: the curvature is at least theirs.
            reach = np.minimum(reach, 6.1 * sds)
            far = _peaks(table, variances, centres, sds, modes + sign * reach)
            short = (peaks - far < _DROP) & (reach < 6.1 * sds)
            if not short.any():
                break
            reach = np.where(short, 1.3 * reach, reach)
        ends.append(modes + sign * reach)
    lows, highs = ends[0].min(axis=0), ends[1].max(axis=0)
    step = max(widths.min() / _STEPS_PER_SD, (highs.max() - lows.min()) / _MAX_GRID)
    n_grid = int(np.ceil((highs.max() - lows.min()) / step)) + 2
    log_rates = lows.min() + step * np.arange(n_grid)
    first = np.floor((lows - lows.min()) / step).astype(int)
    last = np.ceil((highs - lows.min()) / step).astype(int)
    return log_rates, [slice(a, b + 1) for a, b in zip(first, last, strict=True)]


def _chance_best(
    masses: Floats, below: Floats, weights: Floats, controls: frozenset[int]
) -> Floats:
    """Return each bait's chance of the highest rate, shape (J,); 0 for controls."""
    rivals = [j for j in range(masses.shape[1]) if j not in controls]
    best = np.zeros(masses.shape[1])
    for j in rivals:
        others = [i for i in rivals if i != j]
        best[j] = weights @ (masses[:, j] * below[:, others].prod(axis=1)).sum(axis=1)
    return best / best.sum() if rivals else best


def _interval(masses: Floats, first: float, step: float) -> Interval:
    """Return the quantiles, as ratios, of masses on an even grid of logs."""
    padded = np.pad(masses / masses.sum(), 1)
    # Mass of the cell about each point: the midpoint rule and its next term.
    cells = padded[1:-1] + np.diff(padded, 2) / 24.0
    reached = np.cumsum(np.clip(cells, 0.0, None))
    reached /= reached[-1]
    ends = []
    for share in (0.5, 0.025, 0.975):
        index = int(np.searchsorted(reached, share))
        before = reached[index - 1] if index else 0.0
        part = (share - before) / (reached[index] - before)
        # Inside a cell the density is a straight line with this slope.
        tilt = (padded[index + 2] - padded[index]) / (4 * padded[index + 1])
        root = np.sqrt(max((1 - tilt) ** 2 + 4 * tilt * part, 0.0))
        inside = 2 * part / ((1 - tilt) + root)
        ends.append(float(np.exp(first + step * (index + inside - 0.5))))
    return Interval(*ends)


def _weighted_interval(values: Floats, weights: Floats) -> Interval:
    """Return the quantiles of a weighted, ascending list of nodes."""
    middle = np.cumsum(weights) - weights / 2
    low, median, high = np.interp([0.025, 0.5, 0.975], middle, values)
    return Interval(float(median), float(low), float(high))
