"""Posterior medians with their intervals, from evenly spaced masses or from weighted values."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_SHARES = (0.5, 0.025, 0.975)
_CELLS = 4096


@dataclass(frozen=True)
class Interval:
    """A posterior median with its equal-tailed 95 % interval; no unit of its own."""

    median: float
    low: float
    high: float


def interval_of_masses(masses: Floats, first: float, step: float) -> Interval:
    """Return the quantiles, as ratios, of masses on an even grid of logs.

    Parameters
    ----------
    masses : ndarray, shape (G,)
        0 or more, not all 0; need not add up to 1.
    first, step : float
        Log of the first grid point, and from each to the next.

    References
    ----------
    Midpoint rule with its next (Euler-Maclaurin) term; inside a cell a straight density.

    Examples
    --------
    >>> logs = np.linspace(-4, 4, 401)
    >>> found = interval_of_masses(np.exp(-(logs**2) / 2), -4.0, 0.02)
    >>> round(found.median, 3), round(float(np.log(found.high)), 2)
    (1.0, 1.96)
    """
    padded = np.pad(masses / masses.sum(), 1)
    # Mass of the cell about each point: the midpoint rule and its next term.
    cells = padded[1:-1] + np.diff(padded, 2) / 24.0
    reached = np.cumsum(np.clip(cells, 0.0, None))
    reached /= reached[-1]
    ends = []
    for share in _SHARES:
        index = int(np.searchsorted(reached, share))
        before = reached[index - 1] if index else 0.0
        part = (share - before) / (reached[index] - before)
        # Inside a cell the density is a straight line with this slope.
        density = padded[index + 1]
        tilt = (padded[index + 2] - padded[index]) / (4 * density) if density > 0 else 0.0
        root = np.sqrt(max((1 - tilt) ** 2 + 4 * tilt * part, 0.0))
        inside = 2 * part / ((1 - tilt) + root)
        ends.append(float(np.exp(first + step * (index + inside - 0.5))))
    return Interval(*ends)


def interval_of_values(values: Floats, weights: Floats) -> Interval:
    """Return the quantiles of weighted values, in their own unit.

    Parameters
    ----------
    values, weights : ndarray, shape (n,)
        Values in any order; weights that add up to more than 0. Some may be below 0, where
        one set of draws corrects another.

    References
    ----------
    Mid-distribution quantiles with straight lines between; common practice, no source.

    Examples
    --------
    >>> interval_of_values(np.array([3.0, 1.0, 2.0]), np.array([1.0, 1.0, 1.0])).median
    2.0
    """
    order = np.argsort(values, kind="stable")
    in_order, mass = values[order], weights[order] / weights.sum()
    return _crossings(np.cumsum(mass) - mass / 2, in_order)


def interval_of_many(values: Floats, weights: Floats) -> Interval:
    """Return the quantiles of thousands of weighted values, in their own unit.

    Parameters
    ----------
    values, weights : ndarray, shape (n,)
        As in `interval_of_values`.

    Notes
    -----
    The values are counted in 4,096 cells of one width, and lie evenly inside each: ten times
    as fast as sorting them.

    Examples
    --------
    >>> values = np.linspace(0.0, 1.0, 10_001)
    >>> round(interval_of_many(values, np.ones(10_001)).high, 3)
    0.975
    """
    first, width = values.min(), np.ptp(values) / _CELLS
    if width <= np.spacing(np.abs(values).max()):
        return Interval(float(first), float(first), float(first))
    cell = np.minimum(((values - first) / width).astype(np.int64), _CELLS - 1)
    reached = np.cumsum(np.bincount(cell, weights, _CELLS)) / weights.sum()
    return _crossings(np.append(0.0, reached), first + width * np.arange(_CELLS + 1))


def _crossings(reached: Floats, values: Floats) -> Interval:
    """Return where shares are reached; half-way between the first time and the last.

    Weights below 0 let what is reached fall again.
    """
    first = np.interp(_SHARES, np.maximum.accumulate(reached), values)
    last = np.interp(_SHARES, np.minimum.accumulate(reached[::-1])[::-1], values)
    median, low, high = (first + last) / 2
    return Interval(float(median), float(low), float(high))
