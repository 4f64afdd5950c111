"""Points that are spread evenly, and draws from t distributions that they give."""

import numpy as np
from scipy.special import chdtri, ndtri

from trapline.science.bait_model import Floats

N_DEGREES = 8.0
_GOLDEN = 0.6180339887498949


def sobol_points(n_dims: int, first: int, last: int) -> Floats:
    """Return points `first` to `last` of a fixed Sobol set, shape (last - first, n_dims).

    Parameters
    ----------
    n_dims : int
        1 to 21,201.
    first, last : int
        0 or more, in that order.

    Notes
    -----
    Every coordinate is turned round the circle by a fixed irrational amount, so that no point
    is 0, whose normal quantile has no bound.

    References
    ----------
    Joe and Kuo (2008), SIAM J. Sci. Comput. 30, 2635-2654; turning: Cranley and Patterson
    (1976), SIAM J. Numer. Anal. 13, 904-914 (both from memory).

    Examples
    --------
    >>> sobol_points(3, 0, 2).shape
    (2, 3)
    """
    from scipy.stats.qmc import Sobol

    source = Sobol(n_dims, scramble=False)
    # scipy warns of a first stretch that is no power of 2 long; but for a stretch of one.
    points = source.random(1)
    if first:
        points = source.fast_forward(first - 1).random(last - first)
    elif last > 1:
        points = np.concatenate([points, source.random(last - 1)])
    turn = (0.5 + _GOLDEN * np.arange(1, n_dims + 1)) % 1.0
    return np.asarray((points + turn) % 1.0)


def t_draws(points: Floats, reach: Floats | None = None) -> tuple[Floats, Floats]:
    """Return draws from a standard t distribution in d dimensions, and their log densities.

    Parameters
    ----------
    points : ndarray, shape (d + 1, n)
        Even on 0..1; the last one sets the length.
    reach : ndarray, shape (d, 2), optional
        How far each coordinate reaches down and up, 1 where not given: a split t.

    Returns
    -------
    draws : ndarray, shape (d, n)
    log_densities : ndarray, shape (n,)
        Up to a constant.

    References
    ----------
    Normal over the root of chi-square over its 8 degrees of freedom.

    Examples
    --------
    >>> draws, logs = t_draws(np.full((3, 1), 0.5))
    >>> draws[:, 0].tolist(), logs.tolist()
    ([0.0, 0.0], [-0.0])
    """
    n_dims = points.shape[0] - 1
    stretch = np.sqrt(N_DEGREES / chdtri(N_DEGREES, points[-1]))
    sides = np.ones((n_dims, 2)) if reach is None else reach
    # Each side has its share of the draws, so that the density has no step in the middle.
    lower = (sides[:, 0] / sides.sum(axis=1))[:, None]
    is_lower = points[:-1] < lower
    share = np.where(
        is_lower, points[:-1] / (2 * lower), 0.5 + (points[:-1] - lower) / (2 * (1 - lower))
    )
    draws = ndtri(share) * stretch
    square = (draws**2).sum(axis=0) / N_DEGREES
    draws = draws * np.where(is_lower, sides[:, :1], sides[:, 1:])
    return draws, -(N_DEGREES + n_dims) / 2 * np.log1p(square)
