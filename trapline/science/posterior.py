"""What comes out of the model of the baits, whichever way it was integrated."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from trapline.science.intervals import Interval

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Spreads:
    """How much catches differ beside the baits; None where the model has no such effect.

    Attributes
    ----------
    spread : Interval
        1/sqrt(k): the coefficient of variation of the rate from trap to trap.
    dispersion_k : Interval
        k itself; its high end has no bound where catches are no patchier than chance.
    exponent : Interval or None
        Of effort.
    rounds, places, trips, bait_trips : Interval or None
        Standard deviations on the log scale.
    """

    spread: Interval
    dispersion_k: Interval
    exponent: Interval | None = None
    rounds: Interval | None = None
    places: Interval | None = None
    trips: Interval | None = None
    bait_trips: Interval | None = None


@dataclass(frozen=True, eq=False)
class Draws:
    """Equally weighted draws from a posterior; D draws, J baits, n rows.

    Attributes
    ----------
    log_rates : ndarray, shape (D, J)
        Log rate per 24 h of each bait, at a typical place and round.
    spread, exponent, round_sd, place_sd, trip_sd, bait_trip_sd : ndarray, shape (D,)
        0 where the model has no such effect; the exponent is 1 where it is fixed.
    row_logs : ndarray, shape (D, n)
        Log of the mean catch of each row of the table.
    """

    log_rates: Floats
    spread: Floats
    exponent: Floats
    round_sd: Floats
    place_sd: Floats
    trip_sd: Floats
    bait_trip_sd: Floats
    row_logs: Floats


class BaitPosterior(Protocol):
    """What is known of each bait after the lifts, under one prior."""

    @property
    def rates(self) -> tuple[Interval, ...]:
        """Animals per trap and 24 h over the places and rounds fished, bait by bait."""

    @property
    def best(self) -> Floats:
        """Chance of the highest rate among the baits that are no controls, shape (J,)."""

    @property
    def beats(self) -> Floats:
        """``beats[a, b]``: chance that bait a's rate is above bait b's, shape (J, J)."""

    @property
    def spreads(self) -> Spreads:
        """How much catches differ beside the baits."""

    @property
    def effective_share(self) -> float | None:
        """Share of the draws that the weights leave in effect; None where none were drawn."""

    def ratio(self, bait: int, reference: int) -> Interval:
        """Rate of a bait divided by that of another."""

    def beats_by(self, bait: int, reference: int, factor: float) -> float:
        """Chance that a bait catches more than `factor` times as much as another."""

    def draws(self, n: int) -> Draws:
        """Return n equally weighted draws, the same ones every time."""
