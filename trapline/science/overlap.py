"""What to say of plumes that may meet: words, chances, and when a round is a choice test.

Numbers only; the shapes that give the shared areas are in plume.py.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trapline.errors import InvalidValue
from trapline.science.bounds import finite_array, not_negative, share

CLEAR: Final = "clear"
MAY_OVERLAP: Final = "may overlap"
OVERLAPS: Final = "overlaps"

# Our judgement: two equal circles share a tenth of each when they would only touch with a
# reach a fifth shorter, so "may" covers a reach assumed up to a quarter too long.
CERTAIN_SHARE: Final = 0.1
# Our judgement: one in twenty, and more likely than not.
SMALL_CHANCE: Final = 0.05
EVEN_CHANCE: Final = 0.5
# Our judgement, see `all_meet`.
LEAST_MEETING_SHARE: Final = 0.5


def overlap_word(shared_fraction: float) -> str:
    """Return "clear", "may overlap" or "overlaps" for the share of a plume that another covers.

    Parameters
    ----------
    shared_fraction : float
        Shared area over the area of the smaller plume, 0 to 1.

    Returns
    -------
    str
        "clear" at 0, "overlaps" from 0.1, "may overlap" between.

    Raises
    ------
    InvalidValue
        NaN or outside 0..1.

    References
    ----------
    No source: our judgement. Equal circles share 0.1 of each when their reach is a
    quarter more than would only just touch.

    Examples
    --------
    >>> overlap_word(0.0), overlap_word(0.05), overlap_word(0.39)
    ('clear', 'may overlap', 'overlaps')
    """
    fraction = share(shared_fraction, "shared_fraction")
    if fraction == 0:
        return CLEAR
    return OVERLAPS if fraction >= CERTAIN_SHARE else MAY_OVERLAP


def chance_word(chance: float) -> str:
    """Return "clear", "may overlap" or "overlaps" for the chance that two traps are too close.

    Parameters
    ----------
    chance : float
        From `chance_closer_than`, 0 to 1.

    Returns
    -------
    str
        "clear" below 0.05, "overlaps" from 0.5, "may overlap" between.

    Raises
    ------
    InvalidValue
        NaN or outside 0..1.

    References
    ----------
    No source: our judgement.

    Examples
    --------
    >>> chance_word(0.0284), chance_word(0.2514), chance_word(0.9)
    ('clear', 'may overlap', 'overlaps')
    """
    probability = share(chance, "chance")
    if probability < SMALL_CHANCE:
        return CLEAR
    return OVERLAPS if probability >= EVEN_CHANCE else MAY_OVERLAP


def separation_sigma(sigma_m: float, other_sigma_m: float, correlation: float = 0.0) -> float:
    """Return the standard deviation of a separation along one axis, in metres.

    Parameters
    ----------
    sigma_m, other_sigma_m : float
        Of the two positions along one axis, metres, 0 or more.
    correlation : float
        Between their errors, -1 to 1; two fixes of one receiver within minutes err
        alike, which makes the separation better than either position.

    Returns
    -------
    float
        √(σa² + σb² - 2 ρ σa σb), metres.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    Variance of a difference, elementary.

    Examples
    --------
    >>> round(separation_sigma(3, 3), 3)
    4.243
    """
    first, second = not_negative(sigma_m, "sigma_m"), not_negative(other_sigma_m, "other_sigma_m")
    rho = float(finite_array(correlation, "correlation"))
    if abs(rho) > 1:
        raise InvalidValue(
            f"correlation is {rho:g}; it must lie between -1 and 1.", "correlation", "Correct it."
        )
    return math.sqrt((first - second) ** 2 + 2 * (1 - rho) * first * second)


def chance_closer_than(distance_m: float, limit_m: float, sigma_m: float) -> float:
    """Return the chance that two traps are closer than a limit, given how they were fixed.

    Parameters
    ----------
    distance_m : float
        Between the two fixes, metres, 0 or more. Errors make a measured distance
        longer on average than the true one, most when the traps are close.
    limit_m : float
        Metres, 0 or more.
    sigma_m : float
        From `separation_sigma`, along each axis, metres; 0 for exact positions.

    Returns
    -------
    float
        0 to 1. With exact positions 1 below the limit and 0 from it on.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    Squared length of a normal vector in the plane: noncentral χ² with 2 degrees of
    freedom; Johnson, Kotz & Balakrishnan (1995), Continuous Univariate
    Distributions 2, ch. 29 (from memory).

    Examples
    --------
    >>> round(chance_closer_than(12, 10, 4.243), 4)
    0.2514
    """
    distance, limit = not_negative(distance_m, "distance_m"), not_negative(limit_m, "limit_m")
    sigma = not_negative(sigma_m, "sigma_m")
    if sigma == 0 or abs(distance - limit) > 40 * sigma:
        return 1.0 if distance < limit else 0.0
    from scipy.special import chndtr, ndtr

    if distance > 1e4 * sigma:
        # The series for χ² fails out here (NaN from 1e6); the length is then normal to 1e-8.
        return float(ndtr((limit - distance) / sigma - sigma / (2 * distance)))
    return float(chndtr((limit / sigma) ** 2, 2.0, (distance / sigma) ** 2))


def all_meet(n_plumes: int, first: ArrayLike, second: ArrayLike) -> bool:
    """Return whether the plumes of a round meet so widely that it is a choice test.

    Then the catch shows which bait is taken first when all can be smelt, not what
    each would draw alone. True when every plume meets its neighbours along the line
    (so that all are connected) and more than half of all pairs meet.

    Parameters
    ----------
    n_plumes : int
        In the order of the line.
    first, second : array_like of int, shape (k,)
        The pairs that meet, as from `trapline.science.plume.meeting_plumes`; places
        in the line counted from 0, in either order, repeats counted once.

    Returns
    -------
    bool
        False for fewer than two plumes: there is nothing to choose from.

    Raises
    ------
    InvalidValue
        A number outside the line, a plume paired with itself, or columns of unlike
        length.

    Notes
    -----
    Not every pair is asked for: in a line of 8 traps at 1.5 m with a reach of 5 m
    the two ends miss each other by half a metre, and an animal between them smells
    all. Nor is a chain enough: of 40 traps that each just touch the next, an animal
    smells two at a time, and 39 of 780 pairs meet. A chain of four (3 of 6 pairs) is
    no choice test either.

    References
    ----------
    No source: our judgement.

    Examples
    --------
    >>> all_meet(3, [0, 1], [1, 2])
    True
    >>> all_meet(40, list(range(39)), list(range(1, 40)))
    False
    """
    a, b = _row_numbers(first, "first", n_plumes), _row_numbers(second, "second", n_plumes)
    if a.shape != b.shape or np.any(a == b):
        raise InvalidValue(
            f"{a.size} first and {b.size} second plumes do not pair, or one meets itself.",
            "second",
            "Give two different plumes for each pair.",
        )
    if n_plumes < 2:
        return False
    low, high = np.minimum(a, b), np.maximum(a, b)
    n_meeting = np.unique(low * n_plumes + high).size
    n_neighbours = np.unique(low[high - low == 1]).size
    n_pairs = n_plumes * (n_plumes - 1) // 2
    return bool(n_neighbours == n_plumes - 1 and n_meeting > LEAST_MEETING_SHARE * n_pairs)


def _row_numbers(values: ArrayLike, name: str, n_plumes: int) -> NDArray[np.int64]:
    """Return whole numbers from 0 to `n_plumes` - 1, or refuse the first that is none."""
    given = np.atleast_1d(np.asarray(values))
    numbers = given.astype(np.int64) if given.dtype.kind in "iu" or given.size == 0 else None
    if numbers is None or given.ndim != 1:
        raise InvalidValue(f"{name} holds something else than row numbers.", name, "Count from 0.")
    outside = numbers[(numbers < 0) | (numbers >= n_plumes)]
    if outside.size:
        raise InvalidValue(
            f"{name} names plume {outside[0]}, but there are {n_plumes}.", name, "Count from 0."
        )
    return numbers
