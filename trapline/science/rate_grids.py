"""Likelihood of the baits' log rates where dispersion and the exponent of effort matter.

Given the dispersion and the exponent the baits are independent and each has a log density
of one variable, so the model needs three things: the few values of (dispersion, exponent)
over which to integrate (Gauss-Legendre nodes in the range that Laplace's approximation
finds), the interval of log rates on which any density is more than nothing, and the
likelihood on an even grid of that interval.

The logarithm of the likelihood is worked out at a few Chebyshev points and carried to the
grid by the polynomial through them: it has no singularity nearer than pi to the real
axis, so the error falls by a known factor with each point.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from trapline.science.bait_model import LiftTable, Priors

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_LISTED: Final = 1024  # ranks summed one by one
_BLOCK: Final = 1_000_000  # numbers in one working array
_LAPLACE_DROP: Final = 12.0  # log evidence this far below its peak is left off: 6e-6
_LAPLACE_POINTS: Final = (24, 8)  # of dispersion and exponent, to find where they matter
_ENOUGH: Final = (7, 4)  # of those points within the drop
_DROP: Final = 16.0  # a log density this far below its peak is left off: 1e-7
_GRID_UNIT: Final = 64  # grids have a multiple of this many points
_MAX_GRID: Final = 8192
_CACHED_GRID: Final = 1024
_CHEBYSHEV_ERROR: Final = 1e-7  # of a log likelihood


@dataclass(frozen=True, eq=False)
class Groups:
    """The rows of a table, those of one bait and one exposure taken together; g groups.

    Attributes
    ----------
    catch, rows : ndarray, shape (g,)
        Summed catch and number of rows of each group.
    log_effort, log_fraction : ndarray, shape (g,)
        Of every row of the group.
    bait : ndarray of int, shape (g,)
        Ascending.
    starts : ndarray of int, shape (J,)
        First group of each bait.
    totals : ndarray, shape (J,)
        Catch of each bait.
    effort_catch : float
        Sum over rows of catch times log effort.
    reached : ndarray, shape (R,)
        How many rows have a catch above 1, 2, ..., R.
    tall : ndarray, shape (t,)
        Catches above those ranks.
    """

    catch: Floats
    rows: Floats
    log_effort: Floats
    log_fraction: Floats
    bait: Ints
    starts: Ints
    totals: Floats
    effort_catch: float
    reached: Floats
    tall: Floats

    @property
    def n_baits(self) -> int:
        """Number of baits."""
        return self.starts.size


class Nodes(NamedTuple):
    """Values of 1/dispersion_k and of the exponent, one pair a node; N nodes."""

    variance: Floats
    exponent: Floats


class Axis(NamedTuple):
    """An interval of a variable with its Gauss-Legendre nodes and their weights."""

    low: float
    high: float
    nodes: Floats
    weights: Floats


class Region(NamedTuple):
    """Where the posterior is: shares of the prior of the spread, exponents, log rates."""

    share: tuple[float, float]
    exponent: tuple[float, float]
    rate: tuple[float, float]
    width: float  # narrowest standard deviation of a bait's log rate


def grouped(table: LiftTable) -> Groups:
    """Return the rows of a table by bait and exposure."""
    effort, fraction = table.log_effort, table.log_fraction
    if np.ptp(effort) == 0 and np.ptp(fraction) == 0:
        order = np.arange(effort.size)
        changes = table.bait[1:] != table.bait[:-1]
    else:
        order = np.lexsort((fraction, effort, table.bait))
        keys = np.stack([table.bait, effort, fraction])[:, order]
        changes = (keys[:, 1:] != keys[:, :-1]).any(axis=0)
    first = np.concatenate([[0], np.flatnonzero(changes) + 1])
    bait = table.bait[order][first]
    catch = np.add.reduceat(table.catch[order], first)
    starts = np.searchsorted(bait, np.arange(table.n_baits))
    above = table.catch.size - np.cumsum(np.bincount(np.minimum(table.catch, _LISTED)))
    return Groups(
        catch=catch.astype(np.float64),
        rows=np.diff(first, append=table.catch.size).astype(np.float64),
        log_effort=effort[order][first],
        log_fraction=fraction[order][first],
        bait=bait,
        starts=starts,
        totals=np.add.reduceat(catch, starts).astype(np.float64),
        effort_catch=float(table.catch @ effort),
        reached=above[1:-1].astype(np.float64),
        tall=table.catch[table.catch > _LISTED].astype(np.float64),
    )


def _offsets(groups: Groups, exponent: Floats) -> Floats:
    """Return the log exposure of each group at each node, shape (N, g)."""
    return exponent[:, None] * groups.log_effort + groups.log_fraction


def count_terms(groups: Groups, variances: Floats) -> Floats:
    """Return the part of the log likelihood that only the dispersion changes, shape (K,).

    lgamma(y + k) - lgamma(k) - y log k = sum over r < y of log(1 + r/k), which stays
    exact as k grows without bound.

    References
    ----------
    Lawless (1987), Negative binomial and mixed Poisson regression, Can. J. Statist. 15,
    209-225 (likelihood as a sum over r < y; from memory).
    """
    ranks = np.arange(1, groups.reached.size + 1)
    total: Floats = np.log1p(variances[:, None] * ranks) @ groups.reached
    if groups.tall.size:
        # Euler-Maclaurin from there on; its next term is below 1e-11.
        scale = variances[:, None]
        ends = np.stack([groups.tall, np.full_like(groups.tall, _LISTED)])[:, None, :]
        logs = np.log1p(scale * ends)
        parts = (ends + 1 / scale) * logs - ends - logs / 2 + scale / (1 + scale * ends) / 12
        total += (parts[0] - parts[1]).sum(axis=1)
    return total


def log_likelihood(groups: Groups, nodes: Nodes, points: Floats) -> Floats:
    """Return each bait's log likelihood at log rates, shape (N, J, P).

    What no rate changes is left out: `node_product` has it.
    """
    result = np.empty((nodes.variance.size, groups.n_baits, points.size))
    rates = np.exp(points)
    ends = [*groups.starts[1:], groups.catch.size]
    for block in _blocks(nodes.variance.size, groups.catch.size * points.size):
        variance = nodes.variance[block, None]
        factors = variance * np.exp(_offsets(groups, nodes.exponent[block]))
        powers = groups.catch + groups.rows / variance
        logs = np.log1p(factors[:, :, None] * rates)
        for bait, (start, end) in enumerate(zip(groups.starts, ends, strict=True)):
            sums = np.matmul(powers[:, None, start:end], logs[:, start:end])
            result[block, bait] = groups.totals[bait] * points - sums[:, 0]
    return result


def _blocks(n_nodes: int, size: int) -> Iterator[slice]:
    """Return slices of the nodes that keep working arrays small."""
    length = max(1, _BLOCK // size)
    return (slice(start, start + length) for start in range(0, n_nodes, length))


def even_likelihood(groups: Groups, nodes: Nodes, low: float, step: float, size: int) -> Floats:
    """Return `log_likelihood` on an even grid, shape (N, J, size)."""
    half = step * (size - 1) / 2
    gain = np.log(np.pi / half + np.hypot(np.pi / half, 1.0))
    scale = 10.0 + groups.totals.max() * half + groups.rows.sum()
    needed = int(np.ceil(np.log(scale / _CHEBYSHEV_ERROR) / gain))
    needed = 8 * (needed // 8 + 1)
    if needed >= size:
        return log_likelihood(groups, nodes, low + step * np.arange(float(size)))
    at = low + half * (1.0 - np.cos(np.linspace(0.0, np.pi, needed)))
    carry = _carry if size <= _CACHED_GRID else _carry.__wrapped__
    return log_likelihood(groups, nodes, at) @ carry(needed, size)


@lru_cache(maxsize=64)
def _carry(n_from: int, n_to: int) -> Floats:
    """Return what carries values at Chebyshev points to an even grid, shape (from, to).

    References
    ----------
    Berrut & Trefethen (2004), Barycentric Lagrange interpolation, SIAM Review 46, 501-517.
    """
    at = -np.cos(np.linspace(0.0, np.pi, n_from))
    weights = np.where(np.arange(n_from) % 2, -1.0, 1.0)
    weights[[0, -1]] /= 2
    return through_points(at, weights, np.linspace(-1.0, 1.0, n_to))


def through_points(at: Floats, weights: Floats, wanted: Floats) -> Floats:
    """Return the barycentric interpolation from points to others, shape (from, to)."""
    gaps = wanted - at[:, None]
    met = gaps == 0
    gaps[met] = 1.0
    terms = weights[:, None] / gaps
    terms /= terms.sum(axis=0)
    return np.where(met.any(axis=0), met, terms)


# --- where it matters -------------------------------------------------------------------


def find_region(table: LiftTable, groups: Groups, priors: Priors, sds: Floats) -> Region:
    """Return where the posterior is, by Laplace's approximation.

    Parameters
    ----------
    sds : ndarray, shape (J,)
        Prior standard deviations of the baits about `table.rate_priors`' centres.
    """
    centres = table.rate_priors(priors)[0]
    domains = [(0.0, 1.0), exponent_domain(table, priors)]
    counts = [_LAPLACE_POINTS[0], _LAPLACE_POINTS[1] if table.is_exponent_free else 1]
    box, start = domains, None
    for _ in range(12):
        axes = [low + (high - low) * (np.arange(n) + 0.5) / n
                for (low, high), n in zip(box, counts, strict=True)]  # fmt: skip
        nodes, logs = node_product(axes[0], axes[1], table, groups, priors)
        modes, widths, evidence = _laplace(groups, nodes, centres, sds, start)
        start = modes
        evidence += logs
        kept = evidence > evidence.max() - _LAPLACE_DROP
        is_fine = True
        shrunk = []
        for axis, (low, high) in enumerate(box):
            seen = np.flatnonzero(kept.reshape(counts).any(axis=1 - axis))
            cell = (high - low) / counts[axis]
            ends = axes[axis][seen[0]] - 1.5 * cell, axes[axis][seen[-1]] + 1.5 * cell
            shrunk.append((max(domains[axis][0], ends[0]), min(domains[axis][1], ends[1])))
            is_fine &= seen.size >= min(_ENOUGH[axis], counts[axis])
        box = shrunk
        if is_fine:
            break
    low, high = _reach(groups, Nodes(*(v[kept] for v in nodes)), centres, sds, modes[kept],
                       widths[kept], evidence[kept])  # fmt: skip
    width = float(widths[evidence > evidence.max() - 6.0].min())
    return Region(box[0], box[1], (low, high), width)


def exponent_domain(table: LiftTable, priors: Priors) -> tuple[float, float]:
    """Return the least and the largest exponent of effort."""
    return (priors.exponent_low, priors.exponent_high) if table.is_exponent_free else (1.0, 1.0)


def gauss_axis(ends: tuple[float, float], n_nodes: int) -> Axis:
    """Return an interval with its Gauss-Legendre nodes."""
    points, weights = _gauss_legendre(n_nodes)
    low, high = ends
    return Axis(low, high, low + (high - low) * (points + 1) / 2, weights)


@lru_cache(maxsize=32)
def _gauss_legendre(n_nodes: int) -> tuple[Floats, Floats]:
    points, weights = np.polynomial.legendre.leggauss(n_nodes)
    return points, weights


def node_product(
    shares: Floats, exponents: Floats, table: LiftTable, groups: Groups, priors: Priors
) -> tuple[Nodes, Floats]:
    """Return all pairs of spread and exponent, and what no rate changes of their log posterior.

    In its share u = (2/pi) atan(spread/scale) the half-Cauchy prior of the spread is even.
    """
    variances = (priors.dispersion_scale * np.tan(np.pi / 2 * shares)) ** 2
    logs = exponents * groups.effort_catch
    if table.is_exponent_free:
        logs = logs - ((exponents - priors.exponent_mean) / priors.exponent_sd) ** 2 / 2
    nodes = Nodes(np.repeat(variances, exponents.size), np.tile(exponents, shares.size))
    return nodes, np.add.outer(count_terms(groups, variances), logs).ravel()


def _laplace(
    groups: Groups, nodes: Nodes, centres: Floats, sds: Floats, start: Floats | None
) -> tuple[Floats, Floats, Floats]:
    """Return the baits' modes, standard deviations there, (N, J), and log evidence, (N,).

    The log density is concave with curvature at least 1/sd^2, so Newton's method with
    bounded steps always arrives.
    """
    blocks = list(_blocks(nodes.variance.size, groups.catch.size))
    if len(blocks) > 1:
        parts = [
            _laplace(groups, Nodes(*(values[block] for values in nodes)), centres, sds,
                     None if start is None else start[block])
            for block in blocks
        ]  # fmt: skip
        modes, widths, evidence = (np.concatenate(part) for part in zip(*parts, strict=True))
        return modes, widths, evidence
    exposure = np.exp(_offsets(groups, nodes.exponent))
    scale = nodes.variance[:, None]
    if start is None:
        modes = np.log((groups.totals + 0.5) / np.add.reduceat(groups.rows * exposure,
                                                               groups.starts, axis=1))  # fmt: skip
    else:
        modes = start
    for _ in range(60):
        means = exposure * np.exp(modes[:, groups.bait])
        shrink = 1.0 / (1.0 + scale * means)
        slope = np.add.reduceat(
            (groups.catch - groups.rows * means) * shrink, groups.starts, axis=1
        )
        slope -= (modes - centres) / sds**2
        bend = means * (groups.rows + scale * groups.catch) * shrink**2
        curvature = np.add.reduceat(bend, groups.starts, axis=1) + 1.0 / sds**2
        step = np.clip(slope / curvature, -2.0, 2.0)
        modes = modes + step
        if np.abs(step).max() < 1e-3:
            break
    widths = 1.0 / np.sqrt(curvature)
    peaks = _densities(groups, nodes, centres, sds, modes)
    return modes, widths, (peaks + np.log(widths)).sum(axis=1)


def _densities(
    groups: Groups, nodes: Nodes, centres: Floats, sds: Floats, log_rates: Floats
) -> Floats:
    """Return each bait's log density at one log rate a node, shape (N, J)."""
    scale = nodes.variance[:, None]
    means = np.exp(_offsets(groups, nodes.exponent) + log_rates[:, groups.bait])
    logs = (groups.catch + groups.rows / scale) * np.log1p(scale * means)
    fit = groups.totals * log_rates - np.add.reduceat(logs, groups.starts, axis=1)
    density: Floats = fit - (log_rates - centres) ** 2 / (2 * sds**2)
    return density


def _reach(
    groups: Groups, nodes: Nodes, centres: Floats, sds: Floats, modes: Floats, widths: Floats,
    evidence: Floats,
) -> tuple[float, float]:  # fmt: skip
    """Return the log rates outside which every density is nothing."""
    peaks = _densities(groups, nodes, centres, sds, modes)
    drop = np.maximum(_DROP - (evidence.max() - evidence), 4.0)[:, None]
    furthest = np.sqrt(2 * drop) * sds  # suffices: the curvature is at least the prior's
    ends = []
    for sign in (-1.0, 1.0):
        reach = np.minimum(np.sqrt(2 * drop) * widths, furthest)
        for _ in range(40):
            far = _densities(groups, nodes, centres, sds, modes + sign * reach)
            short = (peaks - far < drop) & (reach < furthest)
            if not short.any():
                break
            reach = np.where(short, np.minimum(1.4 * reach, furthest), reach)
        ends.append(modes + sign * reach)
    return float(ends[0].min()), float(ends[1].max())


def grid_of(region: Region, steps_per_width: float) -> tuple[float, float, int]:
    """Return the first point, the step and the size of an even grid over a region."""
    low, high = region.rate
    size = min((high - low) / region.width * steps_per_width, _MAX_GRID - 1)
    size = _GRID_UNIT * (int(size) // _GRID_UNIT + 1)
    return low, (high - low) / (size - 1), size
