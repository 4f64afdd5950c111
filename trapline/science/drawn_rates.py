"""Rates of baits where rounds or places repeat: Laplace's approximation, then re-weighted.

Spreads and exponent are drawn about their mode, baits and the smaller of the repeated
factors given them, both from t distributions with 8 degrees of freedom on a fixed Sobol
set; the larger factor is integrated by Gauss-Hermite quadrature, level by level. Weights of
importance make the draws those of the model itself, and the share of them that is left in
effect says how good the proposal was. The same table gives the same digits.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import ndtr

from trapline.science.bait_model import INDEPENDENT, Floats, LiftTable, Priors
from trapline.science.hyper_proposal import proposal_about_mode
from trapline.science.hyper_space import HyperSpace, hyper_space
from trapline.science.importance import PER_NODE, Sample, corrected, draw_sample, halved
from trapline.science.inner_quadrature import inner_modes
from trapline.science.intervals import Interval, interval_of_values
from trapline.science.latent_modes import Design, make_design
from trapline.science.posterior import Draws, Spreads

N_FIRST = 256  # nodes of the hyperparameters
N_MOST = 2048
MOVED = 0.005  # a chance of being best that moves less is settled


@dataclass(frozen=True, eq=False)
class DrawnPosterior:
    """What the lifts say about the baits, as weighted draws; see `posterior.BaitPosterior`."""

    table: LiftTable
    space: HyperSpace
    design: Design
    sample: Sample

    @property
    def effective_share(self) -> float:
        """Share of the draws that the weights leave in effect (Kish)."""
        return float(1.0 / (self._weights**2).sum() / self._weights.size)

    @cached_property
    def rates(self) -> tuple[Interval, ...]:
        """Animals per trap and 24 h over the places and rounds fished, bait by bait."""
        draws, weights = self._corrected
        return tuple(
            _exp(interval_of_values(draws[bait] + draws[-1], weights))
            for bait in range(self.table.n_baits)
        )

    @cached_property
    def best(self) -> Floats:
        """Chance of the highest rate among the baits that are no controls, shape (J,)."""
        return _chance_best(self.table, self.sample)

    @cached_property
    def beats(self) -> Floats:
        """``beats[a, b]``: chance that bait a's rate is above bait b's, shape (J, J)."""
        n_baits = self.table.n_baits
        found = np.full((n_baits, n_baits), 0.5)
        for a in range(n_baits):
            for b in range(a):
                found[a, b] = self.beats_by(a, b, 1.0)
                found[b, a] = 1.0 - found[a, b]
        return found

    @cached_property
    def spreads(self) -> Spreads:
        """How much catches differ beside the baits."""

        def interval(name: str) -> Interval | None:
            if name not in self.space.names:
                return None
            values = np.repeat(self.space.values(name, self.sample.z), PER_NODE)
            return interval_of_values(values, self._weights)

        spread = interval("spread")
        assert spread is not None  # it is always in the model
        return Spreads(
            spread=spread,
            dispersion_k=Interval(spread.median**-2, spread.high**-2, spread.low**-2),
            exponent=interval("exponent"),
            rounds=interval("round"),
            places=interval("place"),
            trips=interval("trip"),
            bait_trips=interval("bait by trip"),
        )

    def ratio(self, bait: int, reference: int) -> Interval:
        """Rate of a bait divided by that of another, over all trips."""
        return _exp(interval_of_values(self._log_ratios(bait, reference), self._corrected[1]))

    def beats_by(self, bait: int, reference: int, factor: float) -> float:
        """Chance that a bait catches more than `factor` times as much as another."""
        if bait == reference:
            return 0.5 if factor == 1.0 else float(factor < 1.0)
        is_above = self._log_ratios(bait, reference) > np.log(factor)
        return min(max(float(self._corrected[1] @ is_above), 0.0), 1.0)

    def next_trip(self, bait: int, reference: int) -> float:
        """Chance that a bait beats another on a trip to come, of those like the ones made."""
        logs = self.sample.outer[bait] - self.sample.outer[reference]
        sd = np.sqrt(2.0) * np.repeat(self.space.values("bait by trip", self.sample.z), PER_NODE)
        return float(self._weights @ ndtr(logs / np.maximum(sd, 1e-9)))

    def draws(self, n: int) -> Draws:
        """Return n equally weighted draws, the same ones every time."""
        sample, design = self.sample, self.design
        chosen = np.searchsorted(np.cumsum(self._weights), (np.arange(n) + 0.5) / n)
        chosen = np.minimum(chosen, self._weights.size - 1)
        node = chosen // PER_NODE
        outer = sample.outer[:, chosen]
        middle, sd = inner_modes(sample.modes.take(node), outer)
        inner = middle + sd * np.random.default_rng(0).standard_normal(middle.shape)
        z = sample.z[:, node]
        exponent = self.space.values("exponent", z)
        logs = exponent * design.log_effort + design.log_fraction + design.columns @ outer
        rows = np.empty((n, logs.shape[0]))
        rows[:, design.order] = (logs + inner[design.inner.levels]).T
        return Draws(
            log_rates=outer[: self.table.n_baits].T,
            spread=self.space.values("spread", z),
            exponent=exponent,
            round_sd=self.space.values("round", z),
            place_sd=self.space.values("place", z),
            trip_sd=self.space.values("trip", z),
            bait_trip_sd=self.space.values("bait by trip", z),
            row_logs=rows,
        )

    @cached_property
    def _weights(self) -> Floats:
        return _normal(self.sample.log_weights)

    @cached_property
    def _corrected(self) -> tuple[Floats, Floats]:
        return corrected(self.sample, self.table.n_baits)

    def _log_ratios(self, bait: int, reference: int) -> Floats:
        draws, _ = self._corrected
        return np.asarray(draws[bait] - draws[reference])


def drawn_posterior(table: LiftTable, priors: Priors = INDEPENDENT) -> DrawnPosterior:
    """Return what repeated lifts say about each bait's rate, in animals per trap and 24 h.

    Parameters
    ----------
    table : LiftTable
        Counted lifts with an effect of round, place or trip.
    priors : Priors
        Of rates, spreads and exponent.

    Notes
    -----
    256 nodes of the hyperparameters, doubled up to 2,048 until the chance of being best moves
    less than .005.

    References
    ----------
    Rue, Martino and Chopin (2009), J. R. Stat. Soc. B 71, 319-392; importance sampling from
    t distributions: Geweke (1989), Econometrica 57, 1317-1339 (from memory).

    Examples
    --------
    >>> from trapline.science.bait_model import lift_table
    >>> table = lift_table([5, 3, 8, 2], [24.0] * 4, [0, 1, 0, 1], round_=[1, 1, 2, 2])
    >>> drawn_posterior(table).beats[0, 1] > 0.8
    np.True_
    """
    design = make_design(table)
    space = hyper_space(table, design, priors)
    proposal = proposal_about_mode(space)
    sample = draw_sample(space, proposal, 0, N_FIRST)
    n, before = N_FIRST, _chance_best(table, halved(sample))
    best = _chance_best(table, sample)
    while n < N_MOST and np.abs(best - before).max() >= MOVED:
        sample = sample.joined(draw_sample(space, proposal, n, 2 * n))
        before, best, n = best, _chance_best(table, sample), 2 * n
    return DrawnPosterior(table, space, design, sample)


def _normal(log_weights: Floats) -> Floats:
    weights = np.exp(log_weights - log_weights.max())
    return np.asarray(weights / weights.sum())


def _chance_best(table: LiftTable, sample: Sample) -> Floats:
    best = np.zeros(table.n_baits)
    rivals = table.rivals
    if rivals:
        draws, weights = corrected(sample, table.n_baits)
        highest = draws[rivals].argmax(axis=0)
        chances = np.bincount(highest, weights=weights, minlength=len(rivals))
        best[rivals] = np.maximum(chances, 0.0) / np.maximum(chances, 0.0).sum()
    return best


def _exp(logs: Interval) -> Interval:
    return Interval(*(float(np.exp(end)) for end in (logs.median, logs.low, logs.high)))
