"""How many trap sets tell two baits apart: the closed formula for two negative binomial rates.

The formula rests on many sets. Below :data:`FEWEST_SETS` a bait it is no answer, and from there
on it is a label beside a simulation, not a promise: it lies some 10 % low, so that a tenth more
sets than it says is prudent (Tang et al. 2020). It knows neither rounds nor places, and it is
about one test of two baits, not about naming a winner among several.
"""

from math import exp, isinf, log, sqrt
from statistics import NormalDist
from typing import Final, Literal

from trapline.errors import InvalidValue
from trapline.science.bounds import LARGEST, positive

# With 8 sets a bait, simulated power was .30 (likelihood-ratio test) where the formula says
# .24 to .29; with 15, 21 and 30 its second method was right within .01.
FEWEST_SETS: Final = 10

Method = Literal[1, 2, 3]
_NORMAL: Final = NormalDist()


def sets_needed(
    rate: float,
    ratio: float,
    dispersion_k: float,
    *,
    power: float = 0.8,
    level: float = 0.05,
    sets_ratio: float = 1.0,
    exposure: float = 1.0,
    method: Method = 2,
) -> float:
    """Return the trap sets of the reference bait that tell a ratio from 1, not rounded.

    Parameters
    ----------
    rate : float
        Catch of the reference bait per unit of exposure, above 0.
    ratio : float
        Rate of the other bait over that of the reference; above 0, not 1.
    dispersion_k : float
        Variance is mean + mean² / dispersion_k; above 0, ``inf`` for Poisson catches. The
        papers give its inverse.
    power : float
        Wanted chance of a significant result, from 0.5 and below 1.
    level : float
        Two-sided level of the test, between 0 and 1; divide it by the number of pairs that
        are tested (Bonferroni).
    sets_ratio : float
        Sets of the other bait for each set of the reference, above 0.
    exposure : float
        Mean exposure of one set, in the unit of the rate (24 h), above 0.
    method : {1, 2, 3}
        Variance under no difference: from the reference rate (1), from the true rates (2), or
        from the rate that fits both together best (3).

    Raises
    ------
    InvalidValue
        A value outside its range.

    References
    ----------
    Zhu & Lakkis (2014) Stat Med 33:376-387. It lies low by some 10 %: Tang et al. (2020)
    arXiv:2006.13104.

    Examples
    --------
    >>> round(sets_needed(rate=3.0, ratio=2.0, dispersion_k=1.0), 1)
    40.8
    """
    distance = log(positive(ratio, "ratio"))
    if distance == 0:
        raise InvalidValue("A ratio of 1 is no difference to see.", "ratio", "Give another ratio.")
    under_none, under_ratio = _variances(
        rate, ratio, dispersion_k, sets_ratio=sets_ratio, exposure=exposure, method=method
    )
    above_chance, above_half = _quantiles(power, level)
    return float(
        ((above_chance * sqrt(under_none) + above_half * sqrt(under_ratio)) / distance) ** 2
    )


def power_of(
    n_sets: float,
    rate: float,
    ratio: float,
    dispersion_k: float,
    *,
    level: float = 0.05,
    sets_ratio: float = 1.0,
    exposure: float = 1.0,
    method: Method = 2,
) -> float:
    """Return the chance, 0 to 1, of a significant result in the right direction.

    Parameters
    ----------
    n_sets : float
        Trap sets of the reference bait, above 0; trust it from :data:`FEWEST_SETS` on.
    rate, ratio, dispersion_k, level, sets_ratio, exposure, method
        As in :func:`sets_needed`; at a ratio of 1 the chance is about level / 2.

    Raises
    ------
    InvalidValue
        A value outside its range.

    References
    ----------
    Zhu & Lakkis (2014) Stat Med 33:376-387, solved for the power.

    Examples
    --------
    >>> round(power_of(41, rate=3.0, ratio=2.0, dispersion_k=1.0), 2)
    0.8
    """
    under_none, under_ratio = _variances(
        rate, ratio, dispersion_k, sets_ratio=sets_ratio, exposure=exposure, method=method
    )
    reach = sqrt(positive(n_sets, "n_sets")) * abs(log(ratio))
    return _NORMAL.cdf((reach - _above_chance(level) * sqrt(under_none)) / sqrt(under_ratio))


def detectable_ratio(
    n_sets: float,
    rate: float,
    dispersion_k: float,
    *,
    power: float = 0.8,
    level: float = 0.05,
    sets_ratio: float = 1.0,
    exposure: float = 1.0,
    method: Method = 2,
) -> float:
    """Return the smallest ratio above 1 that so many trap sets tell from 1.

    Parameters
    ----------
    n_sets : float
        Trap sets of the reference bait, above 0; trust it from :data:`FEWEST_SETS` on.
    rate, dispersion_k, power, level, sets_ratio, exposure, method
        As in :func:`sets_needed`.

    Raises
    ------
    InvalidValue
        A value outside its range, or a ratio beyond anything in water (1e30).

    References
    ----------
    Zhu & Lakkis (2014) Stat Med 33:376-387, solved for the ratio by halving.

    Examples
    --------
    >>> round(detectable_ratio(20, rate=3.0, dispersion_k=1.0, method=3), 3)
    2.636
    """
    above_chance, above_half = _quantiles(power, level)
    root = sqrt(positive(n_sets, "n_sets"))

    def needed(distance: float) -> float:
        under_none, under_ratio = _variances(
            rate, exp(distance), dispersion_k,
            sets_ratio=sets_ratio, exposure=exposure, method=method,
        )  # fmt: skip
        return (above_chance * sqrt(under_none) + above_half * sqrt(under_ratio)) / root

    # The more the other bait catches, the less its log rate varies: the answer lies below the
    # distance that is needed at a ratio of 1.
    low, high = 0.0, needed(0.0)
    if high > log(LARGEST):
        if needed(log(LARGEST)) > log(LARGEST):
            raise InvalidValue(
                f"{n_sets:g} sets at {rate:g} a set tell no ratio from 1.",
                "n_sets",
                "Plan more sets.",
            )
        high = log(LARGEST)
    while (middle := (low + high) / 2) not in (low, high):
        low, high = (middle, high) if needed(middle) > middle else (low, middle)
    return exp(high)


def _variances(
    rate: float,
    ratio: float,
    dispersion_k: float,
    *,
    sets_ratio: float,
    exposure: float,
    method: Method,
) -> tuple[float, float]:
    """Return n × variance of the log ratio under no difference, and under the true ratio."""
    of_one = positive(rate, "rate") * positive(exposure, "exposure")
    of_other = of_one * positive(ratio, "ratio")
    share = positive(sets_ratio, "sets_ratio")
    patchy = 0.0 if isinf(dispersion_k) else 1 / positive(dispersion_k, "dispersion_k")
    if dispersion_k < 0:
        raise InvalidValue("dispersion_k is -inf.", "dispersion_k", "Give a number above 0.")
    extra = (1 + share) * patchy / share
    under_ratio = 1 / of_one + 1 / (share * of_other) + extra
    if method == 1:
        return (1 + share) / (share * of_one) + extra, under_ratio
    if method == 2:
        return under_ratio, under_ratio
    if method == 3:
        return (1 + share) ** 2 / (share * (of_one + share * of_other)) + extra, under_ratio
    raise InvalidValue(f"Method {method} is not known.", "method", "Use 1, 2 or 3.")


def _above_chance(level: float) -> float:
    """Return how many standard deviations a result must lie off to be significant."""
    if not 0 < level < 1:
        raise InvalidValue(
            f"level is {level:g}; it must lie between 0 and 1.", "level", "Use 0.05."
        )
    return -_NORMAL.inv_cdf(level / 2)


def _quantiles(power: float, level: float) -> tuple[float, float]:
    """Return the normal quantiles of the level and of the power."""
    above_chance = _above_chance(level)
    if not 0.5 <= power < 1:
        raise InvalidValue(
            f"power is {power:g}; it must be 0.5 or more, and below 1.", "power", "Use 0.8."
        )
    return above_chance, _NORMAL.inv_cdf(power)
