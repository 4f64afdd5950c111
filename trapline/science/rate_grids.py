"""Likelihood of each bait's log rate on an even grid, given the dispersion and the exponent.

Rows of one bait and one exposure are taken together. The logarithm of the likelihood is
worked out at a few Chebyshev points and carried to the grid by the polynomial through
them: it has no singularity nearer than pi to the real axis, so the error falls by a known
factor with each point.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from trapline.science.bait_model import LiftTable, Priors

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_LISTED: Final = 1024  # ranks summed one by one
_BLOCK: Final = 1_000_000  # numbers in one working array
_GRID_UNIT: Final = 64  # grids have a multiple of this many points
_MAX_GRID: Final = 8192
_CACHED_GRID: Final = 1024
_CHEBYSHEV_ERROR: Final = 1e-7  # of a log likelihood
_WORTH: Final = 50  # as many multiplications take as long as one logarithm


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


def offsets(groups: Groups, exponent: Floats) -> Floats:
    """Return the log exposure of each group at each node, shape (N, g)."""
    return exponent[:, None] * groups.log_effort + groups.log_fraction


def variances(priors: Priors, shares: Floats) -> Floats:
    """Return 1/k at shares of its prior: (2/pi) atan(spread/scale) is even on 0..1."""
    result: Floats = (priors.dispersion_scale * np.tan(np.pi / 2 * shares)) ** 2
    return result


def count_terms(groups: Groups, variance: Floats) -> Floats:
    """Return the part of the log likelihood that only the dispersion changes, shape (K,).

    lgamma(y + k) - lgamma(k) - y log k = sum over r < y of log(1 + r/k), which stays
    exact as k grows without bound.

    References
    ----------
    Lawless (1987), Negative binomial and mixed Poisson regression, Can. J. Statist. 15,
    209-225 (likelihood as a sum over r < y; from memory).
    """
    ranks = np.arange(1, groups.reached.size + 1)
    total: Floats = np.log1p(variance[:, None] * ranks) @ groups.reached
    if groups.tall.size:
        # Euler-Maclaurin from there on; its next term is below 1e-11.
        scale = variance[:, None]
        ends = np.stack([groups.tall, np.full_like(groups.tall, _LISTED)])[:, None, :]
        logs = np.log1p(scale * ends)
        parts = (ends + 1 / scale) * logs - ends - logs / 2 + scale / (1 + scale * ends) / 12
        total += (parts[0] - parts[1]).sum(axis=1)
    return total


def log_likelihood(groups: Groups, variance: Floats, exponent: Floats, points: Floats) -> Floats:
    """Return each bait's log likelihood at log rates, shape (N, J, P).

    What no rate changes is left out: `nodes_of` has it.
    """
    result = np.empty((variance.size, groups.n_baits, points.size))
    rates = np.exp(points)
    ends = [*groups.starts[1:], groups.catch.size]
    for block in blocks(variance.size, groups.catch.size * points.size):
        scale = variance[block, None]
        factors = scale * np.exp(offsets(groups, exponent[block]))
        powers = groups.catch + groups.rows / scale
        logs = np.log1p(factors[:, :, None] * rates)
        for bait, (start, end) in enumerate(zip(groups.starts, ends, strict=True)):
            sums = np.matmul(powers[:, None, start:end], logs[:, start:end])
            result[block, bait] = groups.totals[bait] * points - sums[:, 0]
    return result


def blocks(n_nodes: int, size: int) -> Iterator[slice]:
    """Return slices of the nodes that keep working arrays small."""
    length = max(1, _BLOCK // size)
    return (slice(start, start + length) for start in range(0, n_nodes, length))


def even_likelihood(
    groups: Groups, variance: Floats, exponent: Floats, low: float, step: float, size: int
) -> Floats:
    """Return `log_likelihood` on an even grid, shape (N, J, size)."""
    half = step * (size - 1) / 2
    gain = np.log(np.pi / half + np.hypot(np.pi / half, 1.0))
    scale = 10.0 + groups.totals.max() * half + groups.rows.sum()
    needed = int(np.ceil(np.log(scale / _CHEBYSHEV_ERROR) / gain))
    needed = 8 * (needed // 8 + 1)
    if needed >= size or needed * groups.n_baits > _WORTH * groups.catch.size:
        return log_likelihood(groups, variance, exponent, low + step * np.arange(float(size)))
    at = low + half * (1.0 - np.cos(np.linspace(0.0, np.pi, needed)))
    carry = _carry if size <= _CACHED_GRID else _carry.__wrapped__
    return log_likelihood(groups, variance, exponent, at) @ carry(needed, size)


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


def even_grid(ends: tuple[float, float], step: float) -> tuple[float, float, int]:
    """Return the first point, the step and the size of an even grid, no coarser than a step.

    It is coarser where there would be more than 8,192 points.
    """
    low, high = ends
    size = min((high - low) / step, _MAX_GRID - 1.0)
    size = _GRID_UNIT * (int(size) // _GRID_UNIT + 1)
    return low, (high - low) / (size - 1), size
