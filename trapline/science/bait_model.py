"""The model that baits are compared with: its table of lifts and its priors.

Catch ~ negative binomial, mean m and variance m + m^2/k, with

    log m = bait + exponent * log(effort) + log(fraction counted) + round + place
            (+ trip + bait by trip, across trips)

Round, place, trip and bait by trip are normal about 0 with unknown spreads. Integrated
exactly where no place and no round repeats (`exact_rates`), else by importance sampling
from Laplace's approximation (`drawn_rates`); `bait_posterior` chooses.
"""

from collections.abc import Collection, Hashable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trapline.errors import InvalidValue
from trapline.science.bounds import positive

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Soak = Literal["power", "linear", "saturating"]

MAX_COUNT: Final = 1_000_000  # more animals than this in one trap is a slip of the pen
UNEQUAL_SOAKS: Final = 1.25  # longest over shortest, beyond which the exponent is integrated
SATURATION_PER_H: Final = 0.05  # of a "saturating" soak; assumed, the user's to change
_HOURS_PER_DAY = 24.0


@dataclass(frozen=True, kw_only=True)
class Priors:
    """The priors of the model; all of log rates, no units of their own.

    Attributes
    ----------
    rate_sd : float
        Of each bait's log rate, independent and normal about the centre.
    control_centre, control_sd : float
        A control's own: a trap without bait is expected to catch less than the centre.
    bait_spread : float or None
        None: baits are independent. Else the scale of a half-normal prior on the spread of
        the baits about a mean of their own, which is normal(centre, rate_sd).
    dispersion_scale : float
        Half-Cauchy scale of 1/sqrt(dispersion_k).
    round_sd, place_sd, trip_sd, bait_trip_sd : float
        Half-normal scales of the spreads of rounds, places, trips and bait by trip.
    exponent_mean, exponent_sd, exponent_low, exponent_high : float
        Truncated normal prior of the exponent of effort.
    centre : float or None
        None: log of (total catch + 1/2) / total effort of the baits that are no controls.

    References
    ----------
    Weak priors on few groups: Gelman (2006), Bayesian Analysis 1, 515-534 (from memory);
    the scales are ours, and `tests/studies/verdict_study.py` shows what they do.
    """

    rate_sd: float = 1.5
    control_centre: float = -1.5
    control_sd: float = 2.5
    bait_spread: float | None = None
    dispersion_scale: float = 0.5
    round_sd: float = 1.0
    place_sd: float = 1.0
    trip_sd: float = 1.0
    bait_trip_sd: float = 0.5
    exponent_mean: float = 0.8
    exponent_sd: float = 0.3
    exponent_low: float = 0.0
    exponent_high: float = 1.2
    centre: float | None = None


# Rates, ratios and the verdict: every bait by itself.
INDEPENDENT: Final = Priors()
# The chance of being best: baits are taken to be like each other until they show otherwise.
SHRINKING: Final = Priors(bait_spread=1.0)


@dataclass(frozen=True, eq=False)
class LiftTable:
    """Counted lifts as arrays of n rows, in an order of their own: any order gives the same.

    Attributes
    ----------
    catch : ndarray of int, shape (n,)
        Animals.
    log_effort : ndarray, shape (n,)
        Log of the soak in days, or of the saturating effort as a multiple of that of 24 h.
    log_fraction : ndarray, shape (n,)
        Log of the part of the catch that was counted.
    bait, round_, place, trip : ndarray of int, shape (n,)
        Levels from 0; `round_` numbers the rounds of all trips through.
    n_baits, n_rounds, n_places, n_trips : int
        Numbers of levels.
    round_trip : ndarray of int, shape (n_rounds,)
        The trip of each round.
    has_rounds, has_places, has_trips : bool
        Whether the model has effects of them: two levels at least, and one with two rows.
    is_exponent_free : bool
        Whether the exponent of effort is integrated; else it is 1.
    controls : frozenset of int
        Baits that are no bait at all.
    """

    catch: Ints
    log_effort: Floats
    log_fraction: Floats
    bait: Ints
    round_: Ints
    place: Ints
    trip: Ints
    n_baits: int
    n_rounds: int
    n_places: int
    n_trips: int
    round_trip: Ints
    has_rounds: bool
    has_places: bool
    has_trips: bool
    is_exponent_free: bool
    controls: frozenset[int]

    @property
    def is_repeated(self) -> bool:
        """Whether the model has any effect of round, place or trip."""
        return self.has_rounds or self.has_places or self.has_trips

    @property
    def rivals(self) -> list[int]:
        """The baits that are no controls."""
        return [bait for bait in range(self.n_baits) if bait not in self.controls]

    def log_exposure(self, exponent: float = 1.0) -> Floats:
        """Return the log of each row's effort at an exponent, shape (n,)."""
        return exponent * self.log_effort + self.log_fraction

    def centre(self, priors: Priors) -> float:
        """Return the log rate about which the baits' priors stand."""
        if priors.centre is not None:
            return priors.centre
        rows = ~np.isin(self.bait, list(self.controls))
        if not rows.any():
            rows[:] = True
        exponent = priors.exponent_mean if self.is_exponent_free else 1.0
        total = np.exp(self.log_exposure(exponent)[rows]).sum()
        return float(np.log((self.catch[rows].sum() + 0.5) / total))

    def rate_priors(self, priors: Priors) -> tuple[Floats, Floats]:
        """Return the centre and standard deviation of each bait's log rate, shape (J,)."""
        is_control = np.array([j in self.controls for j in range(self.n_baits)])
        centres = self.centre(priors) + np.where(is_control, priors.control_centre, 0.0)
        widest = max(priors.control_sd, priors.rate_sd)
        return centres, np.where(is_control, widest, priors.rate_sd)


def lift_table(
    catch: ArrayLike,
    soak_h: ArrayLike,
    bait: ArrayLike,
    *,
    fraction: ArrayLike | None = None,
    round_: Sequence[Hashable] | None = None,
    place: Sequence[Hashable] | None = None,
    trip: Sequence[Hashable] | None = None,
    controls: Collection[int] = (),
    soak: Soak = "power",
    saturation_per_h: float = SATURATION_PER_H,
) -> LiftTable:
    """Return counted lifts as the model takes them; refuse what cannot be a lift.

    Parameters
    ----------
    catch : array_like of int, shape (n,)
        Animals in each trap, 0 to 1,000,000.
    soak_h : array_like of float, shape (n,)
        Hours of fishing, above 0.
    bait : array_like of int, shape (n,)
        Bait of each trap, 0 to J-1, each at least once.
    fraction : array_like of float, shape (n,), optional
        Part of the catch that was counted, above 0, at most 1.
    round_, place, trip : sequence of texts or numbers, length n, optional
        When and where; a round is one of its trip. Without places every row has its own.
    controls : collection of int
        The baits that are no bait at all.
    soak, saturation_per_h
        How catch grows with soak, as for `relative_effort`; a power is integrated over.

    Raises
    ------
    InvalidValue
        Nothing counted, unequal lengths, a count that is negative, fractional or too large,
        a soak or fraction outside its range, a bait index without a row or that is no whole
        number, a control that is no bait, a saturation that is not above 0.

    Examples
    --------
    >>> table = lift_table([5, 3, 8], [24.0, 24.0, 12.0], [0, 1, 0])
    >>> table.is_exponent_free, table.is_repeated
    (True, False)
    """
    counts = np.asarray(catch, dtype=np.float64)
    hours = np.asarray(soak_h, dtype=np.float64)
    named = np.asarray(bait, dtype=np.float64)
    parts = np.ones(counts.shape) if fraction is None else np.asarray(fraction, dtype=np.float64)
    _check(counts, hours, named, parts)
    _check_labels(counts.size, round_=round_, place=place, trip=trip)
    _check_controls(controls, int(named.max()) + 1)
    trips = [""] * counts.size if trip is None else list(trip)
    rounds = [""] * counts.size if round_ is None else list(round_)
    by_round = _levels(list(zip(trips, rounds, strict=True)))
    levels = (by_round, None if place is None else _levels(place), _levels(trips))
    efforts = relative_effort(hours, soak, saturation_per_h)
    is_free = soak == "power" and bool(hours.max() / hours.min() > UNEQUAL_SOAKS)
    baits = named.astype(np.int64)
    return _sorted_table(counts, efforts, parts, baits, levels, is_free, frozenset(controls))


def _sorted_table(
    counts: Floats,
    efforts: Floats,
    parts: Floats,
    baits: Ints,
    levels: tuple[Ints, Ints | None, Ints],
    is_exponent_free: bool,
    controls: frozenset[int],
) -> LiftTable:
    """Return the rows in an order of their own; levels of rounds, places (or none) and trips."""
    rounds, places, trips = levels
    by_place = np.zeros_like(baits) if places is None else places
    order = np.lexsort((parts, efforts, counts, by_place, rounds, trips, baits))
    rounds, trips, baits = rounds[order], trips[order], baits[order]
    # Without names places are numbered once sorted, or the order of the rows would show.
    by_place = np.arange(counts.size) if places is None else places[order]
    round_trip = np.zeros(int(rounds.max()) + 1, dtype=np.int64)
    round_trip[rounds] = trips
    return LiftTable(
        catch=counts[order].astype(np.int64),
        log_effort=np.log(efforts[order]),
        log_fraction=np.log(parts[order]),
        bait=baits,
        round_=rounds,
        place=by_place,
        trip=trips,
        n_baits=int(baits.max()) + 1,
        n_rounds=round_trip.size,
        n_places=int(by_place.max()) + 1,
        n_trips=int(trips.max()) + 1,
        round_trip=round_trip,
        has_rounds=_has_effects(rounds),
        has_places=_has_effects(by_place),
        has_trips=_has_effects(trips),
        is_exponent_free=is_exponent_free,
        controls=controls,
    )


def relative_effort(
    soak_h: ArrayLike, soak: Soak, saturation_per_h: float = SATURATION_PER_H
) -> Floats:
    """Return the effort of soaks as a multiple of that of 24 h, before any exponent.

    Parameters
    ----------
    soak_h : array_like of float
        Hours, above 0.
    soak : {"power", "linear", "saturating"}
        How catch grows with soak: as a power of it, in step with it, or as
        1 - exp(-saturation_per_h * soak).
    saturation_per_h : float
        Above 0; 1/h.

    Raises
    ------
    InvalidValue
        A saturation that is not above 0.

    References
    ----------
    Saturating catch C(t) = C_inf (1 - exp(-k t)): Munro (1974), J. Cons. 35, 337-350 (form
    from memory).

    Examples
    --------
    >>> float(relative_effort(12.0, "linear")), round(float(relative_effort(16.0, "saturating")), 4)
    (0.5, 0.788)
    """
    hours = np.asarray(soak_h, dtype=np.float64)
    if soak != "saturating":
        return np.asarray(hours / _HOURS_PER_DAY)
    positive(saturation_per_h, "saturation_per_h")
    return np.asarray(
        np.expm1(-saturation_per_h * hours) / np.expm1(-saturation_per_h * _HOURS_PER_DAY)
    )


def _check(counts: Floats, hours: Floats, baits: Floats, parts: Floats) -> None:
    """Refuse rows that cannot be lifts, by the first that cannot."""
    if not counts.shape == hours.shape == baits.shape == parts.shape or counts.ndim != 1:
        raise InvalidValue("Catch, soak and bait are not lists of one length.", "catch")
    if counts.size == 0:
        raise InvalidValue("No trap was counted.", "catch", "Enter the catch of one trap.")
    for values, bad, name, what in (
        (counts, ~((counts >= 0) & (counts <= MAX_COUNT) & (counts == np.floor(counts))),
         "catch", "a count of animals"),
        (hours, ~((hours > 0) & np.isfinite(hours)), "soak_h", "a soak in hours"),
        (parts, ~((parts > 0) & (parts <= 1)), "fraction", "a part above 0 and at most 1"),
        (baits, ~((baits >= 0) & (baits == np.floor(baits))), "bait", "a bait's number"),
    ):  # fmt: skip
        if bad.any():
            index = int(np.argmax(bad))
            raise InvalidValue(f"{values[index]:g} is not {what}.", f"{name}[{index}]")
    if np.unique(baits).size != baits.max() + 1:
        raise InvalidValue("A bait has no counted trap.", "bait", "Leave that bait out.")


def _check_labels(n_rows: int, **labels: Sequence[Hashable] | None) -> None:
    """Refuse labels that are not one a row."""
    for name, values in labels.items():
        if values is not None and len(values) != n_rows:
            raise InvalidValue(f"{len(values)} labels for {n_rows} traps.", name)


def _check_controls(controls: Collection[int], n_baits: int) -> None:
    if not set(controls) <= set(range(n_baits)):
        raise InvalidValue(f"{sorted(controls)} are not all baits of these traps.", "controls")


def _levels(labels: Sequence[Hashable]) -> Ints:
    """Return the number of each label, shape (n,), in an order that rows do not change."""
    known = sorted(set(labels), key=lambda label: (str(type(label)), str(label)))
    number = {label: index for index, label in enumerate(known)}
    return np.array([number[label] for label in labels], dtype=np.int64)


def _has_effects(levels: Ints) -> bool:
    counts = np.bincount(levels)
    return bool(counts.size > 1 and counts.max() > 1)
