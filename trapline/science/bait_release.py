"""How fast a bait gives off its scent, and how many hours of a soak it attracts.

No citable half-life of any bait is known to us: a half-life is always the user's
assumption. Trials show a fast first loss and then a slow tail, which one half-life
only approximates (Løkkeborg 1990, Daniel & Bayer 1989, both from memory).
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trapline.science.bounds import not_negative, not_negative_array, positive

SECONDS_PER_HOUR = 3600.0


def release_rate(elapsed_h: ArrayLike, soluble_g: float, half_life_h: float) -> NDArray[np.float64]:
    """Return what a bait gives off after some hours in the water, in g/s.

    Parameters
    ----------
    elapsed_h : array_like of float, shape (n,) or scalar
        Since the bait was hung, hours, 0 or more.
    soluble_g : float
        What can leave the bait in all, grams, 0 or more.
    half_life_h : float
        In which half of the rest leaves, hours, above 0: assumed.

    Returns
    -------
    ndarray of float, shape (n,) or ()
        M k e^(-k t) with k = ln 2 / half-life, g/s.

    Raises
    ------
    InvalidValue
        A value outside its range, NaN or infinite.

    References
    ----------
    First-order loss, elementary. That a bait's effect follows the rate at which
    attractants leave it: Mackie et al. (1980), J. Cons. 39, 123-129 (abstract read).

    Examples
    --------
    >>> print(f"{release_rate(12, 2, 6):.4e}")
    1.6045e-05
    """
    soluble, half_life = not_negative(soluble_g, "soluble_g"), positive(half_life_h, "half_life_h")
    per_h = math.log(2) / half_life
    elapsed = not_negative_array(elapsed_h, "elapsed_h")
    return np.asarray(soluble * per_h / SECONDS_PER_HOUR * np.exp(-per_h * elapsed))


def attractive_hours(soak_h: ArrayLike, half_life_h: float) -> NDArray[np.float64]:
    """Return the hours at full strength that equal a soak on a fading bait, in hours.

    Parameters
    ----------
    soak_h : array_like of float, shape (n,) or scalar
        Hours in the water, 0 or more.
    half_life_h : float
        Of the bait, hours, above 0: assumed.

    Returns
    -------
    ndarray of float, shape (n,) or ()
        (1 - e^(-k T)) / k with k = ln 2 / half-life, hours; never more than the soak.

    Raises
    ------
    InvalidValue
        A value outside its range, NaN or infinite.

    References
    ----------
    The integral of first-order loss, elementary.

    Examples
    --------
    >>> [round(float(hours), 4) for hours in attractive_hours([12, 24, 48], 6)]
    [6.4921, 8.1152, 8.6224]
    """
    per_h = math.log(2) / positive(half_life_h, "half_life_h")
    return np.asarray(-np.expm1(-per_h * not_negative_array(soak_h, "soak_h")) / per_h)
