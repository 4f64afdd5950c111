"""The values of spread and exponent over which rates are integrated, and what each weighs."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from trapline.science.bait_model import LiftTable, Priors
from trapline.science.rate_grids import Groups, count_terms, through_points, variances
from trapline.science.rate_region import Region

Floats = NDArray[np.float64]

_FINE = 801  # points at which a density is summed
_NOTHING = 1e-30  # of the highest density
_SHARES = (0.5, 0.025, 0.975)


@dataclass(frozen=True, eq=False)
class Nodes:
    """K values of the spread with L of the exponent each: N = K * L nodes, spread by spread.

    Attributes
    ----------
    share : tuple of float
        Ends of the spread, as shares of its prior.
    shares : ndarray, shape (K,)
        Gauss-Legendre nodes between them.
    low, high : ndarray, shape (K,)
        Ends of the exponent at each spread.
    variance, exponent : ndarray, shape (N,)
        1/k and the exponent.
    log_weight : ndarray, shape (N,)
        Of quadrature, prior and all in the likelihood that no rate changes.
    """

    share: tuple[float, float]
    shares: Floats
    low: Floats
    high: Floats
    variance: Floats
    exponent: Floats
    log_weight: Floats

    @property
    def spread(self) -> Floats:
        """1/sqrt(k), shape (N,)."""
        return np.sqrt(self.variance)

    def share_quantiles(self, weights: Floats) -> Floats:
        """Return median and 95 % interval of the share, from the nodes' posterior weights."""
        even = np.linspace(*self.share, _FINE)
        of_share = weights.reshape(self.shares.size, -1).sum(axis=1)
        return _quantiles(even, _density(even, *self.share, of_share))

    def exponent_quantiles(self, weights: Floats) -> Floats:
        """Return median and 95 % interval of the exponent, from the nodes' posterior weights."""
        even = np.linspace(self.low.min(), self.high.max(), _FINE)
        rows = zip(self.low, self.high, weights.reshape(self.shares.size, -1), strict=True)
        density = np.zeros(_FINE)
        for low, high, of_exponent in rows:
            within = (even >= low) & (even <= high)
            density[within] += _density(even[within], low, high, of_exponent)
        return _quantiles(even, density)


def nodes_of(
    table: LiftTable, groups: Groups, priors: Priors, region: Region, n_nodes: tuple[int, int]
) -> Nodes:
    """Return the nodes of a region, so many of the spread and of the exponent."""
    points, weights = gauss_legendre(n_nodes[0])
    start, end = region.share
    shares = start + (end - start) * (points + 1) / 2
    variance = variances(priors, shares)
    logs = np.log(weights) + count_terms(groups, variance)
    if not table.is_exponent_free:
        ones = np.ones(shares.size)
        return Nodes(region.share, shares, ones, ones, variance, ones, logs + groups.effort_catch)
    points, weights = gauss_legendre(n_nodes[1])
    low = np.interp(shares, region.known, region.exponent_low)
    high = np.interp(shares, region.known, region.exponent_high)
    exponent = low[:, None] + np.multiply.outer(high - low, (points + 1) / 2)
    inside = np.log(np.multiply.outer(high - low, weights)) + exponent * groups.effort_catch
    inside -= ((exponent - priors.exponent_mean) / priors.exponent_sd) ** 2 / 2
    return Nodes(
        region.share,
        shares,
        low,
        high,
        np.repeat(variance, points.size),
        exponent.ravel(),
        (inside + logs[:, None]).ravel(),
    )


@lru_cache(maxsize=32)
def gauss_legendre(n_nodes: int) -> tuple[Floats, Floats]:
    """Return points on -1..1 and their weights."""
    points, weights = np.polynomial.legendre.leggauss(n_nodes)
    return points, weights


def _density(at: Floats, low: float, high: float, masses: Floats) -> Floats:
    """Return the density, up to a constant, that has masses at its Gauss-Legendre nodes.

    References
    ----------
    Weights of the polynomial through them: Wang & Xiang (2012), Math. Comput. 81, 861-877.
    """
    points, weights = gauss_legendre(masses.size)
    signs = np.sqrt((1 - points**2) * weights)
    signs[1::2] *= -1.0
    through = through_points(points, signs, 2 * (at - low) / (high - low) - 1)
    heights = masses / weights
    # Logs of bells are nearly parabolas; nodes left out for want of weight have no log.
    if heights.min() > _NOTHING * heights.max():
        return np.exp(np.log(heights) @ through) / (high - low)
    return np.maximum(heights @ through, 0.0) / (high - low)


def _quantiles(even: Floats, density: Floats) -> Floats:
    reached = np.concatenate([[0.0], np.cumsum(density[1:] + density[:-1])])
    return np.interp(_SHARES, reached / reached[-1], even)
