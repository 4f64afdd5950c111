"""Soak, effort and what a soak does to a catch: plain numbers, one formula a function.

Estimated escapes and standardised catches are for reading a trip, never for the official
count. How baits compare is in rates.py.
"""

import datetime as dt
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trapline.errors import InvalidValue
from trapline.science.bounds import not_negative, not_negative_array, positive, share

HOURS_PER_DAY = 24.0
# Share of the soak that counts, by condition at the lift; None: no valid count.
CONDITION_SHARES: dict[str, float | None] = {
    "fished": 1.0,
    "disturbed": 0.5,
    "robbed": None,
    "lost": None,
    "not lifted": None,
}


def soak_hours(set_at: dt.datetime, lifted_at: dt.datetime) -> float:
    """Return the hours between setting and lifting, whatever the clocks did meanwhile.

    Parameters
    ----------
    set_at, lifted_at : datetime
        Both with a time zone; zones may differ.

    Raises
    ------
    InvalidValue
        A time without a zone, or a lift that is not after its setting.

    References
    ----------
    A difference of two instants; no source needed.

    Examples
    --------
    >>> from zoneinfo import ZoneInfo
    >>> zone = ZoneInfo("Europe/Oslo")  # the clocks went back at night
    >>> soak_hours(dt.datetime(2025, 10, 25, 18, tzinfo=zone),
    ...            dt.datetime(2025, 10, 26, 18, tzinfo=zone))
    25.0
    """
    if set_at.tzinfo is None or lifted_at.tzinfo is None:
        raise InvalidValue("A time has no time zone.", "soak", "Give the zone of the trip.")
    # Two times of one zone would be subtracted as clock readings: go through UTC.
    soak_h = (lifted_at.astimezone(dt.UTC) - set_at.astimezone(dt.UTC)).total_seconds() / 3600
    if soak_h <= 0:
        raise InvalidValue(
            f"The lift is {-soak_h:g} h before the setting." if soak_h else "The soak is 0 h.",
            "soak",
            "Correct the time of setting or of lifting.",
        )
    return soak_h


def trap_nights(set_days: Sequence[dt.date], lift_days: Sequence[dt.date]) -> int:
    """Return how many nights the traps stood in the water, summed over traps.

    A trap-night counts nights and not hours: noon to noon is one, and so is dusk to dawn.

    Parameters
    ----------
    set_days, lift_days : sequence of date, length n
        Local dates of setting and of lifting, one of each per trap.

    Raises
    ------
    InvalidValue
        Unequal lengths, or a lift dated before its setting; names the trap's number.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> trap_nights([dt.date(2026, 8, 1)] * 3, [dt.date(2026, 8, 3)] * 3)
    6
    """
    if len(set_days) != len(lift_days):
        raise InvalidValue("Not every trap has two dates.", "trap-nights")
    nights = 0
    for number, (first, last) in enumerate(zip(set_days, lift_days, strict=True), start=1):
        if last < first:
            raise InvalidValue(f"Lifted {last}, before it was set {first}.", f"trap {number}")
        nights += (last - first).days
    return nights


def effort_hours(soak_h: float, condition: str) -> float | None:
    """Return the hours of a soak that count as fishing; None when there is no valid count.

    A catch does not close these traps, so only a trap found disturbed loses half its soak.

    Parameters
    ----------
    soak_h : float
        Hours in the water, above 0.
    condition : str
        At the lift: fished, disturbed, robbed, lost, or not lifted.

    Raises
    ------
    InvalidValue
        A soak that is not above 0, or another condition.

    References
    ----------
    Nelson & Clark (1973), Correction for sprung traps in catch/effort calculations of
    trapping results, J. Mammal. 54, 295-298 (half an interval for a sprung trap), carried
    over to traps that keep fishing: our judgement, no source.

    Examples
    --------
    >>> effort_hours(22.0, "disturbed")
    11.0
    """
    if condition not in CONDITION_SHARES:
        raise InvalidValue(
            f"'{condition}' is not a condition.",
            "condition",
            f"Write one of: {', '.join(CONDITION_SHARES)}.",
        )
    counted = CONDITION_SHARES[condition]
    return None if counted is None else positive(soak_h, "soak_h") * counted


def catch_per_24h(catch: ArrayLike, soak_h: ArrayLike) -> NDArray[np.float64]:
    """Return each trap's catch per 24 h of soak, as if it grew in step with time.

    Parameters
    ----------
    catch : array_like of float, shape (n,) or scalar
        Animals, 0 or more.
    soak_h : array_like of float, shape (n,) or scalar
        Hours, above 0.

    Raises
    ------
    InvalidValue
        A value that is negative or not finite, or a soak of 0.

    References
    ----------
    Definition of catch per unit of effort.

    Examples
    --------
    >>> float(catch_per_24h(7, 16))
    10.5
    """
    caught, soaks_h = not_negative_array(catch, "catch"), not_negative_array(soak_h, "soak_h")
    if (soaks_h == 0).any():
        raise InvalidValue("A soak is 0 h.", "soak_h", "Correct the time of the lift.")
    return np.asarray(HOURS_PER_DAY * caught / soaks_h)


def trip_rate(catch: ArrayLike, soak_h: ArrayLike) -> float:
    """Return a trip's catch per trap per 24 h: total catch over total soak.

    Parameters
    ----------
    catch, soak_h : array_like of float, shape (n,)
        Animals, 0 or more, and hours, above 0, of each trap.

    Raises
    ------
    InvalidValue
        No trap, or a value outside its range.

    References
    ----------
    Ratio of sums, the usual estimator of catch per effort; Cochran (1977), Sampling
    Techniques, 3rd ed., eq. 2.39 (from memory).

    Examples
    --------
    >>> trip_rate([7, 2, 0], [16, 24, 20])
    3.6
    """
    catch_per_24h(catch, soak_h)
    total_h = float(np.sum(np.asarray(soak_h, dtype=np.float64)))
    return (
        HOURS_PER_DAY
        * float(np.sum(np.asarray(catch, dtype=np.float64)))
        / positive(total_h, "soak_h")
    )


def trip_rate_interval(
    catch: ArrayLike, soak_h: ArrayLike, *, draws: int = 2000, seed: int = 0
) -> tuple[float, float]:
    """Return the 95 % bootstrap interval of `trip_rate`, drawing traps, never animals.

    Animals of one trap came together, so to draw them one by one would promise too much.
    Too narrow with few traps (below ten or so); see rates.py for comparing baits.

    Parameters
    ----------
    catch, soak_h : array_like of float, shape (n,)
        Animals, 0 or more, and hours, above 0, of each trap.
    draws : int
        Resampled trips.
    seed : int
        The same seed gives the same interval.

    Raises
    ------
    InvalidValue
        No trap, or a value outside its range.

    References
    ----------
    Efron & Tibshirani (1993), An Introduction to the Bootstrap, ch. 13 (percentiles).

    Examples
    --------
    >>> trip_rate_interval([4, 4, 4], [24, 24, 24])
    (4.0, 4.0)
    """
    trip_rate(catch, soak_h)
    caught, soaks_h = np.atleast_1d(catch), np.atleast_1d(soak_h)
    chosen = np.random.default_rng(seed).integers(0, caught.size, (draws, caught.size))
    rates = HOURS_PER_DAY * caught[chosen].sum(axis=1) / soaks_h[chosen].sum(axis=1)
    low, high = np.quantile(rates, [0.025, 0.975])
    return float(low), float(high)


def corrected_effort(
    n_traps: int, n_sprung: int, *, intervals: float = 1.0, interval_length: float = 1.0
) -> float:
    """Return the effort in trap-intervals when sprung traps count half an interval.

    Parameters
    ----------
    n_traps : int
        Traps set, above 0.
    n_sprung : int
        Traps found closed or disturbed by any cause, over all intervals.
    intervals : float
        Times that the traps were visited.
    interval_length : float
        Length of one interval in units of effort (nights or days).

    Raises
    ------
    InvalidValue
        A value outside its range, or more sprung traps than traps set.

    References
    ----------
    Nelson & Clark (1973), J. Mammal. 54, 295-298: TU - S I/2 with TU = P I N (formula
    from memory).

    Examples
    --------
    >>> corrected_effort(20, 3)
    18.5
    """
    units = positive(intervals, "intervals") * positive(n_traps, "n_traps")
    sprung = not_negative(n_sprung, "n_sprung")
    if sprung > units:
        raise InvalidValue(
            f"{sprung:g} traps sprung, but only {units:g} were set.", "n_sprung", "Count again."
        )
    return (units - sprung / 2.0) * positive(interval_length, "interval_length")


def escape_hazard(escaped_share: float, soak_h: float) -> float:
    """Return the constant hazard of escape, per hour, that loses a share in a soak.

    Parameters
    ----------
    escaped_share : float
        Share of the animals put in that were gone, 0 or more, below 1.
    soak_h : float
        Hours, above 0.

    Raises
    ------
    InvalidValue
        A value outside its range.

    References
    ----------
    Exponential survival, any textbook. Pfister & Romaire (1983): 80 % and 64 % retained
    at 24 h and 48 h give the same hazard, so a constant one is fair.

    Examples
    --------
    >>> round(escape_hazard(0.20, 24), 4), round(escape_hazard(0.36, 48), 4)
    (0.0093, 0.0093)
    """
    if share(escaped_share, "escaped_share") == 1:
        raise InvalidValue("All escaped: the hazard has no upper limit.", "escaped_share")
    return -math.log1p(-escaped_share) / positive(soak_h, "soak_h")


def share_still_inside(hazard_per_h: float, soak_h: float) -> float:
    """Return the share of entered animals found at the lift, when they entered evenly.

    Parameters
    ----------
    hazard_per_h : float
        Escape hazard per hour, 0 or more.
    soak_h : float
        Hours, above 0.

    Raises
    ------
    InvalidValue
        A value outside its range.

    References
    ----------
    Mean of exp(-hazard t) over the soak; computed independently, elementary.

    Examples
    --------
    >>> round(share_still_inside(0.0103, 24), 3)
    0.886
    """
    lost = not_negative(hazard_per_h, "hazard_per_h") * positive(soak_h, "soak_h")
    return -math.expm1(-lost) / lost if lost > 0 else 1.0
