"""Exact limits of a count and of a share, from the Poisson and the binomial alone.

They hold for one total as it stands. Catches per trap vary more than Poisson counts do: the
limits of a rate per trap come from the comparison of baits, never from here.
"""

from typing import NamedTuple

from trapline.errors import InvalidValue


class Limits(NamedTuple):
    """The two ends of a confidence interval, in the unit of what it is about."""

    low: float
    high: float


def poisson_limits(count: int, level: float = 0.95) -> Limits:
    """Return the exact limits of the mean of a Poisson count.

    Parameters
    ----------
    count : int
        What was counted, 0 or more.
    level : float
        Least chance that the limits hold the mean, between 0 and 1.

    Raises
    ------
    InvalidValue
        A count that is no whole number from 0, or a level outside its range.

    References
    ----------
    Garwood (1936) Biometrika 28:437-442: half the chi-square quantiles with 2 count and
    2 count + 2 degrees of freedom.

    Examples
    --------
    >>> [round(end, 3) for end in poisson_limits(5)]
    [1.623, 11.668]
    """
    from scipy.special import gammainccinv, gammaincinv

    number, tail = _whole(count, "count"), _tail(level)
    low = float(gammaincinv(number, tail)) if number else 0.0
    return Limits(low, float(gammainccinv(number + 1, tail)))


def share_limits(successes: int, n: int, level: float = 0.95) -> Limits:
    """Return the exact limits of a share, 0 to 1.

    Parameters
    ----------
    successes : int
        How many have it, 0 to n.
    n : int
        How many were looked at, 1 or more.
    level : float
        Least chance that the limits hold the share, between 0 and 1.

    Raises
    ------
    InvalidValue
        No whole numbers, more successes than n, or a level outside its range.

    References
    ----------
    Clopper & Pearson (1934) Biometrika 26:404-413, as quantiles of the beta distribution.

    Examples
    --------
    >>> [round(end, 4) for end in share_limits(7, 10)]
    [0.3475, 0.9333]
    """
    from scipy.special import betainccinv, betaincinv

    some, every, tail = _whole(successes, "successes"), _whole(n, "n"), _tail(level)
    if not 0 <= some <= every or every == 0:
        raise InvalidValue(f"{some} of {every} is no share.", "share", "Correct the numbers.")
    low = float(betaincinv(some, every - some + 1, tail)) if some else 0.0
    high = float(betainccinv(some + 1, every - some, tail)) if some < every else 1.0
    return Limits(low, high)


def _whole(value: int, name: str) -> int:
    """Return the value as an int; InvalidValue unless it is a whole number from 0."""
    try:
        number = int(value)
    except (TypeError, ValueError, OverflowError):
        number = -1
    if isinstance(value, bool) or number < 0 or number != value:
        raise InvalidValue(
            f"{name} is {value}; it must be a whole number from 0.", name, "Correct the number."
        )
    return number


def _tail(level: float) -> float:
    """Return the chance left out at each end."""
    if not 0 < level < 1:
        raise InvalidValue(
            f"level is {level:g}; it must lie between 0 and 1.", "level", "Use 0.95."
        )
    return (1 - level) / 2
